//! `polecard check`

use super::Context;
use crate::domain::asset::FaultKind;
use crate::present::check::{self as text, Depth};
use crate::present::kept as kept_text;
use crate::units::{Amps, Kv, Minutes, Seconds, XOverR};
use crate::work::Failure;
use crate::work::check::{Typed, check};
use crate::work::kept::{again, save};

/// Ask every plate in the path whether a load or a fault is within it
#[derive(Debug, clap::Args)]
#[command(
    allow_negative_numbers = true,
    after_help = "Examples:\n  polecard check HB2-RC-14 --load 90\n  polecard check HB2-RC-14 --fault 4100 --fault-kind three-phase --xr 8\n  polecard check HB2-FC-3 --outage 45 --fault-time 1.2\n  polecard check HB2-RC-14 --load 90 --save\n\nWithout values, the recorded study and load are judged; what is on record nowhere is unknown.\nAn unknown or assumed rating is never a pass. Exit: 0 all within, 1 something fails,\n5 something is unknown and nothing fails, 6 tight and nothing worse."
)]
pub struct Args {
    /// A position, or a unit standing at one
    #[arg(value_name = "ID", required_unless_present = "again")]
    id: Vec<String>,
    /// Keep the check in the register: what was asked, answered and rested on
    #[arg(long)]
    save: bool,
    /// Judge a check that was kept anew, as things are today, and tell what
    /// differs
    #[arg(
        long,
        value_name = "STAMP",
        conflicts_with_all = ["id", "save", "load", "fault", "min_fault", "kv", "outage", "fault_time", "unbalance", "bypass", "full"]
    )]
    again: Option<String>,
    /// Load in amperes
    #[arg(long, value_name = "A")]
    load: Option<Amps>,
    /// Greatest fault in amperes, symmetrical
    #[arg(long, value_name = "A")]
    fault: Option<Amps>,
    /// Kind of that fault; the greatest of any kind when absent
    #[arg(long, value_name = "KIND", requires = "fault", value_parser = fault_kind)]
    fault_kind: Option<FaultKind>,
    /// X/R of the system at the fault; the worst bound when absent
    #[arg(long, value_name = "X/R", requires = "fault")]
    xr: Option<XOverR>,
    /// Smallest fault at the end of the zone, in amperes
    #[arg(long, value_name = "A")]
    min_fault: Option<Amps>,
    /// Greatest operating voltage, line to line, in kV
    #[arg(long, value_name = "KV")]
    kv: Option<Kv>,
    /// Energized after an outage of so many minutes: inrush and cold load too
    #[arg(long, value_name = "MINUTES")]
    outage: Option<Minutes>,
    /// Fault-on time of the whole sequence, summed, in seconds
    #[arg(long, value_name = "S")]
    fault_time: Option<Seconds>,
    /// Load unbalance in amperes, as a ground relay has it
    #[arg(long, value_name = "A")]
    unbalance: Option<Amps>,
    /// Judge as bypassed
    #[arg(long)]
    bypass: bool,
    /// Print every finding, also those that pass and govern nothing
    #[arg(long)]
    full: bool,
}

impl Args {
    fn depth(&self) -> Depth {
        if self.full { Depth::Full } else { Depth::Short }
    }
}

/// A kind of fault as it is typed.
pub(super) fn fault_kind(word: &str) -> Result<FaultKind, String> {
    FaultKind::from_word(word).ok_or_else(|| format!("one of {}", FaultKind::WORDS.join(", ")))
}

pub fn run(args: &Args, context: &Context) -> Result<i32, Failure> {
    if let Some(stamp) = &args.again {
        let store = context.open()?;
        let report = again(&store, stamp, context.clock.today())?;
        context.print(&report, |style| kept_text::again(&report, style))?;
        return Ok(i32::from(report.check.exit_code()));
    }
    let typed = Typed {
        load: args.load,
        fault: args.fault,
        fault_kind: args.fault_kind,
        x_over_r: args.xr,
        min_fault: args.min_fault,
        kv_ll: args.kv,
        outage: args.outage,
        fault_time: args.fault_time,
        unbalance: args.unbalance,
        bypass: args.bypass,
    };
    let (id, depth) = (args.id.join(" "), args.depth());
    if args.save {
        context.present_only()?;
        context.not_on_a_day()?;
        let mut store = context.open_to_write()?;
        let report = save(&mut store, &id, &typed, &context.who(), context.clock.now())?;
        context.print(&report, |style| kept_text::saved(&report, style, depth))?;
        return Ok(i32::from(report.check.exit_code()));
    }
    let store = context.open()?;
    let report = check(&store, &id, &typed, context.clock.today())?;
    context.print(&report, |style| text::lines(&report, style, depth))?;
    Ok(i32::from(report.exit_code()))
}
