//! `polecard readback`

use super::Context;
use crate::present::find::read_back_lines;
use crate::work::readback::{Verdict, read_back};
use crate::work::{Failure, resolve};

/// Hold what was heard back against the record that is meant
#[derive(Debug, clap::Args)]
#[command(
    after_help = "Examples:\n  polecard readback 40-118 four zero dash one eight one\n  polecard readback 40-118 tannery road, the weir gate\n\nExit 0: match; 1: mismatch; 5: it fits others as well."
)]
pub struct Args {
    /// The record that is meant
    #[arg(value_name = "ID")]
    id: String,
    /// What was heard: the number, the road and landmark, or both
    #[arg(value_name = "HEARD", required = true)]
    heard: Vec<String>,
}

pub fn run(args: &Args, context: &Context) -> Result<i32, Failure> {
    let store = context.open()?;
    let meant = resolve(&store, &args.id)?;
    let back = read_back(&store, &meant, &args.heard.join(" "))?;
    context.print(&back, |style| read_back_lines(&back, style))?;
    Ok(match back.verdict {
        Verdict::Match => 0,
        Verdict::Mismatch => 1,
        Verdict::Unclear => 5,
    })
}
