//! `polecard import`

use std::path::PathBuf;

use super::Context;
use crate::exchange::{Imported, Source, import};
use crate::present::{Line, Style};
use crate::role::Role;
use crate::store::{Access, Store};
use crate::work::Failure;

/// Read a folder of YAML into a register
#[derive(Debug, clap::Args)]
#[command(
    after_help = "Examples:\n  polecard import backup-2026-10 --register new.polecard\n  polecard import corrections.yaml --apply"
)]
pub struct Args {
    /// A folder made by `polecard export`, or a YAML file
    #[arg(value_name = "DIR")]
    dir: PathBuf,
    /// Write the difference into a register that already holds records
    #[arg(long)]
    apply: bool,
}

pub fn run(args: &Args, context: &Context) -> Result<i32, Failure> {
    let source = Source::at(&args.dir)?;
    let path = context.register_path()?;
    let mut store = if path.exists() {
        Store::open(&path, Access::Write)?
    } else {
        Store::create(&path)?
    };
    let report = import(
        &mut store,
        &source,
        &context.who(),
        context.clock.now(),
        args.apply,
    )?;
    context.print(&report, |style| lines(&report, style))?;
    Ok(0)
}

fn lines(report: &Imported, _style: Style) -> Vec<Line> {
    let verb = if report.applied {
        "Entered"
    } else {
        "Would enter"
    };
    let mut out = vec![Line::of(
        Role::Plain,
        format!(
            "{verb}: {} new, {} fields changed, {} removed; {} unchanged.",
            report.added, report.edited, report.removed, report.unchanged
        ),
    )];
    out.extend(report.notes.iter().map(|n| Line::of(Role::Plain, n)));
    out
}
