//! The register as it stood after an earlier operation.
//!
//! The tables that reads ask are shadowed, on this connection alone, by
//! temporary views of the same names: what has not changed since is read from
//! the file as it is, what has changed from its superseded forms. Every read
//! answers as of then without knowing it. The word and trigram indexes are not
//! shadowed: searching by parts of names stays with the present.

use rusqlite::{OptionalExtension, params};

use super::index::{kind_from_number, kind_number, rel_number};
use super::{Access, Named, Store, StoreError};
use crate::calendar::Moment;
use crate::domain::asset::Record;
use crate::domain::code::fold;

/// Tables of what has changed since, and views in the place of the file's own.
fn shadows(seq: i64) -> String {
    format!(
        "create temp table then_record(
           rec integer primary key, rid text not null unique, kind integer not null,
           name text not null, home text, op integer not null, gone integer not null,
           body text not null);
         create temp table then_name(
           folded text not null, rank integer not null, kind integer not null,
           rec integer not null, text text not null,
           primary key(folded, rank, rec, text)) without rowid;
         create temp table then_link(
           rel integer not null, target text not null, rec integer not null,
           primary key(rel, target, rec)) without rowid;
         create temp table since_changed(rec integer primary key);
         insert into since_changed select distinct rec from main.change where op > {seq};
         create temp view record as
           select rec, rid, kind, name, home, op, gone, body from main.record
             where rec not in (select rec from temp.since_changed)
           union all
           select rec, rid, kind, name, home, op, gone, body from temp.then_record;
         create temp view name as
           select folded, rank, kind, rec, text from main.name
             where rec not in (select rec from temp.since_changed)
           union all
           select folded, rank, kind, rec, text from temp.then_name;
         create temp view link as
           select rel, target, rec from main.link
             where rec not in (select rec from temp.since_changed)
           union all
           select rel, target, rec from temp.then_link;
         create temp view operation as select * from main.operation where seq <= {seq};
         create temp view change as select * from main.change where op <= {seq};
         create temp view past as select * from main.past where until <= {seq};"
    )
}

pub(super) struct Then {
    pub rec: i64,
    pub rid: String,
    pub kind: i64,
    pub op: i64,
    pub gone: bool,
    pub body: String,
}

impl Store {
    /// Number of the last operation entered at or before a moment; 0 when the
    /// register began later.
    ///
    /// # Errors
    /// The disk's.
    pub fn operation_at(&self, moment: Moment) -> Result<i64, StoreError> {
        self.conn
            .query_row(
                "select coalesce(max(seq), 0) from operation where julianday(entered) <= julianday(?1)",
                [moment.to_string()],
                |r| r.get(0),
            )
            .at(&self.path)
    }

    /// Turns this store into the register as it stood after operation `seq`.
    /// It reads only from then on.
    ///
    /// # Errors
    /// The disk's, or a damaged record.
    pub fn as_of(mut self, seq: i64) -> Result<Store, StoreError> {
        self.conn.execute_batch(&shadows(seq)).at(&self.path)?;
        self.access = Access::Read;
        self.past = true;
        for then in self.changed_since(seq)? {
            self.keep_then(&then)?;
        }
        Ok(self)
    }

    /// The records that an operation after `seq` touched, as they were.
    fn changed_since(&self, seq: i64) -> Result<Vec<Then>, StoreError> {
        let mut ids = self
            .conn
            .prepare("select c.rec, r.rid, r.kind from since_changed c join main.record r on r.rec = c.rec")
            .at(&self.path)?;
        let rows = ids
            .query_map([], |r| {
                Ok((
                    r.get::<_, i64>(0)?,
                    r.get::<_, String>(1)?,
                    r.get::<_, i64>(2)?,
                ))
            })
            .at(&self.path)?;
        let mut out = Vec::new();
        for row in rows {
            let (rec, rid, kind) = row.at(&self.path)?;
            let past = self
                .conn
                .prepare_cached(
                    "select since, until, body from main.past
                     where rec = ?1 and since <= ?2 order by since desc limit 1",
                )
                .and_then(|mut s| {
                    s.query_row(params![rec, seq], |r| {
                        Ok((
                            r.get::<_, i64>(0)?,
                            r.get::<_, i64>(1)?,
                            r.get::<_, String>(2)?,
                        ))
                    })
                    .optional()
                })
                .at(&self.path)?;
            // No form so early: the record was not in the register yet.
            out.extend(past.map(|(since, until, body)| Then {
                rec,
                rid,
                kind,
                op: since,
                gone: until <= seq,
                body,
            }));
        }
        Ok(out)
    }

    pub(super) fn keep_then(&self, then: &Then) -> Result<(), StoreError> {
        let damaged = |why: String| StoreError::Damaged {
            path: self.path.display().to_string(),
            why: format!("row {}: {why}", then.rec),
        };
        let kind = kind_from_number(then.kind)
            .ok_or_else(|| damaged("a record of an unknown kind".to_string()))?;
        let record = Record::from_json(kind, &then.body).map_err(|e| damaged(e.to_string()))?;
        self.conn
            .prepare_cached("insert into then_record values (?1, ?2, ?3, ?4, ?5, ?6, ?7, ?8)")
            .and_then(|mut s| {
                s.execute(params![
                    then.rec,
                    then.rid,
                    then.kind,
                    record.name(),
                    record.home(),
                    then.op,
                    then.gone,
                    then.body
                ])
            })
            .at(&self.path)?;
        if then.gone {
            return Ok(());
        }
        self.keep_then_index(then.rec, &record)
    }

    fn keep_then_index(&self, rec: i64, record: &Record) -> Result<(), StoreError> {
        let kind = kind_number(record.kind());
        for n in record.names() {
            self.conn
                .prepare_cached("insert or ignore into then_name values (?1, ?2, ?3, ?4, ?5)")
                .and_then(|mut s| s.execute(params![fold(&n.text), n.rank, kind, rec, n.text]))
                .at(&self.path)?;
        }
        for l in record.links() {
            self.conn
                .prepare_cached("insert or ignore into then_link values (?1, ?2, ?3)")
                .and_then(|mut s| s.execute(params![rel_number(l.rel), fold(&l.target), rec]))
                .at(&self.path)?;
        }
        Ok(())
    }
}
