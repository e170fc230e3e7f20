//! Stand: the fault that passes through what does not clear it, and closing
//! onto it. Making, peak and short time speak only where the plate has the
//! rating; what it lacks is said under what is not judged.

use super::bound::{Ask, Compare, short};
use super::carry::rating;
use super::facts::{Part, Subject};
use super::timing::fault_on_s;
use super::{Case, Rule, element, unit};
use crate::domain::asset::{Class, ElementKind};
use crate::domain::fault::{first_peak, older_breaker_factor, rms_half_cycle};
use crate::domain::finding::{Finding, Question, RuleStanding};
use crate::units::figure;

const CLOSING: &[Part] = &[
    unit(Class::Recloser),
    unit(Class::Breaker),
    unit(Class::Switch),
    unit(Class::Sectionalizer),
];

pub static RULES: &[Rule] = &[
    Rule {
        name: "stand-momentary",
        on: &[
            unit(Class::Switch),
            unit(Class::Sectionalizer),
            unit(Class::Regulator),
            element(ElementKind::Switch),
        ],
        needs: &[
            "fault",
            "momentary_amps",
            "system X/R (worst bound without)",
        ],
        formula: "fault x sqrt(1 + 2 exp(-2 pi / (X/R))) <= momentary rating",
        source: "that a momentary rating is asymmetrical rms is from memory; the factor is that of a published handbook table",
        standing: RuleStanding::FromMemory,
        rests_on: &["momentary_amps"],
        example: r#"{"class": "switch", "plate": {"continuous_amps": 400, "momentary_amps": 20000}, "fault": 8000, "x_over_r": 6.2}"#,
        judge: |rule, case, subject| {
            let silent = subject.recorded("momentary_amps").is_none();
            if silent && subject.part == unit(Class::Regulator) {
                return None;
            }
            rated(rule, case, subject, "momentary_amps", "momentary")
        },
        ..Rule::of(Question::Stand)
    },
    Rule {
        name: "stand-momentary-older-breaker",
        on: &[unit(Class::Breaker)],
        needs: &[
            "fault",
            "momentary_amps",
            "system X/R (worst bound without)",
        ],
        formula: "fault x 1.6 up to X/R 25, x sqrt(1 + 2 exp(-2 pi / (X/R))) above <= momentary rating; breakers on the older basis have one",
        source: "a trade series on short-circuit duties: close-and-latch duty 1.6 x while X/R <= 25",
        standing: RuleStanding::Read,
        rests_on: &["momentary_amps"],
        example: r#"{"class": "breaker", "plate": {"continuous_amps": 1200, "momentary_amps": 20000}, "fault": 8920, "x_over_r": 20}"#,
        judge: |rule, case, subject| {
            subject.recorded("momentary_amps")?;
            let given = case.asked.fault.as_ref();
            let xr = given.and_then(|g| g.x_over_r).unwrap_or(f64::INFINITY);
            let ask = fault_passing(case, subject, older_breaker_factor(xr), "asymmetrical");
            compare(rule, case, subject, ask, "momentary_amps", "momentary")
        },
        ..Rule::of(Question::Stand)
    },
    Rule {
        name: "stand-making",
        on: CLOSING,
        needs: &["fault", "making_amps", "system X/R (worst bound without)"],
        formula: "fault x sqrt(1 + 2 exp(-2 pi / (X/R))) <= making current, rms",
        source: "a recloser maker's technical data: making rms 1.6 times the symmetrical rating; the factor is that of a published handbook table",
        standing: RuleStanding::Read,
        rests_on: &["making_amps"],
        example: r#"{"class": "recloser", "plate": {"control": "electronic", "continuous_amps": 630, "making_amps": 20000}, "fault": 9000, "x_over_r": 10}"#,
        judge: |rule, case, subject| {
            subject.recorded("making_amps")?;
            rated(rule, case, subject, "making_amps", "making")
        },
        ..Rule::of(Question::Stand)
    },
    Rule {
        name: "stand-peak",
        on: CLOSING,
        needs: &["fault", "peak_amps", "system X/R (worst bound without)"],
        formula: "fault x first peak of a fault struck at voltage zero <= peak current",
        source: "a recloser maker's technical data: peak 2.6 times the symmetrical rating; the factor is that of a published handbook table",
        standing: RuleStanding::Read,
        rests_on: &["peak_amps"],
        example: r#"{"class": "recloser", "plate": {"control": "electronic", "continuous_amps": 630, "peak_amps": 32500}, "fault": 9000, "x_over_r": 10}"#,
        judge: |rule, case, subject| {
            subject.recorded("peak_amps")?;
            let xr = case.asked.fault.as_ref().and_then(|g| g.x_over_r);
            let factor = first_peak(xr.unwrap_or(f64::INFINITY));
            let ask = fault_passing(case, subject, factor, "first peak");
            compare(rule, case, subject, ask, "peak_amps", "peak")
        },
        ..Rule::of(Question::Stand)
    },
    Rule {
        name: "stand-short-time",
        on: &[
            unit(Class::Switch),
            unit(Class::Sectionalizer),
            unit(Class::Regulator),
        ],
        needs: &[
            "fault",
            "short_time_amps",
            "short_time_s",
            "fault-on time of the sequence",
        ],
        formula: "fault, symmetrical x sqrt(fault-on time / rated time), at least 1 <= short-time current; every trip of the sequence counted, no cooling between",
        rests_on: &["short_time_amps", "short_time_s"],
        example: r#"{"class": "switch", "plate": {"continuous_amps": 400, "momentary_amps": 20000, "short_time_amps": 12500, "short_time_s": 1}, "fault": 6000, "x_over_r": 5, "fault_on_s": 1.4}"#,
        judge: short_time,
        ..Rule::of(Question::Stand)
    },
];

/// The fault that passes, times a factor; near a delta / grounded-wye source
/// the line-ground one, and with the same doubts about its kind.
pub(super) fn fault_passing(
    case: &Case<'_>,
    subject: &Subject<'_>,
    factor: f64,
    what: &str,
) -> Ask {
    let mut ask = super::break_::fault(case, subject);
    let Some(amps) = ask.value else {
        return ask;
    };
    if (factor - 1.0).abs() > 1e-12 {
        ask.value = Some(amps * factor);
        ask.words = format!(
            "{} x {} = {} A {what}",
            ask.words,
            short(factor),
            short(amps * factor)
        );
    }
    ask
}

fn compare(
    rule: &'static Rule,
    case: &Case<'_>,
    subject: &Subject<'_>,
    ask: Ask,
    key: &str,
    label: &str,
) -> Option<Finding> {
    let given = case.asked.fault.as_ref();
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
            ask,
            bound: rating(subject, key, label, "A"),
            tight_percent: case.choices.tight_percent(),
            at_least: false,
            note,
        }
        .finding(),
    )
}

/// Held against a rating in asymmetrical rms.
fn rated(
    rule: &'static Rule,
    case: &Case<'_>,
    subject: &Subject<'_>,
    key: &str,
    label: &str,
) -> Option<Finding> {
    let xr = case.asked.fault.as_ref().and_then(|g| g.x_over_r);
    let factor = rms_half_cycle(xr.unwrap_or(f64::INFINITY));
    let ask = fault_passing(case, subject, factor, "asymmetrical rms");
    compare(rule, case, subject, ask, key, label)
}

fn short_time(rule: &'static Rule, case: &Case<'_>, subject: &Subject<'_>) -> Option<Finding> {
    subject.recorded("short_time_amps")?;
    let rated_s = rating(subject, "short_time_s", "its time", "s");
    let time = fault_on_s(case, subject);
    let stretch = match (time.as_ref().and_then(|t| t.value), rated_s.value) {
        (Some(on), Some(rated)) => (on / rated).sqrt().max(1.0),
        _ => 1.0,
    };
    let mut ask = fault_passing(case, subject, stretch, "symmetrical, over its time");
    let mut bound = rating(subject, "short_time_amps", "short time", "A");
    bound.words = format!("{}, {}", bound.words, rated_s.words);
    bound.doubts.extend(rated_s.doubts);
    bound.read = bound.read.or(rated_s.read);
    if rated_s.value.is_none() {
        bound.value = None;
    }
    match time {
        Some(time) => {
            ask.words = format!("{} ({})", ask.words, time.words);
            ask.doubts.extend(time.doubts);
        }
        None => {
            bound = bound.doubted(
                "the whole sequence is cleared within that time, and no fault-on time is known",
                "time-current curve of the device that clears for it",
            );
        }
    }
    Some(
        Compare {
            rule,
            case,
            subject,
            unit: "A",
            ask,
            bound,
            tight_percent: case.choices.tight_percent(),
            at_least: false,
            note: String::new(),
        }
        .finding(),
    )
}
