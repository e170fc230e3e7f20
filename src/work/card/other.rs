//! The cards of everything else: sources and feeders with what they feed, the
//! others as their record stands.

use serde_json::Value;

use super::super::also::also_of;
use super::super::{Failure, trace};
use super::{Card, Fact, Group, history, line};
use crate::calendar::Clock;
use crate::domain::asset::{Record, SourceKind};
use crate::domain::code::say;
use crate::domain::finding::Caution;
use crate::store::{Store, Stored};

pub(super) fn fill(
    card: &mut Card,
    store: &Store,
    stored: &Stored,
    clock: Clock,
) -> Result<(), Failure> {
    let also = also_of(store, stored)?;
    card.place.road = also.road;
    card.place.near = also.near;
    card.place.structure = also.at;
    card.place.feeder = also.feeder;
    // A name of words is said as it is; a code is spelled.
    let spelled = card.name.chars().any(|c| c.is_ascii_digit());
    card.say = if spelled {
        format!("{} {}", stored.record.kind(), say(&card.name))
    } else {
        format!("{} {}", stored.record.kind(), card.name)
    };
    if matches!(stored.record, Record::Notice(_)) {
        card.place.near = None;
    }
    match &stored.record {
        Record::Source(s) => {
            card.what = match s.kind {
                SourceKind::Substation => "SUBSTATION SOURCE".to_string(),
                SourceKind::Generation => {
                    let mover = s
                        .prime_mover
                        .as_deref()
                        .unwrap_or("prime mover not recorded");
                    format!("GENERATION, {mover}")
                }
            };
            card.fed = trace::ways(store, stored)?;
            if s.kind == SourceKind::Generation {
                card.cautions.push(Caution::look(
                    "it can feed the line from its side: treat the line as live from both sides",
                    &s.source,
                ));
            }
        }
        Record::Feeder(_) => card.fed = trace::ways(store, stored)?,
        _ => {}
    }
    let name = card.name.clone();
    for way in &card.fed {
        card.cautions.extend(line::of_walk(&way.walk, &name));
        if let Some(why) = &way.walk.no_source {
            let text = format!("its line is not walked: {why}");
            card.cautions.push(Caution::look(text, &name));
        }
    }
    card.orders = history::orders(store, &[stored], clock.today())?;
    card.history = history::history(store, &[stored])?;
    let mut rows = Vec::new();
    flatten(&mut rows, "", &stored.record.to_value());
    card.groups = vec![Group {
        heading: "on record".to_string(),
        rows,
    }];
    Ok(())
}

/// A record as labels and values, lists joined.
fn flatten(out: &mut Vec<Fact>, label: &str, value: &Value) {
    match value {
        Value::Object(map) if map.contains_key("standing") || map.contains_key("value") => {
            if let Ok(stated) =
                serde_json::from_value::<crate::domain::asset::Stated>(value.clone())
            {
                out.push(Fact {
                    standing: Some(stated.standing),
                    provenance: super::plate::provenance(&stated),
                    ..Fact::new(label, super::printed(&stated, ""))
                });
            }
        }
        Value::Object(map) => {
            for (key, v) in map {
                if key == "id" {
                    continue;
                }
                let key = key.replace('_', " ");
                let below = if label.is_empty() {
                    key
                } else {
                    format!("{label}, {key}")
                };
                flatten(out, &below, v);
            }
        }
        Value::Array(items) if items.iter().all(|i| !i.is_object() && !i.is_array()) => {
            let parts: Vec<String> = items.iter().map(plain).collect();
            out.push(Fact::new(label, parts.join(", ")));
        }
        Value::Array(items) => {
            for item in items {
                flatten(out, label, item);
            }
        }
        Value::Number(n) if label.contains("made") || label.contains("year") => {
            out.push(Fact::new(label, n.to_string()));
        }
        other => out.push(Fact::new(label, plain(other))),
    }
}

fn plain(value: &Value) -> String {
    match value {
        Value::String(s) if s == "unknown" => "not known".to_string(),
        Value::String(s) => history::spoken(s),
        Value::Number(n) => n
            .as_f64()
            .map_or_else(|| n.to_string(), crate::units::figure),
        other => other.to_string(),
    }
}
