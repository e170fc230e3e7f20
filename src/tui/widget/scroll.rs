//! Text that can be longer than its area, moved by half pages.

use ratatui::buffer::Buffer;
use ratatui::layout::Rect;

use super::{Look, put, row};
use crate::present::Line;

/// Where a text stands in its area.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct Scroll {
    top: usize,
    height: usize,
    length: usize,
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
        self.top = (self.top + self.half()).min(self.last_top());
    }

    /// Half a page up.
    pub fn up(&mut self) {
        self.top = self.top.saturating_sub(self.half());
    }

    pub fn to_top(&mut self) {
        self.top = 0;
    }

    pub fn to_end(&mut self) {
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
