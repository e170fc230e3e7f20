//! Writing a register as a folder of YAML: one file a feeder in line order,
//! files for the rest, and the log of operations, one line a change.

use std::collections::BTreeSet;
use std::fs::{self, File};
use std::io::{BufWriter, Write};
use std::path::{Path, PathBuf};

use serde_json::json;

use super::document::ExchangeError;
use super::emit::document;
use super::order::line_order;
use crate::domain::asset::{Kind, Record};
use crate::store::{Head, Logged, Store, Stored};

/// Most documents in one file: a reader's memory is bounded by one file.
const DOCS_A_FILE: usize = 10_000;

/// Kinds that have a file of their own, with its name.
const FLAT: &[(Kind, &str)] = &[
    (Kind::Utility, "utility"),
    (Kind::Scheme, "schemes"),
    (Kind::Conductor, "conductors"),
    (Kind::Source, "sources"),
    (Kind::Unit, "units"),
    (Kind::Entry, "entries"),
    (Kind::Order, "orders"),
    (Kind::Notice, "notices"),
    (Kind::Form, "forms"),
    (Kind::Interval, "intervals"),
    (Kind::Map, "maps"),
    (Kind::Curve, "curves"),
    (Kind::Kept, "kept"),
];

/// What was written.
#[derive(Debug, Clone, PartialEq, Eq, serde::Serialize)]
pub struct Exported {
    pub folder: String,
    pub records: usize,
    pub operations: usize,
    pub files: usize,
    /// Digest at the end of the chain: keep it apart from the files.
    pub chain_head: String,
}

/// Writes the whole register, log included, to `dir`. The folder is written
/// aside and put in place at the end; an earlier export is replaced, anything
/// else in the way is refused.
///
/// # Errors
/// When the folder holds something else, or the disk refuses.
pub fn export(store: &Store, dir: &Path) -> Result<Exported, ExchangeError> {
    refuse_strangers(dir)?;
    let aside = beside(dir, "part");
    let _ = fs::remove_dir_all(&aside);
    let written = write_all(store, &aside);
    match written.and_then(|w| put_in_place(&aside, dir).map(|()| w)) {
        Ok((files, head)) => Ok(Exported {
            folder: dir.display().to_string(),
            records: files.records,
            operations: files.operations,
            files: files.files,
            chain_head: head.digest,
        }),
        Err(e) => {
            let _ = fs::remove_dir_all(&aside);
            Err(e)
        }
    }
}

/// Number and digest of the last operation in the folder of an export; none
/// when its log is empty.
///
/// # Errors
/// When the folder is no export or its log cannot be read.
pub fn head_of(dir: &Path) -> Result<Option<(i64, String)>, ExchangeError> {
    let log = dir.join("log");
    let mut files: Vec<PathBuf> = fs::read_dir(&log)
        .map_err(|e| ExchangeError::io(&log, &e))?
        .flatten()
        .map(|e| e.path())
        .collect();
    files.sort();
    let (mut number, mut digest) = (0, None);
    for path in files {
        let text = fs::read_to_string(&path).map_err(|e| ExchangeError::io(&path, &e))?;
        for line in text.lines() {
            let head = line
                .strip_prefix("--- {\"operation\":")
                .and_then(|_| serde_json::from_str::<serde_json::Value>(&line[4..]).ok());
            if let Some(head) = head {
                number += 1;
                digest = head["digest"].as_str().map(str::to_string);
            }
        }
    }
    Ok(digest.map(|d| (number, d)))
}

fn beside(dir: &Path, what: &str) -> PathBuf {
    let mut name = dir
        .file_name()
        .map(std::ffi::OsStr::to_os_string)
        .unwrap_or_default();
    name.push(format!(".{what}-{}", std::process::id()));
    dir.with_file_name(name)
}

fn refuse_strangers(dir: &Path) -> Result<(), ExchangeError> {
    let Ok(mut entries) = fs::read_dir(dir) else {
        return if dir.exists() {
            Err(ExchangeError::Io {
                path: dir.display().to_string(),
                why: "is not a folder; name one that is empty or new".to_string(),
            })
        } else {
            Ok(())
        };
    };
    if entries.next().is_some() && !dir.join("log").is_dir() {
        return Err(ExchangeError::Io {
            path: dir.display().to_string(),
            why: "holds files that are not an export; name a folder that is empty or new"
                .to_string(),
        });
    }
    Ok(())
}

fn put_in_place(aside: &Path, dir: &Path) -> Result<(), ExchangeError> {
    let old = beside(dir, "old");
    let io = |e: &std::io::Error| ExchangeError::io(dir, e);
    if dir.exists() {
        fs::rename(dir, &old).map_err(|e| io(&e))?;
    }
    if let Err(e) = fs::rename(aside, dir) {
        let _ = fs::rename(&old, dir);
        return Err(io(&e));
    }
    let _ = fs::remove_dir_all(&old);
    Ok(())
}

fn write_all(store: &Store, dir: &Path) -> Result<(Files, Head), ExchangeError> {
    let mut files = Files::new(dir)?;
    for (kind, stem) in FLAT {
        let mut out = Series::new(dir, stem);
        let mut after: Option<(String, i64)> = None;
        loop {
            let page = store.page(*kind, after.as_ref().map(|(n, r)| (n.as_str(), *r)), 1_000)?;
            let Some(last) = page.last() else { break };
            after = Some((last.record.name(), last.rec));
            for s in &page {
                out.doc(&document(&s.record.to_value()), &mut files)?;
                files.records += 1;
            }
        }
        out.close()?;
    }
    write_homes(store, dir, &mut files)?;
    write_log(store, dir, &mut files)?;
    Ok((files, store.head()?))
}

fn write_homes(store: &Store, dir: &Path, files: &mut Files) -> Result<(), ExchangeError> {
    let feeders_dir = dir.join("feeders");
    fs::create_dir_all(&feeders_dir).map_err(|e| ExchangeError::io(&feeders_dir, &e))?;
    let mut homes: BTreeSet<Option<String>> = store.homes()?.into_iter().collect();
    let feeders = store.all(Kind::Feeder)?;
    homes.extend(feeders.iter().map(|f| Some(f.record.name())));
    let mut taken = BTreeSet::new();
    for home in homes {
        let mut feeder_docs = feeders
            .iter()
            .filter(|f| Some(f.record.name()) == home)
            .filter_map(|f| match &f.record {
                Record::Feeder(f) => Some(f.clone()),
                _ => None,
            });
        let first = feeder_docs.next();
        let again: Vec<Record> = feeder_docs.map(Record::from).collect();
        let mut structures = Vec::new();
        let mut spans = Vec::new();
        let mut positions = Vec::new();
        for kind in [Kind::Structure, Kind::Span, Kind::Position] {
            for Stored { record, .. } in store.at_home(home.as_deref(), kind)? {
                match record {
                    Record::Structure(s) => structures.push(s),
                    Record::Span(s) => spans.push(s),
                    Record::Position(p) => positions.push(p),
                    _ => {}
                }
            }
        }
        let mut out = match &home {
            Some(home) => Series::new(&feeders_dir, &safe_stem(home, &mut taken)),
            None => Series::new(dir, "elsewhere"),
        };
        let ordered = line_order(first, structures, spans, positions);
        for record in ordered.iter().chain(&again) {
            out.doc(&document(&record.to_value()), files)?;
            files.records += 1;
        }
        out.close()?;
    }
    Ok(())
}

/// A file name that every file system takes, one for each home.
fn safe_stem(home: &str, taken: &mut BTreeSet<String>) -> String {
    let mut stem = String::new();
    for c in home.chars() {
        if c.is_ascii_alphanumeric() || c == '-' {
            stem.push(c);
        } else {
            stem.push_str(&format!("_{:x}", u32::from(c)));
        }
    }
    stem.truncate(80);
    let mut n = 1;
    let mut candidate = stem.clone();
    while candidate.is_empty() || !taken.insert(candidate.to_lowercase()) {
        n += 1;
        candidate = format!("{stem}~{n}");
    }
    candidate
}

fn write_log(store: &Store, dir: &Path, files: &mut Files) -> Result<(), ExchangeError> {
    let log = dir.join("log");
    fs::create_dir_all(&log).map_err(|e| ExchangeError::io(&log, &e))?;
    if store.is_effective() {
        // Its operations do not make these records: the folder is a picture of
        // a day, and taken in elsewhere it is a new beginning.
        return Ok(());
    }
    let mut out = Series::numbered(&log);
    let mut seq = 0;
    loop {
        let page = store.operations(seq, 500)?;
        let Some(last) = page.last() else { break };
        seq = last.seq;
        for w in &page {
            files.operations += 1;
            let mut head = serde_json::to_value(&w.operation).map_err(|e| ExchangeError::Io {
                path: log.display().to_string(),
                why: e.to_string(),
            })?;
            head["changes"] = json!(w.changes);
            head["digest"] = json!(w.digest);
            out.doc(&format!("--- {head}\n"), files)?;
            store.changes::<ExchangeError>(w.seq, |line| out.doc(&log_line(&line), files))?;
        }
    }
    out.close()
}

fn log_line(line: &Logged) -> String {
    match line {
        Logged::Add(_, kind, body) => {
            format!("--- {{\"add\":\"{}\",\"record\":{body}}}\n", kind.word())
        }
        Logged::Edit(e) => format!(
            "--- {}\n",
            json!({"edit": e.id, "kind": e.kind, "field": e.field, "old": e.old, "new": e.new})
        ),
        Logged::Remove(id, kind) => format!("--- {}\n", json!({"remove": id, "kind": kind})),
        Logged::Operation(_) => String::new(),
    }
}

/// Counts of what has been written.
struct Files {
    records: usize,
    operations: usize,
    files: usize,
}

impl Files {
    fn new(dir: &Path) -> Result<Self, ExchangeError> {
        fs::create_dir_all(dir).map_err(|e| ExchangeError::io(dir, &e))?;
        Ok(Files {
            records: 0,
            operations: 0,
            files: 0,
        })
    }
}

/// A file and its continuations when it grows beyond [`DOCS_A_FILE`].
struct Series {
    dir: PathBuf,
    stem: String,
    numbered: bool,
    part: usize,
    docs: usize,
    file: Option<(PathBuf, BufWriter<File>)>,
}

impl Series {
    fn new(dir: &Path, stem: &str) -> Self {
        Series {
            dir: dir.to_path_buf(),
            stem: stem.to_string(),
            numbered: false,
            part: 0,
            docs: 0,
            file: None,
        }
    }

    fn numbered(dir: &Path) -> Self {
        Series {
            numbered: true,
            ..Series::new(dir, "")
        }
    }

    fn doc(&mut self, text: &str, files: &mut Files) -> Result<(), ExchangeError> {
        if self.file.is_none() || self.docs == DOCS_A_FILE {
            self.close()?;
            self.part += 1;
            self.docs = 0;
            let name = match (self.numbered, self.part) {
                (true, n) => format!("{n:06}.yaml"),
                (false, 1) => format!("{}.yaml", self.stem),
                (false, n) => format!("{}-{n:04}.yaml", self.stem),
            };
            let path = self.dir.join(name);
            let file = File::create_new(&path).map_err(|e| ExchangeError::io(&path, &e))?;
            self.file = Some((path, BufWriter::with_capacity(1 << 16, file)));
            files.files += 1;
        }
        self.docs += 1;
        match &mut self.file {
            Some((path, out)) => out
                .write_all(text.as_bytes())
                .map_err(|e| ExchangeError::io(path, &e)),
            None => Ok(()),
        }
    }

    fn close(&mut self) -> Result<(), ExchangeError> {
        if let Some((path, out)) = self.file.take() {
            out.into_inner()
                .map_err(std::io::IntoInnerError::into_error)
                .and_then(|f| f.sync_all())
                .map_err(|e| ExchangeError::io(&path, &e))?;
        }
        Ok(())
    }
}
