//! Mending what verify found, where what is right is certain from the record
//! itself. Everything else takes a person, a plate or a visit.

use serde::Serialize;

use super::Failure;
use super::edit::FieldChange;
use super::guard::alone;
use super::repoint::edits;
use super::verify::VerifyFinding;
use crate::calendar::Moment;
use crate::domain::asset::{Kind, Record};
use crate::domain::change::{Change, Operation};
use crate::domain::code::fold;
use crate::domain::repoint::repointed;
use crate::domain::verify::{emptied, wanted_kind};
use crate::store::{Store, Stored, fresh_id};

/// What would mend a finding.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Mend {
    pub record: String,
    pub kind: Kind,
    pub id: String,
    pub changes: Vec<FieldChange>,
    pub why: String,
}

/// The certain mend of a finding; `None` when there is none.
///
/// # Errors
/// Those of the register.
pub fn certain(store: &Store, finding: &VerifyFinding) -> Result<Option<Mend>, Failure> {
    let Some(stored) = found_on(store, finding)? else {
        return Ok(None);
    };
    let after = match finding.rule {
        "placeholder-value" => emptied(&stored.record),
        "reference-old-name" => renamed(store, &stored.record)?,
        "slot-off-position" => slotted(store, &stored.record)?,
        _ => None,
    };
    let Some(after) = after else { return Ok(None) };
    let changes: Vec<FieldChange> = edits(&stored.record, &after)
        .into_iter()
        .filter_map(|c| match c {
            Change::Edit(e) => Some(FieldChange {
                field: e.field,
                old: e.old,
                new: e.new,
            }),
            _ => None,
        })
        .collect();
    for change in &changes {
        // What takes two people is not mended on one key.
        if alone(store, &stored, change)?.is_some() {
            return Ok(None);
        }
    }
    Ok(Some(Mend {
        record: stored.record.name(),
        kind: stored.record.kind(),
        id: stored.record.id().to_string(),
        changes,
        why: format!("verify, {}: {}", finding.rule, finding.fix),
    }))
}

/// Writes a mend as one operation; returns its id.
///
/// # Errors
/// The record has changed since, or has left; those of the register.
pub fn mend(store: &mut Store, mend: &Mend, who: &str, now: Moment) -> Result<String, Failure> {
    let id = mend.id.parse().map_err(|e: String| Failure::unusable(e))?;
    let operation = Operation {
        id: fresh_id(now),
        who: who.to_string(),
        entered: now,
        effective: None,
        why: mend.why.clone(),
        origin: None,
        undoes: None,
    };
    let changes = mend.changes.iter().map(|c| {
        Ok::<_, Failure>(Change::Edit(crate::domain::change::Edit {
            id,
            kind: mend.kind,
            field: c.field.clone(),
            old: c.old.clone(),
            new: c.new.clone(),
        }))
    });
    store.apply(&operation, changes)?;
    Ok(operation.id.to_string())
}

/// The record of a finding.
///
/// # Errors
/// Those of the register.
pub fn found_on(store: &Store, finding: &VerifyFinding) -> Result<Option<Stored>, Failure> {
    match finding.id.parse() {
        Ok(id) => Ok(store.by_id(id)?),
        Err(_) => Ok(None),
    }
}

/// With every reference by a former name written by the present one.
fn renamed(store: &Store, record: &Record) -> Result<Option<Record>, Failure> {
    let mut out = record.clone();
    for link in record.links() {
        let hits = store.named(&link.target)?;
        let kind = wanted_kind(link.rel);
        if let (Some(kind), Some(now)) = (kind, super::verify::former(store, link.rel, &hits)?) {
            out = repointed(&out, kind, &link.target, &now).unwrap_or(out);
        }
    }
    Ok((out != *record).then_some(out))
}

/// With the slot written as the position writes it, where only its spelling
/// differs.
fn slotted(store: &Store, record: &Record) -> Result<Option<Record>, Failure> {
    let Record::Unit(unit) = record else {
        return Ok(None);
    };
    let mut out = unit.clone();
    for stay in out.deployments.iter_mut().filter(|d| d.to.is_none()) {
        let at = std::slice::from_ref(&stay.at);
        for (_, place) in store.present(Kind::Position, at)? {
            if let (Record::Position(p), Some(slot)) = (&place.record, &stay.slot)
                && let Some(known) = p.slots.iter().find(|s| fold(s) == fold(slot))
            {
                stay.slot = Some(known.clone());
            }
        }
    }
    let out = Record::from(out);
    Ok((out != *record).then_some(out))
}
