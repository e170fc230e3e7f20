//! Decode: what a code says under the numbering schemes, and whether the
//! register has it.

use std::collections::BTreeMap;

use serde::Serialize;

use super::also::also_of;
use super::find::Also;
use super::schemes::schemes;
use super::{Failure, JSON_VERSION};
use crate::domain::code::{AssumptionKind, Decoder, Reading, fold};
use crate::store::{Hit, Store};

/// Most readings that are given.
pub const READINGS: usize = 20;

/// One stretch of the input; the stretches joined are the input.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct Stretch {
    pub text: String,
    /// The field it belongs to; none for separators and stray characters.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub field: Option<String>,
}

/// One way of reading the code.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct DecodedReading {
    /// The id as the scheme writes it.
    pub name: String,
    pub scheme: String,
    pub pattern: String,
    /// What kind of record such an id names.
    pub kind: String,
    /// Field to its text, in written order.
    pub fields: serde_json::Map<String, serde_json::Value>,
    /// What codes mean, field to meaning.
    #[serde(skip_serializing_if = "BTreeMap::is_empty")]
    pub meanings: BTreeMap<String, String>,
    /// What was taken for granted, in sentences; empty when nothing was.
    pub assumed: Vec<String>,
    /// The id that spoken words were read as.
    #[serde(skip)]
    pub heard_as: Option<String>,
    pub spans: Vec<Stretch>,
    /// A record of the register has this name now.
    pub in_register: bool,
    /// The name is on record but not the present one: in which way.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub on_record_as: Option<String>,
    /// Second identifier of the record that has the name.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub also: Option<Also>,
}

/// Every reading of a code, best first.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct DecodeReport {
    pub polecard: u32,
    pub input: String,
    pub readings: Vec<DecodedReading>,
    /// There are more than are listed.
    pub more: bool,
    /// The register holds no numbering scheme to read by.
    pub no_scheme: bool,
}

/// The readings of `text`: cheapest first, and among equally cheap ones those
/// that the register has.
///
/// # Errors
/// Those of the register.
pub fn decode(store: &Store, text: &str) -> Result<DecodeReport, Failure> {
    let schemes = schemes(store)?;
    let found = Decoder::new(&schemes).decode(text);
    let keys: Vec<String> = found.iter().map(|r| fold(&r.name)).collect();
    let mut holders: Vec<Option<Hit>> = vec![None; found.len()];
    for (i, hit) in store.holders(&keys, &|| false)? {
        // Holders come with the present ones first.
        holders[i].get_or_insert(hit);
    }
    let mut ranked: Vec<(Reading, Option<Hit>)> = found.into_iter().zip(holders).collect();
    ranked.sort_by_key(|(r, h)| (r.cost(), h.as_ref().map_or(9, |h| h.rank)));
    let more = ranked.len() > READINGS;
    ranked.truncate(READINGS);
    let mut readings = Vec::with_capacity(ranked.len());
    for (reading, hit) in ranked {
        readings.push(decoded(store, text, &reading, hit.as_ref())?);
    }
    Ok(DecodeReport {
        polecard: JSON_VERSION,
        input: text.to_string(),
        readings,
        more,
        no_scheme: schemes.is_empty(),
    })
}

fn decoded(
    store: &Store,
    text: &str,
    reading: &Reading,
    hit: Option<&Hit>,
) -> Result<DecodedReading, Failure> {
    let stored = match hit {
        Some(h) => store.by_row(h.rec)?,
        None => None,
    };
    let also = match &stored {
        Some(s) => Some(also_of(store, s)?),
        None => None,
    };
    let named = stored.as_ref().map(|s| s.record.name());
    let on_record_as = hit.zip(named).and_then(|(h, name)| match h.rank {
        0 => None,
        1 => Some(format!("another name of {name}")),
        _ => Some(format!("a name no longer in use of what is now {name}")),
    });
    let fields = reading.fields.iter();
    let meanings = reading.fields.iter();
    Ok(DecodedReading {
        name: reading.name.clone(),
        scheme: reading.scheme.clone(),
        pattern: reading.pattern.clone(),
        kind: reading.kind.word().to_string(),
        fields: fields
            .map(|f| (f.field.clone(), f.text.clone().into()))
            .collect(),
        meanings: meanings
            .filter_map(|f| Some((f.field.clone(), f.meaning.clone()?)))
            .collect(),
        assumed: reading.assumed.iter().map(|a| a.text.clone()).collect(),
        heard_as: reading
            .assumed
            .iter()
            .find(|a| a.kind == AssumptionKind::Spoken)
            .and_then(|a| a.text.strip_prefix("words read as "))
            .map(str::to_string),
        spans: reading
            .spans
            .iter()
            .map(|s| Stretch {
                text: text[s.range.clone()].to_string(),
                field: s.field.clone(),
            })
            .collect(),
        in_register: hit.is_some_and(|h| h.rank == 0),
        on_record_as,
        also,
    })
}
