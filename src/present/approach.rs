//! Approach distances as text; the heading comes first.

use super::text::{Line, Style};
use crate::role::Role;
use crate::units::figure;
use crate::work::approach::{ApproachReport, Distance};

/// The report at a width.
#[must_use]
pub fn lines(report: &ApproachReport, style: Style) -> Vec<Line> {
    let mut out = Line::of(Role::Stop, report.head).folded(style.width, 0);
    let voltage = match report.nominal_kv_ll {
        Some(kv) => format!("{} kV phase to phase ({})", figure(kv), report.origin),
        None => format!("voltage not known ({})", report.origin),
    };
    out.extend(
        Line::of(Role::Code, &report.name)
            .with(Role::Plain, format!("  {voltage}"))
            .folded(style.width, 2),
    );
    for (label, distance) in [
        ("phase to ground", report.to_ground),
        ("phase to phase", report.phase_to_phase),
    ] {
        let mut line = Line::of(Role::Label, format!("{label:<16}"));
        match distance {
            Some(d) => line.push(Role::Value, words(d)),
            None => line.push(Role::Unknown, "no distance; see below"),
        }
        out.extend(line.folded(style.width, 16));
    }
    if report.row_kv_ll.is_some() && report.to_ground.is_none() && report.because.len() == 2 {
        out.extend(
            Line::of(
                Role::Plain,
                "the table gives no distance in this row where it says: avoid contact",
            )
            .folded(style.width, 0),
        );
    }
    for sentence in &report.because {
        out.extend(Line::of(Role::Plain, sentence).folded(style.width, 2));
    }
    out.extend(Line::of(Role::Muted, report.edition).folded(style.width, 2));
    out
}

fn words(d: Distance) -> String {
    let table = format!("{} m, {} ft", figure(d.table_metres), figure(d.table_feet));
    match (d.metres, d.feet) {
        (Some(m), Some(ft)) => format!("{} m, {} ft (table {table})", figure(m), figure(ft)),
        _ => format!("{table} as printed, up to 900 m only"),
    }
}
