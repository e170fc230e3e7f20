//! CSV in through maps: what is taken, what is refused and why, and that a
//! second run changes nothing.

mod bad;
mod inspections;
mod newer;
mod out;
mod shell;

use std::collections::BTreeMap;
use std::path::{Path, PathBuf};

use polecard::calendar::Moment;
use polecard::domain::asset::{Kind, Record, Standing};
use polecard::exchange::{Because, CsvImported, CsvMap, Source, import};
use polecard::store::Store;
use polecard::work::find::{How, find};
use polecard::work::import::{CsvOptions, from_csv};
use tempfile::TempDir;

fn now() -> Moment {
    "2026-10-03T14:10:00-06:00".parse().unwrap()
}

fn shipped(name: &str) -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR"))
        .join("data")
        .join(name)
}

/// A folder with a register, CSV files and maps.
struct Desk {
    dir: TempDir,
    store: Store,
}

impl Desk {
    fn new() -> Self {
        let dir = tempfile::tempdir().unwrap();
        let store = Store::create(&dir.path().join("r.polecard")).unwrap();
        Desk { dir, store }
    }

    fn file(&self, name: &str, bytes: impl AsRef<[u8]>) -> PathBuf {
        let path = self.dir.path().join(name);
        std::fs::write(&path, bytes).unwrap();
        path
    }

    fn options(&self, csv: &Path, map: &Path, apply: bool) -> CsvOptions {
        CsvOptions {
            csv: csv.to_path_buf(),
            map: Some(map.to_path_buf()),
            dated: None,
            take: None,
            second: None,
            save_map: None,
            refused: csv
                .starts_with(env!("CARGO_MANIFEST_DIR"))
                .then(|| self.dir.path().join("refused.csv")),
            apply,
        }
    }

    fn run(&mut self, csv: &Path, map: &Path, apply: bool) -> CsvImported {
        let options = self.options(csv, map, apply);
        from_csv(Some(&mut self.store), &options, "hb", now(), &mut |_| {})
            .unwrap()
            .imported
    }

    fn fails(&mut self, csv: &Path, map: &Path) -> String {
        let options = self.options(csv, map, true);
        from_csv(Some(&mut self.store), &options, "hb", now(), &mut |_| {})
            .unwrap_err()
            .to_string()
    }

    fn yaml(&mut self, text: &str) {
        let path = self.file("by-hand.yaml", text);
        let source = Source::at(&path).unwrap();
        import(&mut self.store, &source, "hb", now(), true).unwrap();
    }

    fn record(&self, name: &str) -> Record {
        let hits = self.store.named(name).unwrap();
        let exact = hits.iter().find(|h| h.text == name).unwrap();
        self.store.by_row(exact.rec).unwrap().unwrap().record
    }

    fn json(&self, name: &str) -> serde_json::Value {
        let mut value = self.record(name).to_value();
        value.as_object_mut().unwrap().remove("id");
        value
    }
}

fn added(r: &CsvImported, kind: Kind) -> usize {
    r.records.get(&kind).map_or(0, |t| t.added)
}

fn changes(r: &CsvImported) -> usize {
    r.records.values().map(|t| t.added + t.edited).sum()
}

fn lines(r: &CsvImported) -> Vec<(usize, Because)> {
    r.refusals.iter().map(|f| (f.line, f.because)).collect()
}

#[test]
fn the_shipped_poles_are_shown_first_then_taken_then_nothing_changes() {
    let mut desk = Desk::new();
    let (csv, map) = (shipped("csv/new-poles.csv"), shipped("maps/new-poles.yaml"));
    let before = desk.store.head().unwrap();
    let shown = desk.run(&csv, &map, false);
    assert_eq!((shown.rows, shown.refused), (12, 3));
    assert_eq!(
        lines(&shown),
        [
            (6, Because::Value),
            (10, Because::Value),
            (13, Because::Duplicate)
        ]
    );
    assert_eq!(shown.samples.len(), 5);
    assert!(shown.samples[0].starts_with("---\nstructure: 52-151\nkind: pole\n"));
    assert_eq!(desk.store.head().unwrap(), before);
    let taken = desk.run(&csv, &map, true);
    assert_eq!(shown.records, taken.records);
    assert_eq!(added(&taken, Kind::Structure), 9);
    assert_eq!(desk.store.head().unwrap().seq, 1, "one operation");
    let again = desk.run(&csv, &map, true);
    assert_eq!((changes(&again), again.operation), (0, None));
    assert_eq!(again.records[&Kind::Structure].unchanged, 9);
    assert_eq!(desk.store.head().unwrap().seq, 1);
}

#[test]
fn refused_rows_are_mended_in_their_own_file_and_run_again() {
    let mut desk = Desk::new();
    let map = shipped("maps/new-poles.yaml");
    let text = std::fs::read_to_string(shipped("csv/new-poles.csv")).unwrap();
    let csv = desk.file("poles.csv", text);
    let first = desk.run(&csv, &map, true);
    let refused = first.refused_file.unwrap();
    assert_eq!(refused.file_name().unwrap(), "poles.refused.csv");
    let kept = std::fs::read_to_string(&refused).unwrap();
    assert!(
        kept.lines()
            .next()
            .unwrap()
            .ends_with(",set_year,refused_because")
    );
    let mended = kept
        .replace(",4500,", ",45,")
        .replace(",112.541160,", ",12.541160,")
        .replace("52-158,", "52-162,");
    std::fs::write(&refused, &mended).unwrap();
    let second = desk.run(&refused, &map, true);
    assert_eq!((second.refused, added(&second, Kind::Structure)), (0, 3));
    // The mended file is not written over by a further run of the first.
    let third = desk.run(&csv, &map, false);
    assert_eq!(
        third.refused_file.unwrap().file_name().unwrap(),
        "poles.refused-2.csv"
    );
    assert_eq!(std::fs::read_to_string(&refused).unwrap(), mended);
    let fourth = desk.run(&csv, &map, false);
    assert_eq!(
        fourth.refused_file.unwrap().file_name().unwrap(),
        "poles.refused-2.csv"
    );
}

/// Numbered rows become structures under a scheme of their own; blank ones
/// and keys of another kind are refused row by row.
fn streetlights(csv: &Path, numbered: usize, blank: usize, other: usize, probe: &str) {
    let mut desk = Desk::new();
    let map = shipped("maps/streetlight-poles.yaml");
    let mut options = desk.options(csv, &map, true);
    options.refused = Some(desk.dir.path().join("refused.csv"));
    let report = from_csv(Some(&mut desk.store), &options, "hb", now(), &mut |_| {})
        .unwrap()
        .imported;
    assert_eq!(report.rows, numbered + blank + other);
    assert_eq!(added(&report, Kind::Structure), numbered);
    assert_eq!(
        report.reasons,
        BTreeMap::from([(Because::Blank, blank), (Because::Unfit, other)])
    );
    assert_eq!(desk.store.schemes().unwrap()[0].scheme, "streetlight");
    let Record::Structure(pole) = desk.record(probe) else {
        panic!("a structure");
    };
    assert!(pole.place.lat.is_some() && pole.place.lon.is_some());
    let found = find(&desk.store, probe, 5, &|| false).unwrap();
    assert_eq!(
        (found.matches[0].name.as_str(), found.matches[0].how),
        (probe, How::Exact)
    );
    let again = from_csv(Some(&mut desk.store), &options, "hb", now(), &mut |_| {}).unwrap();
    assert_eq!(changes(&again.imported), 0);
}

#[test]
fn street_lights_of_the_committed_sample() {
    streetlights(&shipped("csv/streetlight-sample.csv"), 5, 1, 1, "20466");
}

/// The counts are those of the published file, taken with another program.
#[test]
fn street_lights_of_the_open_data_file() {
    let Some(path) = std::env::var_os("POLECARD_STREETLIGHT_CSV") else {
        return;
    };
    streetlights(Path::new(&path), 4_008, 301, 247, "1");
}

const REGISTER: &str = "\
row,id,feeder,seq,kind,material,height_m,class,set_year,lat,lon,road,location,device,phase,rated_kv,rated,interrupting_a,unit,last_inspected,condition,notes
structure,QX1-0001,QX1,0,pole,wood,12.2,,1988,39.1,-88.1,2143 Orchard Ave,east side,,,,,,,2022-09-01,fair,
structure,QX1-0001A,QX1,1,pad,n/a,0,,2015,39.2,-88.2,51 Weir Ln,at gate,,,,,,,2015-09-02,reject,
structure,QX1-0002,QX1,2,pole,steel,13.7,,1999,39.3,-88.3,9 Weir Ln,corner,,,,,,,2019-01-28,reject,
position,K/QX1-0001.1,QX1,0,,,,,,39.1,-88.1,2143 Orchard Ave,east side,recloser,ABC,15 kV,560,12000,U0100004A,2020-02-03,,
position,T/QX1-0001A.1,QX1,1,,,,,,39.2,-88.2,51 Weir Ln,at gate,transformer,A,7.2 kV,25,0,U0100010G,2021-04-05,,
";
const UNITS: &str = "\
unit,device,rated_kv,rated,interrupting_a,position,in_service
U0100004A,recloser,15 kV,560,12000,K/QX1-0001.1,2012-09-13
U0100010G,transformer,7.2 kV,25,0,T/QX1-0001A.1,2006-09-15
";
const SPANS: &str = "\
from,to,phases,conductor,length_ft
QX1-0001,QX1-0001A,C,2 ACSR,180
QX1-0001,QX1-0002,ABC,336.4 ACSR,290
";
const SOURCES: &str = "\
feeder,kv_ll,fault_mva,x_over_r,x0_over_x1,peak_a,first_structure
QX1,13.2,210,11,0.9,170,QX1-0001
";

#[test]
fn a_flat_export_comes_in_through_four_maps() {
    let mut desk = Desk::new();
    let parts = [
        ("register", REGISTER),
        ("units", UNITS),
        ("spans", SPANS),
        ("sources", SOURCES),
    ];
    for pass in 0..2 {
        for (name, text) in parts {
            let csv = desk.file(&format!("{name}.csv"), text);
            let r = desk.run(&csv, &shipped(&format!("maps/generated-{name}.yaml")), true);
            assert_eq!(
                (r.refused, changes(&r) > 0),
                (0, pass == 0),
                "{name}: {:?}",
                r.refusals
            );
        }
    }
    let count = |k| desk.store.count(k).unwrap();
    assert_eq!(
        [Kind::Structure, Kind::Position, Kind::Entry].map(count),
        [3, 2, 5]
    );
    assert_eq!(
        [Kind::Unit, Kind::Span, Kind::Feeder, Kind::Source].map(count),
        [2, 2, 1, 1]
    );
    // 12.2 m over 0.3048 m/ft is 40.03 ft: a 40 ft pole.
    assert_eq!(
        desk.json("QX1-0001"),
        serde_json::json!({
            "structure": "QX1-0001", "kind": "pole", "feeder": "QX1",
            "place": {"road": "Orchard Ave", "house": "2143", "near": "east side",
                      "lat": 39.1, "lon": -88.1},
            "pole": {"material": "wood", "length_ft": 40, "set_year": 1988}
        })
    );
    let Record::Position(p) = desk.record("K/QX1-0001.1") else {
        panic!("a position");
    };
    assert_eq!(p.structure.as_deref(), Some("QX1-0001"));
    let Record::Unit(u) = desk.record("U0100010G") else {
        panic!("a unit");
    };
    assert_eq!(u.nameplate.number("kva"), Some(25.0));
    assert_eq!(u.nameplate.stated("kva").standing, Standing::Assumed);
    assert!(
        u.nameplate.get("interrupting_amps").is_none(),
        "0 is no rating"
    );
    assert_eq!(u.deployments[0].at, "T/QX1-0001A.1");
    let Record::Feeder(f) = desk.record("QX1") else {
        panic!("a feeder");
    };
    assert_eq!(f.source.as_deref(), Some("QX1 bus"));
}

const MAP: &str = "\
map: t
kind: structure
key: number
fields:
  structure: number
  kind: {constant: pole}
  place.road: road
  pole.length_ft: {column: length, unit: ft, most: 150}
";

#[test]
fn a_blank_never_erases_and_a_key_finds_its_record() {
    let mut desk = Desk::new();
    desk.yaml(
        "---\nstructure: 40-118\nkind: vault\nplace: {road: Tannery Rd, near: the gate}\nnote: dog\n",
    );
    // The file says nothing of the kind: enough for a pole on record.
    let map = desk.file(
        "m.yaml",
        "map: t\nkind: structure\nfields:\n  structure: n\n  place.road: road\n  place.near: near\n  note: note\n  owner: {column: owner, if_blank: us}\n",
    );
    let csv = desk.file(
        "a.csv",
        "n,road,near,note,owner\n40-118,Weir Ln,,N/A,\n40-119,Weir Ln,,,\n",
    );
    let r = desk.run(&csv, &map, true);
    assert_eq!(
        (r.fields_edited, r.edits[0].field.as_deref()),
        (1, Some("place.road"))
    );
    assert_eq!(
        desk.json("40-118"),
        serde_json::json!({"structure": "40-118", "kind": "vault",
            "place": {"road": "Weir Ln", "near": "the gate"}, "note": "dog"})
    );
    assert_eq!(lines(&r), [(3, Because::Blank)]);
    assert!(
        r.refusals[0].reason.contains("needs its kind"),
        "{}",
        r.refusals[0].reason
    );
}

#[test]
fn what_was_read_at_the_plate_is_not_covered_by_a_file() {
    let mut desk = Desk::new();
    desk.yaml(
        "---\nunit: U0100004A\nclass: recloser\nnameplate:\n  continuous_amps: {value: 400, by: hb, on: 2024-05-01, from: plate}\n  max_kv: {value: 15.5, standing: assumed, rule: by class}\ndeployments: [{at: K/QX1-0001.1, slot: ABC}]\n",
    );
    let csv = desk.file("units.csv", UNITS);
    let map = shipped("maps/generated-units.yaml");
    desk.run(&csv, &map, true);
    let Record::Unit(u) = desk.record("U0100004A") else {
        panic!("a unit");
    };
    assert_eq!(u.nameplate.number("continuous_amps"), Some(400.0));
    assert!(u.nameplate.stated("continuous_amps").is_known());
    assert_eq!(u.nameplate.number("max_kv"), Some(15.0));
    // The same plate, said to be known but by nobody: for a person to decide.
    let text = std::fs::read_to_string(&map).unwrap();
    let bold = desk.file(
        "bold.yaml",
        text.lines()
            .filter(|l| !l.starts_with("plates:"))
            .collect::<Vec<_>>()
            .join("\n"),
    );
    let r = desk.run(&csv, &bold, true);
    assert_eq!(lines(&r), [(2, Because::Conflict)]);
    assert!(r.refusals[0].reason.contains("continuous_amps"));
}

#[test]
fn a_unit_is_not_put_at_two_places() {
    let mut desk = Desk::new();
    desk.yaml(
        "---\nunit: U0100004A\nclass: recloser\ndeployments: [{at: K/QX1-0009.1, from: 2020-01-02}]\n",
    );
    let csv = desk.file("units.csv", UNITS);
    let r = desk.run(&csv, &shipped("maps/generated-units.yaml"), true);
    assert_eq!(lines(&r), [(2, Because::Conflict)]);
    assert!(r.refusals[0].reason.contains("K/QX1-0009.1"));
    assert_eq!(added(&r, Kind::Unit), 1, "the rest is kept");
}

#[test]
fn formulas_and_escapes_are_data() {
    let mut desk = Desk::new();
    let map = desk.file("m.yaml", MAP);
    let csv = desk.file(
        "a.csv",
        "number,road,length\n=1+1,\"=cmd|' /C calc'!A0\",\n+2,@SUM(A1),\n",
    );
    let r = desk.run(&csv, &map, true);
    assert_eq!(r.refused, 0);
    assert_eq!(desk.json("=1+1")["place"]["road"], "=cmd|' /C calc'!A0");
}

#[test]
fn old_encodings_and_other_delimiters_when_the_map_says_so() {
    let mut desk = Desk::new();
    let head = "encoding: windows-1252\ndelimiter: \";\"\n";
    let map = desk.file(
        "m.yaml",
        MAP.replace("kind: structure\n", &format!("kind: structure\n{head}")),
    );
    let csv = desk.file(
        "a.csv",
        b"number;road;length\n1;Caf\xe9 \x93Nord\x94;40\n2;\x81;40\n".as_slice(),
    );
    let r = desk.run(&csv, &map, true);
    assert_eq!(desk.json("1")["place"]["road"], "Café “Nord”");
    assert_eq!(lines(&r), [(3, Because::Encoding)]);
    let again = desk.run(&r.refused_file.unwrap(), &map, false);
    assert_eq!((again.rows, again.refused), (1, 1));
}

#[test]
fn a_file_without_a_heading_and_a_row_of_another_word() {
    let mut desk = Desk::new();
    let map = desk.file(
        "m.yaml",
        "map: t\ncolumns: [what, n, k]\nkind: {column: what, of: {S: structure}}\nrecords:\n  structure:\n    fields:\n      structure: {column: n, must_match: digits}\n      kind: {column: k, values: {P: pole}, otherwise: refuse}\n",
    );
    let csv = desk.file("a.csv", "S,1,p\nX,2,p\nS,3,tower of wood\n");
    let r = desk.run(&csv, &map, true);
    assert_eq!(added(&r, Kind::Structure), 1);
    assert_eq!(lines(&r), [(2, Because::Value), (3, Because::Value)]);
    let kept = r.refused_file.unwrap();
    let again = desk.run(&kept, &map, false);
    assert_eq!((again.rows, again.refused), (2, 2));
}

#[test]
fn every_shipped_map_reads() {
    let mut n = 0;
    for entry in std::fs::read_dir(shipped("maps")).unwrap() {
        let path = entry.unwrap().path();
        let map = CsvMap::read(&path).unwrap();
        assert_eq!(path.file_stem().unwrap().to_str().unwrap(), map.map);
        n += 1;
    }
    assert!(n >= 6);
}

#[test]
fn names_are_held_against_a_scheme_of_the_register() {
    let mut desk = Desk::new();
    let text = std::fs::read_to_string(shipped("schemes/hollin.yaml")).unwrap();
    desk.yaml(&text);
    let must = "structure: {column: number, must_match: hollin}";
    let map = desk.file("m.yaml", MAP.replace("structure: number", must));
    let csv = desk.file(
        "a.csv",
        "number,road,length\n61-201,Weir Ln,40\nHB2-RC-14,Weir Ln,40\n61201,Weir Ln,40\n",
    );
    let r = desk.run(&csv, &map, true);
    assert_eq!(lines(&r), [(3, Because::Unfit), (4, Because::Unfit)]);
    assert!(
        r.refusals[0]
            .reason
            .contains("no number of the scheme hollin")
    );
    // A scheme that a map brings is checked when the map is read.
    let text = MAP.replace("map: t\n", "map: t\nscheme: {scheme: x, patterns: []}\n");
    let map = desk.file("m.yaml", text);
    assert!(desk.fails(&csv, &map).contains("m.yaml:2: the scheme"));
}
