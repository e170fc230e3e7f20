//! `polecard maps`

use std::path::PathBuf;

use super::Context;
use super::output;
use crate::domain::asset::Kind;
use crate::present::maps::maps_lines;
use crate::work::Failure;
use crate::work::maps::{maps, suggest};

/// List the CSV maps that the register keeps, print one, or propose one for a file
#[derive(Debug, clap::Args)]
#[command(
    after_help = "Examples:\n  polecard maps\n  polecard maps new-poles\n  polecard maps --suggest poles.csv > poles.yaml\n\nA map is kept with `polecard import --csv FILE --map FILE --save-map NAME --apply` and used again\nwith --map NAME."
)]
pub struct Args {
    /// Print this map as YAML
    #[arg(value_name = "NAME")]
    name: Option<String>,
    /// Propose a map from the headings of this file, to be edited
    #[arg(long, value_name = "FILE", conflicts_with = "name")]
    suggest: Option<PathBuf>,
    /// The kind of record that a row is, for --suggest
    #[arg(long, value_name = "KIND", requires = "suggest", value_parser = kind)]
    kind: Option<Kind>,
}

/// A kind of record by its word.
pub(super) fn kind(word: &str) -> Result<Kind, String> {
    Kind::from_word(word).ok_or_else(|| format!("one of {}", Kind::WORDS.join(", ")))
}

pub fn run(args: &Args, context: &Context) -> Result<i32, Failure> {
    if let Some(csv) = &args.suggest {
        output::raw(&suggest(csv, args.kind)?)?;
        return Ok(0);
    }
    let report = maps(&context.open_whole()?, args.name.as_deref())?;
    let whole = args.name.is_some();
    context.print(&report, |style| maps_lines(&report, style.width, whole))?;
    Ok(0)
}
