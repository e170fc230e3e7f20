//! Rows that contradict a correction which is newer than the file.

use serde::Serialize;
use serde_json::Value;

use super::{Because, Refused};
use crate::calendar::Date;
use crate::domain::asset::{Kind, Record, RecordId};
use crate::domain::change::Edit;
use crate::store::{LastEdit, Look, StoreError};

/// How the origin of an operation begins that took in a CSV file.
pub(super) const ORIGIN: &str = "csv ";

/// Which of two values counts.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Take {
    File,
    Record,
}

/// A field that a row says otherwise than a correction newer than the file.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Contradiction {
    /// Physical line of the file.
    pub line: usize,
    pub record: String,
    pub kind: Kind,
    pub field: String,
    pub on_record: Value,
    pub in_file: Value,
    /// Who changed the record, when and why.
    pub changed_by: Option<String>,
    pub changed: Option<String>,
    pub why: Option<String>,
}

impl Contradiction {
    pub(super) fn new(
        record: &Record,
        field: &str,
        on_record: &Value,
        in_file: &Value,
        last: Option<&LastEdit>,
    ) -> Self {
        Contradiction {
            line: 0,
            record: record.name(),
            kind: record.kind(),
            field: field.to_string(),
            on_record: on_record.clone(),
            in_file: in_file.clone(),
            changed_by: last.map(|l| l.who.clone()),
            changed: last.map(|l| l.entered.spoken()),
            why: last.map(|l| l.why.clone()),
        }
    }

    pub(super) fn refusal(&self) -> Refused {
        let shown = |v: &Value| match v {
            Value::Null => "nothing".to_string(),
            Value::String(t) => t.clone(),
            other => other.to_string(),
        };
        let by = match (&self.changed_by, &self.changed, &self.why) {
            (Some(who), Some(when), Some(why)) => format!(" ({who}, {when}: {why})"),
            _ => String::new(),
        };
        Refused::new(
            Because::Conflict,
            format!(
                "{}: the register holds {}{by}, newer than the file; the file says {}; decide with --take file or --take record",
                self.field,
                shown(&self.on_record),
                shown(&self.in_file)
            ),
        )
    }
}

/// The edits of a list that would cover a correction by hand which is newer
/// than the day up to which the file knows.
pub(super) fn covered(
    record: &Record,
    id: RecordId,
    edits: &[Edit],
    dated: Option<Date>,
    look: &impl Look,
) -> Result<Vec<Contradiction>, StoreError> {
    let mut out = Vec::new();
    for edit in edits {
        let Some(last) = look.last_edit(id, &edit.field)? else {
            continue;
        };
        let by_hand = !last
            .origin
            .as_deref()
            .is_some_and(|o| o.starts_with(ORIGIN));
        // A file without a date may be older than any correction; and on its
        // own day nobody knows which came first.
        let newer =
            dated.is_none_or(|day| last.effective.unwrap_or_else(|| last.entered.date()) >= day);
        if by_hand && newer {
            out.push(Contradiction::new(
                record,
                &edit.field,
                &edit.old,
                &edit.new,
                Some(&last),
            ));
        }
    }
    Ok(out)
}
