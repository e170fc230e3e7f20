//! Where documents come from: a folder, a file, or the program itself.

use std::io::{BufReader, Read};
use std::path::{Path, PathBuf};

use super::document::{Documents, ExchangeError};

/// A file to read: its name for messages, and how to open it.
pub struct SourceFile {
    pub path: PathBuf,
    open: Opener,
}

enum Opener {
    Disk,
    Embedded(&'static [u8]),
}

/// Where the documents come from.
pub struct Source {
    /// What the operation says it took in.
    pub label: String,
    pub(super) log: Vec<SourceFile>,
    pub(super) records: Vec<SourceFile>,
}

impl Source {
    /// A folder as `export` writes it, any folder of YAML files, or one file.
    ///
    /// # Errors
    /// When it cannot be read or holds no YAML file.
    pub fn at(path: &Path) -> Result<Source, ExchangeError> {
        let mut files = Vec::new();
        collect(path, &mut files, 0)?;
        files.sort();
        if files.is_empty() {
            return Err(ExchangeError::Io {
                path: path.display().to_string(),
                why: "holds no .yaml file; name a folder made by `polecard export`, or a YAML file"
                    .to_string(),
            });
        }
        let log_dir = path.join("log");
        let (log, records) = files
            .into_iter()
            .map(|path| SourceFile {
                path,
                open: Opener::Disk,
            })
            .partition(|f| f.path.starts_with(&log_dir));
        Ok(Source {
            label: path.display().to_string(),
            log,
            records,
        })
    }

    /// Files that are part of the program.
    #[must_use]
    pub fn embedded(label: &str, files: Vec<(PathBuf, &'static [u8])>) -> Source {
        let (log, records) = files
            .into_iter()
            .map(|(path, bytes)| SourceFile {
                path,
                open: Opener::Embedded(bytes),
            })
            .partition(|f: &SourceFile| f.path.starts_with("log"));
        Source {
            label: label.to_string(),
            log,
            records,
        }
    }
}

fn collect(path: &Path, out: &mut Vec<PathBuf>, depth: usize) -> Result<(), ExchangeError> {
    let meta = std::fs::metadata(path).map_err(|e| ExchangeError::io(path, &e))?;
    if !meta.is_dir() {
        out.push(path.to_path_buf());
        return Ok(());
    }
    let entries = std::fs::read_dir(path).map_err(|e| ExchangeError::io(path, &e))?;
    for entry in entries {
        let child = entry.map_err(|e| ExchangeError::io(path, &e))?.path();
        let yaml = child.extension().is_some_and(|e| e == "yaml" || e == "yml");
        if yaml || (child.is_dir() && depth < 4) {
            collect(&child, out, depth + 1)?;
        }
    }
    Ok(())
}

impl SourceFile {
    /// Bytes in it; none when that cannot be told.
    pub(super) fn size(&self) -> u64 {
        match &self.open {
            Opener::Disk => std::fs::metadata(&self.path).map_or(0, |m| m.len()),
            Opener::Embedded(bytes) => bytes.len() as u64,
        }
    }

    pub(super) fn documents(&self) -> Result<Documents<BufReader<Box<dyn Read>>>, ExchangeError> {
        let reader: Box<dyn Read> = match &self.open {
            Opener::Disk => Box::new(
                std::fs::File::open(&self.path).map_err(|e| ExchangeError::io(&self.path, &e))?,
            ),
            Opener::Embedded(bytes) => Box::new(*bytes),
        };
        Ok(Documents::new(
            BufReader::with_capacity(1 << 16, reader),
            &self.path,
        ))
    }
}
