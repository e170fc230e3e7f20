//! How much the find screen shows, and where.

use ratatui::buffer::Buffer;
use ratatui::layout::{Position, Rect};

use super::Desk;
use crate::present::Line;
use crate::role::Role;
use crate::tui::widget::{put, row};

/// From this width on the preview stands beside the list.
pub(super) const BESIDE: u16 = 100;
/// Under this width the list has the screen to itself.
pub(super) const ONE_AT_A_TIME: u16 = 60;
/// Rows of the preview under the list.
const PREVIEW_ROWS: u16 = 7;
/// What shows while typing: characters before there is a search, and matches
/// at most for their list to show unasked where it has the width to itself. A
/// list that the next key replaces is bytes for nothing.
pub(super) struct Measure {
    pub(super) keys: usize,
    pub(super) rows: u16,
}
const USUAL: Measure = Measure { keys: 2, rows: 8 };
/// On a slow link.
const THIN: Measure = Measure { keys: 3, rows: 5 };
/// Rows of the list on a slow link, at most: those that digits can open.
pub(super) const THIN_ROWS: u16 = 9;

pub(super) const fn measure(desk: &Desk) -> Measure {
    if desk.thin { THIN } else { USUAL }
}

/// The list, and the place of the preview beside or below it.
pub(super) fn divided(area: Rect, has_preview: bool) -> (Rect, Option<Rect>) {
    if !has_preview {
        return (area, None);
    }
    if area.width >= BESIDE {
        let list = area.width * 52 / 100;
        let beside = Rect::new(
            area.x + list + 2,
            area.y,
            area.width - list - 2,
            area.height,
        );
        return (Rect::new(area.x, area.y, list, area.height), Some(beside));
    }
    let preview = PREVIEW_ROWS.min(area.height / 2);
    let list = area.height.saturating_sub(preview + 1);
    let below = Rect::new(area.x, area.y + list + 1, area.width, preview);
    (Rect::new(area.x, area.y, area.width, list), Some(below))
}

pub(super) fn inset(area: Rect) -> Rect {
    Rect::new(
        area.x + 1,
        area.y,
        area.width.saturating_sub(2),
        area.height,
    )
}

pub(super) fn draw_lines(buffer: &mut Buffer, area: Rect, lines: &[Line], desk: &Desk) {
    for (y, line) in (0..area.height).zip(lines) {
        put(buffer, row(area, y), line, desk.look);
    }
}

/// A prompt and what was typed; of a text too long for the line its end.
pub(super) fn prompt_line(prompt: &str, text: &str, width: u16, desk: &Desk) -> Line {
    let lead = Line::of(Role::Heading, prompt);
    let room = usize::from(width).saturating_sub(lead.width() + 1);
    let mut tail = text.to_string();
    let mut cut = false;
    while Line::of(Role::Plain, &tail).width() + usize::from(cut) > room && !tail.is_empty() {
        tail.remove(0);
        cut = true;
    }
    lead.with(Role::Muted, if cut { desk.look.cut() } else { "" })
        .with(Role::Plain, tail)
}

/// The caret behind typed text, when there is room for it.
pub(super) fn caret_after(area: Rect, prompt: &str, text: &str) -> Option<Position> {
    let column = Line::of(Role::Plain, prompt).width() + Line::of(Role::Plain, text).width();
    let column = u16::try_from(column).ok()?.min(area.width.checked_sub(1)?);
    Some(Position::new(area.x + column, area.y))
}
