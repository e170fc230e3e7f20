//! CSV in, through a map: streamed, row by row. A row is taken whole or
//! refused whole; a refused one never stops the others.
//!
//! ```text
//!   bytes --split--> rows --cell--> text --shape--> drafts --merge--> changes
//!                      \______________ refused, with line and reason
//! ```

mod bind;
mod cell;
mod flat;
mod merge;
mod name_form;
mod neutral;
mod out;
mod own;
mod readings;
mod refused;
mod row;
mod run;
mod seen;
mod settle;
mod shape;
mod sink;
mod split;
mod suggest;
mod width;

use std::collections::BTreeMap;
use std::path::PathBuf;

use serde::Serialize;

use super::imported::Difference;
use crate::domain::asset::{Kind, RecordId};

pub use cell::{DateFormat, mercator_lat, mercator_lon};
pub use neutral::{line, neutral, original};
pub use out::{CsvExported, export_csv};
pub use run::{CsvAsk, apply, dry_run};
pub use settle::{Contradiction, Take};
pub use suggest::{own_kind, suggest};

/// Why a row was refused, in classes that can be counted.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Because {
    /// What must be there is blank.
    Blank,
    /// A name of another form than the map asks for.
    Unfit,
    /// Named twice in the file.
    Duplicate,
    /// Too few or too many columns.
    Columns,
    /// A quote that does not close, or text behind one.
    Quotes,
    Encoding,
    Control,
    TooLong,
    /// A value that cannot be.
    Value,
    /// Contradicts what is on record.
    Conflict,
    /// A plate whose figures contradict each other.
    Impossible,
    /// What one person alone does not change.
    Alone,
}

impl Because {
    /// In words, for a count.
    #[must_use]
    pub const fn words(self) -> &'static str {
        match self {
            Because::Blank => "a name or a needed value is blank",
            Because::Unfit => "the name has another form",
            Because::Duplicate => "named twice in the file",
            Because::Columns => "too few or too many columns",
            Because::Quotes => "quotes do not pair",
            Because::Encoding => "not in the encoding of the map",
            Because::Control => "control or hidden characters",
            Because::TooLong => "a cell or line is too long",
            Because::Value => "a value that cannot be",
            Because::Conflict => "contradicts the register",
            Because::Impossible => "a plate that cannot be",
            Because::Alone => "needs a second person",
        }
    }
}

/// A refusal on its way out.
#[derive(Debug, Clone, PartialEq, Eq)]
struct Refused {
    because: Because,
    why: String,
}

impl Refused {
    fn new(because: Because, why: impl Into<String>) -> Self {
        Refused {
            because,
            why: why.into(),
        }
    }
}

/// A refused row.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct Refusal {
    /// Physical line of the file, from 1.
    pub line: usize,
    pub because: Because,
    /// A sentence.
    pub reason: String,
}

/// What became, or would become, of the records of one kind.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq, Serialize)]
pub struct Tally {
    pub added: usize,
    /// Records of which a field changes.
    pub edited: usize,
    pub unchanged: usize,
}

/// What an import did, or would do.
#[derive(Debug, Clone, Default, PartialEq, Serialize)]
pub struct CsvImported {
    pub file: String,
    pub map: String,
    /// Rows read, the heading apart.
    pub rows: usize,
    pub refused: usize,
    /// How many were refused for what.
    pub reasons: BTreeMap<Because, usize>,
    /// The first refused rows; all are in the file of refused rows.
    pub refusals: Vec<Refusal>,
    pub refused_file: Option<PathBuf>,
    pub records: BTreeMap<Kind, Tally>,
    /// Fields changed in records that were there.
    pub fields_edited: usize,
    /// Fields in which the file contradicts a newer correction: all undecided
    /// ones are refused with their row.
    pub conflicts: Vec<Contradiction>,
    /// How they were decided.
    pub take: Option<Take>,
    /// Odd plates that were taken all the same, by rule.
    pub odd: BTreeMap<&'static str, usize>,
    /// The first records, as canonical YAML.
    pub samples: Vec<String>,
    /// The first changes of records that were there.
    pub edits: Vec<Difference>,
    pub applied: bool,
    pub operation: Option<RecordId>,
    pub notes: Vec<String>,
}

/// How far an import has come.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Progress {
    pub rows: usize,
    pub bytes: u64,
    pub of_bytes: u64,
}
