//! A full disk and a folder that may not be written, for every command that
//! writes.

use std::path::{Path, PathBuf};
use std::process::Output;

use polecard::exchange::{Draft, FormKind, Kept, waiting};
use polecard::store::{Access, Store, fresh_id};
use polecard::work::backup::check;
use tempfile::TempDir;

use super::{PROGRAM, said, shipped};
use crate::screens::rig::{copy_of_demo, now};

fn register(dir: &TempDir) -> PathBuf {
    dir.path().join("register.polecard")
}

/// Runs a command where no file may grow beyond some KiB: a write beyond is
/// refused, as on a full disk.
fn limited(kib: u32, home: &Path, args: &[String]) -> Output {
    std::process::Command::new("sh")
        .arg("-c")
        .arg(format!("ulimit -f {} && exec \"$0\" \"$@\"", kib * 2))
        .arg(PROGRAM)
        .args(args)
        .env("HOME", home)
        .env("XDG_DATA_HOME", home)
        .output()
        .unwrap()
}

/// Every command that writes, with FILE for a folder of its own.
fn commands(dir: &Path) -> Vec<Vec<String>> {
    let yaml = dir.join("in.yaml");
    let text: String = (0..400)
        .map(|n| format!("---\nstructure: 98-{}\nkind: pole\nfeeder: HB2\n", 100 + n))
        .collect();
    std::fs::write(&yaml, text).unwrap();
    let csv = shipped("data/csv/new-poles.csv");
    let map = shipped("data/maps/new-poles.yaml");
    let at = |p: &Path| p.display().to_string();
    let refused = at(&dir.join("refused.csv"));
    let out = at(&dir.join("out"));
    let unit = at(&dir.join("unit.csv"));
    let backup = at(&dir.join("b.polecard"));
    let all: [&[&str]; 9] = [
        &["edit", "40-118", "note=x", "--why", "painted"],
        &["log", "40-118", "note", "note=leaning"],
        &["import", &at(&yaml), "--apply"],
        &[
            "import",
            "--csv",
            &at(&csv),
            "--map",
            &at(&map),
            "--refused",
            &refused,
            "--apply",
        ],
        &["export", &out],
        &["export", "--csv", "unit", &unit],
        &["report", "40-118", "note=leaning", "--why", "seen"],
        &["backup", &backup],
        &["undo"],
    ];
    all.iter()
        .map(|args| args.iter().map(ToString::to_string).collect())
        .collect()
}

#[test]
fn a_full_disk_is_said_by_every_command_and_harms_nothing() {
    let dir = copy_of_demo();
    let register = register(&dir);
    let before = std::fs::read(&register).unwrap();
    let head = Store::open(&register, Access::Read)
        .unwrap()
        .head()
        .unwrap();
    for args in commands(dir.path()) {
        let mut all = vec!["--register".to_string(), register.display().to_string()];
        all.extend(args.clone());
        let mut refusals = 0;
        for kib in [1, 8, 24] {
            let out = limited(kib, dir.path(), &all);
            if out.status.success() {
                continue;
            }
            refusals += 1;
            assert_eq!(out.status.code(), Some(4), "{args:?} {kib}: {}", said(&out));
            let words = said(&out).to_lowercase();
            assert!(
                words.contains("full") || words.contains("too large") || words.contains("limit"),
                "{args:?} at {kib} KiB: {words}"
            );
            // A person knows nothing of what is written aside.
            let aside = words.contains(".part-") && args[0] != "export";
            assert!(!aside, "{args:?} at {kib} KiB: {words}");
            let now = Store::open(&register, Access::Read)
                .unwrap()
                .head()
                .unwrap();
            assert_eq!(now, head, "{args:?} at {kib} KiB");
            for part in ["out", "unit.csv", "b.polecard"] {
                assert!(!dir.path().join(part).exists(), "{args:?} left {part}");
            }
            assert!(
                check(&register, &[]).unwrap().sound,
                "{args:?} at {kib} KiB"
            );
        }
        assert!(refusals > 0, "{args:?} was never refused");
        // What was acknowledged under a limit is taken away again.
        for tail in ["", "-wal", "-shm", ".reports", "-reports"] {
            let mut name = register.clone().into_os_string();
            name.push(tail);
            let _ = std::fs::remove_file(name);
        }
        std::fs::write(&register, &before).unwrap();
        let _ = std::fs::remove_dir_all(dir.path().join("out"));
        for file in ["unit.csv", "b.polecard"] {
            let _ = std::fs::remove_file(dir.path().join(file));
        }
    }
}

/// A draft that could not be kept says so, and the one before stays whole.
/// A folder in the place of the file that is written aside refuses the write.
#[test]
fn a_draft_that_cannot_be_kept_says_so_and_the_one_before_stays() {
    let dir = copy_of_demo();
    let path = register(&dir);
    let folder = dir.path().join("drafts");
    let store = Store::open(&path, Access::Read).unwrap();
    let hit = store.named("40-118").unwrap().remove(0);
    let record = store.by_row(hit.rec).unwrap().unwrap().record;
    let about = (record.id(), record.kind(), record.name());
    let id = fresh_id(now());
    let draft = Draft::new(FormKind::Correction, &path, about, ("lw", now()));
    let mut kept = Kept::fresh(draft, Some(&folder), id);
    kept.draft.answers.insert("note".into(), "first".into());
    kept.save().unwrap();
    let aside = std::fs::read_dir(&folder)
        .unwrap()
        .map(|e| e.unwrap().path())
        .find(|p| p.extension().is_some_and(|e| e == "draft"))
        .unwrap()
        .with_extension("new");
    std::fs::create_dir(&aside).unwrap();
    kept.draft.answers.insert("note".into(), "second".into());
    assert!(kept.save().is_err());
    assert!(!kept.saved() && !kept.holds("note", "second"));
    drop(kept);
    let found = waiting(Some(&folder), &path);
    assert_eq!(found.forms.len(), 1);
    assert_eq!(found.forms[0].draft.answers["note"], "first");
}
