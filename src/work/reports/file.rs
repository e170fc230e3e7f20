//! Filing a report: checked as an edit would be, written beside the register.

use serde::Serialize;
use serde_json::Value;

use super::super::edit::{self, Reading, planned, split};
use super::super::{Failure, JSON_VERSION, also_of, resolve_among};
use super::no_backup;
use crate::calendar::{Date, Moment};
use crate::domain::asset::{Class, Holds, Kind, PlateTable, ReadFrom, Record, Table};
use crate::domain::change::value_at;
use crate::domain::report::{Proposed, ReadOff, Report, Subject};
use crate::domain::who::Who;
use crate::store::{Access, Permissions, Reports, Store, Stored, fresh_id};
use crate::units::figure;

/// What is reported.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Asked {
    /// `field=value`; none for a note in words.
    pub set: Vec<String>,
    pub why: String,
    /// Who read the values; the one who files when absent.
    pub read_by: Option<String>,
    pub from: Option<ReadFrom>,
    /// The day they were read; today when absent.
    pub on: Option<Date>,
    /// The text names a thing that is not on record.
    pub unlisted: bool,
}

/// What was filed; its JSON is the document printed.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct FiledReport {
    pub polecard: u32,
    /// Short number in the reports file.
    pub no: i64,
    /// Permanent id.
    pub id: String,
    pub name: String,
    pub kind: Option<Kind>,
    /// The second identifier.
    pub also: String,
    pub fields: Vec<FieldFiled>,
    pub why: String,
    pub who: String,
    pub notes: Vec<String>,
}

/// A field as it was reported.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct FieldFiled {
    pub field: String,
    pub on_record: Value,
    pub proposed: Value,
}

/// Files a report about the record called `text`, or about a thing that is not
/// on record. The register need not be writable.
///
/// # Errors
/// Usage, when a field or value is not allowed or nothing would differ; not
/// found; when the reports file may not be written. Nothing is filed then.
pub fn file(
    store: &Store,
    text: &str,
    asked: &Asked,
    who: &Who,
    now: Moment,
) -> Result<FiledReport, Failure> {
    no_backup(store)?;
    if asked.why.trim().is_empty() {
        return Err(Failure::usage("a report needs a reason")
            .hint("say what was seen: --why \"sign on the gate is new\""));
    }
    let mut report = begun(asked, who, now);
    let mut notes = Vec::new();
    if asked.unlisted {
        report.unlisted = Some(unlisted(store, text, asked)?);
    } else {
        let found = resolve_among(store, text, &[])?;
        notes.extend(found.note);
        describe(store, &found.stored, asked, &mut report)?;
    }
    let no = Reports::open_or_make(store.path())?.add(&report)?;
    let about = report.about.as_ref();
    Ok(FiledReport {
        polecard: JSON_VERSION,
        no,
        id: report.id.to_string(),
        name: report.name().to_string(),
        kind: about.map(|a| a.kind),
        also: about.map(|a| a.also.clone()).unwrap_or_default(),
        fields: report
            .fields
            .iter()
            .map(|p| FieldFiled {
                field: p.field.clone(),
                on_record: p.seen.clone(),
                proposed: p.wanted.clone(),
            })
            .collect(),
        why: report.why.clone(),
        who: who.to_string(),
        notes,
    })
}

fn begun(asked: &Asked, who: &Who, now: Moment) -> Report {
    Report {
        id: fresh_id(now),
        filed: now,
        who: who.clone(),
        about: None,
        unlisted: None,
        fields: Vec::new(),
        read: None,
        why: asked.why.trim().to_string(),
    }
}

/// Whether a report about a record could be filed; files nothing.
///
/// # Errors
/// Usage, as [`file`].
pub fn tried(
    store: &Store,
    stored: &Stored,
    asked: &Asked,
    who: &Who,
    now: Moment,
) -> Result<(), Failure> {
    describe(store, stored, asked, &mut begun(asked, who, now))
}

/// What a plate field of a record may hold, in words; none for other fields,
/// whose rule shows when it is broken.
#[must_use]
pub fn allowed(record: &Record, field: &str) -> Option<String> {
    let key = field.strip_prefix("nameplate.")?;
    let Record::Unit(_) = record else { return None };
    let found = PlateTable::fields().iter().find(|f| f.key == key)?;
    Some(match found.holds {
        Holds::Number { unit, min, max } => {
            format!("{} to {} {unit}, or unknown", figure(min), figure(max))
        }
        Holds::Text => "text, or unknown".to_string(),
        Holds::Date => "a day as 2026-10-03, or unknown".to_string(),
        Holds::Choice(words) => format!("{}, or unknown", words.join(", ")),
    })
}

fn unlisted(store: &Store, text: &str, asked: &Asked) -> Result<String, Failure> {
    let mark = text.trim();
    if mark.is_empty() || mark.chars().count() > 60 {
        return Err(Failure::usage(
            "say what mark the thing bears, in 60 characters at most",
        ));
    }
    if !asked.set.is_empty() {
        return Err(Failure::usage(
            "a thing that is not on record has no fields yet; say what it is with --why",
        ));
    }
    if let Ok(found) = resolve_among(store, mark, &[]) {
        return Err(Failure::usage(format!(
            "{} {} is on record",
            found.stored.record.kind(),
            found.stored.record.name()
        ))
        .hint("report about it without --unlisted"));
    }
    Ok(mark.to_string())
}

/// Fills in what the report says of a record.
fn describe(
    store: &Store,
    stored: &Stored,
    asked: &Asked,
    report: &mut Report,
) -> Result<(), Failure> {
    let also = also_of(store, stored)?;
    report.about = Some(Subject {
        id: stored.record.id(),
        kind: stored.record.kind(),
        name: stored.record.name(),
        class: also.class.clone(),
        also: also.words(),
        feeder: also
            .feeder
            .clone()
            .or_else(|| stored.record.home().map(str::to_string)),
    });
    if asked.set.is_empty() {
        return Ok(());
    }
    let today = report.filed.date();
    report.read = asked.from.map(|from| ReadOff {
        by: asked
            .read_by
            .clone()
            .unwrap_or_else(|| report.who.to_string()),
        from,
        on: asked.on.unwrap_or(today),
    });
    let edit = edit::Asked {
        set: asked.set.clone(),
        why: asked.why.clone(),
        reading: report.read.as_ref().map(reading),
        ..edit::Asked::default()
    };
    let before = stored.record.to_value();
    let plan = planned(store, stored, &edit, today).map_err(in_words_of_a_report)?;
    if plan.changes.is_empty() {
        return Err(Failure::usage(format!(
            "{} says so already; nothing was filed",
            stored.record.name()
        )));
    }
    for set in &asked.set {
        let (field, typed) = split(set)?;
        report.fields.push(Proposed {
            field: field.to_string(),
            seen: value_at(&before, field).clone(),
            wanted: value_at(&plan.after, field).clone(),
            typed: typed.to_string(),
        });
    }
    Ok(())
}

pub(super) fn reading(read: &ReadOff) -> Reading {
    Reading {
        by: read.by.clone(),
        from: read.from,
        on: read.on,
    }
}

/// An edit's refusal names options that a report does not have.
fn in_words_of_a_report(mut failure: Failure) -> Failure {
    if failure.message.contains("who read it") {
        failure.hints = vec!["say from what it was read: --from plate (or photo, drawing)".into()];
    } else {
        failure.hints.retain(|h| !h.contains("--erase"));
    }
    failure.hints.push("nothing was filed".to_string());
    failure
}

/// The fields about which a report can be filed, with what is on record: those
/// that the record has, and those of its plate that nobody has read.
#[must_use]
pub fn proposable(record: &Record) -> Vec<(String, Value)> {
    let mut out = Vec::new();
    leaves(&mut out, "", &record.to_value());
    out.retain(|(field, _)| field != "id" && field != record.kind().word());
    let more: &[&str] = match record {
        Record::Structure(_) => &["place.road", "place.near", "place.house", "note"],
        Record::Position(_) => &["note"],
        _ => &[],
    };
    out.extend(more.iter().map(|f| ((*f).to_string(), Value::Null)));
    if let Record::Unit(unit) = record {
        let fits = |classes: &[Class]| classes.is_empty() || classes.contains(&unit.class);
        let plate = PlateTable::fields().iter().filter(|f| fits(f.classes));
        out.extend(plate.map(|f| (format!("nameplate.{}", f.key), Value::Null)));
    }
    let mut seen = std::collections::HashSet::new();
    out.retain(|(field, _)| seen.insert(field.clone()));
    out
}

/// Every field with a value; a list is one, and so is a value with its reader.
fn leaves(out: &mut Vec<(String, Value)>, path: &str, value: &Value) {
    let whole = |map: &serde_json::Map<String, Value>| {
        map.contains_key("value") || map.contains_key("standing")
    };
    match value {
        Value::Object(map) if !whole(map) => {
            for (key, below) in map {
                let dot = if path.is_empty() { "" } else { "." };
                leaves(out, &format!("{path}{dot}{key}"), below);
            }
        }
        _ => out.push((path.to_string(), value.clone())),
    }
}

/// How the reports file was opened to others; its JSON is the document printed.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Prepared {
    pub polecard: u32,
    pub path: String,
    /// Number of the group that owns it.
    pub group: u32,
    /// The permission bits, in octal.
    pub mode: String,
    /// What else that group may do that it should not.
    pub cautions: Vec<String>,
}

/// Makes the reports file where there is none, and lets a group add to it.
///
/// # Errors
/// When the register is not this account's to write, or the group not its to
/// give.
pub fn prepare(store: &Store, group: Option<u32>) -> Result<Prepared, Failure> {
    if store.access() == Access::Read {
        return Err(Failure::unusable(format!(
            "{} may not be written by this account; only who may write it opens the reports",
            store.path().display()
        )));
    }
    let reports = Reports::open_or_make(store.path())?;
    let Permissions { group, mode } = reports.open_to_group(group)?;
    Ok(Prepared {
        polecard: JSON_VERSION,
        path: reports.path().display().to_string(),
        group,
        mode: format!("{mode:o}"),
        cautions: cautions(store, group),
    })
}

fn cautions(store: &Store, group: u32) -> Vec<String> {
    let mut out = Vec::new();
    if store.group_may_write(group) {
        out.push(
            "the same group may write the register itself, so it needs no reports".to_string(),
        );
    }
    if store.group_may_replace(group) {
        out.push(
            "the same group may write the folder, so it can replace the register; take that away with chmod g-w"
                .to_string(),
        );
    }
    out
}
