//! Step regulators: what they carry by their range limit, and the fault that
//! passes through them.

use super::bound::{Ask, Bound, Compare, short};
use super::carry::{held, rating};
use super::facts::Subject;
use super::passing::fault_passing;
use super::timing::fault_on_s;
use super::{Case, Rule, unit};
use crate::domain::asset::{Class, Standing};
use crate::domain::finding::{Finding, Question, RuleStanding};

pub static RULES: &[Rule] = &[
    Rule {
        name: "carry-regulator",
        on: &[unit(Class::Regulator)],
        needs: &[
            "load",
            "continuous_amps",
            "raise_limit_percent and lower_limit_percent (100 % without)",
        ],
        formula: "load <= rated x (10 %: 100, 8.75: 110, 7.5: 120, 6.25: 135, 5: 160 %) by the larger of raise and lower, at most 668 A unless the plate says otherwise",
        source: "two regulator makers' instruction pages: supplementary current by range, cap 668 A; the larger limit counts by common practice",
        standing: RuleStanding::Read,
        rests_on: &["continuous_amps", "cap_amps"],
        example: r#"{"class": "regulator", "phases": "A", "plate": {"continuous_amps": 219}, "settings": {"raise_limit_percent": 5, "lower_limit_percent": 5}, "load": 300}"#,
        judge: regulator,
        ..Rule::of(Question::Carry)
    },
    Rule {
        name: "stand-regulator-through",
        on: &[unit(Class::Regulator)],
        needs: &["fault", "continuous_amps", "fault-on time of the sequence"],
        formula: "fault, symmetrical <= 25 x rated current x sqrt(2 s / fault-on time), at most 25 x; without a fault-on time only a fault above 25 x is judged",
        source: "25 times rated for 2 s: from memory, unconfirmed; that heating goes by current squared times time is common practice",
        standing: RuleStanding::FromMemory,
        rests_on: &["continuous_amps"],
        example: r#"{"class": "regulator", "phases": "A", "plate": {"continuous_amps": 219}, "fault": 2000, "x_over_r": 5, "fault_on_s": 1.2}"#,
        judge: through,
        ..Rule::of(Question::Stand)
    },
];

/// Steps of the range limit, percent, with the share of rated current.
const SUPPLEMENTARY: &[(f64, f64)] = &[(5.0, 1.6), (6.25, 1.35), (7.5, 1.2), (8.75, 1.1)];
/// Greatest current by supplementary rating unless the plate gives another.
const REGULATOR_CAP_AMPS: f64 = 668.0;

fn supplementary(range_percent: f64) -> f64 {
    SUPPLEMENTARY
        .iter()
        .find(|(percent, _)| range_percent <= *percent + 1e-9)
        .map_or(1.0, |(_, factor)| *factor)
}

/// What a regulator of `rated` amperes carries at a range limit, capped at 668 A;
/// at 10 % its rating.
#[must_use]
pub fn supplementary_amps(rated: f64, range_percent: f64) -> f64 {
    if rated >= REGULATOR_CAP_AMPS {
        return rated;
    }
    (rated * supplementary(range_percent)).min(REGULATOR_CAP_AMPS)
}

/// A common size: rated kV, kVA, and amperes at 10, 8.75, 7.5, 6.25 and 5 %.
pub type RegulatorSize = (f64, f64, [f64; 5]);

/// Common sizes as remembered; currents agree with kVA / (kV x 0.1). Rounding
/// of half amperes differs between tables.
pub static REGULATOR_SIZES: &[RegulatorSize] = &[
    (2.5, 50.0, [200.0, 220.0, 240.0, 270.0, 320.0]),
    (2.5, 100.0, [400.0, 440.0, 480.0, 540.0, 640.0]),
    (2.5, 167.0, [668.0, 668.0, 668.0, 668.0, 668.0]),
    (5.0, 50.0, [100.0, 110.0, 120.0, 135.0, 160.0]),
    (5.0, 167.0, [334.0, 367.0, 401.0, 451.0, 534.0]),
    (5.0, 250.0, [500.0, 550.0, 600.0, 668.0, 668.0]),
    (7.62, 38.1, [50.0, 55.0, 60.0, 68.0, 80.0]),
    (7.62, 76.2, [100.0, 110.0, 120.0, 135.0, 160.0]),
    (7.62, 114.3, [150.0, 165.0, 180.0, 203.0, 240.0]),
    (7.62, 167.0, [219.0, 241.0, 263.0, 296.0, 350.0]),
    (7.62, 250.0, [328.0, 361.0, 394.0, 443.0, 525.0]),
    (7.62, 333.0, [438.0, 482.0, 526.0, 591.0, 668.0]),
    (7.62, 416.0, [546.0, 601.0, 655.0, 668.0, 668.0]),
    (7.62, 509.0, [668.0, 668.0, 668.0, 668.0, 668.0]),
    (14.4, 144.0, [100.0, 110.0, 120.0, 135.0, 160.0]),
    (14.4, 288.0, [200.0, 220.0, 240.0, 270.0, 320.0]),
    (14.4, 333.0, [231.0, 254.0, 277.0, 312.0, 370.0]),
    (14.4, 432.0, [300.0, 330.0, 360.0, 405.0, 480.0]),
    (14.4, 576.0, [400.0, 440.0, 480.0, 540.0, 640.0]),
    (19.92, 200.0, [100.4, 110.0, 120.0, 136.0, 161.0]),
    (19.92, 333.0, [167.0, 184.0, 200.0, 225.0, 267.0]),
    (19.92, 400.0, [201.0, 221.0, 241.0, 271.0, 322.0]),
];

fn regulator(rule: &'static Rule, case: &Case<'_>, subject: &Subject<'_>) -> Option<Finding> {
    let settings = &case.facts.position.settings;
    let limit = |key: &str| {
        let stated = settings.get(key)?;
        (stated.standing == Standing::Known).then(|| stated.as_number())?
    };
    let range = match (limit("raise_limit_percent"), limit("lower_limit_percent")) {
        (Some(raise), Some(lower)) => Some(raise.max(lower)),
        _ => None,
    };
    let factor = range.map_or(1.0, supplementary);
    let rated = rating(subject, "continuous_amps", "rated", "A");
    let cap = match subject.recorded("cap_amps") {
        Some(_) => rating(subject, "cap_amps", "cap", "A"),
        None => Bound {
            value: Some(REGULATOR_CAP_AMPS),
            words: "the cap of 668 A".to_string(),
            doubts: Vec::new(),
            read: None,
        },
    };
    let note = match range {
        Some(r) => format!("Range limited to {} %.", crate::units::figure(r)),
        None => "Range limits not known for certain: 100 %.".to_string(),
    };
    let bound = if factor > 1.0 && rated.value.is_some_and(|r| cap.value.is_none_or(|c| r < c)) {
        let words = format!("x {} %", crate::units::figure(factor * 100.0));
        rated.times(factor, &words, "A").least(cap)
    } else {
        rated.times(1.0, "x 100 %", "A")
    };
    held(rule, case, subject, bound, &note)
}

/// What a regulator stands of a passing fault: a multiple of rated current, for
/// so many seconds.
const THROUGH: (f64, f64) = (25.0, 2.0);

fn through(rule: &'static Rule, case: &Case<'_>, subject: &Subject<'_>) -> Option<Finding> {
    let (multiple, seconds) = THROUGH;
    let ask: Ask = fault_passing(case, subject, 1.0, "symmetrical");
    let rated = rating(subject, "continuous_amps", "rated", "A");
    let most = rated.times(multiple, &format!("x {}", short(multiple)), "A");
    let over = ask.value.zip(most.value).is_some_and(|(a, m)| a > m);
    let bound: Bound = match fault_on_s(case, subject) {
        Some(time) => {
            let share = time.value.map(|t| (seconds / t).sqrt().min(1.0));
            let words = format!("x sqrt({} s / {}), at most 1,", short(seconds), time.words);
            let mut bound = match share {
                Some(share) => most.times(share, &words, "A"),
                None => Bound {
                    value: None,
                    ..most
                },
            };
            bound.doubts.extend(time.doubts);
            bound.read = bound.read.or(time.read);
            bound
        }
        None if over => most,
        None => return None,
    };
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

#[cfg(test)]
mod tests {
    use super::*;

    /// From memory, a consistency test: kVA = kV x 0.1 x A, and every range by
    /// the shares and the cap that were read, within an ampere.
    #[test]
    fn consistency_common_sizes_follow_from_kva_and_the_shares() {
        for (kv, kva, amps) in REGULATOR_SIZES {
            let made = kva / (kv * 0.1);
            assert!((made / amps[0] - 1.0).abs() < 0.005, "{kv} kV {kva} kVA");
            for (percent, printed) in [10.0, 8.75, 7.5, 6.25, 5.0].iter().zip(amps) {
                let ours = supplementary_amps(amps[0], *percent);
                assert!(
                    (ours - printed).abs() <= 1.0,
                    "{kva} kVA at {percent}: {ours}"
                );
            }
        }
    }
}
