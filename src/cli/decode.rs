//! `polecard decode`

use super::Context;
use crate::present::find::decode_lines;
use crate::work::Failure;
use crate::work::decode::decode;

/// Read a code by the numbering schemes, and say whether the register has it
#[derive(Debug, clap::Args)]
#[command(
    after_help = "Examples:\n  polecard decode HB2-RC-14\n  polecard decode hb2 rc l4\n\nExit 0: at least one reading; 3: none."
)]
pub struct Args {
    /// The code as seen, typed or heard
    #[arg(value_name = "TEXT", required = true)]
    text: Vec<String>,
    /// Print every reading, also the unlikely ones
    #[arg(long)]
    all: bool,
}

pub fn run(args: &Args, context: &Context) -> Result<i32, Failure> {
    let store = context.open()?;
    let report = decode(&store, &args.text.join(" "))?;
    context.print(&report, |style| decode_lines(&report, style, args.all))?;
    Ok(if report.readings.is_empty() { 3 } else { 0 })
}
