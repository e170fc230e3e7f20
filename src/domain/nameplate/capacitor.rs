//! Capacitor banks: voltage, current and kvar within the limits of IEEE 18, and
//! the wire and switch in front of them. The limits are for contingencies and
//! not for design.

use super::bound::{Ask, Bound, Compare, short};
use super::carry::{link_limit, rating};
use super::carry_wire::wire_limit;
use super::choices::{CAPACITOR_TOLERANCE, TIGHT, TIGHT_KV, VOLTAGE_RANGE};
use super::facts::{Part, Subject};
use super::stand::{line_or_ground, system_kv, to_ground};
use super::{Case, Rule, element, unit};
use crate::domain::asset::{Class, ElementKind};
use crate::domain::finding::{Finding, Question, RuleStanding};

const IEEE: &str = "IEEE 18-2002 limits as quoted by a trade portal: 110 % rms voltage, 120 % peak voltage, 135 % rms current, 135 % kvar; for contingencies and not for design";

pub static RULES: &[Rule] = &[
    Rule {
        name: "carry-capacitor-circuit",
        on: &[
            element(ElementKind::Cutout),
            element(ElementKind::Link),
            element(ElementKind::Switch),
            element(ElementKind::Lead),
            element(ElementKind::Jumper),
            element(ElementKind::Connector),
            element(ElementKind::Clamp),
            element(ElementKind::Stirrup),
        ],
        needs: &[
            "kvar and nominal_kv of the bank",
            "nominal voltage",
            "rating of the element",
        ],
        formula: "bank current x 135 % <= continuous current of the switch, wire, link or connector in front of it: a factor for sizing, not a load capability",
        source: "MO-116: conductors and switches of at least 135 % of the capacitor current",
        standing: RuleStanding::Read,
        rests_on: &["amps"],
        example: r#"{"class": "capacitor", "plate": {"kvar": 600, "nominal_kv": 7.2, "phases": 3}, "elements": [{"element": "switch", "amps": 200}, {"element": "unit"}]}"#,
        judge: circuit,
        ..Rule::of(Question::Carry)
    },
    Rule {
        name: "carry-capacitor-amps",
        on: &[unit(Class::Capacitor)],
        needs: &[
            "feeder voltage, or the voltage typed",
            "nominal_kv",
            "bank_connection",
        ],
        formula: "greatest voltage / rated voltage x (100 % + tolerance), of rated current <= 135 %; harmonics are not on record",
        source: IEEE,
        standing: RuleStanding::Read,
        choices: &[TIGHT, VOLTAGE_RANGE, CAPACITOR_TOLERANCE],
        rests_on: &["nominal_kv"],
        example: r#"{"class": "capacitor", "plate": {"kvar": 600, "nominal_kv": 7.62, "phases": 3}, "settings": {"bank_connection": "grounded wye"}}"#,
        judge: |rule, case, subject| share(rule, case, subject, 1),
        ..Rule::of(Question::Carry)
    },
    Rule {
        name: "carry-capacitor-kvar",
        on: &[unit(Class::Capacitor)],
        needs: &[
            "feeder voltage, or the voltage typed",
            "nominal_kv",
            "bank_connection",
        ],
        formula: "(greatest voltage / rated voltage)^2 x (100 % + tolerance), of rated kvar <= 135 %",
        source: IEEE,
        standing: RuleStanding::Read,
        choices: &[TIGHT, VOLTAGE_RANGE, CAPACITOR_TOLERANCE],
        rests_on: &["nominal_kv"],
        example: r#"{"class": "capacitor", "plate": {"kvar": 600, "nominal_kv": 7.62, "phases": 3}, "settings": {"bank_connection": "grounded wye"}}"#,
        judge: |rule, case, subject| share(rule, case, subject, 2),
        ..Rule::of(Question::Carry)
    },
    Rule {
        name: "stand-capacitor",
        on: &[unit(Class::Capacitor)],
        needs: &[
            "feeder voltage, or the voltage typed",
            "nominal_kv",
            "bank_connection",
        ],
        formula: "greatest voltage across a unit, line to ground or line to line <= 110 % of its rated voltage, rms",
        source: IEEE,
        standing: RuleStanding::Read,
        choices: &[TIGHT_KV, VOLTAGE_RANGE],
        rests_on: &["nominal_kv"],
        example: r#"{"class": "capacitor", "plate": {"kvar": 600, "nominal_kv": 7.2, "phases": 3}, "settings": {"bank_connection": "grounded wye"}}"#,
        judge: |rule, case, subject| {
            let kv = case.choices.tight_kv_percent();
            voltage(rule, case, subject, (RMS_LIMIT, "x 110 %", 1.0), kv)
        },
        ..Rule::of(Question::Stand)
    },
    Rule {
        name: "stand-capacitor-peak",
        on: &[unit(Class::Capacitor)],
        needs: &[
            "feeder voltage, or the voltage typed",
            "nominal_kv",
            "bank_connection",
        ],
        formula: "1.414 x greatest voltage of a sine wave <= 120 % of 1.414 x rated voltage; harmonics are not on record",
        source: IEEE,
        standing: RuleStanding::Read,
        choices: &[TIGHT_KV, VOLTAGE_RANGE],
        rests_on: &["nominal_kv"],
        example: r#"{"class": "capacitor", "plate": {"kvar": 600, "nominal_kv": 7.2, "phases": 3}, "settings": {"bank_connection": "grounded wye"}}"#,
        judge: |rule, case, subject| {
            let kv = case.choices.tight_kv_percent();
            let peak = std::f64::consts::SQRT_2;
            voltage(rule, case, subject, (PEAK_LIMIT, "x 120 %", peak), kv)
        },
        ..Rule::of(Question::Stand)
    },
];

/// Continuous limits, of rated values.
const RMS_LIMIT: f64 = 1.10;
const PEAK_LIMIT: f64 = 1.20;
const AMPS_LIMIT: f64 = 1.35;
/// What a switch and wire in front of a bank must carry, of its current.
const CIRCUIT: f64 = 1.35;

/// Short overvoltages of a capacitor, rms, of rated voltage: how many times, for
/// how many seconds (6 and 15 cycles of 60 Hz first). Quoted from IEEE 18.
pub static SHORT_OVERVOLTAGES: &[(f64, f64)] = &[
    (2.20, 0.1),
    (2.00, 0.25),
    (1.70, 1.0),
    (1.40, 15.0),
    (1.30, 60.0),
    (1.25, 1_800.0),
];

/// kvar given at another voltage and frequency than rated.
#[must_use]
pub fn kvar_at(rated_kvar: f64, volts_over_rated: f64, hertz_over_rated: f64) -> f64 {
    rated_kvar * volts_over_rated * volts_over_rated * hertz_over_rated
}

/// Line current, A, of a three-phase bank.
#[must_use]
pub fn line_amps(kvar: f64, kv_ll: f64) -> f64 {
    kvar / (3.0_f64.sqrt() * kv_ll)
}

/// Rise of voltage, percent, by a three-phase bank behind `ohms` of reactance.
#[must_use]
pub fn voltage_rise_percent(kvar: f64, ohms: f64, kv_ll: f64) -> f64 {
    kvar * ohms / (10.0 * kv_ll * kv_ll)
}

/// kvar of the whole bank, with the greatest rated voltage of its units.
fn bank(case: &Case<'_>) -> (Bound, Bound) {
    let units: Vec<&Subject<'_>> = case
        .subjects
        .iter()
        .filter(|s| s.part == unit(Class::Capacitor))
        .collect();
    let blank = |what: &str| Bound::unread(what, &format!("{what} of the bank"));
    let mut kvar: Option<Bound> = None;
    let mut kv: Option<Bound> = None;
    for subject in units {
        let one = rating(subject, "kvar", "rated", "kvar");
        kvar = Some(match kvar {
            None => one,
            Some(sum) => Bound {
                value: sum.value.zip(one.value).map(|(a, b)| a + b),
                words: format!("{} + {}", sum.words, one.words),
                doubts: [sum.doubts, one.doubts].concat(),
                read: sum.read.or(one.read),
            },
        });
        let rated = rating(subject, "nominal_kv", "rated", "kV");
        kv = Some(match kv {
            None => rated,
            Some(other) => other.least(rated),
        });
    }
    (
        kvar.unwrap_or_else(|| blank("kvar")),
        kv.unwrap_or_else(|| blank("rated voltage")),
    )
}

/// What the bank draws at the nominal voltage of the system: it is the load of
/// everything in front of it.
pub(super) fn bank_amps(case: &Case<'_>) -> Ask {
    let (kvar, rated) = bank(case);
    let nominal = case.facts.nominal_kv_ll;
    let single = matches!(case.facts.position.phases.as_deref(), Some("A" | "B" | "C"));
    let mut doubts = [kvar.doubts, rated.doubts].concat();
    let mut value = None;
    let mut words = format!("bank of {} at {}", kvar.words, rated.words);
    if let (Some(kvar), Some(rated), Some(line)) = (kvar.value, rated.value, nominal) {
        let ground = line / 3.0_f64.sqrt();
        let near = |kv: f64| (rated / kv - 1.0).abs() < 0.16;
        if !near(ground) && !near(line) {
            doubts.push(
                "its rated voltage suits the system, which it does not look like".to_string(),
            );
        }
        let across = if near(line) { line } else { ground };
        let given = kvar_at(kvar, across / rated, 1.0);
        let amps = if single {
            given / across
        } else {
            line_amps(given, line)
        };
        value = Some(amps);
        words = format!(
            "{words}, {} kvar at {} kV across, {} A",
            short(given),
            short(across),
            short(amps)
        );
    } else if nominal.is_none() {
        words.push_str(", system voltage not recorded, so its current is unread");
    }
    let voltage = "nominal voltage of the feeder".to_string();
    Ask {
        what: "load",
        value,
        words,
        read: kvar.read.or(rated.read).unwrap_or(voltage),
        doubts,
    }
}

fn circuit(rule: &'static Rule, case: &Case<'_>, subject: &Subject<'_>) -> Option<Finding> {
    if case.facts.position.class != Class::Capacitor {
        return None;
    }
    let mut ask = bank_amps(case);
    if let Some(amps) = ask.value {
        ask.value = Some(amps * CIRCUIT);
        ask.words = format!(
            "{} x 135 % (for sizing, not a load capability) = {} A",
            ask.words,
            short(amps * CIRCUIT)
        );
    }
    let bound = match subject.part {
        Part::Element(ElementKind::Link) => link_limit(subject),
        Part::Element(ElementKind::Lead | ElementKind::Jumper | ElementKind::Stirrup) => {
            wire_limit(case, subject)
        }
        _ => rating(subject, "continuous_amps", "continuous", "A"),
    };
    Some(
        Compare {
            rule,
            case,
            subject,
            unit: "A",
            ask,
            bound,
            // The 135 % is the room already.
            tight_percent: 0.0,
            at_least: false,
            note: String::new(),
        }
        .finding(),
    )
}

/// The greatest voltage across a unit, by the connection of the bank. Where
/// nobody recorded it, line to line is the harder case.
fn across(case: &Case<'_>, subject: &Subject<'_>, limit: Option<f64>) -> Ask {
    let connection = case.facts.position.settings.stated("bank_connection");
    let mut ask = match connection.as_text().filter(|_| connection.is_known()) {
        Some("delta") => system_kv(case),
        Some(_) => to_ground(system_kv(case)),
        None => {
            let why = "the bank is in wye, which the record does not say";
            line_or_ground(system_kv(case), limit, false, why)
        }
    };
    ask.read = format!("how {} is connected; feeder voltage", subject.called);
    ask
}

fn voltage(
    rule: &'static Rule,
    case: &Case<'_>,
    subject: &Subject<'_>,
    (limit, words, crest): (f64, &str, f64),
    tight_percent: f64,
) -> Option<Finding> {
    let rated = rating(subject, "nominal_kv", "rated", "kV");
    let mut ask = across(case, subject, rated.value.map(|kv| kv * limit));
    let mut bound = rated;
    if crest > 1.0 {
        ask.value = ask.value.map(|v| v * crest);
        ask.words = format!("{} x 1.414", ask.words);
        bound = bound.times(crest, "x 1.414", "kV");
    }
    Some(
        Compare {
            rule,
            case,
            subject,
            unit: "kV",
            ask,
            bound: bound.times(limit, words, "kV"),
            tight_percent,
            at_least: false,
            note: "A limit for contingencies, not for design.".to_string(),
        }
        .finding(),
    )
}

/// Current goes by the first power of the voltage, kvar by the second.
fn share(
    rule: &'static Rule,
    case: &Case<'_>,
    subject: &Subject<'_>,
    power: i32,
) -> Option<Finding> {
    let rated = rating(subject, "nominal_kv", "rated", "kV");
    let mut ask = across(case, subject, rated.value.map(|kv| kv * RMS_LIMIT));
    let more = 1.0 + case.choices.number(CAPACITOR_TOLERANCE) / 100.0;
    let what = if power == 1 { "current" } else { "kvar" };
    ask.value = ask
        .value
        .zip(rated.value)
        .map(|(kv, rated)| (kv / rated).powi(power) * more * 100.0);
    let exponent = if power == 1 { "" } else { "^2" };
    ask.words = format!(
        "({} / {}){exponent} x {} of rated {what}{}",
        ask.words,
        rated.words,
        short(more),
        ask.value
            .map_or(String::new(), |v| format!(" = {} %", short(v)))
    );
    if power == 2
        && let Some((kvar, percent)) = subject.stated("kvar").as_number().zip(ask.value)
    {
        ask.words.push_str(&format!(
            ", {} of {} kvar",
            short(kvar * percent / 100.0),
            short(kvar)
        ));
    }
    Some(
        Compare {
            rule,
            case,
            subject,
            unit: "%",
            ask,
            bound: Bound {
                value: rated.value.map(|_| AMPS_LIMIT * 100.0),
                words: "135 %".to_string(),
                doubts: rated.doubts,
                read: rated.read,
            },
            // The limit is one for contingencies; the margin is what is left of it.
            tight_percent: 0.0,
            at_least: false,
            note: "Harmonics are not on record.".to_string(),
        }
        .finding(),
    )
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn consistency_a_higher_overvoltage_is_allowed_for_less_time() {
        for pair in SHORT_OVERVOLTAGES.windows(2) {
            assert!(pair[0].0 > pair[1].0 && pair[0].1 < pair[1].1);
        }
        assert!(SHORT_OVERVOLTAGES.iter().all(|(v, _)| *v > RMS_LIMIT));
    }

    /// 110 % voltage with the greatest tolerance is already above the limit.
    #[test]
    fn consistency_ten_percent_over_with_full_tolerance_is_too_much() {
        let percent = kvar_at(100.0, 1.10, 1.0) * 1.15;
        assert!((percent - 139.0).abs() < 0.2 && percent > AMPS_LIMIT * 100.0);
    }
}
