//! The check through the register, and what must hold of every verdict.

use std::path::Path;

use polecard::calendar::{Date, Moment};
use polecard::domain::asset::{
    Conductor, Defect, FaultKind, Position, RecordId, Span, Standing, Stated, Unit,
};
use polecard::domain::finding::{DEFECTS, Question, Severity, Verdict};
use polecard::domain::nameplate::{Choices, Facts, Of, OpenDefect, UnitHere, governing};
use polecard::exchange::{Source, import};
use polecard::store::Store;
use polecard::units::{Amps, XOverR};
use polecard::work::check::{CheckReport, Typed, check, check_position, report};
use proptest::prelude::*;

const REGISTER: &str = r#"---
utility: Weirside Rural
demo: true
choices: {tight_margin_percent: 12}
---
conductor: 1/0 ACSR
ampacity_amps: 240
conditions: 75 C conductor, 25 C air, 2 ft/s wind, sun
---
source: Hobb bus 1
kind: substation
structure: 40-116
kv_ll: 12.47
grounding: multigrounded wye
---
feeder: HB2
source: Hobb bus 1
head: 40-116
kv_ll: 12.47
grounding: multigrounded wye
---
structure: 40-116
kind: substation
feeder: HB2
---
structure: 40-117
kind: pole
feeder: HB2
---
structure: 40-118
kind: pole
feeder: HB2
---
structure: 40-119
kind: pole
feeder: HB2
---
span: {from: 40-116, to: 40-117, phases: ABC, conductor: 1/0 ACSR, length_ft: 310}
feeder: HB2
---
span: {from: 40-117, to: 40-118, phases: ABC, conductor: 1/0 ACSR, length_ft: 310}
feeder: HB2
---
span: {from: 40-118, to: 40-119, phases: ABC, conductor: 1/0 ACSR, length_ft: 310}
feeder: HB2
---
position: HB2-BK-1
class: breaker
feeder: HB2
structure: 40-116
toward: 40-117
normally: closed
---
position: HB2-RC-14
class: recloser
feeder: HB2
structure: 40-117
toward: 40-118
phases: ABC
normally: closed
elements:
  - {element: lead, label: source-side lead, conductor: 1/0 ACSR}
  - {element: unit}
  - {element: connector, amps: 300}
bypass:
  - {element: blade, label: bypass blade, amps: 300, normally: open}
available_fault: {amps: 3000, x_over_r: 6.2, kind: three-phase, date: 2025-03-02, source: planning study}
peak_load: {amps: 80, date: 2025-07-20, source: planning study}
---
position: HB2-SC-2
class: sectionalizer
feeder: HB2
structure: 40-118
toward: 40-119
phases: ABC
normally: closed
---
unit: 7-20931
class: recloser
nameplate: {control: hydraulic, coil_amps: 100, interrupting_amps: 4000, test_x_over_r: 8, max_kv: 15.5, model: QX}
deployments: [{at: HB2-RC-14, slot: ABC, from: 2018-06-04}]
---
unit: 7-30011
class: sectionalizer
nameplate: {coil_amps: 70, max_kv: 15.5, momentary_amps: 8000}
deployments: [{at: HB2-SC-2, from: 2018-06-04}]
---
unit: 7-99
class: recloser
deployments: [{at: shop, from: 2020-01-02}]
"#;

fn now() -> Moment {
    "2026-10-03T14:10:00-06:00".parse().unwrap()
}

fn today() -> Date {
    now().date()
}

fn register(dir: &Path, more: &str) -> Store {
    let mut store = Store::create(&dir.join("r.polecard")).unwrap();
    let files = tempfile::tempdir().unwrap();
    std::fs::write(files.path().join("all.yaml"), format!("{REGISTER}{more}")).unwrap();
    let source = Source::at(files.path()).unwrap();
    import(&mut store, &source, "hb", now(), false).unwrap();
    store
}

fn checked(more: &str, id: &str, typed: &Typed) -> CheckReport {
    let dir = tempfile::tempdir().unwrap();
    let store = register(dir.path(), more);
    check(&store, id, typed, today()).unwrap()
}

fn amps(value: f64) -> Option<Amps> {
    Some(Amps::new(value).unwrap())
}

#[test]
fn a_check_without_values_takes_the_recorded_studies() {
    let r = checked("", "hb2rc14", &Typed::default());
    assert_eq!(r.name, "HB2-RC-14");
    let answer = |q| r.questions.get(q);
    assert_eq!(answer(Question::Carry), Some(Verdict::Within));
    assert_eq!(answer(Question::Ride), Some(Verdict::Within));
    assert_eq!(answer(Question::Break), Some(Verdict::Within));
    assert_eq!(answer(Question::Stand), Some(Verdict::Within));
    assert_eq!(r.verdict, Verdict::Within);
    assert_eq!(r.exit_code(), 0);
    let load = r.inputs.iter().find(|i| i.name == "load").unwrap();
    assert_eq!(load.value, Some(80.0));
    assert_eq!(load.origin, "planning study, 20 Jul 2025");
    assert!(r.safety.contains("never says that a line is dead"));
}

#[test]
fn the_utilitys_choice_makes_it_tight() {
    let typed = Typed {
        load: amps(89.0),
        ..Typed::default()
    };
    let r = checked("", "HB2-RC-14", &typed);
    let carry = r.governing(Question::Carry).unwrap();
    assert_eq!(carry.rule, "carry-coil");
    assert_eq!(carry.verdict, Verdict::Tight, "11 % is under the chosen 12");
    assert_eq!(carry.choices[0].value, "12");
    assert_eq!(r.exit_code(), 6);
}

#[test]
fn the_json_is_as_documented() {
    let typed = Typed {
        load: amps(120.0),
        ..Typed::default()
    };
    let json = serde_json::to_value(checked("", "7-20931", &typed)).unwrap();
    assert_eq!(json["polecard"], 1);
    assert_eq!(json["verdict"], "fails");
    assert_eq!(json["questions"]["carry"], "fails");
    let first = &json["findings"][0];
    for key in [
        "rule",
        "question",
        "element",
        "slot",
        "path",
        "value",
        "limit",
        "unit",
        "margin_percent",
        "verdict",
        "because",
        "source",
        "standing",
    ] {
        assert!(first.get(key).is_some(), "{key} is missing");
    }
    assert_eq!(first["rule"], "carry-coil");
    assert_eq!(first["element"], "recloser 7-20931");
    assert_eq!(first["slot"], "ABC");
    assert_eq!(first["path"], "normal");
    assert_eq!(first["margin_percent"], -20.0);
    assert!(json["read_next"].is_array());
    assert_eq!(json["notes"][0], "unit 7-20931 is recorded at HB2-RC-14");
    assert_eq!(json["id"].as_str().unwrap().len(), 26);
}

#[test]
fn a_typed_fault_without_an_x_over_r_is_judged_at_the_worst_bound() {
    let typed = Typed {
        fault: amps(3300.0),
        ..Typed::default()
    };
    let r = checked("", "HB2-RC-14", &typed);
    let f = r.governing(Question::Break).unwrap();
    assert_eq!(f.verdict, Verdict::Fails);
    assert!((f.limit.unwrap() - 3194.0).abs() < 1.0);
    assert!(f.because.contains("worst bound"), "{}", f.because);
    let with = Typed {
        x_over_r: Some(XOverR::new(6.0).unwrap()),
        ..typed
    };
    let r = checked("", "HB2-RC-14", &with);
    assert_eq!(
        r.governing(Question::Break).unwrap().verdict,
        Verdict::Within
    );
}

#[test]
fn what_breaks_nothing_names_what_has_to_clear() {
    let typed = Typed {
        fault: amps(3000.0),
        load: amps(10.0),
        ..Typed::default()
    };
    let r = checked("", "HB2-SC-2", &typed);
    assert_eq!(
        r.questions.get(Question::Break),
        Some(Verdict::NotApplicable)
    );
    let f = r.governing(Question::Break).unwrap();
    assert!(
        f.because.starts_with("Breaks nothing: recloser HB2-RC-14"),
        "{}",
        f.because
    );
    assert_eq!(r.verdict, Verdict::Within, "{:?}", r.findings);
}

#[test]
fn a_bypass_breaks_nothing_and_names_the_breaker() {
    let typed = Typed {
        bypass: true,
        ..Typed::default()
    };
    let r = checked("", "HB2-RC-14", &typed);
    let f = r.governing(Question::Break).unwrap();
    assert_eq!(f.verdict, Verdict::NotApplicable);
    assert_eq!(f.element, "bypass blade");
    assert!(f.because.contains("breaker HB2-BK-1"), "{}", f.because);
    assert!(
        r.findings
            .iter()
            .all(|f| f.path.word() == "bypass" && f.rule != "carry-coil")
    );
    assert_eq!(r.questions.get(Question::Carry), Some(Verdict::Within));
}

#[test]
fn recorded_as_bypassed_caps_the_normal_path_and_stops() {
    let facts = facts_of("recloser, hydraulic");
    let mut bypassed = facts.clone();
    bypassed.position.state =
        serde_json::from_value(serde_json::json!({"stands": "bypassed", "at": now()})).unwrap();
    let r = report(&bypassed, &Typed::default(), &Choices::default(), vec![]);
    for q in [Question::Break, Question::Ride] {
        assert!(!r.questions.get(q).unwrap().passes(), "{q}");
    }
    assert!(r.questions.get(Question::Carry).unwrap().passes());
    assert_eq!(r.cautions[0].severity, Severity::Stop);
    assert!(r.cautions[0].text.contains("BYPASSED"));
}

#[test]
fn a_bypass_that_is_not_on_record_is_unknown() {
    let typed = Typed {
        bypass: true,
        load: amps(1.0),
        ..Typed::default()
    };
    let r = report(&facts_of("switch"), &typed, &Choices::default(), vec![]);
    assert_eq!(r.verdict, Verdict::Unknown);
    assert!(r.read_next.contains(&"the bypass of P".to_string()));
    let mut jumpered = facts_of("recloser, electronic");
    jumpered.position.state =
        serde_json::from_value(serde_json::json!({"stands": "jumpered", "at": now()})).unwrap();
    let r = report(&jumpered, &Typed::default(), &Choices::default(), vec![]);
    for q in [Question::Carry, Question::Break, Question::Ride] {
        assert_eq!(r.questions.get(q), Some(Verdict::Unknown), "{q}");
    }
}

#[test]
fn a_defect_found_and_not_cleared_caps_what_it_bears_on() {
    let found = "---\nentry: inspection\nof: 7-20931\non: 2026-09-12\nfinds: [oil below mark]\n";
    let r = checked(found, "HB2-RC-14", &Typed::default());
    assert_eq!(r.questions.get(Question::Break), Some(Verdict::Unknown));
    assert_eq!(r.questions.get(Question::Stand), Some(Verdict::Unknown));
    assert_eq!(r.questions.get(Question::Carry), Some(Verdict::Within));
    let f = r.governing(Question::Break).unwrap();
    assert!(
        f.because.contains("oil below mark, seen 12 Sep 2026"),
        "{}",
        f.because
    );
    assert!(
        r.cautions[0]
            .text
            .contains("do not count on it to interrupt")
    );
    let cleared = format!(
        "{found}---\nentry: maintenance\nof: 7-20931\non: 2026-09-20\nclears: [oil below mark]\n"
    );
    let r = checked(&cleared, "HB2-RC-14", &Typed::default());
    assert_eq!(r.verdict, Verdict::Within);
}

#[test]
fn a_notice_that_counts_as_a_defect_caps_too() {
    let notice = "---\nnotice: N-7\ntext: contacts weld\nhits: {class: recloser, model: QX}\nfrom: 2026-01-01\nbears_like: contacts worn\n";
    let r = checked(notice, "HB2-RC-14", &Typed::default());
    assert_eq!(r.questions.get(Question::Break), Some(Verdict::Unknown));
    assert!(r.cautions.iter().any(|c| c.text.contains("notice N-7")));
    let over = notice.replace("bears_like", "until: 2026-02-01\nbears_like");
    let r = checked(&over, "HB2-RC-14", &Typed::default());
    assert_eq!(r.verdict, Verdict::Within);
}

#[test]
fn a_second_unit_in_the_slot_leaves_nothing_certain() {
    let second = "---\nunit: 7-20932\nclass: recloser\nnameplate: {control: hydraulic, coil_amps: 100, interrupting_amps: 4000, test_x_over_r: 8, max_kv: 15.5}\ndeployments: [{at: HB2-RC-14, slot: ABC}]\n";
    let r = checked(second, "HB2-RC-14", &Typed::default());
    for q in [
        Question::Carry,
        Question::Ride,
        Question::Break,
        Question::Stand,
    ] {
        assert_eq!(r.questions.get(q), Some(Verdict::Unknown), "{q}");
    }
}

#[test]
fn a_unit_recorded_elsewhere_too_leaves_nothing_certain() {
    let dir = tempfile::tempdir().unwrap();
    let text = REGISTER.replace(
        "deployments: [{at: HB2-SC-2, from: 2018-06-04}]",
        "deployments: [{at: HB2-SC-2, from: 2018-06-04}, {at: shop, from: 2025-01-05}]",
    );
    assert_ne!(text, REGISTER);
    let mut store = Store::create(&dir.path().join("r.polecard")).unwrap();
    let files = tempfile::tempdir().unwrap();
    std::fs::write(files.path().join("all.yaml"), text).unwrap();
    let source = Source::at(files.path()).unwrap();
    import(&mut store, &source, "hb", now(), false).unwrap();
    let typed = Typed {
        load: amps(10.0),
        ..Typed::default()
    };
    let r = check(&store, "HB2-SC-2", &typed, today()).unwrap();
    assert_eq!(r.questions.get(Question::Carry), Some(Verdict::Unknown));
    assert!(r.findings.iter().any(|f| f.because.contains("at shop")));
}

#[test]
fn an_empty_slot_is_unknown_and_says_what_to_read() {
    let r = checked("", "HB2-BK-1", &Typed::default());
    assert_eq!(r.verdict, Verdict::Unknown);
    assert_eq!(r.exit_code(), 5);
    assert!(!r.read_next.is_empty());
    let lengths: Vec<usize> = r.read_next.iter().map(String::len).collect();
    assert!(lengths.is_sorted(), "shortest first: {:?}", r.read_next);
}

#[test]
fn only_a_position_or_its_unit_can_be_checked() {
    let dir = tempfile::tempdir().unwrap();
    let store = register(dir.path(), "");
    let refused = |id: &str| check(&store, id, &Typed::default(), today()).unwrap_err();
    for id in ["40-117", "7-99", "HB9-RC-1"] {
        let e = refused(id);
        assert_eq!(e.kind.exit_code(), 3, "{id}: {e}");
    }
    assert!(refused("40-117").message.contains("structure"));
    assert!(refused("7-99").message.contains("no position"));
}

#[test]
fn three_units_at_one_position_are_judged_each_and_the_worst_governs() {
    let mut facts = facts_of("recloser, hydraulic");
    facts.position.slots = ["A", "B", "C"].map(String::from).to_vec();
    let one = facts.units.remove(0);
    for (slot, coil) in [("A", 100.0), ("B", 50.0), ("C", 100.0)] {
        let mut here = one.clone();
        here.slot = Some(slot.to_string());
        here.unit.unit = format!("U-{slot}");
        here.unit
            .nameplate
            .set("coil_amps", Stated::number(coil))
            .unwrap();
        facts.units.push(here);
    }
    let r = report(&facts, &Typed::default(), &Choices::default(), vec![]);
    let carry = r.governing(Question::Carry).unwrap();
    assert_eq!(carry.slot.as_deref(), Some("B"));
    assert_eq!(carry.verdict, Verdict::Fails);
    facts.units.remove(1);
    let r = report(&facts, &Typed::default(), &Choices::default(), vec![]);
    let carry = r.governing(Question::Carry).unwrap();
    assert_eq!(carry.verdict, Verdict::Unknown);
    assert!(carry.element.contains("no unit on record in slot B"));
}

#[test]
fn near_a_delta_wye_source_the_line_ground_current_counts() {
    let mut facts = facts_of("recloser, hydraulic");
    let plain = report(&facts, &Typed::default(), &Choices::default(), vec![]);
    facts.x0_over_x1 = Some(0.5);
    let raised = report(&facts, &Typed::default(), &Choices::default(), vec![]);
    let value = |r: &CheckReport| r.governing(Question::Break).unwrap().value.unwrap();
    // I_LG / I_3ph = 3 / (2 + X0/X1): 3 V / (2 Z1 + Z0) over V / Z1.
    assert!((value(&raised) / value(&plain) - 1.2).abs() < 1e-9);
}

#[test]
fn every_regulator_is_headed_by_the_bypass_caution() {
    let r = report(
        &facts_of("regulator"),
        &Typed::default(),
        &Choices::default(),
        vec![],
    );
    assert!(r.cautions[0].text.starts_with("regulator bypass"));
}

#[test]
fn a_switch_of_which_nobody_wrote_whether_it_opens_load_does_not() {
    let r = report(
        &facts_of("switch"),
        &Typed::default(),
        &Choices::default(),
        vec![],
    );
    let f = r.governing(Question::Break).unwrap();
    assert_eq!(f.verdict, Verdict::NotApplicable);
    assert!(
        f.because.contains("not known, treat as no"),
        "{}",
        f.because
    );
}

#[test]
fn every_question_that_applies_gets_an_answer_for_every_class() {
    use polecard::domain::asset::Class;
    for class in Class::ALL {
        let position: Position =
            serde_json::from_value(serde_json::json!({"position": "P", "class": class})).unwrap();
        let facts = Facts {
            position,
            units: vec![],
            defects: vec![],
            spans: vec![],
            conductors: std::collections::BTreeMap::new(),
            nominal_kv_ll: None,
            grounding: None,
            x0_over_x1: None,
            protecting: None,
        };
        let r = report(&facts, &Typed::default(), &Choices::default(), vec![]);
        assert_eq!(r.verdict, Verdict::Unknown, "{class}: nothing is known");
        assert!(!r.findings.is_empty(), "{class}");
    }
}

#[test]
fn every_position_of_the_demo_gets_a_verdict_or_a_named_unknown() {
    use polecard::domain::asset::Kind;
    let dir = tempfile::tempdir().unwrap();
    let mut store = Store::create(&dir.path().join("r.polecard")).unwrap();
    let data = Path::new(env!("CARGO_MANIFEST_DIR")).join("data/demo");
    import(&mut store, &Source::at(&data).unwrap(), "hb", now(), false).unwrap();
    let mut seen = std::collections::BTreeSet::new();
    for stored in store.all(Kind::Position).unwrap() {
        let r = check_position(&store, &stored, &Typed::default(), today()).unwrap();
        seen.insert(r.verdict.word());
        for f in &r.findings {
            let named = f.read_next.is_some()
                || f.because.contains("No better than unknown")
                || f.because.contains("No rule here answers");
            assert!(
                f.verdict != Verdict::Unknown || named,
                "{}: {} {}: {}",
                r.name,
                f.element,
                f.question,
                f.because
            );
        }
        let fails = r.findings.iter().filter(|f| f.verdict == Verdict::Fails);
        let stops = r.cautions.iter().filter(|c| c.text.contains(" fails "));
        assert_eq!(fails.count(), stops.count(), "{}", r.name);
    }
    for verdict in ["within", "fails", "unknown"] {
        assert!(seen.contains(verdict), "no position is {verdict}");
    }
}

// ---- properties -----------------------------------------------------------

const SHAPES: &[(&str, &str, &str)] = &[
    (
        "recloser, hydraulic",
        "{position: P, class: recloser, phases: ABC, structure: S, toward: T, elements: [{element: lead, conductor: wire}, {element: unit}, {element: connector, amps: 200}], bypass: [{element: blade, amps: 300}], available_fault: {amps: 2000, x_over_r: 5, kind: three-phase}, peak_load: {amps: 60}}",
        "{control: hydraulic, coil_amps: 100, interrupting_amps: 4000, test_x_over_r: 8, max_kv: 15.5}",
    ),
    (
        "recloser, electronic",
        "{position: P, class: recloser, phases: ABC, structure: S, toward: T, settings: {phase_pickup_amps: 200}, available_fault: {amps: 2000, kind: three-phase}, peak_load: {amps: 60}}",
        "{control: electronic, continuous_amps: 560, interrupting_amps: 8000, test_x_over_r: 12, max_kv: 15.5}",
    ),
    (
        "cutout",
        "{position: P, class: cutout, phases: A, structure: S, toward: T, elements: [{element: cutout, amps: 100, interrupting_amps: 7100, interrupting_asym_amps: 10000, max_kv: 15.5}, {element: link, link: 40K}], available_fault: {amps: 2000, x_over_r: 5, kind: line-ground}, peak_load: {amps: 30}}",
        "",
    ),
    (
        "cutout unit",
        "{position: P, class: cutout, phases: A, structure: S, toward: T, elements: [{element: unit}, {element: link, link: 40K}], available_fault: {amps: 2000, x_over_r: 5, kind: line-ground}, peak_load: {amps: 30}}",
        "{holder_amps: 100, interrupting_amps: 7100, test_x_over_r: 9, max_kv: 15.5}",
    ),
    (
        "switch",
        "{position: P, class: switch, phases: ABC, structure: S, toward: T, available_fault: {amps: 2000, x_over_r: 5, kind: three-phase}, peak_load: {amps: 60}}",
        "{continuous_amps: 400, momentary_amps: 20000, max_kv: 15.5}",
    ),
    (
        "sectionalizer",
        "{position: P, class: sectionalizer, phases: ABC, structure: S, toward: T, available_fault: {amps: 2000, x_over_r: 5, kind: three-phase}, peak_load: {amps: 60}}",
        "{coil_amps: 100, momentary_amps: 8000, max_kv: 15.5}",
    ),
    (
        "regulator",
        "{position: P, class: regulator, phases: ABC, structure: S, toward: T, settings: {raise_limit_percent: 5, lower_limit_percent: 5}, available_fault: {amps: 2000, kind: three-phase}, peak_load: {amps: 60}}",
        "{continuous_amps: 219, max_kv: 15.5}",
    ),
    (
        "breaker",
        "{position: P, class: breaker, phases: ABC, structure: S, toward: T, settings: {phase_pickup_amps: 480}, available_fault: {amps: 2000, x_over_r: 12, kind: three-phase}, peak_load: {amps: 60}}",
        "{continuous_amps: 1200, interrupting_amps: 20000, test_x_over_r: 17, momentary_amps: 40000, max_kv: 15.5}",
    ),
    (
        "transformer",
        "{position: P, class: transformer, phases: A, structure: S, available_fault: {amps: 2000, x_over_r: 5, kind: line-ground}, peak_load: {amps: 3}}",
        "{kva: 50, primary_kv: 7.2, phases: 1}",
    ),
];

fn facts_of(name: &str) -> Facts {
    let (_, position, plate) = SHAPES.iter().find(|(n, ..)| *n == name).unwrap();
    let position: Position = serde_yaml::from_str(position).unwrap();
    let units = if plate.is_empty() {
        vec![]
    } else {
        vec![UnitHere {
            unit: Unit {
                unit: "U".into(),
                id: RecordId::default(),
                class: position.class,
                names: vec![],
                nameplate: serde_yaml::from_str(plate).unwrap(),
                deployments: vec![],
                note: None,
            },
            slot: None,
            also_at: None,
        }]
    };
    let span: Span = serde_yaml::from_str("span: {from: S, to: T, conductor: wire}").unwrap();
    let wire: Conductor =
        serde_yaml::from_str("{conductor: wire, ampacity_amps: 240, conditions: as stated}")
            .unwrap();
    Facts {
        position,
        units,
        defects: vec![],
        spans: vec![span],
        conductors: std::collections::BTreeMap::from([("wire".to_string(), wire)]),
        nominal_kv_ll: Some(12.47),
        grounding: None,
        x0_over_x1: None,
        protecting: None,
    }
}

/// A rating that can be turned: where it is, and the questions it bears on.
#[derive(Debug, Clone)]
enum Knob {
    Plate(&'static str),
    Element(usize, &'static str),
    Setting(&'static str),
    Wire,
}

fn bears(key: &str) -> &'static [Question] {
    match key {
        "coil_amps" => &[Question::Carry, Question::Ride],
        "continuous_amps" | "holder_amps" | "amps" | "link" | "kva" | "primary_kv" | "wire" => {
            &[Question::Carry]
        }
        "phase_pickup_amps" => &[Question::Ride],
        "interrupting_amps" | "interrupting_asym_amps" | "test_x_over_r" => &[Question::Break],
        "max_kv" | "momentary_amps" => &[Question::Stand],
        _ => &[],
    }
}

impl Knob {
    fn key(&self) -> &'static str {
        match self {
            Knob::Plate(key) | Knob::Element(_, key) | Knob::Setting(key) => key,
            Knob::Wire => "wire",
        }
    }

    /// The questions it bears on here: a sectionalizer does not ride.
    fn questions(&self, r: &CheckReport) -> Vec<Question> {
        let asked = |q: &Question| {
            r.questions
                .get(*q)
                .is_some_and(|v| v != Verdict::NotApplicable)
        };
        bears(self.key()).iter().copied().filter(asked).collect()
    }

    fn turn(&self, facts: &mut Facts, how: impl Fn(&Stated) -> Stated) {
        match self {
            Knob::Plate(key) => {
                let plate = &mut facts.units[0].unit.nameplate;
                let new = how(&plate.stated(key));
                plate.set(key, new).unwrap();
            }
            Knob::Setting(key) => {
                let new = how(&facts.position.settings.stated(key));
                facts.position.settings.set(key, new).unwrap();
            }
            Knob::Wire => {
                let wire = facts.conductors.get_mut("wire").unwrap();
                wire.ampacity_amps = wire.ampacity_amps.as_ref().map(how);
            }
            Knob::Element(at, key) => {
                let e = &mut facts.position.elements[*at];
                let slot = match *key {
                    "amps" => &mut e.amps,
                    "link" => &mut e.link,
                    "interrupting_amps" => &mut e.interrupting_amps,
                    "interrupting_asym_amps" => &mut e.interrupting_asym_amps,
                    "max_kv" => &mut e.max_kv,
                    other => panic!("no element rating {other}"),
                };
                *slot = slot.as_ref().map(how);
            }
        }
    }
}

fn knobs(facts: &Facts) -> Vec<Knob> {
    let mut out = Vec::new();
    if let Some(here) = facts.units.first() {
        let keys = here.unit.nameplate.iter().map(|(f, _)| f.key);
        out.extend(keys.filter(|k| !bears(k).is_empty()).map(Knob::Plate));
    }
    let set = facts.position.settings.iter().map(|(f, _)| f.key);
    out.extend(set.filter(|k| !bears(k).is_empty()).map(Knob::Setting));
    for (at, e) in facts.position.elements.iter().enumerate() {
        let given = [
            ("amps", &e.amps),
            ("link", &e.link),
            ("interrupting_amps", &e.interrupting_amps),
            ("interrupting_asym_amps", &e.interrupting_asym_amps),
            ("max_kv", &e.max_kv),
        ];
        for (key, stated) in given {
            if stated.is_some() {
                out.push(Knob::Element(at, key));
            }
        }
    }
    if facts.position.class.in_series() {
        out.push(Knob::Wire);
    }
    out
}

#[derive(Debug, Clone)]
struct Asking {
    load: f64,
    fault: f64,
    x_over_r: Option<f64>,
    kind: Option<FaultKind>,
}

fn asking() -> impl Strategy<Value = Asking> {
    (
        0.0..900.0_f64,
        0.0..25_000.0_f64,
        proptest::option::of(0.5..60.0_f64),
        proptest::option::of(proptest::sample::select(FaultKind::ALL)),
        0.02..1.0_f64,
    )
        .prop_map(|(load, fault, x_over_r, kind, unit_share)| Asking {
            // Small loads as often as large ones: a pass must be common.
            load: load * unit_share,
            fault: fault * unit_share,
            x_over_r,
            kind,
        })
}

impl Asking {
    fn typed(&self) -> Typed {
        Typed {
            load: amps(self.load),
            fault: amps(self.fault),
            fault_kind: self.kind,
            x_over_r: self.x_over_r.map(|x| XOverR::new(x).unwrap()),
            ..Typed::default()
        }
    }

    fn judge(&self, facts: &Facts) -> CheckReport {
        report(facts, &self.typed(), &Choices::default(), vec![])
    }
}

fn shape() -> impl Strategy<Value = Facts> {
    (0..SHAPES.len()).prop_map(|i| facts_of(SHAPES[i].0))
}

#[test]
fn the_shapes_pass_before_they_are_spoilt() {
    let quiet = Asking {
        load: 2.0,
        fault: 100.0,
        x_over_r: Some(2.0),
        kind: None,
    };
    for (name, ..) in SHAPES {
        let r = quiet.judge(&facts_of(name));
        let facts = facts_of(name);
        for knob in knobs(&facts) {
            for q in knob.questions(&r) {
                let passes = r.questions.get(q).unwrap().passes();
                assert!(passes, "{name}: {q} by {knob:?}: {:#?}", r.governing(q));
            }
        }
    }
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(200))]

    #[test]
    fn an_unknown_rating_never_passes(facts in shape(), ask in asking(), remove in any::<bool>()) {
        for knob in knobs(&facts) {
            let before = ask.judge(&facts);
            let mut spoilt = facts.clone();
            knob.turn(&mut spoilt, |_| Stated::unknown());
            // A breaker rated on the newer basis has no momentary rating to be silent about.
            let breaker = facts.position.class == polecard::domain::asset::Class::Breaker;
            if remove && let Knob::Plate(key) = knob && !(breaker && key == "momentary_amps") {
                spoilt.units[0].unit.nameplate.remove(key);
            }
            let after = ask.judge(&spoilt);
            for q in knob.questions(&before) {
                let verdict = after.questions.get(q).unwrap();
                prop_assert!(!verdict.passes(), "{knob:?} {q}: {:#?}", after.governing(q));
            }
        }
    }

    #[test]
    fn an_assumed_rating_never_passes_and_still_fails(facts in shape(), ask in asking()) {
        for knob in knobs(&facts) {
            let before = ask.judge(&facts);
            let mut spoilt = facts.clone();
            knob.turn(&mut spoilt, |s| Stated {
                standing: Standing::Assumed,
                rule: Some("by class".into()),
                ..s.clone()
            });
            let after = ask.judge(&spoilt);
            for q in knob.questions(&before) {
                let (was, is) = (before.questions.get(q).unwrap(), after.questions.get(q).unwrap());
                prop_assert!(!is.passes(), "{knob:?} {q}: {:#?}", after.governing(q));
                prop_assert_eq!(was == Verdict::Fails, is == Verdict::Fails);
            }
        }
    }

    #[test]
    fn a_defect_that_bears_never_leaves_a_pass(
        facts in shape(),
        ask in asking(),
        defect in proptest::sample::select(Defect::ALL),
        on_unit in any::<bool>(),
    ) {
        let before = ask.judge(&facts);
        let mut spoilt = facts.clone();
        let of = match facts.units.first() {
            Some(here) if on_unit => Of::Unit(here.unit.unit.clone()),
            _ => Of::Place("P".into()),
        };
        spoilt.defects.push(OpenDefect { defect, of, seen: None, notice: None });
        let after = ask.judge(&spoilt);
        let row = DEFECTS.iter().find(|r| r.defect == defect).unwrap();
        for (q, was) in &before.questions.0 {
            let is = after.questions.get(*q).unwrap();
            let asked_of_unit = before.findings.iter().any(|f| {
                f.question == *q && (!on_unit || facts.units.is_empty() || f.element.ends_with(" U"))
                    && f.verdict != Verdict::NotApplicable
            });
            if row.bears_on.contains(q) && asked_of_unit {
                prop_assert!(!is.passes(), "{defect} {q}: {was} then {is}");
            } else {
                prop_assert_eq!(*was, is, "{} does not bear on {}", defect, q);
            }
        }
    }

    #[test]
    fn a_lower_rating_improves_no_verdict(
        facts in shape(),
        ask in asking(),
        share in 0.05..1.0_f64,
    ) {
        let before = ask.judge(&facts);
        for knob in knobs(&facts) {
            if matches!(knob.key(), "link" | "primary_kv" | "coil_amps" | "test_x_over_r") {
                continue;
            }
            let mut lower = facts.clone();
            let mut allowed = true;
            knob.turn(&mut lower, |s| Stated::number(s.as_number().unwrap() * share));
            if let Knob::Plate(key) = knob {
                allowed = lower.units[0].unit.nameplate.number(key).is_some();
            }
            prop_assert!(allowed);
            let after = ask.judge(&lower);
            for q in knob.questions(&before) {
                let (was, is) = (before.questions.get(q).unwrap(), after.questions.get(q).unwrap());
                prop_assert!(is >= was, "{knob:?} x {share} {q}: {was} then {is}");
            }
        }
    }

    #[test]
    fn more_load_or_fault_improves_no_verdict(
        facts in shape(),
        ask in asking(),
        more in 1.0..4.0_f64,
    ) {
        let before = ask.judge(&facts);
        let loaded = Asking { load: ask.load * more, ..ask.clone() }.judge(&facts);
        let faulted = Asking { fault: ask.fault * more, ..ask.clone() }.judge(&facts);
        for (after, questions) in [
            (&loaded, [Question::Carry, Question::Ride]),
            (&faulted, [Question::Break, Question::Stand]),
        ] {
            for q in questions {
                let (was, is) = (before.questions.get(q).unwrap(), after.questions.get(q).unwrap());
                prop_assert!(is >= was, "{q}: {was} then {is}");
            }
        }
    }

    #[test]
    fn the_worst_element_governs_and_questions_are_not_blended(facts in shape(), ask in asking()) {
        let r = ask.judge(&facts);
        for (q, verdict) in &r.questions.0 {
            let of: Vec<_> = r.findings.iter().filter(|f| f.question == *q).collect();
            let worst = of.iter().map(|f| f.verdict).max().unwrap_or(Verdict::NotApplicable);
            prop_assert_eq!(*verdict, worst);
            if let Some(governs) = governing(&r.findings, *q) {
                prop_assert_eq!(governs.verdict, worst);
                for other in of.iter().filter(|f| f.verdict == worst) {
                    let margin = |m: Option<f64>| m.unwrap_or(f64::INFINITY);
                    prop_assert!(margin(governs.margin_percent) <= margin(other.margin_percent));
                }
            }
        }
        let worst = r.questions.0.iter().map(|(_, v)| *v).max().unwrap();
        prop_assert_eq!(r.verdict, worst);
        prop_assert!(r.findings.windows(2).all(|w| w[0].verdict >= w[1].verdict));
    }

    #[test]
    fn nothing_printed_sounds_like_leave_to_act(facts in shape(), ask in asking()) {
        let r = ask.judge(&facts);
        for text in r.findings.iter().map(|f| &f.because).chain(r.cautions.iter().map(|c| &c.text)) {
            let lower = text.to_lowercase();
            for word in [" is safe", "safe to", " dead.", "may be operated", "clear to", " ok"] {
                prop_assert!(!lower.contains(word), "{word}: {text}");
            }
        }
    }
}
