//! `polecard history`

use super::Context;
use crate::present::written::history_lines;
use crate::work::Failure;
use crate::work::history::history;

/// Tell who changed what, when, from when on, and why
#[derive(Debug, clap::Args)]
#[command(
    after_help = "Examples:\n  polecard history HB2-RC-14\n  polecard history --limit 5\n  polecard history 40-118 --as-of 2026-03-31\n\nWithout an ID, the newest operations of the register. Times are UTC, with the moment as entered\nbeside. A record that has left the register is found by its permanent id."
)]
pub struct Args {
    /// A name, present or past, or a permanent id; a kind may stand before it
    #[arg(value_name = "ID")]
    id: Vec<String>,
    /// Most operations
    #[arg(long, value_name = "N", default_value_t = 20)]
    limit: usize,
}

pub fn run(args: &Args, context: &Context) -> Result<i32, Failure> {
    let store = context.open_whole()?;
    let id = args.id.join(" ");
    let of = (!id.is_empty()).then_some(id.as_str());
    let report = history(&store, of, args.limit)?;
    context.print(&report, |_| history_lines(&report))?;
    Ok(0)
}
