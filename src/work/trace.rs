//! Trace: every recorded way a record can be fed, and what it feeds. A reading
//! of the record, not a switching order.

use serde::Serialize;

use super::{Failure, JSON_VERSION, section};
use crate::calendar::{Clock, Moment};
use crate::domain::asset::{Kind, Position, Record, Rel, Unit};
pub use crate::domain::network::ConnectedKva;
use crate::domain::network::{Line, Walk};
use crate::store::{Store, StoreError, Stored};

/// Stands over every trace.
pub const HEADING: &str =
    "Walked by the normal state on record. Not a switching order; treat both sides as live.";

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
                    out.push(traced(&net, part, Some(&home), walk));
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
            Ok(vec![traced(&net, None, Some(&f.feeder), walk)])
        }
        Record::Source(s) => {
            let mut out = Vec::new();
            for feeder in fed_from(store, &s.source)? {
                let net = section::network(store, &feeder)?;
                let walk = net.walk_source(&s.source);
                out.push(traced(&net, None, Some(&feeder), walk));
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
    Ok(match net {
        Some(net) => traced(&net, None, home.as_deref(), walk),
        None => Traced {
            part: None,
            feeder: None,
            walk,
            connected_kva: None,
        },
    })
}

/// Adds the connected kVA to a walk.
fn traced(line: &Line, part: Option<String>, home: Option<&str>, walk: Walk) -> Traced {
    let beyond = walk.beyond.as_ref();
    Traced {
        connected_kva: beyond.map(|b| line.connected(&b.hangs)),
        part,
        feeder: home.map(ToString::to_string),
        walk,
    }
}
