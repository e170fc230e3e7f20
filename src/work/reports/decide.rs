//! Deciding about reports: taken into the register as one operation, however
//! many they are, or refused, or withdrawn.
//!
//! The decision is written first and counts only once the register has its
//! operation: whatever ends the program in between, nothing is lost and
//! nothing counts that was not done.

use serde::Serialize;

use super::super::edit::{printed, split};
use super::super::guard;
use super::super::{Failure, JSON_VERSION};
use super::batch::Batch;
use super::{Log, ReportLine, all_failed};
use crate::calendar::Moment;
use crate::domain::report::{Decided, Decision, ReadOff, Standing, bare};
use crate::domain::who::Who;
use crate::store::{Filed, Reports, Store};

/// A decision that was begun is taken for being carried out for so long.
const BEING_DECIDED_MS: u64 = 60_000;

/// What goes with a decision.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Choice {
    /// The clerk's own words; needed to refuse.
    pub why: Option<String>,
    /// Who confirms it beside the clerk, as declared.
    pub second: Option<String>,
    /// `field=value` in place of what was proposed.
    pub set: Vec<String>,
    /// Who read these values, where that is not as reported.
    pub read: Option<ReadOff>,
}

/// A report that was decided.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Taken {
    pub no: i64,
    pub id: String,
    pub name: String,
}

/// A report that was left as it was, and why.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Left {
    pub no: i64,
    pub id: String,
    pub name: String,
    pub why: String,
}

/// What was decided; its JSON is the document printed.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct DecisionReport {
    pub polecard: u32,
    pub what: Decided,
    /// The operation that took them into the register; absent when it says so
    /// already, or for notes and refusals.
    pub operation: Option<String>,
    pub changes: usize,
    pub decided: Vec<Taken>,
    /// Those that still wait.
    pub left: Vec<Left>,
    pub why: String,
}

impl DecisionReport {
    /// 0 when each was decided, 1 when some still wait.
    #[must_use]
    pub fn exit_code(&self) -> i32 {
        i32::from(!self.left.is_empty())
    }
}

/// Takes reports into the register as proposed, all in one operation; those
/// that cannot be are left as they were, each with the reason.
///
/// # Errors
/// When none could be taken in; a conflict that arose meanwhile; those of the
/// two files. Nothing is changed then.
pub fn accept(
    store: &mut Store,
    reports: &mut Reports,
    numbers: &[i64],
    choice: &Choice,
    who: &Who,
    now: Moment,
) -> Result<DecisionReport, Failure> {
    let found = look_up(store, reports, numbers)?;
    let mut batch = Batch::new(who, now);
    let mut first: Option<Failure> = None;
    for (filed, line) in &found {
        let added = decidable(filed, line, now)
            .and_then(|()| as_seen(store, line))
            .and_then(|()| batch.add(store, filed, line, choice, Decided::Accepted));
        if let Err(failure) = added {
            batch.left.push(Left {
                no: filed.no,
                id: line.id.clone(),
                name: line.name().to_string(),
                why: one_line(&failure),
            });
            first.get_or_insert(failure);
        }
    }
    match first {
        Some(first) if batch.decisions.is_empty() => Err(all_failed(&batch.left, first)),
        _ => batch.write(store, reports, Decided::Accepted, &found, choice),
    }
}

/// Takes one report into the register with values other than proposed. The
/// fields named are held against what is on record now; the others as in
/// [`accept`].
///
/// # Errors
/// As [`accept`].
pub fn amend(
    store: &mut Store,
    reports: &mut Reports,
    number: i64,
    choice: &Choice,
    who: &Who,
    now: Moment,
) -> Result<DecisionReport, Failure> {
    if choice.set.is_empty() {
        return Err(
            Failure::usage("name what to put on record instead: field=value")
                .hint("to take it in as proposed: polecard reports accept"),
        );
    }
    let found = look_up(store, reports, &[number])?;
    let mut batch = Batch::new(who, now);
    for (filed, line) in &found {
        decidable(filed, line, now)?;
        let mut others = line.clone();
        for set in &choice.set {
            let (field, _) = split(set)?;
            others.fields.retain(|f| f.field != field);
        }
        as_seen(store, &others)?;
        batch.add(store, filed, line, choice, Decided::Amended)?;
    }
    batch.write(store, reports, Decided::Amended, &found, choice)
}

/// Refuses reports, with the reason that the reporter reads.
///
/// # Errors
/// Usage, without a reason; a report that is decided already; those of the
/// two files. Nothing is decided then.
pub fn refuse(
    store: &Store,
    reports: &mut Reports,
    numbers: &[i64],
    why: &str,
    who: &Who,
    now: Moment,
) -> Result<DecisionReport, Failure> {
    if why.trim().is_empty() {
        return Err(Failure::usage("a report is refused with a reason")
            .hint("the one who filed it reads it: --why \"the plate was read again: 70 A\""));
    }
    let found = look_up(store, reports, numbers)?;
    for (filed, line) in &found {
        decidable(filed, line, now)?;
    }
    close(reports, &found, Decided::Refused, why, who, now)
}

/// Takes a refusal back: the reports wait again, and the refusal stays among
/// their decisions.
///
/// # Errors
/// Usage, for a report that is not refused; those of the two files. Nothing is
/// changed then.
pub fn reopen(
    store: &Store,
    reports: &mut Reports,
    numbers: &[i64],
    why: &str,
    who: &Who,
    now: Moment,
) -> Result<DecisionReport, Failure> {
    let found = look_up(store, reports, numbers)?;
    for (filed, line) in &found {
        if line.state != Standing::Refused {
            let hint = match line.state {
                Standing::Accepted | Standing::Amended => {
                    "what was taken in is taken back as an operation: polecard undo"
                }
                Standing::Withdrawn => "who filed it withdrew it; it is filed again",
                _ => "it waits for a decision already",
            };
            return Err(Failure::usage(format!(
                "report {} is {}; only a refusal is taken back, nothing was changed",
                filed.no, line.state
            ))
            .hint(hint));
        }
    }
    close(reports, &found, Decided::Reopened, why, who, now)
}

/// Withdraws a report of one's own.
///
/// # Errors
/// Usage, when it is somebody else's; when it is decided already; those of the
/// two files.
pub fn withdraw(
    store: &Store,
    reports: &mut Reports,
    number: i64,
    why: &str,
    who: &Who,
    now: Moment,
) -> Result<DecisionReport, Failure> {
    let found = look_up(store, reports, &[number])?;
    for (filed, line) in &found {
        if filed.report.who != *who {
            return Err(Failure::usage(format!(
                "report {} was filed by {}; only who filed it withdraws it",
                filed.no, filed.report.who
            ))
            .hint("whoever may write the register can refuse it"));
        }
        decidable(filed, line, now)?;
    }
    close(reports, &found, Decided::Withdrawn, why, who, now)
}

/// Decides without touching the register.
fn close(
    reports: &mut Reports,
    found: &[(Filed, ReportLine)],
    what: Decided,
    why: &str,
    who: &Who,
    now: Moment,
) -> Result<DecisionReport, Failure> {
    let why = why.trim();
    let decision = Decision {
        what,
        who: who.clone(),
        at: now,
        why: (!why.is_empty()).then(|| why.to_string()),
        operation: None,
        put: Vec::new(),
    };
    let all: Vec<_> = found
        .iter()
        .map(|(f, line)| (f.no, line.last, decision.clone()))
        .collect();
    reports.decide(&all)?;
    Ok(DecisionReport {
        polecard: JSON_VERSION,
        what,
        operation: None,
        changes: 0,
        decided: found.iter().map(|(_, line)| taken(line)).collect(),
        left: Vec::new(),
        why: why.to_string(),
    })
}

pub(super) fn taken(line: &ReportLine) -> Taken {
    Taken {
        no: line.no,
        id: line.id.clone(),
        name: line.name().to_string(),
    }
}

/// A failure with its hints, in one line.
fn one_line(failure: &Failure) -> String {
    let mut out = failure.message.clone();
    for hint in &failure.hints {
        out.push_str("; ");
        out.push_str(hint);
    }
    out
}

fn look_up(
    store: &Store,
    reports: &Reports,
    numbers: &[i64],
) -> Result<Vec<(Filed, ReportLine)>, Failure> {
    let mut log = Log::of(store)?;
    let mut out = Vec::new();
    for no in numbers {
        let filed = reports
            .numbered(*no)?
            .ok_or_else(|| Failure::not_found(format!("there is no report {no}")))?;
        let line = log.line(&filed)?;
        out.push((filed, line));
    }
    Ok(out)
}

/// Whether a report waits for a decision.
fn decidable(filed: &Filed, line: &ReportLine, now: Moment) -> Result<(), Failure> {
    let Some((_, decision)) = &filed.last else {
        return Ok(());
    };
    if !line.state.is_open() {
        return Err(Failure::usage(format!(
            "report {} is {} already, by {}, {}",
            filed.no,
            line.state,
            decision.who,
            decision.at.spoken()
        )));
    }
    let begun = line.state == Standing::Waiting && decision.operation.is_some();
    let age = now.unix_millis().saturating_sub(decision.at.unix_millis());
    if begun && age < BEING_DECIDED_MS {
        return Err(Failure::unusable(format!(
            "report {} is being decided by {} at this moment",
            filed.no, decision.who
        ))
        .hint("look at it again in a minute"));
    }
    Ok(())
}

/// Holds what the reporter saw against what is on record now.
fn as_seen(store: &Store, line: &ReportLine) -> Result<(), Failure> {
    let Some(about) = &line.about else {
        return Ok(());
    };
    if about.gone {
        return Err(Failure::unusable(format!(
            "{} has left the register since report {} was filed",
            about.name, line.no
        )));
    }
    let Some(f) = line.fields.iter().find(|f| f.changed_since && !f.on_record) else {
        return Ok(());
    };
    let mut failure = Failure::unusable(format!(
        "{}: {} was {} when report {} was filed, is now {}, and {} is proposed; nothing was changed",
        about.name,
        f.field,
        printed(bare(&f.seen)),
        line.no,
        printed(&f.now),
        printed(bare(&f.wanted))
    ))
    .hint(format!(
        "look at both and choose: polecard reports amend {} {}=VALUE, or refuse it",
        line.no, f.field
    ));
    let stored = match line.rec {
        Some(rec) => store.by_row(rec)?,
        None => None,
    };
    if let Some(stored) = stored
        && let Some((who, when, why)) = guard::last_change(store, &stored, &f.field)?
    {
        failure = failure.hint(format!("{who} changed it, {when}: {why}"));
    }
    Err(failure)
}
