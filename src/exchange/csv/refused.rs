//! The file of refused rows: the same columns and, last, the reason, so that
//! it can be mended and read again with the same map.

use std::fs::File;
use std::io::{BufWriter, Read, Write};
use std::path::{Path, PathBuf};

use crate::exchange::document::ExchangeError;

/// Heading of the last column.
pub(super) const REASON: &str = "refused_because";
/// How every reason begins, so that it is known again in a row whose columns
/// do not come out.
pub(super) const PREFIX: &str = "refused: ";

/// Written beside its final name, and given that name at the end; an existing
/// file is never written over, since somebody may be mending it.
pub(super) struct RefusedFile {
    wanted: PathBuf,
    /// Whether the name was asked for, so that no other will do.
    fixed: bool,
    heading: Option<Vec<u8>>,
    delimiter: u8,
    ascii: bool,
    open: Option<(PathBuf, BufWriter<File>)>,
}

impl RefusedFile {
    pub(super) fn new(csv: &Path, asked: Option<&Path>, delimiter: u8, ascii: bool) -> Self {
        let wanted = asked.map_or_else(|| beside(csv), std::path::Path::to_path_buf);
        RefusedFile {
            wanted,
            fixed: asked.is_some(),
            heading: None,
            delimiter,
            ascii,
            open: None,
        }
    }

    /// Says the heading; nothing is written before the first refused row.
    pub(super) fn heading<'c>(&mut self, cells: impl Iterator<Item = &'c [u8]>) {
        let mut line = Vec::new();
        for cell in cells {
            quoted(&mut line, cell, self.delimiter);
            line.push(self.delimiter);
        }
        line.extend_from_slice(REASON.as_bytes());
        line.push(b'\n');
        self.heading = Some(line);
    }

    fn failed(&self, e: &std::io::Error) -> ExchangeError {
        match ExchangeError::io(&self.wanted, e) {
            ExchangeError::Io { path, why } => ExchangeError::Io {
                path,
                why: format!(
                    "the refused rows could not be written there ({why}); name another place with --refused"
                ),
            },
            other => other,
        }
    }

    fn writer(&mut self) -> std::io::Result<&mut BufWriter<File>> {
        if self.open.is_none() {
            let mut name = self.wanted.clone().into_os_string();
            name.push(format!(".{}.part", std::process::id()));
            let path = PathBuf::from(name);
            let mut w = BufWriter::new(File::create(&path)?);
            if let Some(heading) = &self.heading {
                w.write_all(heading)?;
            }
            self.open = Some((path, w));
        }
        self.open
            .as_mut()
            .map(|(_, w)| w)
            .ok_or_else(|| std::io::ErrorKind::NotFound.into())
    }

    fn line(&mut self, mut line: Vec<u8>, reason: &str) -> Result<(), ExchangeError> {
        let text = if self.ascii {
            reason.replace(|c: char| !c.is_ascii(), "?")
        } else {
            reason.to_string()
        };
        line.push(b'"');
        line.extend_from_slice(PREFIX.as_bytes());
        line.extend_from_slice(text.replace('"', "\"\"").as_bytes());
        line.extend_from_slice(b"\"\n");
        let done = self.writer().and_then(|w| w.write_all(&line));
        done.map_err(|e| self.failed(&e))
    }

    /// Keeps a row.
    pub(super) fn row<'c>(
        &mut self,
        cells: impl Iterator<Item = &'c [u8]>,
        reason: &str,
    ) -> Result<(), ExchangeError> {
        let mut line = Vec::new();
        for cell in cells {
            quoted(&mut line, cell, self.delimiter);
            line.push(self.delimiter);
        }
        self.line(line, reason)
    }

    /// Keeps a line that is no row, as it stands.
    pub(super) fn raw(&mut self, raw: &[u8], reason: &str) -> Result<(), ExchangeError> {
        let mut line = without_reason(raw, self.delimiter).to_vec();
        if !line.is_empty() {
            line.push(self.delimiter);
        }
        self.line(line, reason)
    }

    /// Gives the file its name; none when no row was refused.
    pub(super) fn finish(mut self) -> Result<Option<PathBuf>, ExchangeError> {
        let Some((part, mut w)) = self.open.take() else {
            return Ok(None);
        };
        let named = w.flush().and_then(|()| self.name(&part));
        if named.is_err() {
            let _ = std::fs::remove_file(&part);
        }
        named.map(Some).map_err(|e| self.failed(&e))
    }

    /// The wanted name, or the next that is free; a file that holds the same
    /// rows already is left and used.
    fn name(&self, part: &Path) -> std::io::Result<PathBuf> {
        for n in 1..100 {
            let path = if n == 1 {
                self.wanted.clone()
            } else {
                numbered(&self.wanted, n)
            };
            match std::fs::hard_link(part, &path) {
                Ok(()) => {
                    std::fs::remove_file(part)?;
                    return Ok(path);
                }
                Err(_) if !path.exists() => {
                    // A disk without links.
                    std::fs::rename(part, &path)?;
                    return Ok(path);
                }
                Err(_) if equal(part, &path)? => {
                    std::fs::remove_file(part)?;
                    return Ok(path);
                }
                Err(_) if self.fixed => break,
                Err(_) => {}
            }
        }
        Err(std::io::Error::new(
            std::io::ErrorKind::AlreadyExists,
            "a file is there already; it was left as it is",
        ))
    }
}

impl Drop for RefusedFile {
    fn drop(&mut self) {
        if let Some((part, _)) = self.open.take() {
            let _ = std::fs::remove_file(part);
        }
    }
}

/// `x.refused.csv` for `x.csv`, and also for a file of refused rows that was
/// mended, `x.refused.csv` or `x.refused-2.csv`.
fn beside(csv: &Path) -> PathBuf {
    let stem = csv
        .file_stem()
        .map_or_else(String::new, |s| s.to_string_lossy().into_owned());
    let bare = stem
        .rsplit_once(".refused")
        .filter(|(_, rest)| {
            let number = rest.strip_prefix('-');
            rest.is_empty()
                || number.is_some_and(|n| !n.is_empty() && n.bytes().all(|b| b.is_ascii_digit()))
        })
        .map_or(stem.as_str(), |(bare, _)| bare);
    csv.with_file_name(format!("{bare}.refused.csv"))
}

fn numbered(path: &Path, n: usize) -> PathBuf {
    let stem = path
        .file_stem()
        .map_or_else(String::new, |s| s.to_string_lossy().into_owned());
    let end = path
        .extension()
        .map_or_else(String::new, |e| format!(".{}", e.to_string_lossy()));
    path.with_file_name(format!("{stem}-{n}{end}"))
}

fn equal(a: &Path, b: &Path) -> std::io::Result<bool> {
    if std::fs::metadata(a)?.len() != std::fs::metadata(b)?.len() {
        return Ok(false);
    }
    let mut one = std::io::BufReader::new(File::open(a)?).bytes();
    let mut two = std::io::BufReader::new(File::open(b)?).bytes();
    loop {
        match (one.next().transpose()?, two.next().transpose()?) {
            (None, None) => return Ok(true),
            (x, y) if x == y => {}
            _ => return Ok(false),
        }
    }
}

/// A line that was refused before, without the reason it was given then.
fn without_reason(raw: &[u8], delimiter: u8) -> &[u8] {
    let mut mark = vec![delimiter, b'"'];
    mark.extend_from_slice(PREFIX.as_bytes());
    raw.windows(mark.len())
        .position(|w| w == mark)
        .map_or(raw, |at| &raw[..at])
}

pub(super) fn quoted(out: &mut Vec<u8>, cell: &[u8], delimiter: u8) {
    let bare = !cell
        .iter()
        .any(|b| *b == delimiter || matches!(b, b'"' | b'\n' | b'\r'));
    if bare {
        out.extend_from_slice(cell);
        return;
    }
    out.push(b'"');
    for b in cell {
        if *b == b'"' {
            out.push(b'"');
        }
        out.push(*b);
    }
    out.push(b'"');
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_mended_file_of_refused_rows_gives_its_name_once() {
        for (read, kept) in [
            ("in/x.csv", "in/x.refused.csv"),
            ("in/x.refused.csv", "in/x.refused.csv"),
            ("x.refused-2.csv", "x.refused.csv"),
            ("x.refused-by.csv", "x.refused-by.refused.csv"),
            ("x.old.csv", "x.old.refused.csv"),
            ("x", "x.refused.csv"),
        ] {
            assert_eq!(beside(Path::new(read)), Path::new(kept), "{read}");
        }
    }
}
