//! `polecard verify`

use std::path::PathBuf;

use super::Context;
use crate::config;
use crate::present::verify as text;
use crate::work::Failure;
use crate::work::verify::{Asked, earlier, recall_last, verify};

/// Verify the register: what is wrong with its records, why, and what to do
#[derive(Debug, clap::Args)]
#[command(
    after_help = "Examples:\n  polecard verify\n  polecard verify --rule unit-two-places --rule date-future\n  polecard verify --expect-head NUMBER:DIGEST --expect-head backups/2026-10-03.polecard\n  polecard verify --json > before.json; polecard verify --since before.json\n\nEach head is told by its operation; a log whose tail was cut or that was written anew is\nshown as such, most surely when the backup itself is given. Exit code 0 when answered, with or\nwithout findings. What says that the register was altered outside the program stands first, as STOP; in\nJSON it is the list `stops`."
)]
pub struct Args {
    /// Report this rule only, with all its findings; may be repeated
    #[arg(long, value_name = "NAME")]
    rule: Vec<String>,
    /// A head that a backup, an export or a kept check printed (NUMBER:DIGEST or DIGEST), or the file
    /// that carries it; may be repeated
    #[arg(long, value_name = "HEAD")]
    expect_head: Vec<String>,
    /// An earlier report in JSON, to show progress against
    #[arg(long, value_name = "FILE")]
    since: Option<PathBuf>,
}

pub fn run(args: &Args, context: &Context) -> Result<i32, Failure> {
    let before =
        match &args.since {
            Some(path) => earlier(&std::fs::read_to_string(path).map_err(|e| {
                Failure::unusable(format!("{} cannot be read: {e}", path.display()))
            })?)?,
            None => Vec::new(),
        };
    let store = context.open_whole()?;
    let asked = Asked {
        expect_head: args.expect_head.clone(),
        last_head: recall_last(config::drafts_folder().ok().as_deref(), store.path()).head,
        rules: args.rule.clone(),
        before,
    };
    let report = verify(&store, &asked, context.clock)?;
    let all = !args.rule.is_empty();
    context.print(&report, |style| text::lines(&report, style, all))?;
    Ok(0)
}
