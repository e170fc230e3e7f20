//! Log: a dated line in the history of a unit, position or structure.

mod route;
mod typed;

use std::collections::BTreeMap;

use serde::Serialize;

use self::route::{Target, parted, said};
use self::typed::{entry_kind, odd_pairs, take};
use super::conclude::{Concluded, concluded};
use super::facts::{defects_of, subject_of};
use super::guard::declared;
use super::inspect::entries_around;
use super::orders::{NewOrder, OrderReport, open_order};
use super::slot::with_slot;
use super::{Failure, JSON_VERSION};
use crate::calendar::{Date, Moment};
use crate::domain::asset::{Defect, Depth, Entry, EntryKind, Kind, Stated};
use crate::domain::change::{Change, Operation};
use crate::domain::finding::{Severity, defect_caution, defect_row, shown_by};
use crate::domain::form::{CLEARING, Form, INSPECTED, form_of_record, not_to_come, together};
use crate::domain::upkeep::oil::test_of;
use crate::domain::upkeep::{Proposed, rules};
use crate::exchange::Forms;
use crate::store::{Store, StoreError, Stored, fresh_id};

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

/// A STOP that an entry does not clear.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct StillStands {
    pub defect: Defect,
    /// Name of the record on which it stands.
    pub of: String,
    /// Permanent id of that record.
    pub about: String,
    pub text: String,
    /// The entry reads what would show it: it can be cleared on that.
    pub looked_at: bool,
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
    /// The entry, in the parts that unit and place have of it.
    pub entries: Vec<WrittenEntry>,
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
    /// STOPs that this entry leaves standing.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub standing: Vec<StillStands>,
    /// Orders made of what they propose; see [`order_proposed`].
    pub orders: Vec<OrderReport>,
    pub notes: Vec<String>,
}

/// One of the entries that were written: what follows the unit and what stays
/// with the place are two.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct WrittenEntry {
    /// Permanent id.
    pub id: String,
    /// Name of the record it is about.
    pub of: String,
    pub kind: Kind,
    /// Permanent id of that record.
    pub about: String,
}

/// Writes an entry about the record called `text`; of a position its slot may
/// stand behind a colon. What belongs to the unit there is written about the
/// unit that hung there on that day, what belongs to the place about the place,
/// in one operation.
///
/// # Errors
/// Usage, when a reading is unknown or impossible, when an inspection has no
/// depth, when a reading belongs to one of several units and none is named; a
/// second person missing where a defect is cleared; those of the register.
/// Nothing is written then.
pub fn log(
    store: &mut Store,
    text: &str,
    kind: &str,
    asked: &Asked,
    who: &str,
    now: Moment,
) -> Result<LogReport, Failure> {
    let (found, slot) = with_slot(store, text, INSPECTED)?;
    let form = Forms::of(store)?.form(form_of_record(&found.stored.record));
    let on = asked.on.unwrap_or_else(|| now.date());
    let mut entry = begun(&found.stored, kind, asked, (who, now))?;
    for pair in &asked.set {
        take(&mut entry, &form, pair)?;
    }
    deep_enough(&entry)?;
    together(&form, &entry.readings).map_err(Failure::usage)?;
    let odd = odd_pairs(store, &found.stored, &entry)?;
    let why = reason(&entry, asked, who)?;
    let mut target = if parted(entry.entry) {
        Target::of(store, &found.stored, slot.as_deref(), (&entry, &form))?
    } else {
        Target::alone(&found.stored)
    };
    let judged = target
        .judged(&entry, &form)
        .unwrap_or(&found.stored)
        .clone();
    let readings = beside_last(store, &judged, &form, &entry)?;
    let mut concluded = concluded(store, &judged, &entry)?;
    let mut notes: Vec<String> = found.note.into_iter().collect();
    notes.extend(add_implied(&mut entry, &concluded)?);
    notes.extend(odd);
    notes.append(&mut target.notes);
    let whole = entry.clone();
    let parts = target.parts(store, entry, (&form, now))?;
    notes.extend(said(&parts, &found.stored, &form));
    for c in &mut concluded {
        c.of = about(c, &parts, &form).unwrap_or_default();
    }
    let standing = still_standing(store, &parts)?;
    let operation = Operation {
        id: fresh_id(now),
        who: who.to_string(),
        entered: now,
        effective: asked.on.filter(|d| *d != now.date()),
        why,
        origin: None,
        undoes: None,
    };
    let changes = parts.iter().map(|(_, e)| Ok(Change::Add(e.clone().into())));
    store.apply::<_, Failure>(&operation, changes)?;
    Ok(LogReport {
        operation: operation.id.to_string(),
        readings,
        concluded,
        standing,
        notes,
        ..report(&whole, &parts, on)
    })
}

/// What is known of the report without looking further.
fn report(entry: &Entry, parts: &[(Stored, Entry)], on: Date) -> LogReport {
    let entries: Vec<WrittenEntry> = parts
        .iter()
        .map(|(stored, e)| WrittenEntry {
            id: e.id.to_string(),
            of: e.of.clone(),
            kind: stored.record.kind(),
            about: stored.record.id().to_string(),
        })
        .collect();
    LogReport {
        polecard: JSON_VERSION,
        operation: String::new(),
        id: entry.id.to_string(),
        entry: entry.entry,
        of: entries.first().map(|e| e.of.clone()).unwrap_or_default(),
        entries,
        on,
        by: entry.by.clone().unwrap_or_default(),
        depth: entry.depth,
        readings: Vec::new(),
        finds: entry.finds.clone(),
        clears: entry.clears.clone(),
        note: entry.note.clone(),
        concluded: Vec::new(),
        standing: Vec::new(),
        orders: Vec::new(),
        notes: Vec::new(),
    }
}

/// The entry before anything was read.
fn begun(
    of: &Stored,
    kind: &str,
    asked: &Asked,
    (who, now): (&str, Moment),
) -> Result<Entry, Failure> {
    let on = asked.on.unwrap_or_else(|| now.date());
    not_to_come(on, now.date()).map_err(Failure::usage)?;
    Ok(Entry {
        entry: entry_kind(kind)?,
        id: fresh_id(now),
        of: of.record.name(),
        on: Some(on),
        by: Some(asked.by.clone().unwrap_or_else(|| who.to_string())),
        depth: asked.depth,
        readings: BTreeMap::new(),
        finds: Vec::new(),
        clears: Vec::new(),
        note: None,
    })
}

/// An inspection says how deep it went, and nothing else does: a shallower one
/// never stands for a deeper one that is due.
fn deep_enough(entry: &Entry) -> Result<(), Failure> {
    let inspected = entry.entry == EntryKind::Inspection;
    match (inspected, entry.depth) {
        (true, None) => Err(Failure::usage(
            "how deep did the inspection go? patrol, detailed or intrusive; nothing was written",
        )
        .hint("--depth patrol: seen in passing, nothing opened or measured")
        .hint("--depth detailed: each part looked at and read, from outside")
        .hint("--depth intrusive: opened, sampled, bored or measured")),
        (false, Some(_)) => Err(Failure::usage(format!(
            "{} has no depth; an inspection is a patrol, detailed or intrusive",
            crate::domain::asset::an(entry.entry)
        ))),
        _ => Ok(()),
    }
}

/// The record that a conclusion is about: where its defect was written, else
/// where what it reads was.
fn about(c: &Concluded, parts: &[(Stored, Entry)], form: &Form) -> Option<String> {
    let by_defect = parts
        .iter()
        .find(|(_, e)| c.bears.iter().any(|d| e.finds.contains(d)));
    let by_reading = || {
        let rule = rules().find(|r| r.name == c.rule)?;
        parts.iter().find(|(_, e)| {
            rule.reads
                .iter()
                .any(|k| form.reading(k).is_some() && e.readings.contains_key(*k))
        })
    };
    by_defect
        .or_else(by_reading)
        .or(parts.first())
        .map(|(_, e)| e.of.clone())
}

/// STOPs that stood before and that the entry neither clears nor finds again.
fn still_standing(
    store: &Store,
    parts: &[(Stored, Entry)],
) -> Result<Vec<StillStands>, StoreError> {
    let mut out = Vec::new();
    for (stored, e) in parts {
        for open in defects_of(store, stored, subject_of(&stored.record))? {
            let row = defect_row(open.defect);
            if row.severity != Severity::Stop
                || e.clears.contains(&open.defect)
                || e.finds.contains(&open.defect)
            {
                continue;
            }
            out.push(StillStands {
                defect: open.defect,
                of: e.of.clone(),
                about: stored.record.id().to_string(),
                looked_at: shown_by(open.defect)
                    .iter()
                    .any(|k| e.readings.get(*k).is_some_and(Stated::is_known)),
                text: format!(
                    "STOP stands until cleared: {}",
                    defect_caution(open.defect, open.seen, &e.of).text
                ),
            });
        }
    }
    Ok(out)
}

impl LogReport {
    /// The entry about a record of this name; the first where there is none.
    #[must_use]
    pub fn written_about(&self, of: &str) -> Option<&WrittenEntry> {
        let named = self.entries.iter().find(|e| e.of == of);
        named.or(self.entries.first())
    }
}

/// Opens the orders that the conclusions propose, each from the entry; one
/// that is alike an open order is not made twice. The entry stands whatever
/// becomes of them: what could not be ordered is said in the notes.
pub fn order_proposed(store: &mut Store, report: &mut LogReport, who: &str, now: Moment) {
    let proposed: Vec<(WrittenEntry, Proposed)> = report
        .concluded
        .iter()
        .filter_map(|c| Some((report.written_about(&c.of)?.clone(), c.proposes.clone()?)))
        .collect();
    if proposed.is_empty() {
        let none = "no order was made: nothing that was read proposes one";
        report.notes.push(none.to_string());
    }
    for (entry, p) in proposed {
        let new = NewOrder {
            of: entry.about,
            need: p.need,
            priority: p.priority,
            due: None,
            who: None,
            from_entry: entry.id.parse().ok(),
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
            "{} clears no defect; maintenance, a test, a sample or an inspection does",
            crate::domain::asset::an(entry.entry)
        )));
    }
    let alone = Failure::usage("clearing a defect needs a second person; nothing was written")
        .hint("let somebody else look too, and name them: --second WHO (recorded as declared)");
    declared(&why, asked.second.as_deref(), who, Some(alone))
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

/// Whether a reading of an earlier entry may stand beside this one's: a
/// dielectric result only beside one by the same method and gap.
fn comparable(key: &str, entry: &Entry, earlier: &Entry) -> bool {
    if key != "oil_kv" {
        return true;
    }
    let method = |e: &Entry| Some(test_of(e).ok()??.0);
    method(entry).is_some() && method(entry) == method(earlier)
}

/// Each reading with the last one before it.
fn beside_last(
    store: &Store,
    stored: &Stored,
    form: &Form,
    entry: &Entry,
) -> Result<Vec<ReadingLine>, Failure> {
    let mut earlier = entries_around(store, stored, form)?;
    earlier.retain(|(_, e)| e.on <= entry.on);
    let mut lines = Vec::new();
    for (key, value) in &entry.readings {
        let Some(reading) = form.reading(key) else {
            continue;
        };
        let last = earlier
            .iter()
            .rev()
            .filter(|(_, e)| comparable(key, entry, e))
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
