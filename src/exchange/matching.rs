//! Which record of the register a document speaks of.

use super::document::ExchangeError;
use crate::domain::asset::{Kind, Record, RecordId};
use crate::store::{Found, Look, StoreError};

/// Why a document was not understood as a record of the register.
pub(super) enum Unmatched {
    Why(String),
    Store(StoreError),
}

impl Unmatched {
    pub fn at(self, place: impl Fn(String) -> ExchangeError) -> ExchangeError {
        match self {
            Unmatched::Why(why) => place(why),
            Unmatched::Store(e) => e.into(),
        }
    }
}

impl From<StoreError> for Unmatched {
    fn from(e: StoreError) -> Self {
        Unmatched::Store(e)
    }
}

/// The id of the record that a document speaks of, and what is on record of it,
/// by id, else by kind and name; a new record is given its id.
pub(super) fn match_record(
    record: &Record,
    ids: &mut RecordId,
    look: &impl Look,
) -> Result<(RecordId, Option<Found>), Unmatched> {
    if !record.id().is_nil() {
        return Ok((record.id(), look.found(record.id())?));
    }
    let mut named = look.found_named(record.kind(), &record.name())?;
    if record.kind() == Kind::Entry {
        // Two entries of one day may be alike in name; only an equal one is it.
        named.retain(|f| same_but_id(record, f));
        named.truncate(1);
    }
    match named.len() {
        0 => {
            *ids = ids.next();
            Ok((*ids, None))
        }
        1 => Ok((named[0].id, named.pop())),
        n => Err(Unmatched::Why(format!(
            "{n} records of the register are called {} {}; give the id of the one that is meant",
            record.kind(),
            record.name()
        ))),
    }
}

fn same_but_id(record: &Record, found: &Found) -> bool {
    let mut with_id = record.clone();
    with_id.set_id(found.id);
    with_id.to_json() == found.body
}
