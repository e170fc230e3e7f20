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

    /// Its share of `of` shares, 0 to `of` - 1: the same for ever, and even
    /// over ids that follow one another as over ids drawn at random
    /// (multiplicative hashing by the golden ratio, Knuth vol. 3, 6.4).
    #[must_use]
    pub fn share(self, of: u32) -> u32 {
        const GOLDEN: u64 = 0x9E37_79B9_7F4A_7C15;
        let low = u64::try_from(self.0 & u128::from(u64::MAX)).unwrap_or(0);
        let mixed = u128::from(low.wrapping_mul(GOLDEN));
        u32::try_from((mixed * u128::from(of)) >> 64).unwrap_or(0)
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
