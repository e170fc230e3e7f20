//! A small program on the terminal floor, for the tests of that floor alone.
//!
//! It shows what it was told and how often it drew. Keys: q leaves with 0, ctrl-c with 130, Q with
//! 7; ctrl-z suspends, ctrl-l repaints; j moves the selection; T makes a timer of 40 ms run; P
//! panics; W panics in another thread; S sleeps for ten seconds without looking at anything; L
//! starts long work that a waiting key interrupts; B fills the screen.

use std::io::Write;
use std::time::{Duration, Instant};

use polecard::tui::run::{Options, run};
use polecard::tui::{App, Input};
use ratatui::Frame;
use ratatui::style::{Color, Modifier, Style};

const ROWS: u16 = 4;
const TICK: Duration = Duration::from_millis(40);
const LOG_LENGTH: usize = 60;

#[derive(Default)]
struct Probe {
    frames: u32,
    log: String,
    typed: usize,
    selected: u16,
    size: String,
    ticks: u32,
    timer: Option<Instant>,
    work_left: u32,
    full: bool,
    dirty: bool,
    exit: Option<i32>,
    suspend: bool,
    repaint: bool,
}

impl Probe {
    fn key(&mut self, name: &str) {
        match name {
            "q" => self.exit = Some(0),
            "Q" => self.exit = Some(7),
            "ctrl-c" => self.exit = Some(130),
            "ctrl-z" => self.suspend = true,
            "ctrl-l" => self.repaint = true,
            "j" => self.selected = (self.selected + 1) % ROWS,
            "T" => self.timer = Some(Instant::now() + TICK),
            "P" => panic!("asked to panic"),
            "W" => {
                let _ = std::thread::spawn(|| panic!("asked to panic elsewhere")).join();
            }
            "S" => std::thread::sleep(Duration::from_secs(10)),
            "L" => self.work_left = 3000,
            "B" => self.full = true,
            _ => {}
        }
        self.typed += 1;
        self.note(name);
    }

    fn note(&mut self, what: &str) {
        self.log.push_str(what);
        self.log.push(' ');
        let cut = self.log.chars().count().saturating_sub(LOG_LENGTH);
        self.log = self.log.chars().skip(cut).collect();
    }

    fn lines(&self) -> Vec<String> {
        vec![
            format!(
                "probe frames {} typed {} size {}",
                self.frames, self.typed, self.size
            ),
            format!("got {}", self.log),
            format!("ticks {}", if self.ticks > 9 { "many" } else { "few" }),
            format!(
                "work {}",
                if self.work_left > 0 {
                    "under way"
                } else {
                    "none"
                }
            ),
        ]
    }
}

impl App for Probe {
    fn on_input(&mut self, input: Input) {
        match input {
            Input::Key(chord) => self.key(&chord.to_string()),
            Input::Paste(text) => self.note(&format!("paste<{}>", text.replace('\n', "|"))),
            Input::Resize(width, height) => self.size = format!("{width}x{height}"),
            Input::Tick(now) => {
                // As a program that looks whether a file changed: only the tenth look shows.
                self.ticks += 1;
                self.timer = Some(now + TICK);
                self.dirty |= self.ticks == 10;
                return;
            }
        }
        self.dirty = true;
    }

    fn dirty(&self) -> bool {
        self.dirty
    }

    fn draw(&mut self, frame: &mut Frame) {
        self.frames += 1;
        self.dirty = false;
        let (area, lines) = (frame.area(), self.lines());
        let buffer = frame.buffer_mut();
        for (y, line) in (0..area.height).zip(lines) {
            buffer.set_string(0, y, line, Style::new());
        }
        for row in 0..ROWS {
            let y = 5 + row;
            if y < area.height {
                let mut style = Style::new().fg(Color::Green);
                if row == self.selected {
                    style = style.add_modifier(Modifier::REVERSED);
                }
                buffer.set_string(0, y, format!("row {row}"), style);
            }
        }
        for y in 9..area.height {
            if self.full {
                buffer.set_string(0, y, "#".repeat(area.width.into()), Style::new());
            }
        }
    }

    fn wants_exit(&self) -> Option<i32> {
        self.exit
    }

    fn wants_suspend(&mut self) -> bool {
        std::mem::take(&mut self.suspend)
    }

    fn wants_repaint(&mut self) -> bool {
        std::mem::take(&mut self.repaint)
    }

    fn pending_work(&mut self, stop: &dyn Fn() -> bool) {
        while self.work_left > 0 && !stop() {
            std::thread::sleep(Duration::from_millis(1));
            self.work_left -= 1;
        }
    }

    fn next_deadline(&self) -> Option<Instant> {
        self.timer
    }
}

fn main() {
    let mut probe = Probe::default();
    match run(&mut probe, Options::from_environment()) {
        Ok(code) => {
            // The terminal may be gone: print! would panic.
            let _ = writeln!(std::io::stdout(), "probe left with {code}");
            std::process::exit(code);
        }
        Err(error) => {
            eprintln!("probe failed: {error}");
            std::process::exit(4);
        }
    }
}
