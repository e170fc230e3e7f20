//! Text that can be longer than its area, moved by half pages.

use ratatui::buffer::Buffer;
use ratatui::layout::Rect;

use super::{Look, put, row};
use crate::present::Line;

/// Columns of text that a screen opens with where width is scarce.
const OPENING: usize = 640;
/// Fewer lines than these are not worth holding back.
const WORTH: usize = 5;

/// Where a text stands in its area.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct Scroll {
    top: usize,
    height: usize,
    length: usize,
    /// Moved since it was opened.
    moved: bool,
}

impl Scroll {
    fn last_top(self) -> usize {
        self.length.saturating_sub(self.height)
    }

    fn half(self) -> usize {
        (self.height / 2).max(1)
    }

    /// Half a page down, at most to the end.
    pub fn down(&mut self) {
        self.moved = true;
        self.top = (self.top + self.half()).min(self.last_top());
    }

    /// Half a page up.
    pub fn up(&mut self) {
        self.moved = true;
        self.top = self.top.saturating_sub(self.half());
    }

    pub fn to_top(&mut self) {
        self.moved = true;
        self.top = 0;
    }

    pub fn to_end(&mut self) {
        self.moved = true;
        self.top = self.last_top();
    }

    /// Where in the text one is, when there is more than fits.
    #[must_use]
    pub fn note(self) -> Option<String> {
        (self.length > self.height).then(|| {
            let end = (self.top + self.height).min(self.length);
            format!("{}-{end} of {}", self.top + 1, self.length)
        })
    }

    /// Draws the part of `lines` that fits.
    pub fn draw(&mut self, buffer: &mut Buffer, area: Rect, lines: &[Line], look: Look) {
        self.height = usize::from(area.height);
        self.length = lines.len();
        self.top = self.top.min(self.last_top());
        self.put(buffer, area, lines, look);
    }

    /// The same, but when just opened only the first `least` lines and what
    /// follows within [`OPENING`] columns of text: a screenful takes over a
    /// second on a slow link, and who wants more of it has a key for that.
    pub fn draw_opening(
        &mut self,
        buffer: &mut Buffer,
        area: Rect,
        lines: &[Line],
        least: usize,
        look: Look,
    ) {
        if self.moved {
            self.draw(buffer, area, lines, look);
            return;
        }
        let mut taken = 0;
        let within = lines.iter().take_while(|line| {
            taken += line.width();
            taken <= OPENING
        });
        let shown = within.count().max(least);
        if shown + WORTH > usize::from(area.height) {
            self.draw(buffer, area, lines, look);
            return;
        }
        self.length = lines.len();
        self.height = shown;
        self.put(buffer, area, lines.get(..shown).unwrap_or(lines), look);
    }

    fn put(self, buffer: &mut Buffer, area: Rect, lines: &[Line], look: Look) {
        for (y, line) in (0..area.height).zip(lines.iter().skip(self.top)) {
            put(buffer, row(area, y), line, look);
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn moves_by_half_pages_and_stops_at_both_ends() {
        let mut scroll = Scroll {
            top: 0,
            height: 10,
            length: 24,
            moved: false,
        };
        for top in [5, 10, 14, 14] {
            scroll.down();
            assert_eq!(scroll.top, top);
        }
        assert_eq!(scroll.note().as_deref(), Some("15-24 of 24"));
        for top in [9, 4, 0, 0] {
            scroll.up();
            assert_eq!(scroll.top, top);
        }
    }
}
