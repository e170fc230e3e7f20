//! What the entries about one thing say when read one after the other.

use super::{Detector, Given, PRACTICE, Run};
use crate::domain::asset::{Entry, Record};
use crate::domain::finding::RuleStanding;
use crate::domain::form::impossible;
use crate::units::figure;

pub(super) static DETECTORS: &[Detector] = &[IMPOSSIBLE, BACKWARDS];

const IMPOSSIBLE: Detector = Detector {
    name: "reading-impossible",
    looks_at: "readings of entries against what the forms allow",
    why: "No gauge or laboratory gives such a figure or word, so it is a slip; a rule that reads it is silent or wrong.",
    fix: "Find the sheet and correct the reading; a reading the utility does take belongs on a form of its own.",
    source: PRACTICE,
    standing: RuleStanding::CommonPractice,
    run: Run::Record(not_possible),
};

fn not_possible(record: &Record, given: &Given) -> Vec<String> {
    let Record::Entry(entry) = record else {
        return Vec::new();
    };
    let readings = entry.readings.iter();
    readings
        .filter_map(|(name, value)| impossible(&given.readings, name, value))
        .map(|why| format!("has an impossible reading, {why}"))
        .collect()
}

const BACKWARDS: Detector = Detector {
    name: "counter-backwards",
    looks_at: "counter readings of one thing in the order of their dates",
    why: "The counter was changed, wrapped, misread, or the unit was swapped and nobody wrote it down; duty counted by it is wrong.",
    fix: "Compare the serial on the sheet with the unit; note a changed counter, or correct the reading.",
    source: PRACTICE,
    standing: RuleStanding::CommonPractice,
    run: Run::History(backwards),
};

/// The reading of an operations counter.
const COUNTER: &str = "counter";

fn backwards(entries: &[(i64, Entry)]) -> Vec<String> {
    let mut read: Vec<(&Entry, i64, f64)> = entries
        .iter()
        .filter(|(_, e)| e.on.is_some())
        .filter_map(|(n, e)| Some((e, *n, e.readings.get(COUNTER)?.as_number()?)))
        .collect();
    read.sort_by_key(|(e, n, _)| (e.on, *n));
    read.windows(2)
        .filter(|w| w[1].2 < w[0].2)
        .map(|w| {
            let day = |e: &Entry| e.on.map_or(String::new(), |d| d.spoken());
            format!(
                "has a counter that read {} on {} and {} on {}",
                figure(w[0].2),
                day(w[0].0),
                figure(w[1].2),
                day(w[1].0)
            )
        })
        .collect()
}
