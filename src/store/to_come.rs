//! What was entered and holds only from a later day on. Until that day the
//! register answers with what holds today, and says what will change.
//!
//! Only records that such an operation touches pay: they are shadowed on this
//! connection alone, as in [`super::past`]; without any, nothing is.

use std::collections::BTreeSet;

use rusqlite::params;
use serde_json::Value;

use super::{Access, Named, Store, StoreError};
use crate::calendar::Date;
use crate::domain::change::printed;

/// A field that changes on a day.
#[derive(Debug, Clone, PartialEq)]
pub struct ToCome {
    pub on: Date,
    pub who: String,
    pub why: String,
    /// None when the record itself enters the register, or leaves it.
    pub field: Option<String>,
    pub old: Value,
    pub new: Value,
}

impl ToCome {
    /// When, what becomes of what, and by whom.
    #[must_use]
    pub fn sentence(&self) -> String {
        let what = match &self.field {
            Some(field) => format!(
                "{field} {} becomes {}",
                printed(&self.old),
                printed(&self.new)
            ),
            None if self.new.is_null() => "it leaves the register".to_string(),
            None => "it enters the register".to_string(),
        };
        format!(
            "changes on {}: {what} (by {}: {})",
            self.on.spoken(),
            self.who,
            self.why
        )
    }
}

/// Operations that hold from after a day on and are not taken back.
const LATER: &str = "select o.seq from operation o where o.effective > ?1 and o.undoes is null
   and not exists (select 1 from operation u where u.undoes = o.id)";

const SHADOWS: &str = "
    create temp table then_record(
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
      select rel, target, rec from temp.then_link;";

impl Store {
    /// Makes this store answer with what holds at the end of a day, where
    /// something was entered that holds only later; to be called again when
    /// something was written. A store that can write is left as it is, since
    /// what is written rests on the latest forms; so is one that answers as of
    /// then.
    ///
    /// # Errors
    /// The disk's, or a damaged record or log.
    pub fn hold_back(&mut self, day: Date) -> Result<(), StoreError> {
        if self.access == Access::Write || (self.past && !self.held) {
            return Ok(());
        }
        let later = self.later(day)?;
        if later.is_empty() && !self.held {
            return Ok(());
        }
        if self.held {
            let clear = "delete from then_record; delete from then_name; delete from then_link;
                         delete from since_changed;";
            self.conn.execute_batch(clear).at(&self.path)?;
        } else {
            self.conn.execute_batch(SHADOWS).at(&self.path)?;
            (self.held, self.past) = (true, true);
        }
        let mut forms = Vec::new();
        for rec in self.touched_by(&later)? {
            forms.push((rec, self.form_before(rec, &later)?));
        }
        for (rec, form) in forms {
            self.replace_then(rec, form)?;
        }
        Ok(())
    }

    fn later(&self, day: Date) -> Result<BTreeSet<i64>, StoreError> {
        let mut statement = self.conn.prepare_cached(LATER).at(&self.path)?;
        let rows = statement
            .query_map([day.to_string()], |r| r.get(0))
            .at(&self.path)?;
        rows.map(|r| r.at(&self.path)).collect()
    }

    /// What changes on a record after a day, the soonest first.
    ///
    /// # Errors
    /// The disk's, or a damaged log.
    pub fn to_come(&self, rec: i64, day: Date) -> Result<Vec<ToCome>, StoreError> {
        let sql = format!(
            "select o.effective, o.who, o.why, c.what, c.field, c.old, c.new
             from change c join operation o on o.seq = c.op
             where c.rec = ?2 and o.seq in ({LATER}) order by o.effective, o.seq, c.n"
        );
        let mut statement = self.conn.prepare_cached(&sql).at(&self.path)?;
        let mut rows = statement
            .query(params![day.to_string(), rec])
            .at(&self.path)?;
        let json = |text: Option<String>| {
            text.and_then(|t| serde_json::from_str(&t).ok())
                .unwrap_or(Value::Null)
        };
        let mut out = Vec::new();
        while let Some(r) = rows.next().at(&self.path)? {
            let on: String = r.get(0).at(&self.path)?;
            let on = on
                .parse()
                .map_err(|e| StoreError::BadLog(on.clone(), format!("{e}")))?;
            let what: i64 = r.get(3).at(&self.path)?;
            let (old, new): (Option<String>, Option<String>) =
                (r.get(5).at(&self.path)?, r.get(6).at(&self.path)?);
            out.push(ToCome {
                on,
                who: r.get(1).at(&self.path)?,
                why: r.get(2).at(&self.path)?,
                field: r.get(4).at(&self.path)?,
                old: if what == 1 { json(old) } else { Value::Null },
                new: match what {
                    1 => json(new),
                    2 => Value::Null,
                    _ => Value::Bool(true),
                },
            });
        }
        Ok(out)
    }
}
