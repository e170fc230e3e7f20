//! See: the smallest fault against minimum trip. Asked only where a smallest
//! fault is recorded or typed.

use super::bound::{Ask, Bound, Compare, short};
use super::carry::electronic;
use super::choices::{REACH, TIGHT, TRIP_TOLERANCE};
use super::facts::Subject;
use super::ride::{nominal_trip, pickup};
use super::{Case, Rule, unit};
use crate::domain::asset::Class;
use crate::domain::finding::{Finding, Question, RuleStanding};
use crate::units::figure;

pub static RULES: &[Rule] = &[
    Rule {
        name: "see-coil",
        question: Question::See,
        on: &[unit(Class::Recloser)],
        needs: &["minimum fault", "coil_amps, or min_trip_amps"],
        formula: "minimum fault >= reach factor x 220 % of coil (200 % + 20 points)",
        source: "a recloser repair shop's coil note: test reach against 220 % of coil; the factor is common practice",
        standing: RuleStanding::Read,
        choices: &[TIGHT, TRIP_TOLERANCE, REACH],
        judge: coil,
    },
    Rule {
        name: "see-setting",
        question: Question::See,
        on: &[unit(Class::Recloser), unit(Class::Breaker)],
        needs: &["minimum fault", "phase_pickup_amps"],
        formula: "minimum fault >= reach factor x phase pickup; the higher of issued and found",
        source: "minimum end-of-zone fault 1.5 to 2 times minimum trip: common practice, no source",
        standing: RuleStanding::CommonPractice,
        choices: &[TIGHT, REACH],
        judge: setting,
    },
];

fn held(
    rule: &'static Rule,
    case: &Case<'_>,
    subject: &Subject<'_>,
    bound: Bound,
) -> Option<Finding> {
    let given = case.asked.min_fault.as_ref()?;
    let reach = case.choices.reach();
    Some(
        Compare {
            rule,
            case,
            subject,
            unit: "A",
            ask: Ask {
                what: "minimum fault",
                value: Some(given.value),
                words: format!("minimum fault {} A ({})", short(given.value), given.origin),
                read: String::new(),
                doubts: Vec::new(),
            },
            bound: bound.times(reach, &format!("x {}", figure(reach)), "A"),
            tight_percent: case.choices.tight_percent(),
            at_least: true,
            note: "A downed wire may draw far less: no setting is sure to see it.".to_string(),
        }
        .finding(),
    )
}

fn coil(rule: &'static Rule, case: &Case<'_>, subject: &Subject<'_>) -> Option<Finding> {
    if electronic(subject) {
        return None;
    }
    let tolerance = case.choices.trip_tolerance();
    let words = format!("x {} %", figure((1.0 + tolerance) * 100.0));
    let bound = nominal_trip(subject, false).times(1.0 + tolerance, &words, "A");
    held(rule, case, subject, bound)
}

fn setting(rule: &'static Rule, case: &Case<'_>, subject: &Subject<'_>) -> Option<Finding> {
    if subject.part == unit(Class::Recloser) && !electronic(subject) {
        return None;
    }
    let bound = pickup(case.facts, "phase_pickup_amps", "phase pickup", false);
    held(rule, case, subject, bound)
}
