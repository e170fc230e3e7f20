//! A whole register: its log against every way to change the file behind it,
//! and what a report says of it.

use std::path::Path;

use polecard::calendar::Clock;
use polecard::exchange::{Source, export, import};
use polecard::store::{Access, Store};
use polecard::work::verify::{
    Asked, VerifyReport, earlier, forget_head, keep_last, recall_last, verify as verify_register,
};

use super::now;

const SMALL: &str = r"---
source: bus
kind: substation
structure: 40-117
fault_mva: 50
---
feeder: HB2
source: bus
head: 40-117
kv_ll: 12.47
---
structure: 40-117
kind: pole
feeder: HB2
place: {road: Tannery Rd}
---
structure: 40-118
kind: pole
feeder: HB2
place: {road: Tannery Rd, near: the old kiln}
---
span: {from: 40-117, to: 40-118, phases: ABC}
feeder: HB2
---
position: HB2-RC-14
class: recloser
feeder: HB2
structure: 40-117
toward: 40-118
---
unit: 7-20931
class: recloser
nameplate: {coil_amps: 100, interrupting_amps: 4000, max_kv: 15.5, bil_kv: 110}
deployments: [{at: HB2-RC-14, slot: ABC, from: 2018-06-04}]
";

/// Takes documents into a register at `path`; twice, so that records are
/// added and edited.
fn take_in(path: &Path, docs: &[&str]) -> Store {
    let mut store = if path.exists() {
        Store::open(path, Access::Write).unwrap()
    } else {
        Store::create(path).unwrap()
    };
    for text in docs {
        let dir = tempfile::tempdir().unwrap();
        std::fs::write(dir.path().join("all.yaml"), text).unwrap();
        import(
            &mut store,
            &Source::at(dir.path()).unwrap(),
            "hb",
            now(),
            true,
        )
        .unwrap();
    }
    store
}

fn report(path: &Path, expect_head: Option<&str>) -> VerifyReport {
    let store = Store::open(path, Access::Read).unwrap();
    let asked = Asked {
        expect_head: expect_head.iter().map(ToString::to_string).collect(),
        ..Asked::default()
    };
    verify_register(&store, &asked, Clock::Fixed(now())).unwrap()
}

fn rules(r: &VerifyReport) -> Vec<&str> {
    r.findings.iter().map(|f| f.rule).collect()
}

const EDIT: &str = "---\nposition: HB2-RC-14\nclass: recloser\nfeeder: HB2\nstructure: 40-117\ntoward: 40-118\nnote: painted\n";

/// Changes the file behind the program's back.
fn tamper(path: &Path, sql: &str) {
    let conn = rusqlite::Connection::open(path).unwrap();
    conn.execute_batch("pragma foreign_keys = off").unwrap();
    conn.execute_batch(sql).unwrap();
}

#[test]
fn a_sound_register_has_nothing_wrong_and_says_its_head() {
    let dir = tempfile::tempdir().unwrap();
    let path = dir.path().join("r.polecard");
    let store = take_in(&path, &[SMALL, EDIT]);
    let exported = export(&store, &dir.path().join("out")).unwrap();
    drop(store);
    let r = report(&path, Some(&exported.chain_head));
    assert_eq!(rules(&r), Vec::<&str>::new(), "{:?}", r.findings);
    assert!(r.chain.intact);
    assert_eq!(r.chain.head, exported.chain_head);
    assert_eq!(r.records, 7);
    let expected = &r.chain.expected[0];
    assert!(expected.found && expected.operations_since == 0);
    let score = r
        .scores
        .iter()
        .find(|s| s.feeder.as_deref() == Some("HB2"))
        .unwrap();
    assert_eq!((score.plates, score.plates_read), (1, 1));
}

#[test]
fn every_way_to_change_the_file_behind_the_log_is_found() {
    let cases = [
        (
            "update change set new = '\"green\"' where field = 'note'",
            "log-chain",
        ),
        (
            "update record set body = replace(body, '\"kind\":\"pole\"', '\"kind\":\"pad\"') where name = '40-118'",
            "log-chain",
        ),
        (
            "update operation set who = 'somebody else' where seq = 1",
            "log-chain",
        ),
        ("delete from operation where seq = 1", "log-chain"),
        (
            "update operation set entered = 'noon' where seq = 1",
            "log-chain",
        ),
        (
            "update record set body = replace(body, 'painted', 'rusty') where name = 'HB2-RC-14'",
            "log-record",
        ),
        (
            "insert into record(rid, kind, name, home, op, body) select '01ARZ3NDEKTSV4RRFFQ69G5FAV', kind, '40-119', home, op, replace(replace(body, '40-118', '40-119'), rid, '01ARZ3NDEKTSV4RRFFQ69G5FAV') from record where name = '40-118'",
            "log-record",
        ),
        (
            "update record set gone = 1 where name = '40-118'",
            "log-record",
        ),
        (
            "update record set gone = 1 where name = 'HB2-RC-14'",
            "log-record",
        ),
    ];
    for (sql, rule) in cases {
        let dir = tempfile::tempdir().unwrap();
        let path = dir.path().join("r.polecard");
        drop(take_in(&path, &[SMALL, EDIT]));
        tamper(&path, sql);
        let r = report(&path, None);
        assert!(rules(&r).contains(&rule), "{sql}: {:?}", rules(&r));
        stops_at_the_top(&r);
        if rule == "log-chain" {
            assert!(!r.chain.intact);
            assert_eq!(rules(&r)[0], rule, "named first");
        }
    }
}

#[test]
fn an_index_that_is_not_that_of_its_records_is_found() {
    for sql in [
        "update name set folded = '40119' where text = '40-118'",
        "delete from name where text = '7-20931'",
        "update link set target = '40118' where rel = 0",
        "update record set home = 'HB3' where name = '40-118'",
        "update record set name = '40-119' where name = '40-118'",
    ] {
        let dir = tempfile::tempdir().unwrap();
        let path = dir.path().join("r.polecard");
        drop(take_in(&path, &[SMALL, EDIT]));
        tamper(&path, sql);
        let r = report(&path, None);
        assert!(rules(&r).contains(&"log-index"), "{sql}: {:?}", rules(&r));
        stops_at_the_top(&r);
        assert!(r.chain.intact);
    }
}

#[test]
fn a_cut_tail_and_a_log_written_anew_lack_the_printed_head() {
    let dir = tempfile::tempdir().unwrap();
    let path = dir.path().join("r.polecard");
    let store = take_in(&path, &[SMALL]);
    let first = store.head().unwrap().digest;
    drop(store);
    let store = take_in(&path, &[EDIT]);
    let second = store.head().unwrap().digest;
    drop(store);
    // An older head is still there, and says how much came since.
    let r = report(&path, Some(&first));
    assert_eq!(rules(&r), Vec::<&str>::new());
    assert_eq!(
        r.chain
            .expected
            .iter()
            .map(|e| (e.found, e.operations_since))
            .collect::<Vec<_>>(),
        [(true, 1)]
    );
    // The tail is cut: the record goes back to what it was, and the chain fits.
    tamper(
        &path,
        "update record set body = (select body from past where past.rec = record.rec), op = 1
           where rec in (select rec from past);
         delete from past; delete from change where op = 2; delete from operation where seq = 2;",
    );
    let r = report(&path, Some(&second));
    assert!(r.chain.intact, "what is left is a chain");
    assert_eq!(rules(&r), ["log-head"]);
    stops_at_the_top(&r);
    assert!(r.stops[0].contains("tail was cut"), "{:?}", r.stops);
    assert_eq!(
        rules(&report(&path, None)),
        Vec::<&str>::new(),
        "without the head nothing shows"
    );
    // All of it written anew.
    let other = dir.path().join("anew.polecard");
    drop(take_in(
        &other,
        &[SMALL, &EDIT.replace("painted", "scraped")],
    ));
    let r = report(&other, Some(&format!("2:{second}")));
    assert_eq!(rules(&r), ["log-head"]);
    assert!(r.stops[0].contains("written anew"), "{:?}", r.stops);
    stops_at_the_top(&r);
}

/// The STOP stands right under the heading, whatever rules were asked for.
fn stops_at_the_top(r: &VerifyReport) {
    assert!(!r.stops.is_empty(), "{:?}", rules(r));
    let style = polecard::present::Style {
        width: 200,
        ascii: true,
    };
    let lines = polecard::present::verify::lines(r, style, false);
    assert!(lines[1].plain().trim_start().starts_with("STOP"));
}

#[test]
fn what_was_altered_is_said_with_one_rule_asked_for_too() {
    let dir = tempfile::tempdir().unwrap();
    let path = dir.path().join("r.polecard");
    drop(take_in(&path, &[SMALL, EDIT]));
    let asked = Asked {
        rules: vec!["date-future".to_string()],
        ..Asked::default()
    };
    let of = |path: &Path| {
        let store = Store::open(path, Access::Read).unwrap();
        verify_register(&store, &asked, Clock::Fixed(now())).unwrap()
    };
    assert_eq!(of(&path).stops, Vec::<String>::new());
    tamper(
        &path,
        "update record set body = replace(body, 'painted', 'rusty') where name = 'HB2-RC-14'",
    );
    let r = of(&path);
    assert!(r.findings.is_empty());
    assert!(r.stops[0].contains("HB2-RC-14"), "{:?}", r.stops);
}

/// An account remembers the head that it saw last, so that a cut tail shows
/// although nobody wrote a head down; a restore by the account itself does not.
#[test]
fn a_head_seen_last_is_missed_until_it_is_back() {
    let dir = tempfile::tempdir().unwrap();
    let path = dir.path().join("r.polecard");
    let drafts = dir.path().join("drafts");
    let look = || {
        let store = Store::open(&path, Access::Read).unwrap();
        let asked = Asked {
            last_head: recall_last(Some(&drafts), &path).head,
            ..Asked::default()
        };
        let r = verify_register(&store, &asked, Clock::Fixed(now())).unwrap();
        keep_last(Some(&drafts), &path, &r);
        r
    };
    drop(take_in(&path, &[SMALL]));
    let short = std::fs::read(&path).unwrap();
    drop(take_in(&path, &[EDIT]));
    assert!(look().stops.is_empty());
    for tail in ["-wal", "-shm"] {
        let _ = std::fs::remove_file(dir.path().join(format!("r.polecard{tail}")));
    }
    std::fs::write(&path, &short).unwrap();
    for _ in 0..2 {
        let r = look();
        assert!(r.stops[0].contains("last look"), "{:?}", r.stops);
        assert!(r.stops[0].contains("tail was cut"), "{:?}", r.stops);
    }
    forget_head(Some(&drafts), &path);
    assert!(look().stops.is_empty());
}

#[test]
fn an_earlier_report_shows_progress_and_any_other_text_is_refused() {
    let dir = tempfile::tempdir().unwrap();
    let path = dir.path().join("r.polecard");
    drop(take_in(
        &path,
        &[&SMALL.replace("interrupting_amps: 4000, ", "")],
    ));
    let json = serde_json::to_string(&report(&path, None)).unwrap();
    let store = take_in(
        &path,
        &[
            "---\nunit: 7-20931\nclass: recloser\nnameplate: {coil_amps: 100, interrupting_amps: 4000, max_kv: 15.5, bil_kv: 110}\ndeployments: [{at: HB2-RC-14, slot: ABC, from: 2018-06-04}]\n",
        ],
    );
    let asked = Asked {
        before: earlier(&json).unwrap(),
        ..Asked::default()
    };
    let r = verify_register(&store, &asked, Clock::Fixed(now())).unwrap();
    let score = r
        .scores
        .iter()
        .find(|s| s.feeder.as_deref() == Some("HB2"))
        .unwrap();
    assert_eq!(score.read_percent, Some(100.0));
    assert_eq!(score.before.as_ref().unwrap().read_percent, Some(0.0));
    assert!(earlier("{\"findings\": []}").is_err());
}

#[test]
fn a_source_that_grew_by_the_log_ages_the_studies_before_it() {
    let dir = tempfile::tempdir().unwrap();
    let path = dir.path().join("r.polecard");
    let study = "---\nposition: HB2-RC-14\nclass: recloser\nfeeder: HB2\nstructure: 40-117\ntoward: 40-118\navailable_fault: {amps: 900, kind: three-phase, date: 2015-11-18}\n";
    drop(take_in(&path, &[SMALL, study]));
    assert_eq!(rules(&report(&path, None)), Vec::<&str>::new());
    let bus = "---\nsource: bus\nkind: substation\nstructure: 40-117\nfault_mva: 110\n";
    drop(take_in(&path, &[bus]));
    assert_eq!(rules(&report(&path, None)), ["study-older-than-source"]);
}

#[test]
fn an_unknown_rule_is_refused_with_the_rules_there_are() {
    let dir = tempfile::tempdir().unwrap();
    let store = take_in(&dir.path().join("r.polecard"), &[SMALL]);
    let asked = Asked {
        rules: vec!["unit-too-places".into()],
        ..Asked::default()
    };
    let failure = verify_register(&store, &asked, Clock::Fixed(now())).unwrap_err();
    assert!(failure.to_string().contains("unit-two-places"));
}

#[test]
fn the_report_fits_any_width_and_names_a_broken_chain_before_its_findings() {
    let dir = tempfile::tempdir().unwrap();
    let path = dir.path().join("r.polecard");
    drop(take_in(&path, &[SMALL, EDIT]));
    tamper(&path, "update operation set who = 'another' where seq = 1");
    let r = report(&path, Some("00000000"));
    for width in [40, 80] {
        let style = polecard::present::Style { width, ascii: true };
        let lines = polecard::present::verify::lines(&r, style, false);
        assert!(lines.iter().all(|l| l.width() <= width));
        assert!(lines.iter().all(|l| l.plain().is_ascii()));
        let at = |text: &str| lines.iter().position(|l| l.plain().contains(text));
        let stop = at("STOP").unwrap();
        assert!(stop < at("log-chain").unwrap());
        assert!(at("STOP  the head 00000000").is_some());
    }
}

#[test]
fn the_command_exits_0_when_answered_and_2_for_a_rule_there_is_not() {
    let dir = tempfile::tempdir().unwrap();
    let path = dir.path().join("r.polecard");
    drop(take_in(&path, &[SMALL, EDIT]));
    tamper(&path, "update operation set who = 'another' where seq = 1");
    let run = |more: &[&str]| {
        std::process::Command::new(env!("CARGO_BIN_EXE_polecard"))
            .args(["verify", "--json", "--register"])
            .arg(&path)
            .args(more)
            .output()
            .unwrap()
    };
    let out = run(&[]);
    assert_eq!(out.status.code(), Some(0));
    let json: serde_json::Value = serde_json::from_slice(&out.stdout).unwrap();
    assert!(json["stops"][0].as_str().unwrap().contains("altered"));
    let first = &json["findings"][0];
    assert_eq!(first["rule"], "log-chain");
    for key in ["record", "why", "fix"] {
        assert!(first[key].as_str().is_some_and(|t| !t.is_empty()), "{key}");
    }
    assert_eq!(run(&["--rule", "nothing"]).status.code(), Some(2));
    assert_eq!(run(&["--since", "missing"]).status.code(), Some(4));
}
