//! A few things to choose one from, by digit or by marking it.

use ratatui::buffer::Buffer;
use ratatui::layout::Rect;

use crate::keys::Chord;
use crate::present::Line;
use crate::role::Role;
use crate::tui::command::Id;
use crate::tui::screen::Desk;
use crate::tui::screen::listing::digit;
use crate::tui::widget::{put, row};

/// What can be chosen: its word, and what it means.
#[derive(Debug, Default)]
pub(super) struct Pick {
    pub rows: Vec<(String, String)>,
    pub marked: usize,
}

impl Pick {
    pub(super) const fn of(rows: Vec<(String, String)>) -> Self {
        Pick { rows, marked: 0 }
    }

    /// The number of what was chosen; none while moving.
    pub(super) fn take(&mut self, id: Id, chord: Chord) -> Option<usize> {
        let last = self.rows.len().saturating_sub(1);
        match id {
            Id::Next => self.marked = (self.marked + 1).min(last),
            Id::Previous => self.marked = self.marked.saturating_sub(1),
            Id::Top => self.marked = 0,
            Id::End => self.marked = last,
            Id::Finish => return Some(self.marked),
            Id::FieldDigit => {
                let at = digit(chord)?.checked_sub(1)?;
                return (at <= last).then_some(at);
            }
            _ => {}
        }
        None
    }

    pub(super) fn draw(&self, buffer: &mut Buffer, area: Rect, desk: &Desk) {
        let word = self.rows.iter().map(|(w, _)| w.chars().count()).max();
        let word = word.unwrap_or(0) + 2;
        let width = usize::from(area.width);
        let mut y = 0;
        for (i, (name, what)) in self.rows.iter().enumerate() {
            let mark = if i == self.marked { "> " } else { "  " };
            let role = if i == self.marked {
                Role::Code
            } else {
                Role::Plain
            };
            let line = Line::of(Role::Code, mark)
                .with(Role::Key, format!("{} ", i + 1))
                .with(role, format!("{name:<word$}"))
                .with(Role::Plain, what);
            for line in line.folded(width, 4) {
                put(buffer, row(area, y), &line, desk.look);
                y += 1;
            }
        }
    }
}
