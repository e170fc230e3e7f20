//! `polecard orders`

use clap::Subcommand;
use clap::builder::PossibleValuesParser;

use super::Context;
use crate::calendar::Date;
use crate::domain::asset::{OrderState, Priority};
use crate::present::orders::{list_lines, report_lines, show_lines};
use crate::work::Failure;
use crate::work::orders::{self, Done, Filter, NewOrder, OrderReport, open_another, open_order};

/// Work orders: list, open, assign, close and show them
#[derive(Debug, clap::Args)]
#[command(
    args_conflicts_with_subcommands = true,
    after_help = "Examples:\n  polecard orders --feeder HB2\n  polecard orders open 40-118 \"restore the pole ground\" --priority urgent --due 2026-10-17\n  polecard orders assign 2231 ls\n  polecard orders done 2231 \"ground rod driven, 9 ohm\" --entry\n  polecard orders void 2231 \"pole was removed\"\n  polecard orders show 2231\n\nWithout a command lists those that are not closed: overdue first, then by priority\n(urgent, soon, planned, whenever) and day. Exit code 0, empty or not."
)]
pub struct Args {
    #[command(subcommand)]
    what: Option<What>,
    #[command(flatten)]
    list: ListArgs,
}

#[derive(Debug, clap::Args)]
struct ListArgs {
    /// On records at home in this feeder
    #[arg(long, value_name = "FEEDER")]
    feeder: Option<String>,
    /// On this record and what goes with it
    #[arg(long, value_name = "ID")]
    of: Option<String>,
    /// In this state only
    #[arg(long, value_name = "STATE", value_parser = PossibleValuesParser::new(OrderState::WORDS))]
    state: Option<String>,
    /// Of this priority only
    #[arg(long, value_name = "WORD", value_parser = PossibleValuesParser::new(Priority::WORDS))]
    priority: Option<String>,
    /// Given to, or done by
    #[arg(long, value_name = "WHO")]
    who: Option<String>,
    /// Due on or before
    #[arg(long, value_name = "DATE")]
    due: Option<Date>,
    /// Only those whose day has passed
    #[arg(long)]
    overdue: bool,
    /// Closed ones too
    #[arg(long)]
    all: bool,
}

#[derive(Debug, Subcommand)]
enum What {
    /// List orders, as without a command
    List(ListArgs),
    /// Open an order on a record
    Open(OpenArgs),
    /// Give an order to somebody
    Assign { order: String, to: String },
    /// Close an order with a word of what was done
    Done {
        order: String,
        /// What was done
        what: String,
        /// The day it was done; today if absent
        #[arg(long, value_name = "DATE")]
        on: Option<Date>,
        /// Who did it
        #[arg(long, value_name = "WHO")]
        by: Option<String>,
        /// Write the word into the history of the record too
        #[arg(long)]
        entry: bool,
    },
    /// Close an order that will not be done, with the reason
    Void { order: String, reason: String },
    /// Open a closed order again, with the reason
    Reopen { order: String, reason: String },
    /// Show one order with the steps of its life
    Show { order: String },
}

#[derive(Debug, clap::Args)]
struct OpenArgs {
    /// The record it is about
    #[arg(value_name = "ID")]
    id: String,
    /// What is needed
    need: String,
    #[arg(long, value_name = "WORD", default_value = "planned", value_parser = PossibleValuesParser::new(Priority::WORDS))]
    priority: String,
    /// By when
    #[arg(long, value_name = "DATE")]
    due: Option<Date>,
    /// To whom it is given
    #[arg(long, value_name = "WHO")]
    who: Option<String>,
    #[arg(long, value_name = "TEXT")]
    note: Option<String>,
    /// Also when an alike order is open
    #[arg(long)]
    another: bool,
}

pub fn run(args: &Args, context: &Context) -> Result<i32, Failure> {
    let list = match &args.what {
        None => &args.list,
        Some(What::List(list)) => list,
        Some(What::Show { order }) => {
            let shown = orders::show(&context.open()?, order, context.clock.today())?;
            context.print(&shown, |style| show_lines(&shown, style))?;
            return Ok(0);
        }
        Some(what) => {
            let report = write(what, context)?;
            context.print(&report, |style| report_lines(&report, style))?;
            return Ok(0);
        }
    };
    let filter = Filter {
        feeder: list.feeder.clone(),
        state: list.state.as_deref().and_then(OrderState::from_word),
        all: list.all,
        who: list.who.clone(),
        due: list.due,
        overdue: list.overdue,
        priority: list.priority.as_deref().and_then(Priority::from_word),
        of: list.of.clone(),
    };
    let report = orders::list(&context.open()?, &filter, context.clock.today())?;
    context.print(&report, |style| list_lines(&report, style))?;
    Ok(0)
}

fn write(what: &What, context: &Context) -> Result<OrderReport, Failure> {
    let mut store = context.open_to_write()?;
    let (who, now) = (context.who(), context.clock.now());
    match what {
        What::Open(open) => {
            let new = NewOrder {
                of: open.id.clone(),
                need: open.need.clone(),
                priority: Priority::from_word(&open.priority).unwrap_or(Priority::Planned),
                due: open.due,
                who: open.who.clone(),
                from_entry: None,
                note: open.note.clone(),
            };
            let write = if open.another {
                open_another
            } else {
                open_order
            };
            write(&mut store, &new, &who, now)
        }
        What::Assign { order, to } => orders::assign(&mut store, order, to, &who, now),
        What::Done {
            order,
            what,
            on,
            by,
            entry,
        } => {
            let done = Done {
                what: what.clone(),
                on: *on,
                by: by.clone(),
                entry: *entry,
            };
            orders::done(&mut store, order, &done, &who, now)
        }
        What::Void { order, reason } => orders::void(&mut store, order, reason, &who, now),
        What::Reopen { order, reason } => orders::reopen(&mut store, order, reason, &who, now),
        What::List(_) | What::Show { .. } => Err(Failure::usage("that writes nothing")),
    }
}
