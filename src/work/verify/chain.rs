//! The chain of operations, and a head that was printed earlier.

use serde::Serialize;

use super::{Failure, Tally};
use crate::domain::asset::{Kind, RecordId};
use crate::domain::verify::{Found, LOG_CHAIN, LOG_HEAD, LOG_INDEX, LOG_RECORD, detector};
use crate::store::{IndexSum, Store, StoreError};
use crate::work::heads::{Expected, heads};

/// What the chain says of itself.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct ChainReport {
    pub operations: usize,
    /// Digest of the last operation: write it down to compare later.
    pub head: String,
    /// Whether every digest follows from the one before it.
    pub intact: bool,
    /// Heads that were printed earlier, and what became of them.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub expected: Vec<Expected>,
}

fn found(record: String, kind: Kind, id: RecordId, detail: String) -> Found {
    Found {
        record,
        kind,
        id,
        detail,
    }
}

fn take(tally: &mut Tally, rule: &str, found: Found) {
    if let Some(d) = detector(rule) {
        tally.take(d, found, None);
    }
}

/// Walks the log: the chain, the expected heads, and each changed record.
pub(super) fn check(
    store: &Store,
    expect: &[String],
    tally: &mut Tally,
) -> Result<ChainReport, Failure> {
    let broken = broken(store)?;
    if let Some((operation, detail)) = &broken {
        let at = found(
            operation.clone(),
            Kind::Utility,
            RecordId::default(),
            detail.clone(),
        );
        take(tally, LOG_CHAIN, at);
    }
    let head = store.head()?;
    let report = ChainReport {
        operations: usize::try_from(store.operation_count()?).unwrap_or(0),
        head: head.digest,
        intact: broken.is_none(),
        expected: heads(store, expect)?,
    };
    for lost in report.expected.iter().filter(|e| !e.found) {
        let detail = match lost.of.as_str() {
            "as given" => format!("does not hold the head {}, which {}", lost.head, lost.words),
            of => format!("does not hold the head of {of}: {}", lost.words),
        };
        let log = "the log of changes".to_string();
        let at = found(log, Kind::Utility, RecordId::default(), detail);
        take(tally, LOG_HEAD, at);
    }
    store.drifted(|d| {
        let at = found(d.name, d.kind, d.id, d.why.to_string());
        take(tally, LOG_RECORD, at);
        Ok::<(), StoreError>(())
    })?;
    Ok(report)
}

/// Holds the index against the records met; which ones differ is looked for
/// only when some do.
pub(super) fn index(store: &Store, met: IndexSum, tally: &mut Tally) -> Result<(), Failure> {
    if store.index_sum()? == met {
        return Ok(());
    }
    store.misindexed(|d| {
        let at = found(d.name, d.kind, d.id, d.why.to_string());
        take(tally, LOG_INDEX, at);
        Ok::<(), Failure>(())
    })
}

/// The operation at which the chain breaks, and how.
fn broken(store: &Store) -> Result<Option<(String, String)>, Failure> {
    match store.broken_link() {
        Ok(None) => Ok(None),
        Ok(Some(seq)) => Ok(Some((
            format!("operation {seq}"),
            "does not follow from the one before it: its digest is not that of its content"
                .to_string(),
        ))),
        Err(StoreError::BadLog(at, why)) => Ok(Some((
            format!("operation {at}"),
            format!("cannot be read: {why}"),
        ))),
        Err(other) => Err(other.into()),
    }
}
