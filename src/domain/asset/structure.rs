//! Structures: poles, pads and vaults with their place.

use serde::{Deserialize, Serialize};

use super::class::words;
use super::name::{Name, RecordId};
use crate::calendar::Date;
use crate::units::{Feet, Inches, Latitude, Longitude, Year};

words! {
    /// Kind of structure.
    StructureKind {
        Pole = "pole",
        Pad = "pad",
        Vault = "vault",
        Tower = "tower",
        Substation = "substation",
        Other = "other",
    }
}

/// Where a structure stands. `road` and `near` are the second identifier that
/// is read back: neither repeats the number.
#[derive(Debug, Clone, PartialEq, Default, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Place {
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub road: Option<String>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub house: Option<String>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub near: Option<String>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub lat: Option<Latitude>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub lon: Option<Longitude>,
}

impl Place {
    fn is_empty(&self) -> bool {
        *self == Place::default()
    }
}

/// A party that shares the structure.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct JointUser {
    pub who: String,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub what: Option<String>,
}

/// A hazard of the place: a dog, a locked gate, a vault.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Hazard {
    pub what: String,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub note: Option<String>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub seen: Option<Date>,
}

/// The pole itself, as branded.
#[derive(Debug, Clone, PartialEq, Default, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Pole {
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub material: Option<String>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub length_ft: Option<Feet>,
    /// Class of the pole as branded, `4` or `H1`.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub class: Option<String>,
    /// Circumference at the ground line when it was new.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub circumference_in: Option<Inches>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub set_year: Option<Year>,
}

/// A pole, pad or vault.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Structure {
    /// The present name.
    pub structure: String,
    #[serde(default, skip_serializing_if = "RecordId::is_nil_ref")]
    pub id: RecordId,
    pub kind: StructureKind,
    /// Home feeder: the file of the record, not the truth of what feeds it.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub feeder: Option<String>,
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub names: Vec<Name>,
    #[serde(default, skip_serializing_if = "Place::is_empty")]
    pub place: Place,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub owner: Option<String>,
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub joint_users: Vec<JointUser>,
    /// Feeders whose circuits are carried here, as recorded.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub circuits: Vec<String>,
    /// Buses or conductor sets that are not joined to each other here.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub terminals: Vec<String>,
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub hazards: Vec<Hazard>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub pole: Option<Pole>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub note: Option<String>,
}

impl RecordId {
    /// For serde: a record that has no id yet writes none.
    #[must_use]
    pub fn is_nil_ref(id: &RecordId) -> bool {
        id.is_nil()
    }
}
