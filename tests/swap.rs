//! A unit swapped as one operation and taken back; two records of one thing
//! made one. What is right follows from the register itself: after the undo
//! the records are those of before, to the letter.

mod merging;

use polecard::calendar::Moment;
use polecard::domain::asset::Kind;
use polecard::domain::finding::Severity;
use polecard::exchange::{Source, export, import};
use polecard::store::Store;
use polecard::work::card::card;
use polecard::work::edit::{self, edit};
use polecard::work::merge::{self, merge};
use polecard::work::swap::{Asked, SwapReport, swap};
use polecard::work::undo::{self, undo, undo_with};
use polecard::work::{FailureKind, resolve, resolve_among};
use proptest::prelude::*;
use serde_json::json;

use crate::support::tree;

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
place: {road: Tannery Rd}
---
structure: 40-811
kind: pole
feeder: HB2
place: {road: Tannery Rd, near: the old kiln}
names: [{text: T-5512, whose: telephone}]
---
span: {from: 40-117, to: 40-811, phases: ABC}
feeder: HB2
---
position: HB2-RC-14
class: recloser
feeder: HB2
structure: 40-117
toward: 40-811
phases: ABC
settings: {phase_pickup_amps: 200}
available_fault: {amps: 4310, kind: three-phase}
state: {stands: closed, at: 2026-08-14T09:20:00-06:00, by: lm}
---
position: HB2-RG-3
class: regulator
feeder: HB2
structure: 40-811
slots: [A, B, C]
---
unit: 7-20931
class: recloser
nameplate: {interrupter: oil, coil_amps: 100, interrupting_amps: {value: 4000, standing: assumed, rule: by coil}}
deployments: [{at: HB2-RC-14, slot: ABC, from: 2018-06-04}]
---
unit: 7-21002
class: recloser
nameplate: {interrupter: vacuum, interrupting_amps: 2000}
deployments: [{at: HB2-RC-9, slot: ABC, from: 2012-05-01, to: 2025-02-01}, {at: shop, from: 2025-02-01}]
---
unit: 5-1207
class: regulator
deployments: [{at: HB2-RG-3, slot: B, from: 2019-03-02}]
---
entry: counter
of: 7-20931
on: 2026-09-12
readings: {counter: 314}
finds: [oil below mark]
---
entry: test
of: 7-21002
on: 2024-01-10
---
entry: note
of: HB2-RC-14
on: 2026-07-01
note: bird's nest on the arm
---
entry: inspection
of: 40-811
on: 2026-07-01
finds: [pole reject]
";

fn day(n: u32) -> Moment {
    format!("2026-10-{:02}T14:10:00-06:00", n + 1)
        .parse()
        .unwrap()
}

fn register(dir: &std::path::Path) -> Store {
    let files = tempfile::tempdir().unwrap();
    std::fs::write(files.path().join("all.yaml"), SMALL).unwrap();
    let mut store = Store::create(&dir.join("r.polecard")).unwrap();
    let source = Source::at(files.path()).unwrap();
    import(&mut store, &source, "hb", day(0), false).unwrap();
    store
}

fn asked(place: &str, out: Option<&str>, into: Option<&str>) -> Asked {
    Asked {
        place: place.to_string(),
        out: out.map(str::to_string),
        into: into.map(str::to_string),
        to: Some("shop".to_string()),
        moved: false,
        on: None,
        why: "oil below the mark".to_string(),
        second: Some("mk".to_string()),
    }
}

fn body(store: &Store, id: &str) -> serde_json::Value {
    resolve(store, id).unwrap().record.to_value()
}

fn records(store: &Store) -> Vec<String> {
    Kind::ALL
        .iter()
        .flat_map(|k| store.all(*k).unwrap())
        .map(|s| s.record.to_json())
        .collect()
}

fn cautions(r: &SwapReport) -> String {
    r.cautions
        .iter()
        .map(|c| format!("{:?} {}: {}\n", c.severity, c.about, c.text))
        .collect()
}

#[test]
fn one_operation_ends_both_stays_and_begins_both() {
    let dir = tempfile::tempdir().unwrap();
    let mut store = register(dir.path());
    let before = store.head().unwrap().seq;
    let mut want = asked("HB2-RC-14", Some("7-20931"), Some("7-21002"));
    want.on = Some("2026-09-30".parse().unwrap());
    let done = swap(&mut store, &want, "hb", day(1)).unwrap();
    assert_eq!(store.head().unwrap().seq, before + 1);
    let (out, into) = (body(&store, "7-20931"), body(&store, "7-21002"));
    assert_eq!(
        out["deployments"],
        json!([{"at": "HB2-RC-14", "slot": "ABC", "from": "2018-06-04", "to": "2026-09-30"},
               {"at": "shop", "from": "2026-09-30"}])
    );
    assert_eq!(
        into["deployments"][1],
        json!({"at": "shop", "from": "2025-02-01", "to": "2026-09-30"})
    );
    assert_eq!(
        into["deployments"][2],
        json!({"at": "HB2-RC-14", "slot": "ABC", "from": "2026-09-30"})
    );
    // Settings and state stay with the position, which is not touched at all.
    assert_eq!(
        body(&store, "HB2-RC-14")["settings"]["phase_pickup_amps"],
        200
    );
    let op = store
        .newest_operations(None, 1)
        .unwrap()
        .remove(0)
        .operation;
    assert_eq!(op.effective.unwrap().to_string(), "2026-09-30");
    assert_eq!(Some(op.id.to_string()), done.operation);
    assert_eq!(store.broken_link().unwrap(), None);
}

#[test]
fn what_is_about_the_unit_goes_with_it_and_the_place_keeps_its_own() {
    let dir = tempfile::tempdir().unwrap();
    let mut store = register(dir.path());
    let clock = polecard::calendar::Clock::Fixed(day(2));
    let rec = |store: &Store, name: &str| resolve(store, name).unwrap().rec;
    let place = rec(&store, "HB2-RC-14");
    let text = |store: &Store, rec| {
        let card = card(store, rec, clock).unwrap();
        (
            serde_json::to_string(&card.history).unwrap(),
            serde_json::to_string(&card.cautions).unwrap(),
        )
    };
    let (history, warns) = text(&store, place);
    assert!(history.contains("314") && warns.contains("oil below mark"));
    let want = asked("HB2-RC-14", Some("7-20931"), Some("7-21002"));
    swap(&mut store, &want, "hb", day(1)).unwrap();
    let (history, warns) = text(&store, place);
    assert!(history.contains("nest"), "{history}");
    assert!(!history.contains("314"), "{history}");
    assert!(!warns.contains("oil below mark"), "{warns}");
    assert!(
        history.contains("7-20931") && history.contains("7-21002"),
        "{history}"
    );
    let (history, warns) = text(&store, rec(&store, "7-20931"));
    assert!(history.contains("314") && warns.contains("oil below mark"));
    // The history of the place tells of the swap, though only units changed.
    let told = polecard::work::history::history(&store, Some("HB2-RC-14"), 10).unwrap();
    assert_eq!(
        told.operations[0].why.split(" (").next(),
        Some("oil below the mark")
    );
    assert_eq!(told.operations[0].changes.len(), 2);
}

#[test]
fn what_does_not_fit_is_said_before_it_hangs_there() {
    let dir = tempfile::tempdir().unwrap();
    let mut store = register(dir.path());
    let want = asked("HB2-RC-14", Some("7-20931"), Some("7-21002"));
    let said = cautions(&swap(&mut store, &want, "hb", day(1)).unwrap());
    for part in [
        "fails break here: Fault 4,310 A",
        "last tested 10 Jan 2024, before it left its last place on 1 Feb 2025",
    ] {
        assert!(said.contains(part), "{part}: {said}");
    }
    undo(&mut store, None, None, "hb", day(1)).unwrap();
    let mut scrap = asked("HB2-RC-14", Some("7-20931"), None);
    scrap.to = Some("scrapped".to_string());
    let gone = swap(&mut store, &scrap, "hb", day(1)).unwrap();
    assert!(
        cautions(&gone).contains("PCB content is not known"),
        "{}",
        cautions(&gone)
    );
    assert_eq!(gone.cautions[0].severity, Severity::Stop);
    let back = asked("HB2-RC-14", None, Some("7-20931"));
    let said = cautions(&swap(&mut store, &back, "hb", day(2)).unwrap());
    assert!(
        said.contains("recorded as scrapped since 2 Oct 2026"),
        "{said}"
    );
    assert!(said.contains("oil below mark"), "{said}");
}

#[test]
fn what_cannot_be_is_refused_and_nothing_changes() {
    let dir = tempfile::tempdir().unwrap();
    let mut store = register(dir.path());
    let before = records(&store);
    let on = |mut a: Asked, day: &str| {
        a.on = Some(day.parse().unwrap());
        a
    };
    let to = |mut a: Asked, to: Option<&str>| {
        a.to = to.map(str::to_string);
        a
    };
    let both = || asked("HB2-RC-14", Some("7-20931"), Some("7-21002"));
    for (want, says) in [
        (
            asked("HB2-RC-14", Some("7-21002"), None),
            "is not recorded at HB2-RC-14",
        ),
        (
            asked("HB2-RC-14", None, Some("7-21002")),
            "7-20931 is recorded at HB2-RC-14",
        ),
        (
            asked("HB2-RG-3", None, Some("7-21002")),
            "has the slots A, B, C",
        ),
        (asked("HB2-RG-3:D", None, Some("7-21002")), "no slot D"),
        (
            asked("HB2-RG-3:B", None, Some("7-21002")),
            "5-1207 is recorded at HB2-RG-3 slot B",
        ),
        (
            asked("HB2-RG-3:A", None, Some("7-20931")),
            "would stand at two places",
        ),
        (
            asked("HB2-RC-14", Some("7-20931"), Some("7-20931")),
            "at once",
        ),
        (asked("HB2-RC-14", None, None), "no unit is named"),
        (to(both(), None), "where does 7-20931 go"),
        (to(both(), Some("moon")), "moon is no place"),
        (on(both(), "2018-01-01"), "is after 1 Jan 2018"),
        (on(both(), "2030-01-01"), "lies in the future"),
        (
            Asked {
                why: " ".to_string(),
                ..both()
            },
            "needs a reason",
        ),
    ] {
        let e = swap(&mut store, &want, "hb", day(1)).unwrap_err();
        assert_eq!(e.kind, FailureKind::Usage, "{e}");
        assert!(e.to_string().contains(says), "{says}: {e}");
    }
    assert_eq!(records(&store), before);
}

#[test]
fn said_to_have_been_moved_a_unit_may_come_from_another_position() {
    let dir = tempfile::tempdir().unwrap();
    let mut store = register(dir.path());
    let moved = Asked {
        moved: true,
        ..asked("HB2-RG-3:A", None, Some("7-20931"))
    };
    let done = swap(&mut store, &moved, "hb", day(1)).unwrap();
    assert!(
        cautions(&done).contains("is a recloser"),
        "{}",
        cautions(&done)
    );
    assert_eq!(done.into.unwrap().from, ["HB2-RC-14 slot ABC"]);
    let stays = &body(&store, "7-20931")["deployments"];
    assert_eq!(stays[0]["to"], "2026-10-02");
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 16, failure_persistence: None, ..ProptestConfig::default() })]

    #[test]
    fn swaps_and_their_undo_leave_the_export_of_before_but_for_the_log(
        steps in proptest::collection::vec((0..3_usize, 0..4_usize, 0..4_usize, any::<bool>()), 1..6)
    ) {
        let dir = tempfile::tempdir().unwrap();
        let mut store = register(dir.path());
        let exported = |store: &Store| {
            let out = dir.path().join("out");
            export(store, &out).unwrap();
            let all = tree(&out).into_iter();
            all.filter(|(f, _)| !f.starts_with("log")).collect::<Vec<_>>()
        };
        let before = exported(&store);
        let mut n = 0;
        for (place, out, into, moved) in steps {
            let units = [None, Some("7-20931"), Some("7-21002"), Some("5-1207")];
            let want = Asked {
                moved,
                ..asked(["HB2-RC-14", "HB2-RG-3:A", "HB2-RG-3:B"][place], units[out], units[into])
            };
            n += usize::from(swap(&mut store, &want, "hb", day(1)).is_ok());
        }
        for _ in 0..n {
            undo(&mut store, None, None, "hb", day(2)).unwrap();
        }
        prop_assert_eq!(exported(&store), before);
        prop_assert_eq!(store.broken_link().unwrap(), None);
    }
}

fn set(fields: &[&str], second: Option<&str>) -> edit::Asked {
    edit::Asked {
        set: fields.iter().map(ToString::to_string).collect(),
        why: "seen".to_string(),
        second: second.map(str::to_string),
        reading: Some(edit::Reading {
            by: "mk".to_string(),
            from: polecard::domain::asset::ReadFrom::Plate,
            on: "2026-10-01".parse().unwrap(),
        }),
        ..edit::Asked::default()
    }
}

#[test]
fn a_renamed_record_takes_its_references_along() {
    let dir = tempfile::tempdir().unwrap();
    let mut store = register(dir.path());
    let before = records(&store);
    let rename = set(&["structure=40-119"], Some("mk"));
    let done = edit::edit(&mut store, "40-811", &rename, "hb", day(1)).unwrap();
    assert!(done.notes[0].contains("4 references"), "{:?}", done.notes);
    assert_eq!(body(&store, "HB2-RG-3")["structure"], "40-119");
    let span = store.all(Kind::Span).unwrap().remove(0).record.to_value();
    assert_eq!(span["span"]["to"], "40-119");
    let rename = set(&["position=HB2-RC-15"], Some("mk"));
    edit(&mut store, "HB2-RC-14", &rename, "hb", day(1)).unwrap();
    assert_eq!(body(&store, "7-20931")["deployments"][0]["at"], "HB2-RC-15");
    // Taking a name back changes it again, and needs two as well.
    let e = undo(&mut store, None, None, "hb", day(2)).unwrap_err();
    assert!(e.message.contains("second person"), "{e}");
    let second = undo::Asked {
        second: Some("mk".to_string()),
        ..undo::Asked::default()
    };
    undo_with(&mut store, &second, "hb", day(2)).unwrap();
    undo_with(&mut store, &second, "hb", day(2)).unwrap();
    assert_eq!(records(&store), before);
}

#[test]
fn a_raise_by_two_edits_or_by_an_undo_needs_two_people() {
    let dir = tempfile::tempdir().unwrap();
    let mut store = register(dir.path());
    let field = |v: &str| format!("nameplate.interrupting_amps={v}");
    edit(
        &mut store,
        "7-20931",
        &set(&[&field("unknown")], None),
        "hb",
        day(1),
    )
    .unwrap();
    let e = edit(
        &mut store,
        "7-20931",
        &set(&[&field("6000")], None),
        "hb",
        day(1),
    )
    .unwrap_err();
    assert!(e.message.contains("raises a rating"), "{e}");
    edit(
        &mut store,
        "7-20931",
        &set(&[&field("3000")], None),
        "hb",
        day(1),
    )
    .unwrap();
    edit(
        &mut store,
        "7-20931",
        &set(&[&field("2000")], None),
        "hb",
        day(1),
    )
    .unwrap();
    // Taking back the lowering would raise it.
    let e = undo(&mut store, None, None, "hb", day(2)).unwrap_err();
    assert!(e.message.contains("raises a rating"), "{e}");
    // And so with what was found.
    let found = polecard::work::log::Asked {
        set: vec!["finds=oil leak".to_string()],
        depth: Some(polecard::domain::asset::Depth::Patrol),
        ..polecard::work::log::Asked::default()
    };
    polecard::work::log::log(&mut store, "7-21002", "inspection", &found, "hb", day(2)).unwrap();
    let e = undo(&mut store, None, None, "hb", day(2)).unwrap_err();
    assert!(e.message.contains("clears a defect"), "{e}");
}
