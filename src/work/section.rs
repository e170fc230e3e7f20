//! The line around one record: its home feeder's spans, positions and sources,
//! read from the register and walked. Beyond a tie only names are known.

use std::collections::{BTreeSet, HashSet};

use crate::domain::asset::{Kind, Position, Record, Rel, Structure};
use crate::domain::network::{Network, Section, Walk};
use crate::store::{Store, StoreError, Stored};

/// Reads the line at home in a feeder.
///
/// # Errors
/// Those of the register.
pub fn network(store: &Store, home: &str) -> Result<Network, StoreError> {
    section(store, home).map(Network::new)
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
        take(&mut out, records);
    }
    let own_spans = out.spans.len();
    take(&mut out, store.spans_from_elsewhere(home)?);
    let mut known: HashSet<String> = out.positions.iter().map(key).collect();
    let mut ends = BTreeSet::new();
    for span in &out.spans[own_spans..] {
        ends.extend([span.span.from.clone(), span.span.to.clone()]);
    }
    let mut further = store.pointing(Rel::Ties, home)?;
    for end in &ends {
        further.extend(store.pointing(Rel::HangsOn, end)?);
    }
    for stored in further {
        if let Record::Position(p) = stored.record
            && p.class.in_series()
            && known.insert(key(&p))
        {
            out.positions.push(p);
        }
    }
    take(&mut out, store.all(Kind::Feeder)?);
    take(&mut out, store.all(Kind::Source)?);
    take_named_structures(store, &mut out)?;
    Ok(out)
}

fn key(p: &Position) -> String {
    format!("{} {}", p.position, p.id)
}

fn take(out: &mut Section, records: Vec<Stored>) {
    for stored in records {
        match stored.record {
            Record::Structure(r) => out.structures.push(r),
            Record::Span(r) => out.spans.push(r),
            Record::Position(r) => out.positions.push(r),
            Record::Feeder(r) => out.feeders.push(r),
            Record::Source(r) => out.sources.push(r),
            _ => {}
        }
    }
}

/// Structures that spans name but that are at home elsewhere: whether they are
/// in the register, and which circuits they carry.
fn take_named_structures(store: &Store, out: &mut Section) -> Result<(), StoreError> {
    let here: HashSet<&str> = out
        .structures
        .iter()
        .map(|s| s.structure.as_str())
        .collect();
    let mut names: Vec<String> = out
        .spans
        .iter()
        .flat_map(|s| [&s.span.from, &s.span.to])
        .filter(|n| !here.contains(n.as_str()))
        .cloned()
        .collect();
    names.sort();
    names.dedup();
    let mut found: Vec<Structure> = Vec::new();
    for (_, stored) in store.present(Kind::Structure, &names)? {
        if let Record::Structure(s) = stored.record {
            found.push(s);
        }
    }
    let mut seen: HashSet<String> = out.structures.iter().map(|s| s.structure.clone()).collect();
    found.retain(|s| seen.insert(s.structure.clone()));
    out.structures.extend(found);
    Ok(())
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
pub fn walk(store: &Store, p: &Position) -> Result<(Walk, Option<Network>), StoreError> {
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
