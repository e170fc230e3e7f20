//! Numbering schemes: readings worked out by hand, and facts from outside.

use std::time::Instant;

use polecard::domain::code::{
    AssumptionKind, Decoder, Kind, Reading, compose, decode, exact, fold, spoken_to_text,
};

use polecard::exchange::scheme::parse_scheme;

use crate::code_properties::schemes;

fn first(input: &str) -> Reading {
    decode(schemes(), input)
        .into_iter()
        .next()
        .expect("a reading")
}

#[test]
fn an_id_as_written_says_what_each_part_is() {
    let reading = first("HB2-RC-14");
    assert_eq!(reading.kind, Kind::Position);
    assert_eq!(reading.pattern, "position");
    assert_eq!(reading.field("class"), Some("RC"));
    let class = reading.fields.iter().find(|f| f.field == "class").unwrap();
    assert_eq!(class.meaning.as_deref(), Some("recloser"));
    let parts: Vec<(&str, Option<&str>)> = reading
        .spans
        .iter()
        .map(|s| (&"HB2-RC-14"[s.range.clone()], s.field.as_deref()))
        .collect();
    assert_eq!(
        parts,
        [
            ("HB", Some("station")),
            ("2", Some("feeder")),
            ("-", None),
            ("RC", Some("class")),
            ("-", None),
            ("14", Some("number")),
        ]
    );
}

#[test]
fn the_likely_reading_comes_first() {
    let cases = [
        ("hotel bravo two romeo charlie fourteen", "HB2-RC-14"),
        ("hb2 rc 14", "HB2-RC-14"),
        ("HB2\u{2014}Rc\u{2014}14.", "HB2-RC-14"),
        ("forty dash one hundred and eighteen", "40-118"),
        ("4O-ll8", "40-118"),
        ("7-2O93I", "7-20931"),
        ("HB2-RRC-14", "HB2-RC-14"),
        ("HB2-CR-14", "HB2-RC-14"),
        ("tarn/51g-3", "TARN/51G-3"),
        ("tango alpha romeo november slash seven niner", "TARN/79"),
        ("KD4417-2093/L.K1", "KD4417-2093/L.K1"),
    ];
    for (input, want) in cases {
        let got = first(input);
        // CR is no class: the nearest is RC, swapped.
        let want = if want == "HB2-CR-14" {
            "HB2-RC-14"
        } else {
            want
        };
        assert_eq!(got.name, want, "{input}: {:?}", got.assumed);
    }
}

#[test]
fn a_code_reads_under_every_pattern_that_can_hold_it() {
    // A function number 21, or function 2 with ordinal 1: the dash decides.
    let readings = decode(schemes(), "TARN/2-1");
    assert_eq!(readings[0].field("function"), Some("2"));
    assert_eq!(readings[0].field("ordinal"), Some("1"));
    assert!(readings[0].assumed.is_empty());
    assert!(readings.iter().any(|r| r.name == "TARN/21"));
    let kinds: Vec<Kind> = decode(schemes(), "4118").iter().map(|r| r.kind).collect();
    assert_eq!(kinds[0], Kind::Order);
    assert!(kinds.contains(&Kind::Structure));
}

#[test]
fn a_failing_check_is_said_and_repairs_that_hold_come_before() {
    // By hand: 310477428 has, from the right and every other one doubled,
    // 7 + 2 + 8 + 7 + 5 + 4 + 0 + 1 + 6 = 40, so the check is 0.
    let good = first("310477428-0");
    assert!(good.assumed.is_empty());
    let readings = decode(schemes(), "310477428-1");
    let as_typed = readings
        .iter()
        .position(|r| r.name == "310477428-1")
        .unwrap();
    let failing = &readings[as_typed];
    assert!(
        failing
            .assumed
            .iter()
            .any(|a| a.kind == AssumptionKind::CheckFails)
    );
    let mended = readings
        .iter()
        .position(|r| r.name == "310477428-0")
        .unwrap();
    assert!(mended < as_typed);
    for reading in readings.iter().filter(|r| r.name != "310477428-1") {
        assert!(
            reading
                .assumed
                .iter()
                .all(|a| a.kind != AssumptionKind::CheckFails)
        );
    }
}

#[test]
fn mod_10_catches_all_but_swaps_of_0_and_9() {
    // A known property of the mod 10 rule, measured before on every four-digit
    // number: every wrong digit and every swap is caught, but 09 for 90.
    let schemes = schemes();
    let carrow = schemes.iter().find(|s| s.scheme == "carrow").unwrap();
    let unit = carrow.pattern("unit").unwrap();
    let id = compose(carrow, "unit", &[("number", "310490428")]).unwrap();
    let digits: Vec<char> = fold(&id).chars().collect();
    let whole = |d: &[char]| {
        let text: String = d.iter().collect();
        format!("{}-{}", &text[..9], &text[9..])
    };
    let fits = |d: &[char]| exact(unit, &whole(d)).is_some();
    assert!(fits(&digits));
    for at in 0..digits.len() {
        for wrong in ('0'..='9').filter(|c| *c != digits[at]) {
            let mut other = digits.clone();
            other[at] = wrong;
            assert!(!fits(&other));
        }
        if at + 1 < digits.len() && digits[at] != digits[at + 1] {
            let mut other = digits.clone();
            other.swap(at, at + 1);
            let blind = [digits[at], digits[at + 1]]
                .iter()
                .all(|c| "09".contains(*c));
            assert_eq!(fits(&other), blind, "{}", whole(&other));
        }
    }
}

#[test]
fn compose_refuses_what_does_not_fit() {
    let schemes = schemes();
    let hollin = &schemes[0];
    let said = |pattern: &str, fields: &[(&str, &str)]| {
        compose(hollin, pattern, fields).unwrap_err().to_string()
    };
    assert!(said("pole", &[]).contains("has no pattern \"pole\"; it has structure, position"));
    assert!(said("structure", &[("sheet", "4")]).contains("does not fit the field \"sheet\""));
    assert!(said("structure", &[("sheet", "40")]).contains("needs the field \"number\""));
    assert!(said("structure", &[("road", "40")]).contains("no field \"road\""));
    let carrow = schemes.iter().find(|s| s.scheme == "carrow").unwrap();
    let wrong = compose(carrow, "unit", &[("number", "310477428"), ("check", "5")]);
    assert!(wrong.unwrap_err().to_string().contains("must be '0'"));
}

#[test]
fn the_function_numbers_mean_what_the_standard_list_says() {
    // IEEE C37.2 function numbers: 51, 52, 79, 89, 90 (trade list).
    let schemes = schemes();
    let tarn = schemes.iter().find(|s| s.scheme == "tarn").unwrap();
    let device = tarn.pattern("device").unwrap();
    let fields = device.fields();
    let function = fields
        .iter()
        .find(|e| e.field() == Some("function"))
        .unwrap();
    let expected = [
        ("27", "undervoltage"),
        ("50", "instantaneous overcurrent"),
        ("51", "time overcurrent"),
        ("52", "circuit breaker"),
        ("59", "overvoltage"),
        ("67", "directional overcurrent"),
        ("79", "reclosing"),
        ("86", "lockout"),
        ("89", "line switch"),
        ("90", "regulating"),
    ];
    for (number, meaning) in expected {
        assert_eq!(function.meaning(number), Some(meaning));
    }
}

#[test]
fn the_spelling_alphabet_is_whole() {
    // ICAO Annex 10 volume II, from memory.
    let words = "alfa bravo charlie delta echo foxtrot golf hotel india juliett kilo lima mike \
                 november oscar papa quebec romeo sierra tango uniform victor whiskey x-ray yankee zulu";
    let heard = spoken_to_text(words);
    assert_eq!(heard.as_deref(), Some("ABCDEFGHIJKLMNOPQRSTUVWXYZ"));
    let digits = "zero wun too tree fower fife six seven ait niner";
    assert_eq!(spoken_to_text(digits).as_deref(), Some("0123456789"));
}

#[test]
fn the_demo_register_holds_the_shipped_scheme() {
    let path = concat!(env!("CARGO_MANIFEST_DIR"), "/data/demo/schemes.yaml");
    let text = std::fs::read_to_string(path).unwrap();
    let demo = parse_scheme("schemes.yaml", &text).unwrap();
    assert_eq!(demo, schemes()[0]);
}

#[test]
fn a_decode_is_quick() {
    // A smoke test against falling off a cliff, far above what is usual: the
    // figure that counts is taken in a release build.
    let schemes = schemes();
    let decoder = Decoder::new(schemes);
    let inputs = [
        "HB2-RC-14",
        "40-118",
        "forty one eighteen",
        "hotel bravo two romeo charlie fourteen",
        "KD4417-2093/L.K1",
        "TARN/51G-3",
        "twenty one thirty one forty one fifty one sixty one",
    ];
    for input in inputs {
        let start = Instant::now();
        let readings = decoder.decode(input).len();
        let spent = start.elapsed();
        println!("{spent:?}: {readings} readings of {input}");
        assert!(readings > 0);
        assert!(spent.as_millis() < 500, "{input}: {spent:?}");
    }
}
