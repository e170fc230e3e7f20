//! An edit as data: operations made of changes, and the difference of two
//! forms of a record as a list of field edits.

use serde::{Deserialize, Serialize};
use serde_json::Value;

use super::asset::{Kind, Record, RecordId};
use crate::calendar::{Date, Moment};

/// An edit as people meant it.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Operation {
    #[serde(rename = "operation")]
    pub id: RecordId,
    pub who: String,
    pub entered: Moment,
    /// From when it holds in the field, when that is not the day of entry.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub effective: Option<Date>,
    pub why: String,
    /// The operation of another register that this one repeats.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub origin: Option<String>,
    /// The operation that this one takes back.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub undoes: Option<RecordId>,
}

/// One step of an operation.
#[derive(Debug, Clone, PartialEq)]
#[expect(
    clippy::large_enum_variant,
    reason = "changes are streamed, never stored in bulk"
)]
pub enum Change {
    /// A new record in its canonical form.
    Add(Record),
    /// One field of a record; `Value::Null` stands for "not on record".
    Edit(Edit),
    /// The record leaves the register; its last form is kept in the log.
    Remove(RecordId),
}

/// One field of one record.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Edit {
    pub id: RecordId,
    pub kind: Kind,
    /// Dotted path: `place.road`, `nameplate.coil_amps`.
    pub field: String,
    #[serde(default)]
    pub old: Value,
    #[serde(default)]
    pub new: Value,
}

/// The value at a dotted path; null when there is none.
#[must_use]
pub fn value_at<'v>(value: &'v Value, path: &str) -> &'v Value {
    const NONE: &Value = &Value::Null;
    let (key, rest) = match path.split_once('.') {
        Some((key, rest)) => (key, Some(rest)),
        None => (path, None),
    };
    let child = match (value, rest) {
        (Value::Array(items), Some(rest)) => item_at(items, key, rest).map(|i| &items[i]),
        (value, _) => value.as_object().and_then(|map| map.get(key)),
    };
    match (child, rest) {
        (None, _) => NONE,
        (Some(child), None) => child,
        (Some(child), Some(rest)) => value_at(child, rest),
    }
}

/// Which item of a list a path means: the one of that slot, label or kind of
/// element, of several the only one that has the field; or the one of that
/// number, counted from 1.
#[must_use]
pub fn item_at(items: &[Value], key: &str, rest: &str) -> Option<usize> {
    let field = rest.split('.').next().unwrap_or(rest);
    let is = |item: &Value| {
        ["slot", "label", "element"]
            .iter()
            .filter_map(|k| item.get(*k)?.as_str())
            .any(|t| t.eq_ignore_ascii_case(key))
    };
    let called: Vec<usize> = (0..items.len()).filter(|i| is(&items[*i])).collect();
    let own = |i: &&usize| {
        let item = &items[**i];
        item.get(field).is_some() || item.get("element").is_some_and(|e| e == field)
    };
    match called.as_slice() {
        [] => key
            .parse::<usize>()
            .ok()
            .filter(|n| (1..=items.len()).contains(n))
            .map(|n| n - 1),
        [one] => Some(*one),
        several => match several.iter().filter(own).collect::<Vec<_>>().as_slice() {
            [one] => Some(**one),
            _ => None,
        },
    }
}

/// Puts `new` at a dotted path, making maps on the way; null removes the key
/// and the maps that are left empty.
pub fn put_at(value: &mut Value, path: &str, new: Value) {
    let (key, rest) = match path.split_once('.') {
        Some((key, rest)) => (key, Some(rest)),
        None => (path, None),
    };
    if let (Value::Array(items), Some(rest)) = (&mut *value, rest)
        && let Some(at) = item_at(items, key, rest)
    {
        put_at(&mut items[at], rest, new);
        return;
    }
    if !value.is_object() {
        *value = Value::Object(serde_json::Map::new());
    }
    let Some(map) = value.as_object_mut() else {
        return;
    };
    match rest {
        None if new.is_null() => {
            map.shift_remove(key);
        }
        None => {
            map.insert(key.to_string(), new);
        }
        Some(rest) => {
            let child = map.entry(key).or_insert(Value::Null);
            put_at(child, rest, new);
            if child.as_object().is_some_and(serde_json::Map::is_empty) {
                map.shift_remove(key);
            }
        }
    }
}

/// The edits that turn `old` into `new`: one for each differing leaf. Lists
/// are leaves; so are maps whose keys hold a dot.
#[must_use]
pub fn difference(id: RecordId, kind: Kind, old: &Value, new: &Value) -> Vec<Edit> {
    // A figure and who read it are one statement: a new figure takes over no reader.
    compared((id, kind), old, new, &|v| {
        v.get("value").is_some() || v.get("standing").is_some()
    })
}

/// [`difference`] down to the parts of statements.
#[must_use]
pub fn difference_in_parts(id: RecordId, kind: Kind, old: &Value, new: &Value) -> Vec<Edit> {
    compared((id, kind), old, new, &|_| false)
}

/// Whether a map is one statement, and not taken apart.
type Whole<'w> = &'w dyn Fn(&Value) -> bool;

fn compared(who: (RecordId, Kind), old: &Value, new: &Value, whole: Whole<'_>) -> Vec<Edit> {
    let mut out = Vec::new();
    descend(&mut out, (who, whole), String::new(), (old, new));
    out
}

fn descend(
    out: &mut Vec<Edit>,
    (who, whole): ((RecordId, Kind), Whole<'_>),
    path: String,
    (old, new): (&Value, &Value),
) {
    if old == new {
        return;
    }
    let dotted = |v: &Value| {
        v.as_object()
            .is_some_and(|m| m.keys().any(|k| k.contains('.')))
    };
    let leaf = [old, new].into_iter().any(|v| dotted(v) || whole(v));
    match (old, new) {
        (Value::Object(a), Value::Object(b)) if !leaf => {
            let keys = a.keys().chain(b.keys().filter(|k| !a.contains_key(*k)));
            for key in keys {
                let below = if path.is_empty() {
                    key.clone()
                } else {
                    format!("{path}.{key}")
                };
                let none = Value::Null;
                let both = (a.get(key).unwrap_or(&none), b.get(key).unwrap_or(&none));
                descend(out, (who, whole), below, both);
            }
        }
        _ => out.push(Edit {
            id: who.0,
            kind: who.1,
            field: path,
            old: old.clone(),
            new: new.clone(),
        }),
    }
}

/// A value for people: its figure or word, then where it comes from; the items
/// of a list and the keys of a map in words.
#[must_use]
pub fn printed(value: &Value) -> String {
    match value {
        Value::Null => "not on record".to_string(),
        Value::String(t) => t.clone(),
        Value::Bool(true) => "yes".to_string(),
        Value::Bool(false) => "no".to_string(),
        Value::Object(map) if map.contains_key("value") || map.contains_key("standing") => {
            let rest: Vec<String> = map
                .iter()
                .filter(|(k, _)| *k != "value")
                .map(|(k, v)| format!("{k} {}", printed(v)))
                .collect();
            let figure = map.get("value").map_or("unknown".to_string(), printed);
            if rest.is_empty() {
                figure
            } else {
                format!("{figure} ({})", rest.join(", "))
            }
        }
        Value::Object(map) if map.is_empty() => "nothing".to_string(),
        Value::Object(map) => map
            .iter()
            .map(|(k, v)| format!("{} {}", k.replace('_', " "), printed(v)))
            .collect::<Vec<_>>()
            .join(", "),
        Value::Array(items) if items.is_empty() => "none".to_string(),
        Value::Array(items) => {
            let maps = items.iter().any(Value::is_object);
            let items: Vec<String> = items.iter().map(printed).collect();
            items.join(if maps { "; " } else { ", " })
        }
        Value::Number(n) => n.to_string(),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use serde_json::json;

    #[test]
    fn a_difference_put_in_place_gives_the_new_form() {
        let old = json!({"a": 1, "place": {"road": "Tannery Rd", "near": "gate"}, "l": [1]});
        let new = json!({"a": 1, "place": {"road": "Weir Ln"}, "l": [1, 2], "b": {"c": 3}});
        let edits = difference(RecordId::default(), Kind::Structure, &old, &new);
        let fields: Vec<&str> = edits.iter().map(|e| e.field.as_str()).collect();
        assert_eq!(fields, ["place.road", "place.near", "l", "b"]);
        let mut back = old.clone();
        for e in &edits {
            assert_eq!(value_at(&back, &e.field), &e.old);
            put_at(&mut back, &e.field, e.new.clone());
        }
        assert_eq!(back, new);
    }

    #[test]
    fn lists_and_maps_are_said_in_words() {
        let stays = json!([
            {"at": "HB2-RC-14", "slot": "ABC", "from": "2018-06-04", "to": "2026-03-02"},
            {"at": "shop", "from": "2026-03-02"}
        ]);
        assert_eq!(
            printed(&stays),
            "at HB2-RC-14, slot ABC, from 2018-06-04, to 2026-03-02; at shop, from 2026-03-02"
        );
        let series =
            json!([{"element": "lead", "amps": {"value": 200, "by": "hb"}, "opens_load": "no"}]);
        assert_eq!(
            printed(&series),
            "element lead, amps 200 (by hb), opens load no"
        );
        assert_eq!(
            printed(&json!(["oil leak", "low oil"])),
            "oil leak, low oil"
        );
        assert_eq!(printed(&json!([])), "none");
        assert_eq!(
            printed(&json!({"amps": 10, "served": {"count": 3}, "own": true})),
            "amps 10, served count 3, own yes"
        );
    }
}
