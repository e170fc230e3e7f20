//! Reports from the field: filed by those who may not write the register, kept
//! whatever is decided, taken in and taken back as one operation. What is right
//! here follows from counting what was filed, and from the register before.

mod shell;

use std::path::Path;
use std::time::{Duration, Instant};

use polecard::calendar::Moment;
use polecard::domain::asset::{Kind, ReadFrom};
use polecard::domain::report::Standing;
use polecard::domain::who::Who;
use polecard::exchange::{Source, import};
use polecard::store::{Access, Reports, Store};
use polecard::work::edit::{self, edit};
use polecard::work::reports::{
    self, Asked, Choice, DecisionReport, How, ListReport, Which, accept, amend, file, list, refuse,
    show, withdraw,
};
use polecard::work::undo::undo;
use polecard::work::{Failure, FailureKind};

fn at(day: u32) -> Moment {
    format!("2026-10-{:02}T14:10:00-06:00", day + 1)
        .parse()
        .unwrap()
}

fn person(account: &str) -> Who {
    Who::read(account)
}

/// A line of poles at one weir, and a recloser with an assumed rating.
pub fn register(dir: &Path, poles: usize) -> Store {
    let mut text = String::from(
        "---\nfeeder: HB2\nkv_ll: 12.47\n---\nposition: HB2-RC-14\nclass: recloser\nfeeder: HB2\nstructure: 40-1000\n---\nunit: 7-20931\nclass: recloser\nnameplate: {coil_amps: 70, interrupting_amps: {value: 4000, standing: assumed, rule: by coil}}\ndeployments: [{at: HB2-RC-14, slot: ABC, from: 2018-06-04}]\n",
    );
    for n in 0..poles {
        text.push_str(&format!(
            "---\nstructure: 40-{}\nkind: pole\nfeeder: HB2\nplace: {{road: Tannery Rd, near: the weir}}\n",
            1000 + n
        ));
    }
    let files = dir.join("files");
    std::fs::create_dir(&files).unwrap();
    std::fs::write(files.join("all.yaml"), text).unwrap();
    let mut store = Store::create(&dir.join("r.polecard")).unwrap();
    import(&mut store, &Source::at(&files).unwrap(), "hb", at(0), false).unwrap();
    store
}

fn says(set: &[&str]) -> Asked {
    Asked {
        set: set.iter().map(ToString::to_string).collect(),
        why: "the weir was renamed".to_string(),
        ..Asked::default()
    }
}

fn report(store: &Store, id: &str, set: &[&str]) -> i64 {
    file(store, id, &says(set), &person("lw"), at(1))
        .unwrap()
        .no
}

fn open(store: &Store) -> ListReport {
    of(store, &Which::default())
}

fn of(store: &Store, which: &Which) -> ListReport {
    let file = reports::open(store).unwrap();
    list(store, file.as_ref(), which).unwrap()
}

fn state(store: &Store, no: i64) -> Standing {
    let file = reports::open(store).unwrap();
    show(store, file.as_ref(), &no.to_string())
        .unwrap()
        .report
        .state
}

fn take(store: &mut Store, numbers: &[i64], choice: &Choice) -> Result<DecisionReport, Failure> {
    let mut file = reports::open_to_decide(store).unwrap();
    accept(store, &mut file, numbers, choice, &person("hb"), at(2))
}

fn no(store: &Store, numbers: &[i64], why: &str) -> Result<DecisionReport, Failure> {
    let mut file = reports::open_to_decide(store).unwrap();
    refuse(store, &mut file, numbers, why, &person("hb"), at(2))
}

fn body(store: &Store, id: &str) -> serde_json::Value {
    polecard::work::resolve(store, id)
        .unwrap()
        .record
        .to_value()
}

fn every_body(store: &Store) -> Vec<String> {
    let kinds = Kind::ALL.iter();
    kinds
        .flat_map(|k| store.all(*k).unwrap())
        .map(|s| s.record.to_json())
        .collect()
}

#[test]
fn twenty_alike_are_taken_in_at_once_one_refused_and_all_taken_back() {
    let dir = tempfile::tempdir().unwrap();
    let mut store = register(dir.path(), 21);
    let before = every_body(&store);
    for n in 0..21 {
        report(
            &store,
            &format!("40-{}", 1000 + n),
            &["place.near=the fish ladder"],
        );
    }
    assert_eq!(every_body(&store), before, "filing changes no record");
    let listed = open(&store);
    assert_eq!(listed.groups.len(), 1);
    assert_eq!(listed.groups[0].how, How::SameChange);
    assert_eq!(listed.groups[0].reports, (1..=21).collect::<Vec<i64>>());

    no(&store, &[7], "that pole stands at the mill").unwrap();
    let rest: Vec<i64> = open(&store).groups[0].reports.clone();
    assert_eq!(rest.len(), 20);
    let done = take(&mut store, &rest, &Choice::default()).unwrap();
    assert_eq!(
        (done.decided.len(), done.left.len(), done.changes),
        (20, 0, 20)
    );
    let op = done.operation.unwrap();
    let log = polecard::work::history::history(&store, None, 1).unwrap();
    assert_eq!(log.operations[0].operation, op);
    assert_eq!(
        log.operations[0].why,
        "the weir was renamed [reports 1 to 6, 8 to 21 by lw]"
    );
    assert_eq!(body(&store, "40-1000")["place"]["near"], "the fish ladder");
    assert_eq!(body(&store, "40-1006")["place"]["near"], "the weir");
    assert!(open(&store).reports.is_empty());

    undo(&mut store, Some(&op), None, "hb", at(3)).unwrap();
    assert_eq!(every_body(&store), before, "one undo takes all of it back");
    let again = open(&store);
    assert_eq!(again.reports.len(), 20);
    assert!(again.reports.iter().all(|r| r.state == Standing::Undone));
    assert_eq!(state(&store, 7), Standing::Refused);
    // They can be decided again; the first decision stays on record.
    take(&mut store, &[1], &Choice::default()).unwrap();
    let file = reports::open(&store).unwrap();
    let one = show(&store, file.as_ref(), "1").unwrap();
    assert_eq!(one.report.state, Standing::Accepted);
    assert_eq!(one.decisions.len(), 2);
}

#[test]
fn what_was_refused_stays_with_its_reason_and_is_not_decided_twice() {
    let dir = tempfile::tempdir().unwrap();
    let mut store = register(dir.path(), 2);
    let one = report(&store, "40-1000", &["place.near=the mill"]);
    assert_eq!(
        no(&store, &[one], " ").unwrap_err().kind,
        FailureKind::Usage
    );
    no(&store, &[one], "it is the weir").unwrap();
    let which = Which {
        all: true,
        ..Which::default()
    };
    let kept = of(&store, &which).reports.remove(0);
    assert_eq!(
        kept.decision.unwrap().why.as_deref(),
        Some("it is the weir")
    );
    assert_eq!(kept.fields[0].typed, "the mill");
    let e = take(&mut store, &[one], &Choice::default()).unwrap_err();
    assert!(e.message.contains("refused already, by hb"), "{e}");
}

#[test]
fn a_record_changed_since_is_shown_and_never_overwritten() {
    let dir = tempfile::tempdir().unwrap();
    let mut store = register(dir.path(), 3);
    let (a, b) = (
        report(&store, "40-1000", &["place.near=the fish ladder"]),
        report(&store, "40-1001", &["place.near=the fish ladder"]),
    );
    let meanwhile = edit::Asked {
        set: vec!["place.near=the mill".to_string()],
        why: "walked by".to_string(),
        ..edit::Asked::default()
    };
    edit(&mut store, "40-1000", &meanwhile, "mk", at(2)).unwrap();
    let file = reports::open(&store).unwrap();
    let shown = show(&store, file.as_ref(), "1").unwrap();
    let field = &shown.report.fields[0];
    assert!(field.changed_since && !field.on_record);
    assert_eq!(
        (&field.seen, &field.now),
        (&"the weir".into(), &"the mill".into())
    );
    assert_eq!(
        (shown.since[0].who.as_str(), shown.since[0].why.as_str()),
        ("mk", "walked by")
    );
    drop(file);
    assert_eq!(open(&store).groups[0].changed_since, 1);

    let alone = take(&mut store, &[a], &Choice::default()).unwrap_err();
    for said in [
        "was the weir",
        "is now the mill",
        "the fish ladder is proposed",
        "mk changed it",
    ] {
        assert!(alone.to_string().contains(said), "{said}: {alone}");
    }
    let both = take(&mut store, &[a, b], &Choice::default()).unwrap();
    assert_eq!((both.decided.len(), both.left.len()), (1, 1));
    assert_eq!(both.exit_code(), 1);
    assert_eq!(body(&store, "40-1000")["place"]["near"], "the mill");
    assert_eq!(body(&store, "40-1001")["place"]["near"], "the fish ladder");
    assert_eq!(state(&store, a), Standing::Waiting);

    // The clerk has seen both and chooses.
    let choice = Choice {
        set: vec!["place.near=mill and fish ladder".to_string()],
        ..Choice::default()
    };
    let mut file = reports::open_to_decide(&store).unwrap();
    amend(&mut store, &mut file, a, &choice, &person("hb"), at(3)).unwrap();
    drop(file);
    assert_eq!(state(&store, a), Standing::Amended);
    assert_eq!(
        body(&store, "40-1000")["place"]["near"],
        "mill and fish ladder"
    );
}

#[test]
fn what_stands_on_record_by_now_needs_no_operation() {
    let dir = tempfile::tempdir().unwrap();
    let mut store = register(dir.path(), 2);
    let a = report(&store, "40-1000", &["place.near=the mill"]);
    let b = report(&store, "40-1000", &["place.near=the mill"]);
    let both = take(&mut store, &[a, b], &Choice::default()).unwrap();
    assert_eq!((both.decided.len(), both.changes), (2, 1));
    let c = report(&store, "40-1001", &["place.near=the mill"]);
    let d = report(&store, "40-1001", &["place.near=the kiln"]);
    let differ = take(&mut store, &[c, d], &Choice::default()).unwrap();
    assert_eq!(differ.left[0].no, d);
    assert!(differ.left[0].why.contains("another report"), "{differ:?}");
    let head = store.head().unwrap();
    let late = take(&mut store, &[d], &Choice::default()).unwrap_err();
    assert!(late.message.contains("is now the mill"), "{late}");
    assert_eq!(store.head().unwrap(), head);
    // Both of the first two go back together.
    undo(&mut store, both.operation.as_deref(), None, "hb", at(3)).unwrap();
    assert_eq!(state(&store, a), Standing::Undone);
    assert_eq!(state(&store, b), Standing::Undone);
}

#[test]
fn a_plate_value_carries_its_reader_and_a_raised_rating_its_second_person() {
    let dir = tempfile::tempdir().unwrap();
    let mut store = register(dir.path(), 1);
    let bare = file(
        &store,
        "7-20931",
        &says(&["nameplate.interrupting_amps=6000"]),
        &person("lw"),
        at(1),
    )
    .unwrap_err();
    assert!(bare.to_string().contains("--from plate"), "{bare}");
    let asked = Asked {
        from: Some(ReadFrom::Plate),
        ..says(&["nameplate.interrupting_amps=6000"])
    };
    let filed = file(&store, "7-20931", &asked, &person("lw"), at(1)).unwrap();
    let alone = take(&mut store, &[filed.no], &Choice::default()).unwrap_err();
    assert!(alone.message.contains("second person"), "{alone}");
    for second in ["hb", "HB", " "] {
        let choice = Choice {
            second: Some(second.to_string()),
            ..Choice::default()
        };
        assert!(take(&mut store, &[filed.no], &choice).is_err(), "{second}");
    }
    let choice = Choice {
        second: Some("mk".to_string()),
        ..Choice::default()
    };
    let done = take(&mut store, &[filed.no], &choice).unwrap();
    assert!(
        done.why.ends_with("(second person, as declared by hb: mk)"),
        "{}",
        done.why
    );
    assert_eq!(
        body(&store, "7-20931")["nameplate"]["interrupting_amps"],
        serde_json::json!({"value": 6000, "by": "lw", "on": "2026-10-02", "from": "plate"})
    );
}

#[test]
fn what_cannot_be_is_refused_when_it_is_filed() {
    let dir = tempfile::tempdir().unwrap();
    let store = register(dir.path(), 1);
    for (id, set, from, says_so) in [
        (
            "7-20931",
            "nameplate.interrupting_amps=9e9",
            Some(ReadFrom::Plate),
            "interrupting",
        ),
        (
            "7-20931",
            "nameplate.coil_amps=banana",
            Some(ReadFrom::Plate),
            "not a number of A",
        ),
        ("40-1000", "place.nera=x", None, "did you mean"),
        ("40-1000", "place.near=", None, "a blank does not erase"),
        ("40-1000", "place.near=the weir", None, "says so already"),
        (
            "40-1000",
            "id=01J80000000000000000000000",
            None,
            "never changes",
        ),
    ] {
        let asked = Asked {
            from,
            ..says(&[set])
        };
        let e = file(&store, id, &asked, &person("lw"), at(1)).unwrap_err();
        assert_eq!(e.kind, FailureKind::Usage, "{set}: {e}");
        assert!(e.to_string().contains(says_so), "{set}: {e}");
    }
    let future = Asked {
        from: Some(ReadFrom::Plate),
        on: Some("2026-12-01".parse().unwrap()),
        ..says(&["nameplate.coil_amps=100"])
    };
    let e = file(&store, "7-20931", &future, &person("lw"), at(1)).unwrap_err();
    assert!(e.message.contains("future"), "{e}");
    let wordless = Asked::default();
    assert!(file(&store, "40-1000", &wordless, &person("lw"), at(1)).is_err());
    assert!(
        reports::open(&store).unwrap().is_none(),
        "nothing was filed"
    );
}

#[test]
fn a_note_and_a_thing_not_on_record_are_kept_and_closed_with_words() {
    let dir = tempfile::tempdir().unwrap();
    let mut store = register(dir.path(), 1);
    let note = file(&store, "40-1000", &says(&[]), &person("lw"), at(1))
        .unwrap()
        .no;
    let asked = Asked {
        unlisted: true,
        ..says(&[])
    };
    let there = file(&store, "40-1000", &asked, &person("lw"), at(1)).unwrap_err();
    assert!(there.message.contains("is on record"), "{there}");
    let new = file(&store, "41-777", &asked, &person("lw"), at(1))
        .unwrap()
        .no;
    let head = store.head().unwrap();
    assert!(take(&mut store, &[note], &Choice::default()).is_err());
    let choice = Choice {
        why: Some("entered from the as-built".to_string()),
        ..Choice::default()
    };
    let done = take(&mut store, &[note, new], &choice).unwrap();
    assert_eq!((done.decided.len(), done.operation), (2, None));
    assert_eq!(store.head().unwrap(), head);
    assert_eq!(state(&store, new), Standing::Accepted);
}

#[test]
fn only_who_filed_it_withdraws_it() {
    let dir = tempfile::tempdir().unwrap();
    let mut store = register(dir.path(), 2);
    let declared = person("crew (declared: Mia)");
    let filed = file(
        &store,
        "40-1000",
        &says(&["place.near=x"]),
        &declared,
        at(1),
    )
    .unwrap();
    assert_eq!(filed.who, "crew (declared: Mia)");
    let mut file = Reports::open(store.path(), Access::Write).unwrap().unwrap();
    for other in ["lw", "crew", "crew (declared: Jon)"] {
        let e = withdraw(&store, &mut file, 1, "", &person(other), at(2)).unwrap_err();
        assert!(e.message.contains("filed by crew (declared: Mia)"), "{e}");
    }
    withdraw(&store, &mut file, 1, "wrong pole", &declared, at(2)).unwrap();
    drop(file);
    let e = take(&mut store, &[1], &Choice::default()).unwrap_err();
    assert!(e.message.contains("withdrawn already"), "{e}");
}

/// The same field with values of their own makes a second kind of group.
#[test]
fn alike_are_the_same_change_or_the_same_field_of_a_class() {
    let dir = tempfile::tempdir().unwrap();
    let store = register(dir.path(), 6);
    for (n, near) in [(0, "a"), (1, "a"), (2, "b"), (3, "c")] {
        report(
            &store,
            &format!("40-{}", 1000 + n),
            &[&format!("place.near={near}")],
        );
    }
    report(&store, "40-1004", &["place.road=Weir Ln"]);
    let groups = open(&store).groups;
    let shape: Vec<(How, Vec<i64>)> = groups.iter().map(|g| (g.how, g.reports.clone())).collect();
    assert_eq!(
        shape,
        [(How::SameChange, vec![1, 2]), (How::SameField, vec![3, 4])]
    );
    let which = |feeder: &str| Which {
        feeder: Some(feeder.to_string()),
        ..Which::default()
    };
    assert_eq!(of(&store, &which("hb2")).reports.len(), 5);
    assert_eq!(of(&store, &which("HB3")).reports.len(), 0);
    let one = Which {
        of: Some("40-1002".to_string()),
        ..Which::default()
    };
    assert_eq!(of(&store, &one).reports[0].no, 3);
}

/// A decision is written before its operation: what was begun and not carried
/// out does not count.
#[test]
fn a_decision_without_its_operation_counts_for_nothing() {
    let dir = tempfile::tempdir().unwrap();
    let mut store = register(dir.path(), 1);
    let path = store.path().to_path_buf();
    let aside = dir.path().join("aside");
    let one = report(&store, "40-1000", &["place.near=the mill"]);
    store.fold_log().unwrap();
    std::fs::copy(&path, &aside).unwrap();
    take(&mut store, &[one], &Choice::default()).unwrap();
    drop(store);
    // The register as it was before; the reports file as it is.
    std::fs::rename(&aside, &path).unwrap();
    for tail in ["-wal", "-shm"] {
        let _ = std::fs::remove_file(format!("{}{tail}", path.display()));
    }
    let mut store = Store::open(&path, Access::Write).unwrap();
    assert_eq!(state(&store, one), Standing::Waiting);
    let mut file = reports::open_to_decide(&store).unwrap();
    let who = person("hb");
    let soon = accept(
        &mut store,
        &mut file,
        &[one],
        &Choice::default(),
        &who,
        at(2),
    );
    assert!(soon.unwrap_err().message.contains("being decided"));
    accept(
        &mut store,
        &mut file,
        &[one],
        &Choice::default(),
        &who,
        at(3),
    )
    .unwrap();
    drop(file);
    assert_eq!(state(&store, one), Standing::Accepted);
    assert_eq!(body(&store, "40-1000")["place"]["near"], "the mill");
}

#[test]
fn three_thousand_are_listed_and_taken_in_at_once() {
    const MANY: usize = 3_000;
    let dir = tempfile::tempdir().unwrap();
    let mut store = register(dir.path(), MANY);
    let one = report(&store, "40-1000", &["place.near=the fish ladder"]);
    let mut file = Reports::open(store.path(), Access::Write).unwrap().unwrap();
    let first = file.numbered(one).unwrap().unwrap().report;
    for s in store.all(Kind::Structure).unwrap().into_iter().skip(1) {
        let mut next = first.clone();
        let about = next.about.as_mut().unwrap();
        (about.id, about.name) = (s.record.id(), s.record.name());
        next.id = polecard::store::fresh_id(at(1));
        file.add(&next).unwrap();
    }
    drop(file);
    let started = Instant::now();
    let listed = open(&store);
    let took = started.elapsed();
    assert_eq!(listed.groups[0].reports.len(), MANY);
    // Generous for an unoptimised build on a busy machine.
    assert!(took < Duration::from_secs(5), "listing took {took:?}");
    let started = Instant::now();
    let done = take(&mut store, &listed.groups[0].reports, &Choice::default()).unwrap();
    let took = started.elapsed();
    assert_eq!((done.decided.len(), done.changes), (MANY, MANY));
    assert!(took < Duration::from_secs(30), "taking in took {took:?}");
    undo(&mut store, done.operation.as_deref(), None, "hb", at(3)).unwrap();
    assert_eq!(open(&store).reports.len(), MANY);
}
