//! Inspections from a file: held against the forms, refused row by row,
//! the same file twice changes nothing.

use super::{now, shipped};
use crate::screens::rig::copy_of_demo;
use polecard::domain::asset::{Depth, Record, Rel};
use polecard::store::{Access, Store};
use polecard::work::import::{CsvOptions, from_csv};

fn entries(store: &Store, of: &str) -> usize {
    let all = store.pointing(Rel::About, of).unwrap();
    all.iter()
        .filter(|s| matches!(s.record, Record::Entry(_)))
        .count()
}

#[test]
fn inspections_are_held_against_the_form_row_by_row() {
    let home = copy_of_demo();
    let path = home.path().join("register.polecard");
    let mut store = Store::open(&path, Access::Write).unwrap();
    let before = (entries(&store, "7-20931"), entries(&store, "7-23218"));
    let options = CsvOptions {
        csv: shipped("csv/inspections.csv"),
        map: Some(shipped("maps/inspections.yaml")),
        second: None,
        save_map: None,
        dated: None,
        take: None,
        refused: Some(home.path().join("refused.csv")),
        apply: true,
    };
    let run = |store: &mut Store| {
        from_csv(Some(store), &options, "hb", now(), &mut |_| {})
            .unwrap()
            .imported
    };
    let first = run(&mut store);
    assert_eq!((first.rows, first.refused), (11, 7), "{:?}", first.refusals);
    let said: Vec<(usize, &str)> = first
        .refusals
        .iter()
        .map(|r| (r.line, r.reason.as_str()))
        .collect();
    let holds = |line: usize, words: &[&str]| {
        let (_, why) = said.iter().find(|(l, _)| *l == line).unwrap();
        for word in words {
            assert!(why.contains(word), "line {line}: {why}");
        }
    };
    holds(
        6,
        &["column oil_level", "maybe", "at the mark, above the mark"],
    );
    holds(7, &["column counter", "-3", "from 0 to 999999"]);
    holds(8, &["column oil_kv", "900", "from 0 to 100 kV"]);
    holds(9, &["oil_kv says nothing without method"]);
    holds(10, &["2206"]);
    holds(
        11,
        &["nothing", "7-99999"].map(|w| if w == "nothing" { "no unit" } else { w }),
    );
    holds(12, &["the form of a pole has no reading \"oil_level\""]);
    let after = (entries(&store, "7-20931"), entries(&store, "7-23218"));
    assert_eq!((after.0 - before.0, after.1 - before.1), (1, 2));
    let written = store.pointing(Rel::About, "7-20931").unwrap();
    let entry = written.iter().find_map(|s| match &s.record {
        Record::Entry(e) if e.note.as_deref() == Some("seen from the bucket") => Some(e),
        _ => None,
    });
    let entry = entry.unwrap();
    assert_eq!(entry.depth, Some(Depth::Detailed));
    assert_eq!(entry.readings["counter"].as_number(), Some(252.0));
    assert_eq!(entry.finds.len(), 2);
    let again = run(&mut store);
    assert_eq!(again.operation, None, "a second run changes nothing");
    assert_eq!(again.refused, 7);
}

#[test]
fn a_reading_of_the_unit_is_not_left_at_the_place() {
    let home = copy_of_demo();
    let path = home.path().join("register.polecard");
    let mut store = Store::open(&path, Access::Write).unwrap();
    let csv = home.path().join("rounds.csv");
    let rows = "number,date,depth,oil_level,finds\n\
        HB2-RC-14,2026-09-28,patrol,below the mark,\n\
        HB2-RC-14,2026-09-29,patrol,,oil leak\n\
        7-20931,2026-09-28,patrol,below the mark,\n";
    std::fs::write(&csv, rows).unwrap();
    let map = home.path().join("rounds.yaml");
    let text = "map: rounds\nkind: entry\nkey: [number, date]\nfields:\n  of: number\n  \
        entry: {constant: inspection}\n  depth: depth\n  \"on\": date\n  \
        readings.oil_level: oil_level\n  finds: {column: finds, as: list, separator: \";\"}\n";
    std::fs::write(&map, text).unwrap();
    let options = CsvOptions {
        csv,
        map: Some(map),
        second: None,
        save_map: None,
        dated: None,
        take: None,
        refused: Some(home.path().join("refused.csv")),
        apply: false,
    };
    let outcome = from_csv(Some(&mut store), &options, "hb", now(), &mut |_| {}).unwrap();
    let refusals = &outcome.imported.refusals;
    let lines: Vec<usize> = refusals.iter().map(|r| r.line).collect();
    assert_eq!(lines, [2, 3], "{refusals:?}");
    for refusal in refusals {
        let why = &refusal.reason;
        assert!(why.contains("write the number of the unit"), "{why}");
    }
}
