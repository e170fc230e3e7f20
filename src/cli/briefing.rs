//! `polecard briefing`

use super::Context;
use crate::present::{Style, briefing::pages};
use crate::work::Failure;
use crate::work::briefing::briefing;

/// Columns of a printed page.
const COLUMNS: usize = 80;

/// Briefing of a structure: one page for the people who are sent there
#[derive(Debug, clap::Args)]
#[command(
    after_help = "Examples:\n  polecard briefing 40-118\n  polecard briefing HB2-RC-14 | lp\n\nSTOPs first, then hazards of the place, circuits, every recorded source and generator,\nwhat hangs there, plates nobody has read, orders, whom to ask. 66 lines of 80 columns;\nwhat needs more says how it continues. It shows the record and gives no leave to act."
)]
pub struct Args {
    /// A structure, or a position or unit on one
    #[arg(value_name = "ID")]
    id: String,
}

pub fn run(args: &Args, context: &Context) -> Result<i32, Failure> {
    let report = briefing(&context.open()?, &args.id, context.clock)?;
    context.print(&report, |style| {
        let width = style.width.min(COLUMNS);
        pages(&report, Style { width, ..style })
    })?;
    Ok(0)
}
