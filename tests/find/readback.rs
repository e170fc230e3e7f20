//! What was heard back, held against the record that is meant.

use polecard::present::Style;
use polecard::present::find::read_back_lines;
use polecard::store::Store;
use polecard::work::find::How;
use polecard::work::readback::{ReadBack, Verdict, read_back};
use polecard::work::{FailureKind, resolve};

use super::{names, register};

fn back(store: &Store, id: &str, heard: &str) -> ReadBack {
    read_back(store, &resolve(store, id).unwrap(), heard).unwrap()
}

#[test]
fn what_is_read_back_is_a_match_only_when_it_is_this_record() {
    let (_dir, store) = register();
    for (id, heard, want) in [
        ("40-181", "40-181", Verdict::Match),
        ("40-181", "four zero dash one eight one", Verdict::Match),
        ("40-181", "four zero one eighty one", Verdict::Match),
        ("40-118", "tannery road weir gate", Verdict::Match),
        ("40-118", "Tannery Rd, the weir gate", Verdict::Match),
        ("40-118", "40-118 tannery road", Verdict::Match),
        ("40-118", "T-5512", Verdict::Match),
        (
            "HB2-RC-14",
            "hotel bravo two romeo charlie one four",
            Verdict::Match,
        ),
        (
            "HB2-RC-14",
            "recloser, tannery road, weir gate",
            Verdict::Match,
        ),
        ("41-018", "77 weir lane", Verdict::Match),
        // Another pole once had this number: ask for more.
        ("40-118", "40-118", Verdict::Unclear),
        ("40-118", "tannery road", Verdict::Unclear),
        ("40-118", "40-181", Verdict::Mismatch),
        ("40-118", "40-118 kiln lane", Verdict::Mismatch),
        ("40-118", "kiln lane", Verdict::Mismatch),
        ("40-300", "12-340", Verdict::Mismatch),
        (
            "HB2-RC-14",
            "hotel bravo two romeo charlie forty",
            Verdict::Mismatch,
        ),
    ] {
        let got = back(&store, id, heard);
        assert_eq!(got.verdict, want, "{id} heard as {heard}: {got:#?}");
    }
}

#[test]
fn a_mismatch_names_the_mistake_and_the_record_that_it_would_be() {
    let (_dir, store) = register();
    let got = back(&store, "40-118", "four zero dash one eight one");
    assert_eq!(got.read_as.as_deref(), Some("40-181"));
    assert_eq!(got.differences[0].mistake.as_deref(), Some("swapped"));
    assert_eq!(
        got.differences[0].words,
        "letter or digit 4: 18 was heard as 81 (swapped)"
    );
    assert_eq!(names(&got.others), ["40-181"]);
    assert_eq!(got.others[0].how, How::Exact);
    assert_eq!(got.say, "four zero dash one one eight");
    let got = back(&store, "HB2-RC-14", "hotel bravo two romeo charlie forty");
    assert_eq!(got.differences[0].mistake.as_deref(), Some("misheard"));
    assert_eq!(names(&got.others), ["HB2-RC-40"]);
    let got = back(&store, "40-181", "40-171");
    assert!(got.others.iter().all(|m| m.how == How::Neighbour));
    let style = Style {
        width: 60,
        ascii: true,
    };
    let lines = read_back_lines(&got, style);
    assert!(lines[0].plain().starts_with("MISMATCH"));
    assert!(lines.iter().all(|l| l.width() <= 60));
    let nothing = read_back(&store, &resolve(&store, "40-181").unwrap(), " - ").unwrap_err();
    assert_eq!(nothing.kind, FailureKind::Usage);
}
