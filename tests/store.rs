//! The register: one way to write, nothing lost, the log chained.

use std::path::Path;

use polecard::calendar::Moment;
use polecard::domain::asset::{Kind, Record};
use polecard::exchange::{Source, export, import};
use polecard::store::{Access, Store};

use crate::support::tree;

fn now() -> Moment {
    "2026-10-03T14:10:00-06:00".parse().unwrap()
}

fn folder(text: &str) -> tempfile::TempDir {
    let dir = tempfile::tempdir().unwrap();
    std::fs::write(dir.path().join("all.yaml"), text).unwrap();
    dir
}

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
---
unit: 7-20931
class: recloser
nameplate: {coil_amps: 100, interrupting_amps: {value: 4000, standing: assumed, rule: by coil}, bil_kv: unknown}
deployments: [{at: HB2-RC-14, slot: ABC, from: 2018-06-04}]
";

fn register(dir: &Path) -> Store {
    let mut store = Store::create(&dir.join("r.polecard")).unwrap();
    let files = folder(SMALL);
    let source = Source::at(files.path()).unwrap();
    let report = import(&mut store, &source, "hb", now(), false).unwrap();
    assert_eq!(report.added, 6);
    store
}

#[test]
fn a_register_written_out_and_read_back_is_the_same_to_the_byte() {
    let dir = tempfile::tempdir().unwrap();
    let store = register(dir.path());
    export(&store, &dir.path().join("one")).unwrap();
    let mut second = Store::create(&dir.path().join("s.polecard")).unwrap();
    let source = Source::at(&dir.path().join("one")).unwrap();
    let report = import(&mut second, &source, "other", now(), false).unwrap();
    assert_eq!((report.replayed, report.operation), (1, None));
    assert_eq!(second.head().unwrap(), store.head().unwrap());
    export(&second, &dir.path().join("two")).unwrap();
    assert_eq!(tree(&dir.path().join("one")), tree(&dir.path().join("two")));
    assert_eq!(second.broken_link().unwrap(), None);
}

#[test]
fn a_hand_edit_in_the_files_enters_as_one_further_operation() {
    let dir = tempfile::tempdir().unwrap();
    let store = register(dir.path());
    let out = dir.path().join("out");
    export(&store, &out).unwrap();
    let file = out.join("feeders/HB2.yaml");
    let text = std::fs::read_to_string(&file).unwrap();
    std::fs::write(&file, text.replace("the old kiln", "the new kiln")).unwrap();
    let mut second = Store::create(&dir.path().join("s.polecard")).unwrap();
    let report = import(&mut second, &Source::at(&out).unwrap(), "hb", now(), false).unwrap();
    assert_eq!((report.replayed, report.edited), (1, 1));
    assert!(report.notes[0].contains("one further operation"));
    assert_eq!(second.head().unwrap().seq, store.head().unwrap().seq + 1);
    assert_eq!(second.broken_link().unwrap(), None);
}

#[test]
fn into_a_filled_register_a_difference_is_shown_and_nothing_written() {
    let dir = tempfile::tempdir().unwrap();
    let mut store = register(dir.path());
    let before = store.head().unwrap();
    let files = folder("---\nstructure: 40-118\nkind: pole\nfeeder: HB2\nplace: {road: Weir Ln}\n");
    let source = Source::at(files.path()).unwrap();
    let shown = import(&mut store, &source, "hb", now(), false).unwrap();
    assert!(!shown.applied);
    assert_eq!(store.head().unwrap(), before);
    let applied = import(&mut store, &source, "hb", now(), true).unwrap();
    assert!(applied.applied);
    assert_eq!(shown.edited, applied.edited);
    let hits = store.named("40118").unwrap();
    let Record::Structure(s) = store.by_row(hits[0].rec).unwrap().unwrap().record else {
        panic!("a structure");
    };
    assert_eq!(s.place.road.as_deref(), Some("Weir Ln"));
}

#[test]
fn an_error_in_a_file_leaves_the_register_as_it_was() {
    let dir = tempfile::tempdir().unwrap();
    let mut store = register(dir.path());
    let before = store.head().unwrap();
    let files = folder("---\nstructure: 40-900\nkind: pole\n---\nstructure: 40-901\nkind: pol\n");
    let source = Source::at(files.path()).unwrap();
    let said = import(&mut store, &source, "hb", now(), true)
        .unwrap_err()
        .to_string();
    assert!(said.contains("all.yaml:6"), "{said}");
    assert_eq!(store.head().unwrap(), before);
    assert!(store.named("40-900").unwrap().is_empty());
}

#[test]
fn not_a_register_and_a_newer_one_are_told_apart() {
    let dir = tempfile::tempdir().unwrap();
    let other = dir.path().join("notes.txt");
    std::fs::write(&other, "not a register, only some notes about poles").unwrap();
    let said = Store::open(&other, Access::Read).err().unwrap().to_string();
    assert!(said.contains("not a register"), "{said}");
    let said = Store::open(&dir.path().join("none"), Access::Read)
        .err()
        .unwrap()
        .to_string();
    assert!(said.contains("--register"), "{said}");
    register(dir.path());
    let path = dir.path().join("r.polecard");
    let conn = rusqlite::Connection::open(&path).unwrap();
    conn.execute_batch("pragma user_version = 99").unwrap();
    drop(conn);
    let said = Store::open(&path, Access::Read).err().unwrap().to_string();
    assert!(said.contains("newer version"), "{said}");
}

#[test]
fn a_second_reader_sees_what_a_writer_left() {
    let dir = tempfile::tempdir().unwrap();
    let store = register(dir.path());
    let reader = Store::open(store.path(), Access::Read).unwrap();
    assert_eq!(reader.count(Kind::Structure).unwrap(), 2);
    assert_eq!(reader.named("t 5512").unwrap()[0].text, "T-5512");
}
