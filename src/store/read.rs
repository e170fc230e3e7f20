//! Reading: each method answers one question with owned records.

use rusqlite::{OptionalExtension, Row, params};
use serde_json::Value;

use super::chain::Chain;
use super::index::{kind_from_number, kind_number, rel_number};
use super::{Named, Store, StoreError};
use crate::domain::asset::{Kind, Record, RecordId, Rel, SchemeDoc, Utility};
use crate::domain::change::{Edit, Operation};
use crate::domain::code::fold;

/// A record as the register holds it.
#[derive(Debug, Clone, PartialEq)]
pub struct Stored {
    /// Number of the row; stable while the register lives.
    pub rec: i64,
    /// Number of the operation that gave it this form.
    pub op: i64,
    pub record: Record,
}

/// A name that matched.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Hit {
    pub rec: i64,
    pub kind: Kind,
    /// 0 the present name, 1 another name in use, 2 a name no longer in use.
    pub rank: u8,
    /// The name as it is written.
    pub text: String,
}

/// The end of the chain of operations.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct Head {
    pub seq: i64,
    /// SHA-256 in hexadecimal; empty for an empty register.
    pub digest: String,
}

/// An operation as it stands in the log.
#[derive(Debug, Clone, PartialEq)]
pub struct Written {
    pub seq: i64,
    pub operation: Operation,
    pub changes: i64,
    pub digest: String,
}

/// A line of the log, in order.
#[derive(Debug, Clone, PartialEq)]
pub enum Logged {
    Operation(Written),
    /// A record in the form in which it was added, as canonical JSON.
    Add(RecordId, Kind, String),
    Edit(Edit),
    Remove(RecordId, Kind),
}

const RECORD: &str = "rec, kind, op, body";

impl Store {
    pub(super) fn damaged(&self, why: String) -> StoreError {
        StoreError::Damaged {
            path: self.path.display().to_string(),
            why,
        }
    }

    pub(super) fn stored(
        &self,
        (rec, kind, op, body): (i64, i64, i64, String),
    ) -> Result<Stored, StoreError> {
        let kind = kind_from_number(kind)
            .ok_or_else(|| self.damaged(format!("row {rec} is of an unknown kind")))?;
        let record =
            Record::from_json(kind, &body).map_err(|e| self.damaged(format!("row {rec}: {e}")))?;
        Ok(Stored { rec, op, record })
    }

    fn many(&self, sql: &str, p: impl rusqlite::Params) -> Result<Vec<Stored>, StoreError> {
        let mut statement = self.conn.prepare_cached(sql).at(&self.path)?;
        let rows = statement.query_map(p, quad).at(&self.path)?;
        rows.map(|row| self.stored(row.at(&self.path)?)).collect()
    }

    /// The record of a row, if it is still in the register.
    ///
    /// # Errors
    /// The disk's, or a damaged record.
    pub fn by_row(&self, rec: i64) -> Result<Option<Stored>, StoreError> {
        let sql = format!("select {RECORD} from record where rec = ?1 and gone = 0");
        Ok(self.many(&sql, [rec])?.pop())
    }

    /// The record with a permanent id.
    ///
    /// # Errors
    /// The disk's, or a damaged record.
    pub fn by_id(&self, id: RecordId) -> Result<Option<Stored>, StoreError> {
        let sql = format!("select {RECORD} from record where rid = ?1 and gone = 0");
        Ok(self.many(&sql, [id.to_string()])?.pop())
    }

    /// Names that equal `text` after folding, present holders first; among
    /// equals the ones written exactly so come first.
    ///
    /// # Errors
    /// The disk's.
    pub fn named(&self, text: &str) -> Result<Vec<Hit>, StoreError> {
        let folded = fold(text);
        let mut hits = self.hits(
            "select rec, kind, rank, text from name where folded = ?1 order by rank, kind, rec",
            [folded],
        )?;
        hits.sort_by_key(|h| (h.rank, h.text != text));
        Ok(hits)
    }

    /// Names that begin with `folded`, at most `limit`.
    ///
    /// # Errors
    /// The disk's.
    pub fn names_beginning(&self, folded: &str, limit: usize) -> Result<Vec<Hit>, StoreError> {
        let Some(end) = after_prefix(folded) else {
            return Ok(Vec::new());
        };
        self.hits(
            "select rec, kind, rank, text from name where folded >= ?1 and folded < ?2
             order by folded, rank limit ?3",
            params![folded, end, i64::try_from(limit).unwrap_or(i64::MAX)],
        )
    }

    fn hits(&self, sql: &str, p: impl rusqlite::Params) -> Result<Vec<Hit>, StoreError> {
        let mut statement = self.conn.prepare_cached(sql).at(&self.path)?;
        let rows = statement
            .query_map(p, |r| Ok((r.get(0)?, r.get(1)?, r.get(2)?, r.get(3)?)))
            .at(&self.path)?;
        let mut out = Vec::new();
        for row in rows {
            let (rec, kind, rank, text): (i64, i64, u8, String) = row.at(&self.path)?;
            out.extend(kind_from_number(kind).map(|kind| Hit {
                rec,
                kind,
                rank,
                text,
            }));
        }
        Ok(out)
    }

    /// Records that point at the name `target` in the way `rel`.
    ///
    /// # Errors
    /// The disk's, or a damaged record.
    pub fn pointing(&self, rel: Rel, target: &str) -> Result<Vec<Stored>, StoreError> {
        let sql = "select r.rec, r.kind, r.op, r.body from link l join record r on r.rec = l.rec
             where l.rel = ?1 and l.target = ?2 and r.gone = 0 order by r.name, r.rec";
        self.many(sql, params![rel_number(rel), fold(target)])
    }

    /// A view of the past has no index of its own to be named.
    pub(super) fn by_home(&self) -> &'static str {
        if self.past {
            ""
        } else {
            "indexed by record_home"
        }
    }

    /// Records of a kind at home in a feeder (`None`: at home nowhere), by name.
    ///
    /// # Errors
    /// The disk's, or a damaged record.
    pub fn at_home(&self, home: Option<&str>, kind: Kind) -> Result<Vec<Stored>, StoreError> {
        let by = self.by_home();
        let sql = format!(
            "select {RECORD} from record {by}
             where home is ?1 and kind = ?2 and gone = 0
             order by name, rec"
        );
        self.many(&sql, params![home, kind_number(kind)])
    }

    /// Spans that touch a structure of the feeder but are at home elsewhere.
    /// The joins are written in the order in which they are cheap: the planner
    /// does not know how few structures a feeder has.
    ///
    /// # Errors
    /// The disk's, or a damaged record.
    pub fn spans_from_elsewhere(&self, feeder: &str) -> Result<Vec<Stored>, StoreError> {
        let sql = "select distinct s.rec, s.kind, s.op, s.body
             from record t
             cross join name n on n.rec = t.rec and n.rank = 0
             cross join link l on l.rel in (?3, ?4) and l.target = n.folded
             cross join record s on s.rec = l.rec
             where t.home = ?1 and t.kind = ?2 and t.gone = 0 and s.gone = 0 and s.home is not ?1
             order by s.name, s.rec";
        self.many(
            sql,
            params![
                feeder,
                kind_number(Kind::Structure),
                rel_number(Rel::SpanFrom),
                rel_number(Rel::SpanTo)
            ],
        )
    }

    /// A page of records of a kind, ordered by name and row, after a place.
    ///
    /// # Errors
    /// The disk's, or a damaged record.
    pub fn page(
        &self,
        kind: Kind,
        after: Option<(&str, i64)>,
        limit: usize,
    ) -> Result<Vec<Stored>, StoreError> {
        let sql = format!(
            "select {RECORD} from record where kind = ?1 and gone = 0
             and (name, rec) > (?2, ?3) order by name, rec limit ?4"
        );
        let (name, rec) = after.unwrap_or(("", -1));
        self.many(
            &sql,
            params![
                kind_number(kind),
                name,
                rec,
                i64::try_from(limit).unwrap_or(i64::MAX)
            ],
        )
    }

    /// Every record of a kind, by name. For kinds that are few: feeders,
    /// sources, conductors, notices, schemes.
    ///
    /// # Errors
    /// The disk's, or a damaged record.
    pub fn all(&self, kind: Kind) -> Result<Vec<Stored>, StoreError> {
        self.page(kind, None, usize::MAX)
    }

    /// How many records of a kind there are.
    ///
    /// # Errors
    /// The disk's.
    pub fn count(&self, kind: Kind) -> Result<u64, StoreError> {
        self.conn
            .query_row(
                "select count(*) from record where kind = ?1 and gone = 0",
                [kind_number(kind)],
                |r| r.get::<_, i64>(0),
            )
            .at(&self.path)
            .map(|n| u64::try_from(n).unwrap_or(0))
    }

    /// Every home that records have, by name; `None` when some have none.
    ///
    /// # Errors
    /// The disk's.
    pub fn homes(&self) -> Result<Vec<Option<String>>, StoreError> {
        let mut statement = self
            .conn
            .prepare_cached(
                "select distinct home from record where kind in (?1, ?2, ?3) and gone = 0 order by home",
            )
            .at(&self.path)?;
        let rows = statement
            .query_map(
                params![
                    kind_number(Kind::Structure),
                    kind_number(Kind::Span),
                    kind_number(Kind::Position)
                ],
                |r| r.get(0),
            )
            .at(&self.path)?;
        rows.map(|r| r.at(&self.path)).collect()
    }

    /// The utility, if the register names one.
    ///
    /// # Errors
    /// The disk's, or a damaged record.
    pub fn utility(&self) -> Result<Option<Utility>, StoreError> {
        Ok(self
            .page(Kind::Utility, None, 1)?
            .pop()
            .and_then(|s| match s.record {
                Record::Utility(u) => Some(u),
                _ => None,
            }))
    }

    /// The numbering schemes as records.
    ///
    /// # Errors
    /// The disk's, or a damaged record.
    pub fn schemes(&self) -> Result<Vec<SchemeDoc>, StoreError> {
        Ok(self
            .all(Kind::Scheme)?
            .into_iter()
            .filter_map(|s| match s.record {
                Record::Scheme(doc) => Some(doc),
                _ => None,
            })
            .collect())
    }

    /// The end of the chain of operations.
    ///
    /// # Errors
    /// The disk's.
    pub fn head(&self) -> Result<Head, StoreError> {
        // What took effect later is known all the same.
        let known = self.effective.map_or(i64::MAX, |(_, seq)| seq);
        let from = if self.effective.is_some() {
            "main.operation"
        } else {
            "operation"
        };
        let sql =
            format!("select seq, digest from {from} where seq <= ?1 order by seq desc limit 1");
        self.conn
            .prepare_cached(&sql)
            .and_then(|mut s| {
                s.query_row([known], |r| {
                    Ok(Head {
                        seq: r.get(0)?,
                        digest: r.get(1)?,
                    })
                })
                .optional()
            })
            .at(&self.path)
            .map(Option::unwrap_or_default)
    }

    /// Operations after `seq`, oldest first, at most `limit`.
    ///
    /// # Errors
    /// The disk's, or a damaged log.
    pub fn operations(&self, after: i64, limit: usize) -> Result<Vec<Written>, StoreError> {
        let mut statement = self
            .conn
            .prepare_cached(
                "select seq, id, who, entered, effective, why, origin, undoes, changes, digest
                 from operation where seq > ?1 order by seq limit ?2",
            )
            .at(&self.path)?;
        let rows = statement
            .query_map(
                params![after, i64::try_from(limit).unwrap_or(i64::MAX)],
                |r| Ok(written(r)),
            )
            .at(&self.path)?;
        rows.map(|r| {
            r.at(&self.path)?
                .map_err(|why| StoreError::BadLog("?".to_string(), why))
        })
        .collect()
    }

    /// Walks the changes of one operation in order.
    ///
    /// # Errors
    /// The disk's, a damaged log, or what `each` returns.
    pub fn changes<E: From<StoreError>>(
        &self,
        seq: i64,
        mut each: impl FnMut(Logged) -> Result<(), E>,
    ) -> Result<(), E> {
        let mut statement = self
            .conn
            .prepare_cached(
                "select c.what, r.rid, r.kind, c.field, c.old, c.new,
                        case when c.what = 0 and c.new is null then
                          coalesce((select body from past p where p.rec = c.rec and p.since = c.op), r.body)
                        end
                 from change c join record r on r.rec = c.rec where c.op = ?1 order by c.n",
            )
            .at(&self.path)?;
        let mut rows = statement.query([seq]).at(&self.path)?;
        while let Some(row) = rows.next().at(&self.path)? {
            each(logged(row).map_err(|why| StoreError::BadLog(seq.to_string(), why))?)?;
        }
        Ok(())
    }

    /// Recomputes the chain; returns the first operation whose digest differs.
    ///
    /// # Errors
    /// The disk's, or a damaged log.
    pub fn broken_link(&self) -> Result<Option<i64>, StoreError> {
        let mut before = String::new();
        for w in self.operations(0, usize::MAX)? {
            let mut chain = Chain::start(&before, &w.operation);
            self.changes::<StoreError>(w.seq, |line| {
                match &line {
                    Logged::Add(id, kind, body) => chain.add(*id, *kind, body),
                    Logged::Edit(edit) => chain.edit(edit),
                    Logged::Remove(id, _) => chain.remove(*id),
                    Logged::Operation(_) => {}
                }
                Ok(())
            })?;
            if chain.finish() != w.digest {
                return Ok(Some(w.seq));
            }
            before = w.digest;
        }
        Ok(None)
    }

    /// A number that changes when another connection writes.
    ///
    /// # Errors
    /// The disk's.
    pub fn data_version(&self) -> Result<i64, StoreError> {
        self.conn
            .query_row("select data_version from pragma_data_version", [], |r| {
                r.get(0)
            })
            .at(&self.path)
    }
}

fn quad(r: &Row<'_>) -> rusqlite::Result<(i64, i64, i64, String)> {
    Ok((r.get(0)?, r.get(1)?, r.get(2)?, r.get(3)?))
}

/// The least text after every text that begins with `prefix`. Folded names
/// hold letters and digits only, so the last character can be raised by one.
pub(super) fn after_prefix(prefix: &str) -> Option<String> {
    let last = prefix.chars().last()?;
    let next = char::from_u32(u32::from(last) + 1)?;
    let cut = prefix.len() - last.len_utf8();
    Some(format!("{}{next}", &prefix[..cut]))
}

fn written(r: &Row<'_>) -> Result<Written, String> {
    let text = |i: usize| r.get::<_, Option<String>>(i).map_err(|e| e.to_string());
    let needed = |i: usize| Ok::<_, String>(text(i)?.unwrap_or_default());
    let whole = |i: usize| r.get::<_, i64>(i).map_err(|e| e.to_string());
    Ok(Written {
        seq: whole(0)?,
        operation: Operation {
            id: needed(1)?.parse()?,
            who: needed(2)?,
            entered: needed(3)?.parse().map_err(|e| format!("{e}"))?,
            effective: text(4)?
                .map(|d| d.parse())
                .transpose()
                .map_err(|e| format!("{e}"))?,
            why: needed(5)?,
            origin: text(6)?,
            undoes: text(7)?.map(|u| u.parse()).transpose()?,
        },
        changes: whole(8)?,
        digest: needed(9)?,
    })
}

fn logged(r: &Row<'_>) -> Result<Logged, String> {
    let text = |i: usize| r.get::<_, Option<String>>(i).map_err(|e| e.to_string());
    let json = |i: usize| match text(i)? {
        Some(t) => serde_json::from_str::<Value>(&t).map_err(|e| e.to_string()),
        None => Ok(Value::Null),
    };
    let what: i64 = r.get(0).map_err(|e| e.to_string())?;
    let id: RecordId = text(1)?.unwrap_or_default().parse()?;
    let kind = kind_from_number(r.get(2).map_err(|e| e.to_string())?)
        .ok_or_else(|| "unknown kind of record".to_string())?;
    Ok(match what {
        0 => Logged::Add(id, kind, text(5)?.or(text(6)?).unwrap_or_default()),
        1 => Logged::Edit(Edit {
            id,
            kind,
            field: text(3)?.unwrap_or_default(),
            old: json(4)?,
            new: json(5)?,
        }),
        2 => Logged::Remove(id, kind),
        other => return Err(format!("unknown change {other}")),
    })
}
