//! The reports file: corrections proposed by accounts that may not write the
//! register. A small SQLite file beside it, with permissions of its own, to
//! which many may add at once and from which nothing is taken.

use std::os::unix::fs::{MetadataExt, OpenOptionsExt, PermissionsExt};
use std::path::{Path, PathBuf};
use std::time::Duration;

use rusqlite::config::DbConfig;
use rusqlite::{Connection, OpenFlags, TransactionBehavior, params};

use super::open::BUSY_SECONDS;
use super::{Access, Named, StoreError};
use crate::domain::asset::RecordId;
use crate::domain::report::{Decision, Report};

/// Marks the file as ours: the letters `PlRp`.
const APPLICATION_ID: i64 = 0x506c_5270;
/// The newest form of a reports file that this program knows.
const FORMAT: i64 = 1;
const SCHEMA: &str = include_str!("reports.sql");
/// Files of one reports file: itself and its write-ahead files.
const PARTS: [&str; 3] = ["", "-wal", "-shm"];

/// A report as it stands in the file.
#[derive(Debug, Clone, PartialEq)]
pub struct Filed {
    /// Its number in this file, counted from 1: short enough to be said.
    pub no: i64,
    pub report: Report,
    /// The last decision about it, with its number.
    pub last: Option<(i64, Decision)>,
}

/// How the permissions of a reports file stand.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Permissions {
    /// Group that owns the file.
    pub group: u32,
    /// The nine permission bits.
    pub mode: u32,
}

/// An open reports file.
pub struct Reports {
    conn: Connection,
    path: PathBuf,
}

/// The reports file of a register.
fn beside(register: &Path) -> PathBuf {
    with_tail(register, ".reports")
}

fn with_tail(path: &Path, tail: &str) -> PathBuf {
    let mut name = path.as_os_str().to_os_string();
    name.push(tail);
    PathBuf::from(name)
}

/// Where the reports of a register, or of a backup, stand.
#[must_use]
pub fn reports_beside(register: &Path) -> PathBuf {
    beside(register)
}

/// SHA-256 of a file, in hexadecimal.
///
/// # Errors
/// The disk's.
pub fn file_digest(path: &Path) -> Result<String, StoreError> {
    use sha2::{Digest, Sha256};
    let bytes = std::fs::read(path).map_err(|e| StoreError::from_io(path, &e))?;
    let digest = Sha256::digest(&bytes);
    Ok(digest.iter().map(|b| format!("{b:02x}")).collect())
}

impl Reports {
    /// Copies the file as it stands at this moment into one that is not there
    /// yet; others may go on filing.
    ///
    /// # Errors
    /// When a file is there, or the disk refuses; what was begun is removed.
    pub fn copy_to(&self, to: &Path) -> Result<(), StoreError> {
        if to.exists() {
            return Err(StoreError::Exists {
                path: to.display().to_string(),
            });
        }
        let copied = self
            .conn
            .execute("vacuum into ?1", [to.display().to_string()])
            .in_reports(to)
            .map(|_| ());
        if copied.is_err() {
            let _ = std::fs::remove_file(to);
        }
        copied
    }

    /// Copies the file to where a register has its reports, for many to add to.
    ///
    /// # Errors
    /// As [`Reports::copy_to`].
    pub fn copy_back(&self, register: &Path) -> Result<PathBuf, StoreError> {
        let to = beside(register);
        self.copy_to(&to)?;
        let conn = Connection::open_with_flags(
            &to,
            OpenFlags::SQLITE_OPEN_READ_WRITE | OpenFlags::SQLITE_OPEN_NO_MUTEX,
        )
        .in_reports(&to)?;
        conn.query_row("pragma journal_mode = wal", [], |_| Ok(()))
            .in_reports(&to)?;
        conn.close().map_err(|(_, e)| e).in_reports(&to)?;
        Ok(to)
    }

    #[must_use]
    pub fn path(&self) -> &Path {
        &self.path
    }

    /// The reports of a register; none when no file was made yet.
    ///
    /// # Errors
    /// When the file is not a reports file, is newer, or cannot be used; for
    /// `Access::Write` also when this account may not write it.
    pub fn open(register: &Path, access: Access) -> Result<Option<Reports>, StoreError> {
        let path = beside(register);
        if !path.exists() {
            return Ok(None);
        }
        if access == Access::Write {
            return Self::to_write(&path).map(Some);
        }
        let read = Self::connect(&path, OpenFlags::SQLITE_OPEN_READ_ONLY, false);
        match read {
            Err(StoreError::ReportsClosed(_) | StoreError::Io { .. }) => {
                Self::connect(&path, OpenFlags::SQLITE_OPEN_READ_ONLY, true).map(Some)
            }
            other => other.map(Some),
        }
    }

    /// The reports of a register for adding to; makes the file when there is
    /// none. Two that make it at once end up with one file.
    ///
    /// # Errors
    /// When the folder or the file may not be written by this account.
    pub fn open_or_make(register: &Path) -> Result<Reports, StoreError> {
        make(register)?;
        Self::to_write(&beside(register))
    }

    fn to_write(path: &Path) -> Result<Reports, StoreError> {
        match Self::connect(path, OpenFlags::SQLITE_OPEN_READ_WRITE, false) {
            // The write-ahead files are missing and may not be made here.
            Err(StoreError::Io { path, .. }) => Err(StoreError::ReportsClosed(path)),
            other => other,
        }
    }

    fn connect(path: &Path, access: OpenFlags, still: bool) -> Result<Reports, StoreError> {
        let write = access == OpenFlags::SQLITE_OPEN_READ_WRITE;
        let flags = access | OpenFlags::SQLITE_OPEN_NO_MUTEX;
        let conn = if still {
            // In a folder that may not be written, with no writer about.
            let text = path.display().to_string();
            let text = text.replace('%', "%25").replace('?', "%3f");
            let text = text.replace('#', "%23");
            let flags = flags | OpenFlags::SQLITE_OPEN_URI;
            Connection::open_with_flags(format!("file:{text}?immutable=1"), flags)
        } else {
            Connection::open_with_flags(path, flags)
        };
        let reports = Reports {
            conn: conn.in_reports(path)?,
            path: path.to_path_buf(),
        };
        reports.settle(write)?;
        Ok(reports)
    }

    fn settle(&self, write: bool) -> Result<(), StoreError> {
        let (conn, path) = (&self.conn, self.path.as_path());
        let shown = || path.display().to_string();
        conn.busy_timeout(Duration::from_secs(BUSY_SECONDS))
            .in_reports(path)?;
        if write && conn.is_readonly("main").in_reports(path)? {
            return Err(StoreError::ReportsClosed(shown()));
        }
        // Set before anything is read: the last to leave keeps the write-ahead
        // files, which carry the permissions of their own.
        conn.set_db_config(DbConfig::SQLITE_DBCONFIG_NO_CKPT_ON_CLOSE, true)
            .in_reports(path)?;
        let number = |sql: &str| conn.query_row(sql, [], |r| r.get::<_, i64>(0));
        let ours = number("select application_id from pragma_application_id").in_reports(path)?;
        if ours != APPLICATION_ID {
            return Err(StoreError::NotReports(shown()));
        }
        let found = number("select user_version from pragma_user_version").in_reports(path)?;
        if found > FORMAT {
            return Err(StoreError::Newer {
                path: shown(),
                found,
                known: FORMAT,
            });
        }
        if write {
            // What is acknowledged is on the disk. An empty write fails at once
            // where the file or its write-ahead files may not be written.
            conn.execute_batch(
                "pragma synchronous = full; pragma foreign_keys = on; begin immediate; rollback;",
            )
            .in_reports(path)?;
        }
        Ok(())
    }

    /// Adds a report; on the disk when this returns. Returns its number.
    ///
    /// # Errors
    /// The disk's; nothing is then added.
    pub fn add(&mut self, report: &Report) -> Result<i64, StoreError> {
        let body = text(&self.path, report)?;
        let tx = self
            .conn
            .transaction_with_behavior(TransactionBehavior::Immediate)
            .in_reports(&self.path)?;
        tx.execute(
            "insert into report(id, about, body) values (?1, ?2, ?3)",
            params![
                report.id.to_string(),
                report.about.as_ref().map(|a| a.id.to_string()),
                body
            ],
        )
        .in_reports(&self.path)?;
        let no = tx.last_insert_rowid();
        tx.commit().in_reports(&self.path)?;
        Ok(no)
    }

    /// Adds decisions, each about a report whose last decision has the number
    /// given; all or none.
    ///
    /// # Errors
    /// A report that was decided meanwhile, or the disk's.
    pub fn decide(&mut self, decisions: &[(i64, Option<i64>, Decision)]) -> Result<(), StoreError> {
        let path = &self.path;
        let tx = self
            .conn
            .transaction_with_behavior(TransactionBehavior::Immediate)
            .in_reports(path)?;
        {
            let mut last = tx
                .prepare("select max(no) from decision where report = ?1")
                .in_reports(path)?;
            let mut put = tx
                .prepare("insert into decision(report, body) values (?1, ?2)")
                .in_reports(path)?;
            for (no, seen, decision) in decisions {
                let now: Option<i64> = last.query_row([no], |r| r.get(0)).in_reports(path)?;
                if now != *seen {
                    return Err(StoreError::Decided(*no));
                }
                put.execute(params![no, text(path, decision)?])
                    .in_reports(path)?;
            }
        }
        tx.commit().in_reports(path)
    }

    /// Every report, oldest first.
    ///
    /// # Errors
    /// The disk's, or a damaged report.
    pub fn all(&self) -> Result<Vec<Filed>, StoreError> {
        self.many("1 = 1", "")
    }

    /// The reports about the record with a permanent id, oldest first.
    ///
    /// # Errors
    /// The disk's, or a damaged report.
    pub fn about(&self, id: RecordId) -> Result<Vec<Filed>, StoreError> {
        self.many("r.about = ?1", id.to_string())
    }

    /// One report by its number.
    ///
    /// # Errors
    /// The disk's, or a damaged report.
    pub fn numbered(&self, no: i64) -> Result<Option<Filed>, StoreError> {
        Ok(self.many("r.no = ?1", no)?.pop())
    }

    /// Reports whose permanent id begins with a text of letters and digits.
    ///
    /// # Errors
    /// The disk's, or a damaged report.
    pub fn beginning(&self, id: &str) -> Result<Vec<Filed>, StoreError> {
        self.many("substr(r.id, 1, length(?1)) = ?1", id.to_ascii_uppercase())
    }

    /// Every decision about a report, oldest first.
    ///
    /// # Errors
    /// The disk's, or a damaged decision.
    pub fn decisions(&self, no: i64) -> Result<Vec<Decision>, StoreError> {
        let sql = "select body from decision where report = ?1 order by no";
        let mut statement = self.conn.prepare_cached(sql).in_reports(&self.path)?;
        let rows = statement
            .query_map([no], |r| r.get::<_, String>(0))
            .in_reports(&self.path)?;
        rows.map(|row| self.parsed(no, &row.in_reports(&self.path)?))
            .collect()
    }

    fn many(&self, which: &str, value: impl rusqlite::ToSql) -> Result<Vec<Filed>, StoreError> {
        let path = &self.path;
        let sql = format!(
            "select r.no, r.body, d.no, d.body from report r left join decision d
             on d.no = (select max(no) from decision where report = r.no)
             where {which} order by r.no"
        );
        let mut statement = self.conn.prepare_cached(&sql).in_reports(path)?;
        let mut rows = if which.contains('?') {
            statement.query([value])
        } else {
            statement.query([])
        }
        .in_reports(path)?;
        let mut out = Vec::new();
        while let Some(row) = rows.next().in_reports(path)? {
            let no: i64 = row.get(0).in_reports(path)?;
            let body: String = row.get(1).in_reports(path)?;
            let decision: Option<String> = row.get(3).in_reports(path)?;
            out.push(Filed {
                no,
                report: self.parsed(no, &body)?,
                last: match decision {
                    Some(body) => Some((row.get(2).in_reports(path)?, self.parsed(no, &body)?)),
                    None => None,
                },
            });
        }
        Ok(out)
    }

    fn parsed<T: serde::de::DeserializeOwned>(&self, no: i64, body: &str) -> Result<T, StoreError> {
        serde_json::from_str(body).map_err(|e| StoreError::Damaged {
            path: self.path.display().to_string(),
            why: format!("report {no}: {e}"),
        })
    }

    /// Opens the file to a group: it may add reports, and change no register.
    /// The write-ahead files get the same permissions.
    ///
    /// # Errors
    /// When they are not this account's to give.
    pub fn open_to_group(&self, group: Option<u32>) -> Result<Permissions, StoreError> {
        for part in PARTS {
            let path = with_tail(&self.path, part);
            let io = |e: std::io::Error| StoreError::Io {
                path: path.display().to_string(),
                why: e.to_string(),
            };
            let Ok(found) = std::fs::metadata(&path) else {
                continue;
            };
            if group.is_some() {
                std::os::unix::fs::chown(&path, None, group).map_err(io)?;
            }
            let mode = found.mode() & 0o777 | 0o660;
            std::fs::set_permissions(&path, PermissionsExt::from_mode(mode)).map_err(io)?;
        }
        let found = std::fs::metadata(&self.path).map_err(|e| StoreError::Io {
            path: self.path.display().to_string(),
            why: e.to_string(),
        })?;
        Ok(Permissions {
            group: found.gid(),
            mode: found.mode() & 0o777,
        })
    }
}

impl Drop for Reports {
    fn drop(&mut self) {
        // Never wait for others when leaving: what stays in the log is safe there.
        let _ = self.conn.busy_timeout(Duration::ZERO);
        let folded = "pragma wal_checkpoint(truncate)";
        let _ = self.conn.query_row(folded, [], |_| Ok(()));
    }
}

/// Makes the file aside and puts it in place in one step, unless it is there.
fn make(register: &Path) -> Result<(), StoreError> {
    let path = beside(register);
    if path.exists() {
        return Ok(());
    }
    let mut salt = [0_u8; 4];
    let _ = getrandom::fill(&mut salt);
    let salt = u32::from_ne_bytes(salt);
    let aside = with_tail(&path, &format!(".part-{}-{salt}", std::process::id()));
    let io = |e: std::io::Error| match e.kind() {
        std::io::ErrorKind::PermissionDenied | std::io::ErrorKind::ReadOnlyFilesystem => {
            StoreError::NoReports(path.display().to_string())
        }
        _ => StoreError::Io {
            path: path.display().to_string(),
            why: e.to_string(),
        },
    };
    let made = std::fs::OpenOptions::new()
        .write(true)
        .create_new(true)
        .mode(0o600)
        .open(&aside)
        .map_err(io)
        .and_then(|_| fill(&aside).map_err(|e| e.about(&path)))
        .and_then(|()| permit(register, &aside).map_err(io))
        .and_then(|()| match std::fs::hard_link(&aside, &path) {
            Err(e) if e.kind() == std::io::ErrorKind::AlreadyExists => Ok(()),
            other => other.map_err(io),
        });
    for part in PARTS {
        let _ = std::fs::remove_file(with_tail(&aside, part));
    }
    made
}

fn fill(aside: &Path) -> Result<(), StoreError> {
    let conn = Connection::open_with_flags(
        aside,
        OpenFlags::SQLITE_OPEN_READ_WRITE | OpenFlags::SQLITE_OPEN_NO_MUTEX,
    )
    .in_reports(aside)?;
    conn.execute_batch(&format!(
        "pragma journal_mode = wal; begin; {SCHEMA}
         pragma application_id = {APPLICATION_ID}; pragma user_version = {FORMAT}; commit;"
    ))
    .in_reports(aside)?;
    conn.close().map_err(|(_, e)| e).in_reports(aside)
}

/// Whoever may read the register may read its reports; the group may add to
/// them where the folder is the group's to write.
fn permit(register: &Path, aside: &Path) -> std::io::Result<()> {
    let folder = match register.parent() {
        Some(folder) if !folder.as_os_str().is_empty() => folder,
        _ => Path::new("."),
    };
    let mut mode = std::fs::metadata(register)?.mode() & 0o664 | 0o600;
    if std::fs::metadata(folder)?.mode() & 0o020 != 0 {
        mode |= 0o060;
    }
    std::fs::set_permissions(aside, PermissionsExt::from_mode(mode))
}

fn text<T: serde::Serialize>(path: &Path, value: &T) -> Result<String, StoreError> {
    serde_json::to_string(value).map_err(|e| StoreError::Io {
        path: path.display().to_string(),
        why: e.to_string(),
    })
}

/// Names the reports file in every SQL error.
trait InReports<T> {
    fn in_reports(self, path: &Path) -> Result<T, StoreError>;
}

impl<T> InReports<T> for Result<T, rusqlite::Error> {
    fn in_reports(self, path: &Path) -> Result<T, StoreError> {
        self.at(path).map_err(|e| match e {
            StoreError::ReadOnly(path) => StoreError::ReportsClosed(path),
            StoreError::NotARegister(path) => StoreError::NotReports(path),
            other => other,
        })
    }
}
