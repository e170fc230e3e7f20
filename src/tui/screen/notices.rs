//! Hazard notices: what each hits, what it may hit, and who has read it.

use ratatui::buffer::Buffer;
use ratatui::layout::{Position, Rect};

use super::listing::{Listing, Taken};
use super::text::{Text, read_at};
use super::{Desk, Screen, Step};
use crate::domain::asset::Kind;
use crate::keys::Chord;
use crate::present::Line;
use crate::present::orders::{notice_lines, notice_row};
use crate::role::Role;
use crate::tui::command::{About, Id, Place};
use crate::tui::widget::Row;
use crate::work::Failure;
use crate::work::notices::{NoticesReport, notices, read_notice};

/// The list of notices.
pub struct Notices {
    listing: Listing,
    report: NoticesReport,
}

impl Notices {
    /// Every notice.
    ///
    /// # Errors
    /// Those of the register.
    pub fn whole(desk: &Desk) -> Result<Self, Failure> {
        Ok(Notices {
            listing: Listing::new(
                Line::of(Role::Heading, "notices"),
                "No notice is on record.",
            ),
            report: notices(desk.store, None, desk.who, desk.clock.today())?,
        })
    }

    fn refresh(&mut self, desk: &Desk) -> Result<(), Failure> {
        self.report = notices(desk.store, None, desk.who, desk.clock.today())?;
        Ok(())
    }

    fn open(&self, desk: &Desk) -> Step {
        let Some(n) = self.report.notices.get(self.listing.marked()) else {
            return Step::Stay;
        };
        let one = NoticesReport {
            notices: vec![n.clone()],
            ..self.report.clone()
        };
        Step::Open(Box::new(Text::new(
            Place::Text,
            None,
            read_at(desk),
            Box::new(move |style| notice_lines(&one, true, style)),
        )))
    }

    fn read_by_you(&mut self, desk: &Desk) -> Step {
        let Some(n) = self.report.notices.get(self.listing.marked()) else {
            return Step::Stay;
        };
        let (id, now) = (n.id.clone(), desk.clock.now());
        let done = desk
            .write(|store| read_notice(store, &id, desk.who, now))
            .and_then(|report| self.refresh(desk).map(|()| report));
        match done {
            Ok(r) if r.operation.is_some() => {
                Step::Say(format!("notice {} read by {}", r.notice, r.who))
            }
            Ok(r) => Step::Say(format!("you read it on {}", r.on.spoken())),
            Err(failure) => failure.into(),
        }
    }
}

fn rows(report: &NoticesReport, listing: &Listing) -> Vec<Row> {
    report
        .notices
        .iter()
        .flat_map(|n| {
            let mut line = notice_row(n);
            line.pieces[0].role = Role::Plain;
            listing.entry(line)
        })
        .collect()
}

impl Screen for Notices {
    fn place(&self) -> Place {
        Place::Notices
    }

    fn about(&self) -> About {
        About {
            kind: Some(Kind::Notice),
            rows: self.report.notices.len(),
            ..About::default()
        }
    }

    fn run(&mut self, id: Id, chord: Chord, desk: &Desk) -> Step {
        let rows = rows(&self.report, &self.listing);
        match self.listing.take(id, chord, &rows) {
            Taken::Done(step) => step,
            Taken::Yours(Id::Open) => self.open(desk),
            Taken::Yours(Id::ReadNotice) => self.read_by_you(desk),
            Taken::Yours(_) => Step::Stay,
        }
    }

    fn watches(&self) -> bool {
        true
    }

    fn register_changed(&mut self, desk: &Desk) -> bool {
        let before = self.report.clone();
        self.refresh(desk).is_ok() && before != self.report
    }

    fn draw(&mut self, buffer: &mut Buffer, area: Rect, desk: &Desk) -> Option<Position> {
        let report = &self.report;
        self.listing
            .draw(buffer, area, desk, |listing| rows(report, listing));
        None
    }
}
