//! The list of commands, to be run from the list or by their letter.

use ratatui::buffer::Buffer;
use ratatui::layout::{Position, Rect};

use super::text::{inset, under_title};
use super::{Desk, Screen, Step};
use crate::keys::Chord;
use crate::present::Line;
use crate::role::Role;
use crate::tui::command::{About, Applies, Command, Id, Place, letter, of};
use crate::tui::widget::{Row, Rows, put, row};

/// Under this width what a command does stands below the list.
const NARROW: u16 = 70;
/// Columns before a row, and before what a command does.
const LEAD: usize = 3;
const WHAT: usize = 28;
/// Rows for it.
const BELOW: u16 = 3;

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
            Id::ClearLine,
            Id::ClearWord,
            Id::Keep,
            Id::Compare,
            Id::FieldDigit,
            Id::Letter,
            Id::Commands,
        ];
        let mut out: Vec<&Command> = of(self.below)
            .filter(|c| !moving.contains(&c.id))
            .filter(|c| !(self.below.types() && c.id == Id::Back))
            .collect();
        out.sort_by_key(|c| (c.applies)(&self.about) != Applies::Yes);
        out
    }

    /// A command's row; what does not fit beside it continues below.
    fn entry(&self, command: &Command, narrow: bool, width: usize) -> Vec<Row> {
        let mut line = Line::of(Role::Plain, format!("{:<18}", command.name));
        line.push(Role::Key, format!("{:<10}", letter(command.id)));
        if !narrow {
            line.pieces.extend(self.what(command).pieces);
            // The mark and its blanks stand before the first line only.
            let mut lines = line.folded(width.saturating_sub(LEAD), WHAT).into_iter();
            let first = lines.next().map(Row::Entry);
            let rest = lines.map(|l| {
                let mut behind = Line::of(Role::Plain, " ".repeat(LEAD));
                behind.pieces.extend(l.pieces);
                Row::Heading(behind)
            });
            return first.into_iter().chain(rest).collect();
        } else if (command.applies)(&self.about) != Applies::Yes {
            line.push(Role::Muted, "not now");
        }
        vec![Row::Entry(line)]
    }

    /// What it does, or why not now.
    fn what(&self, command: &Command) -> Line {
        match (command.applies)(&self.about) {
            Applies::Yes => Line::of(Role::Plain, command.sentence),
            Applies::No(why) => Line::of(Role::Muted, format!("not now: {why}")),
        }
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
            _ => {}
        }
        Step::Stay
    }

    fn draw(&mut self, buffer: &mut Buffer, area: Rect, desk: &Desk) -> Option<Position> {
        let title = Line::of(Role::Plain, " ")
            .with(Role::Heading, "commands")
            .with(Role::Plain, format!(" for {}", self.below.name()));
        put(buffer, row(area, 0), &title, desk.look);
        let mut body = under_title(area);
        let listed = self.listed();
        let narrow = area.width < NARROW;
        if let (true, Some(marked)) = (narrow, listed.get(self.rows.marked)) {
            // What the marked one does stands below, where there is width for it.
            let width = usize::from(body.width.saturating_sub(2));
            let lines = inset(self.what(marked).folded(width, 0));
            body.height = body.height.saturating_sub(BELOW + 1);
            let below = Rect::new(body.x, body.bottom() + 1, body.width, BELOW);
            for (y, line) in (0..BELOW).zip(&lines) {
                put(buffer, row(below, y), line, desk.look);
            }
        }
        let width = usize::from(body.width);
        let rows: Vec<Row> = listed
            .iter()
            .flat_map(|c| self.entry(c, narrow, width))
            .collect();
        self.rows.draw(buffer, body, &rows, false, desk.look);
        None
    }
}
