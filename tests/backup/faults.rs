//! What goes wrong around a register: a disk that is full, a folder that may
//! not be written, a process that is killed, many who write at once.

use std::io::{BufRead, BufReader};
use std::path::Path;
use std::process::{Child, Command, Output, Stdio};
use std::time::Duration;

use polecard::store::{Access, Store};

use super::{Desk, check, edit_note, note_of};

const PROGRAM: &str = env!("CARGO_BIN_EXE_polecard");

fn program(register: &Path, args: &[&str]) -> Command {
    let mut command = Command::new(PROGRAM);
    command
        .arg("--register")
        .arg(register)
        .args(args)
        .stdin(Stdio::null());
    command
}

/// Runs the program where no file may grow beyond some KiB.
fn limited(kib: u32, register: &Path, args: &[&str]) -> Output {
    Command::new("sh")
        .arg("-c")
        .arg(format!("ulimit -f {} && exec \"$0\" \"$@\"", kib * 2))
        .arg(PROGRAM)
        .arg("--register")
        .arg(register)
        .args(args)
        .output()
        .unwrap()
}

fn said(out: &Output) -> String {
    String::from_utf8_lossy(&out.stderr).into_owned()
}

#[test]
fn a_full_disk_costs_no_register_and_no_backup() {
    let desk = Desk::new();
    desk.note("40-118", "painted");
    desk.backup("b.polecard").unwrap();
    let old = std::fs::read(desk.path("b.polecard")).unwrap();
    let register = desk.register();
    let b = desk.path("b.polecard").display().to_string();
    // The size limit of a process stands for a full disk: a write is refused.
    for kib in [4, 32, 64] {
        let out = limited(kib, &register, &["backup", &b]);
        assert_eq!(out.status.code(), Some(4), "{kib}: {}", said(&out));
        assert!(said(&out).contains("full"), "{}", said(&out));
        let why = ["edit", "40-119", "note=x", "--why", "painted"];
        let why = if kib == 4 {
            Some(limited(kib, &register, &why))
        } else {
            None
        };
        if let Some(out) = why {
            assert_eq!(out.status.code(), Some(4), "{}", said(&out));
        }
        let to = desk.path("new.polecard").display().to_string();
        let out = limited(kib, &register, &["restore", &b, "--to", &to]);
        assert_eq!(out.status.code(), Some(4), "{kib}: {}", said(&out));
        assert!(!desk.path("new.polecard").exists());
        let out = limited(kib, &register, &["restore", &b]);
        assert_eq!(out.status.code(), Some(4), "{kib}: {}", said(&out));
    }
    assert_eq!(std::fs::read(&b).unwrap(), old);
    assert_eq!(desk.left_over(), Vec::<String>::new());
    assert!(check(&register, &[]).unwrap().sound);
    assert_eq!(note_of(&register, "40-118"), "painted");
    edit_note(&register, "40-119", "one can write again").unwrap();
}

#[test]
fn a_folder_that_may_not_be_written_is_said() {
    use std::os::unix::fs::PermissionsExt;
    let desk = Desk::new();
    let folder = desk.path("locked");
    std::fs::create_dir(&folder).unwrap();
    std::fs::set_permissions(&folder, std::fs::Permissions::from_mode(0o555)).unwrap();
    let root = std::fs::write(folder.join("probe"), "").is_ok();
    if !root {
        let failed = desk.backup("locked/b.polecard").unwrap_err();
        assert!(
            failed.to_string().to_lowercase().contains("permission"),
            "{failed}"
        );
    }
    // A folder that is no folder stops everybody.
    std::fs::write(desk.path("file"), "").unwrap();
    let failed = desk.backup("file/b.polecard").unwrap_err();
    assert!(failed.to_string().contains("file"), "{failed}");
    std::fs::set_permissions(&folder, std::fs::Permissions::from_mode(0o755)).unwrap();
}

fn kill_after(command: &mut Command, wait: Duration) {
    let mut child = command.stdout(Stdio::null()).spawn().unwrap();
    std::thread::sleep(wait);
    let _ = child.kill();
    let _ = child.wait();
}

#[test]
fn a_process_killed_in_a_backup_or_a_restore_harms_nothing() {
    let desk = Desk::new();
    let register = desk.register();
    desk.note("40-118", "old");
    let old = desk.backup("old.polecard").unwrap();
    desk.backup("b.polecard").unwrap();
    let b = desk.path("b.polecard").display().to_string();
    let from = desk.path("old.polecard").display().to_string();
    for step in 0..14 {
        // A restore that was killed keeps nobody from writing.
        desk.note("40-118", &format!("new {step}"));
        let before = check(&register, &[]).unwrap().chain_head;
        let wait = Duration::from_millis(2 + 5 * step);
        kill_after(&mut program(&register, &["backup", &b]), wait);
        let found = check(&desk.path("b.polecard"), &[]).unwrap();
        assert!(found.sound && found.made.is_some(), "{:?}", found.faults);
        let args = ["restore", &from, "--lose-newer"];
        kill_after(&mut program(&register, &args), wait);
        let found = check(&register, &[]).unwrap();
        assert!(found.sound, "{:?}", found.faults);
        assert!([&old.chain_head, &before].contains(&&found.chain_head));
    }
    // What was left aside goes with the next run to its end.
    for args in [&["backup", &b][..], &["restore", &from, "--lose-newer"]] {
        let out = program(&register, args).output().unwrap();
        assert!(out.status.success(), "{}", said(&out));
    }
    assert_eq!(desk.left_over(), Vec::<String>::new());
}

/// Edits one record after another, and says each edit once it is made; a
/// process of its own when told a register.
#[test]
#[ignore = "run by many_who_write_at_once as a process of its own"]
fn a_writer() {
    let Ok(register) = std::env::var("WRITER_REGISTER") else {
        return;
    };
    let me = std::env::var("WRITER_NAME").unwrap();
    let edits: u32 = std::env::var("WRITER_EDITS").unwrap().parse().unwrap();
    for n in 0..edits {
        let name = format!("40-{}", 100 + n % 7);
        match edit_note(Path::new(&register), &name, &format!("{me} {n}")) {
            Ok(()) => println!("did {me} {n}"),
            Err(e) => println!("not {me} {n}: {}", e.to_string().replace('\n', " ")),
        }
    }
}

fn writer(register: &Path, name: &str, edits: u32) -> Child {
    Command::new(std::env::current_exe().unwrap())
        .args([
            "backup::faults::a_writer",
            "--exact",
            "--ignored",
            "--nocapture",
        ])
        .env("WRITER_REGISTER", register)
        .env("WRITER_NAME", name)
        .env("WRITER_EDITS", edits.to_string())
        .stdout(Stdio::piped())
        .stderr(Stdio::null())
        .spawn()
        .unwrap()
}

/// `POLECARD_TEST_EDITS=1000` makes the long run.
fn edits_each() -> u32 {
    let given = std::env::var("POLECARD_TEST_EDITS");
    given.ok().and_then(|n| n.parse().ok()).unwrap_or(25)
}

#[test]
fn many_who_write_at_once_lose_no_edit_that_was_acknowledged() {
    for writers in [2, 8] {
        let desk = Desk::new();
        let register = desk.register();
        let before = Store::open(&register, Access::Read)
            .unwrap()
            .head()
            .unwrap()
            .seq;
        let children: Vec<Child> = (0..writers)
            .map(|w| writer(&register, &format!("w{w}"), edits_each()))
            .collect();
        // Backups are taken all the while.
        let during: Vec<i64> = (0..4)
            .map(|n| desk.backup(&format!("{n}.polecard")).unwrap().operations)
            .collect();
        let (mut did, mut not) = (Vec::new(), Vec::new());
        for mut child in children {
            for line in BufReader::new(child.stdout.take().unwrap()).lines() {
                let line = line.unwrap();
                // The test harness puts its own words before the first.
                if let Some(at) = line.find("did w") {
                    did.push(format!("wrote {}", &line[at + 4..]));
                } else if let Some(at) = line.find("not w") {
                    not.push(line[at..].to_string());
                }
            }
            assert!(child.wait().unwrap().success());
        }
        let asked = usize::try_from(writers * edits_each()).unwrap();
        assert_eq!(did.len() + not.len(), asked);
        // Refused only because somebody else was first, and said so.
        assert!(
            not.iter().all(|n| n.contains("changed meanwhile")),
            "{not:?}"
        );
        assert!(did.len() > asked / 2, "{} of {asked}", did.len());
        let store = Store::open(&register, Access::Read).unwrap();
        let mut logged: Vec<String> = store
            .operations(before, usize::MAX)
            .unwrap()
            .into_iter()
            .map(|w| w.operation.why)
            .collect();
        logged.sort();
        did.sort();
        assert_eq!(logged, did, "every acknowledged edit, and no other");
        assert!(check(&register, &[]).unwrap().sound);
        assert!(during.is_sorted(), "{during:?}");
        for n in 0..4 {
            assert!(
                check(&desk.path(&format!("{n}.polecard")), &[])
                    .unwrap()
                    .sound
            );
        }
    }
}
