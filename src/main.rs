//! Parse, choose a face, print the error, exit.

use polecard::calendar::Clock;
use polecard::cli::{self, Context};
use polecard::config::Settings;
use polecard::tui;
use polecard::work::Failure;

fn main() {
    // A limit on the size of files is an error of the write, not an end.
    let seen = std::sync::Arc::new(std::sync::atomic::AtomicBool::new(false));
    let _ = signal_hook::flag::register(signal_hook::consts::SIGXFSZ, seen);
    let parsed = cli::parse();
    let context = Context::new(parsed.global, Clock::System);
    let answered = match parsed.command {
        Some(command) => cli::run(command, &context),
        None => screens(&context),
    };
    let code = answered.unwrap_or_else(|failure| {
        cli::print_failure(&failure);
        failure.kind.exit_code()
    });
    std::process::exit(code);
}

fn screens(context: &Context) -> Result<i32, Failure> {
    context.present_only()?;
    context.not_on_a_day()?;
    let register = context.register_path()?;
    let installed = context.install_demo_if_absent(&register)?;
    let global = &context.global;
    let thin_link = match global.link_is_thin() {
        Some(said) => Some(said),
        None => Settings::of_account()?.thin_link,
    };
    tui::start(&tui::Options {
        greeting: installed.then(|| {
            format!(
                "A copy of the demo utility was installed at {}",
                register.display()
            )
        }),
        register,
        clock: context.clock,
        ascii: global.ascii,
        no_color: global.no_color || std::env::var_os("NO_COLOR").is_some_and(|v| !v.is_empty()),
        thin_link,
        who: context.who(),
        drafts: polecard::config::drafts_folder().ok(),
    })
}
