//! Reading the register as a whole, for verification: names held twice,
//! references that lead nowhere, and records that the log does not account
//! for. Each streams; none holds more than one group in memory.

use rusqlite::{OptionalExtension, params};
use serde_json::Value;

use super::index::{kind_from_number, kind_number, rel_number};
use super::{Hit, Named, Store, StoreError, Stored};
use crate::calendar::{Date, Moment};
use crate::domain::asset::{Kind, Record, RecordId, Rel};
use crate::domain::change::put_at;

/// A reference by name with no holder of the kind it should lead to.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Loose {
    pub rel: Rel,
    /// The name, folded.
    pub target: String,
    /// Row of the record that points.
    pub rec: i64,
}

/// One number of one field of a record, as an operation changed it.
#[derive(Debug, Clone, PartialEq)]
pub struct Changed {
    /// Row of the record.
    pub rec: i64,
    /// From when it holds: the effective day, else the day of entry.
    pub from: Date,
    pub old: Option<f64>,
    pub new: Option<f64>,
}

/// A record that the log does not account for.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Drifted {
    pub id: RecordId,
    pub kind: Kind,
    pub name: String,
    /// What is the matter: a clause after the record's name.
    pub why: &'static str,
}

const NO_CHANGE: &str = "is in the register, and no operation added it";
const OTHERWISE: &str = "is not what the operations on it make of it";
const REMOVED: &str = "was removed or brought back by no operation";

impl Store {
    /// Walks the names, folded, that more than one record has or had, each
    /// with its holders.
    ///
    /// # Errors
    /// The disk's, or what `each` returns.
    pub fn shared_names<E: From<StoreError>>(
        &self,
        mut each: impl FnMut(&str, Vec<Hit>) -> Result<(), E>,
    ) -> Result<(), E> {
        let mut statement = self
            .conn
            .prepare("select folded from name group by folded having min(rec) <> max(rec)")
            .at(&self.path)?;
        let mut rows = statement.query([]).at(&self.path)?;
        while let Some(row) = rows.next().at(&self.path)? {
            let folded: String = row.get(0).at(&self.path)?;
            let hits = self.named(&folded)?;
            each(&folded, hits)?;
        }
        Ok(())
    }

    /// Walks the references in a way `rel` whose name no record of the kind
    /// `wanted` has or had (of any kind, when there is none).
    ///
    /// # Errors
    /// The disk's, or what `each` returns.
    pub fn loose<E: From<StoreError>>(
        &self,
        rel: Rel,
        wanted: Option<Kind>,
        mut each: impl FnMut(Loose) -> Result<(), E>,
    ) -> Result<(), E> {
        let mut statement = self
            .conn
            .prepare_cached(
                "select l.target, l.rec from link l where l.rel = ?1 and not exists
                 (select 1 from name n where n.folded = l.target and (?2 is null or n.kind = ?2))",
            )
            .at(&self.path)?;
        let mut rows = statement
            .query(params![rel_number(rel), wanted.map(kind_number)])
            .at(&self.path)?;
        while let Some(row) = rows.next().at(&self.path)? {
            each(Loose {
                rel,
                target: row.get(0).at(&self.path)?,
                rec: row.get(1).at(&self.path)?,
            })?;
        }
        Ok(())
    }

    /// Walks the references in a way `rel` to a name that no record of the kind
    /// `wanted` bears any more, and one or more bore.
    ///
    /// # Errors
    /// The disk's, or what `each` returns.
    pub fn by_old_name<E: From<StoreError>>(
        &self,
        rel: Rel,
        wanted: Kind,
        mut each: impl FnMut(Loose) -> Result<(), E>,
    ) -> Result<(), E> {
        let mut statement = self
            .conn
            .prepare_cached(
                "select l.target, l.rec from link l where l.rel = ?1
                 and exists (select 1 from name n
                   where n.folded = l.target and n.kind = ?2 and n.rank = 2)
                 and not exists (select 1 from name n
                   where n.folded = l.target and n.kind = ?2 and n.rank < 2)",
            )
            .at(&self.path)?;
        let mut rows = statement
            .query(params![rel_number(rel), kind_number(wanted)])
            .at(&self.path)?;
        while let Some(row) = rows.next().at(&self.path)? {
            each(Loose {
                rel,
                target: row.get(0).at(&self.path)?,
                rec: row.get(1).at(&self.path)?,
            })?;
        }
        Ok(())
    }

    /// Walks what is written about things, one thing at a time, in the order
    /// in which it was entered: entries and orders.
    ///
    /// # Errors
    /// The disk's, a damaged record, or what `each` returns.
    pub fn written_about<E: From<StoreError>>(
        &self,
        mut each: impl FnMut(Vec<Stored>) -> Result<(), E>,
    ) -> Result<(), E> {
        let mut statement = self
            .conn
            .prepare_cached(
                "select l.target, r.rec, r.kind, r.op, r.body from link l
                 join record r on r.rec = l.rec
                 where l.rel = ?1 and r.gone = 0 order by l.target, l.rec",
            )
            .at(&self.path)?;
        let mut rows = statement.query([rel_number(Rel::About)]).at(&self.path)?;
        let mut group: Vec<Stored> = Vec::new();
        let mut of = String::new();
        while let Some(row) = rows.next().at(&self.path)? {
            let target: String = row.get(0).at(&self.path)?;
            let quad = (|| Ok((row.get(1)?, row.get(2)?, row.get(3)?, row.get(4)?)))();
            let stored = self.stored(quad.at(&self.path)?)?;
            if target != of && !group.is_empty() {
                each(std::mem::take(&mut group))?;
            }
            of = target;
            group.push(stored);
        }
        if group.is_empty() {
            return Ok(());
        }
        each(group)
    }

    /// Edits of a number in a field of a kind of record, oldest first.
    ///
    /// # Errors
    /// The disk's.
    pub fn changed_numbers(&self, kind: Kind, field: &str) -> Result<Vec<Changed>, StoreError> {
        let mut statement = self
            .conn
            .prepare_cached(
                "select c.rec, o.effective, o.entered, c.old, c.new
                 from record r join change c on c.rec = r.rec join operation o on o.seq = c.op
                 where r.kind = ?1 and r.gone = 0 and c.what = 1 and c.field = ?2
                 order by c.op, c.n",
            )
            .at(&self.path)?;
        let mut rows = statement
            .query(params![kind_number(kind), field])
            .at(&self.path)?;
        let mut out = Vec::new();
        while let Some(row) = rows.next().at(&self.path)? {
            let text = |i: usize| row.get::<_, Option<String>>(i).at(&self.path);
            let number = |t: Option<String>| {
                t.and_then(|t| serde_json::from_str::<Value>(&t).ok())
                    .and_then(|v| v.as_f64())
            };
            let effective = text(1)?.and_then(|d| d.parse::<Date>().ok());
            let entered = text(2)?.and_then(|m| m.parse::<Moment>().ok());
            if let Some(from) = effective.or(entered.map(Moment::date)) {
                out.push(Changed {
                    rec: row.get(0).at(&self.path)?,
                    from,
                    old: number(text(3)?),
                    new: number(text(4)?),
                });
            }
        }
        Ok(out)
    }

    /// Walks the records that the log does not account for: added by no
    /// operation, or not what the operations on them make of them. Records
    /// that were only added are held by the chain itself.
    ///
    /// # Errors
    /// The disk's, or what `each` returns.
    pub fn drifted<E: From<StoreError>>(
        &self,
        mut each: impl FnMut(Drifted) -> Result<(), E>,
    ) -> Result<(), E> {
        for (sql, why) in [
            (
                "select rec from record r
                 where not exists (select 1 from change c where c.rec = r.rec)",
                NO_CHANGE,
            ),
            (
                "select rec from record r where gone <> 0 and not exists
                 (select 1 from change c where c.rec = r.rec and c.what = 2)",
                REMOVED,
            ),
        ] {
            for rec in self.row_numbers(sql)? {
                if let Some((now, _, _)) = self.form_of(rec, why)? {
                    each(now)?;
                }
            }
        }
        let edited = "select distinct rec from change where what <> 0 order by rec";
        for rec in self.row_numbers(edited)? {
            if let Some(found) = self.replayed(rec)? {
                each(found)?;
            }
        }
        Ok(())
    }

    fn row_numbers(&self, sql: &str) -> Result<Vec<i64>, StoreError> {
        let mut statement = self.conn.prepare(sql).at(&self.path)?;
        let rows = statement.query_map([], |r| r.get(0)).at(&self.path)?;
        rows.map(|r| r.at(&self.path)).collect()
    }

    /// A record's identity, its body and whether it is gone.
    fn form_of(
        &self,
        rec: i64,
        why: &'static str,
    ) -> Result<Option<(Drifted, String, bool)>, StoreError> {
        let row = self
            .conn
            .prepare_cached("select rid, kind, name, body, gone from record where rec = ?1")
            .and_then(|mut s| {
                s.query_row([rec], |r| {
                    Ok((
                        r.get::<_, String>(0)?,
                        r.get::<_, i64>(1)?,
                        r.get(2)?,
                        r.get(3)?,
                        r.get(4)?,
                    ))
                })
                .optional()
            })
            .at(&self.path)?;
        Ok(row.and_then(|(rid, kind, name, body, gone)| {
            let found = Drifted {
                id: rid.parse().ok()?,
                kind: kind_from_number(kind)?,
                name,
                why,
            };
            Some((found, body, gone))
        }))
    }

    /// Plays the changes of one record again and compares.
    fn replayed(&self, rec: i64) -> Result<Option<Drifted>, StoreError> {
        let Some((found, body, gone)) = self.form_of(rec, OTHERWISE)? else {
            return Ok(None);
        };
        let mut statement = self
            .conn
            .prepare_cached(
                "select c.what, c.field, c.new, p.body from change c
                 left join past p on p.rec = c.rec and p.since = c.op
                 where c.rec = ?1 order by c.op, c.n",
            )
            .at(&self.path)?;
        let mut rows = statement.query([rec]).at(&self.path)?;
        let mut form = Value::Null;
        let mut removed = false;
        while let Some(row) = rows.next().at(&self.path)? {
            let what: i64 = row.get(0).at(&self.path)?;
            let text = |i: usize| row.get::<_, Option<String>>(i).at(&self.path);
            let json = |t: Option<String>| {
                t.and_then(|t| serde_json::from_str(&t).ok())
                    .unwrap_or(Value::Null)
            };
            removed = what == 2;
            match what {
                // Without a form of its own an added record was never changed since.
                0 => form = json(Some(text(2)?.or(text(3)?).unwrap_or_else(|| body.clone()))),
                1 => put_at(&mut form, &text(1)?.unwrap_or_default(), json(text(2)?)),
                _ => {}
            }
        }
        if removed != gone {
            return Ok(Some(Drifted {
                why: REMOVED,
                ..found
            }));
        }
        let made = Record::from_value(found.kind, form).map(|r| r.to_json());
        Ok((made.ok().as_ref() != Some(&body)).then_some(found))
    }
}
