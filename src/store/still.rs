//! Many questions about one moment. Without it each statement locks the file,
//! looks whether others wrote, and lets go again: that is most of what a short
//! answer costs, and two statements may see two states.

use super::{Named, Store, StoreError};

/// While it lives, the store reads one and the same state of the register.
/// It holds up nobody; what others write meanwhile shows afterwards.
pub struct Still<'s> {
    store: &'s Store,
    /// Whether this one began it, and so ends it.
    own: bool,
}

impl Store {
    /// Holds one state of the register until the answer is made. Within a
    /// transaction, or when it is held already, nothing is done.
    ///
    /// # Errors
    /// The disk's.
    pub fn still(&self) -> Result<Still<'_>, StoreError> {
        let own = self.conn.is_autocommit();
        if own {
            self.conn.execute_batch("begin").at(&self.path)?;
            self.still.set(true);
        }
        Ok(Still { store: self, own })
    }
}

impl Drop for Still<'_> {
    fn drop(&mut self) {
        if self.own {
            self.store.still.set(false);
            // Nothing was written: how it ends does not matter.
            let _ = self.store.conn.execute_batch("commit");
            if !self.store.conn.is_autocommit() {
                let _ = self.store.conn.execute_batch("rollback");
            }
        }
    }
}
