//! Keys as people name them: chords, and the reading of bytes from a terminal.
//!
//! Nothing here knows about screens. [`Chord`] is one press with its modifiers, written the way
//! the key table prints it (`j`, `?`, `enter`, `ctrl-c`). [`Decoder`] turns bytes into chords and
//! pastes, joining escape sequences that a slow link has split.

mod decoder;
mod phone;

use std::fmt;
use std::str::FromStr;

pub use decoder::{Decoder, KeyInput, LOCAL_ESCAPE_GAP, REMOTE_ESCAPE_GAP};
pub use phone::phone_plain;

/// A key without its modifiers.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub enum Key {
    /// A character as typed: capitals are characters of their own.
    Char(char),
    /// Return.
    Enter,
    /// Escape.
    Esc,
    /// Tabulator; with shift it is back-tab.
    Tab,
    /// Rub out the character before.
    Backspace,
    /// Arrow up.
    Up,
    /// Arrow down.
    Down,
    /// Arrow left.
    Left,
    /// Arrow right.
    Right,
    /// To the start.
    Home,
    /// To the end.
    End,
    /// One page up.
    PageUp,
    /// One page down.
    PageDown,
    /// Insert.
    Insert,
    /// Delete the character under the cursor.
    Delete,
    /// A function key, 1 to 12.
    F(u8),
}

/// The keys that have a word for a name; the word is what is parsed and printed.
const NAMED: [(Key, &str); 16] = [
    (Key::Char(' '), "space"),
    (Key::Enter, "enter"),
    (Key::Esc, "esc"),
    (Key::Tab, "tab"),
    (Key::Backspace, "backspace"),
    (Key::Up, "up"),
    (Key::Down, "down"),
    (Key::Left, "left"),
    (Key::Right, "right"),
    (Key::Home, "home"),
    (Key::End, "end"),
    (Key::PageUp, "pageup"),
    (Key::PageDown, "pagedown"),
    (Key::Insert, "insert"),
    (Key::Delete, "delete"),
    (Key::F(1), "f1"),
];

/// One key press with its modifiers. Shift is kept only where the character does not show it.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub struct Chord {
    /// The key.
    pub key: Key,
    /// Control held.
    pub ctrl: bool,
    /// Alt (meta) held.
    pub alt: bool,
    /// Shift held; always false for characters.
    pub shift: bool,
}

impl Chord {
    /// A key without modifiers.
    #[must_use]
    pub const fn key(key: Key) -> Self {
        Self {
            key,
            ctrl: false,
            alt: false,
            shift: false,
        }
    }

    /// A character without modifiers.
    #[must_use]
    pub const fn char(character: char) -> Self {
        Self::key(Key::Char(character))
    }

    /// Control and a character, such as `Chord::ctrl('c')`.
    #[must_use]
    pub const fn ctrl(character: char) -> Self {
        Self {
            key: Key::Char(character.to_ascii_lowercase()),
            ctrl: true,
            alt: false,
            shift: false,
        }
    }

    /// The character that this press would put into a text field, if any.
    #[must_use]
    pub const fn typed(self) -> Option<char> {
        match self.key {
            Key::Char(character) if !self.ctrl && !self.alt => Some(character),
            _ => None,
        }
    }

    /// Reads a chord as [`fmt::Display`] writes it: `"j"`, `"?"`, `"enter"`, `"ctrl-c"`,
    /// `"shift-tab"`, `"f5"`. Words and modifiers in any case; characters as they stand.
    ///
    /// # Errors
    /// [`ChordError`] names the text and what may be written.
    pub fn parse(text: &str) -> Result<Self, ChordError> {
        let (mut rest, mut chord) = (text, Self::key(Key::Esc));
        while let Some((modifier, after)) = rest.split_once('-').filter(|(_, a)| !a.is_empty()) {
            match modifier.to_ascii_lowercase().as_str() {
                "ctrl" => chord.ctrl = true,
                "alt" => chord.alt = true,
                "shift" => chord.shift = true,
                _ => return Err(ChordError(text.to_owned())),
            }
            rest = after;
        }
        chord.key = parse_key(rest).ok_or_else(|| ChordError(text.to_owned()))?;
        Ok(chord.settled())
    }

    /// The one form of a chord: control letters small, shift folded into the character.
    fn settled(mut self) -> Self {
        if let Key::Char(character) = self.key {
            if self.ctrl {
                self.key = Key::Char(character.to_ascii_lowercase());
            } else if self.shift {
                self.key = Key::Char(character.to_ascii_uppercase());
            }
            self.shift = false;
        }
        self
    }
}

fn parse_key(text: &str) -> Option<Key> {
    let mut characters = text.chars();
    if let (Some(only), None) = (characters.next(), characters.next()) {
        return (!only.is_control()).then_some(Key::Char(only));
    }
    let word = text.to_ascii_lowercase();
    if let Some((key, _)) = NAMED.iter().find(|(_, name)| *name == word) {
        return Some(*key);
    }
    let number: u8 = word.strip_prefix('f')?.parse().ok()?;
    (1..=12).contains(&number).then_some(Key::F(number))
}

impl fmt::Display for Chord {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        for (held, name) in [
            (self.ctrl, "ctrl-"),
            (self.alt, "alt-"),
            (self.shift, "shift-"),
        ] {
            if held {
                f.write_str(name)?;
            }
        }
        if let Some((_, name)) = NAMED.iter().find(|(key, _)| *key == self.key) {
            return f.write_str(name);
        }
        match self.key {
            Key::Char(character) => write!(f, "{character}"),
            Key::F(number) => write!(f, "f{number}"),
            _ => f.write_str("?"),
        }
    }
}

impl FromStr for Chord {
    type Err = ChordError;

    fn from_str(text: &str) -> Result<Self, Self::Err> {
        Self::parse(text)
    }
}

/// A text that names no key.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[error(
    "{0:?} is not a key: write one character, or space, enter, esc, tab, backspace, up, down, left, \
     right, home, end, pageup, pagedown, insert, delete, f1 to f12, with ctrl-, alt- or shift- before it"
)]
pub struct ChordError(pub String);

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn chords_print_as_they_parse() {
        for text in [
            "j",
            "J",
            "?",
            "-",
            "ctrl-c",
            "ctrl--",
            "space",
            "enter",
            "esc",
            "tab",
            "shift-tab",
            "backspace",
            "up",
            "alt-x",
            "ctrl-right",
            "pageup",
            "f1",
            "f12",
            "ctrl-alt-delete",
        ] {
            assert_eq!(Chord::parse(text).unwrap().to_string(), text);
        }
    }

    #[test]
    fn shift_and_case_have_one_form() {
        assert_eq!(Chord::parse("shift-j").unwrap(), Chord::char('J'));
        assert_eq!(Chord::parse("Ctrl-C").unwrap(), Chord::ctrl('c'));
        assert_eq!(Chord::parse("ENTER").unwrap(), Chord::key(Key::Enter));
    }

    #[test]
    fn what_is_no_key_is_refused_with_what_is() {
        for text in ["", "hyper-x", "f13", "f0", "entr", "ctrl-", "\u{1b}"] {
            let error = Chord::parse(text).unwrap_err();
            assert!(error.to_string().contains("pageup"), "{text:?}: {error}");
        }
    }

    #[test]
    fn only_plain_characters_are_typed() {
        assert_eq!(Chord::char('é').typed(), Some('é'));
        assert_eq!(Chord::ctrl('c').typed(), None);
        assert_eq!(Chord::key(Key::Enter).typed(), None);
    }
}
