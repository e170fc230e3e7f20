//! Entries, record changes and orders of a record, newest first.

use super::super::facts::{means, pointing_at};
use super::super::history::units_ever;
use super::super::swap::stay_words;
use super::{HistoryLine, OrderLine};
use crate::calendar::{Date, Moment};
use crate::domain::asset::{Deployment, Entry, Order, OrderState, Priority, Record, Rel};
use crate::domain::change::{Edit, difference};
use crate::domain::code::fold;
use crate::domain::form::{Form, form_of_record};
use crate::exchange::Forms;
use crate::store::{Store, StoreError, Stored, Touched};

/// How many operations of a record are read.
const CHANGES: usize = 50;
/// Edits of one operation that are spelled out.
const SPELLED: usize = 4;
/// Longest value that is spelled out, in characters.
const LONGEST: usize = 40;

/// What is written about a record under any of its names.
pub(super) fn about(store: &Store, stored: &Stored) -> Result<Vec<Record>, StoreError> {
    let mut out = Vec::new();
    for found in pointing_at(store, Rel::About, stored)? {
        let of = match &found.record {
            Record::Entry(e) => e.of.clone(),
            Record::Order(o) => o.of.clone(),
            _ => continue,
        };
        if means(store, &of, stored.rec)? {
            out.push(found.record);
        }
    }
    Ok(out)
}

/// The history of several records together.
pub(super) fn history(store: &Store, of: &[&Stored]) -> Result<Vec<HistoryLine>, StoreError> {
    let mut out = Vec::new();
    let forms = Forms::of(store)?;
    for stored in of {
        let form = forms.form(form_of_record(&stored.record));
        for record in about(store, stored)? {
            match record {
                Record::Entry(e) => out.push(entry_line(&e, &form)),
                Record::Order(o) if closed(&o) => out.push(done_line(&o)),
                _ => {}
            }
        }
    }
    if let Some(first) = of.first() {
        let name = first.record.name();
        for touched in store.touched(first.rec, CHANGES)? {
            out.push(change_line(&name, &touched));
        }
    }
    if let Some(first) = of.first() {
        for unit in units_ever(store, first)? {
            out.extend(stays_here(first, &unit.record));
        }
    }
    out.sort_by_key(|l| std::cmp::Reverse(l.on));
    Ok(out)
}

/// When a unit came to a position and left it, where a day is on record and
/// the unit did not come with the position itself.
fn stays_here(place: &Stored, unit: &Record) -> Vec<HistoryLine> {
    let Record::Unit(u) = unit else {
        return Vec::new();
    };
    let names: Vec<String> = place.record.names().iter().map(|n| fold(&n.text)).collect();
    let line = |on: Date, what: &str, d: &Deployment| HistoryLine {
        on: Some(on),
        what: what.to_string(),
        of: u.unit.clone(),
        by: None,
        text: match &d.slot {
            Some(slot) => format!("at {}, slot {slot}", place.record.name()),
            None => format!("at {}", place.record.name()),
        },
    };
    let here = u.deployments.iter();
    here.filter(|d| !d.is_store() && names.contains(&fold(&d.at)))
        .flat_map(|d| {
            let came = d.from.map(|on| line(on, "installation", d));
            let left = d.to.map(|on| line(on, "removal", d));
            came.into_iter().chain(left)
        })
        .collect()
}

fn closed(o: &Order) -> bool {
    matches!(o.state, OrderState::Done | OrderState::Void)
}

/// Open orders of several records, the most pressing first.
pub(super) fn orders(
    store: &Store,
    of: &[&Stored],
    today: Date,
) -> Result<Vec<OrderLine>, StoreError> {
    let mut found: Vec<Order> = Vec::new();
    for stored in of {
        for record in about(store, stored)? {
            if let Record::Order(o) = record
                && !closed(&o)
                && !found.iter().any(|f| f.id == o.id)
            {
                found.push(o);
            }
        }
    }
    found.sort_by_key(|o| (o.priority, o.due.is_none(), o.due, o.order.clone()));
    Ok(found
        .into_iter()
        .map(|o| OrderLine {
            overdue: o.due.is_some_and(|d| d < today),
            order: o.order,
            of: o.of,
            state: o.state.word().to_string(),
            priority: priority(o.priority).to_string(),
            need: o.need,
            due: o.due,
        })
        .collect())
}

const fn priority(p: Priority) -> &'static str {
    p.word()
}

fn entry_line(e: &Entry, form: &Form) -> HistoryLine {
    let mut parts = Vec::new();
    if !e.finds.is_empty() {
        let words: Vec<&str> = e.finds.iter().map(|d| d.word()).collect();
        parts.push(format!("found {}", words.join(", ")));
    }
    if !e.clears.is_empty() {
        let words: Vec<&str> = e.clears.iter().map(|d| d.word()).collect();
        parts.push(format!("cleared {}", words.join(", ")));
    }
    for (key, value) in &e.readings {
        let label = key.replace('_', " ");
        // A figure of a scale never stands without its word.
        let scale = form.reading(key).filter(|r| !r.words.is_empty());
        let shown = match scale {
            Some(r) => r.printed(value),
            None => super::printed(value, "").replace("unread", "not known"),
        };
        parts.push(format!("{label} {shown}"));
    }
    parts.extend(e.note.clone());
    HistoryLine {
        on: e.on,
        what: match e.depth {
            Some(depth) => format!("{depth} {}", e.entry),
            None => e.entry.word().to_string(),
        },
        of: e.of.clone(),
        by: e.by.clone(),
        text: parts.join("; "),
    }
}

fn done_line(o: &Order) -> HistoryLine {
    HistoryLine {
        on: o.closed,
        what: format!("order {}", o.state),
        of: o.of.clone(),
        by: o.who.clone(),
        text: format!("{}: {}", o.order, o.need),
    }
}

fn change_line(name: &str, touched: &Touched) -> HistoryLine {
    let op = &touched.operation.operation;
    let mut parts = vec![op.why.clone()];
    if touched.added {
        parts.push("record added".to_string());
    }
    let edits = leaves(&touched.edits);
    for edit in edits.iter().take(SPELLED) {
        if edit.field == "deployments" {
            parts.push(format!("now {}", places(&edit.new)));
            continue;
        }
        parts.push(format!(
            "{} {} to {}",
            words(&edit.field),
            short(&edit.old),
            short(&edit.new)
        ));
    }
    if edits.len() > SPELLED {
        parts.push(format!("{} more fields", edits.len() - SPELLED));
    }
    if let Some(effective) = op.effective {
        let entered = op.entered.date();
        if effective != entered {
            parts.push(format!("entered {}", entered.spoken()));
        }
    }
    HistoryLine {
        on: Some(op.effective.unwrap_or_else(|| op.entered.date())),
        what: "change".to_string(),
        of: name.to_string(),
        by: Some(op.who.clone()),
        text: parts.join("; "),
    }
}

/// Where a unit is by its stays.
fn places(stays: &serde_json::Value) -> String {
    let stays: Vec<Deployment> = serde_json::from_value(stays.clone()).unwrap_or_default();
    let now: Vec<String> = stays
        .iter()
        .filter(|d| d.to.is_none())
        .map(stay_words)
        .collect();
    if now.is_empty() {
        "at no place on record".to_string()
    } else {
        now.join(" and ")
    }
}

/// Edits of whole maps as edits of what differs in them.
fn leaves(edits: &[Edit]) -> Vec<Edit> {
    edits
        .iter()
        .flat_map(|e| {
            if !(e.old.is_object() && e.new.is_object()) {
                return vec![e.clone()];
            }
            let mut inner = difference(e.id, e.kind, &e.old, &e.new);
            for i in &mut inner {
                i.field = format!("{}.{}", e.field, i.field);
            }
            inner
        })
        .collect()
}

/// `available fault, amps` for `available_fault.amps`.
fn words(field: &str) -> String {
    field.replace('.', ", ").replace('_', " ")
}

/// Dates and moments as people read them; other text as it is.
pub(super) fn spoken(text: &str) -> String {
    if let Ok(date) = text.parse::<Date>() {
        return date.spoken();
    }
    match text.parse::<Moment>() {
        Ok(moment) => moment.spoken(),
        Err(_) => text.to_string(),
    }
}

fn short(value: &serde_json::Value) -> String {
    let text = match value {
        serde_json::Value::Null => return "nothing".to_string(),
        serde_json::Value::String(t) => spoken(t),
        serde_json::Value::Object(map) if map.contains_key("value") => {
            return short(&map["value"]);
        }
        serde_json::Value::Array(items) => match items.len() {
            1 => "1 entry".to_string(),
            n => format!("{n} entries"),
        },
        serde_json::Value::Object(map) => map
            .iter()
            .map(|(k, v)| format!("{} {}", k.replace('_', " "), short(v)))
            .collect::<Vec<_>>()
            .join(", "),
        serde_json::Value::Number(n) => n
            .as_f64()
            .map_or_else(|| n.to_string(), crate::units::figure),
        other => other.to_string(),
    };
    if text.chars().count() > LONGEST {
        let cut: String = text.chars().take(LONGEST).collect();
        format!("{cut} …")
    } else {
        text
    }
}
