//! The chain of operations, and a head that was printed earlier.

use serde::Serialize;

use super::{Asked, Failure, Tally};
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
    /// Records that are not as the log leaves them.
    pub altered: usize,
    /// Their names, the first of them.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub altered_names: Vec<String>,
    /// Records whose entries in the index are not theirs.
    pub misindexed: usize,
    /// Where the chain breaks.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub broken: Option<String>,
}

/// Altered records that are named.
const NAMED: usize = 5;

impl ChainReport {
    /// What nobody may overlook, in sentences.
    pub(super) fn stops(&self) -> Vec<String> {
        let mut out: Vec<String> = Vec::new();
        if let Some(broken) = &self.broken {
            out.push(format!("the log was altered outside the program: {broken}"));
        }
        for lost in self.expected.iter().filter(|e| !e.found) {
            let short: String = lost.head.chars().take(12).collect();
            out.push(match lost.of.as_str() {
                "as given" => format!("the head {short}: {}", lost.words),
                of => format!("the head {short} of {of}: {}", lost.words),
            });
        }
        let records = |n: usize| if n == 1 { "record is" } else { "records are" };
        if self.altered > 0 {
            let more = self.altered - self.altered_names.len();
            let more = if more > 0 {
                format!(" and {more} more")
            } else {
                String::new()
            };
            out.push(format!(
                "{} {} not as the log leaves them: changed outside the program: {}{more}",
                self.altered,
                records(self.altered),
                self.altered_names.join(", ")
            ));
        }
        if self.misindexed > 0 {
            out.push(format!(
                "{} {} not found as they should be: the index was changed outside the program",
                self.misindexed,
                records(self.misindexed)
            ));
        }
        out
    }
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
    asked: &Asked,
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
        operations: usize::try_from(store.operation_count()?).unwrap_or(0),
        head: head.digest,
        intact: broken.is_none(),
        expected: heads(store, &asked.expect_head, asked.last_head.as_deref())?,
        altered: 0,
        altered_names: Vec::new(),
        misindexed: 0,
        broken: broken.map(|(at, why)| format!("{at} {why}")),
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
        report.altered += 1;
        if report.altered_names.len() < NAMED {
            report.altered_names.push(d.name.clone());
        }
        let at = found(d.name, d.kind, d.id, d.why.to_string());
        take(tally, LOG_RECORD, at);
        Ok::<(), StoreError>(())
    })?;
    Ok(report)
}

/// Holds the index against the records met; which ones differ is looked for
/// only when some do. Returns how many do.
pub(super) fn index(store: &Store, met: IndexSum, tally: &mut Tally) -> Result<usize, Failure> {
    if store.index_sum()? == met {
        return Ok(0);
    }
    let mut differ = 0;
    store.misindexed(|d| {
        differ += 1;
        let at = found(d.name, d.kind, d.id, d.why.to_string());
        take(tally, LOG_INDEX, at);
        Ok::<(), Failure>(())
    })?;
    Ok(differ)
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
