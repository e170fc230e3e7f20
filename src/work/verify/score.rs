//! The score of a feeder, and how it moved since an earlier report.

use serde::{Deserialize, Serialize};

use super::Failure;

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

/// A share in percent, to one decimal.
pub(super) fn percent(part: usize, whole: usize) -> f64 {
    let number = |n: usize| f64::from(u32::try_from(n).unwrap_or(u32::MAX));
    if whole == 0 {
        return 0.0;
    }
    (number(part) * 1_000.0 / number(whole)).round() / 10.0
}
