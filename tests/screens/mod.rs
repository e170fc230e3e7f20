//! The screens by key script: what is typed, then the text of the screen and
//! a second grid with one letter a look.

mod altered;
mod due;
pub mod fixture;
mod forms;
mod narrow;
mod orders;
mod other_day;
mod phone;
mod reports;
pub mod rig;
mod times;

use fixture::hand_made;
use rig::{Rig, demo};

/// The four sizes that every screen must work at.
const SIZES: [(u16, u16); 4] = [(120, 40), (80, 24), (50, 20), (40, 12)];

fn at_all_sizes(name: &str, keys: &str) {
    for (width, height) in SIZES {
        let mut rig = Rig::new(hand_made(), width, height);
        rig.keys(keys);
        insta::assert_snapshot!(format!("{name}-{width}x{height}"), rig.shot());
    }
}

#[test]
fn the_first_screen() {
    at_all_sizes("first", "");
}

#[test]
fn matches_and_the_plate_of_the_marked_one() {
    at_all_sizes("matches", "KS1<down>");
}

#[test]
fn the_card() {
    at_all_sizes("card", "KS1-RC-2<enter>");
}

#[test]
fn the_check_form_and_a_refusal_at_the_field() {
    at_all_sizes("form", "KS1-RC-2<enter>cl99e9<enter>");
}

#[test]
fn the_verdicts() {
    at_all_sizes("verdicts", "KS1-RC-2<enter>c<enter>");
}

#[test]
fn read_back_match_and_mismatch() {
    at_all_sizes("mismatch", "KS1-RC-2<enter>rKS1-RC-3<enter>");
}

#[test]
fn help_and_the_list_of_commands() {
    at_all_sizes("help", "KS1-RC-2<enter>h");
    at_all_sizes("commands", "KS1-RC-2<enter>m");
}

#[test]
fn without_colour_and_in_ascii() {
    let mut rig = Rig::plain(hand_made(), 80, 24);
    rig.keys("KS1<enter>j");
    let shot = rig.shot();
    assert!(shot.is_ascii(), "{shot}");
    assert!(!rig.has_colour());
    insta::assert_snapshot!("plain-80x24", shot);
}

#[test]
fn the_marked_row_is_told_by_its_sign_and_by_its_weight() {
    let mut rig = Rig::new(hand_made(), 80, 24);
    rig.keys("KS1<down>");
    let text = rig.text();
    let marked: Vec<&str> = text.lines().filter(|l| l.starts_with('>')).collect();
    assert_eq!(marked.len(), 1, "{text}");
    assert!(rig.is_bold_at(marked[0].trim_start_matches(['>', ' '])));
}

#[test]
fn a_phone_reaches_everything_with_letters_digits_enter_and_backspace() {
    let mut rig = Rig::new(hand_made(), 50, 20);
    rig.keys("<enter>");
    assert!(rig.text().contains("commands for"), "{}", rig.text());
    rig.keys("h");
    assert!(
        rig.text().contains("keys in the find prompt"),
        "{}",
        rig.text()
    );
    rig.keys("<backspace>30-10<enter>");
    assert!(rig.text().contains(">1 "), "into the list: {}", rig.text());
    rig.keys("2");
    let second = rig.text();
    rig.keys("<backspace>");
    assert!(rig.text().contains(">2 "), "back in the list");
    rig.keys("<enter>");
    assert_eq!(rig.text(), second, "the row by its digit and by enter");
    rig.keys("<backspace>p<backspace>");
    assert!(
        rig.text().contains("find > 30-10"),
        "back at the prompt, unerased"
    );
    rig.keys("<enter>q");
    assert_eq!(rig.exit(), Some(0));
}

#[test]
fn capitals_and_dashes_of_a_phone_are_understood() {
    let mut rig = Rig::new(hand_made(), 80, 24);
    rig.keys("Ks1—rc—2<enter>C");
    assert!(rig.text().contains("check KS1-RC-2"), "{}", rig.text());
}

#[test]
fn one_step_back_never_destroys() {
    let mut rig = Rig::new(hand_made(), 80, 24);
    rig.keys("KS1-RC-2<enter>c2501<enter>");
    let form = rig.text();
    assert!(form.contains("2,501"), "{form}");
    rig.keys("<enter>");
    assert!(rig.text().contains("typed"), "{}", rig.text());
    rig.keys("<esc>");
    assert_eq!(rig.text(), form, "the form as it was");
    rig.keys("<esc><esc><esc><esc><esc>");
    assert!(rig.text().contains("find > KS1-RC-2"), "{}", rig.text());
}

#[test]
fn an_emptied_line_is_judged_by_what_is_on_record() {
    let mut rig = Rig::new(hand_made(), 80, 24);
    rig.keys("KS1-RC-2<enter>c5<enter>l<backspace><backspace>");
    let lines = rig.text();
    let load = lines.lines().find(|l| l.contains("load, A")).unwrap();
    assert!(load.contains("88 A"), "{load}");
    assert!(!load.contains(" 5 "), "{load}");
}

#[test]
fn an_absurd_value_is_refused_at_the_field_with_what_is_allowed() {
    for value in ["-5", "inf", "nan", "4,00", "9e9", "12 kV"] {
        let mut rig = Rig::new(hand_made(), 80, 24);
        rig.keys(&format!("KS1-RC-2<enter>cl{value}<enter>"));
        let text = rig.text();
        assert!(text.contains("refused"), "{value}: {text}");
        assert!(text.contains(value), "still there to be mended: {text}");
    }
}

#[test]
fn a_key_that_does_not_apply_says_why() {
    let mut rig = Rig::new(hand_made(), 80, 24);
    rig.keys("30-104<enter>c");
    let text = rig.text();
    assert!(text.contains("only a position"), "{text}");
    rig.keys("1");
    let text = rig.text();
    assert!(text.contains("open by digit"), "{text}");
}

#[test]
fn nothing_found_leads_to_how_the_number_reads() {
    let mut rig = Rig::new(demo(), 80, 24);
    rig.keys("HB2-ZZ-77777<enter>");
    assert!(rig.text().contains("reading of"), "{}", rig.text());
}

#[test]
fn typed_in_one_burst_with_enter_opens_the_card() {
    let mut rig = Rig::new(demo(), 80, 24);
    rig.burst("HB2-RC-14<enter>");
    assert!(rig.text().contains("OIL RECLOSER"), "{}", rig.text());
    let mut rig = Rig::new(demo(), 80, 24);
    rig.burst("HB2-RC<down><enter>");
    assert!(rig.text().contains("HB2-RC-14  OIL"), "{}", rig.text());
}

#[test]
fn after_a_long_search_the_preview_comes_with_the_matches() {
    let mut rig = Rig::new(demo(), 120, 40);
    rig.long_search("HB2-RC-14");
    assert!(rig.text().contains("OIL RECLOSER"), "{}", rig.text());
}

#[test]
fn a_card_notices_that_its_record_changed_and_says_when_it_was_read() {
    let register = rig::copy_of_demo();
    let path = register.path().join("register.polecard");
    let mut rig = Rig::on(&path, 80, 24);
    rig.keys("HB2-RC-14<enter>");
    assert!(rig.text().contains("read at 14:10"), "{}", rig.text());
    assert!(!rig.looks(), "nothing was written");
    rig::edit(&path, "HB2-RC-14", "note", "bird nest in the pothead");
    assert!(rig.looks(), "a change shows");
    let text = rig.text();
    assert!(text.contains("CHANGED since read at 14:10"), "{text}");
    rig.keys("a");
    assert!(!rig.text().contains("CHANGED"), "{}", rig.text());
    rig::edit(&path, "HB2-RC-15", "note", "elsewhere");
    assert!(!rig.looks(), "a change of another record draws nothing");
}

#[test]
fn too_small_a_window_says_so_and_recovers() {
    let mut rig = Rig::new(hand_made(), 80, 24);
    rig.keys("KS1-RC-2<enter>");
    let before = rig.text();
    for (width, height) in [(39, 12), (40, 11), (20, 5), (1, 1)] {
        rig.resize(width, height);
        if width >= 20 {
            assert!(rig.text().contains("Polecard needs"), "{width}x{height}");
        }
    }
    rig.resize(80, 24);
    assert_eq!(rig.text(), before);
}

#[test]
fn a_slow_link_lists_when_few_match_or_when_asked() {
    let mut rig = Rig::new(demo(), 50, 20);
    let rows = |rig: &Rig| rig.text().lines().filter(|l| l.contains(" pole, ")).count();
    rig.keys("40-11");
    assert_eq!(rows(&rig), 0, "{}", rig.text());
    assert!(rig.text().contains("match"), "{}", rig.text());
    rig.keys("8");
    assert_eq!(rows(&rig), 1, "{}", rig.text());
    rig.keys("<backspace><enter>");
    assert!((2..=9).contains(&rows(&rig)), "{}", rig.text());
}

#[test]
fn of_a_long_text_the_end_shows_with_the_caret_behind_it() {
    let mut rig = Rig::new(hand_made(), 40, 12);
    rig.keys("kilo sierra one dash romeo charlie dash two");
    let text = rig.text();
    let prompt = text.lines().next().unwrap();
    assert!(prompt.ends_with("charlie dash two"), "{prompt}");
    assert!(prompt.starts_with(" find > …"), "{prompt}");
    assert!(rig.shot().contains("caret 39,0"), "{}", rig.shot());
}

#[test]
fn enter_goes_into_the_list_even_before_it_would_show() {
    let mut rig = Rig::new(demo(), 50, 20);
    rig.keys("40<enter>");
    assert!(rig.text().contains(">1 "), "{}", rig.text());
}

#[test]
fn the_status_line_names_the_register_and_says_demo() {
    let mut rig = Rig::new(demo(), 80, 24);
    assert!(rig.text().contains("DEMO Hollin Valley Electric"));
    rig.keys("HB2-RC-14<enter>");
    assert!(rig.text().contains("DEMO Hollin Valley Electric"));
}

#[test]
fn no_size_makes_any_screen_fail() {
    let scripts = [
        "",
        "HB2-RC<down>",
        "HB2-RC-14<enter>",
        "HB2-RC-14<enter>c",
        "HB2-RC-14<enter>c<enter>e",
        "HB2-RC-14<enter>t",
        "HB2-RC-14<enter>n",
        "HB2-RC-14<enter>o",
        "HB2-RC-14<enter>d",
        "HB2-RC-14<enter>rx<enter>",
        "HB2-RC-14<enter>h",
        "HB2-RC-14<enter>m",
    ];
    for script in scripts {
        let mut rig = Rig::new(demo(), 80, 24);
        rig.keys(script);
        for width in (1..130).step_by(7) {
            for height in [1, 2, 3, 5, 11, 12, 13, 20, 41] {
                rig.resize(width, height);
            }
        }
    }
}

/// Characters of any kind, and keys, in any order: the screens always draw.
#[test]
fn any_keys_leave_the_screens_standing() {
    use proptest::prelude::*;
    let keys = prop::sample::select(vec![
        "<enter>",
        "<backspace>",
        "<esc>",
        "<down>",
        "<up>",
        "<tab>",
        "<pagedown>",
        "H",
        "2",
        "-",
        "r",
        "c",
        "t",
        "n",
        "o",
        "m",
        "h",
        "?",
        "j",
        "p",
        "v",
        "u",
        "e",
        "g",
        "s",
        "d",
        "a",
        "f",
        "l",
        "k",
        "x",
        "b",
        "1",
        "9",
        "é",
        "中",
    ]);
    proptest!(ProptestConfig::with_cases(24), |(script in prop::collection::vec(keys, 1..40))| {
        let mut rig = Rig::new(hand_made(), 60, 16);
        rig.keys(&script.concat());
        let _ = rig.text();
    });
}

#[test]
fn a_record_that_lacks_a_word_typed_is_not_opened_at_once() {
    let mut rig = Rig::new(hand_made(), 80, 24);
    rig.keys("KS1 9999999");
    let listed = rig.text();
    assert!(listed.contains("not 9999999 on record"), "{listed}");
    rig.keys("<enter>");
    assert!(
        rig.text().starts_with(" find > KS1 9999999"),
        "{}",
        rig.text()
    );
}

#[test]
fn enter_never_opens_another_thing_than_was_typed() {
    let mut rig = Rig::new(demo(), 80, 24);
    rig.keys("9999999<enter>");
    assert!(rig.text().starts_with(" find > 9999999"), "{}", rig.text());
    rig.resize(50, 20);
    assert!(rig.text().contains("other name\n"), "{}", rig.text());
    assert!(rig.text().contains("     999999)"), "{}", rig.text());
    let mut rig = Rig::new(hand_made(), 40, 12);
    rig.keys("5-70113<enter>");
    assert!(
        rig.text().contains(">1 "),
        "a guess is listed: {}",
        rig.text()
    );
    rig.keys("<enter>");
    let text = rig.text().replace("\n       ", " ");
    let said = "you typed 5-70113, which is not on record; this is 5-70112";
    assert!(text.contains(said), "{text}");
    let first_stop = rig.text().lines().position(|l| l.contains("STOP"));
    assert!(first_stop.is_none_or(|y| y < 4), "{}", rig.text());
}

#[test]
fn words_that_join_to_the_whole_name_open_its_card() {
    let mut rig = Rig::new(demo(), 80, 24);
    rig.keys("hb2 rc 14<enter>");
    assert!(rig.text().contains("HB2-RC-14  OIL"), "{}", rig.text());
}

#[test]
fn the_radio_line_stands_whole_above_the_keys() {
    for (width, height, below) in [(50, 20, "bksp back"), (40, 12, "? keys")] {
        let mut rig = Rig::new(demo(), width, height);
        rig.keys("HB2-RC<enter>js");
        let text = rig.text();
        let flat = text.split_whitespace().collect::<Vec<_>>().join(" ");
        assert!(flat.contains("say demo: oil recloser"), "{text}");
        assert!(
            flat.contains("Rd, the weir gate") || flat.contains("Road, the weir gate"),
            "{text}"
        );
        assert!(text.lines().last().unwrap().contains(below), "{text}");
    }
}

#[test]
fn what_hangs_on_a_structure_comes_before_its_path() {
    let mut rig = Rig::new(demo(), 80, 60);
    rig.keys("40-118<enter>g");
    let text = rig.text();
    let at = |what: &str| text.find(what).unwrap_or_else(|| panic!("{what}: {text}"));
    assert!(at("LOOK") < at("on this pole"), "{text}");
    assert!(at("on this pole") < at("\n path"), "{text}");
    assert!(text.matches("  beyond ").count() <= 6, "{text}");
}

#[test]
fn a_value_too_long_for_its_column_shows_its_end_and_stays_apart() {
    let mut rig = Rig::new(hand_made(), 80, 24);
    rig.keys("KS1-RC-2<enter>cl12345678901234");
    let text = rig.text();
    let load = text.lines().find(|l| l.contains("load, A")).unwrap();
    assert!(load.contains("…5678901234 88 A"), "{load}");
    rig.keys("x");
    assert!(
        rig.text().contains("refused: only digits"),
        "{}",
        rig.text()
    );
    rig.keys("<backspace>");
    assert!(!rig.text().contains("refused"), "{}", rig.text());
    rig.keys("<ctrl-u><enter>");
    assert!(!rig.text().contains("1234"), "{}", rig.text());
}

#[test]
fn a_phone_leaves_read_back_with_enter_or_backspace() {
    for key in ["<enter>", "<backspace>"] {
        let mut rig = Rig::new(hand_made(), 50, 20);
        rig.keys("KS1-RC-2<enter>");
        let card = rig.text();
        rig.keys("rx");
        let bar = rig.text().lines().last().unwrap().to_string();
        let hint = "enter compare  backspace erase, back when empty";
        assert!(bar.contains(hint), "{bar}");
        rig.keys(&format!("<backspace>{key}"));
        assert_eq!(rig.text(), card);
    }
}

#[test]
fn a_line_and_a_word_can_be_cleared() {
    let mut rig = Rig::new(hand_made(), 80, 24);
    rig.keys("harbour chandlery<ctrl-w>");
    assert!(
        rig.text().starts_with(" find > harbour\n"),
        "{}",
        rig.text()
    );
    rig.keys("<ctrl-u>");
    assert!(rig.text().starts_with(" find >\n"), "{}", rig.text());
    assert!(rig.text().contains("half will do"), "{}", rig.text());
}

#[test]
fn with_room_the_preview_cuts_nothing() {
    let mut rig = Rig::new(demo(), 120, 40);
    for name in ["HB2-RC-14", "40-118", "HB2-RC-15"] {
        rig.keys(&format!("{name}<down>"));
        let text = rig.text();
        assert!(!text.contains("cut short"), "{text}");
        assert!(!text.contains("open the card"), "{text}");
        rig.keys("<ctrl-u>");
    }
}

#[test]
fn the_list_of_commands_cuts_no_sentence() {
    let mut rig = Rig::new(demo(), 80, 24);
    rig.keys("HB2-RC-14<enter>m");
    assert!(!rig.text().contains('…'), "{}", rig.text());
}

#[test]
fn a_reading_names_no_option_of_the_command_line() {
    let mut rig = Rig::new(demo(), 80, 200);
    rig.keys("HB2-RC-14<enter>d");
    assert!(!rig.text().contains("--all"), "{}", rig.text());
}

#[test]
fn load_unbalance_is_asked_for() {
    let mut rig = Rig::new(demo(), 80, 24);
    rig.keys("HB2-BK-1<enter>cu35<enter>");
    let text = rig.text();
    let line = text.lines().find(|l| l.contains("unbalance, A")).unwrap();
    assert!(line.contains("35"), "{text}");
    rig.keys("<enter>");
    let judged = (0..30).any(|_| {
        rig.keys("j");
        rig.text().contains("unbalance       35 A")
    });
    assert!(judged, "{}", rig.text());
}
