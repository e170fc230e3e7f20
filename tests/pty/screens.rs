//! The program itself in a pseudo-terminal: start, find, card, check, leave.

use std::time::Duration;

use super::harness::{Launch, Session};

const QUIET: Duration = Duration::from_millis(150);

fn polecard(home: &tempfile::TempDir) -> Launch {
    Launch::new(env!("CARGO_BIN_EXE_polecard"))
        .env("HOME", home.path().display().to_string())
        .env("XDG_DATA_HOME", home.path().display().to_string())
}

fn started(launch: &Launch) -> Session {
    let mut session = launch.start();
    session.wait_for("find >");
    session
}

#[test]
fn start_find_card_check_and_leave_with_the_terminal_restored() {
    let home = tempfile::tempdir().unwrap();
    for (columns, rows) in [(120, 40), (80, 24), (50, 20)] {
        let mut session = started(&polecard(&home).size(columns, rows));
        session.wait_for("DEMO");
        session.send("HB2-RC-14");
        session.wait_for("Tannery Rd");
        session.send("\r");
        session.wait_for("OIL RECLOSER");
        session.wait_for("STOP");
        session.send("c");
        session.wait_for("check HB2-RC-14");
        session.send("\r");
        session.wait_for("FAILS");
        session.send("q");
        assert_eq!(session.wait_exit().exit_code(), 0);
        session.assert_restored();
        session.assert_asked_nothing();
    }
}

#[test]
fn the_first_start_installs_the_demo_and_says_so() {
    let home = tempfile::tempdir().unwrap();
    let mut session = started(&polecard(&home));
    session.wait_for("A copy of the demo utility was installed");
    session.send("\x03");
    assert_eq!(session.wait_exit().exit_code(), 0);
    session.assert_restored();
}

#[test]
fn the_marked_row_shows_without_colour_too() {
    let home = tempfile::tempdir().unwrap();
    for no_colour in ["", "1"] {
        let mut session = started(&polecard(&home).env("NO_COLOR", no_colour));
        session.send("HB2-RC\x1b[B");
        session.wait_for(">  HB2-RC-14");
        session.settle(QUIET);
        assert!(session.cell_of("HB2-RC-14").bold());
        session.send("\x03");
        session.wait_exit();
        let coloured = String::from_utf8_lossy(session.raw()).contains("\x1b[31")
            || String::from_utf8_lossy(session.raw()).contains(";31m");
        assert_eq!(coloured, no_colour.is_empty());
    }
}

#[test]
fn the_first_screen_lists_nothing_and_costs_little() {
    let home = tempfile::tempdir().unwrap();
    let mut session = started(&polecard(&home));
    session.send("\x03");
    session.wait_exit();
    for (columns, rows, most, most_a_key) in [(80, 24, 600, 1000), (50, 20, 450, 700)] {
        let mut session = started(&polecard(&home).size(columns, rows));
        session.settle(QUIET);
        let bytes = session.raw().len();
        assert!(bytes <= most, "{bytes} bytes at {columns}x{rows}");
        for key in "40-118".chars() {
            session.send(key.to_string());
            let bytes = session.settle(Duration::from_millis(600));
            assert!(
                bytes <= most_a_key,
                "{key}: {bytes} bytes at {columns}x{rows}"
            );
        }
        session.wait_for("Tannery Rd");
        session.send("\x03");
        session.wait_exit();
        session.assert_restored();
    }
}

#[test]
fn the_link_is_a_personal_setting_and_an_option_goes_before_it() {
    let home = tempfile::tempdir().unwrap();
    let mut first = started(&polecard(&home));
    first.send("\x03");
    first.wait_exit();
    let folder = home.path().join(".config/polecard");
    std::fs::create_dir_all(&folder).unwrap();
    let settings = folder.join("settings.yaml");
    // On a slow link a search begins at the third character.
    let searches = |options: &[&str], columns: u16| {
        let config = home.path().join(".config").display().to_string();
        let mut launch = polecard(&home)
            .env("XDG_CONFIG_HOME", config)
            .size(columns, 20);
        for option in options {
            launch = launch.arg(*option);
        }
        let mut session = started(&launch);
        session.send("HB");
        session.wait_for("find > HB");
        session.settle(QUIET);
        let screen = session.screen();
        session.send("\x03");
        session.wait_exit();
        screen.contains("match")
    };
    assert!(searches(&[], 80));
    assert!(!searches(&[], 50));
    assert!(!searches(&["--thin-link"], 80));
    std::fs::write(&settings, "thin_link: true\n").unwrap();
    assert!(!searches(&[], 80));
    assert!(searches(&["--no-thin-link"], 80));
    std::fs::write(&settings, "thin_link: false\n").unwrap();
    assert!(searches(&[], 50));
    assert!(!searches(&["--thin-link"], 50));
}

#[test]
fn settings_that_cannot_be_used_are_named_before_the_screens_open() {
    let home = tempfile::tempdir().unwrap();
    let folder = home.path().join(".config/polecard");
    std::fs::create_dir_all(&folder).unwrap();
    std::fs::write(folder.join("settings.yaml"), "thinlink: true\n").unwrap();
    let config = home.path().join(".config").display().to_string();
    let mut session = polecard(&home).env("XDG_CONFIG_HOME", config).start();
    session.wait_for("settings.yaml");
    session.wait_for("thin_link: true");
    assert_eq!(session.wait_exit().exit_code(), 4);
}

#[test]
fn an_idle_card_sends_nothing() {
    let home = tempfile::tempdir().unwrap();
    let mut session = started(&polecard(&home));
    session.send("HB2-RC-14\r");
    session.wait_for("OIL RECLOSER");
    session.settle(QUIET);
    assert_eq!(session.settle(Duration::from_millis(4500)), 0);
    session.send("q");
    session.wait_exit();
}

#[test]
fn without_a_register_or_a_terminal_it_says_what_to_do() {
    let home = tempfile::tempdir().unwrap();
    let none = home.path().join("none.polecard");
    let mut session = polecard(&home)
        .env("POLECARD_REGISTER", none.display().to_string())
        .start();
    assert_eq!(session.wait_exit().exit_code(), 4);
    assert!(
        session.screen().contains("there is no register"),
        "{}",
        session.screen()
    );
    session.assert_restored();
}

#[test]
fn a_card_left_open_tells_of_a_change_by_someone_else() {
    let home = tempfile::tempdir().unwrap();
    let mut session = started(&polecard(&home));
    session.send("HB2-RC-14\r");
    session.wait_for("read at");
    let register = home.path().join("polecard/register.polecard");
    crate::screens::rig::edit(&register, "HB2-RC-14", "note", "nest on the arm");
    session.wait_for("CHANGED since read at");
    session.send("a");
    session.wait_until_gone("CHANGED");
    session.send("q");
    assert_eq!(session.wait_exit().exit_code(), 0);
}

#[test]
fn a_unit_of_the_demo_is_swapped_and_the_swap_taken_back() {
    let home = tempfile::tempdir().unwrap();
    let mut session = started(&polecard(&home));
    session.send("HB2-RC-14\r");
    session.wait_for("OIL RECLOSER");
    session.send("x");
    session.wait_for("unit put in >");
    session.send("7-20417\r");
    session.wait_for("Where does 7-20931 go?");
    session.send("1");
    session.wait_for("day of the swap >");
    session.send("\r");
    session.wait_for("why >");
    session.send("oil below the mark\r");
    // The spare's assumed rating is below the fault here: two people read it.
    session.wait_for("second person >");
    session.send("mk\r");
    session.wait_for("write it down");
    session.send("1");
    session.wait_for("take it back");
    session.send("t");
    session.wait_for("taken back");
    session.send("y");
    session.wait_for("UNDONE oil below the mark");
    session.send("q");
    assert_eq!(session.wait_exit().exit_code(), 0);
    session.assert_restored();
}

/// What the register said about a unit last March: the log of the demo goes
/// back ten years.
#[test]
fn an_investigator_reads_what_was_said_last_march() {
    let home = tempfile::tempdir().unwrap();
    let mut session = polecard(&home)
        .arg("show")
        .arg("7-20931")
        .arg("--as-of")
        .arg("2026-03-31")
        .size(80, 24)
        .start();
    assert_eq!(session.wait_exit().exit_code(), 0);
    let said = String::from_utf8_lossy(session.raw()).into_owned();
    assert!(said.contains("AS OF 31 Mar 2026"), "{said}");
    // The oil was seen below the mark only in September.
    assert!(!said.contains("oil below mark"), "{said}");
    // The same by keys: its history, another day, by what was said then.
    let mut session = started(&polecard(&home).size(80, 24));
    session.send("7-20931");
    session.wait_for("recloser");
    session.send("\r");
    session.wait_for("oil below mark");
    session.send("y");
    session.wait_for("history of 7-20931");
    session.send("d");
    session.wait_for("day >");
    session.send("20260331\r");
    session.wait_for("what the register said on 31 Mar 2026");
    session.send("1");
    session.wait_for("AS OF 31 Mar 2026");
    assert!(!session.screen().contains("oil below mark"));
    session.send("q");
    assert_eq!(session.wait_exit().exit_code(), 0);
    let mut session = polecard(&home).arg("show").arg("7-20931").start();
    assert_eq!(session.wait_exit().exit_code(), 0);
    let said = String::from_utf8_lossy(session.raw()).into_owned();
    assert!(said.contains("oil below mark"), "{said}");
}

#[test]
fn an_order_is_opened_and_closed_and_the_briefing_read_in_a_small_window() {
    let home = tempfile::tempdir().unwrap();
    let mut session = started(&polecard(&home).size(50, 20));
    session.send("40-117");
    session.wait_for("40-117");
    session.send("\r");
    session.wait_for("POLE");
    session.send("w");
    session.wait_for("orders, open on 40-117");
    session.send("n");
    session.wait_for("need >");
    session.send("hang a new tag\r");
    session.wait_for("whenever");
    session.send("3");
    session.wait_for("due, as");
    session.send("\r");
    session.wait_for("opened");
    session.send("x");
    session.wait_for("what was done >");
    session.send("tag hung\r");
    session.wait_for("done");
    session.send("\x7f");
    session.wait_for("POLE");
    session.send("b");
    session.wait_for("briefing 40-117");
    session.send("q");
    assert_eq!(session.wait_exit().exit_code(), 0);
    session.assert_restored();
}
