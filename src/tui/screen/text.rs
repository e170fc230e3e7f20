//! Text to read: verdicts, a trace, the reading of a code.

use ratatui::buffer::Buffer;
use ratatui::layout::{Position, Rect};

use super::{Desk, Screen, Step};
use crate::keys::Chord;
use crate::present::{self, Line, Style};
use crate::role::Role;
use crate::store::Stored;
use crate::tui::command::{Id, Place};
use crate::tui::widget::{Scroll, put, row};
use crate::work::check::CheckReport;
use crate::work::{self, Failure};

/// A report as text for any width.
type Lines = Box<dyn Fn(Style) -> Vec<Line>>;

/// A text with a title that can be scrolled.
pub struct Text {
    place: Place,
    title: Line,
    lines: Lines,
    scroll: Scroll,
    read_at: String,
}

impl Text {
    pub(super) fn new(place: Place, title: Line, read_at: String, lines: Lines) -> Self {
        Text {
            place,
            title,
            lines,
            scroll: Scroll::default(),
            read_at,
        }
    }
}

/// The verdicts of a check, the worst first.
pub(super) fn verdicts(report: CheckReport, desk: &Desk) -> Text {
    let title = Line::of(Role::Heading, "check ").with(Role::Code, &report.name);
    Text::new(
        Place::Text,
        title,
        judged_at(desk),
        Box::new(move |style| present::check::lines(&report, style, present::check::Depth::Full)),
    )
}

/// What feeds it and what it feeds.
pub(super) fn trace(record: &Stored, desk: &Desk) -> Result<Text, Failure> {
    let report = work::trace::trace(desk.store, record.rec, desk.clock)?;
    let title = Line::of(Role::Heading, "trace ").with(Role::Code, record.record.name());
    Ok(Text::new(
        Place::Text,
        title,
        read_at(desk),
        Box::new(move |style| present::trace::lines(&report, style)),
    ))
}

/// What each character of a code means.
pub(super) fn decode(text: &str, desk: &Desk) -> Result<Text, Failure> {
    let report = work::decode::decode(desk.store, text)?;
    let title = Line::of(Role::Heading, "reading of ").with(Role::Code, text);
    Ok(Text::new(
        Place::Text,
        title,
        String::new(),
        Box::new(move |style| present::find::decode_lines(&report, style, true)),
    ))
}

pub(super) fn read_at(desk: &Desk) -> String {
    format!("read at {}", desk.clock.now().hour_minute())
}

fn judged_at(desk: &Desk) -> String {
    format!("judged at {}", desk.clock.now().hour_minute())
}

impl Screen for Text {
    fn place(&self) -> Place {
        self.place
    }

    fn run(&mut self, id: Id, _chord: Chord, _desk: &Desk) -> Step {
        match id {
            Id::Back => return Step::Close,
            Id::FindAnew => return Step::FindAnew,
            Id::HalfDown => self.scroll.down(),
            Id::HalfUp => self.scroll.up(),
            Id::Top => self.scroll.to_top(),
            Id::End => self.scroll.to_end(),
            _ => {}
        }
        Step::Stay
    }

    fn note(&self) -> Line {
        note(&self.read_at, self.scroll)
    }

    fn draw(&mut self, buffer: &mut Buffer, area: Rect, desk: &Desk) -> Option<Position> {
        let title = Line {
            pieces: [Line::of(Role::Plain, " ").pieces, self.title.pieces.clone()].concat(),
        };
        put(buffer, row(area, 0), &title, desk.look);
        let body = under_title(area);
        let lines = (self.lines)(Style {
            width: usize::from(body.width),
            ascii: desk.look.ascii,
        });
        self.scroll.draw(buffer, body, &lines, desk.look);
        None
    }
}

/// When it was read, and where in the text one is.
pub(super) fn note(read_at: &str, scroll: Scroll) -> Line {
    let parts: Vec<String> = [Some(read_at.to_string()), scroll.note()]
        .into_iter()
        .flatten()
        .filter(|p| !p.is_empty())
        .collect();
    Line::of(Role::Muted, parts.join(", "))
}

/// The area of text under a title row, with a margin of one column.
pub(super) fn under_title(area: Rect) -> Rect {
    let skip = if area.height > 16 { 2 } else { 1 };
    Rect::new(
        area.x + 1,
        area.y + skip.min(area.height),
        area.width.saturating_sub(2),
        area.height.saturating_sub(skip),
    )
}
