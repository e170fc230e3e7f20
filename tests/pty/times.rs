//! Times at a fault, in the program itself: from the card, by letters, to a file.

use super::harness::Launch;

#[test]
fn from_the_card_to_the_times_another_current_and_a_file() {
    let home = tempfile::tempdir().unwrap();
    for (columns, rows) in [(120, 40), (80, 24), (50, 20)] {
        let launch = Launch::new(env!("CARGO_BIN_EXE_polecard"))
            .env("HOME", home.path().display().to_string())
            .env("XDG_DATA_HOME", home.path().display().to_string())
            .size(columns, rows);
        let mut session = launch.start();
        session.wait_for("DEMO");
        session.send("HB2-RC-14\r");
        session.wait_for("OIL RECLOSER");
        session.send("s");
        session.wait_for("times at 4,310 A");
        session.wait_for("trip 1 delayed");
        session.send("1400\r");
        session.wait_for("times at 1,400 A");
        let file = home.path().join(format!("{columns}.svg"));
        session.send("s");
        session.wait_for("SVG file >");
        session.send("\x15");
        session.send(format!("{}\r", file.display()));
        session.wait_for("curves written to");
        let svg = std::fs::read_to_string(&file).unwrap();
        assert!(svg.contains("<polyline"), "{svg}");
        session.send("\x7f");
        session.wait_for("OIL RECLOSER");
        session.send("q");
        assert_eq!(session.wait_exit().exit_code(), 0);
        session.assert_restored();
    }
}
