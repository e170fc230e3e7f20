//! `--as-of`: a day, or a moment, at which the register is asked.

use std::str::FromStr;

use crate::calendar::{Date, Moment};

/// When the register is asked about.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum When {
    /// The end of that day, here.
    Day(Date),
    At(Moment),
}

impl FromStr for When {
    type Err = String;
    fn from_str(text: &str) -> Result<Self, String> {
        if text.contains('T') {
            return text.parse().map(When::At).map_err(|e| format!("{e}"));
        }
        text.parse().map(When::Day).map_err(|e| format!("{e}"))
    }
}

impl When {
    /// The last moment asked about, with the offset of `here`.
    #[must_use]
    pub fn moment(self, here: Moment) -> Moment {
        match self {
            When::At(moment) => moment,
            When::Day(day) => here.end_of(day),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_day_ends_at_midnight_here() {
        let here: Moment = "2026-10-03T14:10:00-06:00".parse().unwrap();
        let when: When = "2026-03-31".parse().unwrap();
        assert_eq!(when.moment(here).utc(), "2026-04-01T05:59:59.999Z");
        assert!("next week".parse::<When>().is_err());
        assert!("2206-01-01".parse::<When>().is_err());
    }
}
