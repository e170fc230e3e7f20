//! Reading the short and the long ways in which a map may be written.

use std::fmt;

use serde::Deserialize;
use serde::de::{self, Deserializer, MapAccess, SeqAccess, Visitor};

use super::{ByColumn, Delimiter, FieldForm, Fields, KindForm, Words};
use crate::domain::asset::Kind;
use crate::exchange::document::did_you_mean;

impl<'de> Deserialize<'de> for Delimiter {
    fn deserialize<D: Deserializer<'de>>(d: D) -> Result<Self, D::Error> {
        let text = String::deserialize(d)?;
        match (text.as_str(), text.as_bytes()) {
            ("tab" | "\t", _) => Ok(Delimiter(b'\t')),
            (_, [b]) if b.is_ascii_punctuation() && *b != b'"' => Ok(Delimiter(*b)),
            _ => Err(de::Error::custom(format!(
                "{text:?} cannot stand between cells; write one character such as \";\", or tab"
            ))),
        }
    }
}

impl<'de> Deserialize<'de> for KindForm {
    fn deserialize<D: Deserializer<'de>>(d: D) -> Result<Self, D::Error> {
        struct V;
        impl<'de> Visitor<'de> for V {
            type Value = KindForm;
            fn expecting(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
                f.write_str("a kind of record, or {column: …, of: {word: kind}}")
            }
            fn visit_str<E: de::Error>(self, v: &str) -> Result<KindForm, E> {
                Kind::from_word(v).map(KindForm::Always).ok_or_else(|| {
                    E::custom(format!(
                        "{v:?} is no kind of record{}; kinds are {}",
                        did_you_mean(v, Kind::WORDS.iter().copied()),
                        Kind::WORDS.join(", ")
                    ))
                })
            }
            fn visit_map<A: MapAccess<'de>>(self, map: A) -> Result<KindForm, A::Error> {
                ByColumn::deserialize(de::value::MapAccessDeserializer::new(map))
                    .map(KindForm::ByColumn)
            }
        }
        d.deserialize_any(V)
    }
}

impl<'de> Deserialize<'de> for FieldSpec {
    fn deserialize<D: Deserializer<'de>>(d: D) -> Result<Self, D::Error> {
        struct V;
        impl<'de> Visitor<'de> for V {
            type Value = FieldSpec;
            fn expecting(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
                f.write_str("the name of a column, or a map with column, template, constant, …")
            }
            fn visit_str<E: de::Error>(self, v: &str) -> Result<FieldSpec, E> {
                Ok(FieldSpec(FieldForm {
                    column: Some(v.to_string()),
                    ..FieldForm::default()
                }))
            }
            fn visit_map<A: MapAccess<'de>>(self, map: A) -> Result<FieldSpec, A::Error> {
                FieldForm::deserialize(de::value::MapAccessDeserializer::new(map)).map(FieldSpec)
            }
        }
        d.deserialize_any(V)
    }
}

/// A field, written short or in full.
struct FieldSpec(FieldForm);

impl<'de> Deserialize<'de> for Fields {
    fn deserialize<D: Deserializer<'de>>(d: D) -> Result<Self, D::Error> {
        struct V;
        impl<'de> Visitor<'de> for V {
            type Value = Fields;
            fn expecting(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
                f.write_str("a map of fields")
            }
            fn visit_map<A: MapAccess<'de>>(self, mut map: A) -> Result<Fields, A::Error> {
                let mut out: Vec<(String, FieldForm)> = Vec::new();
                while let Some((path, spec)) = map.next_entry::<String, FieldSpec>()? {
                    if out.iter().any(|(p, _)| *p == path) {
                        return Err(de::Error::custom(format!("{path} is mapped twice")));
                    }
                    out.push((path, spec.0));
                }
                Ok(Fields(out))
            }
        }
        d.deserialize_map(V)
    }
}

impl<'de> Deserialize<'de> for Words {
    fn deserialize<D: Deserializer<'de>>(d: D) -> Result<Self, D::Error> {
        struct V;
        impl<'de> Visitor<'de> for V {
            type Value = Words;
            fn expecting(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
                f.write_str("a word or a list of words")
            }
            fn visit_str<E: de::Error>(self, v: &str) -> Result<Words, E> {
                Ok(Words(vec![v.to_string()]))
            }
            fn visit_u64<E: de::Error>(self, v: u64) -> Result<Words, E> {
                Ok(Words(vec![v.to_string()]))
            }
            fn visit_i64<E: de::Error>(self, v: i64) -> Result<Words, E> {
                Ok(Words(vec![v.to_string()]))
            }
            fn visit_seq<A: SeqAccess<'de>>(self, mut seq: A) -> Result<Words, A::Error> {
                let mut out = Words::default();
                while let Some(word) = seq.next_element::<Words>()? {
                    out.0.extend(word.0);
                }
                Ok(out)
            }
        }
        d.deserialize_any(V)
    }
}
