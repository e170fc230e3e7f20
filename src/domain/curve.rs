//! Inverse-time overcurrent curves, trip and reset. `multiple` is the current
//! over the pickup. The family says which dial it is turned by: the dial of one
//! family is no dial of another.

use serde::{Deserialize, Serialize};

/// Which standard's form, and so which dial.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Dial {
    /// IEEE C37.112 time dial: t = TD (A / (M^p - 1) + B).
    IeeeTimeDial,
    /// IEC 60255-151 time multiplier: t = TMS k / (M^a - 1).
    IecTimeMultiplier,
}

/// One curve; `b` is zero and `reset_s` absent in the IEC family.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Curve {
    pub name: &'static str,
    pub dial: Dial,
    pub a: f64,
    pub b: f64,
    pub p: f64,
    /// Reset constant, seconds at dial 1 and no current.
    pub reset_s: Option<f64>,
}

const fn ieee(name: &'static str, a: f64, b: f64, p: f64, reset_s: f64) -> Curve {
    Curve {
        name,
        dial: Dial::IeeeTimeDial,
        a,
        b,
        p,
        reset_s: Some(reset_s),
    }
}

const fn iec(name: &'static str, k: f64, alpha: f64) -> Curve {
    Curve {
        name,
        dial: Dial::IecTimeMultiplier,
        a: k,
        b: 0.0,
        p: alpha,
        reset_s: None,
    }
}

/// Constants as read in the technical manuals of several relay makers. The
/// short-time and long-time curves stand in those manuals, not in the 2009
/// standard's list.
pub static CURVES: &[Curve] = &[
    ieee("IEEE moderately inverse", 0.0515, 0.1140, 0.02, 4.85),
    ieee("IEEE very inverse", 19.61, 0.491, 2.0, 21.6),
    ieee("IEEE extremely inverse", 28.2, 0.1217, 2.0, 29.1),
    iec("IEC standard inverse", 0.14, 0.02),
    iec("IEC very inverse", 13.5, 1.0),
    iec("IEC extremely inverse", 80.0, 2.0),
    iec("IEC long-time inverse", 120.0, 1.0),
    iec("IEC short-time inverse", 0.05, 0.04),
];

/// A curve by its name, in any case.
#[must_use]
pub fn curve(name: &str) -> Option<&'static Curve> {
    CURVES
        .iter()
        .find(|c| c.name.eq_ignore_ascii_case(name.trim()))
}

impl Curve {
    /// Seconds to trip at a multiple of pickup; `None` at or below pickup, or
    /// when the dial is no positive number.
    #[must_use]
    pub fn trip_s(&self, multiple: f64, dial: f64) -> Option<f64> {
        let sound = multiple.is_finite() && dial.is_finite() && dial > 0.0;
        (sound && multiple > 1.0).then(|| dial * (self.a / (multiple.powf(self.p) - 1.0) + self.b))
    }

    /// The multiple of pickup at which it trips in `seconds`; `None` when it is
    /// slower than that at any current, or the dial is no positive number.
    #[must_use]
    pub fn multiple_at(&self, seconds: f64, dial: f64) -> Option<f64> {
        let sound = seconds.is_finite() && seconds > 0.0 && dial.is_finite() && dial > 0.0;
        let over = seconds / dial - self.b;
        (sound && over > 0.0).then(|| (1.0 + self.a / over).powf(1.0 / self.p))
    }

    /// Seconds to reset from full travel: TD·tr/(1 − M²). `None` at or above
    /// pickup, and for a curve without a reset constant.
    #[must_use]
    pub fn reset_from_full_s(&self, multiple: f64, dial: f64) -> Option<f64> {
        let constant = self.reset_s?;
        let sound = (0.0..1.0).contains(&multiple) && dial.is_finite() && dial > 0.0;
        sound.then(|| dial * constant / (1.0 - multiple * multiple))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn there_is_no_trip_time_at_pickup_and_no_reset_above_it() {
        for c in CURVES {
            assert_eq!(c.trip_s(1.0, 1.0), None, "{}", c.name);
            assert_eq!(c.trip_s(f64::NAN, 1.0), None);
            assert_eq!(c.trip_s(2.0, 0.0), None);
            assert_eq!(c.reset_from_full_s(1.0, 1.0), None);
        }
    }

    #[test]
    fn the_multiple_of_a_time_gives_back_the_time() {
        for c in CURVES {
            for m in [1.5, 4.0, 20.0] {
                let seconds = c.trip_s(m, 2.0).unwrap();
                let back = c.multiple_at(seconds, 2.0).unwrap();
                assert!(
                    (back / m - 1.0).abs() < 1e-6,
                    "{}: {m} gives {back}",
                    c.name
                );
            }
        }
        assert_eq!(CURVES[1].multiple_at(0.01, 1.0), None);
    }

    #[test]
    fn more_current_never_trips_later() {
        for c in CURVES {
            let times: Vec<f64> = (11..300)
                .filter_map(|m| c.trip_s(f64::from(m) / 10.0, 1.0))
                .collect();
            assert!(times.is_sorted_by(|a, b| a >= b), "{}", c.name);
        }
    }
}
