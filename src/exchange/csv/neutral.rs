//! Cells that a spreadsheet would take for formulas, made harmless and back.

use std::borrow::Cow;

/// Whether a spreadsheet may run a cell that begins so (the list of the OWASP
/// note on CSV injection, from memory; common practice). A plain number such
/// as -3 is none.
fn may_run(cell: &str) -> bool {
    cell.starts_with(['=', '+', '-', '@', '\t', '\r']) && !is_number(cell)
}

fn is_number(cell: &str) -> bool {
    let digits = cell.strip_prefix(['-', '+']).unwrap_or(cell);
    let one_point = digits.bytes().filter(|b| *b == b'.').count() <= 1;
    let only = digits.bytes().all(|b| b.is_ascii_digit() || b == b'.');
    one_point && only && digits.bytes().any(|b| b.is_ascii_digit())
}

/// A cell for a spreadsheet: what could run as a formula gets an apostrophe
/// before it, and so does what would otherwise look as if it had got one.
///
/// ```
/// use polecard::exchange::csv::neutral;
/// assert_eq!(neutral("=1+1"), "'=1+1");
/// assert_eq!(neutral("-3"), "-3");
/// ```
#[must_use]
pub fn neutral(cell: &str) -> Cow<'_, str> {
    if may_run(cell.trim_start_matches('\'')) {
        Cow::Owned(format!("'{cell}"))
    } else {
        Cow::Borrowed(cell)
    }
}

/// What stood in a cell before [`neutral`].
#[must_use]
pub fn original(cell: &str) -> &str {
    match cell.strip_prefix('\'') {
        Some(rest) if may_run(rest.trim_start_matches('\'')) => rest,
        _ => cell,
    }
}

/// A row of neutral cells as a line of CSV (RFC 4180), without its end.
#[must_use]
pub fn line<'c>(cells: impl IntoIterator<Item = &'c str>) -> String {
    let quoted = |cell: &str| {
        let cell = neutral(cell);
        if cell.contains([',', '"', ';', '\n', '\r']) {
            format!("\"{}\"", cell.replace('"', "\"\""))
        } else {
            cell.into_owned()
        }
    };
    let cells: Vec<String> = cells.into_iter().map(quoted).collect();
    cells.join(",")
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_line_quotes_what_separates() {
        assert_eq!(
            line(["a,b", "say \"x\"", "=c"]),
            "\"a,b\",\"say \"\"x\"\"\",'=c"
        );
    }
}
