//! Readings that an entry may hold, as data: what each is called, in what unit,
//! within what limits, on which classes and kinds of entry, and asked only if.

use std::collections::BTreeMap;

use serde::{Deserialize, Serialize};
use serde_json::Value;

use super::asset::{Class, EntryKind, Plain, Stated};
use crate::calendar::Date;

/// One reading.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Reading {
    pub reading: String,
    /// As people call it.
    pub label: String,
    #[serde(default)]
    pub unit: String,
    /// Limits of a figure: outside them it is a slip.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub limits: Option<[f64; 2]>,
    /// Only whole figures.
    #[serde(default)]
    pub whole: bool,
    /// The words allowed; a reading with neither limits nor choices is a text.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub choices: Vec<String>,
    /// Word of each whole figure of a scale that runs its own way.
    #[serde(default, skip_serializing_if = "BTreeMap::is_empty")]
    pub words: BTreeMap<String, String>,
    /// Asked only if another reading is one of these words.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub only_if: Option<OnlyIf>,
    /// Must stand beside this reading: a dielectric value means nothing
    /// without its method.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub with: Option<String>,
}

/// A condition on another reading.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct OnlyIf {
    pub reading: String,
    pub is: Vec<String>,
}

/// The form of one class, for some kinds of entry.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Form {
    /// `pole`, or a class of device.
    pub form: String,
    pub readings: Vec<Reading>,
}

/// The name of the form that a device of a class is inspected by.
#[must_use]
pub fn form_of(class: Class) -> &'static str {
    class.word()
}

impl Reading {
    /// What may be answered, for people.
    #[must_use]
    pub fn allowed(&self) -> String {
        match (&self.limits, self.choices.is_empty()) {
            (Some([min, max]), _) => {
                let whole = if self.whole {
                    "a whole figure"
                } else {
                    "a figure"
                };
                let unit = if self.unit.is_empty() {
                    String::new()
                } else {
                    format!(" {}", self.unit)
                };
                format!("{whole} from {min} to {max}{unit}, or unknown")
            }
            (None, false) => format!("one of {}, or unknown", self.choices.join(", ")),
            (None, true) => "a text, or unknown".to_string(),
        }
    }

    /// Reads an answer.
    ///
    /// # Errors
    /// A sentence that says what is allowed.
    pub fn read(&self, typed: &str) -> Result<Stated, String> {
        let refused = || format!("{}: {typed:?} is not {}", self.reading, self.allowed());
        if typed.is_empty() {
            return Err(format!(
                "{}: a blank is no reading; {}",
                self.reading,
                self.allowed()
            ));
        }
        if typed == "unknown" {
            return Ok(Stated::unknown());
        }
        if let Some([min, max]) = self.limits {
            let figure: f64 = typed.parse().map_err(|_| refused())?;
            let fits = figure.is_finite()
                && (min..=max).contains(&figure)
                && (!self.whole || figure.fract() == 0.0);
            return if fits {
                Ok(Stated::number(figure))
            } else {
                Err(refused())
            };
        }
        if !self.choices.is_empty() && !self.choices.iter().any(|c| c == typed) {
            return Err(refused());
        }
        Ok(Stated::known(Plain::Text(typed.to_string())))
    }

    /// A value with its unit, and its word where the scale has words.
    #[must_use]
    pub fn printed(&self, value: &Stated) -> String {
        let text = serde_json::to_value(value).unwrap_or(Value::Null);
        let figure = match value.as_number() {
            Some(n) => n.to_string(),
            None => text.as_str().unwrap_or_default().to_string(),
        };
        let word = self
            .words
            .get(&figure)
            .map_or(String::new(), |w| format!(" ({w})"));
        let unit = match value.as_number() {
            Some(_) if !self.unit.is_empty() => format!(" {}", self.unit),
            _ => String::new(),
        };
        format!("{figure}{unit}{word}")
    }
}

/// Whether the readings stand together: conditions and companions.
///
/// # Errors
/// A sentence naming the reading and what it lacks.
pub fn together(form: &Form, given: &BTreeMap<String, Stated>) -> Result<(), String> {
    for reading in form
        .readings
        .iter()
        .filter(|r| given.contains_key(&r.reading))
    {
        if let Some(other) = &reading.with
            && !given.get(other).is_some_and(Stated::is_known)
        {
            return Err(format!(
                "{} says nothing without {other}; add {other}=…",
                reading.reading
            ));
        }
        if let Some(only) = &reading.only_if {
            let fits = given
                .get(&only.reading)
                .and_then(Stated::as_text)
                .is_some_and(|w| only.is.iter().any(|i| i == w));
            if !fits {
                return Err(format!(
                    "{} is asked only if {} is {}",
                    reading.reading,
                    only.reading,
                    only.is.join(" or ")
                ));
            }
        }
    }
    Ok(())
}

/// Whether a day can be the day of an entry.
///
/// # Errors
/// A sentence, for a day to come.
pub fn not_to_come(on: Date, today: Date) -> Result<(), String> {
    if on > today {
        return Err(format!("{on} lies in the future; today is {today}"));
    }
    Ok(())
}

/// Kinds of entry that clear a defect: something was done, or tested.
pub const CLEARING: &[EntryKind] = &[
    EntryKind::Maintenance,
    EntryKind::Test,
    EntryKind::Inspection,
    EntryKind::Sample,
];
