//! Find, read-back, decode and resolve, on a small dense register.

mod dense;
#[allow(
    dead_code,
    reason = "shared with the benchmarks, each of which needs a part"
)]
#[path = "bench/ground.rs"]
mod ground;
mod readback;
mod said;
mod slips;

use std::cell::Cell;

use polecard::calendar::Moment;
use polecard::domain::asset::Kind;
use polecard::domain::code::fold;
use polecard::exchange::{Source, import};
use polecard::present::Style;
use polecard::present::find::find_lines;
use polecard::store::{Access, Store};
use polecard::work::find::{FindReport, How, Match, find, neighbours_of};
use polecard::work::{FailureKind, decode, resolve, resolve_among};

const SCHEME: &str = include_str!("../data/schemes/hollin.yaml");

const RECORDS: &str = r"---
feeder: HB2
head: 40-110
source: HOBB
---
source: HOBB
kind: substation
substation: Hobb
---
structure: 40-110
kind: pole
feeder: HB2
place: {road: Tannery Rd, near: the substation fence}
---
structure: 40-118
kind: pole
feeder: HB2
names: [{text: T-5512, whose: telephone}]
place: {road: Tannery Rd, near: the weir gate}
---
structure: 40-119
kind: pole
feeder: HB2
place: {road: Tannery Rd, near: the long barn}
---
structure: 40-181
kind: pad
feeder: HB2
place: {road: Kiln Ln, near: the old kiln}
---
structure: 41-018
kind: pole
feeder: HB3
place: {road: Weir Ln, near: the ford, house: '77'}
---
structure: 40-300
kind: pole
feeder: HB2
names: [{text: 40-118, whose: ours, to: 2019-05-01}, {text: 12-340, to: 2011-01-01}]
place: {road: Mill St, near: the bridge}
---
structure: 53-118
kind: vault
feeder: HB3
place: {road: Mill St, near: the chapel}
---
position: HB2-RC-14
class: recloser
feeder: HB2
structure: 40-118
---
position: HB2-RC-40
class: recloser
feeder: HB2
structure: 40-300
---
position: HB2-SW-3
class: switch
feeder: HB2
structure: 40-119
---
position: HB3-FC-7
class: cutout
feeder: HB3
structure: 41-018
---
unit: 7-20931
class: recloser
nameplate: {interrupter: vacuum, serial: QX551-8}
deployments: [{at: HB2-RC-14, slot: ABC, from: 2018-06-04}]
---
unit: 7-20932
class: recloser
deployments: [{at: shop, slot: bench 2, from: 2024-06-04}]
---
unit: 40-119
class: switch
deployments: [{at: HB2-SW-3, slot: ABC}]
";

fn now() -> Moment {
    "2026-10-03T14:10:00-06:00".parse().unwrap()
}

fn register_of(text: &str) -> (tempfile::TempDir, Store) {
    register_with(text, SCHEME)
}

fn register_with(text: &str, scheme: &str) -> (tempfile::TempDir, Store) {
    let dir = tempfile::tempdir().unwrap();
    std::fs::create_dir(dir.path().join("in")).unwrap();
    std::fs::write(dir.path().join("in/records.yaml"), text).unwrap();
    std::fs::write(dir.path().join("in/scheme.yaml"), scheme).unwrap();
    let path = dir.path().join("r.polecard");
    let mut store = Store::create(&path).unwrap();
    let source = Source::at(&dir.path().join("in")).unwrap();
    import(&mut store, &source, "hb", now(), false).unwrap();
    (dir, store)
}

fn register() -> (tempfile::TempDir, Store) {
    register_of(RECORDS)
}

fn ask(store: &Store, query: &str) -> FindReport {
    find(store, query, 50, &|| false).unwrap()
}

fn names(matches: &[Match]) -> Vec<&str> {
    matches.iter().map(|m| m.name.as_str()).collect()
}

fn first(report: &FindReport) -> (&str, How) {
    let m = report.matches.first().unwrap();
    (&m.name, m.how)
}

#[test]
fn answers_go_from_sure_to_unsure() {
    let (_dir, store) = register();
    let report = ask(&store, "40-118");
    assert_eq!(first(&report), ("40-118", How::Exact));
    let hows: Vec<How> = report.matches.iter().map(|m| m.how).collect();
    let mut sorted = hows.clone();
    sorted.sort();
    assert_eq!(hows, sorted);
    assert_eq!(first(&ask(&store, "40118")), ("40-118", How::Folded));
    assert_eq!(first(&ask(&store, "hb2 rc 14")), ("HB2-RC-14", How::Folded));
    assert_eq!(first(&ask(&store, "t5512")), ("40-118", How::OtherName));
    assert_eq!(first(&ask(&store, "qx551 8")), ("7-20931", How::OtherName));
    assert_eq!(first(&ask(&store, "HB2-R")), ("HB2-RC-14", How::Prefix));
    let report = ask(&store, "0931");
    assert_eq!(first(&report), ("7-20931", How::Suffix));
    let report = ask(&store, "2093");
    assert_eq!(report.matches[0].how, How::Within);
    assert_eq!(names(&report.matches), ["7-20931", "7-20932"]);
}

#[test]
fn an_old_name_finds_and_never_outranks_its_present_holder() {
    let (_dir, store) = register();
    let report = ask(&store, "40-118");
    assert_eq!(names(&report.matches)[..2], ["40-118", "40-300"]);
    assert_eq!(report.matches[1].how, How::OldName);
    let why = report.matches[1].because.as_deref().unwrap();
    assert!(why.contains("no longer in use"), "{why}");
    // The same while it is being typed.
    let report = ask(&store, "40-11");
    let names = names(&report.matches);
    let at = |n: &str| names.iter().position(|m| *m == n);
    assert!(at("40-118") < at("40-300"), "{names:?}");
    assert_eq!(first(&ask(&store, "12-340")), ("40-300", How::OldName));
}

#[test]
fn every_answer_has_a_second_identifier_that_does_not_repeat_the_number() {
    let (_dir, store) = register();
    for query in ["40", "HB", "7-2", "mill", "recloser"] {
        for m in ask(&store, query).matches {
            if m.kind == Kind::Source {
                continue; // named after its substation
            }
            let words = m.also.words();
            assert!(!words.is_empty(), "{}", m.name);
            assert!(!fold(&words).contains(&fold(&m.name)), "{} {words}", m.name);
        }
    }
    let unit = &ask(&store, "7-20931").matches[0];
    assert_eq!(unit.also.at.as_deref(), Some("HB2-RC-14 ABC"));
    assert_eq!(unit.also.road.as_deref(), Some("Tannery Rd"));
    let stored = &ask(&store, "7-20932").matches[0];
    assert_eq!(stored.also.at.as_deref(), Some("shop bench 2"));
    let device = &ask(&store, "HB2-RC-14").matches[0];
    assert_eq!(device.also.near.as_deref(), Some("the weir gate"));
    assert_eq!(device.also.at.as_deref(), Some("40-118"));
}

#[test]
fn a_wrong_number_says_that_it_is_nobodys_and_who_is_near() {
    let (_dir, store) = register();
    let report = ask(&store, "40-178");
    assert!(!report.named());
    let near: Vec<(&str, &str)> = report
        .matches
        .iter()
        .filter(|m| m.how == How::Neighbour)
        .map(|m| (m.name.as_str(), m.because.as_deref().unwrap()))
        .collect();
    assert!(near.contains(&("40-118", "1 for 7")), "{near:?}");
    let style = Style {
        width: 80,
        ascii: false,
    };
    let text: Vec<String> = find_lines(&report, style)
        .iter()
        .map(|l| l.plain())
        .collect();
    assert_eq!(text[0], "nothing is numbered 40-178; one mistake away:");
    // A swap ranks before a wrong character: 40-181 before 40-118 and 40-119.
    let report = ask(&store, "40-1811");
    assert_eq!(first(&report), ("40-181", How::Neighbour));
    let report = ask(&store, "04-118");
    assert_eq!(first(&report), ("40-118", How::Neighbour));
    assert_eq!(
        report.matches[0].because.as_deref(),
        Some("40 for 04 (swapped)")
    );
}

#[test]
fn near_neighbours_are_there_even_on_an_exact_hit() {
    let (_dir, store) = register();
    let near = neighbours_of(&store, "40-118").unwrap();
    assert_eq!(near[0].name, "40-181");
    assert_eq!(near[0].because.as_deref(), Some("81 for 18 (swapped)"));
    let all = names(&near);
    assert!(
        all.contains(&"40-119") && all.contains(&"40-110"),
        "{all:?}"
    );
    assert!(!all.contains(&"40-118"), "{all:?}");
    let near = neighbours_of(&store, "HB2-RC-14").unwrap();
    assert_eq!(near[0].name, "HB2-RC-40");
    assert!(near[0].because.as_deref().unwrap().contains("sound alike"));
}

#[test]
fn spoken_numbers_and_phone_punctuation_are_understood() {
    let (_dir, store) = register();
    let report = ask(&store, "hotel bravo two romeo charlie fourteen");
    assert_eq!(first(&report), ("HB2-RC-14", How::Folded));
    assert!(report.read_as.is_some());
    for query in [
        "Four zero dash one one eight",
        "\u{201c}40\u{2014}118\u{201d}",
        "40\u{2013}118.",
        "4O-ll8",
        "40-1I8",
    ] {
        let report = ask(&store, query);
        assert_eq!(first(&report).0, "40-118", "{query}");
        assert!(first(&report).1 <= How::Folded, "{query}");
    }
    // Heard, with a mistake: one for nine.
    let report = ask(&store, "four zero dash one eight niner");
    let found = names(&report.matches);
    assert!(
        found.contains(&"40-119") && found.contains(&"40-181"),
        "{found:?}"
    );
}

#[test]
fn a_number_with_words_ranks_the_record_that_has_both_first() {
    let (_dir, store) = register();
    for (query, want) in [
        ("40-118 tannery", "40-118"),
        ("tannery road 40-118", "40-118"),
        ("40-181 tannery", "40-118"), // swapped, and 40-181 is on Kiln Ln
        ("40-181 kiln", "40-181"),
        ("118 mill", "53-118"),
        ("118 weir gate", "40-118"),
        ("HB2-RC-41 tannery", "HB2-RC-14"),
        ("four zero dash one one eight tannery", "40-118"),
        ("41-081 77 weir lane", "41-018"),
        ("40-11 long barn", "40-119"),
    ] {
        assert_eq!(first(&ask(&store, query)).0, want, "{query}");
    }
    let report = ask(&store, "40-181 tannery");
    let m = report.matches.iter().find(|m| m.name == "40-181").unwrap();
    assert_eq!(m.because.as_deref(), Some("not tannery on record"));
}

#[test]
fn words_must_all_be_there_in_the_record_or_with_its_structure() {
    let (_dir, store) = register();
    let found = ask(&store, "weir gate");
    assert_eq!(first(&found), ("40-118", How::Words));
    assert!(!names(&found.matches).contains(&"41-018"));
    assert_eq!(names(&ask(&store, "pad kiln lane").matches)[0], "40-181");
    assert_eq!(
        first(&ask(&store, "recloser tannery road")),
        ("HB2-RC-14", How::Words)
    );
    assert_eq!(
        first(&ask(&store, "vacuum tannery")),
        ("7-20931", How::Words)
    );
    // The last word is still being typed; others may be cut short as well.
    assert_eq!(first(&ask(&store, "tannery wei")).0, "40-118");
    assert_eq!(first(&ask(&store, "tann wei")).0, "40-118");
    // Each word is somewhere, together nowhere.
    assert!(
        ask(&store, "kiln ford")
            .matches
            .iter()
            .all(|m| m.how > How::Words)
    );
    // One letter wrong.
    let report = ask(&store, "tanmery weir");
    assert_eq!(first(&report), ("40-118", How::Alike));
    assert_eq!(
        report.matches[0].because.as_deref(),
        Some("tannery for tanmery")
    );
}

#[test]
fn counts_are_capped_and_a_waiting_key_interrupts() {
    let (_dir, store) = register();
    let report = find(&store, "4", 3, &|| false).unwrap();
    assert_eq!((report.matches.len(), report.more), (3, true));
    let report = find(&store, "40-118", 50, &|| true).unwrap();
    assert!(report.interrupted);
    assert_eq!(names(&report.matches), ["40-118", "40-300"]);
    // Asked often enough that a neighbour search can be left on the way.
    let asked = Cell::new(0);
    let count = || {
        asked.set(asked.get() + 1);
        false
    };
    find(&store, "99-999", 50, &count).unwrap();
    assert!(asked.get() >= 6, "{}", asked.get());
}

#[test]
fn nothing_and_odd_texts_are_answered() {
    let (_dir, store) = register();
    for query in [
        "", "  ", "\"", "*", "a OR b", "(", "\u{202e}", "zzzz", "é", "--",
    ] {
        let report = ask(&store, query);
        assert!(
            report.matches.iter().all(|m| m.how > How::Suffix),
            "{query}"
        );
    }
    assert!(ask(&store, "qqqqqq").matches.is_empty());
    ask(&store, &"9".repeat(100_000));
    ask(&store, &"one ".repeat(10_000));
}

#[test]
fn one_record_is_resolved_or_the_choice_is_given() {
    let (_dir, store) = register();
    let name = |text: &str| resolve(&store, text).map(|s| s.record.name());
    assert_eq!(name("40-118").unwrap(), "40-118");
    assert_eq!(name("hb2rc14").unwrap(), "HB2-RC-14");
    assert_eq!(name("T-5512").unwrap(), "40-118");
    assert_eq!(
        name("hotel bravo two romeo charlie one four").unwrap(),
        "HB2-RC-14"
    );
    let id = resolve(&store, "40-118").unwrap().record.id().to_string();
    assert_eq!(name(&id).unwrap(), "40-118");
    let old = resolve_among(&store, "12-340", &[]).unwrap();
    assert!(old.note.unwrap().contains("no longer in use"));
    // A pole and a unit of one number: nobody guesses.
    let failure = name("40-119").unwrap_err();
    assert_eq!(failure.kind, FailureKind::NotFound);
    let said = failure.to_string();
    assert!(
        said.contains("structure 40-119") && said.contains("Tannery Rd"),
        "{said}"
    );
    let unit = resolve(&store, "unit 40-119").unwrap();
    assert_eq!(unit.record.kind(), Kind::Unit);
    let pole = resolve_among(&store, "40-119", &[Kind::Structure]).unwrap();
    assert_eq!(pole.stored.record.kind(), Kind::Structure);
    let said = name("40-171").unwrap_err().to_string();
    assert!(
        said.contains("40-181") && said.contains("Kiln Ln"),
        "{said}"
    );
}

#[test]
fn decode_puts_what_the_register_has_first_among_equals() {
    let (_dir, store) = register();
    let report = decode::decode(&store, "HB2-RC-14").unwrap();
    let best = &report.readings[0];
    assert_eq!((best.name.as_str(), best.in_register), ("HB2-RC-14", true));
    assert!(best.assumed.is_empty());
    assert_eq!(best.meanings.get("class").unwrap(), "recloser");
    assert_eq!(best.fields["station"], "HB");
    for report in [report, decode::decode(&store, " 40-1 81?").unwrap()] {
        assert!(report.readings.len() <= decode::READINGS);
        for r in &report.readings {
            let joined: String = r.spans.iter().map(|s| s.text.as_str()).collect();
            assert_eq!(joined, report.input);
        }
    }
    // A digit missing: of the equally likely readings those on record lead.
    let report = decode::decode(&store, "40-18").unwrap();
    let missing = report
        .readings
        .iter()
        .filter(|r| r.pattern == "structure" && r.assumed.iter().any(|a| a.contains("missing")));
    let on_record: Vec<bool> = missing.map(|r| r.in_register).collect();
    assert!(on_record[0] && on_record.contains(&false), "{on_record:?}");
    assert!(on_record.is_sorted_by(|a, b| a >= b), "{on_record:?}");
    let nothing = decode::decode(&store, "?!").unwrap();
    assert!(nothing.readings.is_empty());
    let old = decode::decode(&store, "12-340").unwrap();
    assert!(!old.readings[0].in_register);
    assert!(
        old.readings[0]
            .on_record_as
            .as_deref()
            .unwrap()
            .contains("40-300")
    );
}

#[test]
fn a_changed_record_is_found_by_what_it_is_now() {
    let (dir, store) = register();
    drop(store);
    let path = dir.path().join("r.polecard");
    let mut store = Store::open(&path, Access::Write).unwrap();
    let change = dir.path().join("change.yaml");
    let text = "---\nstructure: 40-118\nkind: pole\nfeeder: HB2\nplace: {road: Cooper St}\nerase: [place.near, names]\n";
    std::fs::write(&change, text).unwrap();
    let source = Source::at(&change).unwrap();
    import(&mut store, &source, "hb", now(), true).unwrap();
    assert!(
        ask(&store, "weir gate")
            .matches
            .iter()
            .all(|m| m.how > How::Words)
    );
    assert_eq!(first(&ask(&store, "cooper")), ("40-118", How::Words));
    // What hangs there, and what is deployed there, moves with it.
    for (query, name) in [
        ("recloser cooper", "HB2-RC-14"),
        ("vacuum cooper", "7-20931"),
    ] {
        assert!(
            names(&ask(&store, query).matches).contains(&name),
            "{query}"
        );
        let before = query.replace("cooper", "tannery");
        let report = ask(&store, &before);
        assert!(
            report.matches.iter().all(|m| m.how > How::Words),
            "{before}"
        );
    }
    assert!(
        ask(&store, "t5512")
            .matches
            .iter()
            .all(|m| m.how > How::Within)
    );
}
