//! Stand: the impulse level by class. The rules speak only where the plate has a
//! BIL. Below the lowest class no list was read.

use super::bound::{Ask, Bound, Compare, short};
use super::carry::rating;
use super::choices::{TIGHT, VOLTAGE_RANGE};
use super::facts::Subject;
use super::stand::system_kv;
use super::{Case, Rule, element, unit};
use crate::domain::asset::{Class, ElementKind};
use crate::domain::finding::{Finding, Question, RuleStanding};

/// BIL by class, kV: reclosers and outdoor switchgear, the lower figure that
/// some have, and distribution transformers.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct ListedBil {
    /// Greatest system voltage of the class, line to line.
    pub up_to_kv: f64,
    /// The figure that meets every list of reclosers.
    pub recloser_kv: f64,
    /// What some units have, and which.
    pub lower_kv: f64,
    pub lower_if: &'static str,
    /// Cutouts: the least and the usual figure.
    pub cutout_kv: (f64, f64),
    pub transformer_kv: f64,
    /// Pad-mounted switches.
    pub pad_kv: f64,
}

/// Reclosers of 15.5 to 38 kV: a maker's technical data (read). The 95 kV of
/// small single-phase units, cutouts and transformers are from memory. Pad-mounted
/// switches of 15 and 25 kV: makers' instruction sheets (read).
pub static LISTED: &[ListedBil] = &[
    ListedBil {
        up_to_kv: 15.5,
        recloser_kv: 110.0,
        lower_kv: 95.0,
        lower_if: "it is a small single-phase unit",
        cutout_kv: (95.0, 110.0),
        transformer_kv: 95.0,
        pad_kv: 95.0,
    },
    ListedBil {
        up_to_kv: 27.0,
        recloser_kv: 125.0,
        lower_kv: 125.0,
        lower_if: "",
        cutout_kv: (125.0, 150.0),
        transformer_kv: 125.0,
        pad_kv: 125.0,
    },
    ListedBil {
        up_to_kv: 38.0,
        recloser_kv: 170.0,
        lower_kv: 150.0,
        lower_if: "its list is one that has 150 kV",
        cutout_kv: (150.0, 170.0),
        transformer_kv: 150.0,
        pad_kv: 150.0,
    },
];

/// Below this no list was read.
const LEAST_KV: f64 = 8.25;

fn listed(system_kv: f64) -> Option<&'static ListedBil> {
    if system_kv <= LEAST_KV {
        return None;
    }
    LISTED.iter().find(|l| system_kv <= l.up_to_kv)
}

/// The transformer BIL of the class of a system, kV.
pub(super) fn transformer_bil(system_kv: f64) -> Option<f64> {
    listed(system_kv).map(|l| l.transformer_kv)
}

const NEEDS: &[&str] = &["bil_kv", "feeder voltage, or the voltage typed"];

pub static RULES: &[Rule] = &[
    Rule {
        name: "stand-bil",
        on: &[
            unit(Class::Recloser),
            unit(Class::Sectionalizer),
            unit(Class::Breaker),
        ],
        needs: NEEDS,
        formula: "BIL >= 110 kV up to 15.5 kV of system voltage, 125 kV up to 27 kV, 170 kV up to 38 kV; small single-phase units of 15.5 kV may have 95 kV and some of 38 kV 150 kV: then in doubt; no list up to 8.25 kV",
        source: "a recloser maker's technical data for 15.5 to 38 kV and a switchgear maker's note (110 kV of outdoor breakers of 15.5 kV), read; the 95 kV of small single-phase units is from memory",
        standing: RuleStanding::Read,
        choices: &[TIGHT, VOLTAGE_RANGE],
        rests_on: &["bil_kv"],
        example: r#"{"class": "recloser", "plate": {"control": "electronic", "continuous_amps": 560, "bil_kv": 110}}"#,
        judge: |rule, case, subject| {
            impulse(rule, case, subject, |l| {
                (l.recloser_kv, l.lower_kv, l.lower_if)
            })
        },
        ..Rule::of(Question::Stand)
    },
    Rule {
        name: "stand-bil-cutout",
        on: &[unit(Class::Cutout), element(ElementKind::Cutout)],
        needs: NEEDS,
        formula: "BIL >= 95 kV up to 15.5 kV of system voltage (some have 110), 125 kV up to 27 kV (150), 150 kV up to 38 kV (170)",
        source: "typical ratings of cutouts: from memory, unconfirmed; classes of 15 and 27 kV read in two makers' sheets",
        standing: RuleStanding::FromMemory,
        choices: &[TIGHT, VOLTAGE_RANGE],
        rests_on: &["bil_kv"],
        example: r#"{"class": "cutout", "phases": "A", "elements": [{"element": "cutout", "amps": 100, "bil_kv": 110}, {"element": "link", "link": "40K"}]}"#,
        judge: |rule, case, subject| {
            impulse(rule, case, subject, |l| (l.cutout_kv.0, l.cutout_kv.0, ""))
        },
        ..Rule::of(Question::Stand)
    },
    Rule {
        name: "stand-bil-switch",
        on: &[unit(Class::Switch), element(ElementKind::Switch)],
        needs: NEEDS,
        formula: "BIL >= 95 kV up to 15.5 kV of system voltage, 125 kV up to 27 kV, 150 kV up to 38 kV",
        source: "pad-mounted switches of 95 and 125 kV: makers' instruction sheets (read); the 150 kV, and that pole-mounted switches are held to the same, are from memory",
        standing: RuleStanding::FromMemory,
        choices: &[TIGHT, VOLTAGE_RANGE],
        rests_on: &["bil_kv"],
        example: r#"{"class": "switch", "elements": [{"element": "switch", "amps": 400, "bil_kv": 110}]}"#,
        judge: |rule, case, subject| impulse(rule, case, subject, |l| (l.pad_kv, l.pad_kv, "")),
        ..Rule::of(Question::Stand)
    },
    Rule {
        name: "stand-bil-transformer",
        on: &[unit(Class::Transformer)],
        needs: NEEDS,
        formula: "BIL >= 95 kV up to 15.5 kV of system voltage, 125 kV up to 27 kV, 150 kV up to 38 kV (125 kV for grounded-wye units: then in doubt)",
        source: "distribution transformers of 15, 25 and 34.5 kV class: from memory, unconfirmed",
        standing: RuleStanding::FromMemory,
        choices: &[TIGHT, VOLTAGE_RANGE],
        rests_on: &["bil_kv"],
        example: r#"{"class": "transformer", "phases": "A", "plate": {"kva": 25, "primary_kv": 7.2, "phases": 1, "bil_kv": 95}}"#,
        judge: |rule, case, subject| {
            impulse(rule, case, subject, |l| {
                let lower = if l.up_to_kv > 27.0 {
                    125.0
                } else {
                    l.transformer_kv
                };
                (l.transformer_kv, lower, "it is a grounded-wye unit")
            })
        },
        ..Rule::of(Question::Stand)
    },
];

/// The figure that meets every list, the lower one that some have, and which.
type Of = fn(&ListedBil) -> (f64, f64, &'static str);

fn impulse(rule: &'static Rule, case: &Case<'_>, subject: &Subject<'_>, of: Of) -> Option<Finding> {
    subject.recorded("bil_kv")?;
    let system = system_kv(case);
    let plate = rating(subject, "bil_kv", "BIL", "kV");
    let row = system.value.and_then(listed).map(of);
    let in_doubt =
        row.filter(|(full, lower, _)| plate.value.is_some_and(|b| (*lower..*full).contains(&b)));
    let figure = in_doubt
        .map(|(_, lower, _)| lower)
        .or(row.map(|(full, ..)| full));
    let mut bound = Bound {
        value: figure,
        words: figure.map_or_else(
            || format!("no listed BIL for {}", system.words),
            |kv| format!("{} kV listed for {}", short(kv), system.words),
        ),
        doubts: system.doubts,
        read: Some(system.read),
    };
    if let Some((.., why)) = in_doubt {
        bound = bound.doubted(why, "frame of the device");
        bound.read = Some(format!("frame of {}", subject.called));
    }
    Some(
        Compare {
            rule,
            case,
            subject,
            unit: "kV",
            ask: Ask {
                what: "BIL",
                value: plate.value,
                words: plate.words,
                read: plate.read.unwrap_or_default(),
                doubts: plate.doubts,
            },
            bound,
            // The listed figure is the rating itself: meeting it is enough.
            tight_percent: 0.0,
            at_least: true,
            note: "Other makers' lists may differ.".to_string(),
        }
        .finding(),
    )
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn consistency_bil_never_falls_with_the_class_and_the_lower_is_no_higher() {
        for pair in LISTED.windows(2) {
            assert!(pair[0].up_to_kv < pair[1].up_to_kv);
            assert!(pair[0].recloser_kv < pair[1].recloser_kv);
            assert!(pair[0].transformer_kv < pair[1].transformer_kv);
            assert!(pair[0].cutout_kv.0 < pair[1].cutout_kv.0);
        }
        for l in LISTED {
            assert!(l.lower_kv <= l.recloser_kv && l.cutout_kv.0 <= l.cutout_kv.1);
        }
    }
}
