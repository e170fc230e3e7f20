//! Floor 6: the command line, one file a subcommand. Prints reports as plain
//! text or JSON; messages go to stderr.

mod approach;
mod backup;
mod briefing;
mod check;
mod context;
mod decode;
mod due;
mod edit;
mod export;
mod find;
mod history;
mod import;
mod log;
mod manual;
mod maps;
mod merge;
mod notices;
mod orders;
mod output;
mod readback;
mod report;
mod reports;
mod round;
mod rules;
mod show;
mod swap;
mod times;
mod trace;
mod undo;
mod verify;
mod when;

use std::path::PathBuf;

use clap::builder::{OsStringValueParser, TypedValueParser};
use clap::{CommandFactory, FromArgMatches, Parser, Subcommand};

pub use context::Context;
pub use output::failure as print_failure;
pub use when::When;

use crate::calendar::Date;
use crate::domain::finding::SAFETY;
use crate::domain::who::declared_name;
use crate::work::Failure;

/// An equipment register and ID decoder for line crews.
///
/// Without a command, opens the screens. Type a pole number, a device code or
/// a serial - half of it, misheard or mistyped - and read what it is, where it
/// hangs, what feeds it, what its plate says and what is wrong with it.
#[derive(Debug, Parser)]
#[command(name = "polecard", version, after_help = SAFETY, max_term_width = 100)]
pub struct Cli {
    #[command(flatten)]
    pub global: Global,
    #[command(subcommand)]
    pub command: Option<Command>,
}

/// Options that every command takes.
#[derive(Debug, Clone, clap::Args)]
pub struct Global {
    /// The register file; the demo utility or your default register if absent
    #[arg(
        long,
        global = true,
        value_name = "PATH",
        env = "POLECARD_REGISTER",
        hide_env_values = true,
        value_parser = OsStringValueParser::new().map(PathBuf::from)
    )]
    pub register: Option<PathBuf>,
    /// Print one JSON document
    #[arg(long, global = true)]
    pub json: bool,
    /// Answer as the register stood at the end of a day, or at a moment, by
    /// what had been entered: for show, check, trace, history and export
    #[arg(long, global = true, value_name = "DATE")]
    pub as_of: Option<When>,
    /// Answer as things were at the end of a day, by when operations took
    /// effect: for show, check, trace, history and export. Together with
    /// --as-of: what was known then about that day. On commands that write:
    /// from when the change holds
    #[arg(long, global = true, value_name = "DATE")]
    pub effective: Option<Date>,
    /// On a shared login, who you are: recorded as declared, beside the account
    #[arg(
        long = "as",
        global = true,
        value_name = "NAME",
        env = "POLECARD_NAME",
        hide_env_values = true,
        value_parser = declared_name
    )]
    pub declared: Option<String>,
    /// Use ASCII characters only
    #[arg(long, global = true)]
    pub ascii: bool,
    /// Use no colour (also when NO_COLOR is set)
    #[arg(long, global = true)]
    pub no_color: bool,
    /// For the screens over a slow link: list later, show fewer rows. Without
    /// it the personal settings say so (`thin_link: true`), else the width of
    /// the window
    #[arg(long, global = true, overrides_with = "no_thin_link")]
    pub thin_link: bool,
    /// For the screens over a good link: show all there is room for
    #[arg(long, global = true, overrides_with = "thin_link")]
    pub no_thin_link: bool,
}

impl Global {
    /// What was said of the link for the screens, if anything was.
    #[must_use]
    pub fn link_is_thin(&self) -> Option<bool> {
        match (self.thin_link, self.no_thin_link) {
            (true, _) => Some(true),
            (false, true) => Some(false),
            (false, false) => None,
        }
    }

    /// The register that is named; an empty name is none.
    #[must_use]
    pub fn named(&self) -> Option<&PathBuf> {
        self.register.as_ref().filter(|p| !p.as_os_str().is_empty())
    }
}

/// The commands. Their order here is their order in `--help` and in the
/// README's table.
#[derive(Debug, Subcommand)]
pub enum Command {
    Find(find::Args),
    Decode(decode::Args),
    Readback(readback::Args),
    Show(show::Args),
    Check(check::Args),
    Trace(trace::Args),
    Log(log::Args),
    Due(due::Args),
    Orders(orders::Args),
    Round(round::Args),
    Briefing(briefing::Args),
    Notices(notices::Args),
    Edit(edit::Args),
    Swap(swap::Args),
    Merge(merge::Args),
    Report(report::Args),
    Reports(reports::Args),
    History(history::Args),
    Undo(undo::Args),
    Rules(rules::Args),
    Times(times::Args),
    Approach(approach::Args),
    Import(import::Args),
    Export(export::Args),
    Maps(maps::Args),
    Verify(verify::Args),
    Backup(backup::Args),
    Restore(backup::RestoreArgs),
    Completions(manual::CompletionArgs),
    Man(manual::ManArgs),
}

/// The command line as it is parsed, helped and described: options that a
/// command refuses are not offered by it.
#[must_use]
pub fn command_line() -> clap::Command {
    let mut all = Cli::command();
    let names: Vec<String> = all
        .get_subcommands()
        .map(|c| c.get_name().to_string())
        .collect();
    for name in names {
        let then = AS_OF.contains(&name.as_str());
        let day = then || EFFECTIVE.contains(&name.as_str());
        for (id, offered) in [("as_of", then), ("effective", day)] {
            let found = all.get_arguments().find(|a| a.get_id() == id).cloned();
            let Some(hidden) = found.filter(|_| !offered).map(|a| a.hide(true)) else {
                continue;
            };
            // An option of its own stands before one that all commands take.
            all = all.mut_subcommand(&name, |c| {
                if c.get_arguments().any(|a| a.get_id() == id) {
                    c
                } else {
                    c.arg(hidden)
                }
            });
        }
    }
    all
}

/// Commands that answer as of an earlier day.
const AS_OF: &[&str] = &["show", "check", "trace", "history", "export"];
/// Commands that write what may hold from another day on.
const EFFECTIVE: &[&str] = &["edit", "merge"];

/// Reads the command line; ends the program with what is wrong with it.
#[must_use]
pub fn parse() -> Cli {
    let matches = command_line().get_matches();
    Cli::from_arg_matches(&matches).unwrap_or_else(|e| e.exit())
}

/// Runs one command and returns its exit code.
///
/// # Errors
/// A [`Failure`], whose kind gives the exit code.
pub fn run(command: Command, context: &Context) -> Result<i32, Failure> {
    if !answers_as_of(&command) {
        context.present_only()?;
        if !takes_effect(&command) {
            context.not_on_a_day()?;
        }
    }
    let told = answers_as_of(&command).then(|| context.on_its_day());
    let context = told.as_ref().unwrap_or(context);
    run_one(command, context).map_err(|failure| context.dated(failure))
}

/// Whether a command answers as of an earlier day. Finding, writing and
/// verifying stay with the present.
const fn answers_as_of(command: &Command) -> bool {
    matches!(
        command,
        Command::Show(_)
            | Command::Check(_)
            | Command::Trace(_)
            | Command::History(_)
            | Command::Export(_)
    )
}

/// Whether a command writes what may hold from another day on.
const fn takes_effect(command: &Command) -> bool {
    matches!(command, Command::Edit(_) | Command::Merge(_))
}

fn run_one(command: Command, context: &Context) -> Result<i32, Failure> {
    match command {
        Command::Find(args) => find::run(&args, context),
        Command::Decode(args) => decode::run(&args, context),
        Command::Readback(args) => readback::run(&args, context),
        Command::Show(args) => show::run(&args, context),
        Command::Trace(args) => trace::run(&args, context),
        Command::Check(args) => check::run(&args, context),
        Command::Log(args) => log::run(&args, context),
        Command::Due(args) => due::run(&args, context),
        Command::Orders(args) => orders::run(&args, context),
        Command::Round(args) => round::run(&args, context),
        Command::Briefing(args) => briefing::run(&args, context),
        Command::Notices(args) => notices::run(&args, context),
        Command::Edit(args) => edit::run(&args, context),
        Command::Swap(args) => swap::run(&args, context),
        Command::Merge(args) => merge::run(&args, context),
        Command::Report(args) => report::run(&args, context),
        Command::Reports(args) => reports::run(&args, context),
        Command::History(args) => history::run(&args, context),
        Command::Undo(args) => undo::run(&args, context),
        Command::Times(args) => times::run(&args, context),
        Command::Approach(args) => approach::run(&args, context),
        Command::Rules(args) => rules::run(&args, context),
        Command::Import(args) => import::run(&args, context),
        Command::Export(args) => export::run(&args, context),
        Command::Maps(args) => maps::run(&args, context),
        Command::Verify(args) => verify::run(&args, context),
        Command::Backup(args) => backup::run(&args, context),
        Command::Restore(args) => backup::run_restore(&args, context),
        Command::Completions(args) => manual::completions(&args, context),
        Command::Man(args) => manual::man(&args, context),
    }
}

/// Name and first sentence of every command, in order.
#[must_use]
pub fn command_table() -> Vec<(String, String)> {
    command_line()
        .get_subcommands()
        .map(|c| {
            (
                c.get_name().to_string(),
                c.get_about().map(ToString::to_string).unwrap_or_default(),
            )
        })
        .collect()
}
