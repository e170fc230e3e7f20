//! What must be known before a unit leaves its place or comes to another.

use super::{Piece, Place, stay_words};
use crate::calendar::Clock;
use crate::calendar::Moment;
use crate::domain::asset::{Class, EntryKind, Record, RecordId, Rel, Unit};
use crate::domain::finding::{Caution, Verdict};
use crate::domain::nameplate::misfit::misfits;
use crate::domain::nameplate::{Choices, UnitHere};
use crate::store::Store;
use crate::work::card::card;
use crate::work::check::{self, Typed};
use crate::work::{Failure, facts};

/// What to look at when a unit leaves.
pub(super) fn leaving(place: &Place, out: &Piece, after: &Unit) -> Vec<Caution> {
    let name = &out.unit.unit;
    let mut cautions = Vec::new();
    if let Some(stay) = after.present().find(|d| place.holds(d) || !d.is_store()) {
        cautions.push(Caution::look(
            format!("{name} stays recorded at {} as well", stay_words(stay)),
            name,
        ));
    }
    let scrapped = after.present().any(|d| d.at == "scrapped");
    if scrapped && may_hold_oil(out.unit.class) && !pcb_settled(&out.unit) {
        cautions.push(Caution::stop(
            "goes to scrap and its PCB content is not known: untested is not free of PCBs. Have it tested, and ask whoever answers for disposal, before it leaves",
            name,
        ));
    }
    if !place.position.settings_found.is_empty() {
        cautions.push(Caution::look(
            format!("the settings found here were read on {name}; they stay with the position: read them again"),
            &place.position.position,
        ));
    }
    cautions
}

/// Classes of which oil-filled ones are common; common practice, no source.
const fn may_hold_oil(class: Class) -> bool {
    matches!(
        class,
        Class::Recloser
            | Class::Sectionalizer
            | Class::Switch
            | Class::Regulator
            | Class::Capacitor
            | Class::Transformer
            | Class::Breaker
    )
}

/// Whether a content was measured, or the unit is known to hold no oil.
fn pcb_settled(unit: &Unit) -> bool {
    let dry = matches!(unit.nameplate.text("interrupter"), Some(kind) if kind != "oil");
    unit.nameplate.number("pcb_ppm").is_some() || (dry && unit.class == Class::Recloser)
}

/// Why the unit that comes cannot be what the place needs, in sentences: its
/// class, its phases, or a question that it fails by the values on record.
pub(super) fn unfit(
    store: &Store,
    place: &Place,
    out: Option<&Piece>,
    into: &Piece,
    now: Moment,
) -> Result<Vec<String>, Failure> {
    let p = &place.position;
    let mut said = misfits(p, &into.unit, place.slot.as_deref());
    let Some(mut facts) = facts::facts(store, &place.stored, now.date())? else {
        return Ok(said);
    };
    let leaves = |id: RecordId| out.is_some_and(|o| o.unit.id == id) || into.unit.id == id;
    facts.units.retain(|here| !leaves(here.unit.id));
    facts.units.push(UnitHere {
        unit: into.unit.clone(),
        slot: place.slot.clone(),
        also_at: None,
    });
    let utility = store.utility()?.map(|u| u.choices).unwrap_or_default();
    let choices = Choices::from_map(&utility).0;
    let report = check::report(&facts, &Typed::default(), &choices, Vec::new());
    let called = format!("{} {}", into.unit.class, into.unit.unit);
    let fails = report
        .findings
        .iter()
        .filter(|f| f.verdict == Verdict::Fails && f.element == called);
    for f in fails {
        let why = f.because.split("; margin").next().unwrap_or(&f.because);
        let line = format!("fails {} here: {why}", f.question);
        if !said.contains(&line) {
            said.push(line);
        }
    }
    Ok(said)
}

/// What to look at before a unit stands in a place: its own card's cautions.
pub(super) fn coming(store: &Store, into: &Piece, now: Moment) -> Result<Vec<Caution>, Failure> {
    let name = &into.unit.unit;
    let mut cautions = Vec::new();
    if let Some(stay) = into.unit.present().find(|d| d.at == "scrapped") {
        let since = stay
            .from
            .map_or(String::new(), |d| format!(" since {}", d.spoken()));
        cautions.push(Caution::stop(
            format!("is recorded as scrapped{since}: read its plate again"),
            name,
        ));
    }
    cautions.extend(untested(store, into)?);
    let own = card(store, into.stored.rec, Clock::Fixed(now))?.cautions;
    cautions.extend(
        own.into_iter()
            .filter(|c| !c.text.starts_with("recorded at")),
    );
    Ok(cautions)
}

/// A unit that left a place is tested before it stands at a new one. Source:
/// the acceptance test of the common information model for utilities.
fn untested(store: &Store, into: &Piece) -> Result<Option<Caution>, Failure> {
    let left = into
        .unit
        .deployments
        .iter()
        .filter(|d| !d.is_store())
        .filter_map(|d| d.to)
        .max();
    let mut tested = None;
    for stored in store.pointing(Rel::About, &into.unit.unit)? {
        if let Record::Entry(e) = stored.record
            && e.entry == EntryKind::Test
        {
            tested = tested.max(e.on);
        }
    }
    let text = match (left, tested) {
        (_, None) => "no test of it is on record".to_string(),
        (Some(left), Some(tested)) if tested < left => format!(
            "last tested {}, before it left its last place on {}",
            tested.spoken(),
            left.spoken()
        ),
        _ => return Ok(None),
    };
    Ok(Some(Caution::look(
        format!("{text}: it is to be tested before it stands at a new place"),
        &into.unit.unit,
    )))
}
