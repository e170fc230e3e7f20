//! Ride after an outage. Two things, kept apart: magnetizing inrush of the
//! transformers that are energized together, and cold load, which grows with the
//! length of the outage. Each is held against the device's curve at that time,
//! never against bare minimum trip; without a curve the answer is unknown.

use super::bound::{Ask, Bound, Compare, short};
use super::choices::{
    COLD_1, COLD_10, COLD_FULL, COLD_LONG, COLD_LONG_S, INRUSH, INRUSH_FIRST, TIGHT,
};
use super::facts::{Part, Subject};
use super::timing::opens_within;
use super::transformer::inrush_amps;
use super::{Case, Rule, element, unit};
use crate::domain::asset::{Class, ElementKind};
use crate::domain::finding::{Finding, Question, RuleStanding, Verdict};

const ON: &[Part] = &[
    unit(Class::Recloser),
    unit(Class::Breaker),
    element(ElementKind::Link),
];
const NEEDS_KVA: &[&str] = &[
    "an outage to be energized after",
    "kVA of the transformers beyond",
    "nominal voltage",
    "time-current curve, or the link",
];
const NEEDS_LOAD: &[&str] = &[
    "how long the outage lasted",
    "load before it",
    "time-current curve, or the link",
];
const ELECTRONIC: &str = r#"{"class": "breaker", "plate": {"continuous_amps": 1200}, "settings": {"phase_pickup_amps": 480, "fast_trips": 1, "delayed_trips": 2, "fast_curve": "very inverse, TD 2", "delayed_curve": "very inverse, TD 4", "dial_convention": "IEEE C37.112, TD as printed", "instantaneous": "none"}, "load": 200, "outage_min": 60}"#;
const LINK: &str = r#"{"class": "cutout", "phases": "A", "elements": [{"element": "cutout", "amps": 100}, {"element": "link", "link": "40K"}], "load": 20, "outage_min": 60, "connected_kva": 100}"#;

pub static RULES: &[Rule] = &[
    Rule {
        name: "ride-inrush-first",
        on: ON,
        needs: NEEDS_KVA,
        formula: "full load of the connected transformers x 25 < what opens it within 0.01 s",
        source: "25 x for 0.01 s: a trade webzine, a switch control's manual and a utility's line-fuse rule; link tables are from memory",
        standing: RuleStanding::Read,
        choices: &[TIGHT, INRUSH_FIRST],
        rests_on: &["link"],
        example: LINK,
        judge: |rule, case, subject| inrush(rule, case, subject, INRUSH_FIRST, 0.01),
        ..Rule::of(Question::Ride)
    },
    Rule {
        name: "ride-inrush",
        on: ON,
        needs: NEEDS_KVA,
        formula: "full load of the connected transformers x 12 < what opens it within 0.1 s; no reduction for many energized together",
        source: "12 x for 0.1 s, on the sum: a trade webzine, an engineering portal and a utility's line-fuse rule; link tables are from memory",
        standing: RuleStanding::Read,
        choices: &[TIGHT, INRUSH],
        rests_on: &["link"],
        example: LINK,
        judge: |rule, case, subject| inrush(rule, case, subject, INRUSH, 0.1),
        ..Rule::of(Question::Ride)
    },
    Rule {
        name: "ride-cold-load-1s",
        on: ON,
        needs: NEEDS_LOAD,
        formula: "load before the outage x up to 6, by its length < what opens it within 1 s",
        source: "6 x at 1 s: a switch control's manual and a utility's line-fuse rule; link tables are from memory",
        standing: RuleStanding::Read,
        choices: &[TIGHT, COLD_1, COLD_FULL],
        rests_on: &["phase_pickup_amps"],
        example: ELECTRONIC,
        judge: |rule, case, subject| cold(rule, case, subject, COLD_1, 1.0),
        ..Rule::of(Question::Ride)
    },
    Rule {
        name: "ride-cold-load-10s",
        on: ON,
        needs: NEEDS_LOAD,
        formula: "load before the outage x up to 3, by its length < what opens it within 10 s",
        source: "3 x at 10 s: a switch control's manual and a utility's line-fuse rule; link tables are from memory",
        standing: RuleStanding::Read,
        choices: &[TIGHT, COLD_10, COLD_FULL],
        rests_on: &["link"],
        example: LINK,
        judge: |rule, case, subject| cold(rule, case, subject, COLD_10, 10.0),
        ..Rule::of(Question::Ride)
    },
    Rule {
        name: "ride-cold-load-long",
        on: ON,
        needs: NEEDS_LOAD,
        formula: "load before the outage x up to 2, by its length < what opens it within 15 min (a choice)",
        source: "2 x for 100 to 300 s: a switch control's manual (read); 15 min, the stricter test, from memory",
        standing: RuleStanding::FromMemory,
        choices: &[TIGHT, COLD_LONG, COLD_LONG_S, COLD_FULL],
        rests_on: &["link"],
        example: LINK,
        judge: |rule, case, subject| {
            let seconds = case.choices.number(COLD_LONG_S);
            cold(rule, case, subject, COLD_LONG, seconds)
        },
        ..Rule::of(Question::Ride)
    },
];

fn inrush(
    rule: &'static Rule,
    case: &Case<'_>,
    subject: &Subject<'_>,
    multiple: &str,
    seconds: f64,
) -> Option<Finding> {
    case.asked.outage_min.as_ref()?;
    let multiple = case.choices.number(multiple);
    let connected = case.facts.connected.as_ref();
    let kva = connected.and_then(|c| c.phase_kva);
    let kv_ln = case.facts.nominal_kv_ll.map(|kv| kv / 3.0_f64.sqrt());
    let value = kva
        .zip(kv_ln)
        .map(|(kva, kv)| inrush_amps(kva, kv, multiple));
    let words = match (kva, kv_ln, value) {
        (Some(kva), Some(kv), Some(amps)) => format!(
            "inrush of {} kVA a phase ({}) / {} kV x {} = {} A",
            short(kva),
            connected.map_or("", |c| c.origin.as_str()),
            short(kv),
            short(multiple),
            short(amps)
        ),
        _ => "inrush of transformers of which kVA or voltage is not known".to_string(),
    };
    let ask = Ask {
        what: "inrush",
        value,
        words,
        read: "kVA of the transformers beyond".to_string(),
        doubts: connected
            .and_then(|c| c.doubt.clone())
            .into_iter()
            .collect(),
    };
    Some(held(rule, case, subject, ask, seconds))
}

fn cold(
    rule: &'static Rule,
    case: &Case<'_>,
    subject: &Subject<'_>,
    multiple: &str,
    seconds: f64,
) -> Option<Finding> {
    let outage = case.asked.outage_min.as_ref()?;
    if case.facts.position.class == Class::Capacitor {
        return None;
    }
    let full = case.choices.number(multiple);
    let after = case.choices.number(COLD_FULL);
    let share = if after > 0.0 {
        (outage.value / after).min(1.0)
    } else {
        1.0
    };
    let times = 1.0 + (full - 1.0) * share;
    let mut ask = case.load();
    ask.what = "cold load";
    if let Some(load) = ask.value {
        ask.value = Some(load * times);
        ask.words = format!(
            "cold load: {} before the outage x {} (1 + ({} - 1) x {} min / {} min, at most {}) = {} A",
            ask.words,
            short(times),
            short(full),
            short(outage.value),
            short(after),
            short(full),
            short(load * times)
        );
    }
    Some(held(rule, case, subject, ask, seconds))
}

fn held(
    rule: &'static Rule,
    case: &Case<'_>,
    subject: &Subject<'_>,
    ask: Ask,
    seconds: f64,
) -> Finding {
    let bound: Bound = opens_within(case, subject, seconds);
    let endless = bound.value.is_some_and(f64::is_infinite);
    if endless && ask.value.is_some() {
        // At no current whatever: how much it is makes no difference.
        let doubts = bound.doubts;
        let verdict = if doubts.is_empty() {
            Verdict::Within
        } else {
            Verdict::Unknown
        };
        let mut because = format!("{} against {}.", ask.words, bound.words);
        if !doubts.is_empty() {
            because.push_str(&format!(" Within only if {}.", doubts.join("; and ")));
        }
        let because = super::bound::sentence(&because);
        let mut finding = rule.finding(case, subject, verdict, because);
        finding.value = ask.value;
        finding.unit = "A";
        if verdict == Verdict::Unknown {
            finding.read_next = bound.read;
        }
        return finding;
    }
    let bound = Bound {
        value: bound.value.filter(|v| v.is_finite()),
        ..bound
    };
    Compare {
        rule,
        case,
        subject,
        unit: "A",
        ask,
        bound,
        tight_percent: case.choices.tight_percent(),
        at_least: false,
        note: String::new(),
    }
    .finding()
}
