//! Which of what is due has an order already.

use std::collections::HashMap;

use super::Item;
use crate::domain::asset::{Defect, Kind, Record};
use crate::domain::code::fold;
use crate::domain::order::{alike, is_closed};
use crate::domain::upkeep::interval::What;
use crate::store::{Store, StoreError};

/// Puts beside each item the order, not closed, that speaks of the same work on
/// its record or the unit there.
pub(super) fn mark(store: &Store, items: &mut [Item]) -> Result<(), StoreError> {
    if items.is_empty() {
        return Ok(());
    }
    let mut open: HashMap<String, Vec<(String, String)>> = HashMap::new();
    for stored in store.all(Kind::Order)? {
        if let Record::Order(o) = stored.record
            && !is_closed(o.state)
        {
            open.entry(fold(&o.of)).or_default().push((o.order, o.need));
        }
    }
    for item in items {
        let names = [Some(&item.record), item.unit.as_ref()];
        let of = names
            .into_iter()
            .flatten()
            .filter_map(|n| open.get(&fold(n)));
        let found = of
            .flatten()
            .find(|(_, need)| speaks_of(need, item))
            .map(|(order, _)| order.clone());
        item.order = found;
    }
    Ok(())
}

/// Whether an order's need is that of the item: the same words, or a defect by
/// its name.
fn speaks_of(need: &str, item: &Item) -> bool {
    let need = need.to_lowercase();
    if item.what == What::Repair {
        return Defect::WORDS
            .iter()
            .filter(|d| item.why.contains(*d))
            .any(|d| need.replace(" the ", " ").contains(d));
    }
    need.contains(item.what.word()) || alike(&need, &item.need())
}
