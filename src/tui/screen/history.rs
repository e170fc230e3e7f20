//! A history: who changed what, when, from when on and why; each operation can
//! be read whole, taken back, and the record be read as it stood after it.

use ratatui::buffer::Buffer;
use ratatui::layout::{Position, Rect};

use super::choice::{Choosing, Chosen};
use super::listing::{Listing, Taken};
use super::text::{Text, inset};
use super::then::{OnDay, Read};
use super::{Desk, Screen, Step};
use crate::calendar::Clock;
use crate::domain::asset::{Kind, RecordId};
use crate::keys::Chord;
use crate::present::written::operation_lines;
use crate::present::{self, Line};
use crate::role::Role;
use crate::store::{Access, Store, Stored};
use crate::tui::command::{About, Id, Place};
use crate::tui::widget::Row;
use crate::work::card::card;
use crate::work::history::{HistoryReport, OperationLine, history};
use crate::work::undo;
use crate::work::{Failure, FailureKind};

/// Operations that are listed.
const LISTED: usize = 200;

/// What is asked before an operation is taken back.
struct Undoing {
    asked: undo::Asked,
    /// The reason is given, and a second person asked for.
    second: bool,
    choosing: Choosing,
}

/// The operations on a record, or of the whole register.
pub struct History {
    of: Option<(RecordId, Kind)>,
    listing: Listing,
    report: HistoryReport,
    undoing: Option<Undoing>,
}

impl History {
    /// Of a record.
    ///
    /// # Errors
    /// Those of the register.
    pub fn about(record: &Stored, desk: &Desk) -> Result<Self, Failure> {
        let id = record.record.id();
        let title = Line::of(Role::Heading, "history of ").with(Role::Code, record.record.name());
        Self::read(Some((id, record.record.kind())), title, desk)
    }

    /// Of the whole register.
    ///
    /// # Errors
    /// Those of the register.
    pub fn whole(desk: &Desk) -> Result<Self, Failure> {
        Self::read(
            None,
            Line::of(Role::Heading, "history of the register"),
            desk,
        )
    }

    fn read(of: Option<(RecordId, Kind)>, title: Line, desk: &Desk) -> Result<Self, Failure> {
        let name = of.map(|(id, _)| id.to_string());
        Ok(History {
            of,
            listing: Listing::new(title, "Nothing is in the log."),
            report: history(desk.store, name.as_deref(), LISTED)?,
            undoing: None,
        })
    }

    fn marked(&self) -> Option<&OperationLine> {
        self.report.operations.get(self.listing.marked())
    }

    fn details(&self) -> Step {
        let Some(op) = self.marked().cloned() else {
            return Step::Stay;
        };
        let title = Line::of(Role::Heading, "operation ").with(Role::Value, &op.operation);
        Step::Open(Box::new(Text::new(
            Place::Text,
            Some(title),
            String::new(),
            Box::new(move |style| {
                let lines = operation_lines(&op).into_iter();
                inset(lines.flat_map(|l| l.folded(style.width, 4)).collect())
            }),
        )))
    }

    /// The card as it stood right after the marked operation.
    fn as_of(&self, desk: &Desk) -> Step {
        let (Some(op), Some((id, _))) = (self.marked(), self.of) else {
            return Step::Say("that is for the history of one record: open it, then y".to_string());
        };
        match card_then(id, op, desk) {
            Ok(text) => Step::Open(Box::new(text)),
            Err(failure) => failure.into(),
        }
    }

    /// The history as it was told on another day.
    fn other_day(&self, desk: &Desk) -> Step {
        let Some((id, _)) = self.of else {
            return Step::Say("that is for the history of one record: open it, then y".to_string());
        };
        match desk.store.by_id(id) {
            Ok(Some(record)) => Step::Open(Box::new(OnDay::of(record, Read::History))),
            Ok(None) => Step::Say("it has left the register".to_string()),
            Err(e) => Failure::from(e).into(),
        }
    }

    fn begin(&mut self) -> Step {
        let Some(op) = self.marked() else {
            return Step::Stay;
        };
        if op.undone_by.is_some() {
            return Step::Say("that operation is taken back already".to_string());
        }
        let asked = undo::Asked {
            which: Some(op.operation.clone()),
            ..undo::Asked::default()
        };
        self.undoing = Some(Undoing {
            asked,
            second: false,
            choosing: Choosing::typing(" why > ", ""),
        });
        Step::Stay
    }

    fn typed(&mut self, text: String, desk: &Desk) -> Step {
        let Some(undoing) = &mut self.undoing else {
            return Step::Stay;
        };
        if undoing.second {
            undoing.asked.second = Some(text);
        } else {
            undoing.asked.why = Some(text);
        }
        let asked = undoing.asked.clone();
        match desk.write(|store| undo::undo_with(store, &asked, desk.who, desk.clock.now())) {
            Ok(done) => {
                self.undoing = None;
                let again = self.refresh(desk);
                match again {
                    Ok(()) => Step::Say(format!("taken back: {}", done.undone_why)),
                    Err(failure) => failure.into(),
                }
            }
            Err(failure) if wants_second(&failure) && !undoing.second => {
                undoing.second = true;
                undoing.choosing = Choosing::typing(" second person > ", "");
                Step::Say(failure.message)
            }
            Err(failure) => {
                // With what stands in the way said, there is nothing to type.
                self.undoing = None;
                failure.into()
            }
        }
    }

    fn refresh(&mut self, desk: &Desk) -> Result<(), Failure> {
        let name = self.of.map(|(id, _)| id.to_string());
        self.report = history(desk.store, name.as_deref(), LISTED)?;
        Ok(())
    }

    fn type_back(&mut self, id: Id, chord: Chord, desk: &Desk) -> Step {
        let Some(undoing) = &mut self.undoing else {
            return Step::Stay;
        };
        match undoing.choosing.take(id, chord) {
            Chosen::Typed(text) => self.typed(text, desk),
            Chosen::Back => {
                self.undoing = None;
                Step::Stay
            }
            _ => Step::Stay,
        }
    }
}

fn wants_second(failure: &Failure) -> bool {
    failure.kind == FailureKind::Usage && failure.hints.iter().any(|h| h.contains("--second"))
}

fn card_then(id: RecordId, op: &OperationLine, desk: &Desk) -> Result<Text, Failure> {
    let store = Store::open(desk.store.path(), Access::Read)?;
    let seq = store
        .operations_beginning(&op.operation, 1)?
        .pop()
        .map_or(0, |w| w.seq);
    let then = store.as_of(seq)?;
    let stored = then
        .by_id(id)?
        .ok_or_else(|| Failure::not_found("it was not in the register then"))?;
    let card = card(&then, stored.rec, Clock::Fixed(op.entered))?;
    let title = Line::of(Role::Look, "AS OF ").with(
        Role::Plain,
        format!(
            "{}: what the register said then, not now",
            op.entered.spoken()
        ),
    );
    Ok(Text::new(
        Place::Text,
        Some(title),
        String::new(),
        Box::new(move |style| present::card::lines(&card, style)),
    ))
}

/// When (UTC and the offset of entry), who, why, and what became of it.
fn row_of(op: &OperationLine) -> Line {
    let when = op.entered.utc_and_offset();
    let mut line = Line::of(Role::Plain, format!("{when}  {}  ", op.who));
    if op.undone_by.is_some() {
        line.push(Role::Look, "UNDONE ");
    }
    line.push(Role::Plain, &op.why);
    if let Some(day) = op.effective {
        line.push(Role::Plain, format!(", from {}", day.spoken()));
    }
    line
}

fn rows(report: &HistoryReport, listing: &Listing) -> Vec<Row> {
    report
        .operations
        .iter()
        .flat_map(|op| listing.entry(row_of(op)))
        .collect()
}

impl Screen for History {
    fn place(&self) -> Place {
        if self.undoing.is_some() {
            Place::Answer
        } else {
            Place::History
        }
    }

    fn about(&self) -> About {
        About {
            kind: self.of.map(|(_, kind)| kind),
            rows: self.report.operations.len(),
            empty: self.undoing.as_ref().is_none_or(|u| u.choosing.is_empty()),
            ..About::default()
        }
    }

    fn run(&mut self, id: Id, chord: Chord, desk: &Desk) -> Step {
        if self.undoing.is_some() {
            return self.type_back(id, chord, desk);
        }
        let rows = rows(&self.report, &self.listing);
        match self.listing.take(id, chord, &rows) {
            Taken::Done(step) => step,
            Taken::Yours(Id::Open) => self.details(),
            Taken::Yours(Id::TakeBack) => self.begin(),
            Taken::Yours(Id::AsThen) => self.as_of(desk),
            Taken::Yours(Id::OtherDay) => self.other_day(desk),
            Taken::Yours(_) => Step::Stay,
        }
    }

    fn type_in(&mut self, c: char) {
        if let Some(undoing) = &mut self.undoing {
            undoing.choosing.type_in(c);
        }
    }

    fn paste(&mut self, text: &str) -> bool {
        self.undoing
            .as_mut()
            .is_some_and(|u| u.choosing.paste(text))
    }

    fn note(&self) -> Line {
        if self.report.more && self.undoing.is_none() {
            return Line::of(Role::Muted, format!("the newest {LISTED}"));
        }
        Line::new()
    }

    fn draw(&mut self, buffer: &mut Buffer, area: Rect, desk: &Desk) -> Option<Position> {
        let marked = self.listing.marked();
        if let (Some(undoing), Some(op)) = (&mut self.undoing, self.report.operations.get(marked)) {
            let title = Line::of(Role::Heading, "take back ").with(Role::Plain, &op.why);
            let mut text = vec![if undoing.second {
                Line::of(Role::Look, " Somebody else must agree: type who it is.")
            } else {
                Line::of(
                    Role::Plain,
                    " Type why; with nothing typed it says undo of that reason.",
                )
            }];
            text.push(Line::new());
            text.extend(inset(operation_lines(op)));
            let width = usize::from(area.width.saturating_sub(1));
            let text: Vec<Line> = text.iter().flat_map(|l| l.folded(width, 5)).collect();
            return undoing.choosing.draw(buffer, area, desk, (&title, &text));
        }
        let report = &self.report;
        self.listing
            .draw(buffer, area, desk, |listing| rows(report, listing));
        None
    }
}
