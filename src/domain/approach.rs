//! Minimum approach distances of 29 CFR 1910.269 Table R-6. Read in a copy of
//! the regulation as published after the revision of 2014; the table of 1994,
//! still widely shown, has other rows and smaller distances.

/// Edition that stands on every answer.
pub const EDITION: &str = "29 CFR 1910.269 Table R-6, as revised in 2014; not the table of 1994 that is still widely shown";

/// One row: up to which nominal phase-to-phase voltage, and the distances.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Row {
    pub above_kv_ll: f64,
    pub to_kv_ll: f64,
    /// Phase to ground, m and ft as printed; `None` is "avoid contact".
    pub to_ground: Option<(f64, f64)>,
    /// Phase to phase, m and ft as printed.
    pub phase_to_phase: Option<(f64, f64)>,
}

const fn row(above: f64, to: f64, ground: (f64, f64), phase: (f64, f64)) -> Row {
    Row {
        above_kv_ll: above,
        to_kv_ll: to,
        to_ground: Some(ground),
        phase_to_phase: Some(phase),
    }
}

pub static TABLE: &[Row] = &[
    Row {
        above_kv_ll: 0.05,
        to_kv_ll: 0.3,
        to_ground: None,
        phase_to_phase: None,
    },
    row(0.3, 0.75, (0.33, 1.09), (0.33, 1.09)),
    row(0.75, 5.0, (0.63, 2.07), (0.63, 2.07)),
    row(5.0, 15.0, (0.65, 2.14), (0.68, 2.24)),
    row(15.0, 36.0, (0.77, 2.53), (0.89, 2.92)),
    row(36.0, 46.0, (0.84, 2.76), (0.98, 3.22)),
    row(46.0, 72.5, (1.00, 3.29), (1.20, 3.94)),
];

/// Altitude in metres up to which, and the factor on the whole distance.
pub static ALTITUDE: &[(f64, f64)] = &[
    (900.0, 1.00),
    (1200.0, 1.02),
    (1500.0, 1.05),
    (1800.0, 1.08),
    (2100.0, 1.11),
    (2400.0, 1.14),
    (2700.0, 1.17),
    (3000.0, 1.20),
    (3600.0, 1.25),
    (4200.0, 1.30),
    (4800.0, 1.35),
    (5400.0, 1.39),
    (6000.0, 1.44),
];

/// The row of a nominal phase-to-phase voltage in kV: between two rows the
/// upper, stricter one. `None` below 50 V and above 72.5 kV.
#[must_use]
pub fn table_row(nominal_kv_ll: f64) -> Option<&'static Row> {
    if nominal_kv_ll < 0.05 {
        return None;
    }
    TABLE.iter().find(|r| nominal_kv_ll <= r.to_kv_ll)
}

/// Factor at an altitude in metres; `None` above 6000 m.
#[must_use]
pub fn altitude_factor(metres: f64) -> Option<f64> {
    ALTITUDE
        .iter()
        .find(|(to, _)| metres <= *to)
        .map(|(_, factor)| *factor)
}

/// A table distance in metres times the altitude factor, rounded up to 0.01.
#[must_use]
pub fn at_altitude(distance: f64, factor: f64) -> f64 {
    // The small amount keeps an exact product from being rounded a step up.
    (distance * factor * 100.0 - 1e-6).ceil() / 100.0
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn consistency_feet_are_the_metres_rounded_up() {
        for row in TABLE {
            for (m, ft) in [row.to_ground, row.phase_to_phase].into_iter().flatten() {
                assert!((at_altitude(m / 0.3048, 1.0) - ft).abs() < 1e-9, "{m} m");
            }
        }
    }

    #[test]
    fn consistency_rows_and_factors_only_rise() {
        for w in TABLE.windows(2) {
            assert!((w[0].to_kv_ll - w[1].above_kv_ll).abs() < 1e-9);
            assert!(w[0].to_ground < w[1].to_ground);
        }
        assert!(ALTITUDE.is_sorted_by(|a, b| a.0 < b.0 && a.1 < b.1));
    }

    #[test]
    fn between_two_rows_the_stricter_stands() {
        assert_eq!(table_row(15.05).unwrap().to_kv_ll, 36.0);
        assert_eq!(altitude_factor(900.5), Some(1.02));
        assert_eq!(altitude_factor(6001.0), None);
        assert_eq!(table_row(138.0), None);
        assert_eq!(table_row(f64::NAN), None);
    }
}
