//! A value with its standing: who read it, when, from what, or by which rule
//! it was assumed. Unknown is a value of its own, never a blank.

use std::fmt;

use serde::de::{self, Deserializer, MapAccess, Visitor};
use serde::ser::{SerializeMap, Serializer};
use serde::{Deserialize, Serialize};

use crate::calendar::Date;
use crate::units::{figure, serialize_number};

/// What a field holds: a number, or a word.
#[derive(Debug, Clone, PartialEq)]
pub enum Plain {
    Number(f64),
    Text(String),
}

impl fmt::Display for Plain {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Plain::Number(n) => f.write_str(&figure(*n)),
            Plain::Text(t) => f.write_str(t),
        }
    }
}

impl Serialize for Plain {
    fn serialize<S: Serializer>(&self, s: S) -> Result<S::Ok, S::Error> {
        match self {
            Plain::Number(n) => serialize_number(*n, s),
            Plain::Text(t) => s.serialize_str(t),
        }
    }
}

/// How far a value can be trusted.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize, Default)]
#[serde(rename_all = "snake_case")]
pub enum Standing {
    /// Read, or entered as a fact.
    #[default]
    Known,
    /// Put there by a rule; nobody has read it. Never a pass.
    Assumed,
    /// Nobody knows.
    Unknown,
}

impl Standing {
    #[must_use]
    pub const fn word(self) -> &'static str {
        match self {
            Standing::Known => "known",
            Standing::Assumed => "assumed",
            Standing::Unknown => "unknown",
        }
    }
}

/// What a value was read from.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum ReadFrom {
    Plate,
    Photo,
    Drawing,
    Study,
    Test,
    Record,
}

impl ReadFrom {
    #[must_use]
    pub const fn word(self) -> &'static str {
        match self {
            ReadFrom::Plate => "plate",
            ReadFrom::Photo => "photo",
            ReadFrom::Drawing => "drawing",
            ReadFrom::Study => "study",
            ReadFrom::Test => "test",
            ReadFrom::Record => "record",
        }
    }
}

/// A value and its standing.
///
/// In YAML: `100` (known, no reader named), `unknown`, or
/// `{value: 4000, standing: assumed, rule: …}` /
/// `{value: 4000, by: hb, on: 2024-05-01, from: plate}`.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Stated {
    pub value: Option<Plain>,
    pub standing: Standing,
    /// Who read it.
    pub by: Option<String>,
    /// When it was read.
    pub on: Option<Date>,
    /// From what it was read.
    pub from: Option<ReadFrom>,
    /// The rule that assumed it.
    pub rule: Option<String>,
}

impl Stated {
    #[must_use]
    pub fn known(value: Plain) -> Self {
        Stated {
            value: Some(value),
            ..Stated::default()
        }
    }

    #[must_use]
    pub fn number(value: f64) -> Self {
        Stated::known(Plain::Number(value))
    }

    #[must_use]
    pub fn assumed(value: f64, rule: &str) -> Self {
        Stated {
            value: Some(Plain::Number(value)),
            standing: Standing::Assumed,
            rule: Some(rule.to_string()),
            ..Stated::default()
        }
    }

    #[must_use]
    pub fn unknown() -> Self {
        Stated {
            standing: Standing::Unknown,
            ..Stated::default()
        }
    }

    /// The number, whatever its standing; `None` when unknown or a word.
    #[must_use]
    pub fn as_number(&self) -> Option<f64> {
        match (&self.value, self.standing) {
            (Some(Plain::Number(n)), Standing::Known | Standing::Assumed) => Some(*n),
            _ => None,
        }
    }

    /// The word, whatever its standing; `None` when unknown or a number.
    #[must_use]
    pub fn as_text(&self) -> Option<&str> {
        match (&self.value, self.standing) {
            (Some(Plain::Text(t)), Standing::Known | Standing::Assumed) => Some(t),
            _ => None,
        }
    }

    #[must_use]
    pub fn is_known(&self) -> bool {
        self.standing == Standing::Known && self.value.is_some()
    }

    /// Where the value comes from, for people: `read by hb, 1 May 2024, from
    /// plate`; empty when a known value names no reader.
    #[must_use]
    pub fn provenance(&self) -> String {
        match self.standing {
            Standing::Unknown => "not read".to_string(),
            Standing::Assumed => match &self.rule {
                Some(rule) => format!("assumed: {rule}"),
                None => "assumed; no rule recorded".to_string(),
            },
            Standing::Known => {
                let mut parts = Vec::new();
                if let Some(by) = &self.by {
                    parts.push(format!("read by {by}"));
                }
                if let Some(on) = self.on {
                    parts.push(on.spoken());
                }
                if let Some(from) = self.from {
                    parts.push(format!("from {}", from.word()));
                }
                parts.join(", ")
            }
        }
    }

    fn is_bare(&self) -> bool {
        self.by.is_none() && self.on.is_none() && self.from.is_none() && self.rule.is_none()
    }
}

impl Serialize for Stated {
    fn serialize<S: Serializer>(&self, s: S) -> Result<S::Ok, S::Error> {
        match (self.standing, &self.value, self.is_bare()) {
            (Standing::Known, Some(value), true) => value.serialize(s),
            (Standing::Unknown, None, true) => s.serialize_str("unknown"),
            _ => {
                let mut map = s.serialize_map(None)?;
                if let Some(value) = &self.value {
                    map.serialize_entry("value", value)?;
                }
                if self.standing != Standing::Known {
                    map.serialize_entry("standing", &self.standing)?;
                }
                if let Some(by) = &self.by {
                    map.serialize_entry("by", by)?;
                }
                if let Some(on) = &self.on {
                    map.serialize_entry("on", on)?;
                }
                if let Some(from) = &self.from {
                    map.serialize_entry("from", from)?;
                }
                if let Some(rule) = &self.rule {
                    map.serialize_entry("rule", rule)?;
                }
                map.end()
            }
        }
    }
}

struct StatedVisitor;

const STATED_KEYS: &[&str] = &["value", "standing", "by", "on", "from", "rule"];

impl<'de> Visitor<'de> for StatedVisitor {
    type Value = Stated;

    fn expecting(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(
            "a number, a word, `unknown`, or a map with value, standing, by, on, from, rule",
        )
    }

    fn visit_f64<E: de::Error>(self, v: f64) -> Result<Stated, E> {
        finite(v).map(Stated::number)
    }

    fn visit_i64<E: de::Error>(self, v: i64) -> Result<Stated, E> {
        #[expect(clippy::cast_precision_loss, reason = "ratings are far below 2^53")]
        Ok(Stated::number(v as f64))
    }

    fn visit_u64<E: de::Error>(self, v: u64) -> Result<Stated, E> {
        #[expect(clippy::cast_precision_loss, reason = "ratings are far below 2^53")]
        Ok(Stated::number(v as f64))
    }

    fn visit_bool<E: de::Error>(self, v: bool) -> Result<Stated, E> {
        let word = if v { "yes" } else { "no" };
        Ok(Stated::known(Plain::Text(word.to_string())))
    }

    fn visit_str<E: de::Error>(self, v: &str) -> Result<Stated, E> {
        Ok(if v == "unknown" {
            Stated::unknown()
        } else {
            Stated::known(Plain::Text(v.to_string()))
        })
    }

    fn visit_map<A: MapAccess<'de>>(self, mut map: A) -> Result<Stated, A::Error> {
        let mut out = Stated::default();
        while let Some(key) = map.next_key::<String>()? {
            match key.as_str() {
                "value" => {
                    let inner: Stated = map.next_value()?;
                    out.value = inner.value;
                    if inner.standing == Standing::Unknown {
                        out.standing = Standing::Unknown;
                    }
                }
                "standing" => out.standing = map.next_value()?,
                "by" => out.by = map.next_value()?,
                "on" => out.on = map.next_value()?,
                "from" => out.from = map.next_value()?,
                "rule" => out.rule = map.next_value()?,
                other => return Err(de::Error::unknown_field(other, STATED_KEYS)),
            }
        }
        if out.value.is_none() && out.standing != Standing::Unknown {
            return Err(de::Error::missing_field("value"));
        }
        Ok(out)
    }
}

fn finite<E: de::Error>(v: f64) -> Result<f64, E> {
    if v.is_finite() {
        Ok(v)
    } else {
        Err(E::custom(format!("a number must be finite; {v} is not")))
    }
}

impl<'de> Deserialize<'de> for Stated {
    fn deserialize<D: Deserializer<'de>>(d: D) -> Result<Self, D::Error> {
        d.deserialize_any(StatedVisitor)
    }
}
