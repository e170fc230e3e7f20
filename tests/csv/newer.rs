//! Rows that contradict a correction newer than the file; maps that the
//! register keeps; plates that are odd or cannot be.

use polecard::domain::asset::Kind;
use polecard::exchange::{Because, CsvImported, Take};
use polecard::work::edit::{Asked, edit};
use polecard::work::import::{CsvOptions, from_csv};
use polecard::work::maps::maps;

use super::{Desk, changes, now};

const MAP: &str = "map: city-poles\nkind: structure\nfields:\n  structure: number\n  kind: {constant: pole}\n  place.road: road\n  note: note\n";

impl Desk {
    fn again(&mut self, text: &str, how: impl Fn(&mut CsvOptions)) -> CsvImported {
        let csv = self.file("poles.csv", text);
        let map = self.file("poles.yaml", MAP);
        let mut options = self.options(&csv, &map, true);
        options.refused = Some(self.dir.path().join("poles.refused.csv"));
        let _ = std::fs::remove_file(self.dir.path().join("poles.refused.csv"));
        how(&mut options);
        from_csv(Some(&mut self.store), &options, "hb", now(), &mut |_| {})
            .unwrap()
            .imported
    }

    fn correct(&mut self, set: &str) {
        let asked = Asked {
            set: vec![set.to_string()],
            why: "seen at the pole".to_string(),
            ..Asked::default()
        };
        edit(&mut self.store, "40-1", &asked, "js", now()).unwrap();
    }
}

#[test]
fn a_newer_correction_by_hand_is_not_covered_unasked() {
    let mut desk = Desk::new();
    let first = "number,road,note\n40-1,Tannery Rd,old\n40-2,Weir Ln,old\n";
    assert_eq!(changes(&desk.again(first, |_| {})), 2);
    // The same source again: its own words give way to its newer ones.
    let second = first.replace("old", "second");
    let r = desk.again(&second, |_| {});
    assert_eq!((r.refused, changes(&r)), (0, 2));
    desk.correct("place.road=Kiln Rd");
    // A delivery that repeats the old road is refused; the other row goes on.
    let third = second.replace("second", "third");
    let r = desk.again(&third, |_| {});
    assert_eq!((r.refused, changes(&r)), (1, 1));
    assert_eq!(r.refusals[0].because, Because::Conflict);
    for part in [
        "place.road",
        "Kiln Rd",
        "js",
        "seen at the pole",
        "the file says Tannery Rd",
    ] {
        assert!(
            r.refusals[0].reason.contains(part),
            "{part}: {:?}",
            r.refusals
        );
    }
    let c = &r.conflicts[0];
    assert_eq!(
        (c.line, c.record.as_str(), c.on_record.as_str()),
        (2, "40-1", Some("Kiln Rd"))
    );
    assert_eq!(desk.json("40-1")["place"]["road"], "Kiln Rd");
    assert_eq!(
        desk.json("40-1")["note"],
        "second",
        "a row is taken whole or not"
    );
    // Decided for the record: the rest of the row is taken.
    let r = desk.again(&third, |o| o.take = Some(Take::Record));
    assert_eq!((r.refused, r.fields_edited, r.conflicts.len()), (0, 1, 1));
    assert_eq!(desk.json("40-1")["place"]["road"], "Kiln Rd");
    assert_eq!(desk.json("40-1")["note"], "third");
    desk.correct("place.road=Oast Rd");
    let r = desk.again(&third, |o| o.take = Some(Take::File));
    assert_eq!((r.refused, changes(&r)), (0, 1));
    assert_eq!(desk.json("40-1")["place"]["road"], "Tannery Rd");
}

#[test]
fn a_file_that_says_its_date_is_held_against_that() {
    let mut desk = Desk::new();
    let text = "number,road,note\n40-1,Tannery Rd,old\n";
    desk.again(text, |_| {});
    desk.correct("note=by hand on the third");
    let newer = text.replace("old", "new");
    for (day, refused) in [("2026-10-02", 1), ("2026-10-03", 1), ("2026-10-04", 0)] {
        let r = desk.again(&newer, |o| {
            o.dated = Some(day.parse().unwrap());
            o.apply = false;
        });
        assert_eq!(r.refused, refused, "{day}: {:?}", r.refusals);
    }
}

#[test]
fn a_map_is_kept_listed_and_used_by_its_name() {
    let mut desk = Desk::new();
    let text = "number,road,note\n40-1,Tannery Rd,old\n";
    desk.again(text, |o| {
        o.apply = false;
        o.save_map = Some("poles".into());
    });
    assert!(
        maps(&desk.store, None).unwrap().maps.is_empty(),
        "shown only"
    );
    let r = desk.again(text, |o| o.save_map = Some("poles".into()));
    assert_eq!(r.map, "poles");
    let kept = maps(&desk.store, None).unwrap().maps;
    assert_eq!(kept.len(), 1);
    assert_eq!(
        (kept[0].map.as_str(), &kept[0].kinds[..]),
        ("poles", &[Kind::Structure][..])
    );
    assert_eq!(
        (kept[0].last_used, kept[0].fault.as_ref()),
        (Some(now()), None)
    );
    let newer = text.replace("old", "new");
    let by_name = |o: &mut CsvOptions| o.map = Some("poles".into());
    assert_eq!(changes(&desk.again(&newer, by_name)), 1);
    assert_eq!(changes(&desk.again(&newer, by_name)), 0);
    // What is printed is a map again.
    let file = desk.file("printed.yaml", &kept[0].text);
    let csv = desk.file("poles.csv", newer);
    assert_eq!(changes(&desk.run(&csv, &file, true)), 0);
    let csv = desk.file("poles.csv", text);
    let failed = desk.fails(&csv, std::path::Path::new("plies"));
    assert!(failed.contains("the register has poles"), "{failed}");
}

#[test]
fn a_plate_that_cannot_be_is_refused_and_an_odd_one_is_said() {
    let mut desk = Desk::new();
    let map = desk.file("m.yaml", "map: units\nkind: unit\nfields:\n  unit: unit\n  class: class\n  nameplate.kva: kva\n  nameplate.coil_amps: coil\n  nameplate.min_trip_amps: trip\n  nameplate.mcov_kv: mcov\n  nameplate.duty_kv: duty\n  nameplate.peak_amps: peak\n  nameplate.interrupting_amps: sym\n");
    let csv = desk.file(
        "u.csv",
        "unit,class,kva,coil,trip,mcov,duty,peak,sym\n\
         1,transformer,37.5,,,,,,\n\
         2,transformer,38,,,,,,\n\
         3,recloser,,100,200,,,,\n\
         4,recloser,,100,90,,,,\n\
         5,arrester,,,,8.4,10,,\n\
         6,arrester,,,,10,8.4,,\n\
         7,recloser,,,,,,10000,4000\n\
         8,recloser,,,,,,3000,4000\n\
         9,recloser,,,,,,,40000\n",
    );
    let r = desk.run(&csv, &map, true);
    assert_eq!(
        super::lines(&r),
        [5, 7, 9].map(|l| (l, Because::Impossible))
    );
    for (refusal, rule) in
        r.refusals
            .iter()
            .zip(["trip-under-continuous", "mcov-over-duty", "peak-under-rms"])
    {
        assert!(refusal.reason.contains(rule), "{refusal:?}");
    }
    assert_eq!(
        r.odd,
        std::collections::BTreeMap::from([("kva-off-list", 1), ("interrupting-too-high", 1)])
    );
    assert!(
        r.notes.iter().any(|n| n.contains("kva-off-list")),
        "{:?}",
        r.notes
    );
    // A record that was so before may be corrected elsewhere.
    desk.yaml("---\nunit: 2\nclass: transformer\nnameplate: {kva: 38}\nnote: painted\n");
}
