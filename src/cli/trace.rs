//! `polecard trace`

use super::Context;
use crate::present::trace as text;
use crate::work::trace::trace;
use crate::work::{Failure, resolve_among};

/// Trace every recorded way a record can be fed, and what it feeds
#[derive(Debug, clap::Args)]
#[command(
    after_help = "Examples:\n  polecard trace HB2-RC-14\n  polecard trace 40-118\n  polecard trace HB2 --json\n\nWalked by the normal state on record; a state recorded otherwise is named. Not a switching order."
)]
pub struct Args {
    /// A position, a structure, a unit standing at a position, a feeder or a source
    #[arg(value_name = "ID", required = true)]
    id: Vec<String>,
}

pub fn run(args: &Args, context: &Context) -> Result<i32, Failure> {
    let store = context.open()?;
    let found = resolve_among(&store, &args.id.join(" "), &[])?;
    if let Some(note) = &found.note {
        context.say(note);
    }
    let report = trace(&store, found.stored.rec, context.clock)?;
    context.print(&report, |style| text::lines(&report, style))?;
    Ok(0)
}
