//! Swap: a unit taken out of a position, another one put in, as one operation.
//!
//! What is about the unit (plate, counters, tests, entries) goes where the unit
//! goes; settings, state and entries of the position stay with the position.

mod cautions;
mod open;

use serde::Serialize;

use super::guard::{declared, not_alone};
use super::repoint::edits;
use super::slot::with_slot;
use super::{Failure, JSON_VERSION, resolve_among};
use crate::calendar::{Date, Moment};
use crate::domain::asset::{Deployment, Kind, Position, Record, Rel, STORES, Unit};
use crate::domain::change::{Change, Operation};
use crate::domain::code::fold;
use crate::domain::finding::Caution;
use crate::store::{Store, Stored, fresh_id};
use cautions::{coming, leaving, unfit};
pub use open::OpenOrder;

/// What was asked.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Asked {
    /// The position; after a colon its slot, where it has several.
    pub place: String,
    /// The unit taken out; none when one is only put in.
    pub out: Option<String>,
    /// The unit put in; none when one is only taken out.
    pub into: Option<String>,
    /// Where the unit taken out goes: one of [`STORES`], after a colon which.
    pub to: Option<String>,
    /// The unit put in is recorded at another place, and was taken from there.
    pub moved: bool,
    /// The day it was done; today if absent.
    pub on: Option<Date>,
    pub why: String,
    /// The second person, where what comes does not fit the place.
    pub second: Option<String>,
}

/// A unit and where it was and is.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct Moved {
    pub unit: String,
    pub id: String,
    /// Its places before, in words; none was on record when empty.
    pub from: Vec<String>,
    pub to: String,
}

/// A swap as planned or done; its JSON is the document printed.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct SwapReport {
    pub polecard: u32,
    /// The operation that was written; none while it is only planned.
    pub operation: Option<String>,
    pub position: String,
    pub id: String,
    pub slot: Option<String>,
    pub on: Date,
    pub out: Option<Moved>,
    pub into: Option<Moved>,
    pub cautions: Vec<Caution>,
    /// Why it takes a second person, when it does: what comes does not fit.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub needs_second: Option<String>,
    /// Orders that are not closed, on the place and on both units.
    pub orders: Vec<OpenOrder>,
    pub why: String,
    pub notes: Vec<String>,
}

/// A swap worked out and not yet written.
#[derive(Debug, Clone, PartialEq)]
pub struct Plan {
    pub report: SwapReport,
    changes: Vec<Change>,
}

struct Place {
    stored: Stored,
    position: Position,
    slot: Option<String>,
    note: Option<String>,
}

struct Piece {
    stored: Stored,
    unit: Unit,
}

/// Writes a swap as one operation.
///
/// # Errors
/// Those of [`plan`] and of the register. Nothing is changed then.
pub fn swap(
    store: &mut Store,
    asked: &Asked,
    who: &str,
    now: Moment,
) -> Result<SwapReport, Failure> {
    let Plan {
        mut report,
        changes,
    } = plan(store, asked, now)?;
    let needed = report
        .needs_second
        .as_ref()
        .map(|why| not_alone(&format!("such a swap needs a second person: {why}")));
    report.why = declared(&report.why, asked.second.as_deref(), who, needed)?;
    let operation = Operation {
        id: fresh_id(now),
        who: who.to_string(),
        entered: now,
        effective: Some(report.on).filter(|d| *d != now.date()),
        why: report.why.clone(),
        origin: None,
        undoes: None,
    };
    store.apply::<_, Failure>(&operation, changes.into_iter().map(Ok))?;
    report.operation = Some(operation.id.to_string());
    Ok(report)
}

/// Works out what a swap changes, and what to look at before it is written.
///
/// # Errors
/// Usage, when the unit is not there, the slot is taken, the day cannot be, or
/// the unit put in is recorded elsewhere and is not said to have been moved;
/// those of the register.
pub fn plan(store: &Store, asked: &Asked, now: Moment) -> Result<Plan, Failure> {
    let why = asked.why.trim();
    if why.is_empty() {
        return Err(Failure::usage("a swap needs a reason")
            .hint("say why: --why \"oil leak, changed out\""));
    }
    let on = asked.on.unwrap_or_else(|| now.date());
    if on > now.date() {
        return Err(Failure::usage(format!(
            "{on} lies in the future; a swap is written down when it is done"
        )));
    }
    let mut place = place(store, &asked.place)?;
    let out = piece(store, asked.out.as_deref())?;
    let into = piece(store, asked.into.as_deref())?;
    if out.is_none() && into.is_none() {
        return Err(Failure::usage("no unit is named")
            .hint("name the unit taken out, then the unit put in"));
    }
    if let (Some(a), Some(b)) = (&out, &into)
        && a.stored.rec == b.stored.rec
    {
        return Err(Failure::usage(format!(
            "{} cannot be taken out and put in at once",
            a.unit.unit
        )));
    }
    let mut report = blank(&mut place, on, why);
    let mut changes = Vec::new();
    if let Some(out) = &out {
        let after = taken_out(&mut place, out, asked.to.as_deref(), on)?;
        report.out = Some(moved(out, &after));
        changes.extend(edits(&out.stored.record, &after.clone().into()));
        report.cautions.extend(leaving(&place, out, &after));
    }
    if let Some(into) = &into {
        let after = put_in(store, &mut place, out.as_ref(), into, asked.moved, on)?;
        report.into = Some(moved(into, &after));
        changes.extend(edits(&into.stored.record, &after.into()));
        let unfit = unfit(store, &place, out.as_ref(), into, now)?;
        report.needs_second = (!unfit.is_empty()).then(|| unfit.join("; "));
        report
            .cautions
            .extend(unfit.into_iter().map(|why| Caution::stop(why, name(into))));
        report.cautions.extend(coming(store, into, now)?);
    }
    let open = open::orders(store, &place, (out.as_ref(), into.as_ref()))?;
    changes.extend(open.changes);
    report.orders = open.orders;
    report.slot = place.slot;
    report.cautions.sort_by_key(|c| c.severity);
    Ok(Plan { report, changes })
}

/// The report before anything is worked out.
fn blank(place: &mut Place, on: Date, why: &str) -> SwapReport {
    SwapReport {
        polecard: JSON_VERSION,
        operation: None,
        position: place.position.position.clone(),
        id: place.position.id.to_string(),
        slot: None,
        on,
        out: None,
        into: None,
        cautions: Vec::new(),
        needs_second: None,
        orders: Vec::new(),
        why: why.to_string(),
        notes: place.note.take().into_iter().collect(),
    }
}

fn place(store: &Store, text: &str) -> Result<Place, Failure> {
    let (found, slot) = with_slot(store, text, &[Kind::Position])?;
    let Record::Position(position) = found.stored.record.clone() else {
        return Err(Failure::not_found(format!("{text} is no position")));
    };
    Ok(Place {
        stored: found.stored,
        position,
        slot,
        note: found.note,
    })
}

fn piece(store: &Store, name: Option<&str>) -> Result<Option<Piece>, Failure> {
    let Some(name) = name else { return Ok(None) };
    let stored = resolve_among(store, name, &[Kind::Unit])?.stored;
    match stored.record.clone() {
        Record::Unit(unit) => Ok(Some(Piece { stored, unit })),
        other => Err(Failure::not_found(format!(
            "{name} is {}, not a unit",
            crate::domain::asset::an(other.kind())
        ))),
    }
}

fn name(piece: &Piece) -> &str {
    &piece.unit.unit
}

impl Place {
    /// Whether a stay is at this position.
    fn holds(&self, d: &Deployment) -> bool {
        !d.is_store()
            && self
                .stored
                .record
                .names()
                .iter()
                .any(|n| fold(&n.text) == fold(&d.at))
    }

    fn words(&self) -> String {
        match &self.slot {
            Some(slot) => format!("{} slot {slot}", self.position.position),
            None => self.position.position.clone(),
        }
    }
}

/// A stay in words.
#[must_use]
pub fn stay_words(d: &Deployment) -> String {
    match &d.slot {
        Some(slot) if d.is_store() => format!("{}, {slot}", d.at),
        Some(slot) => format!("{} slot {slot}", d.at),
        None if d.at == "unknown" => "a place not known".to_string(),
        None => d.at.clone(),
    }
}

fn moved(piece: &Piece, after: &Unit) -> Moved {
    Moved {
        unit: piece.unit.unit.clone(),
        id: piece.unit.id.to_string(),
        from: piece.unit.present().map(stay_words).collect(),
        to: after
            .present()
            .map(stay_words)
            .collect::<Vec<_>>()
            .join(" and "),
    }
}

fn ended(unit: &str, stay: &mut Deployment, on: Date) -> Result<(), Failure> {
    if let Some(from) = stay.from.filter(|from| *from > on) {
        return Err(Failure::usage(format!(
            "{unit} is recorded at {} since {}, which is after {}",
            stay_words(stay),
            from.spoken(),
            on.spoken()
        ))
        .hint("give the day of the swap with --on, or correct the stay first"));
    }
    stay.to = Some(on);
    Ok(())
}

/// The unit after it was taken out; the place then has its slot.
fn taken_out(place: &mut Place, out: &Piece, to: Option<&str>, on: Date) -> Result<Unit, Failure> {
    let name = &out.unit.unit;
    let (at, which) = destination(name, to)?;
    let mut after = out.unit.clone();
    let mut here: Vec<&mut Deployment> = after
        .deployments
        .iter_mut()
        .filter(|d| d.to.is_none() && place.holds(d))
        .filter(|d| place.slot.is_none() || d.slot.is_none() || d.slot == place.slot)
        .collect();
    if here.len() > 1 {
        return Err(Failure::usage(format!(
            "{name} is recorded in several slots of {}",
            place.position.position
        ))
        .hint(format!("say which one: {}:SLOT", place.position.position)));
    }
    let Some(stay) = here.pop() else {
        let stays: Vec<String> = out.unit.present().map(stay_words).collect();
        let at = if stays.is_empty() {
            "no place".to_string()
        } else {
            stays.join(" and ")
        };
        return Err(Failure::usage(format!(
            "{name} is not recorded at {}; it is recorded at {at}",
            place.words()
        ))
        .hint("read the plate of the unit that was taken out, and name that one"));
    };
    ended(name, stay, on)?;
    place.slot = place.slot.clone().or_else(|| stay.slot.clone());
    // A unit recorded at two places keeps its other stay.
    if after.present().next().is_none() {
        after.deployments.push(Deployment {
            at,
            slot: which,
            from: Some(on),
            to: None,
        });
    }
    Ok(after)
}

fn destination(unit: &str, to: Option<&str>) -> Result<(String, Option<String>), Failure> {
    let ask = |message: String| {
        Failure::usage(message).hint(format!(
            "one of {}, with which one behind a colon: truck:12",
            STORES.join(", ")
        ))
    };
    let Some(to) = to.map(str::trim).filter(|t| !t.is_empty()) else {
        return Err(ask(format!("where does {unit} go? give it with --to")));
    };
    let (at, which) = match to.split_once(':') {
        Some((at, which)) => (at.trim(), Some(which.trim().to_string())),
        None => (to, None),
    };
    let at = if at == "scrap" { "scrapped" } else { at };
    if !STORES.contains(&at) {
        return Err(ask(format!("{at} is no place for a unit taken out")));
    }
    Ok((at.to_string(), which.filter(|w| !w.is_empty())))
}

/// The unit after it was put in.
fn put_in(
    store: &Store,
    place: &mut Place,
    out: Option<&Piece>,
    into: &Piece,
    moved: bool,
    on: Date,
) -> Result<Unit, Failure> {
    let name = &into.unit.unit;
    if place.slot.is_none() {
        place.slot = only_slot(&place.position)?;
    }
    occupied(store, place, out)?;
    let elsewhere: Vec<String> = into
        .unit
        .present()
        .filter(|d| !d.is_store())
        .map(stay_words)
        .collect();
    if !elsewhere.is_empty() && !moved {
        return Err(Failure::usage(format!(
            "{name} is recorded at {}; it would stand at two places",
            elsewhere.join(" and ")
        ))
        .hint("read its plate again; if it was taken from there the same day, add --moved"));
    }
    let mut after = into.unit.clone();
    for stay in after.deployments.iter_mut().filter(|d| d.to.is_none()) {
        ended(name, stay, on)?;
    }
    after.deployments.push(Deployment {
        at: place.position.position.clone(),
        slot: place.slot.clone(),
        from: Some(on),
        to: None,
    });
    Ok(after)
}

fn only_slot(p: &Position) -> Result<Option<String>, Failure> {
    match p.slots.as_slice() {
        [] => Ok(p.phases.clone()),
        [one] => Ok(Some(one.clone())),
        several => Err(Failure::usage(format!(
            "{} has the slots {}",
            p.position,
            several.join(", ")
        ))
        .hint(format!("say into which: {}:{}", p.position, several[0]))),
    }
}

/// Refuses a slot in which another unit is recorded.
fn occupied(store: &Store, place: &Place, out: Option<&Piece>) -> Result<(), Failure> {
    for stored in super::facts::pointing_at(store, Rel::DeployedAt, &place.stored)? {
        let Record::Unit(u) = &stored.record else {
            continue;
        };
        let whole = place.position.slots.is_empty();
        let same =
            |d: &&Deployment| place.holds(d) && (whole || d.slot.is_none() || d.slot == place.slot);
        let leaves = out.is_some_and(|o| o.stored.rec == stored.rec);
        if !leaves && u.present().any(|d| same(&d)) {
            return Err(Failure::usage(format!(
                "{} is recorded at {} already",
                u.unit,
                place.words()
            ))
            .hint("name it as the unit taken out, or read the plate there first"));
        }
    }
    Ok(())
}
