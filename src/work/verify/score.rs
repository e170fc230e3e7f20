//! The score of a feeder, and how it moved since an earlier report.

use std::path::{Path, PathBuf};

use serde::{Deserialize, Serialize};

use super::{Failure, VerifyReport};
use crate::work::heads::Expected;

/// The score of one feeder.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Score {
    /// None: of records at home in no feeder.
    pub feeder: Option<String>,
    pub records: usize,
    pub findings: usize,
    /// Findings for each 100 records.
    pub per_100: f64,
    /// Units at its positions, and those whose plates are read.
    pub plates: usize,
    pub plates_read: usize,
    /// None where there is no plate.
    pub read_percent: Option<f64>,
    /// The same feeder in an earlier report.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub before: Option<Before>,
}

/// What an earlier report said of a feeder.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Before {
    pub feeder: Option<String>,
    pub per_100: f64,
    pub read_percent: Option<f64>,
}

#[derive(Deserialize)]
struct Earlier {
    scores: Vec<Before>,
}

/// The scores of an earlier report, from its JSON.
///
/// # Errors
/// When the text is not the JSON of a report of `verify`.
pub fn earlier(json: &str) -> Result<Vec<Before>, Failure> {
    serde_json::from_str::<Earlier>(json)
        .map(|e| e.scores)
        .map_err(|e| {
            Failure::unusable(format!("this is no earlier report of verify: {e}"))
                .hint("make one with `polecard verify --json > before.json`")
        })
}

/// The file of an account's own in which the last scores of a register stand.
fn last(folder: &Path, register: &Path) -> PathBuf {
    let name = register.file_stem().unwrap_or_default().to_string_lossy();
    let mut sum = 0_u64;
    for byte in register.as_os_str().as_encoded_bytes() {
        sum = sum.wrapping_mul(31).wrapping_add(u64::from(*byte));
    }
    folder.join(format!("verified-{name}-{sum:016x}.json"))
}

/// What this account keeps of its last look at a register.
#[derive(Debug, Clone, Default, PartialEq, Serialize, Deserialize)]
pub struct Last {
    pub scores: Vec<Before>,
    /// The head of the log then, as `NUMBER:DIGEST`.
    #[serde(default)]
    pub head: Option<String>,
}

/// What this account kept when it last verified the register; empty when it
/// never did, or it cannot be read.
#[must_use]
pub fn recall_last(folder: Option<&Path>, register: &Path) -> Last {
    let Some(text) = folder.and_then(|f| std::fs::read_to_string(last(f, register)).ok()) else {
        return Last::default();
    };
    serde_json::from_str(&text).unwrap_or_else(|_| Last {
        // Before the head was kept, the file held the scores alone.
        scores: serde_json::from_str(&text).unwrap_or_default(),
        head: None,
    })
}

/// Keeps the scores and the head for the next time. A head that the log no
/// longer holds stays, so that it is said again. Where nothing can be kept,
/// nothing else suffers.
pub fn keep_last(folder: Option<&Path>, register: &Path, report: &VerifyReport) {
    let Some(folder) = folder else { return };
    let before = recall_last(Some(folder), register).head;
    let lost = before.as_ref().is_some_and(|head| {
        let of = |e: &&Expected| head.ends_with(&e.head) && !e.found;
        report.chain.expected.iter().find(of).is_some()
    });
    let now = format!("{}:{}", report.chain.operations, report.chain.head);
    let kept = Last {
        scores: report
            .scores
            .iter()
            .map(|s| Before {
                feeder: s.feeder.clone(),
                per_100: s.per_100,
                read_percent: s.read_percent,
            })
            .collect(),
        head: if lost { before } else { Some(now) },
    };
    if let Ok(text) = serde_json::to_string(&kept) {
        let _ = std::fs::create_dir_all(folder);
        let _ = std::fs::write(last(folder, register), text);
    }
}

/// Forgets the head that was kept: after a restore the log is another one, and
/// the account that restored it knows.
pub fn forget_head(folder: Option<&Path>, register: &Path) {
    let Some(folder) = folder else { return };
    let kept = Last {
        head: None,
        ..recall_last(Some(folder), register)
    };
    let path = last(folder, register);
    if path.exists()
        && let Ok(text) = serde_json::to_string(&kept)
    {
        let _ = std::fs::write(path, text);
    }
}

/// A share in percent, to one decimal.
pub(super) fn percent(part: usize, whole: usize) -> f64 {
    let number = |n: usize| f64::from(u32::try_from(n).unwrap_or(u32::MAX));
    if whole == 0 {
        return 0.0;
    }
    (number(part) * 1_000.0 / number(whole)).round() / 10.0
}
