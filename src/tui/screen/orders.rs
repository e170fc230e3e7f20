//! Work orders: of one record or of the whole utility, what presses most
//! first; each step of an order on one key.

use ratatui::buffer::Buffer;
use ratatui::layout::{Position, Rect};

use super::choice::{Choosing, Chosen};
use super::listing::{Listing, Taken};
use super::text::{Text, inset, read_at};
use super::{Card, Desk, Screen, Step, one_line, record_at};
use crate::calendar::Date;
use crate::domain::asset::Priority;
use crate::keys::Chord;
use crate::present::orders::{order_row, show_lines};
use crate::present::{self, Line};
use crate::role::Role;
use crate::store::Stored;
use crate::tui::command::{About, Id, Place};
use crate::tui::widget::Row;
use crate::work::briefing::briefing_of;
use crate::work::orders::{
    self, Done, Filter, NewOrder, OrderCard, OrderReport, OrdersReport, open_order,
};
use crate::work::{Failure, resolve};

/// Which orders show.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Show {
    Open,
    Mine,
    Overdue,
    All,
}

/// A step that is being typed.
struct Typing {
    step: Id,
    /// The order, or the record of a new one.
    of: String,
    said: String,
    answers: Vec<String>,
    refused: Option<String>,
    choosing: Choosing,
}

/// A list of orders.
pub struct Orders {
    about: Option<Stored>,
    show: Show,
    listing: Listing,
    report: OrdersReport,
    typing: Option<Typing>,
}

impl Orders {
    /// Those on a record, and on what goes with it.
    ///
    /// # Errors
    /// Those of the register.
    pub fn about(record: &Stored, desk: &Desk) -> Result<Self, Failure> {
        Self::read(Some(record.clone()), desk)
    }

    /// Those of the whole utility.
    ///
    /// # Errors
    /// Those of the register.
    pub fn whole(desk: &Desk) -> Result<Self, Failure> {
        Self::read(None, desk)
    }

    fn read(about: Option<Stored>, desk: &Desk) -> Result<Self, Failure> {
        let mut out = Orders {
            about,
            show: Show::Open,
            listing: Listing::new(Line::new(), ""),
            report: orders::list(
                desk.store,
                &Filter {
                    overdue: true,
                    ..Filter::default()
                },
                desk.clock.today(),
            )?,
            typing: None,
        };
        out.refresh(desk)?;
        Ok(out)
    }

    fn refresh(&mut self, desk: &Desk) -> Result<(), Failure> {
        let filter = Filter {
            of: self.about.as_ref().map(|s| s.record.id().to_string()),
            who: (self.show == Show::Mine).then(|| desk.who.to_string()),
            overdue: self.show == Show::Overdue,
            all: self.show == Show::All,
            ..Filter::default()
        };
        self.report = orders::list(desk.store, &filter, desk.clock.today())?;
        let which = match self.show {
            Show::Open => "open",
            Show::Mine => "given to you",
            Show::Overdue => "overdue",
            Show::All => "open and closed",
        };
        let mut title = Line::of(Role::Heading, format!("orders, {which}"));
        if let Some(about) = &self.about {
            title.push(Role::Plain, " on ");
            title.push(Role::Code, about.record.name());
        }
        let count = format!(
            "  {}, {} overdue",
            self.report.orders.len(),
            self.report.overdue
        );
        self.listing.title = title.with(Role::Plain, count);
        self.listing.none = "No such order is on record. n opens one on the record.".to_string();
        Ok(())
    }

    fn marked(&self) -> Option<&OrderCard> {
        self.report.orders.get(self.listing.marked())
    }

    fn filter(&mut self, show: Show, desk: &Desk) -> Step {
        self.show = if self.show == show { Show::Open } else { show };
        match self.refresh(desk) {
            Ok(()) => Step::Stay,
            Err(failure) => failure.into(),
        }
    }

    /// The record of the marked order; the one the list is about if none.
    fn record(&self, desk: &Desk) -> Result<Stored, Failure> {
        match (self.marked(), &self.about) {
            (Some(order), _) => resolve(desk.store, &order.of),
            (None, Some(about)) => record_at(about.rec, desk),
            (None, None) => Err(Failure::not_found("no order is marked")
                .hint("find a record first; w lists its orders")),
        }
    }

    fn begin(&mut self, step: Id, desk: &Desk) -> Step {
        let (of, said, prompt) = match (step, self.marked()) {
            (Id::NewOrder, _) => match self.about.clone().map_or_else(|| self.record(desk), Ok) {
                Ok(record) => {
                    let name = record.record.name();
                    (
                        record.record.id().to_string(),
                        format!("new order on {name}"),
                        " need > ",
                    )
                }
                Err(failure) => return failure.into(),
            },
            (_, None) => return Step::Say("the list is empty".to_string()),
            (step, Some(order)) => {
                let (word, prompt) = match step {
                    Id::AssignOrder => ("give", " to whom > "),
                    Id::DoneOrder => ("done", " what was done > "),
                    Id::VoidOrder => ("void", " why > "),
                    _ => ("reopen", " why > "),
                };
                (
                    order.order.clone(),
                    format!(
                        "{word}: order {} on {}: {}",
                        order.order, order.of, order.need
                    ),
                    prompt,
                )
            }
        };
        self.typing = Some(Typing {
            step,
            of,
            said,
            answers: Vec::new(),
            refused: None,
            choosing: Choosing::typing(prompt, ""),
        });
        Step::Stay
    }

    fn typed(&mut self, chosen: Chosen, desk: &Desk) -> Step {
        let Some(typing) = &mut self.typing else {
            return Step::Stay;
        };
        let answer = match chosen {
            Chosen::Nothing => return Step::Stay,
            Chosen::Back => {
                self.typing = None;
                return Step::Stay;
            }
            Chosen::Option(n) => Priority::WORDS.get(n).unwrap_or(&"planned").to_string(),
            Chosen::Typed(text) => text,
        };
        typing.refused = None;
        if typing.step == Id::NewOrder && typing.answers.is_empty() && answer.is_empty() {
            typing.refused = Some("a word of what is needed".to_string());
            return Step::Stay;
        }
        typing.answers.push(answer);
        if typing.step == Id::NewOrder && typing.answers.len() < 3 {
            typing.choosing = match typing.answers.len() {
                1 => Choosing::among(Priority::WORDS.iter().map(ToString::to_string).collect()),
                _ => Choosing::typing(" due, as 2026-10-17, or empty > ", ""),
            };
            return Step::Stay;
        }
        match write(typing, desk) {
            Ok(report) => {
                self.typing = None;
                if let Err(failure) = self.refresh(desk) {
                    return failure.into();
                }
                Step::Say(said(&report))
            }
            Err(failure) => {
                typing.answers.pop();
                typing.refused = Some(one_line(&failure));
                Step::Stay
            }
        }
    }

    fn details(&self, desk: &Desk) -> Step {
        let Some(order) = self.marked() else {
            return Step::Stay;
        };
        match orders::show(desk.store, &order.id, desk.clock.today()) {
            Ok(shown) => Step::Open(Box::new(Text::new(
                Place::Text,
                None,
                read_at(desk),
                Box::new(move |style| show_lines(&shown, style)),
            ))),
            Err(failure) => failure.into(),
        }
    }
}

/// The page about the structure of a record.
///
/// # Errors
/// Those of [`briefing_of`].
pub(super) fn briefing(record: &Stored, desk: &Desk) -> Result<Text, Failure> {
    let report = briefing_of(desk.store, record, desk.clock)?;
    Ok(Text::new(
        Place::Text,
        None,
        read_at(desk),
        Box::new(move |style| present::briefing::lines(&report, style)),
    ))
}

fn write(typing: &Typing, desk: &Desk) -> Result<OrderReport, Failure> {
    let now = desk.clock.now();
    let text = typing.answers.last().map_or("", String::as_str);
    let (of, who) = (typing.of.as_str(), desk.who);
    match typing.step {
        Id::NewOrder => {
            let due: Option<Date> = match text {
                "" => None,
                day => Some(day.parse().map_err(|e| Failure::usage(format!("{e}")))?),
            };
            let word = typing.answers.get(1).map_or("planned", String::as_str);
            let new = NewOrder {
                of: of.to_string(),
                need: typing.answers[0].clone(),
                priority: Priority::from_word(word).unwrap_or(Priority::Planned),
                due,
                who: None,
                from_entry: None,
                note: None,
            };
            desk.write(|store| open_order(store, &new, who, now))
        }
        Id::AssignOrder => desk.write(|store| orders::assign(store, of, text, who, now)),
        Id::DoneOrder => {
            let done = Done {
                what: text.to_string(),
                ..Done::default()
            };
            desk.write(|store| orders::done(store, of, &done, who, now))
        }
        Id::VoidOrder => desk.write(|store| orders::void(store, of, text, who, now)),
        _ => desk.write(|store| orders::reopen(store, of, text, who, now)),
    }
}

fn said(report: &OrderReport) -> String {
    let mut out = format!("order {} {}", report.order.order, report.did);
    for note in &report.notes {
        out.push_str(&format!("; {note}"));
    }
    out
}

fn rows(report: &OrdersReport, listing: &Listing) -> Vec<Row> {
    report
        .orders
        .iter()
        .flat_map(|o| {
            let mut line = order_row(o);
            // Only the marked row is bold.
            for piece in &mut line.pieces {
                if piece.role == Role::Code {
                    piece.role = Role::Plain;
                }
            }
            listing.entry(line)
        })
        .collect()
}

impl Screen for Orders {
    fn place(&self) -> Place {
        match &self.typing {
            Some(t) if t.choosing.types() => Place::Answer,
            Some(_) => Place::Choice,
            None => Place::Orders,
        }
    }

    fn about(&self) -> About {
        About {
            kind: self.marked().and_then(|o| o.kind),
            rows: match &self.typing {
                Some(t) => t.choosing.count(),
                None => self.report.orders.len(),
            },
            empty: self.typing.as_ref().is_none_or(|t| t.choosing.is_empty()),
            ..About::default()
        }
    }

    fn run(&mut self, id: Id, chord: Chord, desk: &Desk) -> Step {
        if let Some(typing) = &mut self.typing {
            if id == Id::FindAnew {
                return Step::FindAnew;
            }
            let chosen = typing.choosing.take(id, chord);
            return self.typed(chosen, desk);
        }
        match id {
            Id::NewOrder => return self.begin(id, desk),
            Id::MyOrders => return self.filter(Show::Mine, desk),
            Id::OverdueOrders => return self.filter(Show::Overdue, desk),
            Id::ClosedOrders => return self.filter(Show::All, desk),
            _ => {}
        }
        let rows = rows(&self.report, &self.listing);
        match self.listing.take(id, chord, &rows) {
            Taken::Done(step) => step,
            Taken::Yours(Id::OrderDetails) => self.details(desk),
            Taken::Yours(Id::Open) => {
                match self.record(desk).and_then(|r| Card::read(r.rec, desk)) {
                    Ok(card) => Step::Open(Box::new(card)),
                    Err(failure) => failure.into(),
                }
            }
            Taken::Yours(Id::Briefing) => {
                match self.record(desk).and_then(|r| briefing(&r, desk)) {
                    Ok(text) => Step::Open(Box::new(text)),
                    Err(failure) => failure.into(),
                }
            }
            Taken::Yours(
                step @ (Id::AssignOrder | Id::DoneOrder | Id::VoidOrder | Id::ReopenOrder),
            ) => self.begin(step, desk),
            Taken::Yours(_) => Step::Stay,
        }
    }

    fn type_in(&mut self, c: char) {
        if let Some(typing) = &mut self.typing {
            typing.refused = None;
            typing.choosing.type_in(c);
        }
    }

    fn paste(&mut self, text: &str) -> bool {
        self.typing.as_mut().is_some_and(|t| t.choosing.paste(text))
    }

    fn watches(&self) -> bool {
        true
    }

    fn register_changed(&mut self, desk: &Desk) -> bool {
        let before = self.report.orders.clone();
        // A step under way keeps the list it was begun on.
        self.typing.is_none() && self.refresh(desk).is_ok() && before != self.report.orders
    }

    fn note(&self) -> Line {
        match self.typing.as_ref().and_then(|t| t.refused.as_ref()) {
            Some(why) => Line::of(Role::Fails, "refused").with(Role::Plain, format!(": {why}")),
            None => Line::new(),
        }
    }

    fn draw(&mut self, buffer: &mut Buffer, area: Rect, desk: &Desk) -> Option<Position> {
        if let Some(typing) = &mut self.typing {
            let title = Line::of(Role::Heading, "orders");
            let width = usize::from(area.width.saturating_sub(2));
            let mut text = Line::of(Role::Plain, &typing.said).folded(width, 2);
            for answer in &typing.answers {
                text.extend(Line::of(Role::Value, answer).folded(width, 2));
            }
            return typing
                .choosing
                .draw(buffer, area, desk, (&title, &inset(text)));
        }
        let report = &self.report;
        self.listing
            .draw(buffer, area, desk, |listing| rows(report, listing));
        None
    }
}
