//! What a comparison of files with a register asks of it, whether it is open
//! for reading or being written.

use rusqlite::params;

use super::index::{kind_from_number, kind_number};
use super::{Named, Step, Store, StoreError};
use crate::domain::asset::{Kind, RecordId};

/// A record as a comparison finds it.
#[derive(Debug, Clone, PartialEq)]
pub struct Found {
    pub id: RecordId,
    pub kind: Kind,
    /// Number of the operation that gave it this form.
    pub op: i64,
    /// Canonical JSON.
    pub body: String,
}

/// What a comparison asks of a register, open for reading or being written.
pub trait Look {
    /// The record now on record under an id.
    ///
    /// # Errors
    /// The disk's.
    fn found(&self, id: RecordId) -> Result<Option<Found>, StoreError>;

    /// Records of a kind whose present name is exactly this.
    ///
    /// # Errors
    /// The disk's.
    fn found_named(&self, kind: Kind, name: &str) -> Result<Vec<Found>, StoreError>;

    /// Number of the operation being written; none when only reading.
    fn writing(&self) -> Option<i64>;
}

fn find(
    conn: &rusqlite::Connection,
    path: &std::path::Path,
    clause: &str,
    p: impl rusqlite::Params,
) -> Result<Vec<Found>, StoreError> {
    let sql =
        format!("select rid, kind, op, body from record where {clause} and gone = 0 order by rec");
    let mut statement = conn.prepare_cached(&sql).at(path)?;
    let rows = statement
        .query_map(p, |r| {
            Ok((
                r.get::<_, String>(0)?,
                r.get::<_, i64>(1)?,
                r.get(2)?,
                r.get(3)?,
            ))
        })
        .at(path)?;
    let mut out = Vec::new();
    for row in rows {
        let (rid, kind, op, body) = row.at(path)?;
        if let (Ok(id), Some(kind)) = (rid.parse(), kind_from_number(kind)) {
            out.push(Found { id, kind, op, body });
        }
    }
    Ok(out)
}

impl Look for Step<'_, '_> {
    fn found(&self, id: RecordId) -> Result<Option<Found>, StoreError> {
        let (tx, path) = (&self.writer.tx, &self.writer.path);
        Ok(find(tx, path, "rid = ?1", [id.to_string()])?.pop())
    }

    fn found_named(&self, kind: Kind, name: &str) -> Result<Vec<Found>, StoreError> {
        let (tx, path) = (&self.writer.tx, &self.writer.path);
        find(tx, path, NAMED, params![kind_number(kind), name])
    }

    fn writing(&self) -> Option<i64> {
        Some(self.seq)
    }
}

impl Look for Store {
    fn found(&self, id: RecordId) -> Result<Option<Found>, StoreError> {
        Ok(find(&self.conn, &self.path, "rid = ?1", [id.to_string()])?.pop())
    }

    fn found_named(&self, kind: Kind, name: &str) -> Result<Vec<Found>, StoreError> {
        find(
            &self.conn,
            &self.path,
            NAMED,
            params![kind_number(kind), name],
        )
    }

    fn writing(&self) -> Option<i64> {
        None
    }
}

const NAMED: &str = "kind = ?1 and name = ?2";
