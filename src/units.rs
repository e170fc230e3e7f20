//! Floor 0: quantities of the trade as checked numbers.
//!
//! Every quantity is finite and lies inside bounds that no real plate or line
//! leaves, so that a slipped decimal or a `.inf` is refused where it is typed.
//! The bounds are ours (common practice, no source): they catch the absurd,
//! not the unusual.

use std::fmt;

use serde::{Deserialize, Deserializer, Serialize, Serializer};
use thiserror::Error;

/// Why a text or a number is not a usable quantity.
#[derive(Debug, Clone, PartialEq, Error)]
pub enum QuantityError {
    #[error("{text:?} is not a number")]
    NotANumber { text: String },
    #[error("a number must be finite; {text} is not")]
    NotFinite { text: String },
    #[error("{value} {unit} is outside what is possible here ({min} to {max} {unit})")]
    OutOfBounds {
        value: String,
        unit: &'static str,
        min: String,
        max: String,
    },
}

/// Checks that `value` is finite and inside `min..=max`.
///
/// # Errors
/// [`QuantityError`] naming the value and the bounds.
pub fn checked(value: f64, unit: &'static str, min: f64, max: f64) -> Result<f64, QuantityError> {
    if !value.is_finite() {
        return Err(QuantityError::NotFinite {
            text: value.to_string(),
        });
    }
    if value < min || value > max {
        return Err(QuantityError::OutOfBounds {
            value: figure(value),
            unit,
            min: figure(min),
            max: figure(max),
        });
    }
    Ok(value)
}

/// Parses a decimal number as people write it: `4,000`, `4000`, `7.2`, `.5`.
///
/// # Errors
/// [`QuantityError::NotANumber`] or [`QuantityError::NotFinite`].
pub fn parse_number(text: &str) -> Result<f64, QuantityError> {
    let not = || QuantityError::NotANumber {
        text: text.trim().to_string(),
    };
    let trimmed = text.trim();
    let bare: String = if thousands_well_placed(trimmed) {
        trimmed.replace(',', "")
    } else {
        return Err(not());
    };
    let value: f64 = bare.parse().map_err(|_| not())?;
    if value.is_finite() {
        Ok(value)
    } else {
        Err(QuantityError::NotFinite {
            text: trimmed.to_string(),
        })
    }
}

/// A comma may only stand where a thousands comma stands: `4,000`, never `4,00`.
fn thousands_well_placed(text: &str) -> bool {
    if !text.contains(',') {
        return true;
    }
    let whole = text.split('.').next().unwrap_or(text);
    let groups: Vec<&str> = whole.trim_start_matches(['-', '+']).split(',').collect();
    groups.iter().enumerate().all(|(i, g)| {
        let digits = g.bytes().all(|b| b.is_ascii_digit());
        digits
            && if i == 0 {
                (1..=3).contains(&g.len())
            } else {
                g.len() == 3
            }
    }) && !text.split('.').skip(1).any(|f| f.contains(','))
}

/// Prints a number for people: thousands commas, at most three decimals, no
/// trailing zeros. `4310.0` is `4,310`; `7.62` is `7.62`.
#[must_use]
pub fn figure(value: f64) -> String {
    // Beyond any quantity of the trade: said short, for a message.
    if value.abs() >= 1e12 {
        return format!("{value:e}");
    }
    let rounded = format!("{:.3}", value.abs());
    let (whole, fraction) = rounded.split_once('.').unwrap_or((&rounded, ""));
    let mut out = String::new();
    for (i, digit) in whole.chars().enumerate() {
        if i > 0 && (whole.len() - i) % 3 == 0 {
            out.push(',');
        }
        out.push(digit);
    }
    let fraction = fraction.trim_end_matches('0');
    if !fraction.is_empty() {
        out.push('.');
        out.push_str(fraction);
    }
    if value < 0.0 && out.bytes().any(|b| (b'1'..=b'9').contains(&b)) {
        out.insert(0, '-');
    }
    out
}

macro_rules! quantities {
    ($($(#[$doc:meta])* $name:ident, $unit:literal, $min:expr, $max:expr;)*) => {$(
        $(#[$doc])*
        #[derive(Debug, Clone, Copy, PartialEq, PartialOrd)]
        pub struct $name(f64);

        impl $name {
            /// The unit as printed.
            pub const UNIT: &'static str = $unit;
            /// Least and greatest value accepted, in the unit of the type.
            pub const BOUNDS: (f64, f64) = ($min, $max);

            /// # Errors
            /// When the value is not finite or outside [`Self::BOUNDS`].
            pub fn new(value: f64) -> Result<Self, QuantityError> {
                checked(value, $unit, $min, $max).map($name)
            }

            /// The bare number, in the unit of the type.
            #[must_use]
            pub const fn get(self) -> f64 {
                self.0
            }
        }

        impl fmt::Display for $name {
            fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
                if $unit.is_empty() {
                    f.write_str(&figure(self.0))
                } else {
                    write!(f, "{} {}", figure(self.0), $unit)
                }
            }
        }

        impl std::str::FromStr for $name {
            type Err = QuantityError;
            /// Parses `120`, `120 A`, `4,000A`; a unit, if given, must be this one.
            fn from_str(text: &str) -> Result<Self, QuantityError> {
                let t = text.trim();
                let bare = match t.len().checked_sub($unit.len()) {
                    Some(at) if !$unit.is_empty() && t.is_char_boundary(at)
                        && t[at..].eq_ignore_ascii_case($unit) => &t[..at],
                    _ => t,
                };
                Self::new(parse_number(bare)?)
            }
        }

        impl Serialize for $name {
            fn serialize<S: Serializer>(&self, s: S) -> Result<S::Ok, S::Error> {
                serialize_number(self.0, s)
            }
        }

        impl<'de> Deserialize<'de> for $name {
            fn deserialize<D: Deserializer<'de>>(d: D) -> Result<Self, D::Error> {
                Self::new(f64::deserialize(d)?).map_err(serde::de::Error::custom)
            }
        }
    )*};
}

/// Whole numbers are written without a decimal point, so that `100` stays `100`.
///
/// # Errors
/// Those of the serializer.
pub fn serialize_number<S: Serializer>(value: f64, s: S) -> Result<S::Ok, S::Error> {
    if value.fract() == 0.0 && value.abs() < 9.0e15 {
        #[expect(
            clippy::cast_possible_truncation,
            reason = "whole and inside the exact range of f64"
        )]
        s.serialize_i64(value as i64)
    } else {
        s.serialize_f64(value)
    }
}

quantities! {
    /// Amperes, rms.
    Amps, "A", 0.0, 200_000.0;
    /// Kilovolts; each use says line-to-line or line-to-neutral.
    Kv, "kV", 0.0, 1_000.0;
    /// Apparent power of one transformer, bank or generator.
    Kva, "kVA", 0.0, 1_000_000.0;
    /// Reactive power of a capacitor bank.
    Kvar, "kvar", 0.0, 1_000_000.0;
    /// Length or circumference in feet.
    Feet, "ft", 0.0, 1_000_000.0;
    /// Diameter or circumference in inches.
    Inches, "in", 0.0, 10_000.0;
    /// A calendar year.
    Year, "", 1850.0, 2200.0;
    /// Impedance in ohms.
    Ohms, "ohm", 0.0, 1_000_000.0;
    /// Line impedance in ohms per mile.
    OhmsPerMile, "ohm/mi", 0.0, 10_000.0;
    /// Short-circuit power.
    Mva, "MVA", 0.0, 100_000.0;
    /// A ratio of reactance to resistance.
    XOverR, "", 0.0, 1_000.0;
    /// How long an outage lasted.
    Minutes, "min", 0.0, 100_000.0;
    /// How long a fault stays on.
    Seconds, "s", 0.001, 3_600.0;
    /// Degrees of latitude.
    Latitude, "deg", -90.0, 90.0;
    /// Degrees of longitude.
    Longitude, "deg", -180.0, 180.0;
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn figures_read_as_people_write_them() {
        assert_eq!(figure(4310.0), "4,310");
        assert_eq!(figure(7.62), "7.62");
        assert_eq!(figure(1_000_000.0), "1,000,000");
        assert_eq!(figure(-12.5), "-12.5");
        assert_eq!(figure(-0.0001), "0");
        assert_eq!(figure(999.9999), "1,000");
    }

    #[test]
    fn a_slipped_comma_is_not_a_thousand() {
        assert_eq!(parse_number("4,000"), Ok(4000.0));
        assert!(parse_number("4,00").is_err());
        assert!(parse_number("nan").is_err());
        assert!(parse_number("inf").is_err());
        assert!(parse_number("1e400").is_err());
    }

    #[test]
    fn amps_take_their_unit_and_refuse_the_absurd() {
        assert_eq!("120 A".parse::<Amps>().map(Amps::get), Ok(120.0));
        assert_eq!("4,000a".parse::<Amps>().map(Amps::get), Ok(4000.0));
        assert!("-5".parse::<Amps>().is_err());
        assert!("12 kV".parse::<Amps>().is_err());
        assert!("9e9".parse::<Amps>().is_err());
    }
}
