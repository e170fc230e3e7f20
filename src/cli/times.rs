//! `polecard times`

use std::path::PathBuf;

use super::Context;
use super::check::fault_kind;
use crate::domain::asset::FaultKind;
use crate::exchange;
use crate::present::{plot, times as text};
use crate::units::Amps;
use crate::work::Failure;
use crate::work::times::{Typed, times};

/// Tell how long each device on the way takes at a fault, and which clears first
#[derive(Debug, clap::Args)]
#[command(
    after_help = "Examples:\n  polecard times HB2-RC-14\n  polecard times HB2-RC-14 --fault 1400 --min-fault 300\n  polecard times HB2-RC-14 --plot --svg hb2-rc-14.svg\n\nFrom the normal source: every device on the way, this one, and the next ones beyond; then\neach pair by the published rules. Without --fault the recorded study is taken. Curves of\nhydraulic devices are points that the utility supplies; without them a time is unknown.\nExit: 0 all within, 1 something fails, 5 something is unknown and nothing fails,\n6 tight and nothing worse."
)]
pub struct Args {
    /// A position, or a unit standing at one
    #[arg(value_name = "ID", required = true)]
    id: Vec<String>,
    /// Fault current in amperes, symmetrical
    #[arg(long, value_name = "A")]
    fault: Option<Amps>,
    /// Kind of that fault: to ground, ground elements are timed too
    #[arg(long, value_name = "KIND", value_parser = fault_kind)]
    fault_kind: Option<FaultKind>,
    /// Smallest fault at which pairs are judged too, in amperes
    #[arg(long, value_name = "A")]
    min_fault: Option<Amps>,
    /// Draw the curves below the table, on log-log paper; the questions stand beside them from 100
    /// columns on
    #[arg(long)]
    plot: bool,
    /// Write the curves to a file as SVG; a file that is there is not touched
    #[arg(long, value_name = "FILE")]
    svg: Option<PathBuf>,
}

pub fn run(args: &Args, context: &Context) -> Result<i32, Failure> {
    let store = context.open()?;
    let typed = Typed {
        fault: args.fault,
        kind: args.fault_kind,
        min_fault: args.min_fault,
    };
    let report = times(&store, &args.id.join(" "), typed, context.clock.today())?;
    context.print(&report, |style| {
        if args.plot {
            text::with_plot(&report, style, text::BESIDE)
        } else {
            text::lines(&report, style)
        }
    })?;
    if let Some(path) = &args.svg {
        exchange::write_new(path, &plot::svg(&report))?;
        context.say(&format!("curves written to {}", path.display()));
    }
    Ok(i32::from(report.verdict.exit_code()))
}
