//! What a card and a trace must say, against records made by hand and the
//! demo's flaws.

use std::collections::BTreeSet;

use polecard::domain::asset::{Kind, Record};
use polecard::domain::network::{Direction, Line};
use polecard::store::Store;
use polecard::work::trace::trace;
use polecard::work::{resolve, section};

use super::*;

/// Three single-phase units, one between two phases, one three-phase bank of
/// three, one of assumed kVA, one unread, one position without a unit. By hand:
/// A = 25 + 50/2 + 150/3 = 100; B = 15 + 50/2 + 150/3 = 90; C = 10 + 150/3 = 60;
/// of it 10 assumed; 40 with no phase; one unread; one position without a unit.
const KVA: &str = r"---
feeder: F1
source: Bus
head: S
---
source: Bus
kind: substation
structure: S
---
structure: S
kind: substation
feeder: F1
---
structure: P
kind: pole
feeder: F1
---
span: {from: S, to: P, phases: ABC}
feeder: F1
---
position: SW
class: switch
feeder: F1
structure: S
toward: P
---
position: T1
class: transformer
feeder: F1
structure: P
phases: A
customers: {count: 4, critical: [medical]}
---
position: T2
class: transformer
feeder: F1
structure: P
phases: BC
customers: {count: 6, critical: [medical, water]}
---
position: T3
class: transformer
feeder: F1
structure: P
phases: ABC
---
position: T4
class: transformer
feeder: F1
structure: P
---
position: T5
class: transformer
feeder: F1
structure: P
phases: A
---
unit: u1
class: transformer
nameplate: {kva: 25}
deployments: [{at: T1, from: 2001-05-05}]
---
unit: u2
class: transformer
nameplate: {kva: 15}
deployments: [{at: T2, slot: B}]
---
unit: u3
class: transformer
nameplate: {kva: {value: 10, standing: assumed, rule: by size}}
deployments: [{at: T2, slot: C}]
---
unit: u4
class: transformer
nameplate: {kva: 50}
deployments: [{at: T1, slot: AB}]
---
unit: u5
class: transformer
nameplate: {kva: 150}
deployments: [{at: T3}]
---
unit: u6
class: transformer
nameplate: {kva: unknown}
deployments: [{at: T3, slot: B}]
---
unit: u7
class: transformer
nameplate: {kva: 40}
deployments: [{at: T4}]
---
unit: u8
class: transformer
nameplate: {kva: 500}
deployments: [{at: T5, to: 2009-03-03}, {at: scrapped, from: 2009-03-03}]
";

#[test]
fn connected_kva_adds_up_as_on_paper() {
    let (_dir, store) = store_of(KVA);
    let rec = resolve(&store, "SW").unwrap().rec;
    let report = trace(&store, rec, clock()).unwrap();
    let kva = report.ways[0].connected_kva.clone().unwrap();
    let close = |a: f64, b: f64| assert!((a - b).abs() < 1e-9, "{a} {b}");
    close(kva.a, 100.0);
    close(kva.b, 90.0);
    close(kva.c, 60.0);
    close(kva.phase_not_recorded, 40.0);
    close(kva.assumed, 10.0);
    close(kva.total(), 290.0);
    assert_eq!((kva.unread_units, kva.without_unit), (1, 1));
    let beyond = report.ways[0].walk.beyond.clone().unwrap();
    assert_eq!(beyond.customers, 10);
    assert_eq!(beyond.critical["medical"], 2);
    assert_eq!(beyond.uncounted, 3);
}

#[test]
fn the_flaws_of_the_demo_stand_on_its_cards() {
    let store = demo_store();
    let of = |name: &str| card_of(&store, name);
    assert_caution(
        &of("HB2-RC-14"),
        &[
            "STOP",
            "fault here 4,310 A (study 2025)",
            "4,000 A assumed",
            "plate unread",
        ],
    );
    assert_caution(
        &of("HB2-RC-14"),
        &[
            "STOP",
            "oil below mark, seen 12 Sep 2026",
            "Order 2231 open",
        ],
    );
    assert_caution(&of("SF1-RC-3"), &["STOP", "fault here", "rating 2,000 A"]);
    assert_caution(&of("HB1-RC-9"), &["LOOK", "recorded as its load side"]);
    assert_caution(
        &of("HB1-RC-6"),
        &["STOP", "BYPASSED", "28 Sep 2026", "HB1-BK-1"],
    );
    assert_caution(&of("HB2-TR-22"), &["LOOK", "40-181", "no such structure"]);
    assert_caution(&of("HB1-SW-31"), &["LOOK", "ring", "40-229 to 40-226"]);
    assert_caution(&of("HB1-RG-3"), &["STOP", "regulator bypass"]);
    assert!(
        of("HB1-RG-3").cautions[0]
            .text
            .starts_with("regulator bypass")
    );
    assert_caution(
        &of("HB3-RC-4"),
        &["LOOK", "ground pickup: issued 120 A, found 200 A"],
    );
}

#[test]
fn the_open_orders_of_what_hangs_on_a_pole_stand_on_its_card() {
    let store = demo_store();
    let orders = card_of(&store, "40-118").orders;
    let found = orders.iter().find(|o| o.order == "2231");
    assert_eq!(found.map(|o| o.of.as_str()), Some("HB2-RC-14"));
}

#[test]
fn a_unit_at_two_places_is_a_stop_at_each() {
    let store = demo_store();
    let two = store
        .all(Kind::Unit)
        .unwrap()
        .into_iter()
        .find_map(|s| match s.record {
            Record::Unit(u) if u.present().filter(|d| !d.is_store()).count() > 1 => Some(u),
            _ => None,
        })
        .unwrap();
    assert_caution(
        &card_of(&store, &format!("unit {}", two.unit)),
        &["STOP", "places at once"],
    );
    for stay in two.present() {
        assert_caution(
            &card_of(&store, &stay.at),
            &["STOP", &two.unit, "is recorded here and at"],
        );
    }
}

#[test]
fn a_reused_operating_number_leads_to_its_present_holder() {
    let store = demo_store();
    assert_eq!(card_of(&store, "HB3-SW-8").name, "HB3-SW-8");
    let former = card_of(&store, "HB1-SW-11");
    assert_eq!(former.names[0].text, "HB3-SW-8");
    assert!(former.names[0].to.is_some());
}

fn networks(store: &Store) -> Vec<std::sync::Arc<Line>> {
    store
        .all(Kind::Feeder)
        .unwrap()
        .into_iter()
        .map(|f| section::network(store, &f.record.name()).unwrap())
        .collect()
}

#[test]
fn every_walk_of_the_demo_ends_at_a_source_or_says_why() {
    let store = demo_store();
    let mut walked = 0;
    for net in networks(&store) {
        for p in net.positions() {
            let walk = net.walk(&p.position);
            assert_ne!(
                walk.source.is_some(),
                walk.no_source.is_some(),
                "{}",
                p.position
            );
            assert_ne!(
                walk.beyond.is_some(),
                walk.beyond_unknown.is_some(),
                "{}",
                p.position
            );
            walked += usize::from(walk.source.is_some());
        }
    }
    assert!(walked > 180, "{walked}");
}

/// What a device feeds is part of what each device on its way feeds, and the
/// feeder is its parts and the rest: nothing twice, nothing lost.
#[test]
fn what_a_device_feeds_nests_in_what_its_source_side_feeds() {
    let store = demo_store();
    for net in networks(&store) {
        let home = net.home().unwrap().to_string();
        let Some((_, feeder)) = store.present(Kind::Feeder, &[home]).unwrap().pop() else {
            panic!("a feeder")
        };
        let Record::Feeder(feeder) = feeder.record else {
            panic!("a feeder")
        };
        let source = feeder.source.unwrap();
        let all: BTreeSet<String> = net
            .walk_source(&source)
            .beyond
            .unwrap()
            .structures
            .into_iter()
            .collect();
        let devices: Vec<&str> = net
            .positions()
            .iter()
            .filter(|p| p.class.in_series())
            .map(|p| p.position.as_str())
            .collect();
        for name in devices {
            let walk = net.walk(name);
            let Some(beyond) = &walk.beyond else { continue };
            let own: BTreeSet<&String> = beyond.structures.iter().collect();
            assert_eq!(own.len(), beyond.structures.len(), "{name}");
            assert!(own.iter().all(|s| all.contains(*s)), "{name}");
            if let Some(up) = walk.path.last() {
                let wider = net.walk(&up.name).beyond.unwrap();
                assert!(
                    wider.devices.iter().any(|d| d.name == name),
                    "{name} {}",
                    up.name
                );
                assert!(
                    beyond
                        .structures
                        .iter()
                        .all(|s| wider.structures.contains(s)),
                    "{name} in {}",
                    up.name
                );
                assert!(wider.customers >= beyond.customers);
            }
        }
    }
}

#[test]
fn the_weir_gate_feeds_what_the_line_book_says() {
    let store = demo_store();
    let card = card_of(&store, "HB2-RC-14");
    let walk = &card.fed[0].walk;
    assert_eq!(walk.direction, Direction::AsRecorded);
    let beyond = walk.beyond.as_ref().unwrap();
    assert_eq!((beyond.structures.len(), beyond.customers), (61, 148));
    assert_eq!(walk.source.as_deref(), Some("Hobb bus"));
}

#[test]
fn no_hold_ends_by_the_clock_alone() {
    let yaml = r"---
position: P1
class: switch
state: {stands: closed, at: '2026-10-03T14:10:00-06:00', by: hb, hot_line_tag: 'on', reclosing: 'off', ground_trip: 'off'}
holds:
  - {holder: line crew 4, purpose: tree work, from: '2026-10-05T06:00:00-06:00', until: '2026-10-05T16:00:00-06:00'}
  - {holder: contractor, purpose: pole change, from: '2026-10-01T06:00:00-06:00', until: '2026-10-01T16:00:00-06:00'}
";
    let (_dir, store) = store_of(yaml);
    let card = card_of(&store, "P1");
    assert_caution(
        &card,
        &["STOP", "line crew 4", "tree work", "until 5 Oct 2026 16:00"],
    );
    assert_caution(&card, &["STOP", "contractor", "its time is over"]);
    assert_caution(&card, &["STOP", "hot-line tag on", "not a clearance"]);
    assert_caution(&card, &["LOOK", "reclosing off"]);
    assert_caution(&card, &["LOOK", "ground trip blocked"]);
    assert_eq!(
        card.state[0],
        "state recorded 3 Oct 2026 14:10 by hb: closed; hot-line tag on, reclosing off, ground trip blocked, 2 holds. Ask control"
    );
}

#[test]
fn a_fault_equal_to_the_rating_stops_and_one_below_does_not() {
    let yaml = |amps: u32| {
        format!(
            "---\nposition: P1\nclass: recloser\navailable_fault: {{amps: {amps}, kind: three-phase, date: 2025-03-02}}\n---\nunit: u1\nclass: recloser\nnameplate: {{interrupting_amps: 4000}}\ndeployments: [{{at: P1, slot: ABC}}]\n"
        )
    };
    let (_dir, store) = store_of(&yaml(4000));
    assert_caution(
        &card_of(&store, "P1"),
        &["STOP", "fault here 4,000 A", "leaves no margin"],
    );
    let (_dir, store) = store_of(&yaml(3999));
    let all = cautions(&card_of(&store, "P1"));
    assert!(!all.contains("fault here"), "{all}");
}

#[test]
fn a_defect_stays_until_a_later_entry_clears_it_and_follows_the_unit() {
    let yaml = r"---
position: P1
class: recloser
---
unit: u1
class: recloser
deployments: [{at: P1, slot: ABC, to: 2026-03-01}, {at: shop, from: 2026-03-01}]
---
unit: u2
class: recloser
deployments: [{at: P1, slot: ABC, from: 2026-03-01}]
---
entry: inspection
of: u1
on: 2026-01-10
finds: [oil leak]
---
entry: inspection
of: u2
on: 2026-04-01
finds: [control faulty]
---
entry: maintenance
of: u2
on: 2026-05-01
clears: [control faulty]
---
entry: inspection
of: P1
on: 2026-06-01
finds: [connector hot]
";
    let (_dir, store) = store_of(yaml);
    let all = cautions(&card_of(&store, "P1"));
    assert!(
        !all.contains("oil leak") && !all.contains("control faulty"),
        "{all}"
    );
    assert!(all.contains("connector hot, seen 1 Jun 2026"), "{all}");
    assert!(cautions(&card_of(&store, "u1")).contains("oil leak"));
}

fn polecard(store: &Store, args: &[&str]) -> assert_cmd::assert::Assert {
    assert_cmd::Command::cargo_bin("polecard")
        .unwrap()
        .env("POLECARD_REGISTER", store.path())
        .args(args)
        .assert()
}

#[test]
fn show_and_trace_answer_on_the_command_line() {
    let store = demo_store();
    let out = polecard(&store, &["show", "hb2rc14"])
        .success()
        .get_output()
        .stdout
        .clone();
    let out = String::from_utf8(out).unwrap();
    assert!(
        out.starts_with(" HB2-RC-14  OIL RECLOSER, three-phase"),
        "{out}"
    );
    let out = polecard(&store, &["trace", "HB2-RC-14", "--json"]).success();
    let json: serde_json::Value = serde_json::from_slice(&out.get_output().stdout).unwrap();
    assert_eq!(json["ways"][0]["source"], "Hobb bus");
    assert_eq!(json["ways"][0]["beyond"]["customers"], 148);
    polecard(&store, &["show", "HB2-RC-99999"]).code(3);
    polecard(&store, &["trace", "HV-22-07"]).code(2);
}

/// The bypass stands first on the card of the position and of each unit in it.
#[test]
fn every_regulator_card_begins_with_its_bypass_and_every_capacitor_card_with_its_charge() {
    use polecard::domain::asset::{Class, Kind, Record};
    let store = demo_store();
    let mut seen = [0, 0];
    for kind in [Kind::Position, Kind::Unit] {
        for stored in store.all(kind).unwrap() {
            let (class, name) = match &stored.record {
                Record::Position(p) => (p.class, p.position.clone()),
                Record::Unit(u) => (u.class, u.unit.clone()),
                _ => continue,
            };
            let (at, first) = match class {
                Class::Regulator => (0, "regulator bypass"),
                Class::Capacitor => (1, "treat as charged"),
                _ => continue,
            };
            let card = polecard::work::card::card(&store, stored.rec, clock()).unwrap();
            let text = &card.cautions[0].text;
            assert!(text.contains(first), "{name}: {text}");
            seen[at] += 1;
        }
    }
    assert!(seen[0] > 4 && seen[1] > 4, "{seen:?}");
}

/// 25 kVA at 240 V: 104.17 A, and at 2 % less 7.5 % of it 5,631 A: computed
/// from full load x 100 / %Z, as in a published infinite-bus example.
#[test]
fn a_transformers_card_has_its_currents() {
    let records = "---\nutility: Weirside Rural\n---\nposition: HB1-TR-1\nclass: transformer\nphases: A\nelements: [{element: unit}]\n---\nunit: 1-10001\nclass: transformer\nnameplate: {kva: 25, phases: 1, primary_kv: 7.2, secondary_v: 240, impedance_percent: 2}\ndeployments: [{at: HB1-TR-1, slot: A, from: 2018-06-04}]\n---\nunit: 1-10002\nclass: transformer\nnameplate: {kva: 25, phases: 1, primary_kv: 7.2, secondary_v: 240}\n";
    let (_dir, store) = store_of(records);
    for name in ["HB1-TR-1", "1-10001"] {
        let text = shown(&store, name, 200);
        assert!(text.contains("104.2 A at 240 V"), "{text}");
        assert!(text.contains("5,631 A"), "{text}");
    }
    let unread = shown(&store, "1-10002", 200);
    assert!(
        unread.contains("secondary fault current unknown"),
        "{unread}"
    );
}
