//! Personal settings: a file in the account's own folder. Nothing in it changes
//! an answer; it only says how this account looks at the register.

use std::path::{Path, PathBuf};

use serde::Deserialize;

use super::personal_folder;
use crate::work::Failure;

/// File name in the personal folder.
const FILE: &str = "settings.yaml";

/// What an account may set for itself.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Settings {
    /// The screens over a slow link; left out: by the width of the window.
    #[serde(default)]
    pub thin_link: Option<bool>,
}

/// Where the settings of this account are.
///
/// # Errors
/// When the account has no home directory.
pub fn settings_file() -> Result<PathBuf, Failure> {
    Ok(personal_folder()?.join(FILE))
}

impl Settings {
    /// The settings of this account; none set when there is no file, or no home
    /// to hold one.
    ///
    /// # Errors
    /// When the file is there and cannot be read or understood.
    pub fn of_account() -> Result<Settings, Failure> {
        settings_file().map_or_else(|_| Ok(Settings::default()), |path| Self::read(&path))
    }

    /// The settings in a file; none set when it is not there or says nothing.
    ///
    /// # Errors
    /// When it cannot be read, or holds a key or value that there is not.
    pub fn read(path: &Path) -> Result<Settings, Failure> {
        let text = match std::fs::read_to_string(path) {
            Ok(text) => text,
            Err(e) if e.kind() == std::io::ErrorKind::NotFound => return Ok(Settings::default()),
            Err(e) => return Err(refused(path, &e.to_string())),
        };
        let said = text.lines().any(|l| {
            let l = l.trim();
            !l.is_empty() && !l.starts_with('#') && l != "---"
        });
        if !said {
            return Ok(Settings::default());
        }
        serde_yaml::from_str(&text).map_err(|e| refused(path, &e.to_string()))
    }
}

fn refused(path: &Path, why: &str) -> Failure {
    Failure::unusable(format!(
        "the personal settings in {} cannot be used: {why}",
        path.display()
    ))
    .hint("it may hold `thin_link: true` or `thin_link: false`; mend the file or move it away")
}

#[cfg(test)]
mod tests {
    use super::*;

    fn of(text: &str) -> Result<Settings, Failure> {
        let dir = tempfile::tempdir().unwrap();
        let path = dir.path().join(FILE);
        std::fs::write(&path, text).unwrap();
        Settings::read(&path)
    }

    #[test]
    fn a_file_sets_the_link_and_one_that_is_not_there_sets_nothing() {
        let thin = |t| of(t).unwrap().thin_link;
        assert_eq!(thin("thin_link: true\n"), Some(true));
        assert_eq!(thin("# my own\nthin_link: false\n"), Some(false));
        assert_eq!(thin("# nothing yet\n"), None);
        assert_eq!(thin(""), None);
        let nowhere = Settings::read(Path::new("/nonexistent/settings.yaml"));
        assert_eq!(nowhere.unwrap(), Settings::default());
    }

    #[test]
    fn an_unknown_key_or_value_is_refused_with_the_file_and_what_may_stand_there() {
        for text in ["thinlink: true\n", "thin_link: slow\n", "- 1\n"] {
            let failure = of(text).unwrap_err();
            assert!(failure.message.contains(FILE), "{}", failure.message);
        }
    }
}
