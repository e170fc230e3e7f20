//! Edit: fields of one record changed as one operation.

mod element;
mod said;

use serde::Serialize;
use serde_json::{Value, json};

use self::said::bare;
pub use self::said::{called, changes_in, printed, typed};
pub use super::guard::last_change;
use super::guard::{
    as_moved, entry_judged, judged, not_over_to_come, renamed_free, with_second, writable,
};
use super::{Failure, JSON_VERSION, repoint, resolve_among};
use crate::calendar::{Date, Moment};
use crate::domain::asset::{Kind, ReadFrom, Record};
use crate::domain::change::{Change, Edit, Operation, put_at, value_at};
use crate::exchange::{explain, flow};
use crate::store::{Store, Stored, fresh_id};

/// Who read a value, from what and when.
#[derive(Debug, Clone, PartialEq)]
pub struct Reading {
    pub by: String,
    pub from: ReadFrom,
    pub on: Date,
}

/// What was asked.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Asked {
    /// `field=value`.
    pub set: Vec<String>,
    /// Fields whose value leaves the record.
    pub erase: Vec<String>,
    /// Fields that were read again and are as recorded.
    pub confirm: Vec<String>,
    /// `field=value` that must be on record for the edit to be made.
    pub expect: Vec<String>,
    pub why: String,
    pub effective: Option<Date>,
    pub reading: Option<Reading>,
    /// The rule by which plate values are assumed.
    pub assumed: Option<String>,
    /// Who confirms it beside the actor, as declared.
    pub second: Option<String>,
}

/// One field, before and after.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct FieldChange {
    pub field: String,
    pub old: Value,
    pub new: Value,
}

/// What an edit did; its JSON is the document printed.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct EditReport {
    pub polecard: u32,
    /// The operation that was written; absent when nothing differed.
    pub operation: Option<String>,
    pub id: String,
    pub kind: Kind,
    /// What the record is called now.
    pub name: String,
    pub changes: Vec<FieldChange>,
    pub why: String,
    pub effective: Option<Date>,
    /// The second person, as declared.
    pub second: Option<String>,
    pub notes: Vec<String>,
}

/// Edits the record called `text`.
///
/// # Errors
/// Usage, when a field or value is not allowed; a conflict with what is on
/// record; a second person missing; those of the register. Nothing is changed
/// then.
pub fn edit(
    store: &mut Store,
    text: &str,
    asked: &Asked,
    who: &str,
    now: Moment,
) -> Result<EditReport, Failure> {
    let found = resolve_among(store, text, &[])?;
    let stored = found.stored;
    let Planned {
        after,
        changes,
        pointing,
    } = planned(store, &stored, asked, now.date())?;
    let to_come = store.to_come(stored.rec, now.date())?;
    not_over_to_come(&stored, &to_come, &changes, asked.second.as_deref())?;
    let why = with_second(store, &stored, &changes, asked, who)?;
    writable(store, &stored, asked)?;
    entry_judged(store, &stored.record, &after, now.date())?;
    let odd = judged(&stored.record, &after)?;
    let mut report = EditReport {
        polecard: JSON_VERSION,
        operation: None,
        id: stored.record.id().to_string(),
        kind: stored.record.kind(),
        name: Record::from_value(stored.record.kind(), after)
            .map_or_else(|_| stored.record.name(), |r| r.name()),
        changes,
        why,
        effective: asked.effective,
        second: asked.second.clone(),
        notes: found.note.into_iter().chain(odd).collect(),
    };
    let later = to_come.iter().map(|c| format!("to come: {}", c.sentence()));
    report.notes.extend(later);
    if report.changes.is_empty() {
        let same = "the record says so already; nothing was written";
        report.notes.push(same.to_string());
        return Ok(report);
    }
    report.notes.extend(repoint::said(pointing.len()));
    let operation = Operation {
        id: fresh_id(now),
        who: who.to_string(),
        entered: now,
        effective: asked.effective,
        why: report.why.clone(),
        origin: None,
        undoes: None,
    };
    write(store, &stored, &operation, &report.changes, pointing)?;
    report.operation = Some(operation.id.to_string());
    Ok(report)
}

/// What an edit would make of a record.
pub(super) struct Planned {
    /// The canonical form.
    pub after: Value,
    pub changes: Vec<FieldChange>,
    /// With a new name, the references of other records to the old one.
    pub pointing: Vec<Change>,
}

/// Works an edit out by all the checks but the second person's; writes nothing.
pub(super) fn planned(
    store: &Store,
    stored: &Stored,
    asked: &Asked,
    today: Date,
) -> Result<Planned, Failure> {
    sensible(asked, today)?;
    let before = stored.record.to_value();
    expected(store, stored, &before, asked)?;
    let (after, fields) = wanted(stored, &before, asked, today)?;
    as_moved(&stored.record, &after, today)?;
    let changes = changed(&before, &after, &fields);
    renamed_free(store, stored, &changes)?;
    let pointing = repoint::renamed(store, stored, &changes)?;
    Ok(Planned {
        after,
        changes,
        pointing,
    })
}

fn write(
    store: &mut Store,
    stored: &Stored,
    operation: &Operation,
    changes: &[FieldChange],
    pointing: Vec<Change>,
) -> Result<(), Failure> {
    let edits = changes.iter().map(|c| {
        Ok::<_, Failure>(Change::Edit(Edit {
            id: stored.record.id(),
            kind: stored.record.kind(),
            field: c.field.clone(),
            old: c.old.clone(),
            new: c.new.clone(),
        }))
    });
    let all = edits.chain(pointing.into_iter().map(Ok));
    store.apply(operation, all).map(|_| ())
}

fn sensible(asked: &Asked, today: Date) -> Result<(), Failure> {
    if asked.why.trim().is_empty() {
        return Err(Failure::usage("an edit needs a reason")
            .hint("say why it is changed: --why \"plate read at the pole\""));
    }
    if asked.set.is_empty() && asked.erase.is_empty() && asked.confirm.is_empty() {
        return Err(Failure::usage("nothing to change")
            .hint("name a field and its value: place.near=\"the weir gate\""));
    }
    let future = |what: &str, day: Option<Date>| match day {
        Some(day) if day > today => Err(Failure::usage(format!(
            "{what} {day} lies in the future; today is {today}"
        ))),
        _ => Ok(()),
    };
    future("--on", asked.reading.as_ref().map(|r| r.on))?;
    if asked.reading.is_some() && asked.assumed.is_some() {
        return Err(Failure::usage(
            "a value is read or assumed, not both: give --read-by or --assumed",
        ));
    }
    Ok(())
}

/// Splits `field=value`.
pub(super) fn split(text: &str) -> Result<(&str, &str), Failure> {
    match text.split_once('=') {
        Some((field, value)) if !field.trim().is_empty() => Ok((field.trim(), value.trim())),
        _ => Err(Failure::usage(format!("{text:?} is not field=value"))
            .hint("write the field, an equals sign and the value: nameplate.coil_amps=100")),
    }
}

/// Holds what the person saw against what is on record now.
fn expected(store: &Store, stored: &Stored, before: &Value, asked: &Asked) -> Result<(), Failure> {
    for text in &asked.expect {
        let (field, seen) = split(text)?;
        let now = value_at(before, field);
        let list = flow(seen).ok().flatten();
        let as_stored = now.is_array() && serde_json::to_string(now).is_ok_and(|t| t == seen);
        if list.as_ref() == Some(now) || as_stored || printed(now) == seen || bare(now) == seen {
            continue;
        }
        let mut failure = Failure::unusable(format!(
            "{}: {field} is now {}, and you expected {seen}; nothing was changed",
            stored.record.name(),
            printed(now)
        ));
        if let Some((who, when, why)) = last_change(store, stored, field)? {
            failure = failure.hint(format!("{who} changed it, {when}: {why}"));
        }
        for wanted in asked.set.iter().filter_map(|s| split(s).ok()) {
            if wanted.0 == field {
                failure = failure.hint(format!("you wanted {}; look at both and choose", wanted.1));
            }
        }
        return Err(failure);
    }
    Ok(())
}

/// Whether one of two paths lies at or below the other.
#[must_use]
pub fn overlap(a: &str, b: &str) -> bool {
    let below = |a: &str, b: &str| {
        a.strip_prefix(b)
            .is_some_and(|r| r.is_empty() || r.starts_with('.'))
    };
    below(a, b) || below(b, a)
}

/// The record as it is wanted, in canonical form, and the fields named.
fn wanted(
    stored: &Stored,
    before: &Value,
    asked: &Asked,
    today: Date,
) -> Result<(Value, Vec<String>), Failure> {
    let mut value = before.clone();
    let mut fields: Vec<String> = Vec::new();
    let mut take = |field: &str| -> Result<(), Failure> {
        if field == "id" || field.starts_with("id.") {
            return Err(Failure::usage(
                "the permanent id of a record never changes; edit its name instead",
            ));
        }
        if fields.iter().any(|f| overlap(f, field)) {
            return Err(Failure::usage(format!("{field} is named twice")));
        }
        fields.push(field.to_string());
        Ok(())
    };
    for field in &asked.confirm {
        take(field)?;
        let confirmed = confirmed(before, field, asked)?;
        put_at(&mut value, field, confirmed);
    }
    for field in &asked.erase {
        take(field)?;
        if value_at(before, field).is_null() {
            return Err(Failure::usage(format!(
                "{}: {field} has no value to erase",
                stored.record.name()
            )));
        }
        put_at(&mut value, field, Value::Null);
    }
    for text in &asked.set {
        let (field, typed) = split(text)?;
        take(field)?;
        element::known(&value, field)?;
        value = with_value(stored, value, field, typed, asked)?;
    }
    let renamed = keep_old_name(stored, before, &mut value, asked, today)?;
    fields.extend(renamed);
    let record = Record::from_value(stored.record.kind(), value)
        .map_err(|e| Failure::usage(explain(&e.to_string())))?;
    Ok((record.to_value(), fields))
}

/// Whether a field of a record can hold what was typed, whoever read it.
///
/// # Errors
/// Usage, with the field's own rule.
pub fn fits(stored: &Stored, field: &str, typed: &str) -> Result<(), Failure> {
    let anybody = Asked {
        assumed: Some(String::new()),
        ..Asked::default()
    };
    with_value(stored, stored.record.to_value(), field, typed, &anybody).map(|_| ())
}

/// The record with one more value: as text where the field takes text, else as
/// a number or yes/no; the field's own rule decides.
fn with_value(
    stored: &Stored,
    value: Value,
    field: &str,
    typed: &str,
    asked: &Asked,
) -> Result<Value, Failure> {
    if typed.is_empty() {
        return Err(
            Failure::usage(format!("{field}: a blank does not erase a value"))
                .hint(format!("write {field}=unknown where nobody has read it"))
                .hint(format!("to take the value off the record: --erase {field}")),
        );
    }
    if element::takes_figure(field) && typed != "unknown" && typed.parse::<f64>().is_err() {
        return Err(Failure::usage(format!(
            "{field}={typed} cannot be recorded: a figure, or unknown; nothing was changed"
        )));
    }
    let mut candidates: Vec<Value> = match flow(typed).map_err(Failure::usage)? {
        Some(list) => vec![list],
        None => scalars(field, typed),
    };
    for c in &mut candidates {
        *c = match is_plate(field) {
            true => stated(field, c.clone(), asked)?,
            false => element::stated(field, c.clone(), asked),
        };
    }
    let mut refused = Vec::new();
    for candidate in candidates {
        let mut tried = value.clone();
        put_at(&mut tried, field, candidate);
        match Record::from_value(stored.record.kind(), tried.clone()) {
            Ok(_) => return Ok(tried),
            Err(e) => refused.push(explain(&e.to_string())),
        }
    }
    let numeric = typed.parse::<f64>().is_ok();
    let why = if numeric { refused.pop() } else { None };
    let why = why.or_else(|| refused.into_iter().next());
    Err(Failure::usage(format!(
        "{}: {field}={typed} cannot be recorded: {}",
        stored.record.name(),
        why.unwrap_or_default()
    ))
    .hint("nothing was changed"))
}

fn scalars(field: &str, typed: &str) -> Vec<Value> {
    let text = Value::from(typed);
    let figure = typed
        .parse::<i64>()
        .map(Value::from)
        .ok()
        .or_else(|| typed.parse::<f64>().ok().map(Value::from))
        .filter(|v| !v.is_null());
    let truth = match typed {
        "yes" | "true" => Some(Value::Bool(true)),
        "no" | "false" => Some(Value::Bool(false)),
        _ => None,
    };
    // Readings and choices take either; a figure is meant as a figure there.
    let free = field.starts_with("readings.")
        || field.starts_with("choices.")
        || element::takes_figure(field);
    let mut out: Vec<Value> = Vec::new();
    if free {
        out.extend(figure);
        out.push(text);
    } else {
        out.push(text);
        out.extend(figure);
    }
    out.extend(truth);
    out
}

fn is_plate(field: &str) -> bool {
    field
        .strip_prefix("nameplate.")
        .is_some_and(|key| !key.contains('.'))
}

/// A plate value with who read it, or by which rule it is assumed.
fn stated(field: &str, value: Value, asked: &Asked) -> Result<Value, Failure> {
    if value.is_object() || value == "unknown" {
        return Ok(value);
    }
    if let Some(rule) = &asked.assumed {
        return Ok(json!({"value": value, "standing": "assumed", "rule": rule}));
    }
    match &asked.reading {
        Some(r) => Ok(read(&value, r)),
        None => Err(Failure::usage(format!(
            "{field} is a plate value: who read it, and from what?"
        ))
        .hint("read: --read-by WHO --from plate --on 2026-10-03 (or photo, drawing)")
        .hint("not read: --assumed \"the rule it is assumed by\", or the value unknown")),
    }
}

fn read(value: &Value, r: &Reading) -> Value {
    json!({"value": value, "by": r.by, "on": r.on, "from": r.from})
}

/// "Confirmed as is": the same value with who read it again, and when.
fn confirmed(before: &Value, field: &str, asked: &Asked) -> Result<Value, Failure> {
    let old = value_at(before, field);
    let value = match old {
        Value::Object(map) => map.get("value").unwrap_or(&Value::Null),
        other => other,
    };
    if !(is_plate(field) || field.starts_with("settings.")) {
        return Err(Failure::usage(format!(
            "{field} keeps no reader; only plate values and settings are confirmed as they are"
        )));
    }
    if value.is_null() || value == "unknown" {
        return Err(Failure::usage(format!(
            "{field} has no value to confirm; read it and write {field}=…"
        )));
    }
    let reading = asked.reading.as_ref().ok_or_else(|| {
        Failure::usage(format!("{field}: confirmed by whom, from what?"))
            .hint("add --read-by WHO --from plate --on 2026-10-03")
    })?;
    Ok(read(value, reading))
}

/// A renamed record keeps its old name among its names, so that it still
/// finds. Other kinds are pointed at by their name alone and keep it.
fn keep_old_name(
    stored: &Stored,
    before: &Value,
    value: &mut Value,
    asked: &Asked,
    today: Date,
) -> Result<Option<String>, Failure> {
    let kind = stored.record.kind();
    let key = kind.word();
    if matches!(kind, Kind::Span | Kind::Entry) || value_at(value, key) == value_at(before, key) {
        return Ok(None);
    }
    if !matches!(kind, Kind::Structure | Kind::Position | Kind::Unit) {
        return Err(Failure::usage(format!(
            "other records point at a {kind} by its name, and it keeps no old names; it is not renamed here"
        )));
    }
    let mut names = value_at(value, "names")
        .as_array()
        .cloned()
        .unwrap_or_default();
    let to = asked.effective.unwrap_or(today);
    names.push(json!({"text": stored.record.name(), "whose": "ours", "to": to}));
    put_at(value, "names", Value::Array(names));
    let named = asked.set.iter().filter_map(|s| split(s).ok());
    let already = named.into_iter().any(|(f, _)| f == "names");
    Ok((!already).then(|| "names".to_string()))
}

/// A list changes as a whole, whichever of its items was named.
fn changed(before: &Value, after: &Value, fields: &[String]) -> Vec<FieldChange> {
    let mut whole: Vec<&str> = fields
        .iter()
        .map(|f| element::list_of(f).unwrap_or(f))
        .collect();
    let mut seen = std::collections::BTreeSet::new();
    whole.retain(|f| seen.insert(*f));
    whole
        .into_iter()
        .map(|f| FieldChange {
            field: f.to_string(),
            old: value_at(before, f).clone(),
            new: value_at(after, f).clone(),
        })
        .filter(|c| c.old != c.new)
        .collect()
}
