//! Searching: names by their beginning, end and inside, words of the
//! descriptions, and rows in batches. Every method that may take long asks
//! `stop` on the way and then returns what it has.

use rusqlite::{Row, params};

use super::index::{kind_from_number, rel_number};
use super::read::Hit;
use super::{Named, Store, StoreError, Stored};
use crate::domain::asset::{Kind, Rel};
use crate::domain::code::fold;

/// How many probes are made between two looks at `stop`.
const PROBES: usize = 64;

impl Store {
    /// The records of rows, in the order asked for; rows that have left the
    /// register are left out.
    ///
    /// # Errors
    /// The disk's, or a damaged record.
    pub fn by_rows(&self, recs: &[i64]) -> Result<Vec<Stored>, StoreError> {
        let mut out = Vec::with_capacity(recs.len());
        for rec in recs {
            out.extend(self.by_row(*rec)?);
        }
        Ok(out)
    }

    /// Holders of each of many folded names, with the place of the name in the
    /// list; among one name's holders present ones first.
    ///
    /// # Errors
    /// The disk's.
    pub fn holders(
        &self,
        folded: &[String],
        stop: &dyn Fn() -> bool,
    ) -> Result<Vec<(usize, Hit)>, StoreError> {
        let mut statement = self
            .conn
            .prepare_cached(
                "select rec, kind, rank, text from name where folded = ?1 order by rank, kind, rec",
            )
            .at(&self.path)?;
        let mut out = Vec::new();
        for (i, key) in folded.iter().enumerate() {
            if i % PROBES == PROBES - 1 && stop() {
                break;
            }
            let mut rows = statement.query([key]).at(&self.path)?;
            while let Some(row) = rows.next().at(&self.path)? {
                out.extend(hit(row).at(&self.path)?.map(|h| (i, h)));
            }
        }
        Ok(out)
    }

    /// Every name of a record.
    ///
    /// # Errors
    /// The disk's.
    pub fn names_of(&self, rec: i64) -> Result<Vec<Hit>, StoreError> {
        let mut statement = self
            .conn
            .prepare_cached("select rec, kind, rank, text from name where rec = ?1 order by rank")
            .at(&self.path)?;
        let mut rows = statement.query([rec]).at(&self.path)?;
        let mut out = Vec::new();
        while let Some(row) = rows.next().at(&self.path)? {
            out.extend(hit(row).at(&self.path)?);
        }
        Ok(out)
    }

    /// Rows of the records that point at each of many names, with the place
    /// of the name in the list.
    ///
    /// # Errors
    /// The disk's.
    pub fn pointers(&self, rel: Rel, targets: &[String]) -> Result<Vec<(usize, i64)>, StoreError> {
        let mut statement = self
            .conn
            .prepare_cached("select rec from link where rel = ?1 and target = ?2 order by rec")
            .at(&self.path)?;
        let mut out = Vec::new();
        for (i, target) in targets.iter().enumerate() {
            let mut rows = statement
                .query(params![rel_number(rel), fold(target)])
                .at(&self.path)?;
            while let Some(row) = rows.next().at(&self.path)? {
                out.push((i, row.get(0).at(&self.path)?));
            }
        }
        Ok(out)
    }

    /// Present holders of each of many names, of one kind.
    ///
    /// # Errors
    /// The disk's, or a damaged record.
    pub fn present(
        &self,
        kind: Kind,
        names: &[String],
    ) -> Result<Vec<(usize, Stored)>, StoreError> {
        let folded: Vec<String> = names.iter().map(|n| fold(n)).collect();
        let mut out = Vec::new();
        for (i, hit) in self.holders(&folded, &|| false)? {
            if hit.kind == kind && hit.rank == 0 {
                out.extend(self.by_row(hit.rec)?.map(|s| (i, s)));
            }
        }
        Ok(out)
    }
}

/// A name as it stands in a row of `rec, kind, rank, text`.
fn hit(row: &Row<'_>) -> rusqlite::Result<Option<Hit>> {
    let (rec, kind, rank, text) = (row.get(0)?, row.get(1)?, row.get(2)?, row.get(3)?);
    Ok(kind_from_number(kind).map(|kind| Hit {
        rec,
        kind,
        rank,
        text,
    }))
}
