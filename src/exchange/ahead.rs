//! Documents read ahead: split and typed on a thread of their own, handed over
//! in the order of the files.

use std::path::Path;
use std::sync::atomic::{AtomicBool, Ordering};
use std::sync::mpsc::{Receiver, SyncSender, sync_channel};
use std::sync::{Arc, OnceLock};

use super::Progress;
use super::document::{Doc, ExchangeError};
use super::source::SourceFile;

/// Documents handed over together.
const TOGETHER: usize = 256;

/// Hands that may wait.
const WAITING: usize = 8;

/// Set when a person asks a long import to stop; it then leaves the register as
/// it was.
#[must_use]
pub fn stop() -> Arc<AtomicBool> {
    static STOP: OnceLock<Arc<AtomicBool>> = OnceLock::new();
    Arc::clone(STOP.get_or_init(Arc::default))
}

/// Fails when a person has asked to stop.
///
/// # Errors
/// [`ExchangeError::Stopped`].
pub(super) fn go_on() -> Result<(), ExchangeError> {
    match stop().load(Ordering::Relaxed) {
        true => Err(ExchangeError::Stopped),
        false => Ok(()),
    }
}

/// A document as it was understood, and where it stands.
pub(super) struct Understood<'f, T> {
    pub file: &'f SourceFile,
    pub line: usize,
    pub what: T,
}

/// How far reading has come, over all files of a source.
pub(super) struct Meter<'p> {
    pub so_far: Progress,
    pub show: &'p mut dyn FnMut(Progress),
}

impl<'p> Meter<'p> {
    pub fn new(files: &[&[SourceFile]], show: &'p mut dyn FnMut(Progress)) -> Meter<'p> {
        let of_bytes = files
            .iter()
            .flat_map(|f| f.iter())
            .map(SourceFile::size)
            .sum();
        Meter {
            so_far: Progress {
                rows: 0,
                bytes: 0,
                of_bytes,
            },
            show,
        }
    }
}

struct Hand<T> {
    documents: Vec<(usize, usize, T)>,
    bytes: u64,
    /// What ended the reading.
    problem: Option<ExchangeError>,
}

/// Reads every document of `files` with `understand` on another thread, and
/// gives what was understood to `take`, in order. The first problem is the last
/// thing given.
pub(super) fn read_ahead<'f, T: Send, R>(
    files: &'f [SourceFile],
    understand: impl Fn(&Doc, &Path) -> Result<T, ExchangeError> + Send,
    meter: &mut Meter<'_>,
    take: impl FnOnce(&mut Ahead<'f, '_, '_, T>) -> R,
) -> R {
    let (out, hands) = sync_channel(WAITING);
    std::thread::scope(|scope| {
        scope.spawn(move || read(files, &understand, &out));
        // Dropped before the thread is waited for, which ends it.
        let mut ahead = Ahead {
            files,
            hands,
            now: Vec::new().into_iter(),
            problem: None,
            meter,
        };
        take(&mut ahead)
    })
}

fn read<T>(
    files: &[SourceFile],
    understand: &impl Fn(&Doc, &Path) -> Result<T, ExchangeError>,
    out: &SyncSender<Hand<T>>,
) {
    let fresh = || Hand {
        documents: Vec::with_capacity(TOGETHER),
        bytes: 0,
        problem: None,
    };
    let mut hand = fresh();
    let mut all = || {
        for (i, file) in files.iter().enumerate() {
            for doc in file.documents()? {
                let doc = doc?;
                hand.documents
                    .push((i, doc.line, understand(&doc, &file.path)?));
                // The line that parts it from the next.
                hand.bytes += doc.text.len() as u64 + 5;
                if hand.documents.len() == TOGETHER {
                    let full = std::mem::replace(&mut hand, fresh());
                    if out.send(full).is_err() {
                        return Ok(());
                    }
                }
            }
        }
        Ok(())
    };
    let ended: Result<(), ExchangeError> = all();
    hand.problem = ended.err();
    // Nobody listens any more when the reader has given up.
    let _ = out.send(hand);
}

/// What has been read ahead.
pub(super) struct Ahead<'f, 'm, 'p, T> {
    files: &'f [SourceFile],
    hands: Receiver<Hand<T>>,
    now: std::vec::IntoIter<(usize, usize, T)>,
    problem: Option<ExchangeError>,
    meter: &'m mut Meter<'p>,
}

impl<'f, T> Iterator for Ahead<'f, '_, '_, T> {
    type Item = Result<Understood<'f, T>, ExchangeError>;

    fn next(&mut self) -> Option<Self::Item> {
        loop {
            if let Some((file, line, what)) = self.now.next() {
                return Some(Ok(Understood {
                    file: &self.files[file],
                    line,
                    what,
                }));
            }
            if let Some(problem) = self.problem.take() {
                return Some(Err(problem));
            }
            let hand = self.hands.recv().ok()?;
            if let Err(stopped) = go_on() {
                return Some(Err(stopped));
            }
            let so_far = &mut self.meter.so_far;
            so_far.rows += hand.documents.len();
            so_far.bytes += hand.bytes;
            (self.meter.show)(*so_far);
            self.now = hand.documents.into_iter();
            self.problem = hand.problem;
        }
    }
}
