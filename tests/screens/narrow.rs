//! Footers on a narrow screen: the keys of the screen itself, and where the
//! rest stands. Leaving by backspace is on the list of keys.

use super::rig::{Rig, demo};

/// Keys to a screen, and what its footer names at 50 and at 40 columns.
const FOOTERS: &[(&str, &[&str], &[&str])] = &[
    ("HB2-RC-14<enter>i2", &["enter done"], &["enter done"]),
    (
        "HB2-RC-14<enter>u",
        &["enter open", "o order", "d date"],
        &["enter open", "o order"],
    ),
    (
        "HB2-RC-14<enter>w",
        &["enter open", "n new", "a give"],
        &["enter open", "n new"],
    ),
    (
        "HB2-RC-14<enter>k",
        &["enter type", "c as is", "w done"],
        &["enter type", "w done"],
    ),
    (
        "HB2-RC-14<enter>y",
        &["enter open", "t take back"],
        &["t take back"],
    ),
    ("HB2-RC-14<enter>v", &[], &[]),
    (
        "<enter>jjj<enter>",
        &["enter open", "r read by me"],
        &["r read by me"],
    ),
    ("<enter>jjjj<enter>", &[], &[]),
];

#[test]
fn the_keys_that_matter_and_where_the_rest_stands() {
    for (width, height) in [(50, 20), (40, 12)] {
        for (keys, wide, slim) in FOOTERS {
            let mut rig = Rig::new(demo(), width, height);
            rig.keys(keys);
            let text = rig.text();
            let footer = text.lines().last().unwrap_or_default().to_string();
            let wanted = if width == 50 { wide } else { slim };
            for hint in wanted.iter().chain(&["? keys"]) {
                assert!(footer.contains(hint), "{width} {keys}: {hint}\n{text}");
            }
        }
    }
}

#[test]
fn a_wrong_key_is_told_in_a_few_words() {
    let mut rig = Rig::new(demo(), 40, 12);
    rig.keys("HB2-RC-14<enter>yo");
    assert!(
        rig.text().contains("? keys") && rig.text().contains("is not for this"),
        "{}",
        rig.text()
    );
}
