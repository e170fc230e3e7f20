//! What is due, by key script.

use super::at_all_sizes;
use super::fixture::hand_made;
use super::rig::{Rig, demo};

#[test]
fn due_of_a_record_at_four_sizes() {
    at_all_sizes("due", "KS1-RC-2<enter>u");
}

#[test]
fn from_the_card_to_the_reason_the_order_and_back() {
    let mut rig = Rig::new(hand_made(), 80, 24);
    rig.keys("KS1-RC-2<enter>u");
    let list = rig.text();
    assert!(list.contains("due by"), "{list}");
    assert!(
        list.contains("never done, so far as the record tells"),
        "{list}"
    );
    assert!(list.contains("source:"), "why stands below: {list}");
    rig.keys("jo");
    assert!(rig.text().contains("order "), "{}", rig.text());
    assert!(rig.text().contains(" opened:"), "{}", rig.text());
    rig.keys("<enter>");
    assert!(
        rig.text().contains("KS1-RC-2  OIL RECLOSER"),
        "{}",
        rig.text()
    );
    rig.keys("g");
    assert!(
        rig.text().contains("order"),
        "the card shows it: {}",
        rig.text()
    );
    rig.keys("<backspace><backspace>");
    assert!(
        rig.text().contains("KS1-RC-2  OIL RECLOSER"),
        "{}",
        rig.text()
    );
}

#[test]
fn the_whole_register_by_feeder_kind_and_day() {
    let mut rig = Rig::new(demo(), 80, 24);
    rig.keys("<enter>");
    assert!(rig.text().contains("all due"), "{}", rig.text());
    let mut rig = Rig::new(hand_made(), 120, 40);
    rig.keys("KS1-RC-2<enter>m");
    let row = rig.text().lines().filter(|l| l.contains("all due")).count();
    assert_eq!(row, 1, "{}", rig.text());
    rig.keys("<backspace>u");
    let of_one = rig.text();
    rig.keys("k");
    assert!(rig.text().contains(", detailed"), "{}", rig.text());
    rig.keys("d");
    assert_ne!(rig.text(), of_one);
    rig.keys("l");
    assert!(rig.text().contains("no feeder to choose"), "{}", rig.text());
}
