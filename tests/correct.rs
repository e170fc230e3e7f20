//! Corrections: edits with their reasons, undo, history, and the register as
//! it stood then. What is right here follows from the log itself: an edit
//! taken back leaves the records of before, and the past is what was read when
//! it was the present.

mod then;

use std::path::Path;

use polecard::calendar::{Date, Moment};
use polecard::domain::asset::{Kind, ReadFrom, Rel};
use polecard::exchange::{Source, export, import};
use polecard::store::{Access, Store};
use polecard::work::edit::{Asked, Reading, edit};
use polecard::work::history::history;
use polecard::work::undo::{self, undo, undo_with};
use polecard::work::{Failure, FailureKind};
use proptest::prelude::*;

const SMALL: &str = r"---
feeder: HB2
head: 40-117
kv_ll: 12.47
---
structure: 40-117
kind: pole
feeder: HB2
place: {road: Tannery Rd, near: the weir gate}
---
structure: 40-118
kind: pole
feeder: HB2
names: [{text: T-5512, whose: telephone}]
place: {road: Tannery Rd, near: the old kiln}
---
span: {from: 40-117, to: 40-118, phases: ABC, conductor: 1/0 ACSR, length_ft: 310}
feeder: HB2
---
position: HB2-RC-14
class: recloser
feeder: HB2
structure: 40-118
elements: [{element: lead, amps: 200}]
---
unit: 7-20931
class: recloser
nameplate: {serial: '0071', coil_amps: 100, interrupting_amps: {value: 4000, standing: assumed, rule: by coil}, bil_kv: unknown}
deployments: [{at: HB2-RC-14, slot: ABC, from: 2018-06-04}]
---
entry: inspection
of: 7-20931
on: 2026-09-12
by: hb
finds: [oil below mark]
";

fn at(text: &str) -> Moment {
    text.parse().unwrap()
}

/// A moment some days after the register was begun.
fn day(n: u32) -> Moment {
    at(&format!("2026-10-{:02}T14:10:00-06:00", n + 1))
}

fn register(dir: &Path) -> Store {
    let files = tempfile::tempdir().unwrap();
    std::fs::write(files.path().join("all.yaml"), SMALL).unwrap();
    let mut store = Store::create(&dir.join("r.polecard")).unwrap();
    import(
        &mut store,
        &Source::at(files.path()).unwrap(),
        "hb",
        day(0),
        false,
    )
    .unwrap();
    store
}

fn set(fields: &[&str]) -> Asked {
    Asked {
        set: fields.iter().map(ToString::to_string).collect(),
        why: "seen at the pole".to_string(),
        ..Asked::default()
    }
}

fn read(fields: &[&str]) -> Asked {
    Asked {
        reading: Some(Reading {
            by: "mk".to_string(),
            from: ReadFrom::Plate,
            on: "2026-10-01".parse::<Date>().unwrap(),
        }),
        ..set(fields)
    }
}

fn body(store: &Store, id: &str) -> serde_json::Value {
    polecard::work::resolve(store, id)
        .unwrap()
        .record
        .to_value()
}

/// Everything that the reads of a register answer.
fn dump(store: &Store) -> Vec<String> {
    let mut out = vec![format!("{:?}", store.head().unwrap())];
    let names = ["40-117", "40-118", "40-119", "HB2-RC-14", "7-20931", "HB2"];
    for kind in Kind::ALL {
        out.push(format!("{} {}", kind, store.count(*kind).unwrap()));
        for s in store.all(*kind).unwrap() {
            out.push(format!("{} {} {}", s.rec, s.op, s.record.to_json()));
            assert_eq!(store.by_row(s.rec).unwrap().unwrap(), s);
            assert_eq!(store.by_id(s.record.id()).unwrap().unwrap(), s);
        }
        for s in store.at_home(Some("HB2"), *kind).unwrap() {
            out.push(format!("at home {}", s.rec));
        }
    }
    for name in names {
        out.push(format!("{name}: {:?}", store.named(name).unwrap()));
        for rel in Rel::ALL {
            let rows: Vec<i64> = store
                .pointing(*rel, name)
                .unwrap()
                .iter()
                .map(|s| s.rec)
                .collect();
            out.push(format!("{name} {rel}: {rows:?}"));
        }
    }
    out
}

/// The records alone, without the operations that gave them their form.
fn records(store: &Store) -> Vec<String> {
    Kind::ALL
        .iter()
        .flat_map(|k| store.all(*k).unwrap())
        .map(|s| s.record.to_json())
        .collect()
}

#[test]
fn an_edit_types_its_value_by_the_field_and_shows_old_and_new() {
    let dir = tempfile::tempdir().unwrap();
    let mut store = register(dir.path());
    let done = edit(
        &mut store,
        "40-118",
        &set(&[
            "place.near=the fish ladder",
            "place.house=12",
            "circuits=[HB2, HB3]",
        ]),
        "hb",
        day(1),
    )
    .unwrap();
    assert!(done.operation.is_some());
    assert_eq!(done.changes[0].old, "the old kiln");
    let now = body(&store, "40-118");
    assert_eq!(now["place"]["near"], "the fish ladder");
    // A house number is a text, also when it looks like a figure.
    assert_eq!(now["place"]["house"], "12");
    assert_eq!(now["circuits"], serde_json::json!(["HB2", "HB3"]));
    let again = edit(
        &mut store,
        "40-118",
        &set(&["place.near=the fish ladder"]),
        "hb",
        day(2),
    )
    .unwrap();
    assert_eq!(again.operation, None);
    assert_eq!(store.head().unwrap().seq, 2);
}

#[test]
fn a_plate_value_needs_its_reader_or_its_rule() {
    let dir = tempfile::tempdir().unwrap();
    let mut store = register(dir.path());
    let bare = edit(
        &mut store,
        "7-20931",
        &set(&["nameplate.bil_kv=110"]),
        "hb",
        day(1),
    )
    .unwrap_err();
    assert!(bare.message.contains("who read it"), "{bare}");
    edit(
        &mut store,
        "7-20931",
        &read(&["nameplate.bil_kv=110", "nameplate.serial=0072"]),
        "hb",
        day(1),
    )
    .unwrap();
    let plate = &body(&store, "7-20931")["nameplate"];
    assert_eq!(
        plate["bil_kv"],
        serde_json::json!({"value": 110, "by": "mk", "on": "2026-10-01", "from": "plate"})
    );
    assert_eq!(plate["serial"]["value"], "0072");
    let confirmed = Asked {
        confirm: vec!["nameplate.coil_amps".to_string()],
        ..read(&[])
    };
    edit(&mut store, "7-20931", &confirmed, "hb", day(1)).unwrap();
    let coil = &body(&store, "7-20931")["nameplate"]["coil_amps"];
    assert_eq!(coil["value"], 100);
    assert_eq!(coil["by"], "mk");
    let unknown = set(&["nameplate.coil_amps=unknown"]);
    edit(&mut store, "7-20931", &unknown, "hb", day(1)).unwrap();
    let coil = &body(&store, "7-20931")["nameplate"]["coil_amps"];
    assert_eq!(coil, "unknown");
}

#[test]
fn what_is_not_allowed_is_refused_and_nothing_changes() {
    let dir = tempfile::tempdir().unwrap();
    let mut store = register(dir.path());
    let before = dump(&store);
    for (id, fields, says) in [
        ("40-118", "place.near=", "a blank does not erase"),
        ("40-118", "place.nera=x", "did you mean \"near\""),
        ("40-118", "kind=mast", "pole"),
        ("40-118", "id=01J80000000000000000000000", "never changes"),
        ("7-20931", "nameplate.coil_amps=banana", "not a number of A"),
        ("7-20931", "nameplate.bil_kv=9000", "bil_kv"),
        ("7-20931", "nameplate.interrupter=steam", "oil"),
        ("HB2", "feeder=HB9", "not renamed here"),
        ("40-118", "near", "is not field=value"),
        ("40-118", "circuits=[HB2", "cannot be read"),
    ] {
        let e = edit(&mut store, id, &read(&[fields]), "hb", day(1)).unwrap_err();
        assert_eq!(e.kind, FailureKind::Usage, "{fields}: {e}");
        assert!(e.to_string().contains(says), "{fields}: {e}");
    }
    let no_reason = Asked {
        why: " ".to_string(),
        ..set(&["note=x"])
    };
    assert!(edit(&mut store, "40-118", &no_reason, "hb", day(1)).is_err());
    let future = edit(
        &mut store,
        "7-20931",
        &read(&["note=x"]),
        "hb",
        at("2026-09-01T08:00:00Z"),
    );
    assert!(future.unwrap_err().message.contains("future"));
    assert_eq!(dump(&store), before);
}

#[test]
fn erasing_is_said_in_so_many_words() {
    let dir = tempfile::tempdir().unwrap();
    let mut store = register(dir.path());
    let erase = Asked {
        erase: vec!["place.near".to_string()],
        ..set(&[])
    };
    edit(&mut store, "40-118", &erase, "hb", day(1)).unwrap();
    assert!(body(&store, "40-118")["place"].get("near").is_none());
    let twice = edit(&mut store, "40-118", &erase, "hb", day(1)).unwrap_err();
    assert!(twice.message.contains("no value to erase"), "{twice}");
}

fn with_second(store: &mut Store, id: &str, asked: &Asked) -> (Failure, Failure) {
    let alone = edit(store, id, asked, "hb", day(1)).unwrap_err();
    let twice_the_same = Asked {
        second: Some("HB".to_string()),
        ..asked.clone()
    };
    let same = edit(store, id, &twice_the_same, "hb", day(1)).unwrap_err();
    let two = Asked {
        second: Some("mk".to_string()),
        ..asked.clone()
    };
    let done = edit(store, id, &two, "hb", day(1)).unwrap();
    assert!(done.why.contains("second person, as declared by hb: mk"));
    (alone, same)
}

#[test]
fn a_rating_is_raised_a_defect_cleared_and_a_name_changed_by_two_people() {
    let dir = tempfile::tempdir().unwrap();
    let mut store = register(dir.path());
    let plate = read(&["nameplate.interrupting_amps=6000"]);
    let (alone, same) = with_second(&mut store, "7-20931", &plate);
    assert!(alone.message.contains("raises a rating"), "{alone}");
    assert!(same.message.contains("other than hb"), "{same}");
    let leads = set(&["elements=[{element: lead, amps: 400}]"]);
    with_second(&mut store, "HB2-RC-14", &leads);
    let entry = store.all(Kind::Entry).unwrap()[0].record.id().to_string();
    let clear = Asked {
        erase: vec!["finds".to_string()],
        ..set(&[])
    };
    with_second(&mut store, &entry, &clear);
    with_second(&mut store, "40-118", &set(&["structure=40-119"]));
    // The old name still finds, and says that it is no longer in use.
    let found = polecard::work::resolve_among(&store, "40-118", &[]).unwrap();
    assert_eq!(found.stored.record.name(), "40-119");
    assert!(found.note.unwrap().contains("no longer in use"));
    let taken = Asked {
        second: Some("mk".to_string()),
        ..set(&["structure=40-117"])
    };
    let e = edit(&mut store, "40-119", &taken, "hb", day(2)).unwrap_err();
    assert!(e.message.contains("already"), "{e}");
    // Lowering a rating is the safe direction: one person does it.
    let lower = read(&["nameplate.interrupting_amps=3000"]);
    edit(&mut store, "7-20931", &lower, "hb", day(2)).unwrap();
}

#[test]
fn two_people_on_one_field_the_later_sees_both() {
    let dir = tempfile::tempdir().unwrap();
    let mut store = register(dir.path());
    edit(
        &mut store,
        "40-118",
        &set(&["place.near=the mill"]),
        "mk",
        day(1),
    )
    .unwrap();
    let mine = Asked {
        expect: vec!["place.near=the old kiln".to_string()],
        ..set(&["place.near=the fish ladder"])
    };
    let e = edit(&mut store, "40-118", &mine, "hb", day(2)).unwrap_err();
    let said = e.to_string();
    for part in [
        "the mill",
        "the old kiln",
        "the fish ladder",
        "mk changed it",
    ] {
        assert!(said.contains(part), "{part}: {said}");
    }
    assert_eq!(body(&store, "40-118")["place"]["near"], "the mill");
}

#[test]
fn undo_takes_back_the_last_of_mine_and_names_what_stands_in_the_way() {
    let dir = tempfile::tempdir().unwrap();
    let mut store = register(dir.path());
    let first = edit(&mut store, "40-118", &set(&["place.near=a"]), "hb", day(1)).unwrap();
    edit(&mut store, "40-118", &set(&["place.near=b"]), "mk", day(2)).unwrap();
    let e = undo(&mut store, None, None, "hb", day(3)).unwrap_err();
    assert!(e.to_string().contains("changed again by mk"), "{e}");
    assert_eq!(store.head().unwrap().seq, 3);
    undo(&mut store, None, None, "mk", day(3)).unwrap();
    assert_eq!(body(&store, "40-118")["place"]["near"], "a");
    let id = first.operation.unwrap();
    let done = undo(&mut store, Some(&id.to_lowercase()), None, "mk", day(3)).unwrap();
    assert_eq!(done.undoes, id);
    assert_eq!(body(&store, "40-118")["place"]["near"], "the old kiln");
    // hb's edit is taken back already: the last of hb's is the first import.
    edit(&mut store, "40-117", &set(&["note=x"]), "mk", day(3)).unwrap();
    let e = undo(&mut store, None, None, "hb", day(4)).unwrap_err();
    assert!(e.to_string().contains("40-117"), "{e}");
    assert_eq!(
        undo(&mut store, Some("7ZZZ"), None, "hb", day(4))
            .unwrap_err()
            .kind,
        FailureKind::NotFound
    );
    assert_eq!(store.broken_link().unwrap(), None);
}

#[test]
fn an_import_is_undone_whole_and_done_again() {
    let dir = tempfile::tempdir().unwrap();
    let mut store = register(dir.path());
    let before = records(&store);
    // What was found goes with it, so two people take it back.
    let alone = undo(&mut store, None, None, "hb", day(1)).unwrap_err();
    assert!(alone.message.contains("clears a defect"), "{alone}");
    let two = undo::Asked {
        second: Some("mk".to_string()),
        ..undo::Asked::default()
    };
    let done = undo_with(&mut store, &two, "hb", day(1)).unwrap();
    assert_eq!(done.changes, 7);
    assert_eq!(records(&store), Vec::<String>::new());
    undo(&mut store, Some(&done.operation), None, "hb", day(1)).unwrap();
    assert_eq!(records(&store), before);
    assert_eq!(store.broken_link().unwrap(), None);
}

#[test]
fn history_tells_who_when_from_when_and_why() {
    let dir = tempfile::tempdir().unwrap();
    let mut store = register(dir.path());
    let asked = Asked {
        effective: Some("2026-09-30".parse().unwrap()),
        ..set(&["place.near=the mill"])
    };
    edit(&mut store, "40-118", &asked, "mk", day(1)).unwrap();
    undo(&mut store, None, None, "mk", day(2)).unwrap();
    let told = history(&store, Some("40-118"), 10).unwrap();
    assert_eq!(told.operations.len(), 3);
    let op = &told.operations[1];
    assert_eq!(
        (op.who.as_str(), op.why.as_str()),
        ("mk", "seen at the pole")
    );
    assert_eq!(op.entered_utc, "2026-10-02T20:10:00.000Z");
    assert_eq!(op.entered.to_string(), "2026-10-02T14:10:00-06:00");
    assert_eq!(op.effective.unwrap().to_string(), "2026-09-30");
    assert_eq!(op.undone_by.as_ref(), Some(&told.operations[0].operation));
    assert_eq!(op.changes[0].new, "the mill");
    // Of the import only what touches this record is told.
    assert_eq!(told.operations[2].changes.len(), 1);
    let all = history(&store, None, 2).unwrap();
    assert!(all.more);
    assert_eq!(all.operations.len(), 2);
}
