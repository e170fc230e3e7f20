//! Break: an interrupting rating counts on a system no higher than the voltage
//! that it is stated for, nor than the device's own. Speaks only where it does
//! not count, or nobody knows.

use super::bound::{Bound, sentence, short};
use super::break_::{BLADE, holds, is_cutout};
use super::carry::rating;
use super::choices::VOLTAGE_RANGE;
use super::facts::{Part, Subject};
use super::stand::system_kv;
use super::{Case, Rule, element, unit};
use crate::domain::asset::{Class, ElementKind};
use crate::domain::finding::{Finding, Question, RuleStanding, Verdict};

pub(super) const AT_VOLTAGE: Rule = Rule {
    name: "break-at-voltage",
    on: &[
        unit(Class::Recloser),
        unit(Class::Breaker),
        unit(Class::Cutout),
        element(ElementKind::Cutout),
    ],
    needs: &[
        "feeder voltage, or the voltage typed",
        "max_kv",
        "interrupting_at_kv where the plate has it",
    ],
    formula: "an interrupting rating counts while the greatest system voltage <= max_kv and <= the voltage that the rating is for; above either, or with max_kv unread, break is no better than unknown",
    source: "Cal. Code Regs. Title 8 s. 2847: maximum voltage at least that of the circuit; that a rating for a lower voltage does not hold on a higher one is common practice, no source",
    standing: RuleStanding::CommonPractice,
    choices: &[VOLTAGE_RANGE],
    rests_on: &["max_kv", "interrupting_at_kv"],
    example: r#"{"class": "recloser", "plate": {"control": "hydraulic", "coil_amps": 100, "interrupting_amps": 4000, "test_x_over_r": 8, "max_kv": 15.5, "interrupting_at_kv": 4.8}, "kv_ll": 12.47, "fault": 2000, "x_over_r": 5}"#,
    judge: at_voltage,
    ..Rule::of(Question::Break)
};

fn at_voltage(rule: &'static Rule, case: &Case<'_>, subject: &Subject<'_>) -> Option<Finding> {
    if is_cutout(subject.part) && holds(case, subject) == Some(BLADE) {
        return None;
    }
    let system = system_kv(case);
    let max = rating(subject, "max_kv", "maximum voltage", "kV");
    let stated =
        matches!(subject.part, Part::Unit(_)) && subject.recorded("interrupting_at_kv").is_some();
    let at = stated.then(|| {
        rating(
            subject,
            "interrupting_at_kv",
            "voltage of the interrupting rating",
            "kV",
        )
    });
    let counts = |bound: &Bound| {
        let over = system
            .value
            .zip(bound.value)
            .is_none_or(|(v, l)| v > l + 1e-9);
        !over && bound.doubts.is_empty()
    };
    let short_of = at
        .filter(|b| !counts(b))
        .or(Some(max).filter(|b| !counts(b)))?;
    let because = format!(
        "{} against {}. The interrupting rating does not count on a voltage above that, nor while either is unread.",
        sentence(&system.words),
        short_of.words
    );
    let mut finding = rule.finding(case, subject, Verdict::Unknown, because);
    finding.value = system.value;
    finding.limit = short_of.value;
    finding.unit = "kV";
    finding.read_next = Some(if system.value.is_none() {
        system.read
    } else {
        short_of.read.unwrap_or_else(|| {
            format!(
                "interrupting rating of {} at {} kV",
                subject.called,
                short(system.value.unwrap_or_default())
            )
        })
    });
    Some(finding)
}
