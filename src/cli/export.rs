//! `polecard export`

use std::path::PathBuf;

use super::Context;
use crate::exchange;
use crate::present::Line;
use crate::role::Role;
use crate::work::Failure;

/// Write the register as a folder of YAML, with its log of operations
#[derive(Debug, clap::Args)]
#[command(
    after_help = "Example:\n  polecard export backup-2026-10\n\nOne file a feeder in line order, files for units, entries, orders and notices, and the log.\nImporting the folder into an empty register gives the same register."
)]
pub struct Args {
    /// An empty or new folder, or an earlier export, which is replaced
    #[arg(value_name = "DIR")]
    dir: PathBuf,
}

pub fn run(args: &Args, context: &Context) -> Result<i32, Failure> {
    let store = context.open()?;
    let done = exchange::export(&store, &args.dir)?;
    context.print(&done, |_| {
        vec![
            Line::of(
                Role::Plain,
                format!(
                    "{} records and {} operations written to {} in {} files.",
                    done.records, done.operations, done.folder, done.files
                ),
            ),
            Line::of(Role::Label, "chain head ").with(Role::Value, &done.chain_head),
        ]
    })?;
    Ok(0)
}
