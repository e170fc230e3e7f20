//! `times` from outside: the plot, the file, the kind of fault.

use std::path::Path;
use std::process::Command;

fn run(home: &Path, args: &[&str]) -> (i32, String, String) {
    let out = Command::new(env!("CARGO_BIN_EXE_polecard"))
        .env_clear()
        .env("HOME", home)
        .args(args)
        .output()
        .unwrap();
    (
        out.status.code().unwrap_or(-1),
        String::from_utf8(out.stdout).unwrap(),
        String::from_utf8(out.stderr).unwrap(),
    )
}

#[test]
fn the_plot_stands_after_the_table_with_the_questions_beside() {
    let dir = tempfile::tempdir().unwrap();
    let args = ["times", "HB2-RC-14", "--plot", "--ascii"];
    let (code, wide, said) = run(dir.path(), &args);
    assert_eq!(code, 1, "{said}");
    assert!(wide.is_ascii());
    let beside = |l: &str| l.contains("log-log") && l.contains("load side clear first");
    assert!(wide.lines().any(beside), "{wide}");
    let table = wide.find("trip 1 delayed").unwrap();
    assert!(table < wide.find("log-log").unwrap());
    assert!(wide.lines().all(|l| l.len() <= 100), "{wide}");
    let without = run(dir.path(), &["times", "HB2-RC-14"]).1;
    assert!(!without.contains("log-log"), "{without}");
}

#[test]
fn curves_go_into_a_file_that_is_not_there_yet() {
    let dir = tempfile::tempdir().unwrap();
    let file = dir.path().join("curves.svg");
    let path = file.display().to_string();
    let args = ["times", "HB2-RC-14", "--svg", path.as_str()];
    let (code, _, said) = run(dir.path(), &args);
    assert_eq!(code, 1, "{said}");
    assert!(said.contains("curves written to"), "{said}");
    let svg = std::fs::read_to_string(&file).unwrap();
    assert!(
        svg.starts_with("<svg") && svg.contains("HB2-BK-1 delayed"),
        "{svg}"
    );
    let (code, _, said) = run(dir.path(), &args);
    assert_eq!(code, 4, "{said}");
    assert!(said.contains("curves.svg"), "{said}");
    assert_eq!(std::fs::read_to_string(&file).unwrap(), svg, "not touched");
}

#[test]
fn a_fault_without_a_kind_is_judged_by_phase_and_says_so() {
    let dir = tempfile::tempdir().unwrap();
    let typed = ["times", "HB2-RC-14", "--fault", "1400"];
    let (_, shown, _) = run(dir.path(), &typed);
    assert!(
        shown.contains("the kind of the fault is not said"),
        "{shown}"
    );
    let mut to_ground = typed.to_vec();
    to_ground.extend(["--fault-kind", "line-ground"]);
    let (_, shown, _) = run(dir.path(), &to_ground);
    assert!(shown.contains("1,400 A line-ground"), "{shown}");
    assert!(shown.contains("1,400 A to ground"), "{shown}");
    assert!(
        !shown.contains("the kind of the fault is not said"),
        "{shown}"
    );
    to_ground.pop();
    to_ground.push("sideways");
    assert_eq!(run(dir.path(), &to_ground).0, 2);
}
