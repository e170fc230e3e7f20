//! A number that records say they are at, and that no record has.

use serde::Serialize;

use super::gather::{Query, Search};
use super::{How, Match};
use crate::domain::asset::{Record, Rel};
use crate::domain::code::fold;
use crate::store::Stored;
use crate::work::Failure;
use crate::work::also::{also, matched};

/// What the register says of a number that it has no record of.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Missing {
    /// The number as those records write it.
    pub name: String,
    /// The records that say that they are on or at it.
    pub recorded_on: Vec<Match>,
}

impl Search<'_> {
    /// True when records hang on, or are at, the number that was typed, and
    /// no record has it.
    pub fn pointed_at(&mut self, query: &Query) -> Result<bool, Failure> {
        let mut ways = vec![query.folded.clone()];
        ways.extend(self.spoken_text.as_deref().map(fold));
        for way in ways {
            let mut records = self.store.pointing(Rel::HangsOn, &way)?;
            records.extend(self.store.pointing(Rel::DeployedAt, &way)?);
            if way.is_empty() || records.is_empty() || !self.store.named(&way)?.is_empty() {
                continue;
            }
            let name = records.iter().find_map(|s| written(s, &way));
            let alsos = also(self.store, &records)?;
            let recorded_on = records.iter().zip(alsos);
            let recorded_on = recorded_on.map(|(s, a)| matched(s, a, How::Words, None));
            self.missing = Some(Missing {
                name: name.unwrap_or_else(|| query.text.clone()),
                recorded_on: recorded_on.collect(),
            });
            return Ok(true);
        }
        Ok(false)
    }
}

/// The number as the record writes it.
fn written(stored: &Stored, folded: &str) -> Option<String> {
    let names: Vec<&String> = match &stored.record {
        Record::Position(p) => p.structure.iter().collect(),
        Record::Source(s) => s.structure.iter().collect(),
        Record::Unit(u) => u.deployments.iter().map(|d| &d.at).collect(),
        _ => Vec::new(),
    };
    names.into_iter().find(|n| fold(n) == folded).cloned()
}
