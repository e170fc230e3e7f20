//! What every command needs: the register, the clock, and how to print.

use std::io::IsTerminal;
use std::path::{Path, PathBuf};

use super::Global;
use super::output;
use crate::calendar::{Clock, Moment};
use crate::config;
use crate::present::{Line, Style};
use crate::role::Role;
use crate::store::{Access, Store};
use crate::work::{Failure, FailureKind, demo};

/// A report with the moment it answers for.
#[derive(serde::Serialize)]
struct AsOf<'r, T: serde::Serialize> {
    #[serde(flatten)]
    report: &'r T,
    as_of: Moment,
}

/// The surroundings of one command.
pub struct Context {
    pub global: Global,
    pub clock: Clock,
}

impl Context {
    #[must_use]
    pub fn new(global: Global, clock: Clock) -> Self {
        // Ages and due dates are told as of then, too.
        let clock = match global.as_of {
            Some(when) => Clock::Fixed(when.moment(clock.now())),
            None => clock,
        };
        Context { global, clock }
    }

    /// Refuses `--as-of` where only the present can be answered.
    ///
    /// # Errors
    /// Usage, when it was given.
    pub fn present_only(&self) -> Result<(), Failure> {
        match self.global.as_of {
            Some(_) => Err(Failure::usage(
                "--as-of answers for show, check, trace, history and export only",
            )
            .hint("leave it out here: finding, writing and the screens stay with the present")),
            None => Ok(()),
        }
    }

    /// A failure that says as of when it was asked.
    #[must_use]
    pub fn dated(&self, failure: Failure) -> Failure {
        match self.global.as_of {
            Some(_) if failure.kind == FailureKind::NotFound => {
                failure.hint(format!("asked as of {}", self.clock.now().spoken()))
            }
            _ => failure,
        }
    }

    /// The register's path: named, or the default.
    ///
    /// # Errors
    /// When none is named and the account has no home directory.
    pub fn register_path(&self) -> Result<PathBuf, Failure> {
        match self.global.named() {
            Some(path) => Ok(path.clone()),
            None => config::default_register(),
        }
    }

    /// Opens the register for reading, as it stood then with `--as-of`. With none named and none in the
    /// default place, installs a copy of the demo utility and says so.
    ///
    /// # Errors
    /// When the register is missing or cannot be used.
    pub fn open(&self) -> Result<Store, Failure> {
        let store = self.open_for(Access::Read)?;
        if self.global.as_of.is_none() {
            return Ok(store);
        }
        let seq = store.operation_at(self.clock.now())?;
        Ok(store.as_of(seq)?)
    }

    /// Opens the register for writing, as [`Context::open`].
    ///
    /// # Errors
    /// When the register is missing or cannot be used.
    pub fn open_to_write(&self) -> Result<Store, Failure> {
        self.open_for(Access::Write)
    }

    fn open_for(&self, access: Access) -> Result<Store, Failure> {
        let path = self.register_path()?;
        self.install_demo_if_absent(&path)?;
        Ok(Store::open(&path, access)?)
    }

    /// Installs the demo utility in the default place when nothing is there;
    /// tells whether this call did.
    ///
    /// # Errors
    /// When the place cannot be written.
    pub fn install_demo_if_absent(&self, path: &Path) -> Result<bool, Failure> {
        let wanted = self.global.named().is_none();
        if wanted && !path.exists() && std::io::stderr().is_terminal() {
            output::message("installing the demo utility ...");
        }
        let installed = wanted && demo::install(path, self.clock)?;
        if installed {
            output::message(&format!(
                "no register yet: a copy of the demo utility was installed at {}",
                path.display()
            ));
        }
        Ok(installed)
    }

    /// Who acts: the system's account, as the system knows it; a variable of
    /// the environment could name anybody.
    #[must_use]
    pub fn who(&self) -> String {
        uzers::get_current_username().map_or_else(
            || format!("uid {}", rustix::process::getuid().as_raw()),
            |name| name.to_string_lossy().into_owned(),
        )
    }

    /// How to print text here.
    #[must_use]
    pub fn style(&self) -> Style {
        Style {
            width: output::width(),
            ascii: self.global.ascii,
        }
    }

    /// Prints a report: JSON if asked, text otherwise.
    ///
    /// # Errors
    /// When the output cannot be written; a closed pipe is no error.
    pub fn print<T: serde::Serialize>(
        &self,
        report: &T,
        lines: impl FnOnce(Style) -> Vec<Line>,
    ) -> Result<(), Failure> {
        let then = self.global.as_of.map(|_| self.clock.now());
        match (self.global.json, then) {
            (true, None) => output::json(report),
            (true, Some(then)) => output::json(&AsOf {
                report,
                as_of: then,
            }),
            (false, _) => {
                let mut all = Vec::new();
                all.extend(then.map(|t| {
                    Line::of(
                        Role::Look,
                        format!("AS OF {}: what the register said then, not now", t.spoken()),
                    )
                }));
                all.extend(lines(self.style()));
                output::lines(&all, self.global.no_color)
            }
        }
    }

    /// Says something on stderr.
    pub fn say(&self, text: &str) {
        output::message(text);
    }
}
