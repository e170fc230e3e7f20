//! Cells of a CSV file that people open in a spreadsheet: quoted where needed,
//! and never a formula.

/// One row with its line end. A cell that a spreadsheet would take for a
/// formula begins with an apostrophe instead; a plain number stays one.
#[must_use]
pub fn row<S: AsRef<str>>(cells: &[S]) -> String {
    let cells: Vec<String> = cells.iter().map(|c| cell(c.as_ref())).collect();
    format!("{}\r\n", cells.join(","))
}

fn cell(text: &str) -> String {
    let text = neutral(&crate::role::harmless(text));
    if text.contains([',', '"', '\n', '\r']) || text != text.trim() {
        format!("\"{}\"", text.replace('"', "\"\""))
    } else {
        text
    }
}

/// A text that no spreadsheet takes for a formula.
fn neutral(text: &str) -> String {
    let bare = text.trim_start();
    let formula = text.starts_with(['\t', '\r', '\n'])
        || bare.starts_with(['=', '+', '-', '@', '＝', '＋', '－', '＠']);
    if formula && text.parse::<f64>().is_err() {
        format!("'{text}")
    } else {
        text.to_string()
    }
}
