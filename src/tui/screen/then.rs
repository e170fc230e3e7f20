//! A record on another day: what the register said of it then, or how it was
//! that day by what is known now. The day is typed, then what is meant is
//! chosen.

use ratatui::buffer::Buffer;
use ratatui::layout::{Position, Rect};

use super::choice::{Choosing, Chosen};
use super::text::{Text, inset};
use super::{Desk, Screen, Step};
use crate::calendar::{Clock, Date, Moment};
use crate::keys::Chord;
use crate::present::written::history_lines;
use crate::present::{self, Line};
use crate::role::Role;
use crate::store::{Access, Store, Stored};
use crate::tui::command::{About, Id, Place};
use crate::work::Failure;
use crate::work::card::card;
use crate::work::history::history;

/// Operations of a history that are shown.
const LISTED: usize = 200;

/// What is read on the other day.
#[derive(Clone, Copy, PartialEq, Eq)]
pub enum Read {
    Card,
    History,
}

/// In which sense a day is meant.
#[derive(Clone, Copy, PartialEq, Eq)]
enum Sense {
    /// By what had been entered.
    Said,
    /// By when things took effect, as is known now.
    Was,
}

/// The question for the day.
pub struct OnDay {
    record: Stored,
    read: Read,
    day: Option<Date>,
    choosing: Choosing,
}

impl OnDay {
    /// About a record.
    #[must_use]
    pub fn of(record: Stored, read: Read) -> Self {
        OnDay {
            record,
            read,
            day: None,
            choosing: Choosing::typing(" day > ", ""),
        }
    }

    fn title(&self) -> Line {
        let what = match self.read {
            Read::Card => "on another day: ",
            Read::History => "history on another day: ",
        };
        Line::of(Role::Heading, what).with(Role::Code, self.record.record.name())
    }

    fn typed(&mut self, text: &str, desk: &Desk) -> Step {
        match day_typed(text, desk.clock.today()) {
            Ok(day) => {
                self.day = Some(day);
                self.choosing = Choosing::among(vec![
                    format!("what the register said on {}", day.spoken()),
                    format!("how it was on {}, as is known now", day.spoken()),
                ]);
                Step::Stay
            }
            Err(why) => Step::Say(format!("refused: {why}")),
        }
    }

    fn back(&mut self) -> Step {
        match self.day.take() {
            Some(day) => {
                self.choosing = Choosing::typing(" day > ", &day.to_string());
                Step::Stay
            }
            None => Step::Close,
        }
    }

    fn chosen(&self, n: usize, desk: &Desk) -> Step {
        let Some(day) = self.day else {
            return Step::Stay;
        };
        let sense = if n == 0 { Sense::Said } else { Sense::Was };
        match then(&self.record, self.read, (day, sense), desk) {
            Ok(text) => Step::Instead(Box::new(text)),
            Err(failure) => failure.into(),
        }
    }
}

/// A day as it is typed: `2026-03-31`, or its digits alone; year and month
/// alone mean the last day of the month.
///
/// # Errors
/// A sentence.
fn day_typed(text: &str, today: Date) -> Result<Date, String> {
    let digits: String = text.chars().filter(char::is_ascii_digit).collect();
    let part = |from: usize, to: usize| digits.get(from..to).and_then(|p| p.parse::<u32>().ok());
    let year = part(0, 4).and_then(|y| i32::try_from(y).ok());
    let of = |year: i32, month: u32, day: u32| Date::from_ymd(year, month, day);
    let day = match (digits.len(), year, part(4, 6)) {
        (8, Some(year), Some(month)) => part(6, 8).and_then(|day| of(year, month, day)),
        (6, Some(year), Some(month)) => (28..=31).rev().find_map(|day| of(year, month, day)),
        _ => None,
    };
    let day = day.ok_or_else(|| {
        format!("{text:?} is no day; type it as 2026-03-31 or 20260331, or the month as 202603")
    })?;
    if day > today {
        // The month that runs is meant up to now.
        if digits.len() == 6 && day.year() == today.year() && same_month(day, today) {
            return Ok(today);
        }
        return Err(format!(
            "{} lies ahead; today is {}",
            day.spoken(),
            today.spoken()
        ));
    }
    Ok(day)
}

fn same_month(a: Date, b: Date) -> bool {
    a.to_string().get(..7) == b.to_string().get(..7)
}

/// The card or the history on a day, under a banner that nobody overlooks.
fn then(
    record: &Stored,
    read: Read,
    (day, sense): (Date, Sense),
    desk: &Desk,
) -> Result<Text, Failure> {
    let end = desk.clock.now().end_of(day);
    let store = Store::open(desk.store.path(), Access::Read)?;
    let store = match sense {
        Sense::Said => {
            let seq = store.operation_at(end)?;
            store.as_of(seq)?
        }
        Sense::Was => store.effective(day)?,
    };
    let title = banner(end, sense);
    let gone = || {
        Failure::not_found(format!(
            "{} was not in the register on {}",
            record.record.name(),
            day.spoken()
        ))
        .hint("type a later day")
    };
    let stored = store.by_id(record.record.id())?.ok_or_else(gone)?;
    let lines: Box<dyn Fn(present::Style) -> Vec<Line>> = match read {
        Read::Card => {
            let card = card(&store, stored.rec, Clock::Fixed(end))?;
            Box::new(move |style| present::card::lines(&card, style))
        }
        Read::History => {
            let id = record.record.id().to_string();
            let report = history(&store, Some(&id), LISTED)?;
            Box::new(move |style| {
                let lines = history_lines(&report).into_iter();
                inset(lines.flat_map(|l| l.folded(style.width, 4)).collect())
            })
        }
    };
    Ok(Text::new(Place::Text, Some(title), String::new(), lines))
}

fn banner(end: Moment, sense: Sense) -> Line {
    let day = end.date().spoken();
    match sense {
        Sense::Said => Line::of(Role::Look, format!("AS OF {day}: "))
            .with(Role::Plain, "what the register said then, not now"),
        Sense::Was => Line::of(Role::Look, format!("EFFECTIVE {day}: "))
            .with(Role::Plain, "how it was, as is known now; not now"),
    }
}

impl Screen for OnDay {
    fn place(&self) -> Place {
        if self.choosing.types() {
            Place::Answer
        } else {
            Place::Choice
        }
    }

    fn about(&self) -> About {
        About {
            kind: Some(self.record.record.kind()),
            rows: self.choosing.count(),
            empty: self.choosing.is_empty(),
            ..About::default()
        }
    }

    fn run(&mut self, id: Id, chord: Chord, desk: &Desk) -> Step {
        if id == Id::FindAnew {
            return Step::FindAnew;
        }
        match self.choosing.take(id, chord) {
            Chosen::Typed(text) => self.typed(&text, desk),
            Chosen::Option(n) => self.chosen(n, desk),
            Chosen::Back => self.back(),
            Chosen::Nothing => Step::Stay,
        }
    }

    fn type_in(&mut self, c: char) {
        self.choosing.type_in(c);
    }

    fn paste(&mut self, text: &str) -> bool {
        self.choosing.paste(text)
    }

    fn draw(&mut self, buffer: &mut Buffer, area: Rect, desk: &Desk) -> Option<Position> {
        let title = self.title();
        let text = if self.choosing.types() {
            let said = " Type the day, as 2026-03-31 or 20260331; 202603 is the end of that month.";
            let width = usize::from(area.width.saturating_sub(1));
            Line::of(Role::Plain, said).folded(width, 1)
        } else {
            Vec::new()
        };
        self.choosing.draw(buffer, area, desk, (&title, &text))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_day_is_typed_with_or_without_dashes_or_as_a_month() {
        let today: Date = "2026-10-03".parse().unwrap();
        let day = |text: &str| day_typed(text, today).map(|d| d.to_string());
        assert_eq!(day("2026-03-31").unwrap(), "2026-03-31");
        assert_eq!(day("20260331").unwrap(), "2026-03-31");
        assert_eq!(day("202602").unwrap(), "2026-02-28");
        assert_eq!(day("202402").unwrap(), "2024-02-29");
        assert_eq!(day("202610").unwrap(), "2026-10-03", "this month so far");
        for bad in [
            "", "march", "20261301", "20260230", "20261004", "202611", "2206",
        ] {
            assert!(day(bad).is_err(), "{bad}");
        }
    }
}
