//! Fields of nameplates and settings as data: one row a field. YAML reading,
//! CSV maps, cards, forms and verification all walk these tables, so a new
//! field is one row.

use std::collections::BTreeMap;
use std::fmt;
use std::marker::PhantomData;

use serde::de::{self, Deserializer, MapAccess, Visitor};
use serde::ser::{SerializeMap, Serializer};
use serde::{Deserialize, Serialize};

use super::class::Class;
use super::stated::{Plain, Standing, Stated};
use crate::calendar::Date;
use crate::units::{QuantityError, checked};

/// What a field may hold.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Holds {
    /// A number in `unit`, between the two bounds.
    Number {
        unit: &'static str,
        min: f64,
        max: f64,
    },
    /// Any short text.
    Text,
    /// A day.
    Date,
    /// One of these words.
    Choice(&'static [&'static str]),
}

/// One field of a plate or of the settings.
#[derive(Debug)]
pub struct Field {
    pub key: &'static str,
    /// As printed on cards.
    pub label: &'static str,
    pub holds: Holds,
    /// Classes on which it is expected; empty means any.
    pub classes: &'static [Class],
}

impl Field {
    /// Checks one value against the field.
    ///
    /// # Errors
    /// A sentence that says what is allowed.
    pub fn check(&self, value: &Plain) -> Result<(), String> {
        match (self.holds, value) {
            (Holds::Number { unit, min, max }, Plain::Number(n)) => checked(*n, unit, min, max)
                .map(|_| ())
                .map_err(|e: QuantityError| e.to_string()),
            (Holds::Number { unit, .. }, Plain::Text(t)) => Err(format!(
                "{t:?} is not a number of {unit}; write a number or unknown"
            )),
            (Holds::Text, _) => Ok(()),
            (Holds::Date, Plain::Text(t)) => {
                t.parse::<Date>().map(|_| ()).map_err(|e| e.to_string())
            }
            (Holds::Date, Plain::Number(n)) => Err(format!("{n} is not a date")),
            (Holds::Choice(words), Plain::Text(t)) if words.contains(&t.as_str()) => Ok(()),
            (Holds::Choice(words), v) => Err(format!("{v} is not one of {}", words.join(", "))),
        }
    }
}

/// A table of fields.
pub trait Table: 'static {
    /// What the table describes, for messages: `nameplate`.
    const WHAT: &'static str;
    fn fields() -> &'static [Field];
    fn keys() -> &'static [&'static str];
}

/// Values for the fields of one table, kept in the table's order.
pub struct FieldMap<T: Table> {
    values: BTreeMap<usize, Stated>,
    table: PhantomData<T>,
}

impl<T: Table> FieldMap<T> {
    #[must_use]
    pub fn new() -> Self {
        Self {
            values: BTreeMap::new(),
            table: PhantomData,
        }
    }

    #[must_use]
    pub fn is_empty(&self) -> bool {
        self.values.is_empty()
    }

    /// The value of a field, if the record has one.
    #[must_use]
    pub fn get(&self, key: &str) -> Option<&Stated> {
        self.values.get(&index::<T>(key)?)
    }

    /// The number of a field with its standing; unknown when absent.
    #[must_use]
    pub fn stated(&self, key: &str) -> Stated {
        self.get(key).cloned().unwrap_or_else(Stated::unknown)
    }

    /// The number of a field, known or assumed.
    #[must_use]
    pub fn number(&self, key: &str) -> Option<f64> {
        self.get(key)?.as_number()
    }

    /// The word of a field, known or assumed.
    #[must_use]
    pub fn text(&self, key: &str) -> Option<&str> {
        self.get(key)?.as_text()
    }

    /// Every field that has a value, in table order.
    pub fn iter(&self) -> impl Iterator<Item = (&'static Field, &Stated)> {
        self.values.iter().map(|(i, v)| (&T::fields()[*i], v))
    }

    /// Sets a field.
    ///
    /// # Errors
    /// When the table has no such field, or the value is not allowed.
    pub fn set(&mut self, key: &str, value: Stated) -> Result<(), String> {
        let at = index::<T>(key).ok_or_else(|| format!("no {} field {key:?}", T::WHAT))?;
        let field = &T::fields()[at];
        if let Some(plain) = &value.value {
            field.check(plain).map_err(|why| format!("{key}: {why}"))?;
        }
        self.values.insert(at, value);
        Ok(())
    }

    /// Removes a field; the value becomes "not on record".
    pub fn remove(&mut self, key: &str) {
        if let Some(at) = index::<T>(key) {
            self.values.remove(&at);
        }
    }
}

fn index<T: Table>(key: &str) -> Option<usize> {
    T::keys().iter().position(|k| *k == key)
}

impl<T: Table> Default for FieldMap<T> {
    fn default() -> Self {
        Self::new()
    }
}

impl<T: Table> Clone for FieldMap<T> {
    fn clone(&self) -> Self {
        Self {
            values: self.values.clone(),
            table: PhantomData,
        }
    }
}

impl<T: Table> PartialEq for FieldMap<T> {
    fn eq(&self, other: &Self) -> bool {
        self.values == other.values
    }
}

impl<T: Table> fmt::Debug for FieldMap<T> {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.debug_map()
            .entries(self.iter().map(|(field, v)| (field.key, v)))
            .finish()
    }
}

impl<T: Table> Serialize for FieldMap<T> {
    fn serialize<S: Serializer>(&self, s: S) -> Result<S::Ok, S::Error> {
        let mut map = s.serialize_map(Some(self.values.len()))?;
        for (field, value) in self.iter() {
            map.serialize_entry(field.key, value)?;
        }
        map.end()
    }
}

struct MapVisitor<T>(PhantomData<T>);

impl<'de, T: Table> Visitor<'de> for MapVisitor<T> {
    type Value = FieldMap<T>;

    fn expecting(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "a map of {} fields", T::WHAT)
    }

    fn visit_map<A: MapAccess<'de>>(self, mut map: A) -> Result<FieldMap<T>, A::Error> {
        let mut out = FieldMap::<T>::new();
        while let Some(key) = map.next_key::<String>()? {
            let Some(at) = index::<T>(&key) else {
                return Err(de::Error::unknown_field(&key, T::keys()));
            };
            let mut value: Stated = map.next_value()?;
            dates_and_texts(&T::fields()[at], &mut value);
            out.set(&key, value).map_err(de::Error::custom)?;
        }
        Ok(out)
    }
}

/// A text field may hold what YAML reads as a number (a serial `20931`); it is
/// kept as text so that it is written back as it was.
fn dates_and_texts(field: &Field, value: &mut Stated) {
    if !matches!(field.holds, Holds::Number { .. })
        && value.standing != Standing::Unknown
        && let Some(Plain::Number(n)) = value.value
    {
        value.value = Some(Plain::Text(n.to_string()));
    }
}

impl<'de, T: Table> Deserialize<'de> for FieldMap<T> {
    fn deserialize<D: Deserializer<'de>>(d: D) -> Result<Self, D::Error> {
        d.deserialize_map(MapVisitor(PhantomData))
    }
}
