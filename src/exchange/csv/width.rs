//! How many cells of a row are its own.

use super::refused::PREFIX;
use super::split::Row;

/// How many cells a row has, and whether a reason may stand behind them.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) struct Width {
    pub cells: usize,
    pub reasons: Reasons,
}

/// The reasons of an earlier refusal.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Reasons {
    /// The file has none.
    None,
    /// The heading names their column: whatever stands in it is passed over.
    Column,
    /// The file has no heading: only what looks like one is.
    Perhaps,
}

impl Width {
    /// How many cells of a row are its own.
    pub(super) fn own(self, row: &Row) -> usize {
        let n = row.len();
        let marked = n > 0 && row.cell(n - 1).starts_with(PREFIX.as_bytes());
        let full = self.reasons == Reasons::Column && n == self.cells + 1;
        if full || (marked && self.reasons != Reasons::None) {
            n - 1
        } else {
            n
        }
    }
}
