//! Log: a dated line in the history of a unit, position or structure.

use std::collections::BTreeMap;

use serde::Serialize;

use super::conclude::{Concluded, concluded};
use super::orders::{NewOrder, OrderReport, open_order};
use super::{Failure, JSON_VERSION, resolve_among};
use crate::calendar::{Date, Moment};
use crate::domain::asset::{Defect, Depth, Entry, EntryKind, Stated};
use crate::domain::change::{Change, Operation};
use crate::domain::form::{CLEARING, Form, INSPECTED, form_of_record, not_to_come, together};
use crate::domain::upkeep::Proposed;
use crate::domain::verify::odd::odd_link;
use crate::domain::who::Who;
use crate::exchange::{Forms, did_you_mean};
use crate::store::{Store, Stored, fresh_id};

/// What was asked.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Asked {
    /// `reading=value`, and `finds=`, `clears=`, `note=`.
    pub set: Vec<String>,
    /// The day it was done; today if absent.
    pub on: Option<Date>,
    /// Who did it; the actor if absent.
    pub by: Option<String>,
    pub second: Option<String>,
    /// How deep an inspection went.
    pub depth: Option<Depth>,
}

/// A reading and the one before it.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct ReadingLine {
    pub reading: String,
    pub label: String,
    pub value: Stated,
    /// With its unit, and its word where the scale has words.
    pub shown: String,
    pub last: Option<String>,
    pub last_on: Option<Date>,
}

/// What was written; its JSON is the document printed.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct LogReport {
    pub polecard: u32,
    pub operation: String,
    /// Permanent id of the entry.
    pub id: String,
    pub entry: EntryKind,
    pub of: String,
    pub on: Date,
    pub by: String,
    #[serde(skip_serializing_if = "Option::is_none")]
    pub depth: Option<Depth>,
    pub readings: Vec<ReadingLine>,
    pub finds: Vec<Defect>,
    pub clears: Vec<Defect>,
    pub note: Option<String>,
    /// What the rules make of the readings, STOP before LOOK.
    pub concluded: Vec<Concluded>,
    /// Orders made of what they propose; see [`order_proposed`].
    pub orders: Vec<OrderReport>,
    pub notes: Vec<String>,
}

/// Writes an entry about the record called `text`.
///
/// # Errors
/// Usage, when a reading is unknown or impossible; a second person missing
/// where a defect is cleared; those of the register. Nothing is written then.
pub fn log(
    store: &mut Store,
    text: &str,
    kind: &str,
    asked: &Asked,
    who: &str,
    now: Moment,
) -> Result<LogReport, Failure> {
    let found = resolve_among(store, text, INSPECTED)?;
    let record = &found.stored.record;
    let form = Forms::of(store)?.form(form_of_record(record));
    let on = asked.on.unwrap_or_else(|| now.date());
    not_to_come(on, now.date()).map_err(Failure::usage)?;
    let mut entry = Entry {
        entry: entry_kind(kind)?,
        id: fresh_id(now),
        of: record.name(),
        on: Some(on),
        by: Some(asked.by.clone().unwrap_or_else(|| who.to_string())),
        depth: asked.depth,
        readings: BTreeMap::new(),
        finds: Vec::new(),
        clears: Vec::new(),
        note: None,
    };
    for pair in &asked.set {
        take(&mut entry, &form, pair)?;
    }
    if entry.depth.is_some() && entry.entry != EntryKind::Inspection {
        return Err(Failure::usage(format!(
            "a {} has no depth; an inspection is a patrol, detailed or intrusive",
            entry.entry
        )));
    }
    together(&form, &entry.readings).map_err(Failure::usage)?;
    let why = reason(&entry, asked, who)?;
    let readings = beside_last(store, &found.stored, &form, &entry)?;
    let concluded = concluded(store, &found.stored, &entry)?;
    let mut notes: Vec<String> = found.note.into_iter().collect();
    notes.extend(add_implied(&mut entry, &concluded)?);
    notes.extend(odd_links(&entry));
    let operation = Operation {
        id: fresh_id(now),
        who: who.to_string(),
        entered: now,
        effective: asked.on.filter(|d| *d != now.date()),
        why,
        origin: None,
        undoes: None,
    };
    store.apply::<_, Failure>(&operation, [Ok(Change::Add(entry.clone().into()))])?;
    Ok(LogReport {
        polecard: JSON_VERSION,
        operation: operation.id.to_string(),
        id: entry.id.to_string(),
        entry: entry.entry,
        of: entry.of,
        on,
        by: entry.by.unwrap_or_default(),
        depth: entry.depth,
        readings,
        finds: entry.finds,
        clears: entry.clears,
        note: entry.note,
        concluded,
        orders: Vec::new(),
        notes,
    })
}

/// Links of a size that is not made, in sentences.
fn odd_links(entry: &Entry) -> Vec<String> {
    ["link_found", "link_put"]
        .iter()
        .filter_map(|key| entry.readings.get(*key)?.value.as_ref())
        .filter_map(|mark| odd_link(&mark.to_string()))
        .map(|odd| format!("odd, and taken: {}", odd.sentence("the link")))
        .collect()
}

/// Opens the orders that the conclusions propose, each from the entry; one
/// that is alike an open order is not made twice. The entry stands whatever
/// becomes of them: what could not be ordered is said in the notes.
pub fn order_proposed(store: &mut Store, report: &mut LogReport, who: &str, now: Moment) {
    let proposed: Vec<Proposed> = report
        .concluded
        .iter()
        .filter_map(|c| c.proposes.clone())
        .collect();
    if proposed.is_empty() {
        let none = "no order was made: nothing that was read proposes one";
        report.notes.push(none.to_string());
    }
    for p in proposed {
        let new = NewOrder {
            of: report.of.clone(),
            need: p.need,
            priority: p.priority,
            due: None,
            who: None,
            from_entry: report.id.parse().ok(),
            note: None,
        };
        match open_order(store, &new, who, now) {
            Ok(made) => report.orders.push(made),
            Err(e) => report.notes.push(format!(
                "the entry is written, this order is not: {}: {e}",
                new.need
            )),
        }
    }
}

fn entry_kind(word: &str) -> Result<EntryKind, Failure> {
    EntryKind::from_word(word).ok_or_else(|| {
        Failure::usage(format!(
            "{word:?} is no kind of entry{}; one of {}",
            did_you_mean(word, EntryKind::WORDS.iter().copied()),
            EntryKind::WORDS.join(", ")
        ))
    })
}

fn take(entry: &mut Entry, form: &Form, pair: &str) -> Result<(), Failure> {
    let Some((key, value)) = pair.split_once('=') else {
        return Err(Failure::usage(format!("{pair:?} is not reading=value")));
    };
    let (key, value) = (key.trim(), value.trim());
    match key {
        "finds" => entry.finds = defects(key, value)?,
        "clears" => entry.clears = defects(key, value)?,
        "note" if !value.is_empty() => entry.note = Some(value.to_string()),
        _ => {
            let known = || {
                let own = form.readings.iter().map(|r| r.reading.as_str());
                own.chain(["finds", "clears", "note"])
            };
            let reading = form.readings.iter().find(|r| r.reading == key);
            let reading = reading.ok_or_else(|| {
                Failure::usage(format!(
                    "the form of a {} has no reading {key:?}{}; it has {}",
                    form.form,
                    did_you_mean(key, known()),
                    known().collect::<Vec<_>>().join(", ")
                ))
            })?;
            let value = reading.read(value).map_err(Failure::usage)?;
            if entry.readings.insert(key.to_string(), value).is_some() {
                return Err(Failure::usage(format!("{key} is given twice")));
            }
        }
    }
    Ok(())
}

fn defects(key: &str, value: &str) -> Result<Vec<Defect>, Failure> {
    value
        .split(',')
        .map(|word| {
            let word = word.trim();
            Defect::from_word(word).ok_or_else(|| {
                Failure::usage(format!(
                    "{key}: {word:?} is no defect on the list{}; one of {}",
                    did_you_mean(word, Defect::WORDS.iter().copied()),
                    Defect::WORDS.join(", ")
                ))
            })
        })
        .collect()
}

/// The operation's reason; clearing a defect takes a second person.
fn reason(entry: &Entry, asked: &Asked, who: &str) -> Result<String, Failure> {
    let nothing = entry.readings.is_empty()
        && entry.finds.is_empty()
        && entry.clears.is_empty()
        && entry.note.is_none();
    if nothing {
        return Err(Failure::usage("the entry says nothing")
            .hint("give a reading, finds=, clears= or note="));
    }
    let why = format!("{} of {}", entry.entry, entry.of);
    if entry.clears.is_empty() {
        return Ok(why);
    }
    if !CLEARING.contains(&entry.entry) {
        return Err(Failure::usage(format!(
            "a {} clears no defect; maintenance, a test, a sample or an inspection does",
            entry.entry
        )));
    }
    match asked.second.as_deref().map(str::trim) {
        Some(second) if !second.is_empty() && !Who::read(who).is(second) => Ok(format!(
            "{why} (second person, as declared by {who}: {second})"
        )),
        Some(_) => Err(Failure::usage(format!(
            "the second person must be somebody other than {who}"
        ))),
        None => Err(
            Failure::usage("clearing a defect needs a second person; nothing was written").hint(
                "let somebody else look too, and name them: --second WHO (recorded as declared)",
            ),
        ),
    }
}

/// Adds what the readings amount to to what was found, and says so.
///
/// # Errors
/// When the entry clears what its own readings show.
fn add_implied(entry: &mut Entry, concluded: &[Concluded]) -> Result<Option<String>, Failure> {
    let mut added: Vec<&'static str> = Vec::new();
    for defect in concluded.iter().flat_map(|c| &c.bears) {
        if entry.clears.contains(defect) {
            return Err(Failure::usage(format!(
                "the entry clears {defect}, and its own readings show it; nothing was written"
            )));
        }
        if !entry.finds.contains(defect) {
            entry.finds.push(*defect);
            added.push(defect.word());
        }
    }
    Ok((!added.is_empty()).then(|| {
        format!(
            "added to what was found, since the readings say so: {}",
            added.join(", ")
        )
    }))
}

/// Each reading with the last one before it.
fn beside_last(
    store: &Store,
    stored: &Stored,
    form: &Form,
    entry: &Entry,
) -> Result<Vec<ReadingLine>, Failure> {
    let mut earlier = super::conclude::entries_of(store, stored)?;
    earlier.retain(|(_, e)| e.on <= entry.on);
    let mut lines = Vec::new();
    for (key, value) in &entry.readings {
        let Some(reading) = form.reading(key) else {
            continue;
        };
        let last = earlier
            .iter()
            .rev()
            .find_map(|(_, e)| Some((e.on, e.readings.get(key)?)));
        lines.push(ReadingLine {
            reading: key.clone(),
            label: reading.label.clone(),
            value: value.clone(),
            shown: reading.printed(value),
            last: last.map(|(_, v)| reading.printed(v)),
            last_on: last.and_then(|(on, _)| on),
        });
    }
    Ok(lines)
}
