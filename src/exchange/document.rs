//! Reading YAML as a stream of documents: one document in memory at a time,
//! every complaint with its file and line.

use std::io::BufRead;
use std::path::{Path, PathBuf};

use thiserror::Error;

use crate::domain::asset::{Kind, Record};

/// Longest document that is read; a register's largest is a few kilobytes.
const LONGEST: usize = 1 << 20;

/// Why files could not be read or written. Each names the place.
#[derive(Debug, Error)]
pub enum ExchangeError {
    #[error("{file}:{line}: {why}")]
    At {
        file: String,
        line: usize,
        why: String,
    },
    #[error("{path}: {why}")]
    Io { path: String, why: String },
    #[error("stopped when asked to; nothing was changed")]
    Stopped,
    #[error("{count} of the changes need a second person; nothing was written")]
    Alone {
        count: usize,
        /// The first of them, and why.
        first: Vec<String>,
    },
    #[error(transparent)]
    Store(#[from] crate::store::StoreError),
}

impl ExchangeError {
    pub(crate) fn io(path: &Path, e: &std::io::Error) -> Self {
        ExchangeError::Io {
            path: path.display().to_string(),
            why: match e.kind() {
                std::io::ErrorKind::NotFound => "there is no such file or folder".to_string(),
                std::io::ErrorKind::PermissionDenied => "may not be read or written".to_string(),
                std::io::ErrorKind::StorageFull => "the disk is full".to_string(),
                _ => e.to_string(),
            },
        }
    }
}

/// The text of one document and where it begins.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Doc {
    /// Line of the first line of the text, counted from 1.
    pub line: usize,
    pub text: String,
}

/// Splits a stream into documents at `---`.
pub struct Documents<R> {
    lines: R,
    file: PathBuf,
    line: usize,
    /// What stood behind the `---` that ended the document before.
    next: Option<Doc>,
    done: bool,
}

impl<R: BufRead> Documents<R> {
    pub fn new(lines: R, file: &Path) -> Self {
        Documents {
            lines,
            file: file.to_path_buf(),
            line: 0,
            next: None,
            done: false,
        }
    }

    fn problem(&self, why: &str) -> ExchangeError {
        ExchangeError::At {
            file: self.file.display().to_string(),
            line: self.line.max(1),
            why: why.to_string(),
        }
    }

    /// The next line without its end; `None` at the end of the stream.
    fn read_line(&mut self) -> Result<Option<String>, ExchangeError> {
        let mut bytes = Vec::new();
        let n = std::io::Read::take(&mut self.lines, LONGEST as u64)
            .read_until(b'\n', &mut bytes)
            .map_err(|e| ExchangeError::io(&self.file, &e))?;
        if n == 0 {
            return Ok(None);
        }
        self.line += 1;
        if bytes.last() == Some(&b'\n') {
            bytes.pop();
        } else if n >= LONGEST {
            return Err(
                self.problem("this line is longer than a megabyte; is this the right file?")
            );
        }
        if bytes.last() == Some(&b'\r') {
            bytes.pop();
        }
        if self.line == 1 && bytes.starts_with(b"\xef\xbb\xbf") {
            bytes.drain(..3);
        }
        String::from_utf8(bytes).map(Some).map_err(|_| {
            self.problem("this line is not UTF-8 text; save the file as UTF-8 and try again")
        })
    }

    fn read_doc(&mut self) -> Result<Option<Doc>, ExchangeError> {
        let mut doc = self.next.take();
        while let Some(line) = self.read_line()? {
            if line == "---" || line.starts_with("--- ") {
                let rest = line.get(4..).unwrap_or("");
                self.next = Some(Doc {
                    line: self.line + usize::from(rest.is_empty()),
                    text: rest.to_string(),
                });
                if doc.as_ref().is_some_and(has_content) {
                    return Ok(doc);
                }
                doc = self.next.take();
                continue;
            }
            let d = doc.get_or_insert_with(|| Doc {
                line: self.line,
                text: String::new(),
            });
            if !d.text.is_empty() || d.line < self.line {
                d.text.push('\n');
            }
            d.text.push_str(&line);
            if d.text.len() > LONGEST {
                return Err(self.problem("this document is longer than a megabyte"));
            }
        }
        self.done = true;
        Ok(doc.filter(has_content))
    }
}

fn has_content(doc: &Doc) -> bool {
    first_key(&doc.text).is_some()
}

impl<R: BufRead> Iterator for Documents<R> {
    type Item = Result<Doc, ExchangeError>;

    fn next(&mut self) -> Option<Self::Item> {
        if self.done {
            return None;
        }
        let doc = self.read_doc();
        if doc.is_err() {
            self.done = true;
        }
        doc.transpose()
    }
}

/// Line offset and text of the first key of a document.
#[must_use]
pub fn first_key(text: &str) -> Option<(usize, &str)> {
    let (at, line) = text
        .lines()
        .enumerate()
        .find(|(_, l)| !l.trim().is_empty() && !l.trim_start().starts_with('#'))?;
    let bare = line.trim_start().trim_start_matches('{').trim_start();
    let key = bare.split(':').next().unwrap_or(bare);
    Some((at, key.trim().trim_matches('"')))
}

/// Reads a record from a document; its first key names its kind.
///
/// # Errors
/// With file and line: an unknown kind or key (and the nearest known one), a
/// value of the wrong type, a number that cannot be.
pub fn record(doc: &Doc, file: &Path) -> Result<Record, ExchangeError> {
    let at = |line: usize, why: String| ExchangeError::At {
        file: file.display().to_string(),
        line,
        why,
    };
    let Some((offset, key)) = first_key(&doc.text) else {
        return Err(at(doc.line, "an empty document".to_string()));
    };
    let Some(kind) = Kind::from_word(key) else {
        return Err(at(
            doc.line + offset,
            format!(
                "a document begins with the kind of its record, and {key:?} is none{}; kinds are {}",
                did_you_mean(key, Kind::WORDS.iter().copied()),
                Kind::WORDS.join(", ")
            ),
        ));
    };
    if kind == Kind::Scheme {
        return super::scheme::scheme_record(doc, file);
    }
    if kind == Kind::Interval {
        return super::intervals::interval_record(doc, file);
    }
    if kind == Kind::Form {
        return super::forms::form_record(doc, file);
    }
    typed(doc, file, |d| Record::read(kind, d))
}

/// Reads any typed value from a document.
///
/// # Errors
/// With file and line, as [`record`].
pub fn typed<'d, T>(
    doc: &'d Doc,
    file: &Path,
    read: impl FnOnce(serde_yaml::Deserializer<'d>) -> Result<T, serde_yaml::Error>,
) -> Result<T, ExchangeError> {
    read(serde_yaml::Deserializer::from_str(&doc.text)).map_err(|e| {
        let line = e.location().map_or(0, |l| l.line().saturating_sub(1));
        ExchangeError::At {
            file: file.display().to_string(),
            line: doc.line + line,
            why: explain(&e.to_string()),
        }
    })
}

/// Puts a reader's complaint into words that say what is allowed, with the
/// nearest known word.
pub(super) fn explain(message: &str) -> String {
    let bare = without_places(message);
    for (mark, what) in [
        ("unknown field `", "there is no key"),
        ("unknown variant `", "there is no such word as"),
    ] {
        if let Some((before, rest)) = bare.split_once(mark) {
            return allowed(before, what, rest);
        }
    }
    match bare.split_once("invalid type: ") {
        Some((before, rest)) => format!("{before}{}", wrong_type(rest)),
        None => bare,
    }
}

fn allowed(before: &str, what: &str, rest: &str) -> String {
    let typed = rest.split('`').next().unwrap_or("");
    let known: Vec<&str> = rest
        .split_once("expected")
        .map(|(_, k)| k.split('`').skip(1).step_by(2).collect())
        .unwrap_or_default();
    format!(
        "{before}{what} {typed:?} here{}; allowed: {}",
        did_you_mean(typed, known.iter().copied()),
        known.join(", ")
    )
}

/// `string "nan", expected f64` as a person says it.
fn wrong_type(rest: &str) -> String {
    let Some((found, wanted)) = rest.split_once(", expected ") else {
        return rest.to_string();
    };
    let found = found
        .trim_start_matches("string ")
        .trim_start_matches("integer ")
        .trim_start_matches("floating point ")
        .replace("unit value", "nothing");
    let wanted = match wanted.trim() {
        "f64" => "a number",
        "a string" => "text (in quotes, if it looks like a number)",
        "a sequence" => "a list, as [a, b]",
        w if w.starts_with("struct ") || w == "a map" => "a map, as {key: value}",
        w if w.starts_with('u') || w.starts_with('i') => "a whole number",
        other => other,
    };
    format!("{found} stands where {wanted} is wanted")
}

/// The reader counts lines from the start of the document; the file's own line
/// is said before the message.
fn without_places(message: &str) -> String {
    let mut out = message.to_string();
    while let Some(at) = out.find(" at line ") {
        let rest = &out[at + 9..];
        let digits = |s: &str| s.bytes().take_while(u8::is_ascii_digit).count();
        let mut end = at + 9 + digits(rest);
        if let Some(column) = out[end..].strip_prefix(" column ") {
            end += 8 + digits(column);
        }
        out.replace_range(at..end, "");
    }
    out
}

/// ` (did you mean "near"?)` for the nearest of the known words, if one is near.
#[must_use]
pub fn did_you_mean<'w>(typed: &str, known: impl Iterator<Item = &'w str>) -> String {
    known
        .map(|w| (strsim::damerau_levenshtein(typed, w), w))
        .min()
        .filter(|(d, w)| *d <= (w.len().max(3)) / 3 + 1)
        .map(|(_, w)| format!(" (did you mean {w:?}?)"))
        .unwrap_or_default()
}

#[cfg(test)]
mod tests {
    use super::*;

    fn docs(text: &str) -> Vec<(usize, String)> {
        Documents::new(text.as_bytes(), Path::new("x.yaml"))
            .map(|d| d.map(|d| (d.line, d.text)).unwrap())
            .collect()
    }

    #[test]
    fn documents_know_their_lines() {
        let got = docs("# head\n\n---\na: 1\nb: 2\n---\n\nc: 3\n--- {d: 4}\n---\n");
        assert_eq!(
            got,
            [
                (4, "a: 1\nb: 2".to_string()),
                (7, "\nc: 3".to_string()),
                (9, "{d: 4}".to_string())
            ]
        );
    }

    fn complaint(text: &str) -> String {
        let doc = Documents::new(text.as_bytes(), Path::new("f.yaml"))
            .next()
            .unwrap()
            .unwrap();
        record(&doc, Path::new("f.yaml")).unwrap_err().to_string()
    }

    #[test]
    fn a_wrong_key_is_named_with_its_line_and_the_nearest() {
        let said = complaint("---\nunit: 7-20931\nclass: recloser\nnameplate: {coil_amp: 100}\n");
        assert!(said.starts_with("f.yaml:4: "), "{said}");
        assert!(said.contains("coil_amps"), "{said}");
        let said = complaint("---\nstructur: 40-118\nkind: pole\n");
        assert!(said.starts_with("f.yaml:2: "), "{said}");
        assert!(said.contains("did you mean \"structure\""), "{said}");
    }

    #[test]
    fn what_cannot_be_a_number_is_refused_with_its_line() {
        let said = complaint("---\nunit: 7-1\nclass: recloser\nnameplate:\n  coil_amps: .inf\n");
        assert!(said.starts_with("f.yaml:5: "), "{said}");
        let said = complaint("---\nunit: 7-1\nclass: recloser\nnameplate: {coil_amps: -5}\n");
        assert!(said.contains("outside what is possible"), "{said}");
        let said = complaint("---\nunit: 7-1\nclass: reclosr\n");
        assert!(said.contains("did you mean \"recloser\""), "{said}");
        let said = complaint("---\nspan: {from: 1, to: b, length_ft: nan}\n");
        assert!(said.contains("stands where"), "{said}");
        let said = complaint("---\nstructure: x\nkind: pole\nplace: {road: a b\n");
        assert!(!said.contains("at line"), "{said}");
    }
}
