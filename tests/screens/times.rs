//! Times at a fault, by key script.

use std::rc::Rc;

use polecard::exchange::{Source, import};
use polecard::store::Store;

use super::SIZES;
use super::fixture::hand_made;
use super::rig::{Rig, now};

/// A breaker with its relay set, a tap behind it; every value invented.
const RECORDS: &str = r#"---
utility: Kestrel Sound Light
id: 01J00000000000000000000001
---
source: Kestrel bus
id: 01J00000000000000000000002
kind: substation
structure: 30-100
---
feeder: KS1
id: 01J00000000000000000000003
source: Kestrel bus
head: 30-100
kv_ll: 12.47
---
structure: 30-100
id: 01J00000000000000000000004
kind: substation
feeder: KS1
---
structure: 30-103
id: 01J00000000000000000000005
kind: pole
feeder: KS1
---
structure: 30-104
id: 01J00000000000000000000006
kind: pole
feeder: KS1
---
span: {from: 30-100, to: 30-103, phases: ABC, conductor: 1/0 ACSR, length_ft: 210}
id: 01J00000000000000000000008
feeder: KS1
---
span: {from: 30-103, to: 30-104, phases: A, conductor: 1/0 ACSR, length_ft: 290}
id: 01J00000000000000000000009
feeder: KS1
---
position: KS1-BK-1
id: 01J00000000000000000000010
class: breaker
feeder: KS1
structure: 30-100
toward: 30-103
phases: ABC
normally: closed
elements: [{element: unit}]
settings: {phase_pickup_amps: 480, ground_pickup_amps: 160, instantaneous: none, trips_to_lockout: 3, fast_trips: 0, delayed_trips: 3, delayed_curve: "very inverse, TD 2.0", ground_delayed_curve: "very inverse, TD 4.0", dial_convention: "IEEE C37.112, TD as printed", reclose_intervals: "15 s, 45 s", reset_s: 30}
available_fault: {amps: 3900, x_over_r: 7.1, kind: three-phase, date: 2024-02-11, source: planning study}
---
position: KS1-FC-9
id: 01J00000000000000000000011
class: cutout
feeder: KS1
structure: 30-103
toward: 30-104
phases: A
normally: closed
elements: [{element: cutout, amps: 100}, {element: link, link: {value: 40K, by: lm, "on": 2024-05-06, from: plate}}]
available_fault: {amps: 2200, x_over_r: 4.2, kind: line-ground, date: 2024-02-11, source: planning study}
---
position: KS1-FC-8
id: 01J00000000000000000000012
class: cutout
feeder: KS1
structure: 30-104
phases: A
normally: closed
elements: [{element: cutout, amps: 100}, {element: link, link: {value: 15K, by: lm, "on": 2024-05-06, from: plate}}]
---
unit: 5-70001
id: 01J00000000000000000000013
class: breaker
nameplate: {control: electronic, continuous_amps: {value: 1200, by: lm, "on": 2019-05-06, from: plate}}
deployments: [{at: KS1-BK-1, slot: ABC, from: 2019-05-07}]
"#;

fn timed() -> Rc<tempfile::TempDir> {
    let dir = tempfile::tempdir().unwrap();
    let files = vec![(std::path::PathBuf::from("records.yaml"), RECORDS.as_bytes())];
    let source = Source::embedded("records.yaml", files);
    let mut store = Store::create(&dir.path().join("register.polecard")).unwrap();
    import(&mut store, &source, "lm", now(), false).unwrap();
    Rc::new(dir)
}

#[test]
fn the_times_at_four_sizes() {
    for (width, height) in SIZES {
        let mut rig = Rig::new(timed(), width, height);
        rig.keys("KS1-FC-9<enter>s");
        insta::assert_snapshot!(format!("times-{width}x{height}"), rig.shot());
        rig.keys("e");
        insta::assert_snapshot!(format!("times-end-{width}x{height}"), rig.shot());
    }
}

/// Lines of the screen on which curves stand: the label of a decade of seconds
/// before them.
fn on_paper(rig: &Rig) -> Vec<String> {
    let decade = |l: &&str| {
        let first = l.split_whitespace().next().unwrap_or("");
        ["1,000", "100", "10", "1", "0.1", "0.01"].contains(&first)
    };
    rig.text()
        .lines()
        .filter(decade)
        .map(str::to_string)
        .collect()
}

#[test]
fn the_table_first_then_curves_with_the_questions_beside_or_below() {
    let mut rig = Rig::new(timed(), 120, 40);
    rig.keys("KS1-FC-9<enter>s");
    let text = rig.text();
    let at = |what: &str| text.find(what).unwrap_or_else(|| panic!("{what}: {text}"));
    assert!(at("40K melts from") < at("log-log"), "{text}");
    let beside = |l: &&str| l.contains("log-log") && l.contains("load side clear first");
    assert!(text.lines().any(|l| beside(&l)), "{text}");
    let mut rig = Rig::new(timed(), 50, 20);
    rig.keys("KS1-FC-9<enter>s");
    for _ in 0..12 {
        let text = rig.text();
        assert!(!text.lines().any(|l| beside(&l)), "{text}");
        rig.keys("j");
    }
}

#[test]
fn in_ascii_curves_are_letters_and_else_dots() {
    let mut rig = Rig::plain(timed(), 120, 40);
    rig.keys("KS1-FC-9<enter>s");
    assert!(rig.text().is_ascii(), "{}", rig.text());
    assert!(!rig.has_colour());
    assert!(on_paper(&rig).len() > 2, "{}", rig.text());
    let mut rig = Rig::new(timed(), 120, 40);
    rig.keys("KS1-FC-9<enter>s");
    let dots = |c: char| ('\u{2801}'..='\u{28ff}').contains(&c);
    assert!(
        on_paper(&rig).iter().any(|l| l.chars().any(dots)),
        "{}",
        rig.text()
    );
}

#[test]
fn a_current_is_typed_refused_and_taken_back() {
    let mut rig = Rig::new(timed(), 80, 24);
    rig.keys("KS1-FC-9<enter>s");
    let recorded = rig.text();
    assert!(
        recorded.contains("times at 2,200 A line-ground"),
        "{recorded}"
    );
    rig.keys("9oo<enter>");
    assert!(rig.text().contains("refused"), "{}", rig.text());
    rig.keys("<backspace><backspace>00<enter>");
    assert!(rig.text().contains("times at 900 A"), "{}", rig.text());
    assert!(rig.text().contains("typed"), "{}", rig.text());
    rig.keys("a<backspace><backspace><backspace><enter>");
    assert!(
        rig.text().contains("times at 2,200 A line-ground"),
        "{}",
        rig.text()
    );
    rig.keys("a<backspace>");
    assert!(
        rig.text().contains("times at 2,200 A"),
        "left as it was: {}",
        rig.text()
    );
    rig.keys("<backspace>");
    assert!(
        rig.text().contains("KS1-FC-9  CUTOUT"),
        "back on the card: {}",
        rig.text()
    );
}

#[test]
fn a_kind_to_ground_times_the_ground_element() {
    let mut rig = Rig::new(timed(), 120, 40);
    rig.keys("KS1-BK-1<enter>s");
    assert!(rig.text().contains("A three-phase"), "{}", rig.text());
    assert!(!rig.text().contains("the first of phase"), "{}", rig.text());
    rig.keys("kkk");
    assert!(rig.text().contains("A line-ground"), "{}", rig.text());
    assert!(rig.text().contains("the first of phase"), "{}", rig.text());
    rig.keys("kk");
    assert!(
        rig.text().contains("A three-phase"),
        "by the record again: {}",
        rig.text()
    );
}

#[test]
fn where_no_fault_is_on_record_it_is_asked_for() {
    let mut rig = Rig::new(timed(), 80, 24);
    rig.keys("KS1-FC-8<enter>s");
    assert!(rig.text().contains("fault current, A >"), "{}", rig.text());
    rig.keys("600<enter>");
    assert!(rig.text().contains("times at 600 A"), "{}", rig.text());
}

#[test]
fn from_the_verdicts_too_and_nowhere_without_a_position() {
    let mut rig = Rig::new(timed(), 80, 24);
    rig.keys("KS1-FC-9<enter>c<enter>s");
    assert!(rig.text().contains("40K melts from"), "{}", rig.text());
    rig.keys("<backspace><backspace><backspace>ts");
    assert!(
        rig.text().contains("no record"),
        "a trace has no times: {}",
        rig.text()
    );
    let mut rig = Rig::new(hand_made(), 80, 24);
    rig.keys("30-103<enter>s");
    assert!(rig.text().contains("only a position"), "{}", rig.text());
}

#[test]
fn the_curves_are_saved_once_under_a_name_that_is_free() {
    let dir = tempfile::tempdir().unwrap();
    let file = dir.path().join("tap.svg");
    let mut rig = Rig::new(timed(), 120, 40);
    rig.keys("KS1-FC-9<enter>ss");
    assert!(
        rig.text().contains("SVG file > ks1-fc-9-times.svg"),
        "{}",
        rig.text()
    );
    rig.keys(&format!("<ctrl-u>{}<enter>", file.display()));
    assert!(rig.text().contains("curves written to"), "{}", rig.text());
    let svg = std::fs::read_to_string(&file).unwrap();
    assert!(svg.starts_with("<svg") && svg.contains("KS1-FC-9"), "{svg}");
    rig.keys(&format!("s<ctrl-u>{}<enter>", file.display()));
    assert!(rig.text().contains("refused"), "{}", rig.text());
    assert_eq!(std::fs::read_to_string(&file).unwrap(), svg, "not touched");
}
