//! Stand, further: closing onto a fault, its first peak, its short time, the
//! impulse level, capacitors and arresters. The rules about making, peak,
//! short time and impulse speak only where the plate has the rating.

use super::bound::{Ask, Bound, Compare, short};
use super::carry::rating;
use super::choices::{TIGHT, TIGHT_KV, VOLTAGE_RANGE};
use super::facts::{Part, Subject};
use super::stand::system_kv;
use super::{Case, Rule, unit};
use crate::domain::asset::{Class, Grounding};
use crate::domain::fault::{first_peak, rms_half_cycle};
use crate::domain::finding::{Finding, Question, RuleStanding};
use crate::units::figure;

const fn rule(
    name: &'static str,
    on: &'static [Part],
    needs: &'static [&'static str],
    formula: &'static str,
    (source, standing): (&'static str, RuleStanding),
    choices: &'static [&'static str],
    judge: fn(&'static Rule, &Case<'_>, &Subject<'_>) -> Option<Finding>,
) -> Rule {
    Rule {
        name,
        question: Question::Stand,
        on,
        needs,
        formula,
        source,
        standing,
        choices,
        judge,
    }
}

const CLOSING: &[Part] = &[
    unit(Class::Recloser),
    unit(Class::Breaker),
    unit(Class::Switch),
    unit(Class::Sectionalizer),
];

/// IEEE 18: the continuous limit of the rms voltage of a capacitor.
const CAPACITOR_VOLTAGE: f64 = 1.10;

pub static RULES: &[Rule] = &[
    rule(
        "stand-making",
        CLOSING,
        &["fault", "making_amps", "system X/R (worst bound without)"],
        "fault x sqrt(1 + 2 exp(-2 pi / (X/R))) <= making current, rms",
        (
            "a recloser maker's technical data: making rms 1.6 times the symmetrical rating; the factor is that of a published handbook table",
            RuleStanding::Read,
        ),
        &[TIGHT],
        |rule, case, subject| passing(rule, case, subject, "making_amps", "making"),
    ),
    rule(
        "stand-peak",
        CLOSING,
        &["fault", "peak_amps", "system X/R (worst bound without)"],
        "fault x first peak of a fault struck at voltage zero <= peak current",
        (
            "a recloser maker's technical data: peak 2.6 times the symmetrical rating; the factor is that of a published handbook table",
            RuleStanding::Read,
        ),
        &[TIGHT],
        |rule, case, subject| passing(rule, case, subject, "peak_amps", "peak"),
    ),
    rule(
        "stand-short-time",
        &[
            unit(Class::Switch),
            unit(Class::Sectionalizer),
            unit(Class::Regulator),
        ],
        &["fault", "short_time_amps", "short_time_s", "clearing time"],
        "fault, symmetrical <= short-time current, and cleared within its time, every trip of the sequence counted",
        ("common practice, no source", RuleStanding::CommonPractice),
        &[TIGHT],
        |rule, case, subject| passing(rule, case, subject, "short_time_amps", "short time"),
    ),
    rule(
        "stand-bil",
        &[unit(Class::Recloser)],
        &["bil_kv", "feeder voltage, or the voltage typed"],
        "BIL >= 110 kV up to 15.5 kV of system voltage, 125 kV up to 27 kV, 170 kV up to 38 kV; small single-phase units of 15.5 kV may have 95 kV and some of 38 kV 150 kV: then in doubt; no list up to 8.25 kV",
        (
            "a recloser maker's technical data for 15.5 to 38 kV (read); the 95 kV of small single-phase units is from memory",
            RuleStanding::Read,
        ),
        &[TIGHT],
        impulse,
    ),
    rule(
        "stand-capacitor",
        &[unit(Class::Capacitor)],
        &["feeder voltage, or the voltage typed", "nominal_kv"],
        "greatest voltage across a unit, line to ground or line to line <= 110 % of its rated voltage",
        (
            "IEEE 18-2002 limits as quoted by a trade portal: 110 % rms voltage, for contingencies and not for design",
            RuleStanding::Read,
        ),
        &[TIGHT_KV, VOLTAGE_RANGE],
        capacitor,
    ),
    rule(
        "stand-arrester",
        &[unit(Class::Arrester)],
        &[
            "feeder voltage, or the voltage typed",
            "grounding",
            "mcov_kv",
        ],
        "MCOV >= greatest voltage line to ground on a multigrounded system, line to line on any other; overvoltage during a ground fault is held against a curve that the record lacks",
        (
            "an arrester maker's selection chart and a tutorial on arrester data: MCOV governs, not the duty-cycle rating",
            RuleStanding::Read,
        ),
        &[TIGHT_KV, VOLTAGE_RANGE],
        arrester,
    ),
];

fn passing(
    rule: &'static Rule,
    case: &Case<'_>,
    subject: &Subject<'_>,
    key: &str,
    label: &str,
) -> Option<Finding> {
    subject.recorded(key)?;
    let given = case.asked.fault.as_ref();
    let xr = given.and_then(|g| g.x_over_r).unwrap_or(f64::INFINITY);
    let (factor, what) = match key {
        "making_amps" => (rms_half_cycle(xr), "asymmetrical rms"),
        "peak_amps" => (first_peak(xr), "first peak"),
        _ => (1.0, "symmetrical"),
    };
    let words = given.map_or_else(
        || "fault current neither recorded nor typed".to_string(),
        |g| {
            format!(
                "fault {} A ({}) x {} = {} A {what}",
                short(g.amps),
                g.origin,
                short(factor),
                short(g.amps * factor)
            )
        },
    );
    let mut bound = rating(subject, key, label, "A");
    if key == "short_time_amps" {
        let time = rating(subject, "short_time_s", "its time", "s");
        bound = bound.doubted(
            format!(
                "the whole sequence is cleared within {}, and no clearing time is on record",
                time.words
            ),
            "time-current curve of the device that clears for it",
        );
    }
    let note = match given.and_then(|g| g.x_over_r) {
        Some(xr) => format!("System X/R {}.", figure(xr)),
        None if given.is_some() => "System X/R missing, so the worst bound.".to_string(),
        None => String::new(),
    };
    Some(
        Compare {
            rule,
            case,
            subject,
            unit: "A",
            ask: Ask {
                what: "fault",
                value: given.map(|g| g.amps * factor),
                words,
                read: "available fault current: a study, or type it".to_string(),
                doubts: Vec::new(),
            },
            bound,
            tight_percent: case.choices.tight_percent(),
            at_least: false,
            note,
        }
        .finding(),
    )
}

/// BIL of reclosers as listed for a range of system voltage: the figure that
/// meets every list, and the lower one that some units have and why.
struct ListedBil {
    kv: f64,
    lower_kv: f64,
    lower_if: &'static str,
}

/// By the greatest system voltage in kV. Below 8.25 kV no list was read.
fn listed_bil(system_kv: f64) -> Option<ListedBil> {
    let row = |kv, lower_kv, lower_if| ListedBil {
        kv,
        lower_kv,
        lower_if,
    };
    match system_kv {
        v if v <= 8.25 => None,
        v if v <= 15.5 => Some(row(110.0, 95.0, "it is a small single-phase unit")),
        v if v <= 27.0 => Some(row(125.0, 125.0, "")),
        v if v <= 38.0 => Some(row(170.0, 150.0, "its list is one that has 150 kV")),
        _ => None,
    }
}

fn impulse(rule: &'static Rule, case: &Case<'_>, subject: &Subject<'_>) -> Option<Finding> {
    subject.recorded("bil_kv")?;
    let system = system_kv(case);
    let plate = rating(subject, "bil_kv", "BIL", "kV");
    let listed = system.value.and_then(listed_bil);
    let lower = |l: &ListedBil| plate.value.is_some_and(|b| (l.lower_kv..l.kv).contains(&b));
    let mut bound = Bound {
        value: listed
            .as_ref()
            .map(|l| if lower(l) { l.lower_kv } else { l.kv }),
        words: listed.as_ref().map_or_else(
            || format!("no listed BIL for {}", system.words),
            |l| format!("{} kV listed for {}", short(l.kv), system.words),
        ),
        doubts: system.doubts,
        read: Some(system.read),
    };
    if let Some(l) = listed.as_ref().filter(|l| lower(l)) {
        bound = bound.doubted(l.lower_if, "frame of the recloser");
    }
    Some(
        Compare {
            rule,
            case,
            subject,
            unit: "kV",
            ask: Ask {
                what: "BIL",
                value: plate.value,
                words: plate.words,
                read: plate.read.unwrap_or_default(),
                doubts: plate.doubts,
            },
            bound,
            // The listed figure is the rating itself: meeting it is enough.
            tight_percent: 0.0,
            at_least: true,
            note: "Other makers' lists may differ.".to_string(),
        }
        .finding(),
    )
}

/// The greatest voltage line to ground when the system is multigrounded or
/// when `line_to_ground` is asked for, else line to line.
fn across(case: &Case<'_>, line_to_ground: bool) -> Ask {
    let mut ask = system_kv(case);
    if let (Some(line), true) = (ask.value, line_to_ground) {
        let ground = line / 3.0_f64.sqrt();
        ask.value = Some(ground);
        ask.words = format!(
            "{} / 1.732 = {} kV line to ground",
            ask.words,
            short(ground)
        );
    }
    ask
}

fn capacitor(rule: &'static Rule, case: &Case<'_>, subject: &Subject<'_>) -> Option<Finding> {
    let rated = rating(subject, "nominal_kv", "rated", "kV");
    let limit = rated.value.map(|kv| kv * CAPACITOR_VOLTAGE);
    let mut ask = across(case, false);
    // Line to line is the harder case. Where it would fail, the bank may stand
    // line to ground; the record does not say how it is connected.
    if let (Some(line), Some(limit)) = (ask.value, limit)
        && line > limit
    {
        ask = across(case, true);
        ask.doubts.push(
            "the bank is in wye with its neutral grounded, which the record does not say"
                .to_string(),
        );
    }
    ask.read = format!("how {} is connected; feeder voltage", subject.called);
    Some(
        Compare {
            rule,
            case,
            subject,
            unit: "kV",
            ask,
            bound: rated.times(CAPACITOR_VOLTAGE, "x 110 %", "kV"),
            tight_percent: case.choices.tight_kv_percent(),
            at_least: false,
            note: "A limit for contingencies, not for design.".to_string(),
        }
        .finding(),
    )
}

fn arrester(rule: &'static Rule, case: &Case<'_>, subject: &Subject<'_>) -> Option<Finding> {
    let mcov = rating(subject, "mcov_kv", "MCOV", "kV");
    let multigrounded = case.facts.grounding == Some(Grounding::Multigrounded);
    let unknown = case.facts.grounding.is_none();
    let mut ask = across(case, multigrounded);
    if unknown && ask.value.zip(mcov.value).is_some_and(|(v, m)| v > m) {
        ask = across(case, true);
        ask.doubts
            .push("the system is multigrounded, which the record does not say".to_string());
    }
    Some(
        Compare {
            rule,
            case,
            subject,
            unit: "kV",
            ask,
            bound: mcov.doubted(
                "it also outlasts the overvoltage of a ground fault, and its overvoltage curve is not on record",
                format!("overvoltage curve of {}", subject.called),
            ),
            tight_percent: case.choices.tight_kv_percent(),
            at_least: false,
            note: "The duty-cycle rating is another figure and takes no part.".to_string(),
        }
        .finding(),
    )
}
