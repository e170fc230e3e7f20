//! Floor 0: what a piece of text means. The theme turns roles into looks, so
//! that no other place knows a colour.

use serde::Serialize;

/// The meaning of a piece of text. Every role that carries a warning also has
/// a word of its own in the text: looks only repeat what the words say.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Role {
    /// Running text.
    Plain,
    /// The name of a record, as the utility writes it.
    Code,
    /// A figure or fact from the record.
    Value,
    /// The label before a value.
    Label,
    /// A heading.
    Heading,
    /// Less important; still readable without colour.
    Muted,
    /// A key to press.
    Key,
    /// The radio line.
    Say,
    /// A caution that stops.
    Stop,
    /// A caution to look at.
    Look,
    /// Verdict: within.
    Within,
    /// Verdict: tight.
    Tight,
    /// Verdict: fails.
    Fails,
    /// Verdict or value: unknown or assumed.
    Unknown,
    /// The part of a name that matched what was typed.
    Match,
}

/// Makes text from a record harmless to a terminal: control characters become
/// their visible pictures, marks that reorder or hide text become `·`.
///
/// ```
/// assert_eq!(polecard::role::harmless("a\u{1b}[31mb\u{202e}c"), "a␛[31mb·c");
/// ```
#[must_use]
pub fn harmless(text: &str) -> std::borrow::Cow<'_, str> {
    if text.chars().all(is_plain) {
        return std::borrow::Cow::Borrowed(text);
    }
    text.chars()
        .map(|c| match c {
            '\u{0}'..='\u{1f}' => char::from_u32(0x2400 + u32::from(c)).unwrap_or('·'),
            '\u{7f}' => '␡',
            c if is_plain(c) => c,
            _ => '·',
        })
        .collect::<String>()
        .into()
}

/// A character that prints as itself: no control, no bidirectional mark, no
/// invisible joiner, no private-use or tag character.
#[must_use]
pub fn is_plain(c: char) -> bool {
    !(c.is_control()
        || matches!(c,
            '\u{ad}' | '\u{61c}' | '\u{200b}'..='\u{200f}' | '\u{2028}'..='\u{202e}'
            | '\u{2060}'..='\u{206f}' | '\u{feff}' | '\u{fff9}'..='\u{fffb}'
            | '\u{e000}'..='\u{f8ff}' | '\u{e0000}'..='\u{10ffff}'))
}
