//! Published arrester ratings and discharge voltages, and what is looked up in
//! them.

use crate::domain::asset::Grounding;

/// Duty-cycle rating and MCOV, kV rms. Read in a tutorial on arrester data (9,
/// 10, 18, 36), a maker's chart (3, 6, 10, 12, 15, 18, 21, 24, 27, 30) and a
/// municipal standard (21).
pub static MCOV: &[(f64, f64)] = &[
    (3.0, 2.55),
    (6.0, 5.1),
    (9.0, 7.65),
    (10.0, 8.4),
    (12.0, 10.2),
    (15.0, 12.7),
    (18.0, 15.3),
    (21.0, 17.0),
    (24.0, 19.5),
    (27.0, 22.0),
    (30.0, 24.4),
    (36.0, 29.0),
];

/// An arrester commonly applied: nominal kV line to line, kV line to neutral,
/// duty-cycle rating and MCOV on a four-wire multigrounded system.
pub type Applied = (f64, f64, f64, f64);

/// Four-wire multigrounded systems. 26.4 kV read in a municipal standard; 4.16,
/// 8.32, 13.2, 13.8, 20.78, 24.94 and 34.5 kV in a maker's chart; 12.47 and
/// 22.86 kV from memory.
pub static APPLIED: &[Applied] = &[
    (4.16, 2.4, 3.0, 2.55),
    (8.32, 4.8, 6.0, 5.1),
    (12.47, 7.2, 9.0, 7.65),
    (13.2, 7.62, 10.0, 8.4),
    (13.8, 7.97, 10.0, 8.4),
    (20.78, 12.0, 15.0, 12.7),
    (22.86, 13.2, 18.0, 15.3),
    (24.94, 14.4, 18.0, 15.3),
    (26.4, 15.24, 21.0, 17.0),
    (34.5, 19.92, 27.0, 22.0),
];

/// Other systems: kV line to line, grounding, duty-cycle rating and MCOV.
/// Ungrounded 2.4, 4.16, 12.47, 13.2 and 13.8 kV read in a maker's chart; its
/// 8.32 kV is left out as an outlier. The unigrounded rows are from memory, the
/// higher where a range is remembered.
pub static APPLIED_OTHER: &[(f64, Grounding, f64, f64)] = &[
    (2.4, Grounding::Delta, 3.0, 2.55),
    (4.16, Grounding::Delta, 6.0, 5.1),
    (12.47, Grounding::Delta, 18.0, 15.3),
    (13.2, Grounding::Delta, 18.0, 15.3),
    (13.8, Grounding::Delta, 18.0, 15.3),
    (4.16, Grounding::Unigrounded, 6.0, 5.1),
    (8.32, Grounding::Unigrounded, 9.0, 7.65),
    (12.47, Grounding::Unigrounded, 15.0, 12.7),
    (13.2, Grounding::Unigrounded, 15.0, 12.7),
    (13.8, Grounding::Unigrounded, 15.0, 12.7),
    (20.78, Grounding::Unigrounded, 21.0, 17.0),
    (22.86, Grounding::Unigrounded, 24.0, 19.5),
    (24.94, Grounding::Unigrounded, 27.0, 22.0),
    (34.5, Grounding::Unigrounded, 36.0, 29.0),
];

/// The MCOV commonly applied on a system, kV; `None` where no list has it.
#[must_use]
pub fn applied_mcov(kv_ll: f64, grounding: Grounding) -> Option<f64> {
    let same = |kv: f64| (kv / kv_ll - 1.0).abs() < 1e-3;
    if grounding == Grounding::Multigrounded {
        return APPLIED.iter().find(|a| same(a.0)).map(|a| a.3);
    }
    APPLIED_OTHER
        .iter()
        .find(|a| same(a.0) && a.1 == grounding)
        .map(|a| a.3)
}

/// Sample discharge voltages, kV crest: rating, MCOV, then 0.5 us at 10 kA and
/// 8/20 us at 1.5, 3, 5, 10, 20 and 40 kA.
pub type Discharge = (f64, f64, [f64; 7]);

/// A published tutorial table, station class.
pub static DISCHARGE: &[Discharge] = &[
    (9.0, 7.65, [25.5, 19.9, 21.0, 21.8, 23.4, 25.8, 29.1]),
    (10.0, 8.4, [28.0, 21.9, 23.0, 23.9, 25.7, 28.3, 31.9]),
    (18.0, 15.3, [50.4, 39.9, 41.9, 43.5, 46.6, 51.4, 57.6]),
];

/// The smallest listed MCOV that reaches 1.05 times a voltage, kV; `None` above
/// the list.
#[must_use]
pub fn smallest_mcov(kv: f64) -> Option<(f64, f64)> {
    MCOV.iter().copied().find(|(_, mcov)| *mcov >= 1.05 * kv)
}

/// Overvoltage of the sound phases during a ground fault, times nominal line to
/// neutral. From memory, unconfirmed.
#[must_use]
pub const fn tov_factor(grounding: Grounding) -> Option<f64> {
    match grounding {
        Grounding::Multigrounded => Some(1.25),
        Grounding::Unigrounded => Some(1.4),
        Grounding::Delta => Some(1.82),
        Grounding::Unknown => None,
    }
}
