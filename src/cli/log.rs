//! `polecard log`

use super::Context;
use crate::calendar::Date;
use crate::domain::asset::{Depth, EntryKind};
use crate::present::concluded::sampling_lines;
use crate::present::written::log_lines;
use crate::work::Failure;
use crate::work::conclude::before_sampling_of;
use crate::work::log::{Asked, log, order_proposed};

/// Write an entry: an inspection, a sample, a test, a counter reading, a note
#[derive(Debug, clap::Args)]
#[command(
    after_help = "Examples:\n  polecard log 7-20931 inspection oil_level=\"below the mark\" --depth patrol --order\n  polecard log 7-20931 sample\n  polecard log 7-20931 sample oil_kv=24 method=D877 --on 2026-10-01 --by ls\n  polecard log 7-20931 maintenance clears=\"oil below mark\" note=\"refilled\" --second mk\n\nKinds: inspection, sample, test, operation, counter, maintenance, note. Which readings there are\ndepends on the class; an unknown one is refused with the list. A sample without readings writes\nnothing: it shows what to look at before one is drawn. Clearing a defect needs a second\nperson, recorded as declared. An inspection says its --depth. What follows the unit is written\nabout the unit in the position on that day, the rest about the place."
)]
pub struct Args {
    /// A unit, position (slot behind a colon) or structure; quote it when a kind stands before it
    #[arg(value_name = "ID")]
    id: String,
    /// Kind of entry
    #[arg(value_name = "KIND")]
    kind: String,
    /// `reading=value`, `finds=defect, defect`, `clears=defect`, `note=text`
    #[arg(value_name = "KEY=VALUE")]
    set: Vec<String>,
    /// The day it was done; today if absent
    #[arg(long, value_name = "DATE")]
    on: Option<Date>,
    /// Who did it; you if absent
    #[arg(long, value_name = "WHO")]
    by: Option<String>,
    /// The second person, where a defect is cleared
    #[arg(long, value_name = "WHO")]
    second: Option<String>,
    /// Of an inspection: patrol, detailed or intrusive
    #[arg(long, value_name = "DEPTH")]
    depth: Option<String>,
    /// Also open the orders that the readings call for
    #[arg(long)]
    order: bool,
}

fn depth(word: &str) -> Result<Depth, Failure> {
    Depth::from_word(word).ok_or_else(|| {
        Failure::usage(format!(
            "--depth: {word:?} is none of {}",
            Depth::WORDS.join(", ")
        ))
    })
}

pub fn run(args: &Args, context: &Context) -> Result<i32, Failure> {
    let asked = Asked {
        set: args.set.clone(),
        on: args.on,
        by: args.by.clone(),
        second: args.second.clone(),
        depth: args.depth.as_deref().map(depth).transpose()?,
    };
    if asked.set.is_empty() && args.kind == EntryKind::Sample.word() {
        let store = context.open_whole()?;
        let report = before_sampling_of(&store, &args.id)?;
        context.print(&report, |_| sampling_lines(&report))?;
        return Ok(0);
    }
    let mut store = context.open_to_write()?;
    let now = context.clock.now();
    let who = context.who();
    let mut report = log(&mut store, &args.id, &args.kind, &asked, &who, now)?;
    if args.order {
        order_proposed(&mut store, &mut report, &who, now);
    }
    context.print(&report, |_| log_lines(&report))?;
    Ok(0)
}
