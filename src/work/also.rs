//! The second identifier of each kind of record: what is read back beside the
//! number, and never repeats it.

use std::collections::HashMap;

use super::Failure;
use super::find::{Also, How, Match};
use crate::domain::asset::{Deployment, Kind, Place, Position, Record, Structure, Unit};
use crate::domain::code::fold;
use crate::store::{Store, Stored};

/// The second identifiers of many records, in their order. Reads positions and
/// structures in batches.
///
/// # Errors
/// Those of the register.
pub fn also(store: &Store, records: &[Stored]) -> Result<Vec<Also>, Failure> {
    let mut places = Places::default();
    places.read_positions(store, records)?;
    places.read_structures(store, records)?;
    Ok(records.iter().map(|s| places.also(&s.record)).collect())
}

/// The second identifier of one record.
///
/// # Errors
/// Those of the register.
pub fn also_of(store: &Store, record: &Stored) -> Result<Also, Failure> {
    Ok(also(store, std::slice::from_ref(record))?
        .pop()
        .unwrap_or_default())
}

/// A match for a record found in some way.
#[must_use]
pub fn matched(stored: &Stored, also: Also, how: How, because: Option<String>) -> Match {
    Match {
        id: stored.record.id().to_string(),
        name: stored.record.name(),
        kind: stored.record.kind(),
        how,
        because,
        also,
        rec: stored.rec,
    }
}

#[derive(Default)]
struct Places {
    /// By folded name.
    positions: HashMap<String, Position>,
    structures: HashMap<String, Structure>,
}

impl Places {
    fn read_positions(&mut self, store: &Store, records: &[Stored]) -> Result<(), Failure> {
        let mut names: Vec<String> = Vec::new();
        for s in records {
            match &s.record {
                Record::Unit(u) => names.extend(present(u).map(|d| d.at.clone())),
                Record::Order(o) => names.push(o.of.clone()),
                Record::Entry(e) => names.push(e.of.clone()),
                _ => {}
            }
        }
        distinct(&mut names);
        for (i, s) in store.present(Kind::Position, &names)? {
            if let Record::Position(p) = s.record {
                self.positions.insert(fold(&names[i]), p);
            }
        }
        Ok(())
    }

    fn read_structures(&mut self, store: &Store, records: &[Stored]) -> Result<(), Failure> {
        let mut names: Vec<String> = self
            .positions
            .values()
            .filter_map(|p| p.structure.clone())
            .collect();
        for s in records {
            match &s.record {
                Record::Position(p) => names.extend(p.structure.clone()),
                Record::Source(r) => names.extend(r.structure.clone()),
                Record::Feeder(f) => names.extend(f.head.clone()),
                Record::Order(o) => names.push(o.of.clone()),
                Record::Span(r) => names.extend([r.span.from.clone(), r.span.to.clone()]),
                _ => {}
            }
        }
        distinct(&mut names);
        for (i, s) in store.present(Kind::Structure, &names)? {
            if let Record::Structure(t) = s.record {
                self.structures.insert(fold(&names[i]), t);
            }
        }
        Ok(())
    }

    fn also(&self, record: &Record) -> Also {
        let mut out = match record {
            Record::Structure(t) => Also {
                class: Some(t.kind.word().to_string()),
                feeder: t.feeder.clone(),
                ..at_place(&t.place)
            },
            Record::Position(p) => self.of_position(p),
            Record::Unit(u) => self.of_unit(u),
            Record::Source(s) => Also {
                class: Some(s.kind.word().to_string()),
                at: s.substation.clone().or_else(|| s.structure.clone()),
                ..self.of_structure(s.structure.as_deref())
            },
            Record::Feeder(f) => Also {
                at: f.source.clone(),
                ..self.of_structure(f.head.as_deref())
            },
            Record::Order(o) => Also {
                class: Some(format!("{}, {}", o.state, o.priority)),
                at: Some(o.of.clone()),
                ..self.of_any(&o.of)
            },
            Record::Entry(e) => Also {
                at: Some(e.of.clone()),
                ..self.of_any(&e.of)
            },
            Record::Span(r) => Also {
                class: r.kind.map(|k| k.word().to_string()),
                feeder: r.feeder.clone(),
                ..self.of_structure(Some(&r.span.from))
            },
            Record::Notice(n) => Also {
                near: Some(short(&n.text)),
                ..Also::default()
            },
            _ => Also::default(),
        };
        let name = fold(&record.name());
        if out.at.as_ref().is_some_and(|at| name.contains(&fold(at))) {
            out.at = None;
        }
        out
    }

    fn of_structure(&self, name: Option<&str>) -> Also {
        name.and_then(|n| self.structures.get(&fold(n)))
            .map(|t| at_place(&t.place))
            .unwrap_or_default()
    }

    fn of_position(&self, p: &Position) -> Also {
        Also {
            class: Some(p.class.word().to_string()),
            feeder: if p.ties.is_empty() {
                p.feeder.clone()
            } else {
                Some(p.ties.join(" and "))
            },
            at: p.structure.clone(),
            ..self.of_structure(p.structure.as_deref())
        }
    }

    fn of_unit(&self, u: &Unit) -> Also {
        let stays: Vec<&Deployment> = present(u).collect();
        let mut out = stays
            .iter()
            .find_map(|d| self.positions.get(&fold(&d.at)))
            .map(|p| self.of_position(p))
            .unwrap_or_default();
        out.class = Some(u.class.word().to_string());
        let at: Vec<String> = stays.iter().map(|d| stay(d)).collect();
        out.at = Some(if at.is_empty() {
            "no place on record".to_string()
        } else {
            at.join(" and ")
        });
        out
    }

    fn of_any(&self, name: &str) -> Also {
        match self.positions.get(&fold(name)) {
            Some(p) => self.of_structure(p.structure.as_deref()),
            None => self.of_structure(Some(name)),
        }
    }
}

/// Stays that have not ended, at positions first.
fn present(u: &Unit) -> impl Iterator<Item = &Deployment> {
    let (at, stored): (Vec<_>, Vec<_>) = u.present().partition(|d| !d.is_store());
    at.into_iter().chain(stored)
}

fn stay(d: &Deployment) -> String {
    match &d.slot {
        // `truck 4` names the truck by itself.
        Some(slot) if d.is_store() && slot.starts_with(&d.at) => slot.clone(),
        Some(slot) => format!("{} {slot}", d.at),
        None => d.at.clone(),
    }
}

fn at_place(place: &Place) -> Also {
    Also {
        road: match (&place.house, &place.road) {
            (Some(house), Some(road)) if !road.starts_with(house) => {
                Some(format!("{house} {road}"))
            }
            (_, road) => road.clone(),
        },
        near: place.near.clone(),
        ..Also::default()
    }
}

fn short(text: &str) -> String {
    let mut out: String = text.chars().take(60).collect();
    if out.len() < text.len() {
        out.push_str(" …");
    }
    out
}

fn distinct(names: &mut Vec<String>) {
    names.sort();
    names.dedup();
}

impl Also {
    /// In words, most telling first: `Tannery Rd, the weir gate, HB2`.
    #[must_use]
    pub fn words(&self) -> String {
        let parts = [&self.class, &self.road, &self.near, &self.at, &self.feeder];
        let parts: Vec<&str> = parts.into_iter().flatten().map(String::as_str).collect();
        parts.join(", ")
    }
}
