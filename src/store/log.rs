//! Questions about the log of operations: the newest ones, one by its id, and
//! what became of a record that left the register.

use std::collections::HashMap;

use rusqlite::{OptionalExtension, params};

use super::index::kind_from_number;
use super::{Named, Store, StoreError, Written};
use crate::domain::asset::{Kind, RecordId};

/// A record whether it is still in the register or has left it.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Remembered {
    pub rec: i64,
    pub kind: Kind,
    /// Its present, or its last, name.
    pub name: String,
    /// Number of the operation that gave it this form or took it out.
    pub op: i64,
    pub gone: bool,
    /// Its present, or its last, form as canonical JSON.
    pub body: String,
}

impl Store {
    /// How many operations the log holds.
    ///
    /// # Errors
    /// The disk's.
    pub fn operation_count(&self) -> Result<i64, StoreError> {
        self.conn
            .query_row("select count(*) from operation", [], |r| r.get(0))
            .at(&self.path)
    }

    /// Numbers of operations before `before` (`None`: the newest), newest
    /// first, at most `limit`.
    ///
    /// # Errors
    /// The disk's, or a damaged log.
    pub fn newest_operations(
        &self,
        before: Option<i64>,
        limit: usize,
    ) -> Result<Vec<Written>, StoreError> {
        let mut statement = self
            .conn
            .prepare_cached("select seq from operation where seq < ?1 order by seq desc limit ?2")
            .at(&self.path)?;
        let limit = i64::try_from(limit).unwrap_or(i64::MAX);
        let rows = statement
            .query_map(params![before.unwrap_or(i64::MAX), limit], |r| {
                r.get::<_, i64>(0)
            })
            .at(&self.path)?;
        let mut out = Vec::new();
        for row in rows {
            out.extend(self.operation_numbered(row.at(&self.path)?)?);
        }
        Ok(out)
    }

    /// One operation by its number.
    ///
    /// # Errors
    /// The disk's, or a damaged log.
    pub fn operation_numbered(&self, seq: i64) -> Result<Option<Written>, StoreError> {
        Ok(self
            .operations(seq - 1, 1)?
            .into_iter()
            .find(|w| w.seq == seq))
    }

    /// Operations whose id begins with a text, oldest first, at most `limit`.
    ///
    /// # Errors
    /// The disk's, or a damaged log.
    pub fn operations_beginning(
        &self,
        prefix: &str,
        limit: usize,
    ) -> Result<Vec<Written>, StoreError> {
        let prefix = prefix.to_ascii_uppercase();
        let Some(end) = super::read::after_prefix(&prefix) else {
            return Ok(Vec::new());
        };
        let mut statement = self
            .conn
            .prepare_cached(
                "select seq from operation where id >= ?1 and id < ?2 order by seq limit ?3",
            )
            .at(&self.path)?;
        let limit = i64::try_from(limit).unwrap_or(i64::MAX);
        let rows = statement
            .query_map(params![prefix, end, limit], |r| r.get::<_, i64>(0))
            .at(&self.path)?;
        let mut out = Vec::new();
        for row in rows {
            out.extend(self.operation_numbered(row.at(&self.path)?)?);
        }
        Ok(out)
    }

    /// The newest operation that takes `id` back.
    ///
    /// # Errors
    /// The disk's, or a damaged log.
    pub fn undone_by(&self, id: RecordId) -> Result<Option<Written>, StoreError> {
        let seq = self
            .conn
            .prepare_cached("select max(seq) from operation where undoes = ?1")
            .and_then(|mut s| s.query_row([id.to_string()], |r| r.get::<_, Option<i64>>(0)))
            .at(&self.path)?;
        match seq {
            Some(seq) => self.operation_numbered(seq),
            None => Ok(None),
        }
    }

    /// Whether the log has an operation.
    ///
    /// # Errors
    /// The disk's.
    pub fn has_operation(&self, id: RecordId) -> Result<bool, StoreError> {
        self.conn
            .prepare_cached("select 1 from operation where id = ?1")
            .and_then(|mut s| s.exists([id.to_string()]))
            .at(&self.path)
    }

    /// Every operation that was taken back, with the newest one that did so.
    ///
    /// # Errors
    /// The disk's.
    pub fn undoings(&self) -> Result<HashMap<RecordId, RecordId>, StoreError> {
        let mut statement = self
            .conn
            .prepare_cached(
                "select undoes, id from operation where undoes is not null order by seq",
            )
            .at(&self.path)?;
        let rows = statement
            .query_map([], |r| Ok((r.get::<_, String>(0)?, r.get::<_, String>(1)?)))
            .at(&self.path)?;
        let mut out = HashMap::new();
        for row in rows {
            let (undone, by) = row.at(&self.path)?;
            if let (Ok(undone), Ok(by)) = (undone.parse(), by.parse()) {
                out.insert(undone, by);
            }
        }
        Ok(out)
    }

    /// A record by its permanent id, also one that has left the register.
    ///
    /// # Errors
    /// The disk's, or a damaged record.
    pub fn remembered(&self, id: RecordId) -> Result<Option<Remembered>, StoreError> {
        let row = self
            .conn
            .prepare_cached("select rec, kind, name, op, gone, body from record where rid = ?1")
            .and_then(|mut s| {
                s.query_row([id.to_string()], |r| {
                    Ok((
                        r.get::<_, i64>(0)?,
                        r.get::<_, i64>(1)?,
                        r.get::<_, String>(2)?,
                        r.get::<_, i64>(3)?,
                        r.get::<_, bool>(4)?,
                        r.get::<_, String>(5)?,
                    ))
                })
                .optional()
            })
            .at(&self.path)?;
        let Some((rec, kind, name, op, gone, body)) = row else {
            return Ok(None);
        };
        let kind = kind_from_number(kind).ok_or_else(|| StoreError::Damaged {
            path: self.path.display().to_string(),
            why: format!("record {id} is of an unknown kind"),
        })?;
        Ok(Some(Remembered {
            rec,
            kind,
            name,
            op,
            gone,
            body,
        }))
    }
}
