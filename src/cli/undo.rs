//! `polecard undo`

use super::Context;
use crate::present::written::undo_lines;
use crate::work::Failure;
use crate::work::undo::{Asked, undo_with};

/// Take back an operation by a new one; your last one if none is named
#[derive(Debug, clap::Args)]
#[command(
    after_help = "Examples:\n  polecard undo\n  polecard undo 01KBQ4 --why \"wrong pole\"\n\nNothing is deleted: the log keeps both. Where later changes stand in the way they are named, and\nnothing is done. What raises a rating, clears a defect or changes a name needs a second person\nhere too. `polecard history` lists operations and their ids."
)]
pub struct Args {
    /// Id of the operation, or as much of its beginning as no other has
    #[arg(value_name = "OPERATION")]
    operation: Option<String>,
    /// Why it is taken back
    #[arg(long, value_name = "TEXT")]
    why: Option<String>,
    /// The second person, where taking back raises a rating or clears a defect
    #[arg(long, value_name = "WHO")]
    second: Option<String>,
}

pub fn run(args: &Args, context: &Context) -> Result<i32, Failure> {
    let mut store = context.open_to_write()?;
    let asked = Asked {
        which: args.operation.clone(),
        why: args.why.clone(),
        second: args.second.clone(),
    };
    let report = undo_with(&mut store, &asked, &context.who(), context.clock.now())?;
    context.print(&report, |_| undo_lines(&report))?;
    Ok(0)
}
