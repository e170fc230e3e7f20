//! The terminal's modes: into them at start, out of them however the program ends.
//!
//! One function, [`restore`], leaves the screens; exit, errors, panics, signals and suspension all
//! go through it, and calling it twice does nothing. It works from any thread.

mod signals;
mod tty;

use std::io;
use std::sync::{Mutex, MutexGuard, Once, PoisonError};
use std::time::Duration;

use crossterm::Command;
use crossterm::cursor::{Hide, Show};
use crossterm::event::{DisableBracketedPaste, EnableBracketedPaste};
use crossterm::style::{Attribute, SetAttribute};
use crossterm::terminal::{EnterAlternateScreen, LeaveAlternateScreen};
use rustix::termios::{OptionalActions, Termios, tcgetattr, tcsetattr};

pub(super) use signals::Signals;
pub(super) use tty::{Descriptor, input_waiting, read_input, size, wait, wait_for_signal};

/// The byte forms of the modes are crossterm's; that they leave in one write is ours.
fn sequence(parts: &[&dyn AnsiCommand]) -> Vec<u8> {
    let mut out = String::new();
    for part in parts {
        part.put(&mut out);
    }
    out.into_bytes()
}

/// A crossterm command behind a pointer.
trait AnsiCommand {
    fn put(&self, out: &mut String);
}

impl<C: Command> AnsiCommand for C {
    fn put(&self, out: &mut String) {
        self.write_ansi(out)
            .expect("writing to a string does not fail");
    }
}

/// Bracketed paste on, and the caret hidden once for good.
fn modes() -> Vec<u8> {
    sequence(&[&EnableBracketedPaste, &Hide])
}

/// The alternate screen, then the modes.
fn entering() -> Vec<u8> {
    sequence(&[&EnterAlternateScreen, &EnableBracketedPaste, &Hide])
}

/// Plain look, caret shown, paste and alternate screen off.
fn leaving() -> Vec<u8> {
    sequence(&[
        &SetAttribute(Attribute::Reset),
        &Show,
        &DisableBracketedPaste,
        &LeaveAlternateScreen,
    ])
}

/// Just after `fg` the terminal may not be ours yet.
const ENTER_TRIES: u32 = 10;
const ENTER_PAUSE: Duration = Duration::from_millis(20);
/// A terminal that takes nothing for this long is not worth waiting for when leaving.
const LEAVE_PATIENCE: Duration = Duration::from_millis(200);

/// The modes to go back to; `None` while the terminal is not ours.
static BEFORE: Mutex<Option<Termios>> = Mutex::new(None);

fn before() -> MutexGuard<'static, Option<Termios>> {
    // A panic while holding it leaves nothing half done: it is one assignment.
    BEFORE.lock().unwrap_or_else(PoisonError::into_inner)
}

/// Holds the terminal in its screen modes; dropping it restores.
#[derive(Debug)]
pub(super) struct Guard(());

impl Guard {
    /// Takes the terminal. Panics are made to restore it first.
    ///
    /// # Errors
    /// When standard input or output is not a terminal, or its modes cannot be set.
    pub(super) fn enter() -> io::Result<Self> {
        tty::must_be_terminals()?;
        restore_on_panic();
        take()?;
        Ok(Self(()))
    }

    /// Takes the terminal again after a stop.
    ///
    /// # Errors
    /// When its modes cannot be set.
    pub(super) fn enter_again(&self) -> io::Result<()> {
        let mut result = take();
        for _ in 1..ENTER_TRIES {
            if result.is_ok() {
                break;
            }
            std::thread::sleep(ENTER_PAUSE);
            result = take();
        }
        result
    }

    /// False once [`restore`] has run, in this thread or another.
    pub(super) fn is_ours(&self) -> bool {
        before().is_some()
    }
}

impl Drop for Guard {
    fn drop(&mut self) {
        restore();
    }
}

fn take() -> io::Result<()> {
    let mut saved = before();
    let found = tcgetattr(rustix::stdio::stdin())?;
    let mut raw = found.clone();
    raw.make_raw();
    tcsetattr(rustix::stdio::stdin(), OptionalActions::Now, &raw)?;
    if saved.is_some() {
        // Stopped from outside and never left: the modes found are our own, those to go back to
        // are kept. Entering the alternate screen twice would lose the caret saved at first.
        return io::Write::write_all(&mut Descriptor, &modes());
    }
    *saved = Some(found);
    drop(saved);
    io::Write::write_all(&mut Descriptor, &entering())
}

/// Leaves the screens and puts the terminal's modes back as they were found. Does nothing when
/// that has been done. A terminal that is gone or takes nothing more is let be.
pub fn restore() {
    let mut saved = before();
    let Some(modes) = saved.take() else {
        return;
    };
    // The lock is held until all is done: an exit in another thread waits for it.
    if tty::writable_within(LEAVE_PATIENCE) {
        let _ = io::Write::write_all(&mut Descriptor, &leaving());
    }
    let _ = tcsetattr(rustix::stdio::stdin(), OptionalActions::Now, &modes);
}

/// Makes every panic restore the terminal before its message is printed.
fn restore_on_panic() {
    static ONCE: Once = Once::new();
    ONCE.call_once(|| {
        let previous = std::panic::take_hook();
        std::panic::set_hook(Box::new(move |panic| {
            restore();
            previous(panic);
        }));
    });
}

/// Stops the whole job, as a shell's Ctrl-Z does; returns when it goes on. Returns false at once
/// when there is no shell that could bring it back: we lead the session (a command of `ssh -t`).
pub(super) fn stop_job() -> io::Result<bool> {
    let own = rustix::process::getpid();
    if rustix::process::getsid(None)? == own {
        return Ok(false);
    }
    rustix::process::kill_current_process_group(rustix::process::Signal::STOP)?;
    Ok(true)
}
