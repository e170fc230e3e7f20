//! CSV out, and back in: what was not edited does not count, whatever stands
//! in it; the csv library reads what is written.

use polecard::domain::asset::Kind;
use polecard::exchange::csv::{neutral, original};
use polecard::exchange::{Because, export_csv};
use polecard::store::{Access, Store};
use polecard::work::edit::{Asked, edit};
use proptest::prelude::*;

use super::{Desk, changes, now};

fn exported(store: &Store, kind: Kind) -> String {
    let mut out = Vec::new();
    export_csv(store, kind, "-", &mut out).unwrap();
    String::from_utf8(out).unwrap()
}

/// Rows by heading, read by the csv library.
fn table(text: &str) -> (Vec<String>, Vec<Vec<String>>) {
    let mut reader = csv::Reader::from_reader(text.as_bytes());
    let heading = reader.headers().unwrap().iter().map(String::from).collect();
    let rows = reader
        .records()
        .map(|r| r.unwrap().iter().map(String::from).collect())
        .collect();
    (heading, rows)
}

fn written(heading: &[String], rows: &[Vec<String>]) -> Vec<u8> {
    let mut out = csv::Writer::from_writer(Vec::new());
    out.write_record(heading).unwrap();
    for row in rows {
        out.write_record(row).unwrap();
    }
    out.into_inner().unwrap()
}

impl Desk {
    /// Takes an edited export in, without a map.
    fn back(
        &mut self,
        text: impl AsRef<[u8]>,
        take: Option<polecard::exchange::Take>,
    ) -> polecard::exchange::CsvImported {
        let csv = self.file("back.csv", text);
        let options = polecard::work::import::CsvOptions {
            map: None,
            take,
            second: Some("js".to_string()),
            refused: Some(self.dir.path().join("back.refused.csv")),
            ..self.options(&csv, &csv, true)
        };
        let _ = std::fs::remove_file(self.dir.path().join("back.refused.csv"));
        polecard::work::import::from_csv(Some(&mut self.store), &options, "hb", now(), &mut |_| {})
            .unwrap()
            .imported
    }

    fn edit(&mut self, id: &str, set: &[&str]) -> Result<Vec<String>, String> {
        let asked = Asked {
            set: set.iter().map(ToString::to_string).collect(),
            why: "seen at the pole".to_string(),
            assumed: Some("typed in a test".to_string()),
            second: Some("js".to_string()),
            ..Asked::default()
        };
        edit(&mut self.store, id, &asked, "hb", now())
            .map(|r| r.notes)
            .map_err(|e| e.to_string())
    }
}

const UNITS: &str = r"---
unit: 7-20931
class: recloser
names: [{text: T-5, whose: telephone}]
nameplate: {model: '=HYPER', coil_amps: {value: 100, by: hb, on: 2024-05-01, from: plate}, interrupting_amps: {value: 4000, standing: assumed, rule: old sheet}, bil_kv: unknown, max_kv: 15.5}
deployments: [{at: HB2-RC-14, slot: ABC, from: 2018-06-04}]
note: '-3 at the gate'
---
unit: 7-20932
class: recloser
nameplate: {coil_amps: 70}
---
structure: 40-118
kind: pole
place: {road: Tannery Rd, lat: 12.5, lon: -3}
circuits: [HB2, HB3]
note: |-
  first line
  second, with a comma
";

#[test]
fn a_plate_is_flat_with_its_standing_and_nothing_in_it_runs() {
    let mut desk = Desk::new();
    desk.yaml(UNITS);
    let (heading, rows) = table(&exported(&desk.store, Kind::Unit));
    let cell = |row: usize, column: &str| {
        let at = heading.iter().position(|h| h == column);
        rows[row][at.unwrap_or_else(|| panic!("{column} in {heading:?}"))].as_str()
    };
    assert_eq!(&heading[..2], ["unit", "class"]);
    assert_eq!(&heading[heading.len() - 2..], ["id", "register_operation"]);
    assert_eq!(cell(0, "nameplate.model"), "'=HYPER");
    assert_eq!(cell(0, "nameplate.coil_amps"), "100");
    assert_eq!(cell(0, "nameplate.coil_amps.standing"), "known");
    assert_eq!(cell(0, "nameplate.coil_amps.by"), "hb");
    assert_eq!(cell(0, "nameplate.interrupting_amps.standing"), "assumed");
    assert_eq!(cell(0, "nameplate.interrupting_amps.rule"), "old sheet");
    assert_eq!(cell(0, "nameplate.bil_kv"), "unknown");
    assert_eq!(cell(0, "note"), "'-3 at the gate");
    assert_eq!(cell(1, "nameplate.bil_kv"), "");
    let (heading, rows) = table(&exported(&desk.store, Kind::Structure));
    let at = |c: &str| heading.iter().position(|h| h == c).unwrap();
    assert_eq!(rows[0][at("place.lon")], "-3", "a number stays one");
    assert_eq!(rows[0][at("circuits")], "HB2; HB3");
    assert!(
        !exported(&desk.store, Kind::Structure)
            .trim_end()
            .contains("line\nsecond")
    );
}

#[test]
fn every_kind_of_the_demo_comes_back_without_a_change() {
    let dir = tempfile::tempdir().unwrap();
    let path = dir.path().join("demo.polecard");
    polecard::work::demo::install(&path, polecard::calendar::Clock::Fixed(now())).unwrap();
    let mut desk = Desk::new();
    desk.store = Store::open(&path, Access::Write).unwrap();
    let head = desk.store.head().unwrap();
    let mut rows = 0;
    for kind in Kind::ALL {
        let text = exported(&desk.store, *kind);
        assert_eq!(text, exported(&desk.store, *kind), "the same each time");
        if desk.store.count(*kind).unwrap() == 0 {
            continue;
        }
        // Once through a spreadsheet, which quotes as it likes.
        let (heading, cells) = table(&text);
        let r = desk.back(written(&heading, &cells), None);
        assert_eq!(
            (r.refused, changes(&r)),
            (0, 0),
            "{kind}: {:?}",
            r.refusals.first()
        );
        rows += r.rows;
    }
    assert!(rows > 500, "{rows}");
    assert_eq!(desk.store.head().unwrap(), head);
}

#[test]
fn an_export_taken_into_an_empty_register_gives_the_same_export() {
    let mut desk = Desk::new();
    desk.yaml(UNITS);
    let mut other = Desk::new();
    for kind in [Kind::Unit, Kind::Structure] {
        let text = exported(&desk.store, kind);
        let r = other.back(&text, None);
        assert_eq!(r.refused, 0, "{:?}", r.refusals);
        let again = other.back(&text, None);
        assert_eq!(
            (again.refused, changes(&again)),
            (0, 0),
            "{:?}",
            again.refusals
        );
        let cut = |text: &str| -> Vec<Vec<String>> {
            let (_, mut rows) = table(text);
            rows.iter_mut().for_each(|r| drop(r.pop()));
            rows
        };
        assert_eq!(cut(&exported(&other.store, kind)), cut(&text));
    }
}

/// Row, column, text.
type Cell<'a> = (usize, &'a str, &'a str);

/// Puts words into cells of an export.
fn with(text: &str, edits: &[Cell<'_>]) -> Vec<u8> {
    let (heading, mut rows) = table(text);
    for (row, column, new) in edits {
        let at = heading.iter().position(|h| h == column).unwrap();
        rows[*row][at] = (*new).to_string();
    }
    written(&heading, &rows)
}

/// An export, and a register in which somebody corrects two fields after it.
fn corrected_since() -> (Desk, String) {
    let mut desk = Desk::new();
    desk.yaml(UNITS);
    let text = exported(&desk.store, Kind::Unit);
    let set = ["note=moved to the gate post", "nameplate.max_kv=17"];
    desk.edit("7-20931", &set).unwrap();
    (desk, text)
}

#[test]
fn only_the_edited_cells_count() {
    let (mut desk, text) = corrected_since();
    let edited = with(
        &text,
        &[
            (0, "nameplate.interrupting_amps", "6000"),
            (
                0,
                "deployments",
                r#"[{"at": "HB2-RC-15", "slot": "ABC", "from": "2026-01-02"}]"#,
            ),
            (1, "nameplate.coil_amps", "100"),
            (1, "nameplate.coil_amps.standing", ""),
        ],
    );
    let r = desk.back(&edited, None);
    assert_eq!(r.refused, 0, "{:?}", r.refusals);
    let fields: Vec<&str> = r.edits.iter().filter_map(|e| e.field.as_deref()).collect();
    assert_eq!(
        fields,
        [
            "nameplate.interrupting_amps",
            "deployments",
            "nameplate.coil_amps"
        ]
    );
    let unit = desk.json("7-20931");
    assert_eq!(
        unit["note"], "moved to the gate post",
        "what the row does not say stays"
    );
    assert_eq!(
        unit["nameplate"]["interrupting_amps"]["standing"],
        "assumed"
    );
    assert_eq!(changes(&desk.back(&edited, None)), 0, "once is enough");
}

#[test]
fn a_correction_since_the_export_is_decided_by_somebody() {
    let (mut desk, text) = corrected_since();
    let against = with(&text, &[(0, "note", "painted")]);
    let r = desk.back(&against, None);
    assert_eq!(r.refused, 1);
    assert_eq!(r.refusals[0].because, Because::Conflict);
    assert!(
        r.refusals[0].reason.contains("moved to the gate post"),
        "{:?}",
        r.refusals
    );
    assert!(r.refusals[0].reason.contains("the file says painted"));
    let c = &r.conflicts[0];
    assert_eq!(
        (c.line, c.field.as_str(), c.changed_by.as_deref()),
        (2, "note", Some("hb"))
    );
    let r = desk.back(&against, Some(polecard::exchange::Take::Record));
    assert_eq!((r.refused, changes(&r)), (0, 0));
    let r = desk.back(&against, Some(polecard::exchange::Take::File));
    assert_eq!((r.refused, changes(&r)), (0, 1));
    assert_eq!(desk.json("7-20931")["note"], "painted");
}

#[test]
fn what_an_edited_export_may_not_do_is_refused_with_the_reason() {
    let mut desk = Desk::new();
    desk.yaml(UNITS);
    let text = exported(&desk.store, Kind::Unit);
    let cases: [(&[Cell<'_>], &str); 7] = [
        (&[(0, "unit", "7-20999")], "polecard edit"),
        (&[(0, "nameplate.bil_kv", "110")], "still says unknown"),
        (&[(0, "nameplate.coil_amps", "many")], "is not a number"),
        (
            &[(0, "nameplate.coil_amps.on", "2206-01-01")],
            "check the year",
        ),
        (&[(0, "class", "boat")], "boat"),
        (&[(0, "id", "nonsense")], "column id"),
        (
            &[(0, "deployments", "[{at: P1, form: 2018-01-01}]")],
            "form",
        ),
    ];
    for (edits, why) in cases {
        let r = desk.back(with(&text, edits), None);
        assert_eq!((r.refused, changes(&r)), (1, 0), "{edits:?}");
        assert!(
            r.refusals[0].reason.contains(why),
            "{edits:?}: {:?}",
            r.refusals
        );
    }
    // A blank erases nothing; unknown is a value.
    let r = desk.back(
        with(&text, &[(0, "note", ""), (0, "nameplate.model", "")]),
        None,
    );
    assert_eq!((r.refused, changes(&r)), (0, 0));
    let r = desk.back(
        with(&text, &[(0, "nameplate.coil_amps.standing", "unknown")]),
        None,
    );
    assert_eq!((r.refused, changes(&r)), (0, 1), "{:?}", r.refusals);
    assert_eq!(desk.json("7-20931")["nameplate"]["coil_amps"], "unknown");
    // The same record twice.
    let (heading, mut rows) = table(&text);
    rows.push(rows[1].clone());
    let r = desk.back(written(&heading, &rows), None);
    assert_eq!(r.refusals[0].because, Because::Duplicate);
}

#[test]
fn other_files_need_a_map_and_get_one_proposed() {
    let mut desk = Desk::new();
    let csv = desk.file(
        "poles.csv",
        "Pole Number,Street,Latitude,Class,Owner colour,Circuit\n40-1,Tannery Rd,12.5,3,green,HB2\n",
    );
    let options = polecard::work::import::CsvOptions {
        map: None,
        ..desk.options(&csv, &csv, true)
    };
    let failed =
        polecard::work::import::from_csv(Some(&mut desk.store), &options, "hb", now(), &mut |_| {});
    assert!(failed.unwrap_err().to_string().contains("maps --suggest"));
    let text = polecard::work::maps::suggest(&csv, None).unwrap();
    for line in [
        "kind: structure",
        "  structure: \"Pole Number\"",
        "  place.road: \"Street\"",
        "  pole.class: \"Class\"",
        "  feeder: \"Circuit\"",
        "#   \"Owner colour\"",
    ] {
        assert!(text.contains(line), "{line} in\n{text}");
    }
    // Mended where it says so, it works.
    assert!(text.contains("also needs kind"), "{text}");
    let map = desk.file(
        "poles.yaml",
        text.replace("fields:\n", "fields:\n  kind: {constant: pole}\n"),
    );
    assert_eq!(changes(&desk.run(&csv, &map, true)), 1);
    assert_eq!(desk.json("40-1")["pole"]["class"], "3");
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(300))]

    #[test]
    fn a_neutral_cell_never_runs_and_reads_back(cell in "['=+@\\-\t\r]{0,3}[ -~é0-9.]{0,8}") {
        let safe = neutral(&cell);
        let number = safe.parse::<f64>().is_ok();
        prop_assert!(number || !safe.starts_with(['=', '+', '-', '@', '\t', '\r']), "{safe:?}");
        prop_assert_eq!(original(&safe), cell.as_str());
        prop_assert_eq!(neutral(&safe).len() - safe.len(), usize::from(safe.starts_with('\'') && original(&safe) != safe));
    }
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(24))]

    /// Any text in a note and a road comes through a spreadsheet unharmed, and
    /// an edit beside it is the only one.
    #[test]
    fn any_text_comes_through(note in "[ -~é\n\t;'\"=]{1,24}", road in "[ -~]{1,12}") {
        let mut desk = Desk::new();
        let doc = serde_json::json!({"structure": "40-118", "kind": "pole", "note": note, "place": {"road": road}});
        desk.yaml(&format!("--- {doc}\n"));
        let text = exported(&desk.store, Kind::Structure);
        let (heading, rows) = table(&text);
        prop_assert_eq!(rows.len(), 1);
        let r = desk.back(written(&heading, &rows), None);
        prop_assert_eq!((r.refused, changes(&r)), (0, 0), "{:?}", r.refusals);
        let r = desk.back(with(&text, &[(0, "kind", "pad")]), None);
        let fields: Vec<_> = r.edits.iter().filter_map(|e| e.field.clone()).collect();
        prop_assert_eq!(fields, ["kind"]);
        prop_assert_eq!(&desk.json("40-118")["note"], &serde_json::Value::from(note));
    }
}
