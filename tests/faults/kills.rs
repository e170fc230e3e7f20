//! The program itself is killed at any moment of an edit, an import or a
//! merge. What it had acknowledged stands; what it had not is there whole or
//! not at all; the file and its chain are sound.

use std::path::{Path, PathBuf};
use std::process::{Child, Stdio};
use std::time::{Duration, Instant};

use polecard::domain::asset::Record;
use polecard::store::{Access, Store};
use polecard::work::backup::check;
use tempfile::TempDir;

use super::{Dice, program, said, shipped};
use crate::screens::rig::copy_of_demo;

/// Fifteen kills a command are enough for every run of the tests; a long run
/// takes its number from the environment, the same name as for forms.
fn kills() -> usize {
    let given = std::env::var("KILLS");
    given.ok().and_then(|n| n.parse().ok()).unwrap_or(15)
}

fn register(dir: &TempDir) -> PathBuf {
    dir.path().join("register.polecard")
}

/// Waits for a process until a moment, then kills it; whether it ended well
/// by itself.
fn acknowledged(mut child: Child, until: Instant) -> Option<bool> {
    while Instant::now() < until {
        if let Some(status) = child.try_wait().unwrap() {
            return Some(status.success());
        }
        std::thread::sleep(Duration::from_micros(200));
    }
    child.kill().unwrap();
    // It may have ended between the last look and the kill.
    let status = child.wait().unwrap();
    status.code().map(|code| code == 0)
}

/// Runs commands one after another and kills at a moment; how many were
/// acknowledged, and whether one was killed under way.
fn killed(register: &Path, after: Duration, commands: &[Vec<String>]) -> (usize, bool) {
    let until = Instant::now() + after;
    for (n, args) in commands.iter().enumerate() {
        let args: Vec<&str> = args.iter().map(String::as_str).collect();
        let child = program(register, &args)
            .stdout(Stdio::null())
            .stderr(Stdio::null())
            .spawn()
            .unwrap();
        match acknowledged(child, until) {
            Some(true) => {}
            Some(false) => panic!("{args:?} failed by itself"),
            None => return (n, true),
        }
    }
    (commands.len(), false)
}

fn whys(register: &Path) -> Vec<String> {
    let store = Store::open(register, Access::Read).unwrap();
    let all = store.operations(0, usize::MAX).unwrap();
    all.into_iter().map(|w| w.operation.why).collect()
}

fn records(register: &Path, name: &str) -> Vec<Record> {
    let store = Store::open(register, Access::Read).unwrap();
    let hits = store.named(name).unwrap();
    hits.iter()
        .filter_map(|hit| store.by_row(hit.rec).unwrap())
        .map(|stored| stored.record)
        .filter(|r| r.name() == name)
        .collect()
}

/// The chain after every kill; file, records and index now and then, since
/// they take long.
#[track_caller]
fn sound(register: &Path, round: usize) {
    let store = Store::open(register, Access::Read).unwrap();
    assert_eq!(store.broken_link().unwrap(), None);
    if round.is_multiple_of(5) {
        let found = check(register, &[]).unwrap();
        assert!(found.sound, "{:?}", found.faults);
    }
}

/// How long the commands take when nobody kills them, and a tenth more.
fn usual(register: &Path, commands: &[Vec<String>]) -> Duration {
    let began = Instant::now();
    let (done, killed) = killed(register, Duration::from_secs(60), commands);
    assert!(done == commands.len() && !killed);
    began.elapsed() * 11 / 10
}

fn moment(dice: &mut Dice, within: Duration) -> Duration {
    let nanos = usize::try_from(within.as_nanos()).unwrap();
    Duration::from_nanos(u64::try_from(dice.under(nanos)).unwrap())
}

fn words(args: &[&str]) -> Vec<String> {
    args.iter().map(ToString::to_string).collect()
}

fn edits(round: usize) -> Vec<Vec<String>> {
    (1..=3)
        .map(|n| {
            let mark = format!("K{round}-{n}");
            let (name, note) = (format!("40-11{n}"), format!("note={mark}"));
            words(&["edit", &name, &note, "--why", &mark])
        })
        .collect()
}

#[test]
fn an_edit_that_was_acknowledged_outlives_any_kill() {
    let dir = copy_of_demo();
    let register = register(&dir);
    let within = usual(&register, &edits(0));
    let mut dice = Dice(11);
    let mut under_way = 0;
    for round in 1..=kills() {
        let (done, killed) = killed(&register, moment(&mut dice, within), &edits(round));
        under_way += usize::from(killed);
        let logged: Vec<String> = whys(&register)
            .into_iter()
            .filter(|w| w.starts_with(&format!("K{round}-")))
            .collect();
        let marks: Vec<String> = (1..=3).map(|n| format!("K{round}-{n}")).collect();
        assert!(marks.starts_with(&logged), "{logged:?}");
        let may = done..=done + usize::from(killed);
        assert!(
            may.contains(&logged.len()),
            "{logged:?}, {done} acknowledged"
        );
        for (n, mark) in (1..).zip(&logged) {
            let record = records(&register, &format!("40-11{n}")).remove(0);
            assert_eq!(record.to_value()["note"], **mark);
        }
        sound(&register, round);
    }
    assert!(under_way * 3 > kills(), "{under_way} kills hit an edit");
}

/// Rows of thirty poles whose place carries the mark of a round.
fn write_yaml(to: &Path, round: usize) {
    let text: String = (0..30)
        .map(|n| {
            format!(
                "---\nstructure: 98-{}\nkind: pole\nfeeder: HB2\nplace: {{road: Mill St, near: gate R{round}}}\n",
                100 + n
            )
        })
        .collect();
    std::fs::write(to, text).unwrap();
}

fn write_csv(to: &Path, round: usize) {
    let mut text = "number,kind,road,near,lat,lon,material,length_ft,class,set_year\n".to_string();
    for n in 0..30 {
        text.push_str(&format!(
            "98-{},pole,Mill St,gate R{round},12.54{n:02},-101.43{n:02},southern pine,45,3,2026\n",
            100 + n
        ));
    }
    std::fs::write(to, text).unwrap();
}

/// Takes a file in again and again, each time with other values.
fn imports_whole_or_not(file: &str, write: fn(&Path, usize), args: &[&str], seed: u64) {
    let dir = copy_of_demo();
    let register = register(&dir);
    let file = dir.path().join(file);
    let command = [words(args)
        .into_iter()
        .map(|a| a.replace("FILE", &file.display().to_string()))
        .collect::<Vec<String>>()];
    write(&file, 0);
    let within = usual(&register, &command);
    let mut before = 0;
    let mut dice = Dice(seed);
    let mut under_way = 0;
    for round in 1..=kills() {
        write(&file, round);
        let (done, killed) = killed(&register, moment(&mut dice, within), &command);
        under_way += usize::from(killed);
        let mut near: Vec<String> = (0..30)
            .flat_map(|n| records(&register, &format!("98-{}", 100 + n)))
            .map(|r| r.to_value()["place"]["near"].to_string())
            .collect();
        assert_eq!(near.len(), 30);
        near.dedup();
        let is = |round: usize| near == [format!("\"gate R{round}\"")];
        assert!(
            is(round) || done == 0 && is(before),
            "{done} acknowledged: {near:?}"
        );
        if is(round) {
            before = round;
        }
        sound(&register, round);
    }
    // On a busy machine most programs are done or not begun when they are hit.
    assert!(under_way > 0, "no kill hit an import");
}

#[test]
fn an_import_is_whole_or_not_there_after_any_kill() {
    let args = ["import", "FILE", "--apply"];
    imports_whole_or_not("r.yaml", write_yaml, &args, 12);
}

#[test]
fn a_csv_is_whole_or_not_there_after_any_kill() {
    let map = shipped("data/maps/new-poles.yaml").display().to_string();
    let args = [
        "import", "--csv", "FILE", "--map", &map, "--take", "file", "--apply",
    ];
    imports_whole_or_not("r.csv", write_csv, &args, 13);
}

/// What stands in a folder that begins with the register's name or hides one
/// being made.
fn left(dir: &TempDir) -> Vec<String> {
    let entries = std::fs::read_dir(dir.path()).unwrap();
    let names = entries.map(|e| e.unwrap().file_name().into_string().unwrap());
    names.filter(|n| n.contains("polecard")).collect()
}

/// Fills a register that is not there yet, and kills while it is being made.
fn makes_whole_or_nothing(file: &str, write: fn(&Path, usize), args: &[&str], seed: u64) {
    let folder = || {
        let dir = tempfile::tempdir().unwrap();
        let file = dir.path().join(file);
        write(&file, 7);
        let args = args.iter().map(|a| match *a {
            "FILE" => file.display().to_string(),
            other => other.to_string(),
        });
        let command = vec![args.collect::<Vec<String>>()];
        (dir, command)
    };
    let (dir, command) = folder();
    let within = usual(&register(&dir), &command);
    let mut dice = Dice(seed);
    let (mut under_way, mut bare) = (0, 0);
    for round in 1..=kills() {
        let (dir, command) = folder();
        let register = register(&dir);
        let (done, hit) = killed(&register, moment(&mut dice, within), &command);
        under_way += usize::from(hit);
        if !register.exists() {
            assert_eq!(done, 0, "acknowledged and not there");
            bare += 1;
            // Another try finds nothing in its way and clears up.
            let (done, _) = killed(&register, Duration::from_secs(60), &command);
            assert_eq!(done, 1);
        }
        let parts: Vec<String> = left(&dir)
            .into_iter()
            .filter(|n| n.contains(".part-"))
            .collect();
        assert!(done == 0 || parts.is_empty(), "{parts:?}");
        for n in 0..30 {
            let found = records(&register, &format!("98-{}", 100 + n));
            assert_eq!(found.len(), 1, "98-{}", 100 + n);
        }
        sound(&register, round);
    }
    assert!(under_way > 0 && bare > 0, "no kill hit the making");
}

#[test]
fn a_new_register_is_whole_or_not_there_after_any_kill() {
    makes_whole_or_nothing("r.yaml", write_yaml, &["import", "FILE"], 15);
    let map = shipped("data/maps/new-poles.yaml").display().to_string();
    let args = ["import", "--csv", "FILE", "--map", &map, "--apply"];
    makes_whole_or_nothing("r.csv", write_csv, &args, 16);
}

#[test]
fn a_new_register_that_could_not_be_filled_leaves_nothing() {
    let dir = tempfile::tempdir().unwrap();
    let file = dir.path().join("r.yaml");
    std::fs::write(&file, "---\nstructure: 98-100\nkind: nothing known\n").unwrap();
    let out = program(&register(&dir), &["import", &file.display().to_string()])
        .output()
        .unwrap();
    assert_eq!(out.status.code(), Some(4), "{}", said(&out));
    assert!(!said(&out).contains(".part-"), "{}", said(&out));
    assert_eq!(left(&dir), Vec::<String>::new());
}

/// Ctrl-C during an import: what is said, and the register as it was.
#[test]
fn an_import_that_is_asked_to_stop_leaves_the_register_as_it_was() {
    let dir = copy_of_demo();
    let register = register(&dir);
    let file = dir.path().join("many.yaml");
    let text: String = (0..6_000)
        .map(|n| {
            format!(
                "---\nstructure: 97-{}\nkind: pole\nfeeder: HB2\n",
                1_000 + n
            )
        })
        .collect();
    std::fs::write(&file, text).unwrap();
    let file = file.display().to_string();
    let args = ["import", &file, "--apply"];
    let scratch = copy_of_demo();
    let within = usual(&scratch.path().join("register.polecard"), &[words(&args)]);
    let before = whys(&register);
    let mut stopped = 0;
    for part in 2..8 {
        let child = program(&register, &args)
            .stdout(Stdio::null())
            .stderr(Stdio::piped())
            .spawn()
            .unwrap();
        std::thread::sleep(within * part / 10);
        let pid = rustix::process::Pid::from_child(&child);
        // It may have ended by itself.
        let _ = rustix::process::kill_process(pid, rustix::process::Signal::INT);
        let out = child.wait_with_output().unwrap();
        if out.status.success() {
            break;
        }
        assert_eq!(out.status.code(), Some(4), "{}", said(&out));
        assert!(said(&out).contains("nothing was changed"), "{}", said(&out));
        stopped += 1;
        assert_eq!(whys(&register), before);
        sound(&register, 5);
    }
    assert!(stopped > 0, "no import was stopped under way");
}

fn merges() -> Vec<Vec<String>> {
    (1..=3)
        .map(|n| {
            let (keep, drop) = (format!("96-10{n}"), format!("95-10{n}"));
            words(&["merge", &keep, &drop, "--why", "one pole", "--second", "mk"])
        })
        .collect()
}

/// A demo register with three pairs of poles to make one of.
fn pairs() -> TempDir {
    let dir = copy_of_demo();
    let file = dir.path().join("pairs.yaml");
    let text: String = (1..=3)
        .flat_map(|n| ["96", "95"].map(|series| (series, n)))
        .map(|(series, n)| {
            format!(
                "---\nstructure: {series}-10{n}\nkind: pole\nfeeder: HB2\nplace: {{road: Weir Ln, near: gate {n}}}\n"
            )
        })
        .collect();
    std::fs::write(&file, text).unwrap();
    let file = file.display().to_string();
    let out = program(&register(&dir), &["import", &file, "--apply"])
        .output()
        .unwrap();
    assert!(out.status.success(), "{}", said(&out));
    dir
}

#[test]
fn a_merge_is_whole_or_not_there_after_any_kill() {
    let origin = pairs();
    let before = whys(&register(&origin)).len();
    let fresh = || {
        let dir = tempfile::tempdir().unwrap();
        std::fs::copy(register(&origin), register(&dir)).unwrap();
        dir
    };
    let within = usual(&register(&fresh()), &merges());
    let mut dice = Dice(14);
    let mut under_way = 0;
    for round in 1..=kills() {
        let dir = fresh();
        let register = register(&dir);
        let (done, killed) = killed(&register, moment(&mut dice, within), &merges());
        under_way += usize::from(killed);
        let logged = whys(&register).len() - before;
        assert!((done..=done + usize::from(killed)).contains(&logged));
        for n in 1..=3 {
            let keep = records(&register, &format!("96-10{n}")).remove(0);
            let drop = records(&register, &format!("95-10{n}"));
            let took = keep.to_json().contains(&format!("95-10{n}"));
            assert_eq!((took, drop.is_empty()), (n <= logged, n <= logged), "{n}");
        }
        sound(&register, round);
    }
    assert!(under_way * 3 > kills(), "{under_way} kills hit a merge");
}
