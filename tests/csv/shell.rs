//! CSV on the command line.

use std::path::{Path, PathBuf};
use std::process::Command;

use super::shipped;

/// A home with nothing in it.
struct Home(tempfile::TempDir);

impl Home {
    fn new() -> Self {
        Home(tempfile::tempdir().unwrap())
    }

    fn path(&self, name: &str) -> PathBuf {
        self.0.path().join(name)
    }

    /// Exit code, output and messages of a command.
    fn run(&self, args: &[&str]) -> (i32, String, String) {
        let out = Command::new(env!("CARGO_BIN_EXE_polecard"))
            .env_clear()
            .env("HOME", self.0.path())
            .env("USER", "hb")
            .current_dir(self.0.path())
            .args(args)
            .output()
            .unwrap();
        let text = |b: Vec<u8>| String::from_utf8(b).unwrap();
        (
            out.status.code().unwrap(),
            text(out.stdout),
            text(out.stderr),
        )
    }
}

const REGISTER: [&str; 3] = ["import", "--register", "ours.polecard"];

/// The shipped poles, with the refused rows in the home.
fn poles() -> Vec<String> {
    let shown = |p: &Path| p.to_str().unwrap().to_string();
    vec![
        "--csv".into(),
        shown(&shipped("csv/new-poles.csv")),
        "--map".into(),
        shown(&shipped("maps/new-poles.yaml")),
        "--refused".into(),
        "mend.csv".into(),
    ]
}

#[test]
fn the_command_line_shows_first_and_says_what_was_refused() {
    let home = Home::new();
    let poles = poles();
    let poles: Vec<&str> = REGISTER
        .into_iter()
        .chain(poles.iter().map(String::as_str))
        .collect();
    let (code, out, err) = home.run(&poles);
    assert_eq!(code, 4, "some rows cannot be used: {err}");
    assert!(
        out.contains("nothing was written") && out.contains("line 6 "),
        "{out}"
    );
    assert!(err.contains("3 of 12 rows refused; mend mend.csv"), "{err}");
    assert!(
        !home.path("ours.polecard").exists(),
        "a look makes no register"
    );
    let (code, out, err) = home.run(&[&poles[..], &["--apply", "--json"]].concat());
    assert_eq!(code, 4, "the others are taken: {err}");
    let json: serde_json::Value = serde_json::from_str(&out).unwrap();
    assert_eq!(
        (&json["polecard"], &json["applied"]),
        (&1.into(), &true.into())
    );
    assert_eq!(json["records"]["structure"]["added"], 9);
    assert_eq!(json["refusals"][0]["line"], 6);
}

#[test]
fn what_cannot_be_read_is_exit_4_and_leaves_no_register() {
    let home = Home::new();
    let map = shipped("maps/new-poles.yaml");
    let map = map.to_str().unwrap();
    let missing = [&REGISTER[..], &["--csv", "nowhere.csv", "--map", map]].concat();
    for args in [missing.clone(), [&missing[..], &["--apply"]].concat()] {
        let (code, _, err) = home.run(&args);
        assert_eq!(code, 4, "{err}");
        assert!(err.contains("nowhere.csv"), "{err}");
        assert!(!home.path("ours.polecard").exists());
    }
    let (code, _, err) = home.run(
        &[
            &REGISTER[..],
            &poles()[..2].iter().map(String::as_str).collect::<Vec<_>>()[..],
        ]
        .concat(),
    );
    assert_eq!(code, 2, "a map is needed: {err}");
}

#[test]
fn an_import_does_not_write_into_the_demo_unasked() {
    let home = Home::new();
    let (code, _, err) = home.run(&["export", "out"]);
    assert_eq!(code, 0, "{err}");
    let poles = poles();
    let mut args: Vec<&str> = vec!["import"];
    args.extend(poles.iter().map(String::as_str));
    args.push("--apply");
    let (code, _, err) = home.run(&args);
    assert_eq!(code, 4, "{err}");
    assert!(err.contains("--register"), "{err}");
}
