//! `polecard reports`

use super::Context;
use super::edit::read_from;
use crate::calendar::Date;
use crate::domain::asset::ReadFrom;
use crate::domain::report::{ReadOff, Standing};
use crate::present::reports as text;
use crate::store::{Access, Reports};
use crate::work::Failure;
use crate::work::reports::{self as work, Choice, DecisionReport, Which};

/// List the corrections proposed from the field, and decide about them
#[derive(Debug, clap::Args)]
#[command(
    args_conflicts_with_subcommands = true,
    after_help = "Examples:\n  polecard reports --alike\n  polecard reports show 101\n  polecard reports accept 101 --alike --except 107\n  polecard reports refuse 107 --why \"wrong pole\"\n  polecard reports --of 40-118 --state all\n\nLists those that wait for a decision. Reports are alike when they propose the same change, or a\nvalue for the same field of the same class. Exit 0: answered, empty or not; 1: some that were to be\ntaken in still wait."
)]
pub struct Args {
    #[command(subcommand)]
    verb: Option<Verb>,
    /// Put alike ones together
    #[arg(long)]
    alike: bool,
    /// About one record only
    #[arg(long, value_name = "ID")]
    of: Option<String>,
    /// About records of one feeder only
    #[arg(long, value_name = "NAME")]
    feeder: Option<String>,
    /// waiting, undone, accepted, amended, refused, withdrawn, or all
    #[arg(long, value_name = "STATE", value_parser = state)]
    state: Option<State>,
}

#[derive(Debug, Clone, Copy)]
enum State {
    All,
    One(Standing),
}

fn state(word: &str) -> Result<State, String> {
    if word == "all" {
        return Ok(State::All);
    }
    Standing::from_word(word)
        .map(State::One)
        .ok_or_else(|| format!("one of {}, all", Standing::WORDS.join(", ")))
}

#[derive(Debug, clap::Subcommand)]
enum Verb {
    /// Show a report beside the record as it is now
    Show(ShowArgs),
    /// Take reports into the register as proposed, all as one operation
    Accept(AcceptArgs),
    /// Take a report into the register with another value
    Amend(AmendArgs),
    /// Refuse reports, with a reason
    Refuse(RefuseArgs),
    /// Take a refusal back: the reports wait again
    Reopen(ReopenArgs),
    /// Withdraw a report of your own
    Withdraw(WithdrawArgs),
    /// Make the reports file, and let a group add to it
    Prepare(PrepareArgs),
}

#[derive(Debug, clap::Args)]
#[command(after_help = "Example:\n  polecard reports show 101")]
struct ShowArgs {
    /// Number of the report, or the beginning of its id
    #[arg(value_name = "REPORT")]
    report: String,
}

#[derive(Debug, clap::Args)]
#[command(
    after_help = "Examples:\n  polecard reports accept 101 102\n  polecard reports accept 101 --alike --except 107\n  polecard reports accept 112 --second mk\n\nAn edit's checks hold. A record that changed since is left for you to choose. `polecard undo` takes\nall of it back, and the reports wait again."
)]
struct AcceptArgs {
    /// Numbers of the reports
    #[arg(value_name = "REPORT", required = true)]
    reports: Vec<String>,
    /// And every waiting report that is alike
    #[arg(long)]
    alike: bool,
    /// But not this one; may be repeated
    #[arg(long, value_name = "REPORT", requires = "alike")]
    except: Vec<String>,
    /// Your own words for the log; for a note, what was done about it
    #[arg(long, value_name = "TEXT")]
    why: Option<String>,
    /// The second person who confirms it
    #[arg(long, value_name = "WHO")]
    second: Option<String>,
}

#[derive(Debug, clap::Args)]
#[command(
    after_help = "Example:\n  polecard reports amend 101 place.near=\"fish ladder, east bank\" --why \"as on the map\""
)]
struct AmendArgs {
    /// Number of the report
    #[arg(value_name = "REPORT")]
    report: String,
    /// `field=value` in place of what was proposed
    #[arg(value_name = "FIELD=VALUE", required = true)]
    set: Vec<String>,
    /// Your own words for the log
    #[arg(long, value_name = "TEXT")]
    why: Option<String>,
    /// The second person who confirms it
    #[arg(long, value_name = "WHO")]
    second: Option<String>,
    /// Who read the plate, where not as reported
    #[arg(long, value_name = "WHO", requires = "from")]
    read_by: Option<String>,
    /// From what it was read
    #[arg(long, value_name = "plate|photo|drawing", requires = "read_by", value_parser = read_from)]
    from: Option<ReadFrom>,
    /// When it was read; today if absent
    #[arg(long, value_name = "DATE", requires = "read_by")]
    on: Option<Date>,
}

#[derive(Debug, clap::Args)]
#[command(after_help = "Example:\n  polecard reports refuse 107 --why \"wrong pole\"")]
struct RefuseArgs {
    /// Numbers of the reports
    #[arg(value_name = "REPORT", required = true)]
    reports: Vec<String>,
    /// Why; the one who filed it reads it
    #[arg(long, value_name = "TEXT")]
    why: String,
}

#[derive(Debug, clap::Args)]
#[command(
    after_help = "Example:\n  polecard reports reopen 107 --why \"the plate was read again\""
)]
struct ReopenArgs {
    /// Numbers of the reports
    #[arg(value_name = "REPORT", required = true)]
    reports: Vec<String>,
    /// Why
    #[arg(long, value_name = "TEXT", default_value = "")]
    why: String,
}

#[derive(Debug, clap::Args)]
#[command(after_help = "Example:\n  polecard reports withdraw 107 --why \"filed twice\"")]
struct WithdrawArgs {
    /// Number of the report
    #[arg(value_name = "REPORT")]
    report: String,
    /// Why
    #[arg(long, value_name = "TEXT", default_value = "")]
    why: String,
}

#[derive(Debug, clap::Args)]
#[command(
    after_help = "Example:\n  polecard reports prepare --group line\n\nThe group may then add reports and change nothing else. Keep the register and its folder writable\nfor the clerks alone."
)]
struct PrepareArgs {
    /// The group of those who file reports
    #[arg(long, value_name = "GROUP")]
    group: Option<String>,
}

pub fn run(args: &Args, context: &Context) -> Result<i32, Failure> {
    match &args.verb {
        None => list(args, context),
        Some(Verb::Show(a)) => {
            let store = context.open_whole()?;
            let reports = work::open(&store)?;
            let report = work::show(&store, reports.as_ref(), &a.report)?;
            context.print(&report, |style| text::show_lines(&report, style))?;
            Ok(0)
        }
        Some(Verb::Accept(a)) => accept(a, context),
        Some(Verb::Amend(a)) => amend(a, context),
        Some(Verb::Refuse(a)) => refuse(a, context),
        Some(Verb::Reopen(a)) => reopen(a, context),
        Some(Verb::Withdraw(a)) => withdraw(a, context),
        Some(Verb::Prepare(a)) => prepare(a, context),
    }
}

fn list(args: &Args, context: &Context) -> Result<i32, Failure> {
    let store = context.open_whole()?;
    let reports = work::open(&store)?;
    let which = Which {
        of: args.of.clone(),
        feeder: args.feeder.clone(),
        state: match args.state {
            Some(State::One(state)) => Some(state),
            _ => None,
        },
        all: matches!(args.state, Some(State::All)),
        numbers: None,
    };
    let report = work::list(&store, reports.as_ref(), &which)?;
    context.print(&report, |style| {
        text::list_lines(&report, style, args.alike)
    })?;
    Ok(0)
}

fn numbers(reports: &Reports, texts: &[String]) -> Result<Vec<i64>, Failure> {
    let mut out = Vec::new();
    for text in texts {
        let no = work::called(reports, text)?.no;
        if !out.contains(&no) {
            out.push(no);
        }
    }
    Ok(out)
}

fn said(report: &DecisionReport, context: &Context) -> Result<i32, Failure> {
    context.print(report, |style| text::decision_lines(report, style))?;
    Ok(report.exit_code())
}

fn accept(args: &AcceptArgs, context: &Context) -> Result<i32, Failure> {
    let mut store = context.open_to_write()?;
    let mut reports = work::open_to_decide(&store)?;
    let mut wanted = numbers(&reports, &args.reports)?;
    if args.alike {
        wanted = work::alike_to(&store, &reports, &wanted)?;
        let except = numbers(&reports, &args.except)?;
        wanted.retain(|no| !except.contains(no));
    }
    let choice = Choice {
        why: args.why.clone(),
        second: args.second.clone(),
        ..Choice::default()
    };
    let now = context.clock.now();
    let who = context.acting();
    let report = work::accept(&mut store, &mut reports, &wanted, &choice, &who, now)?;
    said(&report, context)
}

fn amend(args: &AmendArgs, context: &Context) -> Result<i32, Failure> {
    let mut store = context.open_to_write()?;
    let mut reports = work::open_to_decide(&store)?;
    let no = work::called(&reports, &args.report)?.no;
    let now = context.clock.now();
    let read = match (&args.read_by, args.from) {
        (Some(by), Some(from)) => Some(ReadOff {
            by: by.clone(),
            from,
            on: args.on.unwrap_or_else(|| now.date()),
        }),
        _ => None,
    };
    let choice = Choice {
        why: args.why.clone(),
        second: args.second.clone(),
        set: args.set.clone(),
        read,
    };
    let who = context.acting();
    let report = work::amend(&mut store, &mut reports, no, &choice, &who, now)?;
    said(&report, context)
}

fn refuse(args: &RefuseArgs, context: &Context) -> Result<i32, Failure> {
    let store = context.open_to_write()?;
    let mut reports = work::open_to_decide(&store)?;
    let wanted = numbers(&reports, &args.reports)?;
    let (who, now) = (context.acting(), context.clock.now());
    let report = work::refuse(&store, &mut reports, &wanted, &args.why, &who, now)?;
    said(&report, context)
}

fn reopen(args: &ReopenArgs, context: &Context) -> Result<i32, Failure> {
    let store = context.open_to_write()?;
    let mut reports = work::open_to_decide(&store)?;
    let wanted = numbers(&reports, &args.reports)?;
    let (who, now) = (context.acting(), context.clock.now());
    let report = work::reopen(&store, &mut reports, &wanted, &args.why, &who, now)?;
    said(&report, context)
}

fn withdraw(args: &WithdrawArgs, context: &Context) -> Result<i32, Failure> {
    let store = context.open_whole()?;
    let mut reports = Reports::open(store.path(), Access::Write)?
        .ok_or_else(|| Failure::not_found("no report was ever filed for this register"))?;
    let no = work::called(&reports, &args.report)?.no;
    let (who, now) = (context.acting(), context.clock.now());
    let report = work::withdraw(&store, &mut reports, no, &args.why, &who, now)?;
    said(&report, context)
}

fn prepare(args: &PrepareArgs, context: &Context) -> Result<i32, Failure> {
    let group =
        match &args.group {
            None => None,
            Some(name) => Some(uzers::get_group_by_name(name).map(|g| g.gid()).ok_or_else(
                || Failure::usage(format!("this machine has no group called {name}")),
            )?),
        };
    let store = context.open_to_write()?;
    let report = work::prepare(&store, group)?;
    let name = uzers::get_group_by_gid(report.group).map_or_else(
        || report.group.to_string(),
        |g| g.name().to_string_lossy().into_owned(),
    );
    context.print(&report, |_| text::prepared_lines(&report, &name))?;
    Ok(0)
}
