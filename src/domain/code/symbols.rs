//! From typed text to symbols (capital letters and digits) and the gaps between.

use std::ops::Range;

use super::scheme::Scheme;

/// Stands for a letter no scheme uses (accented, non-Latin): it matches nothing.
pub(super) const FOREIGN: u8 = b'?';

/// One letter or digit, and where it stands in the input (bytes). Symbols said
/// in one word ("fourteen") share its range.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) struct Symbol {
    pub ch: u8,
    pub span: Range<usize>,
}

/// What stands before symbol `before`: separators and stray marks.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) struct Gap {
    pub before: usize,
    pub text: String,
}

/// One way of taking the input as symbols.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub(super) struct Symbols {
    pub symbols: Vec<Symbol>,
    pub gaps: Vec<Gap>,
    /// Words of the spelling alphabet or number words were read as symbols.
    pub spoken: bool,
    /// Small letters were typed.
    pub lower: bool,
    /// How far down the list of ways to take the words this one is.
    pub rank: usize,
}

impl Symbols {
    /// The input letter by letter.
    pub fn literal(input: &str) -> Symbols {
        let mut out = Symbols::default();
        for (at, c) in input.char_indices() {
            let span = at..at + c.len_utf8();
            if let Some(folded) = fold_char(c) {
                out.lower |= c.is_lowercase();
                for ch in folded {
                    let span = span.clone();
                    out.symbols.push(Symbol { ch, span });
                }
            } else {
                out.push_gap(c);
            }
        }
        out
    }

    /// Adds a mark to the gap at the end.
    pub fn push_gap(&mut self, c: char) {
        let before = self.symbols.len();
        match self.gaps.last_mut() {
            Some(gap) if gap.before == before => gap.text.push(c),
            _ => self.gaps.push(Gap {
                before,
                text: c.to_string(),
            }),
        }
    }

    /// The symbols as text; foreign letters show as `?`.
    pub fn text(&self) -> String {
        self.symbols.iter().map(|s| char::from(s.ch)).collect()
    }
}

/// Capitals and digits a character stands for; `None` for anything that is no
/// letter and no digit. Full-width forms count as their plain ones.
fn fold_char(c: char) -> Option<Vec<u8>> {
    if c.is_ascii() {
        return c
            .is_ascii_alphanumeric()
            .then(|| vec![c.to_ascii_uppercase() as u8]);
    }
    let plain = match u32::from(c) {
        wide @ 0xFF01..=0xFF5E => char::from_u32(wide - 0xFEE0),
        _ => None,
    };
    if let Some(plain) = plain {
        return fold_char(plain);
    }
    c.is_alphanumeric().then(|| vec![FOREIGN])
}

/// The search key of a text: capitals and digits only, every separator, dash,
/// quote and space gone. Letters outside A to Z are kept as their capitals.
pub fn fold(text: &str) -> String {
    let mut out = String::with_capacity(text.len());
    for c in text.chars() {
        match fold_char(c) {
            Some(folded) if folded == [FOREIGN] => out.extend(c.to_uppercase()),
            Some(folded) => out.extend(folded.into_iter().map(char::from)),
            None => {}
        }
    }
    out
}

/// [`fold`], with every group of characters the scheme lets stand for each
/// other written as one of them (a digit if the group has one).
pub fn confusion_fold(scheme: &Scheme, text: &str) -> String {
    fold(text)
        .chars()
        .map(|c| representative(scheme, c))
        .collect()
}

/// The first digit (else the first letter) among all characters linked to `c`.
fn representative(scheme: &Scheme, c: char) -> char {
    let mut linked = vec![c];
    let mut next = 0;
    while let Some(&from) = linked.get(next) {
        next += 1;
        for group in scheme.confusable.iter().filter(|g| g.contains(from)) {
            for other in group.chars() {
                if !linked.contains(&other) {
                    linked.push(other);
                }
            }
        }
    }
    // Digits come before letters in ASCII.
    linked.into_iter().min().unwrap_or(c)
}

/// A separator as a plain keyboard would have it: long dashes, odd slashes,
/// dots and spaces of phones and word processors made plain, the space around
/// a mark dropped, marks that cannot be seen dropped.
pub(super) fn plain_mark(text: &str) -> String {
    let plain: String = text
        .chars()
        .filter_map(|c| match c {
            '\u{2010}'..='\u{2015}' | '\u{2212}' | '\u{FE58}' | '\u{FE63}' | '\u{FF0D}' => {
                Some('-')
            }
            '\u{00AD}' | '\u{200B}'..='\u{200F}' | '\u{202A}'..='\u{202E}' => None,
            '\u{2060}'..='\u{2069}' | '\u{FEFF}' => None,
            '\u{2044}' | '\u{2215}' | '\u{FF0F}' => Some('/'),
            '\u{2024}' | '\u{FF0E}' | '\u{00B7}' => Some('.'),
            '\u{FF1A}' => Some(':'),
            c if c.is_whitespace() => Some(' '),
            c => Some(c),
        })
        .collect();
    let trimmed = plain.trim();
    if trimmed.is_empty() && !plain.is_empty() {
        return " ".to_string();
    }
    trimmed.to_string()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn fold_drops_every_kind_of_separator_and_quote() {
        for text in [
            "hb2-rc-14",
            "HB2\u{2013}RC\u{2014}14.",
            "\u{201c}Hb2 rc\u{a0}14\u{201d}",
        ] {
            assert_eq!(fold(text), "HB2RC14");
        }
        assert_eq!(fold("\u{ff28}\u{ff22}\u{ff12}"), "HB2");
        assert_eq!(fold("caf\u{e9} 7"), "CAF\u{c9}7");
        assert_eq!(fold("\u{202e}40\u{200b}-118"), "40118");
    }

    #[test]
    fn marks_become_plain() {
        assert_eq!(plain_mark(" \u{2014} "), "-");
        assert_eq!(plain_mark("\u{a0}"), " ");
        assert_eq!(plain_mark("\u{ad}"), "");
    }

    #[test]
    fn literal_symbols_know_where_they_stand() {
        let got = Symbols::literal("b\u{2013}7");
        assert_eq!(got.text(), "B7");
        assert_eq!(got.symbols[1].span, 4..5);
        assert_eq!(got.gaps[0].before, 1);
        assert!(got.lower);
    }
}
