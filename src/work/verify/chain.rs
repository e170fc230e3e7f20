//! The chain of operations, and a head that was printed earlier.

use serde::Serialize;

use super::{Failure, Tally};
use crate::domain::asset::{Kind, RecordId};
use crate::domain::verify::{Found, LOG_CHAIN, LOG_HEAD, LOG_RECORD, detector};
use crate::store::{Store, StoreError};

/// Operations read at a time.
const PAGE: usize = 1_000;

/// What the chain says of itself.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct ChainReport {
    pub operations: usize,
    /// Digest of the last operation: write it down to compare later.
    pub head: String,
    /// Whether every digest follows from the one before it.
    pub intact: bool,
    /// With a head to compare: operations since it; none when it is not found.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub expected: Option<Expected>,
}

/// What became of a head that was printed earlier.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct Expected {
    pub head: String,
    pub found: bool,
    pub operations_since: usize,
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

/// Walks the log: the chain, the expected head, and each changed record.
pub(super) fn check(
    store: &Store,
    expect: Option<&str>,
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
    let mut report = ChainReport {
        operations: 0,
        head: head.digest,
        intact: broken.is_none(),
        expected: None,
    };
    let place = heads(store, expect, &mut report)?;
    if let Some(head) = expect.map(str::trim) {
        let operations_since = place.map_or(0, |n| report.operations - n);
        report.expected = Some(Expected {
            head: head.to_string(),
            found: place.is_some(),
            operations_since,
        });
        if place.is_none() {
            let detail = format!("does not hold the head {head}");
            let log = "the log of changes".to_string();
            let at = found(log, Kind::Utility, RecordId::default(), detail);
            take(tally, LOG_HEAD, at);
        }
    }
    store.drifted(|d| {
        let at = found(d.name, d.kind, d.id, d.why.to_string());
        take(tally, LOG_RECORD, at);
        Ok::<(), StoreError>(())
    })?;
    Ok(report)
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

/// Counts the operations, and finds the place of a head among them.
fn heads(
    store: &Store,
    expect: Option<&str>,
    report: &mut ChainReport,
) -> Result<Option<usize>, Failure> {
    let wanted = expect.map(|h| h.trim().to_lowercase());
    let mut place = None;
    let mut after = 0;
    loop {
        let page = match store.operations(after, PAGE) {
            Ok(page) => page,
            // Named already as the place where the chain breaks.
            Err(StoreError::BadLog(..)) => return Ok(place),
            Err(other) => return Err(other.into()),
        };
        let Some(last) = page.last() else {
            return Ok(place);
        };
        after = last.seq;
        for w in &page {
            report.operations += 1;
            if wanted.as_ref().is_some_and(|h| *h == w.digest) {
                place = Some(report.operations);
            }
        }
    }
}
