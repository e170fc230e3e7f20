//! When something comes due by an interval, and the reasons in words.

use super::{Interval, Subject, What};
use crate::calendar::Date;
use crate::domain::asset::{Defect, Entry, EntryKind, Plain, RecordId, Stated};
use crate::domain::finding::Sighted;
use crate::domain::nameplate::{open_defects, short};
use crate::domain::upkeep::duty::{readings, step_down};

/// What one interval says of one thing.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Due {
    /// None: it was never done, or nobody knows when.
    pub on: Option<Date>,
    /// It was never done, so far as the record tells.
    pub never: bool,
    pub why: String,
}

/// When an interval says that something is due; none when it never does. The
/// earliest of its reasons counts, and every reason that has come by `by` is
/// stated.
#[must_use]
pub fn due(interval: &Interval, s: &Subject<'_>, by: Date) -> Option<Due> {
    let what = interval.what?;
    let written = s.written();
    let done: Vec<&Entry> = written
        .iter()
        .copied()
        .filter(|e| what.done_by(e))
        .collect();
    let last = done.iter().filter_map(|e| e.on).max();
    let reasons: Vec<Due> = [
        by_time(interval, what, s, &done, last),
        by_counter(interval, what, &written, last),
        by_duty(interval, s, &written, last),
        by_condition(interval, &written),
        by_defect(interval, s),
    ]
    .into_iter()
    .flatten()
    .collect();
    let come = |d: &&Due| d.on.is_none_or(|on| on <= by);
    let first = reasons.iter().min_by_key(|d| d.on)?;
    let mut why: Vec<&str> = reasons
        .iter()
        .filter(come)
        .map(|d| d.why.as_str())
        .collect();
    if why.is_empty() {
        why.push(&first.why);
    }
    Some(Due {
        on: first.on,
        never: reasons.iter().any(|d| d.never && come(&d)),
        why: format!("{}{}", why.join("; "), interval.taken(s)),
    })
}

fn by_time(
    interval: &Interval,
    what: What,
    s: &Subject<'_>,
    done: &[&Entry],
    last: Option<Date>,
) -> Option<Due> {
    let months = interval.months?;
    if let Some(last) = last {
        return Some(Due {
            on: Some(last.plus_months(months)),
            never: false,
            why: format!("last {what} {}, every {months} months", last.spoken()),
        });
    }
    if !done.is_empty() {
        return Some(Due {
            on: None,
            never: false,
            why: format!("{what} on record, its date unknown; every {months} months"),
        });
    }
    let liable = s
        .begun
        .map(|b| b.plus_months(interval.first_months.unwrap_or(months)));
    let begun = s.begun.map_or_else(
        || "in use since when is not recorded".to_string(),
        |b| format!("in use since {}", b.spoken()),
    );
    let first = interval.first_months.filter(|f| *f != months);
    let first = first.map_or(String::new(), |f| format!("first within {f} months, then "));
    let shallow = s
        .written()
        .iter()
        .any(|e| e.entry == EntryKind::Inspection && e.depth.is_none());
    let depth = match what {
        What::Detailed | What::Intrusive if shallow => {
            " (an inspection of no recorded depth counts as a patrol)"
        }
        _ => "",
    };
    let why = format!("no {what} on record{depth}; {begun}; {first}every {months} months");
    match (interval.spread, interval.cycle_from) {
        (true, Some(from)) => Some(shared(s.id, months, from, liable, &why)),
        _ => Some(Due {
            on: liable,
            never: true,
            why,
        }),
    }
}

/// Of what was never done, each year of the cycle takes its even share.
fn shared(id: RecordId, months: u32, from: i32, liable: Option<Date>, why: &str) -> Due {
    let years = months / 12;
    let share = i32::try_from(id.share(years)).unwrap_or(0);
    let span = i32::try_from(years).unwrap_or(1);
    let earliest = liable.map_or(from, |d| d.year().max(from));
    let year = earliest + (share - (earliest - from)).rem_euclid(span);
    Due {
        on: Date::from_ymd(year, 12, 31),
        never: true,
        why: format!("{why}; its share of 1 in {years} a year falls in {year}"),
    }
}

fn by_counter(
    interval: &Interval,
    what: What,
    written: &[&Entry],
    last: Option<Date>,
) -> Option<Due> {
    let every = interval.operations?;
    let all = readings(written);
    let start = match last {
        None => 0,
        Some(day) => all.iter().rposition(|(on, _)| *on <= day).unwrap_or(0),
    };
    let since = &all[start.min(all.len())..];
    let (read_on, figure) = *since.last()?;
    let every_words = format!("every {} operations", short(every));
    if let Some((from, to)) = step_down(since) {
        return Some(Due {
            on: None,
            never: false,
            why: format!(
                "counter went from {} to {}, so the operations since are unknown; {every_words}",
                short(from),
                short(to)
            ),
        });
    }
    let (base, words) = match last {
        None => (0.0, format!("no {what} on record")),
        Some(day) => (
            since[0].1,
            format!("{} at the {what} of {}", short(since[0].1), day.spoken()),
        ),
    };
    (figure - base >= every).then(|| Due {
        on: Some(read_on),
        never: false,
        why: format!(
            "counter {} on {}, {words}: {} operations, {every_words}",
            short(figure),
            read_on.spoken(),
            short(figure - base)
        ),
    })
}

fn by_duty(
    interval: &Interval,
    s: &Subject<'_>,
    written: &[&Entry],
    last: Option<Date>,
) -> Option<Due> {
    let every = interval.duty_percent?;
    match s.duty.as_ref()? {
        Err(why) => Some(Due {
            on: None,
            never: false,
            why: format!("duty used is unknown: {why}"),
        }),
        Ok((percent, words)) if *percent >= every => {
            let latest = written
                .iter()
                .filter(|e| e.entry == EntryKind::Operation)
                .filter_map(|e| e.on)
                .max();
            // Work done since the last operation may have renewed it; the
            // record does not say so.
            let since = match last.filter(|l| latest.is_none_or(|o| *l > o)) {
                Some(day) => format!(
                    "; the entry of {} does not say that the interrupter was renewed",
                    day.spoken()
                ),
                None => String::new(),
            };
            Some(Due {
                on: latest,
                never: false,
                why: format!(
                    "duty used {} % of {words}, every {} %{since}",
                    short(percent.round()),
                    short(every)
                ),
            })
        }
        Ok(_) => None,
    }
}

fn by_condition(interval: &Interval, written: &[&Entry]) -> Option<Due> {
    let condition = interval.condition.as_ref()?;
    let (entry, value) = written
        .iter()
        .filter_map(|e| Some((e, e.readings.get(&condition.reading)?)))
        .max_by_key(|(e, _)| e.on)?;
    let matches = match &value.value {
        Some(Plain::Number(n)) => condition.from.is_some_and(|from| *n >= from),
        Some(Plain::Text(t)) => condition.is.contains(t),
        None => false,
    };
    matches.then(|| Due {
        on: entry
            .on
            .map(|on| on.plus_months(interval.within_months.unwrap_or(0))),
        never: false,
        why: format!(
            "{} {}{}, {}{}",
            condition.reading.replace('_', " "),
            printed(value),
            scale(&condition.reading, value),
            seen(entry.on),
            within(interval)
        ),
    })
}

/// A condition is printed as its word beside its number: scales run both ways.
fn scale(reading: &str, value: &Stated) -> &'static str {
    match value.as_number() {
        Some(4.0) if reading == "condition" => " (poor)",
        Some(5.0) if reading == "condition" => " (failing)",
        _ => "",
    }
}

fn printed(value: &Stated) -> String {
    match &value.value {
        Some(Plain::Number(n)) => short(*n),
        Some(Plain::Text(t)) => t.clone(),
        None => "unknown".to_string(),
    }
}

fn seen(on: Option<Date>) -> String {
    on.map_or("seen on a date not recorded".to_string(), |d| {
        format!("seen {}", d.spoken())
    })
}

fn within(interval: &Interval) -> String {
    interval
        .within_months
        .map_or("; at once".to_string(), |m| format!("; within {m} months"))
}

fn by_defect(interval: &Interval, s: &Subject<'_>) -> Option<Due> {
    if interval.defects.is_empty() {
        return None;
    }
    let open: Vec<(Defect, Sighted)> = open_defects(s.entries)
        .into_iter()
        .filter(|(d, _)| interval.defects.contains(d))
        .collect();
    // Seen again, it is no younger: its time runs from when it was first seen.
    let first = open.iter().map(|(_, seen)| seen.first).min()?;
    let words: Vec<String> = open
        .iter()
        .map(|(d, seen)| format!("{d} {}, not cleared", seen.words()))
        .collect();
    Some(Due {
        on: first.map(|on| on.plus_months(interval.within_months.unwrap_or(0))),
        never: false,
        why: format!("{}{}", words.join("; "), within(interval)),
    })
}
