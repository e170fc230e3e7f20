//! What comes back from the field, and where it ends up: with the unit or the
//! place, standing until it is cleared, with the order that it calls for.
//! Whether a reading follows the unit or the place is common practice, no
//! source; counters and tests kept by serial are read in a federal manual.

mod elements;
mod ordering;

use polecard::calendar::{Clock, Moment};
use polecard::domain::asset::{Defect, Depth, Kind, Record};
use polecard::domain::finding::{Caution, Severity, Verdict};
use polecard::exchange::{Source, import};
use polecard::store::Store;
use polecard::work::briefing::briefing;
use polecard::work::card::{Card, card};
use polecard::work::check::{Typed, check};
use polecard::work::due::{Asked as DueAsked, due_of};
use polecard::work::edit::{self, edit};
use polecard::work::log::{Asked, LogReport, log, order_proposed};
use polecard::work::orders::{self, NewOrder, open_order};
use polecard::work::swap::{self, swap};
use polecard::work::{Failure, FailureKind, resolve};
use serde_json::json;

const REGISTER: &str = r"---
feeder: HB2
kv_ll: 12.47
---
structure: 40-118
kind: pole
feeder: HB2
place: {road: Tannery Rd, near: the weir gate}
pole: {length_ft: 45, class: '4', material: southern pine}
---
position: HB2-RC-14
class: recloser
feeder: HB2
structure: 40-118
phases: ABC
available_fault: {amps: 2000, kind: three-phase}
peak_load: {amps: 40}
---
position: HB2-RG-3
class: regulator
feeder: HB2
structure: 40-118
slots: [A, B, C]
---
unit: 7-20931
class: recloser
nameplate: {interrupter: oil, phases: 3, coil_amps: 100, continuous_amps: 100, interrupting_amps: 4000, max_kv: 15.5}
deployments: [{at: HB2-RC-14, slot: ABC, from: 2018-06-04}]
---
unit: 7-21002
class: recloser
nameplate: {interrupter: vacuum, phases: 3, continuous_amps: 400, interrupting_amps: 6000, max_kv: 15.5}
deployments: [{at: stock, from: 2025-02-01}]
---
unit: 7-21003
class: recloser
nameplate: {interrupter: vacuum, phases: 1, continuous_amps: 400, interrupting_amps: 6000, max_kv: 15.5}
deployments: [{at: stock, from: 2025-02-01}]
---
unit: 2-11001
class: regulator
deployments: [{at: HB2-RG-3, slot: A, from: 2019-03-02}]
---
unit: 2-11002
class: regulator
deployments: [{at: HB2-RG-3, slot: B, from: 2019-03-02}]
---
unit: 2-11009
class: regulator
nameplate: {phases: 3}
deployments: [{at: stock, from: 2019-03-02}]
";

fn day(n: u32) -> Moment {
    format!("2026-10-{n:02}T14:10:00-06:00").parse().unwrap()
}

fn register(dir: &std::path::Path) -> Store {
    let files = dir.join("files");
    std::fs::create_dir(&files).unwrap();
    std::fs::write(files.join("all.yaml"), REGISTER).unwrap();
    let mut store = Store::create(&dir.join("r.polecard")).unwrap();
    import(
        &mut store,
        &Source::at(&files).unwrap(),
        "hb",
        day(1),
        false,
    )
    .unwrap();
    store
}

fn write(
    store: &mut Store,
    id: &str,
    kind: &str,
    set: &[&str],
    now: Moment,
) -> Result<LogReport, Failure> {
    let asked = Asked {
        set: set.iter().map(ToString::to_string).collect(),
        depth: (kind == "inspection").then_some(Depth::Detailed),
        second: Some("mk".into()),
        ..Asked::default()
    };
    log(store, id, kind, &asked, "hb", now)
}

fn shown(store: &Store, name: &str, now: Moment) -> Card {
    let rec = resolve(store, name).unwrap().rec;
    card(store, rec, Clock::Fixed(now)).unwrap()
}

fn stops(cautions: &[Caution], text: &str) -> bool {
    cautions
        .iter()
        .any(|c| c.severity == Severity::Stop && c.text.contains(text))
}

fn swapped(
    store: &mut Store,
    out: &str,
    into: &str,
    second: Option<&str>,
) -> Result<swap::SwapReport, Failure> {
    let asked = swap::Asked {
        place: "HB2-RC-14".into(),
        out: Some(out.into()),
        into: Some(into.into()),
        to: Some("shop".into()),
        why: "changed out".into(),
        second: second.map(str::to_string),
        ..swap::Asked::default()
    };
    swap(store, &asked, "hb", day(5))
}

/// Entries about a record, as written.
fn entries(store: &Store, of: &str) -> Vec<polecard::domain::asset::Entry> {
    store
        .all(Kind::Entry)
        .unwrap()
        .into_iter()
        .filter_map(|s| match s.record {
            Record::Entry(e) if e.of == of => Some(e),
            _ => None,
        })
        .collect()
}

#[test]
fn a_unit_of_another_kind_takes_two_people_and_stands_as_a_stop() {
    let dir = tempfile::tempdir().unwrap();
    let mut store = register(dir.path());
    let seq = store.head().unwrap().seq;
    for (into, says) in [
        (
            "2-11009",
            "is a regulator, and HB2-RC-14 is a place for a recloser",
        ),
        ("7-21003", "is built for 1 phase"),
    ] {
        let e = swapped(&mut store, "7-20931", into, None).unwrap_err();
        assert_eq!(e.kind, FailureKind::Usage);
        assert!(
            e.message.contains("second person") && e.message.contains(says),
            "{e}"
        );
    }
    assert_eq!(store.head().unwrap().seq, seq);
    let before = check(&store, "HB2-RC-14", &Typed::default(), day(5).date()).unwrap();
    assert!(!stops(&before.cautions, "wrong kind"));
    // One that fits takes nobody else.
    swapped(&mut store, "7-20931", "7-21002", None).unwrap();
    swapped(&mut store, "7-21002", "2-11009", Some("mk")).unwrap();
    let why = "wrong kind of unit recorded here: 2-11009 is a regulator";
    for name in ["HB2-RC-14", "40-118", "2-11009"] {
        assert!(stops(&shown(&store, name, day(6)).cautions, why), "{name}");
    }
    let page = briefing(&store, "40-118", Clock::Fixed(day(6))).unwrap();
    assert!(stops(&page.stops, why));
    let after = check(&store, "HB2-RC-14", &Typed::default(), day(6).date()).unwrap();
    assert!(stops(&after.cautions, why));
    assert_eq!(after.verdict, Verdict::Unknown);
    assert!(
        after.questions.0.iter().all(|(_, v)| !v.passes()),
        "{:?}",
        after.questions
    );
}

#[test]
fn a_rating_below_what_the_place_needs_takes_two_people() {
    let dir = tempfile::tempdir().unwrap();
    let mut store = register(dir.path());
    let raised = edit::Asked {
        set: vec!["available_fault.amps=7000".into()],
        why: "study".into(),
        ..edit::Asked::default()
    };
    edit(&mut store, "HB2-RC-14", &raised, "hb", day(2)).unwrap();
    let e = swapped(&mut store, "7-20931", "7-21002", None).unwrap_err();
    assert!(e.message.contains("fails break"), "{e}");
    let done = swapped(&mut store, "7-20931", "7-21002", Some("mk")).unwrap();
    assert!(done.why.contains("second person, as declared by hb: mk"));
    assert!(stops(
        &shown(&store, "40-118", day(6)).cautions,
        "fault here 7,000 A"
    ));
}

#[test]
fn what_is_read_at_a_place_reaches_the_unit_in_it() {
    let dir = tempfile::tempdir().unwrap();
    let mut store = register(dir.path());
    let set = ["oil_kv=24", "method=D877", "ground_bond=cut"];
    let report = write(&mut store, "HB2-RC-14", "inspection", &set, day(2)).unwrap();
    let of: Vec<&str> = report.entries.iter().map(|e| e.of.as_str()).collect();
    assert_eq!(of, ["7-20931", "HB2-RC-14"]);
    let unit = entries(&store, "7-20931").remove(0);
    assert!(unit.readings.contains_key("oil_kv") && !unit.readings.contains_key("ground_bond"));
    let place = entries(&store, "HB2-RC-14").remove(0);
    assert_eq!(place.finds, [Defect::GroundBondDamaged]);
    // The last reading of the unit is beside the next one, wherever it is typed.
    let next = write(
        &mut store,
        "HB2-RC-14:ABC",
        "sample",
        &["oil_kv=13", "method=D877"],
        day(3),
    )
    .unwrap();
    let kv = next
        .readings
        .iter()
        .find(|r| r.reading == "oil_kv")
        .unwrap();
    assert_eq!(kv.last.as_deref(), Some("24 kV"));
    assert_eq!(next.finds, [Defect::OilTestFailed]);
    swapped(&mut store, "7-20931", "7-21002", None).unwrap();
    assert!(stops(
        &shown(&store, "7-20931", day(6)).cautions,
        "oil test failed"
    ));
    let place = shown(&store, "HB2-RC-14", day(6));
    assert!(!stops(&place.cautions, "oil test failed"));
    assert!(stops(&place.cautions, "ground bond damaged"));
    // A reading of a day before the swap belongs to the unit of that day.
    let late = Asked {
        set: vec!["counter=120".into()],
        on: Some(day(4).date()),
        ..Asked::default()
    };
    let report = log(&mut store, "HB2-RC-14", "counter", &late, "hb", day(6)).unwrap();
    assert_eq!(report.of, "7-20931");
    let today = write(&mut store, "HB2-RC-14", "counter", &["counter=3"], day(6)).unwrap();
    assert_eq!(today.of, "7-21002");
}

#[test]
fn of_several_units_the_slot_is_asked_and_the_place_needs_none() {
    let dir = tempfile::tempdir().unwrap();
    let mut store = register(dir.path());
    let seq = store.head().unwrap().seq;
    let e = write(&mut store, "HB2-RG-3", "counter", &["counter=9"], day(2)).unwrap_err();
    assert!(
        e.message.contains("counter belongs to one unit")
            && e.message.contains("A (2-11001), B (2-11002)"),
        "{e}"
    );
    assert!(write(&mut store, "HB2-RG-3:D", "counter", &["counter=9"], day(2)).is_err());
    let e = write(&mut store, "HB2-RG-3:C", "counter", &["counter=9"], day(2)).unwrap_err();
    assert!(e.message.contains("no unit is on record in slot C"), "{e}");
    assert_eq!(store.head().unwrap().seq, seq);
    let b = write(&mut store, "hb2-rg-3:b", "counter", &["counter=9"], day(2)).unwrap();
    assert_eq!(b.of, "2-11002");
    let place = write(
        &mut store,
        "HB2-RG-3",
        "inspection",
        &["bypass=open"],
        day(2),
    )
    .unwrap();
    assert_eq!(place.of, "HB2-RG-3");
}

#[test]
fn a_defect_named_alone_warns_and_proposes_and_is_not_made_young_again() {
    let dir = tempfile::tempdir().unwrap();
    let mut store = register(dir.path());
    let find = |store: &mut Store, n: u32| {
        write(
            store,
            "HB2-RC-14",
            "inspection",
            &["finds=oil below mark"],
            day(n),
        )
        .unwrap()
    };
    let mut first = find(&mut store, 2);
    let said = &first.concluded[0];
    assert_eq!(said.level, Severity::Stop);
    assert!(
        said.text.contains("do not count on it to interrupt"),
        "{}",
        said.text
    );
    order_proposed(&mut store, &mut first, "hb", day(2));
    assert_eq!(first.orders[0].order.of, "7-20931");
    assert_eq!(first.orders[0].order.priority, "urgent");
    let due = |store: &Store| {
        let asked = DueAsked::today(day(20).date());
        let report = due_of(store, "HB2-RC-14", &asked).unwrap();
        let repair = report.due.into_iter().find(|i| i.what.word() == "repair");
        repair.unwrap()
    };
    let once = due(&store);
    find(&mut store, 9);
    let twice = due(&store);
    assert_eq!(once.due, twice.due);
    assert_eq!(twice.due, Some(day(2).date()));
    let why = "first seen 2 Oct 2026, last seen 9 Oct 2026 (2 times)";
    assert!(twice.why.contains(why), "{}", twice.why);
    assert!(stops(&shown(&store, "HB2-RC-14", day(10)).cautions, why));
    // Cleared, and found anew: its time begins anew.
    write(
        &mut store,
        "HB2-RC-14",
        "maintenance",
        &["clears=oil below mark"],
        day(12),
    )
    .unwrap();
    find(&mut store, 15);
    assert_eq!(due(&store).due, Some(day(15).date()));
}

#[test]
fn a_stop_stands_though_the_level_is_read_at_the_mark() {
    let dir = tempfile::tempdir().unwrap();
    let mut store = register(dir.path());
    write(
        &mut store,
        "7-20931",
        "inspection",
        &["oil_level=below the mark"],
        day(2),
    )
    .unwrap();
    let again = write(
        &mut store,
        "7-20931",
        "inspection",
        &["oil_level=at the mark"],
        day(3),
    )
    .unwrap();
    assert_eq!(again.standing.len(), 1);
    assert!(
        again.standing[0]
            .text
            .starts_with("STOP stands until cleared: oil below mark")
    );
    assert!(stops(
        &shown(&store, "HB2-RC-14", day(3)).cautions,
        "oil below mark"
    ));
    let clears = ["clears=oil below mark", "oil_level=at the mark"];
    let cleared = write(&mut store, "HB2-RC-14", "inspection", &clears, day(4)).unwrap();
    assert!(cleared.standing.is_empty());
    assert!(!stops(
        &shown(&store, "HB2-RC-14", day(4)).cautions,
        "oil below mark"
    ));
}

/// The circumference that class 4 asks of a 45 ft southern pine pole is 35.0 in
/// (a public library of pole configurations); 2/3 of the strength is left at
/// 0.8736 of it, 30.6 in. The class loads of the standard are from memory.
#[test]
fn a_strength_under_the_limit_by_an_unconfirmed_figure_stops_every_device() {
    let dir = tempfile::tempdir().unwrap();
    let mut store = register(dir.path());
    let measured = |store: &mut Store, c: &str, n: u32| {
        let set = format!("circumference_in={c}");
        write(store, "40-118", "inspection", &[&set], day(n)).unwrap()
    };
    let said = measured(&mut store, "26", 2);
    assert_eq!(said.concluded[0].level, Severity::Stop);
    let text = "computed with an unconfirmed class figure: STOP until measured or confirmed";
    for name in ["40-118", "HB2-RC-14", "HB2-RG-3", "7-20931"] {
        assert!(stops(&shown(&store, name, day(2)).cautions, text), "{name}");
    }
    let checked = check(&store, "HB2-RC-14", &Typed::default(), day(2).date()).unwrap();
    assert!(stops(&checked.cautions, text));
    // Far above the limit the figure does not matter.
    measured(&mut store, "34.5", 3);
    assert!(!stops(&shown(&store, "HB2-RC-14", day(3)).cautions, text));
}

#[test]
fn an_inspection_says_how_deep_it_went_and_a_shallow_one_stands_for_no_other() {
    let dir = tempfile::tempdir().unwrap();
    let mut store = register(dir.path());
    let asked = |depth: Option<Depth>| Asked {
        set: vec!["oil_level=at the mark".into()],
        depth,
        ..Asked::default()
    };
    let e = log(
        &mut store,
        "7-20931",
        "inspection",
        &asked(None),
        "hb",
        day(2),
    )
    .unwrap_err();
    assert!(e.message.contains("patrol, detailed or intrusive"), "{e}");
    let due = |store: &Store| {
        let report = due_of(store, "HB2-RC-14", &DueAsked::today(day(3).date())).unwrap();
        let words: Vec<&str> = report.due.iter().map(|i| i.what.word()).collect();
        json!(words).to_string()
    };
    assert!(due(&store).contains("patrol") && due(&store).contains("detailed"));
    log(
        &mut store,
        "7-20931",
        "inspection",
        &asked(Some(Depth::Patrol)),
        "hb",
        day(2),
    )
    .unwrap();
    assert!(!due(&store).contains("patrol") && due(&store).contains("detailed"));
    log(
        &mut store,
        "7-20931",
        "inspection",
        &asked(Some(Depth::Detailed)),
        "hb",
        day(2),
    )
    .unwrap();
    assert!(!due(&store).contains("detailed"));
}
