//! Bad rows, bad files and bad maps.

use std::path::Path;

use polecard::domain::asset::Kind;
use polecard::exchange::Because;
use proptest::prelude::*;

use super::{Desk, MAP, added, changes, lines};

/// Each kind of bad row, with its physical line.
fn bad_rows() -> Vec<u8> {
    let mut text = b"\xef\xbb\xbfnumber,road,length,remark\r\n".to_vec();
    text.extend(b"1,Weir Ln,40 ft,ok\r\n"); // 2
    text.extend(b"2,\"Weir\r\nLn\",40,two lines\r\n"); // 3 and 4
    text.extend(b"3,Weir Ln\r\n"); // 5 short
    text.extend(b"4,Weir Ln,40,x,y\r\n"); // 6 long
    text.extend(b"5,Caf\xe9 Ln,40,\r\n"); // 7 encoding
    text.extend(b"6,Weir\0 Ln,40,\r\n"); // 8 NUL
    text.extend(b"7,Weir Ln,40,\x1b[31mred\r\n"); // 9 control, in a column unused
    text.extend(b"8,Weir Ln,900,\r\n"); // 10 absurd
    text.extend(b"9,Weir Ln,forty,\r\n"); // 11 no number
    text.extend(b"1,Weir Ln,45,\r\n"); // 12 again
    text.extend(b",Weir Ln,45,\r\n"); // 13 no name
    text.extend(b"10,\"Weir Ln,45,\r\n"); // 14 open quote
    text.extend(b"11,\"Weir\" Ln,45,\r\n"); // 15 behind a quote
    text.extend(b"12,"); // 16 huge
    text.extend(std::iter::repeat_n(b'x', 5_000));
    text.extend(b",45,\r\n13,");
    text.extend(std::iter::repeat_n(b'y', 400_000)); // 17 longer than a row may be
    text.extend("\r\n1\u{202e}4,Weir Ln,45,\r\n".as_bytes()); // 18 hidden mark in a name
    text.extend(b"\r\n15,\"6\"\" pipe\",45,last"); // 20, after an empty line
    text
}

#[test]
fn every_bad_row_is_refused_alone_with_its_physical_line() {
    let mut desk = Desk::new();
    let map = desk.file("m.yaml", MAP);
    let csv = desk.file("bad.csv", bad_rows());
    let r = desk.run(&csv, &map, true);
    assert_eq!(
        lines(&r),
        [
            (5, Because::Columns),
            (6, Because::Columns),
            (7, Because::Encoding),
            (8, Because::Control),
            (9, Because::Control),
            (10, Because::Value),
            (11, Because::Value),
            (12, Because::Duplicate),
            (13, Because::Blank),
            (14, Because::Quotes),
            (15, Because::Quotes),
            (16, Because::TooLong),
            (17, Because::TooLong),
            (18, Because::Control),
        ]
    );
    assert_eq!((r.rows, added(&r, Kind::Structure)), (17, 3));
    assert_eq!(desk.json("15")["place"]["road"], "6\" pipe");
    assert_eq!(desk.json("2")["place"]["road"], "Weir\r\nLn");
    // Unmended, each is refused again, and its row stands as it was.
    let kept = r.refused_file.unwrap();
    let again = desk.run(&kept, &map, false);
    assert_eq!(
        (again.rows, again.refused),
        (14, 13),
        "{:?}",
        again.refusals
    );
    let duplicate = again.records[&Kind::Structure];
    assert_eq!(
        duplicate.edited, 1,
        "the second row 1, once the first is on record"
    );
    let text = std::fs::read(&kept).unwrap();
    assert!(
        text.windows(7).any(|w| w == b"Caf\xe9 Ln"),
        "bytes as they were"
    );
}

/// What stands in the map, what is put there, where the complaint is placed
/// and what it says.
const SLIPS: [[&str; 4]; 10] = [
    ["key:", "kye:", "m.yaml:3: ", "did you mean \"key\""],
    [
        "place.road",
        "place.raod",
        "m.yaml:7: ",
        "did you mean \"road\"",
    ],
    [
        "structure\nkey",
        "strucure\nkey",
        "m.yaml:2: ",
        "did you mean \"structure\"",
    ],
    [
        "unit: ft",
        "unot: ft",
        "m.yaml:8: ",
        "did you mean \"unit\"",
    ],
    [
        "road: road",
        "road: raod",
        "a.csv:1: ",
        "did you mean \"road\"",
    ],
    [
        "{constant: pole}",
        "{constant: pole, column: road}",
        "m.yaml:6: ",
        "exactly one",
    ],
    [
        "road: road",
        "road: {column: road, must_match: digit}",
        "a.csv:1: ",
        "did you mean \"digits\"",
    ],
    [
        "road: road",
        "road: {template: \"{road\"}",
        "m.yaml:7: ",
        "not closed",
    ],
    ["most: 150", "most: .inf", "m.yaml:8: ", "finite"],
    [
        "map: t",
        "map: t\nencoding: latin-9",
        "m.yaml:2: ",
        "latin-1",
    ],
];

#[test]
fn a_wrong_map_or_file_is_named_with_its_line_and_nothing_is_written() {
    let mut desk = Desk::new();
    let csv = desk.file("a.csv", "number,road,length\n1,Weir Ln,40\n");
    for [old, new, place, hint] in SLIPS {
        assert!(MAP.contains(old));
        let map = desk.file("m.yaml", MAP.replace(old, new));
        let said = desk.fails(&csv, &map);
        assert!(
            said.contains(place) && said.contains(hint),
            "{place} {hint}: {said}"
        );
    }
    let map = desk.file("m.yaml", MAP);
    for (bytes, hint) in [
        (&b"\xff\xfen\0"[..], "UTF-16"),
        (b"", "empty"),
        (b"PK\x03\x04\0\0,\xff", "CSV"),
        (b"number,number,road,length\n", "twice"),
    ] {
        let bad = desk.file("bad.csv", bytes);
        let said = desk.fails(&bad, &map);
        assert!(said.contains(hint), "{hint}: {said}");
    }
    assert!(
        desk.fails(Path::new("no/such.csv"), &map)
            .contains("no/such.csv")
    );
    assert_eq!(desk.store.head().unwrap().seq, 0);
}

fn any_row() -> impl Strategy<Value = Vec<u8>> {
    let good = (1..40_u32, "[a-z ]{0,6}").prop_map(|(n, t)| format!("{n},{t},40\n").into_bytes());
    let quoted = (1..40_u32, "[a-z\",\n\r]{0,6}")
        .prop_map(|(n, t)| format!("{n},\"{}\",\n", t.replace('"', "\"\"")).into_bytes());
    let junk = prop::collection::vec(
        prop_oneof![
            Just(b'"'),
            Just(b','),
            Just(b'\n'),
            Just(b'\r'),
            Just(b'7'),
            any::<u8>()
        ],
        0..24,
    );
    prop_oneof![3 => good, 2 => quoted, 2 => junk]
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(48))]

    /// Whatever the bytes: each row is taken or refused; a second run of the
    /// file changes nothing; of the refused rows, unmended, only those named
    /// twice can be taken.
    #[test]
    fn any_file_is_taken_or_refused_row_by_row(rows in prop::collection::vec(any_row(), 0..12)) {
        let mut desk = Desk::new();
        let map = desk.file("m.yaml", MAP);
        let mut text = b"number,road,length\n".to_vec();
        text.extend(rows.concat());
        let csv = desk.file("a.csv", &text);
        let first = desk.run(&csv, &map, true);
        prop_assert_eq!(first.rows, first.refused + changes(&first));
        prop_assert_eq!(first.reasons.values().sum::<usize>(), first.refused);
        prop_assert!(first.refusals.windows(2).all(|w| w[0].line < w[1].line));
        let second = desk.run(&csv, &map, true);
        prop_assert_eq!(changes(&second), 0);
        prop_assert_eq!(first.refused, second.refused);
        if let Some(kept) = first.refused_file {
            let twice = first.reasons.get(&Because::Duplicate).copied().unwrap_or(0);
            let again = desk.run(&kept, &map, false);
            prop_assert_eq!(again.rows, first.refused);
            prop_assert!(again.rows - again.refused <= twice, "{:?}", again);
        }
    }
}
