//! Counters that run backwards or around, and readings kept with the wrong
//! thing.

use super::{Case, PRACTICE, Rule, Said};
use crate::domain::asset::{Class, Entry};
use crate::domain::finding::RuleStanding::CommonPractice;
use crate::units::figure;

pub(super) static RULES: &[Rule] = &[Rule {
    name: "counter-backwards",
    reads: COUNTERS,
    all: false,
    on: &[],
    source: PRACTICE,
    standing: CommonPractice,
    judge: backwards,
}];

/// Readings that count up.
pub const COUNTERS: &[&str] = &["counter", "switch_counter"];

/// What became of a counter between two readings.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Ran {
    /// So many operations.
    Forward(f64),
    /// It may have run over the top of a counter of so many digits, and then
    /// made so many operations.
    Wrapped { digits: u32, operations: f64 },
    /// It cannot have.
    Backward,
}

/// From one reading to the next. A counter that stood in the last tenth of its
/// range and stands in the first tenth now may have run around: common
/// practice, no source.
#[must_use]
pub fn ran(before: f64, now: f64) -> Ran {
    if now >= before {
        return Ran::Forward(now - before);
    }
    for digits in 3..=7_u32 {
        let modulus = 10_f64.powi(i32::try_from(digits).unwrap_or(7));
        if before < modulus {
            return if before >= 0.9 * modulus && now <= 0.1 * modulus {
                Ran::Wrapped {
                    digits,
                    operations: modulus - before + now,
                }
            } else {
                Ran::Backward
            };
        }
    }
    Ran::Backward
}

fn backwards(case: &Case<'_>) -> Vec<Said> {
    COUNTERS.iter().flat_map(|k| of_one(case, k)).collect()
}

fn of_one(case: &Case<'_>, key: &str) -> Option<Said> {
    let now = case.number(key)?;
    let read = |e: &&Entry| Some((e.on, e.readings.get(key)?.as_number()?));
    let (on, before) = case.earlier.iter().copied().rev().find_map(|e| read(&e))?;
    let name = key.replace('_', " ");
    let day = on.map_or("undated".to_string(), crate::calendar::Date::spoken);
    let from = format!(
        "{name} went from {} ({day}) to {}",
        figure(before),
        figure(now)
    );
    let unit = match case.subject.class {
        Some(Class::Capacitor) => "switch",
        _ => "unit",
    };
    match ran(before, now) {
        Ran::Forward(_) => None,
        Ran::Wrapped { digits, operations } => Some(Said::look(format!(
            "{from}: it may have wrapped, {} operations if it has {digits} digits; or the {unit} was changed or one was misread. Compare the serial",
            figure(operations)
        ))),
        Ran::Backward => Some(Said::look(format!(
            "{from}: backwards; the counter or the {unit} was changed, or one was misread. Compare the serial; duty counted by it is in doubt"
        ))),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_counter_runs_forward_around_or_not_at_all() {
        assert_eq!(ran(120.0, 150.0), Ran::Forward(30.0));
        assert_eq!(ran(120.0, 120.0), Ran::Forward(0.0));
        let wrapped = Ran::Wrapped {
            digits: 4,
            operations: 142.0,
        };
        assert_eq!(ran(9_870.0, 12.0), wrapped);
        assert_eq!(ran(120.0, 90.0), Ran::Backward);
        assert_eq!(ran(9_870.0, 5_000.0), Ran::Backward);
    }
}
