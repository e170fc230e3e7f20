//! A numbering scheme as data: named patterns made of fields.
//!
//! Make schemes with [`Scheme::new`] and [`Pattern::new`] (reading a file goes
//! the same way): what they let pass reads its own ids back, since a field of
//! changing width never runs into the next one and no two separators meet.

use std::ops::RangeInclusive;

use thiserror::Error;

use super::check::CheckRule;

/// The most characters (separators apart) an id may have.
pub const MAX_SYMBOLS: usize = 40;
/// The most patterns one scheme may have.
pub const MAX_PATTERNS: usize = 40;
/// The most codes one field may list.
pub const MAX_CODES: usize = 600;
/// The most optional parts one pattern may have (each doubles the variants).
pub const MAX_OPTIONAL: usize = 4;

/// What kind of record a pattern names.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub enum Kind {
    Structure,
    Position,
    Unit,
    Feeder,
    Order,
    Other,
}

impl Kind {
    /// Every kind with the word scheme files use for it.
    pub const ALL: [(Kind, &'static str); 6] = [
        (Kind::Structure, "structure"),
        (Kind::Position, "position"),
        (Kind::Unit, "unit"),
        (Kind::Feeder, "feeder"),
        (Kind::Order, "order"),
        (Kind::Other, "other"),
    ];

    /// The word scheme files use.
    pub fn word(self) -> &'static str {
        Self::ALL
            .iter()
            .find(|(kind, _)| *kind == self)
            .map_or("other", |(_, word)| word)
    }

    /// The kind a word stands for.
    pub fn from_word(word: &str) -> Option<Kind> {
        Self::ALL.iter().find(|(_, w)| *w == word).map(|(k, _)| *k)
    }
}

/// One code of a list and what it means.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Code {
    pub code: String,
    pub meaning: String,
}

/// One element of a pattern, in the order it is written.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Element {
    /// A run of digits; leading zeros are part of it.
    Digits {
        field: String,
        min: usize,
        max: usize,
    },
    /// A run of letters out of `alphabet` (A to Z when the file names none).
    Letters {
        field: String,
        min: usize,
        max: usize,
        alphabet: String,
    },
    /// One of a list of codes.
    Codes { field: String, codes: Vec<Code> },
    /// A literal between two fields; may be left out or replaced on input.
    Separator(String),
    /// One character computed from other fields.
    Check { field: String, rule: CheckRule },
    /// A part that is there as a whole or not at all.
    Optional(Vec<Element>),
}

impl Element {
    /// The field's name, for elements that are fields.
    pub fn field(&self) -> Option<&str> {
        match self {
            Element::Digits { field, .. }
            | Element::Letters { field, .. }
            | Element::Codes { field, .. }
            | Element::Check { field, .. } => Some(field),
            Element::Separator(_) | Element::Optional(_) => None,
        }
    }

    /// Whether `text` (capitals) is something this field may hold.
    pub fn allows(&self, text: &str) -> bool {
        let width = text.len();
        match self {
            Element::Digits { min, max, .. } => {
                (*min..=*max).contains(&width) && text.bytes().all(|b| b.is_ascii_digit())
            }
            Element::Letters {
                min, max, alphabet, ..
            } => (*min..=*max).contains(&width) && text.chars().all(|c| alphabet.contains(c)),
            Element::Codes { codes, .. } => codes.iter().any(|c| c.code == text),
            Element::Check { rule, .. } => width == 1 && rule.alphabet().contains(text),
            Element::Separator(_) | Element::Optional(_) => false,
        }
    }

    /// What `text` means in this field, where the field is a list of codes.
    pub fn meaning(&self, text: &str) -> Option<&str> {
        match self {
            Element::Codes { codes, .. } => codes
                .iter()
                .find(|c| c.code == text)
                .map(|c| c.meaning.as_str()),
            _ => None,
        }
    }

    /// The characters that may stand anywhere in this field.
    fn characters(&self) -> String {
        match self {
            Element::Digits { .. } => "0123456789".to_string(),
            Element::Letters { alphabet, .. } => alphabet.clone(),
            Element::Codes { codes, .. } => codes.iter().flat_map(|c| c.code.chars()).collect(),
            Element::Check { rule, .. } => rule.alphabet().to_string(),
            Element::Separator(_) | Element::Optional(_) => String::new(),
        }
    }

    /// Whether the end of the field can only be told by what follows.
    fn width_varies(&self) -> bool {
        match self {
            Element::Digits { min, max, .. } | Element::Letters { min, max, .. } => min != max,
            Element::Codes { codes, .. } => codes.iter().any(|a| {
                codes
                    .iter()
                    .any(|b| a.code != b.code && b.code.starts_with(&a.code))
            }),
            _ => false,
        }
    }

    /// The fewest and the most characters the field takes.
    pub fn widths(&self) -> RangeInclusive<usize> {
        match self {
            Element::Digits { min, max, .. } | Element::Letters { min, max, .. } => *min..=*max,
            Element::Codes { codes, .. } => {
                let lengths = codes.iter().map(|c| c.code.len());
                lengths.clone().min().unwrap_or(0)..=lengths.max().unwrap_or(0)
            }
            Element::Check { .. } => 1..=1,
            Element::Separator(_) | Element::Optional(_) => 0..=0,
        }
    }
}

/// One way of writing an id.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Pattern {
    pub name: String,
    /// The kind of record such an id names.
    pub names: Kind,
    /// An id of this pattern, for people to read; it must fit.
    pub example: Option<String>,
    pub elements: Vec<Element>,
}

impl Pattern {
    /// Checks the elements against each other.
    ///
    /// # Errors
    /// [`SchemeFault`] saying which field is at fault and why.
    pub fn new(
        name: String,
        names: Kind,
        example: Option<String>,
        elements: Vec<Element>,
    ) -> Result<Pattern, SchemeFault> {
        let pattern = Pattern {
            name,
            names,
            example,
            elements,
        };
        pattern.check_shape()?;
        if let Some(example) = &pattern.example
            && super::parse::exact(&pattern, example).is_none()
        {
            return Err(SchemeFault::Example {
                pattern: pattern.name.clone(),
                example: example.clone(),
                why: super::parse::misfit(&pattern, example),
            });
        }
        Ok(pattern)
    }

    /// Every way of taking or leaving the optional parts, fullest first.
    pub fn variants(&self) -> Vec<Vec<&Element>> {
        spread(&self.elements)
    }

    /// Every field, those in optional parts included, in written order.
    pub fn fields(&self) -> Vec<&Element> {
        fn walk<'e>(elements: &'e [Element], out: &mut Vec<&'e Element>) {
            for element in elements {
                match element {
                    Element::Optional(inner) => walk(inner, out),
                    Element::Separator(_) => {}
                    field => out.push(field),
                }
            }
        }
        let mut out = Vec::new();
        walk(&self.elements, &mut out);
        out
    }

    fn check_shape(&self) -> Result<(), SchemeFault> {
        let in_pattern = |what: String| SchemeFault::Shape {
            pattern: self.name.clone(),
            what,
        };
        if self.name.trim().is_empty() {
            return Err(SchemeFault::NoPatternName);
        }
        let fields = self.fields();
        if fields.is_empty() {
            return Err(in_pattern("has no fields".to_string()));
        }
        if count_optional(&self.elements) > MAX_OPTIONAL {
            return Err(in_pattern(format!(
                "has more than {MAX_OPTIONAL} optional parts"
            )));
        }
        for (i, element) in fields.iter().enumerate() {
            let name = element.field().unwrap_or_default();
            if fields[..i].iter().any(|f| f.field() == Some(name)) {
                return Err(in_pattern(format!("has two fields named {name:?}")));
            }
        }
        check_rules(&fields).map_err(&in_pattern)?;
        let variants = self.variants();
        for variant in &variants {
            check_variant(variant).map_err(&in_pattern)?;
        }
        check_apart(&variants).map_err(&in_pattern)
    }
}

fn count_optional(elements: &[Element]) -> usize {
    elements
        .iter()
        .map(|e| match e {
            Element::Optional(inner) => 1 + count_optional(inner),
            _ => 0,
        })
        .sum()
}

fn spread(elements: &[Element]) -> Vec<Vec<&Element>> {
    let mut out: Vec<Vec<&Element>> = vec![Vec::new()];
    for element in elements {
        match element {
            Element::Optional(inner) => {
                let with = spread(inner);
                let mut next = Vec::new();
                for extra in &with {
                    for head in &out {
                        next.push(head.iter().chain(extra).copied().collect());
                    }
                }
                next.extend(out);
                out = next;
            }
            plain => out.iter_mut().for_each(|v| v.push(plain)),
        }
    }
    out
}

/// A check is computed over other fields of its own pattern.
fn check_rules(fields: &[&Element]) -> Result<(), String> {
    for element in fields {
        let Element::Check { field, rule } = element else {
            continue;
        };
        for over in rule.over() {
            if over == field {
                return Err(format!("the check {field:?} is computed over itself"));
            }
            if !fields.iter().any(|f| f.field() == Some(over)) {
                return Err(format!(
                    "the check {field:?} is computed over {over:?}, and no field has that name"
                ));
            }
        }
    }
    Ok(())
}

fn check_variant(variant: &[&Element]) -> Result<(), String> {
    if let (Some(Element::Separator(s)), _) | (_, Some(Element::Separator(s))) =
        (variant.first(), variant.last())
    {
        return Err(format!(
            "the separator {s:?} stands at an end; it must stand between two fields"
        ));
    }
    let most: usize = variant.iter().map(|e| *e.widths().end()).sum();
    if most > MAX_SYMBOLS {
        return Err(format!(
            "may grow to {most} characters; the most is {MAX_SYMBOLS}"
        ));
    }
    for pair in variant.windows(2) {
        if let [Element::Separator(a), Element::Separator(b)] = pair {
            return Err(format!(
                "the separators {a:?} and {b:?} overlap: nothing stands between them"
            ));
        }
        let (left, right) = (pair[0], pair[1]);
        let (Some(a), Some(b)) = (left.field(), right.field()) else {
            continue;
        };
        let meets = right.characters();
        if left.width_varies() && left.characters().chars().any(|c| meets.contains(c)) {
            return Err(format!(
                "the fields {a:?} and {b:?} run together: {a:?} changes its width, so nothing tells where {b:?} begins (put a separator between them, or fix the width)"
            ));
        }
    }
    Ok(())
}

/// Two variants written alike could not be told apart when read.
fn check_apart(variants: &[Vec<&Element>]) -> Result<(), String> {
    for (i, a) in variants.iter().enumerate() {
        for b in &variants[i + 1..] {
            if a.len() == b.len() && a.iter().zip(b).all(|(a, b)| alike(a, b)) {
                return Err("has two optional parts that are written alike".to_string());
            }
        }
    }
    Ok(())
}

/// Whether one text could stand in both elements.
fn alike(a: &Element, b: &Element) -> bool {
    match (a, b) {
        (Element::Separator(a), Element::Separator(b)) => a == b,
        (Element::Codes { codes, .. }, other) | (other, Element::Codes { codes, .. }) => {
            codes.iter().any(|c| other.allows(&c.code))
        }
        _ => {
            let (wa, wb) = (a.widths(), b.widths());
            let (ca, cb) = (a.characters(), b.characters());
            wa.start() <= wb.end() && wb.start() <= wa.end() && ca.chars().any(|c| cb.contains(c))
        }
    }
}

/// A numbering scheme: what a utility's ids look like.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Scheme {
    /// Its name, as other files refer to it.
    pub scheme: String,
    /// For people to read.
    pub title: String,
    /// What a newcomer should know about it.
    pub note: Option<String>,
    /// Groups of characters taken for each other by eye: `O0`, `I1L`.
    pub confusable: Vec<String>,
    pub patterns: Vec<Pattern>,
}

impl Scheme {
    /// Checks a whole scheme; the patterns have been checked on their own.
    ///
    /// # Errors
    /// [`SchemeFault`] saying what is wrong.
    pub fn new(
        scheme: String,
        title: String,
        note: Option<String>,
        confusable: Vec<String>,
        patterns: Vec<Pattern>,
    ) -> Result<Scheme, SchemeFault> {
        if scheme.trim().is_empty() {
            return Err(SchemeFault::NoSchemeName);
        }
        for group in &confusable {
            check_group(group)?;
        }
        if patterns.is_empty() {
            return Err(SchemeFault::NoPatterns);
        }
        if patterns.len() > MAX_PATTERNS {
            return Err(SchemeFault::TooManyPatterns);
        }
        for (i, pattern) in patterns.iter().enumerate() {
            if patterns[..i].iter().any(|p| p.name == pattern.name) {
                return Err(SchemeFault::DuplicatePattern {
                    name: pattern.name.clone(),
                });
            }
        }
        Ok(Scheme {
            scheme,
            title,
            note,
            confusable,
            patterns,
        })
    }

    /// The pattern of that name.
    pub fn pattern(&self, name: &str) -> Option<&Pattern> {
        self.patterns.iter().find(|p| p.name == name)
    }

    /// Whether the scheme lets two characters stand for each other.
    pub fn confuses(&self, a: char, b: char) -> bool {
        a != b
            && self
                .confusable
                .iter()
                .any(|group| group.contains(a) && group.contains(b))
    }
}

/// Checks one group of confusable characters.
///
/// # Errors
/// [`SchemeFault::Confusable`] unless it is two or more different capitals or digits.
pub fn check_group(group: &str) -> Result<(), SchemeFault> {
    let repeated = group
        .chars()
        .enumerate()
        .any(|(i, c)| group.chars().take(i).any(|d| d == c));
    if group.len() < 2 || repeated || !group.bytes().all(is_symbol) {
        return Err(SchemeFault::Confusable {
            group: group.to_string(),
        });
    }
    Ok(())
}

/// Whether a byte is a capital letter or a digit.
pub fn is_symbol(byte: u8) -> bool {
    byte.is_ascii_uppercase() || byte.is_ascii_digit()
}

/// Why a scheme cannot be used.
#[derive(Debug, Clone, PartialEq, Eq, Error)]
pub enum SchemeFault {
    #[error("the scheme has no name: write it after `scheme:`")]
    NoSchemeName,
    #[error("the scheme has no patterns: without one it can read nothing")]
    NoPatterns,
    #[error("the scheme has more than {MAX_PATTERNS} patterns")]
    TooManyPatterns,
    #[error("a pattern has no name: write it after `name:`")]
    NoPatternName,
    #[error("two patterns are named {name:?}; a name must tell them apart")]
    DuplicatePattern { name: String },
    #[error("pattern {pattern:?}: {what}")]
    Shape { pattern: String, what: String },
    #[error("pattern {pattern:?}: the example {example:?} does not fit: {why}")]
    Example {
        pattern: String,
        example: String,
        why: String,
    },
    #[error(
        "{group:?} is no group of confusable characters: write two or more different capitals or digits, as in O0 or I1L"
    )]
    Confusable { group: String },
}
