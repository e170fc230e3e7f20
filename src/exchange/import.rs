//! Reading a folder (or one file, or the embedded demo) of YAML into a
//! register: the log is replayed under its own ids, then the records are
//! compared, and what differs enters as one further operation.

use std::collections::BTreeSet;
use std::path::Path;

use serde_json::Value;

use super::document::{Doc, ExchangeError, record};
use super::replay::replay;
use super::source::{Source, SourceFile};
use crate::calendar::Moment;
use crate::domain::asset::{Kind, Record, RecordId};
use crate::domain::change::{Change, Operation, difference};
use crate::domain::verify::odd;
use crate::store::{Found, Look, Step, Store, StoreError, Writer, fresh_id};

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
    /// Whether it was written.
    pub applied: bool,
    /// The operation that holds what differs, if anything did.
    pub operation: Option<RecordId>,
    /// Things the reader should know, in sentences.
    pub notes: Vec<String>,
    /// The first differences, for people.
    pub sample: Vec<Difference>,
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

/// Most differences that a report carries.
const SAMPLE: usize = 200;

/// Reads `source` into `store`: at once when the register is empty, otherwise
/// as a difference that is only shown unless `apply`.
///
/// # Errors
/// With file and line for a bad document; the register is then as it was.
pub fn import(
    store: &mut Store,
    source: &Source,
    who: &str,
    now: Moment,
    apply: bool,
) -> Result<Imported, ExchangeError> {
    let empty = store.head()?.seq == 0;
    let mut report = Imported::default();
    if !empty && !apply {
        let mut ids = fresh_id(now);
        compare(source, &mut ids, &mut report, &*store, |_, _| Ok(()))?;
        return Ok(report);
    }
    let mut writer = store.writer()?;
    if empty {
        replay(source, &mut writer, &mut report)?;
    } else if !source.log.is_empty() {
        report.notes.push(
            "the log in the folder was left alone: this register has a log of its own, and what differs is one new operation in it".into(),
        );
    }
    enter_difference(source, &mut writer, &mut report, who, now, empty)?;
    writer.commit()?;
    report.applied = true;
    Ok(report)
}

fn enter_difference(
    source: &Source,
    writer: &mut Writer<'_>,
    report: &mut Imported,
    who: &str,
    now: Moment,
    empty: bool,
) -> Result<(), ExchangeError> {
    let id = fresh_id(now);
    let replayed = report.replayed > 0;
    let why = if replayed {
        format!("differs from the log of {}", source.label)
    } else {
        format!("taken in from {}", source.label)
    };
    let operation = Operation {
        id,
        who: who.to_string(),
        entered: now,
        effective: None,
        why,
        origin: None,
        undoes: None,
    };
    let mut step = writer.start(operation)?;
    let mut ids = fresh_id(now);
    let seen = compare_into(source, &mut ids, report, &mut step)?;
    if empty && replayed {
        remove_unseen(&mut step, &seen, report)?;
    }
    if step.finish()? > 0 {
        report.operation = Some(id);
        if replayed {
            report.notes.push(
                "the records in the files differ from what their log says; the difference was \
                 entered as one further operation"
                    .into(),
            );
        }
    }
    Ok(())
}

/// Compares into an operation being written.
fn compare_into(
    source: &Source,
    ids: &mut RecordId,
    report: &mut Imported,
    step: &mut Step<'_, '_>,
) -> Result<BTreeSet<RecordId>, ExchangeError> {
    let mut seen = BTreeSet::new();
    for file in &source.records {
        for doc in file.documents()? {
            let doc = doc?;
            let changes = one_document(file, &doc, ids, report, step, &mut seen)?;
            for change in &changes {
                step.change(change)
                    .map_err(|e| place_error(e, &file.path, doc.line))?;
            }
        }
    }
    Ok(seen)
}

fn place_error(e: StoreError, path: &Path, line: usize) -> ExchangeError {
    match e {
        StoreError::BadChange { .. } | StoreError::DoubleId(_) => ExchangeError::At {
            file: path.display().to_string(),
            line,
            why: e.to_string(),
        },
        other => other.into(),
    }
}

/// Compares for showing only.
fn compare(
    source: &Source,
    ids: &mut RecordId,
    report: &mut Imported,
    look: &impl Look,
    mut each: impl FnMut(&Doc, Vec<Change>) -> Result<(), ExchangeError>,
) -> Result<(), ExchangeError> {
    let mut seen = BTreeSet::new();
    for file in &source.records {
        for doc in file.documents()? {
            let doc = doc?;
            let changes = one_document(file, &doc, ids, report, look, &mut seen)?;
            each(&doc, changes)?;
        }
    }
    Ok(())
}

fn one_document(
    file: &SourceFile,
    doc: &Doc,
    ids: &mut RecordId,
    report: &mut Imported,
    look: &impl Look,
    seen: &mut BTreeSet<RecordId>,
) -> Result<Vec<Change>, ExchangeError> {
    let at = |why: String| ExchangeError::At {
        file: file.path.display().to_string(),
        line: doc.line,
        why,
    };
    let mut record = record(doc, &file.path)?;
    let found = match_record(&mut record, ids, look).map_err(|why| match why {
        Unmatched::Why(why) => at(why),
        Unmatched::Store(e) => e.into(),
    })?;
    if !seen.insert(record.id()) {
        return Err(at(format!(
            "{} {} stands twice in these files; give the two different ids if they are two",
            record.kind(),
            record.name()
        )));
    }
    // A register that is loaded for the first time is taken whole: `verify`
    // finds what is odd in it. A correction is judged as any other.
    if look.writing() != Some(1) {
        judge(&record, found.as_ref(), report).map_err(at)?;
    }
    tally(&record, found.as_ref(), report).map_err(at)
}

/// Refuses a plate that cannot be; says what is only odd.
fn judge(record: &Record, found: Option<&Found>, report: &mut Imported) -> Result<(), String> {
    let old = found.and_then(|f| Record::from_json(f.kind, &f.body).ok());
    for found in odd::new_in(old.as_ref(), record) {
        let said = found.sentence(&record.name());
        if found.cannot_be {
            return Err(said);
        }
        report.notes.push(format!("odd, and taken: {said}"));
    }
    Ok(())
}

enum Unmatched {
    Why(String),
    Store(StoreError),
}

impl From<StoreError> for Unmatched {
    fn from(e: StoreError) -> Self {
        Unmatched::Store(e)
    }
}

/// Finds the record that a document speaks of, by id, else by kind and name;
/// gives a new record its id.
fn match_record(
    record: &mut Record,
    ids: &mut RecordId,
    look: &impl Look,
) -> Result<Option<Found>, Unmatched> {
    if !record.id().is_nil() {
        return Ok(look.found(record.id())?);
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
            record.set_id(*ids);
            Ok(None)
        }
        1 => {
            record.set_id(named[0].id);
            Ok(named.pop())
        }
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

fn tally(
    record: &Record,
    found: Option<&Found>,
    report: &mut Imported,
) -> Result<Vec<Change>, String> {
    let Some(found) = found else {
        report.added += 1;
        note(report, record, None, Value::Null, Value::Null);
        return Ok(vec![Change::Add(record.clone())]);
    };
    if found.kind != record.kind() {
        return Err(format!(
            "the id {} belongs to a {}, not to a {}",
            found.id,
            found.kind,
            record.kind()
        ));
    }
    let old: Value = serde_json::from_str(&found.body).map_err(|e| e.to_string())?;
    let edits = difference(record.id(), record.kind(), &old, &record.to_value());
    if edits.is_empty() {
        report.unchanged += 1;
    }
    report.edited += edits.len();
    for e in &edits {
        note(report, record, Some(&e.field), e.old.clone(), e.new.clone());
    }
    Ok(edits.into_iter().map(Change::Edit).collect())
}

fn note(report: &mut Imported, record: &Record, field: Option<&str>, old: Value, new: Value) {
    if report.sample.len() < SAMPLE {
        report.sample.push(Difference {
            record: record.name(),
            kind: record.kind(),
            field: field.map(str::to_string),
            old,
            new,
        });
    }
}

/// Records that the log made and the files no longer hold.
fn remove_unseen(
    step: &mut Step<'_, '_>,
    seen: &BTreeSet<RecordId>,
    report: &mut Imported,
) -> Result<(), ExchangeError> {
    for id in step.every_id()? {
        if !seen.contains(&id) {
            step.change(&Change::Remove(id))?;
            report.removed += 1;
        }
    }
    Ok(())
}
