//! What a name must look like: plain digits or letters, or a pattern of a
//! numbering scheme.

use std::collections::BTreeMap;

use crate::domain::asset::Kind;
use crate::domain::code::{self, Scheme, exact};
use crate::exchange::document::{ExchangeError, did_you_mean};
use crate::exchange::map::CsvMap;
use crate::store::Store;

const SHAPES: [(&str, Shape); 3] = [
    ("digits", Shape::Digits),
    ("letters", Shape::Letters),
    ("letters and digits", Shape::LettersAndDigits),
];

/// Numbering schemes by name.
pub(super) type Schemes = BTreeMap<String, Scheme>;

/// The schemes of the register and the map's own. The register's is taken
/// where both have one of a name: a map does not change it.
pub(super) fn schemes(store: Option<&Store>, map: &CsvMap) -> Result<Schemes, ExchangeError> {
    let mut out: Schemes = map
        .own_scheme()
        .into_iter()
        .map(|s| (s.scheme.clone(), s))
        .collect();
    for doc in store.map_or(Ok(Vec::new()), Store::schemes)? {
        // One with a fault cannot be matched; it is named as missing below.
        if let Ok(scheme) = Scheme::from_body(&doc.scheme, &doc.body) {
            out.insert(doc.scheme, scheme);
        }
    }
    Ok(out)
}

#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Shape {
    Digits,
    Letters,
    LettersAndDigits,
}

/// A form that a name must have.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) struct NameForm {
    form: Form,
    words: String,
}

#[derive(Debug, Clone, PartialEq, Eq)]
enum Form {
    Shape(Shape),
    /// Patterns, one of which must write the name exactly so.
    Patterns(Vec<code::Pattern>),
}

impl NameForm {
    /// The form for a word of `must_match`. The patterns of a scheme are those
    /// for records of `kind`, or all when the field names some other record.
    ///
    /// # Errors
    /// When the word is no form and names no scheme.
    pub(super) fn new(word: &str, kind: Option<Kind>, schemes: &Schemes) -> Result<Self, String> {
        if let Some((_, shape)) = SHAPES.iter().find(|(w, _)| *w == word) {
            return Ok(NameForm {
                form: Form::Shape(*shape),
                words: format!("not {word} only"),
            });
        }
        let Some(scheme) = schemes.get(word) else {
            let known: Vec<&str> = SHAPES
                .iter()
                .map(|(w, _)| *w)
                .chain(schemes.keys().map(String::as_str))
                .collect();
            return Err(format!(
                "must_match: {word:?} is no form and no numbering scheme of the register{}; known here: {}",
                did_you_mean(word, known.iter().copied()),
                known.join(", ")
            ));
        };
        let patterns: Vec<code::Pattern> = scheme
            .patterns
            .iter()
            .filter(|p| kind.is_none_or(|k| p.names.word() == k.word()))
            .cloned()
            .collect();
        match (patterns.is_empty(), kind) {
            (true, Some(kind)) => Err(format!(
                "must_match: the scheme {word} has no pattern for the name of a {kind}"
            )),
            _ => Ok(NameForm {
                form: Form::Patterns(patterns),
                words: format!("no number of the scheme {word}"),
            }),
        }
    }

    pub(super) fn fits(&self, text: &str) -> bool {
        let all = |ok: fn(&u8) -> bool| !text.is_empty() && text.bytes().all(|b| ok(&b));
        match &self.form {
            Form::Shape(Shape::Digits) => all(u8::is_ascii_digit),
            Form::Shape(Shape::Letters) => all(u8::is_ascii_alphabetic),
            Form::Shape(Shape::LettersAndDigits) => all(u8::is_ascii_alphanumeric),
            Form::Patterns(patterns) => patterns.iter().any(|p| exact(p, text).is_some()),
        }
    }

    /// What a name that does not fit is, to go behind "is".
    pub(super) fn words(&self) -> &str {
        &self.words
    }
}
