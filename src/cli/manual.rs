//! `polecard completions` and `polecard man`

use clap_complete::Shell;

use super::{Context, command_line, output};
use crate::work::Failure;

/// Print completions for a shell
#[derive(Debug, clap::Args)]
#[command(
    after_help = "Example:\n  polecard completions bash > ~/.local/share/bash-completion/completions/polecard"
)]
pub struct CompletionArgs {
    shell: Shell,
}

/// Print the manual page
#[derive(Debug, clap::Args)]
#[command(after_help = "Example:\n  polecard man > polecard.1 && man ./polecard.1")]
pub struct ManArgs {}

pub fn completions(args: &CompletionArgs, _context: &Context) -> Result<i32, Failure> {
    let mut text = Vec::new();
    clap_complete::generate(args.shell, &mut command_line(), "polecard", &mut text);
    output::raw(&String::from_utf8_lossy(&text)).map(|()| 0)
}

pub fn man(_args: &ManArgs, _context: &Context) -> Result<i32, Failure> {
    let mut text = Vec::new();
    let mut command = command_line();
    command.build();
    let mut render = |c: clap::Command| clap_mangen::Man::new(c).render(&mut text);
    let subcommands: Vec<clap::Command> = command.get_subcommands().cloned().collect();
    render(command)
        .and_then(|()| {
            subcommands
                .into_iter()
                .filter(|c| c.get_name() != "help")
                .try_for_each(|c| {
                    let name = format!("polecard-{}", c.get_name());
                    render(c.name(name))
                })
        })
        .map_err(|e| Failure::unusable(format!("the manual could not be made: {e}")))?;
    output::raw(&String::from_utf8_lossy(&text)).map(|()| 0)
}
