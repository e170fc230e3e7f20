//! The demo utility that ships inside the program, and its first install.

use std::path::{Path, PathBuf};

use include_dir::{Dir, DirEntry, include_dir};

use super::Failure;
use super::aside::new_register;
use crate::calendar::Clock;
use crate::exchange::{Source, import};

static DEMO: Dir<'_> = include_dir!("$CARGO_MANIFEST_DIR/data/demo");

/// The embedded demo utility as a source of documents.
#[must_use]
pub fn source() -> Source {
    let mut files = Vec::new();
    gather(&DEMO, &mut files);
    files.sort_by(|a, b| a.0.cmp(&b.0));
    Source::embedded("the demo utility", files)
}

fn gather(dir: &'static Dir<'static>, out: &mut Vec<(PathBuf, &'static [u8])>) {
    for entry in dir.entries() {
        match entry {
            DirEntry::Dir(d) => gather(d, out),
            DirEntry::File(f) if f.path().extension().is_some_and(|e| e == "yaml") => {
                out.push((f.path().to_path_buf(), f.contents()));
            }
            DirEntry::File(_) => {}
        }
    }
}

/// Puts a copy of the demo utility at `path` unless something is there.
/// Returns whether this call installed it. Two first starts at once are safe:
/// the copy is made aside and put in place in one step, by whoever is first.
///
/// # Errors
/// When the folder cannot be made or written.
pub fn install(path: &Path, clock: Clock) -> Result<bool, Failure> {
    if path.exists() {
        return Ok(false);
    }
    let made = new_register(path, |store| {
        import(store, &source(), "polecard", clock.now(), false)?;
        Ok(())
    })?;
    Ok(made.is_some())
}
