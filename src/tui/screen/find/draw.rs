//! How the find screen is drawn.

use ratatui::buffer::Buffer;
use ratatui::layout::Rect;

use super::{Find, Focus};
use crate::present::find::{column, heading};
use crate::present::{
    Line, Style,
    card::{preview_beside, preview_in},
};
use crate::role::Role;
use crate::tui::screen::Desk;
use crate::tui::screen::listing::{NARROW, entry};
use crate::tui::screen::measure::{BESIDE, THIN_ROWS, divided, draw_lines, inset};
use crate::tui::screen::records::list_row;
use crate::tui::widget::Row;
use crate::work::find::Match;

impl Find {
    /// The matches with their headings, at a width.
    pub(super) fn list(&self, width: usize) -> Vec<Row> {
        let Some(answers) = &self.answers else {
            return Vec::new();
        };
        let column = column(&answers.matches);
        let mut out = Vec::new();
        let mut before = None;
        for m in &answers.matches {
            if let Some(text) = heading(answers, m.how).filter(|_| before != Some(m.how)) {
                let text = Line::of(Role::Heading, format!(" {text}"));
                out.extend(text.folded(width, 3).into_iter().map(Row::Heading));
            }
            before = Some(m.how);
            let width = if m.is_guess() { width } else { NARROW };
            out.extend(entry(list_row(m, column), width));
        }
        out
    }

    /// The line under the prompt.
    pub(super) fn info(&self, desk: &Desk) -> Line {
        if let Some(failure) = &self.failure {
            return Line::of(Role::Fails, " failed ").with(Role::Plain, failure);
        }
        let Some(answers) = &self.answers else {
            return Line::new();
        };
        let mut line = Line::of(Role::Plain, " ");
        if let Some(read_as) = &answers.read_as {
            line.push(Role::Label, "read as ");
            line.push(Role::Code, read_as);
            line.push(Role::Plain, "  ");
        }
        let count = answers.matches.len();
        let hidden = !self.lists(desk) && count > 0;
        let guesses = answers.matches.iter().all(Match::is_guess);
        if hidden && guesses {
            line.push(Role::Look, "not on record");
            line.push(
                Role::Muted,
                format!("; {count} are like it: enter lists them"),
            );
        } else if hidden && answers.more {
            line.push(
                Role::Muted,
                format!("over {count} match; type more, or a road"),
            );
        } else if hidden {
            line.push(Role::Muted, format!("{count} match; enter lists them"));
        } else if answers.more {
            line.push(Role::Muted, "more match; type more, or a road");
        }
        line
    }

    pub(super) fn draw_opening(&self, buffer: &mut Buffer, area: Rect, desk: &Desk) {
        let mut lines = Line::of(
            Role::Plain,
            "Type a pole number, a device code, a serial or words such as a road: half will do.",
        )
        .folded(usize::from(area.width.saturating_sub(2)).min(60), 0);
        if let Some(greeting) = &self.greeting {
            lines.push(Line::new());
            let width = usize::from(area.width.saturating_sub(2));
            let said = |text: &str| Line::of(Role::Plain, text).folded(width, 0);
            lines.extend(greeting.lines().flat_map(said));
        }
        draw_lines(buffer, inset(area), &lines, desk);
    }

    pub(super) fn draw_nothing_found(&self, buffer: &mut Buffer, area: Rect, desk: &Desk) {
        let width = usize::from(area.width.saturating_sub(2));
        let nothing = format!("Nothing in the register is like {:?}.", self.typed());
        let lines: Vec<Line> = [
            nothing.as_str(),
            "Enter shows how the number can be read. Or try part of it, a road, a class or a feeder.",
        ]
        .iter()
        .flat_map(|t| Line::of(Role::Plain, t).folded(width, 0))
        .collect();
        draw_lines(buffer, inset(area), &lines, desk);
    }

    pub(super) fn draw_answers(&mut self, buffer: &mut Buffer, area: Rect, desk: &Desk) {
        let (mut list, preview) = divided(area, self.has_preview);
        self.list_width = usize::from(list.width);
        let rows = self.list(self.list_width);
        let digits = self.focus == Focus::List;
        if desk.thin {
            list.height = list.height.min(THIN_ROWS);
        }
        self.rows.draw(buffer, list, &rows, digits, desk.look);
        let Some(area) = preview else { return };
        if let (Some((rec, card)), Some(marked)) = (&self.preview, self.marked())
            && *rec == marked.rec
        {
            let style = Style {
                width: usize::from(area.width),
                ascii: desk.look.ascii,
            };
            let height = usize::from(area.height);
            let mut lines = if area.width < BESIDE && list.width == area.width {
                preview_in(card, style, height)
            } else {
                preview_beside(card, style, height)
            };
            if self.say {
                // The radio line takes the place of the last rows, so that no other row moves.
                let say = Line::of(Role::Say, " say   ").with(Role::Plain, &card.say);
                let say = say.folded(style.width, 7);
                lines.truncate(height.saturating_sub(say.len()));
                lines.extend(say);
            }
            draw_lines(buffer, area, &lines, desk);
        }
    }
}
