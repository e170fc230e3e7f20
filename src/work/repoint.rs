//! When a record gets another name, the records that point at it by the old
//! one are written anew in the same operation.

use super::Failure;
use super::edit::FieldChange;
use super::facts::means;
use crate::domain::asset::{Kind, Record, Rel};
use crate::domain::change::{Change, difference};
use crate::domain::repoint::{pointed_by, repointed};
use crate::store::{Store, StoreError, Stored};

/// Records that point at `target` by its present name, each once.
fn pointing(store: &Store, target: &Stored) -> Result<Vec<Stored>, StoreError> {
    let name = target.record.name();
    let kind = target.record.kind();
    let mut out: Vec<Stored> = Vec::new();
    for rel in pointed_by(kind) {
        for stored in store.pointing(*rel, &name)? {
            // An entry may be about a record of another kind with that name.
            let meant = *rel != Rel::About || means(store, &name, target.rec)?;
            if meant && stored.rec != target.rec && !out.iter().any(|o| o.rec == stored.rec) {
                out.push(stored);
            }
        }
    }
    if kind == Kind::Position {
        // A disconnect may be a position or plain words, and is in no index.
        for stored in store.all(Kind::Source)? {
            if !out.iter().any(|o| o.rec == stored.rec) {
                out.push(stored);
            }
        }
    }
    Ok(out)
}

/// The edits by which every reference to `target` bears the name `to`.
///
/// # Errors
/// Those of the register.
pub fn changes(store: &Store, target: &Stored, to: &str) -> Result<Vec<Change>, StoreError> {
    let (name, kind) = (target.record.name(), target.record.kind());
    Ok(pointing(store, target)?
        .iter()
        .filter_map(|s| Some((s, repointed(&s.record, kind, &name, to)?)))
        .flat_map(|(s, after)| edits(&s.record, &after))
        .collect())
}

/// With a new name, the references of other records to the old one.
pub(super) fn renamed(
    store: &Store,
    stored: &Stored,
    edits: &[FieldChange],
) -> Result<Vec<Change>, Failure> {
    let key = stored.record.kind().word();
    let renamed = edits.iter().find(|c| c.field == key);
    match renamed.and_then(|c| c.new.as_str()) {
        Some(name) => Ok(changes(store, stored, name)?),
        None => Ok(Vec::new()),
    }
}

/// The edits that turn one form of a record into another.
pub(super) fn edits(before: &Record, after: &Record) -> Vec<Change> {
    let (id, kind) = (before.id(), before.kind());
    difference(id, kind, &before.to_value(), &after.to_value())
        .into_iter()
        .map(Change::Edit)
        .collect()
}

/// What a report says of them.
#[must_use]
pub fn said(references: usize) -> Option<String> {
    match references {
        0 => None,
        1 => Some("1 reference of another record was written anew with it".to_string()),
        n => Some(format!(
            "{n} references of other records were written anew with it"
        )),
    }
}
