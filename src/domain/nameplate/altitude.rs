//! Altitude: above 1,000 m maximum voltage, BIL and continuous current of
//! switchgear are reduced. Interrupting current is not affected.

use super::bound::{Ask, Bound, Compare, short};
use super::carry::{held, rating};
use super::choices::{ELEVATION, TIGHT, TIGHT_KV, VOLTAGE_RANGE};
use super::facts::{Part, Subject};
use super::stand::system_kv;
use super::{Case, Rule, element, unit};
use crate::domain::asset::{Class, ElementKind};
use crate::domain::finding::{Finding, Question, RuleStanding, Verdict};

const ON: &[Part] = &[
    unit(Class::Recloser),
    unit(Class::Sectionalizer),
    unit(Class::Breaker),
];
const SOURCE: &str = "C37.60-1981 as quoted on a page of it: above 1,000 m BIL, maximum voltage and continuous current are multiplied, interrupting current is not; the factors are from memory, unconfirmed";

pub static RULES: &[Rule] = &[
    Rule {
        name: "carry-altitude",
        on: ON,
        needs: &[
            "load",
            "continuous_amps or coil_amps",
            "the utility's elevation",
        ],
        formula: "load <= continuous current x 1.00 at 1,000 m, 0.99 at 1,500 m, 0.96 at 3,000 m, straight between",
        source: SOURCE,
        standing: RuleStanding::FromMemory,
        choices: &[TIGHT, ELEVATION],
        rests_on: &["continuous_amps"],
        example: r#"{"class": "recloser", "plate": {"control": "electronic", "continuous_amps": 560}, "load": 400, "choices": {"elevation_metres": 1500}}"#,
        judge: carry,
        ..Rule::of(Question::Carry)
    },
    Rule {
        name: "stand-altitude",
        on: ON,
        needs: &["feeder voltage", "max_kv", "the utility's elevation"],
        formula: "greatest system voltage <= maximum voltage x 1.00 at 1,000 m, 0.95 at 1,500 m, 0.80 at 3,000 m, straight between",
        source: SOURCE,
        standing: RuleStanding::FromMemory,
        choices: &[TIGHT_KV, VOLTAGE_RANGE, ELEVATION],
        rests_on: &["max_kv"],
        example: r#"{"class": "recloser", "plate": {"control": "electronic", "continuous_amps": 560, "max_kv": 15.5}, "choices": {"elevation_metres": 1500}}"#,
        judge: voltage,
        ..Rule::of(Question::Stand)
    },
    Rule {
        name: "stand-altitude-bil",
        on: ON,
        needs: &["bil_kv", "feeder voltage", "the utility's elevation"],
        formula: "BIL x 1.00 at 1,000 m, 0.95 at 1,500 m, 0.80 at 3,000 m, straight between >= the least BIL listed for the class",
        source: SOURCE,
        standing: RuleStanding::FromMemory,
        choices: &[VOLTAGE_RANGE, ELEVATION],
        rests_on: &["bil_kv"],
        example: r#"{"class": "recloser", "plate": {"control": "electronic", "continuous_amps": 560, "bil_kv": 110}, "choices": {"elevation_metres": 1500}}"#,
        judge: bil,
        ..Rule::of(Question::Stand)
    },
    Rule {
        name: "carry-altitude-class",
        on: OTHERS,
        needs: &["the utility's elevation"],
        formula: NO_FACTOR,
        source: OTHERS_SOURCE,
        choices: &[ELEVATION],
        example: r#"{"class": "switch", "plate": {"continuous_amps": 400}, "load": 100, "choices": {"elevation_metres": 1500}}"#,
        judge: no_factor,
        ..Rule::of(Question::Carry)
    },
    Rule {
        name: "stand-altitude-class",
        on: OTHERS,
        needs: &["the utility's elevation"],
        formula: NO_FACTOR,
        source: OTHERS_SOURCE,
        choices: &[ELEVATION],
        example: r#"{"class": "switch", "plate": {"max_kv": 15.5}, "choices": {"elevation_metres": 1500}}"#,
        judge: no_factor,
        ..Rule::of(Question::Stand)
    },
];

/// Classes for which no altitude factor is on record.
const OTHERS: &[Part] = &[
    unit(Class::Cutout),
    unit(Class::Switch),
    unit(Class::Transformer),
    unit(Class::Regulator),
    element(ElementKind::Cutout),
    element(ElementKind::Switch),
];
const NO_FACTOR: &str =
    "above 1,000 m ratings are reduced; without a factor for the class there is no pass";
const OTHERS_SOURCE: &str = "that ratings are reduced above 1,000 m: common practice, no source; the factors read are those of reclosers";

/// Metres, factor of voltage and BIL, factor of continuous current.
const FACTORS: [(f64, f64, f64); 3] = [
    (1_000.0, 1.0, 1.0),
    (1_500.0, 0.95, 0.99),
    (3_000.0, 0.80, 0.96),
];

/// Factors of voltage and of continuous current at an altitude in metres;
/// `None` above 3,000 m.
#[must_use]
pub fn altitude_factors(metres: f64) -> Option<(f64, f64)> {
    if metres <= FACTORS[0].0 {
        return Some((1.0, 1.0));
    }
    let pair = FACTORS.windows(2).find(|w| metres <= w[1].0)?;
    let along = (metres - pair[0].0) / (pair[1].0 - pair[0].0);
    let between = |a: f64, b: f64| a + along * (b - a);
    Some((between(pair[0].1, pair[1].1), between(pair[0].2, pair[1].2)))
}

/// The elevation where it counts.
fn high(case: &Case<'_>) -> Option<f64> {
    Some(case.choices.number(ELEVATION)).filter(|m| *m > FACTORS[0].0)
}

fn reduced(bound: Bound, metres: f64, factor: Option<f64>, unit: &str) -> Bound {
    match factor {
        Some(f) => bound.times(f, &format!("x {} at {} m", short(f), short(metres)), unit),
        None => Bound {
            value: None,
            words: format!("{}, with no factor above 3,000 m", bound.words),
            read: Some("the maker's altitude factor".to_string()),
            ..bound
        },
    }
}

fn no_factor(rule: &'static Rule, case: &Case<'_>, subject: &Subject<'_>) -> Option<Finding> {
    let metres = high(case)?;
    let because = format!(
        "Above 1,000 m ratings are reduced; no factor on record for this class ({}) at {} m.",
        subject.part.word(),
        short(metres)
    );
    let mut finding = rule.finding(case, subject, Verdict::Unknown, because);
    finding.read_next = Some(format!("the maker's altitude factor of {}", subject.called));
    Some(finding)
}

fn carry(rule: &'static Rule, case: &Case<'_>, subject: &Subject<'_>) -> Option<Finding> {
    let metres = high(case)?;
    let key = ["continuous_amps", "coil_amps"]
        .into_iter()
        .find(|k| subject.recorded(k).is_some())
        .unwrap_or("continuous_amps");
    let factor = altitude_factors(metres).map(|f| f.1);
    let bound = reduced(rating(subject, key, "continuous", "A"), metres, factor, "A");
    held(rule, case, subject, bound, "")
}

fn voltage(rule: &'static Rule, case: &Case<'_>, subject: &Subject<'_>) -> Option<Finding> {
    let metres = high(case)?;
    let factor = altitude_factors(metres).map(|f| f.0);
    let bound = reduced(
        rating(subject, "max_kv", "maximum voltage", "kV"),
        metres,
        factor,
        "kV",
    );
    let ask = system_kv(case);
    Some(compare(rule, case, subject, ask, bound, false))
}

fn bil(rule: &'static Rule, case: &Case<'_>, subject: &Subject<'_>) -> Option<Finding> {
    let metres = high(case)?;
    subject.recorded("bil_kv")?;
    let factor = altitude_factors(metres).map(|f| f.0);
    let plate = reduced(rating(subject, "bil_kv", "BIL", "kV"), metres, factor, "kV");
    let system = system_kv(case);
    let least = system.value.and_then(super::bil::transformer_bil);
    let ask = Ask {
        what: "BIL",
        value: plate.value,
        words: plate.words,
        read: plate.read.unwrap_or_default(),
        doubts: plate.doubts,
    };
    let bound = Bound {
        value: least,
        words: least.map_or_else(
            || format!("no listed BIL for {}", system.words),
            |kv| format!("{} kV, the least listed for {}", short(kv), system.words),
        ),
        doubts: system.doubts,
        read: Some(system.read),
    };
    Some(compare(rule, case, subject, ask, bound, true))
}

fn compare(
    rule: &'static Rule,
    case: &Case<'_>,
    subject: &Subject<'_>,
    ask: Ask,
    bound: Bound,
    at_least: bool,
) -> Finding {
    Compare {
        rule,
        case,
        subject,
        unit: "kV",
        ask,
        bound,
        tight_percent: if at_least {
            0.0
        } else {
            case.choices.tight_kv_percent()
        },
        at_least,
        note: "Interrupting current is not affected.".to_string(),
    }
    .finding()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn consistency_factors_fall_with_height_and_end() {
        let all: Vec<(f64, f64)> = (0..=30)
            .map(|i| altitude_factors(f64::from(i) * 100.0).unwrap())
            .collect();
        assert!(all.is_sorted_by(|a, b| a.0 >= b.0 && a.1 >= b.1));
        assert!(all.iter().all(|(kv, amps)| kv <= amps));
        assert_eq!(altitude_factors(3_001.0), None);
    }
}
