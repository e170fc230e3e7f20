//! `polecard backup` and `polecard restore`

use std::path::PathBuf;

use super::Context;
use crate::config;
use crate::present::backup as text;
use crate::work::verify::forget_head;
use crate::work::{Failure, FailureKind, backup};

/// Take a backup while others write, or check one
#[derive(Debug, clap::Args)]
#[command(
    after_help = "Examples:\n  polecard backup backups/2026-10-03.polecard\n  polecard backup --check backups/2026-10-03.polecard\n  polecard backup --check backups/2026-10-03.polecard --expect-head NUMBER:DIGEST\n\nA backup is one file. It is written aside, checked (file, chain of operations, every record, index)\nand only then given its name; an older backup of that name is replaced, nothing else ever is.\nNote the head that is printed and keep it apart. Exit code 4 when a checked file is not sound."
)]
pub struct Args {
    /// The file to write
    #[arg(
        value_name = "FILE",
        required_unless_present = "check",
        conflicts_with = "check"
    )]
    file: Option<PathBuf>,
    /// Check a backup, or any register file, instead
    #[arg(long, value_name = "FILE")]
    check: Option<PathBuf>,
    /// A head that it must hold: NUMBER:DIGEST, DIGEST, or a file that carries one; may be repeated
    #[arg(long, value_name = "HEAD", requires = "check")]
    expect_head: Vec<String>,
}

pub fn run(args: &Args, context: &Context) -> Result<i32, Failure> {
    if let Some(file) = &args.check {
        let report = backup::check(file, &args.expect_head)?;
        context.print(&report, |style| text::check_lines(&report, style.width))?;
        return Ok(if report.sound {
            0
        } else {
            FailureKind::Unusable.exit_code()
        });
    }
    let file = args
        .file
        .as_deref()
        .unwrap_or_else(|| std::path::Path::new(""));
    let store = context.open_whole()?;
    let report = backup::backup(&store, file, context.clock.now())?;
    context.print(&report, |style| text::backup_lines(&report, style.width))?;
    Ok(0)
}

/// Put a backup in the place of the register, which is kept aside
#[derive(Debug, clap::Args)]
#[command(
    after_help = "Examples:\n  polecard restore backups/2026-10-03.polecard\n  polecard restore backups/2026-10-03.polecard --to beside.polecard\n\nThe backup is checked first. A register that holds operations which the backup does not is left\nalone, and they are listed; --lose-newer restores all the same. The register as it was is kept\nbeside it as a backup of its own, and its permissions stay."
)]
pub struct RestoreArgs {
    /// The backup
    #[arg(value_name = "BACKUP")]
    backup: PathBuf,
    /// Another register than the default one; need not be there
    #[arg(long, value_name = "PATH")]
    to: Option<PathBuf>,
    /// Restore although operations of the register would be lost
    #[arg(long)]
    lose_newer: bool,
}

pub fn run_restore(args: &RestoreArgs, context: &Context) -> Result<i32, Failure> {
    let to = match &args.to {
        Some(to) => to.clone(),
        None => context.register_path()?,
    };
    let report = backup::restore(&backup::RestoreAsk {
        backup: &args.backup,
        to: &to,
        lose_newer: args.lose_newer,
        now: context.clock.now(),
    })?;
    forget_head(config::drafts_folder().ok().as_deref(), &to);
    context.print(&report, |style| text::restore_lines(&report, style.width))?;
    Ok(0)
}
