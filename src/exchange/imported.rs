//! What an import is asked for, and what it tells.

use serde_json::Value;

use crate::calendar::Moment;
use crate::domain::asset::{Kind, Record, RecordId};

/// Most differences that a report carries.
const SAMPLE: usize = 200;

/// What an import did, or would do.
#[derive(Debug, Clone, Default, PartialEq, serde::Serialize)]
pub struct Imported {
    /// Operations replayed from the log under their own ids.
    pub replayed: usize,
    pub added: usize,
    /// Fields changed in records that were there.
    pub edited: usize,
    pub removed: usize,
    pub unchanged: usize,
    /// Recorded fields that the files leave out, and that stay.
    pub kept: usize,
    /// Recorded fields that leave their records; among the changed ones.
    pub erased: usize,
    /// Changes that one person alone does not make.
    pub alone: usize,
    /// Whether it was written.
    pub applied: bool,
    /// The operation that holds what differs, if anything did.
    pub operation: Option<RecordId>,
    /// Things the reader should know, in sentences.
    pub notes: Vec<String>,
    /// The first differences, for people.
    pub sample: Vec<Difference>,
    /// The first fields that the files leave out and that stay: `old` is what
    /// is recorded.
    pub keeps: Vec<Difference>,
    /// The first fields that leave their records.
    pub erases: Vec<Difference>,
    /// The first changes that need a second person, and why.
    pub needs_second: Vec<String>,
}

/// How files are to be taken in.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct YamlAsk<'a> {
    pub who: &'a str,
    pub now: Moment,
    /// Only shown when false; an empty register is filled at once.
    pub apply: bool,
    /// Who confirms it beside the actor, as declared.
    pub second: Option<&'a str>,
    /// A document is the whole record: what it leaves out is erased.
    pub replace: bool,
}

/// One difference between files and register.
#[derive(Debug, Clone, PartialEq, serde::Serialize)]
pub struct Difference {
    pub record: String,
    pub kind: Kind,
    /// `None` for a record that is new.
    pub field: Option<String>,
    pub old: Value,
    pub new: Value,
}

/// Adds a difference to a list, as long as it is short.
pub(super) fn note(
    list: &mut Vec<Difference>,
    record: &Record,
    field: Option<&str>,
    (old, new): (Value, Value),
) {
    if list.len() < SAMPLE {
        list.push(Difference {
            record: record.name(),
            kind: record.kind(),
            field: field.map(str::to_string),
            old,
            new,
        });
    }
}
