//! Orders that are not closed when a unit leaves or comes: what they concern,
//! and where they stay.

use serde::Serialize;

use super::super::conclude::entries_of;
use super::super::facts::{means, pointing_at};
use super::super::repoint::edits;
use super::{Piece, Place};
use crate::domain::asset::{Order, Record, Rel};
use crate::domain::change::Change;
use crate::domain::order::is_closed;
use crate::store::{Store, StoreError, Stored};

/// An order that is not closed, and what becomes of it.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct OpenOrder {
    pub order: String,
    pub state: String,
    pub need: String,
    /// The unit or the position that it concerns once the swap is written.
    pub of: String,
    /// `goes with the unit 7-20931`, `stays with the place HB2-RC-14`.
    pub stays: String,
}

/// The orders, and the changes that keep those of the unit with the unit.
#[derive(Default)]
pub(super) struct Open {
    pub orders: Vec<OpenOrder>,
    pub changes: Vec<Change>,
}

/// Orders on the place, on the unit that leaves and on the one that comes. One
/// that was made at the place of an entry about the unit that leaves concerns
/// that unit, and goes with it.
pub(super) fn orders(
    store: &Store,
    place: &Place,
    (out, into): (Option<&Piece>, Option<&Piece>),
) -> Result<Open, StoreError> {
    let mut open = Open::default();
    let mut of_unit = Vec::new();
    if let Some(out) = out {
        of_unit = entries_of(store, &out.stored)?
            .into_iter()
            .map(|(_, e)| e.id)
            .collect();
        let stays = format!("goes with the unit {}", out.unit.unit);
        for (_, o) in not_closed(store, &out.stored)? {
            open.orders.push(line(&o, &out.unit.unit, stays.clone()));
        }
    }
    if let Some(into) = into {
        let stays = format!("comes with the unit {}", into.unit.unit);
        for (_, o) in not_closed(store, &into.stored)? {
            open.orders.push(line(&o, &into.unit.unit, stays.clone()));
        }
    }
    for (stored, o) in not_closed(store, &place.stored)? {
        let made_of_unit = o.from_entry.is_some_and(|e| of_unit.contains(&e));
        if let (true, Some(out)) = (made_of_unit, out) {
            let name = &out.unit.unit;
            let after = Order {
                of: name.clone(),
                ..o.clone()
            };
            open.changes.extend(edits(&stored.record, &after.into()));
            let stays = format!("was on the place; made of the unit {name}, goes with it");
            open.orders.push(line(&o, name, stays));
        } else {
            let name = &place.position.position;
            let stays = format!("stays with the place {name}");
            open.orders.push(line(&o, name, stays));
        }
    }
    Ok(open)
}

fn line(o: &Order, of: &str, stays: String) -> OpenOrder {
    OpenOrder {
        order: o.order.clone(),
        state: o.state.word().to_string(),
        need: o.need.clone(),
        of: of.to_string(),
        stays,
    }
}

fn not_closed(store: &Store, about: &Stored) -> Result<Vec<(Stored, Order)>, StoreError> {
    let mut out = Vec::new();
    for found in pointing_at(store, Rel::About, about)? {
        let Record::Order(o) = &found.record else {
            continue;
        };
        if !is_closed(o.state) && means(store, &o.of, about.rec)? {
            let o = o.clone();
            out.push((found, o));
        }
    }
    out.sort_by(|(_, a), (_, b)| a.order.cmp(&b.order));
    Ok(out)
}
