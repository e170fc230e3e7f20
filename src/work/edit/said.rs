//! Values and changes of values for people: in words, never as a program
//! writes them.

use serde_json::Value;

pub use crate::domain::change::printed;

/// The figure or word alone.
pub(super) fn bare(value: &Value) -> String {
    printed(value.get("value").unwrap_or(value))
}

/// A value as it can be typed again: `[A, B]`, `{from: 40-117, to: 40-118}`.
#[must_use]
pub fn typed(value: &Value) -> String {
    match value {
        Value::Null => String::new(),
        Value::Array(items) => {
            let items: Vec<String> = items.iter().map(typed_within).collect();
            format!("[{}]", items.join(", "))
        }
        Value::Object(map) => {
            let keys: Vec<String> = map
                .iter()
                .map(|(k, v)| format!("{k}: {}", typed_within(v)))
                .collect();
            format!("{{{}}}", keys.join(", "))
        }
        Value::String(t) => t.clone(),
        other => other.to_string(),
    }
}

/// Text inside a list is quoted where it would be taken for something else.
fn typed_within(value: &Value) -> String {
    let Value::String(t) = value else {
        return typed(value);
    };
    let plain = t
        .chars()
        .all(|c| c.is_alphanumeric() || matches!(c, ' ' | '-' | '_' | '/' | '.'));
    let other = t.parse::<f64>().is_ok()
        || ["true", "false", "null", "yes", "no", "on", "off", "y", "n"]
            .contains(&t.to_lowercase().as_str());
    if plain && !other && !t.is_empty() && t.trim() == t && !t.starts_with('-') {
        t.clone()
    } else {
        value.to_string()
    }
}

/// A change for people, one sentence each: `link in element A: 25T -> 40T`
/// where the items of a list correspond, else the whole value before and after.
#[must_use]
pub fn changes_in(field: &str, old: &Value, new: &Value) -> Vec<String> {
    let whole = || vec![format!("{field}: {} -> {}", printed(old), printed(new))];
    let (Value::Array(was), Value::Array(is)) = (old, new) else {
        return whole();
    };
    let maps = |list: &[Value]| !list.is_empty() && list.iter().all(Value::is_object);
    if !maps(was) || !maps(is) || was.len() != is.len() {
        return whole();
    }
    let thing = match field {
        "elements" => "element",
        "bypass" => "element on the bypass",
        other => other,
    };
    let mut out = Vec::new();
    for (i, (a, b)) in was.iter().zip(is).enumerate() {
        let (Value::Object(was), Value::Object(is)) = (a, b) else {
            continue;
        };
        let keys = was
            .keys()
            .chain(is.keys().filter(|k| !was.contains_key(*k)));
        for key in keys {
            let (old, new) = (
                was.get(key).unwrap_or(&Value::Null),
                is.get(key).unwrap_or(&Value::Null),
            );
            if old != new {
                out.push(format!(
                    "{} in {thing} {}: {} -> {}",
                    key.replace('_', " "),
                    called(i, a),
                    printed(old),
                    printed(new)
                ));
            }
        }
    }
    if out.is_empty() { whole() } else { out }
}

/// What an item of a list is called: its slot, its label, what it is, or where
/// it stands.
#[must_use]
pub fn called(index: usize, item: &Value) -> String {
    let text = |k: &str| item.get(k).and_then(Value::as_str);
    match (text("slot"), text("label"), text("element")) {
        (Some(slot), ..) => slot.to_string(),
        (None, Some(label), _) => format!("{} ({label})", index + 1),
        (None, None, Some(kind)) => format!("{} ({kind})", index + 1),
        _ => (index + 1).to_string(),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use serde_json::json;

    #[test]
    fn a_link_that_changes_is_said_in_words() {
        let old = json!([{"element": "cutout", "slot": "A"}, {"element": "link", "slot": "A", "link": "25T"}]);
        let mut new = old.clone();
        new[1]["link"] = json!({"value": "40T", "by": "hb"});
        assert_eq!(
            changes_in("elements", &old, &new),
            ["link in element A: 25T -> 40T (by hb)"]
        );
        let one = json!([{"element": "link", "link": "25T"}]);
        assert!(!changes_in("elements", &one, &old)[0].contains('{'));
    }

    #[test]
    fn what_can_be_typed_reads_as_the_same_value() {
        for value in [
            json!(["A", "B", "no", "12", "a: b"]),
            json!([{"element": "link", "slot": "A", "link": "25T", "amps": 12.5}]),
        ] {
            let read = crate::exchange::flow(&typed(&value)).unwrap().unwrap();
            assert_eq!(read, value);
        }
    }
}
