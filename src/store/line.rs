//! The line of one feeder for a walk: of structures and spans only what a walk
//! reads, and the graph that was built last, kept while nothing is written.

use std::collections::{BTreeSet, HashSet};
use std::sync::Arc;

use rusqlite::params;
use serde::Deserialize;

use super::index::{kind_number, rel_number};
use super::{Named, Store, StoreError, Stored};
use crate::domain::asset::{
    Kind, Name, Place, RecordId, Rel, Span, SpanEnds, Structure, StructureKind,
};
use crate::domain::code::fold;
use crate::domain::network::Line;

/// A graph and the state of the register that it was built from.
pub(super) struct Walked {
    home: String,
    state: (i64, u64),
    line: Arc<Line>,
}

/// What a walk reads of a structure. Other keys are passed over.
#[derive(Deserialize)]
struct Station {
    structure: String,
    kind: StructureKind,
    feeder: Option<String>,
    #[serde(default)]
    names: Vec<Name>,
    #[serde(default)]
    circuits: Vec<String>,
}

impl From<Station> for Structure {
    fn from(s: Station) -> Structure {
        Structure {
            structure: s.structure,
            id: RecordId::default(),
            kind: s.kind,
            feeder: s.feeder,
            names: s.names,
            place: Place::default(),
            owner: None,
            joint_users: Vec::new(),
            circuits: s.circuits,
            terminals: Vec::new(),
            hazards: Vec::new(),
            pole: None,
            note: None,
        }
    }
}

/// What a walk reads of a span. Other keys are passed over.
#[derive(Deserialize)]
struct Wire {
    span: Ends,
    feeder: Option<String>,
    from_terminal: Option<String>,
    to_terminal: Option<String>,
}

#[derive(Deserialize)]
struct Ends {
    from: String,
    to: String,
    phases: Option<String>,
}

impl From<Wire> for Span {
    fn from(w: Wire) -> Span {
        Span {
            span: SpanEnds {
                from: w.span.from,
                to: w.span.to,
                phases: w.span.phases,
                conductor: None,
                geometry: None,
                length_ft: None,
            },
            id: RecordId::default(),
            feeder: w.feeder,
            kind: None,
            from_terminal: w.from_terminal,
            to_terminal: w.to_terminal,
            ampacity_amps: None,
            neutral: None,
            note: None,
        }
    }
}

/// How many more rows than names are read in one go before the names are asked
/// for one by one.
const SPREAD: usize = 4;

impl Store {
    /// The line of a feeder: the one that was walked last, if it is of that
    /// feeder and nothing was written since; else the one that the register
    /// keeps; else one built from the records.
    ///
    /// # Errors
    /// The disk's, or a damaged record.
    pub fn line(&self, home: &str) -> Result<Arc<Line>, StoreError> {
        // Amid a transaction of one's own the state has no number, and what is
        // kept is not yet settled.
        if self.past || !self.conn.is_autocommit() && !self.still.get() {
            return self.built_line(home).map(Arc::new);
        }
        // Asked before reading: a write by others in between shows next time.
        let state = (self.data_version()?, self.conn.total_changes());
        if let Some(walked) = self.walked.borrow().as_ref()
            && walked.home == home
            && walked.state == state
        {
            return Ok(Arc::clone(&walked.line));
        }
        let line = match self.kept_line(home)? {
            Some(line) => Arc::new(line),
            None => Arc::new(self.built_line(home)?),
        };
        *self.walked.borrow_mut() = Some(Walked {
            home: home.to_string(),
            state,
            line: Arc::clone(&line),
        });
        Ok(line)
    }

    /// The line of a feeder, built from the records.
    ///
    /// # Errors
    /// The disk's, or a damaged record.
    pub fn built_line(&self, home: &str) -> Result<Line, StoreError> {
        let records = super::section::line(self, home)?;
        Line::new(records, |p| super::section::connected(self, p))
    }

    /// Structures at home in a feeder, by name, as a walk reads them: their
    /// names, home and circuits.
    ///
    /// # Errors
    /// The disk's, or a damaged record.
    pub fn stations(&self, home: &str) -> Result<Vec<Structure>, StoreError> {
        let rows = self.lean::<Station>(home, Kind::Structure)?;
        Ok(rows.into_iter().map(|(_, s)| s.into()).collect())
    }

    /// Spans at home in a feeder, by name, with their rows, as a walk reads
    /// them: ends, terminals, phases and home.
    ///
    /// # Errors
    /// The disk's, or a damaged record.
    pub fn wires(&self, home: &str) -> Result<Vec<(i64, Span)>, StoreError> {
        let rows = self.lean::<Wire>(home, Kind::Span)?;
        Ok(rows.into_iter().map(|(rec, w)| (rec, w.into())).collect())
    }

    fn lean<T: for<'de> Deserialize<'de>>(
        &self,
        home: &str,
        kind: Kind,
    ) -> Result<Vec<(i64, T)>, StoreError> {
        let by = self.by_home();
        let sql = format!(
            "select rec, body from record {by}
             where home is ?1 and kind = ?2 and gone = 0 order by name, rec"
        );
        let mut statement = self.conn.prepare_cached(&sql).at(&self.path)?;
        let mut rows = statement
            .query(params![home, kind_number(kind)])
            .at(&self.path)?;
        let mut out = Vec::new();
        while let Some(row) = rows.next().at(&self.path)? {
            let rec: i64 = row.get(0).at(&self.path)?;
            let body = row.get_ref(1).at(&self.path)?;
            let body = body
                .as_str()
                .map_err(|e| self.damaged(format!("row {rec}: {e}")))?;
            let read =
                serde_json::from_str(body).map_err(|e| self.damaged(format!("row {rec}: {e}")))?;
            out.push((rec, read));
        }
        Ok(out)
    }

    /// Spans that touch one of the structures named and are not among `own`.
    /// Names of one feeder mostly lie together, so the pointers between the
    /// first and the last are read through as long as they are few.
    ///
    /// # Errors
    /// The disk's, or a damaged record.
    pub fn wires_from_elsewhere(
        &self,
        home: &str,
        structures: &[Structure],
        own: &HashSet<i64>,
    ) -> Result<Vec<Stored>, StoreError> {
        let names: HashSet<String> = structures.iter().map(|s| fold(&s.structure)).collect();
        let (Some(first), Some(last)) = (names.iter().min(), names.iter().max()) else {
            return Ok(Vec::new());
        };
        let mut further = BTreeSet::new();
        for rel in [Rel::SpanFrom, Rel::SpanTo] {
            let most = names.len() * SPREAD + 64;
            let mut statement = self
                .conn
                .prepare_cached(
                    "select target, rec from link
                     where rel = ?1 and target >= ?2 and target <= ?3 limit ?4",
                )
                .at(&self.path)?;
            let limit = i64::try_from(most).unwrap_or(i64::MAX);
            let mut rows = statement
                .query(params![rel_number(rel), first, last, limit])
                .at(&self.path)?;
            let mut read = 0;
            while let Some(row) = rows.next().at(&self.path)? {
                read += 1;
                let rec: i64 = row.get(1).at(&self.path)?;
                let target = row.get_ref(0).at(&self.path)?;
                if !own.contains(&rec) && target.as_str().is_ok_and(|t| names.contains(t)) {
                    further.insert(rec);
                }
            }
            if read == most {
                return self.spans_from_elsewhere(home);
            }
        }
        let further: Vec<i64> = further.into_iter().collect();
        let mut out = self.by_rows(&further)?;
        out.sort_by_cached_key(|s| (s.record.name(), s.rec));
        Ok(out)
    }

    /// Sources that stand at one of the structures named, by name: `names` are
    /// folded.
    ///
    /// # Errors
    /// The disk's, or a damaged record.
    pub fn sources_at(&self, names: &HashSet<String>) -> Result<Vec<Stored>, StoreError> {
        let mut statement = self
            .conn
            .prepare_cached("select target, rec from link where rel = ?1")
            .at(&self.path)?;
        let mut rows = statement
            .query([rel_number(Rel::SourceAt)])
            .at(&self.path)?;
        let mut recs = BTreeSet::new();
        while let Some(row) = rows.next().at(&self.path)? {
            let target = row.get_ref(0).at(&self.path)?;
            if target.as_str().is_ok_and(|t| names.contains(t)) {
                recs.insert(row.get(1).at(&self.path)?);
            }
        }
        let recs: Vec<i64> = recs.into_iter().collect();
        self.by_rows(&recs)
    }
}
