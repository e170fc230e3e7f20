//! Whole copies of a register: a backup taken at one moment while others
//! write, and the way back into a register that others have open.
//!
//! Both go through SQLite's online backup: a copy is read in one transaction,
//! and a restore is written in one, so that a process that is killed leaves
//! the register as it was, and its permissions and open connections stay.

use std::path::Path;
use std::time::{Duration, Instant};

use rusqlite::backup::{Backup, StepResult};
use rusqlite::{Connection, OpenFlags, OptionalExtension, params};
use serde::{Deserialize, Serialize};

use super::index::{kind_from_number, rel_number};
use super::{Head, Named, Store, StoreError, open};
use crate::calendar::Moment;
use crate::domain::asset::Record;
use crate::domain::code::fold;

/// Key of the row that makes a file a backup.
const MARK: &str = "backup";
/// Key of the row that says who is restoring.
const RESTORING: &str = "restoring";
/// Lines of an integrity check that are read.
const LINES: usize = 50;

/// What a backup says of itself.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct Mark {
    pub made: Moment,
    pub operations: i64,
    pub head: String,
    /// SHA-256 of the reports file taken along, in hexadecimal; none when the
    /// register had none.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub reports: Option<String>,
}

impl Store {
    /// What this file says of itself when it is a backup.
    ///
    /// # Errors
    /// The disk's.
    pub fn mark(&self) -> Result<Option<Mark>, StoreError> {
        let text = meta(&self.conn, MARK).at(&self.path)?;
        Ok(text.and_then(|t| serde_json::from_str(&t).ok()))
    }

    /// Copies the register as it stands at this moment into a file that is
    /// not there yet; others may go on writing. With `made` the copy is a
    /// backup, which no command writes into; without, a register.
    ///
    /// # Errors
    /// When the file is there, or the disk refuses; what was begun is removed.
    pub fn copy_to(&self, to: &Path, made: Option<Moment>) -> Result<Head, StoreError> {
        self.copy_with(to, made, None)
    }

    /// [`Store::copy_to`], naming the digest of the reports file that goes
    /// along.
    ///
    /// # Errors
    /// As [`Store::copy_to`].
    pub fn copy_with(
        &self,
        to: &Path,
        made: Option<Moment>,
        reports: Option<String>,
    ) -> Result<Head, StoreError> {
        open::new_file(to)?;
        let copied = self.copy_into(to, made, reports);
        if copied.is_err() {
            remove_with_logs(to);
        }
        copied
    }

    fn copy_into(
        &self,
        to: &Path,
        made: Option<Moment>,
        reports: Option<String>,
    ) -> Result<Head, StoreError> {
        let mut copy = connect_copy(to)?;
        run(&self.conn, &mut copy, to, &self.path)?;
        // One file without logs beside it, which can be carried and read anywhere.
        copy.query_row("pragma journal_mode = delete", [], |_| Ok(()))
            .at(to)?;
        let head = copy
            .query_row(
                "select seq, digest from operation order by seq desc limit 1",
                [],
                |r| {
                    Ok(Head {
                        seq: r.get(0)?,
                        digest: r.get(1)?,
                    })
                },
            )
            .optional()
            .at(to)?
            .unwrap_or_default();
        copy.execute("delete from meta where key in (?1, ?2)", [MARK, RESTORING])
            .at(to)?;
        if let Some(made) = made {
            let mark = Mark {
                made,
                operations: head.seq,
                head: head.digest.clone(),
                reports,
            };
            put_meta(&copy, MARK, &mark).at(to)?;
        }
        copy.close()
            .map_err(|(_, e)| StoreError::from_sql(to, &e))?;
        std::fs::File::open(to)
            .and_then(|f| f.sync_all())
            .map_err(|e| StoreError::from_io(to, &e))?;
        Ok(head)
    }

    /// Keeps others from writing until the restore by this process ends, is
    /// given up, or its process is gone.
    ///
    /// # Errors
    /// When somebody else is restoring; those of the disk.
    pub fn begin_restore(&mut self) -> Result<(), StoreError> {
        let writer = self.writer()?;
        put_meta(&writer.tx, RESTORING, &std::process::id()).at(&writer.path)?;
        writer.commit()
    }

    /// Lets others write again.
    ///
    /// # Errors
    /// The disk's.
    pub fn end_restore(&mut self) -> Result<(), StoreError> {
        self.conn
            .execute("delete from meta where key = ?1", [RESTORING])
            .at(&self.path)
            .map(|_| ())
    }

    /// Puts the content of a register file in the place of this one's, in one
    /// transaction.
    ///
    /// # Errors
    /// The disk's; the register is then as it was.
    pub fn take_over(&mut self, from: &Path) -> Result<(), StoreError> {
        let source = Connection::open_with_flags(
            from,
            OpenFlags::SQLITE_OPEN_READ_ONLY | OpenFlags::SQLITE_OPEN_NO_MUTEX,
        )
        .at(from)?;
        self.conn.flush_prepared_statement_cache();
        let path = self.path.clone();
        run(&source, &mut self.conn, &path, from)?;
        self.fold_log()
    }

    /// What SQLite's own check of the file complains of; nothing when sound.
    ///
    /// # Errors
    /// When the file cannot be read at all.
    pub fn file_faults(&self) -> Result<Vec<String>, StoreError> {
        let mut statement = self
            .conn
            .prepare(&format!("pragma integrity_check({LINES})"))
            .at(&self.path)?;
        let rows = statement
            .query_map([], |r| r.get::<_, String>(0))
            .at(&self.path)?;
        let mut out = Vec::new();
        for row in rows {
            out.push(row.at(&self.path)?);
        }
        out.retain(|line| line != "ok");
        Ok(out)
    }

    /// Walks the records that the index does not show as they are: by their
    /// names, by what they point at, or by their words. Returns how many
    /// records there are.
    ///
    /// # Errors
    /// The disk's, or what `each` returns.
    pub fn index_faults<E: From<StoreError>>(
        &self,
        mut each: impl FnMut(String) -> Result<(), E>,
    ) -> Result<usize, E> {
        let mut statement = self
            .conn
            .prepare("select rec, kind, body from record where gone = 0 order by rec")
            .at(&self.path)?;
        let mut rows = statement.query([]).at(&self.path)?;
        let (mut records, mut described, mut spelled) = (0, 0, 0);
        while let Some(row) = rows.next().at(&self.path)? {
            let (rec, kind, body): (i64, i64, String) =
                (|| Ok((row.get(0)?, row.get(1)?, row.get(2)?)))().at(&self.path)?;
            records += 1;
            let read = kind_from_number(kind).and_then(|k| Record::from_json(k, &body).ok());
            let Some(record) = read else {
                each(format!("record {rec} cannot be read"))?;
                continue;
            };
            spelled += usize::from(!record.names().is_empty());
            described += usize::from(match &record {
                Record::Entry(e) => !e.finds.is_empty(),
                Record::Span(_) => false,
                _ => true,
            });
            if let Some(why) = self.unlike_index(rec, &record)? {
                each(format!("{} {} {why}", record.kind(), record.name()))?;
            }
        }
        for (table, wanted) in [
            ("spelled_docsize", spelled),
            ("described_docsize", described),
        ] {
            let sql = format!("select count(*) from {table}");
            let found: i64 = self.conn.query_row(&sql, [], |r| r.get(0)).at(&self.path)?;
            if usize::try_from(found) != Ok(wanted) {
                each(format!(
                    "the word index holds {found} records where {wanted} are to be found"
                ))?;
            }
        }
        Ok(records)
    }

    fn unlike_index(&self, rec: i64, record: &Record) -> Result<Option<&'static str>, StoreError> {
        let pairs = |sql: &str| -> Result<Vec<(i64, String)>, StoreError> {
            let mut statement = self.conn.prepare_cached(sql).at(&self.path)?;
            let rows = statement
                .query_map([rec], |r| Ok((r.get(0)?, r.get(1)?)))
                .at(&self.path)?;
            rows.map(|r| r.at(&self.path)).collect()
        };
        let sorted = |mut list: Vec<(i64, String)>| {
            list.sort();
            list.dedup();
            list
        };
        let names = record.names().into_iter();
        let names = sorted(names.map(|n| (i64::from(n.rank), n.text)).collect());
        if sorted(pairs("select rank, text from name where rec = ?1")?) != names {
            return Ok(Some("is not found by its names as they are"));
        }
        let links = record.links().into_iter();
        let links = sorted(
            links
                .map(|l| (rel_number(l.rel), fold(&l.target)))
                .collect(),
        );
        if sorted(pairs("select rel, target from link where rec = ?1")?) != links {
            return Ok(Some("is not found by what it points at"));
        }
        Ok(None)
    }

    /// Digest of the operation of a number.
    ///
    /// # Errors
    /// The disk's.
    pub fn digest_at(&self, seq: i64) -> Result<Option<String>, StoreError> {
        self.conn
            .prepare_cached("select digest from operation where seq = ?1")
            .and_then(|mut s| s.query_row([seq], |r| r.get(0)).optional())
            .at(&self.path)
    }

    /// Number of the last operation that two logs have in common; 0 when they
    /// have none. Each digest covers all before it, so halving finds it.
    ///
    /// # Errors
    /// The disk's.
    pub fn last_common(&self, other: &Store) -> Result<i64, StoreError> {
        let (mut low, mut high) = (0, self.head()?.seq.min(other.head()?.seq));
        while low < high {
            let middle = high - (high - low) / 2;
            let (a, b) = (self.digest_at(middle)?, other.digest_at(middle)?);
            if a.is_some() && a == b {
                low = middle;
            } else {
                high = middle - 1;
            }
        }
        Ok(low)
    }
}

/// Why nobody may write into a file now, if so: it is a backup, or somebody
/// restores it. A restore whose process is gone holds nobody up.
pub(super) fn barred(conn: &Connection, path: &Path) -> Result<Option<StoreError>, StoreError> {
    let shown = || path.display().to_string();
    if meta(conn, MARK).at(path)?.is_some() {
        return Ok(Some(StoreError::IsBackup(shown())));
    }
    let Some(text) = meta(conn, RESTORING).at(path)? else {
        return Ok(None);
    };
    let pid = text.trim().parse::<i32>().ok();
    let alive = pid
        .filter(|p| u32::try_from(*p) != Ok(std::process::id()))
        .and_then(rustix::process::Pid::from_raw)
        .is_some_and(|p| rustix::process::test_kill_process(p) != Err(rustix::io::Errno::SRCH));
    if alive {
        return Ok(Some(StoreError::Restoring(shown())));
    }
    conn.execute("delete from meta where key = ?1", [RESTORING])
        .at(path)?;
    Ok(None)
}

fn meta(conn: &Connection, key: &str) -> rusqlite::Result<Option<String>> {
    conn.prepare_cached("select value from meta where key = ?1")?
        .query_row([key], |r| r.get(0))
        .optional()
}

fn put_meta<T: Serialize>(conn: &Connection, key: &str, value: &T) -> rusqlite::Result<()> {
    let text = serde_json::to_string(value).unwrap_or_default();
    conn.execute(
        "insert or replace into meta(key, value) values (?1, ?2)",
        params![key, text],
    )
    .map(|_| ())
}

fn connect_copy(to: &Path) -> Result<Connection, StoreError> {
    let conn = Connection::open_with_flags(
        to,
        OpenFlags::SQLITE_OPEN_READ_WRITE | OpenFlags::SQLITE_OPEN_NO_MUTEX,
    )
    .at(to)?;
    conn.execute_batch("pragma synchronous = full;").at(to)?;
    Ok(conn)
}

/// Copies one file into another in one step, waiting for locks as writers do.
fn run(from: &Connection, to: &mut Connection, into: &Path, of: &Path) -> Result<(), StoreError> {
    let backup = Backup::new(from, to).at(into)?;
    let until = Instant::now() + Duration::from_secs(open::BUSY_SECONDS);
    loop {
        match backup.step(-1).at(into)? {
            StepResult::Done => return Ok(()),
            _ if Instant::now() < until => std::thread::sleep(Duration::from_millis(20)),
            _ => {
                return Err(StoreError::Busy(
                    of.display().to_string(),
                    open::BUSY_SECONDS,
                ));
            }
        }
    }
}

/// Removes a file of ours with the logs that SQLite may have put beside it.
pub fn remove_with_logs(path: &Path) {
    for tail in ["", "-journal", "-wal", "-shm"] {
        let _ = std::fs::remove_file(with_tail(path, tail));
    }
}

/// The path with something added to its last name.
#[must_use]
pub fn with_tail(path: &Path, tail: &str) -> std::path::PathBuf {
    let mut name = path.to_path_buf().into_os_string();
    name.push(tail);
    name.into()
}
