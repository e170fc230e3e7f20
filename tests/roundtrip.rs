//! Round trips as properties: any register, with any history, written out and
//! read back is the same register to the byte.

use polecard::calendar::Moment;
use polecard::domain::asset::{Kind, Record};
use polecard::domain::change::{Change, Operation, difference};
use polecard::exchange::{ExchangeError, Source, export, import};
use polecard::store::{Store, StoreError, fresh_id};
use proptest::prelude::*;
use serde_json::{Value, json};

use crate::support::tree;

fn now() -> Moment {
    "2026-10-03T14:10:00-06:00".parse().unwrap()
}

/// Text as people and broken systems type it.
fn text() -> impl Strategy<Value = String> {
    prop_oneof![
        "[A-Za-z0-9][A-Za-z0-9 .:-]{0,14}",
        "[ -~]{1,16}",
        "\\PC{1,10}",
        Just("unknown feeder: x".to_string()),
        Just("\u{1b}[31mred\u{202e}".to_string()),
        Just("no".to_string()),
        Just("1e3".to_string()),
        Just("two\nlines\t- \"quoted\"".to_string()),
        Just("#not a comment".to_string()),
    ]
}

fn name() -> impl Strategy<Value = String> {
    prop_oneof!["[0-9]{2}-[0-9]{3}", text()]
}

fn structure() -> impl Strategy<Value = Value> {
    (
        name(),
        prop::sample::select(vec!["pole", "pad", "vault"]),
        prop::option::of(prop::sample::select(vec!["HB1", "HB2", "odd/feeder ~"])),
        prop::option::of(text()),
        prop::option::of(-90.0..90.0f64),
        prop::collection::vec(text(), 0..3),
    )
        .prop_map(|(name, kind, feeder, road, lat, names)| {
            let names: Vec<Value> = names.into_iter().map(|t| json!({"text": t})).collect();
            clean(
                json!({"structure": name, "kind": kind, "feeder": feeder, "names": names,
                "place": clean(json!({"road": road, "lat": lat}))}),
            )
        })
}

fn position() -> impl Strategy<Value = Value> {
    (name(), name(), prop::option::of(0.0..9000.0f64), text()).prop_map(|(name, at, fault, label)| {
        clean(json!({"position": name, "class": "recloser", "feeder": "HB1", "structure": at,
            "elements": [{"element": "unit"}, {"element": "lead", "label": label, "amps": "unknown"}],
            "available_fault": fault.map(|a| json!({"amps": a, "kind": "three-phase"}))}))
    })
}

fn unit() -> impl Strategy<Value = Value> {
    (name(), name(), text(), 1.0..5000.0f64).prop_map(|(name, at, serial, amps)| {
        json!({"unit": name, "class": "recloser",
            "nameplate": {"serial": {"value": format!("S {serial}")},
                "continuous_amps": {"value": amps, "standing": "assumed", "rule": serial}},
            "deployments": [{"at": at, "from": "2018-06-04"}]})
    })
}

fn span() -> impl Strategy<Value = Value> {
    (name(), name(), 1.0..900.0f64).prop_map(|(from, to, feet)| {
        json!({"span": {"from": from, "to": to, "phases": "ABC", "length_ft": feet}, "feeder": "HB1"})
    })
}

fn entry() -> impl Strategy<Value = Value> {
    (name(), text(), text()).prop_map(|(of, key, note)| {
        json!({"entry": "inspection", "of": of, "on": "2020-05-06",
            "readings": {key: 4.5}, "finds": ["oil below mark"], "note": note})
    })
}

/// Leaves out what is null or empty, as the canonical form does.
fn clean(value: Value) -> Value {
    match value {
        Value::Object(map) => Value::Object(
            map.into_iter()
                .filter(|(_, v)| !v.is_null() && *v != json!([]) && *v != json!({}))
                .collect(),
        ),
        other => other,
    }
}

fn record() -> impl Strategy<Value = Record> {
    let typed = |kind: Kind| move |v: Value| Record::from_value(kind, v).unwrap();
    prop_oneof![
        4 => structure().prop_map(typed(Kind::Structure)),
        2 => position().prop_map(typed(Kind::Position)),
        2 => unit().prop_map(typed(Kind::Unit)),
        2 => span().prop_map(typed(Kind::Span)),
        1 => entry().prop_map(typed(Kind::Entry)),
    ]
}

fn operation(why: &str) -> Operation {
    Operation {
        id: fresh_id(now()),
        who: "h b".to_string(),
        entered: now(),
        effective: Some("2020-02-29".parse().unwrap()),
        why: why.to_string(),
        origin: None,
        undoes: None,
    }
}

/// A register with three operations: records in, some changed, some removed.
fn fill(store: &mut Store, records: &[Record], edits: &[(usize, String)], removed: &[usize]) {
    let mut ids = Vec::new();
    let mut id = fresh_id(now());
    let mut held: Vec<Record> = records.to_vec();
    for r in &mut held {
        id = id.next();
        r.set_id(id);
        ids.push(id);
    }
    let adds = held
        .iter()
        .cloned()
        .map(|r| Ok::<_, StoreError>(Change::Add(r)));
    store.apply(&operation("taken in"), adds).unwrap();
    let mut changes = Vec::new();
    let mut done = std::collections::BTreeSet::new();
    for (which, text) in edits {
        let r = &held[which % held.len()];
        let Record::Structure(s) = r else { continue };
        if !done.insert(r.id()) {
            continue;
        }
        let mut new = s.clone();
        new.note = Some(text.clone());
        new.place.near = Some(text.clone());
        let diff = difference(
            r.id(),
            r.kind(),
            &r.to_value(),
            &Record::from(new).to_value(),
        );
        changes.extend(
            diff.into_iter()
                .map(|e| Ok::<_, StoreError>(Change::Edit(e))),
        );
    }
    store
        .apply(&operation("corrected: \"x\""), changes)
        .unwrap();
    let gone: std::collections::BTreeSet<_> = removed.iter().map(|i| ids[i % ids.len()]).collect();
    let removals = gone
        .into_iter()
        .map(|i| Ok::<_, StoreError>(Change::Remove(i)));
    store.apply(&operation("doubles"), removals).unwrap();
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 24, ..ProptestConfig::default() })]

    #[test]
    fn any_register_survives_the_round_trip(
        records in prop::collection::vec(record(), 1..24),
        edits in prop::collection::vec((any::<usize>(), text()), 0..6),
        removed in prop::collection::vec(any::<usize>(), 0..3),
    ) {
        let dir = tempfile::tempdir().unwrap();
        let mut first = Store::create(&dir.path().join("a")).unwrap();
        fill(&mut first, &records, &edits, &removed);
        prop_assert_eq!(first.broken_link().unwrap(), None);
        export(&first, &dir.path().join("one")).unwrap();
        let mut second = Store::create(&dir.path().join("b")).unwrap();
        let report = import(&mut second, &Source::at(&dir.path().join("one")).unwrap(), "x", now(), false);
        let report = match report {
            Ok(r) => r,
            Err(e @ ExchangeError::At { .. }) => return Err(TestCaseError::fail(e.to_string())),
            Err(e) => return Err(TestCaseError::fail(e.to_string())),
        };
        prop_assert_eq!(report.operation, None, "{:?}", report.sample);
        prop_assert_eq!(second.head().unwrap(), first.head().unwrap());
        export(&second, &dir.path().join("two")).unwrap();
        prop_assert_eq!(tree(&dir.path().join("one")), tree(&dir.path().join("two")));
    }
}

#[test]
fn a_log_that_was_altered_is_refused_with_its_line() {
    let dir = tempfile::tempdir().unwrap();
    let mut store = Store::create(&dir.path().join("a")).unwrap();
    let pole = json!({"structure": "40-118", "kind": "pole", "place": {"road": "Tannery Rd"}});
    fill(
        &mut store,
        &[Record::from_value(Kind::Structure, pole).unwrap()],
        &[],
        &[],
    );
    let out = dir.path().join("out");
    export(&store, &out).unwrap();
    let log = out.join("log/000001.yaml");
    let text = std::fs::read_to_string(&log).unwrap();
    std::fs::write(&log, text.replace("Tannery", "Cannery")).unwrap();
    let mut second = Store::create(&dir.path().join("b")).unwrap();
    let said = import(&mut second, &Source::at(&out).unwrap(), "x", now(), false)
        .unwrap_err()
        .to_string();
    assert!(said.contains("000001.yaml:1: "), "{said}");
    assert!(said.contains("does not match its digest"), "{said}");
    assert_eq!(second.head().unwrap().seq, 0);
}
