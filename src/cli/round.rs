//! `polecard round`

use super::{Context, output};
use crate::present::orders::{round_csv, round_lines};
use crate::work::Failure;
use crate::work::round::round;

/// Round sheet of a feeder: every structure once, in walking order
#[derive(Debug, clap::Args)]
#[command(
    after_help = "Examples:\n  polecard round HB2\n  polecard round HB2 --csv > hb2.csv\n\nFrom the head of the feeder outward, short branches first: place, tags, devices,\nhazards and orders of each stop. What the line does not reach comes last."
)]
pub struct Args {
    /// A feeder
    #[arg(value_name = "FEEDER")]
    feeder: String,
    /// As CSV; no cell is a formula
    #[arg(long)]
    csv: bool,
}

pub fn run(args: &Args, context: &Context) -> Result<i32, Failure> {
    let report = round(&context.open()?, &args.feeder, context.clock)?;
    if args.csv && !context.global.json {
        output::raw(&round_csv(&report))?;
    } else {
        context.print(&report, |style| round_lines(&report, style))?;
    }
    Ok(0)
}
