//! Floor 2: the register, one SQLite file. The only SQL of the crate; no type
//! of the SQL library leaves this module.

mod audit;
mod backup;
mod chain;
mod effective;
mod history;
mod index;
mod indexed;
mod kept;
mod line;
mod log;
mod look;
mod open;
mod past;
mod place;
mod read;
mod reports;
mod search;
pub mod section;
mod step;
mod still;
mod to_come;
mod upkeep;
mod write;

use std::path::{Path, PathBuf};

use thiserror::Error;

pub use audit::{Changed, Drifted, Loose};
pub use backup::{Mark, remove_with_logs, with_tail};
pub use history::Touched;
pub use index::search_words;
pub use indexed::IndexSum;
pub use log::Remembered;
pub use look::{Found, LastEdit, Look};
pub use open::{Access, fresh_id};
pub use place::Place;
pub use read::{Head, Hit, Logged, Stored, Written};
pub use reports::{Filed, Permissions, Reports, file_digest, reports_beside};
pub use step::Step;
pub use still::Still;
pub use to_come::ToCome;
pub use upkeep::PointsAt;
pub use write::Writer;

use crate::domain::asset::RecordId;

/// The newest form of a register file that this program knows.
pub const FORMAT: i64 = 1;

/// An open register.
pub struct Store {
    conn: rusqlite::Connection,
    path: PathBuf,
    access: Access,
    /// Which file it is.
    file: place::Identity,
    /// Whether it answers as of an earlier operation.
    past: bool,
    /// Whether what holds only from a later day on is held back.
    held: bool,
    /// The day as of which things are told, and the last operation known.
    effective: Option<(crate::calendar::Date, i64)>,
    /// Whether one state is held while an answer is made.
    still: std::cell::Cell<bool>,
    /// The line that was walked last.
    walked: std::cell::RefCell<Option<line::Walked>>,
}

impl Store {
    #[must_use]
    pub fn path(&self) -> &Path {
        &self.path
    }

    /// Whether it tells things as they were on a day: then its log is not
    /// whole, since what took effect later is left out.
    #[must_use]
    pub fn is_effective(&self) -> bool {
        self.effective.is_some()
    }

    /// Whether this store can write.
    #[must_use]
    pub fn access(&self) -> Access {
        self.access
    }
}

/// What can go wrong with a register. Each says what to do.
#[derive(Debug, Error)]
pub enum StoreError {
    #[error(
        "there is no register at {0}\nhint: name one with --register, or make one with `polecard import DIR --register {0}`"
    )]
    Missing(String),
    #[error(
        "{0} is not a register of this program\nhint: name another file with --register; this one was left as it is"
    )]
    NotARegister(String),
    #[error(
        "{path} was made by a newer version of this program (form {found}; this one knows {known})\nhint: use the newer program, or export from it and import here"
    )]
    Newer {
        path: String,
        found: i64,
        known: i64,
    },
    #[error(
        "{0} can be read but not written\nhint: look-ups work, and `polecard report` proposes a correction to the records clerk; to change records yourself, ask whoever keeps the register for write access"
    )]
    ReadOnly(String),
    #[error(
        "{0} is busy: another process has been writing for more than {1} s\nhint: try again; nothing was changed"
    )]
    Busy(String, u64),
    #[error("the disk is full; nothing was changed in {0}\nhint: free some space and try again")]
    Full(String),
    #[error(
        "{0} is a backup, and a backup stays as it was taken\nhint: look things up in it, or put it back with `polecard restore`"
    )]
    IsBackup(String),
    #[error(
        "{0} is being restored by another process\nhint: try again when that has ended; nothing was changed"
    )]
    Restoring(String),
    #[error(
        "{0} is no reports file of this program; it was left as it is\nhint: move it away, so that one can be made"
    )]
    NotReports(String),
    #[error(
        "reports cannot be filed in {0}: this account may not write it\nhint: nothing was filed; tell the records clerk, who opens it with `polecard reports prepare --group GROUP`"
    )]
    ReportsClosed(String),
    #[error(
        "there is no reports file {0} yet, and this account may not make one in that folder\nhint: nothing was filed; tell the records clerk, who makes it with `polecard reports prepare --group GROUP`"
    )]
    NoReports(String),
    #[error(
        "report {0} was decided by somebody else meanwhile\nhint: look at it again: polecard reports show {0}"
    )]
    Decided(i64),
    #[error(
        "{0} is not the file any more that was opened: it was moved away, removed, or another was put in its place\nhint: nothing was written; look at what stands there now, then do it again"
    )]
    Replaced(String),
    #[error("{path} is already there; it was left as it is")]
    Exists { path: String },
    #[error(
        "{record}: {field} was changed meanwhile (it is now {found}, expected {expected})\nhint: look at the record again and choose"
    )]
    Conflict {
        record: String,
        field: String,
        found: String,
        expected: String,
    },
    #[error("no record has the id {0}")]
    NoSuchRecord(RecordId),
    #[error("two records have the id {0}\nhint: give one of them another id, or leave its id out")]
    DoubleId(RecordId),
    #[error("{record}: {why}")]
    BadChange { record: String, why: String },
    #[error(
        "the log of changes is damaged at operation {0}: {1}\nhint: restore a backup; `polecard verify` says more"
    )]
    BadLog(String, String),
    #[error("{path}: {why}")]
    Io { path: String, why: String },
    #[error(
        "{path}: {why}: the disk refused, because it is full or failing or a limit on the size of files is reached; what was being written was not taken\nhint: see how much room is left there, then do it again"
    )]
    Refused { path: String, why: String },
    #[error("{path}: the file is damaged ({why})\nhint: copy it aside, then restore a backup")]
    Damaged { path: String, why: String },
}

impl StoreError {
    /// The same about the file that a person named, where it befell a file
    /// that is written aside.
    #[must_use]
    pub fn about(self, named: &Path) -> Self {
        let path = named.display().to_string();
        match self {
            StoreError::Full(_) => StoreError::Full(path),
            StoreError::Refused { why, .. } => StoreError::Refused { path, why },
            other => other,
        }
    }

    /// Sorts an error of the system.
    fn from_io(path: &Path, e: &std::io::Error) -> Self {
        let path = path.display().to_string();
        match e.kind() {
            std::io::ErrorKind::StorageFull | std::io::ErrorKind::QuotaExceeded => {
                StoreError::Full(path)
            }
            std::io::ErrorKind::AlreadyExists => StoreError::Exists { path },
            _ => StoreError::Io {
                path,
                why: e.to_string(),
            },
        }
    }

    /// Sorts an error of the SQL library by what the person can do about it.
    fn from_sql(path: &Path, e: &rusqlite::Error) -> Self {
        use rusqlite::ErrorCode as C;
        let shown = path.display().to_string();
        match e.sqlite_error_code() {
            Some(C::DatabaseBusy | C::DatabaseLocked) => {
                StoreError::Busy(shown, open::BUSY_SECONDS)
            }
            Some(C::DiskFull) => StoreError::Full(shown),
            Some(C::ReadOnly | C::PermissionDenied) => StoreError::ReadOnly(shown),
            Some(C::NotADatabase) => StoreError::NotARegister(shown),
            Some(C::DatabaseCorrupt) => StoreError::Damaged {
                path: shown,
                why: e.to_string(),
            },
            Some(C::SystemIoFailure) => StoreError::Refused {
                path: shown,
                why: e.to_string(),
            },
            _ => StoreError::Io {
                path: shown,
                why: e.to_string(),
            },
        }
    }
}

/// Shorthand used inside this floor: names the file in every SQL error.
trait Named<T> {
    fn at(self, path: &Path) -> Result<T, StoreError>;
}

impl<T> Named<T> for Result<T, rusqlite::Error> {
    fn at(self, path: &Path) -> Result<T, StoreError> {
        self.map_err(|e| StoreError::from_sql(path, &e))
    }
}
