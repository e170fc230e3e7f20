//! Reading a folded id exactly, and writing one from its fields.

use std::ops::Range;

use thiserror::Error;

use super::scheme::{Element, Pattern, Scheme};
use super::symbols::fold;

/// The most ways one folded text is read under one pattern: without its
/// separators an id with fields of changing width can be cut in several places.
const MAX_PARSES: usize = 8;

/// One element with the stretch of the folded text it takes; separators take none.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Placed<'p> {
    pub element: &'p Element,
    pub range: Range<usize>,
}

/// A folded text cut into the elements of a pattern.
pub(super) type Cut<'p> = Vec<Placed<'p>>;

/// Every way of cutting `folded` (capitals and digits) along the variants.
pub(super) fn cuts<'p>(variants: &[Vec<&'p Element>], folded: &str) -> Vec<Cut<'p>> {
    let mut out = Vec::new();
    for variant in variants {
        let mut cut = Vec::with_capacity(variant.len());
        cut_from(variant, folded, 0, &mut cut, &mut out);
    }
    out
}

fn cut_from<'p>(
    rest: &[&'p Element],
    folded: &str,
    at: usize,
    cut: &mut Cut<'p>,
    out: &mut Vec<Cut<'p>>,
) {
    if out.len() >= MAX_PARSES {
        return;
    }
    let Some((element, rest)) = rest.split_first() else {
        if at == folded.len() {
            out.push(cut.clone());
        }
        return;
    };
    let widths = element.widths();
    for width in (*widths.start()..=*widths.end()).rev() {
        let Some(text) = folded.get(at..at + width) else {
            continue;
        };
        if width == 0 || element.allows(text) {
            let range = at..at + width;
            cut.push(Placed { element, range });
            cut_from(rest, folded, at + width, cut, out);
            cut.pop();
        }
    }
}

/// The id as written, separators in place.
pub(super) fn written(cut: &[Placed], folded: &str) -> String {
    let mut out = String::with_capacity(folded.len() + cut.len());
    for placed in cut {
        match placed.element {
            Element::Separator(text) => out.push_str(text),
            _ => out.push_str(&folded[placed.range.clone()]),
        }
    }
    out
}

/// What the checks of a cut say.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) struct FailedCheck {
    pub field: String,
    pub found: String,
    pub wanted: char,
}

/// The first check character of the cut that does not hold.
pub(super) fn failed_check(cut: &[Placed], folded: &str) -> Option<FailedCheck> {
    cut.iter().enumerate().find_map(|(i, placed)| {
        let Element::Check { field, rule } = placed.element else {
            return None;
        };
        let found = &folded[placed.range.clone()];
        let wanted = rule.character(&check_body(cut, folded, i, rule.over()))?;
        (!found.chars().eq([wanted])).then(|| FailedCheck {
            field: field.clone(),
            found: found.to_string(),
            wanted,
        })
    })
}

/// The characters a check is computed over: the named fields in written
/// order, or all that stands before it.
fn check_body(cut: &[Placed], folded: &str, check_at: usize, over: &[String]) -> String {
    cut.iter()
        .enumerate()
        .filter(|(i, placed)| match placed.element.field() {
            Some(_) if over.is_empty() => *i < check_at,
            Some(name) => over.iter().any(|o| o == name),
            None => false,
        })
        .map(|(_, placed)| &folded[placed.range.clone()])
        .collect()
}

/// One field of an id.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct FieldText {
    pub field: String,
    pub text: String,
    /// What the code means, where the field is a list of codes.
    pub meaning: Option<String>,
}

pub(super) fn field_texts(cut: &[Placed], folded: &str) -> Vec<FieldText> {
    cut.iter()
        .filter_map(|placed| {
            let field = placed.element.field()?;
            let text = &folded[placed.range.clone()];
            Some(FieldText {
                field: field.to_string(),
                text: text.to_string(),
                meaning: placed
                    .element
                    .meaning(text)
                    .filter(|meaning| !meaning.is_empty())
                    .map(str::to_string),
            })
        })
        .collect()
}

/// The fields of `id` if it is written exactly as the pattern writes ids and
/// its check character, if any, holds. For judging stored names in bulk: it
/// repairs nothing.
pub fn exact(pattern: &Pattern, id: &str) -> Option<Vec<FieldText>> {
    let folded = fold(id);
    let variants = pattern.variants();
    cuts(&variants, &folded)
        .into_iter()
        .find(|cut| written(cut, &folded) == id && failed_check(cut, &folded).is_none())
        .map(|cut| field_texts(&cut, &folded))
}

/// Why [`exact`] does not take `id`, in words.
pub(super) fn misfit(pattern: &Pattern, id: &str) -> String {
    let folded = fold(id);
    let all = cuts(&pattern.variants(), &folded);
    let as_written = all.iter().find(|cut| written(cut, &folded) == id);
    match as_written.or(all.first()) {
        None => "the fields cannot be filled from it".to_string(),
        Some(cut) => match failed_check(cut, &folded) {
            Some(failed) => format!("the field {:?} would be {}", failed.field, failed.wanted),
            None => format!("it would be written {}", written(cut, &folded)),
        },
    }
}

/// Why fields do not make an id.
#[derive(Debug, Clone, PartialEq, Eq, Error)]
pub enum ComposeError {
    #[error("scheme {scheme:?} has no pattern {pattern:?}; it has {known}")]
    NoPattern {
        scheme: String,
        pattern: String,
        known: String,
    },
    #[error("pattern {pattern:?} has no field {field:?}")]
    NoField { pattern: String, field: String },
    #[error("pattern {pattern:?} needs the field {field:?}")]
    Missing { pattern: String, field: String },
    #[error("{text:?} does not fit the field {field:?}")]
    DoesNotFit { field: String, text: String },
    #[error("the check {field:?} must be {wanted:?} for these fields; {found:?} was given")]
    Check {
        field: String,
        wanted: char,
        found: String,
    },
}

/// The id with these fields `(name, text)`, in any order. A check character
/// may be left out: it is computed. An optional part is written when any of
/// its fields is given.
///
/// # Errors
/// [`ComposeError`] naming the pattern or field at fault.
pub fn compose(
    scheme: &Scheme,
    pattern: &str,
    fields: &[(&str, &str)],
) -> Result<String, ComposeError> {
    let Some(pattern) = scheme.pattern(pattern) else {
        let known: Vec<&str> = scheme.patterns.iter().map(|p| p.name.as_str()).collect();
        return Err(ComposeError::NoPattern {
            scheme: scheme.scheme.clone(),
            pattern: pattern.to_string(),
            known: known.join(", "),
        });
    };
    let named = pattern.fields();
    for (field, text) in fields {
        let Some(element) = named.iter().find(|e| e.field() == Some(field)) else {
            return Err(ComposeError::NoField {
                pattern: pattern.name.clone(),
                field: (*field).to_string(),
            });
        };
        if !element.allows(text) {
            return Err(ComposeError::DoesNotFit {
                field: (*field).to_string(),
                text: (*text).to_string(),
            });
        }
    }
    let variant = fitting_variant(pattern, fields)?;
    let (cut, folded) = fill(&variant, fields);
    match failed_check(&cut, &folded) {
        Some(FailedCheck {
            field,
            found,
            wanted,
        }) => Err(ComposeError::Check {
            field,
            wanted,
            found,
        }),
        None => Ok(written(&cut, &folded)),
    }
}

/// The shortest variant holding every given field; every other field of it
/// must be given, checks excepted.
fn fitting_variant<'p>(
    pattern: &'p Pattern,
    fields: &[(&str, &str)],
) -> Result<Vec<&'p Element>, ComposeError> {
    let given = |name: &str| fields.iter().any(|(field, _)| *field == name);
    let mut variants = pattern.variants();
    variants.retain(|variant| {
        fields
            .iter()
            .all(|(name, _)| variant.iter().any(|e| e.field() == Some(name)))
    });
    variants.sort_by_key(Vec::len);
    let variant = variants.into_iter().next().unwrap_or_default();
    let missing = variant.iter().find_map(|e| match e {
        Element::Check { .. } => None,
        other => other.field().filter(|name| !given(name)),
    });
    match missing {
        Some(field) => Err(ComposeError::Missing {
            pattern: pattern.name.clone(),
            field: field.to_string(),
        }),
        None => Ok(variant),
    }
}

/// Lays the texts out along the variant; absent checks are computed once the
/// rest stands.
fn fill<'p>(variant: &[&'p Element], fields: &[(&str, &str)]) -> (Cut<'p>, String) {
    let text_of = |element: &Element| -> Option<String> {
        let name = element.field()?;
        let given = fields.iter().find(|(field, _)| *field == name);
        given.map(|(_, text)| (*text).to_string())
    };
    let lay = |texts: &[Option<String>]| -> (Cut<'p>, String) {
        let mut folded = String::new();
        let mut cut = Vec::new();
        for (element, text) in variant.iter().zip(texts) {
            let start = folded.len();
            folded.push_str(text.as_deref().unwrap_or_default());
            let range = start..folded.len();
            cut.push(Placed { element, range });
        }
        (cut, folded)
    };
    let mut texts: Vec<Option<String>> = variant.iter().map(|e| text_of(e)).collect();
    for i in 0..variant.len() {
        if let (Element::Check { rule, .. }, None) = (variant[i], &texts[i]) {
            let (cut, folded) = lay(&texts);
            let body = check_body(&cut, &folded, i, rule.over());
            texts[i] = rule.character(&body).map(String::from);
        }
    }
    lay(&texts)
}
