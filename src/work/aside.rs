//! What is written aside and gets its name only when it is whole.

use std::path::{Path, PathBuf};

use super::Failure;
use crate::store::{Access, Store, remove_with_logs};

/// Makes a register at `path` unless something stands there, filled by `fill`.
/// It is made aside and put in place in one step, by whoever is first: a kill
/// at any moment leaves a whole register or none. None when another was first.
///
/// # Errors
/// What `fill` fails with, and the disk's; nothing then stands at `path`.
pub fn new_register<T>(
    path: &Path,
    fill: impl FnOnce(&mut Store) -> Result<T, Failure>,
) -> Result<Option<T>, Failure> {
    let disk = |e: &std::io::Error| io(path, e).hint("name another place with --register PATH");
    if let Some(folder) = path.parent().filter(|p| !p.as_os_str().is_empty()) {
        std::fs::create_dir_all(folder).map_err(|e| disk(&e))?;
    }
    let aside = aside(path)?;
    let made = filled(&aside, path, fill).and_then(|done| {
        let first = place(&aside, path).map_err(|e| disk(&e))?;
        if first {
            sync_folder(path)?;
        }
        Ok(first.then_some(done))
    });
    remove_with_logs(&aside);
    made
}

fn filled<T>(
    aside: &Path,
    path: &Path,
    fill: impl FnOnce(&mut Store) -> Result<T, Failure>,
) -> Result<T, Failure> {
    let mut store = Store::create(aside).map_err(|e| e.about(path))?;
    let done = fill(&mut store).map_err(|e| e.about(aside, path))?;
    store.fold_log().map_err(|e| e.about(path))?;
    Ok(done)
}

/// Gives the file its name unless that is taken; whether it did.
fn place(aside: &Path, path: &Path) -> std::io::Result<bool> {
    let taken = |e: &std::io::Error| e.kind() == std::io::ErrorKind::AlreadyExists;
    match std::fs::hard_link(aside, path) {
        Ok(()) => return Ok(true),
        Err(e) if taken(&e) => return Ok(false),
        // A file system without hard links: an empty file takes the name first.
        Err(_) => {}
    }
    match std::fs::File::create_new(path) {
        Err(e) if taken(&e) => return Ok(false),
        other => drop(other?),
    }
    std::fs::rename(aside, path).inspect_err(|_| {
        let _ = std::fs::remove_file(path);
    })?;
    Ok(true)
}

/// Opens a new register once for writing, so that the files beside it that a
/// reading account needs are there.
///
/// # Errors
/// Those of the register.
pub fn settle(path: &Path) -> Result<(), Failure> {
    Store::open(path, Access::Write)?;
    Ok(())
}

/// A name beside the wanted one, hidden and of this process; what runs that
/// were killed left there is cleared away.
pub(super) fn aside(to: &Path) -> Result<PathBuf, Failure> {
    let name = to.file_name().ok_or_else(|| {
        Failure::usage(format!("{} names no file", to.display()))
            .hint("name a file, for instance 2026-10-03.polecard")
    })?;
    let stem = format!(".{}.part-", name.to_string_lossy());
    let folder = match to.parent() {
        Some(p) if !p.as_os_str().is_empty() => p.to_path_buf(),
        _ => PathBuf::from("."),
    };
    let entries = std::fs::read_dir(&folder).map_err(|e| io(&folder, &e))?;
    for entry in entries.flatten() {
        let found = entry.file_name();
        let left = found.to_str().and_then(|n| n.strip_prefix(stem.as_str()));
        if let Some(pid) = left.and_then(|p| p.split(['-', '.']).next()?.parse::<i32>().ok())
            && is_gone(pid)
        {
            remove_with_logs(&entry.path());
        }
    }
    let path = folder.join(format!("{stem}{}", std::process::id()));
    remove_with_logs(&path);
    Ok(path)
}

fn is_gone(pid: i32) -> bool {
    rustix::process::Pid::from_raw(pid)
        .is_some_and(|p| rustix::process::test_kill_process(p) == Err(rustix::io::Errno::SRCH))
}

/// Makes a rename last over a power cut, where folders can be synced.
pub(super) fn sync_folder(of: &Path) -> Result<(), Failure> {
    let folder = match of.parent() {
        Some(p) if !p.as_os_str().is_empty() => p,
        _ => Path::new("."),
    };
    std::fs::File::open(folder)
        .and_then(|f| f.sync_all())
        .map_err(|e| io(folder, &e))
}

pub(super) fn io(path: &Path, e: &std::io::Error) -> Failure {
    let failure = Failure::unusable(format!("{}: {e}", path.display()));
    match e.kind() {
        std::io::ErrorKind::StorageFull => failure.hint("free some space and try again"),
        std::io::ErrorKind::PermissionDenied | std::io::ErrorKind::ReadOnlyFilesystem => {
            failure.hint("name a folder that this account may write into")
        }
        std::io::ErrorKind::NotFound => failure.hint("make the folder first"),
        _ => failure,
    }
}
