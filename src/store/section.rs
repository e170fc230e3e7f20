//! The records of one feeder's line: its own, those of others that touch it,
//! and what feeds it.

use std::collections::{BTreeMap, BTreeSet, HashSet};

use super::{Store, StoreError, Stored};
use crate::domain::asset::{Kind, Position, Record, Rel, Standing, Structure};
use crate::domain::code::fold;
use crate::domain::network::{ConnectedKva, Phases, Section};

/// The records of a feeder's line as far as a walk reads them: structures and spans without what is
/// not about the line, the feeder itself, and the sources that stand at its line or feed it.
pub(super) fn line(store: &Store, home: &str) -> Result<Section, StoreError> {
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

/// Devices of others that stand in this line: ties to it, and those at the ends
/// of the spans of others, which begin at `own_spans`.
///
/// # Errors
/// The disk's, or a damaged record.
pub fn take_devices_beside(
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

/// Sorts records into a section.
pub fn take(out: &mut Section, records: Vec<Stored>) {
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
///
/// # Errors
/// The disk's, or a damaged record.
pub fn take_named_structures(store: &Store, out: &mut Section) -> Result<(), StoreError> {
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

/// What the transformers deployed at a position are rated.
pub(super) fn connected(store: &Store, p: &Position) -> Result<ConnectedKva, StoreError> {
    let mut out = ConnectedKva::default();
    let mut any = false;
    for stored in store.pointing(Rel::DeployedAt, &p.position)? {
        let Record::Unit(unit) = stored.record else {
            continue;
        };
        let here = |at: &str| at == p.position || fold(at) == fold(&p.position);
        for stay in unit.present().filter(|d| here(&d.at)) {
            any = true;
            let slot = Phases::named(stay.slot.as_deref().unwrap_or(""));
            let phases = if slot.is_none() {
                Phases::named(p.phases.as_deref().unwrap_or(""))
            } else {
                slot
            };
            let kva = unit.nameplate.stated("kva");
            match kva.as_number() {
                Some(n) => {
                    out.add(n, phases);
                    if kva.standing == Standing::Assumed {
                        out.assumed += n;
                    }
                }
                None => out.unread_units += 1,
            }
        }
    }
    out.without_unit += usize::from(!any);
    Ok(out)
}
