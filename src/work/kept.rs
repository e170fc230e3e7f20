//! Checks that are kept: what was asked and answered, by which program and at
//! which operation of the register; and the same question put again later.

use serde::Serialize;
use serde_json::{Map, Value, json};

use super::check::{CheckReport, Typed, check_position, position_called};
use super::heads::{Expected, heads};
use super::{Failure, JSON_VERSION, Resolved};
use crate::calendar::{Date, Moment};
use crate::domain::asset::{KeptDoc, Kind, Record};
use crate::domain::change::{Change, Operation};
use crate::store::{Access, Head, Store, Stored, fresh_id};

/// A check that was made and kept.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct SavedReport {
    pub polecard: u32,
    /// By what it is asked again.
    pub stamp: String,
    /// The operation that keeps it.
    pub operation: String,
    /// Number of the last operation that it was judged by.
    pub register_operation: i64,
    /// Digest of that operation.
    pub chain_head: String,
    pub version: &'static str,
    pub check: CheckReport,
}

/// One thing that is not as it was.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Difference {
    /// `verdict`, `question`, `finding`, `input`, `choice`, `program`, `register`.
    pub of: &'static str,
    pub what: String,
    /// Null: it was not there then.
    pub then: Value,
    /// Null: it is not there now.
    pub now: Value,
}

/// The same question put again.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct AgainReport {
    pub polecard: u32,
    pub stamp: String,
    pub kept_at: Option<String>,
    pub kept_by: Option<String>,
    /// What was typed then.
    pub asked: Value,
    /// What became of the operation that it was judged at.
    pub chain: Vec<Expected>,
    /// Empty: it would be answered the same.
    pub differences: Vec<Difference>,
    pub check: CheckReport,
}

/// Checks a position and keeps the check, as one operation.
///
/// # Errors
/// Those of a check; when the register cannot be written, or others write
/// without a pause. Nothing is kept then.
pub fn save(
    store: &mut Store,
    text: &str,
    typed: &Typed,
    who: &str,
    now: Moment,
) -> Result<SavedReport, Failure> {
    for _ in 0..8 {
        // Judged by what holds today, not by what was entered for a later day.
        let mut today = Store::open(store.path(), Access::Read)?;
        today.hold_back(now.date())?;
        let head = today.head()?;
        let Resolved { stored, note } = position_called(&today, text)?;
        let mut check = check_position(&today, &stored, typed, now.date())?;
        check.notes.splice(0..0, note);
        let doc = document(&stored, typed, &check, &head, (who, now));
        let stamp = doc.kept.clone();
        let operation = Operation {
            id: fresh_id(now),
            who: who.to_string(),
            entered: now,
            effective: None,
            why: format!("check of {} kept as {stamp}", check.name),
            origin: None,
            undoes: None,
        };
        let mut writer = store.writer()?;
        if writer.tail()?.0 != head.seq {
            // Somebody wrote meanwhile: what was judged may have changed.
            continue;
        }
        writer.operation::<_, Failure>(&operation, [Ok(Change::Add(Record::Kept(doc)))])?;
        writer.commit()?;
        return Ok(SavedReport {
            polecard: JSON_VERSION,
            stamp,
            operation: operation.id.to_string(),
            register_operation: head.seq,
            chain_head: head.digest,
            version: env!("CARGO_PKG_VERSION"),
            check,
        });
    }
    Err(
        Failure::unusable("others write without a pause; the check was not kept")
            .hint("try again; nothing was changed"),
    )
}

/// The kept check as a record; its stamp is the day and the end of its id.
fn document(
    of: &Stored,
    typed: &Typed,
    check: &CheckReport,
    head: &Head,
    (who, now): (&str, Moment),
) -> KeptDoc {
    let id = fresh_id(now);
    let tail = id.to_string();
    let stamp = format!("{}-{}", now.date(), &tail[tail.len().saturating_sub(6)..]);
    let mut body = Map::new();
    for (key, value) in [
        ("of", json!(of.record.id().to_string())),
        ("at", json!(now.utc())),
        ("by", json!(who)),
        ("version", json!(env!("CARGO_PKG_VERSION"))),
        ("register_operation", json!(head.seq)),
        ("chain_head", json!(head.digest)),
        ("asked", held(typed)),
        ("check", held(check)),
    ] {
        body.insert(key.to_string(), value);
    }
    KeptDoc {
        kept: stamp,
        id,
        body,
    }
}

/// Judges what was kept under `stamp` as of `today`, and says what differs.
///
/// # Errors
/// Not found, when no check is kept under the stamp, or its position has left
/// the register; unusable, when what is kept cannot be read.
pub fn again(store: &Store, stamp: &str, today: Date) -> Result<AgainReport, Failure> {
    let doc = kept_under(store, stamp)?;
    let unreadable = |what: &str| {
        Failure::unusable(format!(
            "the kept check {} has no {what} that can be read",
            doc.kept
        ))
        .hint("make the check anew: polecard check ID")
    };
    let text = |key: &str| doc.body.get(key).and_then(Value::as_str);
    let asked = doc.body.get("asked").cloned().unwrap_or(Value::Null);
    let typed: Typed = serde_json::from_value(asked.clone()).map_err(|_| unreadable("question"))?;
    let then = doc.body.get("check").ok_or_else(|| unreadable("answer"))?;
    let of = text("of").ok_or_else(|| unreadable("position"))?;
    let called = then.get("name").and_then(Value::as_str).unwrap_or(of);
    let id = of.parse().map_err(|_| unreadable("position"))?;
    let stored = store.by_id(id)?.ok_or_else(|| {
        Failure::not_found(format!(
            "the position {called} of the kept check {} has left the register",
            doc.kept
        ))
        .hint(format!("polecard history {called} tells when"))
    })?;
    let check = check_position(store, &stored, &typed, today)?;
    let head = store.head()?;
    let number = doc.body.get("register_operation").and_then(Value::as_i64);
    let digest = text("chain_head").unwrap_or_default();
    let chain = match number {
        Some(seq) if !digest.is_empty() => {
            let mut all = heads(store, &[format!("{seq}:{digest}")], None)?;
            all.truncate(1);
            all
        }
        _ => Vec::new(),
    };
    let mut differences = compared(then, &held(&check));
    differences.extend(around(
        &doc,
        (&head, number),
        chain.iter().any(|c| !c.found),
    ));
    Ok(AgainReport {
        polecard: JSON_VERSION,
        stamp: doc.kept.clone(),
        kept_at: text("at").map(str::to_string),
        kept_by: text("by").map(str::to_string),
        asked,
        chain,
        differences,
        check,
    })
}

/// What differs around the answer: the program, and the register.
fn around(doc: &KeptDoc, (head, number): (&Head, Option<i64>), lost: bool) -> Vec<Difference> {
    let mut differences = Vec::new();
    let mut say = |of, what: &str, then: Value, now: Value| {
        if then != now {
            differences.push(Difference {
                of,
                what: what.to_string(),
                then,
                now,
            });
        }
    };
    let version = doc.body.get("version").cloned().unwrap_or(Value::Null);
    say(
        "program",
        "version",
        version,
        json!(env!("CARGO_PKG_VERSION")),
    );
    // The operation that keeps the check is itself one more.
    let since = number.map_or(head.seq, |n| n + 1);
    if since != head.seq || lost {
        say("register", "operation", json!(number), json!(head.seq));
        say(
            "register",
            "chain head",
            doc.body.get("chain_head").cloned().unwrap_or(Value::Null),
            json!(head.digest),
        );
    }
    differences
}

fn kept_under(store: &Store, stamp: &str) -> Result<KeptDoc, Failure> {
    let wanted = stamp.trim().to_ascii_uppercase();
    let mut kept: Vec<KeptDoc> = store
        .all(Kind::Kept)?
        .into_iter()
        .filter_map(|s| match s.record {
            Record::Kept(doc) => Some(doc),
            _ => None,
        })
        .collect();
    if let Some(at) = kept
        .iter()
        .position(|d| d.kept.to_ascii_uppercase() == wanted)
    {
        return Ok(kept.swap_remove(at));
    }
    kept.sort_by(|a, b| b.kept.cmp(&a.kept));
    let newest: Vec<&str> = kept.iter().take(5).map(|d| d.kept.as_str()).collect();
    let refused = Failure::not_found(format!("no check is kept under {}", stamp.trim()));
    Err(if newest.is_empty() {
        refused.hint("polecard check ID --save keeps one and prints its stamp")
    } else {
        refused.hint(format!("the latest kept: {}", newest.join(", ")))
    })
}

/// As JSON; what JSON cannot hold (an endless limit) becomes null, as it does
/// when it is printed.
fn held<T: Serialize>(what: &T) -> Value {
    serde_json::to_value(what).unwrap_or(Value::Null)
}

/// What two answers differ in: verdicts first, then figures, inputs, choices.
fn compared(then: &Value, now: &Value) -> Vec<Difference> {
    let mut out = Vec::new();
    for key in ["name", "class", "verdict", "as_bypassed"] {
        differ(&mut out, "verdict", key, then.get(key), now.get(key));
    }
    let answers = |v: &Value| v.get("questions").cloned().unwrap_or(Value::Null);
    let (old, new) = (answers(then), answers(now));
    for key in keys(&old, &new) {
        differ(&mut out, "question", &key, old.get(&key), new.get(&key));
    }
    lists(
        &mut out,
        ("finding", "findings"),
        (then, now),
        &["rule", "element", "slot", "path"],
    );
    lists(&mut out, ("input", "inputs"), (then, now), &["name"]);
    lists(&mut out, ("choice", "choices"), (then, now), &["name"]);
    out
}

fn keys(old: &Value, new: &Value) -> Vec<String> {
    let of = |v: &Value| -> Vec<String> {
        v.as_object()
            .map(|m| m.keys().cloned().collect())
            .unwrap_or_default()
    };
    let mut out = of(old);
    out.extend(of(new).into_iter().filter(|k| old.get(k).is_none()));
    out
}

fn differ(
    out: &mut Vec<Difference>,
    of: &'static str,
    what: &str,
    then: Option<&Value>,
    now: Option<&Value>,
) {
    let (then, now) = (then.unwrap_or(&Value::Null), now.unwrap_or(&Value::Null));
    if !same(then, now) {
        out.push(Difference {
            of,
            what: what.to_string(),
            then: then.clone(),
            now: now.clone(),
        });
    }
}

/// Equal, where a figure may have lost its last digit in being written.
fn same(a: &Value, b: &Value) -> bool {
    match (a.as_f64(), b.as_f64()) {
        (Some(x), Some(y)) => (x - y).abs() <= 1e-9 * x.abs().max(y.abs()),
        _ => a == b,
    }
}

/// Rows of a list, held against each other by what names them; several rows of
/// one name in their order.
fn lists(
    out: &mut Vec<Difference>,
    (of, list): (&'static str, &str),
    (then, now): (&Value, &Value),
    names: &[&str],
) {
    let rows = |v: &Value| -> Vec<(String, Value)> {
        let mut seen: Vec<(String, Value)> = Vec::new();
        for row in v.get(list).and_then(Value::as_array).into_iter().flatten() {
            let name: Vec<&str> = names
                .iter()
                .filter_map(|n| row.get(*n).and_then(Value::as_str))
                .collect();
            let name = name.join(", ");
            let before = seen
                .iter()
                .filter(|(n, _)| n.split(" #").next() == Some(&name))
                .count();
            let name = match before {
                0 => name,
                n => format!("{name} #{}", n + 1),
            };
            seen.push((name, row.clone()));
        }
        seen
    };
    let (old, new) = (rows(then), rows(now));
    let find = |rows: &[(String, Value)], name: &str| {
        rows.iter().find(|(n, _)| n == name).map(|(_, v)| v.clone())
    };
    for (name, was) in &old {
        let Some(is) = find(&new, name) else {
            differ(out, of, name, Some(was), None);
            continue;
        };
        for key in keys(was, &is) {
            // The sentence repeats the figures, and the margin follows from them.
            if names.contains(&key.as_str())
                || ["because", "margin_percent"].contains(&key.as_str())
            {
                continue;
            }
            differ(
                out,
                of,
                &format!("{name}: {key}"),
                was.get(&key),
                is.get(&key),
            );
        }
    }
    for (name, is) in &new {
        if find(&old, name).is_none() {
            differ(out, of, name, None, Some(is));
        }
    }
}
