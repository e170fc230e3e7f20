//! No silence: a question that applies and that no rule has answered becomes a
//! named unknown.

use super::facts::{Part, Subject};
use super::{Case, Rule, element, unit};
use crate::domain::asset::{Class, ElementKind, Position};
use crate::domain::finding::{Finding, Path, Question, Verdict};

pub const NAME: &str = "no-rule";

pub static RULES: &[Rule] = &[Rule {
    name: NAME,
    on: ALL_PARTS,
    formula: "a question that applies to a thing and that no rule answers is unknown",
    source: "this program: it has no rule for this yet",
    choices: &[],
    example: r#"{"class": "generation", "plate": {"kva": 750}, "load": 10}"#,
    ..Rule::of(Question::Stand)
}];

const ALL_PARTS: &[Part] = &[
    unit(Class::Recloser),
    unit(Class::Sectionalizer),
    unit(Class::Cutout),
    unit(Class::Switch),
    unit(Class::Regulator),
    unit(Class::Capacitor),
    unit(Class::Transformer),
    unit(Class::Arrester),
    unit(Class::Breaker),
    unit(Class::Generation),
    unit(Class::Other),
    element(ElementKind::Cutout),
    element(ElementKind::Link),
    element(ElementKind::Blade),
    element(ElementKind::Switch),
    element(ElementKind::Lead),
    element(ElementKind::Jumper),
    element(ElementKind::Connector),
    element(ElementKind::Clamp),
    element(ElementKind::Stirrup),
    element(ElementKind::Bus),
    Part::Span,
];

/// Which questions apply to a part. Bare wire and its connectors have no
/// rated voltage of their own; only what trips can ride; only what has
/// contacts or a link can be asked to break.
#[must_use]
pub fn applies(question: Question, part: Part) -> bool {
    use Question::{Break, Carry, Last, Ride, See, Stand};
    match (question, part) {
        (See, _) => false,
        // Standard interrupting duty is laid down for reclosers only.
        (Last, part) => part == unit(Class::Recloser),
        (_, Part::Unit(Class::Other)) => true,
        (Carry, Part::Unit(Class::Arrester)) => false,
        (Carry, _) => true,
        (Ride, Part::Unit(class)) => matches!(class, Class::Recloser | Class::Breaker),
        (Break, Part::Unit(class)) => matches!(
            class,
            Class::Recloser | Class::Breaker | Class::Cutout | Class::Sectionalizer | Class::Switch
        ),
        (Ride, Part::Element(kind)) => kind == ElementKind::Link,
        (Break | Stand, Part::Element(kind)) => {
            matches!(kind, ElementKind::Cutout | ElementKind::Switch)
        }
        (Stand, Part::Unit(_)) => true,
        (Ride | Break | Stand, Part::Span) => false,
    }
}

/// Unknown, when it is asked about a bypass, or recorded as bypassed, and the
/// record names nothing in the bypass.
#[must_use]
pub fn no_bypass(case: &Case<'_>) -> Vec<Finding> {
    let position = &case.facts.position;
    let meant = case.asked.bypass || case.facts.bypassed().is_some();
    if !meant || !position.bypass.is_empty() {
        return Vec::new();
    }
    let subject = Subject {
        path: Path::Bypass,
        slot: None,
        called: "bypass".to_string(),
        part: Part::Span,
        plate: None,
        element: None,
        span: None,
        caps: Vec::new(),
    };
    [Question::Carry, Question::Break, Question::Stand]
        .into_iter()
        .map(|question| {
            let because = format!(
                "No bypass is on record at {}, so what it carries, breaks and stands is unknown.",
                position.position
            );
            let mut finding = RULES[0].finding(case, &subject, Verdict::Unknown, because);
            finding.question = question;
            finding.read_next = Some(format!("the bypass of {}", position.position));
            finding
        })
        .collect()
}

/// Phases of a cutout or switch recorded by elements in which no such element
/// is: each stands as a device of which nothing is known.
pub fn unwritten(position: &Position, out: &mut Vec<Subject<'_>>) {
    let kind = match position.class {
        Class::Cutout => ElementKind::Cutout,
        Class::Switch => ElementKind::Switch,
        _ => return,
    };
    for slot in position.phases_without(&[kind]) {
        out.push(Subject {
            path: Path::Normal,
            called: format!("{}, nothing on record in slot {slot}", position.class),
            slot: Some(slot),
            part: Part::Unit(position.class),
            plate: None,
            element: None,
            span: None,
            caps: Vec::new(),
        });
    }
}

/// Named unknowns for what applies to the subject and is not among `found`.
#[must_use]
pub fn silent(case: &Case<'_>, subject: &Subject<'_>, found: &[Finding]) -> Vec<Finding> {
    let rule = &RULES[0];
    [
        Question::Carry,
        Question::Ride,
        Question::Break,
        Question::Stand,
        Question::Last,
    ]
    .into_iter()
    .filter(|q| applies(*q, subject.part) && !found.iter().any(|f| f.question == *q))
    .map(|question| {
        let because = format!(
            "No rule here puts the question {question} to this kind of thing ({}): defer to its plate and to qualified people.",
            subject.part.word()
        );
        let mut finding = rule.finding(case, subject, Verdict::Unknown, because);
        finding.question = question;
        finding
    })
    .collect()
}
