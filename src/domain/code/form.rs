//! How schemes are written down, for any serde format.
//!
//! Checks run while the value is read, inside the mapping they concern, so that
//! a format which knows lines reports the line of the fault.

use std::collections::BTreeMap;
use std::fmt;

use serde::de::value::MapAccessDeserializer;
use serde::de::{DeserializeSeed, Error as _, MapAccess, SeqAccess, Visitor};
use serde::ser::{SerializeMap, SerializeStruct};
use serde::{Deserialize, Deserializer, Serialize, Serializer};
use serde_json::{Map, Value};

use super::check::{CheckForm, CheckRule};
use super::scheme::{
    Code, Element, Kind, MAX_CODES, MAX_SYMBOLS, Pattern, Scheme, check_group, is_symbol,
};
use super::width::Width;

const LETTERS: &str = "ABCDEFGHIJKLMNOPQRSTUVWXYZ";

/// Codes with meanings, in written order; or a plain list, meaning nothing more.
struct Codes(Vec<Code>);

struct CodesVisitor;

impl CodesVisitor {
    fn push<E: serde::de::Error>(out: &mut Vec<Code>, code: Code) -> Result<(), E> {
        let text = &code.code;
        if text.is_empty() || text.len() > MAX_SYMBOLS || !text.bytes().all(is_symbol) {
            return Err(E::custom(format!(
                "the code {text:?} must be capitals and digits"
            )));
        }
        if out.iter().any(|c| c.code == code.code) {
            return Err(E::custom(format!("the code {text:?} is listed twice")));
        }
        if out.len() == MAX_CODES {
            return Err(E::custom(format!("more than {MAX_CODES} codes")));
        }
        out.push(code);
        Ok(())
    }

    fn done<E: serde::de::Error>(out: Vec<Code>) -> Result<Codes, E> {
        if out.is_empty() {
            return Err(E::custom(
                "the list of codes is empty: nothing could stand in this field",
            ));
        }
        Ok(Codes(out))
    }
}

impl<'de> Visitor<'de> for CodesVisitor {
    type Value = Codes;

    fn expecting(&self, f: &mut fmt::Formatter) -> fmt::Result {
        f.write_str("codes with their meanings, as in {RC: recloser}")
    }

    fn visit_map<A: MapAccess<'de>>(self, mut map: A) -> Result<Codes, A::Error> {
        let mut out = Vec::new();
        while let Some((code, meaning)) = map.next_entry::<String, String>()? {
            Self::push(&mut out, Code { code, meaning })?;
        }
        Self::done(out)
    }

    fn visit_seq<A: SeqAccess<'de>>(self, mut seq: A) -> Result<Codes, A::Error> {
        let mut out = Vec::new();
        while let Some(code) = seq.next_element::<String>()? {
            let meaning = String::new();
            Self::push(&mut out, Code { code, meaning })?;
        }
        Self::done(out)
    }
}

impl<'de> Deserialize<'de> for Codes {
    fn deserialize<D: Deserializer<'de>>(d: D) -> Result<Codes, D::Error> {
        d.deserialize_any(CodesVisitor)
    }
}

struct CodesOut<'a>(&'a [Code]);

impl Serialize for CodesOut<'_> {
    fn serialize<S: Serializer>(&self, s: S) -> Result<S::Ok, S::Error> {
        let mut map = s.serialize_map(Some(self.0.len()))?;
        for code in self.0 {
            map.serialize_entry(&code.code, &code.meaning)?;
        }
        map.end()
    }
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct ElementForm {
    field: Option<String>,
    digits: Option<Width>,
    letters: Option<Width>,
    alphabet: Option<String>,
    codes: Option<Codes>,
    check: Option<CheckForm>,
    separator: Option<String>,
    optional: Option<Vec<Element>>,
}

impl ElementForm {
    fn build(self) -> Result<Element, String> {
        let given = [
            (self.digits.is_some(), "digits"),
            (self.letters.is_some(), "letters"),
            (self.codes.is_some(), "codes"),
            (self.check.is_some(), "check"),
            (self.separator.is_some(), "separator"),
            (self.optional.is_some(), "optional"),
        ];
        let kinds: Vec<&str> = given.iter().filter(|g| g.0).map(|g| g.1).collect();
        let [kind] = kinds[..] else {
            return Err(format!(
                "an element is exactly one of digits, letters, codes, check, separator, optional; this one is {}",
                if kinds.is_empty() {
                    "none".to_string()
                } else {
                    kinds.join(" and ")
                }
            ));
        };
        if self.alphabet.is_some() && kind != "letters" {
            return Err("`alphabet` belongs to `letters` only".to_string());
        }
        let bare = kind == "separator" || kind == "optional";
        let field = match (self.field, bare) {
            (Some(name), false) if !name.trim().is_empty() => name,
            (None, true) => String::new(),
            (Some(_), true) => return Err(format!("`{kind}` is no field and takes no `field:`")),
            _ => {
                return Err(format!(
                    "this `{kind}` has no name: write `field:` beside it"
                ));
            }
        };
        if let Some(Width { min, max }) = self.digits {
            return Ok(Element::Digits { field, min, max });
        }
        if let Some(Width { min, max }) = self.letters {
            let alphabet = checked_alphabet(self.alphabet)?;
            return Ok(Element::Letters {
                field,
                min,
                max,
                alphabet,
            });
        }
        if let Some(Codes(codes)) = self.codes {
            return Ok(Element::Codes { field, codes });
        }
        if let Some(form) = self.check {
            let rule = CheckRule::new(form).map_err(|fault| fault.to_string())?;
            return Ok(Element::Check { field, rule });
        }
        if let Some(text) = self.separator {
            return checked_separator(text);
        }
        match self.optional {
            Some(inner) if !inner.is_empty() => Ok(Element::Optional(inner)),
            _ => Err("an optional part holds nothing".to_string()),
        }
    }
}

fn checked_alphabet(alphabet: Option<String>) -> Result<String, String> {
    let alphabet = alphabet.unwrap_or_else(|| LETTERS.to_string());
    if alphabet.is_empty() || !alphabet.bytes().all(|b| b.is_ascii_uppercase()) {
        return Err(format!("the alphabet {alphabet:?} must be capital letters"));
    }
    Ok(alphabet)
}

fn checked_separator(text: String) -> Result<Element, String> {
    let usable = |c: char| c == ' ' || c.is_ascii_punctuation();
    if text.is_empty() || text.len() > 3 || !text.chars().all(usable) {
        return Err(format!(
            "the separator {text:?} must be one to three spaces or plain punctuation marks; letters and digits are written as codes"
        ));
    }
    Ok(Element::Separator(text))
}

/// Reads a mapping into `Form`, then builds the value inside the mapping.
macro_rules! read_through {
    ($value:ty, $form:ty, $visitor:ident, $what:literal) => {
        struct $visitor;

        impl<'de> Visitor<'de> for $visitor {
            type Value = $value;

            fn expecting(&self, f: &mut fmt::Formatter) -> fmt::Result {
                f.write_str($what)
            }

            fn visit_map<A: MapAccess<'de>>(self, map: A) -> Result<$value, A::Error> {
                let form = <$form>::deserialize(MapAccessDeserializer::new(map))?;
                form.build().map_err(A::Error::custom)
            }
        }

        impl<'de> Deserialize<'de> for $value {
            fn deserialize<D: Deserializer<'de>>(d: D) -> Result<$value, D::Error> {
                d.deserialize_map($visitor)
            }
        }
    };
}

read_through!(
    Element,
    ElementForm,
    ElementVisitor,
    "an element of a pattern, as in {field: sheet, digits: 2}"
);

impl Serialize for Element {
    fn serialize<S: Serializer>(&self, s: S) -> Result<S::Ok, S::Error> {
        let mut out = s.serialize_map(None)?;
        if let Some(field) = self.field() {
            out.serialize_entry("field", field)?;
        }
        match self {
            Element::Digits { min, max, .. } => {
                out.serialize_entry(
                    "digits",
                    &Width {
                        min: *min,
                        max: *max,
                    },
                )?;
            }
            Element::Letters {
                min, max, alphabet, ..
            } => {
                out.serialize_entry(
                    "letters",
                    &Width {
                        min: *min,
                        max: *max,
                    },
                )?;
                if alphabet != LETTERS {
                    out.serialize_entry("alphabet", alphabet)?;
                }
            }
            Element::Codes { codes, .. } => out.serialize_entry("codes", &CodesOut(codes))?,
            Element::Check { rule, .. } => out.serialize_entry("check", &rule.form())?,
            Element::Separator(text) => out.serialize_entry("separator", text)?,
            Element::Optional(inner) => out.serialize_entry("optional", inner)?,
        }
        out.end()
    }
}

impl Serialize for Kind {
    fn serialize<S: Serializer>(&self, s: S) -> Result<S::Ok, S::Error> {
        s.serialize_str(self.word())
    }
}

impl<'de> Deserialize<'de> for Kind {
    fn deserialize<D: Deserializer<'de>>(d: D) -> Result<Kind, D::Error> {
        struct KindVisitor;
        impl Visitor<'_> for KindVisitor {
            type Value = Kind;
            fn expecting(&self, f: &mut fmt::Formatter) -> fmt::Result {
                f.write_str("a kind of record")
            }
            fn visit_str<E: serde::de::Error>(self, word: &str) -> Result<Kind, E> {
                const WORDS: &[&str] =
                    &["structure", "position", "unit", "feeder", "order", "other"];
                Kind::from_word(word).ok_or_else(|| E::unknown_variant(word, WORDS))
            }
        }
        d.deserialize_str(KindVisitor)
    }
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct PatternForm {
    name: String,
    names: Kind,
    example: Option<String>,
    fields: Vec<Element>,
}

impl PatternForm {
    fn build(self) -> Result<Pattern, super::scheme::SchemeFault> {
        Pattern::new(self.name, self.names, self.example, self.fields)
    }
}

read_through!(
    Pattern,
    PatternForm,
    PatternVisitor,
    "a pattern with name, names and fields"
);

impl Serialize for Pattern {
    fn serialize<S: Serializer>(&self, s: S) -> Result<S::Ok, S::Error> {
        let mut out = s.serialize_map(None)?;
        out.serialize_entry("name", &self.name)?;
        out.serialize_entry("names", &self.names)?;
        if let Some(example) = &self.example {
            out.serialize_entry("example", example)?;
        }
        out.serialize_entry("fields", &self.elements)?;
        out.end()
    }
}

/// Patterns read one by one, so that a repeated name is refused where it stands.
struct Patterns(Vec<Pattern>);

struct PatternSeed<'a>(&'a mut BTreeMap<String, ()>);

impl<'de> DeserializeSeed<'de> for PatternSeed<'_> {
    type Value = Pattern;

    fn deserialize<D: Deserializer<'de>>(self, d: D) -> Result<Pattern, D::Error> {
        d.deserialize_map(self)
    }
}

impl<'de> Visitor<'de> for PatternSeed<'_> {
    type Value = Pattern;

    fn expecting(&self, f: &mut fmt::Formatter) -> fmt::Result {
        PatternVisitor.expecting(f)
    }

    fn visit_map<A: MapAccess<'de>>(self, map: A) -> Result<Pattern, A::Error> {
        let pattern = PatternVisitor.visit_map(map)?;
        if self.0.insert(pattern.name.clone(), ()).is_some() {
            return Err(A::Error::custom(
                super::scheme::SchemeFault::DuplicatePattern { name: pattern.name },
            ));
        }
        Ok(pattern)
    }
}

impl<'de> Deserialize<'de> for Patterns {
    fn deserialize<D: Deserializer<'de>>(d: D) -> Result<Patterns, D::Error> {
        struct List;
        impl<'de> Visitor<'de> for List {
            type Value = Patterns;
            fn expecting(&self, f: &mut fmt::Formatter) -> fmt::Result {
                f.write_str("a list of patterns")
            }
            fn visit_seq<A: SeqAccess<'de>>(self, mut seq: A) -> Result<Patterns, A::Error> {
                let mut seen = BTreeMap::new();
                let mut out = Vec::new();
                while let Some(pattern) = seq.next_element_seed(PatternSeed(&mut seen))? {
                    out.push(pattern);
                }
                if out.is_empty() {
                    return Err(A::Error::custom(super::scheme::SchemeFault::NoPatterns));
                }
                Ok(Patterns(out))
            }
        }
        d.deserialize_seq(List)
    }
}

/// A group of confusable characters, checked where it stands.
struct Group(String);

impl<'de> Deserialize<'de> for Group {
    fn deserialize<D: Deserializer<'de>>(d: D) -> Result<Group, D::Error> {
        struct GroupVisitor;
        impl Visitor<'_> for GroupVisitor {
            type Value = Group;
            fn expecting(&self, f: &mut fmt::Formatter) -> fmt::Result {
                f.write_str("a group of confusable characters such as O0")
            }
            fn visit_str<E: serde::de::Error>(self, text: &str) -> Result<Group, E> {
                check_group(text).map_err(E::custom)?;
                Ok(Group(text.to_string()))
            }
        }
        d.deserialize_str(GroupVisitor)
    }
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct SchemeForm {
    scheme: String,
    /// The permanent id of the record that holds the scheme: not ours.
    #[serde(rename = "id")]
    _id: Option<serde::de::IgnoredAny>,
    title: String,
    note: Option<String>,
    #[serde(default)]
    confusable: Vec<Group>,
    patterns: Option<Patterns>,
}

impl SchemeForm {
    fn build(self) -> Result<Scheme, super::scheme::SchemeFault> {
        Scheme::new(
            self.scheme,
            self.title,
            self.note,
            self.confusable.into_iter().map(|g| g.0).collect(),
            self.patterns.map(|p| p.0).unwrap_or_default(),
        )
    }
}

read_through!(
    Scheme,
    SchemeForm,
    SchemeVisitor,
    "a numbering scheme: scheme, title, confusable, patterns"
);

impl Serialize for Scheme {
    fn serialize<S: Serializer>(&self, s: S) -> Result<S::Ok, S::Error> {
        let noted = usize::from(self.note.is_some());
        let mut out = s.serialize_struct("Scheme", 4 + noted)?;
        out.serialize_field("scheme", &self.scheme)?;
        out.serialize_field("title", &self.title)?;
        if let Some(note) = &self.note {
            out.serialize_field("note", note)?;
        }
        out.serialize_field("confusable", &self.confusable)?;
        out.serialize_field("patterns", &self.patterns)?;
        out.end()
    }
}

impl Scheme {
    /// A scheme from its name and the rest of its written form, as a record
    /// keeps them.
    ///
    /// # Errors
    /// What is wrong with it, in words.
    pub fn from_body(name: &str, body: &Map<String, Value>) -> Result<Scheme, String> {
        let mut whole = body.clone();
        whole.insert("scheme".to_string(), Value::from(name));
        Scheme::deserialize(Value::Object(whole)).map_err(|fault| fault.to_string())
    }

    /// The written form without the name, for a record to keep.
    ///
    /// # Errors
    /// The serializer's; none is known to occur.
    pub fn body(&self) -> Result<Map<String, Value>, serde_json::Error> {
        match serde_json::to_value(self)? {
            Value::Object(mut map) => {
                map.shift_remove("scheme");
                Ok(map)
            }
            _ => Ok(Map::new()),
        }
    }
}
