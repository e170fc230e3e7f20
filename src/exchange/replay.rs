//! The log of operations read back: replayed under its own ids, each held
//! against the digest that it carries.

use std::path::Path;

use serde::Deserialize;
use serde_json::Value;

use super::ahead::{Ahead, Meter, Understood, read_ahead};
use super::document::{Doc, ExchangeError, first_key, typed};
use super::imported::Imported;
use super::source::Source;
use crate::calendar::Moment;
use crate::domain::asset::{Kind, Record, RecordId};
use crate::domain::change::{Change, Edit, Operation};
use crate::store::Writer;

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct LoggedOperation {
    operation: RecordId,
    who: String,
    entered: Moment,
    #[serde(default)]
    effective: Option<crate::calendar::Date>,
    why: String,
    #[serde(default)]
    origin: Option<String>,
    #[serde(default)]
    undoes: Option<RecordId>,
    changes: usize,
    digest: String,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct LoggedAdd {
    add: Kind,
    record: Value,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct LoggedEdit {
    edit: RecordId,
    kind: Kind,
    field: String,
    #[serde(default)]
    old: Value,
    #[serde(default)]
    new: Value,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct LoggedRemove {
    remove: RecordId,
    #[serde(rename = "kind")]
    _kind: Kind,
}

#[expect(
    clippy::large_enum_variant,
    reason = "one line of the log is held at a time"
)]
enum Line {
    Operation(LoggedOperation),
    Change(Change),
}

fn log_line(doc: &Doc, file: &Path) -> Result<Line, ExchangeError> {
    let key = first_key(&doc.text).map_or("", |(_, k)| k);
    let bad = |why: String| ExchangeError::At {
        file: file.display().to_string(),
        line: doc.line,
        why,
    };
    Ok(match key {
        "operation" => Line::Operation(read_line(doc, file)?),
        "add" => {
            let add: LoggedAdd = read_line(doc, file)?;
            let record = Record::from_value(add.add, add.record).map_err(|e| bad(e.to_string()))?;
            Line::Change(Change::Add(record))
        }
        "edit" => {
            let e: LoggedEdit = read_line(doc, file)?;
            Line::Change(Change::Edit(Edit {
                id: e.edit,
                kind: e.kind,
                field: e.field,
                old: e.old,
                new: e.new,
            }))
        }
        "remove" => Line::Change(Change::Remove(read_line::<LoggedRemove>(doc, file)?.remove)),
        other => {
            return Err(bad(format!(
                "a line of the log begins with operation, add, edit or remove, not {other:?}"
            )));
        }
    })
}

/// The log is written as JSON, which is YAML; any YAML is read.
fn read_line<'d, T: Deserialize<'d>>(doc: &'d Doc, file: &Path) -> Result<T, ExchangeError> {
    serde_json::from_str(&doc.text).or_else(|_| typed(doc, file, |d| T::deserialize(d)))
}

/// Replays the log of the source, operation by operation, and holds each
/// against the digest that it carries.
pub(super) fn replay(
    source: &Source,
    writer: &mut Writer<'_>,
    report: &mut Imported,
    meter: &mut Meter<'_>,
) -> Result<(), ExchangeError> {
    read_ahead(&source.log, log_line, meter, |lines| {
        while let Some(line) = lines.next() {
            one_operation(line?, lines, writer)?;
            report.replayed += 1;
        }
        Ok(())
    })
}

fn one_operation(
    first: Understood<'_, Line>,
    lines: &mut Ahead<'_, '_, '_, Line>,
    writer: &mut Writer<'_>,
) -> Result<(), ExchangeError> {
    let at = |file: &super::source::SourceFile, line: usize, why: String| ExchangeError::At {
        file: file.path.display().to_string(),
        line,
        why,
    };
    let bad = |why: String| at(first.file, first.line, why);
    let Line::Operation(op) = first.what else {
        return Err(bad("a change stands outside any operation".to_string()));
    };
    let (changes, digest, id) = (op.changes, op.digest.clone(), op.operation);
    let mut step = writer.start(op.into())?;
    for _ in 0..changes {
        let Some(next) = lines.next() else {
            return Err(bad(format!(
                "operation {id} says {changes} changes, and the log ends before them"
            )));
        };
        let next = next?;
        let Line::Change(change) = next.what else {
            return Err(bad(format!(
                "operation {id} says {changes} changes, and another operation begins before them"
            )));
        };
        step.change(&change)
            .map_err(|e| at(next.file, next.line, e.to_string()))?;
    }
    step.finish()?;
    if writer.tail()?.1 != digest {
        return Err(bad(format!(
            "operation {id} does not match its digest: the log was altered outside the \
             program. To take in the records without their history, import a copy of the \
             folder without its log"
        )));
    }
    Ok(())
}

impl From<LoggedOperation> for Operation {
    fn from(l: LoggedOperation) -> Self {
        Operation {
            id: l.operation,
            who: l.who,
            entered: l.entered,
            effective: l.effective,
            why: l.why,
            origin: l.origin,
            undoes: l.undoes,
        }
    }
}
