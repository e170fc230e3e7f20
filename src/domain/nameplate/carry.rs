//! Carry: the load against what each thing in series carries. The least of
//! coil, frame, link, holder, wire and connector governs, because each is
//! judged and the worst stands.

use super::bound::{Bound, Compare};
use super::choices::{COIL_LOADING, TIGHT};
use super::facts::{Part, Subject};
use super::link::{LinkType, link_continuous_amps, mark, parse_link};
use super::{Case, Rule, element, unit};
use crate::domain::asset::{Class, ElementKind, Span, Standing, Stated};
use crate::domain::finding::{Finding, Question, RuleStanding};

const fn rule(
    name: &'static str,
    on: &'static [Part],
    needs: &'static [&'static str],
    formula: &'static str,
    (source, standing): (&'static str, RuleStanding),
    judge: fn(&'static Rule, &Case<'_>, &Subject<'_>) -> Option<Finding>,
) -> Rule {
    Rule {
        name,
        question: Question::Carry,
        on,
        needs,
        formula,
        source,
        standing,
        choices: &[TIGHT],
        judge,
    }
}

const NAMEPLATE: (&str, RuleStanding) = (
    "Cal. Code Regs. Title 8 s. 2847: the plate of a cutout shows its continuous current; the least of link, holder and cutout follows",
    RuleStanding::Read,
);

pub static RULES: &[Rule] = &[
    Rule {
        choices: &[TIGHT, COIL_LOADING],
        ..rule(
            "carry-coil",
            &[unit(Class::Recloser), unit(Class::Sectionalizer)],
            &["load", "coil_amps"],
            "load <= coil x coil loading (100 % or 70 %)",
            (
                "NAVFAC MO-201 s. 3.6 and a recloser maker's overload sheet: continuous rating = coil rating; a repair shop's coil note: 70 %",
                RuleStanding::Read,
            ),
            coil,
        )
    },
    rule(
        "carry-frame",
        &[
            unit(Class::Recloser),
            unit(Class::Sectionalizer),
            unit(Class::Switch),
            unit(Class::Breaker),
            unit(Class::Cutout),
        ],
        &["load", "continuous_amps"],
        "load <= continuous current on the plate",
        (
            "NAVFAC MO-201 s. 3.6: continuous rating of reclosers; that a plate's continuous current is the limit of any device is common practice",
            RuleStanding::Read,
        ),
        frame,
    ),
    rule(
        "carry-holder",
        &[unit(Class::Cutout), element(ElementKind::Cutout)],
        &["load", "holder_amps or blade_amps, or the cutout's amps"],
        "load <= continuous current of the cutout with what is in it",
        NAMEPLATE,
        holder,
    ),
    rule(
        "carry-link",
        &[element(ElementKind::Link)],
        &["load", "link"],
        "load <= 150 % of a K or T link (140 carries 190 A, 200 carries 200 A), 100 % of an N link",
        (
            "fuse-link literature: K and T carry 150 % of rating (read); the exceptions 65, 140 and 200 and N at 100 % are from memory",
            RuleStanding::Read,
        ),
        link,
    ),
    rule(
        "carry-blade",
        &[element(ElementKind::Blade)],
        &["load", "the blade's amps"],
        "load <= continuous current of the blade; it gives no overcurrent protection",
        (
            "two cutout makers' sheets: a blade has a rating of its own in the same body",
            RuleStanding::Read,
        ),
        own_amps,
    ),
    rule(
        "carry-switch",
        &[element(ElementKind::Switch)],
        &["load", "the switch's amps"],
        "load <= continuous current of the switch",
        ("common practice, no source", RuleStanding::CommonPractice),
        own_amps,
    ),
    rule(
        "carry-wire",
        &[
            element(ElementKind::Lead),
            element(ElementKind::Jumper),
            element(ElementKind::Stirrup),
            element(ElementKind::Bus),
        ],
        &[
            "load",
            "amps, or the conductor's ampacity with its conditions",
        ],
        "load <= ampacity of the wire at its stated conditions",
        (
            "rating of a tap = least of conductor, stirrup, clamp, jumper, device: common practice, no source",
            RuleStanding::CommonPractice,
        ),
        wire,
    ),
    rule(
        "carry-connector",
        &[element(ElementKind::Connector), element(ElementKind::Clamp)],
        &["load", "amps"],
        "load <= continuous current of the connector",
        (
            "rating of a tap = least of conductor, stirrup, clamp, jumper, device: common practice, no source",
            RuleStanding::CommonPractice,
        ),
        own_amps,
    ),
    rule(
        "carry-span",
        &[Part::Span],
        &[
            "load",
            "ampacity of the span or of its conductor, with conditions",
        ],
        "load <= ampacity of the span at its stated conditions",
        (
            "an ampacity holds only at its conditions: common practice, no source",
            RuleStanding::CommonPractice,
        ),
        span,
    ),
    rule(
        "carry-regulator",
        &[unit(Class::Regulator)],
        &[
            "load",
            "continuous_amps",
            "raise_limit_percent and lower_limit_percent (100 % without)",
        ],
        "load <= rated x (10 %: 100, 8.75: 110, 7.5: 120, 6.25: 135, 5: 160 %), at most 668 A unless the plate says otherwise",
        (
            "two regulator makers' instruction pages: supplementary current by range, cap 668 A; the larger limit counts by common practice",
            RuleStanding::Read,
        ),
        regulator,
    ),
    rule(
        "carry-transformer",
        &[unit(Class::Transformer)],
        &["load", "kva", "primary_kv", "phases"],
        "load <= kVA / primary kV (one phase) or kVA / (1.732 x primary kV) (three)",
        (
            "full-load current from the plate (a published infinite-bus example); a loading guide may allow more and is not applied",
            RuleStanding::Read,
        ),
        transformer,
    ),
];

fn read(label: &str, subject: &Subject<'_>) -> String {
    match &subject.slot {
        Some(slot) => format!("{label} of {}, slot {slot}", subject.called),
        None => format!("{label} of {}", subject.called),
    }
}

/// A rating of the subject as a limit.
pub(super) fn rating(subject: &Subject<'_>, key: &str, label: &str, unit: &str) -> Bound {
    Bound::of(&subject.stated(key), label, unit, &read(label, subject))
}

fn held(
    rule: &'static Rule,
    case: &Case<'_>,
    subject: &Subject<'_>,
    bound: Bound,
    note: &str,
) -> Option<Finding> {
    Some(
        Compare {
            rule,
            case,
            subject,
            unit: "A",
            ask: case.load(),
            bound,
            tight_percent: case.choices.tight_percent(),
            at_least: false,
            note: note.to_string(),
        }
        .finding(),
    )
}

/// How the unit is controlled, so far as it is known for certain.
pub(super) fn electronic(subject: &Subject<'_>) -> bool {
    subject
        .recorded("control")
        .is_some_and(|c| c.is_known() && c.as_text() == Some("electronic"))
}

fn coil(rule: &'static Rule, case: &Case<'_>, subject: &Subject<'_>) -> Option<Finding> {
    if electronic(subject) && subject.recorded("coil_amps").is_none() {
        return None;
    }
    let share = case.choices.coil_share();
    let words = if share < 1.0 { "x 70 %" } else { "x 100 %" };
    let bound = rating(subject, "coil_amps", "coil", "A").times(share, words, "A");
    held(rule, case, subject, bound, "")
}

/// On a hydraulic unit the coil is the continuous rating, so a plate that is
/// silent about the frame is complete; so is a cutout's that names its holder
/// or blade.
fn frame(rule: &'static Rule, case: &Case<'_>, subject: &Subject<'_>) -> Option<Finding> {
    let silent = subject.recorded("continuous_amps").is_none();
    let elsewhere: &[&str] = match subject.part {
        Part::Unit(Class::Recloser | Class::Sectionalizer) => &["coil_amps"],
        Part::Unit(Class::Cutout) => &["holder_amps", "blade_amps"],
        _ => &[],
    };
    if silent && elsewhere.iter().any(|k| subject.recorded(k).is_some()) {
        return None;
    }
    let bound = rating(subject, "continuous_amps", "continuous", "A");
    held(rule, case, subject, bound, "")
}

fn holder(rule: &'static Rule, case: &Case<'_>, subject: &Subject<'_>) -> Option<Finding> {
    if subject.element.is_some() {
        return own_amps(rule, case, subject);
    }
    let with_blade = case.beside(subject, &[element(ElementKind::Blade)]);
    let (key, label) = if with_blade {
        ("blade_amps", "blade")
    } else {
        ("holder_amps", "holder")
    };
    subject.recorded(key)?;
    held(rule, case, subject, rating(subject, key, label, "A"), "")
}

fn link(rule: &'static Rule, case: &Case<'_>, subject: &Subject<'_>) -> Option<Finding> {
    let stated = subject.stated("link");
    let where_to = read("link size and type", subject);
    let bound = match mark(&stated) {
        None => Bound::unread("link", &where_to),
        Some(text) => match parse_link(&text) {
            None => Bound::unread("link", &where_to),
            Some((rated, link_type)) => link_bound(&stated, rated, link_type, &where_to),
        },
    };
    held(rule, case, subject, bound, "")
}

fn link_bound(stated: &Stated, rated: f64, kind: Option<LinkType>, read: &str) -> Bound {
    let as_number = Stated {
        value: Some(crate::domain::asset::Plain::Number(rated)),
        ..stated.clone()
    };
    let letter = kind.map_or("", LinkType::word);
    let label = format!("link {letter}");
    let bound = Bound::of(&as_number, label.trim_end(), "A", read);
    match kind.map(|k| (k, link_continuous_amps(rated, k))) {
        Some((LinkType::N, _)) => bound.times(1.0, "x 100 %", "A"),
        Some((_, Some(amps))) => {
            let percent = amps / rated * 100.0;
            let words = format!(
                "x {} %",
                crate::units::figure((percent * 10.0).round() / 10.0)
            );
            bound.times(amps / rated, &words, "A")
        }
        Some((_, None)) => bound.times(1.0, "x 100 %", "A").doubted(
            format!(
                "it carries its rating, a {letter} link of {rated} A being no size of the series"
            ),
            read,
        ),
        None => bound
            .times(1.0, "x 100 %", "A")
            .doubted("it carries its rating, its type letter being unread", read),
    }
}

fn own_amps(rule: &'static Rule, case: &Case<'_>, subject: &Subject<'_>) -> Option<Finding> {
    let in_unit = subject.part == element(ElementKind::Blade)
        && subject.recorded("continuous_amps").is_none()
        && case.subjects.iter().any(|s| {
            s.path == subject.path
                && s.shares_slot(subject)
                && s.part == unit(Class::Cutout)
                && s.recorded("blade_amps").is_some()
        });
    if in_unit {
        return None;
    }
    let bound = rating(subject, "continuous_amps", "continuous", "A");
    let note = if subject.part == element(ElementKind::Blade) {
        "A solid blade gives no overcurrent protection."
    } else {
        ""
    };
    held(rule, case, subject, bound, note)
}

/// The ampacity of a conductor by name. Without conditions the figure is taken
/// as assumed.
fn ampacity(case: &Case<'_>, name: &str) -> Bound {
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
    let own = subject
        .recorded("continuous_amps")
        .map(|_| rating(subject, "continuous_amps", "continuous", "A"));
    let by_name = subject
        .element
        .and_then(|e| e.conductor.as_deref())
        .map(|name| ampacity(case, name));
    let bound = match (own, by_name) {
        (Some(a), Some(b)) => a.least(b),
        (Some(a), None) | (None, Some(a)) => a,
        (None, None) => Bound::unread("ampacity", &read("conductor", subject)),
    };
    held(rule, case, subject, bound, "")
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

/// Steps of the range limit, percent, with the share of rated current.
const SUPPLEMENTARY: &[(f64, f64)] = &[(5.0, 1.6), (6.25, 1.35), (7.5, 1.2), (8.75, 1.1)];
/// Greatest current by supplementary rating unless the plate gives another.
const REGULATOR_CAP_AMPS: f64 = 668.0;

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
    let factor = range.map_or(1.0, |r| {
        SUPPLEMENTARY
            .iter()
            .find(|(percent, _)| r <= *percent + 1e-9)
            .map_or(1.0, |(_, factor)| *factor)
    });
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
