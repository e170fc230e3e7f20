//! The screens of reports: filing one at the pole, deciding at the desk.

use std::path::{Path, PathBuf};
use std::rc::Rc;

use polecard::domain::who::Who;
use polecard::store::{Access, Store};
use polecard::work::reports::{Asked, file, open, show};
use tempfile::TempDir;

use super::fixture::hand_made;
use super::rig::{Rig, edit, now};
use super::{SIZES, at_all_sizes};

fn path(dir: &TempDir) -> PathBuf {
    dir.path().join("register.polecard")
}

fn report(path: &Path, id: &str, set: &str, why: &str) {
    let store = Store::open(path, Access::Read).unwrap();
    let asked = Asked {
        set: if set.is_empty() {
            Vec::new()
        } else {
            vec![set.to_string()]
        },
        why: why.to_string(),
        ..Asked::default()
    };
    file(&store, id, &asked, &Who::read("ls"), now()).unwrap();
}

/// Three alike ones, one of which is about a record changed since, and a note.
fn with_reports() -> Rc<TempDir> {
    let dir = hand_made();
    let path = path(&dir);
    for pole in ["30-103", "30-104", "30-105"] {
        report(&path, pole, "feeder=KS2", "cut over in spring");
    }
    report(&path, "KS1-RC-2", "", "wasps in the cabinet");
    edit(&path, "30-104", "feeder", "KS3");
    dir
}

fn near(path: &Path, pole: &str) -> serde_json::Value {
    let store = Store::open(path, Access::Read).unwrap();
    let found = polecard::work::resolve(&store, pole).unwrap();
    found.record.to_value()["feeder"].clone()
}

fn shown(name: &str, keys: &str) {
    for (width, height) in SIZES {
        let mut rig = Rig::new(with_reports(), width, height);
        command(&mut rig, "reports");
        rig.keys(keys);
        insta::assert_snapshot!(format!("reports-{name}-{width}x{height}"), rig.shot());
    }
}

/// Runs a command from the list over an empty prompt, wherever it stands there.
pub fn command(rig: &mut Rig, name: &str) {
    rig.keys("<enter>");
    run_listed(rig, name);
}

/// The same from the list of commands of an open screen.
pub fn command_of(rig: &mut Rig, name: &str) {
    rig.keys("m");
    run_listed(rig, name);
}

fn run_listed(rig: &mut Rig, name: &str) {
    const MOST: usize = 60;
    let marked = |rig: &Rig| {
        let text = rig.text();
        let row = text.lines().find_map(|l| l.strip_prefix('>'));
        row.is_some_and(|r| format!("{}  ", r.trim()).starts_with(&format!("{name}  ")))
    };
    for _ in 0..MOST {
        if marked(rig) {
            break;
        }
        rig.keys("j");
    }
    assert!(marked(rig), "{name}: {}", rig.text());
    rig.keys("<enter>");
}

#[test]
fn the_reports_that_wait() {
    shown("waiting", "");
}

#[test]
fn the_alike_ones_and_one_changed_since() {
    shown("alike", "<enter>");
}

#[test]
fn one_beside_its_record() {
    shown("one", "<enter>2");
}

#[test]
fn a_reason_asked_for() {
    shown("refuse", "<enter>rseen today");
}

#[test]
fn a_report_being_made() {
    at_all_sizes("reports-field", "KS1-RC-2<enter>z");
    at_all_sizes("reports-value", "5-70112<enter>zcoil<enter>9e9<enter>");
}

#[test]
fn all_alike_are_accepted_as_one_and_what_changed_since_is_left() {
    let dir = with_reports();
    let path = path(&dir);
    let mut rig = Rig::new(dir, 80, 24);
    command(&mut rig, "reports");
    assert!(
        rig.text().contains("reports to decide: 4"),
        "{}",
        rig.text()
    );
    rig.keys("y");
    let text = rig.text();
    assert!(
        text.contains("2 reports accepted: 1, 3; 1 left waiting"),
        "{text}"
    );
    assert!(text.contains("LOOK changed since: now KS3"), "{text}");
    assert_eq!(near(&path, "30-103"), "KS2");
    assert_eq!(near(&path, "30-104"), "KS3", "never overwritten");
    // Alone it is not accepted either, but amended by choice.
    rig.keys("a");
    assert!(rig.text().contains("is now KS3"), "{}", rig.text());
    rig.keys("k");
    assert!(rig.text().contains("feeder > KS2"), "{}", rig.text());
    assert!(
        rig.text().contains("then KS1, now KS3, reported KS2"),
        "{}",
        rig.text()
    );
    rig.keys("<enter>");
    assert_eq!(near(&path, "30-104"), "KS2");
    rig.keys("b");
    assert_eq!(near(&path, "30-104"), "KS3", "{}", rig.text());
}

#[test]
fn one_is_refused_the_rest_accepted_and_all_taken_back() {
    let dir = with_reports();
    let path = path(&dir);
    let mut rig = Rig::new(dir, 80, 24);
    command(&mut rig, "reports");
    rig.keys("<enter>r<enter>");
    assert!(
        rig.text().contains("refused: type an answer"),
        "{}",
        rig.text()
    );
    rig.keys("wrong pole<enter>");
    assert!(rig.text().contains("1 report refused: 1"), "{}", rig.text());
    assert!(
        rig.text().contains("30-103 refused:"),
        "still shown: {}",
        rig.text()
    );
    rig.keys("y");
    assert_eq!(near(&path, "30-105"), "KS2");
    assert_eq!(near(&path, "30-103"), "KS1");
    rig.keys("b");
    assert!(rig.text().contains("undone, 1 change"), "{}", rig.text());
    assert_eq!(near(&path, "30-105"), "KS1");
    assert!(rig.text().contains("30-105 undone:"), "{}", rig.text());
    rig.keys("<backspace>s");
    assert!(rig.text().contains("reports decided: 1"), "{}", rig.text());
}

#[test]
fn a_note_is_closed_with_what_was_done() {
    let dir = with_reports();
    let path = path(&dir);
    let mut rig = Rig::new(dir, 80, 24);
    command(&mut rig, "reports");
    rig.keys("<down>awasps removed<enter>");
    assert!(
        rig.text().contains("1 report accepted: 4"),
        "{}",
        rig.text()
    );
    let store = Store::open(&path, Access::Read).unwrap();
    let one = show(&store, open(&store).unwrap().as_ref(), "4").unwrap();
    assert_eq!(one.decisions[0].why.as_deref(), Some("wasps removed"));
}

/// Letters, digits, Enter and Backspace do it all, on a phone.
#[test]
fn a_lineworker_files_a_report_at_the_pole() {
    let dir = hand_made();
    let path = path(&dir);
    let mut rig = Rig::new(dir, 50, 20);
    rig.keys("5-70112<enter>zcoil<enter>140<enter>x<enter>");
    assert!(rig.text().contains("refused: 1 plate"), "{}", rig.text());
    rig.keys("<backspace>1<enter><enter><enter>");
    assert!(
        rig.text().contains("refused: a report needs a reason"),
        "{}",
        rig.text()
    );
    rig.keys("read it<enter>");
    assert!(rig.text().contains("filed as report 1"), "{}", rig.text());
    let store = Store::open(&path, Access::Read).unwrap();
    let one = show(&store, open(&store).unwrap().as_ref(), "1")
        .unwrap()
        .report;
    assert_eq!(one.name(), "5-70112");
    assert_eq!(
        one.fields[0].wanted,
        serde_json::json!({"value": 140, "by": "lw", "on": "2026-10-03", "from": "plate"})
    );
    assert_eq!((one.account.as_str(), one.why.as_str()), ("lw", "read it"));
}

#[test]
fn each_step_back_keeps_what_was_typed() {
    let mut rig = Rig::new(hand_made(), 80, 24);
    rig.keys("5-70112<enter>zcoil<enter>140<enter>");
    assert!(rig.text().contains("read from >"), "{}", rig.text());
    rig.keys("<backspace>");
    assert!(rig.text().contains("value > 140"), "{}", rig.text());
    rig.keys("<esc>");
    assert!(rig.text().contains("field > coil"), "{}", rig.text());
    rig.keys("<esc>");
    assert!(rig.text().contains("5-70112  RECLOSER") || rig.text().contains("OIL RECLOSER"));
}

#[test]
fn what_is_not_on_record_is_reported_from_the_prompt() {
    let dir = hand_made();
    let path = path(&dir);
    let mut rig = Rig::new(dir, 80, 24);
    rig.keys("99-777<enter><backspace>");
    assert!(rig.text().contains("find > 99-777"), "{}", rig.text());
    rig.keys("<ctrl-u>");
    command(&mut rig, "report missing");
    rig.keys("99-777<enter>new pole by the ice house<enter>");
    assert!(rig.text().contains("filed as report 1"), "{}", rig.text());
    let store = Store::open(&path, Access::Read).unwrap();
    let one = show(&store, open(&store).unwrap().as_ref(), "1")
        .unwrap()
        .report;
    assert_eq!(one.unlisted.as_deref(), Some("99-777"));
}

#[test]
fn no_key_and_no_size_makes_them_fail() {
    for script in ["", "<enter>", "<enter><enter>", "<enter>k", "s", "r"] {
        let mut rig = Rig::plain(with_reports(), 80, 24);
        command(&mut rig, "reports");
        rig.keys(script);
        assert!(rig.shot().is_ascii(), "{}", rig.shot());
        for width in (1..130).step_by(9) {
            for height in [1, 3, 11, 12, 20, 41] {
                rig.resize(width, height);
            }
        }
    }
    use proptest::prelude::*;
    let keys = prop::sample::select(vec![
        "<enter>",
        "<backspace>",
        "<esc>",
        "j",
        "p",
        "a",
        "y",
        "r",
        "k",
        "b",
        "o",
        "s",
        "u",
        "v",
        "e",
        "g",
        "1",
        "9",
        "x",
        "h",
        "m",
    ]);
    proptest!(ProptestConfig::with_cases(12), |(script in prop::collection::vec(keys, 1..30))| {
        let mut rig = Rig::new(with_reports(), 60, 16);
        command(&mut rig, "reports");
        rig.keys(&script.concat());
        let _ = rig.text();
    });
}
