//! The terminal's two descriptors: waiting, reading, writing, size.

use std::io;
use std::os::fd::BorrowedFd;
use std::time::Duration;

use ratatui::layout::Size;
use rustix::event::{PollFd, PollFlags, Timespec, poll};
use rustix::io::Errno;
use rustix::stdio::{stdin, stdout};
use rustix::termios::{isatty, tcgetwinsize};

const GONE: PollFlags = PollFlags::HUP.union(PollFlags::ERR).union(PollFlags::NVAL);
const NOW: Timespec = Timespec {
    tv_sec: 0,
    tv_nsec: 0,
};
/// What most terminals are when they do not say (a serial line says 0 by 0).
const USUAL: Size = Size {
    width: 80,
    height: 24,
};

/// Standard output as a writer without a buffer: one call, one `write(2)`.
#[derive(Debug)]
pub(in crate::tui) struct Descriptor;

impl io::Write for Descriptor {
    fn write(&mut self, bytes: &[u8]) -> io::Result<usize> {
        loop {
            match rustix::io::write(stdout(), bytes) {
                Err(Errno::INTR) => {}
                // Someone who shares the descriptor made it non-blocking: wait for room.
                Err(Errno::AGAIN) => {
                    let mut fds = [PollFd::from_borrowed_fd(stdout(), PollFlags::OUT)];
                    poll_patiently(&mut fds, None)?;
                }
                other => return Ok(other?),
            }
        }
    }

    fn flush(&mut self) -> io::Result<()> {
        Ok(())
    }
}

/// What a wait ended with.
#[derive(Clone, Copy, Debug, Default)]
pub(in crate::tui) struct Ready {
    /// There are bytes to read.
    pub(in crate::tui) input: bool,
    /// The terminal has vanished.
    pub(in crate::tui) gone: bool,
}

/// Waits until the terminal has something, a signal came in through `signals`, or the time is up.
///
/// # Errors
/// What poll(2) reports; an interruption is none.
pub(in crate::tui) fn wait(
    signals: BorrowedFd<'_>,
    timeout: Option<Duration>,
) -> io::Result<Ready> {
    let mut fds = [
        PollFd::from_borrowed_fd(stdin(), PollFlags::IN),
        PollFd::from_borrowed_fd(signals, PollFlags::IN),
    ];
    poll_patiently(&mut fds, timeout)?;
    let input = fds[0].revents();
    Ok(Ready {
        // Keys typed before the link fell are still read first.
        input: input.contains(PollFlags::IN),
        gone: input.intersects(GONE),
    })
}

/// Waits for signals alone, as while stopped.
///
/// # Errors
/// What poll(2) reports; an interruption is none.
pub(in crate::tui) fn wait_for_signal(signals: BorrowedFd<'_>) -> io::Result<()> {
    poll_patiently(
        &mut [PollFd::from_borrowed_fd(signals, PollFlags::IN)],
        None,
    )
}

/// True if the terminal has vanished.
pub(super) fn gone() -> bool {
    let mut fds = [PollFd::from_borrowed_fd(stdin(), PollFlags::empty())];
    matches!(poll(&mut fds, Some(&NOW)), Ok(1..)) && fds[0].revents().intersects(GONE)
}

/// Waits for one of two pipes, or for the terminal to vanish.
///
/// # Errors
/// What poll(2) reports; an interruption is none.
pub(super) fn wait_for_either(first: BorrowedFd<'_>, second: BorrowedFd<'_>) -> io::Result<()> {
    let mut fds = [
        PollFd::from_borrowed_fd(first, PollFlags::IN),
        PollFd::from_borrowed_fd(second, PollFlags::IN),
        // Asking for nothing still reports a hang-up.
        PollFd::from_borrowed_fd(stdin(), PollFlags::empty()),
    ];
    poll_patiently(&mut fds, None)
}

/// True if a key is waiting. Costs one system call.
pub(in crate::tui) fn input_waiting() -> bool {
    let mut fds = [PollFd::from_borrowed_fd(stdin(), PollFlags::IN)];
    matches!(poll(&mut fds, Some(&NOW)), Ok(1..))
}

pub(super) fn writable_within(patience: Duration) -> bool {
    let mut fds = [PollFd::from_borrowed_fd(stdout(), PollFlags::OUT)];
    poll_patiently(&mut fds, Some(patience)).is_ok()
        && fds[0].revents().contains(PollFlags::OUT)
        && !fds[0].revents().intersects(GONE)
}

/// An interruption counts as a wait that ended: the caller looks at what the signal was.
fn poll_patiently(fds: &mut [PollFd<'_>], timeout: Option<Duration>) -> io::Result<()> {
    let timeout = timeout.map(|t| Timespec {
        tv_sec: i64::try_from(t.as_secs()).unwrap_or(i64::MAX),
        tv_nsec: t.subsec_nanos().into(),
    });
    match poll(fds, timeout.as_ref()) {
        Ok(_) | Err(Errno::INTR) => Ok(()),
        Err(error) => Err(error.into()),
    }
}

/// Reads what is there; call it when a wait said so. Zero bytes mean that the terminal is gone.
///
/// # Errors
/// What read(2) reports, except that a terminal gone is no error.
pub(in crate::tui) fn read_input(buffer: &mut [u8]) -> io::Result<usize> {
    loop {
        match rustix::io::read(stdin(), &mut *buffer) {
            Err(Errno::INTR) => {}
            Err(Errno::IO | Errno::BADF | Errno::NXIO) => return Ok(0),
            other => return Ok(other?),
        }
    }
}

/// Columns and rows, from the kernel and never from the terminal.
pub(in crate::tui) fn size() -> Size {
    match tcgetwinsize(stdout()) {
        Ok(found) if found.ws_col > 0 && found.ws_row > 0 => Size::new(found.ws_col, found.ws_row),
        _ => USUAL,
    }
}

pub(super) fn must_be_terminals() -> io::Result<()> {
    for (descriptor, name) in [(stdin(), "input"), (stdout(), "output")] {
        if !isatty(descriptor) {
            return Err(io::Error::new(
                io::ErrorKind::Unsupported,
                format!(
                    "the screens need a terminal, and standard {name} is none: \
                     start them without a pipe, or use a subcommand"
                ),
            ));
        }
    }
    Ok(())
}
