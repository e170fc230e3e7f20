//! Work orders: what is to be done about a record, by whom and by when. Each
//! step in the life of an order is one operation.

mod list;
mod moves;
mod open;

use serde::Serialize;

use super::also::also;
use super::{Failure, JSON_VERSION, resolve_among};
use crate::calendar::{Date, Moment};
use crate::domain::asset::{Kind, Order, Record, RecordId};
use crate::domain::order::{is_closed, is_overdue};
use crate::store::{Store, Stored};

pub use list::{Filter, OrdersReport, list, orders_of};
pub use moves::{Done, assign, done, reopen, void};
pub use open::{NewOrder, open_another, open_order};

/// An order as it is shown, with what is read back beside its number.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct OrderCard {
    pub order: String,
    /// Permanent id.
    pub id: String,
    /// Row in the register.
    #[serde(skip)]
    pub rec: i64,
    /// The record it is about, as the order names it.
    pub of: String,
    /// Its kind; absent when no record bears that name.
    pub kind: Option<Kind>,
    /// `open`, `assigned`, `done`, `void`.
    pub state: String,
    /// `urgent`, `soon`, `planned`, `whenever`.
    pub priority: String,
    pub need: String,
    pub opened: Option<Date>,
    pub due: Option<Date>,
    /// Days since it was due; only of an order that is not closed.
    pub overdue_days: Option<i64>,
    pub closed: Option<Date>,
    pub who: Option<String>,
    pub from_entry: Option<RecordId>,
    pub note: Option<String>,
    /// Home feeder of the record.
    pub feeder: Option<String>,
    /// A second identifier of the record: class, road, landmark.
    pub also: String,
}

/// What became of an order; its JSON is the document printed.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct OrderReport {
    pub polecard: u32,
    /// The operation that was written; absent when nothing was.
    pub operation: Option<String>,
    /// `opened`, `assigned`, `done`, `void`, `reopened`, or `open already`
    /// where an alike order stands and nothing was written.
    pub did: String,
    pub order: OrderCard,
    /// Permanent id of the entry that was written with it.
    pub entry: Option<String>,
    /// Sentences: the name asked by, orders that are alike.
    pub notes: Vec<String>,
}

/// One order, in full.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct ShownOrder {
    pub polecard: u32,
    pub order: OrderCard,
    /// What can be done with it now, in words.
    pub allowed: String,
    pub steps: Vec<StepLine>,
}

/// A step in the life of an order, from the log.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct StepLine {
    pub entered: Moment,
    pub who: String,
    pub why: String,
}

/// Operations of one order that are read.
const STEPS: usize = 50;

/// One order with the steps of its life, newest first.
///
/// # Errors
/// Not found; those of the register.
pub fn show(store: &Store, text: &str, today: Date) -> Result<ShownOrder, Failure> {
    let (stored, order) = found(store, text)?;
    let steps = store
        .touched(stored.rec, STEPS)?
        .into_iter()
        .map(|t| t.operation.operation)
        .map(|op| StepLine {
            entered: op.entered,
            who: op.who,
            why: op.why,
        })
        .collect();
    Ok(ShownOrder {
        polecard: JSON_VERSION,
        allowed: crate::domain::order::Move::allowed_words(order.state),
        order: card_of(store, &stored, today)?,
        steps,
    })
}

/// The order called `text`.
fn found(store: &Store, text: &str) -> Result<(Stored, Order), Failure> {
    let stored = resolve_among(store, text, &[Kind::Order])?.stored;
    match &stored.record {
        Record::Order(order) => {
            let order = order.clone();
            Ok((stored, order))
        }
        other => Err(Failure::not_found(format!(
            "{text} is {}, not a work order",
            crate::domain::asset::an(other.kind())
        ))),
    }
}

fn card_of(store: &Store, stored: &Stored, today: Date) -> Result<OrderCard, Failure> {
    cards(store, std::slice::from_ref(stored), today)?
        .pop()
        .ok_or_else(|| Failure::not_found("that order has left the register"))
}

/// Orders as they are shown; records of other kinds are left out.
fn cards(store: &Store, orders: &[Stored], today: Date) -> Result<Vec<OrderCard>, Failure> {
    let mut about: Vec<Option<Stored>> = Vec::with_capacity(orders.len());
    for stored in orders {
        about.push(match &stored.record {
            Record::Order(o) => record_of(store, &o.of)?,
            _ => None,
        });
    }
    let known: Vec<Stored> = about.iter().flatten().cloned().collect();
    let mut second = also(store, &known)?.into_iter();
    let mut out = Vec::with_capacity(orders.len());
    for (stored, about) in orders.iter().zip(about) {
        let also = about.as_ref().and_then(|_| second.next());
        if let Record::Order(o) = &stored.record {
            let mut card = card(stored.rec, o, today);
            card.kind = about.map(|a| a.record.kind());
            if let Some(mut also) = also {
                card.feeder = also.feeder.take();
                card.also = also.words();
            }
            out.push(card);
        }
    }
    Ok(out)
}

fn card(rec: i64, o: &Order, today: Date) -> OrderCard {
    OrderCard {
        order: o.order.clone(),
        id: o.id.to_string(),
        rec,
        of: o.of.clone(),
        kind: None,
        state: o.state.word().to_string(),
        priority: o.priority.word().to_string(),
        need: o.need.clone(),
        opened: o.opened,
        due: o.due,
        overdue_days: o
            .due
            .filter(|_| is_overdue(o, today))
            .map(|due| today.days_since(due)),
        closed: o.closed.filter(|_| is_closed(o.state)),
        who: o.who.clone(),
        from_entry: o.from_entry,
        note: o.note.clone(),
        feeder: None,
        also: String::new(),
    }
}

/// The record that an order is about: the present holder of the name, else who
/// held it; equipment before papers.
pub(super) fn record_of(store: &Store, name: &str) -> Result<Option<Stored>, Failure> {
    let mut hits = store.named(name)?;
    hits.sort_by_key(|h| (h.rank, h.text != name, !is_equipment(h.kind)));
    match hits.first() {
        Some(hit) => Ok(store.by_row(hit.rec)?),
        None => Ok(None),
    }
}

const fn is_equipment(kind: Kind) -> bool {
    matches!(kind, Kind::Structure | Kind::Position | Kind::Unit)
}
