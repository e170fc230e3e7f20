//! What an entry concludes, right after it was written: its cautions, and on
//! one key each what follows from it.

use ratatui::buffer::Buffer;
use ratatui::layout::{Position, Rect};

use super::correct::Correct;
use crate::domain::asset::{Priority, RecordId};
use crate::domain::finding::Severity;
use crate::keys::Chord;
use crate::present::Line;
use crate::present::written::log_lines;
use crate::role::Role;
use crate::store::Stored;
use crate::tui::command::{About, Id, Place};
use crate::tui::screen::text::{inset, note};
use crate::tui::screen::{Desk, Screen, Step, one_line};
use crate::tui::widget::Scroll;
use crate::work::log::LogReport;
use crate::work::orders::{NewOrder, open_order};

/// A correction that the entry calls for: of which record, which field, what.
pub(super) struct Proposed {
    pub of: RecordId,
    pub field: String,
    pub value: String,
    /// In words.
    pub because: String,
}

/// An order that the entry calls for.
struct Order {
    need: String,
    priority: Priority,
    /// What became of it.
    made: Option<String>,
}

/// The screen after an entry was written.
pub struct Concluded {
    of: Stored,
    report: LogReport,
    orders: Vec<Order>,
    correction: Option<Proposed>,
    scroll: Scroll,
    said: Option<String>,
}

impl Concluded {
    pub(super) fn of(of: Stored, report: LogReport, trouble: Option<String>) -> Self {
        let mut orders: Vec<Order> = Vec::new();
        for p in report.concluded.iter().filter_map(|c| c.proposes.as_ref()) {
            if !orders.iter().any(|o| o.need == p.need) {
                orders.push(Order {
                    need: p.need.clone(),
                    priority: p.priority,
                    made: None,
                });
            }
        }
        orders.sort_by_key(|o| o.priority);
        Concluded {
            of,
            report,
            orders,
            correction: None,
            scroll: Scroll::default(),
            said: trouble.map(|t| format!("written, but its draft stays: {t}")),
        }
    }

    #[must_use]
    pub(super) fn proposing(mut self, correction: Option<Proposed>) -> Self {
        self.correction = correction;
        self
    }

    /// STOPs, then what follows on a key, then what was read and the rules.
    fn lines(&self, width: usize) -> Vec<Line> {
        let mut out = Line::of(Role::Heading, "written: ")
            .with(Role::Plain, format!("{} of ", self.report.entry))
            .with(Role::Code, &self.report.of)
            .folded(width, 2);
        let stops = self.report.concluded.iter();
        for c in stops.filter(|c| c.level == Severity::Stop) {
            let line = Line::of(Role::Stop, "STOP ").with(Role::Plain, &c.text);
            out.extend(line.folded(width, 5));
        }
        let next = self.orders.iter().position(|o| o.made.is_none());
        for (i, order) in self.orders.iter().enumerate() {
            let mut line = Line::new();
            match &order.made {
                Some(made) => line.push(Role::Label, format!("  {made}: ")),
                None => {
                    line.push(Role::Key, if next == Some(i) { "o " } else { "  " });
                    line.push(Role::Label, format!("order, {}: ", order.priority));
                }
            }
            out.extend(line.with(Role::Plain, &order.need).folded(width, 4));
        }
        if let Some(c) = &self.correction {
            let line = Line::of(Role::Key, "k ")
                .with(Role::Look, "LOOK ")
                .with(Role::Plain, format!("{}; k corrects it", c.because));
            out.extend(line.folded(width, 4));
        }
        out.push(Line::new());
        out.extend(
            log_lines(&self.report)
                .iter()
                .flat_map(|l| l.folded(width, 2)),
        );
        out
    }

    /// Opens the next of the proposed orders.
    fn make_order(&mut self, desk: &Desk) -> Step {
        let Some(order) = self.orders.iter_mut().find(|o| o.made.is_none()) else {
            return Step::Say("no order is proposed that is not made already".to_string());
        };
        let new = NewOrder {
            of: self.of.record.id().to_string(),
            need: order.need.clone(),
            priority: order.priority,
            due: None,
            who: None,
            from_entry: self.report.id.parse().ok(),
            note: None,
        };
        let now = desk.clock.now();
        match desk.write(|store| open_order(store, &new, desk.who, now)) {
            Ok(report) => {
                let number = &report.order.order;
                order.made = Some(match report.operation {
                    Some(_) => format!("order {number} opened"),
                    None => format!("order {number} is open already"),
                });
                Step::Say(order.made.clone().unwrap_or_default())
            }
            Err(failure) => Step::Say(one_line(&failure)),
        }
    }

    fn correct(&self, desk: &Desk) -> Step {
        let opened = match &self.correction {
            Some(c) => Correct::with(c.of, (&c.field, &c.value), &c.because, desk),
            None => Correct::about(&self.of, desk),
        };
        match opened {
            Ok(screen) => Step::Open(Box::new(screen)),
            Err(failure) => failure.into(),
        }
    }
}

impl Screen for Concluded {
    fn place(&self) -> Place {
        Place::Concluded
    }

    fn about(&self) -> About {
        About {
            kind: Some(self.of.record.kind()),
            rows: self.orders.iter().filter(|o| o.made.is_none()).count(),
            ..About::default()
        }
    }

    fn run(&mut self, id: Id, _chord: Chord, desk: &Desk) -> Step {
        self.said = None;
        match id {
            Id::Back => return Step::Close,
            Id::FindAnew => return Step::FindAnew,
            Id::HalfDown => self.scroll.down(),
            Id::HalfUp => self.scroll.up(),
            Id::Top => self.scroll.to_top(),
            Id::End => self.scroll.to_end(),
            Id::MakeOrder => return self.make_order(desk),
            Id::Correct => return self.correct(desk),
            _ => {}
        }
        Step::Stay
    }

    fn note(&self) -> Line {
        match &self.said {
            Some(said) => Line::of(Role::Look, said),
            None => note("written", self.scroll),
        }
    }

    fn draw(&mut self, buffer: &mut Buffer, area: Rect, desk: &Desk) -> Option<Position> {
        let lines = inset(self.lines(usize::from(area.width.saturating_sub(2))));
        self.scroll.draw(buffer, area, &lines, desk.look);
        None
    }
}
