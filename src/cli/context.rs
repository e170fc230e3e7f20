//! What every command needs: the register, the clock, and how to print.

use std::path::{Path, PathBuf};

use super::Global;
use super::output;
use crate::calendar::Clock;
use crate::config;
use crate::present::{Line, Style};
use crate::store::{Access, Store};
use crate::work::{Failure, demo};

/// The surroundings of one command.
pub struct Context {
    pub global: Global,
    pub clock: Clock,
}

impl Context {
    #[must_use]
    pub fn new(global: Global, clock: Clock) -> Self {
        Context { global, clock }
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

    /// Opens the register for reading. With none named and none in the
    /// default place, installs a copy of the demo utility and says so.
    ///
    /// # Errors
    /// When the register is missing or cannot be used.
    pub fn open(&self) -> Result<Store, Failure> {
        self.open_for(Access::Read)
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
        let installed = self.global.named().is_none() && demo::install(path, self.clock)?;
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
        if self.global.json {
            output::json(report)
        } else {
            output::lines(&lines(self.style()), self.global.no_color)
        }
    }

    /// Says something on stderr.
    pub fn say(&self, text: &str) {
        output::message(text);
    }
}
