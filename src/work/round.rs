//! A feeder's round sheet: every structure once, in walking order, with what
//! is to be known and done there.

use std::collections::HashMap;

use serde::Serialize;

use super::orders::{Filter, OrderCard, list};
use super::{Failure, JSON_VERSION, due, resolve_among, section};
use crate::calendar::{Clock, Moment};
use crate::domain::asset::{Kind, Record, Structure};
use crate::domain::code::fold;
use crate::domain::network::walking_order;
use crate::store::Store;

/// A structure on the round.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct RoundStop {
    /// Counted from 1.
    pub stop: usize,
    pub structure: String,
    /// `pole`, `pad`; absent when the structure is not in the register.
    pub kind: Option<String>,
    /// The structure from which the line leads here, when it is not the stop
    /// before.
    pub back_to: Option<String>,
    /// Length of the span that leads here, ft.
    pub span_ft: Option<f64>,
    /// Whether the line on record leads here from the feeder's head.
    pub reached: bool,
    pub road: Option<String>,
    pub near: Option<String>,
    pub house: Option<String>,
    /// Its other names in use: what else is on the tag.
    pub also: Vec<String>,
    /// Home feeder, where it is not the one walked.
    pub home: Option<String>,
    /// Positions here with their class.
    pub devices: Vec<String>,
    /// Hazards of the place, in words.
    pub hazards: Vec<String>,
    /// Orders that are not closed, the most pressing first.
    pub orders: Vec<OrderCard>,
    /// What is due today: `inspection of HB2-RC-14, overdue`.
    pub due: Vec<String>,
}

/// A round sheet; its JSON is the document printed.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct RoundReport {
    pub polecard: u32,
    pub feeder: String,
    pub head: Option<String>,
    pub read_at: Moment,
    /// The utility is made up.
    pub demo: bool,
    pub stops: Vec<RoundStop>,
    /// Stops to which no line on record leads from the head; they come last.
    pub not_reached: usize,
}

/// The round sheet of a feeder.
///
/// # Errors
/// Not found; those of the register.
pub fn round(store: &Store, feeder: &str, clock: Clock) -> Result<RoundReport, Failure> {
    let found = resolve_among(store, feeder, &[Kind::Feeder])?.stored.record;
    let name = found.name();
    let head = match &found {
        Record::Feeder(f) => f.head.clone(),
        _ => None,
    };
    let line = section::section(store, &name)?;
    let spans: Vec<_> = line
        .spans
        .iter()
        .filter(|s| s.feeder.as_deref() == Some(&name))
        .collect();
    let own: Vec<String> = line
        .structures
        .iter()
        .filter(|s| s.feeder.as_deref() == Some(&name))
        .map(|s| s.structure.clone())
        .collect();
    let by_name: HashMap<&str, &Structure> = line
        .structures
        .iter()
        .map(|s| (s.structure.as_str(), s))
        .collect();
    let mut orders = orders_by_structure(store, clock)?;
    let mut due = due_by_record(store, &name, clock)?;
    let mut stops: Vec<RoundStop> = Vec::new();
    let walk = walking_order(head.as_deref(), &own, &spans);
    for (n, stop) in walk.into_iter().enumerate() {
        let record = by_name.get(stop.structure.as_str()).copied();
        let mut row = row(n + 1, &stop.structure, record, &name);
        row.reached = stop.reached;
        let before = stops.last().map(|s| &s.structure);
        row.back_to = stop.from.filter(|f| before != Some(f));
        let span = stop.span.and_then(|i| spans[i].span.length_ft);
        row.span_ft = span.map(crate::units::Feet::get);
        row.due = due.remove(&stop.structure).unwrap_or_default();
        for p in &line.positions {
            if p.structure.as_deref() == Some(&stop.structure) {
                row.devices.push(format!("{} {}", p.position, p.class));
                row.due.extend(due.remove(&p.position).unwrap_or_default());
            }
        }
        row.devices.sort();
        row.orders = orders.remove(&fold(&stop.structure)).unwrap_or_default();
        stops.push(row);
    }
    Ok(RoundReport {
        polecard: JSON_VERSION,
        feeder: name,
        head,
        read_at: clock.now(),
        demo: store.utility()?.is_some_and(|u| u.demo),
        not_reached: stops.iter().filter(|s| !s.reached).count(),
        stops,
    })
}

fn row(stop: usize, name: &str, record: Option<&Structure>, feeder: &str) -> RoundStop {
    let place = record.map(|s| s.place.clone()).unwrap_or_default();
    let names = record.map(|s| s.names.as_slice()).unwrap_or_default();
    RoundStop {
        stop,
        structure: name.to_string(),
        kind: record.map(|s| s.kind.word().to_string()),
        back_to: None,
        span_ft: None,
        reached: false,
        road: place.road,
        near: place.near,
        house: place.house,
        also: names
            .iter()
            .filter(|n| n.to.is_none())
            .map(|n| match &n.whose {
                Some(whose) => format!("{} ({whose})", n.text),
                None => n.text.clone(),
            })
            .collect(),
        home: record
            .and_then(|s| s.feeder.clone())
            .filter(|f| f != feeder),
        devices: Vec::new(),
        hazards: record.map(hazards).unwrap_or_default(),
        orders: Vec::new(),
        due: Vec::new(),
    }
}

/// Hazards of a place in words: `dog: loose by day (seen 3 May 2025)`.
pub(super) fn hazards(s: &Structure) -> Vec<String> {
    s.hazards
        .iter()
        .map(|h| {
            let note = h.note.as_ref().map_or(String::new(), |n| format!(": {n}"));
            let seen = h
                .seen
                .map_or(String::new(), |d| format!(" (seen {})", d.spoken()));
            format!("{}{note}{seen}", h.what)
        })
        .collect()
}

/// What is due today on the records at home in a feeder, by their names.
fn due_by_record(
    store: &Store,
    feeder: &str,
    clock: Clock,
) -> Result<HashMap<String, Vec<String>>, Failure> {
    let asked = due::Asked {
        feeder: Some(feeder.to_string()),
        ..due::Asked::today(clock.today())
    };
    let mut out: HashMap<String, Vec<String>> = HashMap::new();
    for item in due::due(store, &asked)?.due {
        let words = format!(
            "{} of {}, {}",
            item.what.word(),
            item.record,
            item.stands.word()
        );
        let list = out.entry(item.record).or_default();
        if !list.contains(&words) {
            list.push(words);
        }
    }
    Ok(out)
}

/// Orders that are not closed, by the folded name of the structure where the
/// work is: its own, that of the position, or that of the unit's position.
fn orders_by_structure(
    store: &Store,
    clock: Clock,
) -> Result<HashMap<String, Vec<OrderCard>>, Failure> {
    let mut out: HashMap<String, Vec<OrderCard>> = HashMap::new();
    for order in list(store, &Filter::default(), clock.today())?.orders {
        for at in structures_of(store, &order.of)? {
            out.entry(fold(&at)).or_default().push(order.clone());
        }
    }
    Ok(out)
}

fn structures_of(store: &Store, of: &str) -> Result<Vec<String>, Failure> {
    let Some(about) = super::orders::record_of(store, of)? else {
        return Ok(Vec::new());
    };
    let stays: Vec<String> = match about.record {
        Record::Structure(s) => return Ok(vec![s.structure]),
        Record::Position(p) => return Ok(p.structure.into_iter().collect()),
        Record::Unit(u) => u
            .present()
            .filter(|d| !d.is_store())
            .map(|d| d.at.clone())
            .collect(),
        _ => Vec::new(),
    };
    let mut out: Vec<String> = store
        .present(Kind::Position, &stays)?
        .into_iter()
        .filter_map(|(_, s)| match s.record {
            Record::Position(p) => p.structure,
            _ => None,
        })
        .collect();
    out.sort();
    out.dedup();
    Ok(out)
}
