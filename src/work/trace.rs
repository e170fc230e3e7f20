//! Trace: every recorded way a record can be fed, and what it feeds. A reading
//! of the record, not a switching order.

use serde::Serialize;

use super::{Failure, JSON_VERSION, section};
use crate::calendar::{Clock, Moment};
use crate::domain::asset::{Class, Kind, Position, Record, Rel, Standing, Unit};
use crate::domain::code::fold;
use crate::domain::network::{Network, Phases, Walk};
use crate::store::{Store, StoreError, Stored};

/// Stands over every trace.
pub const HEADING: &str =
    "Walked by the normal state on record. Not a switching order; treat both sides as live.";

/// Connected transformer kVA, by phase.
#[derive(Debug, Clone, Default, PartialEq, Serialize)]
pub struct ConnectedKva {
    pub a: f64,
    pub b: f64,
    pub c: f64,
    /// Of units whose phase is not recorded.
    pub phase_not_recorded: f64,
    /// Part of all this that rests on assumed plates.
    pub assumed: f64,
    /// Transformer units whose kVA nobody has read.
    pub unread_units: usize,
    /// Transformer positions with no unit on record.
    pub without_unit: usize,
}

impl ConnectedKva {
    /// All phases together.
    #[must_use]
    pub fn total(&self) -> f64 {
        self.a + self.b + self.c + self.phase_not_recorded
    }

    /// Adds a unit's kVA, shared evenly among the phases of its slot; a unit
    /// between two phases counts half on each.
    pub fn add(&mut self, kva: f64, phases: Phases) {
        let n = phases.count();
        if n == 0 {
            self.phase_not_recorded += kva;
            return;
        }
        let share = kva / f64::from(n);
        for i in phases.indexes() {
            match i {
                0 => self.a += share,
                1 => self.b += share,
                _ => self.c += share,
            }
        }
    }
}

/// One way through the record: a position has one, a structure one for each
/// circuit or bus on it.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Traced {
    /// The circuit or bus, where a structure has several.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub part: Option<String>,
    /// The feeder on whose line it was walked.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub feeder: Option<String>,
    #[serde(flatten)]
    pub walk: Walk,
    /// `None` when what it feeds cannot be told.
    pub connected_kva: Option<ConnectedKva>,
}

/// The answer of a trace.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct TraceReport {
    pub polecard: u32,
    pub id: String,
    pub name: String,
    pub kind: Kind,
    pub heading: &'static str,
    pub read_at: Moment,
    /// The utility is made up.
    pub demo: bool,
    pub ways: Vec<Traced>,
}

/// Traces the record of a row.
///
/// # Errors
/// When nothing of its kind stands in a line, or it has left the register.
pub fn trace(store: &Store, rec: i64, clock: Clock) -> Result<TraceReport, Failure> {
    let stored = store
        .by_row(rec)?
        .ok_or_else(|| Failure::not_found("this record has left the register"))?;
    Ok(TraceReport {
        polecard: JSON_VERSION,
        id: stored.record.id().to_string(),
        name: stored.record.name(),
        kind: stored.record.kind(),
        heading: HEADING,
        read_at: clock.now(),
        demo: store.utility()?.is_some_and(|u| u.demo),
        ways: ways(store, &stored)?,
    })
}

/// Every way through the record.
///
/// # Errors
/// When nothing of its kind stands in a line; those of the register.
pub fn ways(store: &Store, stored: &Stored) -> Result<Vec<Traced>, Failure> {
    match &stored.record {
        Record::Position(p) => Ok(vec![of_position(store, p)?]),
        Record::Structure(s) => {
            let mut out = Vec::new();
            for home in section::homes_at(store, s)? {
                let net = section::network(store, &home)?;
                for (part, walk) in net.walk_structure(&s.structure) {
                    let part = (!part.is_empty()).then_some(part);
                    out.push(traced(store, &net, part, Some(&home), walk)?);
                }
            }
            // Line that only passes on a shared structure is walked from home.
            let walked = out.iter().any(|t| t.walk.source.is_some());
            if walked {
                out.retain(|t| t.walk.source.is_some());
            }
            Ok(out)
        }
        Record::Unit(u) => of_unit(store, u),
        Record::Feeder(f) => {
            let net = section::network(store, &f.feeder)?;
            let walk = match &f.source {
                Some(source) => net.walk_source(source),
                None => Walk::unknown("the source of this feeder is not recorded"),
            };
            Ok(vec![traced(store, &net, None, Some(&f.feeder), walk)?])
        }
        Record::Source(s) => {
            let mut out = Vec::new();
            for feeder in fed_from(store, &s.source)? {
                let net = section::network(store, &feeder)?;
                let walk = net.walk_source(&s.source);
                out.push(traced(store, &net, None, Some(&feeder), walk)?);
            }
            Ok(out)
        }
        other => Err(Failure::usage(format!(
            "{} is a {}, and stands in no line",
            other.name(),
            other.kind()
        ))
        .hint("trace a position, a structure, a unit, a feeder or a source")),
    }
}

fn fed_from(store: &Store, source: &str) -> Result<Vec<String>, StoreError> {
    Ok(store
        .pointing(Rel::FedFrom, source)?
        .into_iter()
        .filter_map(|s| match s.record {
            Record::Feeder(f) if f.source.as_deref() == Some(source) => Some(f.feeder),
            _ => None,
        })
        .collect())
}

fn of_unit(store: &Store, u: &Unit) -> Result<Vec<Traced>, Failure> {
    let mut out = Vec::new();
    for stay in u.present().filter(|d| !d.is_store()) {
        for (_, stored) in store.present(Kind::Position, std::slice::from_ref(&stay.at))? {
            if let Record::Position(p) = stored.record {
                let mut one = of_position(store, &p)?;
                one.part = Some(p.position.clone());
                out.push(one);
            }
        }
    }
    if out.is_empty() {
        return Err(Failure::usage(format!(
            "unit {} is recorded at no position, so it stands in no line",
            u.unit
        ))
        .hint("show it to see where it is on record"));
    }
    Ok(out)
}

fn of_position(store: &Store, p: &Position) -> Result<Traced, StoreError> {
    let (walk, net) = section::walk(store, p)?;
    let home = section::home_of(store, p)?;
    match net {
        Some(net) => traced(store, &net, None, home.as_deref(), walk),
        None => Ok(Traced {
            part: None,
            feeder: None,
            walk,
            connected_kva: None,
        }),
    }
}

/// Adds the connected kVA to a walk.
fn traced(
    store: &Store,
    net: &Network,
    part: Option<String>,
    home: Option<&str>,
    walk: Walk,
) -> Result<Traced, StoreError> {
    let connected_kva = match &walk.beyond {
        Some(beyond) => Some(connected(store, net, &beyond.hangs)?),
        None => None,
    };
    Ok(Traced {
        part,
        feeder: home.map(ToString::to_string),
        walk,
        connected_kva,
    })
}

fn connected(store: &Store, net: &Network, names: &[String]) -> Result<ConnectedKva, StoreError> {
    let mut out = ConnectedKva::default();
    let positions = &net.section().positions;
    let by_name: std::collections::HashMap<&str, &Position> = positions
        .iter()
        .map(|p| (p.position.as_str(), p))
        .collect();
    for name in names {
        let Some(p) = by_name.get(name.as_str()) else {
            continue;
        };
        if p.class == Class::Transformer {
            add_units(store, p, &mut out)?;
        }
    }
    Ok(out)
}

fn add_units(store: &Store, p: &Position, out: &mut ConnectedKva) -> Result<(), StoreError> {
    let mut any = false;
    for stored in store.pointing(Rel::DeployedAt, &p.position)? {
        let Record::Unit(unit) = stored.record else {
            continue;
        };
        let here = |at: &str| at == p.position || fold(at) == fold(&p.position);
        for stay in unit.present().filter(|d| here(&d.at)) {
            any = true;
            let slot = Phases::named(stay.slot.as_deref().unwrap_or(""));
            let phases = if slot.is_none() {
                Phases::named(p.phases.as_deref().unwrap_or(""))
            } else {
                slot
            };
            let kva = unit.nameplate.stated("kva");
            match kva.as_number() {
                Some(n) => {
                    out.add(n, phases);
                    if kva.standing == Standing::Assumed {
                        out.assumed += n;
                    }
                }
                None => out.unread_units += 1,
            }
        }
    }
    out.without_unit += usize::from(!any);
    Ok(())
}
