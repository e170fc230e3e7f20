//! Plates that nobody has read, worst hazard first: what to read next.
//!
//! The order is ours (common practice, no source): first what a fault on
//! record may exceed, then what breaks faults at all, then what opens or
//! stands a fault, then what carries.

use std::cmp::Ordering;

use crate::domain::asset::{Class, Position, RecordId, Standing, Unit};
use crate::units::figure;

/// How bad not knowing is, worst first.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Hazard {
    /// The fault on record here exceeds the rating that was assumed.
    FaultOverAssumed,
    /// It breaks faults, a fault is on record, and its rating is unread.
    BreaksUnread,
    /// As above, with an assumed rating that the fault does not exceed.
    BreaksAssumed,
    /// It breaks faults, and neither rating nor fault is known.
    BreaksBlind,
    /// It opens load, stands a fault or a surge by a rating nobody has read.
    StandsUnread,
    /// It carries by a rating nobody has read.
    CarriesUnread,
}

/// A plate figure to read.
#[derive(Debug, Clone, PartialEq)]
pub struct ToRead {
    pub hazard: Hazard,
    pub unit: String,
    pub unit_id: RecordId,
    pub position: String,
    /// Labels of the figures to read, the one that matters most first.
    pub fields: Vec<&'static str>,
    /// Why it comes where it comes.
    pub because: String,
    /// Fault on record at the position, A.
    pub fault_amps: f64,
    pub customers: u32,
}

impl ToRead {
    /// Worst hazard first; then the larger fault, the more customers, the name.
    #[must_use]
    pub fn order(&self, other: &ToRead) -> Ordering {
        self.hazard
            .cmp(&other.hazard)
            .then_with(|| other.fault_amps.total_cmp(&self.fault_amps))
            .then_with(|| other.customers.cmp(&self.customers))
            .then_with(|| self.unit.cmp(&other.unit))
            .then_with(|| self.position.cmp(&other.position))
    }
}

const BREAKS: &[&str] = &["interrupting_amps"];
const STANDS: &[&str] = &[
    "load_break_amps",
    "momentary_amps",
    "max_kv",
    "bil_kv",
    "duty_kv",
    "mcov_kv",
];
const CARRIES: &[&str] = &["continuous_amps", "coil_amps", "kva", "kvar"];

/// Whether a plate figure is expected on a unit of this class and of its kind
/// of control: an electronic control has no coil, and a coil gives what the
/// frame carries.
fn expected(unit: &Unit, key: &str) -> Option<&'static str> {
    let field = crate::domain::asset::PLATE.iter().find(|f| f.key == key)?;
    let electronic = unit.nameplate.text("control") == Some("electronic");
    let coil = unit
        .nameplate
        .get("coil_amps")
        .is_some_and(crate::domain::asset::Stated::is_known);
    let skipped = (key == "coil_amps" && electronic) || (key == "continuous_amps" && coil);
    let expected =
        field.classes.contains(&unit.class) || (field.classes.is_empty() && key == "bil_kv");
    (expected && !skipped).then_some(field.label)
}

/// Whether every figure that a question rests on has been read.
#[must_use]
pub fn is_read(unit: &Unit) -> bool {
    [BREAKS, STANDS, CARRIES]
        .iter()
        .copied()
        .flatten()
        .all(|key| expected(unit, key).is_none() || unit.nameplate.stated(key).is_known())
}

fn unread(unit: &Unit, keys: &[&str]) -> Vec<&'static str> {
    keys.iter()
        .filter(|key| !unit.nameplate.stated(key).is_known())
        .filter_map(|key| expected(unit, key))
        .collect()
}

/// What to read on a unit at a position; `None` when all is read.
#[must_use]
pub fn to_read(position: &Position, unit: &Unit) -> Option<ToRead> {
    let breaks = unread(unit, BREAKS);
    let fields: Vec<&'static str> =
        [breaks.clone(), unread(unit, STANDS), unread(unit, CARRIES)].concat();
    if fields.is_empty() {
        return None;
    }
    let fault = position.available_fault.as_ref().map(|f| f.amps.get());
    let (hazard, because) = if breaks.is_empty() {
        lesser(unit, &fields)
    } else {
        breaking(unit, fault)
    };
    Some(ToRead {
        hazard,
        unit: unit.unit.clone(),
        unit_id: unit.id,
        position: position.position.clone(),
        fields,
        because,
        fault_amps: fault.unwrap_or(0.0),
        customers: position.customers.as_ref().map_or(0, |c| c.count),
    })
}

fn breaking(unit: &Unit, fault: Option<f64>) -> (Hazard, String) {
    let rating = unit.nameplate.stated("interrupting_amps");
    let assumed = rating
        .as_number()
        .filter(|_| rating.standing == Standing::Assumed);
    match (fault, assumed) {
        (Some(fault), Some(assumed)) if fault > assumed => (
            Hazard::FaultOverAssumed,
            format!(
                "fault on record {} A, interrupting {} A assumed",
                figure(fault),
                figure(assumed)
            ),
        ),
        (Some(fault), Some(assumed)) => (
            Hazard::BreaksAssumed,
            format!(
                "fault on record {} A, interrupting {} A assumed, not read",
                figure(fault),
                figure(assumed)
            ),
        ),
        (Some(fault), None) => (
            Hazard::BreaksUnread,
            format!("fault on record {} A, interrupting unread", figure(fault)),
        ),
        (None, _) => (
            Hazard::BreaksBlind,
            "interrupting not read, and no fault on record".to_string(),
        ),
    }
}

fn lesser(unit: &Unit, fields: &[&'static str]) -> (Hazard, String) {
    let stands = !unread(unit, STANDS).is_empty();
    let hazard = if stands && unit.class != Class::Transformer {
        Hazard::StandsUnread
    } else {
        Hazard::CarriesUnread
    };
    (hazard, format!("not read: {}", fields.join(", ")))
}
