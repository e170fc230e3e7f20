//! The numbering schemes of a register, ready for reading.

use serde::Deserialize;
use serde_json::Value;

use super::Failure;
use crate::domain::asset::SchemeDoc;
use crate::domain::code::Scheme;
use crate::store::Store;

/// The schemes that can be used. One with a fault is left out: `verify` names
/// it, and a look-up does without it.
///
/// # Errors
/// Those of the register.
pub fn schemes(store: &Store) -> Result<Vec<Scheme>, Failure> {
    Ok(store
        .schemes()?
        .iter()
        .filter_map(|doc| scheme(doc).ok())
        .collect())
}

/// The scheme that a record describes.
///
/// # Errors
/// A sentence that says what is wrong with it.
pub fn scheme(doc: &SchemeDoc) -> Result<Scheme, String> {
    let mut map = serde_json::Map::new();
    map.insert("scheme".to_string(), Value::String(doc.scheme.clone()));
    map.extend(doc.body.clone());
    Scheme::deserialize(Value::Object(map)).map_err(|e| e.to_string())
}
