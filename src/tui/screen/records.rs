//! A list of records: near neighbours, or what hangs on and at a record.

use ratatui::buffer::Buffer;
use ratatui::layout::{Position, Rect};

use super::text::{margin, under_title};
use super::{Desk, Screen, Step, about_record, record_at};
use crate::keys::{Chord, Key};
use crate::present::{
    Line,
    find::{column, match_row},
};
use crate::role::Role;
use crate::store::Stored;
use crate::tui::command::{About, Id, Place};
use crate::tui::widget::{Row, Rows, put, row};
use crate::work::Failure;
use crate::work::find::{Match, neighbours_of};
use crate::work::related::related;

/// Under this width rows are folded.
pub(super) const NARROW: usize = 60;
const USUAL: usize = 80;
/// Columns before a row: the mark and the digit.
const LEAD: usize = 3;

/// Records with a title.
pub struct Records {
    title: Line,
    none: &'static str,
    matches: Vec<Match>,
    rows: Rows,
    /// Columns as last drawn.
    width: usize,
}

impl Records {
    /// The records whose names are one mistake away from this one's.
    ///
    /// # Errors
    /// Those of the register.
    pub fn neighbours(record: &Stored, desk: &Desk) -> Result<Self, Failure> {
        let name = record.record.name();
        let mut matches = neighbours_of(desk.store, &name)?;
        matches.retain(|m| m.rec != record.rec);
        Ok(Records {
            title: Line::of(Role::Heading, "one mistake away from ").with(Role::Code, name),
            none: "No other number in the register is one mistake away.",
            matches,
            rows: Rows::default(),
            width: USUAL,
        })
    }

    /// What hangs on a record, where it hangs, and the units at it.
    ///
    /// # Errors
    /// Those of the register.
    pub fn related(record: &Stored, desk: &Desk) -> Result<Self, Failure> {
        let name = record.record.name();
        Ok(Records {
            title: Line::of(Role::Heading, "on and at ").with(Role::Code, name),
            none: "Nothing is recorded on or at it.",
            matches: related(desk.store, record)?,
            rows: Rows::default(),
            width: USUAL,
        })
    }

    fn list(&self) -> Vec<Row> {
        let column = column(&self.matches);
        self.matches
            .iter()
            .flat_map(|m| entry(list_row(m, column), self.width))
            .collect()
    }
}

/// A row of a list; on a narrow screen it is folded, since the mistake in
/// words takes most of it.
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

/// A match as a row of a list: the name is plain, so that the marked row can
/// be told from the others by its weight.
pub(super) fn list_row(m: &Match, column: usize) -> Line {
    let bare = Match {
        because: None,
        ..m.clone()
    };
    let mut pieces = match_row(&bare, column).pieces;
    if let Some(because) = &m.because {
        // The reason comes before what a narrow list cuts off.
        pieces.insert(
            2,
            Line::of(Role::Plain, format!("({because}) "))
                .pieces
                .remove(0),
        );
    }
    for piece in &mut pieces {
        if matches!(piece.role, Role::Code | Role::Label | Role::Muted) {
            piece.role = Role::Plain;
        }
    }
    Line { pieces }
}

/// The digit of a chord, 1 to 9.
pub(super) fn digit(chord: Chord) -> Option<usize> {
    match chord.key {
        Key::Char(c) => c.to_digit(10).map(|d| d as usize),
        _ => None,
    }
}

impl Screen for Records {
    fn place(&self) -> Place {
        Place::Rows
    }

    fn about(&self) -> About {
        About {
            kind: self.matches.get(self.rows.marked).map(|m| m.kind),
            rows: self.matches.len(),
            ..About::default()
        }
    }

    fn run(&mut self, id: Id, chord: Chord, desk: &Desk) -> Step {
        match id {
            Id::Back => return Step::Close,
            Id::FindAnew => return Step::FindAnew,
            Id::Next => self.rows.next(self.matches.len()),
            Id::Previous => self.rows.previous(),
            Id::HalfDown => self.rows.half_down(self.matches.len()),
            Id::HalfUp => self.rows.half_up(),
            Id::Top => self.rows.marked = 0,
            Id::End => self.rows.to_end(self.matches.len()),
            other => {
                if other == Id::Pick {
                    let digit = digit(chord).unwrap_or(0);
                    match self.rows.by_digit(&self.list(), digit) {
                        Some(entry) => self.rows.marked = entry,
                        None => return Step::Say(format!("no row has the digit {digit}")),
                    }
                }
                let id = if other == Id::Pick { Id::Open } else { other };
                let Some(m) = self.matches.get(self.rows.marked) else {
                    return Step::Say("the list is empty".to_string());
                };
                return match record_at(m.rec, desk) {
                    Ok(record) => about_record(id, &record, desk),
                    Err(failure) => failure.into(),
                };
            }
        }
        Step::Stay
    }

    fn draw(&mut self, buffer: &mut Buffer, area: Rect, desk: &Desk) -> Option<Position> {
        put(buffer, row(area, 0), &margin(&self.title), desk.look);
        let body = under_title(area);
        if self.matches.is_empty() {
            let width = usize::from(body.width.saturating_sub(1));
            for (y, line) in (0..).zip(Line::of(Role::Plain, self.none).folded(width, 0)) {
                put(buffer, row(body, y), &margin(&line), desk.look);
            }
        }
        self.width = usize::from(body.width);
        let rows = self.list();
        self.rows.draw(buffer, body, &rows, true, desk.look);
        None
    }
}
