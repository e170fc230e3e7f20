//! `polecard export`

use std::path::{Path, PathBuf};

use super::Context;
use crate::exchange;
use crate::present::Line;
use crate::role::Role;
use crate::work::Failure;
use crate::work::export::export_csv_file;

/// Write the register as a folder of YAML with its log, or one kind of record as CSV
#[derive(Debug, clap::Args)]
#[command(
    after_help = "Example:\n  polecard export backup-2026-10\n\nOne file a feeder in line order, files for units, entries, orders and notices, and the log.\nImporting the folder into an empty register gives the same register.\n\n  polecard export --csv unit units.csv\n  polecard export --csv entry - | head\n\nA CSV has a column a field, with standing, by, on, from and rule beside a plate value. Edited and\ngiven to `polecard import --csv units.csv`, only the edited cells count; a blank erases nothing.\nA cell that a spreadsheet would run gets an apostrophe before it."
)]
pub struct Args {
    /// An empty or new folder, or an earlier export, which is replaced
    #[arg(
        value_name = "DIR",
        required_unless_present = "csv",
        conflicts_with = "csv"
    )]
    dir: Option<PathBuf>,
    /// Every record of a kind as CSV, into a new file or to the output with `-`
    #[arg(long, num_args = 2, value_names = ["KIND", "FILE"])]
    csv: Option<Vec<String>>,
}

fn csv(words: &[String], context: &Context) -> Result<i32, Failure> {
    let [kind, file] = words else {
        return Err(Failure::usage("--csv takes a kind and a file"));
    };
    let kind = super::maps::kind(kind)
        .map_err(|why| Failure::usage(format!("{kind:?} is no kind of record; {why}")))?;
    let store = context.open_whole()?;
    if file == "-" {
        let mut out = Vec::new();
        exchange::export_csv(&store, kind, file, &mut out)?;
        super::output::bytes(&out)?;
        return Ok(0);
    }
    let done = export_csv_file(&store, kind, Path::new(file))?;
    context.print(&done, |_| {
        vec![Line::of(
            Role::Plain,
            format!(
                "{} rows of {} columns written to {}.",
                done.rows, done.columns, done.file
            ),
        )]
    })?;
    Ok(0)
}

pub fn run(args: &Args, context: &Context) -> Result<i32, Failure> {
    let dir = match (&args.csv, &args.dir) {
        (Some(words), _) => return csv(words, context),
        (None, Some(dir)) => dir,
        (None, None) => return Err(Failure::usage("name a folder, or --csv KIND FILE")),
    };
    let store = context.open_whole()?;
    let done = exchange::export(&store, dir)?;
    context.print(&done, |_| {
        vec![
            Line::of(
                Role::Plain,
                format!(
                    "{} records and {} operations written to {} in {} files.",
                    done.records, done.operations, done.folder, done.files
                ),
            ),
            Line::of(Role::Label, "chain head ").with(
                Role::Value,
                format!("{}:{}", done.operations, done.chain_head),
            ),
        ]
    })?;
    Ok(0)
}
