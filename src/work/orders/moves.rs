//! The steps of an order: given to somebody, done, void, reopened.

use std::collections::BTreeMap;

use super::super::{Failure, JSON_VERSION};
use super::{OrderReport, card_of, found, record_of};
use crate::calendar::{Date, Moment};
use crate::domain::asset::{Entry, EntryKind, Order, OrderState};
use crate::domain::change::{Change, Operation, difference};
use crate::domain::form::not_to_come;
use crate::domain::order::{Move, is_closed, judged};
use crate::role::harmless;
use crate::store::{Store, StoreError, Stored, fresh_id};

/// How an order was done.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Done {
    /// A word of what was done.
    pub what: String,
    /// The day it was done; today if absent.
    pub on: Option<Date>,
    /// Who did it; who it was given to, else the actor, if absent.
    pub by: Option<String>,
    /// Whether the word also enters the history of the record, as maintenance.
    pub entry: bool,
}

/// A step that is about to be written.
struct Step<'a> {
    stored: Stored,
    before: Order,
    after: Order,
    why: String,
    effective: Option<Date>,
    entry: Option<Entry>,
    who: &'a str,
    now: Moment,
}

impl<'a> Step<'a> {
    /// A step of today that writes no entry.
    fn plain(
        (stored, before, after): (Stored, Order, Order),
        why: String,
        (who, now): (&'a str, Moment),
    ) -> Self {
        Step {
            stored,
            before,
            after,
            why,
            effective: None,
            entry: None,
            who,
            now,
        }
    }
}

/// Gives an order to somebody; an assigned one to somebody else.
///
/// # Errors
/// Usage, when nobody is named or the order is closed; not found; a change
/// meanwhile; those of the register. Nothing is changed then.
pub fn assign(
    store: &mut Store,
    order: &str,
    to: &str,
    who: &str,
    now: Moment,
) -> Result<OrderReport, Failure> {
    let (stored, before) = movable(store, order, Move::Assign)?;
    let to = needed(to, "to whom is it given?", "name a person or a crew")?;
    if before.state == OrderState::Assigned && before.who.as_deref() == Some(to.as_str()) {
        return Err(Failure::usage(format!(
            "order {} is given to {to} already; nothing was written",
            before.order
        )));
    }
    let after = Order {
        state: OrderState::Assigned,
        who: Some(to.clone()),
        ..before.clone()
    };
    let why = format!("order {} given to {to}", before.order);
    let step = Step::plain((stored, before, after), why, (who, now));
    write(store, step, "assigned")
}

/// Closes an order as done, with a word of what was done.
///
/// # Errors
/// As [`assign`]; also a day to come, or one before the order was opened.
pub fn done(
    store: &mut Store,
    order: &str,
    asked: &Done,
    who: &str,
    now: Moment,
) -> Result<OrderReport, Failure> {
    let (stored, before) = movable(store, order, Move::Done)?;
    let what = needed(
        &asked.what,
        "what was done?",
        "a word of it: \"rod driven, 9 ohm\"",
    )?;
    let on = asked.on.unwrap_or_else(|| now.date());
    not_to_come(on, now.date()).map_err(Failure::usage)?;
    if let Some(opened) = before.opened.filter(|opened| on < *opened) {
        return Err(Failure::usage(format!(
            "order {} was opened on {opened}; it cannot have been done on {on}",
            before.order
        )));
    }
    let by = asked
        .by
        .as_deref()
        .map(str::trim)
        .filter(|b| !b.is_empty())
        .map_or_else(
            || before.who.clone().unwrap_or_else(|| who.to_string()),
            |b| harmless(b).into_owned(),
        );
    let after = Order {
        state: OrderState::Done,
        closed: Some(on),
        who: Some(by.clone()),
        note: Some(noted(&before, &format!("done: {what}"))),
        ..before.clone()
    };
    let entry = asked
        .entry
        .then(|| entry(store, &before, &what, on, &by, now))
        .transpose()?;
    let why = format!("order {} done: {what}", before.order);
    let step = Step {
        stored,
        before,
        after,
        why,
        effective: asked.on.filter(|on| *on != now.date()),
        entry,
        who,
        now,
    };
    write(store, step, "done")
}

/// Closes an order that will not be done, with the reason.
///
/// # Errors
/// As [`assign`].
pub fn void(
    store: &mut Store,
    order: &str,
    reason: &str,
    who: &str,
    now: Moment,
) -> Result<OrderReport, Failure> {
    let (stored, before) = movable(store, order, Move::Void)?;
    let reason = needed(
        reason,
        "why is it void?",
        "the reason: \"pole was removed\"",
    )?;
    let after = Order {
        state: OrderState::Void,
        closed: Some(now.date()),
        note: Some(noted(&before, &format!("void: {reason}"))),
        ..before.clone()
    };
    let why = format!("order {} void: {reason}", before.order);
    let step = Step::plain((stored, before, after), why, (who, now));
    write(store, step, "void")
}

/// Opens a closed order again, with the reason. Nobody has it then.
///
/// # Errors
/// As [`assign`]; also when the order is not closed.
pub fn reopen(
    store: &mut Store,
    order: &str,
    reason: &str,
    who: &str,
    now: Moment,
) -> Result<OrderReport, Failure> {
    let (stored, before) = movable(store, order, Move::Reopen)?;
    let reason = needed(
        reason,
        "why is it reopened?",
        "the reason: \"ground cut again\"",
    )?;
    let after = Order {
        state: OrderState::Open,
        closed: None,
        who: None,
        note: Some(noted(&before, &format!("reopened: {reason}"))),
        ..before.clone()
    };
    let why = format!("order {} reopened: {reason}", before.order);
    let step = Step::plain((stored, before, after), why, (who, now));
    write(store, step, "reopened")
}

/// The order, when it can be moved so.
fn movable(store: &Store, text: &str, step: Move) -> Result<(Stored, Order), Failure> {
    let (stored, order) = found(store, text)?;
    if step.allowed(order.state) {
        return Ok((stored, order));
    }
    let since = match order.closed.filter(|_| is_closed(order.state)) {
        Some(day) => format!(" since {}", day.spoken()),
        None => String::new(),
    };
    Err(Failure::usage(format!(
        "order {} is {}{since}; {} does not apply, nothing was changed",
        order.order,
        order.state,
        step.word()
    ))
    .hint(format!(
        "what can be done with it: {}",
        Move::allowed_words(order.state)
    )))
}

fn needed(text: &str, question: &str, hint: &str) -> Result<String, Failure> {
    let text = text.split_whitespace().collect::<Vec<_>>().join(" ");
    if text.is_empty() {
        return Err(Failure::usage(format!("{question} nothing was changed")).hint(hint));
    }
    Ok(harmless(&text).into_owned())
}

/// The note with one more sentence; what was noted before stays.
fn noted(order: &Order, more: &str) -> String {
    match &order.note {
        Some(note) => format!("{note}; {more}"),
        None => more.to_string(),
    }
}

/// The entry about what was done, in the history of the record.
fn entry(
    store: &Store,
    order: &Order,
    what: &str,
    on: Date,
    by: &str,
    now: Moment,
) -> Result<Entry, Failure> {
    let about = record_of(store, &order.of)?.ok_or_else(|| {
        Failure::not_found(format!(
            "no record is called {}, so no entry can be written about it; nothing was changed",
            order.of
        ))
        .hint("close the order without an entry")
    })?;
    Ok(Entry {
        entry: EntryKind::Maintenance,
        id: fresh_id(now),
        of: about.record.name(),
        on: Some(on),
        by: Some(by.to_string()),
        depth: None,
        readings: BTreeMap::new(),
        finds: Vec::new(),
        clears: Vec::new(),
        note: Some(format!("order {}: {what}", order.order)),
    })
}

fn write(store: &mut Store, step: Step, did: &str) -> Result<OrderReport, Failure> {
    let kind = step.stored.record.kind();
    if let Err((why, hint)) = judged(&step.before, &step.after, step.now.date()) {
        return Err(Failure::usage(format!("{why}; nothing was changed")).hint(hint));
    }
    let mut after = step.stored.record.clone();
    if let crate::domain::asset::Record::Order(o) = &mut after {
        *o = step.after;
    }
    let edits = difference(
        after.id(),
        kind,
        &step.stored.record.to_value(),
        &after.to_value(),
    );
    let operation = Operation {
        id: fresh_id(step.now),
        who: step.who.to_string(),
        entered: step.now,
        effective: step.effective,
        why: step.why,
        origin: None,
        undoes: None,
    };
    let entry = step.entry.as_ref().map(|e| e.id.to_string());
    let changes = edits
        .into_iter()
        .map(Change::Edit)
        .chain(step.entry.map(|e| Change::Add(e.into())))
        .map(Ok::<_, StoreError>);
    match store.apply(&operation, changes) {
        Err(StoreError::Conflict { .. }) => {
            return Err(meanwhile(store, &step.stored, &step.before)?);
        }
        other => other?,
    };
    let stored = store
        .by_row(step.stored.rec)?
        .ok_or_else(|| Failure::not_found("the order has just left the register"))?;
    Ok(OrderReport {
        polecard: JSON_VERSION,
        operation: Some(operation.id.to_string()),
        did: did.to_string(),
        order: card_of(store, &stored, step.now.date())?,
        entry,
        notes: Vec::new(),
    })
}

/// Two people on one order: the later one sees what the other did.
fn meanwhile(store: &Store, stored: &Stored, before: &Order) -> Result<Failure, Failure> {
    let mut failure = Failure::unusable(format!(
        "order {} was changed meanwhile; nothing was written",
        before.order
    ));
    if let Some(last) = store.touched(stored.rec, 1)?.pop() {
        let op = last.operation.operation;
        failure = failure.hint(format!("{}, {}: {}", op.who, op.entered.spoken(), op.why));
    }
    Ok(failure.hint("look at it again and choose"))
}
