//! Forms under way, kept in small files of the account's own: what was
//! answered so far, written anew after each answer.
//!
//! A file is first written aside and brought to the disk, then takes the place
//! of the one before, and the folder is brought to the disk too: after a power
//! cut either the old or the new form of it stands there, whole.

use std::collections::BTreeMap;
use std::fs::{DirBuilder, File, OpenOptions};
use std::io::Write;
use std::path::{Path, PathBuf};

use serde::{Deserialize, Serialize};
use serde_json::Value;

use crate::calendar::Moment;
use crate::domain::asset::{Kind, RecordId};

/// Version of the files.
const VERSION: u32 = 1;
const ENDING: &str = "draft";
const ASIDE: &str = "new";
const LOCK: &str = "open";
const DAMAGED: &str = "damaged";

/// What kind of form is under way.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum FormKind {
    /// An inspection.
    Inspection,
    /// A fuse link replaced.
    Link,
    /// A correction of fields.
    Correction,
}

impl FormKind {
    /// As people call it.
    #[must_use]
    pub const fn word(self) -> &'static str {
        match self {
            FormKind::Inspection => "inspection",
            FormKind::Link => "fuse replaced",
            FormKind::Correction => "correction",
        }
    }
}

/// One form under way.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Draft {
    polecard_draft: u32,
    pub form: FormKind,
    /// The register it is for.
    pub register: PathBuf,
    /// Permanent id of the record it is about.
    pub record: RecordId,
    pub kind: Kind,
    /// What the record was called.
    pub name: String,
    pub who: String,
    pub begun: Moment,
    /// What was answered, by the key of the question, as it was typed.
    pub answers: BTreeMap<String, String>,
    /// What stood on record when a field was first touched, by its path.
    #[serde(default, skip_serializing_if = "BTreeMap::is_empty")]
    pub seen: BTreeMap<String, Value>,
}

impl Draft {
    /// An empty form about a record of a register.
    #[must_use]
    pub fn new(
        form: FormKind,
        register: &Path,
        (record, kind, name): (RecordId, Kind, String),
        (who, begun): (&str, Moment),
    ) -> Self {
        Draft {
            polecard_draft: VERSION,
            form,
            register: whole(register),
            record,
            kind,
            name,
            who: who.to_string(),
            begun,
            answers: BTreeMap::new(),
            seen: BTreeMap::new(),
        }
    }
}

/// The path of a register as drafts know it.
fn whole(register: &Path) -> PathBuf {
    std::fs::canonicalize(register).unwrap_or_else(|_| register.to_path_buf())
}

/// A form with its file, locked while it is being filled in.
#[derive(Debug)]
pub struct Kept {
    pub draft: Draft,
    /// None when the account has no folder for them.
    path: Option<PathBuf>,
    lock: Option<File>,
    /// The answers that the file holds.
    on_disk: BTreeMap<String, String>,
    /// Whether the file holds all of `draft`.
    saved: bool,
}

impl Kept {
    /// A form that has no file yet; the first [`Kept::save`] makes it.
    #[must_use]
    pub fn fresh(draft: Draft, folder: Option<&Path>, id: RecordId) -> Self {
        Kept {
            draft,
            path: folder.map(|f| f.join(format!("{id}.{ENDING}"))),
            lock: None,
            on_disk: BTreeMap::new(),
            saved: false,
        }
    }

    /// Whether the file holds this answer to that question.
    #[must_use]
    pub fn holds(&self, key: &str, answer: &str) -> bool {
        self.on_disk.get(key).is_some_and(|a| a == answer)
    }

    /// Leaves the file alone from here on: it is another form's.
    pub fn forget(&mut self) {
        self.path = None;
    }

    /// Whether everything answered is on the disk.
    #[must_use]
    pub const fn saved(&self) -> bool {
        self.saved
    }

    /// Brings the form to the disk.
    ///
    /// # Errors
    /// A sentence: what could not be written, and why. The file then holds
    /// what it held before.
    pub fn save(&mut self) -> Result<(), String> {
        self.saved = false;
        let path = self
            .path
            .clone()
            .ok_or("this account has no home directory, so nothing is kept until it is written")?;
        self.hold(&path)?;
        let text = serde_json::to_vec_pretty(&self.draft).map_err(|e| e.to_string())?;
        replace(&path, &text).map_err(|e| format!("{}: {e}", path.display()))?;
        self.on_disk.clone_from(&self.draft.answers);
        self.saved = true;
        Ok(())
    }

    /// Locks the form against another session of the same account.
    fn hold(&mut self, path: &Path) -> Result<(), String> {
        if self.lock.is_some() {
            return Ok(());
        }
        let beside = path.with_extension(LOCK);
        let folder = path.parent().unwrap_or(Path::new("."));
        let why = |e: std::io::Error| format!("{}: {e}", beside.display());
        own_folder(folder).map_err(|e| format!("{}: {e}", folder.display()))?;
        let file = own_file(&beside).map_err(why)?;
        match file.try_lock() {
            Ok(()) => self.lock = Some(file),
            Err(std::fs::TryLockError::WouldBlock) => {
                return Err("another session of yours has this form open".to_string());
            }
            // A file system without locks: one session at a time is then up to people.
            Err(std::fs::TryLockError::Error(_)) => self.lock = Some(file),
        }
        Ok(())
    }

    /// Takes the file away, once what it held is in the register or was
    /// discarded by a person.
    ///
    /// # Errors
    /// A sentence, when the file stays.
    pub fn remove(self) -> Result<(), String> {
        let Some(path) = &self.path else {
            return Ok(());
        };
        let gone = |p: &Path| match std::fs::remove_file(p) {
            Err(e) if e.kind() != std::io::ErrorKind::NotFound => {
                Err(format!("{}: {e}", p.display()))
            }
            _ => Ok(()),
        };
        gone(path)?;
        let _ = gone(&path.with_extension(ASIDE));
        let _ = gone(&path.with_extension(LOCK));
        Ok(())
    }
}

/// The account's own folder, made when it is not there.
fn own_folder(folder: &Path) -> std::io::Result<()> {
    let mut builder = DirBuilder::new();
    builder.recursive(true);
    #[cfg(unix)]
    std::os::unix::fs::DirBuilderExt::mode(&mut builder, 0o700);
    builder.create(folder)
}

fn own_file(path: &Path) -> std::io::Result<File> {
    let mut options = OpenOptions::new();
    options.write(true).create(true).truncate(true);
    #[cfg(unix)]
    std::os::unix::fs::OpenOptionsExt::mode(&mut options, 0o600);
    options.open(path)
}

/// Puts `text` in the place of a file, whole or not at all.
fn replace(path: &Path, text: &[u8]) -> std::io::Result<()> {
    let aside = path.with_extension(ASIDE);
    let written = own_file(&aside).and_then(|mut file| {
        file.write_all(text)?;
        file.sync_all()
    });
    if let Err(e) = written.and_then(|()| std::fs::rename(&aside, path)) {
        let _ = std::fs::remove_file(&aside);
        return Err(e);
    }
    if let Some(folder) = path.parent() {
        File::open(folder)?.sync_all()?;
    }
    Ok(())
}

/// What waits in a folder.
#[derive(Debug, Default)]
pub struct Waiting {
    /// Forms that can be taken up, the newest first.
    pub forms: Vec<Kept>,
    /// Forms that another session has open.
    pub elsewhere: Vec<Draft>,
    /// Files that could not be read and were set aside, by what they are
    /// called now.
    pub damaged: Vec<String>,
    /// Why the folder, or a file of it, cannot be read.
    pub trouble: Vec<String>,
}

/// The forms in a folder that are for a register. A file that is no draft is
/// set aside under another name and stays.
#[must_use]
pub fn waiting(folder: Option<&Path>, register: &Path) -> Waiting {
    let mut out = Waiting::default();
    let Some(folder) = folder else { return out };
    let listed = match std::fs::read_dir(folder) {
        Ok(listed) => listed,
        Err(e) if e.kind() == std::io::ErrorKind::NotFound => return out,
        Err(e) => {
            out.trouble.push(format!("{}: {e}", folder.display()));
            return out;
        }
    };
    let register = whole(register);
    for path in listed.filter_map(|e| Some(e.ok()?.path())) {
        match path.extension().and_then(|e| e.to_str()) {
            Some(ENDING) => take(&mut out, path, &register),
            Some(DAMAGED) => out.damaged.push(file_name(&path)),
            _ => {}
        }
    }
    out.forms.sort_by_key(|k| std::cmp::Reverse(k.draft.begun));
    out.damaged.sort();
    out
}

fn take(out: &mut Waiting, path: PathBuf, register: &Path) {
    let text = match std::fs::read(&path) {
        Ok(text) => text,
        // Finished by another session since the folder was read.
        Err(e) if e.kind() == std::io::ErrorKind::NotFound => return,
        Err(e) => {
            out.trouble.push(format!("{}: {e}", path.display()));
            return;
        }
    };
    match serde_json::from_slice::<Draft>(&text) {
        Ok(draft) if draft.polecard_draft > VERSION => out.trouble.push(format!(
            "{} was written by a later version of Polecard",
            path.display()
        )),
        Ok(draft) if draft.register != register => {}
        Ok(draft) => {
            let mut kept = Kept {
                on_disk: draft.answers.clone(),
                draft,
                path: Some(path.clone()),
                lock: None,
                saved: true,
            };
            match kept.hold(&path) {
                // Held as long as somebody may take it up from here.
                Ok(()) => out.forms.push(kept),
                Err(_) => out.elsewhere.push(kept.draft),
            }
        }
        Err(_) => {
            let aside = path.with_extension(format!("{ENDING}.{DAMAGED}"));
            match std::fs::rename(&path, &aside) {
                Ok(()) => out.damaged.push(file_name(&aside)),
                Err(e) => out.trouble.push(format!("{}: {e}", path.display())),
            }
        }
    }
}

fn file_name(path: &Path) -> String {
    path.file_name()
        .map_or_else(String::new, |n| n.to_string_lossy().into_owned())
}

#[cfg(test)]
mod tests {
    use super::*;

    fn draft(register: &Path) -> Draft {
        let about = (RecordId::default(), Kind::Unit, "7-1".to_string());
        let begun = "2026-10-03T14:10:00-06:00".parse().unwrap();
        Draft::new(FormKind::Inspection, register, about, ("lw", begun))
    }

    fn scratch(name: &str) -> PathBuf {
        let path = std::env::temp_dir().join(format!("polecard-{name}-{}", std::process::id()));
        let _ = std::fs::remove_dir_all(&path);
        path
    }

    #[test]
    fn what_was_saved_is_offered_and_what_is_done_is_not() {
        let folder = scratch("drafts");
        let register = folder.join("r.polecard");
        let mut kept = Kept::fresh(draft(&register), Some(&folder), RecordId::default());
        assert!(!kept.saved());
        kept.draft
            .answers
            .insert("oil_level".into(), "below the mark".into());
        kept.save().unwrap();
        assert!(kept.saved());
        let open = waiting(Some(&folder), &register);
        assert_eq!((open.forms.len(), open.elsewhere.len()), (0, 1));
        let meant = kept.draft.clone();
        drop(kept);
        let mut again = waiting(Some(&folder), &register);
        assert_eq!(again.forms[0].draft, meant);
        assert!(
            waiting(Some(&folder), &folder.join("other"))
                .forms
                .is_empty()
        );
        again.forms.remove(0).remove().unwrap();
        assert!(waiting(Some(&folder), &register).forms.is_empty());
        std::fs::remove_dir_all(&folder).unwrap();
    }

    #[test]
    fn a_damaged_file_is_set_aside_and_named() {
        let folder = scratch("damaged");
        std::fs::create_dir_all(&folder).unwrap();
        std::fs::write(folder.join("X.draft"), b"{\"polecard_draft\": 1, ").unwrap();
        for _ in 0..2 {
            let found = waiting(Some(&folder), Path::new("/r"));
            assert_eq!(found.damaged, ["X.draft.damaged"]);
        }
        assert!(folder.join("X.draft.damaged").exists());
        std::fs::remove_dir_all(&folder).unwrap();
    }

    #[test]
    fn what_cannot_be_written_says_so_and_is_not_saved() {
        let none = Kept::fresh(draft(Path::new("/r")), None, RecordId::default()).save();
        assert!(none.unwrap_err().contains("no home"));
        let folder = scratch("refused");
        std::fs::create_dir_all(folder.parent().unwrap()).unwrap();
        std::fs::write(&folder, b"a file stands where the folder should").unwrap();
        let mut kept = Kept::fresh(draft(Path::new("/r")), Some(&folder), RecordId::default());
        assert!(kept.save().is_err());
        assert!(!kept.saved());
        std::fs::remove_file(&folder).unwrap();
    }
}
