//! Published values that do not fit the pattern of their own table. They are
//! shown and never altered.

use serde::Serialize;

/// One such value.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Outlier {
    pub table: &'static str,
    pub cell: &'static str,
    pub printed: f64,
    /// What the pattern of the table gives.
    pub pattern: f64,
    pub unit: &'static str,
}

pub static OUTLIERS: &[Outlier] = &[
    Outlier {
        table: "K link melting",
        cell: "30K at 0.1 s, maximum",
        printed: 546.0,
        pattern: 536.0,
        unit: "A",
    },
    Outlier {
        table: "first-cycle asymmetry",
        cell: "rms at X/R 49.993",
        printed: 1.665,
        pattern: 1.6625,
        unit: "",
    },
    Outlier {
        table: "K and K coordination",
        cell: "flat value below 100K",
        printed: 3900.0,
        pattern: 3605.0,
        unit: "A",
    },
];
