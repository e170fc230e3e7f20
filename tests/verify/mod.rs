//! The detectors: each finds what it is for, and leaves what is nearly that;
//! the log of changes against tampering.

mod log;

use std::collections::BTreeSet;

use polecard::calendar::Moment;
use polecard::domain::asset::{Kind, Position, Record, RecordId, Rel, Unit};
use polecard::domain::code::Scheme;
use polecard::domain::network::{Network, Section};
use polecard::domain::verify::unread::{self, Hazard};
use polecard::domain::verify::{self, Enlarged, Found, Given, Held, Reference, Run, detectors};
use serde_json::{Value, json};

pub fn now() -> Moment {
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
        readings: polecard::exchange::form("recloser").readings,
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

/// A line a case: the rule, the kind of record, one that it finds and one,
/// nearly that, which it must leave.
const CASES: &str = include_str!("cases.jsonl");

fn cases() -> impl Iterator<Item = Value> {
    CASES.lines().map(|l| serde_json::from_str(l).unwrap())
}

#[test]
fn each_detector_of_one_record_finds_its_case_and_leaves_the_near_miss() {
    for case in cases() {
        let rule = case["rule"].as_str().unwrap();
        let kind = Kind::from_word(case["kind"].as_str().unwrap()).unwrap();
        assert!(
            rules_on(kind, case["finds"].clone()).contains(rule),
            "missed: {case}"
        );
        assert!(
            !rules_on(kind, case["leaves"].clone()).contains(rule),
            "found: {case}"
        );
    }
}

#[test]
fn every_detector_of_one_record_has_a_case() {
    let cases: BTreeSet<String> = cases()
        .map(|c| c["rule"].as_str().unwrap().to_string())
        .collect();
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
            former: None,
        }))
    };
    let renamed = verify::of_reference(&Reference {
        from: &u,
        rel: Rel::DeployedAt,
        target: "1-10318",
        holders: &[Kind::Position],
        former: Some("1-10319"),
    });
    assert_eq!(found(renamed), [pair("reference-old-name", "1-31419")]);
    assert_eq!(of(&[]), [pair("reference-nowhere", "1-31419")]);
    assert_eq!(of(&[Kind::Unit]), [pair("id-of-other-kind", "1-31419")]);
    assert_eq!(of(&[Kind::Unit, Kind::Position]), []);
}

/// The lamp is lit on neutral and nowhere else: common practice, no source.
#[test]
fn lamp_and_dial_agree_on_neutral() {
    let entry = |n: i64, day: &str, tap: i64, lamp: &str| {
        let v = json!({"entry": "inspection", "of": "5-1", "on": day,
            "readings": {"tap": tap, "neutral_lamp": lamp}});
        match record(Kind::Entry, v) {
            Record::Entry(e) => (n, e),
            _ => unreachable!(),
        }
    };
    let rules = |entries: &[(i64, polecard::domain::asset::Entry)]| -> Vec<&str> {
        let found = verify::of_history(entries);
        found.into_iter().map(|(d, _)| d.name).collect()
    };
    let wrong = entry(1, "2026-03-01", 3, "lit");
    assert_eq!(rules(std::slice::from_ref(&wrong)), ["lamp-against-dial"]);
    assert_eq!(
        rules(&[entry(1, "2026-03-01", 0, "dark")]),
        ["lamp-against-dial"]
    );
    for (tap, lamp) in [(0, "lit"), (-5, "dark"), (4, "no lamp")] {
        assert_eq!(rules(&[entry(1, "2026-03-01", tap, lamp)]), [""; 0]);
        // Looked at again since, it is no finding any more.
        assert_eq!(
            rules(&[wrong.clone(), entry(2, "2026-04-01", tap, lamp)]),
            [""; 0]
        );
    }
}

#[test]
fn two_feeders_joined_with_no_open_point_between() {
    let rules = |devices: &str| -> Vec<String> {
        let text = format!(
            "---\nsource: bus\nkind: substation\nstructure: 1-001\n---\nsource: bus two\nkind: substation\nstructure: 2-001\n---\nfeeder: A1\nsource: bus\nhead: 1-001\n---\nfeeder: B1\nsource: bus two\nhead: 2-001\n{}---\nspan: {{from: 1-001, to: 1-002, phases: ABC}}\nfeeder: A1\n---\nspan: {{from: 2-001, to: 2-002, phases: ABC}}\nfeeder: B1\n---\nspan: {{from: 2-002, to: 1-002, phases: ABC}}\nfeeder: B1\n{devices}",
            [
                ("1-001", "A1"),
                ("1-002", "A1"),
                ("2-001", "B1"),
                ("2-002", "B1")
            ]
            .map(|(s, f)| format!(
                "---\nstructure: {s}\nkind: pole\nfeeder: {f}\nplace: {{road: Ford Rd}}\n"
            ))
            .concat()
        );
        let dir = tempfile::tempdir().unwrap();
        std::fs::write(dir.path().join("all.yaml"), text).unwrap();
        let mut store = polecard::store::Store::create(&dir.path().join("r")).unwrap();
        let source = polecard::exchange::Source::at(dir.path().join("all.yaml").as_path()).unwrap();
        polecard::exchange::import(&mut store, &source, "hb", now(), false).unwrap();
        let asked = polecard::work::verify::Asked {
            rules: vec!["feeders-meet".to_string()],
            ..Default::default()
        };
        let clock = polecard::calendar::Clock::Fixed(now());
        let r = polecard::work::verify::verify(&store, &asked, clock).unwrap();
        r.findings.iter().map(|f| f.record.clone()).collect()
    };
    assert_eq!(rules(""), ["2-002 to 1-002"]);
    let tie = "---\nposition: A1-SW-1\nclass: switch\nfeeder: A1\nstructure: 1-002\ntoward: 2-002\nnormally: open\nties: [A1, B1]\n";
    assert_eq!(rules(tie), [""; 0]);
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
