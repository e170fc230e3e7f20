//! The chain of operations: each digest covers the one before it.

use sha2::{Digest, Sha256};

use crate::domain::asset::{Kind, RecordId};
use crate::domain::change::{Edit, Operation};

/// The running digest of an operation: SHA-256 over the digest before it, its
/// header and each change in order.
pub(super) struct Chain(Sha256);

impl Chain {
    pub(super) fn start(before: &str, op: &Operation) -> Self {
        let mut sha = Sha256::new();
        sha.update(before.as_bytes());
        sha.update(b"\n");
        let header = serde_json::to_string(op).expect("an operation holds only text");
        sha.update(header.as_bytes());
        Chain(sha)
    }

    fn line(&mut self, parts: &[&str]) {
        for part in parts {
            self.0.update(b"\n");
            self.0.update(part.len().to_string().as_bytes());
            self.0.update(b":");
            self.0.update(part.as_bytes());
        }
    }

    pub(super) fn add(&mut self, id: RecordId, kind: Kind, body: &str) {
        self.line(&["add", &id.to_string(), kind.word(), body]);
    }

    pub(super) fn edit(&mut self, e: &Edit) {
        self.line(&[
            "edit",
            &e.id.to_string(),
            &e.field,
            &e.old.to_string(),
            &e.new.to_string(),
        ]);
    }

    pub(super) fn remove(&mut self, id: RecordId) {
        self.line(&["remove", &id.to_string()]);
    }

    pub(super) fn finish(self) -> String {
        self.0
            .finalize()
            .iter()
            .map(|b| format!("{b:02x}"))
            .collect()
    }
}
