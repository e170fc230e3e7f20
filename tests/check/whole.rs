//! What is beyond a device, and the whole of the demo.

use super::*;

/// 12 times full load of the greatest phase, of the transformers beyond, one of
/// unread kVA named as a doubt.
#[test]
fn energizing_counts_the_transformers_beyond_by_phase() {
    let more = r#"---
position: HB2-FC-1
class: cutout
feeder: HB2
structure: 40-118
toward: 40-119
phases: ABC
normally: closed
elements: [{element: cutout, amps: 100}, {element: link, link: 40K}]
---
position: HB2-TR-1
class: transformer
feeder: HB2
structure: 40-119
phases: A
---
position: HB2-TR-2
class: transformer
feeder: HB2
structure: 40-119
phases: A
---
position: HB2-TR-3
class: transformer
feeder: HB2
structure: 40-119
phases: B
---
unit: T-1
class: transformer
nameplate: {kva: 25, phases: 1}
deployments: [{at: HB2-TR-1}]
---
unit: T-2
class: transformer
nameplate: {kva: 50, phases: 1}
deployments: [{at: HB2-TR-2}]
---
unit: T-3
class: transformer
nameplate: {kva: 37.5, phases: 1}
deployments: [{at: HB2-TR-3}]
"#;
    let typed = Typed {
        load: amps(10.0),
        outage: polecard::units::Minutes::new(20.0).ok(),
        ..Typed::default()
    };
    let r = checked(more, "HB2-FC-1", &typed);
    let f = r.findings.iter().find(|f| f.rule == "ride-inrush").unwrap();
    let by_hand = 75.0 / (12.47 / 3.0_f64.sqrt()) * 12.0;
    assert!((f.value.unwrap() - by_hand).abs() < 1e-6, "{}", f.because);
    assert_eq!(f.verdict, Verdict::Within, "{}", f.because);
    let unread = more.replace("kva: 37.5, ", "");
    let r = checked(&unread, "HB2-FC-1", &typed);
    let f = r.findings.iter().find(|f| f.rule == "ride-inrush").unwrap();
    assert_eq!(f.verdict, Verdict::Unknown, "{}", f.because);
    assert!(f.because.contains("1 more of unread"), "{}", f.because);
}

/// Every unknown names what to read, and every question that applies to a thing
/// in series has a finding about that very thing.
fn answered(facts: &Facts, r: &CheckReport) {
    for f in &r.findings {
        let named = f.read_next.is_some()
            || f.because.contains("No better than unknown")
            || f.because.contains("No rule here puts");
        let (element, question) = (&f.element, f.question);
        assert!(
            f.verdict != Verdict::Unknown || named,
            "{}: {element} {question}: {}",
            r.name,
            f.because
        );
    }
    for subject in facts.subjects(false) {
        for q in Question::ALL.iter().filter(|q| applies(**q, subject.part)) {
            let found = r
                .findings
                .iter()
                .any(|f| f.question == *q && f.element == subject.called && f.slot == subject.slot);
            assert!(found, "{}: nobody asked {q} of {}", r.name, subject.called);
        }
    }
}

/// Each question that applies to a thing in series gets an answer about that
/// very thing: a verdict with figures, or an unknown that names what to read.
#[test]
fn every_position_of_the_demo_gets_a_verdict_or_a_named_unknown() {
    use polecard::domain::asset::Kind;
    use polecard::units::{Minutes, Seconds};
    let dir = tempfile::tempdir().unwrap();
    let mut store = Store::create(&dir.path().join("r.polecard")).unwrap();
    let data = Path::new(env!("CARGO_MANIFEST_DIR")).join("data/demo");
    import(&mut store, &Source::at(&data).unwrap(), "hb", now(), false).unwrap();
    let mut seen = std::collections::BTreeSet::new();
    let mut spoke = std::collections::BTreeSet::new();
    let asked_more = Typed {
        load: amps(20.0),
        fault: amps(900.0),
        min_fault: amps(300.0),
        outage: Minutes::new(45.0).ok(),
        fault_time: Seconds::new(1.2).ok(),
        ..Typed::default()
    };
    for stored in store.all(Kind::Position).unwrap() {
        let mut facts = polecard::work::facts::facts(&store, &stored, today())
            .unwrap()
            .unwrap();
        facts.connected = Some(Connected {
            phase_kva: Some(100.0),
            origin: "put in by the test".into(),
            doubt: None,
        });
        for typed in [Typed::default(), asked_more] {
            let r = report(&facts, &typed, &Choices::default(), vec![]);
            seen.insert(r.verdict.word());
            spoke.extend(r.findings.iter().map(|f| f.rule));
            answered(&facts, &r);
            let fails = r.findings.iter().filter(|f| f.verdict == Verdict::Fails);
            let stops = r.cautions.iter().filter(|c| c.text.contains(" fails "));
            assert_eq!(fails.count(), stops.count(), "{}", r.name);
            let lengths: Vec<usize> = r.read_next.iter().map(String::len).collect();
            assert!(lengths.is_sorted(), "shortest first: {:?}", r.read_next);
            let worst_first = r.findings.windows(2).all(|w| w[0].verdict >= w[1].verdict);
            assert!(worst_first, "{}", r.name);
        }
    }
    for verdict in ["within", "fails", "unknown"] {
        assert!(seen.contains(verdict), "no position is {verdict}");
    }
    assert!(spoke.len() >= 40, "{} rules spoke: {spoke:?}", spoke.len());
}

#[test]
fn every_question_that_applies_gets_an_answer_for_every_class() {
    use polecard::domain::asset::Class;
    for class in Class::ALL {
        let position: Position =
            serde_json::from_value(serde_json::json!({"position": "P", "class": class})).unwrap();
        let facts = Facts {
            units: vec![],
            defects: vec![],
            spans: vec![],
            conductors: std::collections::BTreeMap::new(),
            nominal_kv_ll: None,
            grounding: None,
            ..Facts::of(position)
        };
        let r = report(&facts, &Typed::default(), &Choices::default(), vec![]);
        assert_eq!(r.verdict, Verdict::Unknown, "{class}: nothing is known");
        assert!(!r.findings.is_empty(), "{class}");
    }
}
