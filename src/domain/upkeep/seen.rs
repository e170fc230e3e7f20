//! What is seen and measured from outside: porcelain, bonds, guards, cans,
//! fuses, disconnectors, batteries, and the plain result.

use super::{Case, PRACTICE, Rule, Said};
use crate::domain::asset::Class::{Arrester, Breaker, Capacitor, Cutout, Recloser};
use crate::domain::asset::{Class, Defect, Priority};
use crate::domain::finding::Question;
use crate::domain::finding::RuleStanding::{CommonPractice, Read};
use crate::units::figure;

const fn rule(
    name: &'static str,
    reads: &'static [&'static str],
    on: &'static [Class],
    judge: fn(&Case<'_>) -> Vec<Said>,
) -> Rule {
    Rule {
        name,
        reads,
        all: false,
        on,
        source: PRACTICE,
        standing: CommonPractice,
        judge,
    }
}

pub(super) static RULES: &[Rule] = &[
    Rule {
        source: "press reports of porcelain cutouts that broke when pulled or closed",
        standing: Read,
        ..rule("porcelain", &["bushings"], &[], porcelain)
    },
    rule("insulator", &["insulator"], &[], insulator),
    rule("ground-bond", &["ground_bond"], &[], ground_bond),
    rule("animal-guard", &["animal_guard"], &[], animal_guard),
    rule("capacitor-can", &["cans"], &[Capacitor], cans),
    Rule {
        source: "a military manual on capacitors (MO-116)",
        standing: Read,
        ..rule("capacitor-heat", &["can_c"], &[Capacitor], can_heat)
    },
    rule("fuse-blown", &["fuses"], &[Capacitor, Cutout], fuses),
    rule("cutout-door", &["door"], &[Cutout], door),
    rule("link-changed", &["link_put"], &[Cutout], link),
    rule(
        "arrester-disconnector",
        &["disconnector"],
        &[Arrester],
        disconnector,
    ),
    rule(
        "control-battery",
        &["battery_volts"],
        &[Recloser, Breaker],
        battery,
    ),
    rule("test-result", &["result"], &[], result),
    rule("condition", &["condition"], &[], condition),
    rule(
        "opened-and-closed",
        &["opened_and_closed"],
        &[],
        opened_and_closed,
    ),
];

fn porcelain(case: &Case<'_>) -> Vec<Said> {
    let cutout = case.subject.class == Some(Cutout);
    let (what, defect) = match case.subject.class {
        Some(Cutout) => ("porcelain", Defect::CrackedPorcelain),
        Some(Arrester) => ("housing", Defect::CrackedPorcelain),
        _ => ("bushing", Defect::BushingDamaged),
    };
    match case.text("bushings") {
        Some("cracked") => vec![Said::defect(&format!("{what} cracked"), defect).proposing(
            Priority::Urgent,
            format!("{what} cracked: tell control; replace it de-energized, by qualified people"),
        )],
        Some("chipped") => vec![
            Said::look(format!(
                "{what} chipped: look for a crack{}",
                if cutout {
                    " before it is pulled or closed"
                } else {
                    ""
                }
            ))
            .lasting()
            .proposing(
                Priority::Planned,
                format!("{what} chipped: look for a crack, judge it"),
            ),
        ],
        _ => Vec::new(),
    }
}

fn insulator(case: &Case<'_>) -> Vec<Said> {
    match case.text("insulator") {
        Some("broken") => vec![
            Said::defect("insulator broken", Defect::CrackedPorcelain).proposing(
                Priority::Urgent,
                "porcelain broken: tell control; replace the insulator de-energized, by qualified people",
            ),
        ],
        Some("chipped") => vec![
            Said::look("insulator chipped: look for a crack")
                .lasting()
                .proposing(Priority::Planned, "insulator chipped: look for a crack, judge it"),
        ],
        _ => Vec::new(),
    }
}

fn ground_bond(case: &Case<'_>) -> Vec<Said> {
    let Some(found @ ("damaged" | "cut" | "missing")) = case.text("ground_bond") else {
        return Vec::new();
    };
    vec![
        Said::defect(&format!("ground bond {found}"), Defect::GroundBondDamaged).proposing(
            Priority::Urgent,
            format!("ground bond {found}: tell control; renew it by the local procedure for a bond that may be live"),
        ),
    ]
}

fn animal_guard(case: &Case<'_>) -> Vec<Said> {
    let Some(found @ ("none" | "damaged")) = case.text("animal_guard") else {
        return Vec::new();
    };
    let read = match found {
        "none" => "no animal guard",
        _ => "animal guard damaged",
    };
    vec![Said::defect(read, Defect::AnimalGuardMissing).proposing(
        Priority::Whenever,
        "animal guard: fit one at the next visit",
    )]
}

fn cans(case: &Case<'_>) -> Vec<Said> {
    let Some(found @ ("bulged" | "leaking")) = case.text("cans") else {
        return Vec::new();
    };
    let which = match case.text("which_can") {
        Some(which) => format!("can {which} {found}"),
        None => format!("a can {found}"),
    };
    vec![
        Said::defect(&which, Defect::CanBulged).proposing(
            Priority::Urgent,
            "can bulged or leaking: ask the control centre to have the bank taken out of service by qualified people; wait and discharge by the local procedure; read the PCB label; replace the can",
        ),
    ]
}

fn can_heat(case: &Case<'_>) -> Vec<Said> {
    let limits = &case.subject.limits;
    let (Some(c), Some((look, ..)), Some((never, ..))) = (
        case.number("can_c"),
        limits.get("can_case_investigate_c"),
        limits.get("can_case_never_c"),
    ) else {
        return Vec::new();
    };
    if c > never {
        return vec![
            Said::stop(format!(
                "can at {} °C, never to be above {} °C: it can burst, keep clear; tell control",
                figure(c),
                figure(never)
            ))
            .capping(&[Question::Carry, Question::Stand])
            .proposing(
                Priority::Urgent,
                "can too hot: ask the control centre to have the bank taken out of service by qualified people; find the cause",
            ),
        ];
    }
    if c > look {
        return vec![
            Said::look(format!(
                "can at {} °C, above {} °C: the cause is to be found",
                figure(c),
                figure(look)
            ))
            .lasting()
            .proposing(Priority::Soon, "can hot: find the cause"),
        ];
    }
    Vec::new()
}

fn fuses(case: &Case<'_>) -> Vec<Said> {
    let Some(found @ ("one blown" | "several blown")) = case.text("fuses") else {
        return Vec::new();
    };
    let text = if case.subject.class == Some(Capacitor) {
        format!(
            "capacitor fuses: {found}. Its can may hold charge: treat as charged; find the cause before another fuse is put in"
        )
    } else {
        format!(
            "fuses: {found}. What lies beyond may be live from elsewhere: treat both ends as live; find the cause before another link is put in"
        )
    };
    vec![
        Said::look(text)
            .lasting()
            .proposing(Priority::Soon, "fuse blown: find the cause, replace it"),
    ]
}

fn door(case: &Case<'_>) -> Vec<Said> {
    match case.text("door") {
        Some("hung up") => vec![
            Said::stop("fuse blown and its door hung up: tube and ends may be live and tracking; keep clear; tell control")
                .capping(&[Question::Carry, Question::Break, Question::Stand])
                .proposing(Priority::Urgent, "cutout door hung up: tell control; replace the tube"),
        ],
        Some("open") => vec![
            Said::look("fuse door found open: both ends may be live; a tube left open outdoors swells and may not close well. Ask control").lasting(),
        ],
        _ => Vec::new(),
    }
}

fn link(case: &Case<'_>) -> Vec<Said> {
    match (case.text("link_found"), case.text("link_put")) {
        (Some(found), Some(put)) if !found.eq_ignore_ascii_case(put) => vec![
            Said::look(format!(
                "link {found} found, {put} put in: another link than before; the record of the cutout and its coordination are to be looked at"
            ))
            .proposing(Priority::Soon, format!("link changed from {found} to {put}: check which is right")),
        ],
        _ => Vec::new(),
    }
}

fn disconnector(case: &Case<'_>) -> Vec<Said> {
    let Some(found @ ("dropped" | "missing")) = case.text("disconnector") else {
        return Vec::new();
    };
    vec![
        Said::defect(
            &format!("ground lead disconnector {found}"),
            Defect::ArresterFailed,
        )
        .proposing(Priority::Soon, "arrester failed: replace it"),
    ]
}

/// Nominal voltages of control batteries, common practice.
const NOMINAL_V: &[f64] = &[12.0, 24.0, 48.0, 125.0];

fn battery(case: &Case<'_>) -> Vec<Said> {
    let (Some(volts), Some((share, ..))) = (
        case.number("battery_volts"),
        case.subject.limits.get("battery_low_share"),
    ) else {
        return Vec::new();
    };
    // A charged battery reads up to a quarter above its nominal voltage.
    let Some(nominal) = NOMINAL_V.iter().find(|n| volts <= **n * 1.25) else {
        return Vec::new();
    };
    if volts >= nominal * share {
        return Vec::new();
    }
    vec![
        Said::defect(
            &format!(
                "battery {} V, taken as a {} V one",
                figure(volts),
                figure(*nominal)
            ),
            Defect::BatteryLow,
        )
        .proposing(
            Priority::Soon,
            "battery low: test it under load, renew it, look at the charger",
        ),
    ]
}

fn result(case: &Case<'_>) -> Vec<Said> {
    let failed = case.is("result", "failed")
        || (case.is("result", "reject") && case.subject.class.is_some());
    // The oil rule speaks of an oil test; a failed pole is judged as a pole.
    if !failed || case.subject.class.is_none() && case.is("result", "reject") {
        return Vec::new();
    }
    vec![
        Said::defect(
            &format!(
                "{}: {}",
                case.entry.entry,
                case.text("result").unwrap_or_default()
            ),
            Defect::TestFailed,
        )
        .proposing(
            Priority::Soon,
            "test failed: qualified people judge the result",
        ),
    ]
}

fn condition(case: &Case<'_>) -> Vec<Said> {
    let Some(condition) = case.number("condition") else {
        return Vec::new();
    };
    // Scales run both ways: the figure never stands without its word.
    let word = match condition {
        c if c >= 5.0 => "failing",
        c if c >= 4.0 => "poor",
        _ => return Vec::new(),
    };
    let priority = match word {
        "failing" => Priority::Soon,
        _ => Priority::Planned,
    };
    vec![
        Said::look(format!(
            "condition {} ({word}), on the scale from 1 (as new) to 5 (failing)",
            figure(condition)
        ))
        .lasting()
        .proposing(
            priority,
            format!("condition {word}: look at it, plan the repair"),
        ),
    ]
}

fn opened_and_closed(case: &Case<'_>) -> Vec<Said> {
    if !case.is("opened_and_closed", "no") {
        return Vec::new();
    }
    vec![
        Said::look("did not open and close: do not count on it to open; tell control")
            .capping(&[Question::Break])
            .proposing(Priority::Soon, "did not open and close: find the cause"),
    ]
}
