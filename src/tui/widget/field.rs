//! One line of text being typed.

use unicode_segmentation::UnicodeSegmentation;

use crate::keys::phone_plain;

/// Longest text taken.
const LONGEST: usize = 120;

/// The text of a field; it is typed and erased at its end, which is all that a
/// phone can do.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct Field {
    text: String,
}

impl Field {
    #[must_use]
    pub fn of(text: &str) -> Self {
        let mut field = Field::default();
        field.paste(text);
        field
    }

    #[must_use]
    pub fn text(&self) -> &str {
        &self.text
    }

    #[must_use]
    pub fn is_empty(&self) -> bool {
        self.text.is_empty()
    }

    /// Adds a character; what a phone puts in place of a plain one is plain.
    pub fn type_in(&mut self, c: char) {
        if self.text.len() < LONGEST && crate::role::is_plain(c) {
            self.text.push(phone_plain(c));
        }
    }

    /// Adds pasted text as one line.
    pub fn paste(&mut self, text: &str) {
        let line = text.split_whitespace().collect::<Vec<_>>().join(" ");
        for c in line.chars() {
            self.type_in(c);
        }
    }

    /// Erases the last character as people count them; false when empty.
    pub fn erase(&mut self) -> bool {
        match self.text.grapheme_indices(true).next_back() {
            Some((at, _)) => {
                self.text.truncate(at);
                true
            }
            None => false,
        }
    }

    /// Erases the last word and the blanks behind it.
    pub fn erase_word(&mut self) {
        let kept = self.text.trim_end();
        let kept = kept.rfind(char::is_whitespace).map_or(0, |at| at + 1);
        self.text.truncate(kept);
    }

    pub fn clear(&mut self) {
        self.text.clear();
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn phones_type_plain_text() {
        let mut field = Field::of("40—118\n ‘weir’");
        assert_eq!(field.text(), "40-118 'weir'");
        assert!(field.erase());
        assert_eq!(field.text(), "40-118 'weir");
    }
}
