//! `polecard swap`

use super::Context;
use crate::calendar::Date;
use crate::present::swap::lines;
use crate::work::Failure;
use crate::work::swap::{Asked, swap};

/// Swap a unit: one out, one in, as one operation that `undo` takes back
#[derive(Debug, clap::Args)]
#[command(
    after_help = "Examples:\n  polecard swap HB2-RC-14 7-20931 7-21002 --to shop --why \"oil leak\"\n  polecard swap HB2-RG-3:B 5-1207 5-1311 --to stock:Weir --on 2026-10-03 --why \"due for overhaul\"\n  polecard swap HB2-RC-14 7-20931 --none --to scrapped --why \"tank rusted through\"\n  polecard swap HB2-RC-14 7-21002 --empty --why \"found in place\"\n\nPlate, counters, tests and entries go with the unit; settings and state stay with the position.\nA unit recorded at another position is refused unless it was moved from there: --moved.\nOne that does not fit the place (class, phases, a rating below what is on record there) takes a\nsecond person: --second."
)]
pub struct Args {
    /// The position; its slot behind a colon, where it has several
    #[arg(value_name = "POSITION[:SLOT]")]
    place: String,
    /// The unit taken out, then the unit put in
    #[arg(value_name = "UNIT", required = true, num_args = 1..=2)]
    units: Vec<String>,
    /// No unit is put in; the one named is taken out
    #[arg(long, conflicts_with = "empty")]
    none: bool,
    /// The place was empty; the unit named is put in
    #[arg(long)]
    empty: bool,
    /// Where the unit taken out goes: shop, stock, truck, mobile, scrapped or
    /// unknown; which one behind a colon
    #[arg(long, value_name = "WHERE")]
    to: Option<String>,
    /// The unit put in was taken from where it is recorded, the same day
    #[arg(long)]
    moved: bool,
    /// The day it was done; today if absent
    #[arg(long, value_name = "DATE")]
    on: Option<Date>,
    /// Why
    #[arg(long, value_name = "TEXT")]
    why: String,
    /// The second person, where what comes does not fit the place
    #[arg(long, value_name = "WHO")]
    second: Option<String>,
}

fn units(args: &Args) -> Result<(Option<String>, Option<String>), Failure> {
    match (args.units.as_slice(), args.none, args.empty) {
        ([out], true, _) => Ok((Some(out.clone()), None)),
        ([into], _, true) => Ok((None, Some(into.clone()))),
        ([out, into], false, false) => Ok((Some(out.clone()), Some(into.clone()))),
        ([_], ..) => Err(
            Failure::usage("one unit is named: is it taken out or put in?")
                .hint("taken out, and none put in: --none")
                .hint("put in where none was: --empty"),
        ),
        _ => Err(Failure::usage(
            "two units are named: --none and --empty go with one",
        )),
    }
}

pub fn run(args: &Args, context: &Context) -> Result<i32, Failure> {
    let (out, into) = units(args)?;
    let asked = Asked {
        place: args.place.clone(),
        out,
        into,
        to: args.to.clone(),
        moved: args.moved,
        on: args.on,
        why: args.why.clone(),
        second: args.second.clone(),
    };
    let mut store = context.open_to_write()?;
    let report = swap(&mut store, &asked, &context.who(), context.clock.now())?;
    context.print(&report, |style| lines(&report, style))?;
    Ok(0)
}
