//! `polecard undo`

use super::Context;
use crate::present::written::undo_lines;
use crate::work::Failure;
use crate::work::undo::undo;

/// Take back an operation by a new one; your last one if none is named
#[derive(Debug, clap::Args)]
#[command(
    after_help = "Examples:\n  polecard undo\n  polecard undo 01KBQ4 --why \"wrong pole\"\n\nNothing is deleted: the log keeps both. Where later changes stand in the way they are named, and\nnothing is done. `polecard history` lists operations and their ids."
)]
pub struct Args {
    /// Id of the operation, or as much of its beginning as no other has
    #[arg(value_name = "OPERATION")]
    operation: Option<String>,
    /// Why it is taken back
    #[arg(long, value_name = "TEXT")]
    why: Option<String>,
}

pub fn run(args: &Args, context: &Context) -> Result<i32, Failure> {
    let mut store = context.open_to_write()?;
    let report = undo(
        &mut store,
        args.operation.as_deref(),
        args.why.as_deref(),
        &context.who(),
        context.clock.now(),
    )?;
    context.print(&report, |_| undo_lines(&report))?;
    Ok(0)
}
