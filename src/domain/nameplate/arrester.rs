//! Stand: arresters. MCOV governs and the duty-cycle rating is another figure;
//! which one suits follows from the grounding of the system; the margin is that
//! of what it protects.

use super::arrester_table::{MCOV, applied_mcov, tov_factor};
use super::bil::transformer_bil;
use super::bound::{Ask, Bound, Compare, short};
use super::carry::rating;
use super::choices::{LEAD_DROP, SURGE_MARGIN, TIGHT_KV, VOLTAGE_RANGE};
use super::facts::Subject;
use super::stand::{system_kv, to_ground};
use super::timing::typed_time;
use super::{Case, Rule, unit};
use crate::domain::asset::{Class, Grounding, Stated};
use crate::domain::finding::{Finding, Question, RuleStanding};

const ON: &[super::Part] = &[unit(Class::Arrester)];

pub static RULES: &[Rule] = &[
    Rule {
        name: "stand-arrester",
        on: ON,
        needs: &[
            "feeder voltage, or the voltage typed",
            "grounding",
            "mcov_kv",
        ],
        formula: "MCOV >= greatest voltage line to ground on a multigrounded system, line to line on any other",
        source: "an arrester maker's selection chart and a tutorial on arrester data: MCOV governs, not the duty-cycle rating",
        standing: RuleStanding::Read,
        choices: &[TIGHT_KV, VOLTAGE_RANGE],
        rests_on: &["mcov_kv"],
        example: r#"{"class": "arrester", "phases": "A", "plate": {"mcov_kv": 7.65, "duty_kv": 9}}"#,
        judge: mcov,
        ..Rule::of(Question::Stand)
    },
    Rule {
        name: "stand-arrester-pair",
        on: ON,
        needs: &["mcov_kv", "duty_kv"],
        formula: "the MCOV listed for the duty-cycle rating >= the MCOV recorded: a record that swaps or mixes the two is caught",
        source: "pairs of duty-cycle rating and MCOV: a tutorial on arrester data, a maker's chart and a municipal standard",
        standing: RuleStanding::Read,
        choices: &[],
        rests_on: &["mcov_kv", "duty_kv"],
        example: r#"{"class": "arrester", "phases": "A", "plate": {"mcov_kv": 7.65, "duty_kv": 9}}"#,
        judge: pair,
        ..Rule::of(Question::Stand)
    },
    Rule {
        name: "stand-arrester-applied",
        on: ON,
        needs: &["mcov_kv", "nominal voltage", "grounding"],
        formula: "MCOV >= that of the arrester commonly applied on the system: on a multigrounded one the smallest of at least 1.05 x nominal line to neutral, on an ungrounded one of 1.05 x line to line",
        source: "a maker's selection chart and a municipal standard (read); 12.47 and 22.86 kV and unigrounded systems from memory",
        standing: RuleStanding::Read,
        choices: &[],
        rests_on: &["mcov_kv"],
        example: r#"{"class": "arrester", "phases": "A", "plate": {"mcov_kv": 7.65, "duty_kv": 9}}"#,
        judge: applied,
        ..Rule::of(Question::Stand)
    },
    Rule {
        name: "stand-arrester-tov",
        on: ON,
        needs: &[
            "grounding",
            "nominal voltage",
            "tov_kv",
            "tov_s",
            "fault-on time",
        ],
        formula: "nominal line to ground x 1.25 (multigrounded), 1.4 (unigrounded) or 1.82 (delta) during a ground fault <= overvoltage that it withstands, for no longer than its time",
        source: "overvoltage factors by grounding: from memory, unconfirmed",
        standing: RuleStanding::FromMemory,
        choices: &[TIGHT_KV],
        rests_on: &["tov_kv", "tov_s"],
        example: r#"{"class": "arrester", "phases": "A", "plate": {"mcov_kv": 7.65, "duty_kv": 9, "tov_kv": 10.8, "tov_s": 10}, "fault_on_s": 2}"#,
        judge: tov,
        ..Rule::of(Question::Stand)
    },
    Rule {
        name: "stand-arrester-margin",
        on: ON,
        needs: &["discharge_kv", "protected_bil_kv", "lead_ft", "open_point"],
        formula: "(discharge voltage + lead x kV/ft) x 2 before an open point <= BIL of what it protects / (1 + margin)",
        source: "margin (BIL / voltage - 1) and the doubling at an open point: a protection portal and a trade page (read); 20 % and 1.6 kV/ft are from memory",
        standing: RuleStanding::FromMemory,
        choices: &[TIGHT_KV, SURGE_MARGIN, LEAD_DROP],
        rests_on: &["discharge_kv", "protected_bil_kv", "lead_ft"],
        example: r#"{"class": "arrester", "phases": "A", "plate": {"mcov_kv": 7.65, "duty_kv": 9, "discharge_kv": 23.4}, "settings": {"protected_bil_kv": 95, "lead_ft": 5, "open_point": "yes"}}"#,
        judge: margin,
        ..Rule::of(Question::Stand)
    },
    Rule {
        name: "stand-arrester-margin-front",
        on: ON,
        needs: &["front_kv", "protected_bil_kv", "lead_ft", "open_point"],
        formula: "(front-of-wave voltage + lead x kV/ft) x 2 before an open point <= 1.15 x BIL (chopped wave, in oil) / (1 + margin)",
        source: "front-of-wave margin with 1.15 x BIL in oil: from memory, unconfirmed; the margin's form is that of the guide on application, as remembered",
        standing: RuleStanding::FromMemory,
        choices: &[TIGHT_KV, SURGE_MARGIN, LEAD_DROP],
        rests_on: &["front_kv", "protected_bil_kv", "lead_ft"],
        example: r#"{"class": "arrester", "phases": "A", "plate": {"mcov_kv": 7.65, "duty_kv": 9, "front_kv": 25.5}, "settings": {"protected_bil_kv": 95, "lead_ft": 5, "open_point": "no"}}"#,
        judge: front,
        ..Rule::of(Question::Stand)
    },
];

/// (withstand / voltage - 1) x 100.
#[must_use]
pub fn margin_percent(withstand_kv: f64, voltage_kv: f64) -> f64 {
    (withstand_kv / voltage_kv - 1.0) * 100.0
}

fn kv(
    rule: &'static Rule,
    case: &Case<'_>,
    subject: &Subject<'_>,
    ask: Ask,
    bound: Bound,
    note: String,
) -> Finding {
    Compare {
        rule,
        case,
        subject,
        unit: "kV",
        ask,
        bound,
        tight_percent: case.choices.tight_kv_percent(),
        at_least: false,
        note,
    }
    .finding()
}

fn mcov(rule: &'static Rule, case: &Case<'_>, subject: &Subject<'_>) -> Option<Finding> {
    let mcov = rating(subject, "mcov_kv", "MCOV", "kV");
    let mut ask = system_kv(case);
    let over = ask.value.zip(mcov.value).is_some_and(|(v, m)| v > m);
    match case.facts.grounding {
        Some(Grounding::Multigrounded) => ask = to_ground(ask),
        None | Some(Grounding::Unknown) if over => {
            ask = to_ground(ask);
            ask.doubts
                .push("the system is multigrounded, which the record does not say".to_string());
            ask.read = "grounding of the system".to_string();
        }
        _ => {}
    }
    let note = "The duty-cycle rating is another figure and takes no part.".to_string();
    Some(kv(rule, case, subject, ask, mcov, note))
}

fn pair(rule: &'static Rule, case: &Case<'_>, subject: &Subject<'_>) -> Option<Finding> {
    subject.recorded("duty_kv")?;
    let mcov = rating(subject, "mcov_kv", "MCOV", "kV");
    let duty = rating(subject, "duty_kv", "duty-cycle rating", "kV");
    let listed = duty
        .value
        .and_then(|d| MCOV.iter().find(|(duty, _)| (duty - d).abs() < 1e-6));
    let ask = Ask {
        what: "MCOV",
        value: mcov.value,
        words: mcov.words,
        read: mcov
            .read
            .unwrap_or_else(|| format!("plate of {}", subject.called)),
        doubts: mcov.doubts,
    };
    let bound = Bound {
        value: listed.map(|(_, mcov)| *mcov),
        words: match listed {
            Some((_, mcov)) => format!("{} kV listed for {}", short(*mcov), duty.words),
            None => format!("no MCOV listed for {}", duty.words),
        },
        doubts: duty.doubts,
        read: duty.read.or(Some(format!("plate of {}", subject.called))),
    };
    let finding = Compare {
        rule,
        case,
        subject,
        unit: "kV",
        ask,
        bound,
        tight_percent: 0.0,
        at_least: false,
        note: String::new(),
    }
    .finding();
    Some(finding)
}

/// Silent where no list has the system.
fn applied(rule: &'static Rule, case: &Case<'_>, subject: &Subject<'_>) -> Option<Finding> {
    let nominal = case.facts.nominal_kv_ll?;
    let grounding = case.facts.grounding?;
    let least = applied_mcov(nominal, grounding)?;
    let mcov = rating(subject, "mcov_kv", "MCOV", "kV");
    let ask = Ask {
        what: "MCOV",
        value: mcov.value,
        words: mcov.words,
        read: mcov.read.unwrap_or_default(),
        doubts: mcov.doubts,
    };
    let finding = Compare {
        rule,
        case,
        subject,
        unit: "kV",
        ask,
        bound: Bound {
            value: Some(least),
            words: format!(
                "{} kV commonly applied at {} kV, {grounding}",
                short(least),
                short(nominal)
            ),
            doubts: Vec::new(),
            read: Some(format!("MCOV of {}", subject.called)),
        },
        tight_percent: 0.0,
        at_least: true,
        note: String::new(),
    }
    .finding();
    Some(finding)
}

fn tov(rule: &'static Rule, case: &Case<'_>, subject: &Subject<'_>) -> Option<Finding> {
    let factor = case.facts.grounding.and_then(tov_factor);
    let nominal = case.facts.nominal_kv_ll;
    let value = nominal.zip(factor).map(|(kv, f)| kv / 3.0_f64.sqrt() * f);
    let words = match (nominal, factor, value) {
        (Some(kv), Some(f), Some(v)) => format!(
            "overvoltage of a ground fault {} kV / 1.732 x {} = {} kV",
            short(kv),
            short(f),
            short(v)
        ),
        _ => "overvoltage of a ground fault, voltage or grounding not recorded".to_string(),
    };
    let ask = Ask {
        what: "overvoltage",
        value,
        words,
        read: "grounding and nominal voltage of the system".to_string(),
        doubts: Vec::new(),
    };
    let mut bound = rating(subject, "tov_kv", "withstood overvoltage", "kV");
    let lasts = rating(subject, "tov_s", "its time", "s");
    bound.words = format!("{}, {}", bound.words, lasts.words);
    bound.doubts.extend(lasts.doubts);
    bound.read = bound.read.or(lasts.read);
    match (typed_time(case).and_then(|t| t.value), lasts.value) {
        (Some(on), Some(most)) if on <= most => {}
        (Some(on), Some(_)) => {
            bound = bound.doubted(
                format!("it outlasts the {} s that the fault stays on", short(on)),
                format!("overvoltage curve of {}", subject.called),
            );
        }
        _ => {
            bound = bound.doubted(
                "the fault is cleared within that time, and no fault-on time is typed",
                format!("overvoltage curve of {}", subject.called),
            );
        }
    }
    Some(kv(rule, case, subject, ask, bound, String::new()))
}

/// A setting of the position as a limit.
fn set(case: &Case<'_>, key: &str, label: &str, unit: &str) -> Bound {
    let position = &case.facts.position;
    let stated = position.settings.stated(key);
    Bound::of(
        &stated,
        label,
        unit,
        &format!("{label} at {}", position.position),
    )
}

/// The BIL of what it protects: recorded, else by class, which is no pass.
fn protected_bil(case: &Case<'_>) -> Bound {
    let recorded = set(case, "protected_bil_kv", "BIL of what it protects", "kV");
    if recorded.value.is_some()
        || case
            .facts
            .position
            .settings
            .get("protected_bil_kv")
            .is_some()
    {
        return recorded;
    }
    let by_class = system_kv(case).value.and_then(transformer_bil);
    match by_class {
        Some(bil) => Bound::of(
            &Stated::assumed(bil, "transformer BIL by class, from memory"),
            "BIL of what it protects",
            "kV",
            recorded.read.as_deref().unwrap_or_default(),
        ),
        None => recorded,
    }
}

/// What reaches the insulation: discharge voltage, lead, and doubling before an
/// open point.
fn arriving(case: &Case<'_>, subject: &Subject<'_>, key: &str, label: &str) -> Ask {
    let volts = rating(subject, key, label, "kV");
    let lead = set(case, "lead_ft", "arrester lead", "ft");
    let per_foot = case.choices.number(LEAD_DROP);
    let open = case.facts.position.settings.stated("open_point");
    let known_no = open.is_known() && open.as_text() == Some("no");
    let known_yes = open.is_known() && open.as_text() == Some("yes");
    let times = if known_no { 1.0 } else { 2.0 };
    let value = volts
        .value
        .zip(lead.value)
        .map(|(v, ft)| (v + ft * per_foot) * times);
    let mut words = format!(
        "({} + {} x {} kV/ft)",
        volts.words,
        lead.words,
        short(per_foot)
    );
    if !known_no {
        let why = if known_yes {
            "before an open point"
        } else {
            "as before an open point, which nobody recorded"
        };
        words.push_str(&format!(" x 2 {why}"));
    }
    if let Some(v) = value {
        words.push_str(&format!(" = {} kV", short(v)));
    }
    Ask {
        what: "surge voltage",
        value,
        words,
        read: volts.read.or(lead.read).unwrap_or_default(),
        doubts: [volts.doubts, lead.doubts].concat(),
    }
}

fn surge(
    rule: &'static Rule,
    case: &Case<'_>,
    subject: &Subject<'_>,
    ask: Ask,
    withstand: f64,
) -> Finding {
    let bil = protected_bil(case);
    let least = case.choices.number(SURGE_MARGIN);
    let share = withstand / (1.0 + least / 100.0);
    let words = format!("x {} / {}", short(withstand), short(1.0 + least / 100.0));
    let note = match (ask.value, bil.value) {
        (Some(v), Some(b)) if v > 0.0 => format!(
            "Protective margin {} %, of the arrester's voltage.",
            short((margin_percent(b * withstand, v) * 10.0).round() / 10.0)
        ),
        _ => String::new(),
    };
    kv(
        rule,
        case,
        subject,
        ask,
        bil.times(share, &words, "kV"),
        note,
    )
}

fn margin(rule: &'static Rule, case: &Case<'_>, subject: &Subject<'_>) -> Option<Finding> {
    let ask = arriving(case, subject, "discharge_kv", "discharge voltage");
    Some(surge(rule, case, subject, ask, 1.0))
}

/// Chopped-wave withstand of insulation in oil, times BIL.
const CHOPPED: f64 = 1.15;

fn front(rule: &'static Rule, case: &Case<'_>, subject: &Subject<'_>) -> Option<Finding> {
    subject.recorded("front_kv")?;
    let ask = arriving(case, subject, "front_kv", "front-of-wave voltage");
    Some(surge(rule, case, subject, ask, CHOPPED))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::domain::nameplate::arrester_table::{
        APPLIED, APPLIED_OTHER, DISCHARGE, smallest_mcov,
    };

    #[test]
    fn consistency_mcov_rises_and_stays_under_the_rating() {
        for pair in MCOV.windows(2) {
            assert!(pair[0].0 < pair[1].0 && pair[0].1 < pair[1].1);
        }
        for (duty, mcov) in MCOV {
            assert!((0.80..=0.851).contains(&(mcov / duty)), "{duty} / {mcov}");
        }
    }

    /// Smallest MCOV of at least 1.05 times line to neutral reproduces the table.
    #[test]
    fn consistency_the_applied_arrester_is_the_smallest_that_reaches() {
        for (system, ln, duty, mcov) in APPLIED {
            assert_eq!(smallest_mcov(*ln), Some((*duty, *mcov)), "{system} kV");
            assert!(
                (system / 3.0_f64.sqrt() / ln - 1.0).abs() < 0.005,
                "{system} kV"
            );
        }
    }

    /// Ungrounded, the smallest that reaches 1.05 times line to line; in between
    /// on an unigrounded system: more than line to neutral, less than line to line.
    #[test]
    fn consistency_other_systems_ask_for_more_than_a_multigrounded_one() {
        for (kv, grounding, duty, mcov) in APPLIED_OTHER {
            assert!(MCOV.contains(&(*duty, *mcov)), "{kv} kV");
            if *grounding == Grounding::Delta {
                assert_eq!(smallest_mcov(*kv), Some((*duty, *mcov)), "{kv} kV");
            } else {
                let grounded = applied_mcov(*kv, Grounding::Multigrounded).unwrap();
                let delta = smallest_mcov(*kv).map_or(f64::INFINITY, |(_, m)| m);
                assert!(grounded < *mcov && *mcov <= delta, "{kv} kV");
            }
        }
    }

    #[test]
    fn consistency_discharge_voltage_rises_with_current_and_with_the_rating() {
        for (duty, mcov, kv) in DISCHARGE {
            assert!(kv[1..].is_sorted(), "{duty}");
            assert!(kv[0] > kv[4], "{duty}: the steep front lies over 10 kA");
            assert!(MCOV.contains(&(*duty, *mcov)));
        }
        for pair in DISCHARGE.windows(2) {
            assert!((0..7).all(|i| pair[0].2[i] < pair[1].2[i]));
        }
    }
}
