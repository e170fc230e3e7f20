//! Every rule by the example it carries: what must hold of each without anybody
//! naming the rule here.

use polecard::domain::asset::{Element, Field, Holds, PLATE, SETTINGS, Standing, Stated};
use polecard::domain::finding::{DEFECTS, Finding, Question, Verdict};
use polecard::domain::nameplate::{Facts, Of, OpenDefect, Part, Rule, governing, judge, rules};
use polecard::work::rules::Sample;
use proptest::prelude::*;

/// Where a recorded value can stand in an example.
#[derive(Debug, Clone, Copy)]
enum Stands {
    Plate,
    Setting,
    Element(usize),
    Wire,
}

/// The places in an example at which a key is recorded.
fn places(sample: &Sample, key: &str) -> Vec<Stands> {
    let mut out = Vec::new();
    if sample.plate.get(key).is_some() {
        out.push(Stands::Plate);
    }
    if sample.settings.get(key).is_some() {
        out.push(Stands::Setting);
    }
    for (at, element) in sample.elements.iter().enumerate() {
        if of_element(&mut element.clone(), key).is_some() {
            out.push(Stands::Element(at));
        }
    }
    if key == "ampacity_amps" {
        out.push(Stands::Wire);
    }
    out
}

fn of_element<'a>(e: &'a mut Element, key: &str) -> Option<&'a mut Stated> {
    match key {
        "amps" => e.amps.as_mut(),
        "link" => e.link.as_mut(),
        "interrupting_amps" => e.interrupting_amps.as_mut(),
        "interrupting_asym_amps" => e.interrupting_asym_amps.as_mut(),
        "test_x_over_r" => e.test_x_over_r.as_mut(),
        "momentary_amps" => e.momentary_amps.as_mut(),
        "max_kv" => e.max_kv.as_mut(),
        "bil_kv" => e.bil_kv.as_mut(),
        _ => None,
    }
}

/// The example with one value turned.
fn turned(sample: &Sample, key: &str, at: Stands, how: &dyn Fn(&Stated) -> Stated) -> Facts {
    let mut sample = sample.clone();
    match at {
        Stands::Plate => {
            let new = how(&sample.plate.stated(key));
            sample.plate.set(key, new).unwrap();
        }
        Stands::Setting => {
            let new = how(&sample.settings.stated(key));
            sample.settings.set(key, new).unwrap();
        }
        Stands::Element(i) => {
            let value = of_element(&mut sample.elements[i], key).unwrap();
            *value = how(value);
        }
        Stands::Wire => {}
    }
    let mut facts = sample.facts();
    if matches!(at, Stands::Wire) {
        for wire in facts.conductors.values_mut() {
            wire.ampacity_amps = wire.ampacity_amps.as_ref().map(how);
        }
    }
    facts
}

fn said(rule: &Rule, sample: &Sample, facts: &Facts) -> Vec<Finding> {
    judge(facts, &sample.asked(), &sample.choices())
        .into_iter()
        .filter(|f| f.question == rule.question)
        .collect()
}

/// What the rule itself answers, and the worst of its question.
fn answers(rule: &Rule, sample: &Sample, facts: &Facts) -> (Option<Verdict>, Verdict) {
    let all = said(rule, sample, facts);
    let own = all
        .iter()
        .filter(|f| f.rule == rule.name)
        .map(|f| f.verdict)
        .max();
    (own, Verdict::worst(all.iter().map(|f| f.verdict)))
}

fn figures() -> impl Iterator<Item = (&'static Rule, Sample)> {
    rules().map(|r| (r, Sample::of(r))).filter(|(r, s)| {
        let own = answers(r, s, &s.facts()).0;
        own.is_some_and(Verdict::passes)
    })
}

#[test]
fn what_a_rule_rests_on_stands_in_its_example() {
    for (rule, sample) in figures() {
        let recorded = rule.rests_on.iter().any(|k| !places(&sample, k).is_empty());
        assert!(
            recorded || rule.rests_on.is_empty(),
            "{}: {:?}",
            rule.name,
            rule.rests_on
        );
    }
    let resting = figures().filter(|(r, _)| !r.rests_on.is_empty()).count();
    assert!(resting >= 45, "{resting}");
}

#[test]
fn unknown_or_assumed_in_any_of_them_is_no_pass() {
    for (rule, sample) in figures() {
        for key in rule.rests_on {
            for at in places(&sample, key) {
                // An element of another kind answers the question, not this rule.
                let asked = match at {
                    Stands::Element(i) => {
                        rule.on.contains(&Part::Element(sample.elements[i].element))
                    }
                    _ => true,
                };
                let unknown = turned(&sample, key, at, &|_| Stated::unknown());
                let (own, question) = answers(rule, &sample, &unknown);
                assert!(
                    !(asked && own.is_some_and(Verdict::passes)),
                    "{} without {key}: {own:?}",
                    rule.name
                );
                assert!(
                    !question.passes(),
                    "{} without {key}: {question}",
                    rule.name
                );
                let assumed = turned(&sample, key, at, &|s| Stated {
                    standing: Standing::Assumed,
                    rule: Some("by class".into()),
                    ..s.clone()
                });
                let (own, question) = answers(rule, &sample, &assumed);
                assert!(
                    !(asked && own.is_some_and(Verdict::passes)),
                    "{} with {key} assumed",
                    rule.name
                );
                assert!(
                    !question.passes(),
                    "{} with {key} assumed: {question}",
                    rule.name
                );
            }
        }
    }
}

#[test]
fn a_defect_that_bears_on_its_question_leaves_it_no_pass() {
    for (rule, sample) in figures() {
        for row in DEFECTS
            .iter()
            .filter(|d| d.bears_on.contains(&rule.question))
        {
            let mut facts = sample.facts();
            facts.defects.push(OpenDefect {
                defect: row.defect,
                of: Of::Place("EX-1".into()),
                seen: polecard::domain::finding::Sighted::once(None),
                notice: None,
            });
            let (own, question) = answers(rule, &sample, &facts);
            assert!(
                !own.is_some_and(Verdict::passes),
                "{}: {}",
                rule.name,
                row.defect
            );
            assert!(!question.passes(), "{}: {}", rule.name, row.defect);
        }
    }
}

/// Ratings of which less is never better, and more of which never worse, for
/// the question of the rule. A rated voltage of a transformer is both a limit
/// and a divisor, a coil both carries and trips, and an X/R or a BIL of what is
/// protected is on the other side: they are left out here.
const MORE_IS_BETTER: &[&str] = &[
    "continuous_amps",
    "holder_amps",
    "amps",
    "ampacity_amps",
    "interrupting_amps",
    "momentary_amps",
    "making_amps",
    "peak_amps",
    "short_time_amps",
    "short_time_s",
    "max_kv",
    "bil_kv",
    "tov_kv",
    "protected_bil_kv",
    "kva",
];

proptest! {
    #![proptest_config(ProptestConfig::with_cases(12))]

    #[test]
    fn a_lower_rating_improves_no_verdict_of_its_question(share in 0.2..1.0_f64) {
        for (rule, sample) in figures() {
            let before = answers(rule, &sample, &sample.facts());
            for key in rule.rests_on.iter().filter(|k| MORE_IS_BETTER.contains(k)) {
                for at in places(&sample, key) {
                    let lower = turned(&sample, key, at, &|s| {
                        Stated::number((s.as_number().unwrap() * share).max(0.2))
                    });
                    let after = answers(rule, &sample, &lower);
                    prop_assert!(
                        after.1 >= before.1,
                        "{} with {} x {}: {} then {}", rule.name, key, share, before.1, after.1
                    );
                    if let (Some(was), Some(is)) = (before.0, after.0) {
                        prop_assert!(is >= was, "{} itself", rule.name);
                    }
                }
            }
        }
    }

    #[test]
    fn more_load_fault_outage_or_time_improves_no_verdict(more in 1.0..30.0_f64) {
        for (rule, sample) in figures() {
            let before = answers(rule, &sample, &sample.facts());
            let mut raised: Vec<Sample> = Vec::new();
            let mut raise = |on: &[Question], change: &dyn Fn(&mut Sample)| {
                if on.contains(&rule.question) {
                    let mut s = sample.clone();
                    change(&mut s);
                    raised.push(s);
                }
            };
            let times = |v: &mut Option<f64>| *v = v.map(|v| v * more);
            raise(&[Question::Carry, Question::Ride], &|s| times(&mut s.load));
            raise(&[Question::Ride], &|s| times(&mut s.unbalance));
            raise(&[Question::Ride], &|s| times(&mut s.outage_min));
            raise(&[Question::Ride], &|s| times(&mut s.connected_kva));
            raise(&[Question::Break, Question::Stand], &|s| times(&mut s.fault));
            raise(&[Question::Break, Question::Stand], &|s| times(&mut s.x_over_r));
            raise(&[Question::Break, Question::Stand], &|s| s.x_over_r = None);
            raise(&[Question::Stand], &|s| times(&mut s.fault_on_s));
            raise(&[Question::Stand], &|s| times(&mut s.kv_ll));
            raise(&[Question::See], &|s| s.min_fault = s.min_fault.map(|v| v / more));
            for s in raised {
                let after = answers(rule, &s, &s.facts());
                prop_assert!(after.1 >= before.1, "{}: {} then {}", rule.name, before.1, after.1);
            }
        }
    }

    #[test]
    fn the_worst_of_the_example_governs(more in 0.2..8.0_f64) {
        for rule in rules() {
            let mut sample = Sample::of(rule);
            sample.load = sample.load.map(|l| l * more);
            sample.fault = sample.fault.map(|f| f * more);
            let all = sample.judge();
            for q in Question::ALL {
                let worst = all.iter().filter(|f| f.question == *q).map(|f| f.verdict).max();
                prop_assert_eq!(governing(&all, *q).map(|f| f.verdict), worst);
            }
            for f in &all {
                if let (Some(value), Some(limit), true) = (f.value, f.limit, f.verdict.passes()) {
                    let at_least = f.margin_percent.is_some_and(|m| (m > 0.0) == (value > limit));
                    prop_assert!(value <= limit || at_least, "{}: {value} of {limit}", f.rule);
                }
            }
        }
    }
}

/// With the settings of an electronic control the fault-on time follows from its
/// curves. More fault never takes heat away.
#[test]
fn heat_by_the_settings_never_falls_with_the_fault() {
    for (curve, convention) in [
        ("very inverse, TD 0.5", "IEEE C37.112, TD as printed"),
        ("extremely inverse, TD 4", "IEEE C37.112, TD as printed"),
        ("moderately inverse, TD 1", "IEEE C37.112, TD as printed"),
        ("extremely inverse, TMS 0.3", "IEC 60255-151"),
        ("very inverse, TMS 0.2", "IEC 60255-151"),
    ] {
        let sample: Sample = serde_json::from_value(serde_json::json!({
            "class": "breaker",
            "plate": {"continuous_amps": 1200},
            "settings": {
                "phase_pickup_amps": 200, "fast_trips": 1, "delayed_trips": 2,
                "fast_curve": curve, "delayed_curve": curve, "dial_convention": convention,
            },
        }))
        .unwrap();
        let mut worst = 0.0_f64;
        let mut judged = 0;
        for step in 0..400 {
            let mut sample = sample.clone();
            let amps = 300.0 * 1.01_f64.powi(step);
            sample.fault = Some(amps);
            let all = sample.judge();
            let Some(f) = all.iter().find(|f| f.rule == "stand-wire-heat") else {
                assert!(amps < 800.0, "{curve}: silent at {amps}");
                continue;
            };
            let used = f.value.unwrap() / f.limit.unwrap();
            assert!(
                used >= worst - 1e-9,
                "{curve} at {amps}: {used} after {worst}"
            );
            worst = used;
            judged += 1;
        }
        assert!(judged > 200, "{curve}: {judged}");
    }
}

#[test]
fn the_tables_of_fields_hold_what_the_rules_rest_on() {
    let keys: Vec<&str> = PLATE
        .iter()
        .chain(SETTINGS)
        .map(|f: &Field| f.key)
        .collect();
    let elsewhere = ["amps", "link", "ampacity_amps"];
    for rule in rules() {
        for key in rule.rests_on {
            assert!(
                keys.contains(key) || elsewhere.contains(key),
                "{}: {key}",
                rule.name
            );
        }
    }
    let numbers = PLATE
        .iter()
        .filter(|f| matches!(f.holds, Holds::Number { .. }))
        .count();
    assert!(numbers > 20);
}
