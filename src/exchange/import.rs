//! Reading a folder (or one file, or the embedded demo) of YAML into a
//! register: the log is replayed under its own ids, then the records are
//! compared, and what differs enters as one further operation.

use std::collections::BTreeSet;
use std::io::{BufReader, Read};
use std::path::{Path, PathBuf};

use serde::Deserialize;
use serde_json::Value;

use super::document::{Doc, Documents, ExchangeError, first_key, record, typed};
use crate::calendar::Moment;
use crate::domain::asset::{Kind, Record, RecordId};
use crate::domain::change::{Change, Edit, Operation, difference};
use crate::store::{Found, Look, Step, Store, StoreError, Writer, fresh_id};

/// A file to read: its name for messages, and how to open it.
pub struct SourceFile {
    pub path: PathBuf,
    open: Opener,
}

enum Opener {
    Disk,
    Embedded(&'static [u8]),
}

/// Where the documents come from.
pub struct Source {
    /// What the operation says it took in.
    pub label: String,
    log: Vec<SourceFile>,
    records: Vec<SourceFile>,
}

impl Source {
    /// A folder as `export` writes it, any folder of YAML files, or one file.
    ///
    /// # Errors
    /// When it cannot be read or holds no YAML file.
    pub fn at(path: &Path) -> Result<Source, ExchangeError> {
        let mut files = Vec::new();
        collect(path, &mut files, 0)?;
        files.sort();
        if files.is_empty() {
            return Err(ExchangeError::Io {
                path: path.display().to_string(),
                why: "holds no .yaml file; name a folder made by `polecard export`, or a YAML file"
                    .to_string(),
            });
        }
        let log_dir = path.join("log");
        let (log, records) = files
            .into_iter()
            .map(|path| SourceFile {
                path,
                open: Opener::Disk,
            })
            .partition(|f| f.path.starts_with(&log_dir));
        Ok(Source {
            label: path.display().to_string(),
            log,
            records,
        })
    }

    /// Files that are part of the program.
    #[must_use]
    pub fn embedded(label: &str, files: Vec<(PathBuf, &'static [u8])>) -> Source {
        let (log, records) = files
            .into_iter()
            .map(|(path, bytes)| SourceFile {
                path,
                open: Opener::Embedded(bytes),
            })
            .partition(|f: &SourceFile| f.path.starts_with("log"));
        Source {
            label: label.to_string(),
            log,
            records,
        }
    }
}

fn collect(path: &Path, out: &mut Vec<PathBuf>, depth: usize) -> Result<(), ExchangeError> {
    let meta = std::fs::metadata(path).map_err(|e| ExchangeError::io(path, &e))?;
    if !meta.is_dir() {
        out.push(path.to_path_buf());
        return Ok(());
    }
    let entries = std::fs::read_dir(path).map_err(|e| ExchangeError::io(path, &e))?;
    for entry in entries {
        let child = entry.map_err(|e| ExchangeError::io(path, &e))?.path();
        let yaml = child.extension().is_some_and(|e| e == "yaml" || e == "yml");
        if yaml || (child.is_dir() && depth < 4) {
            collect(&child, out, depth + 1)?;
        }
    }
    Ok(())
}

impl SourceFile {
    fn documents(&self) -> Result<Documents<BufReader<Box<dyn Read>>>, ExchangeError> {
        let reader: Box<dyn Read> = match &self.open {
            Opener::Disk => Box::new(
                std::fs::File::open(&self.path).map_err(|e| ExchangeError::io(&self.path, &e))?,
            ),
            Opener::Embedded(bytes) => Box::new(*bytes),
        };
        Ok(Documents::new(
            BufReader::with_capacity(1 << 16, reader),
            &self.path,
        ))
    }
}

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
            "the log of the files was not replayed: this register has a log of its own".into(),
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
    tally(&record, found.as_ref(), report).map_err(at)
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
fn replay(
    source: &Source,
    writer: &mut Writer<'_>,
    report: &mut Imported,
) -> Result<(), ExchangeError> {
    let mut lines = source.log.iter().flat_map(|file| {
        let docs: Box<dyn Iterator<Item = _>> = match file.documents() {
            Ok(docs) => Box::new(docs),
            Err(e) => Box::new(std::iter::once(Err(e))),
        };
        docs.map(move |doc| {
            let doc = doc?;
            Ok::<_, ExchangeError>((log_line(&doc, &file.path)?, file, doc.line))
        })
    });
    while let Some(line) = lines.next() {
        let (line, file, at) = line?;
        let bad = |why: String| ExchangeError::At {
            file: file.path.display().to_string(),
            line: at,
            why,
        };
        let Line::Operation(op) = line else {
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
            let (Line::Change(change), file, at) = next? else {
                return Err(bad(format!(
                    "operation {id} says {changes} changes, and another operation begins before them"
                )));
            };
            step.change(&change).map_err(|e| ExchangeError::At {
                file: file.path.display().to_string(),
                line: at,
                why: e.to_string(),
            })?;
        }
        step.finish()?;
        if writer.tail()?.1 != digest {
            return Err(bad(format!(
                "operation {id} does not match its digest: the log was altered outside the \
                 program. To take in the records without their history, import a copy of the \
                 folder without its log"
            )));
        }
        report.replayed += 1;
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
