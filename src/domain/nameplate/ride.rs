//! Ride: the load against the least current on which a device trips.

use super::bound::{Bound, Compare};
use super::carry::{electronic, rating};
use super::choices::{TIGHT, TRIP_TOLERANCE};
use super::facts::{Facts, Subject};
use super::{Case, Rule, unit};
use crate::domain::asset::{Class, Stated};
use crate::domain::finding::{Finding, Question, RuleStanding};
use crate::units::figure;

pub static RULES: &[Rule] = &[
    Rule {
        name: "ride-coil",
        question: Question::Ride,
        on: &[unit(Class::Recloser)],
        needs: &["load", "coil_amps, or min_trip_amps"],
        formula: "load <= minimum trip less tolerance: 180 % of coil (200 % - 20 points); coils above 280 A 140 % less tolerance unless the plate gives minimum trip",
        source: "a recloser maker's overload sheet: minimum trip = 2 x coil, some 400 and 560 A coils about 140 %; a repair shop's coil note: 180 to 220 %",
        standing: RuleStanding::Read,
        choices: &[TIGHT, TRIP_TOLERANCE],
        judge: coil,
    },
    Rule {
        name: "ride-setting",
        question: Question::Ride,
        on: &[unit(Class::Recloser), unit(Class::Breaker)],
        needs: &["load", "phase_pickup_amps"],
        formula: "load <= phase pickup in primary amperes; the lower of issued and found",
        source: "a recloser maker's sheet: with electronic control minimum trip is a setting, independent of the continuous rating",
        standing: RuleStanding::Read,
        choices: &[TIGHT],
        judge: setting,
    },
];

/// Coils above this size may trip on 140 % instead of 200 %.
const LARGE_COIL_AMPS: f64 = 280.0;

/// Nominal minimum trip of a hydraulic unit: from the plate, else from the coil.
pub(super) fn nominal_trip(subject: &Subject<'_>, lowest: bool) -> Bound {
    if subject.recorded("min_trip_amps").is_some() {
        return rating(subject, "min_trip_amps", "minimum trip", "A");
    }
    let coil = rating(subject, "coil_amps", "coil", "A");
    let large = coil.value.is_some_and(|c| c > LARGE_COIL_AMPS);
    if large && lowest {
        coil.times(1.4, "x 140 %", "A")
    } else {
        coil.times(2.0, "x 200 %", "A")
    }
}

fn coil(rule: &'static Rule, case: &Case<'_>, subject: &Subject<'_>) -> Option<Finding> {
    if electronic(subject) {
        return None;
    }
    let tolerance = case.choices.trip_tolerance();
    let words = format!("x {} %", figure((1.0 - tolerance) * 100.0));
    let bound = nominal_trip(subject, true).times(1.0 - tolerance, &words, "A");
    Some(
        Compare {
            rule,
            case,
            subject,
            unit: "A",
            ask: case.load(),
            bound,
            tight_percent: case.choices.tight_percent(),
            at_least: false,
            note: String::new(),
        }
        .finding(),
    )
}

/// A setting as issued and as found: the lower, or the higher, governs; a
/// reading that is recorded as unknown leaves it unknown.
pub(super) fn pickup(facts: &Facts, key: &str, label: &str, lowest: bool) -> Bound {
    let read = format!("{label} of {}", facts.position.position);
    let of = |stated: &Stated, how: &str| Bound::of(stated, &format!("{label} {how}"), "A", &read);
    let issued = facts.position.settings.get(key).map(|s| of(s, "as issued"));
    let found = facts
        .position
        .settings_found
        .get(key)
        .map(|s| of(s, "as found"));
    match (issued, found) {
        (Some(a), Some(b)) => {
            let second = match (a.value, b.value) {
                (Some(x), Some(y)) => (y < x) == lowest,
                (_, None) => true,
                (None, _) => false,
            };
            if second { b } else { a }
        }
        (Some(one), None) | (None, Some(one)) => one,
        (None, None) => Bound::unread(label, &read),
    }
}

fn setting(rule: &'static Rule, case: &Case<'_>, subject: &Subject<'_>) -> Option<Finding> {
    let is_recloser = subject.part == unit(Class::Recloser);
    if is_recloser && !electronic(subject) {
        return None;
    }
    Some(
        Compare {
            rule,
            case,
            subject,
            unit: "A",
            ask: case.load(),
            bound: pickup(case.facts, "phase_pickup_amps", "phase pickup", true),
            tight_percent: case.choices.tight_percent(),
            at_least: false,
            note: String::new(),
        }
        .finding(),
    )
}
