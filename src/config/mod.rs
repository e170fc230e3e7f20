//! Floor 5: personal things only: where the register of this account is.
//! What belongs to the utility lives in the register.

mod settings;

use std::path::PathBuf;

use directories::ProjectDirs;

use crate::work::Failure;

pub use settings::{Settings, settings_file};

/// File name of the register in the default place.
const REGISTER: &str = "register.polecard";

/// The register used when none is named.
///
/// # Errors
/// When the account has no home directory.
pub fn default_register() -> Result<PathBuf, Failure> {
    Ok(folders()?.data_dir().join(REGISTER))
}

/// Where personal settings are kept.
///
/// # Errors
/// When the account has no home directory.
pub fn personal_folder() -> Result<PathBuf, Failure> {
    Ok(folders()?.config_dir().to_path_buf())
}

/// Where forms that are not finished wait.
///
/// # Errors
/// When the account has no home directory.
pub fn drafts_folder() -> Result<PathBuf, Failure> {
    Ok(folders()?.data_dir().join("drafts"))
}

fn folders() -> Result<ProjectDirs, Failure> {
    // Without this check a made-up home of the system's password file is used.
    let home = std::env::var_os("HOME").filter(|h| !h.is_empty());
    if cfg!(unix) && home.is_none() {
        return Err(no_home());
    }
    ProjectDirs::from("", "", "polecard").ok_or_else(no_home)
}

fn no_home() -> Failure {
    Failure::unusable("this account has no home directory, so there is no default register")
        .hint("name a register with --register PATH or POLECARD_REGISTER")
}
