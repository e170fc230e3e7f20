//! Numbering schemes as data; decoding and composing of ids.

/// The search key of a text: upper case, letters and digits only.
#[must_use]
pub fn fold(text: &str) -> String {
    text.chars()
        .filter(|c| c.is_alphanumeric())
        .flat_map(char::to_uppercase)
        .collect()
}
