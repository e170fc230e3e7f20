//! The card of a unit: its plate, and where it is and was.

use super::super::Failure;
use super::super::also::also_of;
use super::super::conclude::{pcb_fact, pole_rejects};
use super::super::facts::defects_of;
use super::{Card, Fact, Group, caution, history, plate, position, unread};
use crate::calendar::Clock;
use crate::domain::asset::{Deployment, Kind, Record, Unit};
use crate::domain::code::say;
use crate::domain::finding::Caution;
use crate::domain::nameplate::misfit::{misfits, sentence};
use crate::domain::nameplate::{Of, transformer_note};
use crate::store::{Store, Stored};

pub(super) fn fill(
    card: &mut Card,
    store: &Store,
    stored: &Stored,
    u: &Unit,
    clock: Clock,
) -> Result<(), Failure> {
    let words = plate::class_words(u.class, &[&u.nameplate]);
    let also = also_of(store, stored)?;
    card.what = words.to_uppercase();
    card.place.road = also.road;
    card.place.near = also.near;
    card.place.feeder = also.feeder;
    card.place.structure = also.at;
    card.gist = plate::unit_gist(u);
    card.plates = vec![plate::plate_card(u, None)];
    card.note = u.note.clone();
    let of = with_places(store, stored, u)?;
    card.orders = history::orders(store, &of.iter().collect::<Vec<_>>(), clock.today())?;
    card.history = history::history(store, &[stored])?;
    let present: Vec<&Deployment> = u.present().collect();
    card.say = format!(
        "unit {}, {words}; {}",
        say(&u.unit),
        match present.as_slice() {
            [] => "no place on record".to_string(),
            stays => stays
                .iter()
                .map(|d| spoken_place(d))
                .collect::<Vec<_>>()
                .join(" and "),
        }
    );
    card.cautions = caution::of_class(u.class, &u.unit);
    card.cautions.extend(caution::notices(
        &position::notices(store)?,
        u,
        clock.today(),
    ));
    card.cautions.extend(whereabouts(store, u, &present)?);
    let open = defects_of(store, stored, Of::Unit(u.unit.clone()))?;
    card.cautions.extend(caution::defects(&open, &card.orders));
    card.cautions.extend(caution::readings(store, &[stored])?);
    card.cautions.extend(pole_rejects(store, stored)?);
    card.cautions.extend(unread::unread(&card.plates, &u.unit));
    card.groups = groups(store, stored, u)?;
    Ok(())
}

fn groups(store: &Store, stored: &Stored, u: &Unit) -> Result<Vec<Group>, Failure> {
    let group = |heading: &str, rows: Vec<Fact>| Group {
        heading: heading.to_string(),
        rows,
    };
    let mut out = Vec::new();
    out.extend(pcb_fact(store, stored)?.map(|fact| group("oil", vec![fact])));
    let (choices, _) = position::choices(store)?;
    let currents = transformer_note(u, &choices);
    out.extend(
        currents.map(|text| group("figures by its plate", vec![Fact::new("currents", text)])),
    );
    out.push(group("where it is and was", stays(u)));
    Ok(out)
}

/// The unit and the positions where it is.
fn with_places(store: &Store, stored: &Stored, u: &Unit) -> Result<Vec<Stored>, Failure> {
    let mut of = vec![stored.clone()];
    for stay in u.present().filter(|d| !d.is_store()) {
        let at = std::slice::from_ref(&stay.at);
        let places = store.present(Kind::Position, at)?;
        of.extend(places.into_iter().map(|(_, s)| s));
    }
    Ok(of)
}

fn spoken_place(d: &Deployment) -> String {
    let slot = d
        .slot
        .as_ref()
        .map_or(String::new(), |s| format!(", slot {}", say(s)));
    if d.is_store() {
        if let Some(slot) = d.slot.as_ref().filter(|s| s.starts_with(&d.at)) {
            return slot.clone();
        }
        let which = d.slot.as_ref().map_or(String::new(), |s| format!(", {s}"));
        format!("{}{which}", d.at)
    } else {
        format!("at {}{slot}", say(&d.at))
    }
}

/// At two places, at none, or at a place that is no position.
fn whereabouts(store: &Store, u: &Unit, present: &[&Deployment]) -> Result<Vec<Caution>, Failure> {
    let mut out = Vec::new();
    if present.len() > 1 {
        let places: Vec<String> = present.iter().map(|d| place_words(d)).collect();
        out.push(Caution::stop(
            format!(
                "recorded at {} places at once: {}. Where it hangs is not known; read the plate there",
                present.len(),
                places.join(" and ")
            ),
            &u.unit,
        ));
    }
    out.extend(unfit(store, u, present)?);
    for d in present.iter().filter(|d| !d.is_store()) {
        let hits = store.named(&d.at)?;
        if !hits.iter().any(|h| h.kind == Kind::Position) {
            let kind = hits
                .first()
                .map_or("is not in the register".to_string(), |h| {
                    format!("is {}, not a position", crate::domain::asset::an(h.kind))
                });
            out.push(Caution::look(
                format!("recorded at {}, which {kind}", d.at),
                &u.unit,
            ));
        }
    }
    if present.is_empty() {
        out.push(Caution::look("no place is on record for it now", &u.unit));
    }
    Ok(out)
}

/// A STOP where the place is made for another kind of unit.
fn unfit(store: &Store, u: &Unit, present: &[&Deployment]) -> Result<Vec<Caution>, Failure> {
    let mut out = Vec::new();
    for d in present.iter().filter(|d| !d.is_store()) {
        let at = std::slice::from_ref(&d.at);
        for (_, place) in store.present(Kind::Position, at)? {
            if let Record::Position(p) = &place.record {
                let why = misfits(p, u, d.slot.as_deref());
                out.extend(why.iter().map(|w| Caution::stop(sentence(w), &u.unit)));
            }
        }
    }
    Ok(out)
}

fn place_words(d: &Deployment) -> String {
    match &d.slot {
        Some(slot) if d.is_store() && slot.starts_with(&d.at) => slot.clone(),
        Some(slot) if d.is_store() => format!("{}, {slot}", d.at),
        Some(slot) => format!("{}, slot {slot}", d.at),
        None => d.at.clone(),
    }
}

/// Stays, the present ones first, then the latest.
fn stays(u: &Unit) -> Vec<Fact> {
    let mut stays: Vec<&Deployment> = u.deployments.iter().collect();
    stays.sort_by_key(|d| {
        (
            d.to.is_some(),
            std::cmp::Reverse(d.to),
            std::cmp::Reverse(d.from),
        )
    });
    let mut out: Vec<Fact> = stays
        .iter()
        .map(|d| {
            let from = match d.from {
                Some(f) if f.is_new_year() => {
                    format!("from {} (the day may stand for the year)", f.spoken())
                }
                Some(f) => format!("from {}", f.spoken()),
                None => "since when is not recorded".to_string(),
            };
            match d.to {
                Some(to) => Fact::new(
                    "was",
                    format!("{} {from} to {}", place_words(d), to.spoken()),
                ),
                None => Fact::new("is", format!("{} {from}", place_words(d))),
            }
        })
        .collect();
    if out.is_empty() {
        out.push(Fact::new("is", "no place on record"));
    }
    out
}
