//! What is due: of one record, or of the whole register; by a day that can be
//! moved on, of one feeder, of one kind. Under the list stands why.

use ratatui::buffer::Buffer;
use ratatui::layout::{Position, Rect};

use super::listing::{Listing, Taken};
use super::text::{margin, read_at};
use super::{Card, Desk, Screen, Step, one_line, record_at};
use crate::domain::asset::Priority;
use crate::domain::upkeep::interval::What;
use crate::keys::Chord;
use crate::present::Line;
use crate::present::due::{founded, group_of, reason, row_line};
use crate::role::Role;
use crate::store::Stored;
use crate::tui::command::{About, Id, Place};
use crate::tui::widget::{Row, put, row};
use crate::units::figure;
use crate::work::Failure;
use crate::work::due::{Asked, DueReport, Item, Stands, due, due_of_record};
use crate::work::orders::{NewOrder, open_order};

/// Items listed; the counts are of all.
const LISTED: usize = 300;
/// Months ahead, step by step; then back to today.
const AHEAD: &[u32] = &[0, 1, 3, 6, 12, 24, 60];
/// Rows under the list at most, for why the marked item is due.
const WHY: u16 = 6;

/// The list of what is due.
pub struct Due {
    listing: Listing,
    /// The record it is about; the whole register when absent.
    of: Option<Stored>,
    ahead: usize,
    feeder: Option<String>,
    what: Option<What>,
    /// Feeders and kinds that can be stepped through, of the whole list.
    feeders: Vec<String>,
    whats: Vec<What>,
    report: DueReport,
    read_at: String,
}

impl Due {
    /// What is due of one record, or in the whole register.
    ///
    /// # Errors
    /// Those of the register.
    pub fn read(of: Option<Stored>, desk: &Desk) -> Result<Self, Failure> {
        let report = ask(of.as_ref(), desk, 0, None, None)?;
        let mut out = Due {
            listing: Listing::new(Line::new(), ""),
            of,
            ahead: 0,
            feeder: None,
            what: None,
            feeders: Vec::new(),
            whats: Vec::new(),
            read_at: read_at(desk),
            report,
        };
        out.choices();
        out.entitle();
        Ok(out)
    }

    /// Feeders and kinds to step through, while nothing is left out.
    fn choices(&mut self) {
        if self.feeder.is_none() {
            let names = self.report.feeders.iter();
            self.feeders = names.filter_map(|f| f.feeder.clone()).collect();
        }
        if self.what.is_none() {
            self.whats = self.report.whats.iter().map(|(w, _)| *w).collect();
        }
    }

    fn entitle(&mut self) {
        let mut title =
            Line::of(Role::Heading, "due by ").with(Role::Heading, self.report.by.spoken());
        if let Some(of) = &self.of {
            title.push(Role::Plain, ", ");
            title.push(Role::Code, of.record.name());
        }
        if let Some(feeder) = &self.feeder {
            title.push(Role::Plain, format!(", {feeder}"));
        }
        if let Some(what) = self.what {
            title.push(Role::Plain, format!(", {what}"));
        }
        let total = self.report.total;
        let number = |n: usize| figure(f64::from(u32::try_from(n).unwrap_or(u32::MAX)));
        title.push(Role::Plain, format!(": {}", number(total)));
        if total > self.report.due.len() {
            title.push(
                Role::Muted,
                format!(", the first {} listed", number(self.report.due.len())),
            );
        }
        self.listing.title = title;
        self.listing.none =
            "Nothing is due by the intervals in force and what is on record. d looks further ahead."
                .to_string();
    }

    fn again(&mut self, desk: &Desk) -> Step {
        let asked = ask(
            self.of.as_ref(),
            desk,
            AHEAD[self.ahead],
            self.feeder.as_deref(),
            self.what,
        );
        match asked {
            Ok(report) => {
                let keep = Listing::new(Line::new(), "");
                self.report = report;
                self.listing = keep;
                self.choices();
                self.entitle();
                self.read_at = read_at(desk);
                Step::Stay
            }
            Err(failure) => Step::Say(one_line(&failure)),
        }
    }

    fn rows(&self) -> Vec<Row> {
        let mut out = Vec::new();
        let mut group = "";
        for i in &self.report.due {
            if group != group_of(i) {
                group = group_of(i);
                out.push(Row::Heading(Line::of(Role::Heading, format!(" {group}"))));
            }
            out.push(Row::Entry(row_line(i)));
        }
        out
    }

    fn marked(&self) -> Option<&Item> {
        self.report.due.get(self.listing.marked())
    }

    /// Opens a work order for the marked item.
    fn order(&self, desk: &Desk) -> Step {
        let Some(item) = self.marked() else {
            return Step::Say("the list is empty".to_string());
        };
        let today = desk.clock.today();
        let pressing = item.stands != Stands::Due;
        let new = NewOrder {
            of: item.record.clone(),
            need: item.need(),
            priority: if pressing {
                Priority::Soon
            } else {
                Priority::Planned
            },
            due: item.due.filter(|d| *d >= today),
            who: None,
            from_entry: None,
            note: None,
        };
        let now = desk.clock.now();
        match desk.write(|store| open_order(store, &new, desk.who, now)) {
            Ok(report) => {
                let order = &report.order.order;
                Step::Say(match (&report.operation, report.notes.first()) {
                    (Some(_), _) => {
                        format!("order {order} opened: {} of {}", item.what, item.record)
                    }
                    (None, Some(note)) => note.clone(),
                    (None, None) => format!("order {order} is open already"),
                })
            }
            Err(failure) => Step::Say(one_line(&failure)),
        }
    }
}

fn ask(
    of: Option<&Stored>,
    desk: &Desk,
    months: u32,
    feeder: Option<&str>,
    what: Option<What>,
) -> Result<DueReport, Failure> {
    let today = desk.clock.today();
    let asked = Asked {
        by: today.plus_months(months),
        feeder: feeder.map(ToString::to_string),
        what,
        limit: LISTED,
        ..Asked::today(today)
    };
    match of {
        Some(record) => due_of_record(desk.store, record, &asked),
        None => due(desk.store, &asked),
    }
}

/// The choice after this one; none after the last.
fn next<T: PartialEq + Clone>(all: &[T], now: Option<&T>) -> Option<T> {
    let at = now.and_then(|n| all.iter().position(|a| a == n));
    all.get(at.map_or(0, |i| i + 1)).cloned()
}

impl Screen for Due {
    fn place(&self) -> Place {
        Place::Due
    }

    fn about(&self) -> About {
        About {
            kind: self.marked().map(|i| i.kind),
            rows: self.report.due.len(),
            ..About::default()
        }
    }

    fn run(&mut self, id: Id, chord: Chord, desk: &Desk) -> Step {
        match id {
            Id::DueAhead => {
                self.ahead = (self.ahead + 1) % AHEAD.len();
                return self.again(desk);
            }
            Id::DueFeeder if self.of.is_some() => {
                return Step::Say(
                    "this list is of one record; there is no feeder to choose".into(),
                );
            }
            Id::DueFeeder => {
                self.feeder = next(&self.feeders, self.feeder.as_ref());
                return self.again(desk);
            }
            Id::DueKind => {
                self.what = next(&self.whats, self.what.as_ref());
                return self.again(desk);
            }
            Id::DueOrder => return self.order(desk),
            _ => {}
        }
        let rows = self.rows();
        let id = match self.listing.take(id, chord, &rows) {
            Taken::Done(step) => return step,
            Taken::Yours(id) => id,
        };
        let Some(item) = self.marked().filter(|_| id == Id::Open) else {
            return Step::Stay;
        };
        match record_at(item.rec, desk).and_then(|r| Card::read(r.rec, desk)) {
            Ok(card) => Step::Open(Box::new(card)),
            Err(failure) => failure.into(),
        }
    }

    fn note(&self) -> Line {
        Line::of(Role::Muted, &self.read_at)
    }

    fn draw(&mut self, buffer: &mut Buffer, area: Rect, desk: &Desk) -> Option<Position> {
        let why = WHY.min(area.height * 2 / 5);
        let list = Rect::new(area.x, area.y, area.width, area.height - why);
        let rows = self.rows();
        self.listing.draw(buffer, list, desk, |_| rows);
        let item = self.marked()?;
        let width = usize::from(area.width.saturating_sub(2));
        let mut lines = reason(item).folded(width, 2);
        lines.extend(Line::of(Role::Muted, founded(item)).folded(width, 2));
        let below = area.y + list.height - area.y;
        for (y, line) in (below..area.height).zip(lines) {
            put(buffer, row(area, y), &margin(&line), desk.look);
        }
        None
    }
}
