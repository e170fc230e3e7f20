//! The line around one record: its home feeder's spans, positions and sources,
//! read from the register and walked. Beyond a tie only names are known.

use std::collections::BTreeSet;
use std::sync::Arc;

use crate::domain::asset::{Kind, Position, Rel, Structure};
use crate::domain::network::{Line, Section, Walk};
use crate::store::{Store, StoreError, Stored, section as read};

/// The line at home in a feeder, for walks; to judge the records themselves see
/// [`section`].
///
/// # Errors
/// Those of the register.
pub fn network(store: &Store, home: &str) -> Result<Arc<Line>, StoreError> {
    store.line(home)
}

/// The records of the line at home in a feeder: its own, the spans of others
/// that touch it, and the devices that stand in those.
///
/// # Errors
/// Those of the register.
pub fn section(store: &Store, home: &str) -> Result<Section, StoreError> {
    section_seen(store, home, &mut |_| Ok(()))
}

/// [`section`], showing each record at home there on the way.
///
/// # Errors
/// Those of the register, or what `seen` returns.
pub fn section_seen<E: From<StoreError>>(
    store: &Store,
    home: &str,
    seen: &mut dyn FnMut(&Stored) -> Result<(), E>,
) -> Result<Section, E> {
    let mut out = Section {
        home: Some(home.to_string()),
        ..Section::default()
    };
    for kind in [Kind::Structure, Kind::Span, Kind::Position] {
        let records = store.at_home(Some(home), kind)?;
        records.iter().try_for_each(&mut *seen)?;
        read::take(&mut out, records);
    }
    let own_spans = out.spans.len();
    read::take(&mut out, store.spans_from_elsewhere(home)?);
    read::take_devices_beside(store, home, own_spans, &mut out)?;
    read::take(&mut out, store.all(Kind::Feeder)?);
    read::take(&mut out, store.all(Kind::Source)?);
    read::take_named_structures(store, &mut out)?;
    Ok(out)
}

/// The feeder in whose file a position's line lies: its own, a tie's first,
/// or its structure's.
///
/// # Errors
/// Those of the register.
pub fn home_of(store: &Store, p: &Position) -> Result<Option<String>, StoreError> {
    if let Some(home) = p.feeder.as_ref().or(p.ties.first()) {
        return Ok(Some(home.clone()));
    }
    Ok(
        super::facts::structure_of(store, p)?
            .and_then(|s| s.record.home().map(ToString::to_string)),
    )
}

/// The walk of a position, with the line that it was walked on.
///
/// # Errors
/// Those of the register.
pub fn walk(store: &Store, p: &Position) -> Result<(Walk, Option<Arc<Line>>), StoreError> {
    let Some(home) = home_of(store, p)? else {
        return Ok((
            Walk::unknown("its home feeder is not recorded, so its line is not walked"),
            None,
        ));
    };
    let net = network(store, &home)?;
    let walk = net.walk(&p.position);
    Ok((walk, Some(net)))
}

/// Feeders whose line may touch a structure: of its circuits and its spans.
///
/// # Errors
/// Those of the register.
pub fn homes_at(store: &Store, s: &Structure) -> Result<Vec<String>, StoreError> {
    let mut homes: BTreeSet<String> = s.circuits.iter().cloned().collect();
    homes.extend(s.feeder.clone());
    for rel in [Rel::SpanFrom, Rel::SpanTo] {
        for stored in store.pointing(rel, &s.structure)? {
            homes.extend(stored.record.home().map(ToString::to_string));
        }
    }
    Ok(homes.into_iter().collect())
}
