//! History: who changed what, when, from when on, and why.

use serde::Serialize;
use serde_json::Value;

use super::facts::pointing_at;
use super::{Failure, FailureKind, JSON_VERSION, is_demo, resolve_among};
use crate::calendar::{Date, Moment};
use crate::domain::asset::{Kind, Record, RecordId, Rel};
use crate::domain::code::fold;
use crate::store::{Logged, Store, StoreError, Stored, Touched, Written};

/// Changes of one operation that are spelled out.
const SPELLED: usize = 40;

/// The record whose history it is.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Of {
    pub id: String,
    pub kind: Kind,
    pub name: String,
    /// Whether it has left the register.
    pub gone: bool,
}

/// One change.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct ChangeLine {
    /// `added`, `changed` or `removed`.
    pub what: &'static str,
    pub id: String,
    pub kind: Kind,
    pub name: String,
    #[serde(skip_serializing_if = "Option::is_none")]
    pub field: Option<String>,
    pub old: Value,
    pub new: Value,
}

/// One operation.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct OperationLine {
    pub operation: String,
    pub who: String,
    /// With the offset of the place of entry.
    pub entered: Moment,
    pub entered_utc: String,
    /// From when it holds, when that is not the day of entry.
    pub effective: Option<Date>,
    pub why: String,
    pub origin: Option<String>,
    pub undoes: Option<String>,
    pub undone_by: Option<String>,
    /// How many changes the operation has in all.
    pub changes_in_all: i64,
    /// Those of the record asked for, or the first of all.
    pub changes: Vec<ChangeLine>,
}

/// The answer; its JSON is the document printed.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct HistoryReport {
    pub polecard: u32,
    /// The utility is made up.
    pub demo: bool,
    /// Absent: the whole register.
    pub of: Option<Of>,
    /// Newest first.
    pub operations: Vec<OperationLine>,
    /// Whether there are older ones.
    pub more: bool,
    /// SHA-256 of the chain's end.
    pub chain_head: String,
    pub notes: Vec<String>,
}

/// The newest operations of the register, or of the record called `text`; a
/// record that has left is found by its permanent id.
///
/// # Errors
/// Not found, or several; those of the register.
pub fn history(store: &Store, text: Option<&str>, limit: usize) -> Result<HistoryReport, Failure> {
    let (of, rec, notes) = match text {
        None => (None, None, Vec::new()),
        Some(text) => {
            let (of, rec, note) = subject(store, text)?;
            (Some(of), Some(rec), note.into_iter().collect())
        }
    };
    let mut found: Vec<Written> = match rec {
        None => store.newest_operations(None, limit.saturating_add(1))?,
        Some(rec) => of_record(store, rec, limit.saturating_add(1))?,
    };
    let more = found.len() > limit;
    found.truncate(limit);
    let only = rec
        .map(|rec| Only::of(store, rec, of.as_ref()))
        .transpose()?;
    let operations = found
        .iter()
        .map(|w| line(store, w, only.as_ref()))
        .collect::<Result<_, StoreError>>()?;
    Ok(HistoryReport {
        polecard: JSON_VERSION,
        demo: is_demo(store)?,
        of,
        operations,
        more,
        chain_head: store.head()?.digest,
        notes,
    })
}

/// The operations on a record, and on what is written about it; on a position
/// also those by which a unit came or went, which change the unit alone.
fn of_record(store: &Store, rec: i64, limit: usize) -> Result<Vec<Written>, StoreError> {
    let mut found: Vec<Written> = store
        .touched(rec, limit)?
        .into_iter()
        .map(|t| t.operation)
        .collect();
    if let Some(stored) = store.by_row(rec)? {
        for written in pointing_at(store, Rel::About, &stored)? {
            let entered = store.touched(written.rec, limit)?.into_iter();
            found.extend(entered.map(|t| t.operation));
        }
        for unit in units_ever(store, &stored)? {
            let moves = store.touched(unit.rec, limit)?.into_iter();
            found.extend(moves.filter(|t| moves_at(t, &stored)).map(|t| t.operation));
        }
    }
    found.sort_by_key(|w| std::cmp::Reverse(w.seq));
    found.dedup_by_key(|w| w.seq);
    Ok(found)
}

/// Units that are or were at a position; none for other records.
pub(super) fn units_ever(store: &Store, stored: &Stored) -> Result<Vec<Stored>, StoreError> {
    if !matches!(stored.record, Record::Position(_)) {
        return Ok(Vec::new());
    }
    let mut units = pointing_at(store, Rel::DeployedAt, stored)?;
    for unit in pointing_at(store, Rel::WasAt, stored)? {
        if !units.iter().any(|u| u.rec == unit.rec) {
            units.push(unit);
        }
    }
    Ok(units)
}

/// Whether an operation changed the stays of a unit at a position.
fn moves_at(touched: &Touched, place: &Stored) -> bool {
    touched
        .edits
        .iter()
        .any(|e| e.field == "deployments" && stays(&e.old, place) != stays(&e.new, place))
}

fn stays<'v>(value: &'v Value, place: &Stored) -> Vec<&'v Value> {
    let names: Vec<String> = place.record.names().iter().map(|n| fold(&n.text)).collect();
    let here = |d: &&Value| {
        let at = d.get("at").and_then(Value::as_str).unwrap_or_default();
        names.contains(&fold(at))
    };
    value
        .as_array()
        .into_iter()
        .flatten()
        .filter(here)
        .collect()
}

/// Which changes of an operation are spelled out: those of one record, and
/// the stays of units at it.
struct Only {
    id: Option<RecordId>,
    /// Entries and orders about it.
    about: Vec<RecordId>,
    place: Option<Stored>,
}

impl Only {
    fn of(store: &Store, rec: i64, of: Option<&Of>) -> Result<Only, StoreError> {
        let stored = store.by_row(rec)?;
        let about = match &stored {
            Some(stored) => pointing_at(store, Rel::About, stored)?,
            None => Vec::new(),
        };
        Ok(Only {
            about: about.iter().map(|s| s.record.id()).collect(),
            id: of.and_then(|o| o.id.parse().ok()),
            place: stored.filter(|s| matches!(s.record, Record::Position(_))),
        })
    }

    fn takes(&self, logged: &Logged, id: RecordId) -> bool {
        let moves = |place: &Stored| match logged {
            Logged::Edit(e) if e.kind == Kind::Unit && e.field == "deployments" => {
                stays(&e.old, place) != stays(&e.new, place)
            }
            _ => false,
        };
        self.id == Some(id) || self.about.contains(&id) || self.place.as_ref().is_some_and(moves)
    }
}

fn subject(store: &Store, text: &str) -> Result<(Of, i64, Option<String>), Failure> {
    match resolve_among(store, text, &[]) {
        Ok(found) => {
            let record = &found.stored.record;
            let of = Of {
                id: record.id().to_string(),
                kind: record.kind(),
                name: record.name(),
                gone: false,
            };
            Ok((of, found.stored.rec, found.note))
        }
        Err(e) if e.kind == FailureKind::NotFound => {
            let left = match text.trim().parse::<RecordId>() {
                Ok(id) => store.remembered(id)?.map(|r| (id, r)),
                Err(_) => None,
            };
            let Some((id, r)) = left else { return Err(e) };
            let of = Of {
                id: id.to_string(),
                kind: r.kind,
                name: r.name,
                gone: true,
            };
            Ok((of, r.rec, Some("it has left the register".to_string())))
        }
        Err(e) => Err(e),
    }
}

fn line(store: &Store, w: &Written, only: Option<&Only>) -> Result<OperationLine, StoreError> {
    let mut changes = Vec::new();
    store.changes::<StoreError>(w.seq, |logged| {
        if changes.len() < SPELLED {
            changes.extend(change(store, &logged, only)?);
        }
        Ok(())
    })?;
    let op = &w.operation;
    Ok(OperationLine {
        operation: op.id.to_string(),
        who: op.who.clone(),
        entered: op.entered,
        entered_utc: op.entered.utc(),
        effective: op.effective,
        why: op.why.clone(),
        origin: op.origin.clone(),
        undoes: op.undoes.map(|u| u.to_string()),
        undone_by: store
            .undone_by(op.id)?
            .map(|by| by.operation.id.to_string()),
        changes_in_all: w.changes,
        changes,
    })
}

fn change(
    store: &Store,
    logged: &Logged,
    only: Option<&Only>,
) -> Result<Option<ChangeLine>, StoreError> {
    let (what, id, kind, field, old, new) = match logged {
        Logged::Add(id, kind, _) => ("added", *id, *kind, None, Value::Null, Value::Null),
        Logged::Remove(id, kind) => ("removed", *id, *kind, None, Value::Null, Value::Null),
        Logged::Edit(e) => (
            "changed",
            e.id,
            e.kind,
            Some(e.field.clone()),
            e.old.clone(),
            e.new.clone(),
        ),
        Logged::Operation(_) => return Ok(None),
    };
    if only.is_some_and(|o| !o.takes(logged, id)) {
        return Ok(None);
    }
    Ok(Some(ChangeLine {
        what,
        name: store.remembered(id)?.map(|r| r.name).unwrap_or_default(),
        id: id.to_string(),
        kind,
        field,
        old,
        new,
    }))
}
