//! `polecard import`

use std::path::{Path, PathBuf};
use std::sync::Arc;

use signal_hook::consts::{SIGHUP, SIGINT, SIGTERM};

use super::{Context, output};
use crate::calendar::Date;
use crate::exchange::{Progress, Take, YamlAsk, stop};
use crate::present::import::{HowFar, csv_lines, csv_warning, yaml_lines};
use crate::store::{Access, Store};
use crate::work::Failure;
use crate::work::aside::{new_register, settle};
use crate::work::import::{CsvOptions, from_csv, from_yaml_watched};

/// Read YAML, or a CSV file through a map, into a register
#[derive(Debug, clap::Args)]
#[command(
    after_help = "A CSV is only shown until --apply is given. Rows that cannot be taken go, with the \
reason, to a file that can be mended and imported with the same map; the exit code is then 4. A \
blank never erases: a field that a YAML document leaves out stays, unless the document says \
`erase: [field]`.\n\nExamples:\n  \
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
    /// A document is the whole record: erase what it leaves out
    #[arg(long, conflicts_with = "csv")]
    replace: bool,
    /// Who confirms it beside you, as declared: for a raised rating, a cleared defect, a lower PCB
    /// class or another id
    #[arg(long, value_name = "NAME")]
    second: Option<String>,
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
    // The first Ctrl-C ends the import in order, the second at once.
    let stop = stop();
    for signal in [SIGINT, SIGTERM, SIGHUP] {
        let _ = signal_hook::flag::register_conditional_default(signal, Arc::clone(&stop));
        let _ = signal_hook::flag::register(signal, Arc::clone(&stop));
    }
    match (&args.csv, &args.dir) {
        (Some(csv), _) => {
            let options = CsvOptions {
                csv: csv.clone(),
                map: args.map.clone(),
                dated: args.dated,
                take: args.take,
                save_map: args.save_map.clone(),
                refused: args.refused.clone(),
                second: args.second.clone(),
                apply: args.apply,
            };
            take_csv(&options, &path, context)
        }
        (_, Some(dir)) => take_yaml(dir, &path, args, context),
        _ => Err(Failure::usage("name a folder, or --csv FILE and --map MAP")),
    }
}

/// Takes something into the register at `path`; where none is, into a new one
/// that stands there only when it is whole.
fn into_register<T>(
    path: &Path,
    writing: bool,
    context: &Context,
    take: impl FnOnce(&mut Store) -> Result<T, Failure>,
) -> Result<T, Failure> {
    if path.exists() {
        return take(&mut open(path, writing, context)?);
    }
    let taken = new_register(path, take)?.ok_or_else(|| {
        Failure::unusable(format!(
            "{} was made by somebody else meanwhile; nothing was imported into it",
            path.display()
        ))
        .hint("run it again to see what it would change there")
    })?;
    settle(path)?;
    Ok(taken)
}

fn open(path: &Path, writing: bool, context: &Context) -> Result<Store, Failure> {
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

fn take_yaml(dir: &Path, path: &Path, args: &Args, context: &Context) -> Result<i32, Failure> {
    let mut watch = Watch::new(context, "documents");
    let who = context.who();
    let ask = YamlAsk {
        who: &who,
        now: context.clock.now(),
        apply: args.apply,
        second: args.second.as_deref(),
        replace: args.replace,
    };
    let report = into_register(path, args.apply, context, |store| {
        from_yaml_watched(store, dir, &ask, &mut |p| watch.show(p))
    });
    output::progress("");
    let report = report?;
    context.print(&report, |_| yaml_lines(&report))?;
    Ok(0)
}

fn take_csv(options: &CsvOptions, path: &Path, context: &Context) -> Result<i32, Failure> {
    let mut watch = Watch::new(context, "rows");
    let (who, now) = (context.who(), context.clock.now());
    let mut take =
        |store: Option<&mut Store>| from_csv(store, options, &who, now, &mut |p| watch.show(p));
    // A look at a file makes no register.
    let report = if options.apply || path.exists() {
        into_register(path, options.apply, context, |store| take(Some(store)))
    } else {
        take(None)
    };
    output::progress("");
    let report = report?;
    context.print(&report, |_| csv_lines(&report))?;
    if let Some(warning) = csv_warning(&report) {
        context.say(&warning);
    }
    Ok(report.exit_code())
}

/// Shows how far an import has come: a bar on a terminal, else a line now and
/// then.
struct Watch<'c> {
    context: &'c Context,
    what: &'static str,
    began: i64,
    shown: i64,
}

impl<'c> Watch<'c> {
    fn new(context: &'c Context, what: &'static str) -> Watch<'c> {
        let began = millis(context);
        Watch {
            context,
            what,
            began,
            shown: began,
        }
    }

    fn show(&mut self, p: Progress) {
        let now = millis(self.context);
        let bar = output::has_bar();
        if now - self.shown < if bar { BAR_MILLIS } else { LINE_MILLIS } {
            return;
        }
        self.shown = now;
        let far = HowFar {
            progress: p,
            millis: now - self.began,
            what: self.what,
        };
        if bar {
            output::progress(&far.bar(output::width_of_bar(), self.context.global.ascii));
        } else {
            self.context.say(&far.line());
        }
    }
}

/// Between two states of a bar, and between two lines.
const BAR_MILLIS: i64 = 200;
const LINE_MILLIS: i64 = 10_000;

fn millis(context: &Context) -> i64 {
    i64::try_from(context.clock.now().unix_millis()).unwrap_or(i64::MAX)
}
