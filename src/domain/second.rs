//! Which edits one person alone does not make: those that turn a no into a yes.

use serde_json::Value;

use super::asset::Record;

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
/// The year in which the PCB class assumed of an untested unit turns
/// (40 CFR 761.2: 2 July 1979).
const PCB_YEAR: f64 = 1979.0;
const PCB_DAY: &str = "1979-07-02";
/// Keys by which one item of a list is told from another; its place in the
/// list says nothing.
const IDENTITY: &[&str] = &["element", "label", "slot", "at", "text", "what", "holder"];

/// Why adding a record to a register that is in use needs a second person.
#[must_use]
pub fn second_needed_to_add(record: &Record) -> Option<String> {
    match record {
        Record::Entry(e) if !e.clears.is_empty() => Some("it clears a defect".to_string()),
        _ => None,
    }
}

/// Why taking a record away needs a second person.
#[must_use]
pub fn second_needed_to_remove(record: &Record) -> Option<String> {
    match record {
        Record::Entry(e) if !e.finds.is_empty() => Some("it clears a defect".to_string()),
        _ => None,
    }
}

/// [`second_needed_since`], where what the record itself says counts too: an
/// entry that finds a defect and is given to another record clears it of the
/// first.
#[must_use]
pub fn second_needed_of(
    before: &Record,
    field: &str,
    earlier: &[&Value],
    new: &Value,
) -> Option<String> {
    if let ("on", Record::Entry(e)) = (field, before)
        && !(e.finds.is_empty() && e.clears.is_empty())
    {
        return Some("a defect that was found or cleared gets another day".to_string());
    }
    let of_notice = matches!(before, Record::Notice(_))
        && ["until", "from", "bears_like", "hits"]
            .contains(&field.split('.').next().unwrap_or(field));
    if of_notice && earlier.first().is_some_and(|now| !now.is_null()) {
        return Some("it changes what a hazard notice hits, or until when".to_string());
    }
    if field == "of"
        && earlier.first().is_some_and(|now| *now != new)
        && second_needed_to_remove(before).is_some()
    {
        return Some("it clears a defect of what it was found on".to_string());
    }
    second_needed_since(before.kind().word(), field, earlier, new)
}

/// Whether what a field was before its present value can bear on whether a
/// second person is needed: only figures and days are held against those.
#[must_use]
pub fn past_bears(field: &str, new: &Value) -> bool {
    let key = field.rsplit('.').next().unwrap_or(field);
    let key = if key == "value" {
        field.rsplit('.').nth(1).unwrap_or(key)
    } else {
        key
    };
    match new {
        Value::Object(map) => map
            .iter()
            .any(|(k, v)| past_bears(if k == "value" { key } else { k }, v)),
        Value::Array(items) => items.iter().any(|v| past_bears(key, v)),
        Value::Number(_) | Value::String(_) => {
            matches!(key, "made_year" | "made_on" | "pcb_ppm" | "oil_gallons") || rates(key)
        }
        _ => false,
    }
}

/// [`second_needed_since`] against one earlier value.
#[must_use]
pub fn second_needed(name_key: &str, field: &str, old: &Value, new: &Value) -> Option<String> {
    second_needed_since(name_key, field, &[old], new)
}

/// Why an edit of `field` to `new` needs a second person; `None` when it does
/// not. `earlier` holds what the field was, the present value first and the
/// oldest last: a rating is held against the last one that was known, so that
/// a raise in two edits, by way of unknown, is a raise. `name_key` is the key
/// under which the record is called. The list of reasons is the utility's
/// practice; common practice, no source.
#[must_use]
pub fn second_needed_since(
    name_key: &str,
    field: &str,
    earlier: &[&Value],
    new: &Value,
) -> Option<String> {
    const NONE: &Value = &Value::Null;
    // A figure edited inside its statement is that statement's figure.
    let field = field.strip_suffix(".value").unwrap_or(field);
    let now = earlier.first().copied().unwrap_or(NONE);
    if field == "class" && name_key == "unit" && now != new {
        return Some("it changes what the unit is judged as".to_string());
    }
    if field == name_key {
        return (now != new).then(|| "it changes what the record is called".to_string());
    }
    if field == "clears" && grew(now, new) || field == "finds" && grew(new, now) {
        return Some("it clears a defect".to_string());
    }
    // What a source gives is no rating: more of it makes no question easier.
    if name_key == "source" || NO_RATINGS.iter().any(|n| field.split('.').any(|k| k == *n)) {
        return None;
    }
    walk(field, earlier, new)
}

/// Whether a year or a day of make is on record.
fn dates_oil(v: &Value) -> bool {
    number(v).is_some() || word(v).is_some_and(|w| w != "unknown")
}

/// Whether two statements have other figures and the same reader, day and means.
#[must_use]
pub fn same_reader(now: &Value, new: &Value) -> bool {
    let same = |k: &str| now.get(k) == new.get(k);
    now.get("value").is_some()
        && !same("value")
        && ["on", "from"].iter().any(|k| now.get(k).is_some())
        && ["by", "on", "from"].iter().all(|k| same(k))
}

/// Whether `new` holds an item that `old` lacks.
fn grew(old: &Value, new: &Value) -> bool {
    let items = |v: &Value| v.as_array().cloned().unwrap_or_default();
    let before = items(old);
    items(new).iter().any(|i| !before.contains(i))
}

fn walk(path: &str, earlier: &[&Value], new: &Value) -> Option<String> {
    let key = path.rsplit('.').next().unwrap_or(path);
    let now = earlier.first().copied();
    if NO_RATINGS.contains(&key) || now == Some(new) {
        return None;
    }
    if let (Some(was), Some(figure)) = (earlier.iter().find_map(|v| number(v)), number(new)) {
        if key == "made_year" && was < PCB_YEAR && figure >= PCB_YEAR {
            return Some("a later year of make lowers the PCB class that is assumed".to_string());
        }
        if key == "pcb_ppm" && figure < was {
            return Some("it lowers the PCB content".to_string());
        }
        if key == "oil_gallons" && figure < was {
            return Some("less oil can lower the PCB class that is assumed".to_string());
        }
        if rates(key) && figure > was {
            return Some(format!("it raises a rating ({key})"));
        }
        return None;
    }
    let becomes = |said: &str| word(new) == Some(said) && now.and_then(word) != Some(said);
    match key {
        "pcb_ppm" if now.and_then(number).is_some() => {
            return Some("it takes back a PCB content".to_string());
        }
        "made_on"
            if word(new).is_some_and(|new| new >= PCB_DAY)
                && earlier
                    .iter()
                    .find_map(|v| word(v))
                    .is_some_and(|was| was < PCB_DAY) =>
        {
            return Some("a later day of make lowers the PCB class that is assumed".to_string());
        }
        "pcb_ppm" if number(new).is_some() => {
            return Some("it gives a PCB content where none was on record".to_string());
        }
        "made_year" | "made_on" if now.is_some_and(dates_oil) && !dates_oil(new) => {
            return Some("it takes back the age that the PCB class is assumed by".to_string());
        }
        "pcb_label" if becomes("no PCBs") => {
            return Some("it lowers the PCB class".to_string());
        }
        "opens_load" if becomes("yes") => {
            return Some("it says that the element opens load".to_string());
        }
        _ => {}
    }
    below(path, earlier, new)
}

fn below(path: &str, earlier: &[&Value], new: &Value) -> Option<String> {
    const NONE: &Value = &Value::Null;
    match (earlier.first(), new) {
        (_, Value::Array(items)) => {
            let lists: Vec<&[Value]> = earlier
                .iter()
                .filter_map(|v| v.as_array().map(Vec::as_slice))
                .collect();
            in_list(path, &lists, items)
        }
        (Some(Value::Object(_)), Value::Null) | (_, Value::Object(_)) => {
            let keys = |v: &Value| {
                v.as_object()
                    .map(|m| m.keys().cloned().collect::<Vec<_>>())
                    .unwrap_or_default()
            };
            let mut all = keys(new);
            all.extend(earlier.first().map(|v| keys(v)).unwrap_or_default());
            all.dedup();
            all.iter().find_map(|k| {
                let was: Vec<&Value> = earlier.iter().map(|e| e.get(k).unwrap_or(NONE)).collect();
                walk(&format!("{path}.{k}"), &was, new.get(k).unwrap_or(NONE))
            })
        }
        _ => None,
    }
}

/// Each item of a list against the one of the same identity in the earlier
/// lists; one that has none, against those of its sort that have left.
fn in_list(path: &str, lists: &[&[Value]], items: &[Value]) -> Option<String> {
    items.iter().enumerate().find_map(|(n, item)| {
        let nth = |list: &[Value], n: usize| {
            list[..n.min(list.len())]
                .iter()
                .filter(|o| same(o, item))
                .count()
        };
        let before = nth(items, n);
        let mut was: Vec<&Value> = lists
            .iter()
            .filter_map(|list| list.iter().filter(|o| same(o, item)).nth(before))
            .collect();
        if was.is_empty()
            && let Some(now) = lists.first()
        {
            let sort = |v: &Value| v.get("element").cloned();
            was = now
                .iter()
                .filter(|o| sort(o) == sort(item) && !items.iter().any(|i| same(i, o)))
                .collect();
        }
        if was.is_empty() {
            return None;
        }
        walk(path, &was, item)
    })
}

fn same(a: &Value, b: &Value) -> bool {
    a.is_object() && b.is_object() && IDENTITY.iter().all(|k| a.get(*k) == b.get(*k))
}

/// Whether a key holds a rating: `amps`, `kva`, `interrupting_amps`.
fn rates(key: &str) -> bool {
    RATINGS
        .iter()
        .any(|r| key.ends_with(r) || key == r.trim_start_matches('_'))
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
        assert!(of("nameplate.made_year", json!(1973), json!(1985)).is_some());
        assert!(of("nameplate.made_year", json!(1985), json!(1973)).is_none());
        let day = |d: &str| json!({"value": d, "by": "hb"});
        assert!(of("nameplate.made_on", day("1979-07-01"), day("1979-07-03")).is_some());
        assert!(of("nameplate.made_on", day("1980-01-01"), day("1979-07-01")).is_none());
        assert!(of("nameplate", json!({"pcb_ppm": 60}), json!({"kva": 10})).is_some());
        assert!(of("nameplate", json!({"pcb_ppm": 60}), Value::Null).is_some());
        assert!(of("clears", json!([]), json!(["oil leak"])).is_some());
        assert!(of("finds", json!(["oil leak"]), Value::Null).is_some());
        assert!(of("available_fault.amps", json!(10), json!(20)).is_none());
        assert!(of("nameplate.kva", json!(25), json!(50)).is_some());
        assert!(second_needed("source", "fault_mva", &json!(50), &json!(110)).is_none());
        assert!(
            of(
                "elements",
                json!([{"element": "leads", "continuous_amps": 100}]),
                json!([{"element": "leads", "continuous_amps": 200}])
            )
            .is_some()
        );
    }

    #[test]
    fn a_statement_edited_inside_is_held_against_what_it_said() {
        let of = |field: &str, old: Value, new: Value| second_needed("unit", field, &old, &new);
        let plate = "nameplate.interrupting_amps";
        assert!(of(&format!("{plate}.value"), json!(4000), json!(8000)).is_some());
        let read = |v: u32| json!({"value": v, "by": "hb", "on": "2018-06-04", "from": "plate"});
        assert!(same_reader(&read(4000), &read(3000)));
        let anew = json!({"value": 3000, "by": "mk", "on": "2026-10-01", "from": "plate"});
        assert!(!same_reader(&read(4000), &anew));
        assert!(of(plate, read(4000), anew).is_none());
    }

    #[test]
    fn what_lowers_a_pcb_class_by_another_way_needs_a_second() {
        let of = |field: &str, old: Value, new: Value| second_needed("unit", field, &old, &new);
        assert!(of("class", json!("regulator"), json!("recloser")).is_some());
        assert!(of("nameplate.made_year", json!(1976), Value::Null).is_some());
        assert!(of("nameplate.pcb_ppm", Value::Null, json!(5)).is_some());
        assert!(of("nameplate.oil_gallons", json!(20), json!(0.2)).is_some());
        assert!(of("nameplate.oil_gallons", json!(2), json!(20)).is_none());
    }

    #[test]
    fn a_raise_by_way_of_unknown_is_a_raise() {
        let (unknown, was) = (json!("unknown"), json!({"value": 4000, "by": "hb"}));
        let earlier = [&unknown, &was];
        let of = |new: Value| {
            second_needed_since("unit", "nameplate.interrupting_amps", &earlier, &new).is_some()
        };
        assert!(of(json!(4100)));
        assert!(!of(json!(4000)));
        assert!(!of(json!(3900)));
        let gone = Value::Null;
        let list = json!([{"element": "lead", "label": "source side", "amps": 200}]);
        let more = json!([{"element": "lead", "label": "source side", "amps": 400}]);
        assert!(second_needed_since("position", "elements", &[&gone, &list], &more).is_some());
        assert!(second_needed_since("position", "elements", &[&gone, &list], &list).is_none());
    }

    #[test]
    fn items_of_a_list_are_told_apart_by_what_they_are() {
        let of = |old: Value, new: Value| second_needed("position", "elements", &old, &new);
        let (lead, clamp) = (
            json!({"element": "lead", "amps": 400}),
            json!({"element": "clamp", "amps": 200}),
        );
        // The order of a list is no change, and what is put before is none.
        assert!(of(json!([lead, clamp]), json!([clamp, lead])).is_none());
        assert!(of(json!([clamp]), json!([lead, clamp])).is_none());
        // A raise behind another item is found, and so is one under a new label.
        assert!(
            of(
                json!([clamp, lead]),
                json!([{"element": "lead", "amps": 400}, {"element": "clamp", "amps": 300}])
            )
            .is_some()
        );
        assert!(
            of(
                json!([clamp]),
                json!([{"element": "clamp", "label": "new", "amps": 300}])
            )
            .is_some()
        );
        let slots = json!([{"element": "link", "slot": "A", "amps": 40}, {"element": "link", "slot": "B", "amps": 65}]);
        let turned = json!([{"element": "link", "slot": "B", "amps": 65}, {"element": "link", "slot": "A", "amps": 65}]);
        assert!(of(slots.clone(), slots.clone()).is_none());
        assert!(of(slots, turned).is_some());
    }
}
