//! A card and a history on another day, by keys.

use super::fixture::hand_made;
use super::reports::command_of;
use super::rig::{Rig, demo};

/// The oil of 7-20931 was seen below the mark only in September 2026.
#[test]
fn an_investigator_reads_what_the_register_said_last_march() {
    for (width, height) in [(80, 24), (50, 20), (40, 12)] {
        let mut rig = Rig::new(demo(), width, height);
        rig.keys("7-20931<enter>");
        let now = rig.text();
        assert!(now.contains("oil below"), "{now}");
        command_of(&mut rig, "on another day");
        assert!(rig.text().contains("day >"), "{}", rig.text());
        rig.keys("20260331<enter>");
        let asked = rig.text();
        assert!(asked.contains("what the register said on"), "{asked}");
        rig.keys("1");
        let then = rig.text();
        assert!(then.contains("AS OF 31 Mar 2026"), "{then}");
        assert!(!then.contains("oil below"), "{then}");
        rig.keys("<backspace>");
        assert_eq!(rig.text(), now, "back on the card of today");
    }
}

#[test]
fn a_history_on_another_day_ends_there_and_a_wrong_day_is_refused() {
    let mut rig = Rig::new(demo(), 80, 24);
    rig.keys("7-20931<enter>y");
    rig.keys("dmarch<enter>");
    assert!(rig.text().contains("refused"), "{}", rig.text());
    rig.keys("<ctrl-u>20990101<enter>");
    assert!(rig.text().contains("lies ahead"), "{}", rig.text());
    rig.keys("<ctrl-u>202603<enter>2");
    let text = rig.text();
    assert!(text.contains("EFFECTIVE 31 Mar 2026"), "{text}");
    assert!(text.contains("History of"), "{text}");
    rig.keys("<backspace>");
    assert!(rig.text().contains("history of 7-20931"), "{}", rig.text());
}

#[test]
fn a_record_that_was_not_there_yet_says_so() {
    let mut rig = Rig::new(hand_made(), 80, 24);
    rig.keys("KS1-RC-2<enter>");
    command_of(&mut rig, "on another day");
    rig.keys("19900101<enter>1");
    let text = rig.text();
    assert!(text.contains("was not in the register"), "{text}");
    rig.keys("<backspace><backspace>");
    assert!(rig.text().contains("day >"), "{}", rig.text());
}
