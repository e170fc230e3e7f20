//! An operation while it is written.

use super::chain::Chain;
use super::{Named, StoreError, Writer};
use crate::domain::asset::{Record, RecordId};
use crate::domain::change::{Change, Operation};

/// An operation being written inside a [`Writer`].
pub struct Step<'w, 's> {
    pub(super) writer: &'w mut Writer<'s>,
    operation: Operation,
    chain: Chain,
    pub(super) seq: i64,
    n: usize,
}

impl<'w, 's> Step<'w, 's> {
    /// Begins after the operation of a number and a digest.
    pub(super) fn new(
        writer: &'w mut Writer<'s>,
        (seq, digest): (i64, &str),
        operation: Operation,
    ) -> Step<'w, 's> {
        Step {
            seq: seq + 1,
            n: 0,
            chain: Chain::start(digest, &operation),
            operation,
            writer,
        }
    }

    /// Writes one change.
    ///
    /// # Errors
    /// A conflict with what is on record, a value that the record cannot
    /// hold, or the disk's.
    pub fn change(&mut self, change: &Change) -> Result<(), StoreError> {
        self.writer
            .change(self.seq, self.n, change, &mut self.chain)?;
        self.n += 1;
        Ok(())
    }

    /// Adds a record of which the canonical form is at hand.
    ///
    /// # Errors
    /// As [`Step::change`].
    pub fn add(&mut self, record: &Record, body: &str) -> Result<(), StoreError> {
        self.chain.add(record.id(), record.kind(), body);
        self.writer.add(self.seq, self.n, record, body)?;
        self.n += 1;
        Ok(())
    }

    /// Ids of every record in the register, oldest first.
    ///
    /// # Errors
    /// The disk's.
    pub fn every_id(&self) -> Result<Vec<RecordId>, StoreError> {
        let path = &self.writer.path;
        let mut statement = self
            .writer
            .tx
            .prepare("select rid from record where gone = 0 order by rec")
            .at(path)?;
        let rows = statement
            .query_map([], |r| r.get::<_, String>(0))
            .at(path)?;
        let mut out = Vec::new();
        for row in rows {
            out.extend(row.at(path)?.parse::<RecordId>().ok());
        }
        Ok(out)
    }

    /// How many changes have been written.
    #[must_use]
    pub fn changes(&self) -> usize {
        self.n
    }

    /// Ends the operation and returns the number of its changes.
    ///
    /// # Errors
    /// The disk's.
    pub fn finish(self) -> Result<usize, StoreError> {
        if self.n > 0 {
            self.writer
                .seal(self.seq, &self.operation, self.n, &self.chain.finish())?;
        }
        Ok(self.n)
    }
}
