//! What every list on a screen does alike: a title, a marked row, digits, paging.
//! The screen keeps the entries, its place and the commands of its own.

use ratatui::buffer::Buffer;
use ratatui::layout::Rect;

use super::Desk;
use super::Step;
use super::text::{margin, under_title};
use crate::keys::{Chord, Key};
use crate::present::Line;
use crate::role::Role;
use crate::tui::command::Id;
use crate::tui::widget::{Row, Rows, put, row};

/// Under this width rows are folded.
pub(super) const NARROW: usize = 60;
const USUAL: usize = 80;
/// Columns before a row: the mark and the digit.
const LEAD: usize = 3;

/// What became of a command.
pub(super) enum Taken {
    /// It was one of the list's own.
    Done(Step),
    /// It is the screen's to run, on the marked entry.
    Yours(Id),
}

/// A titled list.
pub(super) struct Listing {
    pub title: Line,
    /// Said when there is no entry.
    pub none: String,
    rows: Rows,
    /// Columns as last drawn.
    width: usize,
}

impl Listing {
    pub fn new(title: Line, none: impl Into<String>) -> Self {
        Listing {
            title,
            none: none.into(),
            rows: Rows::default(),
            width: USUAL,
        }
    }

    /// Number of the marked entry.
    pub fn marked(&self) -> usize {
        self.rows.marked
    }

    /// Marks the first entry.
    pub fn mark_first(&mut self) {
        self.rows.marked = 0;
    }

    /// Keeps the mark on an entry when there are fewer of them than before.
    pub fn keep_within(&mut self, entries: usize) {
        self.rows.marked = self.rows.marked.min(entries.saturating_sub(1));
    }

    /// Takes the commands that every list has. A digit marks its row and
    /// stands for opening it.
    pub fn take(&mut self, id: Id, chord: Chord, rows: &[Row]) -> Taken {
        let entries = rows.iter().filter(|r| matches!(r, Row::Entry(_))).count();
        match id {
            Id::Back => return Taken::Done(Step::Close),
            Id::FindAnew => return Taken::Done(Step::FindAnew),
            Id::Next => self.rows.next(entries),
            Id::Previous => self.rows.previous(),
            Id::HalfDown => self.rows.half_down(entries),
            Id::HalfUp => self.rows.half_up(),
            Id::Top => self.rows.marked = 0,
            Id::End => self.rows.to_end(entries),
            Id::Pick => {
                let digit = digit(chord).unwrap_or(0);
                let Some(entry) = self.rows.by_digit(rows, digit) else {
                    return Taken::Done(Step::Say(format!("no row has the digit {digit}")));
                };
                self.rows.marked = entry;
                return Taken::Yours(Id::Open);
            }
            other if entries == 0 => {
                let _ = other;
                return Taken::Done(Step::Say("the list is empty".to_string()));
            }
            other => return Taken::Yours(other),
        }
        Taken::Done(Step::Stay)
    }

    /// Columns as last drawn.
    pub fn columns(&self) -> usize {
        self.width
    }

    /// The rows of one entry as the list was last drawn.
    pub fn entry(&self, line: Line) -> Vec<Row> {
        entry(line, self.width)
    }

    /// Draws title and rows, or what is said when there are none. The rows are
    /// made after the width is known.
    pub fn draw(
        &mut self,
        buffer: &mut Buffer,
        area: Rect,
        desk: &Desk,
        rows: impl FnOnce(&Self) -> Vec<Row>,
    ) {
        put(buffer, row(area, 0), &margin(&self.title), desk.look);
        let body = under_title(area);
        self.width = usize::from(body.width);
        let rows = rows(self);
        if !rows.iter().any(|r| matches!(r, Row::Entry(_))) {
            let width = usize::from(body.width.saturating_sub(1));
            let lines = Line::of(Role::Plain, &self.none).folded(width, 0);
            for (y, line) in (0..).zip(lines) {
                put(buffer, row(body, y), &margin(&line), desk.look);
            }
            return;
        }
        self.rows.draw(buffer, body, &rows, true, desk.look);
    }
}

/// A row of a list; on a narrow screen it is folded, since what it says takes
/// most of it.
pub(super) fn entry(line: Line, width: usize) -> Vec<Row> {
    if width >= NARROW {
        return vec![Row::Entry(line)];
    }
    let mut lines = line.folded(width.saturating_sub(LEAD), 2).into_iter();
    let first = lines.next().map(Row::Entry);
    let rest = lines.map(|l| {
        let mut behind = Line::of(Role::Plain, " ".repeat(LEAD));
        behind.pieces.extend(l.pieces);
        Row::Heading(behind)
    });
    first.into_iter().chain(rest).collect()
}

/// The digit of a chord, 1 to 9.
pub(super) fn digit(chord: Chord) -> Option<usize> {
    match chord.key {
        Key::Char(c) => c.to_digit(10).map(|d| d as usize),
        _ => None,
    }
}
