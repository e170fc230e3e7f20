//! What does not fit between a place and a unit recorded in it: its class, or
//! the phases it is built for.

use super::Facts;
use super::facts::{Cap, UnitHere};
use crate::domain::asset::{Class, Position, Unit, an};
use crate::domain::finding::Caution;

/// Why a unit cannot be what a place is made for, in sentences; empty where
/// nothing on record speaks against it. That a place takes one class of device
/// and a device the phases of its place is common practice, no source.
#[must_use]
pub fn misfits(p: &Position, unit: &Unit, slot: Option<&str>) -> Vec<String> {
    let mut out = Vec::new();
    if wrong_class(p, unit) {
        out.push(format!(
            "{} is {}, and {} is a place for {}",
            unit.unit,
            an(unit.class),
            p.position,
            an(p.class)
        ));
    }
    out.extend(wrong_phases(p, unit, slot));
    out
}

/// Whether the unit is of another class than its place. A place for other
/// devices takes any.
#[must_use]
pub fn wrong_class(p: &Position, unit: &Unit) -> bool {
    p.class != Class::Other && unit.class != p.class
}

/// By the plate as recorded, assumed or not. What may stand between two phases
/// is not held against the count of two.
fn wrong_phases(p: &Position, unit: &Unit, slot: Option<&str>) -> Option<String> {
    let between = matches!(
        unit.class,
        Class::Capacitor | Class::Arrester | Class::Generation | Class::Other
    );
    let place = slot.or(p.phases.as_deref())?;
    if between || place.is_empty() || !place.chars().all(|c| "ABC".contains(c)) {
        return None;
    }
    let built = unit.nameplate.number("phases")?;
    let two_wire = matches!(unit.class, Class::Transformer | Class::Regulator);
    let wrong = match place.len() {
        1 => built > 1.5,
        2 => built < 1.5 && !two_wire,
        _ => built < 2.5,
    };
    wrong.then(|| {
        format!(
            "{} is built for {built} phase{}, and it is recorded in {} of {}",
            unit.unit,
            if built > 1.5 { "s" } else { "" },
            if slot.is_some() {
                format!("slot {place}")
            } else {
                format!("phases {place}")
            },
            p.position
        )
    })
}

/// The caution that stands as long as the records stand so.
#[must_use]
pub fn misfit_cautions(facts: &Facts) -> Vec<Caution> {
    let p = &facts.position;
    facts
        .units
        .iter()
        .flat_map(|here| said(p, here))
        .map(|why| Caution::stop(sentence(&why), &p.position))
        .collect()
}

/// The sentence of the caution.
#[must_use]
pub fn sentence(why: &str) -> String {
    format!(
        "wrong kind of unit recorded here: {why}. Do not count on it; read what hangs there, tell control"
    )
}

pub(super) fn said(p: &Position, here: &UnitHere) -> Vec<String> {
    misfits(p, &here.unit, here.slot.as_deref())
}

/// What does not fit holds every answer of the unit at unknown.
pub(super) fn caps(p: &Position, here: &UnitHere) -> impl Iterator<Item = Cap> {
    said(p, here).into_iter().map(|why| Cap {
        question: None,
        why: format!("wrong kind of unit recorded here: {why}"),
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::domain::asset::{Kind, Record};
    use serde_json::json;

    fn position(class: &str, phases: &str) -> Position {
        let form = json!({"position": "P", "class": class, "phases": phases});
        match Record::from_value(Kind::Position, form).unwrap() {
            Record::Position(p) => p,
            _ => unreachable!(),
        }
    }

    fn unit(class: &str, phases: f64) -> Unit {
        let form = json!({"unit": "U", "class": class, "nameplate": {"phases": phases}});
        match Record::from_value(Kind::Unit, form).unwrap() {
            Record::Unit(u) => u,
            _ => unreachable!(),
        }
    }

    #[test]
    fn a_unit_fits_its_place_by_class_and_by_phases() {
        let of = |class: &str, place: &str, phases: f64| {
            misfits(&position(class, place), &unit(class, phases), None).len()
        };
        assert_eq!(of("recloser", "ABC", 3.0), 0);
        assert_eq!(of("recloser", "ABC", 1.0), 1);
        assert_eq!(of("recloser", "A", 3.0), 1);
        assert_eq!(of("recloser", "AB", 1.0), 1);
        // Between two phases stands a device of one.
        assert_eq!(of("transformer", "AB", 1.0), 0);
        assert_eq!(of("transformer", "ABC", 1.0), 1);
        assert_eq!(of("capacitor", "ABC", 1.0), 0);
        let p = position("recloser", "ABC");
        assert_eq!(misfits(&p, &unit("regulator", 3.0), None).len(), 1);
        assert_eq!(
            misfits(&position("other", ""), &unit("switch", 3.0), None).len(),
            0
        );
        // A slot says more than the place.
        assert_eq!(misfits(&p, &unit("recloser", 1.0), Some("B")).len(), 0);
    }
}
