//! `polecard find`

use super::Context;
use crate::present::find::find_lines;
use crate::work::Failure;
use crate::work::find::find;

/// Most rows that are printed.
const ROWS: usize = 50;

/// Find records by a number, part of one, a spoken one, or words
#[derive(Debug, clap::Args)]
#[command(
    after_help = "Examples:\n  polecard find 40-118\n  polecard find 40-181 tannery\n  polecard find hotel bravo two romeo charlie fourteen\n  polecard find recloser weir gate --json\n\nEach answer has a second identifier to read back. Exit 0: found; 3: nothing is called so, the nearest are shown."
)]
pub struct Args {
    /// A number, half of one, what was heard, or words of the description
    #[arg(value_name = "TEXT", required = true)]
    text: Vec<String>,
}

pub fn run(args: &Args, context: &Context) -> Result<i32, Failure> {
    let store = context.open()?;
    let report = find(&store, &args.text.join(" "), ROWS, &|| false)?;
    context.print(&report, |style| find_lines(&report, style))?;
    Ok(if report.found() { 0 } else { 3 })
}
