//! Bypasses found closed, and a regulator's neutral: dial and lamp must agree.

use super::{Case, Rule, Said};
use crate::domain::asset::{Class, Priority};
use crate::domain::finding::Question;
use crate::domain::finding::RuleStanding::CommonPractice;
use crate::units::figure;

pub(super) static RULES: &[Rule] = &[
    Rule {
        name: "regulator-neutral",
        reads: &["tap", "neutral_lamp"],
        all: true,
        on: &[Class::Regulator],
        source: "common practice; read in two regulator makers' instruction sheets: neutral is shown by both dial and lamp",
        standing: CommonPractice,
        judge: neutral,
    },
    Rule {
        name: "regulator-bypass",
        reads: &["bypass"],
        all: false,
        on: &[Class::Regulator],
        source: "common practice; read in two regulator makers' instruction sheets: a bypass closed off neutral short-circuits part of the series winding",
        standing: CommonPractice,
        judge: found_closed,
    },
    Rule {
        name: "regulator-bypass-recorded",
        reads: &["tap"],
        all: false,
        on: &[Class::Regulator],
        source: "common practice; read in two regulator makers' instruction sheets: a bypass closed off neutral short-circuits part of the series winding",
        standing: CommonPractice,
        judge: recorded_closed,
    },
    Rule {
        name: "bypass-closed",
        reads: &["bypass"],
        all: false,
        on: &[Class::Recloser, Class::Sectionalizer, Class::Breaker],
        source: super::PRACTICE,
        standing: CommonPractice,
        judge: bypassed,
    },
];

fn dial(tap: f64) -> String {
    if tap > 0.0 {
        format!("+{}", figure(tap))
    } else {
        figure(tap)
    }
}

/// What dial and lamp say of neutral, and whether both show it.
fn shown(case: &Case<'_>) -> (String, bool) {
    let tap = case.number("tap");
    let lamp = case.text("neutral_lamp");
    let words = format!(
        "dial {}, lamp {}",
        tap.map_or("not read".to_string(), dial),
        lamp.unwrap_or("not read")
    );
    (words, tap == Some(0.0) && lamp == Some("lit"))
}

fn neutral(case: &Case<'_>) -> Vec<Said> {
    let (Some(tap), Some(lamp)) = (case.number("tap"), case.text("neutral_lamp")) else {
        return Vec::new();
    };
    let at_neutral = tap == 0.0;
    let disagree = matches!((lamp, at_neutral), ("lit", false) | ("off", true));
    if !disagree {
        return Vec::new();
    }
    let (words, _) = shown(case);
    vec![
        Said::stop(format!(
            "dial and neutral lamp disagree ({words}): neutral is not shown. Do not close the bypass, treat the tap as unknown; tell control"
        ))
        .capping(&[Question::Carry])
        .proposing(
            Priority::Soon,
            "neutral not shown: tell control; qualified people find out whether the dial or the lamp is wrong",
        ),
    ]
}

fn found_closed(case: &Case<'_>) -> Vec<Said> {
    if case.is("bypass", "closed") {
        off_neutral(case, "found")
    } else {
        Vec::new()
    }
}

/// The state on record says bypassed, and the tap was read.
fn recorded_closed(case: &Case<'_>) -> Vec<Said> {
    if case.subject.bypassed && case.text("bypass").is_none() {
        off_neutral(case, "recorded")
    } else {
        Vec::new()
    }
}

fn off_neutral(case: &Case<'_>, how: &str) -> Vec<Said> {
    let (words, both) = shown(case);
    if both {
        return vec![
            Said::look(format!(
                "bypass closed, neutral shown by dial and lamp when read ({words}): it regulates nothing, and a tap that moves short-circuits part of the winding; control off and motor fuse out are not shown here. Ask control"
            ))
            .lasting(),
        ];
    }
    let off = match case.number("tap") {
        Some(tap) if tap != 0.0 => "off neutral",
        _ => "and neutral not shown by both",
    };
    vec![
        Said::stop(format!(
            "bypass {how} closed {off} ({words}): part of the series winding may be short-circuited. Keep clear; do not operate it; tell control"
        ))
        .capping(&[Question::Carry, Question::Stand])
        .proposing(
            Priority::Urgent,
            "bypass closed off neutral: tell control at once; qualified people take it out of service",
        ),
    ]
}

fn bypassed(case: &Case<'_>) -> Vec<Said> {
    if !case.is("bypass", "closed") {
        return Vec::new();
    }
    let record = if case.subject.bypassed {
        "the state on record says so too"
    } else {
        "the state on record does not say so"
    };
    vec![
        Said::stop(format!(
            "bypass found closed: this device interrupts nothing; {record}. Tell control"
        ))
        .capping(&[
            Question::Ride,
            Question::Break,
            Question::See,
            Question::Last,
        ]),
    ]
}
