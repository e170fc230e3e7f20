//! The register as things were on a day: what was entered is one thing, from
//! when it holds another. The expected values follow from the dates given.

use polecard::calendar::{Date, Moment};
use polecard::domain::asset::Kind;
use polecard::exchange::{Source, export, import};
use polecard::store::{Access, Store};
use polecard::work::edit::{Asked, edit};
use polecard::work::history::history;
use polecard::work::swap::{self, swap};
use polecard::work::undo::undo;
use polecard::work::{FailureKind, resolve};
use serde_json::Value;

const SMALL: &str = r"---
structure: 40-118
kind: pole
feeder: HB2
place: {near: the old kiln}
---
position: HB2-RC-14
class: recloser
feeder: HB2
structure: 40-118
state: {stands: closed, at: 2026-02-01T08:00:00-06:00, by: hb}
---
unit: 7-20931
class: recloser
deployments: [{at: HB2-RC-14, from: 2018-06-04}]
---
unit: 7-21002
class: recloser
deployments: [{at: shop, from: 2025-02-01}]
---
entry: inspection
of: 7-20931
on: 2026-03-12
finds: [oil leak]
";

fn at(text: &str) -> Moment {
    text.parse().unwrap()
}

fn noon(day: &str) -> Moment {
    at(&format!("{day}T12:00:00-06:00"))
}

fn register(dir: &std::path::Path, on: &str) -> Store {
    let files = tempfile::tempdir().unwrap();
    std::fs::write(files.path().join("all.yaml"), SMALL).unwrap();
    let mut store = Store::create(&dir.join("r.polecard")).unwrap();
    let source = Source::at(files.path()).unwrap();
    import(&mut store, &source, "hb", noon(on), false).unwrap();
    store
}

fn near(store: &mut Store, text: &str, entered: &str, effective: Option<&str>) {
    let asked = Asked {
        set: vec![format!("place.near={text}")],
        why: text.to_string(),
        effective: effective.map(|d| d.parse().unwrap()),
        ..Asked::default()
    };
    edit(store, "40-118", &asked, "hb", noon(entered)).unwrap();
}

/// The register on a day, and what was known of it on another.
fn on(dir: &std::path::Path, day: &str, known: Option<&str>) -> Store {
    let mut store = Store::open(&dir.join("r.polecard"), Access::Read).unwrap();
    if let Some(known) = known {
        let seq = store
            .operation_at(at(&format!("{known}T23:59:59-06:00")))
            .unwrap();
        store = store.as_of(seq).unwrap();
    }
    store.effective(day.parse::<Date>().unwrap()).unwrap()
}

fn field(store: &Store, id: &str, path: &str) -> Value {
    let value = resolve(store, id).unwrap().record.to_value();
    polecard::domain::change::value_at(&value, path).clone()
}

#[test]
fn an_operation_counts_from_its_effective_day_whenever_it_was_entered() {
    let dir = tempfile::tempdir().unwrap();
    let mut store = register(dir.path(), "2026-01-05");
    near(&mut store, "mill", "2026-04-20", Some("2026-03-10"));
    near(&mut store, "ladder", "2026-05-02", None);
    drop(store);
    for (day, known, said) in [
        ("2026-03-09", None, "the old kiln"),
        ("2026-03-10", None, "mill"),
        ("2026-05-01", None, "mill"),
        ("2026-05-02", None, "ladder"),
        // What was known on 1 April about 15 March: nothing of the mill yet.
        ("2026-03-15", Some("2026-04-01"), "the old kiln"),
        ("2026-03-15", Some("2026-04-20"), "mill"),
        // Of a day later than what is known, the last that was known.
        ("2026-06-01", Some("2026-04-21"), "mill"),
        // Before the register began: nothing says that the pole came later.
        ("2019-01-01", None, "the old kiln"),
    ] {
        let store = on(dir.path(), day, known);
        assert_eq!(
            field(&store, "40-118", "place.near"),
            said,
            "{day} {known:?}"
        );
    }
    let store = on(dir.path(), "2026-04-30", None);
    let told = history(&store, Some("40-118"), 9).unwrap();
    let whys: Vec<&str> = told.operations.iter().map(|o| o.why.as_str()).collect();
    assert_eq!(whys[0], "mill");
    assert_eq!(whys.len(), 2);
    let head = Store::open(&dir.path().join("r.polecard"), Access::Read)
        .unwrap()
        .head()
        .unwrap();
    assert_eq!(
        told.chain_head, head.digest,
        "what is known is the whole log"
    );
}

#[test]
fn what_was_undone_was_never_so() {
    let dir = tempfile::tempdir().unwrap();
    let mut store = register(dir.path(), "2026-01-05");
    near(&mut store, "slip", "2026-03-01", None);
    undo(&mut store, None, None, "hb", noon("2026-03-20")).unwrap();
    near(&mut store, "mill", "2026-04-01", None);
    drop(store);
    let store = on(dir.path(), "2026-03-10", None);
    assert_eq!(field(&store, "40-118", "place.near"), "the old kiln");
    // Though on that day the register said so.
    let store = on(dir.path(), "2026-03-10", Some("2026-03-10"));
    assert_eq!(field(&store, "40-118", "place.near"), "slip");
}

#[test]
fn stays_states_and_entries_count_by_their_own_dates() {
    let dir = tempfile::tempdir().unwrap();
    let mut store = register(dir.path(), "2026-04-05");
    let asked = swap::Asked {
        second: None,
        place: "HB2-RC-14".to_string(),
        out: Some("7-20931".to_string()),
        into: Some("7-21002".to_string()),
        to: Some("shop".to_string()),
        on: Some("2026-03-20".parse().unwrap()),
        why: "leak".to_string(),
        moved: false,
    };
    swap(&mut store, &asked, "hb", noon("2026-04-06")).unwrap();
    let state = Asked {
        set: vec!["state={stands: open, at: \"2026-04-02T08:00:00-06:00\", by: mk}".to_string()],
        why: "told by radio".to_string(),
        ..Asked::default()
    };
    edit(&mut store, "HB2-RC-14", &state, "hb", noon("2026-04-07")).unwrap();
    drop(store);
    let unit_at = |day: &str, name: &str| {
        let store = on(dir.path(), day, None);
        let stored = resolve(&store, "HB2-RC-14").unwrap();
        let here = polecard::work::facts::facts(&store, &stored, day.parse().unwrap());
        let units = here.unwrap().unwrap().units;
        assert_eq!(units.len(), 1, "{day}");
        assert_eq!(units[0].unit.unit, name, "{day}");
    };
    unit_at("2026-03-19", "7-20931");
    unit_at("2026-03-20", "7-21002");
    for (day, entries, state) in [
        ("2026-01-31", 0, Value::Null),
        ("2026-03-11", 0, "closed".into()),
        ("2026-03-12", 1, "closed".into()),
        ("2026-04-01", 1, "closed".into()),
        // The state counts from when it was so, not from when it was typed in.
        ("2026-04-02", 1, "open".into()),
    ] {
        let store = on(dir.path(), day, None);
        assert_eq!(store.count(Kind::Entry).unwrap(), entries, "{day}");
        assert_eq!(field(&store, "HB2-RC-14", "state.stands"), state, "{day}");
    }
}

#[test]
fn today_is_the_present_and_the_past_is_not_written_to() {
    let dir = tempfile::tempdir().unwrap();
    let mut store = register(dir.path(), "2026-01-05");
    near(&mut store, "mill", "2026-04-20", Some("2026-03-10"));
    near(&mut store, "ladder", "2026-05-02", Some("2026-02-01"));
    let dump = |store: &Store| -> Vec<String> {
        let all = Kind::ALL.iter().flat_map(|k| store.all(*k).unwrap());
        all.map(|s| s.record.to_json()).collect()
    };
    let present = dump(&store);
    drop(store);
    let mut today = on(dir.path(), "2026-05-02", None);
    assert_eq!(dump(&today), present);
    let e = edit(
        &mut today,
        "40-118",
        &Asked {
            set: vec!["note=x".into()],
            why: "x".into(),
            ..Asked::default()
        },
        "hb",
        noon("2026-06-01"),
    );
    assert!(e.is_err());
    // A folder of that day holds the records and no log, and can be taken in.
    let out = dir.path().join("out");
    export(&on(dir.path(), "2026-02-15", None), &out).unwrap();
    let mut fresh = Store::create(&dir.path().join("fresh")).unwrap();
    import(
        &mut fresh,
        &Source::at(&out).unwrap(),
        "hb",
        noon("2026-06-01"),
        false,
    )
    .unwrap();
    assert_eq!(field(&fresh, "40-118", "place.near"), "ladder");
    assert_eq!(fresh.head().unwrap().seq, 1);
}

fn shell(dir: &std::path::Path, args: &[&str]) -> (i32, String, String) {
    let out = std::process::Command::new(env!("CARGO_BIN_EXE_polecard"))
        .env_clear()
        .env("HOME", dir)
        .env("POLECARD_REGISTER", dir.join("r.polecard"))
        .args(args)
        .output()
        .unwrap();
    let text = |b: Vec<u8>| String::from_utf8(b).unwrap();
    (
        out.status.code().unwrap_or(-1),
        text(out.stdout),
        text(out.stderr),
    )
}

#[test]
fn from_the_command_line_it_says_what_is_shown() {
    let dir = tempfile::tempdir().unwrap();
    let mut store = register(dir.path(), "2026-01-05");
    near(&mut store, "mill", "2026-04-20", Some("2026-03-10"));
    drop(store);
    let run = |args: &[&str]| shell(dir.path(), args);
    let (code, out, _) = run(&["show", "40-118", "--effective", "2026-03-09"]);
    assert_eq!(code, 0);
    assert!(
        out.starts_with("EFFECTIVE 9 Mar 2026: how things were"),
        "{out}"
    );
    assert!(out.contains("the old kiln"), "{out}");
    let both = [
        "--effective",
        "2026-03-15",
        "--as-of",
        "2026-04-01",
        "--json",
    ];
    let (_, out, _) = run(&[&["show", "40-118"], &both[..]].concat());
    let told: Value = serde_json::from_str(&out).unwrap();
    assert_eq!(told["effective"], "2026-03-15");
    assert!(told["as_of"].as_str().unwrap().starts_with("2026-04-01"));
    assert_eq!(told["place"]["near"], "the old kiln");
    for command in ["find", "verify", "undo"] {
        let (code, _, said) = run(&[command, "--effective", "2026-03-09", "40-118"]
            [..if command == "find" { 4 } else { 3 }]);
        assert_eq!(code, FailureKind::Usage.exit_code(), "{command}: {said}");
    }
}

#[test]
fn on_what_writes_the_same_word_says_from_when_the_change_holds() {
    let dir = tempfile::tempdir().unwrap();
    drop(register(dir.path(), "2026-01-05"));
    let run = |args: &[&str]| shell(dir.path(), args);
    let (code, _, said) = run(&[
        "edit",
        "40-118",
        "note=new arm",
        "--effective",
        "2026-02-02",
        "--why",
        "seen",
    ]);
    assert_eq!(code, 0, "{said}");
    let (_, out, _) = run(&["show", "40-118", "--effective", "2026-02-02"]);
    assert!(out.contains("new arm"), "{out}");
    let (_, out, _) = run(&["show", "40-118", "--effective", "2026-02-01"]);
    assert!(!out.contains("new arm"), "{out}");
    let (code, _, said) = run(&["show", "40-999", "--effective", "2026-02-01"]);
    assert_eq!(code, 3);
    assert!(said.contains("as things were on 1 Feb 2026"), "{said}");
}
