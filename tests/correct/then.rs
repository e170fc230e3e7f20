//! The register as of then, by random steps, and from the command line.

use super::*;

/// One random operation on the small register, which may be refused.
fn random_step() -> impl Strategy<Value = (usize, String, bool)> {
    let ids = 0..4_usize;
    (ids, "[a-d]{1,2}", any::<bool>())
}

fn step(store: &mut Store, (which, word, erase): &(usize, String, bool), now: Moment) -> bool {
    let (id, field) = [
        ("40-117", "place.near"),
        ("40-118", "note"),
        ("HB2-RC-14", "structure"),
        ("7-20931", "nameplate.model"),
    ][*which];
    let text = if field == "structure" {
        if *erase {
            "structure=40-117"
        } else {
            "structure=40-118"
        }
        .to_string()
    } else {
        format!("{field}={word}")
    };
    let asked = if *erase && field != "structure" {
        Asked {
            erase: vec![field.to_string()],
            ..set(&[])
        }
    } else {
        read(&[&text])
    };
    edit(store, id, &asked, "hb", now).is_ok_and(|r| r.operation.is_some())
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 24, failure_persistence: None, ..ProptestConfig::default() })]

    #[test]
    fn an_operation_and_its_undo_leave_the_records_of_before(
        steps in proptest::collection::vec(random_step(), 1..8)
    ) {
        let dir = tempfile::tempdir().unwrap();
        let mut store = register(dir.path());
        let mut stages = vec![records(&store)];
        for s in &steps {
            if step(&mut store, s, day(1)) {
                stages.push(records(&store));
            }
        }
        while stages.len() > 1 {
            prop_assert_eq!(Some(&records(&store)), stages.last());
            stages.pop();
            undo(&mut store, None, None, "hb", day(2)).unwrap();
            prop_assert_eq!(Some(&records(&store)), stages.last());
        }
        prop_assert_eq!(store.broken_link().unwrap(), None);
    }

    #[test]
    fn the_past_reads_as_it_read_when_it_was_the_present(
        steps in proptest::collection::vec(random_step(), 1..8)
    ) {
        let dir = tempfile::tempdir().unwrap();
        let mut store = register(dir.path());
        let path = store.path().to_path_buf();
        let mut stages = vec![dump(&store)];
        for s in &steps {
            if step(&mut store, s, day(1)) {
                stages.push(dump(&store));
            }
        }
        undo(&mut store, None, None, "hb", day(2)).ok();
        drop(store);
        for (n, stage) in stages.iter().enumerate() {
            let then = Store::open(&path, Access::Read).unwrap();
            let then = then.as_of(i64::try_from(n).unwrap() + 1).unwrap();
            prop_assert_eq!(&dump(&then), stage);
            prop_assert_eq!(then.broken_link().unwrap(), None);
        }
        let before_all = Store::open(&path, Access::Read).unwrap().as_of(0).unwrap();
        prop_assert_eq!(records(&before_all), Vec::<String>::new());
    }
}

#[test]
fn an_export_as_of_then_is_the_export_made_then() {
    let dir = tempfile::tempdir().unwrap();
    let mut store = register(dir.path());
    edit(&mut store, "40-117", &set(&["place.near=a"]), "hb", day(1)).unwrap();
    export(&store, &dir.path().join("then")).unwrap();
    edit(&mut store, "40-117", &set(&["place.near=b"]), "hb", day(5)).unwrap();
    let path = store.path().to_path_buf();
    drop(store);
    let store = Store::open(&path, Access::Read).unwrap();
    assert_eq!(store.operation_at(at("2026-09-01T00:00:00Z")).unwrap(), 0);
    let seq = store.operation_at(at("2026-10-03T05:59:59Z")).unwrap();
    assert_eq!(seq, 2);
    let mut then = store.as_of(seq).unwrap();
    export(&then, &dir.path().join("asked")).unwrap();
    assert_eq!(
        crate::support::tree(&dir.path().join("then")),
        crate::support::tree(&dir.path().join("asked"))
    );
    // The past is not written to.
    assert!(edit(&mut then, "40-117", &set(&["place.near=c"]), "hb", day(6)).is_err());
}

struct Shell(tempfile::TempDir);

impl Shell {
    fn run(&self, args: &[&str]) -> (i32, String, String) {
        let out = std::process::Command::new(env!("CARGO_BIN_EXE_polecard"))
            .env_clear()
            .env("HOME", self.0.path())
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
}

#[test]
fn from_the_command_line() {
    let shell = Shell(tempfile::tempdir().unwrap());
    let path = shell.0.path().join("r.polecard").display().to_string();
    drop(register(shell.0.path()));
    let with = |args: &[&str]| {
        let mut all = vec!["--register", path.as_str()];
        all.extend(args);
        shell.run(&all)
    };
    let (code, out, said) = with(&["edit", "unit", "7-20931", "note=new lid", "--why", "seen"]);
    assert_eq!(code, 0, "{said}");
    assert!(out.contains("note: not on record -> new lid"), "{out}");
    let (code, _, said) = with(&["edit", "40-118", "place.near=", "--why", "x"]);
    assert_eq!(code, 2);
    assert!(said.contains("--erase place.near"), "{said}");
    let (code, out, _) = with(&["history", "7-20931", "--json"]);
    assert_eq!(code, 0);
    let told: serde_json::Value = serde_json::from_str(&out).unwrap();
    assert_eq!(told["polecard"], 1);
    assert!(!told["operations"][0]["who"].as_str().unwrap().is_empty());
    let (code, out, _) = with(&["show", "7-20931", "--as-of", "2026-10-01"]);
    assert_eq!(code, 0);
    assert!(out.starts_with("AS OF 1 Oct 2026"), "{out}");
    assert!(!out.contains("new lid"), "{out}");
    let (code, out, _) = with(&["check", "HB2-RC-14", "--as-of", "2026-10-01", "--json"]);
    assert_eq!(code, 5);
    let told: serde_json::Value = serde_json::from_str(&out).unwrap();
    assert!(
        told["as_of"]
            .as_str()
            .unwrap()
            .starts_with("2026-10-01T23:59:59")
    );
    let (code, _, said) = with(&["show", "7-20931", "--as-of", "2020-01-01"]);
    assert_eq!(code, 3);
    assert!(said.contains("asked as of 1 Jan 2020"), "{said}");
    let (code, _, said) = with(&["find", "40-118", "--as-of", "2020-01-01"]);
    assert_eq!(code, 2, "{said}");
    let (code, _, _) = with(&["show", "40-118", "--as-of", "2206-01-01"]);
    assert_eq!(code, 2);
    let (code, out, _) = with(&["undo"]);
    assert_eq!(code, 0);
    assert!(out.contains("Undone: seen"), "{out}");
    let store = Store::open(Path::new(&path), Access::Read).unwrap();
    assert!(body(&store, "7-20931").get("note").is_none());
}
