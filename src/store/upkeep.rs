//! What stands at home in a feeder with what is written about it, in few
//! questions: for reports that walk the whole register.

use rusqlite::params;

use super::index::{kind_number, rel_number};
use super::{Named, Store, StoreError, Stored};
use crate::domain::asset::{Kind, Rel};

/// Something that points at another record by a name of that one.
#[derive(Debug, Clone, PartialEq)]
pub struct PointsAt {
    /// Row of the record pointed at.
    pub rec: i64,
    /// Rank of the name used: 0 the present one.
    pub rank: u8,
    pub stored: Stored,
}

impl Store {
    /// Entries about the structures and positions at home in a feeder (`None`:
    /// at home nowhere).
    ///
    /// # Errors
    /// The disk's, or a damaged record.
    pub fn entries_at_home(&self, home: Option<&str>) -> Result<Vec<PointsAt>, StoreError> {
        let sql = "select n.rec, n.rank, e.rec, e.kind, e.op, e.body from record t
             cross join name n on n.rec = t.rec
             cross join link l on l.rel = ?3 and l.target = n.folded
             cross join record e on e.rec = l.rec
             where t.home is ?1 and t.kind in (?2, ?5) and t.gone = 0
             and e.gone = 0 and e.kind = ?4";
        self.pointing_all(
            sql,
            params![
                home,
                kind_number(Kind::Structure),
                rel_number(Rel::About),
                kind_number(Kind::Entry),
                kind_number(Kind::Position)
            ],
        )
    }

    /// Units that stand now at the positions at home in a feeder.
    ///
    /// # Errors
    /// The disk's, or a damaged record.
    pub fn units_at_home(&self, home: Option<&str>) -> Result<Vec<PointsAt>, StoreError> {
        let sql = "select n.rec, n.rank, u.rec, u.kind, u.op, u.body from record t
             cross join name n on n.rec = t.rec
             cross join link l on l.rel = ?3 and l.target = n.folded
             cross join record u on u.rec = l.rec
             where t.home is ?1 and t.kind = ?2 and t.gone = 0 and u.gone = 0";
        self.pointing_all(
            sql,
            params![
                home,
                kind_number(Kind::Position),
                rel_number(Rel::DeployedAt)
            ],
        )
    }

    /// Entries about the units that stand now at those positions.
    ///
    /// # Errors
    /// The disk's, or a damaged record.
    pub fn unit_entries_at_home(&self, home: Option<&str>) -> Result<Vec<PointsAt>, StoreError> {
        let sql = "select distinct un.rec, un.rank, e.rec, e.kind, e.op, e.body from record t
             cross join name n on n.rec = t.rec
             cross join link l on l.rel = ?3 and l.target = n.folded
             cross join name un on un.rec = l.rec
             cross join link a on a.rel = ?4 and a.target = un.folded
             cross join record e on e.rec = a.rec
             where t.home is ?1 and t.kind = ?2 and t.gone = 0
             and e.gone = 0 and e.kind = ?5";
        self.pointing_all(
            sql,
            params![
                home,
                kind_number(Kind::Position),
                rel_number(Rel::DeployedAt),
                rel_number(Rel::About),
                kind_number(Kind::Entry)
            ],
        )
    }

    fn pointing_all(
        &self,
        sql: &str,
        p: impl rusqlite::Params,
    ) -> Result<Vec<PointsAt>, StoreError> {
        let mut statement = self.conn.prepare_cached(sql).at(&self.path)?;
        let mut rows = statement.query(p).at(&self.path)?;
        let mut out = Vec::new();
        while let Some(row) = rows.next().at(&self.path)? {
            let read = || {
                let at: (i64, u8) = (row.get(0)?, row.get(1)?);
                Ok((at, (row.get(2)?, row.get(3)?, row.get(4)?, row.get(5)?)))
            };
            let ((rec, rank), quad) = read().at(&self.path)?;
            out.push(PointsAt {
                rec,
                rank,
                stored: self.stored(quad)?,
            });
        }
        Ok(out)
    }
}
