//! The list of commands, to be run from the list or by their letter.

use ratatui::buffer::Buffer;
use ratatui::layout::{Position, Rect};

use super::text::under_title;
use super::{Desk, Screen, Step};
use crate::keys::Chord;
use crate::present::Line;
use crate::role::Role;
use crate::tui::command::{About, Applies, Command, Id, Place, of};
use crate::tui::widget::{Row, Rows, put, row};

/// The commands of the screen below.
pub struct Commands {
    below: Place,
    about: About,
    rows: Rows,
}

impl Commands {
    #[must_use]
    pub fn over(below: Place, about: About) -> Self {
        Commands {
            below,
            about,
            rows: Rows::default(),
        }
    }

    /// Those of the screen below that are not mere typing and moving, the
    /// ones that apply first.
    fn listed(&self) -> Vec<&'static Command> {
        let moving = [
            Id::Enter,
            Id::Open,
            Id::Pick,
            Id::Next,
            Id::Previous,
            Id::HalfDown,
            Id::HalfUp,
            Id::Top,
            Id::End,
            Id::Erase,
            Id::Keep,
            Id::Compare,
            Id::FieldDigit,
            Id::Commands,
        ];
        let mut out: Vec<&Command> = of(self.below)
            .filter(|c| !moving.contains(&c.id))
            .filter(|c| !(self.below.types() && c.id == Id::Back))
            .collect();
        out.sort_by_key(|c| (c.applies)(&self.about) != Applies::Yes);
        out
    }

    fn entry(&self, command: &Command) -> Row {
        // A letter runs it from here, also where the screen below takes letters as text.
        let key = command.keys.first().copied().unwrap_or_default();
        let mut line = Line::of(Role::Plain, format!("{:<16}", command.name));
        line.push(Role::Key, format!("{key:<10}"));
        match (command.applies)(&self.about) {
            Applies::Yes => line.push(Role::Plain, command.sentence),
            Applies::No(why) => line.push(Role::Muted, format!("not now: {why}")),
        }
        Row::Entry(line)
    }
}

impl Screen for Commands {
    fn place(&self) -> Place {
        Place::Commands
    }

    fn about(&self) -> About {
        About {
            rows: self.listed().len(),
            ..self.about
        }
    }

    fn run(&mut self, id: Id, _chord: Chord, _desk: &Desk) -> Step {
        let listed = self.listed();
        match id {
            Id::Open => {
                if let Some(command) = listed.get(self.rows.marked) {
                    return Step::CloseAndRun(command.id);
                }
            }
            Id::Back => return Step::Close,
            Id::Next => self.rows.next(listed.len()),
            Id::Previous => self.rows.previous(),
            Id::HalfDown => self.rows.half_down(listed.len()),
            Id::HalfUp => self.rows.half_up(),
            Id::Top => self.rows.marked = 0,
            Id::End => self.rows.to_end(listed.len()),
            // A letter of the screen below.
            other => return Step::CloseAndRun(other),
        }
        Step::Stay
    }

    fn draw(&mut self, buffer: &mut Buffer, area: Rect, desk: &Desk) -> Option<Position> {
        let title = Line::of(Role::Plain, " ")
            .with(Role::Heading, "commands")
            .with(Role::Plain, format!(" for {}", self.below.name()));
        put(buffer, row(area, 0), &title, desk.look);
        let rows: Vec<Row> = self.listed().into_iter().map(|c| self.entry(c)).collect();
        self.rows
            .draw(buffer, under_title(area), &rows, false, desk.look);
        None
    }
}
