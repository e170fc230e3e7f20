//! The command line from outside: exit codes, messages, and what bad input
//! leaves behind.

use std::os::unix::fs::PermissionsExt;
use std::os::unix::process::CommandExt;
use std::path::{Path, PathBuf};
use std::process::{Command, Output};

use tempfile::TempDir;

/// A home of its own with nothing in it.
struct Home(TempDir);

impl Home {
    fn new() -> Self {
        Home(tempfile::tempdir().unwrap())
    }

    fn command(&self) -> Command {
        let mut c = Command::new(env!("CARGO_BIN_EXE_polecard"));
        c.env_clear()
            .env("HOME", self.0.path())
            .env("USER", "hb")
            .env("PATH", std::env::var_os("PATH").unwrap_or_default());
        c
    }

    fn run(&self, args: &[&str]) -> (i32, String, String) {
        split(&self.command().args(args).output().unwrap())
    }

    fn path(&self, name: &str) -> PathBuf {
        self.0.path().join(name)
    }
}

fn split(out: &Output) -> (i32, String, String) {
    (
        out.status.code().unwrap_or(-1),
        String::from_utf8(out.stdout.clone()).unwrap(),
        String::from_utf8(out.stderr.clone()).unwrap(),
    )
}

#[test]
fn a_first_start_installs_the_demo_and_says_so_once() {
    let home = Home::new();
    let (code, _, said) = home.run(&["find", "40-118"]);
    assert_eq!(code, 0, "{said}");
    assert!(
        said.contains("a copy of the demo utility was installed at"),
        "{said}"
    );
    let (code, _, said) = home.run(&["find", "40-118"]);
    assert_eq!((code, said.as_str()), (0, ""));
}

#[test]
fn two_first_starts_at_once_are_safe() {
    let home = Home::new();
    let children: Vec<_> = (0..4)
        .map(|_| home.command().args(["find", "40-118"]).output())
        .map(Result::unwrap)
        .collect();
    let mut spawned: Vec<_> = Vec::new();
    let other = Home::new();
    for _ in 0..4 {
        let child = other
            .command()
            .args(["find", "40-118"])
            .stdout(std::process::Stdio::piped())
            .stderr(std::process::Stdio::piped())
            .spawn()
            .unwrap();
        spawned.push(child);
    }
    let outputs: Vec<Output> = spawned
        .into_iter()
        .map(|c| c.wait_with_output().unwrap())
        .collect();
    let installed = outputs
        .iter()
        .filter(|o| String::from_utf8_lossy(&o.stderr).contains("was installed"))
        .count();
    assert_eq!(installed, 1);
    for out in children.iter().chain(&outputs) {
        assert_eq!(out.status.code(), Some(0), "{out:?}");
        assert!(String::from_utf8_lossy(&out.stdout).contains("40-118"));
    }
    let folder = other.path(".local/share/polecard");
    let names: Vec<String> = std::fs::read_dir(folder)
        .unwrap()
        .map(|e| e.unwrap().file_name().into_string().unwrap())
        .filter(|n| n.contains("part"))
        .collect();
    assert_eq!(names, Vec::<String>::new(), "nothing half made is left");
}

#[test]
fn an_existing_register_is_never_replaced_by_the_demo() {
    let home = Home::new();
    let folder = home.path(".local/share/polecard");
    std::fs::create_dir_all(&folder).unwrap();
    std::fs::write(folder.join("register.polecard"), "mine").unwrap();
    let (code, _, said) = home.run(&["find", "40-118"]);
    assert_eq!(code, 4);
    assert!(said.contains("not a register"), "{said}");
    assert_eq!(
        std::fs::read_to_string(folder.join("register.polecard")).unwrap(),
        "mine"
    );
}

#[test]
fn without_a_home_the_register_must_be_named() {
    let home = Home::new();
    let out = home
        .command()
        .env_remove("HOME")
        .args(["find", "x"])
        .output()
        .unwrap();
    let (code, _, said) = split(&out);
    assert_eq!(code, 4);
    assert!(said.contains("--register"), "{said}");
}

#[test]
fn a_named_register_that_is_missing_is_not_made_by_a_look_up() {
    let home = Home::new();
    let named = home.path("none.polecard");
    let (code, _, said) = home.run(&["--register", named.to_str().unwrap(), "find", "x"]);
    assert_eq!(code, 4);
    assert!(said.contains("there is no register"), "{said}");
    assert!(!named.exists());
}

#[test]
fn import_makes_an_empty_register_first_and_export_gives_it_back() {
    let home = Home::new();
    let data = Path::new(env!("CARGO_MANIFEST_DIR")).join("data/demo");
    let register = home.path("r.polecard");
    let register = register.to_str().unwrap();
    let (code, said, err) = home.run(&["--register", register, "import", data.to_str().unwrap()]);
    assert_eq!(code, 0, "{said}{err}");
    let out = home.path("out");
    let (code, _, err) = home.run(&["--register", register, "export", out.to_str().unwrap()]);
    assert_eq!(code, 0, "{err}");
    assert_eq!(
        crate::support::tree(&data),
        crate::support::tree(&out),
        "data/demo is canonical"
    );
}

#[test]
fn a_wrong_key_in_a_file_is_exit_4_with_file_and_line() {
    let home = Home::new();
    let file = home.path("bad.yaml");
    std::fs::write(
        &file,
        "---\nstructure: 40-118\nkind: pole\nplace: {raod: Weir Ln}\n",
    )
    .unwrap();
    let (code, _, said) = home.run(&["import", file.to_str().unwrap(), "--apply"]);
    assert_eq!(code, 4);
    assert!(said.contains("bad.yaml:4: "), "{said}");
    assert!(said.contains("did you mean \"road\""), "{said}");
}

#[test]
fn an_absurd_value_on_the_command_line_is_exit_2_and_names_the_option() {
    let home = Home::new();
    for value in ["-5", "nan", ".inf", "inf", "9e99", "twelve"] {
        let (code, _, said) = home.run(&["check", "HB2-RC-14", "--load", value]);
        assert_eq!(code, 2, "{value}: {said}");
        assert!(said.contains("--load"), "{value}: {said}");
    }
}

#[test]
fn an_unknown_id_is_exit_3_with_the_nearest_names() {
    let home = Home::new();
    let (code, out, said) = home.run(&["show", "HB2-RC-41"]);
    assert_eq!(code, 3, "{out}{said}");
    assert!(said.contains("HB2-RC-14"), "{said}");
}

#[test]
fn a_register_that_may_only_be_read_answers_every_look_up() {
    let home = Home::new();
    let register = home.path("r.polecard");
    let demo = Path::new(env!("CARGO_MANIFEST_DIR")).join("data/demo");
    let named = register.to_str().unwrap();
    home.run(&["--register", named, "import", demo.to_str().unwrap()]);
    // The other account may reach neither this checkout nor its build.
    let program = home.path("polecard");
    std::fs::copy(env!("CARGO_BIN_EXE_polecard"), &program).unwrap();
    let change = home.path("change.yaml");
    std::fs::write(&change, "---\nstructure: 99-999\nkind: pole\n").unwrap();
    let mode = |path: &Path, bits: u32| {
        std::fs::set_permissions(path, std::fs::Permissions::from_mode(bits)).unwrap();
    };
    for tail in ["", "-wal", "-shm"] {
        let path = PathBuf::from(format!("{named}{tail}"));
        if path.exists() {
            mode(&path, 0o444);
        }
    }
    mode(&change, 0o444);
    mode(&program, 0o555);
    mode(home.0.path(), 0o555);
    // As root, file modes stop nobody: look up as another account.
    let root = rustix::process::getuid().is_root();
    let run = |args: &[&str]| {
        let mut c = Command::new(&program);
        c.env_clear().env("HOME", home.0.path());
        if root {
            c.uid(65534).gid(65534);
        }
        split(&c.args(["--register", named]).args(args).output().unwrap())
    };
    for args in [
        &["find", "HB2-RC-14"][..],
        &["decode", "HB2-RC-14"],
        &["show", "HB2-RC-14"],
        &["trace", "HB2-RC-14"],
    ] {
        let (code, out, said) = run(args);
        assert_eq!(code, 0, "{args:?}: {out}{said}");
    }
    let (code, _, said) = run(&["check", "HB2-RC-14", "--json"]);
    assert!([0, 1, 5, 6].contains(&code), "{code}: {said}");
    let (code, _, said) = run(&["import", change.to_str().unwrap(), "--apply"]);
    assert_eq!(code, 4, "{said}");
    assert!(said.contains("can be read but not written"), "{said}");
    mode(home.0.path(), 0o755);
}

#[test]
fn a_closed_pipe_is_no_error() {
    let home = Home::new();
    home.run(&["find", "x"]);
    let script = format!(
        "'{}' find 40 | head -n 1 >&2; echo ${{PIPESTATUS[0]}}",
        env!("CARGO_BIN_EXE_polecard")
    );
    let out = Command::new("bash")
        .args(["-c", &script])
        .env("HOME", home.0.path())
        .output()
        .unwrap();
    let (_, code, said) = split(&out);
    assert_eq!(code.trim(), "0", "{said}");
    assert!(!said.contains("panicked"), "{said}");
}

#[test]
fn help_offers_a_day_only_where_a_day_is_answered_for() {
    let home = Home::new();
    for (name, _) in polecard::cli::command_table() {
        if name == "help" {
            continue;
        }
        let (_, help, _) = home.run(&[&name, "--help"]);
        let then = ["show", "check", "trace", "history", "export"].contains(&name.as_str());
        let writes = ["edit", "merge"].contains(&name.as_str());
        assert_eq!(help.contains("--as-of"), then, "{name}: {help}");
        assert_eq!(
            help.contains("--effective"),
            then || writes,
            "{name}: {help}"
        );
    }
    // Before the command as behind it.
    let (code, _, said) = home.run(&["--as-of", "2026-03-31", "show", "40-118"]);
    assert!(code == 0 || code == 3, "{said}");
    let (code, _, _) = home.run(&["find", "40-118", "--as-of", "2026-03-31"]);
    assert_eq!(code, 2);
}

#[test]
fn the_lists_say_in_json_that_the_utility_is_made_up() {
    let home = Home::new();
    for args in [
        &["orders"][..],
        &["notices"],
        &["reports"],
        &["history"],
        &["history", "40-118"],
        &["due"],
    ] {
        let (code, out, said) = home.run(&[args, &["--json"]].concat());
        assert_eq!(code, 0, "{said}");
        let json: serde_json::Value = serde_json::from_str(&out).unwrap();
        assert_eq!(json["demo"], true, "{args:?}");
    }
}

#[test]
fn every_help_has_an_example_and_the_safety_sentence_stands_in_the_first() {
    let home = Home::new();
    let (_, help, _) = home.run(&["--help"]);
    assert!(help.contains("never says that a line is dead"), "{help}");
    for (name, about) in polecard::cli::command_table() {
        if name == "help" {
            continue;
        }
        let (code, help, _) = home.run(&[&name, "--help"]);
        assert_eq!(code, 0);
        assert!(help.contains("Example"), "{name}: {help}");
        assert!(!about.is_empty(), "{name}");
    }
}

#[test]
fn completions_and_the_manual_come_out() {
    let home = Home::new();
    for shell in ["bash", "zsh", "fish"] {
        let (code, text, _) = home.run(&["completions", shell]);
        assert_eq!(code, 0);
        assert!(text.contains("export"), "{shell}");
    }
    let (code, text, _) = home.run(&["man"]);
    assert_eq!(code, 0);
    assert!(text.contains(".TH polecard"));
    assert!(
        text.contains("polecard-import") || text.contains("polecard\\-import"),
        "{text}"
    );
}

#[test]
fn text_that_could_harm_a_terminal_is_shown_harmlessly_in_every_face() {
    let home = Home::new();
    let file = home.path("evil.yaml");
    let text = "---\nstructure: 40-118\nkind: pole\nplace: {road: \"x\\e]0;y\\a\\u202e Rd\"}\n";
    std::fs::write(&file, text).unwrap();
    let register = home.path("r");
    let register = register.to_str().unwrap();
    let (code, _, said) = home.run(&["--register", register, "import", file.to_str().unwrap()]);
    assert_eq!(code, 0, "{said}");
    for args in [
        &["find", "40-118"][..],
        &["show", "40-118"],
        &["show", "40-118", "--json"],
        &["find", "40-118", "--json"],
    ] {
        let (code, out, _) = home.run(&[&["--register", register], args].concat());
        assert_eq!(code, 0, "{args:?}");
        assert!(
            out.contains("Rd") || out.contains("Road"),
            "{args:?}: {out}"
        );
        for harmful in ['\u{1b}', '\u{7}', '\u{202e}'] {
            assert!(!out.contains(harmful), "{args:?}: {out:?}");
        }
    }
    let (_, out, _) = home.run(&["--register", register, "find", "40-118", "--json"]);
    let json: serde_json::Value = serde_json::from_str(&out).unwrap();
    assert_eq!(
        json["matches"][0]["also"]["road"],
        "x\u{1b}]0;y\u{7}\u{202e} Rd"
    );
}

#[test]
fn what_is_not_found_says_so_and_names_what_points_at_it() {
    let home = Home::new();
    let (code, out, _) = home.run(&["find", "zzzz"]);
    assert_eq!(code, 3, "only a guess: {out}");
    for spelling in ["40-181", "40181", "40 181"] {
        let (code, out, _) = home.run(&["find", spelling]);
        assert_eq!(code, 3, "{spelling}: {out}");
        assert!(
            out.contains("not in the register:") && out.contains("HB2-TR-22"),
            "{spelling}: {out}"
        );
        assert!(out.contains("40-118"), "{spelling}: {out}");
    }
    let (code, out, _) = home.run(&["readback", "HB2-RC-14", "hb2 rc 41"]);
    assert_eq!(code, 1, "{out}");
    assert!(out.contains("MISMATCH") && out.contains("swapped"), "{out}");
    let (code, out, _) = home.run(&["readback", "HB2-RC-14", "romeo charlie one four"]);
    assert_eq!(code, 5, "{out}");
    let (code, out, _) = home.run(&["find", "recloser", "14"]);
    assert_eq!(code, 0, "{out}");
    assert!(out.trim_start().starts_with("HB2-RC-14"), "{out}");
}
