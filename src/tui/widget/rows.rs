//! A list of rows, one of them marked; headings between them.

use ratatui::buffer::Buffer;
use ratatui::layout::Rect;
use ratatui::style::Modifier;

use super::{Look, put, row};
use crate::present::Line;
use crate::role::Role;

/// A line of a list.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Row {
    /// Over the rows that follow; cannot be marked.
    Heading(Line),
    /// The code of the record, padded to the column, and the rest.
    Entry(Line),
}

/// Which entry is marked, and which part of the list shows.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct Rows {
    /// Number of the marked entry, headings not counted.
    pub marked: usize,
    /// First line shown, headings counted.
    top: usize,
    height: usize,
}

impl Rows {
    pub fn next(&mut self, entries: usize) {
        self.marked = (self.marked + 1).min(entries.saturating_sub(1));
    }

    pub fn previous(&mut self) {
        self.marked = self.marked.saturating_sub(1);
    }

    pub fn half_down(&mut self, entries: usize) {
        self.marked = (self.marked + (self.height / 2).max(1)).min(entries.saturating_sub(1));
    }

    pub fn half_up(&mut self) {
        self.marked = self.marked.saturating_sub((self.height / 2).max(1));
    }

    pub fn to_end(&mut self, entries: usize) {
        self.marked = entries.saturating_sub(1);
    }

    /// The entry that shows with a digit, counted from the first one shown.
    #[must_use]
    pub fn by_digit(&self, rows: &[Row], digit: usize) -> Option<usize> {
        let before = entries_in(&rows[..self.top.min(rows.len())]);
        let shown = rows.iter().skip(self.top).take(self.height);
        let visible = shown.filter(|r| matches!(r, Row::Entry(_))).count();
        (1..=visible).contains(&digit).then(|| before + digit - 1)
    }

    /// Moves the window by half pages until the marked line is in it, so that
    /// a long way down costs few repaints.
    fn follow(&mut self, rows: &[Row], height: usize) {
        self.height = height;
        let line = line_of(rows, self.marked);
        let jump = (height / 2).max(1);
        while line < self.top {
            self.top = self.top.saturating_sub(jump);
        }
        while line >= self.top + height.max(1) {
            self.top += jump;
        }
        // The heading right above the first entry shows with it.
        if line == self.top && line == 1 {
            self.top = 0;
        }
    }

    /// Draws the window: `> ` before the marked row, which is bold as well;
    /// digits before the rows when `digits`.
    pub fn draw(
        &mut self,
        buffer: &mut Buffer,
        area: Rect,
        rows: &[Row],
        digits: bool,
        look: Look,
    ) {
        self.follow(rows, usize::from(area.height));
        let mut entry = entries_in(&rows[..self.top.min(rows.len())]);
        let first = entry;
        for (y, line) in (0..area.height).zip(rows.iter().skip(self.top)) {
            let at = row(area, y);
            match line {
                Row::Heading(line) => put(buffer, at, line, look),
                Row::Entry(line) => {
                    let mut lead = Line::new();
                    lead.push(Role::Code, if entry == self.marked { ">" } else { " " });
                    let digit = (digits && entry - first < 9).then(|| entry - first + 1);
                    lead.push(
                        Role::Key,
                        digit.map_or("  ".to_string(), |d| format!("{d} ")),
                    );
                    put(buffer, at, &lead, look);
                    let rest = Rect::new(at.x + 3, at.y, at.width.saturating_sub(3), 1);
                    put(buffer, rest, line, look);
                    if entry == self.marked {
                        embolden(buffer, rest, line);
                    }
                    entry += 1;
                }
            }
        }
    }
}

/// Bold over the first word: enough to be seen, little to send.
fn embolden(buffer: &mut Buffer, area: Rect, line: &Line) {
    let name = line.pieces.first().map_or("", |p| p.text.as_str());
    let width = u16::try_from(Line::of(Role::Plain, name.trim_end()).width()).unwrap_or(u16::MAX);
    let area = Rect::new(area.x, area.y, area.width.min(width), area.height);
    buffer.set_style(
        area,
        ratatui::style::Style::new().add_modifier(Modifier::BOLD),
    );
}

fn entries_in(rows: &[Row]) -> usize {
    rows.iter().filter(|r| matches!(r, Row::Entry(_))).count()
}

fn line_of(rows: &[Row], entry: usize) -> usize {
    rows.iter()
        .enumerate()
        .filter(|(_, r)| matches!(r, Row::Entry(_)))
        .nth(entry)
        .map_or(0, |(i, _)| i)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn rows(n: usize) -> Vec<Row> {
        let mut out = vec![Row::Heading(Line::of(Role::Heading, "some"))];
        out.extend((0..n).map(|i| Row::Entry(Line::of(Role::Plain, format!("r{i}")))));
        out
    }

    #[test]
    fn the_window_jumps_by_half_pages() {
        let rows = rows(30);
        let mut list = Rows::default();
        let mut tops = Vec::new();
        for _ in 0..29 {
            list.follow(&rows, 10);
            tops.push(list.top);
            list.next(30);
        }
        tops.dedup();
        assert_eq!(tops, [0, 5, 10, 15, 20]);
        for _ in 0..40 {
            list.previous();
            list.follow(&rows, 10);
        }
        assert_eq!((list.marked, list.top), (0, 0));
    }

    #[test]
    fn digits_count_the_entries_that_show() {
        let rows = rows(30);
        let mut list = Rows::default();
        list.follow(&rows, 5);
        assert_eq!(list.by_digit(&rows, 1), Some(0));
        assert_eq!(list.by_digit(&rows, 4), Some(3));
        assert_eq!(list.by_digit(&rows, 5), None);
        list.marked = 12;
        list.follow(&rows, 5);
        assert!(list.by_digit(&rows, 1).is_some_and(|e| e > 6 && e <= 12));
    }
}
