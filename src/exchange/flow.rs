//! One value typed on a line: a list or map in YAML's flow form, else text.

use serde_json::Value;

/// Reads `[a, b]` or `{value: 4000, standing: assumed}`; `None` when the text
/// is neither.
///
/// # Errors
/// A sentence, when a list or map is begun and cannot be read.
pub fn flow(text: &str) -> Result<Option<Value>, String> {
    if !text.trim_start().starts_with(['[', '{']) {
        return Ok(None);
    }
    serde_yaml::from_str::<Value>(text)
        .map(Some)
        .map_err(|e| format!("the list or map {text} cannot be read: {e}"))
}

/// Reads one document in either form of YAML.
///
/// # Errors
/// A sentence, when the text is none.
pub fn flow_or_block(text: &str) -> Result<Value, String> {
    serde_yaml::from_str(text).map_err(|e| e.to_string())
}

/// Puts a reader's complaint into words that say what is allowed, with the
/// nearest known key.
#[must_use]
pub fn explain(message: &str) -> String {
    super::document::explain(message)
}
