//! Floors 6 and 7: the screens and the terminal under them.
//!
//! [`run`](run::run) owns the event loop, [`term`] the terminal's modes and signals, [`thrifty`]
//! the bytes that go out. A screenful of program is an [`App`].

mod app_trait;
pub mod run;
pub mod term;
pub mod thrifty;

use std::path::PathBuf;

use crate::calendar::Clock;
use crate::work::Failure;

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
    pub thin_link: bool,
    /// Who acts, for what is written.
    pub who: String,
}

/// Opens the screens; returns the exit code.
///
/// # Errors
/// When the register cannot be used or there is no terminal.
pub fn start(options: &Options) -> Result<i32, Failure> {
    Err(Failure::unusable(format!(
        "the screens cannot be opened on {}",
        options.register.display()
    )))
}
