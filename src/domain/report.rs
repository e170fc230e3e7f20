//! A correction proposed from the field, and what was decided about it. Reports
//! and decisions are only ever added to: what was said stays.

use serde::{Deserialize, Serialize};
use serde_json::Value;

use super::asset::{Kind, ReadFrom, RecordId};
use super::who::Who;
use crate::calendar::{Date, Moment};

/// The record that a report is about, as it was when the report was filed.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Subject {
    /// Permanent id.
    pub id: RecordId,
    pub kind: Kind,
    pub name: String,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub class: Option<String>,
    /// The second identifier.
    pub also: String,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub feeder: Option<String>,
}

/// One field that is proposed to be otherwise.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Proposed {
    /// Dotted path.
    pub field: String,
    /// On record when the report was filed.
    pub seen: Value,
    /// As it would stand on record.
    pub wanted: Value,
    /// As it was typed.
    pub typed: String,
}

/// Who read the values, from what, on which day.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct ReadOff {
    pub by: String,
    pub from: ReadFrom,
    pub on: Date,
}

/// A report.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Report {
    pub id: RecordId,
    pub filed: Moment,
    pub who: Who,
    /// Absent: the thing is not on record.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub about: Option<Subject>,
    /// The mark of a thing that is not on record, as seen.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub unlisted: Option<String>,
    /// None: a note in words.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub fields: Vec<Proposed>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub read: Option<ReadOff>,
    pub why: String,
}

impl Report {
    /// What the report is about, as it was called then.
    #[must_use]
    pub fn name(&self) -> &str {
        match (&self.about, &self.unlisted) {
            (Some(about), _) => &about.name,
            (None, Some(mark)) => mark,
            (None, None) => "",
        }
    }
}

super::asset::words! {
    /// What was decided.
    Decided {
        Accepted = "accepted",
        Amended = "amended",
        Refused = "refused",
        Withdrawn = "withdrawn",
        /// A refusal was taken back: it waits again.
        Reopened = "reopened",
    }
}

super::asset::words! {
    /// How a report stands.
    Standing {
        /// Nobody has decided.
        Waiting = "waiting",
        /// It was taken in, and the operation was taken back: to decide again.
        Undone = "undone",
        Accepted = "accepted",
        Amended = "amended",
        Refused = "refused",
        Withdrawn = "withdrawn",
    }
}

impl Standing {
    /// Whether it can be decided.
    #[must_use]
    pub const fn is_open(self) -> bool {
        matches!(self, Standing::Waiting | Standing::Undone)
    }
}

/// A value put on record instead of the proposed one.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Put {
    pub field: String,
    pub value: Value,
}

/// A decision about one report.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Decision {
    pub what: Decided,
    pub who: Who,
    pub at: Moment,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub why: Option<String>,
    /// The operation that took it into the register. The decision stands only
    /// while the register has that operation and it is not taken back.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub operation: Option<RecordId>,
    /// What was put on record, of an amended one.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub put: Vec<Put>,
}

/// The bare figure or word of a value that may carry its reader.
#[must_use]
pub fn bare(value: &Value) -> &Value {
    value.get("value").unwrap_or(value)
}

/// Numbers as people write them: `3, 7 to 9`. The numbers must be sorted.
#[must_use]
pub fn ranges(numbers: &[i64]) -> String {
    let mut out: Vec<(i64, i64)> = Vec::new();
    for n in numbers {
        match out.last_mut() {
            Some((_, last)) if *last + 1 == *n => *last = *n,
            _ => out.push((*n, *n)),
        }
    }
    let parts: Vec<String> = out
        .iter()
        .map(|(a, b)| match b - a {
            0 => a.to_string(),
            1 => format!("{a}, {b}"),
            _ => format!("{a} to {b}"),
        })
        .collect();
    parts.join(", ")
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn numbers_in_a_row_are_said_in_short() {
        assert_eq!(ranges(&[1, 2, 3, 7, 9, 10]), "1 to 3, 7, 9, 10");
        assert_eq!(ranges(&[4]), "4");
        assert_eq!(ranges(&[]), "");
    }
}
