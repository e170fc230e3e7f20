//! Last: how much of a recloser's standard interrupting duty its operations
//! have used.

use super::bound::{sentence, short};
use super::break_::{kind_doubt, line_ground_bound};
use super::carry::rating;
use super::choices::TIGHT;
use super::facts::{Cap, Facts, Subject, UnitHere};
use super::{Case, Rule, unit};
use crate::calendar::Date;
use crate::domain::asset::{Class, Entry};
use crate::domain::finding::{Finding, Question, RuleStanding, Verdict};
use crate::domain::upkeep::duty::{
    self, Counter, Log, NoFaultCurrent, SOURCE, StandardDuty, Taken, Wear,
};

pub static RULES: &[Rule] = &[Rule {
    name: "last-duty",
    question: Question::Last,
    on: &[unit(Class::Recloser)],
    needs: &[
        "interrupter",
        "interrupting_amps",
        "continuous_amps (frame; by the interrupting rating without)",
        "operations logged since the interrupter was last renewed",
        "available fault (for operations without a current)",
        "operations counter",
    ],
    formula: "100 x sum of trips x (I / rated)^1.5 / D < 100 %; D = N1 x 0.2^1.5 + N2 x 0.55^1.5 + N3 of the standard duty N1/N2/N3; an operation without a current counts at the available fault current; at 100 % break is no better than unknown",
    source: SOURCE,
    standing: RuleStanding::FromMemory,
    choices: &[TIGHT],
    rests_on: &["interrupter", "interrupting_amps"],
    example: r#"{"class": "recloser", "phases": "ABC", "plate": {"interrupter": "oil", "interrupting_amps": 4000}, "written": [{"entry": "maintenance", "of": "EX-1", "on": "2021-04-01", "readings": {"interrupter": "renewed", "counter": 120}}, {"entry": "operation", "of": "EX-1", "on": "2022-07-01", "readings": {"trips": 10, "amps": 1500}}, {"entry": "operation", "of": "EX-1", "on": "2024-07-01", "readings": {"trips": 4, "amps": 3000}}, {"entry": "counter", "of": "EX-1", "on": "2025-04-01", "readings": {"counter": 134}}]}"#,
    judge,
}];

/// Wear on record of one unit, as far as it can be reckoned.
enum Reckoned {
    Done {
        row: &'static StandardDuty,
        rated: f64,
        wear: Wear,
        log: Log,
    },
    /// What is missing, and what to read.
    Missing(String, String),
}

fn entries<'a>(facts: &'a Facts, here: &UnitHere) -> Vec<&'a Entry> {
    facts
        .written
        .get(&here.unit.unit)
        .map_or_else(Vec::new, |all| all.iter().collect())
}

fn here_since(facts: &Facts, here: &UnitHere) -> Option<Date> {
    let at = &facts.position.position;
    here.unit.present().find(|d| d.at == *at)?.from
}

/// The available fault current here, in A: that on record, never a typed one.
fn available(facts: &Facts) -> Option<(f64, String)> {
    let study = facts.position.available_fault.as_ref()?;
    Some(line_ground_bound(facts, study.amps.get(), Some(study.kind)))
}

fn reckon(facts: &Facts, subject: &Subject<'_>, here: &UnitHere) -> Reckoned {
    let name = &here.unit.unit;
    let missing = |what: String, read: &str| Reckoned::Missing(what, format!("{read} of {name}"));
    let Some(interrupter) = subject.recorded("interrupter").and_then(|s| s.as_text()) else {
        return missing("its interrupter is unread".to_string(), "interrupter");
    };
    let Some(rated) = subject
        .recorded("interrupting_amps")
        .and_then(|s| s.as_number())
    else {
        return missing(
            "its interrupting rating is unread".to_string(),
            "interrupting rating",
        );
    };
    let continuous = subject
        .recorded("continuous_amps")
        .and_then(|s| s.as_number());
    let Some(row) = duty::standard(interrupter, rated, continuous) else {
        return missing(
            format!("no standard duty is on record here for an interrupter of {interrupter}"),
            "the maker's duty",
        );
    };
    let log = duty::log(&entries(facts, here), here_since(facts, here));
    let amps = available(facts).map(|(amps, _)| amps);
    match duty::wear(&log, row, rated, amps) {
        Ok(wear) => Reckoned::Done {
            row,
            rated,
            wear,
            log,
        },
        Err(NoFaultCurrent) => Reckoned::Missing(
            "an operation has no current on record and no available fault current is recorded to count it at".to_string(),
            "available fault current: a study".to_string(),
        ),
    }
}

fn unit_of<'a>(facts: &'a Facts, subject: &Subject<'_>) -> Option<&'a UnitHere> {
    let plate = subject.plate?;
    facts
        .units
        .iter()
        .find(|u| std::ptr::eq(plate, &u.unit.nameplate))
}

fn judge(rule: &'static Rule, case: &Case<'_>, subject: &Subject<'_>) -> Option<Finding> {
    let unknown = |what: &str, read: String| {
        let because = format!("Duty used is unknown: {what}.");
        let mut finding = rule.finding(case, subject, Verdict::Unknown, because);
        finding.read_next = Some(read);
        finding
    };
    let Some(here) = unit_of(case.facts, subject) else {
        let read = format!("which unit stands at {}", case.facts.position.position);
        return Some(unknown("no unit is on record in this slot", read));
    };
    let (row, rated, wear, log) = match reckon(case.facts, subject, here) {
        Reckoned::Missing(what, read) => return Some(unknown(&what, read)),
        Reckoned::Done {
            row,
            rated,
            wear,
            log,
        } => (row, rated, wear, log),
    };
    let (doubts, read) = doubts(case.facts, subject, here, &wear, &log);
    let percent = wear.percent();
    let tight = case.choices.tight_percent();
    let verdict = if percent >= 100.0 - 1e-9 {
        Verdict::Fails
    } else if !doubts.is_empty() {
        Verdict::Unknown
    } else if 100.0 - percent < tight - 1e-9 {
        Verdict::Tight
    } else {
        Verdict::Within
    };
    let mut because = words(row, rated, &wear, &log);
    if verdict == Verdict::Unknown {
        because.push_str(&format!(" Within only if {}.", doubts.join("; and ")));
    }
    if available(case.facts).is_some_and(|(_, w)| !w.is_empty())
        && wear
            .terms
            .iter()
            .any(|t| t.taken == Some(Taken::AvailableFault))
    {
        because.push_str(
            " The available fault is taken line-ground, X0/X1 of the source being under 1.",
        );
    }
    let mut finding = rule.finding(case, subject, verdict, because);
    finding.value = Some(percent);
    finding.limit = Some(100.0);
    finding.unit = "%";
    finding.margin_percent = Some(100.0 - percent);
    finding.read_next = read.filter(|_| verdict == Verdict::Unknown);
    Some(finding)
}

/// What would have to hold for the sum to be the whole of it.
fn doubts(
    facts: &Facts,
    subject: &Subject<'_>,
    here: &UnitHere,
    wear: &Wear,
    log: &Log,
) -> (Vec<String>, Option<String>) {
    let name = &here.unit.unit;
    let mut out = Vec::new();
    let mut read = None;
    let rated = rating(
        subject,
        "interrupting_amps",
        "interrupting, symmetrical",
        "A",
    );
    out.extend(rated.doubts);
    read = read.or(rated.read);
    for key in ["interrupter", "continuous_amps"] {
        if subject
            .recorded(key)
            .is_some_and(|s| s.as_text().is_some() || s.as_number().is_some())
            && !subject.stated(key).is_known()
        {
            let label = key.trim_end_matches("_amps");
            out.push(format!("its {label} is as assumed"));
            read = read.or(Some(format!("{label} of {name}")));
        }
    }
    let counted = wear
        .terms
        .iter()
        .any(|t| t.taken == Some(Taken::AvailableFault));
    let kind = facts.position.available_fault.as_ref().map(|s| s.kind);
    if let Some(doubt) = kind_doubt(facts, subject, kind).filter(|_| counted) {
        out.push(doubt);
        read = read.or(Some(
            "available fault current of the greatest kind: a study".into(),
        ));
    }
    let counter = match log.counter {
        Counter::Further(n) if n > 0.0 => Some(format!(
            "the {} further operations that its counter shows interrupted no fault",
            short(n)
        )),
        Counter::Further(_) => None,
        Counter::Backward { from, to } => Some(format!(
            "its counter, which went from {} to {}, has missed nothing",
            short(from),
            short(to)
        )),
        Counter::Unread if log.operated.is_empty() => {
            Some("it has not operated: no operation and no counter reading is on record".into())
        }
        Counter::Unread => None,
    };
    if let Some(doubt) = counter {
        out.push(doubt);
        read = read.or(Some(format!("operations counter of {name}, and its trips")));
    }
    (out, read)
}

/// `10 x (1,500 / 4,000)^1.5 = 2.296; … = 4.894 of 24.65 …: 19.9 %`.
fn words(row: &StandardDuty, rated: f64, wear: &Wear, log: &Log) -> String {
    let since = match log.since {
        Some(day) => format!("since it was renewed {}", day.spoken()),
        None => "in all, no renewal being on record".to_string(),
    };
    let terms: Vec<String> = wear
        .terms
        .iter()
        .map(|t| {
            let taken = match t.taken {
                None => "",
                Some(Taken::AvailableFault) => {
                    " (current not recorded: counted at the available fault)"
                }
                Some(Taken::Rating) => {
                    " (current not recorded, made where it stood before: counted at the rating)"
                }
            };
            format!(
                "{} x ({} / {})^1.5 = {}{taken}",
                short(t.trips),
                short(t.amps),
                short(rated),
                short(t.wear)
            )
        })
        .collect();
    let terms = if terms.is_empty() {
        "none logged".to_string()
    } else {
        terms.join("; ")
    };
    let mut out = sentence(&format!(
        "operations {since}: {terms}; used {} of {} ({}: {}) = {} %.",
        short(wear.used),
        short((wear.budget * 100.0).round() / 100.0),
        row.name,
        row.words(),
        short((wear.percent() * 10.0).round() / 10.0)
    ));
    if log.undated_renewal {
        out.push_str(" A renewal without a date is not counted.");
    }
    out
}

/// Used-up duty caps what the unit is said to break.
pub(super) fn cap(facts: &Facts, subject: &Subject<'_>) -> Option<Cap> {
    if subject.part != unit(Class::Recloser) {
        return None;
    }
    let here = unit_of(facts, subject)?;
    let Reckoned::Done { wear, .. } = reckon(facts, subject, here) else {
        return None;
    };
    (wear.percent() >= 100.0 - 1e-9).then(|| Cap {
        question: Some(Question::Break),
        why: format!(
            "its standard interrupting duty is used up ({} % by the operations on record)",
            short((wear.percent() * 10.0).round() / 10.0)
        ),
    })
}
