//! A register that is replaced, moved away or removed while the screens have
//! it open, or while somebody writes.

use std::path::{Path, PathBuf};

use polecard::domain::change::Operation;
use polecard::store::{Access, Place, Store, StoreError, fresh_id};
use tempfile::TempDir;

use crate::screens::rig::{Rig, copy_of_demo, edit, now};

const SIZES: [(u16, u16); 4] = [(120, 40), (80, 24), (50, 20), (40, 12)];

fn register(dir: &TempDir) -> PathBuf {
    dir.path().join("register.polecard")
}

/// Another demo register in which a pole has a note, put over the first as a
/// nightly copy does it: written aside, then renamed.
fn put_another_over(path: &Path) {
    let other = copy_of_demo();
    edit(&register(&other), "40-118", "note", "from the other file");
    let aside = path.with_extension("aside");
    std::fs::copy(register(&other), &aside).unwrap();
    std::fs::rename(&aside, path).unwrap();
}

/// What is said, whatever the lines are folded at.
fn flat(rig: &Rig) -> String {
    let text = rig.text();
    text.split_whitespace().collect::<Vec<_>>().join(" ")
}

#[test]
fn another_file_in_the_register_s_place_is_noticed_and_read() {
    for (width, height) in SIZES {
        let dir = copy_of_demo();
        let path = register(&dir);
        let mut rig = Rig::on(&path, width, height);
        rig.keys("40-118<enter>");
        assert!(rig.text().contains("read at"), "{}", rig.text());
        put_another_over(&path);
        // The card looks every two seconds, without a key.
        assert!(rig.looks());
        assert!(flat(&rig).contains("ANOTHER FILE"), "{}", rig.text());
        assert!(!rig.text().contains("read at"), "the old card has closed");
        assert!(rig.text().contains("40-118"), "what was typed stands");
        rig.keys("<enter>");
        assert!(!flat(&rig).contains("ANOTHER FILE"), "said once");
        rig.keys("y");
        assert!(flat(&rig).contains("seen from the road"), "{}", rig.text());
        assert!(!rig.looks());
    }
}

#[test]
fn a_key_after_a_replacement_does_nothing_to_the_other_file() {
    let dir = copy_of_demo();
    let path = register(&dir);
    let mut rig = Rig::on(&path, 80, 24);
    rig.keys("40-118<enter>");
    put_another_over(&path);
    let head = Store::open(&path, Access::Read).unwrap().head().unwrap();
    rig.keys("k");
    assert!(flat(&rig).contains("ANOTHER FILE"), "{}", rig.text());
    assert!(!flat(&rig).contains("correct 40-118"), "{}", rig.text());
    let store = Store::open(&path, Access::Read).unwrap();
    assert_eq!(store.head().unwrap(), head);
}

#[test]
fn a_register_that_is_gone_is_said_until_it_is_back() {
    for (width, height) in SIZES {
        let dir = copy_of_demo();
        let path = register(&dir);
        let away = path.with_extension("away");
        let mut rig = Rig::on(&path, width, height);
        rig.keys("40-118<enter>");
        std::fs::rename(&path, &away).unwrap();
        assert!(rig.looks());
        for keys in ["j", "j"] {
            assert!(flat(&rig).contains("NO REGISTER"), "{}", rig.text());
            rig.keys(keys);
        }
        let shown = rig.text();
        assert!(shown.contains("pole") || shown.contains("POLE"), "{shown}");
        assert!(!rig.looks(), "said, and not painted again");
        std::fs::rename(&away, &path).unwrap();
        assert!(rig.looks());
        assert!(!flat(&rig).contains("NO REGISTER"), "{}", rig.text());
    }
}

#[test]
fn what_is_no_register_is_not_gone_over_to() {
    let dir = copy_of_demo();
    let path = register(&dir);
    let mut rig = Rig::on(&path, 80, 24);
    rig.keys("40-118<enter>");
    let aside = path.with_extension("aside");
    std::fs::write(
        &aside,
        "dear control centre, this is a letter\n".repeat(200),
    )
    .unwrap();
    std::fs::rename(&aside, &path).unwrap();
    assert!(rig.looks());
    assert!(flat(&rig).contains("NO REGISTER"), "{}", rig.text());
    assert!(flat(&rig).contains("is not a register"), "{}", rig.text());
    assert!(rig.text().contains("40-118  POLE"), "the card stays");
    let letter = std::fs::read_to_string(&path).unwrap();
    assert!(letter.starts_with("dear control centre"));
    put_another_over(&path);
    assert!(rig.looks());
    assert!(flat(&rig).contains("ANOTHER FILE"), "{}", rig.text());
}

/// A form is filled in, the register goes, and Enter is pressed: nothing is
/// written anywhere, it is said, and the answers are still there afterwards.
#[test]
fn a_form_on_a_register_that_is_gone_writes_nothing_and_keeps_its_answers() {
    let dir = copy_of_demo();
    let path = register(&dir);
    let away = path.with_extension("away");
    let mut rig = Rig::on(&path, 80, 24);
    rig.keys(FILLED);
    let head = Store::open(&path, Access::Read).unwrap().head().unwrap();
    std::fs::rename(&path, &away).unwrap();
    rig.keys("<enter>");
    assert!(!path.exists(), "no new file was made");
    let said = flat(&rig).to_lowercase();
    assert!(said.contains("no register"), "{}", rig.text());
    std::fs::rename(&away, &path).unwrap();
    let store = Store::open(&path, Access::Read).unwrap();
    assert_eq!(store.head().unwrap(), head);
    put_another_over(&path);
    rig.keys("j");
    assert!(flat(&rig).contains("ANOTHER FILE"), "{}", rig.text());
    let mut again = Rig::on(&path, 80, 24);
    assert!(flat(&again).contains("is not finished"), "{}", again.text());
    again.keys("<enter><enter>");
    assert!(flat(&again).contains("unfinished"), "{}", again.text());
}

/// A correction filled in, with all that is asked before it is written.
const FILLED: &str = "7-20931<enter>kjjj<enter>B<enter>wwplate read<enter>f1";

/// The same keys do write while the register is there.
#[test]
fn the_same_form_is_written_where_the_register_is() {
    let dir = copy_of_demo();
    let path = register(&dir);
    let mut rig = Rig::on(&path, 80, 24);
    rig.keys(FILLED);
    let head = Store::open(&path, Access::Read).unwrap().head().unwrap();
    rig.keys("<enter>");
    let store = Store::open(&path, Access::Read).unwrap();
    assert_eq!(store.head().unwrap().seq, head.seq + 1, "{}", rig.text());
}

fn operation() -> Operation {
    Operation {
        id: fresh_id(now()),
        who: "hb".to_string(),
        entered: now(),
        effective: None,
        why: "seen from the road".to_string(),
        origin: None,
        undoes: None,
    }
}

/// A write that began before the file was replaced: refused, never
/// acknowledged and lost with the old file.
#[test]
fn a_write_under_way_into_a_file_that_left_its_place_is_refused() {
    for remove in [false, true] {
        let dir = copy_of_demo();
        let path = register(&dir);
        let mut store = Store::open(&path, Access::Write).unwrap();
        let hit = store.named("40-118").unwrap().remove(0);
        let id = store.by_row(hit.rec).unwrap().unwrap().record.id();
        let mut writer = store.writer().unwrap();
        let change = Ok::<_, StoreError>(polecard::domain::change::Change::Remove(id));
        writer.operation(&operation(), [change]).unwrap();
        if remove {
            std::fs::remove_file(&path).unwrap();
        } else {
            let aside = path.with_extension("aside");
            std::fs::copy(&path, &aside).unwrap();
            std::fs::rename(&aside, &path).unwrap();
        }
        let refused = writer.commit().unwrap_err();
        assert!(matches!(refused, StoreError::Replaced(_)), "{refused}");
        assert!(refused.to_string().contains("nothing was written"));
        let place = store.place();
        assert_eq!(matches!(place, Place::Gone(_)), remove, "{place:?}");
        assert_eq!(place == Place::Other, !remove);
        if !remove {
            let held = store.head().unwrap();
            store.reopen().unwrap();
            assert_eq!(store.place(), Place::Same);
            assert_eq!(store.head().unwrap(), held);
            let mut writer = store.writer().unwrap();
            let change = Ok::<_, StoreError>(polecard::domain::change::Change::Remove(id));
            writer.operation(&operation(), [change]).unwrap();
            writer.commit().unwrap();
        }
    }
}
