//! What must hold of every verdict: unknown and assumed never pass, a defect
//! that bears caps, worse figures improve nothing, the worst governs.

use polecard::domain::asset::{Defect, FaultKind, Standing, Stated};
use polecard::domain::finding::{DEFECTS, Question, Verdict};
use polecard::domain::nameplate::{Choices, Facts, Of, OpenDefect, governing};
use polecard::units::{Seconds, XOverR};
use polecard::work::check::{CheckReport, Typed, report};
use proptest::prelude::*;

use super::amps;
use super::shapes::{SHAPES, WIRE, facts_of};

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
        "link" => &[Question::Carry, Question::Ride],
        "continuous_amps" | "holder_amps" | "amps" | "kva" | "wire" | "kvar" => &[Question::Carry],
        "primary_kv" | "nominal_kv" => &[Question::Carry, Question::Stand],
        "phase_pickup_amps" | "ground_pickup_amps" => &[Question::Ride],
        "interrupting_amps" | "interrupting_asym_amps" | "test_x_over_r" => &[Question::Break],
        "max_kv" | "momentary_amps" | "making_amps" | "peak_amps" | "short_time_amps"
        | "short_time_s" | "impedance_percent" | "bil_kv" | "mcov_kv" | "tov_kv" | "tov_s"
        | "protected_bil_kv" | "lead_ft" | "discharge_kv" | "front_kv" => &[Question::Stand],
        _ => &[],
    }
}

/// Ratings that are asked only where the plate has them; a check says so.
const OPTIONAL: &[&str] = &[
    "making_amps",
    "peak_amps",
    "short_time_amps",
    "bil_kv",
    "front_kv",
    "duty_kv",
];

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
                let wire = facts.conductors.get_mut(WIRE).unwrap();
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
                    "momentary_amps" => &mut e.momentary_amps,
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
            ("momentary_amps", &e.momentary_amps),
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
            fault_time: Seconds::new(0.8).ok(),
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
            // Silence about these is no unknown: a plate need not have them.
            let breaker = facts.position.class == polecard::domain::asset::Class::Breaker;
            let optional = |key: &str| {
                OPTIONAL.contains(&key) || (breaker && key == "momentary_amps")
            };
            if remove && let Knob::Plate(key) = knob && !optional(key) {
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
        spoilt.defects.push(OpenDefect { defect, of, seen: polecard::domain::finding::Sighted::once(None), notice: None });
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
            if matches!(
                knob.key(),
                "link" | "primary_kv" | "coil_amps" | "test_x_over_r" | "kvar" | "nominal_kv"
                    | "mcov_kv" | "lead_ft" | "discharge_kv" | "front_kv"
            ) {
                continue;
            }
            let mut lower = facts.clone();
            let mut allowed = true;
            // What is lower than any real plate cannot be recorded.
            let least = if knob.key().ends_with("bil_kv") { 10.0 } else { 0.0 };
            knob.turn(&mut lower, |s| {
                Stated::number((s.as_number().unwrap() * share).max(least))
            });
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
