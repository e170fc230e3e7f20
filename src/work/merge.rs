//! Merge: two records of one thing become one.

use serde::Serialize;
use serde_json::{Value, json};

use super::edit::{FieldChange, printed};
use super::guard::{alone, declared, not_alone};
use super::repoint::{self, edits};
use super::{Failure, JSON_VERSION, resolve_among};
use crate::calendar::{Date, Moment};
use crate::domain::asset::{Kind, Record, RecordId};
use crate::domain::change::{Change, Operation, put_at, value_at};
use crate::store::{Store, Stored, fresh_id};

/// What was asked.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Asked {
    /// The record that stays.
    pub keep: String,
    /// The record that goes into it.
    pub drop: String,
    /// `field=keep` or `field=drop`, for fields in which the two differ.
    pub take: Vec<String>,
    pub why: String,
    pub effective: Option<Date>,
    pub second: Option<String>,
    /// Only told; nothing is written.
    pub dry_run: bool,
}

/// A record that points at the one that goes, and will point at the other.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct MovedLine {
    pub kind: Kind,
    pub name: String,
}

/// What a merge did; its JSON is the document printed.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct MergeReport {
    pub polecard: u32,
    /// Empty when it was only told.
    #[serde(skip_serializing_if = "String::is_empty")]
    pub operation: String,
    /// Whether it was written.
    pub applied: bool,
    pub kind: Kind,
    /// The record that stayed.
    pub id: String,
    pub name: String,
    pub dropped_id: String,
    pub dropped: String,
    /// What changed on the record that stayed.
    pub changes: Vec<FieldChange>,
    /// What the record that goes says, and the one that stays will not.
    pub lost: Vec<FieldChange>,
    /// What was about it, at it or tied to it, and moves over.
    pub moved: Vec<MovedLine>,
    /// Changes of records that pointed at the other.
    pub references: usize,
    pub why: String,
    pub notes: Vec<String>,
}

/// Lists whose items are put together.
const TOGETHER: &[&str] = &[
    "names",
    "circuits",
    "terminals",
    "hazards",
    "joint_users",
    "slots",
    "ties",
];
/// Maps whose keys are whole values with a reader.
const WHOLE: &[&str] = &["nameplate", "settings", "settings_found"];

/// Makes one record of two as one operation.
///
/// # Errors
/// Usage, when the two are of different kinds or of one that keeps no old
/// names, when fields differ and nobody chose, or a second person is missing;
/// not found; those of the register. Nothing is changed then.
pub fn merge(
    store: &mut Store,
    asked: &Asked,
    who: &str,
    now: Moment,
) -> Result<MergeReport, Failure> {
    if asked.why.trim().is_empty() {
        return Err(Failure::usage("a merge needs a reason")
            .hint("say why they are one: --why \"one tag, entered twice\""));
    }
    let keep = resolve_among(store, &asked.keep, &[])?;
    let drop = resolve_among(store, &asked.drop, &[])?;
    let notes: Vec<String> = [keep.note, drop.note].into_iter().flatten().collect();
    let (keep, drop) = (keep.stored, drop.stored);
    fit(&keep, &drop)?;
    let after = joined(&keep, &drop, asked, now.date())?;
    let changes = changed(&keep.record, &after);
    let why = second(store, &keep, &drop, &changes, asked, who)?;
    let pointing = if keep.record.name() == drop.record.name() {
        Vec::new()
    } else {
        repoint::changes(store, &drop, &keep.record.name())?
    };
    let operation = Operation {
        id: fresh_id(now),
        who: who.to_string(),
        entered: now,
        effective: asked.effective,
        why: why.clone(),
        origin: None,
        undoes: None,
    };
    let report = MergeReport {
        polecard: JSON_VERSION,
        operation: match asked.dry_run {
            true => String::new(),
            false => operation.id.to_string(),
        },
        applied: !asked.dry_run,
        kind: keep.record.kind(),
        id: keep.record.id().to_string(),
        name: keep.record.name(),
        dropped_id: drop.record.id().to_string(),
        dropped: drop.record.name(),
        changes,
        lost: lost(&drop.record, &after),
        moved: moved(store, &pointing, &[keep.record.id(), drop.record.id()])?,
        references: pointing.len(),
        why,
        notes: notes
            .into_iter()
            .chain(repoint::said(pointing.len()))
            .collect(),
    };
    if asked.dry_run {
        return Ok(report);
    }
    // The record that goes points nowhere any more before it leaves, so that
    // what it pointed at is described without it.
    let mut all: Vec<Change> = pointing
        .into_iter()
        .filter(|c| !matches!(c, Change::Edit(e) if e.id == keep.record.id()))
        .collect();
    all.push(Change::Remove(drop.record.id()));
    all.extend(edits(&keep.record, &after));
    store.apply::<_, Failure>(&operation, all.into_iter().map(Ok))?;
    Ok(report)
}

/// What of the record that goes is not on the one that stays.
fn lost(drop: &Record, after: &Record) -> Vec<FieldChange> {
    let (theirs, out) = (drop.to_value(), after.to_value());
    let bare = |v: &Value| v.get("value").unwrap_or(v).clone();
    let holds = |have: &Value, item: &Value| match (have, item) {
        (Value::Array(have), Value::Array(items)) => items.iter().all(|i| have.contains(i)),
        _ => bare(have) == bare(item),
    };
    leaves(&theirs)
        .into_iter()
        .filter(|(field, value)| {
            // The name stays among the names; what nobody knows is no loss.
            field != "id" && field != drop.kind().word() && *value != "unknown"
        })
        .filter(|(field, value)| !holds(value_at(&out, field), value))
        .map(|(field, old)| FieldChange {
            new: value_at(&out, &field).clone(),
            field,
            old,
        })
        .collect()
}

/// The records that are pointed elsewhere, each once.
fn moved(
    store: &Store,
    pointing: &[Change],
    themselves: &[RecordId],
) -> Result<Vec<MovedLine>, Failure> {
    let mut out: Vec<MovedLine> = Vec::new();
    for change in pointing {
        let Change::Edit(e) = change else { continue };
        if themselves.contains(&e.id) {
            continue;
        }
        if let Some(stored) = store.by_id(e.id)? {
            let line = MovedLine {
                kind: e.kind,
                name: stored.record.name(),
            };
            if !out.contains(&line) {
                out.push(line);
            }
        }
    }
    Ok(out)
}

fn fit(keep: &Stored, drop: &Stored) -> Result<(), Failure> {
    let (a, b) = (&keep.record, &drop.record);
    if keep.rec == drop.rec {
        return Err(
            Failure::usage(format!("both names mean the same record, {}", a.name()))
                .hint("name each by its permanent id; polecard find lists both"),
        );
    }
    if a.kind() != b.kind() {
        return Err(Failure::usage(format!(
            "{} is a {} and {} a {}: only records of one kind are merged",
            a.name(),
            a.kind(),
            b.name(),
            b.kind()
        )));
    }
    if !matches!(a.kind(), Kind::Structure | Kind::Position | Kind::Unit) {
        return Err(Failure::usage(format!(
            "a {} keeps no old names, and is not merged",
            a.kind()
        )));
    }
    Ok(())
}

/// The record that stays, with what the other one adds.
fn joined(keep: &Stored, drop: &Stored, asked: &Asked, today: Date) -> Result<Record, Failure> {
    let kind = keep.record.kind();
    let (a, b) = (keep.record.to_value(), drop.record.to_value());
    let mut out = a.clone();
    let mut open = Vec::new();
    let chosen = choices(&asked.take)?;
    let mut used = vec![false; chosen.len()];
    for (field, theirs) in leaves(&b) {
        if field == "id" || field == kind.word() {
            continue;
        }
        let ours = value_at(&a, &field);
        let choice = chosen.iter().position(|(f, _)| *f == field);
        if let Some(n) = choice {
            used[n] = true;
        }
        match (joins(&field, ours, &theirs), choice.map(|n| chosen[n].1)) {
            (_, Some(true)) => put_at(&mut out, &field, theirs),
            (_, Some(false)) | (Join::Ours, None) => {}
            (Join::Both(value), None) => put_at(&mut out, &field, value),
            (Join::Differ, None) => open.push((field, printed(ours), printed(&theirs))),
        }
    }
    if let Some(n) = used.iter().position(|u| !u) {
        return Err(Failure::usage(format!(
            "--take {}: the record that goes has no such field",
            chosen[n].0
        )));
    }
    undecided(keep, drop, &open)?;
    keep_names(&mut out, keep, drop, asked.effective.unwrap_or(today));
    Record::from_value(kind, out).map_err(|e| Failure::usage(format!("the two do not fit: {e}")))
}

fn undecided(
    keep: &Stored,
    drop: &Stored,
    open: &[(String, String, String)],
) -> Result<(), Failure> {
    if open.is_empty() {
        return Ok(());
    }
    let mut failure = Failure::usage(format!(
        "{} and {} differ in {}; choose for each, --take FIELD=keep or FIELD=drop; nothing was changed",
        keep.record.name(),
        drop.record.name(),
        match open.len() {
            1 => "1 field".to_string(),
            n => format!("{n} fields"),
        }
    ));
    for (field, ours, theirs) in open {
        failure = failure.hint(format!("{field}: keep {ours}, drop {theirs}"));
    }
    Err(failure)
}

fn choices(take: &[String]) -> Result<Vec<(String, bool)>, Failure> {
    take.iter()
        .map(|text| match text.split_once('=') {
            Some((field, "keep")) => Ok((field.trim().to_string(), false)),
            Some((field, "drop")) => Ok((field.trim().to_string(), true)),
            _ => Err(Failure::usage(format!(
                "--take {text:?} is neither FIELD=keep nor FIELD=drop"
            ))),
        })
        .collect()
}

/// Fields of a record, maps of plain values opened.
fn leaves(value: &Value) -> Vec<(String, Value)> {
    let mut out = Vec::new();
    for (key, value) in value.as_object().into_iter().flatten() {
        match value {
            Value::Object(map)
                if key == "place" || key == "pole" || WHOLE.contains(&key.as_str()) =>
            {
                out.extend(map.iter().map(|(k, v)| (format!("{key}.{k}"), v.clone())));
            }
            other => out.push((key.clone(), other.clone())),
        }
    }
    out
}

/// How two values of a field come together.
enum Join {
    /// The value of the record that stays says all.
    Ours,
    Both(Value),
    Differ,
}

fn joins(field: &str, ours: &Value, theirs: &Value) -> Join {
    let unknown = |v: &Value| v.is_null() || v == "unknown";
    let bare = |v: &Value| v.get("value").unwrap_or(v).clone();
    let assumed = |v: &Value| v.get("standing").is_some_and(|s| s == "assumed");
    if unknown(theirs) || ours == theirs {
        return Join::Ours;
    }
    if unknown(ours) {
        return Join::Both(theirs.clone());
    }
    if bare(ours) == bare(theirs) {
        // The same figure: the one that was read stands over the assumed one.
        return if assumed(ours) && !assumed(theirs) {
            Join::Both(theirs.clone())
        } else {
            Join::Ours
        };
    }
    match (ours, theirs) {
        (Value::Array(a), Value::Array(b)) if TOGETHER.contains(&field) => Join::Both(union(a, b)),
        (Value::Array(a), Value::Array(b)) if field == "deployments" => stays(a, b),
        _ => Join::Differ,
    }
}

fn union(a: &[Value], b: &[Value]) -> Value {
    let mut out = a.to_vec();
    for item in b {
        if !out.contains(item) {
            out.push(item.clone());
        }
    }
    Value::Array(out)
}

/// Stays of both, in order; two places at once are for a person to settle.
fn stays(a: &[Value], b: &[Value]) -> Join {
    let Value::Array(mut all) = union(a, b) else {
        return Join::Differ;
    };
    if all.iter().filter(|d| d.get("to").is_none()).count() > 1 {
        return Join::Differ;
    }
    all.sort_by_key(|d| d.get("from").and_then(|f| f.as_str()).map(str::to_string));
    Join::Both(Value::Array(all))
}

/// The names of the record that goes are former names of the one that stays.
fn keep_names(out: &mut Value, keep: &Stored, drop: &Stored, to: Date) {
    let (ours, theirs) = (keep.record.name(), drop.record.name());
    let mut names = value_at(out, "names")
        .as_array()
        .cloned()
        .unwrap_or_default();
    let known = names.iter().any(|n| n["text"] == theirs.as_str());
    if ours != theirs && !known {
        names.push(json!({"text": theirs, "whose": "ours", "to": to}));
    }
    if !names.is_empty() {
        put_at(out, "names", Value::Array(names));
    }
}

fn changed(before: &Record, after: &Record) -> Vec<FieldChange> {
    edits(before, after)
        .into_iter()
        .filter_map(|c| match c {
            Change::Edit(e) => Some(FieldChange {
                field: e.field,
                old: e.old,
                new: e.new,
            }),
            _ => None,
        })
        .collect()
}

/// A name that goes out of use is an id changed; a value taken over may raise
/// a rating.
fn second(
    store: &Store,
    keep: &Stored,
    drop: &Stored,
    changes: &[FieldChange],
    asked: &Asked,
    who: &str,
) -> Result<String, Failure> {
    if asked.dry_run {
        return Ok(asked.why.trim().to_string());
    }
    let mut needed = None;
    if keep.record.name() != drop.record.name() {
        needed = Some(not_alone(&format!(
            "to merge {} into {} needs a second person, because it changes what the record is called",
            drop.record.name(),
            keep.record.name()
        )));
    }
    for change in changes {
        if needed.is_none() {
            needed = alone(store, keep, change)?;
        }
    }
    declared(&asked.why, asked.second.as_deref(), who, needed)
}
