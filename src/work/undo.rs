//! Undo: an operation taken back by a new one, or not at all.

use std::collections::HashMap;
use std::collections::hash_map::Entry;

use serde::Serialize;
use serde_json::Value;

use super::edit::{FieldChange, overlap};
use super::guard::{alone, declared, not_alone};
use super::{Failure, JSON_VERSION};
use crate::calendar::Moment;
use crate::domain::asset::{Kind, Record, RecordId, Rel};
use crate::domain::change::{Change, Edit, Operation, put_at, value_at};
use crate::domain::second::{second_needed_to_add, second_needed_to_remove};
use crate::store::{Logged, Store, StoreError, Stored, Written, fresh_id};

/// How far back the last operation of a person is looked for.
const LOOKED_AT: usize = 10_000;
/// Conflicts that are named.
const NAMED: usize = 10;

/// What an undo did; its JSON is the document printed.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct UndoReport {
    pub polecard: u32,
    /// The new operation.
    pub operation: String,
    /// The operation that it takes back.
    pub undoes: String,
    pub undone_why: String,
    pub undone_who: String,
    pub undone_entered: Moment,
    pub changes: usize,
}

/// What is to be taken back.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct Asked {
    /// Beginning of the operation's id; the last one of the actor if absent.
    pub which: Option<String>,
    pub why: Option<String>,
    /// Who confirms it beside the actor, as declared.
    pub second: Option<String>,
}

/// [`undo_with`] without a second person.
///
/// # Errors
/// As [`undo_with`].
pub fn undo(
    store: &mut Store,
    which: Option<&str>,
    why: Option<&str>,
    who: &str,
    now: Moment,
) -> Result<UndoReport, Failure> {
    let asked = Asked {
        which: which.map(str::to_string),
        why: why.map(str::to_string),
        second: None,
    };
    undo_with(store, &asked, who, now)
}

/// Takes back an operation: the one whose id begins with what is asked, or the
/// last one of `who` that is not taken back yet.
///
/// # Errors
/// Not found or ambiguous; later changes stand in the way, each named; a
/// second person missing where taking back raises a rating, clears a defect,
/// lowers a PCB class or changes an id; those of the register. Nothing is
/// changed then.
pub fn undo_with(
    store: &mut Store,
    asked: &Asked,
    who: &str,
    now: Moment,
) -> Result<UndoReport, Failure> {
    let target = match &asked.which {
        Some(id) => operation_called(store, id)?,
        None => last_of(store, who)?,
    };
    let changes = reversed(store, &target)?;
    let op = &target.operation;
    let why = match &asked.why {
        Some(why) if !why.trim().is_empty() => why.clone(),
        _ => format!("undo of: {}", op.why),
    };
    let needed = needs_second(store, &changes)?;
    let why = declared(&why, asked.second.as_deref(), who, needed)?;
    let operation = Operation {
        id: fresh_id(now),
        who: who.to_string(),
        entered: now,
        effective: op.effective,
        why,
        origin: None,
        undoes: Some(op.id),
    };
    let n = store.apply::<_, Failure>(&operation, changes.into_iter().map(Ok))?;
    Ok(UndoReport {
        polecard: JSON_VERSION,
        operation: operation.id.to_string(),
        undoes: op.id.to_string(),
        undone_why: op.why.clone(),
        undone_who: op.who.clone(),
        undone_entered: op.entered,
        changes: n,
    })
}

/// Why taking back needs a second person: it is held to the rules of an edit.
fn needs_second(store: &Store, changes: &[Change]) -> Result<Option<Failure>, Failure> {
    for change in changes {
        let needed = match change {
            Change::Edit(e) => match store.by_id(e.id)? {
                Some(stored) => edit_alone(store, &stored, e)?,
                None => None,
            },
            Change::Add(record) => second_needed_to_add(record).map(|why| {
                not_alone(&format!(
                    "to bring back {} needs a second person, because {why}",
                    record.name()
                ))
            }),
            Change::Remove(id) => store.by_id(*id)?.and_then(|s| {
                let why = second_needed_to_remove(&s.record)?;
                Some(not_alone(&format!(
                    "to take back {} needs a second person, because {why}",
                    s.record.name()
                )))
            }),
        };
        if needed.is_some() {
            return Ok(needed);
        }
    }
    Ok(None)
}

fn edit_alone(store: &Store, stored: &Stored, e: &Edit) -> Result<Option<Failure>, StoreError> {
    let change = FieldChange {
        field: e.field.clone(),
        old: e.old.clone(),
        new: e.new.clone(),
    };
    alone(store, stored, &change)
}

fn operation_called(store: &Store, id: &str) -> Result<Written, Failure> {
    let mut found = store.operations_beginning(id.trim(), 2)?;
    match (found.pop(), found.pop()) {
        (Some(one), None) => Ok(one),
        (None, _) => Err(Failure::not_found(format!(
            "no operation has an id that begins with {id}"
        ))
        .hint("polecard history lists the operations and their ids")),
        (Some(_), Some(_)) => Err(Failure::not_found(format!(
            "several operations have an id that begins with {id}"
        ))
        .hint("type more of the id; polecard history lists them")),
    }
}

fn last_of(store: &Store, who: &str) -> Result<Written, Failure> {
    for w in store.newest_operations(None, LOOKED_AT)? {
        let op = &w.operation;
        if op.who == who && op.undoes.is_none() && !taken_back(store, op.id)? {
            return Ok(w);
        }
    }
    Err(
        Failure::not_found(format!("{who} has made no operation that could be undone"))
            .hint("name another one by its id; polecard history lists them"),
    )
}

/// Whether an operation is taken back now: an undo that is itself undone does
/// not count.
fn taken_back(store: &Store, id: RecordId) -> Result<bool, StoreError> {
    Ok(match store.undone_by(id)? {
        Some(by) => !taken_back(store, by.operation.id)?,
        None => false,
    })
}

/// A record while the changes are being turned round.
struct Turned {
    kind: Kind,
    name: String,
    rec: i64,
    gone: bool,
    value: Value,
}

/// The changes that take an operation back, last first.
fn reversed(store: &Store, target: &Written) -> Result<Vec<Change>, Failure> {
    let mut lines: Vec<Logged> = Vec::new();
    store.changes::<StoreError>(target.seq, |line| {
        lines.push(line);
        Ok(())
    })?;
    let mut turned: HashMap<RecordId, Turned> = HashMap::new();
    let (mut out, mut conflicts) = (Vec::new(), Vec::new());
    for line in lines.iter().rev() {
        let (id, _) = about(line);
        let t = match turned.entry(id) {
            Entry::Occupied(e) => e.into_mut(),
            Entry::Vacant(e) => e.insert(now(store, id)?),
        };
        match turn(store, target.seq, line, t)? {
            Ok(change) => out.push(change),
            Err(conflict) => conflicts.push(conflict),
        }
    }
    if conflicts.is_empty() {
        return Ok(out);
    }
    let mut failure = Failure::unusable(format!(
        "{} cannot be undone as it is: {} later changes stand in the way; nothing was changed",
        target.operation.id,
        conflicts.len()
    ));
    for c in conflicts.into_iter().take(NAMED) {
        failure = failure.hint(c);
    }
    Err(failure)
}

fn about(line: &Logged) -> (RecordId, Option<&Edit>) {
    match line {
        Logged::Add(id, _, _) | Logged::Remove(id, _) => (*id, None),
        Logged::Edit(e) => (e.id, Some(e)),
        Logged::Operation(w) => (w.operation.id, None),
    }
}

fn now(store: &Store, id: RecordId) -> Result<Turned, Failure> {
    let r = store
        .remembered(id)?
        .ok_or_else(|| Failure::from(StoreError::NoSuchRecord(id)))?;
    let value = serde_json::from_str(&r.body)
        .map_err(|e| Failure::unusable(format!("{}: the record is damaged: {e}", r.name)))?;
    Ok(Turned {
        kind: r.kind,
        name: r.name,
        rec: r.rec,
        gone: r.gone,
        value,
    })
}

/// One change turned round, or what stands in its way.
fn turn(
    store: &Store,
    seq: i64,
    line: &Logged,
    t: &mut Turned,
) -> Result<Result<Change, String>, Failure> {
    match line {
        Logged::Edit(e) => {
            if t.gone || *value_at(&t.value, &e.field) != e.new {
                return Ok(Err(in_the_way(store, seq, t, Some(&e.field))?));
            }
            put_at(&mut t.value, &e.field, e.old.clone());
            Ok(Ok(Change::Edit(Edit {
                id: e.id,
                kind: e.kind,
                field: e.field.clone(),
                old: e.new.clone(),
                new: e.old.clone(),
            })))
        }
        Logged::Add(id, _, body) => {
            let added: Value = serde_json::from_str(body).unwrap_or(Value::Null);
            if t.gone || added != t.value {
                return Ok(Err(in_the_way(store, seq, t, None)?));
            }
            if let Some(later) = pointing_since(store, seq, &t.name)? {
                return Ok(Err(later));
            }
            t.gone = true;
            Ok(Ok(Change::Remove(*id)))
        }
        Logged::Remove(_, kind) => {
            if !t.gone {
                return Ok(Err(in_the_way(store, seq, t, None)?));
            }
            t.gone = false;
            Record::from_value(*kind, t.value.clone())
                .map(|r| Ok(Change::Add(r)))
                .map_err(|e| Failure::unusable(format!("{}: {e}", t.name)))
        }
        Logged::Operation(_) => Ok(Err("the log is out of order here".to_string())),
    }
}

/// Names the later operation that changed a field, or the record.
fn in_the_way(
    store: &Store,
    seq: i64,
    t: &Turned,
    field: Option<&str>,
) -> Result<String, StoreError> {
    const LATER: usize = 200;
    let later = store.touched(t.rec, LATER)?.into_iter().find(|w| {
        w.operation.seq > seq
            && field
                .is_none_or(|f| w.edits.is_empty() || w.edits.iter().any(|e| overlap(&e.field, f)))
    });
    let what = field.map_or(format!("{} {}", t.kind, t.name), |f| {
        format!("{} {}: {f}", t.kind, t.name)
    });
    Ok(match later {
        Some(w) => {
            let op = w.operation.operation;
            format!(
                "{what} was changed again by {}, {} (operation {}): {}",
                op.who,
                op.entered.spoken(),
                op.id,
                op.why
            )
        }
        None => format!("{what} is no longer as that operation left it"),
    })
}

/// A record entered since that points at what would leave the register.
fn pointing_since(store: &Store, seq: i64, name: &str) -> Result<Option<String>, StoreError> {
    for rel in Rel::ALL {
        let later = store.pointing(*rel, name)?;
        if let Some(s) = later.into_iter().find(|s| s.op > seq) {
            return Ok(Some(format!(
                "{} {}, written since, points at {name}",
                s.record.kind(),
                s.record.name()
            )));
        }
    }
    Ok(None)
}
