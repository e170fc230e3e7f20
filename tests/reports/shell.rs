//! Reports from outside: many processes at once, and accounts that may read
//! the register and not write it.

use std::os::unix::fs::PermissionsExt;
use std::os::unix::process::CommandExt;
use std::path::{Path, PathBuf};
use std::process::{Command, Output, Stdio};

/// An account without rights, as most systems have it.
const NOBODY: u32 = 65534;

fn polecard(program: &Path, register: &Path) -> Command {
    let mut c = Command::new(program);
    c.env_clear()
        .env("HOME", "/nonexistent")
        .env("POLECARD_REGISTER", register)
        .current_dir("/")
        .stdout(Stdio::piped())
        .stderr(Stdio::piped());
    c
}

fn ours() -> PathBuf {
    PathBuf::from(env!("CARGO_BIN_EXE_polecard"))
}

fn split(out: &Output) -> (i32, String, String) {
    (
        out.status.code().unwrap_or(-1),
        String::from_utf8(out.stdout.clone()).unwrap(),
        String::from_utf8(out.stderr.clone()).unwrap(),
    )
}

fn run(program: &Path, register: &Path, args: &[&str]) -> (i32, String, String) {
    split(&polecard(program, register).args(args).output().unwrap())
}

fn json(register: &Path, args: &[&str]) -> serde_json::Value {
    let (code, out, said) = run(&ours(), register, &[args, &["--json"]].concat());
    assert_eq!(code, 0, "{args:?}: {said}");
    serde_json::from_str(&out).unwrap()
}

#[test]
fn two_and_eight_that_file_at_once_lose_none() {
    for writers in [2, 8] {
        const EACH: usize = 6;
        let dir = tempfile::tempdir().unwrap();
        drop(super::register(dir.path(), writers));
        let register = dir.path().join("r.polecard");
        // Nobody has made the reports file yet: the making is shared as well.
        let threads: Vec<_> = (0..writers)
            .map(|w| {
                let register = register.clone();
                std::thread::spawn(move || {
                    for n in 0..EACH {
                        let near = format!("place.near=w{w} n{n}");
                        let pole = format!("40-{}", 1000 + w);
                        let args = ["report", &pole, &near, "--why", "seen"];
                        let (code, _, said) = run(&ours(), &register, &args);
                        assert_eq!(code, 0, "{said}");
                    }
                })
            })
            .collect();
        for t in threads {
            t.join().unwrap();
        }
        let listed = json(&register, &["reports"]);
        assert_eq!(listed["polecard"], 1);
        let reports = listed["reports"].as_array().unwrap();
        let mut seen: Vec<&str> = reports
            .iter()
            .map(|r| r["fields"][0]["typed"].as_str().unwrap())
            .collect();
        seen.sort_unstable();
        seen.dedup();
        assert_eq!(seen.len(), writers * EACH, "each is there once");
        let numbers: Vec<i64> = reports.iter().map(|r| r["no"].as_i64().unwrap()).collect();
        let many = i64::try_from(writers * EACH).unwrap();
        assert_eq!(numbers, (1..=many).collect::<Vec<_>>());
    }
}

/// Two clerks at once: every report is decided once, whoever was first.
#[test]
fn two_that_decide_at_once_decide_once() {
    let dir = tempfile::tempdir().unwrap();
    drop(super::register(dir.path(), 1));
    let register = dir.path().join("r.polecard");
    let why = ["--why", "seen"];
    let args = [&["report", "40-1000", "place.near=the mill"][..], &why].concat();
    assert_eq!(run(&ours(), &register, &args).0, 0);
    let accept = polecard(&ours(), &register)
        .args(["reports", "accept", "1"])
        .spawn()
        .unwrap();
    let refuse = polecard(&ours(), &register)
        .args(["reports", "refuse", "1", "--why", "no"])
        .spawn()
        .unwrap();
    let accepted = accept.wait_with_output().unwrap().status.success();
    let refused = refuse.wait_with_output().unwrap().status.success();
    assert!(
        accepted != refused,
        "accepted {accepted}, refused {refused}"
    );
    let shown = json(&register, &["reports", "show", "1"]);
    assert_eq!(shown["decisions"].as_array().unwrap().len(), 1);
    assert_eq!(
        shown["state"],
        if accepted { "accepted" } else { "refused" }
    );
    let near = shown["fields"][0]["now"].as_str().unwrap();
    assert_eq!(near, if accepted { "the mill" } else { "the weir" });
}

#[test]
fn the_command_line_tells_and_decides() {
    let dir = tempfile::tempdir().unwrap();
    drop(super::register(dir.path(), 3));
    let register = dir.path().join("r.polecard");
    assert_eq!(run(&ours(), &register, &["reports"]).0, 0, "empty or not");
    for pole in ["40-1000", "40-1001", "40-1002"] {
        let near = "place.near=the mill";
        let (code, out, said) = run(&ours(), &register, &["report", pole, near, "--why", "seen"]);
        assert_eq!(code, 0, "{said}");
        assert!(out.contains("the weir -> the mill"), "{out}");
    }
    let (_, out, _) = run(&ours(), &register, &["reports", "--alike"]);
    assert!(out.contains("3 alike"), "{out}");
    assert!(out.contains("reports 1 to 3"), "{out}");
    let args = ["reports", "accept", "1", "--alike", "--except", "3"];
    let (code, out, said) = run(&ours(), &register, &args);
    assert_eq!(code, 0, "{said}");
    assert!(out.contains("2 reports accepted: 1, 2"), "{out}");
    for (args, code, says) in [
        (&["reports", "accept", "1"][..], 2, "accepted already"),
        (&["reports", "accept", "9"], 3, "no report 9"),
        (&["reports", "refuse", "3"], 2, "--why"),
        (&["reports", "amend", "3"], 2, "FIELD=VALUE"),
        (&["reports", "--state", "lost"], 2, "waiting"),
        (
            &["report", "40-9999", "note=x", "--why", "y"],
            3,
            "nothing in the register",
        ),
        (&["report", "40-1000", "note=x"], 2, "--why"),
        (
            &["reports", "prepare", "--group", "no such group"],
            2,
            "no group",
        ),
    ] {
        let (found, _, said) = run(&ours(), &register, args);
        assert_eq!(found, code, "{args:?}: {said}");
        assert!(said.contains(says), "{args:?}: {said}");
    }
}

#[test]
fn a_declared_name_stands_beside_the_account_as_declared() {
    let dir = tempfile::tempdir().unwrap();
    drop(super::register(dir.path(), 2));
    let register = dir.path().join("r.polecard");
    let note = ["edit", "40-1000", "note=x", "--why", "seen"];
    let (code, _, said) = run(
        &ours(),
        &register,
        &[&note[..], &["--as", "Mia K."]].concat(),
    );
    assert_eq!(code, 0, "{said}");
    let told = json(&register, &["history", "40-1000"]);
    let who = told["operations"][0]["who"].as_str().unwrap();
    assert!(who.ends_with(" (declared: Mia K.)"), "{who}");
    let out = polecard(&ours(), &register)
        .env("POLECARD_NAME", "Jon")
        .args(["report", "40-1001", "note=x", "--why", "seen"])
        .output()
        .unwrap();
    assert_eq!(split(&out).0, 0);
    let listed = json(&register, &["reports"]);
    assert_eq!(listed["reports"][0]["declared"], "Jon");
    assert!(
        !listed["reports"][0]["account"]
            .as_str()
            .unwrap()
            .contains("Jon")
    );
    for bad in ["a\u{1b}[2J", "x (declared: hb)", "a\u{202e}b"] {
        let (code, _, said) = run(&ours(), &register, &[&note[..], &["--as", bad]].concat());
        assert_eq!(code, 2, "{bad:?}: {said}");
    }
    let (code, _, said) = run(&ours(), &register, &[&note[..], &["--as", ""]].concat());
    assert_eq!(code, 0, "no name is none: {said}");
}

fn set_mode(path: &Path, mode: u32) {
    std::fs::set_permissions(path, std::fs::Permissions::from_mode(mode)).unwrap();
}

/// A register in a folder that only its keeper may write, and an account that
/// may read it. As root the account is really another one; without root the
/// files are this account's own and their permissions bind it.
struct Guarded {
    dir: tempfile::TempDir,
    root: bool,
}

impl Guarded {
    fn new(poles: usize) -> Self {
        let dir = tempfile::tempdir().unwrap();
        drop(super::register(dir.path(), poles));
        // Not by this process: a child of another test would inherit the open
        // file for a moment, and a program that is being written cannot start.
        let mut copy = Command::new("cp");
        copy.arg(ours()).arg(dir.path().join("polecard"));
        assert!(copy.status().unwrap().success());
        set_mode(dir.path(), 0o755);
        let root = rustix::process::getuid().is_root();
        Guarded { dir, root }
    }

    fn path(&self, tail: &str) -> PathBuf {
        self.dir.path().join(format!("r.polecard{tail}"))
    }

    /// Opens the reports to the reader; the register and the folder stay shut.
    fn prepare(&self) {
        let program = self.dir.path().join("polecard");
        let (code, _, said) = run(&program, &self.path(""), &["reports", "prepare"]);
        assert_eq!(code, 0, "{said}");
        for part in ["", "-wal", "-shm"] {
            let file = self.path(&format!(".reports{part}"));
            if self.root && file.exists() {
                std::os::unix::fs::chown(&file, None, Some(NOBODY)).unwrap();
            }
        }
    }

    fn shut(&self) {
        for part in ["", "-wal", "-shm"] {
            set_mode(&self.path(part), 0o444);
        }
        set_mode(self.dir.path(), 0o555);
    }

    /// Whether permissions bind the reader; where they do not, the test cannot
    /// judge, and says so.
    fn judges(&self) -> bool {
        let bound = self.root
            || std::fs::OpenOptions::new()
                .append(true)
                .open(self.path(""))
                .is_err();
        if !bound {
            eprintln!("permissions do not bind this account; nothing was judged");
        }
        bound
    }

    fn reader(&self, args: &[&str]) -> (i32, String, String) {
        let mut c = polecard(&self.dir.path().join("polecard"), &self.path(""));
        if self.root {
            c.uid(NOBODY).gid(NOBODY);
        }
        split(&c.args(args).output().unwrap())
    }
}

impl Drop for Guarded {
    fn drop(&mut self) {
        set_mode(self.dir.path(), 0o755);
    }
}

#[test]
fn who_may_only_read_files_reports_and_corrects_nothing() {
    let guarded = Guarded::new(2);
    guarded.prepare();
    guarded.shut();
    if !guarded.judges() {
        return;
    }
    let words = ["40-1000", "place.near=x", "--why", "seen"];
    let (code, out, said) = guarded.reader(&[&["edit"][..], &words].concat());
    assert_eq!(code, 4, "{out}");
    assert!(said.contains("can be read but not written"), "{said}");
    let instead = "polecard report \"40-1000\" \"place.near=x\"";
    assert!(said.contains(instead), "{said}");
    for _ in 0..2 {
        let (code, _, said) = guarded.reader(&[&["report"][..], &words].concat());
        assert_eq!(code, 0, "{said}");
    }
    let (code, out, said) = guarded.reader(&["reports"]);
    assert_eq!(code, 0, "{said}");
    assert!(out.contains("the weir -> x"), "{out}");
    for verb in [
        &["accept", "1"][..],
        &["refuse", "1", "--why", "no"],
        &["prepare"],
    ] {
        let (code, _, said) = guarded.reader(&[&["reports"], verb].concat());
        assert_eq!(code, 4, "{verb:?}: {said}");
    }
    let (code, _, said) = guarded.reader(&["reports", "withdraw", "2"]);
    assert_eq!(code, 0, "{said}");
}

#[test]
fn who_may_not_write_the_reports_files_nothing_and_is_told_whom_to_ask() {
    let guarded = Guarded::new(2);
    let words = ["report", "40-1000", "place.near=x", "--why", "seen"];
    guarded.prepare();
    guarded.shut();
    if !guarded.judges() {
        return;
    }
    assert_eq!(guarded.reader(&words).0, 0);
    for part in ["", "-wal", "-shm"] {
        set_mode(&guarded.path(&format!(".reports{part}")), 0o444);
    }
    let (code, _, said) = guarded.reader(&words);
    assert_eq!(code, 4);
    assert!(said.contains("polecard reports prepare"), "{said}");
    let (code, out, said) = guarded.reader(&["reports", "--json"]);
    assert_eq!(code, 0, "{said}");
    let listed: serde_json::Value = serde_json::from_str(&out).unwrap();
    assert_eq!(listed["reports"].as_array().unwrap().len(), 1);
}

/// A copy put in place without its write-ahead files must be prepared again.
#[test]
fn without_the_files_beside_it_the_reports_file_takes_nothing_and_says_so() {
    let guarded = Guarded::new(1);
    guarded.prepare();
    for part in ["-wal", "-shm"] {
        std::fs::remove_file(guarded.path(&format!(".reports{part}"))).unwrap();
    }
    guarded.shut();
    if !guarded.judges() {
        return;
    }
    let words = ["report", "40-1000", "place.near=x", "--why", "seen"];
    let (code, _, said) = guarded.reader(&words);
    assert_eq!(code, 4, "{said}");
    assert!(said.contains("polecard reports prepare"), "{said}");
    assert_eq!(guarded.reader(&["reports"]).0, 0);
}

/// A group that may write the register, or replace it, needs no reports.
#[test]
fn preparing_tells_of_a_group_that_may_do_more() {
    let guarded = Guarded::new(1);
    let program = guarded.dir.path().join("polecard");
    let told = || run(&program, &guarded.path(""), &["reports", "prepare"]).1;
    set_mode(&guarded.path(""), 0o644);
    assert!(!told().contains("LOOK"), "{}", told());
    set_mode(&guarded.path(""), 0o664);
    assert!(
        told().contains("may write the register itself"),
        "{}",
        told()
    );
    set_mode(&guarded.path(""), 0o644);
    set_mode(guarded.dir.path(), 0o775);
    assert!(told().contains("can replace the register"), "{}", told());
    let mode = std::fs::metadata(guarded.path(".reports")).unwrap();
    assert_eq!(mode.permissions().mode() & 0o777, 0o664);
}

#[test]
fn without_a_reports_file_and_a_folder_to_write_it_says_whom_to_ask() {
    let guarded = Guarded::new(1);
    guarded.shut();
    if !guarded.judges() {
        return;
    }
    let words = ["report", "40-1000", "place.near=x", "--why", "seen"];
    let (code, _, said) = guarded.reader(&words);
    assert_eq!(code, 4, "{said}");
    assert!(said.contains("prepare --group"), "{said}");
    assert!(!guarded.path(".reports").exists());
}
