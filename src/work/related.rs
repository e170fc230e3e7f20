//! What hangs on a record, where it hangs, and the units at it.

use super::Failure;
use super::also::{also, matched};
use super::find::{How, Match};
use crate::domain::asset::{Kind, Record, Rel};
use crate::store::{Store, Stored};

/// The records one step away: of a structure the positions on it; of a
/// position its structure and the units at it; of a unit the positions where
/// it is; of an order or entry what it is about.
///
/// # Errors
/// Those of the register.
pub fn related(store: &Store, of: &Stored) -> Result<Vec<Match>, Failure> {
    let name = of.record.name();
    let mut found = match &of.record {
        Record::Structure(_) => store.pointing(Rel::HangsOn, &name)?,
        Record::Position(p) => {
            let mut out = called(store, Kind::Structure, p.structure.as_slice())?;
            out.extend(store.pointing(Rel::DeployedAt, &name)?);
            out
        }
        Record::Unit(_) => positions_of_unit(store, of)?,
        Record::Order(o) => any_called(store, &o.of)?,
        Record::Entry(e) => any_called(store, &e.of)?,
        Record::Source(s) => called(store, Kind::Structure, s.structure.as_slice())?,
        Record::Feeder(f) => {
            let mut out = called(store, Kind::Source, f.source.as_slice())?;
            out.extend(called(store, Kind::Structure, f.head.as_slice())?);
            out
        }
        Record::Span(s) => called(
            store,
            Kind::Structure,
            &[s.span.from.clone(), s.span.to.clone()],
        )?,
        _ => Vec::new(),
    };
    let mut seen = std::collections::HashSet::from([of.rec]);
    found.retain(|s| seen.insert(s.rec));
    let second = also(store, &found)?;
    Ok(found
        .iter()
        .zip(second)
        .map(|(stored, also)| matched(stored, also, How::Exact, None))
        .collect())
}

/// The one position that a record is or is at: a position itself, or where a
/// unit is now.
///
/// # Errors
/// When the record is of another kind, or its unit is at no position or at
/// several; those of the register.
pub fn position_of(store: &Store, record: &Stored) -> Result<Stored, Failure> {
    let name = record.record.name();
    match &record.record {
        Record::Position(_) => Ok(record.clone()),
        Record::Unit(_) => {
            let mut at = positions_of_unit(store, record)?;
            match (at.pop(), at.is_empty()) {
                (Some(one), true) => Ok(one),
                (None, _) => Err(Failure::not_found(format!(
                    "{name} is at no position on record"
                ))),
                (Some(_), false) => Err(Failure::not_found(format!(
                    "{name} is recorded at more than one position"
                ))
                .hint("o lists them; open one and check there")),
            }
        }
        other => Err(Failure::not_found(format!(
            "{name} is {}, and only a position can be checked",
            crate::domain::asset::an(other.kind())
        ))),
    }
}

fn positions_of_unit(store: &Store, unit: &Stored) -> Result<Vec<Stored>, Failure> {
    let Record::Unit(u) = &unit.record else {
        return Ok(Vec::new());
    };
    let names: Vec<String> = u
        .present()
        .filter(|d| !d.is_store())
        .map(|d| d.at.clone())
        .collect();
    let mut out = called(store, Kind::Position, &names)?;
    out.dedup_by_key(|s| s.rec);
    Ok(out)
}

fn called(store: &Store, kind: Kind, names: &[String]) -> Result<Vec<Stored>, Failure> {
    let found = store.present(kind, names)?;
    Ok(found.into_iter().map(|(_, stored)| stored).collect())
}

fn any_called(store: &Store, name: &str) -> Result<Vec<Stored>, Failure> {
    let hits = store.named(name)?;
    let rows: Vec<i64> = hits.iter().filter(|h| h.rank == 0).map(|h| h.rec).collect();
    Ok(store.by_rows(&rows)?)
}
