//! The clerk's main path in a pseudo-terminal at 80 by 24: twenty alike
//! reports accepted at once, one refused, and the batch taken back.

use std::path::{Path, PathBuf};
use std::process::Command;
use std::time::Duration;

use polecard::domain::asset::{Kind, Record};
use polecard::domain::who::Who;
use polecard::store::{Access, Store};
use polecard::work::reports::{Asked, Which, file, list, open};

use super::harness::{Launch, Session};

fn register(home: &Path) -> PathBuf {
    home.join("polecard/register.polecard")
}

/// Twenty-one poles of the demo without a note, each reported to need one.
fn file_alike(path: &Path) -> Vec<String> {
    let store = Store::open(path, Access::Read).unwrap();
    let poles: Vec<String> = store
        .all(Kind::Structure)
        .unwrap()
        .iter()
        .filter(|s| s.record.to_value()["kind"] == "pole" && note(&s.record).is_null())
        .map(|s| s.record.name())
        .take(21)
        .collect();
    for pole in &poles {
        let asked = Asked {
            set: vec![format!("note={NOTE}")],
            why: "seen on the round".to_string(),
            ..Asked::default()
        };
        let now = "2026-10-03T14:10:00-06:00".parse().unwrap();
        file(&store, pole, &asked, &Who::read("lw"), now).unwrap();
    }
    poles
}

const NOTE: &str = "a second circuit was strung";

fn note(record: &Record) -> serde_json::Value {
    record.to_value()["note"].clone()
}

fn with_note(path: &Path, poles: &[String]) -> usize {
    let store = Store::open(path, Access::Read).unwrap();
    let now = |pole: &&String| polecard::work::resolve(&store, pole).unwrap().record;
    poles.iter().filter(|p| note(&now(p)) == NOTE).count()
}

fn waiting(path: &Path) -> usize {
    let store = Store::open(path, Access::Read).unwrap();
    let file = open(&store).unwrap();
    let listed = list(&store, file.as_ref(), &Which::default()).unwrap();
    listed.reports.len()
}

/// Through the list of commands, wherever the reports stand there.
fn go_to_reports(session: &mut Session) {
    session.send("\r");
    session.wait_for("commands for");
    let marked = |screen: &str| {
        let row = screen.lines().find_map(|l| l.strip_prefix('>'));
        row.is_some_and(|r| r.trim_start().starts_with("reports  "))
    };
    for _ in 0..60 {
        session.settle(Duration::from_millis(100));
        if marked(&session.screen()) {
            break;
        }
        session.send("j");
    }
    session.send("\r");
}

#[test]
fn a_clerk_accepts_twenty_alike_refuses_one_and_takes_the_batch_back() {
    let home = tempfile::tempdir().unwrap();
    let place = home.path().display().to_string();
    // The first look-up puts the demo there.
    let first = Command::new(env!("CARGO_BIN_EXE_polecard"))
        .env("HOME", &place)
        .env("XDG_DATA_HOME", &place)
        .env_remove("POLECARD_REGISTER")
        .args(["find", "40-118"])
        .output()
        .unwrap();
    assert!(first.status.success(), "{first:?}");
    let path = register(home.path());
    let poles = file_alike(&path);
    assert_eq!(with_note(&path, &poles), 0);

    let mut session = Launch::new(env!("CARGO_BIN_EXE_polecard"))
        .env("HOME", &place)
        .env("XDG_DATA_HOME", &place)
        .env("POLECARD_NAME", "Mia K.")
        .size(80, 24)
        .start();
    session.wait_for("find >");
    session.wait_for("as declared: Mia K.");
    go_to_reports(&mut session);
    session.wait_for("reports to decide: 21");
    session.wait_for("21 alike");
    session.send("\r");
    session.wait_for(" 9 ");
    session.send("7");
    session.wait_for("report 7, waiting");
    session.send("r");
    session.wait_for("why >");
    session.send("that pole has one circuit\r");
    session.wait_for("report 7, refused");
    session.send("\x7f");
    session.wait_for("refused:");
    session.send("y");
    session.wait_for("20 reports accepted");
    assert_eq!(with_note(&path, &poles), 20);
    session.send("b");
    session.wait_for("undone, 20 changes");
    assert_eq!(with_note(&path, &poles), 0);
    assert_eq!(waiting(&path), 20);
    session.send("q");
    assert_eq!(session.wait_exit().exit_code(), 0);
    session.assert_restored();
    let store = Store::open(&path, Access::Read).unwrap();
    let log = polecard::work::history::history(&store, None, 2).unwrap();
    assert!(log.operations[1].who.ends_with(" (declared: Mia K.)"));
    assert_eq!(
        log.operations[0].undoes.as_ref(),
        Some(&log.operations[1].operation)
    );
}
