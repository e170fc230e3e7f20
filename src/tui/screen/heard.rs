//! Read-back: type what was heard; match or mismatch.

use ratatui::buffer::Buffer;
use ratatui::layout::{Position, Rect};

use super::measure::{caret_after, prompt_line};
use super::text::{margin, under_title};
use super::{Desk, Screen, Step};
use crate::keys::Chord;
use crate::present::{Line, Style, find::read_back_lines};
use crate::role::Role;
use crate::store::Stored;
use crate::tui::command::{About, Id, Place};
use crate::tui::widget::{Field, put, row};
use crate::work::readback::{ReadBack, read_back};

/// Read-back of one record.
pub struct Heard {
    meant: Stored,
    field: Field,
    outcome: Option<ReadBack>,
}

impl Heard {
    #[must_use]
    pub fn about(meant: Stored) -> Self {
        Heard {
            meant,
            field: Field::default(),
            outcome: None,
        }
    }
}

impl Screen for Heard {
    fn place(&self) -> Place {
        Place::Heard
    }

    fn about(&self) -> About {
        About {
            kind: Some(self.meant.record.kind()),
            empty: self.field.is_empty(),
            ..About::default()
        }
    }

    fn run(&mut self, id: Id, _chord: Chord, desk: &Desk) -> Step {
        match id {
            Id::Compare if self.field.is_empty() => return Step::Close,
            Id::Compare => match read_back(desk.store, &self.meant, self.field.text()) {
                Ok(outcome) => self.outcome = Some(outcome),
                Err(failure) => return failure.into(),
            },
            Id::Erase => {
                if !self.field.erase() {
                    return Step::Close;
                }
                self.outcome = None;
            }
            Id::ClearLine | Id::ClearWord => {
                match id {
                    Id::ClearLine => self.field.clear(),
                    _ => self.field.erase_word(),
                }
                self.outcome = None;
            }
            Id::Back => return Step::Close,
            _ => {}
        }
        Step::Stay
    }

    fn type_in(&mut self, c: char) {
        self.field.type_in(c);
        self.outcome = None;
    }

    fn paste(&mut self, text: &str) -> bool {
        self.field.paste(text);
        self.outcome = None;
        true
    }

    fn draw(&mut self, buffer: &mut Buffer, area: Rect, desk: &Desk) -> Option<Position> {
        let prompt = " heard > ";
        let line = prompt_line(prompt, self.field.text(), area.width, desk);
        put(buffer, row(area, 0), &line, desk.look);
        let body = under_title(area);
        let style = Style {
            width: usize::from(body.width.saturating_sub(1)),
            ascii: desk.look.ascii,
        };
        let lines = match &self.outcome {
            Some(outcome) => read_back_lines(outcome, style),
            None => [
                Line::of(Role::Label, "meant ").with(Role::Code, self.meant.record.name()),
                Line::of(
                    Role::Plain,
                    "Type what was read back: the number, the road or landmark, or both.",
                ),
            ]
            .iter()
            .flat_map(|l| l.folded(style.width, 0))
            .collect(),
        };
        for (y, line) in (0..body.height).zip(&lines) {
            put(buffer, row(body, y), &margin(line), desk.look);
        }
        caret_after(area, prompt, self.field.text())
    }
}
