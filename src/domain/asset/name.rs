//! Identity: one permanent id a record, and the many names it is called by.

use std::fmt;
use std::str::FromStr;

use serde::{Deserialize, Deserializer, Serialize, Serializer};

use crate::calendar::Date;

/// The permanent id of a record or operation: a ULID. Nil until one is given.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Default)]
pub struct RecordId(u128);

impl RecordId {
    /// An id for `unix_millis` with 80 bits that the caller draws.
    #[must_use]
    pub fn from_parts(unix_millis: u64, random: u128) -> Self {
        RecordId(ulid::Ulid::from_parts(unix_millis, random).0)
    }

    #[must_use]
    pub const fn is_nil(self) -> bool {
        self.0 == 0
    }

    /// When it was made, in milliseconds since 1970, UTC.
    #[must_use]
    pub const fn unix_millis(self) -> u64 {
        ulid::Ulid(self.0).timestamp_ms()
    }

    /// The next id after this one: ids of one batch sort in the order made.
    #[must_use]
    pub const fn next(self) -> Self {
        RecordId(self.0.wrapping_add(1))
    }
}

impl fmt::Display for RecordId {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{}", ulid::Ulid(self.0))
    }
}

impl FromStr for RecordId {
    type Err = String;
    fn from_str(text: &str) -> Result<Self, String> {
        ulid::Ulid::from_string(text)
            .map(|u| RecordId(u.0))
            .map_err(|_| format!("{text:?} is not an id: 26 letters and digits are expected"))
    }
}

impl Serialize for RecordId {
    fn serialize<S: Serializer>(&self, s: S) -> Result<S::Ok, S::Error> {
        s.collect_str(self)
    }
}

impl<'de> Deserialize<'de> for RecordId {
    fn deserialize<D: Deserializer<'de>>(d: D) -> Result<Self, D::Error> {
        String::deserialize(d)?
            .parse()
            .map_err(serde::de::Error::custom)
    }
}

/// A further name: a joint user's tag, an old number, a name of another scheme.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Name {
    pub text: String,
    /// Whose name it is: `ours`, a joint user, an old scheme.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub whose: Option<String>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub from: Option<Date>,
    /// Set when the name is no longer in use: it still finds, and never
    /// outranks its present holder.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub to: Option<Date>,
}
