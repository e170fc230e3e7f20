//! The canonical YAML of a record: keys in the order of its type, small maps
//! and lists on one line, one way to write each scalar.

use serde_json::Value;

use crate::role::is_plain;

/// Lines are folded into blocks beyond this many characters.
const WIDTH: usize = 96;

/// One document, beginning with `---`, ending with a line feed.
///
/// ```
/// let v = serde_json::json!({"structure": "40-118", "place": {"road": "Tannery Rd"}});
/// assert_eq!(polecard::exchange::document(&v),
///     "---\nstructure: 40-118\nplace: {road: Tannery Rd}\n");
/// ```
#[must_use]
pub fn document(value: &Value) -> String {
    let mut out = String::from("---\n");
    if let Value::Object(map) = value {
        for (key, v) in map {
            entry(&mut out, 0, &scalar_text(key), v);
        }
    } else {
        out.push_str(&flow(value));
        out.push('\n');
    }
    out
}

fn entry(out: &mut String, indent: usize, key: &str, value: &Value) {
    let line = flow(value);
    let pad = " ".repeat(indent);
    if !is_nested(value) || indent + key.len() + 2 + line.chars().count() <= WIDTH {
        out.push_str(&format!("{pad}{key}: {line}\n"));
        return;
    }
    out.push_str(&format!("{pad}{key}:\n"));
    match value {
        Value::Object(map) => {
            for (k, v) in map {
                entry(out, indent + 2, &scalar_text(k), v);
            }
        }
        Value::Array(items) => {
            for item in items {
                list_item(out, indent + 2, item);
            }
        }
        _ => {}
    }
}

fn list_item(out: &mut String, indent: usize, item: &Value) {
    let line = flow(item);
    let pad = " ".repeat(indent);
    match item {
        Value::Object(map) if indent + 2 + line.chars().count() > WIDTH && !map.is_empty() => {
            let mut inner = String::new();
            for (k, v) in map {
                entry(&mut inner, indent + 2, &scalar_text(k), v);
            }
            out.push_str(&format!("{pad}- {}", inner.trim_start_matches(' ')));
        }
        _ => out.push_str(&format!("{pad}- {line}\n")),
    }
}

fn is_nested(value: &Value) -> bool {
    match value {
        Value::Object(m) => !m.is_empty(),
        Value::Array(a) => !a.is_empty(),
        _ => false,
    }
}

/// A value on one line.
fn flow(value: &Value) -> String {
    match value {
        Value::Object(map) => {
            let parts: Vec<String> = map
                .iter()
                .map(|(k, v)| format!("{}: {}", scalar_text(k), flow(v)))
                .collect();
            format!("{{{}}}", parts.join(", "))
        }
        Value::Array(items) => {
            let parts: Vec<String> = items.iter().map(flow).collect();
            format!("[{}]", parts.join(", "))
        }
        Value::String(text) => scalar_text(text),
        other => other.to_string(),
    }
}

/// Text as a plain scalar where every reader of YAML takes it for text, in
/// double quotes otherwise.
fn scalar_text(text: &str) -> String {
    if reads_as_text(text) {
        return text.to_string();
    }
    let mut out = String::from("\"");
    for c in text.chars() {
        match c {
            '"' => out.push_str("\\\""),
            '\\' => out.push_str("\\\\"),
            '\n' => out.push_str("\\n"),
            '\t' => out.push_str("\\t"),
            '\r' => out.push_str("\\r"),
            c if is_plain(c) => out.push(c),
            c if u32::from(c) <= 0xffff => out.push_str(&format!("\\u{:04x}", u32::from(c))),
            c => out.push_str(&format!("\\U{:08x}", u32::from(c))),
        }
    }
    out.push('"');
    out
}

/// Words that some reader of YAML takes for something else than text.
const NOT_TEXT: &[&str] = &[
    "null", "true", "false", "yes", "no", "on", "off", "y", "n", "inf", "infinity", "nan",
];

fn reads_as_text(text: &str) -> bool {
    let bytes = text.as_bytes();
    let (Some(first), Some(last)) = (bytes.first(), bytes.last()) else {
        return false;
    };
    let inner = |i: usize, b: u8| match b {
        b':' => {
            bytes.get(i + 1).is_some_and(u8::is_ascii_alphanumeric) && first.is_ascii_alphabetic()
        }
        b => b.is_ascii_alphanumeric() || b" -./%()+_'".contains(&b),
    };
    first.is_ascii_alphanumeric()
        && *last != b' '
        && bytes.iter().enumerate().all(|(i, b)| inner(i, *b))
        && !looks_like_a_number(text)
        && !NOT_TEXT.contains(&text.to_ascii_lowercase().as_str())
}

/// Also the numbers and dates of older readers: `1_000`, `0x1f`, `017`,
/// `2026-09-12` stays text in the newer ones, which is what we read with.
fn looks_like_a_number(text: &str) -> bool {
    text.parse::<f64>().is_ok()
        || (text.as_bytes().first().is_some_and(u8::is_ascii_digit)
            && text
                .bytes()
                .all(|b| b.is_ascii_hexdigit() || b"xobXOB._".contains(&b)))
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn any_value() -> impl Strategy<Value = Value> {
        let leaf = prop_oneof![
            any::<bool>().prop_map(Value::from),
            any::<i32>().prop_map(Value::from),
            (-1e6..1e6f64).prop_map(Value::from),
            ".*".prop_map(Value::from),
            "[a-zA-Z0-9:_ .-]{0,12}".prop_map(Value::from),
        ];
        leaf.prop_recursive(3, 24, 5, |inner| {
            prop_oneof![
                prop::collection::vec(inner.clone(), 0..5).prop_map(Value::from),
                prop::collection::btree_map("[ -~]{1,9}", inner, 0..5)
                    .prop_map(|m| Value::Object(m.into_iter().collect())),
            ]
        })
    }

    proptest! {
        /// Read back by a general YAML reader (serde_yaml), every value is
        /// what was written.
        #[test]
        fn what_is_written_is_read_back(
            map in prop::collection::btree_map("[a-z_]{1,8}", any_value(), 1..6)
        ) {
            let value = Value::Object(map.into_iter().collect());
            let text = document(&value);
            let back: Value = serde_yaml::from_str(&text)
                .unwrap_or_else(|e| panic!("{e}\n{text}"));
            prop_assert_eq!(back, value, "{}", text);
        }
    }
}
