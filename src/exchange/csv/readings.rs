//! Readings of an entry held against the form of what it is about: what could
//! not be answered on a screen is refused from a file as well.

use std::collections::BTreeMap;

use serde_json::Value;

use super::bind::Bound;
use super::merge::Stop;
use super::shape::Draft;
use super::{Because, Refused};
use crate::calendar::Date;
use crate::domain::asset::{Class, Defect, Kind, Stated};
use crate::domain::finding::{Follows, defect_row};
use crate::domain::form::{Form, INSPECTED, form_of, not_to_come, together};
use crate::exchange::Forms;
use crate::exchange::document::did_you_mean;
use crate::store::Look;

const PREFIX: &str = "readings.";

/// Brings the readings of an entry into the words and figures of its form.
/// `own` is false for an entry that goes along with another record of the row.
///
/// # Errors
/// Refused: a reading the form does not have, one that cannot be, a day to
/// come, or nothing in the register that the entry is about.
pub(super) fn fit(
    bound: &Bound<'_>,
    drafts: &mut [Draft],
    at: usize,
    (today, forms): (Date, &Forms),
    look: &impl Look,
) -> Result<(), Stop> {
    if drafts[at].kind != Kind::Entry {
        return Ok(());
    }
    let text = |path: &str| {
        let given = drafts[at].given.iter();
        given
            .filter(|(p, _)| p == path)
            .find_map(|(_, v)| v.as_str())
    };
    if let Some(on) = text("on").and_then(|d| d.parse::<Date>().ok()) {
        not_to_come(on, today).map_err(|why| refused(bound, "on", &why))?;
    }
    let any = drafts[at].given.iter().any(|(p, _)| p.starts_with(PREFIX));
    if !any && at > 0 {
        return Ok(());
    }
    let Some(of) = text("of").map(str::to_string) else {
        return Ok(());
    };
    let name = match in_row(drafts, &of) {
        Some(name) => Some(name),
        None => on_record(look, &of)?,
    };
    match name {
        Some((kind, name)) => {
            let form = forms.form(&name);
            hold(bound, &mut drafts[at], &form)?;
            if kind == Kind::Position {
                of_the_unit(bound, &drafts[at], &form, &of)?;
            }
            Ok(())
        }
        // What goes along may be about something that comes in another file.
        None if at > 0 => Ok(()),
        None => Err(Stop::from(refused(
            bound,
            "of",
            &format!("no unit, position or structure of the register is called {of}"),
        ))),
    }
}

/// The form of a record that the same row makes.
fn in_row(drafts: &[Draft], of: &str) -> Option<(Kind, String)> {
    drafts.iter().find_map(|d| {
        let text = |path: &str| {
            let (_, value) = d.given.iter().find(|(p, _)| p == path)?;
            value.as_str()
        };
        (INSPECTED.contains(&d.kind) && text(d.kind.word()) == Some(of))
            .then(|| Some((d.kind, form_name(d.kind, text("class"))?)))
            .flatten()
    })
}

/// The form of a record that is there.
fn on_record(look: &impl Look, of: &str) -> Result<Option<(Kind, String)>, Stop> {
    for kind in INSPECTED.iter().copied() {
        if let Some(found) = look.found_named(kind, of)?.first() {
            let body: Value = serde_json::from_str(&found.body).unwrap_or(Value::Null);
            return Ok(form_name(kind, body["class"].as_str()).map(|name| (kind, name)));
        }
    }
    Ok(None)
}

fn form_name(kind: Kind, class: Option<&str>) -> Option<String> {
    match kind {
        Kind::Structure => Some("pole".to_string()),
        _ => Some(form_of(Class::from_word(class?)?).to_string()),
    }
}

fn hold(bound: &Bound<'_>, draft: &mut Draft, form: &Form) -> Result<(), Refused> {
    let mut given: BTreeMap<String, Stated> = BTreeMap::new();
    for (path, value) in &mut draft.given {
        let Some(key) = path.strip_prefix(PREFIX) else {
            continue;
        };
        let Some(reading) = form.readings.iter().find(|r| r.reading == key) else {
            let known = form.readings.iter().map(|r| r.reading.as_str());
            let near = did_you_mean(key, known);
            let why = format!(
                "the form of {} has no reading {key:?}{near}",
                crate::domain::asset::an(&form.form)
            );
            return Err(refused(bound, path, &why));
        };
        let typed = match &*value {
            Value::String(text) => text.clone(),
            other => other.to_string(),
        };
        // A figure with its reader, or a word in other letters.
        let word = reading
            .choices
            .iter()
            .find(|c| c.eq_ignore_ascii_case(&typed))
            .map_or(typed.as_str(), String::as_str);
        let stated = reading
            .read(word)
            .map_err(|why| refused(bound, path, &why))?;
        *value = serde_json::to_value(&stated).unwrap_or(Value::Null);
        given.insert(key.to_string(), stated);
    }
    together(form, &given).map_err(|why| Refused::new(Because::Value, why))
}

/// What goes with the unit when it is swapped is written about the unit: at the
/// place it would stay behind, and the unit would hang elsewhere without it.
fn of_the_unit(bound: &Bound<'_>, draft: &Draft, form: &Form, place: &str) -> Result<(), Refused> {
    let reading = |path: &str| form.reading(path.strip_prefix(PREFIX)?);
    let of_unit = |path: &str, value: &Value| match path {
        "finds" | "clears" => value.as_array().is_some_and(|list| {
            let defects = list.iter().filter_map(Value::as_str);
            let mut defects = defects.filter_map(Defect::from_word);
            defects.any(|d| defect_row(d).follows == Follows::Unit)
        }),
        path => reading(path).is_some_and(|r| r.follows == Follows::Unit),
    };
    match draft.given.iter().find(|(p, v)| of_unit(p, v)) {
        Some((path, _)) => Err(refused(
            bound,
            path,
            &format!(
                "goes with the unit, and {place} is a place: write the number of the unit that hung there on that day"
            ),
        )),
        None => Ok(()),
    }
}

fn refused(bound: &Bound<'_>, path: &str, why: &str) -> Refused {
    let place = bound
        .column_of(Kind::Entry, path)
        .map_or(path.to_string(), |c| format!("column {c}"));
    Refused::new(Because::Value, format!("{place}: {why}"))
}
