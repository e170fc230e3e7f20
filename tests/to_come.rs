//! What was entered and holds only from a later day on: until that day every
//! current answer is that of today, and says what will change.

use std::path::{Path, PathBuf};
use std::process::Command;

use polecard::calendar::{Clock, Date, Moment};
use polecard::domain::asset::Rel;
use polecard::domain::change::value_at;
use polecard::exchange::{Source, export, import};
use polecard::store::{Access, Store};
use polecard::work::card::card;
use polecard::work::check::{Typed, check};
use polecard::work::edit::{Asked, edit};
use polecard::work::resolve;
use polecard::work::undo::undo;
use serde_json::Value;

use crate::screens::rig::Rig;
use crate::support::tree;

const SMALL: &str = r"---
utility: Test
---
structure: 40-118
kind: pole
place: {road: Tannery Rd, near: the old kiln}
---
structure: 40-119
kind: pole
---
position: HB2-RC-14
class: recloser
structure: 40-118
elements: [{element: unit}]
---
unit: 7-20931
class: recloser
nameplate: {coil_amps: 100}
deployments: [{at: HB2-RC-14, from: 2018-06-04}]
";

fn noon(day: &str) -> Moment {
    format!("{day}T12:00:00-06:00").parse().unwrap()
}

fn day(text: &str) -> Date {
    text.parse().unwrap()
}

struct Desk {
    dir: tempfile::TempDir,
}

impl Desk {
    fn new() -> Self {
        let dir = tempfile::tempdir().unwrap();
        let files = dir.path().join("in.yaml");
        std::fs::write(&files, SMALL).unwrap();
        let mut store = Store::create(&dir.path().join("register.polecard")).unwrap();
        let source = Source::at(&files).unwrap();
        import(&mut store, &source, "hb", noon("2026-01-05"), false).unwrap();
        Desk { dir }
    }

    fn path(&self) -> PathBuf {
        self.dir.path().join("register.polecard")
    }

    fn edit(&self, id: &str, set: &str, entered: &str, effective: Option<&str>) -> Vec<String> {
        let asked = Asked {
            set: vec![set.to_string()],
            why: format!("to {set}"),
            effective: effective.map(day),
            second: Some("js".to_string()),
            assumed: set
                .starts_with("nameplate")
                .then(|| "by the order".to_string()),
            ..Asked::default()
        };
        let mut store = Store::open(&self.path(), Access::Write).unwrap();
        edit(&mut store, id, &asked, "hb", noon(entered))
            .unwrap()
            .notes
    }

    fn today(&self, today: &str) -> Store {
        let mut store = Store::open(&self.path(), Access::Read).unwrap();
        store.hold_back(day(today)).unwrap();
        store
    }
}

fn field(store: &Store, id: &str, path: &str) -> Value {
    let value = resolve(store, id).unwrap().record.to_value();
    value_at(&value, path).clone()
}

fn cautions(store: &Store, id: &str, on: &str) -> Vec<String> {
    let rec = resolve(store, id).unwrap().rec;
    let card = card(store, rec, Clock::Fixed(noon(on))).unwrap();
    let about = card.cautions.into_iter().map(|c| c.text);
    about.filter(|t| t.contains("changes on")).collect()
}

#[test]
fn a_change_holds_from_its_day_and_is_announced_until_then() {
    let desk = Desk::new();
    desk.edit(
        "40-118",
        "place.near=mill",
        "2026-10-01",
        Some("2026-11-01"),
    );
    for (today, near, announced) in [
        ("2026-10-01", "the old kiln", 1),
        ("2026-10-31", "the old kiln", 1),
        ("2026-11-01", "mill", 0),
        ("2026-12-01", "mill", 0),
    ] {
        let store = desk.today(today);
        assert_eq!(field(&store, "40-118", "place.near"), near, "{today}");
        let said = cautions(&store, "40-118", today);
        assert_eq!(said.len(), announced, "{today}: {said:?}");
        if let Some(said) = said.first() {
            for part in [
                "1 Nov 2026",
                "place.near",
                "the old kiln becomes mill",
                "hb",
            ] {
                assert!(said.contains(part), "{part}: {said}");
            }
        }
        assert_eq!(field(&store, "40-119", "structure"), "40-119");
    }
    // What is written rests on the latest form, and says what is to come.
    let notes = desk.edit("40-118", "place.road=Weir Ln", "2026-10-02", None);
    assert!(notes.iter().any(|n| n.contains("to come")), "{notes:?}");
    let store = desk.today("2026-10-02");
    assert_eq!(field(&store, "40-118", "place.road"), "Weir Ln");
    assert_eq!(field(&store, "40-118", "place.near"), "the old kiln");
}

#[test]
fn a_rating_of_a_later_day_gives_no_pass_today() {
    let desk = Desk::new();
    desk.edit(
        "7-20931",
        "nameplate.coil_amps=200",
        "2026-10-01",
        Some("2026-11-01"),
    );
    let typed = Typed {
        load: Some(polecard::units::Amps::new(150.0).unwrap()),
        ..Typed::default()
    };
    let carries = |today: &str| {
        let report = check(&desk.today(today), "HB2-RC-14", &typed, day(today)).unwrap();
        let json = serde_json::to_value(&report).unwrap();
        json["questions"]["carry"].clone()
    };
    assert_eq!(carries("2026-10-31"), "fails");
    assert_ne!(carries("2026-11-01"), "fails");
    // The card of the position tells of its unit.
    let store = desk.today("2026-10-31");
    let said = cautions(&store, "HB2-RC-14", "2026-10-31");
    assert!(said[0].contains("nameplate.coil_amps 100"), "{said:?}");
}

#[test]
fn what_is_taken_back_never_comes() {
    let desk = Desk::new();
    desk.edit(
        "40-118",
        "place.near=mill",
        "2026-10-01",
        Some("2026-11-01"),
    );
    let mut store = Store::open(&desk.path(), Access::Write).unwrap();
    undo(&mut store, None, None, "hb", noon("2026-10-02")).unwrap();
    drop(store);
    for today in ["2026-10-03", "2026-11-02"] {
        let store = desk.today(today);
        assert_eq!(field(&store, "40-118", "place.near"), "the old kiln");
        assert!(cautions(&store, "40-118", today).is_empty());
    }
}

#[test]
fn references_and_names_are_those_of_today_too() {
    let desk = Desk::new();
    desk.edit(
        "HB2-RC-14",
        "structure=40-119",
        "2026-10-01",
        Some("2026-11-01"),
    );
    desk.edit(
        "40-118",
        "structure=40-200",
        "2026-10-01",
        Some("2026-12-01"),
    );
    let at = |today: &str, pole: &str| {
        let store = desk.today(today);
        let on = store.pointing(Rel::HangsOn, pole).unwrap();
        on.into_iter().map(|s| s.record.name()).collect::<Vec<_>>()
    };
    assert_eq!(at("2026-10-05", "40-118"), ["HB2-RC-14"]);
    assert!(at("2026-10-05", "40-119").is_empty());
    assert_eq!(at("2026-11-01", "40-119"), ["HB2-RC-14"]);
    let store = desk.today("2026-10-05");
    assert!(store.named("40-200").unwrap().is_empty());
    assert_eq!(resolve(&store, "40-118").unwrap().record.name(), "40-118");
}

#[test]
fn what_others_write_meanwhile_is_seen_when_it_is_looked_again() {
    let desk = Desk::new();
    let mut store = desk.today("2026-10-01");
    desk.edit(
        "40-118",
        "place.near=mill",
        "2026-10-01",
        Some("2026-11-01"),
    );
    store.hold_back(day("2026-10-01")).unwrap();
    assert_eq!(field(&store, "40-118", "place.near"), "the old kiln");
    desk.edit("40-118", "place.road=Weir Ln", "2026-10-01", None);
    store.hold_back(day("2026-10-01")).unwrap();
    assert_eq!(field(&store, "40-118", "place.road"), "Weir Ln");
    store.hold_back(day("2026-11-01")).unwrap();
    assert_eq!(field(&store, "40-118", "place.near"), "mill");
}

#[test]
fn an_export_holds_what_is_to_come_and_is_read_back_the_same() {
    let desk = Desk::new();
    desk.edit(
        "40-118",
        "place.near=mill",
        "2026-10-01",
        Some("2099-11-01"),
    );
    let one = desk.dir.path().join("one");
    let store = Store::open(&desk.path(), Access::Read).unwrap();
    export(&store, &one).unwrap();
    let mut second = Store::create(&desk.dir.path().join("s.polecard")).unwrap();
    let r = import(
        &mut second,
        &Source::at(&one).unwrap(),
        "x",
        noon("2026-10-02"),
        false,
    );
    assert_eq!(r.unwrap().operation, None);
    let two = desk.dir.path().join("two");
    export(&second, &two).unwrap();
    assert_eq!(tree(&one), tree(&two));
    // And so on the command line.
    let out = run(&desk.path(), &["export", "three"], desk.dir.path());
    assert_eq!(out.0, 0, "{}", out.1);
    assert_eq!(tree(&one), tree(&desk.dir.path().join("three")));
    let out = run(&desk.path(), &["show", "40-118"], desk.dir.path());
    assert!(out.1.contains("changes on 1 Nov 2099"), "{}", out.1);
    assert!(out.1.contains("the old kiln"), "{}", out.1);
    let out = run(&desk.path(), &["verify", "--json"], desk.dir.path());
    assert!(out.1.contains("\"stops\": []"), "{}", out.1);
}

fn run(register: &Path, args: &[&str], home: &Path) -> (i32, String) {
    let out = Command::new(env!("CARGO_BIN_EXE_polecard"))
        .env_clear()
        .env("HOME", home)
        .current_dir(home)
        .arg("--register")
        .arg(register)
        .args(args)
        .output()
        .unwrap();
    (
        out.status.code().unwrap(),
        String::from_utf8(out.stdout).unwrap(),
    )
}

#[test]
fn the_card_on_the_screen_tells_today_and_what_is_to_come() {
    let desk = Desk::new();
    desk.edit(
        "40-118",
        "place.near=mill",
        "2026-10-01",
        Some("2026-11-01"),
    );
    for (width, height) in [(80, 24), (50, 20)] {
        let mut rig = Rig::on(&desk.path(), width, height);
        rig.keys("40-118<enter>");
        let text = rig.text();
        assert!(text.contains("changes on 1 Nov"), "{text}");
        assert!(text.contains("the old kiln"), "{text}");
    }
    // Entered while the card is open, it is announced and not shown as true.
    let mut rig = Rig::on(&desk.path(), 80, 24);
    rig.keys("40-119<enter>");
    desk.edit(
        "40-119",
        "place.near=the lock",
        "2026-10-03",
        Some("2026-11-01"),
    );
    rig.looks();
    rig.keys("a");
    let text = rig.text();
    assert!(text.contains("changes on 1 Nov"), "{text}");
}
