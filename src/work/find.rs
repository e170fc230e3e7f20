//! Find: from half a mark, misheard or mistyped, to the records it may mean.

use serde::Serialize;

use crate::domain::asset::Kind;

/// In what way a record matched, in the order in which answers are given.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum How {
    /// The present name, as typed.
    Exact,
    /// The present name after folding case, separators and look-alikes.
    Folded,
    /// Another name in use, or one no longer in use.
    OtherName,
    OldName,
    /// The name begins or ends so.
    Prefix,
    Suffix,
    /// Every word is in the description.
    Words,
    /// One mistake away; the number typed does not exist.
    Neighbour,
    /// Alike in letters only.
    Alike,
}

/// The second identifier: what is read back. None of it repeats the number.
#[derive(Debug, Clone, PartialEq, Eq, Default, Serialize)]
pub struct Also {
    #[serde(skip_serializing_if = "Option::is_none")]
    pub class: Option<String>,
    #[serde(skip_serializing_if = "Option::is_none")]
    pub road: Option<String>,
    #[serde(skip_serializing_if = "Option::is_none")]
    pub near: Option<String>,
    #[serde(skip_serializing_if = "Option::is_none")]
    pub feeder: Option<String>,
    /// Where a unit is, or the structure a position hangs on.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub at: Option<String>,
}

/// One answer.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Match {
    /// Permanent id.
    pub id: String,
    /// Present name.
    pub name: String,
    pub kind: Kind,
    pub how: How,
    /// The name that matched, when it is not the present one; or the mistake
    /// assumed, in words.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub because: Option<String>,
    pub also: Also,
    /// Row in the register, for opening the card.
    #[serde(skip)]
    pub rec: i64,
}

/// The answers to one query, best first.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct FindReport {
    pub polecard: u32,
    pub query: String,
    pub matches: Vec<Match>,
    /// More match than are listed; the count is capped.
    pub more: bool,
    /// How the query was understood, when it was rewritten (spoken forms).
    #[serde(skip_serializing_if = "Option::is_none")]
    pub read_as: Option<String>,
}
