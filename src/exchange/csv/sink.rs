//! Where the changes of a run go: into an operation, or nowhere.

use crate::domain::asset::{Kind, RecordId};
use crate::domain::change::Change;
use crate::store::{Found, LastEdit, Look, Step, Store, StoreError};

/// Where changes go: into an operation, or nowhere.
pub(super) trait Sink: Look {
    fn put(&mut self, change: &Change) -> Result<(), StoreError>;
}

impl Sink for Step<'_, '_> {
    fn put(&mut self, change: &Change) -> Result<(), StoreError> {
        self.change(change)
    }
}

/// Looks, and writes nothing.
pub(super) struct Only<'s>(pub(super) Option<&'s Store>);

impl Look for Only<'_> {
    fn found(&self, id: RecordId) -> Result<Option<Found>, StoreError> {
        self.0.map_or(Ok(None), |s| s.found(id))
    }

    fn found_named(&self, kind: Kind, name: &str) -> Result<Vec<Found>, StoreError> {
        self.0.map_or(Ok(Vec::new()), |s| s.found_named(kind, name))
    }

    fn last_edit(&self, id: RecordId, field: &str) -> Result<Option<LastEdit>, StoreError> {
        self.0.map_or(Ok(None), |s| s.last_edit(id, field))
    }

    fn form_at(&self, id: RecordId, operation: &str) -> Result<Option<String>, StoreError> {
        self.0.map_or(Ok(None), |s| s.form_at(id, operation))
    }

    fn last_of_origin(&self, origin: &str) -> Result<Option<i64>, StoreError> {
        self.0.map_or(Ok(None), |s| s.last_of_origin(origin))
    }

    fn earlier(&self, id: RecordId, field: &str) -> Result<Vec<serde_json::Value>, StoreError> {
        self.0.map_or(Ok(Vec::new()), |s| s.earlier(id, field))
    }

    fn writing(&self) -> Option<i64> {
        None
    }
}

impl Sink for Only<'_> {
    fn put(&mut self, _: &Change) -> Result<(), StoreError> {
        Ok(())
    }
}
