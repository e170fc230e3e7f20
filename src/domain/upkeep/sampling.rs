//! What comes before a sample is drawn.

use serde::Serialize;

use super::Subject;
use super::pcb::{Band, Basis, PcbClass};
use crate::domain::asset::Class;
use crate::domain::finding::RuleStanding::{self, CommonPractice, Read};
use crate::domain::finding::Severity;

/// One line of the checklist.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Step {
    /// A line that stops, or one to look at; a plain step when absent.
    pub level: Option<Severity>,
    pub text: String,
    pub source: &'static str,
    pub standing: RuleStanding,
}

fn step(text: impl Into<String>, source: &'static str, standing: RuleStanding) -> Step {
    Step {
        level: None,
        text: text.into(),
        source,
        standing,
    }
}

impl Step {
    fn at(mut self, level: Severity) -> Step {
        self.level = Some(level);
        self
    }
}

const GUIDE: &str = "a guide to sampling transformer liquids";
const D3613: &str = "ASTM D3613, sampling for gas analysis";
const D923: &str = "ASTM D923, sampling of insulating liquids";
const PRACTICE: &str = super::PRACTICE;

/// The checklist of a unit: what is known of it first. `low` says that the
/// level on record is below the mark or was not seen.
#[must_use]
pub fn checklist(subject: &Subject, pcb: Option<&PcbClass>, low: Option<&str>) -> Vec<Step> {
    let mut out = vec![read_label(pcb)];
    if let Some(low) = low {
        out.push(
            step(
                format!("{low}: do not sample it at or below the mark; tell control"),
                PRACTICE,
                CommonPractice,
            )
            .at(Severity::Stop),
        );
    }
    if matches!(
        subject.class,
        Some(
            Class::Regulator
                | Class::Transformer
                | Class::Recloser
                | Class::Sectionalizer
                | Class::Capacitor
        )
    ) {
        out.push(
            step(
                "a small unit may hold too little to be sampled energized: read level gauge and volume first; not at or below the least mark",
                PRACTICE,
                CommonPractice,
            )
            .at(Severity::Look),
        );
    }
    let always = ALWAYS
        .iter()
        .map(|(t, source, standing)| step(*t, source, *standing));
    out.extend(always);
    out
}

/// What holds of every sample, in the order of the work.
static ALWAYS: &[(&str, &str, RuleStanding)] = &[
    (
        "pressure: the tank must be at positive pressure, since a vacuum draws air in; hose full of clean oil on the valve, watch which way it flows before opening",
        GUIDE,
        Read,
    ),
    (
        "valve: bottom for mineral oil, silicone and other liquids lighter than water; top, below the level, for askarel; no drain valve, top; an old askarel unit refilled with a lighter liquid, bottom",
        "a guide to the sampling point by density of the liquid",
        Read,
    ),
    (
        "waste container first: flush the dead leg, rinse, then fill; nothing onto the ground",
        GUIDE,
        Read,
    ),
    (
        "for gas analysis: glass syringe, two fills and emptyings to condition it, no bubble; if conditioning would lower the level visibly it may be left out, and the record must say so",
        D3613,
        Read,
    ),
    (
        "small, de-energized and without a valve: dip tube, about 3 mm off the floor",
        D923,
        Read,
    ),
    (
        "record: serial of the unit, place, liquid, valve, temperature of liquid and air, humidity, level, energized or not, load, who, container, day and hour",
        PRACTICE,
        CommonPractice,
    ),
];

fn read_label(pcb: Option<&PcbClass>) -> Step {
    let label = "PCB label first";
    let Some(pcb) = pcb else {
        return step(
            format!("{label}: the record knows no liquid in it; if there is one, no label or never tested: treat as contaminated for handling"),
            GUIDE,
            Read,
        )
        .at(Severity::Look);
    };
    let handling = match (pcb.band, pcb.basis) {
        (Band::Pcb, _) => {
            return step(
                format!(
                    "{label}: {}. Do not draw from it without the special procedure for PCB",
                    pcb.text
                ),
                GUIDE,
                Read,
            )
            .at(Severity::Stop);
        }
        (_, Basis::Established) => "Handle by the local procedure for it",
        _ => "Never tested: treat as contaminated for handling",
    };
    step(format!("{label}: {}. {handling}", pcb.text), GUIDE, Read).at(Severity::Look)
}
