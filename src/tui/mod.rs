//! Floors 6 and 7: the screens and the terminal under them.

use std::path::PathBuf;

use crate::calendar::Clock;
use crate::work::Failure;

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
