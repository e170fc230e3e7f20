//! `polecard merge`

use super::Context;
use crate::calendar::Date;
use crate::present::swap::merge_lines;
use crate::work::Failure;
use crate::work::merge::{Asked, merge};

/// Merge two records of one thing; the names of both find it
#[derive(Debug, clap::Args)]
#[command(
    after_help = "Examples:\n  polecard merge 40-118 40-118A --why \"one pole, entered twice\" --dry-run\n  polecard merge 40-118 40-118A --second mk --why \"one pole, entered twice\"\n  polecard merge 7-20931 7-20913 --take nameplate.coil_amps=keep --second mk --why \"digits swapped\"\n\nWhat points at the second record points at the first afterwards. A blank or unknown value is filled\nfrom the other; fields in which the two differ are listed and must be chosen. `undo` takes the\nwhole back."
)]
pub struct Args {
    /// The record that stays
    #[arg(value_name = "KEEP")]
    keep: String,
    /// The record that goes into it
    #[arg(value_name = "DROP")]
    drop: String,
    /// Whose value a field takes; may be repeated
    #[arg(long, value_name = "FIELD=keep|drop")]
    take: Vec<String>,
    /// Why they are one
    #[arg(long, value_name = "TEXT")]
    why: String,
    /// From when it holds in the field, when that is not today
    #[arg(long, value_name = "DATE")]
    effective: Option<Date>,
    /// The second person who confirms it
    #[arg(long, value_name = "WHO")]
    second: Option<String>,
    /// Say what would move, be filled and be lost, and write nothing
    #[arg(long)]
    dry_run: bool,
}

pub fn run(args: &Args, context: &Context) -> Result<i32, Failure> {
    let asked = Asked {
        keep: args.keep.clone(),
        drop: args.drop.clone(),
        take: args.take.clone(),
        why: args.why.clone(),
        effective: args.effective,
        second: args.second.clone(),
        dry_run: args.dry_run,
    };
    let mut store = context.open_to_write()?;
    let report = merge(&mut store, &asked, &context.who(), context.clock.now())?;
    context.print(&report, |style| merge_lines(&report, style))?;
    Ok(0)
}
