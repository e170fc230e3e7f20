//! Text to read: verdicts, a trace, the reading of a code.

use ratatui::buffer::Buffer;
use ratatui::layout::{Position, Rect};

use super::{Desk, Screen, Step, about_record};
use crate::keys::Chord;
use crate::present::{self, Line, Style};
use crate::role::Role;
use crate::store::Stored;
use crate::tui::command::{About, Id, Place};
use crate::tui::widget::{Scroll, put, row};
use crate::work::check::CheckReport;
use crate::work::{self, Failure};

/// A report as text for any width.
type Lines = Box<dyn Fn(Style) -> Vec<Line>>;

/// A text with a title that can be scrolled.
pub struct Text {
    place: Place,
    title: Option<Line>,
    lines: Lines,
    scroll: Scroll,
    read_at: String,
    /// What it is about, where commands apply to that.
    record: Option<Stored>,
}

impl Text {
    pub(super) fn new(place: Place, title: Option<Line>, read_at: String, lines: Lines) -> Self {
        Text {
            place,
            title,
            lines,
            scroll: Scroll::default(),
            read_at,
            record: None,
        }
    }
}

/// The verdicts of a check, the worst first.
pub(super) fn verdicts(report: CheckReport, position: &Stored, desk: &Desk) -> Text {
    let text = Text::new(
        Place::Text,
        None,
        judged_at(desk),
        Box::new(move |style| {
            inset(present::check::lines(
                &report,
                style,
                present::check::Depth::Full,
            ))
        }),
    );
    Text {
        record: Some(position.clone()),
        ..text
    }
}

/// What feeds it and what it feeds.
pub(super) fn trace(record: &Stored, desk: &Desk) -> Result<Text, Failure> {
    let report = work::trace::trace(desk.store, record.rec, desk.clock)?;
    Ok(Text::new(
        Place::Text,
        None,
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
        Some(title),
        String::new(),
        Box::new(move |style| inset(present::find::decode_lines(&report, style, true))),
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

    fn about(&self) -> About {
        About {
            kind: self.record.as_ref().map(|r| r.record.kind()),
            ..About::default()
        }
    }

    fn run(&mut self, id: Id, _chord: Chord, desk: &Desk) -> Step {
        match id {
            Id::Times => {
                if let Some(record) = &self.record {
                    return about_record(id, record, desk);
                }
            }
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
        let body = match &self.title {
            Some(title) => {
                put(buffer, row(area, 0), &margin(title), desk.look);
                under_title(area)
            }
            None => area,
        };
        let lines = (self.lines)(Style {
            width: usize::from(body.width.saturating_sub(1)),
            ascii: desk.look.ascii,
        });
        self.scroll.draw(buffer, body, &lines, desk.look);
        None
    }
}

/// A line behind a margin of one column.
pub(super) fn margin(line: &Line) -> Line {
    let mut out = Line::of(Role::Plain, " ");
    out.pieces.extend(line.pieces.iter().cloned());
    out
}

/// Lines behind the margin that cards and traces have of their own.
pub(super) fn inset(lines: Vec<Line>) -> Vec<Line> {
    lines.iter().map(margin).collect()
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

/// The area under a title row.
pub(super) fn under_title(area: Rect) -> Rect {
    let skip = if area.height > 16 { 2 } else { 1 };
    Rect::new(
        area.x,
        area.y + skip.min(area.height),
        area.width,
        area.height.saturating_sub(skip),
    )
}
