//! How many characters a field takes, as scheme files write it.

use std::fmt;

use serde::de::Visitor;
use serde::{Deserialize, Deserializer, Serialize, Serializer};

use super::scheme::MAX_SYMBOLS;

/// A width: `3`, or from and to: `1-3`.
#[derive(Debug, Clone, Copy)]
pub(super) struct Width {
    pub min: usize,
    pub max: usize,
}

impl Width {
    fn parse(text: &str) -> Result<Width, String> {
        let number = |part: &str| {
            part.trim().parse::<usize>().map_err(|_| {
                format!("the width {text:?} is neither a number (3) nor from and to (1-3)")
            })
        };
        let (min, max) = match text.split_once('-') {
            Some((from, to)) => (number(from)?, number(to)?),
            None => (number(text)?, number(text)?),
        };
        if min > max {
            return Err(format!(
                "the width {text:?} runs from {min} down to {max}; write the smaller first"
            ));
        }
        if min == 0 {
            return Err(format!(
                "the width {text:?} allows none; put the field in an optional part instead"
            ));
        }
        if max > MAX_SYMBOLS {
            return Err(format!("the width {text:?} is over {MAX_SYMBOLS}"));
        }
        Ok(Width { min, max })
    }
}

struct WidthVisitor;

impl Visitor<'_> for WidthVisitor {
    type Value = Width;

    fn expecting(&self, f: &mut fmt::Formatter) -> fmt::Result {
        f.write_str("a width such as 3 or 1-3")
    }

    fn visit_u64<E: serde::de::Error>(self, value: u64) -> Result<Width, E> {
        Width::parse(&value.to_string()).map_err(E::custom)
    }

    fn visit_str<E: serde::de::Error>(self, value: &str) -> Result<Width, E> {
        Width::parse(value).map_err(E::custom)
    }
}

impl<'de> Deserialize<'de> for Width {
    fn deserialize<D: Deserializer<'de>>(d: D) -> Result<Width, D::Error> {
        d.deserialize_any(WidthVisitor)
    }
}

impl Serialize for Width {
    fn serialize<S: Serializer>(&self, s: S) -> Result<S::Ok, S::Error> {
        if self.min == self.max {
            s.serialize_u64(self.min as u64)
        } else {
            s.serialize_str(&format!("{}-{}", self.min, self.max))
        }
    }
}
