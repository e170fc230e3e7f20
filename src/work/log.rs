//! Log: a dated line in the history of a unit, position or structure.

use std::collections::BTreeMap;

use serde::Serialize;

use super::{Failure, JSON_VERSION, resolve_among};
use crate::calendar::{Date, Moment};
use crate::domain::asset::{Defect, Entry, EntryKind, Kind, Record, Rel, Stated};
use crate::domain::change::{Change, Operation};
use crate::domain::form::{CLEARING, Form, form_of, not_to_come, together};
use crate::exchange::{did_you_mean, form};
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
    pub readings: Vec<ReadingLine>,
    pub finds: Vec<Defect>,
    pub clears: Vec<Defect>,
    pub note: Option<String>,
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
    let kinds = [Kind::Unit, Kind::Position, Kind::Structure];
    let found = resolve_among(store, text, &kinds)?;
    let record = &found.stored.record;
    let form = form(match record {
        Record::Unit(u) => form_of(u.class),
        Record::Position(p) => form_of(p.class),
        _ => "pole",
    });
    let on = asked.on.unwrap_or_else(|| now.date());
    not_to_come(on, now.date()).map_err(Failure::usage)?;
    let mut entry = Entry {
        entry: entry_kind(kind)?,
        id: fresh_id(now),
        of: record.name(),
        on: Some(on),
        by: Some(asked.by.clone().unwrap_or_else(|| who.to_string())),
        depth: None,
        readings: BTreeMap::new(),
        finds: Vec::new(),
        clears: Vec::new(),
        note: None,
    };
    for pair in &asked.set {
        take(&mut entry, &form, pair)?;
    }
    together(&form, &entry.readings).map_err(Failure::usage)?;
    let why = reason(&entry, asked, who)?;
    let (readings, mut notes) = beside_last(store, &found.stored, &form, &entry)?;
    notes.splice(0..0, found.note);
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
        readings,
        finds: entry.finds,
        clears: entry.clears,
        note: entry.note,
        notes,
    })
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
        Some(second) if !second.is_empty() && !second.eq_ignore_ascii_case(who) => Ok(format!(
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

/// Each reading with the last one before it; a counter that went backwards or
/// wrapped is taken as read, and said.
fn beside_last(
    store: &Store,
    stored: &Stored,
    form: &Form,
    entry: &Entry,
) -> Result<(Vec<ReadingLine>, Vec<String>), Failure> {
    let mut earlier: Vec<Entry> = Vec::new();
    for s in store.pointing(Rel::About, &stored.record.name())? {
        if let Record::Entry(e) = s.record {
            earlier.push(e);
        }
    }
    earlier.retain(|e| e.on <= entry.on);
    earlier.sort_by_key(|e| e.on);
    let (mut lines, mut notes) = (Vec::new(), Vec::new());
    for (key, value) in &entry.readings {
        let Some(reading) = form.readings.iter().find(|r| r.reading == *key) else {
            continue;
        };
        let last = earlier
            .iter()
            .rev()
            .find_map(|e| Some((e.on, e.readings.get(key)?)));
        if let (Some(now), Some((_, was))) = (value.as_number(), last)
            && let Some(was) = was.as_number()
            && key.ends_with("counter")
            && now < was
        {
            notes.push(format!(
                "{key} went from {was} to {now}: it wrapped, was changed, or one was misread"
            ));
        }
        lines.push(ReadingLine {
            reading: key.clone(),
            label: reading.label.clone(),
            value: value.clone(),
            shown: reading.printed(value),
            last: last.map(|(_, v)| reading.printed(v)),
            last_on: last.and_then(|(on, _)| on),
        });
    }
    Ok((lines, notes))
}
