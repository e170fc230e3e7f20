//! `polecard times`

use std::io::Write;
use std::path::{Path, PathBuf};

use super::Context;
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
    /// Smallest fault at which pairs are judged too, in amperes
    #[arg(long, value_name = "A")]
    min_fault: Option<Amps>,
    /// Draw the curves below the table, on log-log paper
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
        min_fault: args.min_fault,
    };
    let report = times(&store, &args.id.join(" "), typed, context.clock.today())?;
    context.print(&report, |style| {
        let mut out = text::lines(&report, style);
        if args.plot {
            let at = text::table_ends(&report, style);
            out.splice(at..at, plot::lines(&report, style));
        }
        out
    })?;
    if let Some(path) = &args.svg {
        write_new(path, &plot::svg(&report))?;
        context.say(&format!("curves written to {}", path.display()));
    }
    Ok(i32::from(report.verdict.exit_code()))
}

fn write_new(path: &Path, text: &str) -> Result<(), Failure> {
    let said = |e: std::io::Error| {
        Failure::unusable(format!("{} cannot be written: {e}", path.display()))
            .hint("name a file that is not there yet, in a folder you may write to")
    };
    let mut file = std::fs::File::create_new(path).map_err(said)?;
    file.write_all(text.as_bytes()).map_err(said)
}
