//! Floors 6 and 7: the screens and the terminal under them.
//!
//! [`app`] holds the stack of [`screen`]s and the one table of commands ([`command`]); they know
//! no terminal. [`run`](run::run) owns the event loop, [`term`] the terminal's modes and signals,
//! [`thrifty`] the bytes that go out. A screenful of program is an [`App`].

pub mod app;
mod app_trait;
pub mod command;
mod face;
pub mod run;
pub mod screen;
pub mod term;
pub mod theme;
pub mod thrifty;
pub mod widget;

use std::path::PathBuf;

use crate::calendar::Clock;
use crate::store::{Access, Store};
use crate::work::Failure;

pub use app::{Screens, Setup};
pub use app_trait::{App, Input};
pub use run::run;

/// What the screens are started with.
#[derive(Debug, Clone)]
pub struct Options {
    /// The register to open.
    pub register: PathBuf,
    pub clock: Clock,
    /// Said once on the first screen: a freshly installed demo, for instance.
    pub greeting: Option<String>,
    pub ascii: bool,
    pub no_color: bool,
    /// Whether the link is taken for a slow one; none: by the width.
    pub thin_link: Option<bool>,
    /// Who acts, for what is written.
    pub who: String,
    /// The folder of the account's own drafts; none when it has no home.
    pub drafts: Option<PathBuf>,
}

/// Opens the screens; returns the exit code.
///
/// # Errors
/// When the register cannot be used or there is no terminal.
pub fn start(options: &Options) -> Result<i32, Failure> {
    let store = Store::open(&options.register, Access::Read)?;
    let mut surroundings = run::Options::from_environment();
    surroundings.colour &= !options.no_color;
    let mut screens = Screens::new(
        store,
        Setup {
            clock: options.clock,
            colour: surroundings.colour,
            ascii: options.ascii,
            thin_link: options.thin_link,
            greeting: options.greeting.clone(),
            who: options.who.clone(),
            drafts: options.drafts.clone(),
        },
    )?;
    run(&mut screens, surroundings).map_err(|e| {
        Failure::unusable(format!("the screens cannot be opened: {e}")).hint(
            "they need a terminal; `polecard find TEXT` and `polecard show ID` answer without one",
        )
    })
}
