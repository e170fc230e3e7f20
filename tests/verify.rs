//! The detectors: each finds what it is for, and leaves what is nearly that;
//! the log of changes against tampering; the command.

use std::collections::BTreeSet;
use std::path::Path;

use polecard::calendar::{Clock, Moment};
use polecard::domain::asset::{Kind, Position, Record, RecordId, Rel, Unit};
use polecard::domain::code::Scheme;
use polecard::domain::network::{Network, Section};
use polecard::domain::verify::unread::{self, Hazard};
use polecard::domain::verify::{self, Enlarged, Found, Given, Held, Reference, Run, detectors};
use polecard::exchange::{Source, export, import};
use polecard::store::{Access, Store};
use polecard::work::verify::{Asked, VerifyReport, earlier, verify as verify_register};
use serde_json::{Value, json};

fn now() -> Moment {
    "2026-10-05T12:00:00-06:00".parse().unwrap()
}

fn given() -> Given {
    let body = json!({
        "title": "test", "confusable": ["O0"],
        "patterns": [
            {"name": "structure", "names": "structure", "example": "40-118",
             "fields": [{"field": "sheet", "digits": 2}, {"separator": "-"}, {"field": "number", "digits": 3}]},
            {"name": "unit", "names": "unit", "example": "7-20931",
             "fields": [{"field": "family", "digits": 1}, {"separator": "-"}, {"field": "number", "digits": 5}]},
        ]
    });
    Given {
        today: now().date(),
        schemes: vec![Scheme::from_body("test", body.as_object().unwrap()).unwrap()],
        conductors: BTreeSet::from(["1/0 ACSR".to_string()]),
        enlarged: vec![Enlarged {
            source: "Ford bus".into(),
            feeders: BTreeSet::from(["SF1".to_string()]),
            since: "2023-04-24".parse().unwrap(),
        }],
    }
}

fn record(kind: Kind, value: Value) -> Record {
    Record::from_value(kind, value).unwrap()
}

/// Rules that have something to say about one record.
fn rules_on(kind: Kind, value: Value) -> BTreeSet<&'static str> {
    let found = verify::of_record(&record(kind, value), &given());
    found.into_iter().map(|(d, _)| d.name).collect()
}

/// A rule, the kind of record, one that it finds and one that it must leave.
fn cases() -> Vec<(&'static str, Kind, Value, Value)> {
    let unit =
        |class: &str, plate: Value| json!({"unit": "7-20931", "class": class, "nameplate": plate});
    let stay = |stays: Value| json!({"unit": "7-20931", "class": "recloser", "deployments": stays});
    let at = |extra: Value| {
        let mut p = json!({"position": "HB2-RC-14", "class": "cutout"});
        p.as_object_mut()
            .unwrap()
            .extend(extra.as_object().unwrap().clone());
        p
    };
    let pole =
        |name: &str| json!({"structure": name, "kind": "pole", "place": {"road": "Tannery Rd"}});
    let span = |c: &str| json!({"span": {"from": "40-117", "to": "40-118", "conductor": c}});
    let study = |feeder: &str, day: &str| {
        at(
            json!({"feeder": feeder, "available_fault": {"amps": 900, "kind": "three-phase", "date": day}}),
        )
    };
    let entry = |day: &str| json!({"entry": "inspection", "of": "7-20931", "on": day});
    let link = |mark: &str| at(json!({"elements": [{"element": "link", "link": mark}]}));
    let fields = json!([{"field": "a", "digits": 2}]);
    let scheme = |names: &str| json!({"scheme": "s", "title": "t", "patterns": [{"name": "p", "names": names, "example": "12", "fields": fields}]});
    vec![
        (
            "id-off-scheme",
            Kind::Structure,
            pole("40-1180"),
            pole("40-118"),
        ),
        (
            "id-off-scheme",
            Kind::Unit,
            json!({"unit": "40-118", "class": "other"}),
            json!({"unit": "7-20931", "class": "other"}),
        ),
        (
            "placeholder-value",
            Kind::Unit,
            unit("recloser", json!({"serial": "0000"})),
            unit("recloser", json!({"serial": "1000"})),
        ),
        (
            "placeholder-value",
            Kind::Unit,
            unit("recloser", json!({"serial": "TBD"})),
            unit("recloser", json!({"serial": "TBD-4411"})),
        ),
        (
            "placeholder-value",
            Kind::Unit,
            unit("recloser", json!({"interrupting_amps": 9999})),
            unit("recloser", json!({"interrupting_amps": 9000})),
        ),
        (
            "placeholder-value",
            Kind::Structure,
            json!({"structure": "40-118", "kind": "pole", "place": {"road": "N/A"}}),
            json!({"structure": "40-118", "kind": "pole", "place": {"road": "Nash Rd"}}),
        ),
        (
            "no-second-identifier",
            Kind::Structure,
            json!({"structure": "40-118", "kind": "pole", "place": {"lat": 1.0}}),
            json!({"structure": "40-118", "kind": "pole", "place": {"near": "the weir"}}),
        ),
        (
            "conductor-unknown",
            Kind::Span,
            span("1/0 ASCR"),
            span("1/0 ACSR"),
        ),
        (
            "scheme-faulty",
            Kind::Scheme,
            scheme("nothing"),
            scheme("structure"),
        ),
        (
            "unit-two-places",
            Kind::Unit,
            stay(json!([{"at": "A", "from": "2001-05-02"}, {"at": "B", "from": "2009-05-02"}])),
            stay(
                json!([{"at": "A", "from": "2001-05-02", "to": "2009-05-02"}, {"at": "B", "from": "2009-05-02"}]),
            ),
        ),
        (
            "stay-undated",
            Kind::Unit,
            stay(json!([{"at": "HB2-RC-14"}])),
            stay(json!([{"at": "shop"}])),
        ),
        (
            "kva-off-list",
            Kind::Unit,
            unit("transformer", json!({"kva": 35, "phases": 1})),
            unit("transformer", json!({"kva": 37.5, "phases": 1})),
        ),
        (
            "kva-off-list",
            Kind::Unit,
            unit("transformer", json!({"kva": 112.5, "phases": 1})),
            unit("transformer", json!({"kva": 112.5, "phases": 3})),
        ),
        (
            "kva-off-list",
            Kind::Unit,
            unit("transformer", json!({"kva": 114.3})),
            unit("regulator", json!({"kva": 114.3})),
        ),
        ("link-off-list", Kind::Position, link("13K"), link("12K")),
        (
            "coil-off-list",
            Kind::Unit,
            unit("recloser", json!({"coil_amps": 75})),
            unit("recloser", json!({"coil_amps": 70})),
        ),
        (
            "trip-under-continuous",
            Kind::Unit,
            unit("recloser", json!({"coil_amps": 50, "min_trip_amps": 35})),
            unit(
                "recloser",
                json!({"coil_amps": 50, "min_trip_amps": 100, "continuous_amps": 200}),
            ),
        ),
        (
            "peak-under-rms",
            Kind::Unit,
            unit(
                "switch",
                json!({"peak_amps": 20000, "momentary_amps": 25000}),
            ),
            unit(
                "switch",
                json!({"peak_amps": 65000, "momentary_amps": 25000}),
            ),
        ),
        (
            "mcov-over-duty",
            Kind::Unit,
            unit("arrester", json!({"duty_kv": 9, "mcov_kv": 10.2})),
            unit("arrester", json!({"duty_kv": 10, "mcov_kv": 8.4})),
        ),
        (
            "interrupting-under-carrying",
            Kind::Unit,
            unit(
                "recloser",
                json!({"continuous_amps": 560, "interrupting_amps": 400}),
            ),
            unit(
                "recloser",
                json!({"continuous_amps": 560, "interrupting_amps": 4000}),
            ),
        ),
        (
            "date-new-year",
            Kind::Unit,
            stay(json!([{"at": "A", "from": "2001-01-01"}])),
            stay(json!([{"at": "A", "from": "2001-01-02"}])),
        ),
        (
            "date-future",
            Kind::Entry,
            entry("2026-10-06"),
            entry("2026-10-05"),
        ),
        (
            "date-future",
            Kind::Unit,
            unit("recloser", json!({"made_year": 2027})),
            unit("recloser", json!({"made_year": 2026})),
        ),
        (
            "date-order",
            Kind::Unit,
            stay(json!([{"at": "A", "from": "2009-05-02", "to": "2001-05-02"}])),
            stay(json!([{"at": "A", "from": "2009-05-02", "to": "2009-05-02"}])),
        ),
        (
            "study-older-than-source",
            Kind::Position,
            study("SF1", "2015-11-18"),
            study("SF1", "2023-04-24"),
        ),
        (
            "study-older-than-source",
            Kind::Position,
            study("SF1", "2015-11-18"),
            study("HB2", "2015-11-18"),
        ),
    ]
}

#[test]
fn each_detector_of_one_record_finds_its_case_and_leaves_the_near_miss() {
    for (rule, kind, bad, near) in cases() {
        assert!(
            rules_on(kind, bad.clone()).contains(rule),
            "{rule} misses {bad}"
        );
        let on = rules_on(kind, near.clone());
        assert!(!on.contains(rule), "{rule} finds {near}");
    }
}

#[test]
fn every_detector_of_one_record_has_a_case() {
    let cases: BTreeSet<&str> = cases().iter().map(|c| c.0).collect();
    for d in detectors() {
        if matches!(d.run, Run::Record(_)) {
            assert!(cases.contains(d.name), "{} has no case", d.name);
        }
    }
}

fn position(value: Value) -> Position {
    match record(Kind::Position, value) {
        Record::Position(p) => p,
        _ => unreachable!(),
    }
}

fn unit(name: &str, class: &str, slot: Option<&str>) -> Unit {
    let mut stay = json!({"at": "HB2-RG-3", "from": "2018-06-04"});
    if let Some(slot) = slot {
        stay["slot"] = json!(slot);
    }
    match record(
        Kind::Unit,
        json!({"unit": name, "class": class, "deployments": [stay]}),
    ) {
        Record::Unit(u) => u,
        _ => unreachable!(),
    }
}

fn found(all: Vec<(&'static verify::Detector, Found)>) -> Vec<(&'static str, String)> {
    all.into_iter().map(|(d, f)| (d.name, f.record)).collect()
}

fn pair(rule: &'static str, record: &str) -> (&'static str, String) {
    (rule, record.to_string())
}

#[test]
fn slots_are_filled_once_with_the_right_class() {
    let bank = position(
        json!({"position": "HB2-RG-3", "class": "regulator", "phases": "ABC", "slots": ["A", "B", "C"]}),
    );
    let of = |units: &[Unit]| found(verify::of_place(&bank, units));
    let a = || unit("2-1", "regulator", Some("A"));
    let b = || unit("2-2", "regulator", Some("B"));
    let c = || unit("2-3", "regulator", Some("C"));
    assert_eq!(of(&[a(), b(), c()]), []);
    assert_eq!(of(&[a(), b()]), [pair("slot-empty", "HB2-RG-3")]);
    assert_eq!(of(&[]), [pair("slot-empty", "HB2-RG-3")]);
    let twice = unit("2-4", "regulator", Some("C"));
    assert_eq!(
        of(&[a(), b(), c(), twice]),
        [pair("slot-shared", "HB2-RG-3")]
    );
    let off = unit("2-5", "regulator", Some("D"));
    assert_eq!(
        of(&[a(), b(), c(), off]),
        [pair("slot-off-position", "2-5")]
    );
    let other = unit("2-6", "switch", Some("C"));
    assert_eq!(of(&[a(), b(), other]), [pair("class-differs", "2-6")]);
    // One unit for the whole bank fills every slot.
    assert_eq!(of(&[unit("2-7", "regulator", Some("ABC"))]), []);
    // A cutout of parts alone is no place for a serialised unit.
    let parts = position(
        json!({"position": "HB2-FC-1", "class": "cutout", "elements": [{"element": "link", "link": "40K"}]}),
    );
    assert_eq!(found(verify::of_place(&parts, &[])), []);
}

fn held(rec: i64, kind: Kind, now: &str, text: &str, rank: u8) -> Held {
    Held {
        rec,
        kind,
        id: RecordId::default(),
        text: text.into(),
        now: now.into(),
        rank,
    }
}

#[test]
fn a_name_is_held_once() {
    let of = |h: &[Held]| found(verify::of_name(h));
    let p = Kind::Position;
    assert_eq!(
        of(&[held(1, p, "X", "X", 0), held(2, p, "X", "X", 0)]),
        [pair("name-twice", "X")]
    );
    assert_eq!(
        of(&[held(1, p, "X", "X", 0), held(2, Kind::Unit, "X", "X", 0)]),
        []
    );
    assert_eq!(
        of(&[held(1, p, "X", "X", 0), held(2, p, "Y", "X", 2)]),
        [pair("name-reused", "Y")]
    );
    assert_eq!(of(&[held(1, p, "Z", "X", 2), held(2, p, "Y", "X", 2)]), []);
    let serial = |rec: i64, now: &str, text: &str| held(rec, Kind::Unit, now, text, 1);
    assert_eq!(
        of(&[serial(1, "7-1", "A 55"), serial(2, "7-2", "A 55")]),
        [pair("other-name-twice", "7-2")]
    );
    assert_eq!(of(&[serial(1, "7-1", "N/A"), serial(2, "7-2", "N/A")]), []);
    assert_eq!(of(&[serial(1, "7-1", "A 55"), serial(1, "7-1", "A55")]), []);
}

#[test]
fn a_reference_leads_to_a_record_of_its_kind() {
    let u = record(
        Kind::Unit,
        json!({"unit": "1-31419", "class": "transformer", "deployments": [{"at": "1-10318"}]}),
    );
    let of = |holders: &[Kind]| {
        found(verify::of_reference(&Reference {
            from: &u,
            rel: Rel::DeployedAt,
            target: "1-10318",
            holders,
        }))
    };
    assert_eq!(of(&[]), [pair("reference-nowhere", "1-31419")]);
    assert_eq!(of(&[Kind::Unit]), [pair("id-of-other-kind", "1-31419")]);
    assert_eq!(of(&[Kind::Unit, Kind::Position]), []);
}

#[test]
fn counters_run_forward_by_date() {
    let entry = |n: i64, day: Option<&str>, counter: f64| {
        let mut v = json!({"entry": "counter", "of": "7-1", "readings": {"counter": counter}});
        if let Some(day) = day {
            v["on"] = json!(day);
        }
        match record(Kind::Entry, v) {
            Record::Entry(e) => (n, e),
            _ => unreachable!(),
        }
    };
    let of = |e: &[(i64, polecard::domain::asset::Entry)]| verify::of_history(e).len();
    let (one, two) = (
        entry(1, Some("2024-04-09"), 1204.0),
        entry(2, Some("2025-04-15"), 204.0),
    );
    assert_eq!(of(&[one.clone(), two]), 1);
    // Entered late, dated early; equal readings; no date to order by.
    assert_eq!(of(&[one.clone(), entry(2, Some("2020-01-09"), 900.0)]), 0);
    assert_eq!(of(&[one.clone(), entry(2, Some("2025-04-09"), 1204.0)]), 0);
    assert_eq!(of(&[one, entry(2, None, 5.0)]), 0);
}

/// A feeder H of poles 1 to 4 in a row from the bus at pole 1.
fn line(change: impl Fn(&mut Vec<(Kind, Value)>)) -> Vec<(&'static str, String)> {
    let mut docs = vec![
        (
            Kind::Source,
            json!({"source": "bus", "kind": "substation", "structure": "1"}),
        ),
        (
            Kind::Feeder,
            json!({"feeder": "H", "source": "bus", "head": "1"}),
        ),
    ];
    for n in 1..=4 {
        docs.push((
            Kind::Structure,
            json!({"structure": n.to_string(), "kind": "pole", "feeder": "H"}),
        ));
    }
    for (from, to, phases) in [("1", "2", "ABC"), ("2", "3", "AB"), ("3", "4", "A")] {
        docs.push((
            Kind::Span,
            json!({"span": {"from": from, "to": to, "phases": phases}, "feeder": "H"}),
        ));
    }
    docs.push((Kind::Position, json!({"position": "SW", "class": "switch", "feeder": "H", "structure": "2", "toward": "3", "phases": "AB", "normally": "closed"})));
    docs.push((Kind::Position, json!({"position": "TR", "class": "transformer", "feeder": "H", "structure": "4", "phases": "A"})));
    change(&mut docs);
    let mut section = Section {
        home: Some("H".into()),
        ..Section::default()
    };
    for (kind, value) in docs {
        match record(kind, value) {
            Record::Source(r) => section.sources.push(r),
            Record::Feeder(r) => section.feeders.push(r),
            Record::Structure(r) => section.structures.push(r),
            Record::Span(r) => section.spans.push(r),
            Record::Position(r) => section.positions.push(r),
            _ => unreachable!(),
        }
    }
    found(verify::of_line(&Network::new(section)))
}

/// The document whose first key holds this text.
fn doc<'d>(docs: &'d mut [(Kind, Value)], kind: Kind, name: &str) -> &'d mut Value {
    let at = docs
        .iter()
        .position(|(k, v)| *k == kind && v[kind.word()] == json!(name));
    &mut docs[at.unwrap()].1
}

#[test]
fn a_line_that_fits_has_no_finding_and_each_flaw_has_one() {
    assert_eq!(line(|_| ()), []);
    let orphan = |d: &mut Vec<(Kind, Value)>| {
        d.push((
            Kind::Structure,
            json!({"structure": "9", "kind": "pole", "feeder": "H"}),
        ));
    };
    assert_eq!(line(orphan), [pair("structure-unreached", "9")]);
    let ring = |normally: &'static str| {
        line(move |d| {
            d.push((
                Kind::Span,
                json!({"span": {"from": "4", "to": "1", "phases": "A"}, "feeder": "H"}),
            ));
            d.push((Kind::Position, json!({"position": "SW2", "class": "switch", "feeder": "H", "structure": "4", "toward": "1", "phases": "A", "normally": normally})));
        })
    };
    let rules = |found: Vec<(&'static str, String)>| -> BTreeSet<&str> {
        found.iter().map(|f| f.0).collect()
    };
    assert_eq!(rules(ring("closed")), BTreeSet::from(["section-fed-twice"]));
    assert_eq!(rules(ring("open")), BTreeSet::new());
    let back = |d: &mut Vec<(Kind, Value)>| {
        let sw = doc(d, Kind::Position, "SW");
        sw["structure"] = json!("3");
        sw["toward"] = json!("2");
    };
    assert_eq!(line(back), [pair("toward-source", "SW")]);
    let unsourced = |d: &mut Vec<(Kind, Value)>| d.retain(|(k, _)| *k != Kind::Source);
    assert_eq!(line(unsourced), [pair("feeder-unsourced", "H")]);
}

#[test]
fn phases_fit_the_line_before_them() {
    let tail = |phases: &'static str| {
        line(move |d| {
            for (kind, v) in d.iter_mut() {
                if *kind == Kind::Span && v["span"]["to"] == json!("4") {
                    v["span"]["phases"] = json!(phases);
                }
            }
            doc(d, Kind::Position, "TR")["phases"] = json!(phases);
        })
    };
    assert_eq!(tail("C"), [pair("span-phases", "3 to 4")]);
    assert_eq!(tail("B"), []);
    assert_eq!(tail("BA"), []);
    let hung = |phases: &'static str| {
        line(move |d| doc(d, Kind::Position, "TR")["phases"] = json!(phases))
    };
    assert_eq!(hung("B"), [pair("position-phases", "TR")]);
    let stands = |phases: &'static str| {
        line(move |d| doc(d, Kind::Position, "SW")["phases"] = json!(phases))
    };
    assert_eq!(stands("ABC"), [pair("position-phases", "SW")]);
    assert_eq!(stands("A"), []);
}

#[test]
fn the_worst_hazard_is_read_first() {
    let at = |fault: Option<f64>| {
        let mut p = json!({"position": "P", "class": "recloser"});
        if let Some(amps) = fault {
            p["available_fault"] = json!({"amps": amps, "kind": "three-phase"});
        }
        position(p)
    };
    let plate = |interrupting: Value| {
        let all = json!({"unit": "U", "class": "recloser", "nameplate": {"interrupting_amps": interrupting, "coil_amps": 100, "max_kv": 15.5, "bil_kv": 110}});
        match record(Kind::Unit, all) {
            Record::Unit(u) => u,
            _ => unreachable!(),
        }
    };
    let assumed = |n: f64| json!({"value": n, "standing": "assumed", "rule": "by coil"});
    let hazard =
        |fault: Option<f64>, v: Value| unread::to_read(&at(fault), &plate(v)).map(|r| r.hazard);
    let order = [
        hazard(Some(4310.0), assumed(4000.0)),
        hazard(Some(100.0), json!("unknown")),
        hazard(Some(3000.0), assumed(4000.0)),
        hazard(None, json!("unknown")),
    ];
    assert_eq!(
        order,
        [
            Some(Hazard::FaultOverAssumed),
            Some(Hazard::BreaksUnread),
            Some(Hazard::BreaksAssumed),
            Some(Hazard::BreaksBlind),
        ]
    );
    assert!(order.is_sorted());
    assert_eq!(
        hazard(Some(4310.0), json!(4000)),
        None,
        "a plate that is read is not read again"
    );
    let more = unread::to_read(&at(Some(200.0)), &plate(json!("unknown"))).unwrap();
    let less = unread::to_read(&at(Some(100.0)), &plate(json!("unknown"))).unwrap();
    assert_eq!(more.order(&less), std::cmp::Ordering::Less);
}

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
        expect_head: expect_head.map(ToString::to_string),
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
    let expected = r.chain.expected.unwrap();
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
        if rule == "log-chain" {
            assert!(!r.chain.intact);
            assert_eq!(rules(&r)[0], rule, "named first");
        }
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
        r.chain.expected.map(|e| (e.found, e.operations_since)),
        Some((true, 1))
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
    assert_eq!(rules(&report(&other, Some(&second))), ["log-head"]);
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
