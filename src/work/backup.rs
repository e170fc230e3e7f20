//! Backup, its check, and restore.
//!
//! A backup is written aside, checked, and only then given its name. A restore
//! checks the backup first, says what it would lose, keeps the present
//! register aside, and puts the backup's content in its place in one step.

mod restore;

use std::path::Path;

use serde::Serialize;

use super::aside::{aside, io, sync_folder};
use super::heads::{Expected, heads};
use super::{Failure, JSON_VERSION};
use crate::calendar::Moment;
use crate::store::{
    Access, Reports, Store, StoreError, file_digest, remove_with_logs, reports_beside,
};

pub use restore::{Lost, RestoreAsk, RestoreReport, restore};

/// Faults that a check spells out; all are counted.
const SPELLED: usize = 50;

/// What a check of a file found.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct CheckReport {
    pub polecard: u32,
    pub file: String,
    pub bytes: u64,
    /// When the backup was taken; none for a register that is no backup.
    pub made: Option<Moment>,
    pub operations: i64,
    pub records: usize,
    /// Digest of the last operation.
    pub chain_head: String,
    /// SHA-256 of the reports file that the backup took along; it stands beside
    /// it, named as beside a register.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub reports: Option<String>,
    /// Whether file, chain, records, index, reports and heads are all as they should be.
    pub sound: bool,
    pub faults_in_all: usize,
    pub faults: Vec<Fault>,
    pub heads: Vec<Expected>,
}

/// One thing wrong with a file.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct Fault {
    /// `file`, `chain`, `record`, `index`, `reports` or `head`.
    pub part: &'static str,
    pub why: String,
}

/// A backup that was taken.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct BackupReport {
    #[serde(flatten)]
    pub check: CheckReport,
    pub register: String,
    /// Whether an older backup of that name was replaced.
    pub replaced: bool,
}

/// Takes a backup of a register into a file, while others may write.
///
/// # Errors
/// When something else is in the way, the disk refuses, or the register itself
/// is not sound; nothing is then put in place, and an older backup of that
/// name stays.
pub fn backup(store: &Store, to: &Path, now: Moment) -> Result<BackupReport, Failure> {
    let replaced = in_the_way(store, to)?;
    let aside = aside(to)?;
    let done = take(store, to, &aside, now);
    if done.is_err() {
        remove_with_logs(&aside);
        remove_with_logs(&reports_beside(&aside));
    }
    Ok(BackupReport {
        check: done?,
        register: store.path().display().to_string(),
        replaced,
    })
}

fn take(store: &Store, to: &Path, aside: &Path, now: Moment) -> Result<CheckReport, Failure> {
    // Reports first: what is decided between the two copies is then in the
    // register's and only missing among the decisions.
    let reports = take_reports(store, to, aside)?;
    store
        .copy_with(aside, Some(now), reports)
        .map_err(|e| e.about(to))?;
    same_permissions(store.path(), aside)?;
    let mut report = check(aside, &[])?;
    if !report.sound {
        let mut failure = Failure::unusable(format!(
            "{} is not sound, so no backup of it was put in place",
            store.path().display()
        ));
        for fault in report.faults.iter().take(5) {
            failure = failure.hint(format!("{}: {}", fault.part, fault.why));
        }
        return Err(failure.hint(
            "copy the file aside, and restore the last sound backup (`polecard backup --check FILE`)",
        ));
    }
    put_reports(aside, to)?;
    std::fs::rename(aside, to).map_err(|e| io(to, &e))?;
    sync_folder(to)?;
    report.file = to.display().to_string();
    Ok(report)
}

/// Copies the reports file aside, where there is one; its digest.
fn take_reports(store: &Store, to: &Path, aside: &Path) -> Result<Option<String>, Failure> {
    let copy = reports_beside(aside);
    remove_with_logs(&copy);
    let Some(reports) = Reports::open(store.path(), Access::Read)? else {
        return Ok(None);
    };
    reports
        .copy_to(&copy)
        .map_err(|e| e.about(&reports_beside(to)))?;
    same_permissions(reports.path(), &copy)?;
    Ok(Some(file_digest(&copy)?))
}

/// Gives the copied reports their name beside the backup; reports of an older
/// backup of that name go.
fn put_reports(aside: &Path, to: &Path) -> Result<(), Failure> {
    let (from, place) = (reports_beside(aside), reports_beside(to));
    if from.exists() {
        return std::fs::rename(&from, &place).map_err(|e| io(&place, &e));
    }
    remove_with_logs(&place);
    Ok(())
}

/// What is wrong with the reports file that a backup took along.
fn reports_fault(backup: &Path, digest: Option<&str>) -> Option<String> {
    let digest = digest?;
    let place = reports_beside(backup);
    match file_digest(&place) {
        Ok(found) if found == digest => None,
        Ok(_) => Some(format!("{} was changed since the backup", place.display())),
        Err(_) => Some(format!(
            "{} is missing or cannot be read: it belongs to the backup",
            place.display()
        )),
    }
}

/// Whether an older backup is there to be replaced; anything else in the way
/// is refused.
fn in_the_way(store: &Store, to: &Path) -> Result<bool, Failure> {
    let shown = to.display();
    let meta = match std::fs::symlink_metadata(to) {
        Err(e) if e.kind() == std::io::ErrorKind::NotFound => return Ok(false),
        Err(e) => return Err(io(to, &e)),
        Ok(meta) => meta,
    };
    let left = |what: &str| {
        Failure::unusable(format!("{shown} {what}; it was left as it is"))
            .hint("name a new file, or an older backup to replace")
    };
    if meta.is_dir() {
        return Err(left("is a folder"));
    }
    if !meta.is_file() {
        return Err(left("is no plain file"));
    }
    let same = |a: &Path, b: &Path| matches!((a.canonicalize(), b.canonicalize()), (Ok(a), Ok(b)) if a == b);
    if same(store.path(), to) {
        return Err(left("is the register itself"));
    }
    match Store::open(to, Access::Read) {
        Ok(old) if old.mark()?.is_some() => Ok(true),
        Ok(_) => Err(left("is a register, not a backup")),
        Err(_) => Err(left("is not a backup of this program")),
    }
}

/// Gives a file the permissions of another.
fn same_permissions(of: &Path, to: &Path) -> Result<(), Failure> {
    let permissions = std::fs::metadata(of).map_err(|e| io(of, &e))?.permissions();
    std::fs::set_permissions(to, permissions).map_err(|e| io(to, &e))
}

/// Checks a backup, or any register file: the file itself, the chain from the
/// first operation, every record against what its changes make of it, the
/// index, and heads that were printed earlier.
///
/// # Errors
/// When the file is none of this program's or cannot be opened at all.
pub fn check(path: &Path, expect: &[String]) -> Result<CheckReport, Failure> {
    let store = Store::open(path, Access::Read)?;
    check_open(&store, expect)
}

fn check_open(store: &Store, expect: &[String]) -> Result<CheckReport, Failure> {
    let mut faults = Faults::default();
    let mark = store.mark()?;
    for line in store.file_faults()? {
        faults.add("file", line);
    }
    // A file with holes may fail at any further question.
    let walked = walk(store, &mut faults);
    let records = match walked {
        Ok(n) => n,
        Err(e @ (StoreError::Busy(..) | StoreError::Full(_))) => return Err(e.into()),
        Err(e) => {
            faults.add("file", e.to_string().replace('\n', "; "));
            0
        }
    };
    let head = store.head().unwrap_or_default();
    if let Some(mark) = &mark
        && (mark.head != head.digest || mark.operations != head.seq)
    {
        faults.add(
            "head",
            format!(
                "was taken at operation {} and now ends at {}: the file was changed since",
                mark.operations, head.seq
            ),
        );
    }
    let with_reports = mark.as_ref().and_then(|m| m.reports.clone());
    let fault = reports_fault(store.path(), with_reports.as_deref());
    if let Some(why) = fault {
        faults.add("reports", why);
    }
    let heads = heads(store, expect, None)?;
    for lost in heads.iter().filter(|h| !h.found) {
        faults.add("head", format!("{}: {}", lost.head, lost.words));
    }
    Ok(CheckReport {
        polecard: JSON_VERSION,
        file: store.path().display().to_string(),
        bytes: std::fs::metadata(store.path()).map_or(0, |m| m.len()),
        made: mark.map(|m| m.made),
        operations: head.seq,
        records,
        chain_head: head.digest,
        reports: with_reports,
        sound: faults.all == 0,
        faults_in_all: faults.all,
        faults: faults.spelled,
        heads,
    })
}

/// Chain, records and index; returns the number of records.
fn walk(store: &Store, faults: &mut Faults) -> Result<usize, StoreError> {
    match store.broken_link() {
        Ok(None) => {}
        Ok(Some(seq)) => faults.add(
            "chain",
            format!("operation {seq} does not follow from the one before it"),
        ),
        Err(StoreError::BadLog(at, why)) => {
            faults.add("chain", format!("operation {at} cannot be read: {why}"));
        }
        Err(other) => return Err(other),
    }
    store.drifted(|d| {
        faults.add("record", format!("{} {} {}", d.kind, d.name, d.why));
        Ok::<(), StoreError>(())
    })?;
    for home in store.unlike_lines()? {
        faults.add(
            "line",
            format!("the line of {home} that is kept is not the one its records give"),
        );
    }
    store.index_faults(|why| {
        faults.add("index", why);
        Ok::<(), StoreError>(())
    })
}

#[derive(Default)]
struct Faults {
    all: usize,
    spelled: Vec<Fault>,
}

impl Faults {
    fn add(&mut self, part: &'static str, why: String) {
        self.all += 1;
        if self.spelled.len() < SPELLED {
            self.spelled.push(Fault { part, why });
        }
    }
}
