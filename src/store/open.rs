//! Opening and making registers.

use std::os::unix::fs::MetadataExt;
use std::path::Path;
use std::time::Duration;

use rusqlite::config::DbConfig;
use rusqlite::{Connection, OpenFlags};

use super::place::Identity;
use super::{FORMAT, Named, Store, StoreError};
use crate::calendar::Moment;
use crate::domain::asset::RecordId;

/// How long a writer waits for another one.
pub(super) const BUSY_SECONDS: u64 = 10;

/// Marks the file as ours: the letters `PlCd`.
const APPLICATION_ID: i64 = 0x506c_4364;

const SCHEMA: &str = include_str!("schema.sql");

/// What the opener may do.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Access {
    Read,
    Write,
}

/// A fresh id for a moment.
#[must_use]
pub fn fresh_id(now: Moment) -> RecordId {
    let mut bytes = [0_u8; 10];
    // Without randomness from the system the clock alone still orders ids; a
    // clash is then refused by the unique index, never silently merged.
    let _ = getrandom::fill(&mut bytes);
    let random = bytes.iter().fold(0_u128, |n, b| (n << 8) | u128::from(*b));
    RecordId::from_parts(now.unix_millis(), random)
}

impl Store {
    /// Opens a register that is there. `Access::Write` falls back to reading
    /// when the file cannot be written; a write then says so.
    ///
    /// # Errors
    /// When there is none, or it is not ours, newer, damaged or unreadable.
    pub fn open(path: &Path, access: Access) -> Result<Store, StoreError> {
        let shown = path.display().to_string();
        match std::fs::metadata(path) {
            Err(e) if e.kind() == std::io::ErrorKind::NotFound => {
                return Err(StoreError::Missing(shown));
            }
            Err(e) => {
                return Err(StoreError::Io {
                    path: shown,
                    why: e.to_string(),
                });
            }
            Ok(m) if m.is_dir() => return Err(StoreError::NotARegister(shown)),
            Ok(_) => {}
        }
        if access == Access::Write {
            match Self::connect(path, Access::Write) {
                Ok(store) => return Ok(store),
                Err(StoreError::ReadOnly(_) | StoreError::Io { .. }) => {}
                Err(other) => return Err(other),
            }
        }
        match Self::connect(path, Access::Read) {
            Err(StoreError::Io { .. } | StoreError::Refused { .. } | StoreError::ReadOnly(_)) => {
                Self::connect_still(path)
            }
            other => other,
        }
    }

    fn connect(path: &Path, access: Access) -> Result<Store, StoreError> {
        let flags = match access {
            Access::Read => OpenFlags::SQLITE_OPEN_READ_ONLY,
            Access::Write => OpenFlags::SQLITE_OPEN_READ_WRITE,
        } | OpenFlags::SQLITE_OPEN_NO_MUTEX;
        let file = identity(path)?;
        let conn = Connection::open_with_flags(path, flags).at(path)?;
        // The library opens what it may not write for reading, without a word.
        if access == Access::Write && conn.is_readonly("main").at(path)? {
            return Err(StoreError::ReadOnly(path.display().to_string()));
        }
        Self::settle(conn, path, file, access)
    }

    /// A file in a folder that nobody may write, with no writer about: SQLite
    /// reads it only when told that it does not change.
    fn connect_still(path: &Path) -> Result<Store, StoreError> {
        let text = path.display().to_string();
        let escaped = text
            .replace('%', "%25")
            .replace('?', "%3f")
            .replace('#', "%23");
        let flags = OpenFlags::SQLITE_OPEN_READ_ONLY
            | OpenFlags::SQLITE_OPEN_URI
            | OpenFlags::SQLITE_OPEN_NO_MUTEX;
        let file = identity(path)?;
        let conn =
            Connection::open_with_flags(format!("file:{escaped}?immutable=1"), flags).at(path)?;
        Self::settle(conn, path, file, Access::Read)
    }

    fn settle(
        conn: Connection,
        path: &Path,
        file: Identity,
        access: Access,
    ) -> Result<Store, StoreError> {
        let shown = || path.display().to_string();
        conn.busy_timeout(Duration::from_secs(BUSY_SECONDS))
            .at(path)?;
        let ours: i64 = conn
            .query_row(
                "select application_id from pragma_application_id",
                [],
                |r| r.get(0),
            )
            .at(path)?;
        let form: i64 = conn
            .query_row("select user_version from pragma_user_version", [], |r| {
                r.get(0)
            })
            .at(path)?;
        if ours != APPLICATION_ID {
            return Err(StoreError::NotARegister(shown()));
        }
        if form > FORMAT {
            return Err(StoreError::Newer {
                path: shown(),
                found: form,
                known: FORMAT,
            });
        }
        if access == Access::Write {
            // Making it a file with logs would already change a backup.
            if let Some(StoreError::IsBackup(_)) = super::backup::barred(&conn, path)? {
                return Err(StoreError::ReadOnly(shown()));
            }
            Self::prepare_writer(&conn).at(path)?;
        }
        conn.set_prepared_statement_cache_capacity(128);
        // The library would otherwise plan a statement anew for every value that
        // is bound to it; the statements here are written for one plan.
        conn.set_db_config(DbConfig::SQLITE_DBCONFIG_ENABLE_QPSG, true)
            .at(path)?;
        Ok(Store {
            conn,
            path: path.to_path_buf(),
            access,
            file,
            past: false,
            held: false,
            effective: None,
            still: std::cell::Cell::default(),
            walked: std::cell::RefCell::default(),
        })
    }

    /// What is acknowledged is on the disk, a power cut included (`full`). A
    /// writer keeps the write-ahead files when it leaves, so that an account
    /// that may only read can open the register when nobody writes.
    fn prepare_writer(conn: &Connection) -> rusqlite::Result<()> {
        conn.set_db_config(DbConfig::SQLITE_DBCONFIG_NO_CKPT_ON_CLOSE, true)?;
        conn.execute_batch(
            "pragma journal_mode = wal; pragma synchronous = full; pragma foreign_keys = on;",
        )?;
        // Fails at once where the file may not be written.
        conn.execute_batch("begin immediate; rollback;")
    }

    /// Makes an empty register; never over a file that is there.
    ///
    /// # Errors
    /// When the file exists or cannot be made.
    pub fn create(path: &Path) -> Result<Store, StoreError> {
        new_file(path)?;
        let made = Self::fill_new(path);
        if made.is_err() {
            let _ = std::fs::remove_file(path);
        }
        made
    }

    fn fill_new(path: &Path) -> Result<Store, StoreError> {
        let file = identity(path)?;
        let conn = Connection::open_with_flags(
            path,
            OpenFlags::SQLITE_OPEN_READ_WRITE | OpenFlags::SQLITE_OPEN_NO_MUTEX,
        )
        .at(path)?;
        conn.execute_batch(&format!(
            "pragma journal_mode = wal; begin; {SCHEMA}
             pragma application_id = {APPLICATION_ID}; pragma user_version = {FORMAT}; commit;"
        ))
        .at(path)?;
        Self::settle(conn, path, file, Access::Write)
    }

    /// Whether a group may write the file, by its permissions.
    #[must_use]
    pub fn group_may_write(&self, group: u32) -> bool {
        may_write(&self.path, group)
    }

    /// Whether a group may put another file in this one's place.
    #[must_use]
    pub fn group_may_replace(&self, group: u32) -> bool {
        const STICKY: u32 = 0o1000;
        let folder = self.path.parent().filter(|p| !p.as_os_str().is_empty());
        let folder = folder.unwrap_or(Path::new("."));
        may_write(folder, group) && std::fs::metadata(folder).is_ok_and(|m| m.mode() & STICKY == 0)
    }

    /// Folds the write-ahead log into the file, for a copy or a rename.
    ///
    /// # Errors
    /// Those of the disk.
    pub fn fold_log(&self) -> Result<(), StoreError> {
        self.conn
            .query_row("pragma wal_checkpoint(truncate)", [], |_| Ok(()))
            .at(&self.path)
    }
}

/// Which file stands at a path; asked before it is opened, so that one that is
/// replaced meanwhile is taken for replaced.
fn identity(path: &Path) -> Result<Identity, StoreError> {
    Identity::at(path).map_err(|e| StoreError::from_io(path, &e))
}

/// Makes an empty file; never over one that is there.
pub(super) fn new_file(path: &Path) -> Result<(), StoreError> {
    std::fs::OpenOptions::new()
        .write(true)
        .create_new(true)
        .open(path)
        .map(|_| ())
        .map_err(|e| StoreError::from_io(path, &e))
}

fn may_write(path: &Path, group: u32) -> bool {
    std::fs::metadata(path)
        .is_ok_and(|m| m.gid() == group && m.mode() & 0o020 != 0 || m.mode() & 0o002 != 0)
}

impl Drop for Store {
    fn drop(&mut self) {
        if self.access == Access::Write {
            // Never wait for readers when leaving: what stays in the log is safe there.
            let _ = self.conn.busy_timeout(Duration::ZERO);
            let _ = self.fold_log();
        }
    }
}
