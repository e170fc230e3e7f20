//! Forms: those that come with the program, and the register's own, which
//! stand before them.

use std::path::Path;
use std::sync::OnceLock;

use serde::{Deserialize, Serialize};
use serde_json::{Map, Value};

use super::document::{Doc, ExchangeError, typed};
use crate::domain::asset::{Class, FormDoc, Kind, Record, RecordId};
use crate::domain::form::{Form, Reading};
use crate::store::{Store, StoreError};

/// `data/forms/forms.yaml`, made into JSON by the build.
const FORMS: &str = include_str!(concat!(env!("OUT_DIR"), "/forms.json"));

#[derive(Debug, Clone, Deserialize, Serialize)]
#[serde(deny_unknown_fields)]
struct Written {
    form: String,
    /// Only in the register.
    #[serde(default, skip_serializing)]
    id: RecordId,
    /// Forms whose readings this one has, too.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    with: Vec<String>,
    readings: Vec<Reading>,
}

/// Every form there is, each under its name.
#[derive(Debug, Clone)]
pub struct Forms {
    all: Vec<Written>,
}

fn shipped() -> &'static [Written] {
    static SHIPPED: OnceLock<Vec<Written>> = OnceLock::new();
    SHIPPED
        .get_or_init(|| serde_json::from_str(FORMS).expect("the forms that come along are tested"))
}

impl Default for Forms {
    fn default() -> Self {
        Forms {
            all: shipped().to_vec(),
        }
    }
}

impl Forms {
    /// The forms in force: the register's own stand before those that come
    /// with the program. One that cannot be read is passed over; import
    /// refuses such.
    ///
    /// # Errors
    /// Those of the register.
    pub fn of(store: &Store) -> Result<Forms, StoreError> {
        let mut forms = Forms::default();
        for stored in store.all(Kind::Form)? {
            if let Record::Form(doc) = stored.record
                && let Some(own) = read(&doc)
            {
                forms.all.retain(|w| w.form != own.form);
                forms.all.push(own);
            }
        }
        Ok(forms)
    }

    /// The form of a name, with the readings that every form has.
    #[must_use]
    pub fn form(&self, name: &str) -> Form {
        let mut readings = Vec::new();
        let mut seen = Vec::new();
        for part in [name, "any"] {
            self.collect(part, &mut readings, &mut seen);
        }
        Form {
            form: name.to_string(),
            readings,
        }
    }

    /// A form's own readings come before those it takes over, and stand for a
    /// reading of the same name there.
    fn collect(&self, name: &str, out: &mut Vec<Reading>, seen: &mut Vec<String>) {
        if seen.iter().any(|s| s == name) {
            return;
        }
        seen.push(name.to_string());
        for w in self.all.iter().filter(|w| w.form == name) {
            for r in &w.readings {
                if !out.iter().any(|o| o.reading == r.reading) {
                    out.push(r.clone());
                }
            }
            for other in &w.with {
                self.collect(other, out, seen);
            }
        }
    }

    /// Every reading that some form asks; one of a name may come from several.
    pub fn readings(&self) -> impl Iterator<Item = &Reading> {
        self.all.iter().flat_map(|w| &w.readings)
    }
}

fn read(doc: &FormDoc) -> Option<Written> {
    let mut body = doc.body.clone();
    body.insert("form".into(), Value::String(doc.form.clone()));
    serde_json::from_value(Value::Object(body)).ok()
}

/// The form of a name as it comes with the program.
#[must_use]
pub fn form(name: &str) -> Form {
    Forms::default().form(name)
}

/// The record a form document makes: the form is checked, with what it takes
/// over from those that come along, then kept in its canonical form.
///
/// # Errors
/// With file and line: an unknown key, a reading that rests on one that is not
/// asked, a key used twice, limits that are none.
pub(super) fn form_record(doc: &Doc, file: &Path) -> Result<Record, ExchangeError> {
    let own: Written = typed(doc, file, Written::deserialize)?;
    let at = |(word, why): (String, String)| {
        let heads = |l: &str| l.starts_with("with") || l.starts_with("form");
        let asks = |l: &str| {
            let name = l.split_once("reading:").map(|(_, rest)| rest.trim());
            name.and_then(|n| n.split([',', '}', ' ']).next())
                .is_some_and(|n| n.trim_matches(['"', '\'']) == word)
        };
        let stands = |l: &str| asks(l) || (heads(l) && l.contains(&word));
        let line = doc.text.lines().position(stands).unwrap_or(0);
        ExchangeError::At {
            file: file.display().to_string(),
            line: doc.line + line,
            why,
        }
    };
    let known = || shipped().iter().map(|w| w.form.as_str());
    let inspected = |name: &str| name == "pole" || Class::WORDS.contains(&name);
    if !inspected(&own.form) && !known().any(|k| k == own.form) {
        let near = super::did_you_mean(&own.form, known());
        let why = format!(
            "a form is for pole or a class of device, and {:?} is neither{near}; classes are {}",
            own.form,
            Class::WORDS.join(", ")
        );
        return Err(at((own.form, why)));
    }
    for other in &own.with {
        if !known().any(|k| k == other) {
            let near = super::did_you_mean(other, known());
            let why = format!("with: there is no form {other:?}{near}");
            return Err(at((other.clone(), why)));
        }
    }
    let mut alone = Form {
        form: own.form.clone(),
        readings: own.readings.clone(),
    };
    let mut forms = Forms::default();
    forms.all.retain(|w| w.form != own.form);
    forms.all.push(own.clone());
    let whole = forms.form(&own.form);
    // A reading that stands twice is hidden by the whole; the part shows it.
    let twice = |r: &Reading| {
        own.readings
            .iter()
            .filter(|o| o.reading == r.reading)
            .count()
            > 1
    };
    if !own.readings.iter().any(twice) {
        alone = whole;
    }
    alone.check().map_err(at)?;
    Ok(Record::Form(kept(&own)))
}

/// The form as it is kept: everything but its name and id in the body.
fn kept(own: &Written) -> FormDoc {
    let mut body = match serde_json::to_value(own) {
        Ok(Value::Object(map)) => map,
        _ => Map::new(),
    };
    body.remove("form");
    FormDoc {
        form: own.form.clone(),
        id: own.id,
        body,
    }
}
