//! Lists of orders: overdue first, then by priority and day.

use std::cmp::Reverse;

use serde::Serialize;

use super::super::facts::{means, pointing_at};
use super::super::related::related;
use super::super::{Failure, JSON_VERSION, is_demo, resolve_among};
use super::{OrderCard, cards};
use crate::calendar::Date;
use crate::domain::asset::{Kind, OrderState, Priority, Record, Rel};
use crate::domain::order::{is_closed, is_overdue};
use crate::store::{Store, Stored};

/// Which orders are wanted; every given limit must be met.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Filter {
    /// Orders on records at home in a feeder.
    pub feeder: Option<String>,
    /// In this state; those that are not closed if absent.
    pub state: Option<OrderState>,
    /// Closed ones too.
    pub all: bool,
    /// Given to, or done by.
    pub who: Option<String>,
    /// Due on or before a day.
    pub due: Option<Date>,
    /// Only those whose day has passed.
    pub overdue: bool,
    pub priority: Option<Priority>,
    /// Orders on one record, and on what goes with it.
    pub of: Option<String>,
}

/// The orders asked for; its JSON is the document printed.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct OrdersReport {
    pub polecard: u32,
    /// The utility is made up.
    pub demo: bool,
    pub orders: Vec<OrderCard>,
    /// How many are overdue.
    pub overdue: usize,
    /// The limits in words; empty when none was given.
    #[serde(skip)]
    pub asked: String,
}

/// The orders asked for: overdue ones first, then by priority, day and number.
///
/// # Errors
/// Not found, when the record or the feeder is; those of the register.
pub fn list(store: &Store, filter: &Filter, today: Date) -> Result<OrdersReport, Failure> {
    let feeder = filter
        .feeder
        .as_ref()
        .map(|f| resolve_among(store, f, &[Kind::Feeder]))
        .transpose()?
        .map(|f| f.stored.record.name());
    let mut found = match &filter.of {
        Some(of) => {
            let about = resolve_among(store, of, &[])?.stored;
            orders_around(store, &about)?
        }
        None => store.all(Kind::Order)?,
    };
    found.retain(|s| wanted(s, filter, today));
    let mut orders = cards(store, &found, today)?;
    orders.retain(|o| feeder.is_none() || at_home(o, feeder.as_deref()));
    let asked = words(filter, feeder.as_deref());
    Ok(report(is_demo(store)?, orders, asked))
}

/// The orders on one record and on what goes with it, that are not closed.
///
/// # Errors
/// Those of the register.
pub fn orders_of(store: &Store, about: &Stored, today: Date) -> Result<OrdersReport, Failure> {
    let mut found = orders_around(store, about)?;
    found.retain(|s| matches!(&s.record, Record::Order(o) if !is_closed(o.state)));
    let orders = cards(store, &found, today)?;
    Ok(report(
        is_demo(store)?,
        orders,
        format!("on {}", about.record.name()),
    ))
}

fn report(demo: bool, mut orders: Vec<OrderCard>, asked: String) -> OrdersReport {
    orders.sort_by_cached_key(|o| {
        (
            o.overdue_days.is_none(),
            Priority::from_word(&o.priority),
            o.due.is_none(),
            o.due,
            Reverse(o.closed),
            o.order.len(),
            o.order.clone(),
        )
    });
    OrdersReport {
        polecard: JSON_VERSION,
        demo,
        overdue: orders.iter().filter(|o| o.overdue_days.is_some()).count(),
        orders,
        asked,
    }
}

/// Orders on a record; on a structure also those of what hangs there, on a
/// position those of its units, on a unit those of the position it is at.
fn orders_around(store: &Store, about: &Stored) -> Result<Vec<Stored>, Failure> {
    let mut records = vec![about.clone()];
    let mut hung = Vec::new();
    for m in related(store, about)? {
        let goes_with = matches!(
            (about.record.kind(), m.kind),
            (Kind::Unit, Kind::Position)
                | (Kind::Position, Kind::Unit)
                | (Kind::Structure, Kind::Position)
        );
        if goes_with {
            hung.extend(store.by_row(m.rec)?);
        }
    }
    if about.record.kind() == Kind::Structure {
        let mut units = Vec::new();
        for position in &hung {
            units.extend(store.pointing(Rel::DeployedAt, &position.record.name())?);
        }
        hung.extend(units);
    }
    records.extend(hung);
    let mut out: Vec<Stored> = Vec::new();
    for record in &records {
        for found in pointing_at(store, Rel::About, record)? {
            if let Record::Order(o) = &found.record
                && means(store, &o.of, record.rec)?
                && !out.iter().any(|s| s.rec == found.rec)
            {
                out.push(found);
            }
        }
    }
    Ok(out)
}

fn wanted(stored: &Stored, filter: &Filter, today: Date) -> bool {
    let Record::Order(o) = &stored.record else {
        return false;
    };
    let state = match filter.state {
        Some(state) => o.state == state,
        None => filter.all || !is_closed(o.state),
    };
    let who = filter.who.as_ref().is_none_or(|who| {
        o.who
            .as_ref()
            .is_some_and(|w| w.trim().eq_ignore_ascii_case(who.trim()))
    });
    state
        && who
        && filter.priority.is_none_or(|p| o.priority == p)
        && filter
            .due
            .is_none_or(|day| o.due.is_some_and(|due| due <= day))
        && (!filter.overdue || is_overdue(o, today))
}

/// A tie is at home in each of its feeders.
fn at_home(order: &OrderCard, feeder: Option<&str>) -> bool {
    match (&order.feeder, feeder) {
        (Some(home), Some(feeder)) => home.split(" and ").any(|h| h == feeder),
        _ => false,
    }
}

fn words(filter: &Filter, feeder: Option<&str>) -> String {
    let mut out: Vec<String> = Vec::new();
    match filter.state {
        Some(state) => out.push(state.word().to_string()),
        None if filter.all => out.push("open and closed".to_string()),
        None => {}
    }
    out.extend(filter.priority.map(|p| p.word().to_string()));
    if filter.overdue {
        out.push("overdue".to_string());
    }
    out.extend(feeder.map(|f| format!("on {f}")));
    out.extend(filter.of.as_ref().map(|o| format!("on {o}")));
    out.extend(filter.who.as_ref().map(|w| format!("given to {w}")));
    out.extend(filter.due.map(|d| format!("due by {}", d.spoken())));
    out.join(", ")
}
