//! Opening an order: its number, and whether the work is on order already.

use super::super::conclude::limits;
use super::super::facts::{means, pointing_at};
use super::super::related::related;
use super::super::{Failure, JSON_VERSION, resolve_among};
use super::{OrderReport, card_of, is_equipment};
use crate::calendar::{Date, Moment};
use crate::domain::asset::{Kind, Order, OrderState, Priority, Record, RecordId, Rel};
use crate::domain::change::{Change, Operation};
use crate::domain::order::{alike, is_closed, next_number};
use crate::role::harmless;
use crate::store::{Store, Stored, fresh_id};

/// An order to be opened.
#[derive(Debug, Clone, PartialEq)]
pub struct NewOrder {
    /// The record it is about: any name that finds one.
    pub of: String,
    /// What is needed, in words.
    pub need: String,
    pub priority: Priority,
    /// By when; not before today. By default as its priority asks.
    pub due: Option<Date>,
    /// To whom it is given; it is then assigned at once.
    pub who: Option<String>,
    /// The entry it follows from.
    pub from_entry: Option<RecordId>,
    pub note: Option<String>,
}

/// How often the number is sought again when somebody else wrote meanwhile.
const TRIES: usize = 100;

/// Opens an order with the next free number in the register's own style. When
/// an alike order on the same record (or on the unit or position that goes
/// with it) is not closed yet, nothing is written: the report then shows that
/// order, has no operation, and says so in its notes.
///
/// # Errors
/// Usage, when the need is blank or the day lies in the past; not found; those
/// of the register. Nothing is written then.
pub fn open_order(
    store: &mut Store,
    new: &NewOrder,
    who: &str,
    now: Moment,
) -> Result<OrderReport, Failure> {
    opened(store, new, who, now, false)
}

/// [`open_order`], also when an alike order is open; the notes name it.
///
/// # Errors
/// As [`open_order`].
pub fn open_another(
    store: &mut Store,
    new: &NewOrder,
    who: &str,
    now: Moment,
) -> Result<OrderReport, Failure> {
    opened(store, new, who, now, true)
}

fn opened(
    store: &mut Store,
    new: &NewOrder,
    who: &str,
    now: Moment,
    another: bool,
) -> Result<OrderReport, Failure> {
    let need = sensible(new, now.date())?;
    for _ in 0..TRIES {
        let seen = store.head()?.seq;
        let found = resolve_among(store, &new.of, &[])?;
        if matches!(found.stored.record.kind(), Kind::Order | Kind::Entry) {
            return Err(Failure::usage(format!(
                "{} is {}; an order is opened on the equipment it is about",
                found.stored.record.name(),
                crate::domain::asset::an(found.stored.record.kind())
            )));
        }
        let open = open_alike(store, &found.stored, &need)?;
        let mut notes: Vec<String> = found.note.into_iter().collect();
        if let (Some(first), false) = (open.first(), another) {
            return already(store, first, new, notes, now.date());
        }
        notes.extend(open.iter().filter_map(alike_note));
        let (due, by_default) = due_day(store, new, now.date())?;
        notes.extend(by_default);
        let order = Order {
            due,
            ..order(store, &found.stored, new, &need, now)?
        };
        let operation = operation(&order, who, now);
        let id = order.id;
        let mut writer = store.writer()?;
        if writer.tail()?.0 != seen {
            // Somebody wrote meanwhile: the number may be taken, the work ordered.
            continue;
        }
        writer.operation::<_, Failure>(&operation, [Ok(Change::Add(order.into()))])?;
        writer.commit()?;
        let stored = store
            .by_id(id)?
            .ok_or_else(|| Failure::not_found("the order has just left the register"))?;
        return Ok(OrderReport {
            polecard: JSON_VERSION,
            operation: Some(operation.id.to_string()),
            did: "opened".to_string(),
            order: card_of(store, &stored, now.date())?,
            entry: None,
            notes,
        });
    }
    Err(
        Failure::unusable("others write without a pause; the order was not opened")
            .hint("try again; nothing was changed"),
    )
}

fn sensible(new: &NewOrder, today: Date) -> Result<String, Failure> {
    let need = new.need.split_whitespace().collect::<Vec<_>>().join(" ");
    if need.is_empty() {
        return Err(Failure::usage("an order needs a word of what is needed")
            .hint("say what is to be done: need=\"restore the pole ground\""));
    }
    if let Some(due) = new.due.filter(|due| *due < today) {
        return Err(Failure::usage(format!(
            "due {due} lies in the past; today is {today}"
        )));
    }
    Ok(harmless(&need).into_owned())
}

fn text(value: Option<&String>) -> Option<String> {
    value
        .map(|t| harmless(t.trim()).into_owned())
        .filter(|t| !t.is_empty())
}

fn order(
    store: &Store,
    about: &Stored,
    new: &NewOrder,
    need: &str,
    now: Moment,
) -> Result<Order, Failure> {
    let given = text(new.who.as_ref());
    Ok(Order {
        order: free_number(store, now.date())?,
        id: fresh_id(now),
        of: about.record.name(),
        state: if given.is_some() {
            OrderState::Assigned
        } else {
            OrderState::Open
        },
        priority: new.priority,
        need: need.to_string(),
        opened: Some(now.date()),
        due: new.due,
        closed: None,
        who: given,
        from_entry: new.from_entry,
        note: text(new.note.as_ref()),
    })
}

/// The next number that no order has had and no other record is called by.
fn free_number(store: &Store, today: Date) -> Result<String, Failure> {
    let mut taken: Vec<(String, Option<Date>)> = store
        .all(Kind::Order)?
        .into_iter()
        .filter_map(|s| match s.record {
            Record::Order(o) => Some((o.order, o.opened)),
            _ => None,
        })
        .collect();
    loop {
        let number = next_number(&taken, today);
        if store.named(&number)?.is_empty() {
            return Ok(number);
        }
        taken.push((number, Some(today)));
    }
}

/// The day given, else the one by default of its priority, with the sentence
/// that says so.
fn due_day(
    store: &Store,
    new: &NewOrder,
    today: Date,
) -> Result<(Option<Date>, Option<String>), Failure> {
    if new.due.is_some() {
        return Ok((new.due, None));
    }
    let name = format!("order_{}_days", new.priority);
    let Some((days, source, _)) = limits(store)?.get(&name) else {
        return Ok((None, None));
    };
    #[expect(
        clippy::cast_possible_truncation,
        clippy::cast_sign_loss,
        reason = "the limit's bounds"
    )]
    let days = days as u32;
    let due = today.plus_days(days);
    let said = format!(
        "due {} because it is {}: {name} = {days} ({source})",
        due.spoken(),
        new.priority
    );
    Ok((Some(due), Some(said)))
}

fn operation(order: &Order, who: &str, now: Moment) -> Operation {
    let given = order
        .who
        .as_ref()
        .map_or(String::new(), |to| format!(", given to {to}"));
    Operation {
        id: fresh_id(now),
        who: who.to_string(),
        entered: now,
        effective: None,
        why: format!(
            "order {} opened on {}: {}{given}",
            order.order, order.of, order.need
        ),
        origin: None,
        undoes: None,
    }
}

/// Orders not closed yet on the record, or on the unit or position that goes
/// with it, whose need is alike.
fn open_alike(store: &Store, about: &Stored, need: &str) -> Result<Vec<Stored>, Failure> {
    let mut records = vec![about.clone()];
    if is_equipment(about.record.kind()) {
        for m in related(store, about)? {
            let goes_with = matches!(
                (about.record.kind(), m.kind),
                (Kind::Unit, Kind::Position) | (Kind::Position, Kind::Unit)
            );
            if goes_with {
                records.extend(store.by_row(m.rec)?);
            }
        }
    }
    let mut out: Vec<Stored> = Vec::new();
    for record in &records {
        for found in pointing_at(store, Rel::About, record)? {
            let Record::Order(o) = &found.record else {
                continue;
            };
            if !is_closed(o.state) && alike(&o.need, need) && means(store, &o.of, record.rec)? {
                out.push(found);
            }
        }
    }
    Ok(out)
}

fn alike_note(stored: &Stored) -> Option<String> {
    let Record::Order(o) = &stored.record else {
        return None;
    };
    let due = o
        .due
        .map_or("no day set".to_string(), |d| format!("due {}", d.spoken()));
    Some(format!(
        "order {} on {} is {} already: {} ({}, {due})",
        o.order, o.of, o.state, o.need, o.priority
    ))
}

fn already(
    store: &Store,
    first: &Stored,
    new: &NewOrder,
    mut notes: Vec<String>,
    today: Date,
) -> Result<OrderReport, Failure> {
    notes.extend(alike_note(first));
    notes.push("no second order was opened for what looks like the same work".to_string());
    if let Record::Order(o) = &first.record
        && new.priority < o.priority
    {
        notes.push(format!(
            "you asked for {}, and order {} is {}: raise it if that is right",
            new.priority, o.order, o.priority
        ));
    }
    Ok(OrderReport {
        polecard: JSON_VERSION,
        operation: None,
        did: "open already".to_string(),
        order: card_of(store, first, today)?,
        entry: None,
        notes,
    })
}
