//! What a file has named so far.

use std::collections::HashMap;
use std::hash::{BuildHasher, RandomState};

use super::shape::Draft;
use crate::domain::asset::Kind;

/// Names that the file has used, by digest: a file of a million rows is never
/// held. Two names of one digest (chance below 1 in 10^25 for a million)
/// would refuse a good row, never take a bad one.
#[derive(Default)]
pub(super) struct Seen {
    lines: HashMap<u128, (u32, u64)>,
    one: RandomState,
    two: RandomState,
}

impl Seen {
    /// The line and digest under which a name was used before; notes it when
    /// it was not.
    pub(super) fn note(
        &mut self,
        kind: Kind,
        name: &str,
        line: usize,
        digest: u64,
    ) -> Option<(usize, u64)> {
        let key = (u128::from(self.one.hash_one((kind, name))) << 64)
            | u128::from(self.two.hash_one((kind, name)));
        let line = u32::try_from(line).unwrap_or(u32::MAX);
        match self.lines.entry(key) {
            std::collections::hash_map::Entry::Occupied(e) => Some((e.get().0 as usize, e.get().1)),
            std::collections::hash_map::Entry::Vacant(v) => {
                v.insert((line, digest));
                None
            }
        }
    }

    pub(super) fn digest(&self, draft: &Draft) -> u64 {
        let parts: Vec<String> = draft
            .given
            .iter()
            .map(|(p, v)| format!("{p}={v}"))
            .collect();
        self.one.hash_one(parts)
    }
}
