//! One field of one element of a position: `elements.A.link`,
//! `elements.2.amps`, `bypass.1.opens_load`.

use serde_json::Value;

use super::said::called;
use super::{Asked, Failure, read};
use crate::domain::change::item_at;

/// The lists whose items can be named, each with what is known of an item.
const LISTS: &[&str] = &["elements", "bypass"];

/// Keys of an element that say who read them.
const STATED: &[&str] = &[
    "link",
    "amps",
    "interrupting_amps",
    "interrupting_asym_amps",
    "test_x_over_r",
    "momentary_amps",
    "max_kv",
    "bil_kv",
];

/// The list that a path goes into, when it goes into one.
pub(super) fn list_of(field: &str) -> Option<&str> {
    let (list, rest) = field.split_once('.')?;
    (LISTS.contains(&list) && !rest.is_empty()).then_some(list)
}

/// Whether a path names one field of one element that is there.
///
/// # Errors
/// Usage, with the elements that there are.
pub(super) fn known(record: &Value, field: &str) -> Result<(), Failure> {
    let Some(list) = list_of(field) else {
        return Ok(());
    };
    let none = Vec::new();
    let items = record.get(list).and_then(Value::as_array).unwrap_or(&none);
    let rest = &field[list.len() + 1..];
    let (which, key) = rest.split_once('.').unwrap_or((rest, ""));
    if !key.is_empty() && item_at(items, which, key).is_some() {
        return Ok(());
    }
    let there: Vec<String> = items
        .iter()
        .enumerate()
        .map(|(i, item)| {
            let kind = item.get("element").and_then(Value::as_str).unwrap_or("?");
            let slot = match called(i, item) {
                slot if item.get("slot").is_some() => format!(", slot {slot}"),
                _ => String::new(),
            };
            format!("{} {kind}{slot}", i + 1)
        })
        .collect();
    let there = if there.is_empty() {
        "none is on record".to_string()
    } else {
        there.join("; ")
    };
    Err(Failure::usage(format!(
        "{field}: which one of the {list} is not clear: {there}; nothing was changed"
    ))
    .hint(format!(
        "name it by its number and its field: {list}.1.link=40T"
    )))
}

/// Whether a field of an element takes a figure only.
pub(super) fn takes_figure(field: &str) -> bool {
    let key = field.rsplit('.').next().unwrap_or_default();
    list_of(field).is_some() && STATED.contains(&key) && key != "link"
}

/// A value of an element with who read it, where that was said.
pub(super) fn stated(field: &str, value: Value, asked: &Asked) -> Value {
    let key = field.rsplit('.').next().unwrap_or_default();
    if list_of(field).is_none() || !STATED.contains(&key) || value.is_object() || value == "unknown"
    {
        return value;
    }
    match (&asked.reading, asked.assumed.as_deref()) {
        (Some(r), _) => read(&value, r),
        (None, Some(rule)) if !rule.is_empty() => {
            serde_json::json!({"value": value, "standing": "assumed", "rule": rule})
        }
        _ => value,
    }
}
