//! `polecard due`

use super::{Context, output};
use crate::calendar::Date;
use crate::domain::upkeep::interval::What;
use crate::present::due::lines;
use crate::work::Failure;
use crate::work::due::{Asked, as_csv, due, due_of};

/// List what is due for inspection, test or repair by a day, and why
#[derive(Debug, clap::Args)]
#[command(
    after_help = "Examples:\n  polecard due\n  polecard due HB2-RC-14\n  polecard due --feeder HB2 --by 2027-12-31\n  polecard due --what \"oil test\" --csv > oil.csv\n\nNever done and dates unknown come first, then what is longest overdue. Intervals come with the\nprogram, each with its source and standing; a utility's own `interval:` records replace them by\nname. Exit code 0 when answered, with or without items."
)]
pub struct Args {
    /// A structure, position, unit or feeder; the whole register if absent
    #[arg(value_name = "ID", conflicts_with = "feeder")]
    id: Vec<String>,
    /// What is due by this day; today if absent
    #[arg(long, value_name = "DATE")]
    by: Option<Date>,
    /// Home feeder
    #[arg(long, value_name = "FEEDER")]
    feeder: Option<String>,
    /// Only this kind, as `patrol` or `oil test`
    #[arg(long, value_name = "KIND", value_parser = what)]
    what: Option<What>,
    /// Print the list as CSV
    #[arg(long, conflicts_with = "json")]
    csv: bool,
}

fn what(text: &str) -> Result<What, String> {
    let folded = text.trim().to_lowercase().replace(['_', '-'], " ");
    let inspection = format!("{folded} inspection");
    What::from_word(&folded)
        .or_else(|| What::from_word(&inspection))
        .ok_or_else(|| format!("one of {}", What::WORDS.join(", ")))
}

pub fn run(args: &Args, context: &Context) -> Result<i32, Failure> {
    let store = context.open()?;
    let today = context.clock.today();
    let asked = Asked {
        by: args.by.unwrap_or(today),
        feeder: args.feeder.clone(),
        what: args.what,
        ..Asked::today(today)
    };
    let id = args.id.join(" ");
    let report = if id.is_empty() {
        due(&store, &asked)?
    } else {
        due_of(&store, &id, &asked)?
    };
    if args.csv {
        for note in &report.notes {
            context.say(note);
        }
        output::raw(&as_csv(&report))?;
        return Ok(0);
    }
    let all = !id.is_empty() || args.feeder.is_some() || args.what.is_some();
    context.print(&report, |style| lines(&report, style, all))?;
    Ok(0)
}
