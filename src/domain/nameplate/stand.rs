//! Stand: the system's greatest voltage.

use super::bound::{Ask, Bound, Compare, short};
use super::carry::rating;
use super::choices::{TIGHT_KV, VOLTAGE_RANGE};
use super::facts::{Part, Subject};
use super::voltage::{Range, system_max_kv};
use super::{Case, Rule, element, unit};
use crate::domain::asset::{Class, ElementKind, Grounding};
use crate::domain::finding::{Finding, Question, RuleStanding};
use crate::units::figure;

pub static RULES: &[Rule] = &[Rule {
    name: "stand-voltage",
    on: &[
        unit(Class::Recloser),
        unit(Class::Sectionalizer),
        unit(Class::Cutout),
        unit(Class::Switch),
        unit(Class::Breaker),
        unit(Class::Regulator),
        element(ElementKind::Cutout),
        element(ElementKind::Switch),
        element(ElementKind::Lead),
        element(ElementKind::Jumper),
        element(ElementKind::Bus),
    ],
    needs: &["feeder voltage, or the voltage typed", "max_kv"],
    formula: "greatest system voltage, line to line (ANSI C84.1 range A or B) <= maximum voltage on the plate",
    source: "Cal. Code Regs. Title 8 s. 2847: maximum voltage at least that of the circuit; ANSI C84.1 ranges read in a trade portal and a tutorial",
    standing: RuleStanding::Read,
    choices: &[TIGHT_KV, VOLTAGE_RANGE],
    rests_on: &["max_kv"],
    example: r#"{"class": "recloser", "plate": {"control": "hydraulic", "coil_amps": 100, "max_kv": 15.5}}"#,
    judge: voltage,
    ..Rule::of(Question::Stand)
}];

/// The greatest voltage line to line, kV, with its words.
pub(super) fn system_kv(case: &Case<'_>) -> Ask {
    let range = if case.choices.range_a() {
        Range::A
    } else {
        Range::B
    };
    let (value, words) = match (&case.asked.kv_ll, case.facts.nominal_kv_ll) {
        (Some(given), _) => (
            Some(given.value),
            format!("voltage {} kV ({})", short(given.value), given.origin),
        ),
        (None, Some(nominal)) => {
            let (max, listed) = system_max_kv(nominal, range);
            let how = if listed { "" } else { ", by its percentage" };
            (
                Some(max),
                format!(
                    "greatest voltage {} kV of a {} kV system (range {}{how})",
                    short(max),
                    figure(nominal),
                    range.word()
                ),
            )
        }
        (None, None) => (None, "system voltage not recorded".to_string()),
    };
    Ask {
        what: "voltage",
        value,
        words,
        read: format!(
            "nominal voltage of feeder {}",
            case.facts
                .position
                .feeder
                .as_deref()
                .unwrap_or("(none recorded)")
        ),
        doubts: Vec::new(),
    }
}

fn voltage(rule: &'static Rule, case: &Case<'_>, subject: &Subject<'_>) -> Option<Finding> {
    let insulated = matches!(subject.part, Part::Unit(_))
        || matches!(
            subject.part,
            Part::Element(ElementKind::Cutout | ElementKind::Switch)
        );
    if !insulated && subject.recorded("max_kv").is_none() {
        return None;
    }
    let ask = system_kv(case);
    let bound = rating(subject, "max_kv", "maximum voltage", "kV");
    let (ask, bound) = line_to_ground(case, subject, ask, bound);
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

/// A device that stands between one phase and a multigrounded neutral may be
/// rated for that voltage alone; the record does not say so, so it is unknown
/// and not a failure while the line-to-ground voltage is within.
fn line_to_ground(
    case: &Case<'_>,
    subject: &Subject<'_>,
    mut ask: Ask,
    mut bound: Bound,
) -> (Ask, Bound) {
    let may = case.facts.grounding == Some(Grounding::Multigrounded)
        && (subject.part == unit(Class::Regulator) || case.facts.single_phase(subject));
    let (Some(line), Some(limit)) = (ask.value, bound.value) else {
        return (ask, bound);
    };
    let ground = line / 3.0_f64.sqrt();
    if may && line > limit && ground <= limit {
        ask = to_ground(ask);
        bound = bound.doubted(
            format!(
                "it is connected line to ground and rated so, which the record does not say; line to line, at {} kV, it would not do",
                short(line)
            ),
            format!("how {} is connected and rated", subject.called),
        );
    }
    (ask, bound)
}

/// The greatest voltage across something that may stand line to line or line to
/// ground. Line to line is the harder case; where that would fail, it may stand
/// line to ground. `sure` when the record says that it does, else `why` is what
/// would have to be read.
pub(super) fn line_or_ground(line: Ask, limit: Option<f64>, sure: bool, why: &str) -> Ask {
    let over = line.value.zip(limit).is_some_and(|(v, l)| v > l);
    if !over {
        return line;
    }
    let mut ask = to_ground(line);
    if !sure {
        ask.doubts.push(why.to_string());
    }
    ask
}

/// A line-to-line voltage over 1.732.
pub(super) fn to_ground(mut ask: Ask) -> Ask {
    if let Some(line) = ask.value {
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
