//! Who feeds whom: hand-made lines, each with the answer worked out on paper.

use polecard::domain::asset::{Kind, Record};
use polecard::domain::network::{Device, Direction, FeedKind, Network, Section, Side};

/// Reads records from one-line YAML flow maps.
fn section(home: &str, lines: &[&str]) -> Section {
    let mut out = Section {
        home: Some(home.to_string()),
        ..Section::default()
    };
    for line in lines {
        let value: serde_json::Value = serde_yaml::from_str(line).unwrap();
        let key = value.as_object().unwrap().keys().next().unwrap().clone();
        let kind = Kind::from_word(&key).unwrap();
        match Record::from_value(kind, value).unwrap() {
            Record::Feeder(r) => out.feeders.push(r),
            Record::Source(r) => out.sources.push(r),
            Record::Structure(r) => out.structures.push(r),
            Record::Span(r) => out.spans.push(r),
            Record::Position(r) => out.positions.push(r),
            other => panic!("{}", other.kind()),
        }
    }
    out
}

/// S - 1 - 2 - 3 - 4 with a breaker, a recloser, a tap 2 - 2A on phase A with a
/// fused cutout, a tie at 4 and generation at 3.
const LINE: &[&str] = &[
    "{feeder: F1, source: Bus, head: S}",
    "{source: Bus, kind: substation, structure: S}",
    "{source: Sun, kind: generation, structure: '3', kva: 500, prime_mover: solar}",
    "{structure: S, kind: substation}",
    "{structure: '1', kind: pole}",
    "{structure: '2', kind: pole}",
    "{structure: '2A', kind: pole, names: [{text: OLD-7}]}",
    "{structure: '3', kind: pole}",
    "{structure: '4', kind: pole}",
    "{span: {from: S, to: '1', phases: ABC}, feeder: F1}",
    "{span: {from: '1', to: '2', phases: ABC}, feeder: F1}",
    "{span: {from: '2', to: '3', phases: ABC}, feeder: F1}",
    "{span: {from: '3', to: '4', phases: ABC}, feeder: F1}",
    "{span: {from: '2', to: OLD-7, phases: A}, feeder: F1}",
    "{span: {from: '4', to: X1, phases: ABC}, feeder: F2}",
    "{position: BK, class: breaker, feeder: F1, structure: S, toward: '1', phases: ABC}",
    "{position: RC, class: recloser, feeder: F1, structure: '1', toward: '2', phases: ABC}",
    "{position: FC, class: cutout, feeder: F1, structure: '2', toward: '2A', phases: A, elements: [{element: cutout}, {element: link, link: 25K}]}",
    "{position: TIE, class: switch, feeder: F2, structure: '4', toward: X1, normally: open, ties: [F2, F1], phases: ABC}",
    "{position: TR-1, class: transformer, feeder: F1, structure: '2A', phases: A, customers: {count: 7, critical: [medical]}}",
    "{position: TR-2, class: transformer, feeder: F1, structure: '3', phases: B, customers: {count: 5}}",
    "{position: TR-3, class: transformer, feeder: F1, structure: '1', phases: C, customers: {count: 11}}",
    "{position: TR-4, class: transformer, feeder: F1, structure: '4', phases: C}",
];

fn line() -> Network {
    Network::new(section("F1", LINE))
}

fn with(extra: &[&str], without: &[&str]) -> Network {
    let mut lines: Vec<&str> = LINE
        .iter()
        .copied()
        .filter(|l| !without.iter().any(|w| l.contains(w)))
        .collect();
    lines.extend(extra);
    Network::new(section("F1", &lines))
}

fn names(devices: &[Device]) -> Vec<&str> {
    devices.iter().map(|d| d.name.as_str()).collect()
}

#[test]
fn a_recloser_in_mid_line_finds_its_source_and_what_hangs_beyond() {
    let walk = line().walk("RC");
    assert_eq!(walk.source.as_deref(), Some("Bus"));
    assert_eq!(names(&walk.path), ["BK"]);
    assert_eq!(walk.direction, Direction::AsRecorded);
    assert_eq!(walk.comes_from.as_deref(), Some("1"));
    assert_eq!(walk.protecting.as_ref().map(|d| d.name.as_str()), Some("BK"));
    let beyond = walk.beyond.clone().unwrap();
    assert_eq!(beyond.structures, ["2", "3", "2A", "4"]);
    assert_eq!(beyond.customers, 12);
    assert_eq!(beyond.critical["medical"], 1);
    assert_eq!(beyond.uncounted, 1);
    assert_eq!(names(&beyond.devices), ["FC"]);
    assert_eq!(walk.count(Side::Beyond, FeedKind::Tie), 1);
    assert_eq!(walk.count(Side::Beyond, FeedKind::Generation), 1);
    assert_eq!(walk.count(Side::SourceSide, FeedKind::Tie), 0);
    let tie = &walk.other_feeds[0];
    assert_eq!((tie.name.as_str(), tie.from.as_deref()), ("TIE", Some("F2")));
    assert!(walk.notes.is_empty(), "{:?}", walk.notes);
}

#[test]
fn a_tap_is_reached_by_an_old_name_and_sees_the_rest_as_source_side() {
    let walk = line().walk("FC");
    assert_eq!(names(&walk.path), ["BK", "RC"]);
    assert_eq!(walk.protecting.unwrap().name, "RC");
    assert_eq!(walk.beyond.unwrap().structures, ["2A"]);
    let sides: Vec<(Side, &str)> = walk
        .other_feeds
        .iter()
        .map(|f| (f.side, f.name.as_str()))
        .collect();
    assert_eq!(
        sides,
        [(Side::SourceSide, "TIE"), (Side::SourceSide, "Sun")]
    );
}

#[test]
fn the_devices_parts_and_the_rest_make_up_the_feeder() {
    let net = line();
    let all = net.walk_source("Bus").beyond.unwrap();
    let rest: Vec<String> = {
        let beyond = net.walk("RC").beyond.unwrap().structures;
        let (inside, outside): (Vec<_>, Vec<_>) =
            all.structures.iter().cloned().partition(|s| beyond.contains(s));
        assert_eq!(inside.len(), beyond.len());
        outside
    };
    assert_eq!(rest, ["1"]);
    assert_eq!(all.customers, 23);
}

#[test]
fn a_device_recorded_toward_its_source_is_found_out() {
    let net = with(
        &["{position: RC, class: recloser, feeder: F1, structure: '2', toward: '1', phases: ABC}"],
        &["position: RC"],
    );
    let walk = net.walk("RC");
    assert_eq!(walk.direction, Direction::Reversed);
    assert_eq!(walk.comes_from.as_deref(), Some("1"));
    assert_eq!(walk.beyond.unwrap().structures, ["2", "3", "2A", "4"]);
}

#[test]
fn a_ring_is_said_and_not_smoothed_over() {
    let net = with(&["{span: {from: '1', to: '4', phases: ABC}, feeder: F1}"], &[]);
    let walk = net.walk("RC");
    assert_eq!(walk.direction, Direction::BothEnds);
    assert_eq!(walk.beyond, None);
    assert!(walk.beyond_unknown.unwrap().contains("ring"));
    let tap = net.walk("FC");
    assert_eq!(tap.beyond.unwrap().structures, ["2A"]);
    assert!(tap.notes.iter().any(|n| n.contains("ring")), "{:?}", tap.notes);
}

#[test]
fn a_normally_open_device_cuts_and_feeds_nothing() {
    let net = with(
        &["{position: SW, class: switch, feeder: F1, structure: '2', toward: '3', normally: open, phases: ABC}"],
        &[],
    );
    assert_eq!(net.walk("RC").beyond.unwrap().structures, ["2", "2A"]);
    let walk = net.walk("SW");
    assert_eq!(names(&walk.path), ["BK", "RC"]);
    assert!(walk.beyond_unknown.unwrap().contains("normally open"));
    let cut_off = net.walk("TR-2");
    assert_eq!(cut_off.source, None);
    assert!(cut_off.no_source.unwrap().contains("no source"));
}

#[test]
fn a_tie_has_one_side_here_and_names_the_other() {
    let walk = line().walk("TIE");
    assert_eq!(walk.source.as_deref(), Some("Bus"));
    assert_eq!(names(&walk.path), ["BK", "RC"]);
    assert!(walk.notes.iter().any(|n| n.contains("F2 and F1")), "{:?}", walk.notes);
    assert!(walk.other_feeds.iter().all(|f| f.name != "TIE"));
}

#[test]
fn line_of_another_feeder_without_an_open_point_is_a_further_feed() {
    let net = with(&[], &["position: TIE"]);
    let walk = net.walk("RC");
    assert_eq!(walk.count(Side::Beyond, FeedKind::Join), 1);
    assert!(!walk.beyond.unwrap().structures.contains(&"X1".to_string()));
}

#[test]
fn references_that_dangle_are_reported() {
    let net = with(
        &[
            "{span: {from: '4', to: '4-gone', phases: ABC}, feeder: F1}",
            "{position: LOST, class: recloser, feeder: F1, structure: '99', toward: '98'}",
            "{position: BENT, class: recloser, feeder: F1, structure: '2', toward: '98'}",
            "{position: NONE, class: recloser, feeder: F1}",
        ],
        &[],
    );
    let walk = net.walk("RC");
    assert!(walk.notes.iter().any(|n| n.contains("4-gone")), "{:?}", walk.notes);
    for (name, why) in [
        ("LOST", "not in the register"),
        ("BENT", "no span from 2 to 98"),
        ("NONE", "not recorded"),
        ("NOBODY", "not among"),
    ] {
        let walk = net.walk(name);
        assert_eq!(walk.source, None);
        assert!(walk.no_source.clone().unwrap().contains(why), "{walk:?}");
        assert_eq!(walk.beyond, None);
    }
}

#[test]
fn without_a_source_the_walk_says_so() {
    let net = with(&[], &["source: Bus, kind", "feeder: F1, source"]);
    let walk = net.walk("RC");
    assert_eq!(walk.source, None);
    assert_eq!(walk.direction, Direction::Unknown);
    assert!(walk.no_source.clone().unwrap().contains("no source of F1"));
    assert_eq!(walk.beyond, None);
    assert_eq!(walk.count(Side::Beyond, FeedKind::Tie), 1);
    let island = with(
        &[
            "{span: {from: I1, to: I2}, feeder: F1}",
            "{position: ISL, class: switch, feeder: F1, structure: I1, toward: I2}",
        ],
        &[],
    );
    let walk = island.walk("ISL");
    assert!(walk.no_source.unwrap().contains("ended at I1"));
}

#[test]
fn two_circuits_on_one_pole_are_not_joined() {
    let lines = [
        "{feeder: F1, source: Bus, head: S}",
        "{source: Bus, kind: substation, structure: S}",
        "{structure: S, kind: substation, circuits: [F1, F2]}",
        "{structure: P1, kind: pole, circuits: [F1, F2]}",
        "{structure: P2, kind: pole, circuits: [F1, F2]}",
        "{structure: Q, kind: pole, circuits: [F1]}",
        "{span: {from: S, to: P1}, feeder: F1}",
        "{span: {from: P1, to: P2}, feeder: F1}",
        "{span: {from: P2, to: Q}, feeder: F1}",
        "{span: {from: S, to: P1}, feeder: F2}",
        "{span: {from: P1, to: P2}, feeder: F2}",
        "{position: SW, class: switch, feeder: F1, structure: P1, toward: P2}",
    ];
    let walk = Network::new(section("F1", &lines)).walk("SW");
    assert_eq!(walk.direction, Direction::AsRecorded);
    assert_eq!(walk.beyond.unwrap().structures, ["P2", "Q"]);
    assert!(walk.other_feeds.is_empty(), "{:?}", walk.other_feeds);
}

#[test]
fn buses_of_a_vault_are_kept_apart_by_their_terminals() {
    let lines = [
        "{feeder: F1, source: Bus, head: S}",
        "{source: Bus, kind: substation, structure: S}",
        "{structure: S, kind: substation}",
        "{structure: V, kind: vault, terminals: [north, south]}",
        "{span: {from: S, to: A}, feeder: F1}",
        "{span: {from: S, to: B}, feeder: F1}",
        "{span: {from: A, to: V}, feeder: F1, to_terminal: north}",
        "{span: {from: B, to: V}, feeder: F1, to_terminal: south}",
        "{span: {from: V, to: C}, feeder: F1, from_terminal: north}",
        "{position: SWN, class: switch, feeder: F1, structure: A, toward: V}",
        "{position: SWC, class: switch, feeder: F1, structure: V, toward: C, terminal: north}",
        "{position: TRS, class: transformer, feeder: F1, structure: V, terminal: south, customers: {count: 3}}",
        "{position: TRX, class: transformer, feeder: F1, structure: V, customers: {count: 9}}",
    ];
    let net = Network::new(section("F1", &lines));
    let walk = net.walk("SWN");
    let beyond = walk.beyond.unwrap();
    assert_eq!(beyond.structures, ["V", "C"]);
    assert_eq!(beyond.customers, 0);
    assert_eq!(names(&net.walk("SWC").path), ["SWN"]);
    assert!(net.walk("TRX").no_source.unwrap().contains("which circuit or bus"));
    let parts: Vec<String> = net.walk_structure("V").into_iter().map(|(p, _)| p).collect();
    assert_eq!(parts, ["north", "south"]);
}

#[test]
fn a_cutout_protects_only_with_a_link_and_a_bypassed_recloser_not_at_all() {
    let blade = "{position: FCB, class: cutout, feeder: F1, structure: '2', toward: '3', phases: ABC, elements: [{element: cutout}, {element: blade}]}";
    let walk = with(&[blade], &[]).walk("TR-2");
    assert_eq!(walk.protecting.unwrap().name, "RC");
    let unread = "{position: FCU, class: cutout, feeder: F1, structure: '2', toward: '3', phases: ABC}";
    let walk = with(&[unread], &[]).walk("TR-2");
    assert_eq!(walk.perhaps_protecting, ["FCU"]);
    assert_eq!(walk.protecting.unwrap().name, "RC");
    let bypassed = "{position: RC, class: recloser, feeder: F1, structure: '1', toward: '2', phases: ABC, state: {stands: bypassed, at: '2026-10-03T14:10:00-06:00'}}";
    let walk = with(&[bypassed], &["position: RC"]).walk("TR-2");
    assert_eq!(walk.protecting.unwrap().name, "BK");
    assert!(walk.path[1].stands_otherwise.as_ref().unwrap().contains("bypassed"));
}

#[test]
fn a_single_phase_device_is_walked_on_its_phase_alone() {
    let lines = [
        "{feeder: F1, source: Bus, head: S}",
        "{source: Bus, kind: substation, structure: S}",
        "{structure: S, kind: substation}",
        "{span: {from: S, to: P, phases: ABC}, feeder: F1}",
        "{span: {from: P, to: Q, phases: AB}, feeder: F1}",
        "{position: CA, class: cutout, feeder: F1, structure: P, toward: Q, phases: A}",
        "{position: CB, class: cutout, feeder: F1, structure: P, toward: Q, phases: B}",
        "{position: TA, class: transformer, feeder: F1, structure: Q, phases: A, customers: {count: 2}}",
        "{position: TB, class: transformer, feeder: F1, structure: Q, phases: B, customers: {count: 3}}",
        "{position: TC, class: transformer, feeder: F1, structure: Q, phases: C, customers: {count: 4}}",
    ];
    let net = Network::new(section("F1", &lines));
    assert_eq!(net.walk("CA").beyond.unwrap().customers, 2);
    assert_eq!(net.walk("CB").beyond.unwrap().customers, 3);
    assert_eq!(names(&net.walk("TB").path), ["CB"]);
    assert!(net.walk("TC").no_source.is_some());
}

#[test]
fn without_toward_the_one_span_that_leaves_is_taken_and_said() {
    let net = with(
        &["{position: RC, class: recloser, feeder: F1, structure: '1', phases: ABC}"],
        &["position: RC"],
    );
    let walk = net.walk("RC");
    assert_eq!(walk.beyond.unwrap().customers, 12);
    let tap = net.walk("FC");
    assert!(tap.notes.iter().any(|n| n.contains("toward")), "{:?}", tap.notes);
    let several = with(
        &["{position: RC, class: recloser, feeder: F1, structure: '2', phases: ABC}"],
        &["position: RC"],
    );
    assert!(several.walk("RC").no_source.unwrap().contains("several spans leave"));
}

#[test]
fn generation_without_a_source_record_is_still_counted() {
    let net = with(
        &["{position: GN, class: generation, feeder: F1, structure: '2A', phases: A}"],
        &["source: Sun"],
    );
    let walk = net.walk("RC");
    assert_eq!(walk.count(Side::Beyond, FeedKind::Generation), 1);
}
