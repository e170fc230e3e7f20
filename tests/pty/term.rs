//! The terminal floor end to end, with a probe program in place of the real screens.

use std::io::Read;
use std::process::{Command, Stdio};
use std::time::{Duration, Instant};

use portable_pty::{Child, CommandBuilder, MasterPty, PtySize, native_pty_system};
use rustix::process::{Pid, Signal, kill_process};

use super::harness::{LIMIT, Launch, Session, example};

const QUIET: Duration = Duration::from_millis(80);

fn probe() -> Launch {
    Launch::new(example("term_probe"))
}

fn started(launch: &Launch) -> Session {
    let mut session = launch.start();
    session.wait_for("row 3");
    session
}

#[test]
fn comes_and_goes_in_few_bytes_and_leaves_all_as_it_was() {
    let mut session = started(&probe());
    session.settle(QUIET);
    assert!(session.emulator().alternate_screen());
    assert!(session.emulator().hide_cursor());
    assert!(session.emulator().bracketed_paste());
    let text: usize = session.screen().split_whitespace().map(str::len).sum();
    let first = session.raw().len();
    assert!(first < text + 110, "{first} bytes to show {text}");
    session.send("q");
    assert_eq!(session.wait_exit().exit_code(), 0);
    let farewell = "probe left with 0\r\n".len();
    assert_eq!(session.raw().len() - first - farewell, 26, "bytes to leave");
    assert!(session.screen().contains("probe left with 0"));
    session.assert_restored();
    session.assert_asked_nothing();
}

#[test]
fn the_programs_own_exit_code_is_returned() {
    for (key, code) in [("Q", 7), ("\x03", 130)] {
        let mut session = started(&probe());
        session.send(key);
        assert_eq!(session.wait_exit().exit_code(), code);
        session.assert_restored();
    }
}

#[test]
fn signals_restore_the_terminal_and_give_their_code() {
    for (signal, code) in [(Signal::TERM, 143), (Signal::HUP, 129), (Signal::INT, 130)] {
        let mut session = started(&probe());
        session.signal(signal);
        assert_eq!(session.wait_exit().exit_code(), code);
        session.assert_restored();
    }
}

#[test]
fn a_panic_restores_the_terminal_and_can_be_read() {
    let mut session = started(&probe());
    session.send("P");
    assert_eq!(session.wait_exit().exit_code(), 101);
    session.assert_restored();
    assert!(session.screen().contains("asked to panic"));
}

#[test]
fn a_panic_in_another_thread_ends_the_screens() {
    let mut session = started(&probe());
    session.send("W");
    assert_eq!(session.wait_exit().exit_code(), 4);
    session.assert_restored();
    assert!(session.screen().contains("asked to panic elsewhere"));
    assert!(session.screen().contains("a part of the program failed"));
}

/// The program sleeps and looks at nothing: the watchdog ends it.
#[test]
fn a_signal_ends_even_a_program_that_is_stuck() {
    let mut session = started(&probe());
    session.send("S");
    std::thread::sleep(QUIET);
    let asked = Instant::now();
    session.signal(Signal::TERM);
    assert_eq!(session.wait_exit().exit_code(), 143);
    assert!(asked.elapsed() < Duration::from_millis(1500));
    session.assert_restored();
}

#[test]
fn suspends_to_the_shell_and_comes_back() {
    let program = example("term_probe");
    let mut session = Launch::new("sh")
        .arg("-i")
        .env("PS1", "shell> ")
        .env("ENV", "")
        .start();
    session.wait_for("shell>");
    let modes = session.line_modes();
    session.send(format!("'{}'\n", program.display()));
    session.wait_for("row 3");
    session.send("jj\x1a");
    session.wait_until("the shell's screen", |s| {
        !s.alternate_screen() && !s.hide_cursor()
    });
    session.wait_until_gone("row 3");
    session.send("echo ba''ck\n");
    session.wait_for("back");
    assert!(!session.emulator().inverse());
    session.send("fg\n");
    session.wait_for("got j j ctrl-z");
    session.wait_for("row 3");
    assert!(session.emulator().alternate_screen() && session.emulator().hide_cursor());
    assert!(session.cell_of("row 2").inverse());
    session.send("jq");
    session.wait_for("probe left with 0");
    session.send("echo do''ne\n");
    session.wait_for("done");
    assert_eq!(session.line_modes(), modes);
    session.send("exit\n");
    session.wait_exit();
}

/// As a command of `ssh -t`: nobody could bring it back.
#[test]
fn does_not_suspend_where_there_is_no_shell_to_return_to() {
    let mut session = started(&probe());
    session.send("\x1aj");
    session.wait_for("got ctrl-z j");
    assert!(session.emulator().alternate_screen());
}

#[test]
fn stopped_from_outside_it_repaints_when_it_goes_on() {
    let mut session = started(&probe());
    session.settle(QUIET);
    session.signal(Signal::STOP);
    session.send("j");
    let before = session.raw().len();
    session.signal(Signal::CONT);
    session.wait_for("got j");
    assert!(session.raw().len() - before > 100, "a whole screen");
    assert!(session.cell_of("row 1").inverse());
    session.send("q");
    session.wait_exit();
    session.assert_restored();
}

/// The probe in a terminal that is not its controlling terminal, so that no SIGHUP comes; nobody
/// reads from it but [`Bare::read_until`].
struct Bare {
    master: Box<dyn MasterPty + Send>,
    reader: Box<dyn Read + Send>,
    child: Box<dyn Child + Send + Sync>,
}

impl Bare {
    fn start(columns: u16, rows: u16) -> Self {
        let size = PtySize {
            rows,
            cols: columns,
            pixel_width: 0,
            pixel_height: 0,
        };
        let pair = native_pty_system().openpty(size).unwrap();
        let mut command = CommandBuilder::new(example("term_probe"));
        command.set_controlling_tty(false);
        let child = pair.slave.spawn_command(command).unwrap();
        Self {
            reader: pair.master.try_clone_reader().unwrap(),
            master: pair.master,
            child,
        }
    }

    /// Closes every descriptor of the far end.
    fn hang_up(self) -> Box<dyn Child + Send + Sync> {
        drop((self.master, self.reader));
        self.child
    }

    fn read_until(&mut self, text: &str) {
        let (mut seen, mut buffer) = (Vec::new(), [0; 4096]);
        while !String::from_utf8_lossy(&seen).contains(text) {
            let count = self.reader.read(&mut buffer).unwrap();
            seen.extend(&buffer[..count]);
        }
    }
}

/// Returns the exit code and the time it took.
fn await_end(child: &mut dyn Child) -> (u32, Duration) {
    let start = Instant::now();
    while start.elapsed() < LIMIT {
        if let Some(status) = child.try_wait().unwrap() {
            return (status.exit_code(), start.elapsed());
        }
        std::thread::sleep(Duration::from_millis(5));
    }
    child.kill().unwrap();
    panic!("the program outlived its terminal");
}

#[test]
fn a_vanished_terminal_ends_the_program_within_a_second() {
    let mut bare = Bare::start(80, 24);
    bare.read_until("row 3");
    let (code, took) = await_end(bare.hang_up().as_mut());
    assert_eq!(code, 129);
    assert!(took < Duration::from_secs(1), "{took:?}");
}

#[test]
fn a_vanished_terminal_ends_a_stuck_program_as_well() {
    let mut bare = Bare::start(80, 24);
    bare.read_until("row 3");
    let mut keyboard = bare.master.take_writer().unwrap();
    keyboard.write_all(b"S").unwrap();
    std::thread::sleep(QUIET);
    drop(keyboard);
    let (code, took) = await_end(bare.hang_up().as_mut());
    assert_eq!(code, 129);
    assert!(took < Duration::from_millis(1500), "{took:?}");
}

/// A stalled link: the kernel's buffer is full and the write blocks.
#[test]
fn a_signal_ends_a_program_whose_terminal_takes_nothing_more() {
    let mut bare = Bare::start(400, 120);
    bare.read_until("row 3");
    let mut keyboard = bare.master.take_writer().unwrap();
    keyboard.write_all(b"B").unwrap();
    std::thread::sleep(Duration::from_millis(200));
    assert!(bare.child.try_wait().unwrap().is_none());
    let id = bare.child.process_id().unwrap() as i32;
    kill_process(Pid::from_raw(id).unwrap(), Signal::TERM).unwrap();
    let (code, took) = await_end(bare.child.as_mut());
    assert_eq!(code, 143);
    assert!(took < Duration::from_millis(1500), "{took:?}");
}

#[test]
fn split_escapes_are_joined_and_a_lone_one_is_escape() {
    let mut session = started(&probe());
    let pause = Duration::from_millis(20);
    session.send_slowly(
        &[b"\x1b", b"[B", b"\x1b", b"[", b"A", b"\x1b[", b"5~"],
        pause,
    );
    session.wait_for("got down up pageup");
    session.send("\x1b");
    session.wait_for("pageup esc");
    session.send_slowly(&[b"\x1b", b"x"], pause);
    session.wait_for("pageup esc esc x");
}

/// Half a sequence held must not hold up a resize.
#[test]
fn a_resize_is_not_missed_while_half_a_key_is_held() {
    let mut session = started(&probe());
    session.send("\x1b[");
    session.resize(70, 20);
    session.wait_for("size 70x20");
    session.wait_for("got esc [");
}

#[test]
fn over_ssh_a_key_may_take_longer() {
    let mut session = started(&probe().env("SSH_TTY", "/dev/pts/9"));
    session.send_slowly(&[b"\x1b", b"[B"], Duration::from_millis(140));
    session.wait_for("got down");
}

#[test]
fn without_colour_the_selection_stays_visible() {
    let mut coloured = started(&probe());
    coloured.send("j");
    coloured.wait_for("got j");
    let row = coloured.cell_of("row 1");
    assert_eq!((row.inverse(), row.fgcolor()), (true, vt100::Color::Idx(2)));
    let mut plain = started(&probe().env("NO_COLOR", "1"));
    plain.send("j");
    plain.wait_for("got j");
    let row = plain.cell_of("row 1");
    assert_eq!(
        (row.inverse(), row.fgcolor()),
        (true, vt100::Color::Default)
    );
    assert!(!plain.cell_of("row 0").inverse());
}

/// Nobody answers here: a program that asked would hang or be seen by what it sent.
#[test]
fn nothing_asks_the_terminal_a_question() {
    let mut session = started(&probe());
    session.send("jj\x0c\x1a\x1b[200~paste\x1b[201~");
    session.wait_for("paste<paste>");
    session.resize(50, 20);
    session.wait_for("size 50x20");
    session.send("q");
    session.wait_exit();
    session.assert_asked_nothing();
    session.assert_restored();
}

#[test]
fn resizes_down_to_one_cell_neither_panic_nor_garble() {
    let mut session = probe().size(1, 1).start();
    session.wait_for("p");
    for (columns, rows) in [(20, 5), (200, 50), (2, 1), (40, 12), (1, 3), (80, 24)] {
        session.resize(columns, rows);
        session.settle(Duration::from_millis(30));
    }
    session.wait_for("size 80x24");
    session.wait_for("row 3");
    let screen = session.screen();
    let lines: Vec<&str> = screen.lines().collect();
    assert!(lines[0].starts_with("probe frames") && lines[1].starts_with("got"));
    assert_eq!(&lines[4..], ["", "row 0", "row 1", "row 2", "row 3"]);
    assert!(session.cell_of("row 0").inverse() && !session.cell_of("row 1").inverse());
    session.send("q");
    assert_eq!(session.wait_exit().exit_code(), 0);
}

fn frames(session: &Session) -> u32 {
    let screen = session.screen();
    let after = screen.split("probe frames ").nth(1).unwrap();
    after.split(' ').next().unwrap().parse().unwrap()
}

#[test]
fn thirty_characters_in_a_burst_cost_at_most_two_frames() {
    let mut session = started(&probe());
    session.settle(QUIET);
    let before = frames(&session);
    session.send("abcdefghiklmnoprstuvwxyzabcdef");
    session.wait_for("typed 30");
    session.settle(QUIET);
    assert!(frames(&session) - before <= 2, "{}", session.screen());
}

/// A thousand and more keys at once: more than one read's worth, none lost.
#[test]
fn a_long_burst_is_taken_in_whole() {
    let mut session = started(&probe());
    session.send("a".repeat(3000));
    session.wait_for("typed 3000");
}

#[test]
fn idle_writes_nothing_even_while_a_timer_runs() {
    let mut session = started(&probe());
    session.send("T");
    session.wait_for("ticks many");
    session.settle(Duration::from_millis(20));
    assert_eq!(session.settle(Duration::from_millis(600)), 0);
}

#[test]
fn an_unchanged_screen_costs_nothing_and_a_repaint_everything() {
    let mut session = started(&probe());
    session.settle(QUIET);
    session.send("\x0c");
    session.wait_for("got ctrl-l");
    session.settle(QUIET);
    let text: usize = session.screen().split_whitespace().map(str::len).sum();
    let before = session.raw().len();
    session.send("\x0c");
    session.wait_for("got ctrl-l ctrl-l");
    session.settle(QUIET);
    assert!(session.raw().len() - before > text);
}

#[test]
fn a_waiting_key_interrupts_long_work() {
    let mut session = started(&probe());
    let asked = Instant::now();
    session.send("L");
    session.wait_for("work under way");
    session.send("j");
    session.wait_for("got L j");
    assert!(asked.elapsed() < Duration::from_millis(1500));
    assert!(session.screen().contains("work under way"));
    assert!(session.cell_of("row 1").inverse());
}

#[test]
fn a_paste_is_one_input() {
    let mut session = started(&probe());
    let pieces: [&[u8]; 3] = [b"\x1b[200~40-118\r", b"T-5512\x1b[2", b"01~x"];
    session.send_slowly(&pieces, Duration::from_millis(20));
    session.wait_for("got paste<40-118|T-5512> x");
}

#[test]
fn without_a_terminal_it_says_so() {
    let output = Command::new(example("term_probe"))
        .stdin(Stdio::null())
        .output()
        .unwrap();
    assert_eq!(output.status.code(), Some(4));
    assert!(output.stdout.is_empty());
    let message = String::from_utf8(output.stderr).unwrap();
    assert!(
        message.contains("need a terminal, and standard input is none"),
        "{message}"
    );
}
