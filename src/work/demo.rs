//! The demo utility that ships inside the program, and its first install.

use std::path::{Path, PathBuf};

use include_dir::{Dir, DirEntry, include_dir};

use super::Failure;
use crate::calendar::Clock;
use crate::exchange::{Source, import};
use crate::store::Store;

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
    let io = |e: std::io::Error| {
        Failure::unusable(format!("{}: {e}", path.display()))
            .hint("name another place with --register PATH")
    };
    if let Some(folder) = path.parent() {
        std::fs::create_dir_all(folder).map_err(io)?;
    }
    let aside = path.with_extension(format!("part-{}", std::process::id()));
    let _ = remove_with_log(&aside);
    let made = fill(&aside, clock);
    let placed = made.and_then(|()| match std::fs::hard_link(&aside, path) {
        Ok(()) => Ok(true),
        Err(e) if e.kind() == std::io::ErrorKind::AlreadyExists => Ok(false),
        // A file system without hard links: the copy refuses an existing file.
        Err(_) => copy_new(&aside, path).map_err(io),
    });
    let _ = remove_with_log(&aside);
    placed
}

fn fill(aside: &Path, clock: Clock) -> Result<(), Failure> {
    let mut store = Store::create(aside)?;
    import(&mut store, &source(), "polecard", clock.now(), false)?;
    store.fold_log().map_err(Failure::from)
}

fn copy_new(from: &Path, to: &Path) -> std::io::Result<bool> {
    let mut out = match std::fs::File::create_new(to) {
        Err(e) if e.kind() == std::io::ErrorKind::AlreadyExists => return Ok(false),
        other => other?,
    };
    std::io::copy(&mut std::fs::File::open(from)?, &mut out)?;
    out.sync_all().map(|()| true)
}

fn remove_with_log(path: &Path) -> std::io::Result<()> {
    for tail in ["", "-wal", "-shm"] {
        let mut name = path.as_os_str().to_os_string();
        name.push(tail);
        match std::fs::remove_file(PathBuf::from(name)) {
            Err(e) if e.kind() != std::io::ErrorKind::NotFound => return Err(e),
            _ => {}
        }
    }
    Ok(())
}
