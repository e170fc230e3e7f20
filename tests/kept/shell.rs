//! `check --save` and `check --again` from outside.

use std::process::Command;

fn run(home: &std::path::Path, args: &[&str]) -> (i32, String, String) {
    let out = Command::new(env!("CARGO_BIN_EXE_polecard"))
        .env_clear()
        .env("HOME", home)
        .env("USER", "hb")
        .args(args)
        .output()
        .unwrap();
    (
        out.status.code().unwrap_or(-1),
        String::from_utf8(out.stdout).unwrap(),
        String::from_utf8(out.stderr).unwrap(),
    )
}

fn json(home: &std::path::Path, args: &[&str]) -> serde_json::Value {
    let mut all = args.to_vec();
    all.push("--json");
    serde_json::from_str(&run(home, &all).1).unwrap()
}

/// Somebody reads another coil at the plate.
const READ: [&str; 11] = [
    "edit",
    "7-20931",
    "nameplate.coil_amps=50",
    "--why",
    "read at the plate",
    "--read-by",
    "mk",
    "--second",
    "rt",
    "--from",
    "plate",
];

#[test]
fn a_check_is_kept_with_program_operation_and_head_and_tells_what_a_rating_changed() {
    let dir = tempfile::tempdir().unwrap();
    let home = dir.path();
    let asked = ["check", "HB2-RC-14", "--load", "90", "--save"];
    let (code, shown, said) = run(home, &asked);
    assert_eq!(code, 1, "a demo flaw fails: {said}");
    let stamp = shown
        .lines()
        .find_map(|l| l.strip_prefix("kept as "))
        .unwrap_or_else(|| panic!("{shown}"))
        .split_whitespace()
        .next()
        .unwrap()
        .to_string();
    let version = env!("CARGO_PKG_VERSION");
    assert!(shown.contains(&format!("by polecard {version}")), "{shown}");

    let kept = json(home, &["check", "HB2-RC-14", "--load", "95", "--save"]);
    assert_eq!(kept["polecard"], 1);
    assert_eq!(kept["version"], version);
    let head = kept["chain_head"].as_str().unwrap();
    assert!(
        head.len() >= 32 && head.bytes().all(|b| b.is_ascii_hexdigit()),
        "{head}"
    );
    let operation = kept["register_operation"].as_u64().unwrap();
    assert!(shown.contains(&format!("{}:", operation - 1)), "{shown}");

    let (code, shown, _) = run(home, &["check", "--again", &stamp]);
    assert_eq!(code, 1);
    assert!(!shown.contains("within > fails"), "{shown}");

    let (code, _, said) = run(home, &READ);
    assert_eq!(code, 0, "{said}");
    let (code, shown, _) = run(home, &["check", "--again", &stamp]);
    assert_eq!(code, 1);
    assert!(shown.contains("What differs"), "{shown}");
    assert!(shown.contains("carry-coil"), "{shown}");
    let again = json(home, &["check", "--again", &stamp]);
    let differs = again["differences"].as_array().unwrap();
    let of = |of: &str, what: &str| {
        differs
            .iter()
            .any(|d| d["of"] == of && d["what"].as_str().unwrap().contains(what))
    };
    assert!(
        of("question", "carry") && of("register", "operation"),
        "{differs:#?}"
    );
    assert!(
        !of("program", "version") && !of("input", "load"),
        "{differs:#?}"
    );
}

#[test]
fn a_stamp_of_nothing_and_inputs_beside_a_stamp_are_refused() {
    let dir = tempfile::tempdir().unwrap();
    let (code, _, said) = run(dir.path(), &["check", "--again", "2020-01-01-AAAAAA"]);
    assert_eq!(code, 3, "{said}");
    let args = ["check", "--again", "2020-01-01-AAAAAA", "--load", "9"];
    assert_eq!(run(dir.path(), &args).0, 2);
}
