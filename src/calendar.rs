//! Floor 0: dates, moments and the one clock.
//!
//! The clock is passed in. Nothing else in the crate asks for the time.

use std::fmt;
use std::str::FromStr;

use chrono::{DateTime, Datelike, Days, FixedOffset, Local, Months, NaiveDate, SecondsFormat, Utc};
use serde::{Deserialize, Deserializer, Serialize, Serializer};
use thiserror::Error;

/// Why a text is not a date or a moment.
#[derive(Debug, Clone, PartialEq, Eq, Error)]
pub enum CalendarError {
    #[error("{0:?} is not a date; write it as 2026-09-12")]
    NotADate(String),
    #[error("{0} lies outside 1850 to 2199; check the year")]
    YearAbsurd(String),
    #[error("{0:?} is not a moment; write it as 2026-09-12T14:10:00-06:00")]
    NotAMoment(String),
}

/// A calendar day. Stored as `2026-09-12`, shown as `12 Sep 2026`.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Date(NaiveDate);

impl Date {
    /// The day of a year, month and day, if there is one.
    #[must_use]
    pub fn from_ymd(year: i32, month: u32, day: u32) -> Option<Self> {
        NaiveDate::from_ymd_opt(year, month, day).map(Date)
    }

    #[must_use]
    pub fn year(self) -> i32 {
        self.0.year()
    }

    /// The first of January often stands for "some day that year".
    #[must_use]
    pub fn is_new_year(self) -> bool {
        self.0.ordinal() == 1
    }

    /// Whole days from `earlier` to this day.
    #[must_use]
    pub fn days_since(self, earlier: Date) -> i64 {
        (self.0 - earlier.0).num_days()
    }

    /// The same day so many months later; the last of a shorter month.
    #[must_use]
    pub fn plus_months(self, months: u32) -> Date {
        self.0
            .checked_add_months(Months::new(months))
            .map_or(self, Date)
    }

    /// So many days later.
    #[must_use]
    pub fn plus_days(self, days: u32) -> Date {
        self.0
            .checked_add_days(Days::new(u64::from(days)))
            .map_or(self, Date)
    }

    /// As people read it: `12 Sep 2026`.
    #[must_use]
    pub fn spoken(self) -> String {
        self.0.format("%-d %b %Y").to_string()
    }
}

impl fmt::Display for Date {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{}", self.0.format("%Y-%m-%d"))
    }
}

impl FromStr for Date {
    type Err = CalendarError;
    fn from_str(text: &str) -> Result<Self, CalendarError> {
        let day = NaiveDate::parse_from_str(text.trim(), "%Y-%m-%d")
            .map_err(|_| CalendarError::NotADate(text.to_string()))?;
        if (1850..2200).contains(&day.year()) {
            Ok(Date(day))
        } else {
            Err(CalendarError::YearAbsurd(day.to_string()))
        }
    }
}

/// A moment with the offset of the place where it was entered.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Moment(DateTime<FixedOffset>);

impl Moment {
    #[must_use]
    pub fn date(self) -> Date {
        Date(self.0.date_naive())
    }

    /// Milliseconds since 1970, UTC.
    #[must_use]
    pub fn unix_millis(self) -> u64 {
        u64::try_from(self.0.timestamp_millis()).unwrap_or(0)
    }

    /// UTC in a form that sorts as text.
    #[must_use]
    pub fn utc(self) -> String {
        self.0
            .with_timezone(&Utc)
            .to_rfc3339_opts(SecondsFormat::Millis, true)
    }

    /// As people read it: `3 Oct 2026 14:10`.
    #[must_use]
    pub fn spoken(self) -> String {
        self.0.format("%-d %b %Y %H:%M").to_string()
    }

    /// UTC, and in brackets the clock of the place of entry with its offset:
    /// `2026-10-03 20:10 UTC (14:10 -06:00)`, with the day where that differs.
    #[must_use]
    pub fn utc_and_offset(self) -> String {
        let utc = self.0.with_timezone(&Utc);
        let local = if utc.date_naive() == self.0.date_naive() {
            self.0.format("%H:%M %:z")
        } else {
            self.0.format("%Y-%m-%d %H:%M %:z")
        };
        format!("{} UTC ({local})", utc.format("%Y-%m-%d %H:%M"))
    }

    /// The last moment of a day, at the offset of this moment.
    #[must_use]
    pub fn end_of(self, day: Date) -> Moment {
        let shown = self.to_string();
        let offset = &shown[shown.len().saturating_sub("+00:00".len())..];
        format!("{day}T23:59:59.999{offset}")
            .parse()
            .expect("a day and the offset of a moment make a moment")
    }

    /// Hours and minutes, for "read at".
    #[must_use]
    pub fn hour_minute(self) -> String {
        self.0.format("%H:%M").to_string()
    }
}

impl fmt::Display for Moment {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let form = if self.0.timestamp_subsec_millis() == 0 {
            SecondsFormat::Secs
        } else {
            SecondsFormat::Millis
        };
        f.write_str(&self.0.to_rfc3339_opts(form, false))
    }
}

impl FromStr for Moment {
    type Err = CalendarError;
    fn from_str(text: &str) -> Result<Self, CalendarError> {
        DateTime::parse_from_rfc3339(text.trim())
            .map(Moment)
            .map_err(|_| CalendarError::NotAMoment(text.to_string()))
    }
}

macro_rules! serde_as_text {
    ($($t:ty),*) => {$(
        impl Serialize for $t {
            fn serialize<S: Serializer>(&self, s: S) -> Result<S::Ok, S::Error> {
                s.collect_str(self)
            }
        }
        impl<'de> Deserialize<'de> for $t {
            fn deserialize<D: Deserializer<'de>>(d: D) -> Result<Self, D::Error> {
                String::deserialize(d)?.parse().map_err(serde::de::Error::custom)
            }
        }
    )*};
}
serde_as_text!(Date, Moment);

/// The clock that is handed to whoever needs the time.
#[derive(Debug, Clone, Copy)]
pub enum Clock {
    /// The machine's clock with its local offset.
    System,
    /// A moment that stands still: tests, screenshots, replays.
    Fixed(Moment),
}

impl Clock {
    #[must_use]
    pub fn now(self) -> Moment {
        match self {
            Clock::System => {
                let now = Local::now();
                Moment(now.with_timezone(now.offset()))
            }
            Clock::Fixed(moment) => moment,
        }
    }

    #[must_use]
    pub fn today(self) -> Date {
        self.now().date()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn dates_are_stored_one_way_and_shown_another() {
        let day: Date = "2026-09-12".parse().unwrap();
        assert_eq!(day.to_string(), "2026-09-12");
        assert_eq!(day.spoken(), "12 Sep 2026");
        assert!("2026-13-01".parse::<Date>().is_err());
        assert!("3026-01-01".parse::<Date>().is_err());
    }

    #[test]
    fn a_moment_keeps_its_offset() {
        let m: Moment = "2026-10-03T14:10:00-06:00".parse().unwrap();
        assert_eq!(m.to_string(), "2026-10-03T14:10:00-06:00");
        assert_eq!(m.utc(), "2026-10-03T20:10:00.000Z");
        assert_eq!(m.utc_and_offset(), "2026-10-03 20:10 UTC (14:10 -06:00)");
        let m: Moment = "2026-10-03T20:10:00-06:00".parse().unwrap();
        assert_eq!(
            m.utc_and_offset(),
            "2026-10-04 02:10 UTC (2026-10-03 20:10 -06:00)"
        );
    }
}
