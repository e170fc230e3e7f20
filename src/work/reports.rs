//! Reports: corrections proposed from the field by those who may not write the
//! register. Filed into a file of their own, then accepted, amended or refused
//! by somebody who may. How a report stands is read from both files: a
//! decision counts only while the register has its operation.

mod batch;
mod decide;
mod file;
mod list;

use std::collections::HashMap;

use serde::Serialize;
use serde_json::Value;

use super::{Failure, FailureKind};
use crate::calendar::Moment;
use crate::domain::asset::{Kind, Record, RecordId};
use crate::domain::change::value_at;
use crate::domain::report::{Decided, Decision, Put, ReadOff, Standing, bare};
use crate::store::{Access, Filed, Reports, Store, StoreError, Stored};

pub use decide::{Choice, DecisionReport, Left, Taken, accept, amend, refuse, reopen, withdraw};
pub use file::{Asked, FiledReport, Prepared, allowed, file, prepare, proposable, tried};
pub use list::{Group, How, ListReport, ShowReport, Which, alike_to, list, show};

/// One field of a report beside what is on record now.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct FieldLine {
    pub field: String,
    /// On record when the report was filed.
    pub seen: Value,
    pub wanted: Value,
    /// As it was typed.
    pub typed: String,
    /// On record now; null where the record has left the register.
    pub now: Value,
    /// The record is no longer as it was when the report was filed.
    pub changed_since: bool,
    /// What is proposed stands on record by now.
    pub on_record: bool,
}

/// The record of a report.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct SubjectLine {
    /// Permanent id.
    pub id: String,
    pub kind: Kind,
    /// Its name and second identifier when the report was filed.
    pub name: String,
    pub also: String,
    pub class: Option<String>,
    pub feeder: Option<String>,
    /// Its present name, where that is another.
    pub name_now: Option<String>,
    pub gone: bool,
}

/// What was decided.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct DecisionLine {
    pub what: Decided,
    /// The account, and the name declared on a shared login.
    pub who: String,
    pub at: Moment,
    pub why: Option<String>,
    pub operation: Option<String>,
    /// What was put on record in place of what was proposed.
    pub put: Vec<Put>,
}

impl From<&Decision> for DecisionLine {
    fn from(d: &Decision) -> Self {
        DecisionLine {
            what: d.what,
            who: d.who.to_string(),
            at: d.at,
            why: d.why.clone(),
            operation: d.operation.map(|o| o.to_string()),
            put: d.put.clone(),
        }
    }
}

/// One report.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct ReportLine {
    /// Short number in the reports file.
    pub no: i64,
    /// Permanent id.
    pub id: String,
    pub state: Standing,
    pub filed: Moment,
    pub account: String,
    /// The name declared on a shared login.
    pub declared: Option<String>,
    /// Absent where the thing is not on record.
    pub about: Option<SubjectLine>,
    /// The mark of a thing that is not on record.
    pub unlisted: Option<String>,
    /// None: a note in words.
    pub fields: Vec<FieldLine>,
    pub read: Option<ReadOff>,
    pub why: String,
    /// The last decision.
    pub decision: Option<DecisionLine>,
    #[serde(skip)]
    pub last: Option<i64>,
    /// Row of the record, while it is in the register.
    #[serde(skip)]
    pub rec: Option<i64>,
}

impl ReportLine {
    /// What it is about, as that was called when the report was filed.
    #[must_use]
    pub fn name(&self) -> &str {
        match &self.about {
            Some(about) => &about.name,
            None => self.unlisted.as_deref().unwrap_or_default(),
        }
    }

    /// Whether a field is no longer as the reporter saw it, and not as
    /// proposed either.
    #[must_use]
    pub fn conflicts(&self) -> bool {
        self.fields.iter().any(|f| f.changed_since && !f.on_record)
    }

    /// Who filed it, for people.
    #[must_use]
    pub fn by(&self) -> String {
        crate::domain::who::Who {
            account: self.account.clone(),
            declared: self.declared.clone(),
        }
        .to_string()
    }
}

/// The reports of a register for reading; none when none was ever filed.
///
/// # Errors
/// When the file cannot be used.
pub fn open(store: &Store) -> Result<Option<Reports>, Failure> {
    no_backup(store)?;
    Ok(Reports::open(store.path(), Access::Read)?)
}

/// The reports of a register for deciding about them: only those decide who
/// may write the register.
///
/// # Errors
/// When the register or the reports may not be written, or none was filed.
pub fn open_to_decide(store: &Store) -> Result<Reports, Failure> {
    no_backup(store)?;
    if store.access() == Access::Read {
        return Err(Failure::unusable(format!(
            "{} can be read but not written by this account; only who may write it decides about reports",
            store.path().display()
        ))
        .hint("nothing was decided; the records clerk does"));
    }
    Reports::open(store.path(), Access::Write)?.ok_or_else(none_filed)
}

/// Reports are filed and decided beside the register, not beside a copy.
///
/// # Errors
/// When the store is a backup; those of the register.
pub(super) fn no_backup(store: &Store) -> Result<(), Failure> {
    if store.mark()?.is_none() {
        return Ok(());
    }
    Err(Failure::unusable(format!(
        "{} is a backup: reports are filed, listed and decided in the register itself",
        store.path().display()
    ))
    .hint("name the register with --register PATH, or put the backup back with `polecard restore`"))
}

pub(super) fn none_filed() -> Failure {
    Failure::not_found("no report was ever filed for this register")
        .hint("file one with polecard report ID field=value --why TEXT")
}

/// The one report that a number or the beginning of an id names.
///
/// # Errors
/// Not found, or several.
pub fn called(reports: &Reports, text: &str) -> Result<Filed, Failure> {
    const NUMBER: usize = 12;
    let text = text.trim().trim_start_matches('#');
    let number = text.len() <= NUMBER && text.bytes().all(|b| b.is_ascii_digit());
    let mut found = match text.parse::<i64>() {
        Ok(no) if number => reports.numbered(no)?.into_iter().collect(),
        _ if text.is_empty() || !text.bytes().all(|b| b.is_ascii_alphanumeric()) => Vec::new(),
        _ => reports.beginning(text)?,
    };
    match (found.pop(), found.is_empty()) {
        (Some(one), true) => Ok(one),
        (Some(_), false) => Err(Failure::not_found(format!(
            "several reports have an id that begins with {text}; type more of it"
        ))),
        (None, _) => Err(Failure::not_found(format!("there is no report {text}"))
            .hint("polecard reports --state all lists them with their numbers")),
    }
}

/// What the register's log says of decisions: asked once, then from memory.
pub(super) struct Log<'s> {
    store: &'s Store,
    undone: HashMap<RecordId, RecordId>,
    known: HashMap<RecordId, bool>,
}

impl<'s> Log<'s> {
    pub(super) fn of(store: &'s Store) -> Result<Self, StoreError> {
        Ok(Log {
            store,
            undone: store.undoings()?,
            known: HashMap::new(),
        })
    }

    fn has(&mut self, id: RecordId) -> Result<bool, StoreError> {
        if let Some(known) = self.known.get(&id) {
            return Ok(*known);
        }
        let has = self.store.has_operation(id)?;
        self.known.insert(id, has);
        Ok(has)
    }

    /// An undo that is itself undone does not count.
    fn taken_back(&self, id: RecordId) -> bool {
        let mut back = false;
        let mut at = id;
        while let Some(by) = self.undone.get(&at) {
            back = !back;
            at = *by;
        }
        back
    }

    /// How a report stands, by the last decision about it.
    pub(super) fn standing(&mut self, last: Option<&Decision>) -> Result<Standing, StoreError> {
        let Some(decision) = last else {
            return Ok(Standing::Waiting);
        };
        Ok(match (decision.what, decision.operation) {
            // Begun, and never carried out.
            (_, Some(op)) if !self.has(op)? => Standing::Waiting,
            (_, Some(op)) if self.taken_back(op) => Standing::Undone,
            (Decided::Accepted, _) => Standing::Accepted,
            (Decided::Amended, _) => Standing::Amended,
            (Decided::Refused, _) => Standing::Refused,
            (Decided::Withdrawn, _) => Standing::Withdrawn,
            (Decided::Reopened, _) => Standing::Waiting,
        })
    }

    /// A report beside the record as it is now.
    pub(super) fn line(&mut self, filed: &Filed) -> Result<ReportLine, StoreError> {
        let stored = match &filed.report.about {
            Some(about) => self.store.by_id(about.id)?,
            None => None,
        };
        self.beside(filed, stored.as_ref())
    }

    pub(super) fn beside(
        &mut self,
        filed: &Filed,
        stored: Option<&Stored>,
    ) -> Result<ReportLine, StoreError> {
        let report = &filed.report;
        let last = filed.last.as_ref();
        let state = self.standing(last.map(|(_, d)| d))?;
        let now = stored.map(|s| s.record.to_value());
        let fields = report.fields.iter().map(|p| {
            let now = now.as_ref().map_or(&Value::Null, |v| value_at(v, &p.field));
            FieldLine {
                field: p.field.clone(),
                seen: p.seen.clone(),
                wanted: p.wanted.clone(),
                typed: p.typed.clone(),
                now: now.clone(),
                changed_since: *now != p.seen,
                on_record: bare(now) == bare(&p.wanted) && !now.is_null(),
            }
        });
        let about = report.about.as_ref().map(|a| SubjectLine {
            id: a.id.to_string(),
            kind: a.kind,
            name: a.name.clone(),
            also: a.also.clone(),
            class: a.class.clone(),
            feeder: a.feeder.clone(),
            name_now: stored
                .map(|s: &Stored| Record::name(&s.record))
                .filter(|n| *n != a.name),
            gone: stored.is_none(),
        });
        Ok(ReportLine {
            no: filed.no,
            id: report.id.to_string(),
            state,
            filed: report.filed,
            account: report.who.account.clone(),
            declared: report.who.declared.clone(),
            about,
            unlisted: report.unlisted.clone(),
            fields: fields.collect(),
            read: report.read.clone(),
            why: report.why.clone(),
            decision: last.map(|(_, d)| d.into()),
            last: last.map(|(no, _)| *no),
            rec: stored.map(|s| s.rec),
        })
    }
}

/// The first failure of several, with how many there are.
fn all_failed(left: &[Left], first: Failure) -> Failure {
    match left.len() {
        0 | 1 => first,
        n => Failure::new(
            FailureKind::Unusable,
            format!(
                "none of the {n} reports could be taken in: {}",
                first.message
            ),
        )
        .hint("look at each: polecard reports show NUMBER"),
    }
}
