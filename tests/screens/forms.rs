//! Forms at the pole and at the desk: inspections, replaced fuses, corrections,
//! and the drafts under them.

mod corrected;

use std::path::Path;
use std::rc::Rc;

use polecard::domain::asset::{Class, Depth, EntryKind, Kind, Record, Rel, Stated};
use polecard::store::{Access, Store};
use tempfile::TempDir;

use super::SIZES;
use super::fixture::hand_made;
use super::rig::{Rig, copy_of_demo, edit};

fn register(dir: &TempDir) -> std::path::PathBuf {
    dir.path().join("register.polecard")
}

fn entries(path: &Path, of: &str) -> Vec<polecard::domain::asset::Entry> {
    let store = Store::open(path, Access::Read).unwrap();
    let found = store.pointing(Rel::About, of).unwrap();
    found
        .into_iter()
        .filter_map(|s| match s.record {
            Record::Entry(e) => Some(e),
            _ => None,
        })
        .collect()
}

fn drafts(dir: &TempDir) -> usize {
    let Ok(listed) = std::fs::read_dir(dir.path().join("drafts")) else {
        return 0;
    };
    listed
        .filter(|e| {
            let path = e.as_ref().unwrap().path();
            path.extension().is_some_and(|x| x == "draft")
        })
        .count()
}

fn shots(name: &str, keys: &str) {
    for (width, height) in SIZES {
        let mut rig = Rig::new(hand_made(), width, height);
        rig.keys(keys);
        insta::assert_snapshot!(format!("{name}-{width}x{height}"), rig.shot());
    }
}

/// The key of a line of the form, as the screen shows it.
fn letter(rig: &Rig, label: &str) -> String {
    let text = rig.text();
    let line = text
        .lines()
        .find(|l| l.get(4..).is_some_and(|l| l.starts_with(label)));
    let line = line.unwrap_or_else(|| panic!("no line {label:?} in\n{text}"));
    line[2..3].to_string()
}

#[test]
fn the_inspection_form() {
    shots("inspect-depth", "KS1-RC-2<enter>i");
    shots("inspect", "KS1-RC-2<enter>i2j");
}

#[test]
fn the_correction_form() {
    shots("correct", "5-70112<enter>kjjj");
}

#[test]
fn oil_below_the_mark_in_few_keys() {
    let dir = hand_made();
    let mut rig = Rig::new(Rc::clone(&dir), 50, 20);
    rig.keys("KS1-RC-2<enter>i2");
    assert!(rig.text().contains("inspect 5-70112"), "{}", rig.text());
    let oil = letter(&rig, "oil level");
    rig.keys(&format!("{oil}3"));
    let row = |rig: &Rig| {
        let text = rig.text();
        text.lines()
            .find(|l| l.contains("oil level"))
            .unwrap()
            .to_string()
    };
    assert!(row(&rig).contains("below the mark"), "{}", rig.text());
    assert!(row(&rig).ends_with("saved"), "{}", rig.text());
    assert_eq!(drafts(&dir), 1);
    rig.keys("<enter>");
    assert!(
        rig.text().contains("oil level: below the mark"),
        "{}",
        rig.text()
    );
    assert_eq!(
        entries(&register(&dir), "5-70112").len(),
        1,
        "not yet written"
    );
    rig.keys("<enter>");
    let written = entries(&register(&dir), "5-70112");
    let entry = written.last().unwrap();
    assert_eq!(entry.depth, Some(Depth::Detailed));
    assert_eq!(
        entry.readings["oil_level"].as_text(),
        Some("below the mark")
    );
    assert_eq!(drafts(&dir), 0, "the draft goes when its entry is written");
}

#[test]
fn an_impossible_reading_is_refused_at_the_field() {
    let mut rig = Rig::new(hand_made(), 80, 24);
    rig.keys("KS1-RC-2<enter>i2");
    let counter = letter(&rig, "operations counter");
    rig.keys(&format!("{counter}-3<enter>"));
    let text = rig.text();
    assert!(
        text.contains("refused") && text.contains("from 0 to 999999"),
        "{text}"
    );
    rig.keys("<backspace><backspace>1x");
    assert!(rig.text().contains("only a figure"), "{}", rig.text());
    rig.keys("<backspace>,204<enter>");
    assert!(
        rig.text().contains("1204"),
        "grouped figures: {}",
        rig.text()
    );
}

#[test]
fn what_was_refused_is_not_said_of_the_next_key() {
    let dir = copy_of_demo();
    let mut rig = Rig::on(&register(&dir), 80, 24);
    rig.keys("7-20931<enter>i1z");
    assert!(rig.text().contains("refused: no line"), "{}", rig.text());
    rig.keys("<enter>");
    assert!(!rig.text().contains("refused"), "{}", rig.text());
}

#[test]
fn a_phone_is_understood_in_answers() {
    let dir = hand_made();
    let mut rig = Rig::new(Rc::clone(&dir), 50, 20);
    rig.keys("KS1-RC-2<enter>I2");
    let counter = letter(&rig, "operations cou").to_uppercase();
    rig.keys(&format!("{counter}U<enter>"));
    assert!(rig.text().contains("unknown"), "{}", rig.text());
    let note = {
        rig.keys("e");
        letter(&rig, "note")
    };
    rig.keys(&format!("{note}‘weir’ gate — by 40–118<enter>"));
    let finds = letter(&rig, "defects found");
    rig.keys(&format!("{finds}Oil b, cracked<enter>"));
    assert!(rig.text().contains("oil below mark"), "{}", rig.text());
    rig.keys("<enter><enter>");
    let written = entries(&register(&dir), "5-70112");
    let entry = written.last().unwrap();
    assert_eq!(entry.note.as_deref(), Some("'weir' gate - by 40-118"));
    assert_eq!(entry.readings["counter"], Stated::unknown());
    assert_eq!(entry.finds.len(), 2);
}

#[test]
fn an_unfinished_form_is_offered_taken_up_and_discarded_after_asking() {
    let dir = hand_made();
    {
        let mut rig = Rig::new(Rc::clone(&dir), 80, 24);
        rig.keys("KS1-RC-2<enter>i1");
        let oil = letter(&rig, "oil level");
        rig.keys(&format!("{oil}1<ctrl-c>"));
        assert_eq!(rig.exit(), Some(0));
    }
    let mut rig = Rig::new(Rc::clone(&dir), 80, 24);
    assert!(
        rig.text().contains("inspection of 5-70112 is not finished"),
        "{}",
        rig.text()
    );
    rig.keys("<enter><enter>");
    assert!(rig.text().contains("unfinished forms"), "{}", rig.text());
    rig.keys("<enter>");
    let text = rig.text();
    assert!(text.contains("taken up again"), "{text}");
    let row = text.lines().find(|l| l.contains("oil level")).unwrap();
    assert!(
        row.contains("at the mark") && row.contains("saved"),
        "{text}"
    );
    rig.keys("<backspace><enter><enter>x");
    assert!(rig.text().contains("x again discards"), "{}", rig.text());
    rig.keys("jx");
    assert_eq!(drafts(&dir), 1, "any other key keeps it");
    rig.keys("x");
    assert_eq!(drafts(&dir), 0);
    assert!(
        rig.text().contains("No form is unfinished"),
        "{}",
        rig.text()
    );
}

#[test]
fn a_draft_that_cannot_be_written_says_so_at_the_field() {
    let dir = hand_made();
    std::fs::write(
        dir.path().join("drafts"),
        "a file where the folder should be",
    )
    .unwrap();
    let mut rig = Rig::new(Rc::clone(&dir), 80, 24);
    rig.keys("KS1-RC-2<enter>i2");
    let oil = letter(&rig, "oil level");
    rig.keys(&format!("{oil}3"));
    let text = rig.text();
    let row = text.lines().find(|l| l.contains("oil level")).unwrap();
    assert!(row.contains("UNSAVED") && !row.contains(" saved"), "{text}");
    assert!(text.contains("NOT SAVED"), "{text}");
    rig.keys("<enter><enter>");
    assert_eq!(
        entries(&register(&dir), "5-70112").len(),
        2,
        "it is written all the same"
    );
}

#[test]
fn a_replaced_fuse_in_few_keys_and_the_correction_it_proposes() {
    let dir = Rc::new(copy_of_demo());
    let path = register(&dir);
    let mut rig = Rig::new(Rc::clone(&dir), 50, 20);
    rig.keys("HB1-FC-15<enter>l");
    assert!(
        rig.text().contains("fuse replaced at HB1-FC-15"),
        "{}",
        rig.text()
    );
    insta::assert_snapshot!("replaced-50x20", rig.shot());
    rig.keys("a65K<enter><enter>");
    let last = entries(&path, "HB1-FC-15");
    let entry = last.iter().find(|e| {
        e.entry == EntryKind::Operation && e.readings["link_put"].as_text() == Some("65K")
    });
    assert!(entry.is_some(), "{}", rig.text());
    assert!(rig.text().contains("65K was put in"), "{}", rig.text());
    rig.keys("k");
    assert!(rig.text().contains("correct HB1-FC-15"), "{}", rig.text());
    rig.keys("w<enter>");
    let store = Store::open(&path, Access::Read).unwrap();
    let hit = store.named("HB1-FC-15").unwrap().remove(0);
    let record = store.by_row(hit.rec).unwrap().unwrap().record;
    assert!(
        record.to_json().contains("65K"),
        "{}\n{}",
        record.to_json(),
        rig.text()
    );
}

/// The id of an operation is another one each time.
fn without_id(shot: &str) -> String {
    let lines = shot.lines().map(|l| match l.split_once("operation 01") {
        Some((before, _)) => format!("{before}operation ID"),
        None => l.to_string(),
    });
    lines.collect::<Vec<_>>().join("\n")
}

#[test]
fn the_review_and_what_follows() {
    for (width, height) in SIZES {
        let mut rig = Rig::new(hand_made(), width, height);
        rig.keys("KS1-RC-2<enter>i2");
        let oil = letter(&rig, "oil level");
        rig.keys(&format!("{oil}3<enter>"));
        insta::assert_snapshot!(format!("review-{width}x{height}"), rig.shot());
        rig.keys("<enter>");
        insta::assert_snapshot!(
            format!("concluded-{width}x{height}"),
            without_id(&rig.shot())
        );
    }
}

#[test]
fn two_values_of_one_field() {
    for (width, height) in SIZES {
        let dir = hand_made();
        let mut rig = Rig::new(Rc::clone(&dir), width, height);
        rig.keys("KS1-RC-2<enter>k");
        while !rig.text().lines().any(|l| l.starts_with(">   note")) {
            rig.keys("j");
        }
        rig.keys("<enter>hive on the arm<enter>");
        edit(&register(&dir), "KS1-RC-2", "note", "nest on the arm");
        rig.keys("wwseen from the road<enter><enter>");
        insta::assert_snapshot!(format!("conflict-{width}x{height}"), rig.shot());
    }
}

#[test]
fn the_list_of_unfinished_forms() {
    for (width, height) in SIZES {
        let dir = hand_made();
        let mut rig = Rig::new(Rc::clone(&dir), width, height);
        rig.keys("KS1-RC-2<enter>i2");
        let oil = letter(&rig, "oil level");
        rig.keys(&format!("{oil}3<backspace>kj"));
        rig.keys("<enter>x<enter><backspace>f");
        std::fs::write(dir.path().join("drafts/X.draft"), "{").unwrap();
        drop(rig);
        let mut rig = Rig::new(dir, width, height);
        insta::assert_snapshot!(format!("greeting-{width}x{height}"), rig.shot());
        rig.keys("<enter><enter>");
        insta::assert_snapshot!(format!("unfinished-{width}x{height}"), rig.shot());
    }
}

#[test]
fn a_draft_that_outlived_its_entry_says_so() {
    let dir = hand_made();
    let mut rig = Rig::new(Rc::clone(&dir), 80, 24);
    rig.keys("KS1-RC-2<enter>i2");
    let oil = letter(&rig, "oil level");
    rig.keys(&format!("{oil}3"));
    // As when the program is killed between the write and the removal.
    let folder = dir.path().join("drafts");
    let file = std::fs::read_dir(&folder)
        .unwrap()
        .map(|e| e.unwrap().path())
        .find(|p| p.extension().is_some_and(|x| x == "draft"))
        .unwrap();
    let kept = std::fs::read(&file).unwrap();
    rig.keys("<enter><enter>");
    drop(rig);
    std::fs::write(&file, kept).unwrap();
    let mut rig = Rig::new(dir, 80, 24);
    rig.keys("<enter><enter><enter>");
    assert!(rig.text().contains("was written since"), "{}", rig.text());
}

#[test]
fn a_sample_is_preceded_by_its_checklist() {
    for (width, height) in [(80, 24), (50, 20)] {
        let mut rig = Rig::new(hand_made(), width, height);
        rig.keys("KS1-RC-2<enter>i3");
        insta::assert_snapshot!(format!("sampling-{width}x{height}"), rig.shot());
        assert!(rig.text().contains("Before a sample"), "{}", rig.text());
        rig.keys("<enter>");
        assert!(rig.text().contains("operations counter"), "{}", rig.text());
    }
    let mut rig = Rig::new(hand_made(), 80, 24);
    rig.keys("30-103<enter>i3");
    assert!(
        !rig.text().contains("Before a sample"),
        "a pole holds no oil"
    );
}

#[test]
fn the_order_is_made_once() {
    let dir = Rc::new(copy_of_demo());
    let mut rig = Rig::new(Rc::clone(&dir), 80, 24);
    rig.keys("HB1-RC-6<enter>i1");
    let oil = letter(&rig, "oil level");
    rig.keys(&format!("{oil}3<enter><enter>o"));
    assert!(rig.text().contains("opened"), "{}", rig.text());
    rig.keys("o");
    assert!(rig.text().contains("all are made"), "{}", rig.text());
    rig.keys("<backspace>i1");
    let oil = letter(&rig, "oil level");
    rig.keys(&format!("{oil}3<enter><enter>o"));
    assert!(rig.text().contains("is open already"), "{}", rig.text());
}

#[test]
fn a_transformer_behind_a_link_takes_the_one_key_too() {
    let dir = Rc::new(copy_of_demo());
    let path = register(&dir);
    let store = Store::open(&path, Access::Read).unwrap();
    let all = store.all(Kind::Position).unwrap();
    let behind = all.iter().find_map(|s| match &s.record {
        Record::Position(p) if p.class == Class::Transformer => {
            let mut links = p.elements.iter().filter_map(|e| e.link.as_ref());
            let known = links.next().is_some_and(|l| l.as_text().is_some());
            (known && links.next().is_none()).then(|| p.position.clone())
        }
        _ => None,
    });
    let name = behind.expect("the demo has one");
    drop(store);
    let mut rig = Rig::new(Rc::clone(&dir), 80, 24);
    rig.keys(&format!("{name}<enter>laa<enter>"));
    let written = entries(&path, &name);
    let put = written.iter().any(|e| e.readings.contains_key("link_put"));
    assert!(put, "{}", rig.text());
}

/// The level read at the mark does not clear the STOP; two people who looked
/// do, and a draft is taken up or begun anew as one chooses.
#[test]
fn a_stop_is_cleared_by_two_people_and_a_draft_is_asked_about() {
    let dir = copy_of_demo();
    let path = register(&dir);
    let mut rig = Rig::on(&path, 50, 20);
    rig.keys("7-20931<enter>i2o1<backspace>i");
    let text = rig.text();
    assert!(text.contains("1 continue"), "{text}");
    assert!(text.contains("1 field answered"), "{text}");
    rig.keys("2");
    assert!(rig.text().contains("1 patrol"), "{}", rig.text());
    rig.keys("2o1<enter><enter>");
    let text = rig.text();
    assert!(
        text.contains("STOP stands until cleared: oil below mark"),
        "{text}"
    );
    assert!(text.contains("c clears oil below mark"), "{text}");
    rig.keys("clw<enter>");
    let text = rig.text();
    assert!(text.contains("somebody other"), "{text}");
    rig.keys("cmk<enter>");
    let text = rig.text();
    assert!(text.contains("cleared: oil below mark"), "{text}");
    // It stood on the place, where it had been written down.
    let clears = |of: &str| entries(&path, of).iter().any(|e| !e.clears.is_empty());
    assert!(clears("HB2-RC-14") || clears("7-20931"));
}

/// Three cutouts at one position: the slot is asked, the entry written, and the
/// correction proposed for that one link, in words.
#[test]
fn a_fuse_replaced_in_one_of_three_slots_is_corrected_there() {
    let dir = copy_of_demo();
    let path = register(&dir);
    let mut rig = Rig::on(&path, 80, 24);
    rig.keys("HB2-FC-1<enter>l2<enter>25K<enter><enter>65K<enter><enter>");
    let text = rig.text();
    assert!(text.contains("link in element B: 25K -> 65K"), "{text}");
    assert!(!text.contains('{'), "{text}");
    rig.keys("k");
    let text = rig.text();
    assert!(text.contains("link in element B"), "{text}");
    assert!(text.contains("-> 65K"), "{text}");
    rig.keys("w");
    assert!(rig.text().contains("-> 65K"), "{}", rig.text());
    rig.keys("<enter>");
    assert!(
        rig.text().contains("written: elements of HB2-FC-1"),
        "{}",
        rig.text()
    );
    let store = Store::open(&path, Access::Read).unwrap();
    let hit = store.named("HB2-FC-1").unwrap().remove(0);
    let record = store.by_row(hit.rec).unwrap().unwrap().record.to_value();
    let links: Vec<&serde_json::Value> = [1, 3, 5]
        .iter()
        .map(|i| &record["elements"][*i]["link"])
        .collect();
    assert_eq!(links[1], "65K");
    assert_ne!(links[0], "65K");
}
