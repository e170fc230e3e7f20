//! The event loop: read everything that waits, work, draw once if something changed, wait.

use std::collections::VecDeque;
use std::io;
use std::time::{Duration, Instant};

use ratatui::Terminal;
use ratatui::layout::Rect;

use super::app_trait::{App, Input};
use super::term::{self, Descriptor, Guard, Signals};
use super::thrifty::Thrifty;
use crate::keys::{Decoder, KeyInput, LOCAL_ESCAPE_GAP, REMOTE_ESCAPE_GAP};

/// While keys keep coming, the screen is brought up to date at least this often.
const PAINT_AT_LEAST_EVERY: Duration = Duration::from_millis(50);
/// Work that is not done in this time is interrupted once, to show what was typed.
const WORK_BEFORE_PAINT: Duration = Duration::from_millis(25);
/// A program whose deadline stays in the past is asked this often, so that it cannot spin us.
const TICK_AT_MOST_EVERY: Duration = Duration::from_millis(20);
/// Input taken in before looking at signals and the screen again.
const READ_AT_MOST_BYTES: usize = 1 << 16;

/// What depends on the person's surroundings.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Options {
    /// Send colours. Without, bold, dim, underline and reverse remain.
    pub colour: bool,
    /// How long a started escape sequence waits for its rest.
    pub escape_gap: Duration,
}

impl Options {
    /// From `NO_COLOR` (any text but the empty one means no colour) and `SSH_TTY` (over ssh the
    /// pieces of a key may come further apart).
    #[must_use]
    pub fn from_environment() -> Self {
        let set = |name| std::env::var_os(name).is_some_and(|value| !value.is_empty());
        Self {
            colour: !set("NO_COLOR"),
            escape_gap: if set("SSH_TTY") {
                REMOTE_ESCAPE_GAP
            } else {
                LOCAL_ESCAPE_GAP
            },
        }
    }
}

/// Runs a program of screens until it wants to leave, a signal asks it to, or the terminal is
/// gone. Returns the exit code: the program's own, or 128 and the signal's number (a terminal
/// gone counts as SIGHUP). The terminal is restored on every way out.
///
/// # Errors
/// When there is no terminal, or it cannot be read, written or set.
pub fn run(app: &mut dyn App, options: Options) -> io::Result<i32> {
    let signals = Signals::catch()?;
    let guard = Guard::enter()?;
    let size = term::size();
    let screen = Terminal::new(Thrifty::new(Descriptor, size, options.colour))?;
    let mut cycle = Loop {
        app,
        screen,
        guard,
        signals,
        decoder: Decoder::new(options.escape_gap),
        waiting: VecDeque::new(),
        gone: false,
        stopped: false,
        whole_screen: true,
        painted: None,
        ticked: None,
    };
    cycle.turn_until_left()
}

struct Loop<'a> {
    app: &'a mut dyn App,
    screen: Terminal<Thrifty<Descriptor>>,
    // Fields are dropped in this order: the terminal is restored before signals are let go.
    guard: Guard,
    signals: Signals,
    decoder: Decoder,
    waiting: VecDeque<KeyInput>,
    gone: bool,
    stopped: bool,
    whole_screen: bool,
    painted: Option<Instant>,
    ticked: Option<Instant>,
}

impl Loop<'_> {
    fn turn_until_left(&mut self) -> io::Result<i32> {
        loop {
            if let Some(code) = self.obey_signals()? {
                return Ok(code);
            }
            if self.stopped {
                term::wait_for_signal(self.signals.descriptor())?;
                continue;
            }
            self.take_input()?;
            if let Some(code) = self.app.wants_exit() {
                return Ok(code);
            }
            if self.gone {
                return Ok(Signals::HANG_UP);
            }
            if self.stopped {
                continue;
            }
            self.work_and_paint()?;
            self.wait()?;
        }
    }

    fn obey_signals(&mut self) -> io::Result<Option<i32>> {
        let asked = self.signals.take();
        if asked.leave.is_some() {
            return Ok(asked.leave);
        }
        if asked.resumed {
            self.guard.enter_again()?;
            self.stopped = false;
            self.whole_screen = true;
        } else if asked.stop {
            self.stop()?;
        }
        Ok(None)
    }

    /// Leaves the screens and stops the job. Going on is told by SIGCONT, which the loop awaits.
    fn stop(&mut self) -> io::Result<()> {
        term::restore();
        self.stopped = term::stop_job()?;
        if !self.stopped {
            self.guard.enter_again()?;
            self.whole_screen = true;
        }
        Ok(())
    }

    /// Reads all that waits, then hands it on until the program wants to leave or stop.
    fn take_input(&mut self) -> io::Result<()> {
        let mut buffer = [0; 4096];
        let mut taken = 0;
        while taken < READ_AT_MOST_BYTES && !self.gone && term::input_waiting() {
            let count = term::read_input(&mut buffer)?;
            self.gone = count == 0;
            taken += count;
            let complete = self.decoder.feed(&buffer[..count], Instant::now());
            self.waiting.extend(complete);
        }
        self.waiting.extend(self.decoder.release(Instant::now()));
        while let Some(input) = self.waiting.pop_front() {
            self.app.on_input(match input {
                KeyInput::Key(chord) => Input::Key(chord),
                KeyInput::Paste(text) => Input::Paste(text),
            });
            if self.app.wants_suspend() {
                self.stop()?;
            }
            if self.stopped || self.app.wants_exit().is_some() {
                return Ok(());
            }
        }
        self.tick();
        Ok(())
    }

    fn tick(&mut self) {
        let now = Instant::now();
        if self.next_tick().is_some_and(|due| due <= now) {
            self.ticked = Some(now);
            self.app.on_input(Input::Tick(now));
        }
    }

    fn next_tick(&self) -> Option<Instant> {
        let earliest = self.ticked.map(|last| last + TICK_AT_MOST_EVERY);
        let due = self.app.next_deadline()?;
        Some(earliest.map_or(due, |earliest| due.max(earliest)))
    }

    /// Short work goes into the same frame as the keys that caused it; longer work shows the keys
    /// first and its result when it has one.
    fn work_and_paint(&mut self) -> io::Result<()> {
        self.whole_screen |= self.app.wants_repaint();
        self.follow_size()?;
        let unpainted = self.whole_screen || self.app.dirty();
        let limit = unpainted.then(|| Instant::now() + WORK_BEFORE_PAINT);
        self.work(limit);
        self.paint_if_due()?;
        self.work(None);
        self.paint_if_due()
    }

    fn work(&mut self, limit: Option<Instant>) {
        let signals = &self.signals;
        self.app.pending_work(&|| {
            term::input_waiting()
                || signals.leaving()
                || limit.is_some_and(|limit| Instant::now() >= limit)
        });
    }

    fn paint_if_due(&mut self) -> io::Result<()> {
        if self.gone || (!self.whole_screen && !self.app.dirty()) {
            return Ok(());
        }
        // Keys that came meanwhile go into the same frame, unless the screen is getting old.
        let fresh = self
            .painted
            .is_some_and(|last| last.elapsed() < PAINT_AT_LEAST_EVERY);
        if fresh && term::input_waiting() {
            return Ok(());
        }
        self.paint()
    }

    fn follow_size(&mut self) -> io::Result<()> {
        let size = term::size();
        let known = ratatui::backend::Backend::size(self.screen.backend())?;
        if size != known {
            self.screen.backend_mut().resize(size);
            self.screen
                .resize(Rect::new(0, 0, size.width, size.height))?;
            self.app.on_input(Input::Resize(size.width, size.height));
            self.whole_screen = true;
        }
        Ok(())
    }

    fn paint(&mut self) -> io::Result<()> {
        if !self.guard.is_ours() {
            return Err(io::Error::other(
                "a part of the program failed and the screens were left; see the message above",
            ));
        }
        if self.whole_screen {
            self.screen.backend_mut().invalidate();
        }
        let app = &mut self.app;
        match self.screen.draw(|frame| app.draw(frame)) {
            Ok(_) => {}
            // The terminal went while we wrote: the same as a hang-up.
            Err(error) if is_gone(&error) => self.gone = true,
            Err(error) => return Err(error),
        }
        self.whole_screen = false;
        self.painted = Some(Instant::now());
        Ok(())
    }

    fn wait(&mut self) -> io::Result<()> {
        if self.gone || self.app.wants_exit().is_some() {
            return Ok(());
        }
        let until = [self.decoder.deadline(), self.next_tick()];
        let now = Instant::now();
        let timeout = until
            .into_iter()
            .flatten()
            .min()
            .map(|due| due.saturating_duration_since(now));
        let ready = term::wait(self.signals.descriptor(), timeout)?;
        self.gone = ready.gone && !ready.input;
        Ok(())
    }
}

fn is_gone(error: &io::Error) -> bool {
    let gone = [rustix::io::Errno::IO, rustix::io::Errno::PIPE];
    let code = error.raw_os_error();
    gone.iter().any(|errno| code == Some(errno.raw_os_error()))
}
