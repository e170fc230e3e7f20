//! `polecard rules`

use super::Context;
use crate::present::rules as text;
use crate::work::Failure;
use crate::work::rules::{explain, list};

/// List the rules and their limits, or explain one with a worked example
#[derive(Debug, clap::Args)]
#[command(
    after_help = "Examples:\n  polecard rules\n  polecard rules carry-coil\n  polecard rules oil_recloser_d877_kv\n\nThe example of a rule is worked out by the rule itself on an invented position.\nExit 0: answered; 3: no rule of that name."
)]
pub struct Args {
    /// Name of a rule; all of them when absent
    #[arg(value_name = "NAME")]
    name: Option<String>,
}

pub fn run(args: &Args, context: &Context) -> Result<i32, Failure> {
    let report = match &args.name {
        Some(name) => explain(name)?,
        None => list(),
    };
    context.print(&report, |style| text::lines(&report, style))?;
    Ok(0)
}
