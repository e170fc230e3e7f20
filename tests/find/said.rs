//! Words of the trade, defects in words, and numbers of which the end is typed.
//! What crews say for what: common practice, no source.

use polecard::work::find::{FindReport, How, find};

use super::ground;

fn asked(query: &str) -> FindReport {
    find(&ground::demo(), query, 40, &|| false).unwrap()
}

#[test]
fn what_ends_with_all_that_was_typed_comes_before_what_holds_a_part() {
    for query in ["rc 14", "rc14", "rc-14", "RC 14"] {
        let report = asked(query);
        let first = &report.matches[0];
        assert_eq!(first.name, "HB2-RC-14", "{query}");
        assert_eq!(first.how, How::Suffix, "{query}");
    }
    let report = asked("rc 14 tannery");
    assert_eq!(report.matches[0].name, "HB2-RC-14");
    // A field as a whole: RC-2 is no end of RC-12.
    let report = asked("rc 2");
    let ends: Vec<&str> = report
        .matches
        .iter()
        .take_while(|m| m.how == How::Suffix)
        .map(|m| m.name.as_str())
        .collect();
    assert!(!ends.is_empty());
    assert!(ends.iter().all(|n| n.ends_with("-RC-2")), "{ends:?}");
}

#[test]
fn a_word_of_the_trade_finds_the_class_that_it_stands_for() {
    let cases: [(&str, &[&str]); 11] = [
        ("fuse", &["cutout"]),
        ("fus", &["cutout"]),
        ("ocr", &["recloser"]),
        ("lightning arrester", &["arrester"]),
        ("surge arrester", &["arrester"]),
        ("can", &["transformer", "capacitor"]),
        ("cap bank", &["capacitor"]),
        ("xfmr", &["transformer"]),
        ("disconnect", &["switch", "cutout"]),
        ("generator", &["generation"]),
        ("gang switch", &["switch"]),
    ];
    for (query, classes) in cases {
        let report = asked(query);
        let of_class = report
            .matches
            .iter()
            .filter_map(|m| m.also.class.as_deref())
            .filter(|c| classes.contains(c))
            .count();
        assert!(of_class > 0, "{query}: {:?}", report.matches.first());
        assert!(report.found(), "{query} is a guess");
    }
    let report = asked("fuse tannery");
    assert_eq!(report.matches[0].name, "HB2-FC-1");
    assert!(
        asked("street fuse of nowhere")
            .matches
            .iter()
            .all(|m| m.is_guess())
    );
}

#[test]
fn a_defect_in_words_finds_what_has_it_open_and_says_when_it_was_seen() {
    for query in ["oil low", "low oil", "oil below mark"] {
        let report = asked(query);
        let with: Vec<_> = report
            .matches
            .iter()
            .filter(|m| {
                m.because
                    .as_deref()
                    .is_some_and(|b| b.starts_with("oil below mark, seen "))
            })
            .collect();
        assert!(with.iter().any(|m| m.name == "7-20931"), "{query}");
        assert_eq!(report.matches[0].id, with[0].id, "{query}");
    }
    let report = asked("oil low tannery");
    assert_eq!(report.matches[0].name, "7-20931");
    assert!(
        !asked("oil low kiln")
            .matches
            .iter()
            .any(|m| m.name == "7-20931")
    );
}

#[test]
fn a_state_out_of_the_ordinary_and_an_order_are_found_by_their_words() {
    let report = asked("bypassed");
    assert!(
        report
            .matches
            .iter()
            .any(|m| m.kind == polecard::domain::asset::Kind::Position)
    );
    assert_eq!(asked("2231").matches[0].name, "2231");
    assert_eq!(asked("order 2231").matches[0].name, "2231");
}
