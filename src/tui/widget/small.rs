//! What stands in place of the screens in a window too small for them.

use ratatui::buffer::Buffer;
use ratatui::layout::Rect;

use super::{Look, put, row};
use crate::present::Line;
use crate::role::Role;
use crate::tui::theme::Theme;

/// Columns and rows under which a sentence stands in place of the screens.
pub const LEAST: (u16, u16) = (40, 12);

/// The fullest of these that fits: a tiny window still says what is wrong.
pub fn too_small(buffer: &mut Buffer, area: Rect) {
    let (columns, rows) = LEAST;
    let texts = [
        format!(
            "Polecard needs {columns} columns and {rows} rows; this window has {} and {}. Make it larger, or use polecard find and show.",
            area.width, area.height
        ),
        format!("Polecard needs {columns} columns and {rows} rows. Make the window larger."),
        format!("Polecard needs {columns} by {rows}."),
    ];
    let look = Look {
        theme: Theme { colour: false },
        ascii: true,
    };
    let folded = |text: &String| Line::of(Role::Plain, text).folded(usize::from(area.width), 0);
    let fits = |lines: &Vec<Line>| lines.len() <= usize::from(area.height);
    let lines = texts
        .iter()
        .map(folded)
        .find(fits)
        .unwrap_or_else(|| folded(&texts[2]));
    for (y, line) in (0..area.height).zip(&lines) {
        put(buffer, row(area, y), line, look);
    }
}
