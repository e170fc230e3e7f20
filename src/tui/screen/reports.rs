//! Reports from the field: alike ones together, each beside its record; taken
//! in, amended or refused by whoever may write the register.

mod act;
mod ask;
mod one;
mod propose;

use std::collections::HashSet;

use ratatui::buffer::Buffer;
use ratatui::layout::{Position, Rect};

use super::listing::{Listing, Taken};
use super::text::read_at;
use super::{Desk, Screen, Step};
use crate::domain::report::ranges;
use crate::keys::Chord;
use crate::present::Line;
use crate::present::reports::{group_row, group_words, row, row_among};
use crate::role::Role;
use crate::tui::command::{About, Id, Place};
use crate::tui::widget::Row;
use crate::work::Failure;
use crate::work::reports::{self as work, Group, How, ReportLine, Which};

use act::Acting;
pub use one::One;
pub use propose::Propose;

/// A row of the list.
enum Entry {
    Group(Group),
    One(Box<ReportLine>),
}

/// What a list shows.
#[derive(Debug, Clone, PartialEq, Eq)]
enum Showing {
    /// What is to be decided, alike ones together.
    Waiting,
    /// What was decided, the newest first.
    Decided,
    /// The alike ones of one group, whatever becomes of them.
    Group(Vec<i64>, How, String),
}

/// A list of reports.
pub struct Reports {
    showing: Showing,
    listing: Listing,
    entries: Vec<Entry>,
    acting: Acting,
    read_at: String,
    /// Something was decided since it was read.
    stale: bool,
}

impl Reports {
    /// What is to be decided.
    ///
    /// # Errors
    /// Those of the register and of the reports file.
    pub fn waiting(desk: &Desk) -> Result<Self, Failure> {
        Self::of(Showing::Waiting, Acting::default(), desk)
    }

    fn of(showing: Showing, acting: Acting, desk: &Desk) -> Result<Self, Failure> {
        let mut made = Reports {
            showing,
            listing: Listing::new(Line::new(), ""),
            entries: Vec::new(),
            acting,
            read_at: String::new(),
            stale: false,
        };
        made.read(desk)?;
        Ok(made)
    }

    fn read(&mut self, desk: &Desk) -> Result<(), Failure> {
        let which = match &self.showing {
            Showing::Waiting => Which::default(),
            Showing::Decided => Which {
                all: true,
                ..Which::default()
            },
            Showing::Group(numbers, ..) => Which {
                all: true,
                numbers: Some(numbers.clone()),
                ..Which::default()
            },
        };
        let file = work::open(desk.store)?;
        let listed = work::list(desk.store, file.as_ref(), &which)?;
        let mut lines = listed.reports;
        let mut groups = Vec::new();
        match &self.showing {
            Showing::Waiting => groups = listed.groups,
            Showing::Decided => {
                lines.retain(|l| !l.state.is_open());
                lines.sort_by_key(|l| std::cmp::Reverse(l.decision.as_ref().map(|d| d.at)));
            }
            Showing::Group(..) => {}
        }
        let grouped: HashSet<i64> = groups.iter().flat_map(|g| g.reports.clone()).collect();
        lines.retain(|l| !grouped.contains(&l.no));
        let never = file.is_none();
        self.title(&lines, &groups);
        if never {
            self.listing.none =
                "No report was filed yet. z on a card proposes a correction.".to_string();
        }
        self.entries = groups.into_iter().map(Entry::Group).collect();
        let ones = lines.into_iter().map(|l| Entry::One(Box::new(l)));
        self.entries.extend(ones);
        self.listing.keep_within(self.entries.len());
        self.read_at = read_at(desk);
        self.stale = false;
        Ok(())
    }

    fn title(&mut self, lines: &[ReportLine], groups: &[Group]) {
        let (title, none) = match &self.showing {
            Showing::Waiting => {
                let n = lines.len() + groups.iter().map(|g| g.reports.len()).sum::<usize>();
                (
                    format!("reports to decide: {n}"),
                    "No report is waiting. s shows those that were decided.",
                )
            }
            Showing::Decided => (
                format!("reports decided: {}", lines.len()),
                "No report was decided yet. s shows those that wait.",
            ),
            Showing::Group(_, _, what) => (what.clone(), "None is left."),
        };
        self.listing.title = Line::of(Role::Heading, title);
        self.listing.none = none.to_string();
    }

    fn again(&mut self, desk: &Desk) {
        if self.stale
            && let Err(failure) = self.read(desk)
        {
            self.stale = false;
            self.listing.none = super::one_line(&failure);
        }
    }

    /// Numbers of the single reports shown that wait, in order.
    fn open_numbers(&self) -> Vec<i64> {
        self.ones()
            .filter(|l| l.state.is_open())
            .map(|l| l.no)
            .collect()
    }

    fn ones(&self) -> impl Iterator<Item = &ReportLine> {
        self.entries.iter().filter_map(|e| match e {
            Entry::One(line) => Some(line.as_ref()),
            Entry::Group(_) => None,
        })
    }

    fn open_marked(&self, desk: &Desk) -> Step {
        let opened: Result<Box<dyn Screen>, Failure> = match self.entries.get(self.listing.marked())
        {
            None => return Step::Stay,
            Some(Entry::Group(g)) => {
                let what = format!("{} alike: {}", g.reports.len(), group_words(g));
                let showing = Showing::Group(g.reports.clone(), g.how, what);
                Self::of(showing, self.acting.clone(), desk).map(|s| Box::new(s) as _)
            }
            Some(Entry::One(line)) => {
                let numbers: Vec<i64> = self.ones().map(|l| l.no).collect();
                One::of(line.no, numbers, self.acting.clone(), desk).map(|s| Box::new(s) as _)
            }
        };
        match opened {
            Ok(screen) => Step::Open(screen),
            Err(failure) => failure.into(),
        }
    }

    /// Accepts all that are alike to the marked one.
    fn accept_alike(&mut self, desk: &Desk) -> Step {
        let numbers = match (&self.showing, self.entries.get(self.listing.marked())) {
            (Showing::Group(..), _) => self.open_numbers(),
            (_, Some(Entry::Group(g))) if g.how == How::SameChange => g.reports.clone(),
            (_, Some(Entry::Group(_))) => {
                return Step::Say(
                    "their values differ: enter shows each; y there accepts all".into(),
                );
            }
            (_, Some(Entry::One(_))) => {
                return Step::Say("no other report is alike; a accepts this one".into());
            }
            (_, None) => return Step::Stay,
        };
        if numbers.is_empty() {
            return Step::Say("none of these waits any more".into());
        }
        self.acting.accept(numbers, desk)
    }

    fn decide(&mut self, id: Id, desk: &Desk) -> Step {
        match (id, self.entries.get(self.listing.marked())) {
            (_, None) => Step::Stay,
            (Id::ReportRefuse, Some(Entry::Group(g))) => {
                let what = format!("reports {}", ranges(&g.reports));
                self.acting.refuse(g.reports.clone(), &what)
            }
            (_, Some(Entry::Group(_))) => {
                Step::Say("enter shows them one by one; y accepts all of them".into())
            }
            (id, Some(Entry::One(line))) => self.acting.about(id, line, desk),
        }
    }
}

fn rows(entries: &[Entry], showing: &Showing, listing: &Listing) -> Vec<Row> {
    entries
        .iter()
        .flat_map(|e| match (e, showing) {
            (Entry::Group(g), _) => listing.entry(group_row(g)),
            (Entry::One(line), Showing::Group(_, how, _)) => listing.entry(row_among(line, *how)),
            (Entry::One(line), _) => listing.entry(row(line)),
        })
        .collect()
}

impl Screen for Reports {
    fn place(&self) -> Place {
        Place::Reports
    }

    fn about(&self) -> About {
        About {
            rows: self.entries.len(),
            ..About::default()
        }
    }

    fn run(&mut self, id: Id, chord: Chord, desk: &Desk) -> Step {
        // These two work on an empty list as well.
        match id {
            Id::ReportsDecided => {
                self.showing = match self.showing {
                    Showing::Waiting => Showing::Decided,
                    Showing::Decided => Showing::Waiting,
                    Showing::Group(..) => {
                        return Step::Say("go one step back to see those decided".into());
                    }
                };
                self.listing.mark_first();
                self.stale = true;
                self.again(desk);
                return Step::Stay;
            }
            Id::ReportTakeBack if self.entries.is_empty() => {
                self.stale = true;
                return self.acting.take_back(None, desk);
            }
            _ => {}
        }
        let rows = rows(&self.entries, &self.showing, &self.listing);
        match self.listing.take(id, chord, &rows) {
            Taken::Done(step) => step,
            Taken::Yours(Id::Open) => self.open_marked(desk),
            Taken::Yours(Id::ReportAcceptAlike) => {
                self.stale = true;
                self.accept_alike(desk)
            }
            Taken::Yours(id) => {
                self.stale = true;
                self.decide(id, desk)
            }
        }
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
        Line::of(Role::Muted, &self.read_at)
    }

    fn draw(&mut self, buffer: &mut Buffer, area: Rect, desk: &Desk) -> Option<Position> {
        let (entries, showing) = (&self.entries, &self.showing);
        let rows = |listing: &Listing| rows(entries, showing, listing);
        self.listing.draw(buffer, area, desk, rows);
        None
    }
}
