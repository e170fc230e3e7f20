//! Units: serialised equipment with its plate and its dated stays.

use serde::{Deserialize, Serialize};

use super::class::Class;
use super::name::{Name, RecordId};
use super::plate::Nameplate;
use crate::calendar::Date;

/// Places that are not positions.
pub const STORES: &[&str] = &["shop", "stock", "truck", "mobile", "scrapped", "unknown"];

/// A dated stay of a unit at a position and slot, or in one of [`STORES`].
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Deployment {
    /// A position's name, or one of [`STORES`].
    pub at: String,
    /// Slot of the position; which shop, truck or rack otherwise.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub slot: Option<String>,
    /// Unknown when absent.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub from: Option<Date>,
    /// Still there when absent.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub to: Option<Date>,
}

impl Deployment {
    /// Whether the place is a shop, stock, truck and the like.
    #[must_use]
    pub fn is_store(&self) -> bool {
        STORES.contains(&self.at.as_str())
    }
}

/// One piece of serialised equipment.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Unit {
    /// The company's number of the unit.
    pub unit: String,
    #[serde(default, skip_serializing_if = "RecordId::is_nil_ref")]
    pub id: RecordId,
    pub class: Class,
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub names: Vec<Name>,
    #[serde(default, skip_serializing_if = "Nameplate::is_empty")]
    pub nameplate: Nameplate,
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub deployments: Vec<Deployment>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub note: Option<String>,
}

impl Unit {
    /// The stays that have not ended.
    pub fn present(&self) -> impl Iterator<Item = &Deployment> {
        self.deployments.iter().filter(|d| d.to.is_none())
    }
}
