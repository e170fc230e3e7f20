//! What every command needs: the register, the clock, and how to print.

use std::io::IsTerminal;
use std::path::{Path, PathBuf};

use super::Global;
use super::{When, output};
use crate::calendar::{Clock, Date, Moment};
use crate::config;
use crate::domain::who::Who;
use crate::present::{Line, Style};
use crate::role::Role;
use crate::store::{Access, Store};
use crate::work::{Failure, FailureKind, demo};

/// A report with the moment it answers for.
#[derive(serde::Serialize)]
struct AsOf<'r, T: serde::Serialize> {
    #[serde(flatten)]
    report: &'r T,
    #[serde(skip_serializing_if = "Option::is_none")]
    as_of: Option<Moment>,
    #[serde(skip_serializing_if = "Option::is_none")]
    effective: Option<Date>,
}

/// The surroundings of one command.
pub struct Context {
    pub global: Global,
    pub clock: Clock,
    /// The last moment whose entries count, with `--as-of`.
    known: Option<Moment>,
    /// The day of which things are told, with `--effective`.
    day: Option<Date>,
}

impl Context {
    #[must_use]
    pub fn new(global: Global, clock: Clock) -> Self {
        // Ages and due dates are told as of then, too.
        let known = global.as_of.map(|when| when.moment(clock.now()));
        Context {
            clock: known.map_or(clock, Clock::Fixed),
            global,
            known,
            day: None,
        }
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

    /// Refuses `--effective` where neither a day is answered for nor a change
    /// can hold from one.
    ///
    /// # Errors
    /// Usage, when it was given.
    pub fn not_on_a_day(&self) -> Result<(), Failure> {
        match self.global.effective {
            Some(_) => Err(Failure::usage(
                "--effective answers for show, check, trace, history and export, and dates an edit or a merge",
            )
            .hint("leave it out here; swap and log take the day with --on")),
            None => Ok(()),
        }
    }

    /// The surroundings of a command that answers for a day: ages and due
    /// dates are told as of then.
    #[must_use]
    pub fn on_its_day(&self) -> Context {
        let day = self.global.effective;
        let then = day.map(|day| When::Day(day).moment(self.clock.now()));
        Context {
            global: self.global.clone(),
            clock: then.map_or(self.clock, Clock::Fixed),
            known: self.known,
            day,
        }
    }

    /// A failure that says as of when it was asked.
    #[must_use]
    pub fn dated(&self, failure: Failure) -> Failure {
        if failure.kind != FailureKind::NotFound {
            return failure;
        }
        let mut failure = failure;
        if let Some(known) = self.known {
            failure = failure.hint(format!("asked as of {}", known.spoken()));
        }
        if let Some(day) = self.day {
            failure = failure.hint(format!("asked as things were on {}", day.spoken()));
        }
        failure
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

    /// Opens the register for reading: what holds today, as it stood then with `--as-of`, as
    /// things were on a day with `--effective`. With none named and none in the
    /// default place, installs a copy of the demo utility and says so.
    ///
    /// # Errors
    /// When the register is missing or cannot be used.
    pub fn open(&self) -> Result<Store, Failure> {
        let mut store = self.open_whole()?;
        store.hold_back(self.clock.today())?;
        Ok(store)
    }

    /// The same with what was entered and holds only from a later day on: for
    /// what is about the records as they are written, not about today.
    ///
    /// # Errors
    /// When the register is missing or cannot be used.
    pub fn open_whole(&self) -> Result<Store, Failure> {
        let mut store = self.open_for(Access::Read)?;
        if let Some(known) = self.known {
            let seq = store.operation_at(known)?;
            store = store.as_of(seq)?;
        }
        if let Some(day) = self.day {
            store = store.effective(day)?;
        }
        Ok(store)
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
    /// the environment could name anybody. A name declared on a shared login
    /// stands beside it, as declared.
    #[must_use]
    pub fn acting(&self) -> Who {
        let account = uzers::get_current_username().map_or_else(
            || format!("uid {}", rustix::process::getuid().as_raw()),
            |name| name.to_string_lossy().into_owned(),
        );
        let declared = self.global.declared.clone().filter(|n| !n.is_empty());
        Who { account, declared }
    }

    /// [`Context::acting`] as it is recorded with an operation.
    #[must_use]
    pub fn who(&self) -> String {
        self.acting().to_string()
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
        let then = self.known.is_some() || self.day.is_some();
        match (self.global.json, then) {
            (true, false) => output::json(report),
            (true, true) => output::json(&AsOf {
                report,
                as_of: self.known,
                effective: self.day,
            }),
            (false, _) => {
                let style = self.style();
                let mut all = Vec::new();
                if let Some(shown) = self.shown() {
                    all.extend(Line::of(Role::Look, shown).folded(style.width, 2));
                }
                all.extend(lines(style));
                output::lines(&all, self.global.no_color)
            }
        }
    }

    /// What is shown, when it is not the present.
    fn shown(&self) -> Option<String> {
        match (self.known, self.day) {
            (None, None) => None,
            (Some(known), None) => Some(format!(
                "AS OF {}: what the register said then, not now",
                known.spoken()
            )),
            (None, Some(day)) => Some(format!(
                "EFFECTIVE {}: how things were that day by what is known now, not how they are",
                day.spoken()
            )),
            (Some(known), Some(day)) => Some(format!(
                "AS OF {}, EFFECTIVE {}: what the register said then about that day, not now",
                known.spoken(),
                day.spoken()
            )),
        }
    }

    /// Says something on stderr.
    pub fn say(&self, text: &str) {
        output::message(text);
    }
}
