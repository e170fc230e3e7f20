//! What intervals are held against: structures and positions with their units
//! and what is written about them, a feeder at a time.

use std::collections::HashMap;

use super::super::conclude::entries_of;
use super::super::facts::{means, pointing_at, structure_of};
use super::super::find::Also;
use crate::calendar::Date;
use crate::domain::asset::{
    Entry, Kind, Place, Position, Record, RecordId, Rel, Structure, StructureKind, Unit,
};
use crate::domain::code::fold;
use crate::store::{PointsAt, Store, StoreError, Stored};

type Entries = HashMap<i64, Vec<(i64, Entry)>>;

/// A unit in a slot of a position.
struct Standing {
    rec: i64,
    unit: Unit,
    slot: Option<String>,
    from: Option<Date>,
}

/// The records at home in one feeder, or around one record.
#[derive(Default)]
pub(super) struct Home {
    structures: Vec<(i64, Structure)>,
    positions: Vec<(i64, Position)>,
    /// Structures that are looked up only, by folded name.
    lookup: HashMap<String, Structure>,
    units: HashMap<i64, Vec<Standing>>,
    entries: Entries,
}

/// One thing that intervals are held against.
pub(super) struct Thing<'h> {
    pub rec: i64,
    /// Permanent id of the record.
    pub id_of_record: RecordId,
    /// Its own id where the record has several units.
    pub id: RecordId,
    pub name: String,
    pub kind: Kind,
    pub class: &'static str,
    pub at: Option<StructureKind>,
    pub feeder: Option<String>,
    pub unit: Option<&'h Unit>,
    pub slot: Option<String>,
    pub position: Option<&'h Position>,
    pub material: Option<&'h str>,
    pub begun: Option<Date>,
    pub entries: Vec<(i64, &'h Entry)>,
    pub also: Also,
}

impl Home {
    /// Everything at home in a feeder.
    pub fn of(store: &Store, home: Option<&str>, today: Date) -> Result<Home, StoreError> {
        let mut out = Home::default();
        for stored in store.at_home(home, Kind::Structure)? {
            if let Record::Structure(s) = stored.record {
                out.structures.push((stored.rec, s));
            }
        }
        for stored in store.at_home(home, Kind::Position)? {
            if let Record::Position(p) = stored.record {
                out.positions.push((stored.rec, p));
            }
        }
        for found in store.units_at_home(home)? {
            let Some((_, p)) = out.positions.iter().find(|(rec, _)| *rec == found.rec) else {
                continue;
            };
            let names = names(p);
            if let Record::Unit(unit) = found.stored.record {
                let list = out.units.entry(found.rec).or_default();
                stays(list, found.stored.rec, &unit, &names);
            }
        }
        for found in store.entries_at_home(home)? {
            take(store, &mut out.entries, found, today)?;
        }
        for found in store.unit_entries_at_home(home)? {
            take(store, &mut out.entries, found, today)?;
        }
        out.look_up(store)?;
        Ok(out)
    }

    /// One record with what goes with it.
    pub fn around(store: &Store, stored: &Stored, today: Date) -> Result<Home, StoreError> {
        let mut out = Home::default();
        let mut only = None;
        let positions = match &stored.record {
            Record::Structure(s) => {
                out.written(store, stored, today)?;
                out.structures.push((stored.rec, s.clone()));
                pointing_at(store, Rel::HangsOn, stored)?
            }
            Record::Unit(u) => {
                only = Some(stored.rec);
                let at: Vec<String> = u
                    .present()
                    .filter(|d| !d.is_store())
                    .map(|d| d.at.clone())
                    .collect();
                let found = store.present(Kind::Position, &at)?;
                found.into_iter().map(|(_, s)| s).collect()
            }
            Record::Position(_) => vec![stored.clone()],
            _ => Vec::new(),
        };
        for found in positions {
            let Record::Position(p) = &found.record else {
                continue;
            };
            out.written(store, &found, today)?;
            for unit in pointing_at(store, Rel::DeployedAt, &found)? {
                if only.is_some_and(|rec| rec != unit.rec) {
                    continue;
                }
                if let Record::Unit(u) = &unit.record {
                    let list = out.units.entry(found.rec).or_default();
                    stays(list, unit.rec, u, &names(p));
                }
                out.written(store, &unit, today)?;
            }
            if let Some(Record::Structure(s)) = structure_of(store, p)?.map(|s| s.record) {
                out.lookup.insert(fold(&s.structure), s);
            }
            out.positions.push((found.rec, p.clone()));
        }
        Ok(out)
    }

    fn written(&mut self, store: &Store, about: &Stored, today: Date) -> Result<(), StoreError> {
        let mut entries = entries_of(store, about)?;
        entries.retain(|(_, e)| e.on.is_none_or(|on| on <= today));
        self.entries.insert(about.rec, entries);
        Ok(())
    }

    /// Structures that positions here hang on and that are at home elsewhere.
    fn look_up(&mut self, store: &Store) -> Result<(), StoreError> {
        for (_, s) in &self.structures {
            self.lookup.insert(fold(&s.structure), s.clone());
        }
        let missing: Vec<String> = self
            .positions
            .iter()
            .filter_map(|(_, p)| p.structure.clone())
            .filter(|name| !self.lookup.contains_key(&fold(name)))
            .collect();
        for (_, stored) in store.present(Kind::Structure, &missing)? {
            if let Record::Structure(s) = stored.record {
                self.lookup.insert(fold(&s.structure), s);
            }
        }
        Ok(())
    }

    fn about(&self, rec: i64) -> impl Iterator<Item = (i64, &Entry)> {
        let of = self.entries.get(&rec);
        of.into_iter().flatten().map(|(rec, e)| (*rec, e))
    }

    /// Everything here that intervals are held against.
    pub fn things(&self) -> impl Iterator<Item = Thing<'_>> {
        let structures = self
            .structures
            .iter()
            .map(|(rec, s)| self.structure(*rec, s));
        let positions = self
            .positions
            .iter()
            .flat_map(|(rec, p)| self.position(*rec, p));
        structures.chain(positions)
    }

    fn structure<'h>(&'h self, rec: i64, s: &'h Structure) -> Thing<'h> {
        let pole = s.pole.as_ref();
        let year = pole.and_then(|p| p.set_year).map(crate::units::Year::get);
        #[expect(
            clippy::cast_possible_truncation,
            reason = "a year is a small whole number"
        )]
        let begun = year.and_then(|y| Date::from_ymd(y as i32, 1, 1));
        Thing {
            rec,
            id_of_record: s.id,
            id: s.id,
            name: s.structure.clone(),
            kind: Kind::Structure,
            class: s.kind.word(),
            at: None,
            feeder: s.feeder.clone(),
            unit: None,
            slot: None,
            position: None,
            material: pole.and_then(|p| p.material.as_deref()),
            begun,
            entries: self.about(rec).collect(),
            also: Also {
                class: Some(s.kind.word().to_string()),
                ..place(&s.place)
            },
        }
    }

    /// A position, once for each unit in it.
    fn position<'h>(&'h self, rec: i64, p: &'h Position) -> Vec<Thing<'h>> {
        let on = p.structure.as_ref().and_then(|n| self.lookup.get(&fold(n)));
        let bare = |unit: Option<&'h Standing>| Thing {
            rec,
            id_of_record: p.id,
            id: unit.map_or(p.id, |u| u.unit.id),
            name: p.position.clone(),
            kind: Kind::Position,
            class: p.class.word(),
            at: on.map(|s| s.kind),
            feeder: p.feeder.clone(),
            unit: unit.map(|u| &u.unit),
            slot: unit.and_then(|u| u.slot.clone()),
            position: Some(p),
            material: None,
            begun: unit.and_then(|u| u.from),
            entries: self
                .about(rec)
                .chain(unit.into_iter().flat_map(|u| self.about(u.rec)))
                .collect(),
            also: Also {
                class: Some(p.class.word().to_string()),
                at: p.structure.clone(),
                ..on.map(|s| place(&s.place)).unwrap_or_default()
            },
        };
        match self.units.get(&rec).map(Vec::as_slice) {
            None | Some([]) => vec![bare(None)],
            Some(units) => units.iter().map(|u| bare(Some(u))).collect(),
        }
    }
}

fn names(p: &Position) -> Vec<String> {
    let others = p.names.iter().map(|n| fold(&n.text));
    std::iter::once(fold(&p.position)).chain(others).collect()
}

/// Adds the stays of a unit at a position of these names.
fn stays(list: &mut Vec<Standing>, rec: i64, unit: &Unit, names: &[String]) {
    if list.iter().any(|s| s.rec == rec) {
        return;
    }
    for stay in unit.present().filter(|d| names.contains(&fold(&d.at))) {
        list.push(Standing {
            rec,
            unit: unit.clone(),
            slot: stay.slot.clone(),
            from: stay.from,
        });
    }
    list.sort_by(|a, b| a.slot.cmp(&b.slot));
}

/// An entry counts for the record that its name means, once.
fn take(store: &Store, all: &mut Entries, found: PointsAt, today: Date) -> Result<(), StoreError> {
    let Record::Entry(entry) = found.stored.record else {
        return Ok(());
    };
    if entry.on.is_some_and(|on| on > today) {
        return Ok(());
    }
    // A name that is not the present one may by now be another record's.
    if found.rank > 0 && !means(store, &entry.of, found.rec)? {
        return Ok(());
    }
    let list = all.entry(found.rec).or_default();
    if !list.iter().any(|(rec, _)| *rec == found.stored.rec) {
        list.push((found.stored.rec, entry));
    }
    Ok(())
}

fn place(place: &Place) -> Also {
    Also {
        road: place.road.clone(),
        near: place.near.clone(),
        ..Also::default()
    }
}
