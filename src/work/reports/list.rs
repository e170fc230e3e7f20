//! Listing reports, one by one or with those that are alike.

use std::collections::HashMap;

use serde::Serialize;
use serde_json::Value;

use super::super::{Failure, JSON_VERSION, is_demo, resolve_among};
use super::{DecisionLine, Log, ReportLine, called, none_filed};
use crate::domain::asset::Kind;
use crate::domain::code::fold;
use crate::domain::report::{Standing, bare};
use crate::store::{Reports, Store};

/// Which reports are asked for; all that wait when nothing is said.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Which {
    /// About one record.
    pub of: Option<String>,
    pub feeder: Option<String>,
    /// Of one standing; none: those to be decided.
    pub state: Option<Standing>,
    /// Of every standing.
    pub all: bool,
    /// Only these numbers.
    pub numbers: Option<Vec<i64>>,
}

/// In what way reports are alike.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum How {
    /// The same field from the same value to the same value.
    SameChange,
    /// The same field, to values of their own.
    SameField,
}

/// Alike reports.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Group {
    pub how: How,
    pub kind: Kind,
    pub class: Option<String>,
    /// The fields, joined by commas.
    pub field: String,
    /// The common old and new value of each field, where they are common.
    pub seen: Vec<Value>,
    pub wanted: Vec<Value>,
    /// Numbers of the reports, oldest first.
    pub reports: Vec<i64>,
    /// How many of them are about a record that has changed since.
    pub changed_since: usize,
}

/// The reports; its JSON is the document printed.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct ListReport {
    pub polecard: u32,
    /// The utility is made up.
    pub demo: bool,
    /// Those to be decided, oldest first, then the others.
    pub reports: Vec<ReportLine>,
    /// Of those to be decided, the alike ones; the greatest group first.
    pub groups: Vec<Group>,
}

/// Lists the reports of a register.
///
/// # Errors
/// When the record asked for is not found; those of the two files.
pub fn list(
    store: &Store,
    reports: Option<&Reports>,
    which: &Which,
) -> Result<ListReport, Failure> {
    let mut lines = Vec::new();
    if let Some(reports) = reports {
        let filed = match &which.of {
            Some(text) => reports.about(resolve_among(store, text, &[])?.stored.record.id())?,
            None => reports.all()?,
        };
        let mut log = Log::of(store)?;
        for one in &filed {
            let standing = log.standing(one.last.as_ref().map(|(_, d)| d))?;
            if wanted(which, one.no, standing, one.report.about.as_ref()) {
                lines.push(log.line(one)?);
            }
        }
    }
    lines.sort_by_key(|l| !l.state.is_open());
    Ok(ListReport {
        polecard: JSON_VERSION,
        demo: is_demo(store)?,
        groups: groups(&lines),
        reports: lines,
    })
}

fn wanted(
    which: &Which,
    no: i64,
    standing: Standing,
    about: Option<&crate::domain::report::Subject>,
) -> bool {
    let state = match which.state {
        Some(state) => state == standing,
        None => which.all || standing.is_open(),
    };
    let numbered = which.numbers.as_ref().is_none_or(|n| n.contains(&no));
    let at = |wanted: &String| {
        let feeder = about.and_then(|a| a.feeder.as_deref());
        feeder.is_some_and(|f| f.split(" and ").any(|f| fold(f) == fold(wanted)))
    };
    state && numbered && which.feeder.as_ref().is_none_or(at)
}

/// What makes reports alike: kind, class and fields.
type Key = (Kind, Option<String>, String);

fn key(line: &ReportLine) -> Option<Key> {
    let about = line.about.as_ref()?;
    if line.fields.is_empty() || !line.state.is_open() {
        return None;
    }
    let fields: Vec<&str> = line.fields.iter().map(|f| f.field.as_str()).collect();
    Some((about.kind, about.class.clone(), fields.join(", ")))
}

/// The common change of reports, without who read it.
fn change(line: &ReportLine) -> (Vec<Value>, Vec<Value>) {
    let fields = line.fields.iter();
    fields
        .map(|f| (bare(&f.seen).clone(), bare(&f.wanted).clone()))
        .unzip()
}

fn groups(lines: &[ReportLine]) -> Vec<Group> {
    let mut by_key: Vec<(Key, Vec<&ReportLine>)> = Vec::new();
    let mut at: HashMap<Key, usize> = HashMap::new();
    for line in lines {
        let Some(key) = key(line) else { continue };
        let i = *at.entry(key.clone()).or_insert_with(|| {
            by_key.push((key, Vec::new()));
            by_key.len() - 1
        });
        by_key[i].1.push(line);
    }
    let mut out: Vec<Group> = by_key
        .into_iter()
        .flat_map(|(key, lines)| split(&key, lines))
        .collect();
    out.sort_by_key(|g| (std::cmp::Reverse(g.reports.len()), g.reports[0]));
    out
}

/// Those of one key: each change that several propose, then the rest together.
fn split(key: &Key, lines: Vec<&ReportLine>) -> Vec<Group> {
    let mut by_change: HashMap<String, Vec<&ReportLine>> = HashMap::new();
    for line in lines {
        let (seen, wanted) = change(line);
        let same = format!("{} {}", Value::Array(seen), Value::Array(wanted));
        by_change.entry(same).or_default().push(line);
    }
    let mut out = Vec::new();
    let mut rest = Vec::new();
    for same in by_change.into_values() {
        if same.len() > 1 {
            out.push(group(How::SameChange, key, same));
        } else {
            rest.extend(same);
        }
    }
    if rest.len() > 1 {
        rest.sort_by_key(|l| l.no);
        out.push(group(How::SameField, key, rest));
    }
    out
}

fn group(how: How, (kind, class, field): &Key, lines: Vec<&ReportLine>) -> Group {
    let (seen, wanted) = match how {
        How::SameChange => change(lines[0]),
        How::SameField => (Vec::new(), Vec::new()),
    };
    Group {
        how,
        kind: *kind,
        class: class.clone(),
        field: field.clone(),
        seen,
        wanted,
        changed_since: lines.iter().filter(|l| l.conflicts()).count(),
        reports: lines.iter().map(|l| l.no).collect(),
    }
}

/// The numbers of the reports that wait and are alike to one of these, these
/// included, in order.
///
/// # Errors
/// Those of the two files.
pub fn alike_to(store: &Store, reports: &Reports, numbers: &[i64]) -> Result<Vec<i64>, Failure> {
    let listed = list(store, Some(reports), &Which::default())?;
    let mut out: Vec<i64> = listed
        .groups
        .iter()
        .filter(|g| g.reports.iter().any(|no| numbers.contains(no)))
        .flat_map(|g| g.reports.iter().copied())
        .chain(numbers.iter().copied())
        .collect();
    out.sort_unstable();
    out.dedup();
    Ok(out)
}

/// One report with all that was ever decided about it.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct ShowReport {
    pub polecard: u32,
    #[serde(flatten)]
    pub report: ReportLine,
    /// The second identifier of the record as it is now.
    pub also_now: Option<String>,
    /// Who changed each field since, when, and why.
    pub since: Vec<Since>,
    /// Oldest first.
    pub decisions: Vec<DecisionLine>,
    /// Numbers of the reports that wait and are alike, this one left out.
    pub alike: Vec<i64>,
}

/// A change of a reported field after the report was filed.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Since {
    pub field: String,
    pub who: String,
    pub when: String,
    pub why: String,
}

/// Shows the report that a number or the beginning of an id names.
///
/// # Errors
/// Not found, or several; those of the two files.
pub fn show(store: &Store, reports: Option<&Reports>, text: &str) -> Result<ShowReport, Failure> {
    let reports = reports.ok_or_else(none_filed)?;
    let filed = called(reports, text)?;
    let line = Log::of(store)?.line(&filed)?;
    let stored = match line.rec {
        Some(rec) => store.by_row(rec)?,
        None => None,
    };
    let mut since = Vec::new();
    if let Some(stored) = &stored {
        for f in line.fields.iter().filter(|f| f.changed_since) {
            if let Some((who, when, why)) =
                super::super::guard::last_change(store, stored, &f.field)?
            {
                since.push(Since {
                    field: f.field.clone(),
                    who,
                    when,
                    why,
                });
            }
        }
    }
    let alike = if line.state.is_open() && !line.fields.is_empty() {
        let mut alike = alike_to(store, reports, &[filed.no])?;
        alike.retain(|no| *no != filed.no);
        alike
    } else {
        Vec::new()
    };
    Ok(ShowReport {
        polecard: JSON_VERSION,
        also_now: match &stored {
            Some(s) => Some(super::super::also_of(store, s)?.words()),
            None => None,
        },
        since,
        decisions: reports
            .decisions(filed.no)?
            .iter()
            .map(DecisionLine::from)
            .collect(),
        alike,
        report: line,
    })
}
