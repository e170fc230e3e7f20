//! Orders, notices and the briefing by key script.

use super::fixture::hand_made;
use super::rig::{Rig, demo};
use super::{SIZES, at_all_sizes};

#[test]
fn an_order_is_opened_given_and_closed_with_plain_keys() {
    let mut rig = Rig::new(hand_made(), 50, 20);
    rig.keys("30-104<enter>wn");
    rig.keys("restore the pole ground<enter>1<enter>");
    let text = rig.text();
    assert!(text.contains("order 1 opened"), "{text}");
    assert!(text.contains("urgent open"), "{text}");
    rig.keys("a<enter>");
    assert!(rig.text().contains("refused: to whom"), "{}", rig.text());
    rig.keys("ls<enter>");
    assert!(rig.text().contains("assigned"), "{}", rig.text());
    rig.keys("nrestore the pole ground<enter>2<enter>");
    assert!(rig.text().contains("open already"), "{}", rig.text());
    rig.keys("xrod driven<enter>");
    assert!(rig.text().contains("order 1 done"), "{}", rig.text());
    assert!(rig.text().contains("No such order"), "{}", rig.text());
    rig.keys("c");
    assert!(rig.text().contains("whenever") || rig.text().contains("urgent done"));
    rig.keys("rcut again<enter>");
    assert!(rig.text().contains("order 1 reopened"), "{}", rig.text());
    rig.keys("d");
    assert!(rig.text().contains("rod driven"), "{}", rig.text());
}

#[test]
fn a_day_that_is_none_is_refused_where_it_is_typed() {
    let mut rig = Rig::new(hand_made(), 80, 24);
    rig.keys("30-104<enter>wnrestore the ground<enter>12026-13-01<enter>");
    let text = rig.text();
    assert!(
        text.contains("refused") && text.contains("2026-13-01"),
        "{text}"
    );
    rig.keys("<backspace>");
    assert!(
        rig.text().contains("2026-13-0"),
        "what was typed is still there"
    );
}

#[test]
fn the_orders_and_the_empty_list() {
    at_all_sizes("orders-none", "30-104<enter>w");
    for (width, height) in SIZES {
        let mut rig = Rig::new(demo(), width, height);
        rig.keys("HB2-RC-14<enter>w");
        insta::assert_snapshot!(format!("orders-{width}x{height}"), rig.shot());
    }
}

#[test]
fn the_briefing() {
    for (width, height) in SIZES {
        let mut rig = Rig::new(demo(), width, height);
        rig.keys("HB2-RC-14<enter>b");
        insta::assert_snapshot!(format!("briefing-{width}x{height}"), rig.shot());
    }
}

#[test]
fn a_briefing_without_colour_in_ascii() {
    let mut rig = Rig::plain(demo(), 80, 24);
    rig.keys("HB2-RC-14<enter>b");
    assert!(!rig.has_colour());
    let text = rig.text();
    assert!(text.is_ascii() && text.contains("STOP"), "{text}");
}

#[test]
fn the_notices_and_that_one_was_read() {
    for (width, height) in SIZES {
        let dir = std::rc::Rc::new(super::rig::copy_of_demo());
        let mut rig = Rig::new(dir, width, height);
        // From the list of commands, as every command of the whole register.
        rig.keys("<enter>");
        for _ in 0..40 {
            let marked = rig
                .text()
                .lines()
                .any(|l| l.starts_with(">") && l.contains("notices"));
            if marked {
                break;
            }
            rig.keys("<down>");
        }
        rig.keys("<enter>");
        insta::assert_snapshot!(format!("notices-{width}x{height}"), rig.shot());
        rig.keys("r");
        assert!(rig.text().contains("read by"), "{}", rig.text());
        rig.keys("1");
        assert!(rig.text().contains("about"), "{}", rig.text());
    }
}
