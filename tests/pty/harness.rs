//! A program in a pseudo-terminal of its own: type at it, see its screen, count its bytes.
//!
//! The bytes go through a terminal emulator that is not ours (the vt100 crate). Every wait is for
//! something to happen and ends as soon as it does; the limit is only for a test that fails.

use std::fmt::Write as _;
use std::io::{Read, Write};
use std::num::NonZeroU16;
use std::path::{Path, PathBuf};
use std::process::Command;
use std::sync::atomic::{AtomicBool, Ordering};
use std::sync::mpsc::{Receiver, RecvTimeoutError, channel};
use std::sync::{Arc, OnceLock};
use std::time::{Duration, Instant};

use portable_pty::{Child, CommandBuilder, ExitStatus, MasterPty, PtySize, native_pty_system};
use rustix::process::{Pid, Signal, kill_process};

/// Generous, since it is reached only by a test that fails.
pub const LIMIT: Duration = Duration::from_secs(20);

/// What to start, and in what surroundings.
#[derive(Clone, Debug)]
pub struct Launch {
    program: PathBuf,
    arguments: Vec<String>,
    environment: Vec<(String, String)>,
    columns: u16,
    rows: u16,
}

impl Launch {
    /// A program at 80x24 with `TERM=xterm-256color`, without `NO_COLOR` and `SSH_TTY`.
    pub fn new(program: impl Into<PathBuf>) -> Self {
        Self {
            program: program.into(),
            arguments: Vec::new(),
            environment: vec![("TERM".to_owned(), "xterm-256color".to_owned())],
            columns: 80,
            rows: 24,
        }
    }

    /// One more argument.
    #[must_use]
    pub fn arg(mut self, argument: impl Into<String>) -> Self {
        self.arguments.push(argument.into());
        self
    }

    /// One more variable.
    #[must_use]
    pub fn env(mut self, name: &str, value: impl Into<String>) -> Self {
        self.environment.push((name.to_owned(), value.into()));
        self
    }

    /// Columns and rows at the start.
    #[must_use]
    pub fn size(mut self, columns: u16, rows: u16) -> Self {
        (self.columns, self.rows) = (columns, rows);
        self
    }

    /// Starts it.
    pub fn start(&self) -> Session {
        Session::start(self)
    }
}

/// A running program and its terminal.
pub struct Session {
    master: Option<Box<dyn MasterPty + Send>>,
    keyboard: Option<Box<dyn Write + Send>>,
    child: Box<dyn Child + Send + Sync>,
    output: Receiver<Vec<u8>>,
    emulator: vt100::Parser,
    raw: Vec<u8>,
    modes_before: Option<String>,
    /// The far end is to be closed: nobody reads any more.
    closing: Arc<AtomicBool>,
}

impl Session {
    fn start(launch: &Launch) -> Self {
        let pair = native_pty_system()
            .openpty(pty_size(launch.columns, launch.rows))
            .unwrap();
        let mut command = CommandBuilder::new(&launch.program);
        command.args(&launch.arguments);
        command.cwd(std::env::current_dir().unwrap());
        for name in ["NO_COLOR", "SSH_TTY", "RUST_BACKTRACE"] {
            command.env_remove(name);
        }
        for (name, value) in &launch.environment {
            command.env(name, value);
        }
        let modes_before = modes(pair.master.as_ref());
        let child = pair.slave.spawn_command(command).unwrap();
        let mut reader = pair.master.try_clone_reader().unwrap();
        let (sender, output) = channel();
        let closing = Arc::new(AtomicBool::new(false));
        let stop = Arc::clone(&closing);
        std::thread::spawn(move || {
            let mut buffer = [0; 65536];
            while let Ok(count @ 1..) = reader.read(&mut buffer) {
                if sender.send(buffer[..count].to_vec()).is_err() || stop.load(Ordering::SeqCst) {
                    break;
                }
            }
        });
        Self {
            keyboard: Some(pair.master.take_writer().unwrap()),
            master: Some(pair.master),
            child,
            output,
            emulator: vt100::Parser::new(positive(launch.rows), positive(launch.columns), 0),
            raw: Vec::new(),
            modes_before,
            closing,
        }
    }

    /// Types bytes in one piece.
    pub fn send(&mut self, bytes: impl AsRef<[u8]>) {
        let keyboard = self.keyboard.as_mut().expect("the terminal is still there");
        keyboard.write_all(bytes.as_ref()).unwrap();
        keyboard.flush().unwrap();
    }

    /// Types pieces with a pause before each, as a slow link delivers them.
    pub fn send_slowly(&mut self, pieces: &[&[u8]], pause: Duration) {
        for piece in pieces {
            std::thread::sleep(pause);
            self.send(piece);
        }
    }

    /// Waits until the screen contains the text.
    #[track_caller]
    pub fn wait_for(&mut self, text: &str) {
        self.wait_until(text, |screen| screen.contents().contains(text));
    }

    /// Waits until the screen no longer contains the text.
    #[track_caller]
    pub fn wait_until_gone(&mut self, text: &str) {
        self.wait_until(text, |screen| !screen.contents().contains(text));
    }

    /// Waits until the screen is as asked; `what` is for the message when it never is.
    #[track_caller]
    pub fn wait_until(&mut self, what: &str, asked: impl Fn(&vt100::Screen) -> bool) {
        let limit = Instant::now() + LIMIT;
        while !asked(self.emulator.screen()) {
            let left = limit.saturating_duration_since(Instant::now());
            if !self.take_output(left) {
                panic!("never seen: {what}\n{}", self.report());
            }
        }
    }

    /// Takes in output until none has come for so long; returns how many bytes came.
    pub fn settle(&mut self, quiet: Duration) -> usize {
        let before = self.raw.len();
        while self.take_output(quiet) {}
        self.raw.len() - before
    }

    fn take_output(&mut self, within: Duration) -> bool {
        match self.output.recv_timeout(within) {
            Ok(bytes) => {
                self.raw.extend(&bytes);
                self.emulator.process(&bytes);
                true
            }
            Err(RecvTimeoutError::Timeout | RecvTimeoutError::Disconnected) => false,
        }
    }

    /// The screen as text, without blanks at the ends of lines.
    pub fn screen(&self) -> String {
        self.emulator.screen().contents()
    }

    /// The emulator, for styles and modes.
    pub fn emulator(&self) -> &vt100::Screen {
        self.emulator.screen()
    }

    /// The cell where this text begins on the screen.
    #[track_caller]
    pub fn cell_of(&self, text: &str) -> &vt100::Cell {
        let screen = self.emulator.screen();
        let columns = screen.size().1.get();
        let found = screen.rows(0, columns).enumerate().find_map(|(y, row)| {
            let at = row.find(text)?;
            Some((y as u16, row[..at].chars().count() as u16))
        });
        let (y, x) =
            found.unwrap_or_else(|| panic!("not on the screen: {text}\n{}", self.report()));
        screen.cell(y, x).unwrap()
    }

    /// All bytes that the program has written so far.
    pub fn raw(&self) -> &[u8] {
        &self.raw
    }

    /// Changes the window, as a person does with the mouse.
    pub fn resize(&mut self, columns: u16, rows: u16) {
        self.emulator
            .screen_mut()
            .set_size(positive(rows), positive(columns));
        let master = self.master.as_ref().expect("the terminal is still there");
        master.resize(pty_size(columns, rows)).unwrap();
    }

    /// Sends a signal to the program alone.
    pub fn signal(&self, signal: Signal) {
        let id = self.child.process_id().expect("the program runs") as i32;
        kill_process(Pid::from_raw(id).unwrap(), signal).unwrap();
    }

    /// Closes every descriptor of the far end, as when a link is cut. The
    /// repaint only wakes the thread that reads, so that it lets go.
    pub fn hang_up(&mut self) {
        self.closing.store(true, Ordering::SeqCst);
        if let Some(keyboard) = &mut self.keyboard {
            let _ = keyboard.write_all(b"\x0c");
        }
        let limit = Instant::now() + LIMIT;
        while self.take_output(limit.saturating_duration_since(Instant::now())) {}
        (self.keyboard, self.master) = (None, None);
    }

    /// Waits until the program has ended and its last output is in.
    #[track_caller]
    pub fn wait_exit(&mut self) -> ExitStatus {
        let limit = Instant::now() + LIMIT;
        loop {
            if let Some(status) = self.child.try_wait().unwrap() {
                // On a busy machine the thread that reads may come late.
                self.settle(Duration::from_millis(250));
                return status;
            }
            if Instant::now() > limit {
                panic!("the program never ended\n{}", self.report());
            }
            self.take_output(Duration::from_millis(5));
        }
    }

    /// Checks that the terminal is as the program found it.
    #[track_caller]
    pub fn assert_restored(&self) {
        let screen = self.emulator.screen();
        assert!(!screen.alternate_screen(), "alternate screen left on");
        assert!(!screen.hide_cursor(), "caret left hidden");
        assert!(!screen.bracketed_paste(), "bracketed paste left on");
        assert_eq!(screen.mouse_protocol_mode(), vt100::MouseProtocolMode::None);
        assert!(!screen.application_cursor() && !screen.application_keypad());
        assert!(!screen.inverse() && !screen.bold() && !screen.underline());
        assert_eq!(screen.fgcolor(), vt100::Color::Default);
        let now = self.master.as_deref().and_then(modes);
        assert_eq!(now, self.modes_before, "line modes differ");
    }

    /// Line modes at present, as text to compare.
    pub fn line_modes(&self) -> Option<String> {
        self.master.as_deref().and_then(modes)
    }

    /// Checks that the program asked the terminal nothing and used no sequence but these finals.
    #[track_caller]
    pub fn assert_asked_nothing(&self) {
        for sequence in sequences(&self.raw) {
            let last = sequence.chars().last().unwrap_or(' ');
            let known = sequence.starts_with('[') && "ABCDGHJKXmhl".contains(last);
            assert!(known, "the terminal was sent ESC {sequence:?}");
        }
    }

    fn report(&self) -> String {
        let mut text = String::new();
        let _ = writeln!(text, "--- screen\n{}\n--- last bytes", self.screen());
        let from = self.raw.len().saturating_sub(300);
        let _ = writeln!(text, "{}", self.raw[from..].escape_ascii());
        text
    }
}

impl Drop for Session {
    fn drop(&mut self) {
        // A program that a failed test leaves behind must not outlive it.
        if matches!(self.child.try_wait(), Ok(None)) {
            let _ = self.child.kill();
            let _ = self.child.wait();
        }
    }
}

/// The escape sequences in some output, without their ESC.
pub fn sequences(raw: &[u8]) -> Vec<String> {
    let mut found = Vec::new();
    let mut rest = raw;
    while let Some(at) = rest.iter().position(|b| *b == 0x1b) {
        rest = &rest[at + 1..];
        let length = match rest.first() {
            Some(b'[') => rest[1..]
                .iter()
                .position(|b| (0x40..=0x7e).contains(b))
                .map_or(rest.len(), |end| end + 2),
            Some(_) => 1,
            None => 0,
        };
        found.push(String::from_utf8_lossy(&rest[..length]).into_owned());
    }
    found
}

/// An example program of this package, built if it is not there or not current.
pub fn example(name: &str) -> PathBuf {
    static BUILT: OnceLock<PathBuf> = OnceLock::new();
    let folder = BUILT.get_or_init(|| {
        let own = std::env::current_exe().unwrap();
        let profile = own.parent().and_then(Path::parent).unwrap().to_path_buf();
        let mut build = Command::new(env!("CARGO"));
        build.args(["build", "--quiet", "--examples", "--target-dir"]);
        build.arg(profile.parent().unwrap());
        if profile.ends_with("release") {
            build.arg("--release");
        }
        build.current_dir(env!("CARGO_MANIFEST_DIR"));
        assert!(
            build.status().unwrap().success(),
            "the examples do not build"
        );
        profile.join("examples")
    });
    folder.join(name)
}

fn modes(master: &(dyn MasterPty + Send)) -> Option<String> {
    let found = master.get_termios()?;
    Some(format!(
        "{:?} {:?} {:?}",
        found.input_flags, found.output_flags, found.local_flags
    ))
}

fn pty_size(columns: u16, rows: u16) -> PtySize {
    PtySize {
        rows,
        cols: columns,
        pixel_width: 0,
        pixel_height: 0,
    }
}

fn positive(number: u16) -> NonZeroU16 {
    NonZeroU16::new(number).expect("sizes in tests are not zero")
}
