//! Words of descriptions as people type and say them: the short and the long
//! form of a road's kind are one word, and words that say nothing are passed
//! over.

use std::collections::HashSet;

use super::find::Also;
use crate::domain::asset::Record;
use crate::domain::trade::{said_for, said_for_begun};

/// Short and long forms that stand for each other in roads and landmarks.
/// Common practice, no source.
const SHORT_FORMS: &[(&str, &str)] = &[
    ("rd", "road"),
    ("st", "street"),
    ("ln", "lane"),
    ("ave", "avenue"),
    ("ct", "court"),
    ("dr", "drive"),
    ("hwy", "highway"),
    ("pl", "place"),
    ("blvd", "boulevard"),
    ("cir", "circle"),
    ("sq", "square"),
    ("ter", "terrace"),
    ("pkwy", "parkway"),
    ("rte", "route"),
    ("mt", "mount"),
    ("sub", "substation"),
    ("cap", "capacitor"),
    ("reg", "regulator"),
];

/// Words that stand between the others and tell nothing apart.
const SMALL_WORDS: &[&str] = &[
    "the", "of", "at", "on", "by", "to", "in", "near", "and", "an", "is", "for", "with",
];

/// The words of a text in their order: lower case, letters and digits, two
/// characters or more; small words only when there are no others.
#[must_use]
pub fn words_of(text: &str) -> Vec<String> {
    let all: Vec<String> = text
        .split(|c: char| !c.is_alphanumeric())
        .filter(|w| w.chars().count() >= 2)
        .map(str::to_lowercase)
        .collect();
    let telling: Vec<String> = all
        .iter()
        .filter(|w| !SMALL_WORDS.contains(&w.as_str()))
        .cloned()
        .collect();
    if telling.is_empty() { all } else { telling }
}

/// A word with the other forms that stand for it.
#[must_use]
pub fn forms(word: &str) -> Vec<String> {
    let mut out = vec![word.to_string()];
    for (short, long) in SHORT_FORMS {
        if word == *short {
            out.push((*long).to_string());
        } else if word == *long {
            out.push((*short).to_string());
        }
    }
    out
}

/// A word with all that it may stand for in a description: its other forms and
/// what the trade says it for. With `open` it is still being typed.
#[must_use]
pub fn meanings(word: &str, open: bool) -> Vec<String> {
    let mut out = forms(word);
    let trade = if open {
        said_for_begun(word)
    } else {
        said_for(word).to_vec()
    };
    out.extend(trade.into_iter().map(str::to_string));
    out
}

/// Every word that describes a record, its second identifier included, in
/// every form.
#[must_use]
pub fn description(record: &Record, also: &Also) -> HashSet<String> {
    let mut out = HashSet::new();
    let text = format!("{} {}", record.search_words(), also.words());
    for word in crate::store::search_words(&text) {
        out.extend(forms(&word));
    }
    out
}

/// Whether a description holds a word, or, when `open` (it is still being
/// typed), a word that begins so.
#[must_use]
pub fn holds(description: &HashSet<String>, word: &str, open: bool) -> bool {
    meanings(word, open).iter().any(|w| description.contains(w))
        || (open && description.iter().any(|w| w.starts_with(word)))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn words_keep_their_order_and_leave_small_ones_out() {
        assert_eq!(
            words_of("The weir-gate, Tannery Rd"),
            ["weir", "gate", "tannery", "rd"]
        );
        assert_eq!(words_of("by the"), ["by", "the"]);
        assert_eq!(forms("road"), ["road", "rd"]);
    }
}
