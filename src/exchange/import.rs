//! Reading a folder (or one file, or the embedded demo) of YAML into a
//! register: the log is replayed under its own ids, then the records are
//! compared, and what differs enters as one further operation.

use serde_json::Value;
use std::collections::BTreeSet;

use super::Forms;
use super::Progress;
use super::ahead::{Ahead, Meter, Understood, read_ahead};
use super::alone::alone;
use super::document::{ExchangeError, record};
use super::imported::{Imported, YamlAsk, note};
use super::left_out::{Merged, erasing, with_left_out};
use super::matching::{Unmatched, match_record};
use super::replay::replay;
use super::source::Source;
use crate::calendar::Moment;
use crate::domain::asset::{Kind, Record, RecordId};
use crate::domain::change::{Change, Operation, difference};
use crate::domain::form::entry_cannot_be;
use crate::domain::verify::odd;
use crate::domain::who::with_second;
use crate::store::{Found, Look, Step, Store, StoreError, Writer, fresh_id};

/// Changes in need of a second person that a report names.
const FIRST: usize = 10;

/// [`import_as`] by one person, keeping what documents leave out.
///
/// # Errors
/// As [`import_as`].
pub fn import(
    store: &mut Store,
    source: &Source,
    who: &str,
    now: Moment,
    apply: bool,
) -> Result<Imported, ExchangeError> {
    let ask = YamlAsk {
        who,
        now,
        apply,
        second: None,
        replace: false,
    };
    import_as(store, source, &ask, &mut |_| {})
}

/// Reads `source` into `store`: at once when the register is empty, otherwise
/// as a difference that is only shown unless it is to be applied; tells `show`
/// how far it has come.
///
/// # Errors
/// With file and line for a bad document; [`ExchangeError::Alone`] for what
/// needs a second person in a register that is in use, when none is named. The
/// register is then as it was.
pub fn import_as(
    store: &mut Store,
    source: &Source,
    ask: &YamlAsk<'_>,
    show: &mut dyn FnMut(Progress),
) -> Result<Imported, ExchangeError> {
    let empty = store.head()?.seq == 0;
    let mut reading = Reading {
        ask,
        first: false,
        ids: fresh_id(ask.now),
        report: Imported::default(),
        seen: BTreeSet::new(),
        readings: Forms::of(store)?.readings().cloned().collect(),
    };
    if !empty && !ask.apply {
        let mut meter = Meter::new(&[&source.records], show);
        reading.compare(source, &*store, &mut meter)?;
        return Ok(reading.report);
    }
    let mut meter = if empty {
        Meter::new(&[&source.log, &source.records], show)
    } else {
        Meter::new(&[&source.records], show)
    };
    let mut writer = store.writer()?;
    if empty {
        writer.expect_many()?;
        replay(source, &mut writer, &mut reading.report, &mut meter)?;
        // A register that is loaded for the first time is taken whole:
        // `verify` finds what is odd in it. A correction is judged as any other.
        reading.first = reading.report.replayed == 0;
    } else if !source.log.is_empty() {
        reading.report.notes.push(
            "the log in the folder was left alone: this register has a log of its own, and what differs is one new operation in it".into(),
        );
    }
    enter_difference(source, &mut writer, &mut reading, empty, &mut meter)?;
    let mut report = reading.report;
    if report.alone > 0 && ask.second.is_none() {
        if !empty {
            return Err(ExchangeError::Alone {
                count: report.alone,
                first: report.needs_second,
            });
        }
        report.notes.push(format!(
            "in a register that is in use, {} of these changes would need a second person",
            report.alone
        ));
    }
    writer.commit()?;
    // The records are in: lines that could not be kept are built when asked for.
    let _ = store.keep_lines();
    report.applied = true;
    Ok(report)
}

fn enter_difference(
    source: &Source,
    writer: &mut Writer<'_>,
    reading: &mut Reading<'_>,
    empty: bool,
    meter: &mut Meter<'_>,
) -> Result<(), ExchangeError> {
    let (id, ask) = (fresh_id(reading.ask.now), reading.ask);
    let replayed = reading.report.replayed > 0;
    let why = if replayed {
        format!("differs from the log of {}", source.label)
    } else {
        format!("taken in from {}", source.label)
    };
    let operation = Operation {
        id,
        who: ask.who.to_string(),
        entered: ask.now,
        effective: None,
        why: match ask.second {
            Some(second) => with_second(&why, ask.who, second),
            None => why,
        },
        origin: None,
        undoes: None,
    };
    let mut step = writer.start(operation)?;
    read_ahead(&source.records, typed, meter, |ahead| {
        reading.compare_into(ahead, &mut step)
    })?;
    if empty && replayed {
        remove_unseen(&mut step, &reading.seen, &mut reading.report)?;
    }
    if step.finish()? > 0 {
        reading.report.operation = Some(id);
        if replayed {
            reading.report.notes.push(
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
    /// Fields that the document erases.
    erase: Vec<String>,
}

fn typed(doc: &super::Doc, path: &std::path::Path) -> Result<Typed, ExchangeError> {
    let (rest, erase) = erasing(doc, path)?;
    let record = record(rest.as_ref().unwrap_or(doc), path)?;
    let body = record.to_json();
    Ok(Typed {
        record,
        body,
        erase,
    })
}

type Documents<'f, 'm, 'p> = Ahead<'f, 'm, 'p, Typed>;

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

/// What goes along a reading of files.
struct Reading<'a> {
    ask: &'a YamlAsk<'a>,
    /// Whether the register is filled for the first time, without a log.
    first: bool,
    ids: RecordId,
    report: Imported,
    seen: BTreeSet<RecordId>,
    /// What the forms of the register ask.
    readings: Vec<crate::domain::form::Reading>,
}

impl Reading<'_> {
    /// Compares into an operation being written.
    fn compare_into(
        &mut self,
        documents: &mut Documents<'_, '_, '_>,
        step: &mut Step<'_, '_>,
    ) -> Result<(), ExchangeError> {
        for doc in documents {
            let doc = doc?;
            let at = |why: String| doc.at(why);
            match self.one_document(&doc, step)? {
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
        Ok(())
    }

    /// Compares for showing only.
    fn compare(
        &mut self,
        source: &Source,
        look: &impl Look,
        meter: &mut Meter<'_>,
    ) -> Result<(), ExchangeError> {
        read_ahead(&source.records, typed, meter, |ahead| {
            for doc in ahead {
                self.one_document(&doc?, look)?;
            }
            Ok(())
        })
    }

    fn one_document(
        &mut self,
        doc: &Understood<'_, Typed>,
        look: &impl Look,
    ) -> Result<Entering, ExchangeError> {
        let at = |why: String| doc.at(why);
        let (record, erase) = (&doc.what.record, &doc.what.erase);
        // Into an empty register each record is new, and the index of ids tells
        // when two are one.
        let first = look.writing() == Some(1);
        if first && !record.id().is_nil() {
            self.added(record, erase, look).map_err(|e| e.at(at))?;
            return Ok(Entering::New(None));
        }
        let (id, found) = match_record(record, &mut self.ids, look).map_err(|e| e.at(at))?;
        if !self.seen.insert(id) || (first && found.is_some()) {
            return Err(doc.at(twice(record)));
        }
        let Some(found) = found else {
            self.added(record, erase, look).map_err(|e| e.at(at))?;
            let brought = record.id() == id;
            return Ok(Entering::New((!brought).then_some(id)));
        };
        if found.body == doc.what.body && found.kind == record.kind() && erase.is_empty() {
            self.report.unchanged += 1;
            return Ok(Entering::Same);
        }
        let mut record = record.clone();
        record.set_id(id);
        let edits = self.edited(record, &found, erase, look);
        edits.map(Entering::Edits).map_err(|e| e.at(at))
    }

    fn added(
        &mut self,
        record: &Record,
        erase: &[String],
        look: &impl Look,
    ) -> Result<(), Unmatched> {
        if let Some(field) = erase.first() {
            return Err(Unmatched::Why(format!(
                "{field} cannot be erased: {} {} is not on record yet",
                record.kind(),
                record.name()
            )));
        }
        self.judge(record, None).map_err(Unmatched::Why)?;
        self.report.added += 1;
        let blank = (Value::Null, Value::Null);
        note(&mut self.report.sample, record, None, blank);
        if !self.first {
            self.weigh(&Change::Add(record.clone()), None, look)?;
        }
        Ok(())
    }

    fn edited(
        &mut self,
        record: Record,
        found: &Found,
        erase: &[String],
        look: &impl Look,
    ) -> Result<Vec<Change>, Unmatched> {
        if found.kind != record.kind() {
            return Err(Unmatched::Why(format!(
                "the id {} belongs to a {}, not to a {}",
                found.id,
                found.kind,
                record.kind()
            )));
        }
        let damaged = |e: serde_json::Error| Unmatched::Why(e.to_string());
        let old: Value = serde_json::from_str(&found.body).map_err(damaged)?;
        let Merged {
            record,
            kept,
            nothing,
        } = with_left_out(record, &old, erase, self.ask.replace).map_err(Unmatched::Why)?;
        let before = Record::from_value(found.kind, old.clone()).ok();
        self.judge(&record, before.as_ref())
            .map_err(Unmatched::Why)?;
        for field in nothing {
            let name = record.name();
            let said = format!("{name}: {field} is to be erased, and holds nothing");
            self.report.notes.push(said);
        }
        self.report.kept += kept.len();
        for (field, value) in kept {
            let told = (value, Value::Null);
            note(&mut self.report.keeps, &record, Some(&field), told);
        }
        let edits = difference(record.id(), record.kind(), &old, &record.to_value());
        if edits.is_empty() {
            self.report.unchanged += 1;
        }
        self.report.edited += edits.len();
        for e in &edits {
            let told = (e.old.clone(), e.new.clone());
            if e.new.is_null() {
                self.report.erased += 1;
                note(
                    &mut self.report.erases,
                    &record,
                    Some(&e.field),
                    told.clone(),
                );
            }
            note(&mut self.report.sample, &record, Some(&e.field), told);
        }
        self.old_name(&record, before.as_ref());
        let changes: Vec<Change> = edits.into_iter().map(Change::Edit).collect();
        for change in &changes {
            self.weigh(change, before.as_ref(), look)?;
        }
        Ok(changes)
    }

    /// A new name that leaves the old one behind is said: it no longer finds.
    fn old_name(&mut self, record: &Record, before: Option<&Record>) {
        let Some(old) = before.map(Record::name) else {
            return;
        };
        if old != record.name()
            && matches!(record.kind(), Kind::Structure | Kind::Position | Kind::Unit)
            && !record.names().iter().any(|n| n.text == old)
        {
            self.report.notes.push(format!(
                "odd, and taken: {old} becomes {}, and its old name is not among its names, so \
                 that it no longer finds; `polecard edit` keeps it",
                record.name()
            ));
        }
    }

    /// Counts what needs a second person; a first filling needs none.
    fn weigh(
        &mut self,
        change: &Change,
        before: Option<&Record>,
        look: &impl Look,
    ) -> Result<(), StoreError> {
        if self.first {
            return Ok(());
        }
        if let Some(what) = alone(change, before, look)? {
            self.report.alone += 1;
            if self.report.needs_second.len() < FIRST {
                self.report.needs_second.push(what);
            }
        }
        Ok(())
    }

    /// Refuses a plate that cannot be; says what is only odd.
    fn judge(&mut self, record: &Record, old: Option<&Record>) -> Result<(), String> {
        if self.first {
            return Ok(());
        }
        if let Record::Entry(entry) = record {
            let before = old.and_then(|o| match o {
                Record::Entry(e) => Some(e),
                _ => None,
            });
            let today = self.ask.now.date();
            if let Some(why) = entry_cannot_be(&self.readings, before, entry, today) {
                return Err(format!("{}: {why}", record.name()));
            }
        }
        for found in odd::new_in(old, record) {
            let said = found.sentence(&record.name());
            if found.cannot_be {
                return Err(said);
            }
            self.report.notes.push(format!("odd, and taken: {said}"));
        }
        Ok(())
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
