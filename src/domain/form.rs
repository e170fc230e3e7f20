//! Readings that an entry may hold, as data: what each is called, in what unit,
//! within what limits, on which classes and kinds of entry, and asked only if.

use std::collections::BTreeMap;

use serde::{Deserialize, Serialize};
use serde_json::Value;

use super::asset::{Class, Depth, Entry, EntryKind, Kind, Plain, Record, Stated};
use super::finding::Follows;
use crate::calendar::Date;

/// One reading.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Reading {
    pub reading: String,
    /// As people call it.
    pub label: String,
    #[serde(default, skip_serializing_if = "String::is_empty")]
    pub unit: String,
    /// Limits of a figure: outside them it is a slip.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub limits: Option<[f64; 2]>,
    /// Only whole figures.
    #[serde(default, skip_serializing_if = "std::ops::Not::not")]
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
    /// The letter that jumps to it on the screen; unique in its form.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub key: Option<char>,
    /// The depths of inspection that ask it; all of them when empty.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub kinds: Vec<Depth>,
    /// With what it goes when the unit is swapped.
    #[serde(default = "unit", skip_serializing_if = "is_unit")]
    pub follows: Follows,
}

const fn unit() -> Follows {
    Follows::Unit
}

#[expect(
    clippy::trivially_copy_pass_by_ref,
    reason = "serde hands out references"
)]
const fn is_unit(f: &Follows) -> bool {
    matches!(f, Follows::Unit)
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

/// The name of the form that a record is inspected by.
#[must_use]
pub fn form_of_record(record: &Record) -> &'static str {
    match record {
        Record::Unit(u) => form_of(u.class),
        Record::Position(p) => form_of(p.class),
        _ => "pole",
    }
}

/// Kinds of record that an entry can be about.
pub const INSPECTED: &[Kind] = &[Kind::Unit, Kind::Position, Kind::Structure];

impl Form {
    /// The readings that an inspection of some depth asks, in their order.
    pub fn asked_at(&self, depth: Depth) -> impl Iterator<Item = &Reading> {
        self.readings.iter().filter(move |r| r.is_asked_at(depth))
    }

    /// The reading of a name.
    #[must_use]
    pub fn reading(&self, name: &str) -> Option<&Reading> {
        self.readings.iter().find(|r| r.reading == name)
    }

    /// What is wrong with the form, with the word that stands where it is.
    ///
    /// # Errors
    /// The word and the sentence.
    pub fn check(&self) -> Result<(), (String, String)> {
        if self.form.trim().is_empty() {
            return Err(("form".into(), "a form says which class it is for".into()));
        }
        for (i, r) in self.readings.iter().enumerate() {
            let bad = |why: String| Err((r.reading.clone(), format!("{}: {why}", r.reading)));
            if self.readings[..i].iter().any(|o| o.reading == r.reading) {
                return bad("stands twice in the form".into());
            }
            let same_key = |o: &&Reading| r.key.is_some() && o.key == r.key;
            if let Some(other) = self.readings[..i].iter().find(same_key) {
                return bad(format!(
                    "its key {} is the key of {} already",
                    r.key.unwrap_or_default(),
                    other.reading
                ));
            }
            if let Err(why) = r.check() {
                return bad(why);
            }
            let needs = r.with.iter().chain(r.only_if.as_ref().map(|o| &o.reading));
            for name in needs {
                if name == &r.reading || self.reading(name).is_none() {
                    return bad(format!("rests on {name:?}, which the form does not ask"));
                }
            }
            if let Some(only) = &r.only_if
                && let Some(other) = self.reading(&only.reading)
                && let Some(odd) = only.is.iter().find(|w| !other.choices.contains(w))
            {
                return bad(format!("{:?} is no answer of {}", odd, only.reading));
            }
        }
        Ok(())
    }
}

/// Text that may stand in a name of a reading.
fn is_name(text: &str) -> bool {
    !text.is_empty()
        && text
            .bytes()
            .all(|b| b.is_ascii_lowercase() || b.is_ascii_digit() || b == b'_')
}

impl Reading {
    /// Whether an inspection of some depth asks it.
    #[must_use]
    pub fn is_asked_at(&self, depth: Depth) -> bool {
        self.kinds.is_empty() || self.kinds.contains(&depth)
    }

    fn check(&self) -> Result<(), String> {
        if !is_name(&self.reading) {
            return Err("a name is made of small letters, digits and _".into());
        }
        if ["finds", "clears", "note"].contains(&self.reading.as_str()) {
            return Err("this word is no reading; every entry has it".into());
        }
        if self.label.trim().is_empty() {
            return Err("a label says what people call it".into());
        }
        if self.key.is_some_and(|k| !k.is_ascii_lowercase()) {
            return Err("a key is one small letter".into());
        }
        match self.limits {
            Some([min, max]) if !(min.is_finite() && max.is_finite() && min < max) => {
                return Err("limits are two figures, the lower first".into());
            }
            Some(_) if !self.choices.is_empty() => {
                return Err("it has limits or choices, not both".into());
            }
            None if self.whole || !self.words.is_empty() || !self.unit.is_empty() => {
                return Err("unit, whole and words are for a figure, which has limits".into());
            }
            _ => {}
        }
        let stray = |w: &&String| w.trim().is_empty() || w.as_str() == "unknown";
        if self.choices.iter().any(|w| stray(&w)) {
            return Err("a choice is a word; unknown may always be answered".into());
        }
        Ok(())
    }

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

    /// Whether a value on record can be an answer.
    ///
    /// # Errors
    /// A sentence that says what is allowed.
    pub fn holds(&self, value: &Stated) -> Result<(), String> {
        match (value.as_number(), value.as_text()) {
            (Some(n), _) => self.read(&n.to_string()).map(|_| ()),
            (None, Some(t)) => self.read(t).map(|_| ()),
            (None, None) => Ok(()),
        }
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

/// Why a value can be a reading of its name on none of the forms whose
/// readings these are; `None` when it can. What the entry is about need not be
/// known.
#[must_use]
pub fn impossible(readings: &[Reading], name: &str, value: &Stated) -> Option<String> {
    let mut last = Some(format!("{name}: no form asks it"));
    for r in readings.iter().filter(|r| r.reading == name) {
        match r.holds(value) {
            Ok(()) => return None,
            Err(why) => last = Some(why),
        }
    }
    last
}

/// Why an entry as it is now cannot be, as far as it is other than `before`: a
/// reading that none of these can be, one without what it says nothing
/// without, or a day to come. A reading that none of these forms asks is left
/// to whoever brings its form.
#[must_use]
pub fn entry_cannot_be(
    forms: &[Reading],
    before: Option<&Entry>,
    entry: &Entry,
    today: Date,
) -> Option<String> {
    if before.is_none_or(|b| b.on != entry.on)
        && let Some(why) = entry.on.and_then(|on| not_to_come(on, today).err())
    {
        return Some(why);
    }
    let was = |name: &str| before.and_then(|b| b.readings.get(name));
    let new = entry.readings.iter().filter(|(k, v)| was(k) != Some(*v));
    new.into_iter().find_map(|(name, value)| {
        let asked: Vec<&Reading> = forms.iter().filter(|r| &r.reading == name).collect();
        let first = asked.first()?;
        let lacks = |r: &Reading| {
            let with = r.with.as_ref()?;
            let there = entry.readings.get(with).is_some_and(Stated::is_known);
            (!there).then(|| format!("{name} says nothing without {with}"))
        };
        if value.is_known() && asked.iter().all(|r| lacks(r).is_some()) {
            return lacks(first);
        }
        impossible(forms, name, value)
    })
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
