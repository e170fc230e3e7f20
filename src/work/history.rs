//! History: who changed what, when, from when on, and why.

use serde::Serialize;
use serde_json::Value;

use super::{Failure, FailureKind, JSON_VERSION, resolve_among};
use crate::calendar::{Date, Moment};
use crate::domain::asset::{Kind, RecordId};
use crate::store::{Logged, Store, StoreError, Written};

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
        Some(rec) => store
            .touched(rec, limit.saturating_add(1))?
            .into_iter()
            .map(|t| t.operation)
            .collect(),
    };
    let more = found.len() > limit;
    found.truncate(limit);
    let only = of.as_ref().and_then(|o| o.id.parse::<RecordId>().ok());
    let operations = found
        .iter()
        .map(|w| line(store, w, only))
        .collect::<Result<_, StoreError>>()?;
    Ok(HistoryReport {
        polecard: JSON_VERSION,
        of,
        operations,
        more,
        chain_head: store.head()?.digest,
        notes,
    })
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

fn line(store: &Store, w: &Written, only: Option<RecordId>) -> Result<OperationLine, StoreError> {
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
    only: Option<RecordId>,
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
    if only.is_some_and(|o| o != id) {
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
