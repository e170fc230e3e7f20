//! A register that was changed outside the program, on the screen.

use super::fixture::hand_made;
use super::reports::command;
use super::rig::Rig;

#[test]
fn a_record_changed_outside_the_program_is_the_first_thing_on_the_findings() {
    for (width, height) in [(80, 24), (50, 20), (40, 12)] {
        let register = hand_made();
        let path = register.path().join("register.polecard");
        let conn = rusqlite::Connection::open(&path).unwrap();
        let done = conn
            .execute(
                "update record set body = replace(body, '\"class\":\"recloser\"', '\"class\":\"switch\"')
                 where name = 'KS1-RC-2'",
                [],
            )
            .unwrap();
        assert_eq!(done, 1);
        drop(conn);
        let mut rig = Rig::new(register, width, height);
        command(&mut rig, "all findings");
        let text = rig.text();
        if height < 20 {
            // The marked row is below the headings: the status line says it.
            assert!(text.contains("STOP altered"), "{text}");
            continue;
        }
        let first = text.lines().skip(1).find(|l| !l.trim().is_empty()).unwrap();
        assert!(first.trim_start().starts_with("STOP"), "{text}");
        assert!(text.contains("outside the"), "{text}");
    }
}
