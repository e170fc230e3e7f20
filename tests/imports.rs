//! What an import of files may do to a register that is in use: a second
//! person where an edit by hand needs one, and a blank erases nothing.

use std::path::{Path, PathBuf};
use std::process::Command;

use polecard::calendar::Moment;
use polecard::domain::asset::Record;
use polecard::exchange::{Because, Imported, Source, YamlAsk, export, import};
use polecard::store::Store;
use polecard::work::import::{CsvOptions, CsvReport, from_csv, from_yaml};
use polecard::work::{Failure, FailureKind};
use serde_json::{Value, json};

use crate::support::tree;

fn now() -> Moment {
    "2026-10-03T14:10:00-06:00".parse().unwrap()
}

const SMALL: &str = r"---
structure: 40-118
kind: pole
feeder: HB2
names: [{text: T-5512, whose: telephone}]
place: {road: Tannery Rd, near: the old kiln}
---
position: HB2-RC-14
class: recloser
feeder: HB2
structure: 40-118
available_fault: {amps: 4310, x_over_r: 6.2, kind: three-phase, date: 2025-03-02, source: planning study}
---
unit: 7-20931
class: recloser
nameplate: {coil_amps: {value: 100, by: hb, on: 2024-05-01, from: plate}, interrupting_amps: 4000, bil_kv: unknown, pcb_ppm: 60}
deployments: [{at: HB2-RC-14, slot: ABC, from: 2018-06-04}]
note: painted
---
entry: inspection
id: 01J8ZK3V5QH0000000000000E1
of: 7-20931
on: 2026-09-12
by: hb
finds: [oil below mark]
";

/// A folder with a register.
struct Desk {
    dir: tempfile::TempDir,
    store: Store,
}

impl Desk {
    fn new() -> Self {
        let mut desk = Desk::empty();
        assert!(desk.yaml(SMALL, |_| {}).unwrap().applied);
        desk
    }

    fn empty() -> Self {
        let dir = tempfile::tempdir().unwrap();
        let store = Store::create(&dir.path().join("r.polecard")).unwrap();
        Desk { dir, store }
    }

    fn file(&self, name: &str, text: &str) -> PathBuf {
        let path = self.dir.path().join(name);
        std::fs::write(&path, text).unwrap();
        path
    }

    fn yaml(
        &mut self,
        text: &str,
        how: impl FnOnce(&mut YamlAsk<'_>),
    ) -> Result<Imported, Failure> {
        let path = self.file("in.yaml", text);
        let mut ask = YamlAsk {
            who: "hb",
            now: now(),
            apply: true,
            second: None,
            replace: false,
        };
        how(&mut ask);
        from_yaml(&mut self.store, &path, &ask).map(|r| r.imported)
    }

    fn csv(&mut self, csv: &Path, map: &str, second: Option<&str>) -> CsvReport {
        let map = self.file("map.yaml", map);
        let options = CsvOptions {
            csv: csv.to_path_buf(),
            map: Some(map),
            dated: None,
            take: None,
            second: second.map(str::to_string),
            save_map: None,
            refused: None,
            apply: true,
        };
        from_csv(Some(&mut self.store), &options, "hb", now(), &mut |_| {}).unwrap()
    }

    fn json(&self, name: &str) -> Value {
        let hits = self.store.named(name).unwrap();
        self.store
            .by_row(hits[0].rec)
            .unwrap()
            .unwrap()
            .record
            .to_value()
    }

    fn id(&self, name: &str) -> String {
        self.json(name)["id"].as_str().unwrap().to_string()
    }

    fn last_why(&self) -> String {
        let last = self.store.newest_operations(None, 1).unwrap();
        last[0].operation.why.clone()
    }
}

/// What needs a second person in an edit needs one from a file, too.
#[test]
fn what_one_person_alone_does_not_change_is_refused_as_a_whole() {
    let mut desk = Desk::new();
    let position = desk.id("HB2-RC-14");
    let renamed = format!("---\nposition: HB2-RC-99\nid: {position}\nclass: recloser\n");
    let cases = [
        (
            "---\nunit: 7-20931\nclass: recloser\nnameplate: {interrupting_amps: 6000}\n",
            "raises a rating",
        ),
        (
            "---\nunit: 7-20931\nclass: recloser\nnameplate: {pcb_ppm: 40}\n",
            "PCB",
        ),
        (renamed.as_str(), "what the record is called"),
        (
            "---\nentry: inspection\nid: 01J8ZK3V5QH0000000000000E1\nof: 7-20931\non: 2026-09-12\nby: hb\nfinds: [oil leak]\n",
            "clears a defect",
        ),
        (
            "---\nentry: inspection\nid: 01J8ZK3V5QH0000000000000E1\nof: 40-118\non: 2026-09-12\n",
            "clears a defect",
        ),
        (
            "---\nentry: maintenance\nof: 7-20931\non: 2026-09-20\nclears: [oil below mark]\n",
            "clears a defect",
        ),
    ];
    let head = desk.store.head().unwrap();
    for (text, reason) in cases {
        let with_more = format!("---\nstructure: 40-500\nkind: pole\n{text}");
        let shown = desk.yaml(&with_more, |a| a.apply = false).unwrap();
        assert_eq!(shown.alone, 1, "{text}");
        assert!(shown.needs_second[0].contains(reason), "{shown:?}");
        let failed = desk.yaml(&with_more, |_| {}).unwrap_err();
        assert_eq!(failed.kind, FailureKind::Usage, "{failed}");
        assert!(failed.to_string().contains(reason), "{failed}");
        assert!(failed.to_string().contains("--second"), "{failed}");
        assert_eq!(desk.store.head().unwrap(), head, "{text}");
        let failed = desk.yaml(text, |a| a.second = Some(" HB ")).unwrap_err();
        assert!(failed.to_string().contains("other than"), "{failed}");
    }
    let done = desk.yaml(cases[0].0, |a| a.second = Some("js")).unwrap();
    assert!(done.applied);
    assert!(
        desk.last_why()
            .ends_with("(second person, as declared by hb: js)")
    );
    assert_eq!(
        desk.json("7-20931")["nameplate"]["interrupting_amps"],
        json!(6000)
    );
}

#[test]
fn lowering_a_rating_and_filling_an_empty_register_need_nobody() {
    let mut desk = Desk::new();
    let text = "---\nunit: 7-20931\nclass: recloser\nnameplate: {interrupting_amps: 3000}\n";
    assert_eq!(desk.yaml(text, |_| {}).unwrap().edited, 1);
    // A raise in two imports is a raise.
    let text = text.replace("3000", "unknown");
    assert_eq!(desk.yaml(&text, |_| {}).unwrap().edited, 1);
    assert!(desk.yaml(&text.replace("unknown", "4100"), |_| {}).is_err());
    let mut empty = Desk::empty();
    let clearing =
        format!("{SMALL}---\nentry: test\nof: 7-20931\non: 2026-09-20\nclears: [oil leak]\n");
    assert!(empty.yaml(&clearing, |_| {}).unwrap().applied);
}

#[test]
fn many_changes_that_need_somebody_are_counted_and_ten_are_named() {
    let mut desk = Desk::new();
    let mut text = String::new();
    for n in 0..12 {
        text.push_str(&format!(
            "---\nentry: test\nof: 7-20931\non: 2026-09-20\nnote: n{n}\nclears: [oil leak]\n"
        ));
    }
    let failed = desk.yaml(&text, |_| {}).unwrap_err();
    assert!(failed.message.starts_with("12 of the changes"), "{failed}");
    assert_eq!(failed.hints.len(), 11, "{failed}");
}

const UNITS: &str = "map: units\nkind: unit\nfields:\n  unit: number\n  class: {constant: recloser}\n  nameplate.interrupting_amps: ia\n";

#[test]
fn rows_that_need_somebody_are_refused_and_run_again_with_a_name() {
    let mut desk = Desk::new();
    let csv = desk.file("units.csv", "number,ia\n7-20931,6000\n7-30000,8000\n");
    let r = desk.csv(&csv, UNITS, None);
    assert_eq!((r.imported.refused, r.exit_code()), (1, 4));
    assert_eq!(r.imported.refusals[0].because, Because::Alone);
    let reason = &r.imported.refusals[0].reason;
    assert!(
        reason.starts_with("needs a second person: --second NAME"),
        "{reason}"
    );
    assert!(reason.contains("4000 to 6000"), "{reason}");
    // The new unit was taken; the refused row runs again as it stands.
    assert_eq!(
        desk.json("7-30000")["nameplate"]["interrupting_amps"],
        json!(8000)
    );
    let mend = r.imported.refused_file.unwrap();
    assert_eq!(mend, desk.dir.path().join("units.refused.csv"));
    let r = desk.csv(&mend, UNITS, Some("js"));
    assert_eq!((r.imported.refused, r.exit_code()), (0, 0));
    assert!(desk.last_why().contains("as declared by hb: js"));
    assert_eq!(
        desk.json("7-20931")["nameplate"]["interrupting_amps"],
        json!(6000)
    );
    // Refused again from the mended file: the name does not grow.
    let again = desk.file("units.refused.csv", "number,ia\n7-20931,7000\n");
    let r = desk.csv(&again, UNITS, None);
    assert_eq!(
        r.imported.refused_file.unwrap(),
        desk.dir.path().join("units.refused-2.csv")
    );
}

#[test]
fn an_entry_that_clears_needs_somebody_from_a_csv_too() {
    let mut desk = Desk::new();
    let csv = desk.file(
        "e.csv",
        "of,day,clears\n7-20931,2026-09-20,oil below mark\n",
    );
    let map = r#"map: e
kind: entry
fields:
  entry: {constant: test}
  of: of
  on: day
  clears: {column: clears, as: list, separator: ";"}
"#;
    let r = desk.csv(&csv, map, None);
    assert_eq!(r.imported.refusals[0].because, Because::Alone);
    let r = desk.csv(&csv, map, Some("js"));
    assert_eq!(r.imported.refused, 0, "{:?}", r.imported.refusals);
}

#[test]
fn a_field_that_a_document_leaves_out_stays() {
    let mut desk = Desk::new();
    let before = desk.json("40-118");
    let text = "---\nstructure: 40-118\nkind: pole\nplace: {road: Weir Ln}\n";
    let shown = desk.yaml(text, |a| a.apply = false).unwrap();
    assert_eq!((shown.edited, shown.kept, shown.erased), (1, 3, 0));
    assert!(
        shown
            .keeps
            .iter()
            .any(|k| k.field.as_deref() == Some("place.near") && k.old == json!("the old kiln"))
    );
    desk.yaml(text, |_| {}).unwrap();
    let after = desk.json("40-118");
    assert_eq!(after["place"]["near"], before["place"]["near"]);
    assert_eq!(after["names"], before["names"]);
    assert_eq!(after["place"]["road"], json!("Weir Ln"));
    // Blank and null are blanks.
    let text = "---\nstructure: 40-118\nkind: pole\nplace: {road: ~, near: }\nfeeder:\n";
    let r = desk.yaml(text, |_| {}).unwrap();
    assert_eq!((r.edited, r.erased), (0, 0));
}

#[test]
fn what_is_named_to_be_erased_goes_and_replace_erases_the_rest() {
    let mut desk = Desk::new();
    let text = "---\nstructure: 40-118\nkind: pole\nplace: {road: Weir Ln}\nerase: [place.near]\n";
    let shown = desk.yaml(text, |a| a.apply = false).unwrap();
    assert_eq!((shown.edited, shown.kept, shown.erased), (2, 2, 1));
    assert_eq!(shown.erases[0].field.as_deref(), Some("place.near"));
    desk.yaml(text, |_| {}).unwrap();
    assert!(desk.json("40-118")["place"].get("near").is_none());
    // Once more says that there is nothing to erase, and is no error.
    let again = desk.yaml(text, |_| {}).unwrap();
    assert!(again.notes[0].contains("holds nothing"), "{again:?}");

    let whole = "---\nstructure: 40-118\nkind: pole\n";
    let shown = desk
        .yaml(whole, |a| {
            a.replace = true;
            a.apply = false;
        })
        .unwrap();
    assert_eq!((shown.kept, shown.erased), (0, 3));
    desk.yaml(whole, |a| a.replace = true).unwrap();
    let left = desk.json("40-118");
    let keys: Vec<&String> = left.as_object().unwrap().keys().collect();
    assert_eq!(keys, ["structure", "id", "kind"]);
}

#[test]
fn what_cannot_be_erased_is_said_with_its_line() {
    let mut desk = Desk::new();
    let cases = [
        (
            "---\nstructure: 40-118\nkind: pole\nplace: {near: x}\nerase: place.near\n",
            "both given and erased",
        ),
        (
            "---\nstructure: 40-900\nkind: pole\nerase: [place.near]\n",
            "not on record yet",
        ),
        (
            "---\nstructure: 40-118\nkind: pole\nerase:\n- {a: b}\n",
            "in.yaml:",
        ),
    ];
    let head = desk.store.head().unwrap();
    for (text, part) in cases {
        let said = desk.yaml(text, |_| {}).unwrap_err().to_string();
        assert!(said.contains(part), "{said}");
        assert!(said.contains("in.yaml:"), "{said}");
    }
    assert_eq!(desk.store.head().unwrap(), head);
}

/// A reading is one statement: who read the new value did not read it on the
/// day of the old one, and a new study has no ratio of the old.
#[test]
fn a_new_statement_takes_nothing_over_from_the_one_before() {
    let mut desk = Desk::new();
    let text = "---\nunit: 7-20931\nclass: recloser\nnameplate: {coil_amps: {value: 70, by: jk}}\n---\nposition: HB2-RC-14\nclass: recloser\navailable_fault: {amps: 5000, kind: three-phase}\n";
    desk.yaml(text, |_| {}).unwrap();
    assert_eq!(
        desk.json("7-20931")["nameplate"]["coil_amps"],
        json!({"value": 70, "by": "jk"})
    );
    assert_eq!(desk.json("7-20931")["note"], json!("painted"));
    let study = &desk.json("HB2-RC-14")["available_fault"];
    assert_eq!(study.get("x_over_r"), None);
    assert_eq!(study["amps"].as_f64(), Some(5000.0));
}

#[test]
fn a_line_deleted_by_hand_in_an_export_is_kept_and_said() {
    let mut desk = Desk::new();
    let one = desk.dir.path().join("one");
    export(&desk.store, &one).unwrap();
    let file = one.join("units.yaml");
    let text = std::fs::read_to_string(&file).unwrap();
    let cut: Vec<&str> = text
        .lines()
        .filter(|l| !l.starts_with("note:") && !l.contains("bil_kv"))
        .collect();
    let cut = cut.join("\n") + "\n";
    assert_ne!(cut, text);
    std::fs::write(&file, &cut).unwrap();
    // Into an empty register: the log is replayed, and nothing is lost.
    let mut second = Store::create(&desk.dir.path().join("s.polecard")).unwrap();
    let source = Source::at(&one).unwrap();
    let r = import(&mut second, &source, "hb", now(), false).unwrap();
    assert_eq!((r.edited, r.erased, r.operation), (0, 0, None), "{r:?}");
    assert!(r.kept > 0);
    assert_eq!(second.head().unwrap(), desk.store.head().unwrap());
    // With --replace it is one further operation.
    let r = from_yaml(
        &mut desk.store,
        &one,
        &YamlAsk {
            who: "hb",
            now: now(),
            apply: true,
            second: None,
            replace: true,
        },
    )
    .unwrap();
    assert!(r.imported.erased > 0 && r.imported.operation.is_some());
    assert!(desk.json("7-20931").get("note").is_none());
    let two = desk.dir.path().join("two");
    export(&second, &two).unwrap();
    std::fs::write(&file, &text).unwrap();
    assert_eq!(tree(&one), tree(&two));
}

#[test]
fn a_rename_from_a_file_that_loses_the_old_name_says_so() {
    let mut desk = Desk::new();
    let id = desk.id("40-118");
    let text = format!("---\nstructure: 40-119\nid: {id}\nkind: pole\n");
    let r = desk.yaml(&text, |a| a.second = Some("js")).unwrap();
    assert!(
        r.notes.iter().any(|n| n.contains("no longer finds")),
        "{:?}",
        r.notes
    );
    let Record::Structure(s) = desk
        .store
        .by_row(desk.store.named("40-119").unwrap()[0].rec)
        .unwrap()
        .unwrap()
        .record
    else {
        panic!("a structure");
    };
    assert_eq!(s.place.near.as_deref(), Some("the old kiln"));
}

#[test]
fn the_command_line_shows_what_goes_and_who_is_needed() {
    let home = tempfile::tempdir().unwrap();
    let run = |args: &[&str]| {
        let out = Command::new(env!("CARGO_BIN_EXE_polecard"))
            .env_clear()
            .env("HOME", home.path())
            .current_dir(home.path())
            .args(args)
            .output()
            .unwrap();
        let text = |b: Vec<u8>| String::from_utf8(b).unwrap();
        (
            out.status.code().unwrap(),
            text(out.stdout),
            text(out.stderr),
        )
    };
    std::fs::write(home.path().join("all.yaml"), SMALL).unwrap();
    std::fs::write(
        home.path().join("up.yaml"),
        "---\nunit: 7-20931\nclass: recloser\nnameplate: {interrupting_amps: 6000}\n",
    )
    .unwrap();
    let base = ["import", "--register", "ours.polecard"];
    let with = |more: &[&str]| run(&[&base[..], more].concat());
    assert_eq!(with(&["all.yaml"]).0, 0);
    let (code, out, _) = with(&["up.yaml", "--replace"]);
    assert_eq!(code, 0);
    for part in [
        "ERASES",
        "unit 7-20931  note: painted",
        "NEEDS A SECOND PERSON: 2",
        "--apply --second NAME",
    ] {
        assert!(out.contains(part), "{part}: {out}");
    }
    let (_, out, _) = with(&["up.yaml"]);
    assert!(out.contains("Left out of the files, and kept"), "{out}");
    assert!(!out.contains("ERASES"), "{out}");
    let (code, _, said) = with(&["up.yaml", "--apply"]);
    assert_eq!(code, 2, "{said}");
    assert!(said.contains("needs a second person") || said.contains("need a second person"));
    let (code, _, said) = with(&["up.yaml", "--apply", "--second", "js"]);
    assert_eq!(code, 0, "{said}");
}

#[test]
fn a_figure_inside_a_statement_is_raised_by_two_people() {
    let mut desk = Desk::new();
    let refused = desk.yaml(
        "---\nunit: 7-20931\nclass: recloser\nnameplate: {coil_amps: {value: 140, by: hb, on: 2024-05-01, from: plate}}\n",
        |_| {},
    );
    let said = format!("{:?}", refused.unwrap_err());
    assert!(said.contains("coil_amps"), "{said}");
    // Lowered, but still said to be what hb read that day.
    let refused = desk.yaml(
        "---\nunit: 7-20931\nclass: recloser\nnameplate: {coil_amps: {value: 70, by: hb, on: 2024-05-01, from: plate}}\n",
        |_| {},
    );
    let said = format!("{:?}", refused.unwrap_err());
    assert!(said.contains("who read it"), "{said}");
}

#[test]
fn a_reading_that_cannot_be_is_refused_from_a_document_too() {
    let mut desk = Desk::new();
    for (readings, on, why) in [
        ("{oil_level: maybe}", "2026-10-01", "maybe"),
        ("{counter: -3}", "2026-10-01", "-3"),
        ("{oil_kv: 900, method: D877}", "2026-10-01", "900"),
        ("{oil_kv: 24}", "2026-10-01", "says nothing without method"),
        ("{counter: 3}", "2027-01-01", "lies in the future"),
    ] {
        let text = format!(
            "---\nentry: inspection\nof: 7-20931\non: {on}\nby: hb\ndepth: patrol\nreadings: {readings}\n"
        );
        let said = format!("{:?}", desk.yaml(&text, |_| {}).unwrap_err());
        assert!(said.contains(why), "{readings}: {said}");
    }
}
