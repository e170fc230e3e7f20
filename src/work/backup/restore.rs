//! The way back.

use std::path::{Path, PathBuf};

use serde::Serialize;

use super::{check, same_permissions};
use crate::calendar::Moment;
use crate::store::{
    Access, Reports, Store, StoreError, remove_with_logs, reports_beside, with_tail,
};
use crate::work::aside::{aside, io, sync_folder};
use crate::work::{Failure, JSON_VERSION};

/// Operations that a refusal lists.
const LISTED: usize = 20;

/// What is asked.
pub struct RestoreAsk<'a> {
    pub backup: &'a Path,
    /// The register to restore into, there or not.
    pub to: &'a Path,
    /// Go on although operations would be lost.
    pub lose_newer: bool,
    pub now: Moment,
}

/// An operation that the backup does not hold.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct Lost {
    pub number: i64,
    pub operation: String,
    pub who: String,
    pub entered: Moment,
    pub why: String,
}

/// What a restore did.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct RestoreReport {
    pub polecard: u32,
    pub backup: String,
    pub register: String,
    pub made: Option<Moment>,
    pub operations: i64,
    pub records: usize,
    pub chain_head: String,
    /// Where the register as it was is kept; none when there was none.
    pub kept_aside: Option<PathBuf>,
    /// Operations that the register held and the backup does not.
    pub lost_in_all: i64,
    /// The newest of them.
    pub lost: Vec<Lost>,
    pub notes: Vec<String>,
}

/// Restores a backup into a register.
///
/// # Errors
/// When the backup is not sound, when the register holds operations that the
/// backup does not and `lose_newer` is not set, or the disk refuses. The
/// register is then as it was.
pub fn restore(ask: &RestoreAsk<'_>) -> Result<RestoreReport, Failure> {
    let checked = check(ask.backup, &[])?;
    if !checked.sound {
        let mut failure = Failure::unusable(format!(
            "{} is not sound and was not restored",
            ask.backup.display()
        ));
        for fault in checked.faults.iter().take(5) {
            failure = failure.hint(format!("{}: {}", fault.part, fault.why));
        }
        return Err(failure.hint("try an older backup; `polecard backup --check FILE` checks one"));
    }
    let mut report = RestoreReport {
        polecard: JSON_VERSION,
        backup: ask.backup.display().to_string(),
        register: ask.to.display().to_string(),
        made: checked.made,
        operations: checked.operations,
        records: checked.records,
        chain_head: checked.chain_head,
        kept_aside: None,
        lost_in_all: 0,
        lost: Vec::new(),
        notes: Vec::new(),
    };
    if checked.made.is_none() {
        report.notes.push(
            "the file was not made by `polecard backup`; it was checked all the same".to_string(),
        );
    }
    let with_reports = checked.reports.is_some();
    let stage = aside(ask.to)?;
    let staged = Store::open(ask.backup, Access::Read)?.copy_to(&stage, None);
    let done = staged
        .map_err(Failure::from)
        .and_then(|_| put(ask, &stage, &mut report));
    remove_with_logs(&stage);
    done?;
    if with_reports {
        report.notes.extend(restore_reports(ask)?);
    }
    Ok(report)
}

/// Puts the reports of a backup beside a register that has none. Those that
/// are there stay: reports only grow, and a decision counts only while the
/// register holds its operation.
fn restore_reports(ask: &RestoreAsk<'_>) -> Result<Option<String>, Failure> {
    let (from, to) = (reports_beside(ask.backup), reports_beside(ask.to));
    if std::fs::symlink_metadata(&to).is_ok() {
        return Ok(Some(format!(
            "the reports file {} stays as it is, since reports only grow; that of the backup is {}",
            to.display(),
            from.display()
        )));
    }
    let Some(reports) = Reports::open(ask.backup, Access::Read)? else {
        return Ok(None);
    };
    reports.copy_back(ask.to)?;
    same_permissions(&from, &to)?;
    sync_folder(&to)?;
    Ok(Some(format!(
        "the reports are restored too: {}",
        to.display()
    )))
}

fn put(ask: &RestoreAsk<'_>, stage: &Path, report: &mut RestoreReport) -> Result<(), Failure> {
    if std::fs::symlink_metadata(ask.to).is_err() {
        same_permissions(ask.backup, stage)?;
        return swap(ask, stage, report);
    }
    match Store::open(ask.to, Access::Write) {
        Ok(store) if store.access() == Access::Read => Err(match store.mark()? {
            Some(_) => StoreError::IsBackup(ask.to.display().to_string()).into(),
            None => StoreError::ReadOnly(ask.to.display().to_string()).into(),
        }),
        Ok(mut store) => into_open(ask, &mut store, stage, report),
        Err(e @ (StoreError::NotARegister(_) | StoreError::Damaged { .. })) if ask.to.is_file() => {
            if !ask.lose_newer {
                return Err(Failure::unusable(format!(
                    "{} is there and cannot be read as a register, so what a restore would lose is not known",
                    ask.to.display()
                ))
                .hint(e.to_string().lines().next().unwrap_or_default().to_string())
                .hint("--lose-newer restores all the same and keeps the file aside"));
            }
            same_permissions(ask.to, stage)?;
            swap(ask, stage, report)
        }
        Err(e) => Err(e.into()),
    }
}

/// Into a register that others may have open: nobody else writes from the
/// comparison until the content is exchanged.
fn into_open(
    ask: &RestoreAsk<'_>,
    store: &mut Store,
    stage: &Path,
    report: &mut RestoreReport,
) -> Result<(), Failure> {
    store.begin_restore()?;
    let done = exchange(ask, store, stage, report);
    if done.is_err() {
        // The error matters more than a mark that a dead process cannot hold.
        let _ = store.end_restore();
    }
    done
}

fn exchange(
    ask: &RestoreAsk<'_>,
    store: &mut Store,
    stage: &Path,
    report: &mut RestoreReport,
) -> Result<(), Failure> {
    let other = Store::open(stage, Access::Read)?;
    let (here, common) = (store.head()?.seq, store.last_common(&other)?);
    let there = other.head()?.seq;
    drop(other);
    report.lost_in_all = here - common;
    // A log that cannot be read any more is itself a reason to restore.
    let newest = store.newest_operations(None, LISTED).unwrap_or_default();
    report.lost = newest
        .into_iter()
        .filter(|w| w.seq > common)
        .map(|w| Lost {
            number: w.seq,
            operation: w.operation.id.to_string(),
            who: w.operation.who,
            entered: w.operation.entered,
            why: w.operation.why,
        })
        .collect();
    if report.lost_in_all > 0 && !ask.lose_newer {
        return Err(refusal(report, common, there));
    }
    if common > 0 && there > common && report.lost_in_all > 0 {
        report.notes.push(format!(
            "the two logs part after operation {common}: the backup has {} of its own",
            there - common
        ));
    }
    let kept = kept_name(ask)?;
    store.copy_to(&kept, Some(ask.now))?;
    same_permissions(ask.to, &kept)?;
    report.kept_aside = Some(kept.clone());
    store.take_over(stage).map_err(|e| {
        Failure::from(e).hint(format!(
            "the register is as it was; a copy of it is at {}",
            kept.display()
        ))
    })
}

fn refusal(report: &RestoreReport, common: i64, there: i64) -> Failure {
    let n = report.lost_in_all;
    let parted = if common == 0 {
        "shares no operation with the register".to_string()
    } else if there > common {
        format!("parts from the register after operation {common}")
    } else {
        "is older than the register".to_string()
    };
    let mut failure = Failure::unusable(format!(
        "{} {parted}: {n} operation{} would be lost; nothing was changed",
        report.backup,
        if n == 1 { "" } else { "s" }
    ));
    for lost in &report.lost {
        failure = failure.hint(format!(
            "{}  {}  {}: {}",
            lost.number,
            lost.entered.spoken(),
            lost.who,
            lost.why
        ));
    }
    let more = n - i64::try_from(report.lost.len()).unwrap_or(n);
    if more > 0 {
        failure = failure.hint(format!(
            "and {more} before these; `polecard history` lists them"
        ));
    }
    failure.hint("--lose-newer restores all the same and keeps the present register aside; --to PATH restores beside it")
}

/// A free name beside the register for what it was.
fn kept_name(ask: &RestoreAsk<'_>) -> Result<PathBuf, Failure> {
    let stamp: String = ask
        .now
        .utc()
        .chars()
        .filter(char::is_ascii_digit)
        .take(14)
        .collect();
    let free = (1..100)
        .map(|n| {
            let again = if n == 1 {
                String::new()
            } else {
                format!("-{n}")
            };
            with_tail(ask.to, &format!(".before-restore-{stamp}{again}"))
        })
        .find(|p| std::fs::symlink_metadata(p).is_err());
    free.ok_or_else(|| {
        Failure::unusable(format!(
            "too many registers are kept aside beside {}",
            ask.to.display()
        ))
        .hint("move them elsewhere")
    })
}

/// A file put in the place of nothing, or of what cannot be read: that and its
/// logs are kept aside first, since a log left over would spoil the new file.
fn swap(ask: &RestoreAsk<'_>, stage: &Path, report: &mut RestoreReport) -> Result<(), Failure> {
    let kept = kept_name(ask)?;
    for tail in ["", "-wal", "-shm"] {
        let (from, to) = (with_tail(ask.to, tail), with_tail(&kept, tail));
        match std::fs::rename(&from, &to) {
            Ok(()) => report.kept_aside = Some(kept.clone()),
            Err(e) if e.kind() == std::io::ErrorKind::NotFound => {}
            Err(e) => return Err(io(&from, &e)),
        }
    }
    std::fs::rename(stage, ask.to).map_err(|e| io(ask.to, &e))?;
    sync_folder(ask.to)
}
