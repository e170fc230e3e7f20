//! `polecard notices`

use super::Context;
use crate::present::orders::{notice_lines, read_lines};
use crate::work::Failure;
use crate::work::notices::{notices, read_notice};

/// Hazard notices: what each hits, what it may hit, and who has read it
#[derive(Debug, clap::Args)]
#[command(
    after_help = "Examples:\n  polecard notices\n  polecard notices HV-24-03\n  polecard notices HV-24-03 --read\n\nA unit whose model, year or serial is unread is listed apart: it may be hit and is treated\nas hit until somebody reads its plate. Exit code 0, empty or not."
)]
pub struct Args {
    /// One notice, in full
    #[arg(value_name = "NAME")]
    name: Option<String>,
    /// Record that you have read it
    #[arg(long, requires = "name")]
    read: bool,
}

pub fn run(args: &Args, context: &Context) -> Result<i32, Failure> {
    let who = context.who();
    if let (true, Some(name)) = (args.read, &args.name) {
        let mut store = context.open_to_write()?;
        let report = read_notice(&mut store, name, &who, context.clock.now())?;
        context.print(&report, |_| read_lines(&report))?;
        return Ok(0);
    }
    let store = context.open()?;
    let report = notices(&store, args.name.as_deref(), &who, context.clock.today())?;
    let full = args.name.is_some();
    context.print(&report, |style| notice_lines(&report, full, style))?;
    Ok(0)
}
