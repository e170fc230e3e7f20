//! See: the smallest fault against minimum trip, counting or melting. Asked
//! only where a smallest fault is recorded or typed.

use super::bound::{Ask, Bound, Compare, short};
use super::carry::{electronic, rating};
use super::choices::{FAULT_OHMS, FAULT_OHMS_ARE, LINK_CLEARS_S, REACH, TIGHT, TRIP_TOLERANCE};
use super::facts::{Part, Subject};
use super::ride::{ground_blocked, has_ground, nominal_trip, pickup};
use super::timing::link_row;
use super::{Case, Rule, element, unit};
use crate::domain::asset::{Class, ElementKind, FaultKind};
use crate::domain::finding::{Finding, Question, RuleStanding};
use crate::units::figure;

pub static RULES: &[Rule] = &[
    Rule {
        name: "see-coil",
        on: &[unit(Class::Recloser)],
        needs: &["minimum fault", "coil_amps, or min_trip_amps"],
        formula: "minimum fault >= reach factor x 220 % of coil (200 % + 20 points)",
        source: "a recloser repair shop's coil note: test reach against 220 % of coil; the factor is common practice",
        standing: RuleStanding::Read,
        choices: &[TIGHT, TRIP_TOLERANCE, REACH],
        rests_on: &["coil_amps"],
        example: r#"{"class": "recloser", "plate": {"control": "hydraulic", "coil_amps": 50}, "min_fault": 200}"#,
        judge: coil,
        ..Rule::of(Question::See)
    },
    Rule {
        name: "see-setting",
        on: &[unit(Class::Recloser), unit(Class::Breaker)],
        needs: &["minimum fault", "phase_pickup_amps"],
        formula: "minimum fault >= reach factor x phase pickup; the higher of issued and found; a line-ground fault is left to the ground pickup where there is one",
        source: "minimum end-of-zone fault 1.5 to 2 times minimum trip: common practice, no source",
        choices: &[TIGHT, REACH],
        rests_on: &["phase_pickup_amps"],
        example: r#"{"class": "breaker", "plate": {"continuous_amps": 1200}, "settings": {"phase_pickup_amps": 480}, "min_fault": 900}"#,
        judge: setting,
        ..Rule::of(Question::See)
    },
    Rule {
        name: "see-ground",
        on: &[unit(Class::Recloser), unit(Class::Breaker)],
        needs: &[
            "minimum fault, line-ground or of any kind",
            "ground_pickup_amps",
        ],
        formula: "minimum fault >= reach factor x ground pickup; the higher of issued and found; blocked: in doubt",
        source: "ground pickup below the lowest phase-to-ground fault: the abstract of a paper and common practice",
        choices: &[TIGHT, REACH],
        rests_on: &["ground_pickup_amps"],
        example: r#"{"class": "breaker", "plate": {"continuous_amps": 1200}, "settings": {"phase_pickup_amps": 480, "ground_pickup_amps": 120}, "min_fault": 900}"#,
        judge: ground,
        ..Rule::of(Question::See)
    },
    Rule {
        name: "see-ceiling",
        on: &[unit(Class::Recloser), unit(Class::Breaker)],
        needs: &[
            "minimum fault",
            "nominal voltage",
            "coil, or the lowest pickup",
        ],
        formula: "nominal line to ground / fault resistance >= minimum trip (220 % of coil, or the lower pickup): whatever the feeder, no more can flow. Judged where the utility chose so, else noted",
        source: "I <= V / Rf, computed; 40 ohm: a former rural-program value; 220 % of coil: a repair shop's coil note",
        standing: RuleStanding::Read,
        choices: &[TIGHT, FAULT_OHMS, FAULT_OHMS_ARE, TRIP_TOLERANCE],
        rests_on: &["coil_amps"],
        example: r#"{"class": "recloser", "plate": {"control": "hydraulic", "coil_amps": 50}, "min_fault": 170, "choices": {"fault_resistance_is": "judged"}}"#,
        judge: ceiling,
        ..Rule::of(Question::See)
    },
    Rule {
        name: "see-actuating",
        on: &[unit(Class::Sectionalizer)],
        needs: &["minimum fault", "actuating_amps, or coil_amps"],
        formula: "minimum fault >= reach factor x actuating current (160 % of coil) + 10 %",
        source: "a sectionalizer maker's application page: actuating at 160 % of coil, +- 10 %; the factor is common practice",
        standing: RuleStanding::Read,
        choices: &[TIGHT, REACH],
        rests_on: &["coil_amps"],
        example: r#"{"class": "sectionalizer", "plate": {"coil_amps": 50}, "min_fault": 200}"#,
        judge: actuating,
        ..Rule::of(Question::See)
    },
    Rule {
        name: "see-link",
        on: &[element(ElementKind::Link)],
        needs: &["minimum fault", "link"],
        formula: "minimum fault >= the current at which the link's greatest melting time is 3 s (interpolated)",
        source: "one distribution utility's line-fuse rule: the smallest fault cleared within 3 s (read); melting currents are from memory, unconfirmed",
        standing: RuleStanding::FromMemory,
        choices: &[TIGHT, LINK_CLEARS_S],
        rests_on: &["link"],
        example: r#"{"class": "cutout", "phases": "A", "elements": [{"element": "cutout", "amps": 100}, {"element": "link", "link": "40K"}], "min_fault": 400}"#,
        judge: link,
        ..Rule::of(Question::See)
    },
];

const DOWNED: &str = "A downed wire may draw far less: no setting is sure to see it.";

fn minimum(case: &Case<'_>) -> Option<Ask> {
    let given = case.asked.min_fault.as_ref()?;
    Some(Ask {
        what: "minimum fault",
        value: Some(given.value),
        words: format!("minimum fault {} A ({})", short(given.value), given.origin),
        read: String::new(),
        doubts: Vec::new(),
    })
}

fn compare(
    rule: &'static Rule,
    case: &Case<'_>,
    subject: &Subject<'_>,
    ask: Ask,
    bound: Bound,
    note: String,
) -> Finding {
    Compare {
        rule,
        case,
        subject,
        unit: "A",
        ask,
        bound,
        tight_percent: case.choices.tight_percent(),
        at_least: true,
        note,
    }
    .finding()
}

fn held(
    rule: &'static Rule,
    case: &Case<'_>,
    subject: &Subject<'_>,
    bound: Bound,
) -> Option<Finding> {
    let reach = case.choices.reach();
    let bound = bound.times(reach, &format!("x {}", figure(reach)), "A");
    Some(compare(
        rule,
        case,
        subject,
        minimum(case)?,
        bound,
        DOWNED.to_string(),
    ))
}

/// Greatest minimum trip of a coil.
fn coil_trip(case: &Case<'_>, subject: &Subject<'_>) -> Bound {
    let tolerance = case.choices.trip_tolerance();
    let words = format!("x {} %", figure((1.0 + tolerance) * 100.0));
    nominal_trip(subject, false).times(1.0 + tolerance, &words, "A")
}

/// Whether the device trips on a setting.
fn by_setting(subject: &Subject<'_>) -> bool {
    subject.part != unit(Class::Recloser) || electronic(subject)
}

fn coil(rule: &'static Rule, case: &Case<'_>, subject: &Subject<'_>) -> Option<Finding> {
    if electronic(subject) {
        return None;
    }
    held(rule, case, subject, coil_trip(case, subject))
}

fn setting(rule: &'static Rule, case: &Case<'_>, subject: &Subject<'_>) -> Option<Finding> {
    let left_to_ground =
        case.asked.min_fault_kind == Some(FaultKind::LineGround) && has_ground(case.facts);
    if !by_setting(subject) || left_to_ground {
        return None;
    }
    let bound = pickup(case.facts, "phase_pickup_amps", "phase pickup", false);
    held(rule, case, subject, bound)
}

fn ground(rule: &'static Rule, case: &Case<'_>, subject: &Subject<'_>) -> Option<Finding> {
    let may_be_ground = !matches!(
        case.asked.min_fault_kind,
        Some(FaultKind::ThreePhase | FaultKind::LineLine)
    );
    if !by_setting(subject) || !has_ground(case.facts) || !may_be_ground {
        return None;
    }
    let mut bound = pickup(case.facts, "ground_pickup_amps", "ground pickup", false);
    if ground_blocked(case.facts) {
        bound = bound.doubted(
            "the ground trip is in service, which was last recorded as blocked",
            format!("ground trip of {}", case.facts.position.position),
        );
    }
    held(rule, case, subject, bound)
}

/// The most that can flow through the fault resistance alone, with its words.
pub(super) fn ceiling_amps(case: &Case<'_>) -> Option<(f64, String)> {
    let ohms = case.choices.number(FAULT_OHMS);
    let kv = case.facts.nominal_kv_ll? / 3.0_f64.sqrt();
    let amps = kv * 1_000.0 / ohms;
    (ohms > 0.0).then(|| {
        let words = format!(
            "at most {} A flow through {} ohm at {} kV, whatever the feeder",
            short(amps),
            short(ohms),
            short(kv)
        );
        (amps, words)
    })
}

/// The minimum trip that a ground fault has to reach.
fn least_trip(case: &Case<'_>, subject: &Subject<'_>) -> Bound {
    if !by_setting(subject) {
        return coil_trip(case, subject);
    }
    if has_ground(case.facts) && !ground_blocked(case.facts) {
        pickup(case.facts, "ground_pickup_amps", "ground pickup", false)
    } else {
        pickup(case.facts, "phase_pickup_amps", "phase pickup", false)
    }
}

/// Said where the minimum fault is a ground fault, or may be one.
fn ceiling(rule: &'static Rule, case: &Case<'_>, subject: &Subject<'_>) -> Option<Finding> {
    let given = case.asked.min_fault.as_ref()?;
    let phase_only = matches!(
        case.asked.min_fault_kind,
        Some(FaultKind::ThreePhase | FaultKind::LineLine)
    );
    let (amps, words) = ceiling_amps(case)?;
    if phase_only || !case.choices.ceiling_judged() {
        return None;
    }
    let bound = least_trip(case, subject);
    let trip = bound.value?;
    let impossible = trip > amps;
    let ask = Ask {
        what: "ceiling",
        value: Some(amps),
        words,
        read: String::new(),
        doubts: Vec::new(),
    };
    let mut note = String::new();
    if impossible {
        note.push_str("A fault of that resistance cannot be detected here. ");
    }
    if given.value > amps {
        note.push_str("The minimum fault asked about is larger, so it is one of less resistance.");
    }
    Some(compare(
        rule,
        case,
        subject,
        ask,
        bound,
        note.trim_end().to_string(),
    ))
}

/// Sentences about devices here that the assumed resistance alone keeps from
/// seeing a ground fault, where that is noted and not judged.
#[must_use]
pub fn beyond_the_ceiling(case: &Case<'_>) -> Vec<String> {
    if case.choices.ceiling_judged() && case.asked.min_fault.is_some() {
        return Vec::new();
    }
    let Some((amps, words)) = ceiling_amps(case) else {
        return Vec::new();
    };
    case.subjects
        .iter()
        .filter(|s| matches!(s.part, Part::Unit(Class::Recloser | Class::Breaker)))
        .filter_map(|s| {
            let trip = least_trip(case, s);
            trip.value.filter(|t| *t > amps).map(|_| {
                format!("{words}, and {} has {}: a ground fault of that resistance cannot be detected here", s.called, trip.words)
            })
        })
        .collect()
}

/// Actuating current of a sectionalizer, times coil, and its tolerance.
const ACTUATING: (f64, f64) = (1.6, 1.1);

fn actuating(rule: &'static Rule, case: &Case<'_>, subject: &Subject<'_>) -> Option<Finding> {
    let nominal = if subject.recorded("actuating_amps").is_some() {
        rating(subject, "actuating_amps", "actuating", "A")
    } else {
        rating(subject, "coil_amps", "coil", "A").times(ACTUATING.0, "x 160 %", "A")
    };
    let bound = nominal.times(ACTUATING.1, "x 110 %", "A");
    held(rule, case, subject, bound)
}

fn link(rule: &'static Rule, case: &Case<'_>, subject: &Subject<'_>) -> Option<Finding> {
    let ask = minimum(case)?;
    if case.facts.position.class == Class::Capacitor {
        return None;
    }
    let seconds = case.choices.number(LINK_CLEARS_S);
    let stated = super::carry::link_limit(subject);
    let amps = link_row(subject).and_then(|row| row.greatest_melting_amps(seconds));
    let bound = Bound {
        value: amps,
        words: match amps {
            Some(amps) => format!(
                "{} A, which melt {} within {} s for certain (interpolated)",
                short(amps),
                subject.called,
                short(seconds)
            ),
            None => format!("no melting table for {}", subject.called),
        },
        doubts: stated.doubts,
        read: stated
            .read
            .or(Some(super::carry::read("link size and type", subject))),
    };
    Some(compare(rule, case, subject, ask, bound, DOWNED.to_string()))
}
