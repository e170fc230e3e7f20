//! `polecard import`

use std::path::{Path, PathBuf};

use super::{Context, output};
use crate::calendar::Date;
use crate::exchange::{Progress, Take};
use crate::present::import::{csv_lines, csv_warning, yaml_lines};
use crate::store::{Access, Store};
use crate::units::figure;
use crate::work::Failure;
use crate::work::import::{CsvOptions, from_csv, from_yaml};

/// Read YAML, or a CSV file through a map, into a register
#[derive(Debug, clap::Args)]
#[command(
    after_help = "A CSV is only shown until --apply is given. Rows that cannot be taken go, with the \
reason, to a file that can be mended and imported with the same map.\n\nExamples:\n  \
polecard import backup-2026-10 --register new.polecard\n  \
polecard import corrections.yaml --apply\n  \
polecard import --csv new-poles.csv --map new-poles.yaml --register ours.polecard --apply\n  \
polecard export --csv unit units.csv; polecard import --csv units.csv"
)]
pub struct Args {
    /// A folder made by `polecard export`, or a YAML file
    #[arg(
        value_name = "DIR",
        required_unless_present = "csv",
        conflicts_with = "csv"
    )]
    dir: Option<PathBuf>,
    /// A CSV file, read through --map
    #[arg(long, value_name = "FILE")]
    csv: Option<PathBuf>,
    /// What the columns mean: a YAML file, see data/maps, or the name of a map that the register
    /// keeps; not needed for a file made by `polecard export --csv`
    #[arg(long, value_name = "MAP", requires = "csv")]
    map: Option<PathBuf>,
    /// Where refused rows go; FILE.refused.csv beside the file if absent
    #[arg(long, value_name = "PATH", requires = "csv")]
    refused: Option<PathBuf>,
    /// Keep the map in the register under this name, with --apply
    #[arg(long, value_name = "NAME", requires = "map")]
    save_map: Option<String>,
    /// The day up to which the CSV knows; every correction by hand counts as newer if absent
    #[arg(long, value_name = "DATE", requires = "csv")]
    dated: Option<Date>,
    /// What counts where a newer correction contradicts a row; such rows are refused if absent
    #[arg(long, value_name = "file|record", requires = "csv", value_parser = take_of)]
    take: Option<Take>,
    /// Write the difference, or the rows of a CSV, into the register
    #[arg(long)]
    apply: bool,
}

fn take_of(word: &str) -> Result<Take, String> {
    match word {
        "file" => Ok(Take::File),
        "record" => Ok(Take::Record),
        _ => Err("file or record".to_string()),
    }
}

pub fn run(args: &Args, context: &Context) -> Result<i32, Failure> {
    let path = context.register_path()?;
    let there = path.exists();
    let done = match (&args.csv, &args.dir) {
        (Some(csv), _) => {
            let options = CsvOptions {
                csv: csv.clone(),
                map: args.map.clone(),
                dated: args.dated,
                take: args.take,
                save_map: args.save_map.clone(),
                refused: args.refused.clone(),
                apply: args.apply,
            };
            take_csv(&options, &path, context)
        }
        (_, Some(dir)) => take_yaml(dir, &path, args.apply, context),
        _ => Err(Failure::usage("name a folder, or --csv FILE and --map MAP")),
    };
    if done.is_err() && !there {
        // What this command made and could not fill does not stay behind.
        for tail in ["", "-wal", "-shm"] {
            let mut name = path.clone().into_os_string();
            name.push(tail);
            let _ = std::fs::remove_file(PathBuf::from(name));
        }
    }
    done
}

/// Opens the register, or makes an empty one where none is.
fn open_or_make(path: &Path, writing: bool, context: &Context) -> Result<Store, Failure> {
    if !path.exists() {
        if let Some(folder) = path.parent().filter(|p| !p.as_os_str().is_empty()) {
            std::fs::create_dir_all(folder).map_err(|e| {
                Failure::unusable(format!("{}: {e}", folder.display()))
                    .hint("name another place with --register PATH")
            })?;
        }
        return Ok(Store::create(path)?);
    }
    let store = Store::open(path, Access::Write)?;
    let named = context.global.named().is_some();
    if writing && !named && store.utility()?.is_some_and(|u| u.demo) {
        return Err(Failure::unusable(format!(
            "{} is the copy of the demo utility, and an import does not write into it unasked",
            path.display()
        ))
        .hint("name your own register with --register PATH; a path that is not there becomes an empty one"));
    }
    Ok(store)
}

fn take_yaml(dir: &Path, path: &Path, apply: bool, context: &Context) -> Result<i32, Failure> {
    let mut store = open_or_make(path, apply, context)?;
    let report = from_yaml(&mut store, dir, &context.who(), context.clock.now(), apply)?;
    context.print(&report, |_| yaml_lines(&report))?;
    Ok(0)
}

fn take_csv(options: &CsvOptions, path: &Path, context: &Context) -> Result<i32, Failure> {
    // A look at a file makes no register.
    let mut store = if options.apply || path.exists() {
        Some(open_or_make(path, options.apply, context)?)
    } else {
        None
    };
    let mut show = |p: Progress| output::progress(&progress(p));
    let report = from_csv(
        store.as_mut(),
        options,
        &context.who(),
        context.clock.now(),
        &mut show,
    );
    output::progress("");
    let report = report?;
    context.print(&report, |_| csv_lines(&report))?;
    if let Some(warning) = csv_warning(&report) {
        context.say(&warning);
    }
    Ok(0)
}

#[expect(
    clippy::cast_precision_loss,
    reason = "a share is shown in whole percent"
)]
fn progress(p: Progress) -> String {
    let share = 100.0 * p.bytes as f64 / (p.of_bytes.max(1)) as f64;
    format!("{} rows, {share:.0} %", figure(p.rows as f64))
}
