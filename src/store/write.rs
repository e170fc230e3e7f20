//! The one way to write: an operation made of a stream of changes, in one
//! transaction, chained by digest.

use rusqlite::{OptionalExtension, Transaction, TransactionBehavior, params};
use serde_json::Value;

use super::chain::Chain;
use super::index::{self, kind_from_number, kind_number};
use super::kept::{Touched, kind_bears};
use super::step::Step;
use super::{Access, Named, Store, StoreError};
use crate::domain::asset::{Kind, Record, RecordId};
use crate::domain::change::{Change, Edit, Operation, put_at, value_at};

/// What a row of the change table is.
#[derive(Clone, Copy, PartialEq, Eq)]
pub(super) enum What {
    Add = 0,
    Edit = 1,
    Remove = 2,
}

/// 64 MiB of pages; 8 MiB of words before they go into the index.
const MANY: &str = "pragma cache_size = -65536;
    insert into described(described, rank) values ('hashsize', 8388608);
    insert into spelled(spelled, rank) values ('hashsize', 8388608);";

/// As a register is made.
const FEW: &str = "pragma cache_size = -2000;
    insert into described(described, rank) values ('hashsize', 1048576);
    insert into spelled(spelled, rank) values ('hashsize', 1048576);";

/// A transaction in which operations are written. Dropped without
/// [`Writer::commit`], it leaves the register as it was.
pub struct Writer<'s> {
    pub(super) tx: Transaction<'s>,
    /// Reads what this transaction has written so far.
    pub(super) store: &'s Store,
    pub(super) path: std::path::PathBuf,
    file: super::place::Identity,
    known: index::Known,
    pub(super) touched: Touched,
    many: bool,
}

struct Row {
    rec: i64,
    kind: Kind,
    op: i64,
    gone: bool,
    body: String,
}

impl Store {
    /// Starts writing. Waits for another writer.
    ///
    /// # Errors
    /// When the register is read only, busy or damaged.
    pub fn writer(&mut self) -> Result<Writer<'_>, StoreError> {
        if self.access == Access::Read {
            let shown = self.path.display().to_string();
            return Err(match self.mark()? {
                Some(_) => StoreError::IsBackup(shown),
                None => StoreError::ReadOnly(shown),
            });
        }
        let (path, file) = (self.path.clone(), self.file);
        // Nobody else can begin one: this store is borrowed alone.
        let store: &Store = self;
        let tx =
            Transaction::new_unchecked(&store.conn, TransactionBehavior::Immediate).at(&path)?;
        if let Some(why) = super::backup::barred(&tx, &path)? {
            return Err(why);
        }
        Ok(Writer {
            tx,
            store,
            path,
            file,
            known: index::Known::default(),
            touched: Touched::default(),
            many: false,
        })
    }

    /// Writes one operation in a transaction of its own.
    ///
    /// # Errors
    /// Those of [`Writer::operation`]; nothing is then changed.
    pub fn apply<I, E>(&mut self, operation: &Operation, changes: I) -> Result<usize, E>
    where
        I: IntoIterator<Item = Result<Change, E>>,
        E: From<StoreError>,
    {
        let mut writer = self.writer()?;
        let n = writer.operation(operation, changes)?;
        writer.commit()?;
        Ok(n)
    }
}

impl<'s> Writer<'s> {
    /// Writes one operation; an operation without a change leaves no trace.
    /// Returns the number of changes.
    ///
    /// # Errors
    /// An error of the stream, a conflict with what is on record, a value that
    /// its record cannot hold, or the disk's.
    pub fn operation<I, E>(&mut self, operation: &Operation, changes: I) -> Result<usize, E>
    where
        I: IntoIterator<Item = Result<Change, E>>,
        E: From<StoreError>,
    {
        let mut step = self.start(operation.clone())?;
        for change in changes {
            step.change(&change?)?;
        }
        Ok(step.finish()?)
    }

    /// Starts an operation whose changes depend on what is on record.
    ///
    /// # Errors
    /// The disk's.
    pub fn start(&mut self, operation: Operation) -> Result<Step<'_, 's>, StoreError> {
        let (seq, before) = self.tail()?;
        self.touched.begin(seq);
        Ok(Step::new(self, (seq, &before), operation))
    }

    /// Gives the indexes room, for an import: pages that come again and again
    /// stay in memory, and words are merged in larger parts.
    ///
    /// # Errors
    /// The disk's.
    pub fn expect_many(&mut self) -> Result<(), StoreError> {
        self.tx.execute_batch(MANY).at(&self.path)?;
        self.many = true;
        Ok(())
    }

    /// Makes everything written since [`Store::writer`] last.
    ///
    /// # Errors
    /// The disk's, and [`StoreError::Replaced`] when the file has left its
    /// place meanwhile; nothing is then changed.
    pub fn commit(self) -> Result<(), StoreError> {
        self.settle_lines()?;
        if self.many {
            self.tx.execute_batch(FEW).at(&self.path)?;
        }
        self.commit_as_it_is()
    }

    /// [`Writer::commit`] where no record has changed.
    pub(super) fn commit_as_it_is(self) -> Result<(), StoreError> {
        self.file.still_at(&self.path)?;
        self.tx.commit().at(&self.path)
    }

    /// Number and digest of the last operation.
    ///
    /// # Errors
    /// The disk's.
    pub fn tail(&self) -> Result<(i64, String), StoreError> {
        self.tx
            .query_row(
                "select seq, digest from operation order by seq desc limit 1",
                [],
                |r| Ok((r.get(0)?, r.get(1)?)),
            )
            .optional()
            .at(&self.path)
            .map(Option::unwrap_or_default)
    }

    pub(super) fn change(
        &mut self,
        seq: i64,
        n: usize,
        change: &Change,
        chain: &mut Chain,
    ) -> Result<(), StoreError> {
        match change {
            Change::Add(record) => {
                let body = record.to_json();
                chain.add(record.id(), record.kind(), &body);
                self.add(seq, n, record, &body)
            }
            Change::Edit(edit) => {
                chain.edit(edit);
                self.edit(seq, n, edit)
            }
            Change::Remove(id) => {
                chain.remove(*id);
                self.remove(seq, n, *id)
            }
        }
    }

    pub(super) fn add(
        &mut self,
        seq: i64,
        n: usize,
        record: &Record,
        body: &str,
    ) -> Result<(), StoreError> {
        let id = record.id();
        if id.is_nil() {
            return Err(StoreError::BadChange {
                record: record.name(),
                why: "the record has no id".to_string(),
            });
        }
        let rec = match self.insert(seq, record, body) {
            Ok(rec) => rec,
            // The id is there: perhaps of a record that was removed.
            Err(e) if is_clash(&e) => match self.row(id)? {
                Some(row) if row.gone => self.revive(seq, &row, record, body)?,
                _ => return Err(StoreError::DoubleId(id)),
            },
            Err(e) => return Err(e).at(&self.path),
        };
        self.touched.note(None, Some(record));
        index::put(&self.tx, rec, record, &mut self.known).at(&self.path)?;
        self.note(seq, n, rec, What::Add, None)
    }

    fn insert(&self, seq: i64, record: &Record, body: &str) -> rusqlite::Result<i64> {
        self.tx
            .prepare_cached(
                "insert into record(rid, kind, name, home, op, body) values (?1,?2,?3,?4,?5,?6)",
            )?
            .insert(params![
                record.id().to_string(),
                kind_number(record.kind()),
                record.name(),
                record.home(),
                seq,
                body
            ])
    }

    /// A removed record comes back under its own id.
    fn revive(
        &mut self,
        seq: i64,
        row: &Row,
        record: &Record,
        body: &str,
    ) -> Result<i64, StoreError> {
        self.keep_past(seq, row)?;
        self.tx
            .prepare_cached(
                "update record set kind=?2, name=?3, home=?4, op=?5, gone=0, body=?6 where rec=?1",
            )
            .and_then(|mut s| {
                s.execute(params![
                    row.rec,
                    kind_number(record.kind()),
                    record.name(),
                    record.home(),
                    seq,
                    body
                ])
            })
            .at(&self.path)?;
        Ok(row.rec)
    }

    fn edit(&mut self, seq: i64, n: usize, edit: &Edit) -> Result<(), StoreError> {
        let row = self
            .row(edit.id)?
            .filter(|row| !row.gone)
            .ok_or(StoreError::NoSuchRecord(edit.id))?;
        let record = edited(&row, edit)?;
        if kind_bears(row.kind) {
            match Record::from_json(row.kind, &row.body) {
                Ok(old) => self.touched.note(Some(&old), Some(&record)),
                Err(_) => self.touched.everything(),
            }
        }
        self.keep_past(seq, &row)?;
        self.tx
            .prepare_cached("update record set name=?2, home=?3, op=?4, body=?5 where rec=?1")
            .and_then(|mut s| {
                s.execute(params![
                    row.rec,
                    record.name(),
                    record.home(),
                    seq,
                    record.to_json()
                ])
            })
            .at(&self.path)?;
        index::take(&self.tx, row.rec, &mut self.known).at(&self.path)?;
        index::put(&self.tx, row.rec, &record, &mut self.known).at(&self.path)?;
        self.note(seq, n, row.rec, What::Edit, Some(edit))
    }

    fn remove(&mut self, seq: i64, n: usize, id: RecordId) -> Result<(), StoreError> {
        let row = self
            .row(id)?
            .filter(|row| !row.gone)
            .ok_or(StoreError::NoSuchRecord(id))?;
        match Record::from_json(row.kind, &row.body) {
            Ok(old) => self.touched.note(Some(&old), None),
            Err(_) => self.touched.everything(),
        }
        self.keep_past(seq, &row)?;
        self.tx
            .prepare_cached("update record set op=?2, gone=1 where rec=?1")
            .and_then(|mut s| s.execute(params![row.rec, seq]))
            .at(&self.path)?;
        index::take(&self.tx, row.rec, &mut self.known).at(&self.path)?;
        self.note(seq, n, row.rec, What::Remove, None)
    }

    fn row(&self, id: RecordId) -> Result<Option<Row>, StoreError> {
        self.tx
            .prepare_cached("select rec, kind, op, gone, body from record where rid = ?1")
            .and_then(|mut s| {
                s.query_row([id.to_string()], |r| {
                    Ok((r.get(0)?, r.get(1)?, r.get(2)?, r.get(3)?, r.get(4)?))
                })
                .optional()
            })
            .at(&self.path)?
            .map(|(rec, kind, op, gone, body)| {
                Ok(Row {
                    rec,
                    kind: kind_from_number(kind).ok_or_else(|| StoreError::Damaged {
                        path: self.path.display().to_string(),
                        why: format!("record {id} is of an unknown kind"),
                    })?,
                    op,
                    gone,
                    body,
                })
            })
            .transpose()
    }

    /// Keeps the form that an operation supersedes, once an operation.
    fn keep_past(&self, seq: i64, row: &Row) -> Result<(), StoreError> {
        if row.op == seq {
            return self.keep_added(seq, row);
        }
        if row.gone {
            return Ok(());
        }
        self.tx
            .prepare_cached("insert into past(rec, since, until, body) values (?1, ?2, ?3, ?4)")
            .and_then(|mut s| s.execute(params![row.rec, row.op, seq, row.body]))
            .at(&self.path)
            .map(|_| ())
    }

    /// A record that is added and changed in one operation: the form in which
    /// it was added stays with its change.
    fn keep_added(&self, seq: i64, row: &Row) -> Result<(), StoreError> {
        self.tx
            .prepare_cached(
                "update change set new = ?3 where op = ?1 and rec = ?2 and what = 0 and new is null",
            )
            .and_then(|mut s| s.execute(params![seq, row.rec, row.body]))
            .at(&self.path)
            .map(|_| ())
    }

    fn note(
        &self,
        seq: i64,
        n: usize,
        rec: i64,
        what: What,
        edit: Option<&Edit>,
    ) -> Result<(), StoreError> {
        let n = i64::try_from(n).unwrap_or(i64::MAX);
        self.tx
            .prepare_cached(
                "insert into change(op, n, rec, what, field, old, new) values (?1,?2,?3,?4,?5,?6,?7)",
            )
            .and_then(|mut s| {
                s.execute(params![
                    seq,
                    n,
                    rec,
                    what as i64,
                    edit.map(|e| &e.field),
                    edit.map(|e| e.old.to_string()),
                    edit.map(|e| e.new.to_string()),
                ])
            })
            .at(&self.path)
            .map(|_| ())
    }

    pub(super) fn seal(
        &self,
        seq: i64,
        op: &Operation,
        n: usize,
        digest: &str,
    ) -> Result<(), StoreError> {
        self.tx
            .execute(
                "insert into operation(seq, id, who, entered, effective, why, origin, undoes, changes, digest)
                 values (?1,?2,?3,?4,?5,?6,?7,?8,?9,?10)",
                params![
                    seq,
                    op.id.to_string(),
                    op.who,
                    op.entered.to_string(),
                    op.effective.map(|d| d.to_string()),
                    op.why,
                    op.origin,
                    op.undoes.map(|u| u.to_string()),
                    i64::try_from(n).unwrap_or(i64::MAX),
                    digest
                ],
            )
            .at(&self.path)
            .map(|_| ())
    }
}

/// Whether a row with this key is there already.
fn is_clash(e: &rusqlite::Error) -> bool {
    e.sqlite_error_code() == Some(rusqlite::ErrorCode::ConstraintViolation)
}

/// The record after an edit, in canonical form.
fn edited(row: &Row, edit: &Edit) -> Result<Record, StoreError> {
    let bad = |why: String| StoreError::BadChange {
        record: edit.id.to_string(),
        why,
    };
    let mut value: Value = serde_json::from_str(&row.body).map_err(|e| bad(e.to_string()))?;
    let found = value_at(&value, &edit.field);
    if *found != edit.old {
        return Err(StoreError::Conflict {
            record: edit.id.to_string(),
            field: edit.field.clone(),
            found: found.to_string(),
            expected: edit.old.to_string(),
        });
    }
    put_at(&mut value, &edit.field, edit.new.clone());
    Record::from_value(row.kind, value).map_err(|e| bad(format!("{}: {e}", edit.field)))
}
