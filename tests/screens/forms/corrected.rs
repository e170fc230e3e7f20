//! The correction form by its keys.

use super::*;

#[test]
fn a_value_is_corrected_with_who_read_it_and_why() {
    let dir = hand_made();
    let path = register(&dir);
    let mut rig = Rig::new(Rc::clone(&dir), 80, 24);
    rig.keys("5-70112<enter>k");
    for _ in 0..60 {
        let text = rig.text();
        let marked = text.lines().find(|l| l.starts_with("> ")).unwrap();
        if marked.contains("BIL") {
            break;
        }
        rig.keys("j");
    }
    rig.keys("<enter>900000<enter>");
    assert!(rig.text().contains("refused"), "{}", rig.text());
    rig.keys("<ctrl-u>110<enter>");
    assert!(rig.text().contains("-> 110"), "{}", rig.text());
    // The reason is open at once: what is typed is its text.
    rig.keys("w<enter><enter>");
    assert!(rig.text().contains("needs a reason"), "{}", rig.text());
    rig.keys("wplate read at the pole<enter><enter>");
    assert!(
        rig.text().contains("from what it was read"),
        "{}",
        rig.text()
    );
    rig.keys("1");
    insta::assert_snapshot!("correct-reasons-80x24", rig.shot());
    rig.keys("<enter>");
    assert!(
        rig.text().contains("written: nameplate.bil_kv"),
        "{}",
        rig.text()
    );
    let store = Store::open(&path, Access::Read).unwrap();
    let hit = store.named("5-70112").unwrap().remove(0);
    let record = store.by_row(hit.rec).unwrap().unwrap().record.to_value();
    let bil = &record["nameplate"]["bil_kv"];
    assert_eq!(
        (&bil["value"], &bil["by"], &bil["from"]),
        (&110.into(), &"lw".into(), &"plate".into())
    );
    assert_eq!(drafts(&dir), 0);
}

#[test]
fn a_raised_rating_asks_for_a_second_person() {
    let mut rig = Rig::new(hand_made(), 80, 24);
    rig.keys("5-70112<enter>k");
    while !rig
        .text()
        .lines()
        .any(|l| l.starts_with("> ") && l.contains(" coil "))
    {
        rig.keys("j");
    }
    rig.keys("140<enter>wwplate read<enter>f1<enter>");
    let text = rig.text();
    assert!(text.contains("second person"), "{text}");
    assert!(
        text.lines()
            .any(|l| l.starts_with("> ") && l.contains("second person")),
        "the mark goes to it: {text}"
    );
    rig.keys("smk<enter><enter>");
    assert!(
        rig.text().contains("written: nameplate.coil_amps"),
        "{}",
        rig.text()
    );
}

#[test]
fn two_people_on_one_field_both_show_and_the_later_chooses() {
    for (key, note) in [("t", "nest on the arm"), ("w", "hive on the arm")] {
        let dir = hand_made();
        let path = register(&dir);
        let mut rig = Rig::new(Rc::clone(&dir), 80, 24);
        rig.keys("KS1-RC-2<enter>k");
        while !rig.text().lines().any(|l| l.starts_with(">   note")) {
            rig.keys("j");
        }
        rig.keys("<enter>hive on the arm<enter>");
        edit(&path, "KS1-RC-2", "note", "nest on the arm");
        rig.keys("wwseen from the road<enter><enter>");
        let text = rig.text();
        assert!(text.contains("record now nest on the arm"), "{text}");
        assert!(text.contains("hive on the arm"), "{text}");
        rig.keys(key);
        if key == "w" {
            rig.keys("<enter>");
        }
        let store = Store::open(&path, Access::Read).unwrap();
        let hit = store.named("KS1-RC-2").unwrap().remove(0);
        let record = store.by_row(hit.rec).unwrap().unwrap().record.to_value();
        assert_eq!(record["note"], note, "{}", rig.text());
    }
}

#[test]
fn a_blank_never_erases_and_erasing_is_a_key_of_its_own() {
    let dir = hand_made();
    let mut rig = Rig::new(Rc::clone(&dir), 80, 24);
    rig.keys("30-103<enter>k");
    while !rig.text().lines().any(|l| l.starts_with(">   place.near")) {
        rig.keys("j");
    }
    rig.keys("<enter><ctrl-u><enter>w");
    assert!(
        rig.text().contains("nothing is changed yet"),
        "{}",
        rig.text()
    );
    rig.keys("p");
    while !rig.text().lines().any(|l| l.starts_with(">   place.near")) {
        rig.keys("p");
    }
    rig.keys("x");
    assert!(rig.text().contains("ERASED"), "{}", rig.text());
}
