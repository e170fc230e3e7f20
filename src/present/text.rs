//! Role-tagged lines of text and their folding to a width.

use unicode_segmentation::UnicodeSegmentation;
use unicode_width::UnicodeWidthStr;

use crate::role::{Role, harmless};

/// How to print: the width, and whether only ASCII may be used.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Style {
    /// Columns.
    pub width: usize,
    pub ascii: bool,
}

/// A piece of text with one meaning.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Piece {
    pub text: String,
    pub role: Role,
}

/// A line of pieces.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct Line {
    pub pieces: Vec<Piece>,
}

impl Line {
    #[must_use]
    pub fn new() -> Self {
        Line::default()
    }

    /// A line of one piece.
    #[must_use]
    pub fn of(role: Role, text: impl AsRef<str>) -> Self {
        Line::new().with(role, text)
    }

    /// Adds a piece; what could harm a terminal is made harmless here.
    #[must_use]
    pub fn with(mut self, role: Role, text: impl AsRef<str>) -> Self {
        self.push(role, text);
        self
    }

    /// Adds a piece; what could harm a terminal is made harmless here.
    pub fn push(&mut self, role: Role, text: impl AsRef<str>) {
        let text = harmless(text.as_ref()).into_owned();
        if !text.is_empty() {
            self.pieces.push(Piece { text, role });
        }
    }

    /// Columns taken.
    #[must_use]
    pub fn width(&self) -> usize {
        self.pieces.iter().map(|p| p.text.width()).sum()
    }

    /// The text without its roles.
    #[must_use]
    pub fn plain(&self) -> String {
        self.pieces.iter().map(|p| p.text.as_str()).collect()
    }

    /// Folds at spaces so that no line is wider than `width`; lines after the
    /// first are indented by `hang` columns. A word wider than the line is cut.
    #[must_use]
    pub fn folded(&self, width: usize, hang: usize) -> Vec<Line> {
        let width = width.max(8);
        let hang = hang.min(width / 2);
        let mut out: Vec<Line> = vec![Line::new()];
        let mut used = 0_usize;
        for piece in &self.pieces {
            for word in words(&piece.text) {
                let w = word.width();
                if used + w > width && used > hang {
                    if word.trim().is_empty() {
                        continue;
                    }
                    trim_end(&mut out);
                    out.push(Line::of(Role::Plain, " ".repeat(hang)));
                    used = hang;
                }
                used = place(&mut out, word, piece.role, (width, hang), used);
            }
        }
        trim_end(&mut out);
        out
    }

    /// Cuts to `width` columns; a cut line ends in `mark`.
    #[must_use]
    pub fn cut(&self, width: usize, mark: &str) -> Line {
        if self.width() <= width {
            return self.clone();
        }
        let room = width.saturating_sub(mark.width());
        let mut out = Line::new();
        let mut used = 0;
        'pieces: for piece in &self.pieces {
            for g in piece.text.graphemes(true) {
                if used + g.width() > room {
                    break 'pieces;
                }
                used += g.width();
                append(&mut out, g, piece.role);
            }
        }
        let role = out.pieces.last().map_or(Role::Plain, |p| p.role);
        append(&mut out, mark, role);
        out
    }
}

/// Puts a word at the end, cutting it into lines when it is wider than one;
/// returns the column reached.
fn place(
    out: &mut Vec<Line>,
    word: &str,
    role: Role,
    (width, hang): (usize, usize),
    mut column: usize,
) -> usize {
    for g in word.graphemes(true) {
        if column + g.width() > width && column > hang {
            out.push(Line::of(Role::Plain, " ".repeat(hang)));
            column = hang;
        }
        if let Some(line) = out.last_mut() {
            append(line, g, role);
        }
        column += g.width();
    }
    column
}

/// Runs of spaces and runs of anything else: an id such as `HB2-RC-14` is one
/// word and is never folded inside.
fn words(text: &str) -> impl Iterator<Item = &str> {
    let mut rest = text;
    std::iter::from_fn(move || {
        let blank = rest.chars().next()?.is_whitespace();
        let end = rest
            .find(|c: char| c.is_whitespace() != blank)
            .unwrap_or(rest.len());
        let (word, after) = rest.split_at(end);
        rest = after;
        Some(word)
    })
}

fn append(line: &mut Line, text: &str, role: Role) {
    match line.pieces.last_mut() {
        Some(p) if p.role == role => p.text.push_str(text),
        _ => line.pieces.push(Piece {
            text: text.to_string(),
            role,
        }),
    }
}

fn trim_end(lines: &mut [Line]) {
    let Some(line) = lines.last_mut() else { return };
    if let Some(p) = line.pieces.last_mut() {
        let kept = p.text.trim_end().len();
        p.text.truncate(kept);
        if p.text.is_empty() && line.pieces.len() > 1 {
            line.pieces.pop();
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    #[test]
    fn folding_hangs_and_keeps_roles() {
        let line = Line::of(Role::Stop, "STOP ").with(
            Role::Plain,
            "oil below mark, seen 12 Sep 2026: do not count on it",
        );
        let lines = line.folded(30, 6);
        let text: Vec<String> = lines.iter().map(Line::plain).collect();
        assert_eq!(
            text,
            [
                "STOP oil below mark, seen 12",
                "      Sep 2026: do not count",
                "      on it"
            ]
        );
        assert_eq!(lines[0].pieces[0].role, Role::Stop);
    }

    #[test]
    fn a_cut_line_says_so() {
        let line = Line::of(Role::Code, "HB2-RC-14").with(Role::Plain, " oil recloser");
        assert_eq!(line.cut(12, "~").plain(), "HB2-RC-14 o~");
    }

    proptest! {
        #[test]
        fn folded_lines_fit_and_lose_no_letter(text in "[a-z ]{0,200}", width in 8_usize..60, hang in 0_usize..6) {
            let lines = Line::of(Role::Plain, &text).folded(width, hang);
            for l in &lines {
                prop_assert!(l.width() <= width, "{:?}", l.plain());
            }
            let letters = |s: &str| s.chars().filter(|c| !c.is_whitespace()).collect::<String>();
            let all: String = lines.iter().map(Line::plain).collect();
            prop_assert_eq!(letters(&all), letters(&text));
        }
    }
}
