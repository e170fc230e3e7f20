//! First-cycle asymmetry of a fault current, and what is left of a symmetrical
//! rating where the system X/R is higher than the test X/R.
//!
//! `x_over_r` may be infinite: that is the worst bound, taken when the system
//! X/R is not known. Factors are multiples of the symmetrical rms current.

use std::f64::consts::{PI, SQRT_2};

/// The largest ½-cycle rms factor, √3, at an infinite X/R.
pub const WORST_RMS: f64 = 1.732_050_807_568_877_2;

/// Above this X/R a symmetrically rated power fuse may not be compared
/// directly: its published rating must be reduced. Read in a trade series on
/// short-circuit duties.
pub const POWER_FUSE_DIRECT_UP_TO: f64 = 15.0;

/// Close-and-latch factor of a medium-voltage breaker on the older rating
/// basis, and the X/R up to which it holds. Read in the same series.
pub const OLDER_BREAKER_FACTOR: (f64, f64) = (1.6, 25.0);

/// rms factor `cycles` after inception, fully offset in one phase:
/// √(1 + 2·e^(−4π·t/(X/R))).
#[must_use]
pub fn rms_at_cycles(x_over_r: f64, cycles: f64) -> f64 {
    (1.0 + 2.0 * (-4.0 * PI * cycles / x_over_r).exp()).sqrt()
}

/// Largest one-phase rms factor at ½ cycle: √(1 + 2·e^(−2π/(X/R))). Reproduces
/// the column of a published handbook table within 0.003.
#[must_use]
pub fn rms_half_cycle(x_over_r: f64) -> f64 {
    rms_at_cycles(x_over_r, 0.5)
}

/// Three-phase average rms factor at ½ cycle, fully offset in one phase:
/// [√(1+2a) + 2·√(1+a/2)]/3 with a = e^(−2π/(X/R)).
#[must_use]
pub fn rms_three_phase_average(x_over_r: f64) -> f64 {
    let a = (-2.0 * PI / x_over_r).exp();
    ((1.0 + 2.0 * a).sqrt() + 2.0 * (1.0 + a / 2.0).sqrt()) / 3.0
}

/// The current at angle `wt` (radians) of a fault struck at voltage zero, as a
/// multiple of the symmetrical rms.
fn struck_at_zero(x_over_r: f64, wt: f64) -> f64 {
    let phi = x_over_r.atan();
    SQRT_2 * ((wt - phi).sin() + phi.sin() * (-wt / x_over_r).exp())
}

/// Angle of the first peak in radians, by golden-section search: the current
/// has one maximum between a quarter and a whole half cycle after inception.
fn angle_of_first_peak(x_over_r: f64) -> f64 {
    let golden = (5.0_f64.sqrt() - 1.0) / 2.0;
    let (mut low, mut high) = (PI / 4.0, 1.25 * PI);
    while high - low > 1e-9 {
        let (a, b) = (high - golden * (high - low), low + golden * (high - low));
        if struck_at_zero(x_over_r, a) < struck_at_zero(x_over_r, b) {
            low = a;
        } else {
            high = b;
        }
    }
    f64::midpoint(low, high)
}

/// Exact first-peak factor of a fault struck at voltage zero.
#[must_use]
pub fn first_peak(x_over_r: f64) -> f64 {
    struck_at_zero(x_over_r, angle_of_first_peak(x_over_r))
}

/// Time of the first peak in seconds.
#[must_use]
pub fn first_peak_s(x_over_r: f64, hz: f64) -> f64 {
    angle_of_first_peak(x_over_r) / (2.0 * PI * hz)
}

/// Quick first-peak factor √2·(1 + e^(−π/(X/R))), as used in multiplying
/// factors of low-voltage breakers; up to 2.9 % low.
#[must_use]
pub fn first_peak_quick(x_over_r: f64) -> f64 {
    SQRT_2 * (1.0 + (-PI / x_over_r).exp())
}

/// X/R implied by an asymmetrical and a symmetrical rating of one device:
/// −2π / ln[(r² − 1)/2] with r = asymmetrical / symmetrical. `None` unless
/// 1 < r < √3.
#[must_use]
pub fn x_over_r_implied(asymmetrical_amps: f64, symmetrical_amps: f64) -> Option<f64> {
    let r = asymmetrical_amps / symmetrical_amps;
    let a = (r * r - 1.0) / 2.0;
    (a > 0.0 && a < 1.0).then(|| -2.0 * PI / a.ln())
}

/// What a symmetrical rating is built on.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Basis {
    /// ½-cycle rms: fuses. The stricter of the two.
    HalfCycleRms,
    /// First peak, in the quick form that the published multiplying factors
    /// use: devices that part inside the first cycle.
    FirstPeak,
}

impl Basis {
    /// The factor F of this basis.
    #[must_use]
    pub fn factor(self, x_over_r: f64) -> f64 {
        match self {
            Basis::HalfCycleRms => rms_half_cycle(x_over_r),
            Basis::FirstPeak => first_peak_quick(x_over_r),
        }
    }

    #[must_use]
    pub const fn words(self) -> &'static str {
        match self {
            Basis::HalfCycleRms => "half-cycle rms",
            Basis::FirstPeak => "first peak",
        }
    }
}

/// MF = F(system X/R) / F(test X/R), never below 1: a lower system X/R never
/// raises a rating.
#[must_use]
pub fn multiplying_factor(basis: Basis, system_x_over_r: f64, test_x_over_r: f64) -> f64 {
    (basis.factor(system_x_over_r) / basis.factor(test_x_over_r)).max(1.0)
}

/// Momentary duty factor of a breaker on the older rating basis: 1.6 up to an
/// X/R of 25, the ½-cycle rms factor above.
#[must_use]
pub fn older_breaker_factor(x_over_r: f64) -> f64 {
    let (factor, up_to) = OLDER_BREAKER_FACTOR;
    if x_over_r <= up_to {
        factor
    } else {
        rms_half_cycle(x_over_r).max(factor)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_bound_is_reached_at_infinity() {
        assert!((rms_half_cycle(f64::INFINITY) - WORST_RMS).abs() < 1e-12);
        assert!((first_peak(f64::INFINITY) - 2.0 * SQRT_2).abs() < 1e-6);
        assert!((first_peak_quick(1e12) - 2.0 * SQRT_2).abs() < 1e-6);
    }

    #[test]
    fn no_asymmetry_without_reactance() {
        assert!((rms_half_cycle(1e-9) - 1.0).abs() < 1e-12);
    }

    #[test]
    fn a_pair_of_ratings_gives_back_its_x_over_r() {
        for xr in [2.0, 8.9, 14.0, 40.0] {
            let back = x_over_r_implied(rms_half_cycle(xr) * 7_100.0, 7_100.0);
            assert!((back.expect("inside the range") - xr).abs() < 1e-6);
        }
        assert_eq!(x_over_r_implied(7_100.0, 7_100.0), None);
        assert_eq!(x_over_r_implied(20_000.0, 7_100.0), None);
    }
}
