//! Carry: wire, whose ampacity holds only at its stated conditions.

use super::bound::Bound;
use super::carry::{held, rating, read};
use super::facts::{Part, Subject};
use super::{Case, Rule, element};
use crate::domain::asset::{ElementKind, Span, Stated};
use crate::domain::finding::{Finding, Question};

pub static RULES: &[Rule] = &[
    Rule {
        name: "carry-wire",
        on: &[
            element(ElementKind::Lead),
            element(ElementKind::Jumper),
            element(ElementKind::Stirrup),
            element(ElementKind::Bus),
        ],
        needs: &[
            "load",
            "amps, or the conductor's ampacity with its conditions",
        ],
        formula: "load <= ampacity of the wire at its stated conditions; a tap carries the least of conductor, stirrup, clamp, jumper and device",
        source: "rating of a tap = least of conductor, stirrup, clamp, jumper, device: common practice, no source",
        rests_on: &["ampacity_amps"],
        example: r#"{"class": "switch", "elements": [{"element": "jumper", "conductor": "1/0 ACSR"}, {"element": "switch", "amps": 400}], "load": 180}"#,
        judge: wire,
        ..Rule::of(Question::Carry)
    },
    Rule {
        name: "carry-span",
        on: &[Part::Span],
        needs: &[
            "load",
            "ampacity of the span or of its conductor, with conditions",
        ],
        formula: "load <= ampacity of the span at its stated conditions (conductor, air, wind, sun)",
        source: "an ampacity holds only at its conditions: common practice, no source",
        rests_on: &["ampacity_amps"],
        example: r#"{"class": "switch", "plate": {"continuous_amps": 400}, "load": 180}"#,
        judge: span,
        ..Rule::of(Question::Carry)
    },
];

/// The ampacity of a conductor by name. Without conditions the figure is taken
/// as assumed.
pub(super) fn ampacity(case: &Case<'_>, name: &str) -> Bound {
    let read = format!("ampacity of {name} and its conditions");
    let Some(conductor) = case.facts.conductors.get(name) else {
        return Bound::unread(
            &format!("ampacity of {name}, which is not in the register,"),
            &read,
        );
    };
    let stated = conductor
        .ampacity_amps
        .clone()
        .unwrap_or_else(Stated::unknown);
    let label = format!("ampacity of {name}");
    let bound = Bound::of(&stated, &label, "A", &read);
    match conductor
        .conditions
        .as_deref()
        .filter(|c| stated_conditions(c))
    {
        Some(conditions) => Bound {
            words: format!("{} at {conditions}", bound.words),
            ..bound
        },
        None => bound.doubted(
            "its ampacity holds here, its conditions not being stated",
            read,
        ),
    }
}

/// Whether the words say anything about the conditions.
fn stated_conditions(words: &str) -> bool {
    let words = words.trim().to_lowercase();
    !(words.is_empty() || words == "unknown" || words.contains("not stated"))
}

fn wire(rule: &'static Rule, case: &Case<'_>, subject: &Subject<'_>) -> Option<Finding> {
    held(rule, case, subject, wire_limit(case, subject), "")
}

/// What a wire in series carries: its own figure, its conductor's, or the
/// lower where both are recorded.
pub(super) fn wire_limit(case: &Case<'_>, subject: &Subject<'_>) -> Bound {
    let own = subject
        .recorded("continuous_amps")
        .map(|_| rating(subject, "continuous_amps", "continuous", "A"));
    let by_name = subject
        .element
        .and_then(|e| e.conductor.as_deref())
        .map(|name| ampacity(case, name));
    match (own, by_name) {
        (Some(a), Some(b)) => a.least(b),
        (Some(a), None) | (None, Some(a)) => a,
        (None, None) => Bound::unread("ampacity", &read("conductor", subject)),
    }
}

fn span(rule: &'static Rule, case: &Case<'_>, subject: &Subject<'_>) -> Option<Finding> {
    let bound = match subject.span {
        Some(span) => span_bound(case, span),
        None => match (&case.facts.position.structure, &case.facts.position.toward) {
            (Some(at), Some(toward)) => Bound::unread(
                &format!("span {at} to {toward}, not in the register, so its ampacity is"),
                &format!("conductor of the span {at} to {toward}"),
            ),
            _ => Bound::unread(
                "span not recorded, so its ampacity is",
                "which span it stands in",
            ),
        },
    };
    held(rule, case, subject, bound, "")
}

fn span_bound(case: &Case<'_>, span: &Span) -> Bound {
    if let Some(own) = &span.ampacity_amps {
        return Bound::of(
            own,
            "ampacity of the span",
            "A",
            &format!("ampacity of span {}", span.name()),
        );
    }
    match &span.span.conductor {
        Some(name) => ampacity(case, name),
        None => Bound::unread("conductor", &format!("conductor of span {}", span.name())),
    }
}
