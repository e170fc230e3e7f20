//! Stand: the heat of a fault in wire, over the summed fault-on time of the
//! whole sequence, without cooling between the trips. Asked only where that
//! time is known.

use super::bound::{Ask, Bound, Compare, short};
use super::choices::{ALUMINIUM_C, COPPER_C, INTERRUPTING_CYCLES, TIGHT};
use super::facts::{Part, Subject};
use super::passing::fault_passing;
use super::timing::fault_on_s;
use super::{Case, Rule, element};
use crate::domain::asset::{Class, ElementKind, SpanKind};
use crate::domain::finding::{Finding, Question, RuleStanding};

pub static RULES: &[Rule] = &[
    Rule {
        name: "stand-wire-heat",
        on: &[
            Part::Span,
            element(ElementKind::Lead),
            element(ElementKind::Jumper),
            element(ElementKind::Stirrup),
            element(ElementKind::Bus),
        ],
        needs: &[
            "fault",
            "conductor, of a size and metal",
            "fault-on time of the sequence",
        ],
        formula: "fault <= A sqrt(K log10((T2 + L) / (T1 + L)) / fault-on time), A in circular mils; copper K 0.0297, L 234; aluminium K 0.0125, L 228; from the ampacity temperature to the limit of bare wire, or 250 deg C in cable; of ACSR the aluminium alone",
        source: "ICEA P-32-382 as quoted by a textbook question (copper) and a cable maker's sheet (aluminium); 250 deg C read there; the limits of bare wire are from memory",
        standing: RuleStanding::Read,
        choices: &[TIGHT, ALUMINIUM_C, COPPER_C, INTERRUPTING_CYCLES],
        rests_on: &[],
        example: r#"{"class": "switch", "plate": {"continuous_amps": 400, "momentary_amps": 20000}, "fault": 4000, "x_over_r": 5, "fault_on_s": 1.5}"#,
        judge: heat,
        ..Rule::of(Question::Stand)
    },
    Rule {
        name: "stand-copper-melts",
        on: &[
            Part::Span,
            element(ElementKind::Lead),
            element(ElementKind::Jumper),
            element(ElementKind::Stirrup),
            element(ElementKind::Bus),
        ],
        needs: &[
            "fault",
            "copper conductor of a size",
            "fault-on time of the sequence",
        ],
        formula: "fault <= A sqrt(log10((1083 - Ta) / (234 + Ta) + 1) / (33 x fault-on time)): at this current copper melts",
        source: "Onderdonk's formula, from memory, unconfirmed; it reproduces the figures remembered with it",
        standing: RuleStanding::FromMemory,
        choices: &[TIGHT, INTERRUPTING_CYCLES],
        rests_on: &[],
        example: r##"{"class": "switch", "elements": [{"element": "jumper", "conductor": "#6 Cu"}, {"element": "switch", "amps": 400, "momentary_amps": 20000}], "fault": 2000, "x_over_r": 5, "fault_on_s": 1}"##,
        judge: melts,
        ..Rule::of(Question::Stand)
    },
];

/// What the wire is made of, so far as it carries heat.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Metal {
    Copper,
    Aluminium,
}

impl Metal {
    /// K and lambda of the short-time formula.
    const fn constants(self) -> (f64, f64) {
        match self {
            Metal::Copper => (0.0297, 234.0),
            Metal::Aluminium => (0.0125, 228.0),
        }
    }

    const fn word(self) -> &'static str {
        match self {
            Metal::Copper => "copper",
            Metal::Aluminium => "aluminium",
        }
    }
}

/// Area of wire sizes in circular mils, American wire gauge.
const GAUGE: &[(&str, f64)] = &[
    ("4/0", 211_600.0),
    ("3/0", 167_800.0),
    ("2/0", 133_100.0),
    ("1/0", 105_600.0),
    ("1", 83_690.0),
    ("2", 66_360.0),
    ("3", 52_620.0),
    ("4", 41_740.0),
    ("6", 26_240.0),
    ("8", 16_510.0),
    ("10", 10_380.0),
];

/// Area of a size as it is written: `#2`, `1/0`, `336.4` (thousands of circular
/// mils above 100).
#[must_use]
pub fn circular_mils(size: &str) -> Option<f64> {
    let size = size.trim().trim_start_matches('#');
    if let Some((_, area)) = GAUGE.iter().find(|(name, _)| *name == size) {
        return Some(*area);
    }
    let thousands: f64 = size.parse().ok()?;
    (100.0..3_000.0)
        .contains(&thousands)
        .then_some(thousands * 1_000.0)
}

/// Area and metal of a conductor by its name: `#4 6/1 ACSR`, `1/0 Al cable`,
/// `#6 Cu`. `None` when it names no size or no metal.
#[must_use]
pub fn wire_of(name: &str) -> Option<(f64, Metal)> {
    let mut words = name.split_whitespace();
    let area = circular_mils(words.next()?)?;
    let metal = words.find_map(|w| match w.to_ascii_uppercase().as_str() {
        "CU" | "COPPER" => Some(Metal::Copper),
        "AL" | "AA" | "AAC" | "AAAC" | "ACSR" | "ALUMINIUM" | "ALUMINUM" => Some(Metal::Aluminium),
        _ => None,
    })?;
    Some((area, metal))
}

/// I sqrt(t) / A of the short-time formula, from `from_c` to `to_c`.
#[must_use]
pub fn short_time_factor(metal: Metal, from_c: f64, to_c: f64) -> f64 {
    let (k, lambda) = metal.constants();
    (k * ((to_c + lambda) / (from_c + lambda)).log10())
        .max(0.0)
        .sqrt()
}

/// Current, A, that heats `circular_mils` from `from_c` to `to_c` in `seconds`.
#[must_use]
pub fn short_time_amps(
    (circular_mils, metal): (f64, Metal),
    (from_c, to_c): (f64, f64),
    seconds: f64,
) -> f64 {
    circular_mils * short_time_factor(metal, from_c, to_c) / seconds.sqrt()
}

/// Current, A, that melts copper of `circular_mils` in `seconds` from `from_c`.
#[must_use]
pub fn onderdonk_amps(circular_mils: f64, from_c: f64, seconds: f64) -> f64 {
    let rise = ((1_083.0 - from_c) / (234.0 + from_c) + 1.0).log10();
    circular_mils * (rise / (33.0 * seconds)).sqrt()
}

/// The conductor of a subject and whether it is insulated.
fn conductor<'a>(subject: &Subject<'a>) -> Option<(&'a str, bool)> {
    if let Some(span) = subject.span {
        let cable = span.kind == Some(SpanKind::Cable);
        return span.span.conductor.as_deref().map(|c| (c, cable));
    }
    subject.element?.conductor.as_deref().map(|c| (c, false))
}

/// The ampacity temperature in the stated conditions: `75 C conductor`.
fn ampacity_c(conditions: &str) -> Option<f64> {
    let lower = conditions.to_ascii_lowercase();
    let at = lower
        .find("c conductor")
        .or_else(|| lower.find("deg c conductor"))?;
    let head = lower[..at].trim_end().trim_end_matches("deg").trim_end();
    let start = head
        .rfind(|c: char| !c.is_ascii_digit() && c != '.')
        .map_or(0, |i| i + 1);
    head[start..].parse().ok()
}

/// Conductor temperature at full load, deg C, where the record does not say.
const USUAL_C: (f64, f64) = (75.0, 90.0);
/// Short-circuit limit of cross-linked insulation, deg C.
const INSULATION_C: f64 = 250.0;

struct Wire<'a> {
    name: &'a str,
    area: Option<(f64, Metal)>,
    from_c: f64,
    insulated: bool,
    doubt: Option<String>,
}

fn wire<'a>(case: &Case<'_>, subject: &Subject<'a>) -> Option<Wire<'a>> {
    let (name, span_is_cable) = conductor(subject)?;
    let insulated = span_is_cable || name.to_ascii_lowercase().contains("cable");
    let stated = case
        .facts
        .conductors
        .get(name)
        .and_then(|c| c.conditions.as_deref())
        .and_then(ampacity_c);
    let usual = if insulated { USUAL_C.1 } else { USUAL_C.0 };
    Some(Wire {
        name,
        area: wire_of(name),
        from_c: stated.unwrap_or(usual),
        insulated,
        doubt: stated.is_none().then(|| {
            format!(
                "it starts from {} deg C, its ampacity temperature not being stated",
                short(usual)
            )
        }),
    })
}

fn held(
    rule: &'static Rule,
    case: &Case<'_>,
    subject: &Subject<'_>,
    wire: &Wire<'_>,
    time: Bound,
    (limit, how): (Option<f64>, String),
) -> Finding {
    let read = format!("size and metal of {}", wire.name);
    let mut bound = Bound {
        value: limit,
        words: format!(
            "{how} / sqrt({}){}",
            time.words,
            limit.map_or(String::new(), |l| format!(" = {} A", short(l)))
        ),
        doubts: time.doubts,
        read: time.read.or(Some(read.clone())),
    };
    if let Some(doubt) = &wire.doubt {
        bound = bound.doubted(doubt.clone(), format!("conditions of {}", wire.name));
    }
    let ask: Ask = fault_passing(case, subject, 1.0, "symmetrical");
    Compare {
        rule,
        case,
        subject,
        unit: "A",
        ask,
        bound,
        tight_percent: case.choices.tight_percent(),
        at_least: false,
        note: String::new(),
    }
    .finding()
}

fn heat(rule: &'static Rule, case: &Case<'_>, subject: &Subject<'_>) -> Option<Finding> {
    if case.facts.position.class == Class::Capacitor {
        return None;
    }
    let time = fault_on_s(case, subject)?;
    let wire = wire(case, subject)?;
    let to_c = match wire.area {
        _ if wire.insulated => INSULATION_C,
        Some((_, Metal::Copper)) => case.choices.number(COPPER_C),
        _ => case.choices.number(ALUMINIUM_C),
    };
    let limit = wire
        .area
        .zip(time.value)
        .map(|(area, t)| short_time_amps(area, (wire.from_c, to_c), t));
    let how = match wire.area {
        Some((area, metal)) => format!(
            "{}: {} cmil {} x {} ({} to {} deg C)",
            wire.name,
            short(area),
            metal.word(),
            short_factor(short_time_factor(metal, wire.from_c, to_c)),
            short(wire.from_c),
            short(to_c)
        ),
        None => format!("{}, of which size or metal is not known,", wire.name),
    };
    Some(held(rule, case, subject, &wire, time, (limit, how)))
}

fn short_factor(factor: f64) -> String {
    format!("{factor:.5}")
}

fn melts(rule: &'static Rule, case: &Case<'_>, subject: &Subject<'_>) -> Option<Finding> {
    let time = fault_on_s(case, subject)?;
    let wire = wire(case, subject)?;
    let (area, metal) = wire.area?;
    if metal != Metal::Copper {
        return None;
    }
    let limit = time.value.map(|t| onderdonk_amps(area, wire.from_c, t));
    let how = format!(
        "{}: copper melts from {} deg C at {} cmil x {}",
        wire.name,
        short(wire.from_c),
        short(area),
        short_factor(onderdonk_amps(1.0, wire.from_c, 1.0))
    );
    Some(held(rule, case, subject, &wire, time, (limit, how)))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn names_give_size_and_metal_or_nothing() {
        let copper = Some((26_240.0, Metal::Copper));
        assert_eq!(wire_of("#6 Cu"), copper);
        assert_eq!(
            wire_of("336.4 26/7 ACSR"),
            Some((336_400.0, Metal::Aluminium))
        );
        assert_eq!(wire_of("1/0 Al cable"), Some((105_600.0, Metal::Aluminium)));
        assert_eq!(wire_of("#13 Cu"), None);
        assert_eq!(wire_of("1/0 steel"), None);
        assert_eq!(ampacity_c("75 C conductor, 25 C air"), Some(75.0));
        assert_eq!(
            ampacity_c("three in one duct, 90 C conductor, 20 C earth"),
            Some(90.0)
        );
        assert_eq!(ampacity_c("not stated"), None);
    }

    /// The gauge is geometric: each size 1.2610 times the next in area.
    #[test]
    fn consistency_the_gauge_follows_its_formula() {
        for (name, area) in GAUGE {
            let n: f64 = match name.split_once('/') {
                Some((zeros, _)) => 1.0 - zeros.parse::<f64>().unwrap(),
                None => name.parse().unwrap(),
            };
            let mils = 5.0 * 92.0_f64.powf((36.0 - n) / 39.0);
            assert!((mils * mils / area - 1.0).abs() < 0.001, "{name}");
        }
    }
}
