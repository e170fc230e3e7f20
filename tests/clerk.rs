//! The screens of correction by key script: a unit swapped and taken back, a
//! history read, findings mended.

use polecard::store::{Access, Store};

use crate::screens::fixture::hand_made;
use crate::screens::rig::{Rig, demo};

const SIZES: [(u16, u16); 4] = [(120, 40), (80, 24), (50, 20), (40, 12)];

fn at_all_sizes(name: &str, keys: &str) {
    for (width, height) in SIZES {
        let mut rig = Rig::new(hand_made(), width, height);
        rig.keys(keys);
        let shot = without_ids(&rig.shot());
        insta::assert_snapshot!(format!("{name}-{width}x{height}"), shot);
    }
}

/// Ids of operations are drawn anew each time.
fn without_ids(shot: &str) -> String {
    let mut out = String::new();
    for line in shot.lines() {
        let line = match line.split_once("operation 01") {
            Some((before, _)) => format!("{before}operation 01…"),
            None => line.to_string(),
        };
        out.push_str(&line);
        out.push('\n');
    }
    out
}

#[test]
fn the_steps_of_a_swap() {
    at_all_sizes("swap-into", "KS1-RC-2<enter>x");
    at_all_sizes("swap-moved", "KS1-RC-2<enter>x5-70340<enter>");
    at_all_sizes(
        "swap-review",
        "KS1-RC-2<enter>x5-70340<enter>11<enter>oil leak<enter>",
    );
}

#[test]
fn histories_and_findings() {
    at_all_sizes("history", "KS1-RC-2<enter>y");
    at_all_sizes("operation", "KS1-RC-2<enter>y<enter>");
    at_all_sizes("take-back", "KS1-RC-2<enter>yt");
    at_all_sizes("findings", "30-105<enter>v");
}

fn stays(path: &std::path::Path, unit: &str) -> String {
    let store = Store::open(path, Access::Read).unwrap();
    let stored = polecard::work::resolve(&store, unit).unwrap();
    stored.record.to_value()["deployments"].to_string()
}

#[test]
fn a_clerk_swaps_a_unit_and_undoes_it_with_plain_keys() {
    for (width, height) in SIZES {
        let register = hand_made();
        let path = register.path().join("register.polecard");
        let mut rig = Rig::new(register.clone(), width, height);
        let before = (stays(&path, "5-70112"), stays(&path, "5-70340"));
        rig.keys("KS1-RC-2<enter>x5-70340<enter>1");
        assert!(
            rig.text().contains("Where does 5-70112 go?"),
            "{}",
            rig.text()
        );
        rig.keys("1<enter>oil leak<enter>");
        assert!(rig.text().contains("write it down"), "{}", rig.text());
        assert_eq!(stays(&path, "5-70112"), before.0, "nothing is written yet");
        rig.keys("1");
        assert!(rig.text().contains("take it back"), "{}", rig.text());
        assert!(stays(&path, "5-70112").contains("shop"));
        assert!(stays(&path, "5-70340").contains("KS1-RC-2"));
        rig.keys("t");
        assert!(rig.text().contains("taken back"), "{}", rig.text());
        assert_eq!((stays(&path, "5-70112"), stays(&path, "5-70340")), before);
        rig.keys("y");
        assert!(rig.text().contains("UNDONE"), "{}", rig.text());
    }
}

#[test]
fn a_step_back_in_a_swap_loses_nothing_and_writes_nothing() {
    let register = hand_made();
    let mut rig = Rig::new(register.clone(), 80, 24);
    rig.keys("KS1-RC-2<enter>x5-70340<enter>11<enter>oil leak<enter>");
    rig.keys("<backspace>");
    assert!(rig.text().contains("why > oil leak"), "{}", rig.text());
    rig.keys("<esc><esc><backspace>");
    assert!(
        rig.text().contains("unit put in > 5-70340"),
        "{}",
        rig.text()
    );
    rig.keys("9<enter>");
    assert!(rig.text().contains("5-703409"), "{}", rig.text());
    let store = Store::open(&register.path().join("register.polecard"), Access::Read).unwrap();
    assert_eq!(store.head().unwrap().seq, 1);
}

#[test]
fn an_operation_is_taken_back_from_the_history_with_a_reason() {
    let register = hand_made();
    let path = register.path().join("register.polecard");
    crate::screens::rig::edit(&path, "KS1-RC-2", "note", "nest on the arm");
    let mut rig = Rig::new(register, 80, 24);
    rig.keys("KS1-RC-2<enter>y");
    assert!(rig.text().contains("seen from the road"), "{}", rig.text());
    rig.keys("twrong pole<enter>");
    assert!(
        rig.text().contains("taken back: seen from the road"),
        "{}",
        rig.text()
    );
    rig.keys("j");
    assert!(rig.text().contains("wrong pole"), "{}", rig.text());
    // The card as it stood when the note was on it.
    rig.keys("a");
    assert!(rig.text().contains("AS OF 3 Oct 2026"), "{}", rig.text());
    rig.keys("e");
    assert!(rig.text().contains("nest on the arm"), "{}", rig.text());
    rig.keys("<backspace>t");
    assert!(rig.text().contains("taken back already"), "{}", rig.text());
}

#[test]
fn what_takes_two_people_asks_for_the_second() {
    let mut rig = Rig::new(hand_made(), 80, 24);
    rig.keys("5-70112<enter>yt<enter>");
    assert!(rig.text().contains("second person >"), "{}", rig.text());
    rig.keys("lw<enter>");
    assert!(
        rig.text().contains("somebody other than lw"),
        "{}",
        rig.text()
    );
}

#[test]
fn the_whole_log_and_all_findings_are_reached_by_the_list_of_commands() {
    let mut rig = Rig::new(hand_made(), 80, 24);
    rig.keys("<enter>");
    let row = |rig: &Rig, name: &str| rig.text().lines().any(|l| l.contains(name));
    assert!(
        row(&rig, "whole log") && row(&rig, "all findings"),
        "{}",
        rig.text()
    );
    let reach = |rig: &mut Rig, name: &str| {
        for _ in 0..30 {
            if rig
                .text()
                .lines()
                .any(|l| l.starts_with('>') && l.contains(name))
            {
                return;
            }
            rig.keys("j");
        }
        panic!("never marked: {name}\n{}", rig.text());
    };
    reach(&mut rig, "whole log");
    rig.keys("<enter>");
    assert!(
        rig.text().contains("history of the register"),
        "{}",
        rig.text()
    );
    rig.keys("<backspace><enter>");
    reach(&mut rig, "all findings");
    rig.keys("<enter>");
    assert!(rig.text().contains("for each 100"), "{}", rig.text());
    assert!(!rig.text().contains("verifying"), "{}", rig.text());
}

#[test]
fn a_certain_mend_is_shown_first_and_taken_back_by_one_key() {
    let register = hand_made();
    let path = register.path().join("register.polecard");
    edit_place(&path);
    let mut rig = Rig::new(register, 80, 24);
    rig.keys("30-105<enter>v");
    assert!(rig.text().contains("placeholder-value"), "{}", rig.text());
    rig.keys("x");
    assert!(
        rig.text().contains("place.road: TBD -> not on record"),
        "{}",
        rig.text()
    );
    rig.keys("1");
    let road = || {
        let store = Store::open(&path, Access::Read).unwrap();
        let stored = polecard::work::resolve(&store, "30-105").unwrap();
        stored.record.to_value()["place"]["road"].clone()
    };
    assert!(road().is_null());
    rig.keys("t");
    assert_eq!(road(), "TBD");
    assert!(rig.text().contains("placeholder-value"), "{}", rig.text());
}

/// A road that stands for none.
fn edit_place(path: &std::path::Path) {
    let mut store = Store::open(path, Access::Write).unwrap();
    let asked = polecard::work::edit::Asked {
        set: vec!["place.road=TBD".to_string()],
        why: "from the old card".to_string(),
        ..polecard::work::edit::Asked::default()
    };
    polecard::work::edit::edit(
        &mut store,
        "30-105",
        &asked,
        "dc",
        crate::screens::rig::now(),
    )
    .unwrap();
}

#[test]
fn a_finding_that_needs_a_person_opens_the_record_with_what_to_do() {
    let mut rig = Rig::new(demo(), 80, 24);
    rig.keys("<enter>");
    for _ in 0..30 {
        if rig
            .text()
            .lines()
            .any(|l| l.starts_with('>') && l.contains("all findings"))
        {
            break;
        }
        rig.keys("j");
    }
    rig.keys("<enter>");
    assert!(rig.text().contains("for each 100"), "{}", rig.text());
    rig.keys("x");
    assert!(rig.text().contains("to do: "), "{}", rig.text());
}

#[test]
fn progress_is_told_against_the_last_time() {
    let register = hand_made();
    let mut rig = Rig::new(register.clone(), 120, 40);
    let open = |rig: &mut Rig| {
        rig.keys("<enter>");
        for _ in 0..30 {
            if rig
                .text()
                .lines()
                .any(|l| l.starts_with('>') && l.contains("all findings"))
            {
                break;
            }
            rig.keys("j");
        }
        rig.keys("<enter>");
    };
    open(&mut rig);
    assert!(!rig.text().contains("as before"), "{}", rig.text());
    rig.keys("<backspace>");
    edit_place(&register.path().join("register.polecard"));
    open(&mut rig);
    assert!(rig.text().contains("; worse: before"), "{}", rig.text());
}
