//! Backup, check and restore as text.

use super::Line;
use super::block::{counted, row};
use crate::role::Role;
use crate::units::figure;
use crate::work::backup::{BackupReport, CheckReport, RestoreReport};
use crate::work::heads::{Expected, Fate};

/// A backup that was taken.
#[must_use]
pub fn backup_lines(r: &BackupReport, width: usize) -> Vec<Line> {
    let mut out = Line::of(Role::Heading, " Backup taken and checked")
        .with(
            Role::Plain,
            if r.replaced {
                ", in place of an older one"
            } else {
                ""
            },
        )
        .folded(width, 3);
    out.extend(row(Role::Label, "of", &r.register, width));
    out.extend(content(&r.check, width));
    out.extend(row(
        Role::Muted,
        "keep",
        "the head apart from the file: `polecard verify --expect-head` tells later whether the log still holds it",
        width,
    ));
    out
}

/// The check of a backup or a register file.
#[must_use]
pub fn check_lines(r: &CheckReport, width: usize) -> Vec<Line> {
    let mut out = if r.sound {
        Line::of(
            Role::Heading,
            " Sound: file, chain of operations, records and index",
        )
        .folded(width, 3)
    } else {
        let faults = format!(
            "{}: do not count on this file",
            counted(r.faults_in_all, "fault")
        );
        row(Role::Stop, "STOP", &faults, width)
    };
    out.extend(content(r, width));
    for fault in &r.faults {
        out.extend(row(Role::Fails, fault.part, &fault.why, width));
    }
    let more = r.faults_in_all - r.faults.len();
    if more > 0 {
        out.extend(row(Role::Muted, "", &format!("and {more} more"), width));
    }
    for head in &r.heads {
        out.extend(head_lines(head, width));
    }
    out
}

fn content(r: &CheckReport, width: usize) -> Vec<Line> {
    let mut out = row(Role::Label, "file", &r.file, width);
    match r.made {
        Some(made) => out.extend(row(Role::Label, "taken", &made.spoken(), width)),
        None => out.extend(row(Role::Look, "LOOK", "a register, not a backup", width)),
    }
    out.extend(row(
        Role::Label,
        "holds",
        &amounts(r.records, r.operations),
        width,
    ));
    out.extend(head(r.operations, &r.chain_head, width));
    out
}

fn amounts(records: usize, operations: i64) -> String {
    format!(
        "{}, {}",
        counted(records, "record"),
        counted(usize::try_from(operations).unwrap_or(0), "operation")
    )
}

/// A head in the form in which it can be given back.
fn head(operations: i64, digest: &str, width: usize) -> Vec<Line> {
    if digest.is_empty() {
        return row(Role::Muted, "head", "none: no operation yet", width);
    }
    row(
        Role::Label,
        "head",
        &format!("{operations}:{digest}"),
        width,
    )
}

/// What became of a head that was printed earlier.
#[must_use]
pub fn head_lines(e: &Expected, width: usize) -> Vec<Line> {
    let short: String = e.head.chars().take(12).collect();
    let what = if e.of == "as given" {
        short
    } else {
        format!("{short} of {}", e.of)
    };
    let text = format!("{what}: {}", e.words);
    match e.fate {
        Fate::Held => row(Role::Label, "held", &text, width),
        Fate::Cut | Fate::Rewritten | Fate::Missing => row(Role::Stop, "STOP", &text, width),
    }
}

/// What a restore did.
#[must_use]
pub fn restore_lines(r: &RestoreReport, width: usize) -> Vec<Line> {
    let mut out = Line::of(Role::Heading, " Restored").folded(width, 3);
    out.extend(row(Role::Label, "from", &r.backup, width));
    out.extend(row(Role::Label, "into", &r.register, width));
    if let Some(made) = r.made {
        out.extend(row(Role::Label, "taken", &made.spoken(), width));
    }
    out.extend(row(
        Role::Label,
        "holds",
        &amounts(r.records, r.operations),
        width,
    ));
    out.extend(head(r.operations, &r.chain_head, width));
    if let Some(kept) = &r.kept_aside {
        let text = format!("what was there is at {}", kept.display());
        out.extend(row(Role::Label, "aside", &text, width));
    }
    if r.lost_in_all > 0 {
        let n = usize::try_from(r.lost_in_all).unwrap_or(usize::MAX);
        let text = format!(
            "{} of the register are not in the backup",
            counted(n, "operation")
        );
        out.extend(row(Role::Look, "LOOK", &text, width));
        for lost in &r.lost {
            let text = format!(
                "{}  {}  {}: {}",
                figure(f64::from(u32::try_from(lost.number).unwrap_or(u32::MAX))),
                lost.entered.spoken(),
                lost.who,
                lost.why
            );
            out.extend(row(Role::Plain, "", &text, width));
        }
    }
    for note in &r.notes {
        out.extend(row(Role::Label, "note", note, width));
    }
    out
}
