//! Checks that are kept, and asked again later.

mod shell;

use polecard::calendar::Moment;
use polecard::domain::asset::{Kind, ReadFrom};
use polecard::domain::finding::Verdict;
use polecard::exchange::{Source, import};
use polecard::present::{kept as text, text::Style};
use polecard::store::{Access, Store};
use polecard::units::Amps;
use polecard::work::check::Typed;
use polecard::work::edit::{Asked, Reading, edit};
use polecard::work::heads::Fate;
use polecard::work::kept::{again, save};

const RECORDS: &str = "---\nutility: Weirside Rural\n---\nposition: HB2-RC-14\nclass: recloser\nphases: ABC\navailable_fault: {amps: 2000, x_over_r: 5, kind: three-phase, date: 2025-03-02}\n---\nunit: 7-20931\nclass: recloser\nnameplate: {interrupter: oil, control: hydraulic, coil_amps: 100, interrupting_amps: 4000, test_x_over_r: 8, max_kv: 15.5}\ndeployments: [{at: HB2-RC-14, slot: ABC, from: 2018-06-04}]\n";

fn register(dir: &std::path::Path) -> Store {
    std::fs::create_dir(dir.join("in")).unwrap();
    std::fs::write(dir.join("in/all.yaml"), RECORDS).unwrap();
    let mut store = Store::create(&dir.join("r.polecard")).unwrap();
    let source = Source::at(&dir.join("in")).unwrap();
    import(&mut store, &source, "hb", now(), false).unwrap();
    store
}

fn now() -> Moment {
    "2026-10-03T14:10:00-06:00".parse().unwrap()
}

fn load(amps: f64) -> Typed {
    Typed {
        load: Some(Amps::new(amps).unwrap()),
        ..Typed::default()
    }
}

fn set(store: &mut Store, what: &str) {
    let asked = Asked {
        set: vec![what.to_string()],
        why: "read at the plate".to_string(),
        reading: Some(Reading {
            by: "mk".to_string(),
            from: ReadFrom::Plate,
            on: now().date(),
        }),
        ..Asked::default()
    };
    edit(store, "7-20931", &asked, "mk", now()).unwrap();
}

#[test]
fn a_kept_check_asked_at_once_differs_in_nothing() {
    let dir = tempfile::tempdir().unwrap();
    let mut store = register(dir.path());
    let before = store.head().unwrap();
    let kept = save(&mut store, "HB2-RC-14", &load(90.0), "mk", now()).unwrap();
    assert_eq!(
        (kept.register_operation, kept.chain_head.as_str()),
        (before.seq, before.digest.as_str())
    );
    assert_eq!(store.head().unwrap().seq, before.seq + 1, "one operation");
    assert_eq!(store.all(Kind::Kept).unwrap().len(), 1);
    let report = again(&store, &kept.stamp.to_lowercase(), now().date()).unwrap();
    assert_eq!(report.differences, vec![]);
    assert_eq!(report.chain.len(), 1);
    assert_eq!(report.chain[0].fate, Fate::Held);
    assert_eq!(report.check, kept.check);
    assert_eq!(report.kept_by.as_deref(), Some("mk"));
}

#[test]
fn what_was_changed_since_is_told_with_then_and_now() {
    let dir = tempfile::tempdir().unwrap();
    let mut store = register(dir.path());
    let kept = save(&mut store, "HB2-RC-14", &load(90.0), "mk", now()).unwrap();
    set(&mut store, "nameplate.coil_amps=50");
    let report = again(&store, &kept.stamp, now().date()).unwrap();
    assert_eq!(report.check.verdict, Verdict::Fails);
    let has = |of: &str, what: &str| {
        report
            .differences
            .iter()
            .any(|d| d.of == of && d.what.contains(what))
    };
    assert!(has("question", "carry"), "{:#?}", report.differences);
    assert!(has("finding", "carry-coil"), "{:#?}", report.differences);
    assert!(has("register", "operation"), "{:#?}", report.differences);
    assert!(!has("program", "version") && !has("input", "load"));
    let shown: Vec<String> = text::again(
        &report,
        Style {
            width: 80,
            ascii: true,
        },
    )
    .iter()
    .map(|l| l.plain())
    .collect();
    let shown = shown.join("\n");
    assert!(shown.contains("What differs"), "{shown}");
    assert!(shown.contains("within > fails"), "{shown}");
}

#[test]
fn a_choice_that_was_changed_is_told() {
    let dir = tempfile::tempdir().unwrap();
    let mut store = register(dir.path());
    let kept = save(&mut store, "HB2-RC-14", &load(90.0), "mk", now()).unwrap();
    let asked = Asked {
        set: vec!["choices.tight_margin_percent=15".to_string()],
        why: "meeting of the engineers".to_string(),
        ..Asked::default()
    };
    edit(&mut store, "Weirside Rural", &asked, "mk", now()).unwrap();
    let report = again(&store, &kept.stamp, now().date()).unwrap();
    assert!(
        report
            .differences
            .iter()
            .any(|d| d.of == "choice" && d.what.contains("tight_margin_percent")),
        "{:#?}",
        report.differences
    );
}

#[test]
fn a_log_whose_kept_operation_is_gone_is_said() {
    let dir = tempfile::tempdir().unwrap();
    let mut store = register(dir.path());
    let kept = save(&mut store, "HB2-RC-14", &load(90.0), "mk", now()).unwrap();
    drop(store);
    let path = dir.path().join("r.polecard");
    let raw = rusqlite::Connection::open(&path).unwrap();
    let body: String = raw
        .query_row(
            "select body from record where body like '%chain_head%'",
            [],
            |r| r.get(0),
        )
        .unwrap();
    let other = body.replace(&kept.chain_head, &"0".repeat(64));
    assert_ne!(other, body);
    raw.execute(
        "update record set body = ?1 where body = ?2",
        [&other, &body],
    )
    .unwrap();
    drop(raw);
    let store = Store::open(&path, Access::Read).unwrap();
    let report = again(&store, &kept.stamp, now().date()).unwrap();
    assert_eq!(report.chain[0].fate, Fate::Rewritten);
    assert!(!report.chain[0].found);
    assert!(report.differences.iter().any(|d| d.of == "register"));
}

#[test]
fn a_stamp_that_is_not_kept_names_those_that_are() {
    let dir = tempfile::tempdir().unwrap();
    let mut store = register(dir.path());
    let refused = again(&store, "2020-01-01-AAAAAA", now().date()).unwrap_err();
    assert!(format!("{refused:?}").contains("--save"), "{refused:?}");
    let kept = save(&mut store, "HB2-RC-14", &load(90.0), "mk", now()).unwrap();
    let refused = again(&store, "2020-01-01-AAAAAA", now().date()).unwrap_err();
    assert!(format!("{refused:?}").contains(&kept.stamp), "{refused:?}");
}
