//! What the log says about one record.

use rusqlite::params;

use super::{Named, Store, StoreError, Written};
use crate::domain::change::Edit;

/// One operation as far as it touched one record.
#[derive(Debug, Clone, PartialEq)]
pub struct Touched {
    pub operation: Written,
    /// The fields it changed; none when it added the record or took it out.
    pub edits: Vec<Edit>,
    /// Whether the record entered the register with it.
    pub added: bool,
}

impl Store {
    /// The operations that touched a record, newest first, at most `limit`.
    ///
    /// # Errors
    /// The disk's, or a damaged log.
    pub fn touched(&self, rec: i64, limit: usize) -> Result<Vec<Touched>, StoreError> {
        let sql = "select distinct op from change where rec = ?1 order by op desc limit ?2";
        let mut statement = self.conn.prepare_cached(sql).at(&self.path)?;
        let limit = i64::try_from(limit).unwrap_or(i64::MAX);
        let rows = statement
            .query_map(params![rec, limit], |r| r.get::<_, i64>(0))
            .at(&self.path)?;
        let mut out = Vec::new();
        for row in rows {
            let seq = row.at(&self.path)?;
            let Some(operation) = self.operations(seq - 1, 1)?.pop() else {
                continue;
            };
            let (edits, added) = self.fields_of(seq, rec)?;
            out.push(Touched {
                operation,
                edits,
                added,
            });
        }
        Ok(out)
    }

    fn fields_of(&self, seq: i64, rec: i64) -> Result<(Vec<Edit>, bool), StoreError> {
        let sql = "select c.what, c.field, c.old, c.new, r.rid, r.kind
                   from change c join record r on r.rec = c.rec
                   where c.rec = ?2 and c.op = ?1 order by c.n";
        let mut statement = self.conn.prepare_cached(sql).at(&self.path)?;
        let rows = statement
            .query_map(params![seq, rec], |r| {
                Ok((
                    r.get::<_, i64>(0)?,
                    r.get::<_, Option<String>>(1)?,
                    r.get::<_, Option<String>>(2)?,
                    r.get::<_, Option<String>>(3)?,
                    r.get::<_, String>(4)?,
                    r.get::<_, i64>(5)?,
                ))
            })
            .at(&self.path)?;
        let bad = |why: String| StoreError::BadLog(seq.to_string(), why);
        let json = |text: Option<String>| match text {
            Some(t) => serde_json::from_str(&t).map_err(|e| bad(e.to_string())),
            None => Ok(serde_json::Value::Null),
        };
        let (mut edits, mut added) = (Vec::new(), false);
        for row in rows {
            let (what, field, old, new, rid, kind) = row.at(&self.path)?;
            added |= what == 0;
            if what != 1 {
                continue;
            }
            edits.push(Edit {
                id: rid.parse().map_err(&bad)?,
                kind: super::index::kind_from_number(kind)
                    .ok_or_else(|| bad("unknown kind of record".to_string()))?,
                field: field.unwrap_or_default(),
                old: json(old)?,
                new: json(new)?,
            });
        }
        Ok((edits, added))
    }
}
