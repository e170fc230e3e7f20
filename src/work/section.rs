//! The line around one record: its home feeder's spans, positions and sources,
//! read from the register and walked. Beyond a tie only names are known.

use std::collections::{BTreeMap, BTreeSet, HashSet};
use std::sync::Arc;

use crate::domain::asset::{Kind, Position, Record, Rel, Structure};
use crate::domain::code::fold;
use crate::domain::network::{Network, Section, Walk};
use crate::store::{Store, StoreError, Stored};

/// The graph of the line at home in a feeder, for a walk. It is built from what
/// a walk reads and no more; to judge the records themselves see [`section`].
///
/// # Errors
/// Those of the register.
pub fn network(store: &Store, home: &str) -> Result<Arc<Network>, StoreError> {
    store.walked(home, || line(store, home).map(Network::new))
}

/// [`section`] as far as a walk reads it: structures and spans without what is
/// not about the line, the feeder itself, and the sources that stand at its line or feed it.
fn line(store: &Store, home: &str) -> Result<Section, StoreError> {
    let wires = store.wires(home)?;
    let own: HashSet<i64> = wires.iter().map(|(rec, _)| *rec).collect();
    let mut out = Section {
        home: Some(home.to_string()),
        structures: store.stations(home)?,
        spans: wires.into_iter().map(|(_, span)| span).collect(),
        ..Section::default()
    };
    take(&mut out, store.at_home(Some(home), Kind::Position)?);
    let own_spans = out.spans.len();
    let further = store.wires_from_elsewhere(home, &out.structures, &own)?;
    take(&mut out, further);
    take_devices_beside(store, home, own_spans, &mut out)?;
    take_named_structures(store, &mut out)?;
    take_feed(store, home, &mut out)?;
    Ok(out)
}

/// The feeder and the sources that matter to its line: its own, and those at a
/// structure that is named there.
fn take_feed(store: &Store, home: &str, out: &mut Section) -> Result<(), StoreError> {
    let mut sources: BTreeMap<(String, i64), Stored> = BTreeMap::new();
    let mut put = |stored: Stored| {
        sources.insert((stored.record.name(), stored.rec), stored);
    };
    let mut feeders = store.present(Kind::Feeder, &[home.to_string()])?;
    feeders.sort_by_key(|(_, s)| s.rec);
    for (_, stored) in feeders {
        if let Record::Feeder(f) = &stored.record
            && f.feeder == home
        {
            for (_, source) in store.present(Kind::Source, f.source.as_slice())? {
                put(source);
            }
            out.feeders.push(f.clone());
        }
    }
    let mut named: HashSet<String> = HashSet::new();
    for s in &out.structures {
        named.insert(fold(&s.structure));
        named.extend(s.names.iter().map(|n| fold(&n.text)));
    }
    named.extend(
        out.spans
            .iter()
            .flat_map(|s| [fold(&s.span.from), fold(&s.span.to)]),
    );
    let hung = out.positions.iter().filter_map(|p| p.structure.as_deref());
    named.extend(hung.map(fold));
    store.sources_at(&named)?.into_iter().for_each(put);
    take(out, sources.into_values().collect());
    Ok(())
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
    take_devices_beside(store, home, own_spans, &mut out)?;
    take(&mut out, store.all(Kind::Feeder)?);
    take(&mut out, store.all(Kind::Source)?);
    take_named_structures(store, &mut out)?;
    Ok(out)
}

/// Devices of others that stand in this line: ties to it, and those at the ends
/// of the spans of others, which begin at `own_spans`.
fn take_devices_beside(
    store: &Store,
    home: &str,
    own_spans: usize,
    out: &mut Section,
) -> Result<(), StoreError> {
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
    Ok(())
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
pub fn walk(store: &Store, p: &Position) -> Result<(Walk, Option<Arc<Network>>), StoreError> {
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
