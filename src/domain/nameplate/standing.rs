//! What stands against a thing: open defects, notices that count as one, and
//! readings that nothing later has put right. Each caps the questions that it
//! bears on.

use super::facts::{Cap, Facts, Subject};
use crate::domain::asset::Defect;
use crate::domain::finding::{Question, Sighted, defect_row, seen};

/// Whose defect it is.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Of {
    /// A unit, by name.
    Unit(String),
    /// The position or the structure: everything there is in doubt.
    Place(String),
}

/// A defect that no later entry has cleared, or a notice that counts as one.
#[derive(Debug, Clone, PartialEq)]
pub struct OpenDefect {
    pub defect: Defect,
    pub of: Of,
    pub seen: Sighted,
    /// The notice, when it is not an entry.
    pub notice: Option<String>,
}

/// A reading that is no defect by itself and that the last entry of its kind
/// still shows.
#[derive(Debug, Clone, PartialEq)]
pub struct OpenReading {
    pub of: Of,
    /// `bypass found closed, seen 3 Oct 2026`.
    pub why: String,
    pub bears_on: &'static [Question],
}

/// What stands against a subject, as caps.
pub(super) fn caps(facts: &Facts, subject: &Subject<'_>) -> Vec<Cap> {
    let defects = facts.defects.iter().map(|open| {
        let why = match &open.notice {
            Some(notice) => format!("notice {notice} counts it as {}", open.defect),
            None => seen(open.defect, open.seen),
        };
        (&open.of, defect_row(open.defect).bears_on, why)
    });
    let readings = facts
        .readings
        .iter()
        .map(|r| (&r.of, r.bears_on, r.why.clone()));
    defects
        .chain(readings)
        .filter(|(of, ..)| is_of(facts, subject, of))
        .flat_map(|(_, bears_on, why)| {
            bears_on.iter().map(move |question| Cap {
                question: Some(*question),
                why: why.clone(),
            })
        })
        .collect()
}

fn is_of(facts: &Facts, subject: &Subject<'_>, of: &Of) -> bool {
    match of {
        Of::Place(_) => true,
        Of::Unit(name) => facts.units.iter().any(|u| {
            u.unit.unit == *name
                && subject
                    .plate
                    .is_some_and(|p| std::ptr::eq(p, &u.unit.nameplate))
        }),
    }
}
