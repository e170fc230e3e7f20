//! Positions: permanent places for devices, with their elements in series,
//! bypass, settings and state on record.

use serde::{Deserialize, Serialize};

use super::class::{Answer, Class, words};
use super::name::{Name, RecordId};
use super::plate::Settings;
use super::stated::Stated;
use crate::calendar::{Date, Moment};
use crate::units::{Amps, XOverR};

words! {
    /// What an element in series is.
    ElementKind {
        /// The serialised equipment deployed here; its plate is asked.
        Unit = "unit",
        /// A cutout body with its holder.
        Cutout = "cutout",
        /// A fuse link.
        Link = "link",
        /// A solid blade in a cutout body: no overcurrent protection.
        Blade = "blade",
        Switch = "switch",
        Lead = "lead",
        Jumper = "jumper",
        Connector = "connector",
        Clamp = "clamp",
        Stirrup = "stirrup",
        Bus = "bus",
    }
}

words! {
    /// How a position normally stands.
    Normally {
        Closed = "closed",
        Open = "open",
        Unknown = "unknown",
    }
}

words! {
    /// Kind of fault a current belongs to.
    FaultKind {
        ThreePhase = "three-phase",
        LineLine = "line-line",
        LineGround = "line-ground",
        DoubleLineGround = "double-line-ground",
        Unknown = "unknown",
    }
}

/// Anything in series at a position. Ratings belong to the element, except for
/// `unit`, whose plate is that of the unit deployed in the slot.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Element {
    pub element: ElementKind,
    /// What the crew calls it: `source-side lead`.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub label: Option<String>,
    /// The slot, when slots differ; all slots when absent.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub slot: Option<String>,
    /// Conductor of a lead, jumper or stirrup.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub conductor: Option<String>,
    /// Fuse link, as marked: `40K`.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub link: Option<Stated>,
    /// Continuous current; of the holder for a cutout.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub amps: Option<Stated>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub interrupting_amps: Option<Stated>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub interrupting_asym_amps: Option<Stated>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub test_x_over_r: Option<Stated>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub momentary_amps: Option<Stated>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub max_kv: Option<Stated>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub bil_kv: Option<Stated>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub opens_load: Option<Answer>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub visible_break: Option<Answer>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub lockable: Option<Answer>,
    /// How the element itself normally stands; a bypass is normally open.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub normally: Option<Normally>,
}

/// A fault current on record, from a study.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct FaultStudy {
    pub amps: Amps,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub x_over_r: Option<XOverR>,
    pub kind: FaultKind,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub date: Option<Date>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub source: Option<String>,
}

/// A load current on record.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct LoadStudy {
    pub amps: Amps,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub date: Option<Date>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub source: Option<String>,
}

/// Customers as a count and flags; never names.
#[derive(Debug, Clone, PartialEq, Default, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Customers {
    pub count: u32,
    /// `medical`, `water`, `school` …
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub critical: Vec<String>,
}

words! {
    /// How a device was last recorded to stand.
    Stands {
        Open = "open",
        Closed = "closed",
        Bypassed = "bypassed",
        Cut = "cut",
        Jumpered = "jumpered",
        Grounded = "grounded",
        Unknown = "unknown",
    }
}

/// State on record. Never more than a record.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct State {
    pub stands: Stands,
    pub at: Moment,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub by: Option<String>,
    /// `off` when reclosing is recorded as off.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub reclosing: Option<Switchable>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub hot_line_tag: Option<Switchable>,
    /// `off` when the ground trip is recorded as blocked.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub ground_trip: Option<Switchable>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub note: Option<String>,
}

impl State {
    /// The words for what is out of the ordinary in it, to find it by. An open
    /// switch is no such thing, and nor is what nobody knows.
    pub fn telling(&self) -> impl Iterator<Item = &'static str> + use<> {
        let usual = [Stands::Open, Stands::Closed, Stands::Unknown];
        let stands = (!usual.contains(&self.stands)).then(|| self.stands.word());
        let tagged = (self.hot_line_tag == Some(Switchable::On)).then_some("tagged");
        stands.into_iter().chain(tagged)
    }
}

words! {
    /// A function that can be switched on or off.
    Switchable {
        On = "on",
        Off = "off",
    }
}

/// A hold: who, for what, from when to when. Several may stand at once.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Hold {
    pub holder: String,
    pub purpose: String,
    pub from: Moment,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub until: Option<Moment>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub by: Option<String>,
}

/// A permanent place for a device in the network.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Position {
    /// The present operating number.
    pub position: String,
    #[serde(default, skip_serializing_if = "RecordId::is_nil_ref")]
    pub id: RecordId,
    pub class: Class,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub feeder: Option<String>,
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub names: Vec<Name>,
    /// The structure it hangs on, by name.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub structure: Option<String>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub terminal: Option<String>,
    /// The neighbour on the normal load side of the span it stands in.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub toward: Option<String>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub phases: Option<String>,
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub slots: Vec<String>,
    /// Which side is the normal source side, in the crew's words.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub normal_source: Option<String>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub normally: Option<Normally>,
    /// Both feeders, when this is a tie.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub ties: Vec<String>,
    /// In series from the normal source side.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub elements: Vec<Element>,
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub bypass: Vec<Element>,
    #[serde(default, skip_serializing_if = "Settings::is_empty")]
    pub settings: Settings,
    #[serde(default, skip_serializing_if = "Settings::is_empty")]
    pub settings_found: Settings,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub available_fault: Option<FaultStudy>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub minimum_fault: Option<FaultStudy>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub peak_load: Option<LoadStudy>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub customers: Option<Customers>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub state: Option<State>,
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub holds: Vec<Hold>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub note: Option<String>,
}

impl Position {
    /// Phases of its slots in which none of these kinds of element is recorded,
    /// slot by slot; empty when one of them names no slot.
    #[must_use]
    pub fn phases_without(&self, kinds: &[ElementKind]) -> Vec<String> {
        let there = |part: &str| {
            self.elements
                .iter()
                .filter(|e| kinds.contains(&e.element))
                .any(|e| {
                    e.slot.as_deref().is_none_or(|s| {
                        s == part || (phases(s) && phases(part) && s.contains(part))
                    })
                })
        };
        let mut out = Vec::new();
        for slot in self.slot_names() {
            let missing: String = match (there(&slot), phases(&slot)) {
                (true, _) => String::new(),
                (false, true) => slot.chars().filter(|c| !there(&c.to_string())).collect(),
                (false, false) => slot,
            };
            if !missing.is_empty() {
                out.push(missing);
            }
        }
        out
    }

    /// Its slots; one slot `ABC` (or its phases) when none is written.
    #[must_use]
    pub fn slot_names(&self) -> Vec<String> {
        if self.slots.is_empty() {
            vec![self.phases.clone().unwrap_or_else(|| "ABC".to_string())]
        } else {
            self.slots.clone()
        }
    }
}

/// Whether a slot is named by its phases.
fn phases(slot: &str) -> bool {
    !slot.is_empty() && slot.chars().all(|c| "ABC".contains(c))
}
