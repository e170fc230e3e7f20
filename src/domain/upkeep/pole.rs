//! What is left of a wood pole at the ground line.
//!
//! Strength of a round section goes with the cube of its circumference; a
//! hollow heart or a pocket takes from the section what it held of it. Nothing
//! here is leave to climb.

use std::f64::consts::PI;

use super::{Case, Rule, Said};
use crate::domain::asset::{Defect, Pole, Priority};
use crate::domain::finding::RuleStanding::{CommonPractice, FromMemory, Read};
use crate::units::figure;

pub(super) static RULES: &[Rule] = &[
    Rule {
        name: "pole-strength",
        reads: &["circumference_in", "shell_in", "pocket_in"],
        all: false,
        on: &[],
        source: "section modulus of a round section, computed; limit 2/3 of the strength required when installed: California GO 64-A rule 44.2",
        standing: Read,
        judge: strength,
    },
    Rule {
        name: "pole-result",
        reads: &["result"],
        all: false,
        on: &[],
        source: "a federal reclamation manual: a substandard pole carries a red band or tag, do not climb",
        standing: Read,
        judge: result,
    },
    seen("pole-sounding", &["sounding"], sounding),
    seen("pole-woodpecker", &["woodpecker"], woodpecker),
    seen("pole-lean", &["lean"], lean),
    seen("pole-guys", &["guys"], guys),
];

const fn seen(
    name: &'static str,
    reads: &'static [&'static str],
    judge: fn(&Case<'_>) -> Vec<Said>,
) -> Rule {
    Rule {
        name,
        reads,
        all: false,
        on: &[],
        source: super::PRACTICE,
        standing: CommonPractice,
        judge,
    }
}

/// Stands on every figure of a pole's strength.
pub const NOT_LEAVE: &str = "not leave to climb: inspect first";

/// Resisting moment at the ground line, ft lb, of a solid round section of
/// circumference `c_in` in inches and fibre stress `psi`: f C^3 / (384 pi^2).
#[must_use]
pub fn moment_ft_lb(psi: f64, c_in: f64) -> f64 {
    psi * c_in.powi(3) / (384.0 * PI * PI)
}

/// Share of the section modulus left by a hollow heart: 1 - (d/D)^4, for a
/// circumference and a sound shell in inches. A shell that reaches the middle
/// leaves it whole.
#[must_use]
pub fn hollow_heart(c_in: f64, shell_in: f64) -> f64 {
    let radius = c_in / (2.0 * PI);
    let inner = (radius - shell_in).max(0.0) / radius;
    1.0 - inner.powi(4)
}

/// Share of the section modulus left by an enclosed round pocket `pocket_in`
/// across with `shell_in` of sound wood outside it, bent across the pocket,
/// which is the worst way. By the areas and second moments about the shifted
/// middle; with the pocket in the centre it is the hollow heart.
#[must_use]
pub fn enclosed_pocket(c_in: f64, pocket_in: f64, shell_in: f64) -> f64 {
    let outer = c_in / (2.0 * PI);
    let hole = (pocket_in / 2.0).min(outer);
    let off = (outer - shell_in - hole).max(0.0).min(outer - hole);
    let area = PI * (outer * outer - hole * hole);
    if area <= 0.0 {
        return 0.0;
    }
    let cut = PI * hole * hole;
    let shift = cut * off / area;
    let second = PI * outer.powi(4) / 4.0
        - (PI * hole.powi(4) / 4.0 + cut * off * off)
        - area * shift * shift;
    let left = (second / (outer + shift)) / (PI * outer.powi(3) / 4.0);
    left.clamp(0.0, 1.0)
}

/// Share left by decay from outside: (C / C0)^3.
#[must_use]
pub fn external(c_in: f64, original_in: f64) -> f64 {
    (c_in / original_in).powi(3)
}

/// Loads in pounds two feet from the tip by class, ANSI O5.1: H5, H1, 1, 5, 6
/// and 10 read in a general-interest page, 4 read and recomputed, the rest from
/// memory.
const CLASS_LOADS_LB: &[(&str, f64)] = &[
    ("H6", 11_400.0),
    ("H5", 10_000.0),
    ("H4", 8_700.0),
    ("H3", 7_500.0),
    ("H2", 6_400.0),
    ("H1", 5_400.0),
    ("1", 4_500.0),
    ("2", 3_700.0),
    ("3", 3_000.0),
    ("4", 2_400.0),
    ("5", 1_900.0),
    ("6", 1_500.0),
    ("7", 1_200.0),
    ("9", 740.0),
    ("10", 370.0),
];

/// Fibre stress in psi by species: read in a sheet of pole design values, most
/// also in a public library of pole configurations; not in the standard.
const FIBRE_PSI: &[(&str, f64)] = &[
    ("southern pine", 8_000.0),
    ("southern yellow pine", 8_000.0),
    ("douglas-fir", 8_000.0),
    ("douglas fir", 8_000.0),
    ("western larch", 8_400.0),
    ("western red cedar", 6_000.0),
    ("lodgepole pine", 6_600.0),
    ("red pine", 6_600.0),
    ("jack pine", 6_600.0),
    ("northern white cedar", 4_000.0),
    ("radiata pine", 6_600.0),
    ("scots pine", 7_800.0),
];

/// The load of a class in pounds, two feet from the tip.
#[must_use]
pub fn class_load_lb(class: &str) -> Option<f64> {
    let class = class.trim().to_ascii_uppercase();
    CLASS_LOADS_LB
        .iter()
        .find(|(c, _)| *c == class)
        .map(|(_, lb)| *lb)
}

/// The fibre stress of a species in psi.
#[must_use]
pub fn fibre_psi(species: &str) -> Option<f64> {
    let species = species.trim().to_ascii_lowercase();
    FIBRE_PSI
        .iter()
        .find(|(s, _)| *s == species)
        .map(|(_, psi)| *psi)
}

/// Depth in feet to which a pole is set: a tenth of its length and two feet,
/// common practice.
#[must_use]
pub fn setting_ft(length_ft: f64) -> f64 {
    0.1 * length_ft + 2.0
}

/// The least circumference in inches at the ground line that the class asks of
/// a new pole: that at which its resisting moment is the class load's.
#[must_use]
pub fn class_circumference_in(class: &str, length_ft: f64, species: &str) -> Option<f64> {
    let arm_ft = length_ft - setting_ft(length_ft) - 2.0;
    let moment = class_load_lb(class)? * arm_ft;
    let psi = fibre_psi(species)?;
    (moment > 0.0).then(|| (moment * 384.0 * PI * PI / psi).cbrt())
}

/// Against what the circumference measured is held.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Original {
    /// As recorded when new, in inches.
    Recorded(f64),
    /// What its class asks at least, in inches; loads from memory.
    ByClass(f64),
    /// Nothing on record: decay from outside is not counted.
    Unknown,
}

/// The original circumference of a pole on record.
#[must_use]
pub fn original(pole: Option<&Pole>) -> Original {
    let Some(pole) = pole else {
        return Original::Unknown;
    };
    if let Some(c) = pole.circumference_in {
        return Original::Recorded(c.get());
    }
    let by_class = pole.class.as_ref().and_then(|class| {
        let species = pole.material.as_ref()?;
        class_circumference_in(class, pole.length_ft?.get(), species)
    });
    by_class.map_or(Original::Unknown, Original::ByClass)
}

/// What is left of a pole.
#[derive(Debug, Clone, PartialEq)]
pub struct Left {
    /// Share of the section measured that heart and pockets leave.
    pub section: f64,
    /// Share of the original strength; `None` when no original is known.
    pub of_original: Option<f64>,
    /// The formula with its numbers.
    pub how: String,
}

/// What is left by the measures, in inches.
#[must_use]
pub fn left(
    c_in: f64,
    shell_in: Option<f64>,
    pocket_in: Option<(f64, f64)>,
    original: Original,
) -> Left {
    let mut section = 1.0;
    let mut how = vec![format!("circumference {} in", figure(c_in))];
    if let Some(shell) = shell_in {
        let share = hollow_heart(c_in, shell);
        section *= share;
        how.push(format!(
            "shell {} in leaves 1 - (d/D)^4 = {:.1} %",
            figure(shell),
            share * 100.0
        ));
    }
    if let Some((width, shell)) = pocket_in {
        let share = enclosed_pocket(c_in, width, shell);
        section *= share;
        how.push(format!(
            "pocket {} in across under {} in leaves {:.1} %",
            figure(width),
            figure(shell),
            share * 100.0
        ));
    }
    let first = match original {
        Original::Recorded(c) | Original::ByClass(c) => Some(external(c_in, c)),
        Original::Unknown => None,
    };
    let round = |c: f64| figure((c * 10.0).round() / 10.0);
    how.push(match original {
        Original::Recorded(c) => format!("(C / {} in when new)^3", round(c)),
        Original::ByClass(c) => format!("(C / {} in that its class asks)^3", round(c)),
        Original::Unknown => "no original on record, decay from outside not counted".to_string(),
    });
    Left {
        section,
        of_original: first.map(|f| f * section),
        how: how.join("; "),
    }
}

fn strength(case: &Case<'_>) -> Vec<Said> {
    if case.subject.class.is_some() {
        return Vec::new();
    }
    let Some(c_in) = case.number("circumference_in") else {
        return vec![Said::look(
            "shell or pocket without the circumference: strength not judged",
        )];
    };
    let material = case.subject.pole.as_ref().and_then(|p| p.material.clone());
    if let Some(m) = material.filter(|m| matches!(m.as_str(), "steel" | "concrete" | "composite")) {
        return vec![Said::look(format!(
            "recorded as a {m} pole: the figures of wood are not put to it"
        ))];
    }
    let pocket = case
        .number("pocket_in")
        .map(|w| (w, case.number("pocket_shell_in").unwrap_or(0.0)));
    let original = original(case.subject.pole.as_ref());
    let left = left(c_in, case.number("shell_in"), pocket, original);
    vec![judged(case, &left, original)]
}

/// A pole below the limit by its own measures is a reject; one below it only
/// against what its class asks, by an unconfirmed figure, stops everything on it
/// until it is measured or the figure confirmed. Where the section alone decides,
/// the figure does not matter.
fn judged(case: &Case<'_>, left: &Left, original: Original) -> Said {
    let percent = |x: f64| format!("{:.1} %", x * 100.0);
    let strength = match left.of_original {
        Some(of) => format!("strength against original class {}", percent(of)),
        None => format!(
            "strength left in the section measured {}",
            percent(left.section)
        ),
    };
    let text = format!("{strength} ({})", left.how);
    let Some((limit, source, standing)) = case.subject.limits.get("pole_reject_fraction") else {
        return Said::look(format!("{text}: {NOT_LEAVE}"));
    };
    let by_class = matches!(original, Original::ByClass(_));
    let sure = match left.of_original {
        Some(of) if !by_class => of.min(left.section),
        _ => left.section,
    };
    if sure < limit {
        let read = format!("{text}, below {}: {NOT_LEAVE}", percent(limit));
        return rejected(&read)
            .on(source, standing)
            .proposing(Priority::Urgent, REJECT);
    }
    if left.of_original.is_some_and(|of| of < limit) {
        return Said::stop(format!(
            "{text}: below {} of what its class asks, computed with an unconfirmed class figure: STOP until measured or confirmed; {NOT_LEAVE}; nothing here says that it holds; tell control",
            percent(limit)
        ))
        .lasting()
        .on(CLASS_SOURCE, FromMemory)
        .proposing(
            Priority::Urgent,
            "pole strength in doubt: keep people off it and off its devices until it is judged; measure again with the decay removed, bore, confirm the class figure",
        );
    }
    let said = Said::look(format!("{text}: {NOT_LEAVE}"));
    if by_class {
        return said.on(CLASS_SOURCE, FromMemory);
    }
    said
}

const CLASS_SOURCE: &str = "ANSI O5.1 class loads as remembered, two feet from the tip; fibre stresses read in a design sheet";

const REJECT: &str = "pole reject: mark it, keep people off it and off its devices until it is judged; tell control; replace or reinforce as qualified people decide";

fn rejected(read: &str) -> Said {
    let mut said = Said::defect(read, Defect::PoleReject);
    said.text = format!("pole reject, {read}; nothing here says that it holds");
    said
}

fn result(case: &Case<'_>) -> Vec<Said> {
    if case.subject.class.is_some() || !case.is("result", "reject") {
        return Vec::new();
    }
    vec![rejected(&format!("result reject: {NOT_LEAVE}")).proposing(Priority::Urgent, REJECT)]
}

/// Something seen on a pole, and what it calls for.
fn on_pole(case: &Case<'_>, read: &str, need: &str) -> Vec<Said> {
    if case.subject.class.is_some() {
        return Vec::new();
    }
    vec![
        Said::look(format!("{read}; {NOT_LEAVE}"))
            .lasting()
            .proposing(Priority::Soon, need),
    ]
}

fn sounding(case: &Case<'_>) -> Vec<Said> {
    match case.text("sounding") {
        Some(how @ ("hollow" | "dull")) => on_pole(
            case,
            &format!("sounds {how}"),
            &format!("pole sounds {how}: bore it, measure the shell"),
        ),
        _ => Vec::new(),
    }
}

fn woodpecker(case: &Case<'_>) -> Vec<Said> {
    match case.text("woodpecker") {
        Some("nest or hollow") => on_pole(
            case,
            "woodpecker nest or hollow",
            "woodpecker hollow in the pole: measure it, judge what is left",
        ),
        _ => Vec::new(),
    }
}

fn lean(case: &Case<'_>) -> Vec<Said> {
    match case.text("lean") {
        Some("bad") => on_pole(
            case,
            "leans badly",
            "pole leans badly: look at setting, guys and wires",
        ),
        _ => Vec::new(),
    }
}

fn guys(case: &Case<'_>) -> Vec<Said> {
    match case.text("guys") {
        Some("broken") => on_pole(
            case,
            "guy or anchor broken",
            "guy broken: tell control, renew it",
        ),
        Some("slack") => on_pole(case, "guy slack", "guy slack: tighten it"),
        _ => Vec::new(),
    }
}
