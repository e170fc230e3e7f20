//! Line sections, sources, feeders and conductors.

use serde::{Deserialize, Serialize};

use super::class::{Answer, words};
use super::name::RecordId;
use super::stated::Stated;
use crate::units::{Amps, Feet, Inches, Kv, Kva, Mva, Ohms, OhmsPerMile, XOverR};

words! {
    /// Overhead wire or cable.
    SpanKind {
        Overhead = "overhead",
        Cable = "cable",
    }
}

/// The two ends and the wire, written on one line.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct SpanEnds {
    /// The end nearer the normal source.
    pub from: String,
    pub to: String,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub phases: Option<String>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub conductor: Option<String>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub geometry: Option<String>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub length_ft: Option<Feet>,
}

/// A line section between two terminals.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Span {
    pub span: SpanEnds,
    #[serde(default, skip_serializing_if = "RecordId::is_nil_ref")]
    pub id: RecordId,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub feeder: Option<String>,
    /// Overhead when absent.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub kind: Option<SpanKind>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub from_terminal: Option<String>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub to_terminal: Option<String>,
    /// What the section carries, when it differs from the conductor's figure.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub ampacity_amps: Option<Stated>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub neutral: Option<String>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub note: Option<String>,
}

impl Span {
    /// The name by which a span is spoken of: `40-117 to 40-118`.
    #[must_use]
    pub fn name(&self) -> String {
        let part = |end: &str, terminal: &Option<String>| match terminal {
            Some(t) => format!("{end} {t}"),
            None => end.to_string(),
        };
        format!(
            "{} to {}",
            part(&self.span.from, &self.from_terminal),
            part(&self.span.to, &self.to_terminal)
        )
    }
}

words! {
    /// What can feed a section.
    SourceKind {
        Substation = "substation",
        Generation = "generation",
    }
}

words! {
    /// How the system neutral is earthed.
    Grounding {
        Multigrounded = "multigrounded wye",
        Unigrounded = "unigrounded wye",
        Delta = "delta",
        Unknown = "unknown",
    }
}

/// A substation bus, or generation that can feed a section.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Source {
    pub source: String,
    #[serde(default, skip_serializing_if = "RecordId::is_nil_ref")]
    pub id: RecordId,
    pub kind: SourceKind,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub substation: Option<String>,
    /// The structure at which it joins the line.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub structure: Option<String>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub terminal: Option<String>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub kv_ll: Option<Kv>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub grounding: Option<Grounding>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub fault_mva: Option<Mva>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub x_over_r: Option<XOverR>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub x0_over_x1: Option<XOverR>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub impedance_ohms: Option<Ohms>,
    /// Generation: rated output and what turns it.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub kva: Option<Kva>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub prime_mover: Option<String>,
    /// The disconnect, by its position's name or in words.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub disconnect: Option<String>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub lockable: Option<Answer>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub note: Option<String>,
}

/// A feeder: the home file of records and their normal source.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Feeder {
    pub feeder: String,
    #[serde(default, skip_serializing_if = "RecordId::is_nil_ref")]
    pub id: RecordId,
    /// The source's name.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub source: Option<String>,
    /// Structure at which the feeder leaves its source.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub head: Option<String>,
    /// Nominal line-to-line voltage.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub kv_ll: Option<Kv>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub grounding: Option<Grounding>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub peak_amps: Option<Amps>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub note: Option<String>,
}

/// A conductor with its figures and the conditions they hold under.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Conductor {
    pub conductor: String,
    #[serde(default, skip_serializing_if = "RecordId::is_nil_ref")]
    pub id: RecordId,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub ampacity_amps: Option<Stated>,
    /// Conductor and air temperature, wind, sun: the figure is nothing without.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub conditions: Option<String>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub resistance_ohms_per_mile: Option<OhmsPerMile>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub gmr_ft: Option<Feet>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub diameter_in: Option<Inches>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub source: Option<String>,
}
