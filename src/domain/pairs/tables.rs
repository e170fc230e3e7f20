//! What the rules read: melting, limits of pairs of links, factors by sequence
//! and reclosing time.

use super::Known;
use crate::domain::melting::{Melting, T_FLAT, T_NEAR, k_pair_limit, melting};
use crate::domain::nameplate::{LinkType, short};
use crate::domain::sequence::Settings;

/// Arcing after melting: 0.8 cycle of 60 Hz.
pub const ARCING_S: f64 = 0.8 / 60.0;

pub(super) fn fault(amps: Option<f64>) -> Result<f64, String> {
    amps.filter(|a| a.is_finite() && *a > 0.0)
        .ok_or_else(|| "no fault current is recorded or typed".to_string())
}

fn row(link: Option<(f64, LinkType)>) -> Result<&'static Melting, String> {
    let (rated, kind) = link.ok_or("the link is not known")?;
    melting(rated, kind)
        .ok_or_else(|| format!("no melting table here for {}{}", short(rated), kind.word()))
}

/// Seconds as they are printed: of a short time the digits that count.
#[must_use]
pub fn in_seconds(s: f64) -> String {
    if s > 0.0 && s < 0.1 {
        let digits = if s < 0.01 { 5 } else { 4 };
        format!("{s:.digits$}")
            .trim_end_matches('0')
            .trim_end_matches('.')
            .to_string()
    } else {
        short(s)
    }
}

/// Greatest melting and arcing.
///
/// # Errors
/// Why it is unknown.
pub fn link_clears(link: Option<(f64, LinkType)>, amps: Option<f64>) -> Known {
    let (row, amps) = (row(link)?, fault(amps)?);
    let melts = row
        .greatest_melting_s(amps)
        .ok_or_else(|| format!("{} A is too little to melt it for certain", short(amps)))?;
    let s = melts + ARCING_S;
    Ok((
        s,
        format!(
            "clears by {} s (melts by {} s + 0.8 cycle)",
            in_seconds(s),
            in_seconds(melts)
        ),
    ))
}

/// Least melting; below the table the longest time of the table.
///
/// # Errors
/// Why it is unknown.
pub fn link_melts(link: Option<(f64, LinkType)>, amps: Option<f64>) -> Known {
    let (row, amps) = (row(link)?, fault(amps)?);
    Ok(match row.least_melting_s(amps) {
        Some(s) => (s, format!("least melting {} s", in_seconds(s))),
        None => (
            row.long_s(),
            format!("{} s, in which it does not melt", short(row.long_s())),
        ),
    })
}

/// Greatest fault, A, at which two links of one speed coordinate; 0: never.
///
/// # Errors
/// When the table lacks the pair.
pub fn table_limit(load: (f64, LinkType), source: (f64, LinkType)) -> Result<f64, String> {
    let same = |a: f64, b: f64| (a - b).abs() < 1e-9;
    let lacks = || {
        format!(
            "the table lacks {}{} below {}{}",
            short(load.0),
            load.1.word(),
            short(source.0),
            source.1.word()
        )
    };
    match load.1 {
        _ if load.1 != source.1 => Err(lacks()),
        _ if load.0 >= source.0 => Ok(0.0),
        LinkType::K => k_pair_limit(load.0, source.0).ok_or_else(lacks),
        LinkType::T => {
            let near = T_NEAR.iter().filter(|(_, p, _)| same(*p, source.0));
            if let Some((_, _, amps)) = near.clone().find(|(l, _, _)| same(*l, load.0)) {
                return Ok(*amps);
            }
            // The flat value holds for links smaller than those near the diagonal.
            let smallest = near.map(|(l, _, _)| *l).fold(f64::INFINITY, f64::min);
            let made = melting(load.0, LinkType::T).is_some();
            T_FLAT
                .iter()
                .find(|(p, _)| same(*p, source.0))
                .filter(|_| made && load.0 < smallest)
                .map(|(_, amps)| *amps)
                .ok_or_else(lacks)
        }
        LinkType::N => Err(lacks()),
    }
}

/// The shortest open time, in cycles of 60 Hz.
fn shortest_cycles(settings: &Settings) -> Result<f64, String> {
    let needed = settings.trips().saturating_sub(1) as usize;
    if needed == 0 {
        return Ok(f64::INFINITY);
    }
    let all = settings.intervals_s.get(..needed);
    all.map(|s| s.iter().copied().fold(f64::INFINITY, f64::min) * 60.0)
        .ok_or_else(|| "the reclosing times are not all recorded".to_string())
}

/// Source-side link: 4 delayed; 1 fast and 3 delayed; 2 fast and 2 delayed.
pub static SOURCE_FACTORS: &[(f64, [f64; 3])] = &[
    (30.0, [3.50, 3.10, 2.60]),
    (60.0, [2.70, 2.50, 2.10]),
    (90.0, [2.20, 2.10, 1.85]),
    (120.0, [1.90, 1.80, 1.70]),
];

/// Load-side link: 1 fast, 2 fast; from so many cycles on.
pub static SAVING_FACTORS: &[(f64, [f64; 2])] = &[(25.0, [1.25, 1.80]), (60.0, [1.25, 1.35])];

/// The row of the longest reclosing time that is not longer than this one: the
/// factor falls with time, so it is the stricter of the two about it.
fn row_at<const N: usize>(table: &[(f64, [f64; N])], cycles: f64) -> Result<[f64; N], String> {
    table
        .iter()
        .rev()
        .find(|(at, _)| cycles >= *at - 1e-6)
        .map(|(_, factors)| *factors)
        .ok_or_else(|| {
            format!(
                "no factor is published for reclosing in {} cycles",
                short(cycles)
            )
        })
}

/// The factor on the delayed curve for a link toward the source.
///
/// # Errors
/// When none is published for the sequence or the reclosing time.
pub fn source_factor(settings: &Settings) -> Known {
    let column = match (settings.fast, settings.delayed) {
        (0, 4) => 0,
        (1, 3) => 1,
        (2, 2) => 2,
        (f, d) => {
            return Err(format!(
                "no factor is published for {f} fast and {d} delayed"
            ));
        }
    };
    let cycles = shortest_cycles(settings)?;
    let factor = row_at(SOURCE_FACTORS, cycles)?[column];
    Ok((
        factor,
        format!(
            "{} fast, {} delayed, reclosing in {} cycles",
            settings.fast,
            settings.delayed,
            short(cycles)
        ),
    ))
}

/// The factor on the fast curve for a link on the load side.
///
/// # Errors
/// When none is published for the sequence or the reclosing time.
pub fn saving_factor(settings: &Settings) -> Known {
    let column = match settings.fast {
        1 => 0,
        2 => 1,
        f => return Err(format!("no factor is published for {f} fast trips")),
    };
    let cycles = shortest_cycles(settings)?;
    let factor = row_at(SAVING_FACTORS, cycles)?[column];
    let words = if cycles.is_finite() {
        format!(
            "{} fast, reclosing in {} cycles",
            settings.fast,
            short(cycles)
        )
    } else {
        format!("{} fast, no reclosing", settings.fast)
    };
    Ok((factor, words))
}
