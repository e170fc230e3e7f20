//! What is due, in the program itself: from the card to the order.

use super::harness::Launch;

#[test]
fn from_the_card_to_what_is_due_and_an_order() {
    let home = tempfile::tempdir().unwrap();
    let launch = Launch::new(env!("CARGO_BIN_EXE_polecard"))
        .env("HOME", home.path().display().to_string())
        .env("XDG_DATA_HOME", home.path().display().to_string())
        .size(80, 24);
    let mut session = launch.start();
    session.wait_for("DEMO");
    session.send("HB2-RC-14\r");
    session.wait_for("OIL RECLOSER");
    session.send("u");
    session.wait_for("due by");
    session.wait_for("source:");
    session.send("o");
    session.wait_for("order");
    session.send("q");
    assert_eq!(session.wait_exit().exit_code(), 0);
    session.assert_restored();
}
