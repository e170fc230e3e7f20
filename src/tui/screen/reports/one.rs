//! One report beside the record as it is now.

use ratatui::buffer::Buffer;
use ratatui::layout::{Position, Rect};

use super::super::text::{inset, note, read_at};
use super::super::{Desk, Screen, Step, one_line};
use super::act::Acting;
use crate::keys::Chord;
use crate::present::reports::show_lines;
use crate::present::{Line, Style};
use crate::role::Role;
use crate::tui::command::{About, Id, Place};
use crate::tui::widget::Scroll;
use crate::work::Failure;
use crate::work::reports::{self as work, ShowReport};

/// One report, and its neighbours in the list.
pub struct One {
    report: ShowReport,
    numbers: Vec<i64>,
    at: usize,
    acting: Acting,
    scroll: Scroll,
    read_at: String,
    stale: bool,
}

impl One {
    pub(super) fn of(
        no: i64,
        numbers: Vec<i64>,
        acting: Acting,
        desk: &Desk,
    ) -> Result<Self, Failure> {
        Ok(One {
            report: shown(no, desk)?,
            at: numbers.iter().position(|n| *n == no).unwrap_or(0),
            numbers,
            acting,
            scroll: Scroll::default(),
            read_at: read_at(desk),
            stale: false,
        })
    }

    /// Goes to another report of the list.
    fn go(&mut self, at: usize, desk: &Desk) -> Step {
        let Some(no) = self.numbers.get(at) else {
            return Step::Say("this is the last one of the list".into());
        };
        match shown(*no, desk) {
            Ok(report) => {
                self.report = report;
                self.at = at;
                self.scroll.to_top();
                Step::Stay
            }
            Err(failure) => failure.into(),
        }
    }

    fn again(&mut self, desk: &Desk) -> Option<String> {
        if !std::mem::take(&mut self.stale) {
            return None;
        }
        match shown(self.report.report.no, desk) {
            Ok(report) => {
                self.report = report;
                self.read_at = read_at(desk);
                None
            }
            Err(failure) => Some(one_line(&failure)),
        }
    }
}

fn shown(no: i64, desk: &Desk) -> Result<ShowReport, Failure> {
    let file = work::open(desk.store)?;
    work::show(desk.store, file.as_ref(), &no.to_string())
}

impl Screen for One {
    fn place(&self) -> Place {
        Place::Reports
    }

    fn about(&self) -> About {
        About {
            kind: self.report.report.about.as_ref().map(|a| a.kind),
            rows: self.numbers.len(),
            ..About::default()
        }
    }

    fn run(&mut self, id: Id, _chord: Chord, desk: &Desk) -> Step {
        match id {
            Id::Back => return Step::Close,
            Id::FindAnew => return Step::FindAnew,
            Id::Next => return self.go(self.at + 1, desk),
            Id::Previous => return self.go(self.at.saturating_sub(1), desk),
            Id::HalfDown => self.scroll.down(),
            Id::HalfUp => self.scroll.up(),
            Id::Top => self.scroll.to_top(),
            Id::End => self.scroll.to_end(),
            Id::Pick => {
                return Step::Say("j and p go to the next report and the one before".into());
            }
            Id::ReportsDecided => return Step::Say("go back to the list for that".into()),
            Id::ReportAcceptAlike => {
                return Step::Say("go back to the list to accept all that are alike".into());
            }
            Id::Open => {
                return self
                    .acting
                    .about(Id::ReportRecord, &self.report.report, desk);
            }
            id => {
                let step = self.acting.about(id, &self.report.report, desk);
                self.stale = true;
                return step;
            }
        }
        Step::Stay
    }

    fn settle(&mut self, desk: &Desk) {
        self.again(desk);
    }

    fn work(&mut self, desk: &Desk, _stop: &dyn Fn() -> bool) -> bool {
        let stale = self.stale;
        self.again(desk);
        stale
    }

    fn register_changed(&mut self, _desk: &Desk) -> bool {
        self.stale = true;
        true
    }

    fn uncovered(&mut self) {
        self.stale = true;
    }

    fn note(&self) -> Line {
        let place = format!("{} of {}", self.at + 1, self.numbers.len());
        let mut line = Line::of(Role::Muted, format!("{place}, "));
        line.pieces.extend(note(&self.read_at, self.scroll).pieces);
        line
    }

    fn draw(&mut self, buffer: &mut Buffer, area: Rect, desk: &Desk) -> Option<Position> {
        let style = Style {
            width: usize::from(area.width.saturating_sub(2)),
            ascii: desk.look.ascii,
        };
        let lines = inset(show_lines(&self.report, style));
        self.scroll.draw(buffer, area, &lines, desk.look);
        None
    }
}
