//! Reading back what [`super::out`] wrote: each row is held against the form
//! of the record from which it was written, so that only cells that somebody
//! edited count; what has changed in the register meanwhile stays.

use std::collections::HashMap;

use serde_json::{Value, json};

use super::flat::{STATED, candidates, flat};
use super::merge::{Outcome, Stop};
use super::neutral::original;
use super::out::{ID, OPERATION};
use super::settle::{Contradiction, Take};
use super::{Because, Refused};
use crate::domain::asset::{Kind, Record, RecordId};
use crate::domain::change::{difference, put_at, value_at};
use crate::exchange::document::explain;
use crate::store::{Found, Look};

/// One row: its cells by heading.
pub(super) struct OwnRow<'r> {
    pub kind: Kind,
    pub cells: Vec<(&'r str, &'r str)>,
}

impl OwnRow<'_> {
    fn cell(&self, heading: &str) -> &str {
        let found = self.cells.iter().find(|(h, _)| *h == heading);
        found.map_or("", |(_, c)| original(c))
    }

    /// What names the row: its id, else its first cell.
    pub(super) fn key(&self) -> Result<String, Refused> {
        let id = self.cell(ID);
        if !id.is_empty() {
            return Ok(id.to_string());
        }
        let first = self.cells.first().map_or("", |(_, c)| *c);
        if first.is_empty() {
            return Err(Refused::new(
                Because::Blank,
                "neither an id nor a name says which record it is",
            ));
        }
        let rest: Vec<&str> = self.cells.iter().map(|(_, c)| *c).collect();
        Ok(match self.kind {
            Kind::Span | Kind::Entry => rest.join("\u{1f}"),
            _ => first.to_string(),
        })
    }
}

/// Decides on a row. Fields that somebody else changed since the row was
/// written are contradictions, decided by `take`.
pub(super) fn resolve_own(
    row: &OwnRow<'_>,
    ids: &mut RecordId,
    take: Option<Take>,
    look: &impl Look,
    met: &mut Vec<Contradiction>,
) -> Result<Outcome, Stop> {
    let id = match row.cell(ID) {
        "" => None,
        text => Some(
            text.parse::<RecordId>()
                .map_err(|why| Refused::new(Because::Value, format!("column {ID}: {why}")))?,
        ),
    };
    let found = match id {
        Some(id) => look.found(id)?,
        None => None,
    };
    if let Some(found) = found {
        if found.kind != row.kind {
            let why = format!("the id belongs to a {}, not to a {}", found.kind, row.kind);
            return Err(Refused::new(Because::Conflict, why).into());
        }
        return edited(row, &found, take, look, met);
    }
    let filled: Vec<(&str, &str)> = fields(row).filter(|(_, c)| !c.is_empty()).collect();
    let (value, _) = with_cells(row.kind, json!({}), &filled, None)?;
    let mut record = whole(row.kind, value)?;
    if id.is_none()
        && let Some(one) = look.found_named(row.kind, &record.name())?.first()
    {
        if row.kind != Kind::Entry {
            return edited(row, one, take, look, met);
        }
        record.set_id(one.id);
        if record.to_json() == one.body {
            return Ok(Outcome::Same);
        }
    }
    *ids = ids.next();
    record.set_id(id.unwrap_or(*ids));
    Ok(Outcome::Add(record))
}

fn fields<'r>(row: &'r OwnRow<'_>) -> impl Iterator<Item = (&'r str, &'r str)> {
    row.cells
        .iter()
        .filter(|(h, _)| *h != ID && *h != OPERATION)
        .map(|(h, c)| (*h, original(c)))
}

fn edited(
    row: &OwnRow<'_>,
    found: &Found,
    take: Option<Take>,
    look: &impl Look,
    met: &mut Vec<Contradiction>,
) -> Result<Outcome, Stop> {
    let damaged = |e: serde_json::Error| Refused::new(Because::Conflict, e.to_string());
    let now: Value = serde_json::from_str(&found.body).map_err(damaged)?;
    let base = match row.cell(OPERATION) {
        "" => None,
        operation => look.form_at(found.id, operation)?,
    };
    let base: Value = match base {
        Some(body) => serde_json::from_str(&body).map_err(damaged)?,
        None => now.clone(),
    };
    let was: HashMap<String, String> = flat(row.kind, &base).into_iter().collect();
    let changed: Vec<(&str, &str)> = fields(row)
        .filter(|(h, c)| !c.is_empty() && was.get(*h).map_or("", |w| w.trim()) != *c)
        .collect();
    if changed.is_empty() {
        return Ok(Outcome::Same);
    }
    let (new, roots) = with_cells(row.kind, now.clone(), &changed, Some(&was))?;
    let record = whole(row.kind, new)?;
    let old_name = Record::from_value(row.kind, now.clone()).map(|r| r.name());
    if row.kind != Kind::Entry && old_name.ok().as_ref() != Some(&record.name()) {
        return Err(Refused::new(
            Because::Conflict,
            "the name of a record is changed by `polecard edit`, which keeps the old one to find it by",
        )
        .into());
    }
    let mut new = record.to_value();
    for root in roots {
        let (have, want) = (value_at(&now, &root).clone(), value_at(&new, &root).clone());
        if have == *value_at(&base, &root) || have == want {
            continue;
        }
        let last = look.last_edit(found.id, &root)?;
        met.push(Contradiction::new(
            &record,
            &root,
            &have,
            &want,
            last.as_ref(),
        ));
        match take {
            Some(Take::File) => {}
            Some(Take::Record) => put_at(&mut new, &root, have),
            None => return Err(met[met.len() - 1].refusal().into()),
        }
    }
    let record = whole(row.kind, new)?;
    let edits = difference(found.id, row.kind, &now, &record.to_value());
    Ok(if edits.is_empty() {
        Outcome::Same
    } else {
        Outcome::Edit(record, edits)
    })
}

fn whole(kind: Kind, value: Value) -> Result<Record, Refused> {
    Record::from_value(kind, value)
        .map_err(|e| Refused::new(Because::Value, explain(&e.to_string())))
}

/// A value with cells put into it, and the fields they belong to.
fn with_cells(
    kind: Kind,
    mut value: Value,
    cells: &[(&str, &str)],
    was: Option<&HashMap<String, String>>,
) -> Result<(Value, Vec<String>), Refused> {
    let mut roots: Vec<String> = Vec::new();
    let mut stated: Vec<(&str, &str, &str)> = Vec::new();
    for (heading, cell) in cells {
        let part = STATED
            .iter()
            .find_map(|p| heading.strip_suffix(p)?.strip_suffix('.').map(|h| (h, *p)))
            .filter(|(h, _)| is_stated(kind, h));
        match part {
            Some((root, part)) => stated.push((root, part, cell)),
            None => {
                let mut candidate = |v: &Value| placed(kind, &value, heading, v);
                let options = candidates(cell, figure(value_at(&value, heading)), heading);
                value = first_fit(&options, &mut candidate).map_err(|why| {
                    Refused::new(Because::Value, format!("column {heading}: {why}"))
                })?;
            }
        }
        let root = part.map_or(*heading, |(root, _)| root);
        if !roots.iter().any(|r| r == root) {
            roots.push(root.to_string());
        }
    }
    for (root, part, cell) in stated {
        let old = value_at(&value, root).clone();
        let mut map = match old {
            Value::Object(map) => map,
            Value::Null => serde_json::Map::new(),
            bare if bare == "unknown" => serde_json::Map::new(),
            bare => serde_json::Map::from_iter([("value".to_string(), bare)]),
        };
        match (part, cell) {
            ("standing", "known") => drop(map.shift_remove("standing")),
            ("standing", "unknown") => {
                map.retain(|_, _| false);
                map.insert("standing".into(), "unknown".into());
            }
            (part, cell) => drop(map.insert(part.to_string(), cell.into())),
        }
        put_at(&mut value, root, Value::Object(map));
    }
    still_unknown(&roots, cells, was)?;
    Ok((value, roots))
}

/// A figure typed over an unknown one must say how it is known.
fn still_unknown(
    roots: &[String],
    cells: &[(&str, &str)],
    was: Option<&HashMap<String, String>>,
) -> Result<(), Refused> {
    for root in roots {
        let standing = format!("{root}.standing");
        let typed = cells.iter().any(|(h, c)| h == root && *c != "unknown");
        let said = cells.iter().any(|(h, _)| *h == standing);
        let unknown = was.is_some_and(|w| w.get(&standing).is_some_and(|s| s == "unknown"));
        if typed && unknown && !said {
            return Err(Refused::new(
                Because::Value,
                format!(
                    "column {root} has a value now and {standing} still says unknown; write known and who read it (by, on, from), or assumed and the rule"
                ),
            ));
        }
    }
    Ok(())
}

/// Whether a field of a kind takes a stated value.
fn is_stated(kind: Kind, path: &str) -> bool {
    let mut probe = json!({});
    put_at(&mut probe, path, json!({"standing": "?"}));
    Record::from_value(kind, probe).is_err_and(|e| e.to_string().contains("unknown variant"))
}

fn figure(value: &Value) -> &Value {
    value.get("value").unwrap_or(value)
}

/// The value with one more field; what is missing yet is no fault of it.
fn placed(kind: Kind, value: &Value, path: &str, new: &Value) -> Result<Value, String> {
    let mut tried = value.clone();
    match value_at(value, path) {
        // Who read it is said by the columns beside.
        Value::Object(old) if old.contains_key("value") || old.contains_key("standing") => {
            let mut map = old.clone();
            map.shift_insert(0, "value".to_string(), new.clone());
            if map.get("standing").is_some_and(|s| s == "unknown") {
                map.shift_remove("standing");
            }
            put_at(&mut tried, path, Value::Object(map));
        }
        _ => put_at(&mut tried, path, new.clone()),
    }
    match Record::from_value(kind, tried.clone()) {
        Err(e) if !e.to_string().contains("missing field") => Err(explain(&e.to_string())),
        _ => Ok(tried),
    }
}

fn first_fit(
    options: &[Value],
    placed: &mut impl FnMut(&Value) -> Result<Value, String>,
) -> Result<Value, String> {
    let mut why = String::new();
    for option in options {
        match placed(option) {
            Ok(value) => return Ok(value),
            Err(e) if why.is_empty() => why = e,
            Err(_) => {}
        }
    }
    Err(why)
}
