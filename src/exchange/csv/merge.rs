//! What a draft means for the register: a new record, edits of one that is
//! there, or nothing.
//!
//! A blank cell never erases; an assumed value never covers one that was read;
//! a bare value never covers one that names its reader, unless it says the
//! same.

use serde_json::Value;

use super::bind::{Bound, name_paths};
use super::settle::{Contradiction, Take, covered};
use super::shape::Draft;
use super::{Because, Refused};
use crate::calendar::Date;
use crate::domain::asset::{Kind, Record, RecordId};
use crate::domain::change::{Edit, difference, put_at, value_at};
use crate::exchange::document::explain;
use crate::store::{Found, Look, StoreError};

/// Why a row goes no further.
#[derive(Debug)]
pub(super) enum Stop {
    Refuse(Refused),
    Fail(StoreError),
}

impl From<Refused> for Stop {
    fn from(r: Refused) -> Self {
        Stop::Refuse(r)
    }
}

impl From<StoreError> for Stop {
    fn from(e: StoreError) -> Self {
        Stop::Fail(e)
    }
}

/// How rows fare that a newer correction contradicts.
pub(super) struct Newer<'m> {
    pub dated: Option<Date>,
    pub take: Option<Take>,
    /// The contradictions that were met.
    pub met: &'m mut Vec<Contradiction>,
}

/// What is to be done for one draft.
#[derive(Debug)]
pub(super) enum Outcome {
    Add(Record),
    Edit(Record, Vec<Edit>),
    Same,
}

/// The name under which a draft is looked for.
pub(super) fn name_of(draft: &Draft) -> Result<String, Refused> {
    let text = |path: &str| {
        draft
            .given
            .iter()
            .find(|(p, _)| p == path)
            .and_then(|(_, v)| v.as_str())
    };
    let needed = |path: &str| {
        text(path).ok_or_else(|| {
            Refused::new(
                Because::Blank,
                format!(
                    "nothing says the {path} of a {}; it names the record",
                    draft.kind
                ),
            )
        })
    };
    match draft.kind {
        Kind::Span => {
            let end = |path: &str, terminal: &str| {
                Ok::<_, Refused>(match text(terminal) {
                    Some(t) => format!("{} {t}", needed(path)?),
                    None => needed(path)?.to_string(),
                })
            };
            Ok(format!(
                "{} to {}",
                end("span.from", "from_terminal")?,
                end("span.to", "to_terminal")?
            ))
        }
        Kind::Entry => Ok(format!(
            "{} {} {}",
            needed("of")?,
            needed("entry")?,
            text("on").unwrap_or("undated")
        )),
        kind => Ok(needed(name_paths(kind)[0])?.to_string()),
    }
}

/// Decides on a draft. `ids` gives a new record its id; a kind of which the
/// register held nothing needs no looking (`fresh`).
pub(super) fn resolve(
    bound: &Bound<'_>,
    draft: &Draft,
    name: &str,
    (ids, fresh): (&mut RecordId, bool),
    newer: &mut Newer<'_>,
    look: &impl Look,
) -> Result<Outcome, Stop> {
    let mut found = if fresh {
        Vec::new()
    } else {
        look.found_named(draft.kind, name)?
    };
    if draft.kind == Kind::Entry {
        // A history only grows: an entry that says all this already is it.
        let same = found.iter().any(|f| says_all(f, draft));
        return if same {
            Ok(Outcome::Same)
        } else {
            Ok(Outcome::Add(new_record(bound, draft, ids)?))
        };
    }
    match (found.pop(), found.len()) {
        (None, _) => Ok(Outcome::Add(new_record(bound, draft, ids)?)),
        (Some(one), 0) => changed(bound, draft, &one, newer, look),
        (Some(_), more) => Err(Refused::new(
            Because::Conflict,
            format!(
                "{} records of the register are called {} {name}; rename all but one first",
                more + 1,
                draft.kind
            ),
        )
        .into()),
    }
}

fn says_all(found: &Found, draft: &Draft) -> bool {
    serde_json::from_str::<Value>(&found.body).is_ok_and(|old| {
        draft
            .given
            .iter()
            .all(|(path, new)| holds(value_at(&old, path), new))
    })
}

fn new_record(bound: &Bound<'_>, draft: &Draft, ids: &mut RecordId) -> Result<Record, Refused> {
    let mut value = Value::Object(serde_json::Map::new());
    for (path, v) in draft.given.iter().chain(&draft.if_new) {
        put_at(&mut value, path, v.clone());
    }
    let mut record = Record::from_value(draft.kind, value)
        .map_err(|e| refuse_form(bound, draft, &e.to_string()))?;
    *ids = ids.next();
    record.set_id(*ids);
    Ok(record)
}

fn changed(
    bound: &Bound<'_>,
    draft: &Draft,
    found: &Found,
    newer: &mut Newer<'_>,
    look: &impl Look,
) -> Result<Outcome, Stop> {
    let damaged = |e: serde_json::Error| Refused::new(Because::Conflict, e.to_string());
    let old: Value = serde_json::from_str(&found.body).map_err(damaged)?;
    let mut new = old.clone();
    for (path, given) in &draft.given {
        let settled = match (settle(path, value_at(&old, path), given), newer.take) {
            (Ok(settled), _) => settled,
            (Err(_), Some(Take::Record)) => None,
            (Err(_), Some(Take::File)) if !given.is_array() => Some(given.clone()),
            (Err(why), _) => {
                return Err(Refused::new(Because::Conflict, format!("{path}: {why}")).into());
            }
        };
        if let Some(value) = settled {
            put_at(&mut new, path, value);
        }
    }
    if new == old {
        return Ok(Outcome::Same);
    }
    let record = Record::from_value(draft.kind, new)
        .map_err(|e| refuse_form(bound, draft, &e.to_string()))?;
    let mut edits = difference(found.id, draft.kind, &old, &record.to_value());
    let covered = covered(&record, found.id, &edits, newer.dated, look)?;
    let first = covered.first().map(super::settle::Contradiction::refusal);
    let fields: Vec<String> = covered.iter().map(|c| c.field.clone()).collect();
    newer.met.extend(covered);
    let mut record = record;
    match (first, newer.take) {
        (None, _) | (_, Some(Take::File)) => {}
        (Some(refusal), None) => return Err(refusal.into()),
        (_, Some(Take::Record)) => {
            edits.retain(|e| !fields.contains(&e.field));
            let mut kept = record.to_value();
            for field in &fields {
                put_at(&mut kept, field, value_at(&old, field).clone());
            }
            record = Record::from_value(draft.kind, kept)
                .map_err(|e| refuse_form(bound, draft, &e.to_string()))?;
        }
    }
    Ok(if edits.is_empty() {
        Outcome::Same
    } else {
        Outcome::Edit(record, edits)
    })
}

/// Says which column a record's reader complains of.
fn refuse_form(bound: &Bound<'_>, draft: &Draft, error: &str) -> Refused {
    if let Some(field) = error.split("missing field `").nth(1) {
        let field = field.split('`').next().unwrap_or(field);
        let column = draft
            .given
            .iter()
            .map(|(p, _)| p.as_str())
            .chain([field])
            .find(|p| p.rsplit('.').next() == Some(field))
            .and_then(|p| bound.column_of(draft.kind, p));
        let where_from = column.map_or("the map does not say it".to_string(), |c| {
            format!("column {c} is blank")
        });
        return Refused::new(
            Because::Blank,
            format!("a new {} needs its {field}: {where_from}", draft.kind),
        );
    }
    for (path, value) in &draft.given {
        let mut alone = Value::Object(serde_json::Map::new());
        put_at(&mut alone, path, value.clone());
        let Err(e) = Record::from_value(draft.kind, alone) else {
            continue;
        };
        let said = e.to_string();
        if !said.contains("missing field") {
            let place = bound
                .column_of(draft.kind, path)
                .map_or(path.clone(), |c| format!("column {c}"));
            return Refused::new(Because::Value, format!("{place}: {}", explain(&said)));
        }
    }
    Refused::new(Because::Value, explain(error))
}

/// The value to write over `old`; none when `old` stays.
fn settle(path: &str, old: &Value, new: &Value) -> Result<Option<Value>, String> {
    if old.is_null() {
        return Ok(Some(new.clone()));
    }
    if same(old, new) {
        return Ok(None);
    }
    if let (Value::Array(have), Value::Array(items)) = (old, new) {
        return with_items(path, have, items);
    }
    let is_stated = |v: &Value| v.get("value").is_some() || v.get("standing").is_some();
    if !(is_stated(old) || is_stated(new)) {
        return Ok(Some(new.clone()));
    }
    let (was, now) = (Claim::of(old), Claim::of(new));
    if was.known && !now.known {
        return Ok(None);
    }
    if was.known && was.vouched && !now.vouched {
        return if same(was.value, now.value) {
            Ok(None)
        } else {
            Err(format!(
                "the register holds {} with its reader ({old}), the row says {} without one; \
                 decide, and write who read it in the map or edit the record",
                was.value, now.value
            ))
        };
    }
    if was.on > now.on && !same(was.value, now.value) {
        return Err(format!(
            "the register holds a later reading ({old}) than the row ({new})"
        ));
    }
    Ok(Some(new.clone()))
}

/// A stated value taken apart.
struct Claim<'v> {
    value: &'v Value,
    known: bool,
    vouched: bool,
    on: Option<&'v str>,
}

impl<'v> Claim<'v> {
    fn of(v: &'v Value) -> Claim<'v> {
        let Some(map) = v.as_object() else {
            return Claim {
                value: v,
                known: v.as_str() != Some("unknown"),
                vouched: false,
                on: None,
            };
        };
        Claim {
            value: map.get("value").unwrap_or(&Value::Null),
            known: !map.contains_key("standing"),
            vouched: ["by", "on", "from"].iter().any(|k| map.contains_key(*k)),
            on: map.get("on").and_then(Value::as_str),
        }
    }
}

/// Adds to a list what it does not hold yet; two items that speak of one thing
/// and do not contradict each other become one.
fn with_items(path: &str, have: &[Value], items: &[Value]) -> Result<Option<Value>, String> {
    let stay = path == "deployments";
    // A stay that has ended is never the stay that a row calls open.
    let alike = |a: &Value, b: &Value| !stay || a.get("to").is_none() == b.get("to").is_none();
    let mut out = have.to_vec();
    for item in items {
        if out.iter().any(|o| alike(o, item) && holds(o, item)) {
            continue;
        }
        if let Some(one) = out.iter_mut().find(|o| alike(o, item) && agree(o, item)) {
            fill(one, item);
            continue;
        }
        let open = |v: &Value| v.get("to").is_none();
        if stay
            && open(item)
            && let Some(other) = out.iter().find(|o| open(o))
        {
            return Err(format!(
                "the register has the unit at {} since {}, the row at {}; end one stay first",
                other["at"].as_str().unwrap_or("a place unknown"),
                other["from"].as_str().unwrap_or("a day unknown"),
                item["at"].as_str().unwrap_or("a place unknown"),
            ));
        }
        out.push(item.clone());
    }
    Ok((out != have).then_some(Value::Array(out)))
}

/// Whether `whole` says everything that `part` says.
fn holds(whole: &Value, part: &Value) -> bool {
    match (whole, part) {
        (Value::Object(w), Value::Object(p)) => p
            .iter()
            .all(|(k, v)| w.get(k).is_some_and(|have| holds(have, v))),
        _ => same(whole, part),
    }
}

/// Whether two items speak of one thing and agree in all that both say.
fn agree(a: &Value, b: &Value) -> bool {
    let (Some(a), Some(b)) = (a.as_object(), b.as_object()) else {
        return false;
    };
    let both = |k: &&str| a.contains_key(*k) && b.contains_key(*k);
    ["at", "text", "who", "what", "element"].iter().any(both)
        && a.iter().all(|(k, v)| b.get(k).is_none_or(|w| same(v, w)))
}

fn fill(one: &mut Value, from: &Value) {
    if let (Some(one), Some(from)) = (one.as_object_mut(), from.as_object()) {
        for (k, v) in from {
            one.entry(k.clone()).or_insert_with(|| v.clone());
        }
    }
}

/// Equal, where a number read back from text may differ in its last place.
fn same(a: &Value, b: &Value) -> bool {
    match (a.as_f64(), b.as_f64()) {
        (Some(x), Some(y)) => (x - y).abs() <= 1e-14 * x.abs().max(y.abs()),
        _ => a == b,
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use serde_json::json;

    fn settled(old: Value, new: Value) -> Result<Option<Value>, String> {
        settle("nameplate.kva", &old, &new)
    }

    #[test]
    fn what_was_read_outranks_what_was_assumed() {
        let assumed = json!({"value": 50, "standing": "assumed", "rule": "old sheet"});
        let read = json!({"value": 25, "by": "hb", "from": "plate"});
        assert_eq!(settled(read.clone(), assumed.clone()), Ok(None));
        assert_eq!(settled(json!(25), assumed.clone()), Ok(None));
        assert_eq!(settled(assumed.clone(), json!(25)), Ok(Some(json!(25))));
        assert_eq!(
            settled(json!("unknown"), assumed.clone()),
            Ok(Some(assumed))
        );
        assert_eq!(settled(read.clone(), json!(25)), Ok(None));
        assert!(settled(read, json!(50)).is_err());
        let later = json!({"value": 25, "on": "2025-01-01"});
        assert!(settled(later, json!({"value": 50, "on": "2024-01-01"})).is_err());
    }

    #[test]
    fn lists_grow_and_items_grow_fuller() {
        let add = |old: Value, new: Value| settle("deployments", &old, &new);
        let full = json!([{"at": "P1", "slot": "A", "from": "2012-01-02"}]);
        assert_eq!(add(full.clone(), json!([{"at": "P1"}])), Ok(None));
        assert_eq!(
            add(json!([{"at": "P1"}]), full.clone()),
            Ok(Some(full.clone()))
        );
        assert!(
            add(full.clone(), json!([{"at": "P2"}]))
                .unwrap_err()
                .contains("end one stay")
        );
        assert_eq!(
            add(
                json!([{"at": "P1", "slot": "A"}]),
                json!([{"at": "P1", "from": "2012-01-02"}])
            ),
            Ok(Some(full))
        );
        let ended = json!([{"at": "P1", "to": "2015-01-01"}]);
        let both = json!([{"at": "P1", "to": "2015-01-01"}, {"at": "P1"}]);
        assert_eq!(add(ended, json!([{"at": "P1"}])), Ok(Some(both)));
    }
}
