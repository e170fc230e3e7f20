//! How questions are drawn: one row each, and below them what the marked one
//! takes. Below 60 columns the last reading stands where the answer will.

use ratatui::buffer::Buffer;
use ratatui::layout::{Position, Rect};

use super::{Mark, Question, Questions, Takes};
use crate::present::Line;
use crate::role::Role;
use crate::tui::screen::Desk;
use crate::tui::screen::text::margin;
use crate::tui::widget::{put, row};

/// Under this width there is no column for what was there before.
const NARROW: u16 = 60;
/// Columns before the label: the mark and the letter.
const LEAD: usize = 4;
/// Columns of the mark that an answer is saved.
const SAVED: usize = 8;

/// The columns of a row.
struct Columns {
    label: usize,
    answer: usize,
    /// None on a narrow screen.
    before: Option<usize>,
}

impl Columns {
    fn of(width: u16) -> Self {
        let all = usize::from(width);
        if width < NARROW {
            let label = (all * 3 / 10).min(20);
            return Columns {
                label,
                answer: all.saturating_sub(LEAD + label + 1 + SAVED),
                before: None,
            };
        }
        let label = (all * 3 / 10).min(34);
        let answer = (all * 23 / 100).min(40);
        Columns {
            label,
            answer,
            before: Some(all.saturating_sub(LEAD + label + answer + SAVED + 2)),
        }
    }
}

impl Questions {
    /// Draws the questions into `area`; returns where the caret is.
    pub(in crate::tui::screen) fn draw(
        &mut self,
        buffer: &mut Buffer,
        area: Rect,
        desk: &Desk,
    ) -> Option<Position> {
        let below = match area.height {
            0..=9 => 3,
            10..=16 => 4,
            _ => 5,
        };
        let rows = area.height.saturating_sub(below);
        self.follow(usize::from(rows));
        let columns = Columns::of(area.width);
        let mut caret = None;
        for (y, at) in (0..rows).zip(self.top..self.list.len()) {
            let place = row(area, y);
            let line = self.row(at, &columns, desk.look.cut());
            put(buffer, place, &line, desk.look);
            if at == self.marked
                && let Some(field) = &self.field
            {
                let typed = Line::of(Role::Plain, field.text())
                    .width()
                    .min(columns.answer);
                let x = LEAD + columns.label + 1 + typed;
                let x = u16::try_from(x)
                    .unwrap_or(0)
                    .min(area.width.saturating_sub(1));
                caret = Some(Position::new(area.x + x, place.y));
            }
        }
        let width = usize::from(area.width.saturating_sub(2));
        let most = usize::from(below.saturating_sub(1));
        let lines = self.below(width, &columns, most);
        for (y, line) in (rows + 1..area.height).zip(&lines) {
            put(buffer, row(area, y), &margin(line), desk.look);
        }
        caret
    }

    fn follow(&mut self, height: usize) {
        self.height = height;
        let jump = (height / 2).max(1);
        while self.marked < self.top {
            self.top = self.top.saturating_sub(jump);
        }
        while self.marked >= self.top + height.max(1) {
            self.top += jump;
        }
    }

    fn row(&self, at: usize, columns: &Columns, cut: &str) -> Line {
        let q = &self.list[at];
        let marked = at == self.marked;
        let letter = q.letter.map_or(" ".to_string(), |l| l.to_string());
        let label = if marked { Role::Code } else { Role::Plain };
        let mut line = Line::of(Role::Code, if marked { "> " } else { "  " })
            .with(Role::Key, format!("{letter} "));
        cell(&mut line, label, &q.label, columns.label, cut);
        line.push(Role::Plain, " ");
        if marked && let Some(field) = &self.field {
            let tail = tail_of(field.text(), columns.answer, cut);
            line.push(Role::Value, tail);
            return line;
        }
        match (&q.answer, columns.before) {
            (Some(answer), _) => cell(&mut line, Role::Value, answer, columns.answer, cut),
            (None, Some(room)) if self.lead.is_empty() => {
                // What is on record is no answer here: nothing is asked of it.
                let room = columns.answer + SAVED + room + 1;
                cell(&mut line, Role::Plain, &q.before, room, cut);
                return line;
            }
            (None, Some(_)) => cell(&mut line, Role::Plain, "", columns.answer, cut),
            (None, None) => {
                // Where the answer will stand; "was" keeps it from being taken for one.
                let room = columns.answer + SAVED;
                let was = self.was_within(q, room);
                cell(&mut line, Role::Muted, &was, room, cut);
                return line;
            }
        }
        line.push(Role::Plain, " ");
        match q.mark {
            Mark::Saved => cell(&mut line, Role::Within, "saved", SAVED - 1, cut),
            Mark::NotSaved => cell(&mut line, Role::Fails, "UNSAVED", SAVED - 1, cut),
            Mark::None => cell(&mut line, Role::Plain, "", SAVED - 1, cut),
        }
        if let Some(room) = columns.before {
            line.push(Role::Plain, " ");
            let was = self.was(q);
            line.pieces
                .extend(Line::of(Role::Muted, was).cut(room, cut).pieces);
        }
        line
    }

    fn was(&self, q: &Question) -> String {
        if q.before.is_empty() {
            String::new()
        } else {
            format!("{}{}", self.lead, q.before)
        }
    }

    /// The same in brackets, where it fits only so.
    fn was_within(&self, q: &Question, room: usize) -> String {
        let was = self.was(q);
        if Line::of(Role::Plain, &was).width() <= room || self.lead.is_empty() {
            return was;
        }
        format!("({})", q.before)
    }

    /// What the marked question takes, and what is known of it, on at most so
    /// many lines.
    fn below(&self, width: usize, columns: &Columns, most: usize) -> Vec<Line> {
        let Some(q) = self.marked() else {
            return Vec::new();
        };
        let mut first = Line::new();
        if Line::of(Role::Plain, &q.label).width() > columns.label {
            first.push(Role::Label, format!("{}: ", q.label));
        }
        match &q.takes {
            Takes::Choice(words) if words.len() <= 9 => {
                for (i, word) in words.iter().enumerate() {
                    first.push(Role::Key, (i + 1).to_string());
                    first.push(Role::Plain, format!(" {word}  "));
                }
                if q.may_be_unknown {
                    first.push(Role::Key, "0");
                    first.push(Role::Plain, " unknown");
                }
            }
            _ => {
                if !self.typing() {
                    for (letter, word) in ('a'..='z').zip(&q.suggested) {
                        first.push(Role::Key, letter.to_string());
                        first.push(Role::Plain, format!(" {word}  "));
                    }
                }
                first.push(Role::Plain, &q.allowed);
                if q.may_be_unknown && self.typing() {
                    first.push(Role::Plain, "; ");
                    first.push(Role::Key, "u");
                    first.push(Role::Plain, " for unknown");
                }
            }
        }
        let mut out = first.folded(width, 2);
        // What its column cuts shows whole here.
        let long = |a: &&String| Line::of(Role::Plain, a).width() > columns.answer;
        if let Some(answer) = q.answer.as_ref().filter(long) {
            out.extend(Line::of(Role::Value, answer).folded(width, 2));
        }
        let about: Vec<String> = std::iter::once(self.was(q))
            .chain(q.more.iter().cloned())
            .filter(|t| !t.is_empty())
            .collect();
        for text in about {
            out.extend(Line::of(Role::Muted, text).folded(width, 2));
        }
        out.truncate(most);
        out
    }
}

/// Text cut or filled to so many columns.
fn cell(line: &mut Line, role: Role, text: &str, room: usize, cut: &str) {
    let mut piece = Line::of(role, text).cut(room, cut);
    let fill = room.saturating_sub(piece.width());
    line.pieces.append(&mut piece.pieces);
    line.push(Role::Plain, " ".repeat(fill));
}

/// The end of a text that is longer than its room.
fn tail_of(text: &str, room: usize, cut: &str) -> String {
    let long = text.chars().count();
    if long < room {
        return text.to_string();
    }
    let kept = room.saturating_sub(cut.chars().count() + 1);
    let end: String = text.chars().skip(long.saturating_sub(kept)).collect();
    format!("{cut}{end}")
}
