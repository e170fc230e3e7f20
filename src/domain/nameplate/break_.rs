//! Break: the greatest fault against what a device interrupts, symmetrical
//! with symmetrical and asymmetrical with asymmetrical.

use super::bound::{Ask, Bound, Compare, short};
use super::break_voltage::AT_VOLTAGE;
use super::carry::rating;
use super::choices::{DERATING_BASIS, OWN_VOLTAGE, TIGHT};
use super::facts::{Facts, Part, Subject};
use super::{Case, Rule, element, unit};
use crate::domain::asset::{Answer, Class, ElementKind, FaultKind};
use crate::domain::fault::{Basis, multiplying_factor, rms_half_cycle, x_over_r_implied};
use crate::domain::finding::{Finding, Path, Question, RuleStanding, Verdict};
use crate::units::figure;

pub static RULES: &[Rule] = &[
    Rule {
        name: "break-symmetrical",
        on: &[
            unit(Class::Recloser),
            unit(Class::Breaker),
            unit(Class::Cutout),
            element(ElementKind::Cutout),
        ],
        needs: &[
            "fault",
            "interrupting_amps",
            "test_x_over_r",
            "system X/R (worst bound without)",
        ],
        formula: "fault <= rating / MF; MF = F(system X/R) / F(test X/R), never below 1; F = sqrt(1 + 2 exp(-2 pi / (X/R)))",
        source: "a trade series on short-circuit duties, read for low-voltage breakers and fuses; for reclosers and medium-voltage breakers it is inferred",
        standing: RuleStanding::Inferred,
        choices: &[TIGHT, DERATING_BASIS],
        rests_on: &["interrupting_amps", "test_x_over_r"],
        example: r#"{"class": "recloser", "plate": {"control": "hydraulic", "coil_amps": 100, "interrupting_amps": 4000, "test_x_over_r": 8}, "fault": 3000, "x_over_r": 12}"#,
        judge: symmetrical,
        ..Rule::of(Question::Break)
    },
    Rule {
        name: "break-asymmetrical",
        on: &[unit(Class::Cutout), element(ElementKind::Cutout)],
        needs: &[
            "fault",
            "interrupting_asym_amps",
            "system X/R (worst bound without)",
        ],
        formula: "fault x sqrt(1 + 2 exp(-2 pi / (X/R))) <= asymmetrical rating; x 1.732 when X/R is missing",
        source: "Cal. Code Regs. Title 8 s. 2847: interrupting rating at least the maximum fault, compared on its own basis; factors reproduce a handbook table",
        standing: RuleStanding::Read,
        rests_on: &["interrupting_asym_amps"],
        example: r#"{"class": "cutout", "phases": "A", "elements": [{"element": "cutout", "amps": 100, "interrupting_amps": 7100, "interrupting_asym_amps": 10000}, {"element": "link", "link": "40K"}], "fault": 5000, "x_over_r": 6.2}"#,
        judge: asymmetrical,
        ..Rule::of(Question::Break)
    },
    Rule {
        name: "break-own-voltage",
        on: &[unit(Class::Recloser)],
        needs: &[
            "max_kv",
            "feeder voltage",
            "interrupting_at_kv on a lower voltage",
        ],
        formula: "on a system whose greatest voltage is under 80 % of the maximum voltage, the interrupting rating for that voltage counts: greatest voltage <= the voltage that the rating is for",
        source: "NAVFAC MO-201 s. 3.6: a 14.4 kV recloser may stand on 2.4 to 14.4 kV provided the interrupting rating for that voltage is used",
        standing: RuleStanding::Read,
        choices: &[OWN_VOLTAGE],
        rests_on: &["interrupting_at_kv"],
        example: r#"{"class": "recloser", "plate": {"control": "hydraulic", "coil_amps": 100, "interrupting_amps": 4000, "test_x_over_r": 8, "max_kv": 15.5, "interrupting_at_kv": 4.8}, "kv_ll": 4.16, "fault": 2000, "x_over_r": 5}"#,
        judge: own_voltage,
        ..Rule::of(Question::Break)
    },
    AT_VOLTAGE,
    Rule {
        name: "break-sectionalizer",
        on: &[unit(Class::Sectionalizer)],
        formula: "a sectionalizer counts and opens in the dead interval: another device has to clear",
        source: "training pages on sectionalizers and a seller's page: opens in the dead interval only",
        standing: RuleStanding::Read,
        choices: &[],
        example: r#"{"class": "sectionalizer", "plate": {"coil_amps": 100}, "fault": 2000}"#,
        judge: nothing,
        ..Rule::of(Question::Break)
    },
    Rule {
        name: "break-switch",
        on: &[unit(Class::Switch), element(ElementKind::Switch)],
        formula: "a switch interrupts no fault, and no load unless its record says so: another device has to clear",
        source: "disconnects: assume non-load-break unless there is positive proof (UFC 3-560-01)",
        standing: RuleStanding::Read,
        choices: &[],
        example: r#"{"class": "switch", "plate": {"continuous_amps": 400}, "fault": 2000}"#,
        judge: nothing,
        ..Rule::of(Question::Break)
    },
    Rule {
        name: "break-blade",
        on: &[
            unit(Class::Cutout),
            element(ElementKind::Cutout),
            element(ElementKind::Blade),
        ],
        formula: "a solid blade gives no overcurrent protection: another device has to clear",
        choices: &[],
        example: r#"{"class": "cutout", "phases": "A", "elements": [{"element": "cutout", "amps": 300}, {"element": "blade", "amps": 300}], "fault": 2000}"#,
        judge: nothing,
        ..Rule::of(Question::Break)
    },
];

pub(super) const BLADE: Part = element(ElementKind::Blade);
const LINK: Part = element(ElementKind::Link);

pub(super) fn is_cutout(part: Part) -> bool {
    part == unit(Class::Cutout) || part == element(ElementKind::Cutout)
}

/// The fault as it is asked, with doubts about its kind.
pub(super) fn fault(case: &Case<'_>, subject: &Subject<'_>) -> Ask {
    let Some(given) = case.asked.fault.as_ref() else {
        return Ask {
            what: "fault",
            value: None,
            words: "fault current neither recorded nor typed".to_string(),
            read: "available fault current: a study, or type it".to_string(),
            doubts: Vec::new(),
        };
    };
    let (value, words) = line_ground_bound(case.facts, given.amps, given.kind);
    Ask {
        what: "fault",
        value: Some(value),
        words: format!(
            "fault {} A {}({}){words}",
            short(given.amps),
            given.kind.map_or(String::new(), |k| format!("{k} ")),
            given.origin
        ),
        read: "available fault current of the greatest kind: a study".to_string(),
        doubts: kind_doubt(case.facts, subject, given.kind)
            .into_iter()
            .collect(),
    }
}

/// With X0/X1 under 1 at the bus (near a delta / grounded-wye transformer) a
/// line-ground fault exceeds the three-phase one, at most 3 / (2 + X0/X1)
/// times, nearest the bus.
#[must_use]
pub fn line_ground_factor(kind: Option<FaultKind>, x0_over_x1: Option<f64>) -> f64 {
    match (kind, x0_over_x1) {
        (Some(FaultKind::ThreePhase), Some(ratio)) if ratio < 1.0 => 3.0 / (2.0 + ratio),
        _ => 1.0,
    }
}

pub(super) fn line_ground_bound(
    facts: &Facts,
    amps: f64,
    kind: Option<FaultKind>,
) -> (f64, String) {
    let factor = line_ground_factor(kind, facts.x0_over_x1);
    if factor <= 1.0 {
        return (amps, String::new());
    }
    let value = amps * factor;
    let words = format!(
        " x 3 / (2 + {}) = {} A line-ground at most, X0/X1 of the source being {}",
        short(facts.x0_over_x1.unwrap_or(1.0)),
        short(value),
        short(facts.x0_over_x1.unwrap_or(1.0))
    );
    (value, words)
}

/// Why a fault of this kind may not be the greatest here.
pub(super) fn kind_doubt(
    facts: &Facts,
    subject: &Subject<'_>,
    kind: Option<FaultKind>,
) -> Option<String> {
    let kind = kind?;
    if kind == FaultKind::Unknown {
        return Some("no greater fault exists here, the recorded one being of unknown kind".into());
    }
    let one = facts.single_phase(subject);
    let phases = facts.position.phases.as_deref().unwrap_or("ABC").len();
    let enough = match kind {
        FaultKind::ThreePhase => true,
        FaultKind::LineGround => one,
        _ => phases == 2 || one,
    };
    (!enough).then(|| format!("no other kind of fault is greater here than the {kind} one"))
}

/// Whether a cutout holds a link, a blade, or nobody wrote which.
pub(super) fn holds(case: &Case<'_>, subject: &Subject<'_>) -> Option<Part> {
    let candidates = [BLADE, LINK];
    candidates
        .into_iter()
        .find(|part| case.beside(subject, &[*part]))
}

/// A cutout without a link or blade on record: whether it breaks is unknown.
fn unread_inside(case: &Case<'_>, subject: &Subject<'_>, bound: Bound) -> Bound {
    if is_cutout(subject.part) && holds(case, subject).is_none() {
        return bound.doubted(
            "a link is in it, the record naming neither link nor blade",
            format!("link or blade of {}", subject.called),
        );
    }
    bound
}

fn compare(
    rule: &'static Rule,
    case: &Case<'_>,
    subject: &Subject<'_>,
    ask: Ask,
    bound: Bound,
    note: String,
) -> Finding {
    Compare {
        rule,
        case,
        subject,
        unit: "A",
        ask,
        bound: unread_inside(case, subject, bound),
        tight_percent: case.choices.tight_percent(),
        at_least: false,
        note,
    }
    .finding()
}

/// The test X/R: recorded, or implied by a pair of ratings of one cutout.
fn test_x_over_r(subject: &Subject<'_>) -> Bound {
    if subject.recorded("test_x_over_r").is_some() || !is_cutout(subject.part) {
        return rating(subject, "test_x_over_r", "test X/R", "");
    }
    let asym = rating(subject, "interrupting_asym_amps", "asymmetrical", "A");
    let sym = rating(subject, "interrupting_amps", "symmetrical", "A");
    let implied = match (asym.value, sym.value) {
        (Some(a), Some(s)) => x_over_r_implied(a, s),
        _ => None,
    };
    let Some(implied) = implied else {
        return rating(subject, "test_x_over_r", "test X/R", "");
    };
    Bound {
        value: Some(implied),
        words: format!(
            "test X/R {} implied by {} / {}",
            short(implied),
            asym.words,
            sym.words
        ),
        doubts: [asym.doubts, sym.doubts].concat(),
        read: asym.read.or(sym.read),
    }
}

fn system_words(x_over_r: Option<f64>) -> String {
    match x_over_r {
        Some(xr) => format!("system X/R {}", figure(xr)),
        None => "system X/R missing, so the worst bound (X/R without end)".to_string(),
    }
}

fn symmetrical(rule: &'static Rule, case: &Case<'_>, subject: &Subject<'_>) -> Option<Finding> {
    let cutout = is_cutout(subject.part);
    if cutout && holds(case, subject) == Some(BLADE) {
        return None;
    }
    let asym_only = subject.recorded("interrupting_amps").is_none()
        && subject.recorded("interrupting_asym_amps").is_some();
    if cutout && asym_only {
        return None;
    }
    let rated = rating(
        subject,
        "interrupting_amps",
        "interrupting, symmetrical",
        "A",
    );
    let ask = fault(case, subject);
    let test = test_x_over_r(subject);
    let system = case.asked.fault.as_ref().and_then(|f| f.x_over_r);
    let basis = if cutout {
        Basis::HalfCycleRms
    } else {
        case.choices.basis()
    };
    let (bound, note) = derated(rated, &test, system, basis);
    Some(compare(rule, case, subject, ask, bound, note))
}

/// The rating over MF. Without a test X/R the rating itself stays as a limit
/// that can be exceeded and cannot be met.
fn derated(rated: Bound, test: &Bound, system: Option<f64>, basis: Basis) -> (Bound, String) {
    let Some(test_xr) = test.value else {
        let read = test.read.clone().unwrap_or_default();
        let bound = rated.doubted(
            "its test X/R, which is unread, leaves that much of the rating",
            read,
        );
        return (bound, String::new());
    };
    let system_xr = system.unwrap_or(f64::INFINITY);
    let factor = multiplying_factor(basis, system_xr, test_xr);
    let mut bound = rated.times(1.0 / factor, &format!("/ {}", short(factor)), "A");
    bound.doubts.extend(test.doubts.iter().cloned());
    bound.read = bound.read.or_else(|| test.read.clone());
    let note = format!(
        "{} and {}: MF {} on {}.",
        super::bound::sentence(&system_words(system)),
        test.words,
        short(factor),
        basis.words()
    );
    (bound, note)
}

/// A recloser on a lower voltage than its own.
fn own_voltage(rule: &'static Rule, case: &Case<'_>, subject: &Subject<'_>) -> Option<Finding> {
    let system = super::stand::system_kv(case);
    let max = subject.stated("max_kv").as_number()?;
    let share = case.choices.number(OWN_VOLTAGE) / 100.0;
    if system.value? >= max * share {
        return None;
    }
    let mut bound = rating(
        subject,
        "interrupting_at_kv",
        "voltage of the interrupting rating",
        "kV",
    );
    let beyond = bound.value.is_some_and(|kv| kv > max * share);
    if beyond {
        bound = bound.doubted(
            "the rating holds on this lower voltage too",
            format!(
                "interrupting rating of {} at the system's voltage",
                subject.called
            ),
        );
    }
    let note = format!(
        "Under {} % of its maximum voltage of {} kV.",
        short(share * 100.0),
        short(max)
    );
    Some(
        Compare {
            rule,
            case,
            subject,
            unit: "kV",
            ask: system,
            bound,
            tight_percent: 0.0,
            at_least: false,
            note,
        }
        .finding(),
    )
}

fn asymmetrical(rule: &'static Rule, case: &Case<'_>, subject: &Subject<'_>) -> Option<Finding> {
    if holds(case, subject) == Some(BLADE) {
        return None;
    }
    subject.recorded("interrupting_asym_amps")?;
    let bound = rating(
        subject,
        "interrupting_asym_amps",
        "interrupting, asymmetrical",
        "A",
    );
    let system = case.asked.fault.as_ref().and_then(|f| f.x_over_r);
    let factor = rms_half_cycle(system.unwrap_or(f64::INFINITY));
    let mut ask = fault(case, subject);
    if let Some(value) = ask.value {
        let asym = value * factor;
        ask.value = Some(asym);
        ask.words = format!(
            "{} x {} = {} A asymmetrical",
            ask.words,
            short(factor),
            short(asym)
        );
    }
    let note = format!("{}.", super::bound::sentence(&system_words(system)));
    Some(compare(rule, case, subject, ask, bound, note))
}

fn opens_load(subject: &Subject<'_>) -> String {
    let answer = match (subject.element, subject.recorded("opens_load")) {
        (Some(element), _) => element.opens_load,
        (None, Some(stated)) if stated.is_known() => match stated.as_text() {
            Some("yes") => Some(Answer::Yes),
            Some("no") => Some(Answer::No),
            _ => None,
        },
        _ => None,
    };
    match answer {
        Some(Answer::Yes) => "Opens load by its record; a fault it does not.".to_string(),
        Some(Answer::No) => "Opens no load.".to_string(),
        _ => "Opens load: not known, treat as no.".to_string(),
    }
}

fn nothing(rule: &'static Rule, case: &Case<'_>, subject: &Subject<'_>) -> Option<Finding> {
    if is_cutout(subject.part) && holds(case, subject) != Some(BLADE) {
        return None;
    }
    if subject.part == BLADE
        && case.beside(
            subject,
            &[unit(Class::Cutout), element(ElementKind::Cutout)],
        )
    {
        return None;
    }
    let what = match subject.part {
        Part::Unit(Class::Sectionalizer) => {
            "A sectionalizer counts and opens in the dead interval.".to_string()
        }
        part if part == BLADE || is_cutout(part) => "A solid blade.".to_string(),
        _ => opens_load(subject),
    };
    let clearing = clears(case, subject);
    let because = format!("Breaks nothing: {} has to clear. {what}", clearing.words);
    if clearing.here || !put_to_it(case, subject) {
        return Some(rule.finding(case, subject, Verdict::NotApplicable, because));
    }
    let because = format!("{because} Whether that one breaks this fault is not judged here.");
    let mut finding = rule.finding(case, subject, Verdict::Unknown, because);
    finding.read_next = Some(clearing.check);
    Some(finding)
}

/// Whether the fault was asked of this very place: typed, or judged without
/// the device that is bypassed. A recorded study is such a question only where
/// nothing on record clears it; a bypass that stands open never is.
fn put_to_it(case: &Case<'_>, subject: &Subject<'_>) -> bool {
    let around = case.asked.bypass || case.facts.bypassed().is_some();
    let alone = case.facts.protecting.is_none();
    let asked = case.asked.fault.as_ref().is_some_and(|f| f.typed || alone);
    around || (asked && subject.path == Path::Normal)
}

/// What has to clear in place of a thing that breaks nothing.
struct Clearing {
    words: String,
    /// It stands in series right here, and is judged with it.
    here: bool,
    /// What to check next.
    check: String,
}

/// What has to clear a fault for a thing that breaks nothing.
fn clears(case: &Case<'_>, subject: &Subject<'_>) -> Clearing {
    let interrupts = |other: &&Subject<'_>| {
        other.path == subject.path
            && other.shares_slot(subject)
            && match other.part {
                Part::Unit(Class::Recloser | Class::Breaker) => other.plate.is_some(),
                part => is_cutout(part) && holds(case, other) == Some(LINK),
            }
    };
    let bypassed = case.facts.bypassed().is_some() && subject.path == Path::Normal;
    if !bypassed && let Some(here) = case.subjects.iter().find(interrupts) {
        return Clearing {
            words: format!("{} in series with it here", here.called),
            here: true,
            check: String::new(),
        };
    }
    let (words, check) = match &case.facts.protecting {
        Some(device) => (
            format!("{device}, the nearest recorded toward the normal source,"),
            format!("check {device} for this fault"),
        ),
        None => (
            "a device toward the source, none found on record,".to_string(),
            "find what clears a fault here: none is on record".to_string(),
        ),
    };
    Clearing {
        words,
        here: false,
        check,
    }
}
