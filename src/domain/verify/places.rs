//! Where things are recorded to be: references, stays and slots.

use super::{Detector, Found, Given, MEANING, PRACTICE, Run, rel_words};
use crate::domain::asset::{Class, Deployment, ElementKind, Kind, Position, Record, Rel, Unit};
use crate::domain::code::fold;
use crate::domain::finding::RuleStanding;

/// A reference by name, and what answers to that name.
#[derive(Debug, Clone)]
pub struct Reference<'a> {
    pub from: &'a Record,
    pub rel: Rel,
    pub target: &'a str,
    /// Kinds of the records that answer to the name.
    pub holders: &'a [Kind],
    /// What the one record is called now that was once called so, when nobody
    /// is any more.
    pub former: Option<&'a str>,
}

/// The kind that a reference must lead to; `None` when any will do.
#[must_use]
pub const fn wanted_kind(rel: Rel) -> Option<Kind> {
    match rel {
        Rel::HangsOn | Rel::Toward | Rel::SpanFrom | Rel::SpanTo | Rel::SourceAt | Rel::HeadAt => {
            Some(Kind::Structure)
        }
        Rel::DeployedAt | Rel::WasAt => Some(Kind::Position),
        Rel::FedFrom => Some(Kind::Source),
        Rel::Ties | Rel::Carries => Some(Kind::Feeder),
        Rel::About => None,
    }
}

pub(super) static DETECTORS: &[Detector] = &[
    Detector {
        name: "reference-nowhere",
        looks_at: "every reference from one record to another by name",
        why: "What it points at is not in the register: the path, the plate or the history stops there.",
        fix: "Correct the name; look for a swapped or wrong digit first.",
        source: MEANING,
        standing: RuleStanding::CommonPractice,
        run: Run::Reference(nowhere),
    },
    Detector {
        name: "id-of-other-kind",
        looks_at: "an id of one kind written where one of another kind belongs",
        why: "A unit's number in the place of a position's (or the reverse) hides where the unit hangs.",
        fix: "Write the id that belongs there; the one that stands there is a record of its own.",
        source: PRACTICE,
        standing: RuleStanding::CommonPractice,
        run: Run::Reference(other_kind),
    },
    Detector {
        name: "reference-old-name",
        looks_at: "references by a name that its holder no longer bears",
        why: "When that name is given to another record, this one points at the wrong thing without a word.",
        fix: "Write the present name of the same record.",
        source: MEANING,
        standing: RuleStanding::CommonPractice,
        run: Run::Reference(old_name),
    },
    Detector {
        name: "unit-two-places",
        looks_at: "stays of a unit that have not ended",
        why: "A swap was written down at one end only; one of the two places shows the plate of a unit that is not there.",
        fix: "Read the plates at both places and end the stay that is over.",
        source: PRACTICE,
        standing: RuleStanding::CommonPractice,
        run: Run::Record(two_places),
    },
    Detector {
        name: "stay-undated",
        looks_at: "stays of a unit at a position without a date",
        why: "Nothing says since when, so age, duty and the order of swaps are unknown.",
        fix: "Look for the work order or the test sheet; leave it unknown if there is none.",
        source: PRACTICE,
        standing: RuleStanding::CommonPractice,
        run: Run::Record(undated),
    },
    Detector {
        name: "slot-shared",
        looks_at: "two units recorded in one slot of a position",
        why: "Only one of them hangs there; the check judges both and the crew finds one.",
        fix: "Read the plate in the slot and move the other unit to where it is.",
        source: MEANING,
        standing: RuleStanding::CommonPractice,
        run: Run::Place(shared),
    },
    Detector {
        name: "slot-off-position",
        looks_at: "the slot a unit is recorded in, against the slots of its position",
        why: "The unit is in a slot that the position does not have, so it is judged for none.",
        fix: "Write the slot as the position names it.",
        source: MEANING,
        standing: RuleStanding::CommonPractice,
        run: Run::Place(off_slot),
    },
    Detector {
        name: "slot-empty",
        looks_at: "positions and slots in which no unit is recorded",
        why: "There is no plate to judge by: every question about it is answered with unknown.",
        fix: "Read the plate in the field and record the unit there.",
        source: MEANING,
        standing: RuleStanding::CommonPractice,
        run: Run::Place(empty),
    },
    Detector {
        name: "class-differs",
        looks_at: "the class of a unit against that of the position it is recorded at",
        why: "One of the two is wrong, and the rules put to it are those of the wrong device.",
        fix: "Read the plate; correct the class, or the place of the unit.",
        source: MEANING,
        standing: RuleStanding::CommonPractice,
        run: Run::Place(class),
    },
];

fn nowhere(r: &Reference<'_>) -> Option<String> {
    let wanted = wanted_kind(r.rel);
    let answers = match wanted {
        Some(kind) => r.holders.contains(&kind),
        None => !r.holders.is_empty(),
    };
    let what = wanted.map_or("record", Kind::word);
    (!answers && r.holders.is_empty()).then(|| {
        format!(
            "{} {}, and no {what} has that name",
            rel_words(r.rel),
            r.target
        )
    })
}

fn other_kind(r: &Reference<'_>) -> Option<String> {
    let wanted = wanted_kind(r.rel)?;
    let other = r.holders.first().filter(|_| !r.holders.contains(&wanted))?;
    Some(format!(
        "{} {}, which is a {other}, not a {wanted}",
        rel_words(r.rel),
        r.target
    ))
}

fn old_name(r: &Reference<'_>) -> Option<String> {
    let now = r.former?;
    Some(format!(
        "{} {}, which is now called {now}",
        rel_words(r.rel),
        r.target
    ))
}

fn since(stay: &Deployment) -> String {
    let slot = stay
        .slot
        .as_ref()
        .map_or(String::new(), |s| format!(" slot {s}"));
    match stay.from {
        Some(from) => format!("{}{slot} since {}", stay.at, from.spoken()),
        None => format!("{}{slot} since an unknown day", stay.at),
    }
}

fn two_places(record: &Record, _: &Given) -> Vec<String> {
    let Record::Unit(u) = record else {
        return Vec::new();
    };
    let stays: Vec<String> = u.present().map(since).collect();
    if stays.len() < 2 {
        return Vec::new();
    }
    vec![format!("is recorded at {}", stays.join(", and at "))]
}

fn undated(record: &Record, _: &Given) -> Vec<String> {
    let Record::Unit(u) = record else {
        return Vec::new();
    };
    u.deployments
        .iter()
        .filter(|d| !d.is_store() && d.from.is_none())
        .map(|d| format!("is recorded at {} without the day it came", d.at))
        .collect()
}

/// The present stays of units at this position, each with its slot.
fn stays<'u>(
    p: &'u Position,
    units: &'u [Unit],
) -> impl Iterator<Item = (&'u Unit, Option<&'u str>)> {
    let here = fold(&p.position);
    units.iter().flat_map(move |u| {
        let here = here.clone();
        u.present()
            .filter(move |d| fold(&d.at) == here)
            .map(move |d| (u, d.slot.as_deref()))
    })
}

/// Whether a position is a place for a serialised unit: its elements say so,
/// or it lists none.
fn takes_units(p: &Position) -> bool {
    p.elements.is_empty() || p.elements.iter().any(|e| e.element == ElementKind::Unit)
}

fn same_slot(p: &Position, a: Option<&str>, b: Option<&str>) -> bool {
    let whole = |s: Option<&str>| {
        s.is_none() || s.is_some_and(|s| p.slots.is_empty() && Some(s) == p.phases.as_deref())
    };
    (whole(a) && whole(b)) || (a.is_some() && a == b)
}

fn shared(p: &Position, units: &[Unit]) -> Vec<Found> {
    let all: Vec<(&Unit, Option<&str>)> = stays(p, units).collect();
    let mut out = Vec::new();
    for (i, (u, slot)) in all.iter().enumerate() {
        let other = all[..i].iter().find(|(_, s)| same_slot(p, *s, *slot));
        if let Some((other, _)) = other {
            let slot = slot.map_or(String::new(), |s| format!(" slot {s}"));
            out.push(Found::at(
                p,
                format!("holds both {} and {} on record{slot}", other.unit, u.unit),
            ));
        }
    }
    out
}

fn off_slot(p: &Position, units: &[Unit]) -> Vec<Found> {
    if p.slots.is_empty() {
        return Vec::new();
    }
    stays(p, units)
        .filter_map(|(u, slot)| {
            let slot = slot?;
            let known = p.slots.iter().any(|s| s == slot) || Some(slot) == p.phases.as_deref();
            (!known).then(|| {
                Found::of(
                    u,
                    format!(
                        "is recorded at {} in slot {slot}; the slots there are {}",
                        p.position,
                        p.slots.join(", ")
                    ),
                )
            })
        })
        .collect()
}

fn empty(p: &Position, units: &[Unit]) -> Vec<Found> {
    let by_element = match p.class {
        Class::Cutout => Some(ElementKind::Cutout),
        Class::Switch => Some(ElementKind::Switch),
        _ => None,
    };
    let by_element = by_element.filter(|k| p.elements.iter().any(|e| e.element == *k));
    if let Some(kind) = by_element
        && !p.elements.iter().any(|e| e.element == ElementKind::Unit)
        && stays(p, units).next().is_none()
    {
        return p
            .phases_without(&[kind])
            .into_iter()
            .map(|s| Found::at(p, format!("has no {kind} recorded in its slot {s}")))
            .collect();
    }
    if !takes_units(p) || p.class == Class::Generation {
        return Vec::new();
    }
    let all: Vec<Option<&str>> = stays(p, units).map(|(_, slot)| slot).collect();
    if all.is_empty() {
        return vec![Found::at(p, "has no unit recorded in it")];
    }
    // A unit that names no slot may stand in any of them.
    if all.iter().any(Option::is_none) {
        return Vec::new();
    }
    p.slots
        .iter()
        .filter(|s| !all.contains(&Some(s.as_str())))
        .filter(|_| !all.contains(&p.phases.as_deref()))
        .map(|s| Found::at(p, format!("has no unit recorded in its slot {s}")))
        .collect()
}

fn class(p: &Position, units: &[Unit]) -> Vec<Found> {
    stays(p, units)
        .filter(|(u, _)| u.class != p.class)
        .map(|(u, _)| {
            Found::of(
                u,
                format!(
                    "is {}; {} is a place for {}",
                    crate::domain::asset::an(u.class),
                    p.position,
                    crate::domain::asset::an(p.class)
                ),
            )
        })
        .collect()
}
