//! Which edits one person alone does not make: those that turn a no into a yes.

use serde_json::Value;

/// Endings of the keys that hold ratings; a study or setting is none.
const RATINGS: &[&str] = &["_amps", "_kv", "_kva", "_ka", "_kvar", "_mva"];
/// Parts of a path below which a figure is no rating of equipment.
const NO_RATINGS: &[&str] = &[
    "available_fault",
    "minimum_fault",
    "peak_load",
    "settings",
    "settings_found",
    "min_trip_amps",
];

/// Why an edit of `field` from `old` to `new` needs a second person; `None`
/// when it does not. `name_key` is the key under which the record is called.
/// The list of reasons is the utility's practice; common practice, no source.
#[must_use]
pub fn second_needed(name_key: &str, field: &str, old: &Value, new: &Value) -> Option<String> {
    if field == name_key {
        return Some("it changes what the record is called".to_string());
    }
    if field == "clears" && grew(old, new) || field == "finds" && grew(new, old) {
        return Some("it clears a defect".to_string());
    }
    if NO_RATINGS.iter().any(|n| field.split('.').any(|k| k == *n)) {
        return None;
    }
    walk(field, old, new)
}

/// Whether `new` holds an item that `old` lacks.
fn grew(old: &Value, new: &Value) -> bool {
    let items = |v: &Value| v.as_array().cloned().unwrap_or_default();
    let before = items(old);
    items(new).iter().any(|i| !before.contains(i))
}

fn walk(path: &str, old: &Value, new: &Value) -> Option<String> {
    let key = path.rsplit('.').next().unwrap_or(path);
    if let (Some(a), Some(b)) = (number(old), number(new)) {
        if key == "pcb_ppm" && b < a {
            return Some("it lowers the PCB content".to_string());
        }
        if (key == "amps" || RATINGS.iter().any(|r| key.ends_with(r))) && b > a {
            return Some(format!("it raises a rating ({key})"));
        }
        return None;
    }
    match key {
        "pcb_ppm" if number(old).is_some() => {
            return Some("it takes back a PCB content".to_string());
        }
        "pcb_label" if word(new) == Some("no PCBs") && word(old) != word(new) => {
            return Some("it lowers the PCB class".to_string());
        }
        "opens_load" if word(new) == Some("yes") && word(old) != word(new) => {
            return Some("it says that the element opens load".to_string());
        }
        _ => {}
    }
    below(path, old, new)
}

fn below(path: &str, old: &Value, new: &Value) -> Option<String> {
    match (old, new) {
        (Value::Array(a), Value::Array(b)) => a.iter().zip(b).find_map(|(x, y)| walk(path, x, y)),
        (Value::Object(a), Value::Object(b)) => b.iter().find_map(|(k, y)| {
            let x = a.get(k).unwrap_or(&Value::Null);
            walk(&format!("{path}.{k}"), x, y)
        }),
        _ => None,
    }
}

/// A figure, bare or with its standing.
fn number(v: &Value) -> Option<f64> {
    v.as_f64().or_else(|| v.get("value")?.as_f64())
}

fn word(v: &Value) -> Option<&str> {
    v.as_str().or_else(|| v.get("value")?.as_str())
}

#[cfg(test)]
mod tests {
    use super::*;
    use serde_json::json;

    #[test]
    fn raising_needs_a_second_and_lowering_does_not() {
        let of = |field: &str, old: Value, new: Value| second_needed("unit", field, &old, &new);
        let plate = "nameplate.interrupting_amps";
        assert!(of(plate, json!(4000), json!(6000)).is_some());
        assert!(
            of(
                plate,
                json!({"value": 4000, "standing": "assumed"}),
                json!(4001)
            )
            .is_some()
        );
        assert!(of(plate, json!(4000), json!(3000)).is_none());
        assert!(of(plate, json!("unknown"), json!(3000)).is_none());
        assert!(of("unit", json!("7-1"), json!("7-2")).is_some());
        assert!(of("nameplate.pcb_ppm", json!(60), json!(40)).is_some());
        assert!(of("nameplate.pcb_ppm", json!(60), json!("unknown")).is_some());
        assert!(of("nameplate.pcb_ppm", json!(40), json!(60)).is_none());
        assert!(of("clears", json!([]), json!(["oil leak"])).is_some());
        assert!(of("finds", json!(["oil leak"]), Value::Null).is_some());
        assert!(of("available_fault.amps", json!(10), json!(20)).is_none());
        assert!(
            of(
                "elements",
                json!([{"element": "leads", "continuous_amps": 100}]),
                json!([{"element": "leads", "continuous_amps": 200}])
            )
            .is_some()
        );
    }
}
