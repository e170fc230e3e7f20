//! Intervals: those that come with the program, and those of a register.

use std::path::Path;
use std::sync::OnceLock;

use serde::Deserialize;
use serde_json::{Map, Value};

use super::document::{Doc, ExchangeError, explain, typed};
use crate::domain::asset::{IntervalDoc, Record};
use crate::domain::upkeep::interval::Interval;

/// `data/intervals/intervals.yaml`, made into JSON by the build.
const INTERVALS: &str = include_str!(concat!(env!("OUT_DIR"), "/intervals.json"));

/// The keys of one shipped interval.
fn shipped() -> &'static [Map<String, Value>] {
    static SHIPPED: OnceLock<Vec<Map<String, Value>>> = OnceLock::new();
    SHIPPED.get_or_init(|| {
        serde_json::from_str(INTERVALS).expect("the intervals that come along are tested")
    })
}

/// The intervals that come with the program, in the order of their file.
#[must_use]
pub fn shipped_intervals() -> Vec<Interval> {
    serde_json::from_str(INTERVALS).expect("the intervals that come along are tested")
}

/// An interval of a register: the keys it gives replace those of the shipped
/// interval of the same name. What it replaces is the utility's own, so the
/// shipped source stays only where the record names none and changes nothing
/// but whether it is in force.
///
/// # Errors
/// The key that is wrong, and a sentence.
pub fn interval(doc: &IntervalDoc) -> Result<Interval, (String, String)> {
    let mut map = Map::new();
    let named = |m: &&Map<String, Value>| {
        m.get("interval").and_then(Value::as_str) == Some(doc.interval.as_str())
    };
    if let Some(base) = shipped().iter().find(named) {
        map = base.clone();
        if doc.body.keys().any(|k| k != "off" && k != "cycle_from") {
            map.remove("source");
            map.remove("standing");
        }
    }
    map.insert("interval".to_string(), Value::String(doc.interval.clone()));
    map.extend(doc.body.clone());
    let read = Interval::deserialize(Value::Object(map))
        .map_err(|e| ("interval".to_string(), explain(&e.to_string())))?;
    read.check().map_err(|(key, why)| (key.to_string(), why))?;
    Ok(read)
}

/// An interval as a record, refused with the line of what is wrong.
pub(super) fn interval_record(doc: &Doc, file: &Path) -> Result<Record, ExchangeError> {
    typed(doc, file, Interval::deserialize)?;
    let record = typed(doc, file, IntervalDoc::deserialize)?;
    interval(&record).map_err(|(key, why)| ExchangeError::At {
        file: file.display().to_string(),
        line: doc.line + line_of(&doc.text, &key),
        why,
    })?;
    Ok(record.into())
}

/// The line that a key stands on, counted from 0; else the first that says
/// something.
fn line_of(text: &str, key: &str) -> usize {
    let begins = |l: &str| {
        l.trim_start_matches(['{', ' '])
            .strip_prefix(key)
            .is_some_and(|rest| rest.trim_start().starts_with(':'))
    };
    text.lines()
        .position(begins)
        .or_else(|| super::document::first_key(text).map(|(at, _)| at))
        .unwrap_or(0)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::exchange::{Documents, record};

    fn read(text: &str) -> Result<Record, String> {
        let doc = Documents::new(text.as_bytes(), Path::new("f.yaml"))
            .next()
            .unwrap()
            .unwrap();
        record(&doc, Path::new("f.yaml")).map_err(|e| e.to_string())
    }

    #[test]
    fn what_ships_is_well_formed_named_once_and_has_a_source() {
        let all = shipped_intervals();
        for i in &all {
            i.check().unwrap();
            assert!(i.source.is_some() && i.standing.is_some(), "{}", i.interval);
            assert_eq!(all.iter().filter(|o| o.interval == i.interval).count(), 1);
        }
    }

    #[test]
    fn a_bad_interval_is_refused_with_its_line_and_the_reason() {
        for (text, line, part) in [
            (
                "interval: a\nclass: [pole]\nwhat: patrol\nmonth: 3\n",
                4,
                "months",
            ),
            (
                "interval: a\nclass: [pole]\nwhat: patrl\nmonths: 3\n",
                3,
                "did you mean \"patrol\"",
            ),
            (
                "interval: a\nclass: [pol]\nwhat: patrol\nmonths: 3\n",
                2,
                "\"pol\" is no class",
            ),
            (
                "interval: a\nclass: [pole]\nwhat: patrol\nmonths: 0\n",
                4,
                "from 1 to",
            ),
            (
                "interval: a\nclass: [pole]\nwhat: patrol\nmonths: -6\n",
                4,
                "",
            ),
            (
                "interval: a\nclass: [pole]\nwhat: patrol\n",
                1,
                "upon which it comes due",
            ),
            (
                "interval: a\nclass: [pole]\nwhat: patrol\nmonths: 18\nspread: true\n",
                5,
                "whole years",
            ),
            (
                "interval: a\nclass: [pole]\nwhat: patrol\nmonths: 24\nspread: true\n",
                1,
                "cycle_from",
            ),
            (
                "interval: a\nclass: [pole]\nwhat: patrol\nmonths: 24\nstanding: sure\n",
                5,
                "sure",
            ),
            (
                "interval: a\nclass: [pole]\nmonths: 24\n",
                1,
                "says what is due",
            ),
        ] {
            let said = read(text).unwrap_err();
            assert!(
                said.starts_with(&format!("f.yaml:{line}: ")),
                "{text}{said}"
            );
            assert!(said.contains(part), "{said}");
        }
    }

    #[test]
    fn the_utilitys_own_replaces_the_keys_it_gives() {
        let own = |text: &str| {
            let Ok(Record::Interval(doc)) = read(text) else {
                panic!("{text}");
            };
            interval(&doc).unwrap()
        };
        let patrol = own("interval: pole patrol\nmonths: 24\n");
        assert_eq!(patrol.months, Some(24));
        assert_eq!(patrol.class, ["pole"]);
        assert_eq!(patrol.source, None, "its figure is not that of the source");
        let zone = own("interval: pole ground line, decay zones 4 and 5\noff: false\n");
        assert!(!zone.off && zone.source.is_some());
        assert!(own("interval: pole patrol\noff: true\n").off);
    }
}
