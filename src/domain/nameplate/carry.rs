//! Carry: the load against what each device in series carries. The least of
//! coil, frame, link, holder, wire and connector governs, because each is
//! judged and the worst stands.

use super::bound::{Bound, Compare};
use super::choices::{COIL_LOADING, TIGHT};
use super::facts::{Part, Subject};
use super::link::{LinkType, link_continuous_amps, mark, parse_link};
use super::{Case, Rule, element, unit};
use crate::domain::asset::{Class, ElementKind, Stated};
use crate::domain::finding::{Finding, Question, RuleStanding, Verdict};

pub static RULES: &[Rule] = &[
    Rule {
        name: "carry-coil",
        on: &[unit(Class::Recloser), unit(Class::Sectionalizer)],
        needs: &["load", "coil_amps"],
        formula: "load <= coil x coil loading (100 % or 70 %)",
        source: "NAVFAC MO-201 s. 3.6 and a recloser maker's overload sheet: continuous rating = coil rating; a repair shop's coil note: 70 %",
        standing: RuleStanding::Read,
        choices: &[TIGHT, COIL_LOADING],
        rests_on: &["coil_amps"],
        example: r#"{"class": "recloser", "plate": {"control": "hydraulic", "coil_amps": 100}, "load": 80}"#,
        judge: coil,
        ..Rule::of(Question::Carry)
    },
    Rule {
        name: "carry-frame",
        on: &[
            unit(Class::Recloser),
            unit(Class::Sectionalizer),
            unit(Class::Switch),
            unit(Class::Breaker),
            unit(Class::Cutout),
        ],
        needs: &["load", "continuous_amps"],
        formula: "load <= continuous current on the plate",
        source: "NAVFAC MO-201 s. 3.6: continuous rating of reclosers; that a plate's continuous current is the limit of any device is common practice",
        standing: RuleStanding::Read,
        rests_on: &["continuous_amps"],
        example: r#"{"class": "recloser", "plate": {"control": "electronic", "continuous_amps": 560}, "load": 400}"#,
        judge: frame,
        ..Rule::of(Question::Carry)
    },
    Rule {
        name: "carry-holder",
        on: &[unit(Class::Cutout), element(ElementKind::Cutout)],
        needs: &["load", "holder_amps or blade_amps, or the cutout's amps"],
        formula: "load <= continuous current of the cutout with what is in it",
        source: "Cal. Code Regs. Title 8 s. 2847: the plate of a cutout shows its continuous current; the least of link, holder and cutout follows",
        standing: RuleStanding::Read,
        rests_on: &["amps"],
        example: r#"{"class": "cutout", "phases": "A", "elements": [{"element": "cutout", "amps": 100}, {"element": "link", "link": "100K"}], "load": 80}"#,
        judge: holder,
        ..Rule::of(Question::Carry)
    },
    Rule {
        name: "carry-link",
        on: &[element(ElementKind::Link)],
        needs: &["load", "link"],
        formula: "load <= 150 % of a K or T link (140 carries 190 A, 200 carries 200 A), 100 % of an N link",
        source: "fuse-link literature: K and T carry 150 % of rating (read); the exceptions 65, 140 and 200 and N at 100 % are from memory",
        standing: RuleStanding::Read,
        rests_on: &["link"],
        example: r#"{"class": "cutout", "phases": "A", "elements": [{"element": "cutout", "amps": 100}, {"element": "link", "link": "40K"}], "load": 50}"#,
        judge: link,
        ..Rule::of(Question::Carry)
    },
    Rule {
        name: "carry-blade",
        on: &[element(ElementKind::Blade)],
        needs: &["load", "the blade's amps"],
        formula: "load <= continuous current of the blade; it gives no overcurrent protection",
        source: "two cutout makers' sheets: 300 A solid blade in the body of a 100 or 200 A cutout; each blade has a rating of its own",
        standing: RuleStanding::Read,
        rests_on: &["amps"],
        example: r#"{"class": "cutout", "phases": "A", "elements": [{"element": "cutout"}, {"element": "blade", "amps": 300}], "load": 180}"#,
        judge: own_amps,
        ..Rule::of(Question::Carry)
    },
    Rule {
        name: "carry-switch",
        on: &[element(ElementKind::Switch)],
        needs: &["load", "the switch's amps"],
        formula: "load <= continuous current of the switch",
        rests_on: &["amps"],
        example: r#"{"class": "switch", "elements": [{"element": "switch", "amps": 400}], "load": 300}"#,
        judge: own_amps,
        ..Rule::of(Question::Carry)
    },
    Rule {
        name: "carry-connector",
        on: &[element(ElementKind::Connector), element(ElementKind::Clamp)],
        needs: &["load", "amps"],
        formula: "load <= continuous current of the connector or clamp; a tap carries the least of conductor, stirrup, clamp, jumper and device",
        source: "rating of a tap = least of conductor, stirrup, clamp, jumper, device: common practice, no source",
        rests_on: &["amps"],
        example: r#"{"class": "switch", "elements": [{"element": "clamp", "amps": 200}, {"element": "switch", "amps": 400}], "load": 120}"#,
        judge: own_amps,
        ..Rule::of(Question::Carry)
    },
];

pub(super) fn read(label: &str, subject: &Subject<'_>) -> String {
    match &subject.slot {
        Some(slot) => format!("{label} of {}, slot {slot}", subject.called),
        None => format!("{label} of {}", subject.called),
    }
}

/// A rating of the subject as a limit.
pub(super) fn rating(subject: &Subject<'_>, key: &str, label: &str, unit: &str) -> Bound {
    Bound::of(&subject.stated(key), label, unit, &read(label, subject))
}

pub(super) fn held(
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
    let load = case.asked.load.as_ref().map(|g| g.value);
    let note = super::overload::coil_note(load, subject.stated("coil_amps").as_number());
    held(rule, case, subject, bound, &note)
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
    if silent && blade_counts(rule, case, subject).is_some() {
        return None;
    }
    if let Some(finding) = blade_counts(rule, case, subject) {
        return Some(finding);
    }
    let bound = rating(subject, "continuous_amps", "continuous", "A");
    let note = if subject.part == unit(Class::Recloser) && electronic(subject) {
        let load = case.asked.load.as_ref().map(|g| g.value);
        super::overload::electronic_note(load, bound.value)
    } else {
        String::new()
    };
    held(rule, case, subject, bound, &note)
}

fn holder(rule: &'static Rule, case: &Case<'_>, subject: &Subject<'_>) -> Option<Finding> {
    if let Some(finding) = blade_counts(rule, case, subject) {
        return Some(finding);
    }
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

/// With a solid blade and no link in it, the amps of a cutout are those of its
/// fuse holder and do not count, unless the plate has a figure for the blade.
fn blade_counts(rule: &'static Rule, case: &Case<'_>, subject: &Subject<'_>) -> Option<Finding> {
    let cutout = matches!(
        subject.part,
        Part::Unit(Class::Cutout) | Part::Element(ElementKind::Cutout)
    );
    let blade = case.beside(subject, &[element(ElementKind::Blade)]);
    let link = case.beside(subject, &[element(ElementKind::Link)]);
    if !cutout || !blade || link || subject.recorded("blade_amps").is_some() {
        return None;
    }
    let because = "The amps of the body are those of its fuse holder; with a solid blade in it the blade's own amps govern.".to_string();
    Some(rule.finding(case, subject, Verdict::NotApplicable, because))
}

fn link(rule: &'static Rule, case: &Case<'_>, subject: &Subject<'_>) -> Option<Finding> {
    held(rule, case, subject, link_limit(subject), "")
}

/// What the link of a subject carries.
pub(super) fn link_limit(subject: &Subject<'_>) -> Bound {
    let stated = subject.stated("link");
    let where_to = read("link size and type", subject);
    match mark(&stated).as_deref().and_then(parse_link) {
        None => Bound::unread("link", &where_to),
        Some((rated, link_type)) => link_bound(&stated, rated, link_type, &where_to),
    }
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
