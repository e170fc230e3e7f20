//! From the bytes of a cell to text, numbers and dates.

use std::borrow::Cow;

use crate::calendar::Date;
use crate::exchange::map::{Case, Encoding};
use crate::role::is_plain;
use crate::units::{figure, parse_number};

/// Longest cell that is taken, in characters.
pub(super) const LONGEST_CELL: usize = 4_000;

/// Why a cell's bytes are not text.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) enum NoText {
    Encoding(String),
    Control(String),
    TooLong(usize),
}

/// Decodes a cell and trims it.
pub(super) fn decode(bytes: &[u8], encoding: Encoding) -> Result<Cow<'_, str>, NoText> {
    let text: Cow<'_, str> = match encoding {
        Encoding::Utf8 => Cow::Borrowed(std::str::from_utf8(bytes).map_err(|e| {
            let at = e.valid_up_to();
            NoText::Encoding(format!(
                "byte {} (0x{:02x}) is not UTF-8; an old file may need `encoding: windows-1252` in the map",
                at + 1,
                bytes.get(at).copied().unwrap_or(0)
            ))
        })?),
        _ if bytes.is_ascii() => Cow::Borrowed(std::str::from_utf8(bytes).unwrap_or("")),
        Encoding::Latin1 => bytes.iter().map(|b| char::from(*b)).collect(),
        Encoding::Windows1252 => bytes
            .iter()
            .map(|b| windows_1252(*b))
            .collect::<Result<String, u8>>()
            .map_err(|b| NoText::Encoding(format!("byte 0x{b:02x} is none of windows-1252")))?
            .into(),
    };
    if let Some(c) = text
        .chars()
        .find(|c| c.is_control() && !matches!(c, '\t' | '\n' | '\r'))
    {
        return Err(NoText::Control(format!(
            "the control character U+{:04X}",
            u32::from(c)
        )));
    }
    if text.len() > LONGEST_CELL {
        let n = text.chars().count();
        if n > LONGEST_CELL {
            return Err(NoText::TooLong(n));
        }
    }
    Ok(match text {
        Cow::Borrowed(t) => Cow::Borrowed(t.trim()),
        Cow::Owned(t) => Cow::Owned(t.trim().to_string()),
    })
}

/// The upper half of windows-1252 where it differs from latin-1 (WHATWG
/// Encoding Standard, index windows-1252; five bytes stand for nothing).
const HIGH: [Option<char>; 32] = {
    const fn some(c: char) -> Option<char> {
        Some(c)
    }
    [
        some('€'),
        None,
        some('‚'),
        some('ƒ'),
        some('„'),
        some('…'),
        some('†'),
        some('‡'),
        some('ˆ'),
        some('‰'),
        some('Š'),
        some('‹'),
        some('Œ'),
        None,
        some('Ž'),
        None,
        None,
        some('‘'),
        some('’'),
        some('“'),
        some('”'),
        some('•'),
        some('–'),
        some('—'),
        some('˜'),
        some('™'),
        some('š'),
        some('›'),
        some('œ'),
        None,
        some('ž'),
        some('Ÿ'),
    ]
};

fn windows_1252(b: u8) -> Result<char, u8> {
    match b {
        0x80..=0x9f => HIGH[usize::from(b - 0x80)].ok_or(b),
        b => Ok(char::from(b)),
    }
}

/// What a name may not hold: it must be one line of characters that show.
pub(super) fn unfit_for_a_name(text: &str) -> Option<String> {
    text.chars().find(|c| !is_plain(*c)).map(|c| {
        format!(
            "holds a character that does not show (U+{:04X})",
            u32::from(c)
        )
    })
}

pub(super) fn in_case(text: &str, case: Case) -> String {
    match case {
        Case::Lower => text.to_lowercase(),
        Case::Upper => text.to_uppercase(),
    }
}

/// A number, with one of `units` behind it or none.
pub(super) fn number(text: &str, units: &[String]) -> Result<f64, String> {
    let bare = units
        .iter()
        .find_map(|unit| {
            let at = text.len().checked_sub(unit.len())?;
            let tail = text.get(at..)?;
            (!unit.is_empty() && tail.eq_ignore_ascii_case(unit)).then(|| text[..at].trim_end())
        })
        .unwrap_or(text);
    parse_number(bare).map_err(|e| match units {
        [] => e.to_string(),
        _ => format!("{text:?} is not a number of {}", units.join(" or ")),
    })
}

pub(super) fn rounded(value: f64, decimals: Option<u32>) -> f64 {
    match decimals {
        Some(d) => {
            let scale = 10_f64.powi(i32::try_from(d.min(12)).unwrap_or(12));
            (value * scale).round() / scale
        }
        None => value,
    }
}

pub(super) fn inside(value: f64, least: Option<f64>, most: Option<f64>) -> Result<f64, String> {
    if least.is_some_and(|l| value < l) || most.is_some_and(|m| value > m) {
        let bound = |b: Option<f64>| b.map_or("any".to_string(), figure);
        return Err(format!(
            "{} is outside what is possible here ({} to {})",
            figure(value),
            bound(least),
            bound(most)
        ));
    }
    Ok(value)
}

/// Semi-major axis of WGS 84 in metres, the radius of the sphere of EPSG:3857.
const EARTH_RADIUS_M: f64 = 6_378_137.0;

/// Latitude in degrees for a northing in metres of EPSG:3857 (IOGP Guidance
/// Note 7-2, Popular Visualisation Pseudo-Mercator, method 1024).
#[must_use]
pub fn mercator_lat(northing_m: f64) -> f64 {
    (std::f64::consts::FRAC_PI_2 - 2.0 * (-northing_m / EARTH_RADIUS_M).exp().atan()).to_degrees()
}

/// Longitude in degrees for an easting in metres of EPSG:3857.
#[must_use]
pub fn mercator_lon(easting_m: f64) -> f64 {
    (easting_m / EARTH_RADIUS_M).to_degrees()
}

/// Half the side of the square that EPSG:3857 covers, in metres.
pub(super) const MERCATOR_EDGE_M: f64 = 20_037_508.342_789_244;

/// A form in which dates are written: `YYYY`, `YY`, `MM`, `M`, `DD`, `D`,
/// `MON` (Jan), any other character for itself, and `*` at the end for
/// whatever follows. `YY` of 69 to 99 is 1969 to 1999, below it 2000 to 2068
/// (the rule of POSIX strptime).
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct DateFormat {
    parts: Vec<Part>,
    shown: String,
}

#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Part {
    Year,
    ShortYear,
    Month { two: bool },
    MonthName,
    Day { two: bool },
    Letter(char),
    Rest,
}

const MONTHS: [&str; 12] = [
    "jan", "feb", "mar", "apr", "may", "jun", "jul", "aug", "sep", "oct", "nov", "dec",
];

impl DateFormat {
    /// # Errors
    /// When the form names no year.
    pub fn new(form: &str) -> Result<DateFormat, String> {
        const TOKENS: [(&str, Part); 7] = [
            ("YYYY", Part::Year),
            ("YY", Part::ShortYear),
            ("MON", Part::MonthName),
            ("MM", Part::Month { two: true }),
            ("M", Part::Month { two: false }),
            ("DD", Part::Day { two: true }),
            ("D", Part::Day { two: false }),
        ];
        let mut parts = Vec::new();
        let mut rest = form;
        while let Some(c) = rest.chars().next() {
            if let Some((token, part)) = TOKENS.iter().find(|(t, _)| rest.starts_with(t)) {
                parts.push(*part);
                rest = &rest[token.len()..];
            } else {
                parts.push(if c == '*' {
                    Part::Rest
                } else {
                    Part::Letter(c)
                });
                rest = &rest[c.len_utf8()..];
            }
        }
        let years = parts
            .iter()
            .filter(|p| matches!(p, Part::Year | Part::ShortYear))
            .count();
        if years != 1 {
            return Err("a date is written with YYYY or YY, MM or M or MON, DD or D".into());
        }
        Ok(DateFormat {
            parts,
            shown: form.to_string(),
        })
    }

    /// Year, month and day of a text; month and day are 1 when the form has
    /// none.
    fn read(&self, text: &str) -> Option<(i32, u32, u32)> {
        let (mut year, mut month, mut day) = (0, 1, 1);
        let mut rest = text;
        for part in &self.parts {
            match part {
                Part::Year => year = i32::try_from(digits(&mut rest, 4, 4)?).ok()?,
                Part::ShortYear => {
                    let n = i32::try_from(digits(&mut rest, 2, 2)?).ok()?;
                    year = n + if n >= 69 { 1900 } else { 2000 };
                }
                Part::Month { two } => month = digits(&mut rest, 1 + usize::from(*two), 2)?,
                Part::Day { two } => day = digits(&mut rest, 1 + usize::from(*two), 2)?,
                Part::MonthName => {
                    let name = rest.get(..3)?.to_ascii_lowercase();
                    month = u32::try_from(MONTHS.iter().position(|m| *m == name)?).ok()? + 1;
                    rest = &rest[3..];
                }
                Part::Letter(c) => rest = rest.strip_prefix(*c)?,
                Part::Rest => return Some((year, month, day)),
            }
        }
        rest.is_empty().then_some((year, month, day))
    }

    /// # Errors
    /// When the text is not written so, or there is no such day.
    pub fn date(&self, text: &str) -> Result<Date, String> {
        let (y, m, d) = self
            .read(text)
            .ok_or_else(|| format!("{text:?} is not a date written {}", self.shown))?;
        let day = Date::from_ymd(y, m, d).ok_or_else(|| format!("there is no day {text:?}"))?;
        // Through its own reader, which bounds the year.
        day.to_string().parse().map_err(|e| format!("{e}"))
    }

    /// # Errors
    /// As [`DateFormat::date`].
    pub fn year(&self, text: &str) -> Result<i32, String> {
        self.date(text).map(Date::year)
    }
}

fn digits(rest: &mut &str, least: usize, most: usize) -> Option<u32> {
    let n = rest
        .bytes()
        .take(most)
        .take_while(u8::is_ascii_digit)
        .count();
    if n < least {
        return None;
    }
    let (number, tail) = rest.split_at(n);
    *rest = tail;
    number.parse().ok()
}

#[cfg(test)]
mod tests {
    use super::*;

    /// The worked example of IOGP Guidance Note 7-2 for method 1024 (from
    /// memory; its two figures also agree with the formula to a millimetre).
    #[test]
    fn mercator_agrees_with_the_published_example() {
        let lat = mercator_lat(2_800_000.0);
        let lon = mercator_lon(-11_169_055.58);
        assert!(
            (lat - (24.0 + 22.0 / 60.0 + 54.433 / 3600.0)).abs() < 1e-6,
            "{lat}"
        );
        assert!((lon + (100.0 + 20.0 / 60.0)).abs() < 1e-6, "{lon}");
        // The edge of the square is 180 degrees east and 85.0511288 north
        // (the extent that the EPSG registry gives as 85.06 rounded).
        assert!((mercator_lon(MERCATOR_EDGE_M) - 180.0).abs() < 1e-9);
        assert!((mercator_lat(MERCATOR_EDGE_M) - 85.051_128_78).abs() < 1e-7);
    }

    #[test]
    fn dates_as_stated_and_no_other_way() {
        let read = |form: &str, text: &str| {
            DateFormat::new(form)
                .unwrap()
                .date(text)
                .map(|d| d.to_string())
        };
        assert_eq!(read("M/D/YY", "3/8/19"), Ok("2019-03-08".into()));
        assert_eq!(read("M/D/YY", "10/12/18"), Ok("2018-10-12".into()));
        assert_eq!(read("D MON YYYY", "3 Oct 2026"), Ok("2026-10-03".into()));
        assert_eq!(
            read("YYYY/MM/DD *", "2005/01/01 06:00:00+00"),
            Ok("2005-01-01".into())
        );
        assert!(read("M/D/YY", "2019-03-08").is_err());
        assert!(read("YYYY-MM-DD", "2019-02-30").is_err());
        assert!(read("YYYY-MM-DD", "2206-01-01").is_err());
        assert!(read("YYYY-MM-DD", "2019-03-08x").is_err());
        assert!(DateFormat::new("MM/DD").is_err());
    }

    #[test]
    fn numbers_lose_their_unit_and_no_other() {
        let kv = ["kV".to_string()];
        assert_eq!(number("15 kV", &kv), Ok(15.0));
        assert_eq!(number("15KV", &kv), Ok(15.0));
        assert_eq!(number("7.2", &kv), Ok(7.2));
        assert!(number("15 A", &kv).is_err());
        assert!(number("nan", &[]).is_err());
        assert!(inside(900.0, Some(15.0), Some(150.0)).is_err());
        assert!((rounded(35.104_98, Some(1)) - 35.1).abs() < 1e-9);
    }

    #[test]
    fn encodings_are_what_the_map_says() {
        assert_eq!(decode(b"Caf\xe9 ", Encoding::Latin1).unwrap(), "Café");
        assert_eq!(decode(b"\x93x\x94", Encoding::Windows1252).unwrap(), "“x”");
        assert!(matches!(
            decode(b"Caf\xe9", Encoding::Utf8),
            Err(NoText::Encoding(_))
        ));
        assert!(matches!(
            decode(b"\x81", Encoding::Windows1252),
            Err(NoText::Encoding(_))
        ));
        assert!(matches!(
            decode(b"a\0b", Encoding::Utf8),
            Err(NoText::Control(_))
        ));
        assert!(matches!(
            decode(b"\x9b31m", Encoding::Latin1),
            Err(NoText::Control(_))
        ));
    }
}
