//! Import: a folder of YAML, or a CSV file through a map, into the register.

use std::path::{Path, PathBuf};

use serde::Serialize;

use super::failure::Failure;
use super::guard::somebody_else;
use super::maps::{find_map, save_map};
use super::{JSON_VERSION, failure};
use crate::calendar::{Date, Moment};
use crate::exchange::{self, CsvAsk, CsvImported, Imported, Progress, Source, Take, YamlAsk};
use crate::store::Store;

/// What an import of YAML did, or would do.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct YamlReport {
    pub polecard: u32,
    /// The folder or file that was read.
    pub from: String,
    #[serde(flatten)]
    pub imported: Imported,
}

/// What an import of CSV did, or would do.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct CsvReport {
    pub polecard: u32,
    #[serde(flatten)]
    pub imported: CsvImported,
}

impl CsvReport {
    /// 0 when every row was, or would be, taken; 4 when some cannot be used.
    #[must_use]
    pub const fn exit_code(&self) -> i32 {
        if self.imported.refused == 0 {
            0
        } else {
            failure::FailureKind::Unusable.exit_code()
        }
    }
}

/// Takes in a folder or a file of YAML: at once when the register is empty,
/// else as a difference that is only shown unless `apply`.
///
/// # Errors
/// [`failure::FailureKind::Unusable`] with file and line; usage, where a second
/// person is missing. The register is then as it was.
pub fn from_yaml(store: &mut Store, path: &Path, ask: &YamlAsk<'_>) -> Result<YamlReport, Failure> {
    from_yaml_watched(store, path, ask, &mut |_| {})
}

/// [`from_yaml`], telling how far it has come.
///
/// # Errors
/// As [`from_yaml`].
pub fn from_yaml_watched(
    store: &mut Store,
    path: &Path,
    ask: &YamlAsk<'_>,
    progress: &mut dyn FnMut(Progress),
) -> Result<YamlReport, Failure> {
    let source = Source::at(path)?;
    let ask = YamlAsk {
        second: somebody_else(ask.second, ask.who)?,
        ..*ask
    };
    let imported = exchange::import_as(store, &source, &ask, progress)?;
    Ok(YamlReport {
        polecard: JSON_VERSION,
        from: path.display().to_string(),
        imported,
    })
}

/// What is asked of an import of CSV.
#[derive(Debug, Clone, PartialEq)]
pub struct CsvOptions {
    pub csv: PathBuf,
    /// A file, or the name of a map of the register; none for an export.
    pub map: Option<PathBuf>,
    /// The day up to which the file knows.
    pub dated: Option<Date>,
    /// What counts where a newer correction contradicts a row.
    pub take: Option<Take>,
    /// Keeps the map in the register under this name.
    pub save_map: Option<String>,
    /// Where refused rows go; beside the file when absent.
    pub refused: Option<PathBuf>,
    /// Who confirms it beside the actor, as declared; rows that need somebody
    /// are refused if absent.
    pub second: Option<String>,
    /// Only shown when false.
    pub apply: bool,
}

/// Takes in a CSV file through a map. `store` is none for a register that is
/// not there yet, which only a dry run may do without.
///
/// # Errors
/// [`failure::FailureKind::Unusable`] when the map or the file cannot be used;
/// refused rows are no error. The register is then as it was.
pub fn from_csv(
    mut store: Option<&mut Store>,
    options: &CsvOptions,
    who: &str,
    now: Moment,
    progress: &mut dyn FnMut(Progress),
) -> Result<CsvReport, Failure> {
    let mut map = find_map(store.as_deref(), options.map.as_deref(), &options.csv)?;
    let mut notes = Vec::new();
    if let Some(name) = &options.save_map {
        let file = options
            .map
            .as_deref()
            .filter(|m| m.is_file())
            .ok_or_else(|| {
                Failure::usage("--save-map keeps a map that is given as a file")
                    .hint("name the file with --map")
            })?;
        if let Some(store) = store.as_deref_mut().filter(|_| options.apply) {
            save_map(store, file, name, who, now)?;
            notes.push(format!("the map is kept: use it again with --map {name}"));
        }
        map.map.clone_from(name);
    }
    let ask = CsvAsk {
        file: &options.csv,
        map: &map,
        refused: options.refused.as_deref(),
        who,
        now,
        dated: options.dated,
        take: options.take,
        second: somebody_else(options.second.as_deref(), who)?,
        progress,
    };
    let mut imported = match (store, options.apply) {
        (Some(store), true) => exchange::csv::apply(store, ask)?,
        (None, true) => {
            return Err(failure::Failure::unusable(
                "there is no register to import into",
            ));
        }
        (store, false) => exchange::csv::dry_run(store.map(|s| &*s), ask)?,
    };
    imported.notes.extend(notes);
    Ok(CsvReport {
        polecard: JSON_VERSION,
        imported,
    })
}
