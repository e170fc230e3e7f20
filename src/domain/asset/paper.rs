//! What is written about equipment: entries, orders, notices; and what
//! belongs to the utility: its choices and numbering schemes.

use std::collections::BTreeMap;

use serde::{Deserialize, Serialize};
use serde_json::Value;

use super::class::{Class, words};
use super::name::RecordId;
use super::stated::Stated;
use crate::calendar::Date;
use crate::units::Year;

words! {
    /// What kind of line in a history.
    EntryKind {
        Inspection = "inspection",
        Sample = "sample",
        Test = "test",
        Operation = "operation",
        Counter = "counter",
        Maintenance = "maintenance",
        Note = "note",
    }
}

words! {
    /// How deep an inspection goes.
    Depth {
        /// Seen in passing, nothing opened or measured.
        Patrol = "patrol",
        /// Each part looked at and read, from outside.
        Detailed = "detailed",
        /// Opened, sampled, bored or measured.
        Intrusive = "intrusive",
    }
}

words! {
    /// A defect that a later entry can clear. Each bears on named questions.
    Defect {
        OilBelowMark = "oil below mark",
        OilLeak = "oil leak",
        OilTestFailed = "oil test failed",
        DutyUsedUp = "duty used up",
        CrackedPorcelain = "cracked porcelain",
        BushingDamaged = "bushing damaged",
        ContactsWorn = "contacts worn",
        ControlFaulty = "control faulty",
        BatteryLow = "battery low",
        ConnectorHot = "connector hot",
        ConductorDamaged = "conductor damaged",
        CanBulged = "can bulged",
        ArresterFailed = "arrester failed",
        GroundBondDamaged = "ground bond damaged",
        AnimalGuardMissing = "animal guard missing",
        PoleReject = "pole reject",
        TestFailed = "test failed",
    }
}

/// A dated line in a history.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Entry {
    pub entry: EntryKind,
    #[serde(default, skip_serializing_if = "RecordId::is_nil_ref")]
    pub id: RecordId,
    /// Name of the unit, position or structure it is about.
    pub of: String,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub on: Option<Date>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub by: Option<String>,
    /// How deep an inspection went.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub depth: Option<Depth>,
    /// Readings as `key: value`.
    #[serde(default, skip_serializing_if = "BTreeMap::is_empty")]
    pub readings: BTreeMap<String, Stated>,
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub finds: Vec<Defect>,
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub clears: Vec<Defect>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub note: Option<String>,
}

words! {
    OrderState {
        Open = "open",
        Assigned = "assigned",
        Done = "done",
        Void = "void",
    }
}

words! {
    Priority {
        Urgent = "urgent",
        Soon = "soon",
        Planned = "planned",
        Whenever = "whenever",
    }
}

/// A work order.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Order {
    pub order: String,
    #[serde(default, skip_serializing_if = "RecordId::is_nil_ref")]
    pub id: RecordId,
    pub of: String,
    pub state: OrderState,
    pub priority: Priority,
    pub need: String,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub opened: Option<Date>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub due: Option<Date>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub closed: Option<Date>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub who: Option<String>,
    /// The entry it was made from.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub from_entry: Option<RecordId>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub note: Option<String>,
}

/// Which units a notice hits: every given limit must match.
#[derive(Debug, Clone, PartialEq, Default, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct NoticeRule {
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub class: Option<Class>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub model: Option<String>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub made_from: Option<Year>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub made_to: Option<Year>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub serial_from: Option<String>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub serial_to: Option<String>,
}

/// A hazard bulletin.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Notice {
    pub notice: String,
    #[serde(default, skip_serializing_if = "RecordId::is_nil_ref")]
    pub id: RecordId,
    pub text: String,
    pub hits: NoticeRule,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub from: Option<Date>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub until: Option<Date>,
    /// Defect that each hit counts as, until the notice ends.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub bears_like: Option<Defect>,
    /// Who has read it, and when.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub read_by: Vec<ReadBy>,
}

/// One person who has read a notice.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct ReadBy {
    pub who: String,
    pub on: Date,
}

/// The utility itself and its named choices.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Utility {
    pub utility: String,
    #[serde(default, skip_serializing_if = "RecordId::is_nil_ref")]
    pub id: RecordId,
    /// A made-up utility: DEMO is shown wherever an answer is.
    #[serde(default, skip_serializing_if = "std::ops::Not::not")]
    pub demo: bool,
    /// Named choices, such as `tight_margin_percent: 10`.
    #[serde(default, skip_serializing_if = "BTreeMap::is_empty")]
    pub choices: BTreeMap<String, Stated>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub note: Option<String>,
}

macro_rules! documents {
    ($($(#[$doc:meta])* $type:ident $key:ident;)*) => {$(
        $(#[$doc])*
        #[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
        pub struct $type {
            pub $key: String,
            #[serde(default, skip_serializing_if = "RecordId::is_nil_ref")]
            pub id: RecordId,
            #[serde(flatten)]
            pub body: serde_json::Map<String, Value>,
        }
    )*};
}

documents! {
    /// A numbering scheme as a record; its grammar is checked by
    /// [`crate::domain::code`].
    SchemeDoc scheme;
    /// What is asked at an inspection of one class; see [`crate::domain::form`].
    FormDoc form;
    /// How often, and upon what, something is due.
    IntervalDoc interval;
    /// How the columns of a file of cells become records.
    MapDoc map;
    /// Points of a time-current curve that the utility supplies.
    CurveDoc curve;
    /// A check that was kept, with everything it was judged by.
    KeptDoc kept;
}
