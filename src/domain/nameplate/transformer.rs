//! Transformers: full load, the voltage across them, and a fault beyond them.

use super::bound::{Ask, Bound, Compare, short, with_unit};
use super::carry::{held, rating, read};
use super::choices::{IMPEDANCE_TOLERANCE, TIGHT, TIGHT_KV, VOLTAGE_RANGE};
use super::facts::{Facts, Subject};
use super::stand::{line_or_ground, system_kv};
use super::timing::typed_time;
use super::{Case, Choices, Rule, unit};
use crate::domain::asset::{Class, Grounding, Unit};
use crate::domain::finding::{Finding, Question, RuleStanding};

pub static RULES: &[Rule] = &[
    Rule {
        name: "carry-transformer",
        on: &[unit(Class::Transformer)],
        needs: &["load", "kva", "primary_kv", "phases"],
        formula: "load <= kVA / primary kV (one phase) or kVA / (1.732 x primary kV) (three)",
        source: "full-load current from the plate (a published infinite-bus example); a loading guide may allow more and is not applied",
        standing: RuleStanding::Read,
        rests_on: &["kva", "primary_kv"],
        example: r#"{"class": "transformer", "phases": "A", "plate": {"kva": 500, "primary_kv": 7.2, "phases": 1}, "load": 50}"#,
        judge: transformer,
        ..Rule::of(Question::Carry)
    },
    Rule {
        name: "stand-transformer-voltage",
        on: &[unit(Class::Transformer)],
        needs: &["feeder voltage, or the voltage typed", "primary_kv"],
        formula: "greatest voltage across the primary, line to line or line to ground <= 110 % of its rated voltage (no load)",
        source: "110 % of rated voltage at no load: from memory, unconfirmed",
        standing: RuleStanding::FromMemory,
        choices: &[TIGHT_KV, VOLTAGE_RANGE],
        rests_on: &["primary_kv"],
        example: r#"{"class": "transformer", "phases": "A", "plate": {"kva": 25, "primary_kv": 7.2, "phases": 1}}"#,
        judge: voltage,
        ..Rule::of(Question::Stand)
    },
    Rule {
        name: "stand-transformer-through",
        on: &[unit(Class::Transformer)],
        needs: &["impedance_percent", "fault-on time of the sequence"],
        formula: "(100 / (%Z x (1 - tolerance)))^2 x fault-on time <= 1250: a bolted secondary fault from an endless source, in multiples of full load",
        source: "1250 (25 times full load for 2 s): from memory, unconfirmed; impedance and its tolerance as in a published infinite-bus example",
        standing: RuleStanding::FromMemory,
        choices: &[TIGHT, IMPEDANCE_TOLERANCE],
        rests_on: &["impedance_percent"],
        example: r#"{"class": "transformer", "phases": "A", "plate": {"kva": 25, "primary_kv": 7.2, "phases": 1, "impedance_percent": 5}, "fault_on_s": 1}"#,
        judge: through,
        ..Rule::of(Question::Stand)
    },
];

/// Full-load current, A: one phase or three.
#[must_use]
pub fn full_load_amps(kva: f64, kv: f64, three_phase: bool) -> f64 {
    let root = if three_phase { 3.0_f64.sqrt() } else { 1.0 };
    kva / (root * kv)
}

/// Current of a bolted fault beyond an impedance from an endless source, A.
#[must_use]
pub fn infinite_bus_amps(full_load_amps: f64, impedance_percent: f64) -> f64 {
    full_load_amps * 100.0 / impedance_percent
}

/// Magnetizing inrush, A, of `phase_kva` on one phase at `kv_ln`.
#[must_use]
pub fn inrush_amps(phase_kva: f64, kv_ln: f64, multiple: f64) -> f64 {
    phase_kva / kv_ln * multiple
}

fn transformer(rule: &'static Rule, case: &Case<'_>, subject: &Subject<'_>) -> Option<Finding> {
    let kva = rating(subject, "kva", "rated", "kVA");
    let kv = rating(subject, "primary_kv", "primary", "kV");
    let phases = rating(subject, "phases", "phases", "");
    let divisor = match phases.value {
        Some(1.0) => Some(1.0),
        Some(3.0) => Some(3.0_f64.sqrt()),
        _ => None,
    };
    let value = match (kva.value, kv.value, divisor) {
        (Some(kva), Some(kv), Some(divisor)) => Some(kva / (divisor * kv)),
        _ => None,
    };
    let mut bound = Bound {
        value,
        words: format!("{} over {}, {}", kva.words, kv.words, phases.words),
        doubts: [kva.doubts, kv.doubts, phases.doubts].concat(),
        read: kva.read.or(kv.read).or(phases.read),
    };
    if let Some(amps) = value {
        bound.words = format!("{} = {}", bound.words, super::bound::with_unit(amps, "A"));
    } else if bound.read.is_none() {
        bound.read = Some(read("phases", subject));
    }
    held(
        rule,
        case,
        subject,
        bound,
        "Load is taken as primary current.",
    )
}

/// Continuous overvoltage of a transformer at no load.
const NO_LOAD_VOLTAGE: f64 = 1.10;

fn voltage(rule: &'static Rule, case: &Case<'_>, subject: &Subject<'_>) -> Option<Finding> {
    let primary = rating(subject, "primary_kv", "primary", "kV");
    let bound = primary.times(NO_LOAD_VOLTAGE, "x 110 %", "kV");
    let single = subject.stated("phases").as_number() == Some(1.0)
        && case.facts.grounding == Some(Grounding::Multigrounded);
    let why = "it is connected line to ground, which the record does not say";
    let ask = line_or_ground(system_kv(case), bound.value, single, why);
    Some(
        Compare {
            rule,
            case,
            subject,
            unit: "kV",
            ask,
            bound,
            tight_percent: case.choices.tight_kv_percent(),
            at_least: false,
            note: String::new(),
        }
        .finding(),
    )
}

/// Squared multiples of full load times seconds that a transformer stands.
const THROUGH: f64 = 1_250.0;

fn through(rule: &'static Rule, case: &Case<'_>, subject: &Subject<'_>) -> Option<Finding> {
    let time = typed_time(case)?;
    let z = rating(subject, "impedance_percent", "impedance", "%");
    let share = 1.0 - case.choices.number(IMPEDANCE_TOLERANCE) / 100.0;
    let value = z.value.zip(time.value).map(|(z, t)| {
        let multiple = 100.0 / (z * share);
        multiple * multiple * t
    });
    let ask = Ask {
        what: "through-fault",
        value,
        words: format!(
            "(100 / ({} x {}))^2 x {}{}",
            z.words,
            short(share),
            time.words,
            value.map_or(String::new(), |v| format!(" = {}", short(v)))
        ),
        read: z.read.clone().or(time.read).unwrap_or_default(),
        doubts: [z.doubts, time.doubts].concat(),
    };
    Some(
        Compare {
            rule,
            case,
            subject,
            unit: "",
            ask,
            bound: Bound {
                value: Some(THROUGH),
                words: "1,250 of its class".to_string(),
                doubts: Vec::new(),
                read: z.read,
            },
            tight_percent: case.choices.tight_percent(),
            at_least: false,
            note: "An endless source: the fault here is less.".to_string(),
        }
        .finding(),
    )
}

/// Full-load and secondary fault current of each transformer here, as notes.
#[must_use]
pub fn notes(facts: &Facts, choices: &Choices) -> Vec<String> {
    let units = facts.units.iter().map(|u| &u.unit);
    units.filter_map(|u| note_of(u, choices)).collect()
}

/// The same of one unit; none of what is no transformer or has no kVA read.
#[must_use]
pub fn note_of(unit: &Unit, choices: &Choices) -> Option<String> {
    let plate = &unit.nameplate;
    let number = |key: &str| plate.stated(key).as_number();
    if unit.class != Class::Transformer {
        return None;
    }
    let (kva, phases) = (number("kva")?, number("phases")?);
    let three = phases > 2.0;
    let full = |kv: f64| full_load_amps(kva, kv, three);
    let mut words = Vec::new();
    if let Some(kv) = number("primary_kv") {
        words.push(format!("{} at {} kV", with_unit(full(kv), "A"), short(kv)));
    }
    let secondary = number("secondary_v").map(|v| v / 1_000.0);
    if let Some(kv) = secondary {
        words.push(format!(
            "{} at {} V",
            with_unit(full(kv), "A"),
            short(kv * 1_000.0)
        ));
    }
    if words.is_empty() {
        return None;
    }
    let mut text = format!("{} full load {}", unit.unit, words.join(" and "));
    match (secondary, number("impedance_percent")) {
        (Some(kv), Some(z)) => {
            let share = 1.0 - choices.number(IMPEDANCE_TOLERANCE) / 100.0;
            text.push_str(&format!(
                "; a bolted secondary fault at most {} ({} x 100 / ({} % x {}), endless source{})",
                with_unit(infinite_bus_amps(full(kv), z * share), "A"),
                with_unit(full(kv), "A"),
                short(z),
                short(share),
                if three { "" } else { "; near the terminals a half winding can give about 1.5 times that of its own voltage, from memory" }
            ));
        }
        _ => text
            .push_str("; secondary fault current unknown: impedance or secondary voltage unread"),
    }
    let assumed = ["kva", "primary_kv", "secondary_v", "impedance_percent"]
        .iter()
        .any(|k| {
            plate
                .get(k)
                .is_some_and(|s| s.value.is_some() && !s.is_known())
        });
    if assumed {
        text.push_str("; some of its plate is assumed");
    }
    Some(text)
}

#[cfg(test)]
mod tests {
    use super::*;

    /// A published infinite-bus example: 1,500 kVA, 480 V, 5.75 %: 1,804 A and
    /// 31,374 A as printed.
    #[test]
    fn the_published_example_comes_out() {
        let full = full_load_amps(1_500.0, 0.48, true);
        assert!((full - 1_804.0).abs() < 0.5);
        let fault = infinite_bus_amps(full, 5.75);
        assert!((fault / 31_374.0 - 1.0).abs() < 0.000_2, "{fault}");
    }
}
