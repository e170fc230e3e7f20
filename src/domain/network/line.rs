//! The line of one feeder as it is walked, together with what hangs on it: made
//! anew from records, or taken from the form in which it was kept.

use std::collections::HashMap;
use std::sync::Mutex;

use serde::{Deserialize, Serialize};

use super::{Network, Phases, Section, Walk};
use crate::domain::asset::Position;

/// Connected transformer kVA, by phase.
#[derive(Debug, Clone, Default, PartialEq, Serialize, Deserialize)]
pub struct ConnectedKva {
    pub a: f64,
    pub b: f64,
    pub c: f64,
    /// Of units whose phase is not recorded.
    pub phase_not_recorded: f64,
    /// Part of all this that rests on assumed plates.
    pub assumed: f64,
    /// Transformer units whose kVA nobody has read.
    pub unread_units: usize,
    /// Transformer positions with no unit on record.
    pub without_unit: usize,
}

impl ConnectedKva {
    /// All phases together.
    #[must_use]
    pub fn total(&self) -> f64 {
        self.a + self.b + self.c + self.phase_not_recorded
    }

    /// Adds a unit's kVA, shared evenly among the phases of its slot; a unit
    /// between two phases counts half on each.
    pub fn add(&mut self, kva: f64, phases: Phases) {
        let n = phases.count();
        if n == 0 {
            self.phase_not_recorded += kva;
            return;
        }
        let share = kva / f64::from(n);
        for i in phases.indexes() {
            match i {
                0 => self.a += share,
                1 => self.b += share,
                _ => self.c += share,
            }
        }
    }

    /// Adds what is connected at another position.
    pub fn join(&mut self, other: &ConnectedKva) {
        self.a += other.a;
        self.b += other.b;
        self.c += other.c;
        self.phase_not_recorded += other.phase_not_recorded;
        self.assumed += other.assumed;
        self.unread_units += other.unread_units;
        self.without_unit += other.without_unit;
    }
}

/// A feeder's line, for walks alone: what `verify` asks of a [`Network`] it does
/// not have, since of a line that was kept the records are not at hand.
#[derive(Debug)]
pub struct Line {
    pub(super) net: Network,
    /// What is connected at each position that is a transformer.
    pub(super) kva: Vec<Option<ConnectedKva>>,
    /// The position walked last: a card asks for its walk more than once.
    pub(super) last: Mutex<Option<(String, Walk)>>,
}

impl Line {
    /// Builds the line. `kva` tells what is connected at a transformer
    /// position; it is asked of no other.
    ///
    /// # Errors
    /// Those of `kva`.
    pub fn new<E>(
        section: Section,
        mut kva: impl FnMut(&Position) -> Result<ConnectedKva, E>,
    ) -> Result<Line, E> {
        let mut connected = Vec::with_capacity(section.positions.len());
        for p in &section.positions {
            let here = p.class == crate::domain::asset::Class::Transformer;
            connected.push(if here { Some(kva(p)?) } else { None });
        }
        Ok(Line {
            net: Network::new(section),
            kva: connected,
            last: Mutex::default(),
        })
    }

    /// The feeder's name.
    #[must_use]
    pub fn home(&self) -> Option<&str> {
        self.net.section.home.as_deref()
    }

    /// The positions of the line: of one that was kept no more than what a walk
    /// reads.
    #[must_use]
    pub fn positions(&self) -> &[Position] {
        &self.net.section.positions
    }

    /// [`Network::walk`].
    #[must_use]
    pub fn walk(&self, position: &str) -> Walk {
        // A lock that a panic has spoilt only means to walk again.
        if let Ok(last) = self.last.lock()
            && let Some((name, walk)) = last.as_ref()
            && name == position
        {
            return walk.clone();
        }
        let walk = self.net.walk(position);
        if let Ok(mut last) = self.last.lock() {
            *last = Some((position.to_string(), walk.clone()));
        }
        walk
    }

    /// [`Network::walk_structure`].
    #[must_use]
    pub fn walk_structure(&self, structure: &str) -> Vec<(String, Walk)> {
        self.net.walk_structure(structure)
    }

    /// [`Network::walk_source`].
    #[must_use]
    pub fn walk_source(&self, source: &str) -> Walk {
        self.net.walk_source(source)
    }

    /// What is connected at the transformers among positions, by name.
    #[must_use]
    pub fn connected(&self, names: &[String]) -> ConnectedKva {
        let positions = self.positions().iter().zip(&self.kva);
        let by_name: HashMap<&str, &ConnectedKva> = positions
            .filter_map(|(p, kva)| Some((p.position.as_str(), kva.as_ref()?)))
            .collect();
        let mut out = ConnectedKva::default();
        for kva in names.iter().filter_map(|n| by_name.get(n.as_str())) {
            out.join(kva);
        }
        out
    }
}
