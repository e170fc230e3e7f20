//! Minimum approach distances for the system voltage of a position, on request
//! only. It never says that a distance is safe.

use serde::Serialize;

use super::check::position_called;
use super::{Failure, JSON_VERSION, Resolved, facts};
use crate::calendar::Date;
use crate::domain::approach::{EDITION, altitude_factor, at_altitude, table_row};
use crate::store::Store;

/// Heads every answer.
pub const HEAD: &str = "qualified employees only; your employer's distance governs";

/// One distance: as printed in the table, and at the elevation asked for.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Distance {
    pub table_metres: f64,
    pub table_feet: f64,
    /// Rounded up; absent when no elevation was given.
    pub metres: Option<f64>,
    pub feet: Option<f64>,
}

/// The answer.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct ApproachReport {
    pub polecard: u32,
    pub head: &'static str,
    pub id: String,
    pub name: String,
    /// Nominal phase-to-phase voltage of the system, kV; none on record or typed.
    pub nominal_kv_ll: Option<f64>,
    pub origin: &'static str,
    /// The row: above and up to, kV.
    pub row_kv_ll: Option<(f64, f64)>,
    pub to_ground: Option<Distance>,
    pub phase_to_phase: Option<Distance>,
    pub elevation_metres: Option<f64>,
    pub altitude_factor: Option<f64>,
    pub edition: &'static str,
    /// Sentences: how it was worked out and what is missing.
    pub because: Vec<String>,
}

impl ApproachReport {
    /// 0 answered, 5 the distance is not known.
    #[must_use]
    pub const fn exit_code(&self) -> i32 {
        if self.to_ground.is_some() { 0 } else { 5 }
    }
}

/// Distances at the position called `text`, at a typed voltage or that of its
/// feeder, and at an elevation in metres.
///
/// # Errors
/// Not found, or several where one is needed; those of the register.
pub fn approach(
    store: &Store,
    text: &str,
    typed_kv_ll: Option<f64>,
    elevation_metres: Option<f64>,
    today: Date,
) -> Result<ApproachReport, Failure> {
    let Resolved { stored, note } = position_called(store, text)?;
    let recorded = facts::facts(store, &stored, today)?.and_then(|f| f.nominal_kv_ll);
    let mut report = distances(typed_kv_ll, recorded, elevation_metres);
    report.id = stored.record.id().to_string();
    report.name = stored.record.name();
    report.because.extend(note);
    Ok(report)
}

/// The pure part. Where a typed and a recorded voltage differ the higher one
/// is taken.
#[must_use]
pub fn distances(
    typed_kv_ll: Option<f64>,
    recorded_kv_ll: Option<f64>,
    elevation_metres: Option<f64>,
) -> ApproachReport {
    let (kv, origin) = match (typed_kv_ll, recorded_kv_ll) {
        (Some(t), Some(r)) if t < r => (Some(r), "feeder on record, higher than what was typed"),
        (Some(t), _) => (Some(t), "typed"),
        (None, Some(r)) => (Some(r), "feeder on record"),
        (None, None) => (None, "neither recorded nor typed"),
    };
    let row = kv.and_then(table_row);
    let factor = elevation_metres.and_then(altitude_factor);
    let beyond = elevation_metres.is_some() && factor.is_none();
    let distance = |printed: Option<(f64, f64)>| {
        let (m, ft) = printed.filter(|_| !beyond)?;
        Some(Distance {
            table_metres: m,
            table_feet: ft,
            metres: factor.map(|f| at_altitude(m, f)),
            feet: factor.map(|f| at_altitude(ft, f)),
        })
    };
    ApproachReport {
        polecard: JSON_VERSION,
        head: HEAD,
        id: String::new(),
        name: String::new(),
        nominal_kv_ll: kv,
        origin,
        row_kv_ll: row.map(|r| (r.above_kv_ll, r.to_kv_ll)),
        to_ground: distance(row.and_then(|r| r.to_ground)),
        phase_to_phase: distance(row.and_then(|r| r.phase_to_phase)),
        elevation_metres,
        altitude_factor: factor,
        edition: EDITION,
        because: because(kv, row.is_some(), elevation_metres, factor),
    }
}

fn because(
    kv: Option<f64>,
    in_table: bool,
    elevation: Option<f64>,
    factor: Option<f64>,
) -> Vec<String> {
    let mut out = Vec::new();
    match kv {
        None => out.push(
            "no distance: the nominal voltage of the feeder is not on record; type it with --kv"
                .to_string(),
        ),
        Some(kv) if !in_table => {
            out.push(format!("no distance: {kv} kV is outside the table, 0.05 to 72.5 kV"));
        }
        Some(_) => out.push(
            "the row is that of the nominal phase-to-phase voltage of the system, also for a single-phase tap; between two rows the upper one is taken".to_string(),
        ),
    }
    out.push(match (elevation, factor) {
        (None, _) => "elevation not given: the table holds up to 900 m (3,000 ft) and no higher; type it with --elevation".to_string(),
        (Some(m), Some(f)) => format!("at {m} m the whole distance of the table is multiplied by {f} and rounded up to 0.01"),
        (Some(m), None) => format!("no distance: {m} m is above the altitude factors, which end at 6000 m"),
    });
    out
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn unknown_voltage_or_height_gives_no_distance() {
        assert_eq!(distances(None, None, None).exit_code(), 5);
        assert_eq!(distances(Some(138.0), None, None).exit_code(), 5);
        assert_eq!(distances(Some(12.47), None, Some(7_000.0)).exit_code(), 5);
    }

    #[test]
    fn the_higher_of_typed_and_recorded_voltage_stands() {
        let r = distances(Some(4.16), Some(24.94), Some(1_000.0));
        assert_eq!(r.nominal_kv_ll, Some(24.94));
        let ground = r.to_ground.unwrap();
        assert_eq!(ground.table_metres, 0.77);
        assert_eq!(ground.metres, Some(0.79));
    }
}
