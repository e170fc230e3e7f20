//! Notices: what each hits and may hit, who has read it, and rules that cannot
//! mean what they say.

use polecard::calendar::{Clock, Moment};
use polecard::exchange::{Source, import};
use polecard::store::{Access, Store};
use polecard::work::card::card;
use polecard::work::notices::{notices, read_notice};
use polecard::work::resolve;
use polecard::work::verify::{Asked, verify};

const SMALL: &str = r"---
structure: 40-118
kind: pole
---
position: HB2-RC-14
class: recloser
structure: 40-118
---
unit: U1
class: recloser
nameplate: {model: type 3 frame B, made_year: 1992, serial: '0500'}
deployments: [{at: HB2-RC-14, from: 2018-06-04}]
---
unit: U2
class: recloser
nameplate: {model: type-3 frame b}
---
unit: U3
class: recloser
nameplate: {model: type 3 frame B, made_year: 1999, serial: '0500'}
---
unit: U4
class: recloser
---
unit: U5
class: switch
---
notice: HV-1
text: the lower clamp can crack
hits: {class: recloser, model: type 3 frame B, made_from: 1990, made_to: 1995, serial_to: '1000'}
from: 2024-07-01
---
notice: HV-2
text: backwards
hits: {class: switch, made_from: 2001, made_to: 1990}
from: 2026-01-01
until: 2025-01-01
---
notice: HV-3
text: of everything
hits: {}
until: 2025-01-01
";

fn now() -> Moment {
    "2026-10-03T14:10:00-06:00".parse().unwrap()
}

fn register(dir: &std::path::Path) -> Store {
    let files = dir.join("files");
    std::fs::create_dir(&files).unwrap();
    std::fs::write(files.join("all.yaml"), SMALL).unwrap();
    let mut store = Store::create(&dir.join("r.polecard")).unwrap();
    import(&mut store, &Source::at(&files).unwrap(), "hb", now(), false).unwrap();
    store
}

#[test]
fn an_unread_plate_is_listed_apart_and_never_missed() {
    let dir = tempfile::tempdir().unwrap();
    let store = register(dir.path());
    let report = notices(&store, Some("HV-1"), "hb", now().date()).unwrap();
    let n = &report.notices[0];
    let names = |l: &[polecard::work::notices::HitLine]| {
        l.iter().map(|h| h.unit.clone()).collect::<Vec<_>>()
    };
    assert_eq!(names(&n.hits), ["U1"]);
    assert_eq!(names(&n.may_hit), ["U2", "U4"]);
    assert_eq!(n.may_hit[0].unread, ["year made", "serial"]);
    assert_eq!(n.may_hit[1].unread, ["model", "year made", "serial"]);
    assert!(n.hits[0].in_service && n.hits[0].also.contains("HB2-RC-14"));
    assert_eq!(n.state, "stands");
    for (unit, first) in [
        ("U1", "notice HV-1: "),
        (
            "U4",
            "notice HV-1 may hit it, plate unread (model, year made, serial): ",
        ),
    ] {
        let rec = resolve(&store, unit).unwrap().rec;
        let card = card(&store, rec, Clock::Fixed(now())).unwrap();
        assert!(
            card.cautions[0].text.starts_with(first),
            "{:?}",
            card.cautions[0]
        );
    }
    let all = notices(&store, None, "hb", now().date()).unwrap();
    let states: Vec<&str> = all.notices.iter().map(|n| n.state).collect();
    assert_eq!(states, ["stands", "ended", "ended"]);
}

#[test]
fn two_readers_are_both_recorded_and_nobody_twice() {
    let dir = tempfile::tempdir().unwrap();
    let path = register(dir.path()).path().to_path_buf();
    let readers: Vec<_> = ["hb", "mk", "ls", "jt"]
        .into_iter()
        .map(|who| {
            let path = path.clone();
            std::thread::spawn(move || {
                let mut store = Store::open(&path, Access::Write).unwrap();
                read_notice(&mut store, "HV-1", who, now()).unwrap()
            })
        })
        .collect();
    for reader in readers {
        assert!(reader.join().unwrap().operation.is_some());
    }
    let mut store = Store::open(&path, Access::Write).unwrap();
    let before = store.head().unwrap();
    let again = read_notice(&mut store, "HV-1", "mk", now()).unwrap();
    assert_eq!(again.operation, None);
    assert_eq!(store.head().unwrap(), before);
    let report = notices(&store, Some("HV-1"), "mk", now().date()).unwrap();
    assert_eq!(report.notices[0].read_by.len(), 4);
    assert!(report.notices[0].read_by_you);
}

#[test]
fn verify_flags_rules_that_warn_of_nothing_or_of_everything() {
    let dir = tempfile::tempdir().unwrap();
    let store = register(dir.path());
    let report = verify(&store, &Asked::default(), Clock::Fixed(now())).unwrap();
    let found = |rule: &str| {
        report
            .findings
            .iter()
            .filter(|f| f.rule == rule)
            .map(|f| f.record.as_str())
            .collect::<Vec<_>>()
    };
    assert_eq!(found("notice-rule-backwards"), ["HV-2", "HV-2"]);
    assert_eq!(found("notice-without-rule"), ["HV-3"]);
}
