//! Signals: noted by handlers, told through a pipe, obeyed by the event loop; and a watchdog for
//! the case that the loop cannot obey.
//!
//! The watchdog thread sleeps in poll(2) and costs nothing. It wakes when a signal to leave comes
//! or the terminal vanishes, gives the loop a moment to leave in order, and then restores the
//! terminal and ends the process itself. So neither a write to a stalled link nor a long search
//! nor a reader that spins on a dead descriptor can keep the program alive.

use std::io::{self, Read};
use std::os::fd::{AsFd, BorrowedFd};
use std::os::unix::net::UnixStream;
use std::sync::atomic::{AtomicBool, Ordering};
use std::sync::{Arc, LazyLock, Once};
use std::thread;
use std::time::{Duration, Instant};

use signal_hook::consts::{SIGCONT, SIGHUP, SIGINT, SIGTERM, SIGTSTP, SIGWINCH};
use signal_hook::{SigId, flag, low_level};

/// Exit code on a signal: 128 and its number, as shells report it.
const SIGNALLED: i32 = 128;
const LEAVING: [i32; 3] = [SIGTERM, SIGHUP, SIGINT];
/// Within a second of the signal the process is gone.
const GRACE: Duration = Duration::from_millis(700);
const GRACE_STEP: Duration = Duration::from_millis(20);

/// True while no screens are up: then signals take their default course. Once for the process,
/// like the handlers that read it: a signal that once had a handler would otherwise be lost.
static OUTSIDE: LazyLock<Arc<AtomicBool>> = LazyLock::new(|| Arc::new(AtomicBool::new(true)));

/// What signals have asked for since the last look.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub(in crate::tui) struct Asked {
    /// Leave, with this exit code.
    pub(in crate::tui) leave: Option<i32>,
    /// Stop the job.
    pub(in crate::tui) stop: bool,
    /// The job goes on after a stop.
    pub(in crate::tui) resumed: bool,
}

/// Signals are caught while this lives; afterwards they act as if never caught.
#[derive(Debug)]
pub(in crate::tui) struct Signals {
    wake: UnixStream,
    flags: Arc<Flags>,
    /// Dropping it ends the watchdog.
    _watched: UnixStream,
    registered: Vec<SigId>,
}

#[derive(Debug, Default)]
struct Flags {
    leaving: [Arc<AtomicBool>; 3],
    stop: Arc<AtomicBool>,
    resumed: Arc<AtomicBool>,
    /// The screens are down again: the watchdog has nothing left to watch.
    over: AtomicBool,
}

impl Flags {
    fn leave_code(&self) -> Option<i32> {
        let caught = |(flag, signal): (&Arc<AtomicBool>, i32)| {
            flag.load(Ordering::SeqCst).then_some(SIGNALLED + signal)
        };
        self.leaving.iter().zip(LEAVING).find_map(caught)
    }
}

impl Signals {
    /// The exit code for a terminal that vanished: as if SIGHUP had come.
    pub(in crate::tui) const HANG_UP: i32 = SIGNALLED + SIGHUP;

    /// Starts catching.
    ///
    /// # Errors
    /// When a handler, a pipe or the watchdog's thread cannot be made.
    pub(in crate::tui) fn catch() -> io::Result<Self> {
        let (wake, told) = UnixStream::pair()?;
        let (watch, alarm) = UnixStream::pair()?;
        let (watched, end) = UnixStream::pair()?;
        wake.set_nonblocking(true)?;
        let flags = Arc::new(Flags::default());
        let mut registered = Vec::new();
        // Handlers run in this order: default course if outside, then the note, then the pipe.
        default_when_outside()?;
        OUTSIDE.store(false, Ordering::SeqCst);
        for (signal, noted) in LEAVING.into_iter().zip(&flags.leaving) {
            registered.push(flag::register(signal, Arc::clone(noted))?);
            registered.push(low_level::pipe::register(signal, told.try_clone()?)?);
            registered.push(low_level::pipe::register(signal, alarm.try_clone()?)?);
        }
        for (signal, noted) in [(SIGTSTP, &flags.stop), (SIGCONT, &flags.resumed)] {
            registered.push(flag::register(signal, Arc::clone(noted))?);
            registered.push(low_level::pipe::register(signal, told.try_clone()?)?);
        }
        registered.push(low_level::pipe::register(SIGWINCH, told)?);
        let watchdog_flags = Arc::clone(&flags);
        thread::Builder::new()
            .name("watchdog".to_owned())
            .spawn(move || watch_over(&watch, &end, &watchdog_flags))?;
        Ok(Self {
            wake,
            flags,
            _watched: watched,
            registered,
        })
    }

    /// Becomes readable when a signal has come.
    pub(in crate::tui) fn descriptor(&self) -> BorrowedFd<'_> {
        self.wake.as_fd()
    }

    /// What has been asked for; a request to stop or go on is told once.
    pub(in crate::tui) fn take(&mut self) -> Asked {
        let mut told = [0; 64];
        while matches!(self.wake.read(&mut told), Ok(1..)) {}
        Asked {
            leave: self.flags.leave_code(),
            stop: self.flags.stop.swap(false, Ordering::SeqCst),
            resumed: self.flags.resumed.swap(false, Ordering::SeqCst),
        }
    }

    /// True if one of the signals to leave has come; costs no system call.
    pub(in crate::tui) fn leaving(&self) -> bool {
        self.flags.leave_code().is_some()
    }
}

impl Drop for Signals {
    fn drop(&mut self) {
        self.flags.over.store(true, Ordering::SeqCst);
        OUTSIDE.store(true, Ordering::SeqCst);
        for id in self.registered.drain(..) {
            low_level::unregister(id);
        }
    }
}

fn default_when_outside() -> io::Result<()> {
    static ONCE: Once = Once::new();
    let mut result = Ok(());
    ONCE.call_once(|| {
        result = LEAVING.into_iter().chain([SIGTSTP]).try_for_each(|signal| {
            flag::register_conditional_default(signal, Arc::clone(&OUTSIDE)).map(|_| ())
        });
    });
    result
}

/// Sleeps until there is cause to end the process or `end` says that the screens are down.
fn watch_over(alarm: &UnixStream, end: &UnixStream, flags: &Flags) {
    let over = || flags.over.load(Ordering::SeqCst);
    while super::tty::wait_for_either(alarm.as_fd(), end.as_fd()).is_ok() {
        if over() {
            return;
        }
        // An interrupted wait has no cause to show; a hang-up and a signal to leave do.
        let gone = super::tty::gone();
        let Some(code) = flags.leave_code().or(gone.then_some(Signals::HANG_UP)) else {
            continue;
        };
        let limit = Instant::now() + GRACE;
        while Instant::now() < limit {
            thread::sleep(GRACE_STEP);
            if over() {
                return;
            }
        }
        super::restore();
        std::process::exit(code);
    }
}
