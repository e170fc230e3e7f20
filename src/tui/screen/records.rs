//! A list of records: near neighbours, or what hangs on and at a record.

use ratatui::buffer::Buffer;
use ratatui::layout::{Position, Rect};

use super::listing::{Listing, Taken};
use super::{Desk, Screen, Step, about_record, record_at};
use crate::keys::Chord;
use crate::present::{
    Line,
    find::{column, match_row},
};
use crate::role::Role;
use crate::store::Stored;
use crate::tui::command::{About, Id, Place};
use crate::tui::widget::Row;
use crate::work::Failure;
use crate::work::find::{Match, neighbours_of};
use crate::work::related::related;

/// Records with a title.
pub struct Records {
    listing: Listing,
    matches: Vec<Match>,
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
            listing: Listing::new(
                Line::of(Role::Heading, "one mistake away from ").with(Role::Code, name),
                "No other number in the register is one mistake away.",
            ),
            matches,
        })
    }

    /// What hangs on a record, where it hangs, and the units at it.
    ///
    /// # Errors
    /// Those of the register.
    pub fn related(record: &Stored, desk: &Desk) -> Result<Self, Failure> {
        let name = record.record.name();
        Ok(Records {
            listing: Listing::new(
                Line::of(Role::Heading, "on and at ").with(Role::Code, name),
                "Nothing is recorded on or at it.",
            ),
            matches: related(desk.store, record)?,
        })
    }
}

fn list(matches: &[Match], listing: &Listing) -> Vec<Row> {
    let column = column(matches);
    matches
        .iter()
        .flat_map(|m| listing.entry(list_row(m, column)))
        .collect()
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

impl Screen for Records {
    fn place(&self) -> Place {
        Place::Rows
    }

    fn about(&self) -> About {
        About {
            kind: self.matches.get(self.listing.marked()).map(|m| m.kind),
            rows: self.matches.len(),
            ..About::default()
        }
    }

    fn run(&mut self, id: Id, chord: Chord, desk: &Desk) -> Step {
        let rows = list(&self.matches, &self.listing);
        let id = match self.listing.take(id, chord, &rows) {
            Taken::Done(step) => return step,
            Taken::Yours(id) => id,
        };
        let Some(m) = self.matches.get(self.listing.marked()) else {
            return Step::Stay;
        };
        match record_at(m.rec, desk) {
            Ok(record) => about_record(id, &record, desk),
            Err(failure) => failure.into(),
        }
    }

    fn draw(&mut self, buffer: &mut Buffer, area: Rect, desk: &Desk) -> Option<Position> {
        let matches = &self.matches;
        self.listing
            .draw(buffer, area, desk, |listing| list(matches, listing));
        None
    }
}
