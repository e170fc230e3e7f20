//! The check through the register, and what must hold of every verdict.

mod properties;
mod rules;
mod shapes;
mod whole;

use std::path::Path;

use polecard::calendar::{Date, Moment};
use polecard::domain::asset::{Position, Stated};
use polecard::domain::finding::{Question, Severity, Verdict};
use polecard::domain::nameplate::{Choices, Connected, Facts, applies};
use polecard::exchange::{Source, import};
use polecard::store::Store;
use polecard::units::{Amps, XOverR};
use polecard::work::check::{CheckReport, Typed, check, report};

use self::shapes::facts_of;

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
nameplate: {control: hydraulic, interrupter: oil, coil_amps: 100, interrupting_amps: 4000, test_x_over_r: 8, max_kv: 15.5, model: QX}
deployments: [{at: HB2-RC-14, slot: ABC, from: 2018-06-04}]
---
entry: operation
of: 7-20931
"on": 2024-05-30
readings: {trips: 2, amps: 1450}
---
entry: counter
of: 7-20931
"on": 2025-04-02
readings: {counter: 2}
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
    // The fault was put to it, and another device has to clear: no pass.
    let r = checked("", "HB2-SC-2", &typed);
    assert_eq!(r.questions.get(Question::Break), Some(Verdict::Unknown));
    assert_eq!(r.exit_code(), 5);
    assert!(
        r.read_next
            .iter()
            .any(|n| n.contains("check recloser HB2-RC-14"))
    );
    let f = r.governing(Question::Break).unwrap();
    assert!(
        f.because.starts_with("Breaks nothing: recloser HB2-RC-14"),
        "{}",
        f.because
    );
    // Asked for a load alone, it answers for the load.
    let load_only = Typed {
        fault: None,
        ..typed
    };
    let r = checked("", "HB2-SC-2", &load_only);
    assert_eq!(
        r.questions.get(Question::Break),
        Some(Verdict::NotApplicable)
    );
    assert_eq!(r.questions.get(Question::Carry), Some(Verdict::Within));
}

#[test]
fn a_bypass_breaks_nothing_and_names_the_breaker() {
    let typed = Typed {
        bypass: true,
        ..Typed::default()
    };
    let r = checked("", "HB2-RC-14", &typed);
    let f = r.governing(Question::Break).unwrap();
    assert_eq!(f.verdict, Verdict::Unknown);
    assert_eq!(r.exit_code(), 5, "a bypass is never a pass");
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
    assert_eq!(f.verdict, Verdict::Unknown);
    assert!(
        f.because.contains("not known, treat as no"),
        "{}",
        f.because
    );
}

/// A cutout on a span of its own that nothing on record protects.
fn beyond_nothing(elements: &str, of: &str) -> String {
    format!(
        "---\nstructure: 41-1\nkind: pole\nfeeder: HB9\n---\nposition: X-1\nclass: {of}\nfeeder: HB9\nstructure: 41-1\nphases: ABC\nnormally: closed\nelements: [{elements}]\navailable_fault: {{amps: 2000, x_over_r: 5, kind: three-phase}}\npeak_load: {{amps: 20}}\n"
    )
}

#[test]
fn what_breaks_nothing_and_has_nothing_to_clear_for_it_is_unknown_typed_or_recorded() {
    let more = beyond_nothing(
        "{element: switch, amps: 400, momentary_amps: 20000, max_kv: 15.5}",
        "switch",
    );
    let typed = Typed {
        fault: amps(2_000.0),
        ..Typed::default()
    };
    for asked in [Typed::default(), typed] {
        let report = checked(&more, "X-1", &asked);
        assert_eq!(
            report.questions.get(Question::Break),
            Some(Verdict::Unknown)
        );
        assert!(
            report
                .read_next
                .iter()
                .any(|r| r.contains("none is on record"))
        );
    }
}

#[test]
fn a_phase_for_which_nothing_stands_is_unknown_and_named() {
    let of = |slot: &str| {
        beyond_nothing(
            &format!(
                "{{element: cutout, {slot}amps: 100, interrupting_amps: 7100, test_x_over_r: 8, max_kv: 15.5}}, {{element: link, link: 40K}}"
            ),
            "cutout",
        )
    };
    let unknown = |more: &str| {
        let report = checked(more, "X-1", &Typed::default());
        let found = report.findings.iter().any(|f| {
            f.element.contains("nothing on record in slot BC") && f.verdict == Verdict::Unknown
        });
        let read = report.read_next.iter().any(|r| r.contains("slot BC"));
        (found, read)
    };
    assert_eq!(unknown(&of("slot: A, ")), (true, true));
    assert_eq!(unknown(&of("")), (false, false));
}
