//! Reading a folder (or one file, or the embedded demo) of YAML into a
//! register: the log is replayed under its own ids, then the records are
//! compared, and what differs enters as one further operation.

use serde_json::Value;
use std::collections::BTreeSet;

use super::Progress;
use super::ahead::{Ahead, Meter, Understood, read_ahead};
use super::document::{ExchangeError, record};
use super::replay::replay;
use super::source::Source;
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
    import_watched(store, source, (who, now), apply, &mut |_| {})
}

/// [`import`], telling how far it has come.
///
/// # Errors
/// As [`import`].
pub fn import_watched(
    store: &mut Store,
    source: &Source,
    (who, now): (&str, Moment),
    apply: bool,
    show: &mut dyn FnMut(Progress),
) -> Result<Imported, ExchangeError> {
    let empty = store.head()?.seq == 0;
    let mut report = Imported::default();
    if !empty && !apply {
        let mut meter = Meter::new(&[&source.records], show);
        compare(source, now, &mut report, &*store, &mut meter)?;
        return Ok(report);
    }
    let mut meter = if empty {
        Meter::new(&[&source.log, &source.records], show)
    } else {
        Meter::new(&[&source.records], show)
    };
    let mut writer = store.writer()?;
    if empty {
        writer.expect_many()?;
        replay(source, &mut writer, &mut report, &mut meter)?;
    } else if !source.log.is_empty() {
        report.notes.push(
            "the log in the folder was left alone: this register has a log of its own, and what differs is one new operation in it".into(),
        );
    }
    enter_difference(
        source,
        &mut writer,
        &mut report,
        (who, now, empty),
        &mut meter,
    )?;
    writer.commit()?;
    // The records are in: lines that could not be kept are built when asked for.
    let _ = store.keep_lines();
    report.applied = true;
    Ok(report)
}

fn enter_difference(
    source: &Source,
    writer: &mut Writer<'_>,
    report: &mut Imported,
    (who, now, empty): (&str, Moment, bool),
    meter: &mut Meter<'_>,
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
    let seen = read_ahead(&source.records, typed, meter, |ahead| {
        compare_into(ahead, fresh_id(now), report, &mut step)
    })?;
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

/// A record of the files with its canonical form.
struct Typed {
    record: Record,
    body: String,
}

fn typed(doc: &super::Doc, path: &std::path::Path) -> Result<Typed, ExchangeError> {
    let record = record(doc, path)?;
    let body = record.to_json();
    Ok(Typed { record, body })
}

type Documents<'f, 'm, 'p> = Ahead<'f, 'm, 'p, Typed>;

/// Compares into an operation being written.
fn compare_into(
    documents: &mut Documents<'_, '_, '_>,
    mut ids: RecordId,
    report: &mut Imported,
    step: &mut Step<'_, '_>,
) -> Result<BTreeSet<RecordId>, ExchangeError> {
    let mut seen = BTreeSet::new();
    for doc in documents {
        let doc = doc?;
        let at = |why: String| doc.at(why);
        match one_document(&doc, &mut ids, report, step, &mut seen)? {
            Entering::Same => {}
            Entering::New(id) => {
                let added = match id {
                    None => step.add(&doc.what.record, &doc.what.body),
                    Some(id) => {
                        let mut record = doc.what.record.clone();
                        record.set_id(id);
                        step.change(&Change::Add(record))
                    }
                };
                added.map_err(|e| match e {
                    StoreError::DoubleId(_) => at(twice(&doc.what.record)),
                    StoreError::BadChange { .. } => at(e.to_string()),
                    other => other.into(),
                })?;
            }
            Entering::Edits(changes) => {
                for change in &changes {
                    step.change(change).map_err(|e| match e {
                        StoreError::BadChange { .. } => at(e.to_string()),
                        other => other.into(),
                    })?;
                }
            }
        }
    }
    Ok(seen)
}

/// Compares for showing only.
fn compare(
    source: &Source,
    now: Moment,
    report: &mut Imported,
    look: &impl Look,
    meter: &mut Meter<'_>,
) -> Result<(), ExchangeError> {
    let (mut ids, mut seen) = (fresh_id(now), BTreeSet::new());
    read_ahead(&source.records, typed, meter, |ahead| {
        for doc in ahead {
            one_document(&doc?, &mut ids, report, look, &mut seen)?;
        }
        Ok(())
    })
}

/// What a document is to the register.
enum Entering {
    Same,
    /// A record that is new, with the id it is given when it brings none.
    New(Option<RecordId>),
    Edits(Vec<Change>),
}

impl Understood<'_, Typed> {
    fn at(&self, why: String) -> ExchangeError {
        ExchangeError::At {
            file: self.file.path.display().to_string(),
            line: self.line,
            why,
        }
    }
}

fn twice(record: &Record) -> String {
    format!(
        "{} {} stands twice in these files; give the two different ids if they are two",
        record.kind(),
        record.name()
    )
}

fn one_document(
    doc: &Understood<'_, Typed>,
    ids: &mut RecordId,
    report: &mut Imported,
    look: &impl Look,
    seen: &mut BTreeSet<RecordId>,
) -> Result<Entering, ExchangeError> {
    let record = &doc.what.record;
    // Into an empty register each record is new, and the index of ids tells
    // when two are one.
    let first = look.writing() == Some(1);
    if first && !record.id().is_nil() {
        report.added += 1;
        note(report, record, None, Value::Null, Value::Null);
        return Ok(Entering::New(None));
    }
    let (id, found) = match_record(record, ids, look).map_err(|why| match why {
        Unmatched::Why(why) => doc.at(why),
        Unmatched::Store(e) => e.into(),
    })?;
    if !seen.insert(id) || (first && found.is_some()) {
        return Err(doc.at(twice(record)));
    }
    let Some(found) = found else {
        if !first {
            judge(record, None, report).map_err(|why| doc.at(why))?;
        }
        report.added += 1;
        note(report, record, None, Value::Null, Value::Null);
        let brought = record.id() == id;
        return Ok(Entering::New((!brought).then_some(id)));
    };
    if found.body == doc.what.body && found.kind == record.kind() {
        report.unchanged += 1;
        return Ok(Entering::Same);
    }
    let mut record = record.clone();
    record.set_id(id);
    judge(&record, Some(&found), report).map_err(|why| doc.at(why))?;
    let edits = tally(&record, &found, report).map_err(|why| doc.at(why))?;
    Ok(Entering::Edits(edits))
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

/// The id of the record that a document speaks of, and what is on record of it,
/// by id, else by kind and name; a new record is given its id.
fn match_record(
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

/// The edits that make what is on record what the document says.
fn tally(record: &Record, found: &Found, report: &mut Imported) -> Result<Vec<Change>, String> {
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
