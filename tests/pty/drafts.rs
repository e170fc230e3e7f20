//! Nothing typed is lost: the program is killed while a form is filled in, and
//! what its screen had shown as saved is offered back.

use std::path::Path;
use std::time::Duration;

use polecard::domain::asset::{Defect, Priority, Record, Rel};
use polecard::store::{Access, Store};
use rustix::process::Signal;

use super::harness::{Launch, Session};
use crate::screens::rig::copy_of_demo;

const QUIET: Duration = Duration::from_millis(150);

/// A home with the demo register in the default place.
fn home() -> tempfile::TempDir {
    let home = tempfile::tempdir().unwrap();
    let data = home.path().join("polecard");
    std::fs::create_dir(&data).unwrap();
    let made = copy_of_demo();
    std::fs::copy(
        made.path().join("register.polecard"),
        data.join("register.polecard"),
    )
    .unwrap();
    home
}

fn started(home: &Path, size: (u16, u16)) -> Session {
    let mut session = Launch::new(env!("CARGO_BIN_EXE_polecard"))
        .env("HOME", home.display().to_string())
        .env("XDG_DATA_HOME", home.display().to_string())
        .size(size.0, size.1)
        .start();
    session.wait_for("find >");
    session
}

/// The letter of a line of the form, as it shows; none when it has none.
fn letter(session: &Session, label: &str) -> Option<String> {
    let screen = session.screen();
    let line = screen
        .lines()
        .find(|l| l.get(4..).is_some_and(|l| l.starts_with(label)))?;
    Some(line[2..3].to_string()).filter(|l| l != " ")
}

/// What is answered: the line, and the keys after its letter.
const ANSWERS: [(&str, &str); 8] = [
    ("oil level", "3"),
    ("operations counter", "251\r"),
    ("battery", "26.5\r"),
    ("leak", "2"),
    ("bushings", "1"),
    ("trips", "4\r"),
    ("oil level", "2"),
    ("operations counter", "\x15260\r"),
];

/// Label and answer of every row with its saved mark, at 80 columns.
fn saved(screen: &str) -> Vec<(String, String)> {
    const ANSWER: usize = 29;
    const MARK: usize = 48;
    screen
        .lines()
        .map(|l| l.chars().collect::<Vec<char>>())
        .filter(|l| l.len() >= MARK + 5 && l[MARK..MARK + 5].iter().collect::<String>() == "saved")
        .map(|l| {
            let text = |from: usize, to: usize| l[from..to].iter().collect::<String>();
            let (label, answer) = (text(4, ANSWER), text(ANSWER, MARK));
            (label.trim().to_string(), answer.trim().to_string())
        })
        .collect()
}

/// How a session ends.
#[derive(Debug, Clone, Copy)]
enum End {
    Kill,
    HangUp,
    Closed,
}

impl End {
    fn bring(self, session: &mut Session) {
        match self {
            End::Kill => session.signal(Signal::KILL),
            End::HangUp => session.signal(Signal::HUP),
            End::Closed => session.hang_up(),
        }
        session.wait_exit();
    }
}

/// What the screen showed last, replayed: an orderly end gives the terminal
/// back before it leaves.
fn shown_last(session: &Session) -> String {
    const GIVEN_BACK: &[u8] = b"\x1b[?1049l";
    let raw = session.raw();
    let end = raw
        .windows(GIVEN_BACK.len())
        .rposition(|w| w == GIVEN_BACK)
        .unwrap_or(raw.len());
    let (rows, columns) = session.emulator().size();
    let mut replay = vt100::Parser::new(rows, columns, 0);
    replay.process(&raw[..end]);
    replay.screen().contents()
}

/// A detailed inspection of a recloser, just opened.
fn inspecting(home: &Path) -> Session {
    let mut session = started(home, (80, 24));
    session.send("7-20931\r");
    session.wait_for("read at");
    session.send("i");
    session.wait_for("1 patrol");
    session.send("2");
    session.wait_for("oil level");
    session
}

/// Fills a form in, is killed after so long, and looks what is offered back;
/// returns how many answers had shown as saved.
fn killed_after(end: End, after: Duration) -> usize {
    let home = home();
    let register = home.path().join("polecard/register.polecard");
    let head = Store::open(&register, Access::Read)
        .unwrap()
        .head()
        .unwrap();
    let mut session = inspecting(home.path());
    let script: Vec<String> = ANSWERS
        .iter()
        .filter_map(|(label, keys)| Some(format!("{}{keys}", letter(&session, label)?)))
        .flat_map(|keys| {
            let (first, rest) = keys.split_at(2);
            [first.to_string(), rest.to_string()]
        })
        .filter(|keys| !keys.is_empty())
        .collect();
    let began = std::time::Instant::now();
    for keys in script {
        let left = after.saturating_sub(began.elapsed());
        std::thread::sleep(left.min(Duration::from_millis(9)));
        if began.elapsed() >= after {
            break;
        }
        session.send(keys);
    }
    std::thread::sleep(after.saturating_sub(began.elapsed()));
    end.bring(&mut session);
    let shown = saved(&shown_last(&session));
    let mut again = started(home.path(), (80, 24));
    if !shown.is_empty() {
        again.wait_for("is not finished");
        again.send("\r\r");
        again.wait_for("unfinished forms");
        again.send("\r");
        again.wait_for("taken up again");
        again.settle(QUIET);
        let offered = saved(&again.screen());
        for answer in &shown {
            // What was typed over it and saved before it could show counts more.
            let line = |(label, _): &&(String, String)| *label == answer.0;
            let later = || ["above the mark", "260"].map(String::from);
            let newer = offered
                .iter()
                .find(line)
                .is_some_and(|o| later().contains(&o.1));
            assert!(
                offered.contains(answer) || newer,
                "{end:?} after {after:?}: {answer:?} showed as saved, and is not among {offered:?}"
            );
        }
    }
    again.send("\x03");
    assert_eq!(again.wait_exit().exit_code(), 0);
    let store = Store::open(&register, Access::Read).unwrap();
    assert_eq!(store.head().unwrap(), head, "a draft is not the register");
    assert_eq!(store.broken_link().unwrap(), None);
    shown.len()
}

/// Twenty kills are enough for every run of the tests; a long run takes its
/// number from the environment: `KILLS=300 cargo test every_answer`.
#[test]
fn every_answer_that_showed_as_saved_is_offered_back() {
    let mut counts = Vec::new();
    let kills = std::env::var("KILLS").ok().and_then(|n| n.parse().ok());
    let kills: u64 = kills.unwrap_or(21);
    for i in 0..kills {
        let end = [End::Kill, End::HangUp, End::Closed][usize::try_from(i % 3).unwrap()];
        // Moments spread over the form, never the same phase of a write twice.
        let after = Duration::from_micros(3_000 + i * 6_130 % 130_000);
        counts.push(killed_after(end, after));
    }
    // A test in which nothing had been saved would show nothing.
    assert!(counts.iter().filter(|c| **c > 0).count() >= 7, "{counts:?}");
    assert!(counts.iter().any(|c| *c >= 3), "{counts:?}");
}

#[test]
fn a_form_left_by_ctrl_c_waits() {
    let home = home();
    let mut session = started(home.path(), (50, 20));
    session.send("7-20931\r");
    session.wait_for("read at");
    session.send("k");
    session.wait_for("correct 7-20931");
    session.send("jjj\r");
    session.wait_for("enter keep");
    session.send(" \u{2018}B\u{2019}\r");
    session.wait_for("saved");
    session.send("\x03");
    assert_eq!(session.wait_exit().exit_code(), 0);
    session.assert_restored();
    let mut again = started(home.path(), (50, 20));
    again.wait_for("correction of 7-20931 is not finished");
    again.send("\r\r");
    again.wait_for("unfinished forms");
    again.send("\r");
    again.wait_for("taken up again");
    again.send("jjj");
    again.wait_for("type 3 frame K 'B'");
    again.send("\x03");
    again.wait_exit();
}

/// The main path at the pole: a recloser is found, its oil stands below the
/// mark, and the order is made before anybody leaves.
#[test]
fn oil_below_the_mark_leaves_with_the_order_made() {
    for size in [(50, 20), (80, 24)] {
        let home = home();
        let register = home.path().join("polecard/register.polecard");
        let mut session = started(home.path(), size);
        session.send("HB1-RC-6");
        session.wait_for("recloser");
        session.send("\r");
        session.wait_for("read at");
        session.send("i");
        session.wait_for("2 detailed");
        session.send("2");
        session.wait_for("oil level");
        let oil = letter(&session, "oil level").unwrap();
        session.send(format!("{oil}3"));
        session.wait_for("saved");
        session.send("\r");
        session.wait_for("oil level: below the mark");
        session.send("\r");
        session.wait_for("STOP oil below the mark");
        session.wait_for("o order");
        session.send("o");
        session.wait_for("opened");
        session.send("q");
        assert_eq!(session.wait_exit().exit_code(), 0);
        session.assert_restored();
        order_made(&register);
    }
}

#[track_caller]
fn order_made(register: &Path) {
    let store = Store::open(register, Access::Read).unwrap();
    let about = store.pointing(Rel::About, "7-23218").unwrap();
    let order = about.iter().find_map(|s| match &s.record {
        Record::Order(o) if o.need.contains("oil below mark") => Some(o),
        _ => None,
    });
    let order = order.expect("the order is in the register");
    assert_eq!(order.priority, Priority::Urgent);
    assert!(order.from_entry.is_some());
    let found = about.iter().any(|s| match &s.record {
        Record::Entry(e) => e.finds.contains(&Defect::OilBelowMark),
        _ => false,
    });
    assert!(found, "the defect stands on the record");
}
