//! Ten years of operations, and the files in canonical form.

use std::collections::BTreeSet;

use polecard::domain::asset::{Kind, RecordId};
use polecard::exchange;
use polecard::store::{Logged, StoreError};

use super::{demo, folder, store, take_in, tally};
use crate::support::tree;

#[test]
fn the_shipped_files_are_what_the_program_would_write() {
    let dir = tempfile::tempdir().unwrap();
    let (store, report) = take_in(&dir.path().join("r"));
    assert_eq!(report.operation, None, "{:?}", report.sample.first());
    assert!(report.replayed >= 20);
    let out = dir.path().join("out");
    exchange::export(&store, &out).unwrap();
    let (shipped, written) = (tree(&folder()), tree(&out));
    let list = |t: &[(String, Vec<u8>)]| t.iter().map(|f| f.0.clone()).collect::<Vec<_>>();
    assert_eq!(list(&shipped), list(&written));
    for (a, b) in shipped.iter().zip(&written) {
        assert!(a.1 == b.1, "{} is not in canonical form", a.0);
    }
}

#[test]
fn operations_run_through_ten_years_with_a_reason_each() {
    let ops = store().operations(0, 500).unwrap();
    let years: BTreeSet<i32> = ops
        .iter()
        .map(|w| w.operation.entered.date().year())
        .collect();
    assert_eq!(years, (2016..=2026).collect());
    assert!(ops.iter().all(|w| !w.operation.why.is_empty()));
    assert!(
        ops.windows(2)
            .all(|w| w[0].operation.entered.utc() < w[1].operation.entered.utc())
    );
    let undone: Vec<_> = ops.iter().filter_map(|w| w.operation.undoes).collect();
    assert_eq!(undone.len(), 1);
    assert!(ops.iter().any(|w| w.operation.id == undone[0]));
    let later: i64 = ops.iter().skip(1).map(|w| w.changes).sum();
    assert!(later > 1_000, "{later}");
}

#[test]
fn the_log_tells_what_was_at_the_weir_gate_before() {
    let store = store();
    let id = demo().position("HB2-RC-14").id;
    let mut seen: Vec<(String, String)> = Vec::new();
    for w in store.operations(0, 500).unwrap() {
        store
            .changes::<StoreError>(w.seq, |line| {
                if let Logged::Edit(e) = line
                    && e.id == id
                {
                    seen.push((e.field.clone(), e.new.to_string()));
                }
                Ok(())
            })
            .unwrap();
    }
    assert!(
        seen.iter()
            .any(|(f, v)| f.starts_with("available_fault") && v.contains("4310"))
    );
    assert!(seen.iter().any(|(f, _)| f.starts_with("state")));
}

#[test]
fn entries_come_from_every_year_and_of_every_kind() {
    let d = demo();
    assert!(
        (400..=700).contains(&d.entries.len()),
        "{}",
        d.entries.len()
    );
    let years = tally(d.entries.iter().filter_map(|e| e.on).map(|on| on.year()));
    assert!(
        (2016..=2026).all(|y| years.get(&y).is_some_and(|n| *n >= 15)),
        "{years:?}"
    );
    assert_eq!(tally(d.entries.iter().map(|e| e.entry.word())).len(), 7);
}

#[test]
fn ids_are_all_different_and_drawn_over_the_years() {
    let store = store();
    let mut ids: BTreeSet<RecordId> = BTreeSet::new();
    let mut n = 0;
    for kind in Kind::ALL {
        for stored in store.all(*kind).unwrap() {
            n += 1;
            ids.insert(stored.record.id());
        }
    }
    assert_eq!(ids.len(), n);
    let first = ids.first().unwrap().to_string();
    let last = ids.last().unwrap().to_string();
    assert!(
        first.as_str() < "01B" && last.as_str() > "01K",
        "{first} {last}"
    );
}
