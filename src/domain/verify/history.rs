//! What the entries about one thing say when read one after the other.

use super::{Detector, Given, PRACTICE, Run};
use crate::domain::asset::{Entry, Plain, Record};
use crate::domain::finding::RuleStanding;
use crate::domain::form::impossible;
use crate::units::figure;

pub(super) static DETECTORS: &[Detector] = &[IMPOSSIBLE, BACKWARDS, LAMP];

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

const LAMP: Detector = Detector {
    name: "lamp-against-dial",
    looks_at: "the newest reading of a regulator's tap with that of its neutral lamp",
    why: "Only dial and lamp together show neutral; when they disagree neither may be trusted, and a bypass closed off neutral short-circuits part of the winding.",
    fix: "Keep the bypass open, tell control, and have position indicator and lamp looked at.",
    source: PRACTICE,
    standing: RuleStanding::CommonPractice,
    run: Run::History(lamp),
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

/// Lit away from neutral, or dark on it.
fn lamp(entries: &[(i64, Entry)]) -> Vec<String> {
    let reading = |e: &Entry| -> Option<(f64, String)> {
        let tap = e.readings.get("tap")?.as_number()?;
        match &e.readings.get("neutral_lamp")?.value {
            Some(Plain::Text(lamp)) => Some((tap, lamp.clone())),
            _ => None,
        }
    };
    let newest = entries
        .iter()
        .filter_map(|(n, e)| Some(((e.on, *n), e, reading(e)?)))
        .max_by_key(|(when, ..)| *when);
    let Some((_, entry, (tap, lamp))) = newest else {
        return Vec::new();
    };
    let neutral = tap.abs() < 0.5;
    let agrees = match lamp.as_str() {
        "lit" => neutral,
        "dark" => !neutral,
        _ => true,
    };
    if agrees {
        return Vec::new();
    }
    let on = entry.on.map_or("undated".to_string(), |d| d.spoken());
    vec![format!(
        "had its neutral lamp {lamp} with the dial on tap {}, {on}",
        figure(tap)
    )]
}
