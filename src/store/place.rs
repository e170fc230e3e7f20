//! Whether the file that is open still stands where it was opened. SQLite
//! goes on with a file that was renamed or removed, and what is written then
//! is found by nobody.

use std::io::ErrorKind;
use std::os::unix::fs::MetadataExt;
use std::path::Path;

use super::{Store, StoreError};

/// What stands at the place of an open register.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Place {
    /// The file that is open.
    Same,
    /// Nothing that can be seen, and why.
    Gone(String),
    /// Another file.
    Other,
}

/// What makes a file this one and no other: its device and its number there.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) struct Identity(u64, u64);

impl Identity {
    pub(super) fn at(path: &Path) -> std::io::Result<Identity> {
        std::fs::metadata(path).map(|m| Identity(m.dev(), m.ino()))
    }

    /// What stands at a path where this file was.
    pub(super) fn place(self, path: &Path) -> Place {
        match Identity::at(path) {
            Ok(now) if now == self => Place::Same,
            Ok(_) => Place::Other,
            Err(e) if e.kind() == ErrorKind::NotFound => {
                Place::Gone("it was moved away or removed".to_string())
            }
            Err(e) => Place::Gone(e.to_string()),
        }
    }

    /// Refuses what would be written into a file that has left its place.
    pub(super) fn still_at(self, path: &Path) -> Result<(), StoreError> {
        match self.place(path) {
            Place::Same => Ok(()),
            _ => Err(StoreError::Replaced(path.display().to_string())),
        }
    }
}

impl Store {
    /// What stands now where this register was opened. Costs one look at the
    /// folder.
    #[must_use]
    pub fn place(&self) -> Place {
        self.file.place(&self.path)
    }

    /// Whether two are open on one and the same file.
    ///
    /// # Errors
    /// [`StoreError::Replaced`] when they are not.
    pub fn same_file(&self, other: &Store) -> Result<(), StoreError> {
        if self.file == other.file {
            return Ok(());
        }
        Err(StoreError::Replaced(self.path.display().to_string()))
    }

    /// Lets go of the file and opens what stands in its place now.
    ///
    /// # Errors
    /// As [`Store::open`]; the store then has what it had.
    pub fn reopen(&mut self) -> Result<(), StoreError> {
        // Only what can be opened is worth letting go for.
        drop(Store::open(&self.path, self.access)?);
        // Let go first: two open files with one log between them would take
        // each other's locks away.
        if let Ok(nothing) = rusqlite::Connection::open_in_memory() {
            self.conn = nothing;
        }
        *self = Store::open(&self.path, self.access)?;
        Ok(())
    }
}
