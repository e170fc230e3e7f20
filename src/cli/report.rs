//! `polecard report`

use super::Context;
use super::edit::read_from;
use crate::calendar::Date;
use crate::domain::asset::ReadFrom;
use crate::present::reports::filed_lines;
use crate::work::Failure;
use crate::work::reports::{Asked, file};

/// Report a correction from the field, for the records clerk to decide
#[derive(Debug, clap::Args)]
#[command(
    after_help = "Examples:\n  polecard report 40-118 place.near=\"the fish ladder\" --why \"kiln pulled down\"\n  polecard report 7-20931 nameplate.coil_amps=140 --from plate --why \"read at the pole\"\n  polecard report 40-118 --why \"guy wire slack, field side\"\n  polecard report --unlisted 40-121 --why \"new pole between 40-118 and 40-119\"\n\nWorks where the register may only be read: reports go into a file of their own beside it. Values\nare checked at once. `polecard reports` shows what became of them. A defect or a reading belongs\ninto an entry: polecard log."
)]
pub struct Args {
    /// A name or permanent id; quote it when a kind stands before it
    #[arg(value_name = "ID")]
    id: String,
    /// `field=value`; none for a note in words
    #[arg(value_name = "FIELD=VALUE")]
    set: Vec<String>,
    /// Why: what was seen
    #[arg(long, value_name = "TEXT")]
    why: String,
    /// Who read the plate; you if absent
    #[arg(long, value_name = "WHO", requires = "from")]
    read_by: Option<String>,
    /// From what it was read
    #[arg(long, value_name = "plate|photo|drawing", value_parser = read_from)]
    from: Option<ReadFrom>,
    /// When it was read; today if absent
    #[arg(long, value_name = "DATE", requires = "from")]
    on: Option<Date>,
    /// The ID is the mark of a thing that is not on record
    #[arg(long, conflicts_with = "set")]
    unlisted: bool,
}

pub fn run(args: &Args, context: &Context) -> Result<i32, Failure> {
    let (id, set) = super::edit::parts(&args.id, &args.set);
    let asked = Asked {
        set,
        why: args.why.clone(),
        read_by: args.read_by.clone(),
        from: args.from,
        on: args.on,
        unlisted: args.unlisted,
    };
    let store = context.open_whole()?;
    let report = file(&store, &id, &asked, &context.acting(), context.clock.now())?;
    context.print(&report, |_| filed_lines(&report))?;
    Ok(0)
}
