//! The demo utility: what it holds, the flaws put into it on purpose, each
//! found by a rule that looks at every record, and what its history tells.

mod checks;
mod flaws;
mod history;
mod shape;
mod walk;

use std::collections::BTreeMap;
use std::path::{Path, PathBuf};
use std::sync::OnceLock;

use polecard::calendar::Moment;
use polecard::domain::asset::{
    Conductor, Entry, Feeder, Kind, Order, Position, Record, Source, Span, Structure, Unit,
};
use polecard::exchange::{self, Imported};
use polecard::store::{Access, Store};

pub fn folder() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("data/demo")
}

pub fn noon() -> Moment {
    "2026-10-05T12:00:00-06:00".parse().unwrap()
}

/// Takes the shipped files into a register of its own.
pub fn take_in(path: &Path) -> (Store, Imported) {
    let mut store = Store::create(path).unwrap();
    let source = exchange::Source::at(&folder()).unwrap();
    let report = exchange::import(&mut store, &source, "test", noon(), true).unwrap();
    (store, report)
}

/// A register made once for all tests that only read.
pub fn store() -> Store {
    static MADE: OnceLock<(tempfile::TempDir, PathBuf)> = OnceLock::new();
    let (_, path) = MADE.get_or_init(|| {
        let dir = tempfile::tempdir().unwrap();
        let path = dir.path().join("demo.register");
        take_in(&path);
        (dir, path)
    });
    Store::open(path, Access::Read).unwrap()
}

/// Every present record, by kind.
#[derive(Default)]
pub struct Demo {
    pub structures: Vec<Structure>,
    pub spans: Vec<Span>,
    pub positions: Vec<Position>,
    pub units: Vec<Unit>,
    pub sources: Vec<Source>,
    pub feeders: Vec<Feeder>,
    pub conductors: Vec<Conductor>,
    pub entries: Vec<Entry>,
    pub orders: Vec<Order>,
}

impl Demo {
    pub fn position(&self, name: &str) -> &Position {
        self.positions.iter().find(|p| p.position == name).unwrap()
    }

    pub fn unit(&self, name: &str) -> &Unit {
        self.units.iter().find(|u| u.unit == name).unwrap()
    }

    pub fn structure(&self, name: &str) -> &Structure {
        self.structures
            .iter()
            .find(|s| s.structure == name)
            .unwrap()
    }

    /// The units recorded at a position now.
    pub fn units_at(&self, position: &str) -> Vec<&Unit> {
        self.units
            .iter()
            .filter(|u| u.present().any(|d| d.at == position))
            .collect()
    }

    /// Entries about a record, oldest first.
    pub fn entries_of(&self, name: &str) -> Vec<&Entry> {
        let mut out: Vec<&Entry> = self.entries.iter().filter(|e| e.of == name).collect();
        out.sort_by_key(|e| e.on);
        out
    }
}

pub fn demo() -> &'static Demo {
    static DEMO: OnceLock<Demo> = OnceLock::new();
    DEMO.get_or_init(|| {
        let store = store();
        let mut d = Demo::default();
        for kind in Kind::ALL {
            for stored in store.all(*kind).unwrap() {
                match stored.record {
                    Record::Structure(r) => d.structures.push(r),
                    Record::Span(r) => d.spans.push(r),
                    Record::Position(r) => d.positions.push(r),
                    Record::Unit(r) => d.units.push(r),
                    Record::Source(r) => d.sources.push(r),
                    Record::Feeder(r) => d.feeders.push(r),
                    Record::Conductor(r) => d.conductors.push(r),
                    Record::Entry(r) => d.entries.push(r),
                    Record::Order(r) => d.orders.push(r),
                    _ => {}
                }
            }
        }
        d
    })
}

/// How often each key occurs.
pub fn tally<K: Ord>(keys: impl Iterator<Item = K>) -> BTreeMap<K, usize> {
    let mut out = BTreeMap::new();
    for key in keys {
        *out.entry(key).or_insert(0) += 1;
    }
    out
}
