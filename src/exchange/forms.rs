//! The forms that come with the program.

use serde::Deserialize;

use crate::domain::form::{Form, Reading};

const FORMS: &str = include_str!("../../data/forms/forms.yaml");

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct Written {
    form: String,
    /// Forms whose readings this one has, too.
    #[serde(default)]
    with: Vec<String>,
    readings: Vec<Reading>,
}

/// The form of a name, with the readings that every form has.
#[must_use]
pub fn form(name: &str) -> Form {
    let all: Vec<Written> = serde_yaml::Deserializer::from_str(FORMS)
        .map(|d| Written::deserialize(d).expect("the forms that come along are tested"))
        .collect();
    let mut readings = Vec::new();
    collect(&all, name, &mut readings);
    collect(&all, "any", &mut readings);
    Form {
        form: name.to_string(),
        readings,
    }
}

fn collect(all: &[Written], name: &str, out: &mut Vec<Reading>) {
    for w in all.iter().filter(|w| w.form == name) {
        out.extend(w.readings.iter().cloned());
        for other in w.with.iter().filter(|o| *o != name) {
            collect(all, other, out);
        }
    }
}
