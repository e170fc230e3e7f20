//! What a comparison of files with a register asks of it, whether it is open
//! for reading or being written.

use rusqlite::{OptionalExtension, params};
use serde_json::Value;

use super::index::{kind_from_number, kind_number};
use super::{Named, Step, Store, StoreError};
use crate::calendar::{Date, Moment};
use crate::domain::asset::{Kind, RecordId};
use crate::domain::change::{put_at, value_at};

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

/// The last edit of a field.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct LastEdit {
    pub seq: i64,
    pub who: String,
    pub entered: Moment,
    pub effective: Option<Date>,
    pub origin: Option<String>,
    pub why: String,
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

    /// The last edit of a field, of a part of it or of what it is part of, by
    /// another operation than the one being written.
    ///
    /// # Errors
    /// The disk's.
    fn last_edit(&self, id: RecordId, field: &str) -> Result<Option<LastEdit>, StoreError>;

    /// The form of a record, as canonical JSON, at the end of an operation.
    ///
    /// # Errors
    /// The disk's.
    fn form_at(&self, id: RecordId, operation: &str) -> Result<Option<String>, StoreError>;

    /// Number of the last operation of an origin.
    ///
    /// # Errors
    /// The disk's.
    fn last_of_origin(&self, origin: &str) -> Result<Option<i64>, StoreError>;

    /// What a field is and was, the present value first; as far as the log
    /// holds it apart, without the operation being written.
    ///
    /// # Errors
    /// The disk's, or a damaged record.
    fn earlier(&self, id: RecordId, field: &str) -> Result<Vec<Value>, StoreError>;

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

fn last_edit(
    conn: &rusqlite::Connection,
    path: &std::path::Path,
    (id, field, before): (RecordId, &str, i64),
) -> Result<Option<LastEdit>, StoreError> {
    let row = conn
        .prepare_cached(
            "select o.seq, o.who, o.entered, o.effective, o.origin, o.why
             from record r join change c on c.rec = r.rec join operation o on o.seq = c.op
             where r.rid = ?1 and c.what = 1 and c.op < ?3
               and (c.field = ?2 or substr(c.field, 1, length(?2) + 1) = ?2 || '.'
                    or substr(?2, 1, length(c.field) + 1) = c.field || '.')
             order by c.op desc limit 1",
        )
        .and_then(|mut s| {
            s.query_row(params![id.to_string(), field, before], |r| {
                Ok((
                    r.get::<_, i64>(0)?,
                    r.get::<_, String>(1)?,
                    r.get::<_, String>(2)?,
                    r.get::<_, Option<String>>(3)?,
                    r.get::<_, Option<String>>(4)?,
                    r.get::<_, String>(5)?,
                ))
            })
            .optional()
        })
        .at(path)?;
    let Some((seq, who, entered, effective, origin, why)) = row else {
        return Ok(None);
    };
    let entered = entered
        .parse()
        .map_err(|e| StoreError::BadLog(seq.to_string(), format!("{e}")))?;
    Ok(Some(LastEdit {
        seq,
        who,
        entered,
        effective: effective.and_then(|d| d.parse().ok()),
        origin,
        why,
    }))
}

fn form_at(
    conn: &rusqlite::Connection,
    path: &std::path::Path,
    (id, operation): (RecordId, &str),
) -> Result<Option<String>, StoreError> {
    conn.prepare_cached(
        "select coalesce(
           (select p.body from past p where p.rec = r.rec and p.since <= o.seq and p.until > o.seq),
           case when r.op <= o.seq and r.gone = 0 then r.body end)
         from record r, operation o where r.rid = ?1 and o.id = ?2",
    )
    .and_then(|mut s| {
        s.query_row(params![id.to_string(), operation], |r| r.get(0))
            .optional()
    })
    .at(path)
    .map(Option::flatten)
}

fn last_of_origin(
    conn: &rusqlite::Connection,
    path: &std::path::Path,
    origin: &str,
) -> Result<Option<i64>, StoreError> {
    conn.prepare_cached("select max(seq) from operation where origin = ?1")
        .and_then(|mut s| s.query_row([origin], |r| r.get(0)))
        .at(path)
}

/// Changes of a record that are looked through for what a field was.
const LOOKED_AT: i64 = 5_000;

fn earlier(
    conn: &rusqlite::Connection,
    path: &std::path::Path,
    (id, field, before): (RecordId, &str, i64),
) -> Result<Vec<Value>, StoreError> {
    let Some(now) = find(conn, path, "rid = ?1", [id.to_string()])?.pop() else {
        return Ok(Vec::new());
    };
    let json = |text: &str| {
        serde_json::from_str::<Value>(text).map_err(|e| StoreError::Damaged {
            path: path.display().to_string(),
            why: format!("record {id}: {e}"),
        })
    };
    let mut form = json(&now.body)?;
    let mut out = vec![value_at(&form, field).clone()];
    let mut statement = conn
        .prepare_cached(
            "select c.field, c.old from record r join change c on c.rec = r.rec
             where r.rid = ?1 and c.what = 1 and c.op < ?2
             order by c.op desc, c.n desc limit ?3",
        )
        .at(path)?;
    let rows = statement
        .query_map(params![id.to_string(), before, LOOKED_AT], |r| {
            Ok((r.get::<_, String>(0)?, r.get::<_, String>(1)?))
        })
        .at(path)?;
    for row in rows {
        let (changed, old) = row.at(path)?;
        put_at(&mut form, &changed, json(&old)?);
        let was = value_at(&form, field);
        if out.last() != Some(was) {
            out.push(was.clone());
        }
    }
    Ok(out)
}

impl Look for Step<'_, '_> {
    fn earlier(&self, id: RecordId, field: &str) -> Result<Vec<Value>, StoreError> {
        earlier(&self.writer.tx, &self.writer.path, (id, field, self.seq))
    }

    fn last_edit(&self, id: RecordId, field: &str) -> Result<Option<LastEdit>, StoreError> {
        last_edit(&self.writer.tx, &self.writer.path, (id, field, self.seq))
    }

    fn form_at(&self, id: RecordId, operation: &str) -> Result<Option<String>, StoreError> {
        form_at(&self.writer.tx, &self.writer.path, (id, operation))
    }

    fn last_of_origin(&self, origin: &str) -> Result<Option<i64>, StoreError> {
        last_of_origin(&self.writer.tx, &self.writer.path, origin)
    }

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
    fn earlier(&self, id: RecordId, field: &str) -> Result<Vec<Value>, StoreError> {
        earlier(&self.conn, &self.path, (id, field, i64::MAX))
    }

    fn last_edit(&self, id: RecordId, field: &str) -> Result<Option<LastEdit>, StoreError> {
        last_edit(&self.conn, &self.path, (id, field, i64::MAX))
    }

    fn form_at(&self, id: RecordId, operation: &str) -> Result<Option<String>, StoreError> {
        form_at(&self.conn, &self.path, (id, operation))
    }

    fn last_of_origin(&self, origin: &str) -> Result<Option<i64>, StoreError> {
        last_of_origin(&self.conn, &self.path, origin)
    }

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
