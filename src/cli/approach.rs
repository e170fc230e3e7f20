//! `polecard approach`

use super::Context;
use crate::present::approach as text;
use crate::units::Kv;
use crate::work::Failure;
use crate::work::approach::approach;

/// Look up minimum approach distances for the voltage of a position
#[derive(Debug, clap::Args)]
#[command(
    after_help = "Examples:\n  polecard approach HB2-RC-14\n  polecard approach HB2-RC-14 --elevation 1400\n\nQualified employees only; your employer's distance governs.\nExit 0: answered; 5: no distance is known."
)]
pub struct Args {
    /// A position, or a unit standing at one
    #[arg(value_name = "ID", required = true)]
    id: Vec<String>,
    /// Nominal voltage of the system, phase to phase, in kV
    #[arg(long, value_name = "KV")]
    kv: Option<Kv>,
    /// Elevation above sea level in metres
    #[arg(long, value_name = "M", value_parser = metres)]
    elevation: Option<f64>,
}

fn metres(word: &str) -> Result<f64, String> {
    match word.parse::<f64>() {
        Ok(m) if (-500.0..=9_000.0).contains(&m) => Ok(m),
        _ => Err("metres above sea level, -500 to 9000".to_string()),
    }
}

pub fn run(args: &Args, context: &Context) -> Result<i32, Failure> {
    let store = context.open()?;
    let kv = args.kv.map(Kv::get);
    let today = context.clock.today();
    let report = approach(&store, &args.id.join(" "), kv, args.elevation, today)?;
    context.print(&report, |style| text::lines(&report, style))?;
    Ok(report.exit_code())
}
