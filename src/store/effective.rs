//! The register as things were on a day: what took effect later is taken back,
//! whenever it was entered.
//!
//! An operation counts from its effective day, else from the day of its entry;
//! one that takes another back counts from the same day as that one, so that a
//! mistake undone was never so. A record that was entered without an effective
//! day counts as having been there before: the day on which a pole was typed
//! in is not the day on which it was set. Dates inside records count by
//! themselves, see [`on_day`].

use std::collections::{BTreeSet, HashMap, HashSet};

use rusqlite::params;
use serde_json::Value;

use super::index::{kind_from_number, kind_number};
use super::past::Then;
use super::{Named, Store, StoreError};
use crate::calendar::Date;
use crate::domain::asset::{Kind, Record, State, dated_after, on_day};
use crate::domain::change::{put_at, value_at};

/// Since when each operation counts.
struct Days {
    /// By number: the day, and whether it was given and not that of entry.
    of: HashMap<i64, (Date, bool)>,
    head: i64,
}

/// What of a played record is told, beside its latest form and every state it
/// was in.
type Told<'t> = dyn Fn(Record, &Record, &[State]) -> Option<Record> + 't;

/// One change of a record.
struct Line {
    op: i64,
    what: i64,
    field: String,
    new: Option<String>,
    /// Form that the operation left, where a later one superseded it.
    form: Option<String>,
}

impl Store {
    /// Turns this store into the register as things were at the end of a day,
    /// by what it knows. It reads only from then on.
    ///
    /// # Errors
    /// The disk's, or a damaged record or log.
    pub fn effective(self, day: Date) -> Result<Store, StoreError> {
        let days = self.days()?;
        let later: BTreeSet<i64> = days
            .of
            .iter()
            .filter(|(_, (since, _))| *since > day)
            .map(|(seq, _)| *seq)
            .collect();
        let mut store = if self.past {
            self
        } else {
            self.as_of(days.head)?
        };
        let mut changed = store.touched_by(&later)?;
        changed.extend(store.dated(day)?);
        let mut forms = Vec::new();
        for rec in changed {
            forms.push((rec, store.form_on(rec, &later, &days, day)?));
        }
        store.hide_operations(&later)?;
        for (rec, form) in forms {
            store.replace_then(rec, form)?;
        }
        store.effective = Some((day, days.head));
        Ok(store)
    }

    fn days(&self) -> Result<Days, StoreError> {
        let mut days = Days {
            of: HashMap::new(),
            head: 0,
        };
        let mut by_id = HashMap::new();
        for w in self.operations(0, usize::MAX)? {
            let op = &w.operation;
            let undone = op.undoes.and_then(|id| by_id.get(&id).copied());
            let own = (
                op.effective.unwrap_or_else(|| op.entered.date()),
                op.effective.is_some(),
            );
            let since = undone.unwrap_or(own);
            by_id.insert(op.id, since);
            days.of.insert(w.seq, since);
            days.head = w.seq;
        }
        Ok(days)
    }

    pub(super) fn touched_by(&self, later: &BTreeSet<i64>) -> Result<HashSet<i64>, StoreError> {
        let mut statement = self
            .conn
            .prepare("select distinct rec from change where op = ?1")
            .at(&self.path)?;
        let mut out = HashSet::new();
        for op in later {
            let rows = statement.query_map([op], |r| r.get(0)).at(&self.path)?;
            for row in rows {
                out.insert(row.at(&self.path)?);
            }
        }
        Ok(out)
    }

    /// Records with a date inside that lies after the day.
    fn dated(&self, day: Date) -> Result<Vec<i64>, StoreError> {
        let kinds = [
            Kind::Unit,
            Kind::Structure,
            Kind::Position,
            Kind::Entry,
            Kind::Order,
        ];
        let mut out = Vec::new();
        for kind in kinds {
            // Only what holds a later date at all is parsed.
            let mut statement = self
                .conn
                .prepare("select rec, body from record where kind = ?1 and gone = 0")
                .at(&self.path)?;
            let mut rows = statement.query([kind_number(kind)]).at(&self.path)?;
            while let Some(row) = rows.next().at(&self.path)? {
                let (rec, body): (i64, String) =
                    (row.get(0).at(&self.path)?, row.get(1).at(&self.path)?);
                if !names_later_day(&body, day) {
                    continue;
                }
                let record = Record::from_json(kind, &body).map_err(|e| self.unfit(rec, &e))?;
                if dated_after(&record, day) {
                    out.push(rec);
                }
            }
        }
        Ok(out)
    }

    fn unfit(&self, rec: i64, e: &serde_json::Error) -> StoreError {
        StoreError::Damaged {
            path: self.path.display().to_string(),
            why: format!("row {rec}: {e}"),
        }
    }

    fn lines_of(&self, rec: i64) -> Result<Vec<Line>, StoreError> {
        let mut statement = self
            .conn
            .prepare_cached(
                "select c.op, c.what, c.field, c.new,
                        (select body from past p where p.rec = c.rec and p.since = c.op)
                 from change c where c.rec = ?1 order by c.op, c.n",
            )
            .at(&self.path)?;
        let rows = statement
            .query_map([rec], |r| {
                Ok(Line {
                    op: r.get(0)?,
                    what: r.get(1)?,
                    field: r.get::<_, Option<String>>(2)?.unwrap_or_default(),
                    new: r.get(3)?,
                    form: r.get(4)?,
                })
            })
            .at(&self.path)?;
        rows.map(|r| r.at(&self.path)).collect()
    }

    /// The record of a row as it was on the day; `None` when it was not there.
    fn form_on(
        &self,
        rec: i64,
        later: &BTreeSet<i64>,
        days: &Days,
        day: Date,
    ) -> Result<Option<Then>, StoreError> {
        let dated = |op: i64| days.of.get(&op).is_some_and(|(_, given)| *given);
        self.form(rec, later, &dated, &|record, latest, states| {
            on_day(record, latest, states, day)
        })
    }

    /// The record of a row without what operations made of it that hold only
    /// later; its own dates are left alone.
    pub(super) fn form_before(
        &self,
        rec: i64,
        later: &BTreeSet<i64>,
    ) -> Result<Option<Then>, StoreError> {
        self.form(rec, later, &|_| true, &|record, _, _| Some(record))
    }

    fn form(
        &self,
        rec: i64,
        later: &BTreeSet<i64>,
        dated: &dyn Fn(i64) -> bool,
        told: &Told<'_>,
    ) -> Result<Option<Then>, StoreError> {
        let (rid, kind, body): (String, i64, String) = self
            .conn
            .query_row(
                "select rid, kind, body from record where rec = ?1",
                [rec],
                |r| Ok((r.get(0)?, r.get(1)?, r.get(2)?)),
            )
            .at(&self.path)?;
        let Some(of) = kind_from_number(kind) else {
            return Ok(None);
        };
        let latest = Record::from_json(of, &body).map_err(|e| self.unfit(rec, &e))?;
        let mut played = Played::default();
        for line in self.lines_of(rec)? {
            let counts = !later.contains(&line.op) || (line.what == 0 && !dated(line.op));
            played.take(of, line, counts, &body);
        }
        let Some((record, op)) = played.fit.filter(|_| !played.gone) else {
            return Ok(None);
        };
        Ok(told(record, &latest, &played.states).map(|record| Then {
            rec,
            rid,
            kind,
            op,
            gone: false,
            body: record.to_json(),
        }))
    }

    fn hide_operations(&self, later: &BTreeSet<i64>) -> Result<(), StoreError> {
        let head = "create temp table later_operation(seq integer primary key);";
        self.conn.execute_batch(head).at(&self.path)?;
        for seq in later {
            self.conn
                .prepare_cached("insert into later_operation values (?1)")
                .and_then(|mut s| s.execute([seq]))
                .at(&self.path)?;
        }
        let seq: i64 = self
            .conn
            .query_row("select coalesce(max(seq), 0) from operation", [], |r| {
                r.get(0)
            })
            .at(&self.path)?;
        self.conn
            .execute_batch(&format!(
                "drop view temp.operation;
                 drop view temp.change;
                 create temp view operation as select * from main.operation
                   where seq <= {seq} and seq not in (select seq from temp.later_operation);
                 create temp view change as select * from main.change
                   where op <= {seq} and op not in (select seq from temp.later_operation);"
            ))
            .at(&self.path)
    }

    /// Puts a form of a record in the place of what is read of it.
    pub(super) fn replace_then(&self, rec: i64, form: Option<Then>) -> Result<(), StoreError> {
        for sql in [
            "insert or ignore into since_changed values (?1)",
            "delete from then_record where rec = ?1",
            "delete from then_name where rec = ?1",
            "delete from then_link where rec = ?1",
        ] {
            self.conn
                .prepare_cached(sql)
                .and_then(|mut s| s.execute(params![rec]))
                .at(&self.path)?;
        }
        match form {
            Some(then) => self.keep_then(&then),
            None => Ok(()),
        }
    }
}

/// The changes of one record, played in the order in which they were entered.
#[derive(Default)]
struct Played {
    /// With the changes that count.
    value: Value,
    /// With all of them, for the states it was in.
    all: Value,
    states: Vec<State>,
    gone: bool,
    /// The last form that is a sound record, and its operation.
    fit: Option<(Record, i64)>,
}

impl Played {
    fn take(&mut self, kind: Kind, line: Line, counts: bool, body: &str) {
        let json = |text: &str| serde_json::from_str(text).unwrap_or(Value::Null);
        match line.what {
            0 => {
                let added = line.new.or(line.form);
                self.all = json(added.as_deref().unwrap_or(body));
                if counts {
                    self.value = self.all.clone();
                    self.gone = false;
                }
            }
            1 => {
                let new = line.new.as_deref().map_or(Value::Null, json);
                put_at(&mut self.all, &line.field, new.clone());
                if counts {
                    put_at(&mut self.value, &line.field, new);
                }
            }
            _ if counts => self.gone = true,
            _ => {}
        }
        if let Ok(state) = serde_json::from_value(value_at(&self.all, "state").clone()) {
            self.states.push(state);
        }
        if counts && let Ok(record) = Record::from_value(kind, self.value.clone()) {
            self.fit = Some((record, line.op));
        }
    }
}

/// Whether a text holds a date, as `2026-03-10`, after a day.
fn names_later_day(body: &str, day: Date) -> bool {
    let day = day.to_string();
    body.as_bytes().windows(11).any(|w| {
        w[0] == b'"'
            && w[5] == b'-'
            && w[8] == b'-'
            && w[1..].is_ascii()
            && &w[1..] > day.as_bytes()
    })
}
