//! Floor 6: pieces of screens with state and drawing, and no register.

mod bar;
mod field;
mod rows;
mod scroll;
mod small;

use ratatui::buffer::Buffer;
use ratatui::layout::Rect;
use unicode_segmentation::UnicodeSegmentation;
use unicode_width::UnicodeWidthStr;

use crate::present::Line;
use crate::tui::theme::Theme;

pub use bar::hints;
pub use field::Field;
pub use rows::{Row, Rows};
pub use scroll::Scroll;
pub use small::{LEAST, too_small};

/// How things look here.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Look {
    pub theme: Theme,
    pub ascii: bool,
}

impl Look {
    /// The mark at the end of a line that was cut.
    #[must_use]
    pub const fn cut(self) -> &'static str {
        if self.ascii { "~" } else { "…" }
    }
}

/// Draws one line into the first row of `area`, cut to its width.
pub fn put(buffer: &mut Buffer, area: Rect, line: &Line, look: Look) {
    if area.is_empty() {
        return;
    }
    let mut x = area.x;
    for piece in &line.cut(usize::from(area.width), look.cut()).pieces {
        let style = look.theme.style(piece.role);
        let room = usize::from(area.right().saturating_sub(x));
        if look.ascii {
            (x, _) = buffer.set_stringn(x, area.y, ascii(&piece.text), room, style);
        } else {
            (x, _) = buffer.set_stringn(x, area.y, &piece.text, room, style);
        }
    }
}

/// The nearest ASCII of a text, one character a column, so that no column moves.
#[must_use]
pub fn ascii(text: &str) -> String {
    if text.is_ascii() {
        return text.to_string();
    }
    text.graphemes(true)
        .map(|g| match g {
            g if g.is_ascii() => g.to_string(),
            "…" => "~".to_string(),
            "–" | "—" => "-".to_string(),
            "‘" | "’" => "'".to_string(),
            "“" | "”" => "\"".to_string(),
            "·" => ".".to_string(),
            g => "?".repeat(g.width().max(1)),
        })
        .collect()
}

/// The row of `area` at `y` from its top; empty below its end.
#[must_use]
pub fn row(area: Rect, y: u16) -> Rect {
    if y < area.height {
        Rect::new(area.x, area.y + y, area.width, 1)
    } else {
        Rect::new(area.x, area.bottom(), area.width, 0)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn ascii_keeps_the_columns() {
        for text in ["a – b…", "naïve", "中文 pole"] {
            assert!(ascii(text).is_ascii());
            assert_eq!(ascii(text).width(), text.width(), "{text}");
        }
    }
}
