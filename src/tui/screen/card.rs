//! The card: everything on record about one thing, most urgent first.

use ratatui::buffer::Buffer;
use ratatui::layout::{Position, Rect};

use super::measure::BESIDE;
use super::text::note;
use super::{Desk, Screen, Step, about_record};
use crate::domain::asset::Kind;
use crate::keys::Chord;
use crate::present::{
    Line, Style,
    card::{lines, lines_reached},
};
use crate::role::Role;
use crate::store::Stored;
use crate::tui::command::{About, Id, Place};
use crate::tui::widget::Scroll;
use crate::work::Failure;
use crate::work::card::{self, card};

/// Width at which two readings are compared; any one would do.
const COMPARED: Style = Style {
    width: 80,
    ascii: true,
};

/// An open card.
pub struct Card {
    record: Stored,
    card: card::Card,
    read_at: String,
    changed: Option<&'static str>,
    scroll: Scroll,
    /// Said first when the card was opened from a guess.
    reached: Option<String>,
}

impl Card {
    /// Reads the card of a record.
    ///
    /// # Errors
    /// When it has left the register, and those of the register.
    pub fn read(rec: i64, desk: &Desk) -> Result<Self, Failure> {
        Ok(Card {
            record: super::record_at(rec, desk)?,
            card: card(desk.store, rec, desk.clock)?,
            read_at: desk.clock.now().hour_minute(),
            changed: None,
            scroll: Scroll::default(),
            reached: None,
        })
    }

    /// The card as opened from a row that only resembles what was typed.
    #[must_use]
    pub fn reached_by(mut self, said: String) -> Self {
        self.reached = Some(said);
        self
    }

    fn read_again(&mut self, desk: &Desk) -> Step {
        match Card::read(self.record.rec, desk) {
            Ok(mut fresh) => {
                fresh.scroll = self.scroll;
                fresh.reached = self.reached.take();
                *self = fresh;
                Step::Stay
            }
            Err(failure) => failure.into(),
        }
    }
}

/// How many lines there are down to the last caution: they are never held back.
fn urgent(lines: &[Line]) -> usize {
    let caution = |l: &Line| {
        let severe = |r: Role| matches!(r, Role::Stop | Role::Look);
        l.pieces
            .iter()
            .any(|p| severe(p.role) && matches!(p.text.trim(), "STOP" | "LOOK"))
    };
    let Some(last) = lines.iter().rposition(caution) else {
        return 0;
    };
    let rest = lines[last + 1..].iter();
    let more = rest
        .take_while(|l| l.plain().starts_with("       "))
        .count();
    last + 1 + more
}

impl Screen for Card {
    fn place(&self) -> Place {
        Place::Card
    }

    fn about(&self) -> About {
        About {
            kind: Some(self.record.record.kind()),
            ..About::default()
        }
    }

    fn run(&mut self, id: Id, _chord: Chord, desk: &Desk) -> Step {
        match id {
            Id::Back => return Step::Close,
            Id::FindAnew => return Step::FindAnew,
            Id::Again => return self.read_again(desk),
            Id::HalfDown => self.scroll.down(),
            Id::HalfUp => self.scroll.up(),
            Id::Top => self.scroll.to_top(),
            Id::End => self.scroll.to_end(),
            other => return about_record(other, &self.record, desk),
        }
        Step::Stay
    }

    fn watches(&self) -> bool {
        true
    }

    /// Compares what would be read now with what is on the screen: a card also
    /// rests on units, entries, orders and the line around it.
    fn register_changed(&mut self, desk: &Desk) -> bool {
        let before = self.changed;
        self.changed = match card(desk.store, self.record.rec, desk.clock) {
            Ok(now) if lines(&now, COMPARED) == lines(&self.card, COMPARED) => None,
            Ok(_) => Some("CHANGED"),
            Err(_) => Some("GONE"),
        };
        self.changed != before
    }

    fn note(&self) -> Line {
        match self.changed {
            Some("CHANGED") => Line::of(Role::Look, "CHANGED").with(
                Role::Plain,
                format!(" since read at {}; a reads it again", self.read_at),
            ),
            Some(_) => Line::of(Role::Look, "GONE").with(
                Role::Plain,
                format!(" from the register since read at {}", self.read_at),
            ),
            None => note(&format!("read at {}", self.read_at), self.scroll),
        }
    }

    fn draw(&mut self, buffer: &mut Buffer, area: Rect, desk: &Desk) -> Option<Position> {
        let lines = lines_reached(
            &self.card,
            self.reached.as_deref(),
            Style {
                width: usize::from(area.width),
                ascii: desk.look.ascii,
            },
        );
        if area.width < BESIDE {
            let mut urgent = urgent(&lines);
            // What it carries and how it stands is what a device is looked up for.
            if !matches!(self.record.record.kind(), Kind::Structure) {
                urgent += 4;
            }
            self.scroll
                .draw_opening(buffer, area, &lines, urgent, desk.look);
        } else {
            self.scroll.draw(buffer, area, &lines, desk.look);
        }
        None
    }
}
