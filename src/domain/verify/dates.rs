//! Dates that cannot be, or that stand for "some day".

use super::{Detector, Given, PRACTICE, Run};
use crate::calendar::Date;
use crate::domain::asset::{Name, Record};
use crate::domain::finding::RuleStanding;

pub(super) static DETECTORS: &[Detector] = &[
    Detector {
        name: "date-new-year",
        looks_at: "dates on the first of January",
        why: "It mostly stands for some day of that year, and an interval counted from it is wrong by up to a year.",
        fix: "Look for the real day; if only the year is known, leave the day out.",
        source: "an open data file of 4,556 poles: 82 % of its install dates are 1 January",
        standing: RuleStanding::Read,
        run: Run::Record(new_year),
    },
    Detector {
        name: "date-future",
        looks_at: "dates of what has happened that lie after today",
        why: "It has not happened yet, so the figure is a slip; it also sorts last and hides what is newest.",
        fix: "Find the sheet and correct the date; look for swapped digits in the year.",
        source: PRACTICE,
        standing: RuleStanding::CommonPractice,
        run: Run::Record(future),
    },
    Detector {
        name: "date-order",
        looks_at: "stays, names and orders that end before they begin",
        why: "One of the two dates is wrong, and the record shows the thing where it was not.",
        fix: "Find the work order and correct the date that is wrong.",
        source: PRACTICE,
        standing: RuleStanding::CommonPractice,
        run: Run::Record(order),
    },
    Detector {
        name: "study-older-than-source",
        looks_at: "fault studies of a feeder against the day its source was enlarged, by the log of changes",
        why: "The fault current it gives is too small since; an interrupting rating that passes by it may fail.",
        fix: "Have the study made again and record the new current.",
        source: PRACTICE,
        standing: RuleStanding::CommonPractice,
        run: Run::Record(old_study),
    },
];

type Dated = (String, Date);

/// Dates of what has happened, each with what it is.
fn happened(record: &Record) -> Vec<Dated> {
    let mut out: Vec<Dated> = Vec::new();
    let mut put = |what: &str, day: Option<Date>| {
        out.extend(day.map(|d| (what.to_string(), d)));
    };
    match record {
        Record::Structure(s) => {
            for h in &s.hazards {
                put("a hazard was seen", h.seen);
            }
            of_names(&s.names, &mut put);
        }
        Record::Position(p) => {
            put(
                "its fault study is of",
                p.available_fault.as_ref().and_then(|f| f.date),
            );
            put(
                "its minimum fault is of",
                p.minimum_fault.as_ref().and_then(|f| f.date),
            );
            put("its load is of", p.peak_load.as_ref().and_then(|l| l.date));
            put(
                "its state was recorded",
                p.state.as_ref().map(|s| s.at.date()),
            );
            of_names(&p.names, &mut put);
        }
        Record::Unit(u) => {
            for d in &u.deployments {
                put(&format!("it came to {} on", d.at), d.from);
                put(&format!("it left {} on", d.at), d.to);
            }
            for (field, value) in u.nameplate.iter() {
                put(&format!("{} was read", field.label), value.on);
            }
            let made = u.nameplate.text("made_on").and_then(|t| t.parse().ok());
            put("it was made on", made);
            of_names(&u.names, &mut put);
        }
        Record::Entry(e) => put("it is dated", e.on),
        Record::Order(o) => {
            put("it was opened", o.opened);
            put("it was closed", o.closed);
        }
        _ => {}
    }
    out
}

fn of_names(names: &[Name], put: &mut dyn FnMut(&str, Option<Date>)) {
    for n in names {
        put(&format!("it was called {} from", n.text), n.from);
        put(&format!("it was called {} until", n.text), n.to);
    }
}

fn new_year(record: &Record, _: &Given) -> Vec<String> {
    let mut out: Vec<String> = happened(record)
        .into_iter()
        .filter(|(_, day)| day.is_new_year())
        .map(|(what, day)| format!("says {what} {}", day.spoken()))
        .collect();
    out.dedup();
    out
}

fn future(record: &Record, given: &Given) -> Vec<String> {
    let mut out: Vec<String> = happened(record)
        .into_iter()
        .filter(|(_, day)| *day > given.today)
        .map(|(what, day)| format!("says {what} {}, which is after today", day.spoken()))
        .collect();
    if let Record::Unit(u) = record
        && let Some(year) = u.nameplate.number("made_year")
        && year > f64::from(given.today.year())
    {
        out.push(format!("says it was made in {year}, which is after today"));
    }
    out
}

fn order(record: &Record, _: &Given) -> Vec<String> {
    let mut out = Vec::new();
    let mut pair = |what: &str, from: Option<Date>, to: Option<Date>| {
        if let (Some(from), Some(to)) = (from, to)
            && to < from
        {
            out.push(format!(
                "says {what} begins {} and ends {}",
                from.spoken(),
                to.spoken()
            ));
        }
    };
    let names = match record {
        Record::Structure(s) => &s.names[..],
        Record::Position(p) => &p.names[..],
        Record::Unit(u) => &u.names[..],
        _ => &[],
    };
    for n in names {
        pair(&format!("its name {}", n.text), n.from, n.to);
    }
    match record {
        Record::Unit(u) => {
            for d in &u.deployments {
                pair(&format!("its stay at {}", d.at), d.from, d.to);
            }
        }
        Record::Order(o) => pair("it", o.opened, o.closed),
        _ => {}
    }
    out
}

fn old_study(record: &Record, given: &Given) -> Vec<String> {
    let Record::Position(p) = record else {
        return Vec::new();
    };
    let (Some(feeder), Some(study)) = (&p.feeder, &p.available_fault) else {
        return Vec::new();
    };
    let Some(on) = study.date else {
        return Vec::new();
    };
    given
        .enlarged
        .iter()
        .filter(|e| e.feeders.contains(feeder) && on < e.since)
        .map(|e| {
            format!(
                "has a fault study of {}; {} was enlarged {}",
                on.spoken(),
                e.source,
                e.since.spoken()
            )
        })
        .collect()
}
