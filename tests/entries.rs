//! Entries: readings by the form of the class, impossible ones refused.

use polecard::calendar::Moment;
use polecard::domain::asset::{Class, Kind, Record};
use polecard::domain::form::form_of;
use polecard::exchange::{Source, form, import};
use polecard::store::Store;
use polecard::work::log::{Asked, LogReport, log};
use polecard::work::{Failure, FailureKind};

const SMALL: &str = r"---
structure: 40-118
kind: pole
---
unit: 7-20931
class: recloser
---
unit: 7-30001
class: capacitor
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

fn write(store: &mut Store, id: &str, kind: &str, set: &[&str]) -> Result<LogReport, Failure> {
    let asked = Asked {
        set: set.iter().map(ToString::to_string).collect(),
        depth: (kind == "inspection").then_some(polecard::domain::asset::Depth::Detailed),
        ..Asked::default()
    };
    log(store, id, kind, &asked, "hb", now())
}

#[test]
fn every_class_has_a_form_and_every_condition_leads_somewhere() {
    for class in Class::ALL {
        let form = form(form_of(*class));
        assert!(form.readings.iter().any(|r| r.reading == "result"));
        for r in &form.readings {
            let names = r.with.iter().chain(r.only_if.as_ref().map(|o| &o.reading));
            for other in names {
                assert!(form.readings.iter().any(|o| o.reading == *other), "{other}");
            }
            let same = form.readings.iter().filter(|o| o.reading == r.reading);
            assert_eq!(same.count(), 1, "{class}: {}", r.reading);
        }
    }
}

#[test]
fn the_demo_reads_by_the_forms() {
    let dir = tempfile::tempdir().unwrap();
    let mut store = Store::create(&dir.path().join("r.polecard")).unwrap();
    let demo = polecard::work::demo::source();
    import(&mut store, &demo, "hb", now(), false).unwrap();
    let mut read = 0;
    for s in store.all(Kind::Entry).unwrap() {
        let Record::Entry(e) = s.record else { continue };
        let Ok(of) = polecard::work::resolve(&store, &e.of) else {
            continue;
        };
        let form = form(match &of.record {
            Record::Unit(u) => form_of(u.class),
            Record::Position(p) => form_of(p.class),
            _ => "pole",
        });
        for key in e.readings.keys() {
            let known = form.readings.iter().any(|r| r.reading == *key);
            assert!(known, "{} {key} on a {}", e.of, form.form);
            read += 1;
        }
    }
    assert!(read > 100);
}

#[test]
fn impossible_readings_are_refused_with_what_is_allowed() {
    let dir = tempfile::tempdir().unwrap();
    let mut store = register(dir.path());
    let seq = store.head().unwrap().seq;
    for (id, kind, pair, says) in [
        ("7-20931", "counter", "counter=-3", "0 to 999999"),
        ("7-20931", "counter", "counter=3.5", "whole"),
        ("7-20931", "sample", "oil_kv=900", "0 to 100 kV"),
        ("7-20931", "sample", "oil_kv=24", "without method"),
        ("7-20931", "inspection", "oil_level=maybe", "below the mark"),
        (
            "7-20931",
            "inspection",
            "oil_levle=at the mark",
            "did you mean",
        ),
        ("7-20931", "inspection", "oil_level=", "blank"),
        ("7-20931", "inspection", "finds=rust", "no defect"),
        ("7-20931", "inspecton", "note=x", "did you mean"),
        ("7-30001", "inspection", "which_can=B2", "only if cans"),
        (
            "40-118",
            "inspection",
            "oil_level=at the mark",
            "form of a pole",
        ),
        ("7-20931", "maintenance", "clears=oil leak", "second person"),
    ] {
        let e = write(&mut store, id, kind, &[pair]).unwrap_err();
        assert_eq!(e.kind, FailureKind::Usage, "{pair}: {e}");
        assert!(e.to_string().contains(says), "{pair}: {e}");
    }
    let tomorrow = Asked {
        set: vec!["note=x".to_string()],
        on: "2026-10-04".parse().ok(),
        ..Asked::default()
    };
    let e = log(&mut store, "7-20931", "note", &tomorrow, "hb", now()).unwrap_err();
    assert!(e.message.contains("future"), "{e}");
    assert!(write(&mut store, "7-20931", "note", &[]).is_err());
    assert_eq!(store.head().unwrap().seq, seq);
}

#[test]
fn an_entry_stands_beside_the_last_and_its_finding_warns() {
    let dir = tempfile::tempdir().unwrap();
    let mut store = register(dir.path());
    write(&mut store, "7-20931", "counter", &["counter=120"]).unwrap();
    let next = write(
        &mut store,
        "7-20931",
        "inspection",
        &["counter=90", "condition=4", "finds=oil below mark"],
    )
    .unwrap();
    let counter = next
        .readings
        .iter()
        .find(|r| r.reading == "counter")
        .unwrap();
    assert_eq!(counter.last.as_deref(), Some("120"));
    let backwards = next
        .concluded
        .iter()
        .find(|c| c.rule == "counter-backwards");
    assert!(backwards.unwrap().text.contains("(3 Oct 2026) to 90"));
    let condition = next.readings.iter().find(|r| r.reading == "condition");
    assert_eq!(condition.unwrap().shown, "4 (poor)");
    let rec = polecard::work::resolve(&store, "7-20931").unwrap().rec;
    let clock = polecard::calendar::Clock::Fixed(now());
    let card = || serde_json::to_string(&polecard::work::card::card(&store, rec, clock).unwrap());
    assert!(card().unwrap().contains("do not count on it to interrupt"));
}
