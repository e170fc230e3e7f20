//! What the demo holds: size, classes, the recloser of the weir gate, and
//! figures that agree with each other.

use std::collections::{BTreeMap, BTreeSet};

use polecard::domain::asset::{
    Class, ElementKind, FaultKind, Position, SourceKind, SpanKind, Standing, StructureKind, Unit,
};
use polecard::domain::code::fold;

use super::{demo, tally, walk};

#[test]
fn the_demo_is_of_the_size_of_a_small_rural_utility() {
    let d = demo();
    assert!((950..=1_100).contains(&d.structures.len()));
    assert!(d.positions.len() >= 200, "{}", d.positions.len());
    assert!(d.units.len() >= 220, "{}", d.units.len());
    let kv: BTreeMap<&str, f64> = d
        .feeders
        .iter()
        .map(|f| (f.feeder.as_str(), f.kv_ll.unwrap().get()))
        .collect();
    assert_eq!(kv["HB2"], 12.47);
    assert_eq!(kv["SF4"], 24.94);
    assert!(kv.len() >= 4);
    let substations: BTreeSet<_> = d
        .sources
        .iter()
        .filter_map(|s| s.substation.clone())
        .collect();
    assert_eq!(substations.len(), 2);
}

#[test]
fn every_class_of_device_is_there() {
    let d = demo();
    let positions = tally(d.positions.iter().map(|p| p.class));
    for class in Class::ALL.iter().filter(|c| **c != Class::Other) {
        assert!(
            positions.contains_key(class),
            "no position of class {class}"
        );
    }
    let plate = |key: &str, word: &str| d.units.iter().any(|u| u.nameplate.text(key) == Some(word));
    for interrupter in ["oil", "vacuum", "air", "expulsion", "none"] {
        assert!(plate("interrupter", interrupter), "{interrupter}");
    }
    assert!(plate("control", "hydraulic") && plate("control", "electronic"));
    assert!(plate("opens_load", "yes") && plate("opens_load", "no"));
    let element = |p: &Position, kind| p.elements.iter().any(|e| e.element == kind);
    let cutouts = || d.positions.iter().filter(|p| p.class == Class::Cutout);
    assert!(cutouts().any(|p| element(p, ElementKind::Blade)));
    for last in ["K", "T"] {
        assert!(cutouts().any(|p| p.elements.iter().any(|e| {
            let link = e.link.as_ref().and_then(|l| l.as_text());
            link.is_some_and(|l| l.ends_with(last))
        })));
    }
    let bypassed = |class| {
        d.positions
            .iter()
            .any(|p| p.class == class && !p.bypass.is_empty())
    };
    assert!(bypassed(Class::Recloser) && bypassed(Class::Regulator));
}

#[test]
fn units_stand_in_slots_and_lie_in_stores() {
    let d = demo();
    let bank = d.position("HB2-RG-2");
    assert_eq!(bank.slot_names(), ["A", "B", "C"]);
    let slots: BTreeSet<_> = d
        .units_at("HB2-RG-2")
        .iter()
        .flat_map(|u| u.present().filter_map(|s| s.slot.clone()))
        .collect();
    assert_eq!(slots, BTreeSet::from(["A".into(), "B".into(), "C".into()]));
    let stores = tally(
        d.units
            .iter()
            .flat_map(Unit::present)
            .map(|s| s.at.as_str()),
    );
    for place in ["shop", "stock", "truck", "mobile", "scrapped", "unknown"] {
        assert!(stores.contains_key(place), "nothing recorded {place}");
    }
}

#[test]
fn the_line_has_its_peculiar_places() {
    let d = demo();
    let two = d.structures.iter().filter(|s| s.circuits.len() == 2);
    assert!(two.filter(|s| s.kind == StructureKind::Pole).count() >= 5);
    let on_105: Vec<_> = d
        .spans
        .iter()
        .filter(|s| s.span.from == "40-105" && s.span.to == "40-106")
        .map(|s| (s.feeder.as_deref(), s.from_terminal.as_deref()))
        .collect();
    assert!(on_105.contains(&(Some("HB2"), Some("HB2"))));
    assert!(on_105.contains(&(Some("HB3"), Some("HB3"))));
    let cable = |s: &&polecard::domain::asset::Span| s.kind == Some(SpanKind::Cable);
    assert!(d.spans.iter().filter(cable).count() >= 8);
    let vault = d
        .structures
        .iter()
        .find(|s| s.kind == StructureKind::Vault)
        .unwrap();
    assert_eq!(vault.terminals, ["north bus", "south bus"]);
    let made = |mover: &str| {
        d.sources
            .iter()
            .any(|s| s.kind == SourceKind::Generation && s.prime_mover.as_deref() == Some(mover))
    };
    assert!(made("solar") && made("water"));
    let ties: BTreeSet<_> = d
        .positions
        .iter()
        .filter(|p| !p.ties.is_empty())
        .map(|p| p.ties.join(" "))
        .collect();
    assert_eq!(
        ties,
        ["HB1 HB2", "HB2 HB3", "HB3 SF1"].map(String::from).into()
    );
    let pole = d.structure("40-118");
    assert!(pole.names.iter().any(|n| n.text == "T-5512"));
    let hazards: BTreeSet<_> = d
        .structures
        .iter()
        .flat_map(|s| s.hazards.iter().map(|h| h.what.as_str()))
        .collect();
    for what in ["dog", "locked gate", "vault"] {
        assert!(hazards.contains(what), "{what}");
    }
}

#[test]
fn the_recloser_of_the_weir_gate_reads_as_the_card_shows_it() {
    let d = demo();
    let p = d.position("HB2-RC-14");
    assert_eq!(p.structure.as_deref(), Some("40-118"));
    assert_eq!(p.toward.as_deref(), Some("40-119"));
    assert_eq!(
        p.normal_source.as_deref(),
        Some("field side, lower bushings")
    );
    let place = &d.structure("40-118").place;
    assert_eq!(place.road.as_deref(), Some("Tannery Rd"));
    assert_eq!(place.near.as_deref(), Some("the weir gate"));
    let fault = p.available_fault.as_ref().unwrap();
    assert_eq!(
        (fault.amps.get(), fault.kind),
        (4_310.0, FaultKind::ThreePhase)
    );
    assert_eq!(fault.x_over_r.unwrap().get(), 6.2);
    assert_eq!(fault.date.unwrap().to_string(), "2025-03-02");
    let state = p.state.as_ref().unwrap();
    assert_eq!(state.at.to_string(), "2026-10-03T14:10:00-06:00");
    assert_eq!(state.by.as_deref(), Some("hb"));
    let u = d.unit("7-20931");
    assert!(u.present().any(|s| s.at == "HB2-RC-14"));
    assert_eq!(u.nameplate.number("coil_amps"), Some(100.0));
    let breaks = u.nameplate.stated("interrupting_amps");
    assert_eq!(
        (breaks.as_number(), breaks.standing),
        (Some(4_000.0), Standing::Assumed)
    );
    assert_eq!(u.nameplate.stated("bil_kv").standing, Standing::Unknown);
}

#[test]
fn what_lies_beyond_the_weir_gate_is_what_the_card_counts() {
    let d = demo();
    let beyond = walk::tree(d, Some(("40-119", "40-118")));
    let structures: BTreeSet<&str> = beyond.depth.keys().map(|(at, _)| at.as_str()).collect();
    assert_eq!(structures.len(), 61);
    let here = |p: &&Position| {
        p.structure
            .as_deref()
            .is_some_and(|at| structures.contains(at))
    };
    let customers: u32 = d
        .positions
        .iter()
        .filter(here)
        .filter_map(|p| p.customers.as_ref())
        .map(|c| c.count)
        .sum();
    assert_eq!(customers, 148);
    let ties = d
        .positions
        .iter()
        .filter(here)
        .filter(|p| !p.ties.is_empty());
    assert_eq!(ties.count(), 1);
    let generation = d.sources.iter().filter(|s| {
        let at = s.structure.as_deref().unwrap_or_default();
        s.kind == SourceKind::Generation && structures.contains(at)
    });
    assert_eq!(generation.count(), 2);
}

/// Bus fault current from the short-circuit power: I = MVA / (root 3 kV), a
/// textbook formula; and no study may rise away from its source.
#[test]
fn fault_currents_start_at_the_bus_and_fall_along_the_line() {
    let d = demo();
    for (breaker, source) in [
        ("HB2-BK-1", "Hobb bus"),
        ("SF1-BK-1", "Sallow Ford bus 1"),
        ("SF4-BK-1", "Sallow Ford bus 2"),
    ] {
        let s = d.sources.iter().find(|s| s.source == source).unwrap();
        let amps = s.fault_mva.unwrap().get() * 1_000.0 / (3.0_f64.sqrt() * s.kv_ll.unwrap().get());
        let on_record = d
            .position(breaker)
            .available_fault
            .as_ref()
            .unwrap()
            .amps
            .get();
        assert!(
            (on_record - amps).abs() <= 5.0,
            "{breaker}: {on_record} against {amps:.0}"
        );
    }
    let t = walk::tree(d, None);
    for feeder in &d.feeders {
        let mut by_distance: Vec<(f64, f64, &str)> = d
            .positions
            .iter()
            .filter(|p| {
                p.feeder.as_deref() == Some(&feeder.feeder) && p.phases.as_deref() == Some("ABC")
            })
            .filter_map(|p| {
                let study = p.available_fault.as_ref()?;
                let recent = study.date?.year() >= 2024 && study.kind == FaultKind::ThreePhase;
                let at = p.structure.as_deref()?;
                let miles = t
                    .miles
                    .iter()
                    .filter(|((s, _), _)| s == at)
                    .map(|(_, m)| *m)
                    .fold(f64::MAX, f64::min);
                recent.then_some((miles, study.amps.get(), p.position.as_str()))
            })
            .collect();
        by_distance.sort_by(|a, b| a.0.total_cmp(&b.0));
        assert!(by_distance.len() >= 4, "{}", feeder.feeder);
        let (near, far) = (by_distance[0], by_distance[by_distance.len() - 1]);
        assert!(near.1 > far.1 * 1.5, "{near:?} {far:?}");
    }
}

/// Two records whose numbers differ by one digit, or by two that are swapped,
/// must not read the same over the radio.
#[test]
fn near_numbers_differ_in_their_second_identifier() {
    let d = demo();
    let by_number: BTreeMap<&str, (&str, &str)> = d
        .structures
        .iter()
        .map(|s| {
            let words = (s.place.road.as_deref(), s.place.near.as_deref());
            (s.structure.as_str(), (words.0.unwrap(), words.1.unwrap()))
        })
        .collect();
    let mut pairs = 0;
    for (number, place) in &by_number {
        for near in neighbours(number) {
            if let Some(other) = by_number.get(near.as_str()) {
                pairs += 1;
                assert_ne!(place, other, "{number} and {near}");
            }
        }
        assert!(
            !fold(place.1).contains(&fold(number)),
            "{number} repeats itself"
        );
    }
    assert!(pairs > 1_000, "a dense register: {pairs}");
}

fn neighbours(number: &str) -> Vec<String> {
    let chars: Vec<char> = number.chars().collect();
    let mut out = Vec::new();
    for i in 0..chars.len() {
        for digit in ('0'..='9').filter(|c| chars[i].is_ascii_digit() && *c != chars[i]) {
            let mut other = chars.clone();
            other[i] = digit;
            out.push(other.iter().collect());
        }
        if i + 1 < chars.len() && chars[i] != chars[i + 1] {
            let mut other = chars.clone();
            other.swap(i, i + 1);
            out.push(other.iter().collect());
        }
    }
    out
}
