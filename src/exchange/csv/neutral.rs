//! Cells that a spreadsheet must take as text.

use std::borrow::Cow;

/// A cell that begins a formula (`=`, `+`, `-`, `@`) or holds control
/// characters, made harmless: an apostrophe stands before it, and each control
/// character becomes a space. A plain number keeps its sign.
#[must_use]
pub fn neutral(cell: &str) -> Cow<'_, str> {
    let clean: Cow<'_, str> = if cell.contains(char::is_control) {
        let plain = |c: char| if c.is_control() { ' ' } else { c };
        Cow::Owned(cell.chars().map(plain).collect())
    } else {
        Cow::Borrowed(cell)
    };
    // Some programs look past leading blanks.
    let formula = clean.trim_start().starts_with(['=', '+', '-', '@']);
    if formula && clean.parse::<f64>().is_err() {
        return Cow::Owned(format!("'{clean}"));
    }
    clean
}

/// A row of neutral cells as a line of CSV (RFC 4180), without its end.
#[must_use]
pub fn line<'c>(cells: impl IntoIterator<Item = &'c str>) -> String {
    let quoted = |cell: &str| {
        let cell = neutral(cell);
        if cell.contains([',', '"', ';']) {
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
    fn formulas_and_control_characters_are_text() {
        for (cell, harmless) in [
            ("=1+1", "'=1+1"),
            ("+cmd", "'+cmd"),
            ("-2+3", "'-2+3"),
            ("@sum", "'@sum"),
            (" =1", "' =1"),
            ("\t=1", "' =1"),
            ("a\r\nb", "a  b"),
            ("-12.5", "-12.5"),
            ("HB2-RC-14", "HB2-RC-14"),
        ] {
            assert_eq!(neutral(cell), harmless);
        }
        assert_eq!(
            line(["a,b", "say \"x\"", "=c"]),
            "\"a,b\",\"say \"\"x\"\"\",'=c"
        );
    }
}
