//! The fields of a record as a form shows them: value, standing, what the
//! field may hold, and who changed it last.

use serde_json::Value;

use super::Failure;
use super::edit::{called, overlap, typed};
use crate::domain::asset::{Class, ElementKind, Field, Holds, Kind, PLATE, Record, SETTINGS};
use crate::domain::change::value_at;
use crate::exchange::map::{Asked, fields_of};
use crate::store::{Store, Stored};
use crate::units::figure;

/// How many operations are looked through for the last change.
const LOOKED_AT: usize = 200;

/// One field.
#[derive(Debug, Clone, PartialEq)]
pub struct EditField {
    /// Dotted path, as on the command line.
    pub path: String,
    /// As printed on cards; the path where a field has no label.
    pub label: String,
    /// As on record.
    pub seen: Value,
    /// Figure or word alone; empty when not on record.
    pub value: String,
    /// Who read it or by which rule it is assumed; empty for a plain value.
    pub standing: String,
    /// What it may hold.
    pub rule: String,
    /// The words it may hold, when it is one of a few.
    pub choices: Vec<String>,
    /// Whether it takes a figure.
    pub figure: bool,
    /// A plate value: it says who read it, and from what.
    pub plate: bool,
    /// Whether it keeps a reader, so that it can be confirmed as it is.
    pub confirmable: bool,
    /// Who changed it last, when, and why.
    pub last: Option<String>,
}

/// The fields of a record: those of its kind, on record or not, in the order
/// of its document.
///
/// # Errors
/// Those of the register.
pub fn fields(store: &Store, of: &Stored) -> Result<Vec<EditField>, Failure> {
    let kind = of.record.kind();
    let record = of.record.to_value();
    let class = match &of.record {
        Record::Unit(u) => Some(u.class),
        Record::Position(p) => Some(p.class),
        _ => None,
    };
    let mut paths = fields_of(kind);
    if paths.is_empty() {
        paths = own_keys(&record);
    }
    let mut out: Vec<EditField> = paths
        .into_iter()
        .filter(|(path, _)| path != "id")
        .filter_map(|(path, asked)| field(&record, path, asked, class))
        .collect();
    name_first(kind, &mut out);
    if kind == Kind::Position {
        by_element(&record, &mut out);
    }
    let touched = store.touched(of.rec, LOOKED_AT)?;
    for field in &mut out {
        field.last = touched
            .iter()
            .find(|t| t.edits.iter().any(|e| overlap(&e.field, &field.path)))
            .map(|t| {
                let op = &t.operation.operation;
                format!("{}, {}: {}", op.who, op.entered.spoken(), op.why)
            });
    }
    Ok(out)
}

/// The document of a free kind: the keys that it has.
fn own_keys(record: &Value) -> Vec<(String, Asked)> {
    let keys = record.as_object().into_iter().flatten();
    keys.map(|(k, v)| {
        let asked = match v {
            Value::Array(_) | Value::Object(_) => Asked::List,
            _ => Asked::Text,
        };
        (k.clone(), asked)
    })
    .collect()
}

fn name_first(kind: Kind, fields: &mut [EditField]) {
    if let Some(at) = fields.iter().position(|f| f.path == kind.word()) {
        fields[..=at].rotate_right(1);
    }
}

/// A field of a table, found by its path.
fn in_table(path: &str) -> Option<&'static Field> {
    let (table, key) = path.split_once('.')?;
    let fields = match table {
        "nameplate" => PLATE,
        "settings" | "settings_found" => SETTINGS,
        _ => return None,
    };
    fields.iter().find(|f| f.key == key)
}

fn field(record: &Value, path: String, asked: Asked, class: Option<Class>) -> Option<EditField> {
    let seen = value_at(record, &path).clone();
    let table = in_table(&path);
    let foreign =
        |f: &Field| !f.classes.is_empty() && !class.is_some_and(|c| f.classes.contains(&c));
    if seen.is_null() && table.is_some_and(foreign) {
        return None;
    }
    let figure = table.map_or(asked == Asked::Number, |f| {
        matches!(f.holds, Holds::Number { .. })
    });
    let (rule, choices) = match table {
        Some(f) => holds(f.holds),
        None => said(&asked),
    };
    let label = table.map_or_else(
        || path.clone(),
        |f| {
            let set = if path.starts_with("settings_found") {
                ", as found"
            } else {
                ""
            };
            format!("{}{set}", f.label)
        },
    );
    let plate = path.starts_with("nameplate.");
    Some(EditField {
        value: shown(&seen),
        standing: standing(&seen),
        confirmable: (plate || path.starts_with("settings.")) && has_value(&seen),
        path,
        label,
        seen,
        rule,
        choices,
        figure,
        plate,
        last: None,
    })
}

/// In place of the lists of elements, a field for each value of each element.
fn by_element(record: &Value, out: &mut Vec<EditField>) {
    for list in ["elements", "bypass"] {
        let Some(items) = record.get(list).and_then(Value::as_array) else {
            continue;
        };
        let Some(at) = out.iter().position(|f| f.path == list && !items.is_empty()) else {
            continue;
        };
        let rows = items.iter().enumerate().flat_map(|(i, item)| {
            let kind = item.get("element").and_then(Value::as_str);
            let mut keys: Vec<String> = item
                .as_object()
                .into_iter()
                .flatten()
                .map(|(k, _)| k.clone())
                .collect();
            for (of, key) in [
                ("link", "link"),
                ("cutout", "amps"),
                ("cutout", "interrupting_amps"),
            ] {
                if kind == Some(of) && !keys.iter().any(|k| k == key) {
                    keys.push(key.to_string());
                }
            }
            keys.into_iter()
                .map(move |key| of_element(list, (i, item), &key))
        });
        let rows: Vec<EditField> = rows.collect();
        out.splice(at..=at, rows);
    }
}

fn of_element(list: &str, (i, item): (usize, &Value), key: &str) -> EditField {
    let seen = item.get(key).cloned().unwrap_or(Value::Null);
    let words: &[&str] = match key {
        "opens_load" | "visible_break" | "lockable" => &["yes", "no", "unknown"],
        "normally" => &["closed", "open", "unknown"],
        "element" => ElementKind::WORDS,
        _ => &[],
    };
    let figure = key.ends_with("amps") || key.ends_with("_kv") || key == "test_x_over_r";
    let on = if list == "bypass" {
        " on the bypass"
    } else {
        ""
    };
    EditField {
        path: format!("{list}.{}.{key}", i + 1),
        label: format!(
            "{} in element {}{on}",
            key.replace('_', " "),
            called(i, item)
        ),
        value: shown(&seen),
        standing: standing(&seen),
        rule: match (words.is_empty(), figure) {
            (false, _) => format!("one of {}", words.join(", ")),
            (true, true) => "a figure, or unknown".to_string(),
            (true, false) => "a text, or unknown".to_string(),
        },
        choices: words.iter().map(ToString::to_string).collect(),
        figure,
        plate: false,
        confirmable: false,
        seen,
        last: None,
    }
}

fn has_value(seen: &Value) -> bool {
    let value = seen.get("value").unwrap_or(seen);
    !value.is_null() && value != "unknown"
}

/// The figure or word alone.
fn shown(seen: &Value) -> String {
    match seen {
        Value::Null => String::new(),
        v => typed(v.get("value").unwrap_or(v)),
    }
}

/// What stands behind a value, for people.
fn standing(seen: &Value) -> String {
    let Some(map) = seen.as_object().filter(|m| m.contains_key("value")) else {
        return String::new();
    };
    let text = |k: &str| map.get(k).and_then(Value::as_str);
    if text("standing") == Some("assumed") {
        return format!("assumed: {}", text("rule").unwrap_or("no rule recorded"));
    }
    let parts = [
        text("by").map(|b| format!("read by {b}")),
        text("on").map(str::to_string),
        text("from").map(|f| format!("from {f}")),
    ];
    parts.into_iter().flatten().collect::<Vec<_>>().join(", ")
}

fn holds(holds: Holds) -> (String, Vec<String>) {
    match holds {
        Holds::Number { unit, min, max } => {
            let unit = if unit.is_empty() {
                String::new()
            } else {
                format!(" {unit}")
            };
            let range = format!("from {} to {}{unit}", figure(min), figure(max));
            (format!("a figure {range}, or unknown"), Vec::new())
        }
        Holds::Text => ("a text, or unknown".to_string(), Vec::new()),
        Holds::Date => ("a day, as 2026-10-03, or unknown".to_string(), Vec::new()),
        Holds::Choice(words) => {
            let words: Vec<String> = words.iter().map(ToString::to_string).collect();
            (format!("one of {}, or unknown", words.join(", ")), words)
        }
    }
}

fn said(asked: &Asked) -> (String, Vec<String>) {
    match asked {
        Asked::Text => ("a text".to_string(), Vec::new()),
        Asked::Number => ("a figure".to_string(), Vec::new()),
        Asked::Date => ("a day, as 2026-10-03".to_string(), Vec::new()),
        Asked::YesNo => (
            "yes or no".to_string(),
            vec!["yes".to_string(), "no".to_string()],
        ),
        Asked::List => (
            "a list, as [a, b], or a map, as {key: value}".to_string(),
            Vec::new(),
        ),
        Asked::Either => ("a figure or a text".to_string(), Vec::new()),
        Asked::Choice(words) => (format!("one of {}", words.join(", ")), words.clone()),
    }
}
