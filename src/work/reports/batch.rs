//! Reports on their way into the register: worked out one after another as
//! edits, then written as one operation with the decisions about them.

use std::collections::{HashMap, HashSet};

use serde_json::Value;

use super::super::edit::{self, Planned, planned, printed, split};
use super::super::guard::{declared, with_second};
use super::super::{Failure, JSON_VERSION};
use super::ReportLine;
use super::decide::{Choice, DecisionReport, Left, taken};
use super::file::reading;
use crate::calendar::{Date, Moment};
use crate::domain::asset::{Kind, Record, RecordId};
use crate::domain::change::{Change, Edit, Operation, value_at};
use crate::domain::report::{Decided, Decision, Put, bare, ranges};
use crate::domain::who::Who;
use crate::store::{Filed, Reports, Store, StoreError, Stored, fresh_id};

/// Reports on their way into the register as one operation.
pub(super) struct Batch<'w> {
    who: &'w Who,
    now: Moment,
    operation: RecordId,
    /// Records as the reports before leave them.
    after: HashMap<RecordId, Stored>,
    changes: Vec<Change>,
    pub decisions: Vec<(i64, Option<i64>, Decision)>,
    new_names: HashSet<(Kind, String)>,
    pub left: Vec<Left>,
}

impl<'w> Batch<'w> {
    pub fn new(who: &'w Who, now: Moment) -> Self {
        Batch {
            who,
            now,
            operation: fresh_id(now),
            after: HashMap::new(),
            changes: Vec::new(),
            decisions: Vec::new(),
            new_names: HashSet::new(),
            left: Vec::new(),
        }
    }

    pub fn add(
        &mut self,
        store: &Store,
        filed: &Filed,
        line: &ReportLine,
        choice: &Choice,
        what: Decided,
    ) -> Result<(), Failure> {
        let changed = match &filed.report.about {
            Some(about) => self.plan(store, about.id, filed, line, choice)?,
            None => false,
        };
        if line.fields.is_empty() && choice.why.as_deref().is_none_or(|w| w.trim().is_empty()) {
            return Err(Failure::usage(format!(
                "report {} is a note in words: say with --why what was done about it",
                filed.no
            )));
        }
        self.decisions.push((
            filed.no,
            line.last,
            Decision {
                what,
                who: self.who.clone(),
                at: self.now,
                why: choice.why.clone().filter(|w| !w.trim().is_empty()),
                operation: changed.then_some(self.operation),
                put: put_instead(line, choice)?,
            },
        ));
        Ok(())
    }

    /// Works out what a report makes of its record; whether anything changes.
    fn plan(
        &mut self,
        store: &Store,
        id: RecordId,
        filed: &Filed,
        line: &ReportLine,
        choice: &Choice,
    ) -> Result<bool, Failure> {
        let stored = match self.after.get(&id) {
            Some(stored) => stored.clone(),
            None => store.by_id(id)?.ok_or_else(|| {
                Failure::not_found(format!("{} has left the register", line.name()))
            })?,
        };
        let before = stored.record.to_value();
        // What reports before this one have made of it belongs to the batch.
        let touched = self.after.contains_key(&id);
        let set = wanted(&before, line, choice)?;
        if set.is_empty() {
            return Ok(touched);
        }
        let asked = edit::Asked {
            set,
            why: filed.report.why.clone(),
            reading: choice
                .read
                .as_ref()
                .or(filed.report.read.as_ref())
                .map(reading),
            second: choice.second.clone(),
            ..edit::Asked::default()
        };
        let Planned {
            after,
            changes,
            pointing,
        } = planned(store, &stored, &asked, self.today())?;
        with_second(store, &stored, &changes, &asked, &self.who.to_string())?;
        let kind = stored.record.kind();
        let new_name = changes.iter().find(|c| c.field == kind.word());
        if let Some(name) = new_name.and_then(|c| c.new.as_str())
            && !self.new_names.insert((kind, name.to_string()))
        {
            return Err(Failure::usage(format!(
                "another report of these calls another {kind} {name}"
            )));
        }
        let record = Record::from_value(kind, after)
            .map_err(|e| Failure::unusable(format!("{}: {e}", line.name())))?;
        let any = !changes.is_empty();
        self.changes.extend(changes.into_iter().map(|c| {
            Change::Edit(Edit {
                id,
                kind,
                field: c.field,
                old: c.old,
                new: c.new,
            })
        }));
        self.changes.extend(pointing);
        self.after.insert(id, Stored { record, ..stored });
        Ok(any)
    }

    fn today(&self) -> Date {
        self.now.date()
    }

    /// Writes the decisions, then the operation by which they count.
    pub fn write(
        self,
        store: &mut Store,
        reports: &mut Reports,
        what: Decided,
        found: &[(Filed, ReportLine)],
        choice: &Choice,
    ) -> Result<DecisionReport, Failure> {
        let numbers: HashSet<i64> = self.decisions.iter().map(|(no, ..)| *no).collect();
        let lines: Vec<&ReportLine> = found
            .iter()
            .map(|(_, line)| line)
            .filter(|l| numbers.contains(&l.no))
            .collect();
        let why = told(&lines, choice, self.who)?;
        let operation = Operation {
            id: self.operation,
            who: self.who.to_string(),
            entered: self.now,
            effective: None,
            why: why.clone(),
            origin: None,
            undoes: None,
        };
        let mut writer = store.writer()?;
        let all = self.changes.into_iter().map(Ok::<_, StoreError>);
        let changes = writer.operation(&operation, all)?;
        reports.decide(&self.decisions)?;
        writer.commit()?;
        Ok(DecisionReport {
            polecard: JSON_VERSION,
            what,
            operation: (changes > 0).then(|| operation.id.to_string()),
            changes,
            decided: lines.into_iter().map(taken).collect(),
            left: self.left,
            why,
        })
    }
}

/// The `field=value` to be put on record: as the clerk says, else as proposed
/// where that does not stand there yet.
///
/// # Errors
/// When a report before this one in the batch puts another value there.
fn wanted(before: &Value, line: &ReportLine, choice: &Choice) -> Result<Vec<String>, Failure> {
    let mut set = choice.set.clone();
    let mut named = Vec::new();
    for s in &choice.set {
        named.push(split(s)?.0.to_string());
    }
    for f in &line.fields {
        let there = bare(value_at(before, &f.field)) == bare(&f.wanted);
        let as_seen = value_at(before, &f.field) == &f.seen;
        if named.contains(&f.field) || (there && !as_seen) {
            continue;
        }
        if !as_seen {
            return Err(Failure::unusable(format!(
                "{}: another report of these puts {} for {}, not {}; decide about each alone",
                line.name(),
                printed(bare(value_at(before, &f.field))),
                f.field,
                printed(bare(&f.wanted))
            )));
        }
        set.push(format!("{}={}", f.field, f.typed));
    }
    Ok(set)
}

fn put_instead(line: &ReportLine, choice: &Choice) -> Result<Vec<Put>, Failure> {
    let mut out = Vec::new();
    for s in &choice.set {
        let (field, value) = split(s)?;
        let same = line
            .fields
            .iter()
            .any(|f| f.field == field && f.typed == value);
        if !same {
            out.push(Put {
                field: field.to_string(),
                value: Value::from(value),
            });
        }
    }
    Ok(out)
}

/// Why, as the operation keeps it: the words of the field, the reports by
/// their numbers, and who filed them.
fn told(lines: &[&ReportLine], choice: &Choice, who: &Who) -> Result<String, Failure> {
    const NAMED: usize = 3;
    let mut whys: Vec<&str> = Vec::new();
    let mut by: Vec<String> = Vec::new();
    for l in lines {
        if !whys.contains(&l.why.as_str()) && whys.len() <= NAMED {
            whys.push(&l.why);
        }
        let name = l.by();
        if !by.contains(&name) {
            by.push(name);
        }
    }
    let and_more = whys.len() > NAMED;
    whys.truncate(NAMED);
    let mut why = whys.join("; ");
    if and_more {
        why.push_str("; and others");
    }
    if let Some(own) = choice
        .why
        .as_deref()
        .map(str::trim)
        .filter(|w| !w.is_empty())
    {
        why = format!("{own} (reported: {why})");
    }
    let mut numbers: Vec<i64> = lines.iter().map(|l| l.no).collect();
    numbers.sort_unstable();
    let word = if numbers.len() == 1 {
        "report"
    } else {
        "reports"
    };
    let more = by.len().saturating_sub(NAMED);
    by.truncate(NAMED);
    let mut by = by.join(", ");
    if more > 0 {
        by.push_str(&format!(" and {more} others"));
    }
    let why = format!("{why} [{word} {} by {by}]", ranges(&numbers));
    declared(&why, choice.second.as_deref(), &who.to_string(), None)
}
