//! `polecard show`

use super::Context;
use crate::present::card as text;
use crate::work::card::card;
use crate::work::{Failure, resolve_among};

/// Show the card of a record: what it is, what is wrong, what feeds it
#[derive(Debug, clap::Args)]
#[command(
    after_help = "Examples:\n  polecard show HB2-RC-14\n  polecard show 40-118\n  polecard show unit 7-20931\n\nCautions come first, STOP before LOOK. What nobody has read is printed as unread. A number no\nlonger in use still finds its record, and says so."
)]
pub struct Args {
    /// A name, present or past, or a permanent id; a kind may stand before it
    #[arg(value_name = "ID", required = true)]
    id: Vec<String>,
}

pub fn run(args: &Args, context: &Context) -> Result<i32, Failure> {
    let store = context.open()?;
    let _still = store.still()?;
    let found = resolve_among(&store, &args.id.join(" "), &[])?;
    if let Some(note) = &found.note {
        context.say(note);
    }
    let card = card(&store, found.stored.rec, context.clock)?;
    context.print(&card, |style| text::lines(&card, style))?;
    Ok(0)
}
