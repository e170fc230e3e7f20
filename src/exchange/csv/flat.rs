//! A record as flat cells: one column a field, by its dotted path. A stated
//! value has its figure under its own path and beside it standing, by, on,
//! from and rule. A list stands in one cell.

use serde_json::Value;

use crate::domain::asset::Kind;

/// Parts of a stated value that have columns of their own.
pub(super) const STATED: [&str; 5] = ["standing", "by", "on", "from", "rule"];

/// Stands for a line feed inside a text.
const FEED: char = '\u{2424}';

/// The cells of a record, in the order of its canonical form; the id apart.
pub(super) fn flat(kind: Kind, value: &Value) -> Vec<(String, String)> {
    let mut out = Vec::new();
    if let Value::Object(map) = value {
        for (key, v) in map.iter().filter(|(k, _)| *k != "id") {
            if is_document(kind) {
                out.push((key.clone(), text(v)));
            } else {
                walk(key, v, &mut out);
            }
        }
    }
    out
}

/// Kinds whose body is free, so that a map in it is one cell.
pub(super) fn is_document(kind: Kind) -> bool {
    matches!(
        kind,
        Kind::Scheme | Kind::Form | Kind::Interval | Kind::Map | Kind::Curve | Kind::Kept
    )
}

/// Whether values at a path say how they are known.
pub(super) fn says_standing(path: &str) -> bool {
    [
        "nameplate.",
        "settings.",
        "settings_found.",
        "readings.",
        "choices.",
    ]
    .iter()
    .any(|p| path.starts_with(p))
}

fn walk(path: &str, value: &Value, out: &mut Vec<(String, String)>) {
    match value {
        Value::Object(map) if is_stated(map) => {
            let figure = map.get("value").map_or("unknown".to_string(), text);
            out.push((path.to_string(), figure));
            let plain = !map.contains_key("standing");
            for part in STATED {
                match map.get(part) {
                    Some(v) => out.push((format!("{path}.{part}"), text(v))),
                    None if part == "standing" && plain => {
                        out.push((format!("{path}.{part}"), "known".to_string()));
                    }
                    None => {}
                }
            }
        }
        Value::Object(map) if map.keys().all(|k| !k.contains('.') && !k.is_empty()) => {
            for (key, v) in map {
                walk(&format!("{path}.{key}"), v, out);
            }
        }
        other => {
            out.push((path.to_string(), text(other)));
            if says_standing(path) {
                let word = if other == "unknown" {
                    "unknown"
                } else {
                    "known"
                };
                out.push((format!("{path}.standing"), word.to_string()));
            }
        }
    }
}

fn is_stated(map: &serde_json::Map<String, Value>) -> bool {
    let some = map.contains_key("value") || map.contains_key("standing");
    some && map
        .keys()
        .all(|k| k == "value" || STATED.contains(&k.as_str()))
}

fn text(value: &Value) -> String {
    let line = |t: &str| -> String {
        t.chars()
            .map(|c| match c {
                '\n' => FEED,
                c if c.is_control() => char::REPLACEMENT_CHARACTER,
                c => c,
            })
            .collect()
    };
    match value {
        Value::Null => String::new(),
        Value::String(t) => line(t),
        Value::Array(items) => plain_list(items).unwrap_or_else(|| value.to_string()),
        other => other.to_string(),
    }
}

/// `HB2; HB3` where the words allow it.
fn plain_list(items: &[Value]) -> Option<String> {
    let words: Option<Vec<&str>> = items.iter().map(Value::as_str).collect();
    let words = words.filter(|w| !w.is_empty())?;
    let fits = |w: &&str| {
        !w.is_empty() && *w == w.trim() && !w.contains([';', '\n']) && !w.starts_with(['[', '{'])
    };
    words.iter().all(fits).then(|| words.join("; "))
}

/// Values that the text of a cell may stand for, the likeliest first; `was` is
/// what stands on record.
pub(super) fn candidates(cell: &str, was: &Value, path: &str) -> Vec<Value> {
    let typed = cell.replace(FEED, "\n");
    let word = Value::from(typed.as_str());
    let figure = crate::units::parse_number(&typed)
        .ok()
        .and_then(|n| crate::units::serialize_number(n, serde_json::value::Serializer).ok());
    let truth = match typed.as_str() {
        "true" => Some(Value::Bool(true)),
        "false" => Some(Value::Bool(false)),
        _ => None,
    };
    let list = crate::exchange::flow(&typed).ok().flatten();
    let split: Value = typed
        .split(';')
        .map(str::trim)
        .filter(|t| !t.is_empty())
        .collect();
    let first = was.is_number() || (was.is_null() && says_standing(path));
    let mut out = Vec::new();
    out.extend(list);
    if was.is_array() {
        out.push(split.clone());
    }
    if first {
        out.extend(figure.clone());
    }
    out.push(word);
    out.extend(figure);
    out.extend(truth);
    out.push(split);
    out
}
