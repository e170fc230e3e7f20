//! Floor 6: the screens, as values on a stack. A screen takes commands and
//! text, answers with a [`Step`], and draws itself; none has a loop of its own.

mod ask;
mod card;
mod choice;
mod commands;
mod due;
mod find;
mod findings;
mod form;
mod heard;
mod help;
mod history;
mod listing;
mod measure;
mod notices;
mod orders;
mod records;
mod reports;
mod swap;
mod text;
mod then;
mod times;

use std::path::Path;

use ratatui::buffer::Buffer;
use ratatui::layout::{Position, Rect};

use crate::calendar::Clock;
use crate::keys::Chord;
use crate::present::Line;
use crate::store::{Access, Store, Stored};
use crate::tui::command::{About, Id, Place};
use crate::tui::widget::Look;
use crate::work::Failure;

pub use ask::{Concluded, Correct, Inspect, Replaced, Unfinished, greeting};
pub use card::Card;
pub use commands::Commands;
pub use due::Due;
pub use find::Find;
pub use findings::Findings;
pub use form::Form;
pub use heard::Heard;
pub use help::help;
pub use history::History;
pub use notices::Notices;
pub use orders::Orders;
pub use records::Records;
pub use reports::{Propose, Reports};
pub use swap::Swap;
pub use text::Text;
pub use then::OnDay;
pub use times::Times;

/// What screens work with.
pub struct Desk<'a> {
    pub store: &'a Store,
    pub clock: Clock,
    pub look: Look,
    /// A slow link: list later, show less.
    pub thin: bool,
    /// Who acts, for what is written.
    pub who: &'a str,
    /// The folder of the account's own drafts; none when it has no home.
    pub drafts: Option<&'a Path>,
}

impl Desk<'_> {
    /// Writes through a connection of its own, open no longer than the write:
    /// the screens hold no lock while a person thinks.
    ///
    /// # Errors
    /// Those of the register and of `write`; nothing is then changed.
    pub fn write<T>(
        &self,
        write: impl FnOnce(&mut Store) -> Result<T, Failure>,
    ) -> Result<T, Failure> {
        let mut store = Store::open(self.store.path(), Access::Write)?;
        self.store.same_file(&store)?;
        write(&mut store)
    }
}

/// What follows from a command.
pub enum Step {
    Stay,
    /// A sentence for the status line.
    Say(String),
    Open(Box<dyn Screen>),
    /// The screen gives its place to another.
    Instead(Box<dyn Screen>),
    /// One screen back; the one below stays as it was.
    Close,
    /// One screen back, with a sentence for the status line there.
    CloseAndSay(String),
    /// One screen back, then run a command there.
    CloseAndRun(Id),
    /// Back to an empty find prompt.
    FindAnew,
}

impl From<Failure> for Step {
    fn from(failure: Failure) -> Step {
        Step::Say(one_line(&failure))
    }
}

/// A failure with its first hint, for the status line.
#[must_use]
pub fn one_line(failure: &Failure) -> String {
    match failure.hints.first() {
        Some(hint) => format!("{}; {hint}", failure.message),
        None => failure.message.clone(),
    }
}

/// One screen.
pub trait Screen {
    /// Which keys count.
    fn place(&self) -> Place;

    /// What commands must know to say whether they apply.
    fn about(&self) -> About {
        About::default()
    }

    /// Takes a command; the chord is for commands with several keys of their own.
    fn run(&mut self, id: Id, chord: Chord, desk: &Desk) -> Step;

    /// Finishes what a command must not run ahead of: keys typed in one burst
    /// come before the search for what was typed has been done.
    fn settle(&mut self, _desk: &Desk) {}

    /// Takes a character, where text is typed.
    fn type_in(&mut self, _c: char) {}

    /// Takes pasted text; false when a paste means a new search here.
    fn paste(&mut self, _text: &str) -> bool {
        false
    }

    /// Long work, given up when `stop` says so. True when something changed
    /// that shows.
    fn work(&mut self, _desk: &Desk, _stop: &dyn Fn() -> bool) -> bool {
        false
    }

    /// Whether it must hear of changes of the register.
    fn watches(&self) -> bool {
        false
    }

    /// The register has changed; true when that shows.
    fn register_changed(&mut self, _desk: &Desk) -> bool {
        false
    }

    /// The screen above was closed.
    fn uncovered(&mut self) {}

    /// What stands in the status line beside the register's name.
    fn note(&self) -> Line {
        Line::new()
    }

    /// Draws into the area above the status line; returns where the caret is.
    fn draw(&mut self, buffer: &mut Buffer, area: Rect, desk: &Desk) -> Option<Position>;
}
/// Opens what a command asks for about a record; the same from a list, from
/// the preview and from the card.
pub(super) fn about_record(id: Id, record: &Stored, desk: &Desk) -> Step {
    let opened: Result<Box<dyn Screen>, Failure> = match id {
        Id::Open => Card::read(record.rec, desk).map(|s| Box::new(s) as Box<dyn Screen>),
        Id::Check => Form::about(record, desk).map(|s| Box::new(s) as _),
        Id::Times => Times::about(record, desk).map(|s| Box::new(s) as _),
        Id::Trace => text::trace(record, desk).map(|s| Box::new(s) as _),
        Id::ReadBack => Ok(Box::new(Heard::about(record.clone()))),
        Id::Neighbours => Records::neighbours(record, desk).map(|s| Box::new(s) as _),
        Id::Related => Records::related(record, desk).map(|s| Box::new(s) as _),
        Id::Inspect => Inspect::about(record, desk).map(|s| Box::new(s) as _),
        Id::LinkReplaced => Replaced::about(record, desk).map(|s| Box::new(s) as _),
        Id::Correct => Correct::about(record, desk).map(|s| Box::new(s) as _),
        Id::Swap => Swap::about(record, desk).map(|s| Box::new(s) as _),
        Id::History => History::about(record, desk).map(|s| Box::new(s) as _),
        Id::OrdersOf => Orders::about(record, desk).map(|s| Box::new(s) as _),
        Id::Briefing => orders::briefing(record, desk).map(|s| Box::new(s) as _),
        Id::OtherDay => Ok(Box::new(OnDay::of(record.clone(), then::Read::Card))),
        Id::FindingsOf => Findings::about(record, desk).map(|s| Box::new(s) as _),
        Id::DueOf => Due::read(Some(record.clone()), desk).map(|s| Box::new(s) as _),
        Id::Decode => text::decode(&record.record.name(), desk).map(|s| Box::new(s) as _),
        Id::Report => Propose::about(record, desk).map(|s| Box::new(s) as _),
        _ => return Step::Stay,
    };
    match opened {
        Ok(screen) => Step::Open(screen),
        Err(failure) => failure.into(),
    }
}

/// Opens what a command asks for about the whole register.
#[must_use]
pub fn about_all(id: Id, desk: &Desk) -> Option<Step> {
    let opened: Result<Box<dyn Screen>, Failure> = match id {
        Id::Unfinished => Ok(Box::new(Unfinished::read(desk))),
        Id::AllOrders => Orders::whole(desk).map(|s| Box::new(s) as _),
        Id::Notices => Notices::whole(desk).map(|s| Box::new(s) as _),
        Id::WholeLog => History::whole(desk).map(|s| Box::new(s) as _),
        Id::Findings => Findings::whole(desk).map(|s| Box::new(s) as _),
        Id::AllDue => Due::read(None, desk).map(|s| Box::new(s) as _),
        Id::AllReports => Reports::waiting(desk).map(|s| Box::new(s) as _),
        _ => return None,
    };
    Some(match opened {
        Ok(screen) => Step::Open(screen),
        Err(failure) => failure.into(),
    })
}

/// The record of a row, or why there is none any more.
pub(super) fn record_at(rec: i64, desk: &Desk) -> Result<Stored, Failure> {
    desk.store
        .by_row(rec)?
        .ok_or_else(|| Failure::not_found("that record has left the register"))
}
