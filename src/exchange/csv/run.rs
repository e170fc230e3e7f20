//! The run over a file.

use std::collections::BTreeSet;
use std::collections::HashMap;
use std::io::BufReader;
use std::path::Path;

use super::bind::{Bound, bind};
use super::merge::{Newer, Outcome, Stop, name_of, resolve};
use super::name_form::{Schemes, schemes};
use super::readings::fit;
use super::refused::{REASON, RefusedFile};
use super::seen::Seen;
use super::settle::{Contradiction, ORIGIN, Take};
use super::shape::Draft;
use super::sink::{Only, Sink};
use super::split::{Broken, Flaw, LONGEST_ROW, Next, Row, Rows};
use super::width::{Reasons, Width};
use super::{Because, CsvImported, Progress, Refusal, Refused};
use crate::calendar::{Date, Moment};
use crate::domain::asset::{Kind, Record, RecordId};
use crate::domain::change::Operation;
use crate::domain::who::with_second;
use crate::exchange::Forms;
use crate::exchange::document::ExchangeError;
use crate::exchange::emit::document;
use crate::exchange::map::{CsvMap, Encoding};
use crate::store::{Look, Store, StoreError, fresh_id};

/// Sample records that a report carries.
const SAMPLES: usize = 5;
/// Refused rows that a report carries; the file holds all.
const REFUSALS: usize = 1_000;

/// What is to be read, by whom and when.
pub struct CsvAsk<'a> {
    pub file: &'a Path,
    pub map: &'a CsvMap,
    /// Where refused rows go; beside the file when absent.
    pub refused: Option<&'a Path>,
    pub who: &'a str,
    pub now: Moment,
    /// The day up to which the file knows; without one every correction by
    /// hand is newer.
    pub dated: Option<Date>,
    /// What counts where a newer correction contradicts a row.
    pub take: Option<Take>,
    /// Who confirms it beside the actor; rows that need somebody are refused
    /// if absent.
    pub second: Option<&'a str>,
    /// Told now and then how far it has come.
    pub progress: &'a mut dyn FnMut(Progress),
}

/// Reads the file and says what an import would do; `store` is none for a
/// register that is not there yet. Only the file of refused rows is written.
///
/// # Errors
/// When the file cannot be read, does not fit the map, or the refused rows
/// cannot be kept.
pub fn dry_run(store: Option<&Store>, ask: CsvAsk<'_>) -> Result<CsvImported, ExchangeError> {
    let fresh = store.map_or(Ok(ask.map.kinds().into_iter().collect()), |s| {
        fresh_kinds(s, ask.map)
    })?;
    let schemes = schemes(store, ask.map)?;
    let forms = store.map_or_else(|| Ok(Forms::default()), Forms::of)?;
    let filled = store.map_or(Ok(false), |s| s.head().map(|h| h.seq > 0))?;
    run(&mut Only(store), ask, (fresh, &schemes, forms), filled)
}

/// Reads the file into the register as one operation.
///
/// # Errors
/// As [`dry_run`], and those of the store; the register is then as it was.
pub fn apply(store: &mut Store, ask: CsvAsk<'_>) -> Result<CsvImported, ExchangeError> {
    let fresh = fresh_kinds(store, ask.map)?;
    let schemes = schemes(Some(&*store), ask.map)?;
    let forms = Forms::of(store)?;
    let head = store.head()?.seq;
    let mut writer = store.writer()?;
    writer.expect_many()?;
    let operation = operation(&ask);
    let id = operation.id;
    let mut step = writer.start(operation)?;
    // Somebody may have written between the look and the lock.
    let fresh = if step.writing() == Some(head + 1) {
        fresh
    } else {
        BTreeSet::new()
    };
    let mut report = run(&mut step, ask, (fresh, &schemes, forms), head > 0)?;
    if step.finish()? > 0 {
        report.operation = Some(id);
    }
    writer.commit()?;
    // The rows are in: lines that could not be kept are built when asked for.
    let _ = store.keep_lines();
    report.applied = true;
    Ok(report)
}

fn operation(ask: &CsvAsk<'_>) -> Operation {
    let why = format!(
        "taken in from {} through the map {}",
        ask.file.file_name().map_or_else(
            || ask.file.display().to_string(),
            |n| n.to_string_lossy().into_owned()
        ),
        ask.map.map
    );
    Operation {
        id: fresh_id(ask.now),
        who: ask.who.to_string(),
        entered: ask.now,
        effective: None,
        why: match ask.second {
            Some(second) => with_second(&why, ask.who, second),
            None => why,
        },
        origin: Some(format!("{ORIGIN}{}", ask.map.map)),
        undoes: None,
    }
}

/// Kinds of the map of which the register holds no record.
fn fresh_kinds(store: &Store, map: &CsvMap) -> Result<BTreeSet<Kind>, StoreError> {
    let mut out = BTreeSet::new();
    for kind in map.kinds() {
        if store.count(kind)? == 0 {
            out.insert(kind);
        }
    }
    Ok(out)
}

/// What goes along a run.
pub(super) struct Run<'a, 'm, S> {
    pub(super) bound: Bound<'m>,
    pub(super) sink: &'a mut S,
    pub(super) ids: RecordId,
    today: Date,
    forms: Forms,
    fresh: BTreeSet<Kind>,
    pub(super) seen: Seen,
    pub(super) report: CsvImported,
    refused: RefusedFile,
    width: Width,
    /// Most samples of one kind.
    each: usize,
    sampled: HashMap<Kind, usize>,
    dated: Option<Date>,
    pub(super) take: Option<Take>,
    /// Whether rows that need a second person are refused.
    pub(super) alone: bool,
}

fn run<S: Sink>(
    sink: &mut S,
    ask: CsvAsk<'_>,
    (fresh, schemes, forms): (BTreeSet<Kind>, &Schemes, Forms),
    filled: bool,
) -> Result<CsvImported, ExchangeError> {
    let (path, map) = (ask.file, ask.map);
    let io = |e: &std::io::Error| ExchangeError::io(path, e);
    let (file, of_bytes) = open(path)?;
    let mut rows = Rows::new(BufReader::with_capacity(1 << 17, file), map.delimiter.0);
    rows.skip_mark().map_err(|e| io(&e))?;
    let mut refused = RefusedFile::new(
        path,
        ask.refused,
        map.delimiter.0,
        map.encoding != Encoding::Utf8,
    );
    let (heading, reasons) = heading(&mut rows, map, path, &mut refused)?;
    let width = Width {
        cells: heading.len(),
        reasons,
    };
    rows.width = Some(width);
    let bound = bind(map, &heading, schemes).map_err(|why| at(path, 1, why))?;
    let mut run = Run {
        dated: ask.dated,
        take: ask.take,
        alone: filled && ask.second.is_none(),
        bound,
        sink,
        ids: fresh_id(ask.now),
        today: ask.now.date(),
        forms,
        fresh,
        seen: Seen::default(),
        report: CsvImported {
            file: path.display().to_string(),
            map: map.map.clone(),
            take: ask.take,
            ..CsvImported::default()
        },
        refused,
        width,
        each: SAMPLES.div_ceil(map.kinds().len().max(1)),
        sampled: HashMap::new(),
    };
    run.scheme(map, path)?;
    while let Some(next) = rows.next().map_err(|e| io(&e))? {
        match next {
            Next::Row(row) => run.row(row)?,
            Next::Broken(broken) => run.broken(&broken)?,
        }
        if run.report.rows.is_multiple_of(1_024) {
            crate::exchange::ahead::go_on()?;
            (ask.progress)(Progress {
                rows: run.report.rows,
                bytes: rows.taken,
                of_bytes,
            });
        }
    }
    run.say();
    run.report.refused_file = run.refused.finish()?;
    Ok(run.report)
}

/// The file and its size.
fn open(path: &Path) -> Result<(std::fs::File, u64), ExchangeError> {
    let io = |e: &std::io::Error| ExchangeError::io(path, e);
    let file = std::fs::File::open(path).map_err(|e| io(&e))?;
    let meta = file.metadata().map_err(|e| io(&e))?;
    if meta.is_dir() {
        return Err(ExchangeError::Io {
            path: path.display().to_string(),
            why: "is a folder; name a CSV file".to_string(),
        });
    }
    Ok((file, meta.len()))
}

pub(super) fn at(path: &Path, line: usize, why: String) -> ExchangeError {
    ExchangeError::At {
        file: path.display().to_string(),
        line,
        why,
    }
}

/// The names of the columns, and where old reasons may stand.
fn heading<R: std::io::BufRead>(
    rows: &mut Rows<R>,
    map: &CsvMap,
    path: &Path,
    refused: &mut RefusedFile,
) -> Result<(Vec<String>, Reasons), ExchangeError> {
    if !map.columns.0.is_empty() {
        return Ok((map.columns.0.clone(), Reasons::Perhaps));
    }
    let row = match rows.next().map_err(|e| ExchangeError::io(path, &e))? {
        Some(Next::Row(row)) => row,
        Some(Next::Broken(b)) => {
            return Err(at(path, b.line, format!("the heading: {}", flaw(b.why))));
        }
        None => return Err(at(path, 1, "the file is empty".to_string())),
    };
    let mut names = Vec::new();
    for bytes in row.cells() {
        let name = super::cell::decode(bytes, map.encoding).map_err(|_| {
            at(
                path,
                row.line,
                "the heading is not text in the encoding of the map; is this a CSV file?".into(),
            )
        })?;
        names.push(name.into_owned());
    }
    let mut reasons = Reasons::None;
    if names.last().is_some_and(|n| n == REASON) {
        reasons = Reasons::Column;
        names.pop();
    }
    refused.heading(row.cells().take(names.len()));
    Ok((names, reasons))
}

const fn flaw(why: Flaw) -> &'static str {
    match why {
        Flaw::OpenQuote => {
            "a quote that is opened on this line is not closed on it; close it, or double it if it is part of the text"
        }
        Flaw::BehindQuote => {
            "text stands between a closing quote and the next column; double a quote that is part of the text"
        }
        Flaw::TooLong => "the line is too long",
    }
}

impl<S: Sink> Run<'_, '_, S> {
    fn row(&mut self, row: &Row) -> Result<(), ExchangeError> {
        self.report.rows += 1;
        let n = self.bound.heading.len();
        let cells = self.width.own(row);
        let taken = if cells == n {
            self.take(row)
        } else {
            Err(Refused::new(
                Because::Columns,
                format!("{cells} columns, where the heading has {n}"),
            )
            .into())
        };
        match taken {
            Ok(()) => Ok(()),
            Err(Stop::Refuse(r)) => {
                self.refused.row(row.cells().take(cells), &r.why)?;
                self.note(row.line, r);
                Ok(())
            }
            Err(Stop::Fail(e)) => Err(e.into()),
        }
    }

    fn broken(&mut self, broken: &Broken) -> Result<(), ExchangeError> {
        self.report.rows += 1;
        let (because, why) = match broken.why {
            Flaw::TooLong => (
                Because::TooLong,
                format!(
                    "line {} is longer than {} bytes; it stands in the file it came from",
                    broken.line, LONGEST_ROW
                ),
            ),
            why => (Because::Quotes, flaw(why).to_string()),
        };
        // The beginning of a long line could pass for a row of its own.
        let raw: &[u8] = match broken.why {
            Flaw::TooLong => &[],
            _ => &broken.raw,
        };
        self.refused.raw(raw, &why)?;
        self.note(broken.line, Refused { because, why });
        Ok(())
    }

    fn note(&mut self, line: usize, r: Refused) {
        self.report.refused += 1;
        *self.report.reasons.entry(r.because).or_default() += 1;
        if self.report.refusals.len() < REFUSALS {
            self.report.refusals.push(Refusal {
                line,
                because: r.because,
                reason: r.why,
            });
        }
    }

    /// Takes a row whole, or says why not before anything of it is written.
    fn take(&mut self, row: &Row) -> Result<(), Stop> {
        let mut met = Vec::new();
        let outcomes = self.outcomes(row, &mut met);
        for mut contradiction in met {
            contradiction.line = row.line;
            if self.report.conflicts.len() < REFUSALS {
                self.report.conflicts.push(contradiction);
            }
        }
        let outcomes = outcomes?;
        for (_, outcome) in &outcomes {
            self.judge(outcome)?;
        }
        for (kind, outcome) in outcomes {
            self.enter(kind, outcome)?;
        }
        Ok(())
    }

    /// What is to be done for the records of a row.
    fn outcomes(
        &mut self,
        row: &Row,
        met: &mut Vec<Contradiction>,
    ) -> Result<Vec<(Kind, Outcome)>, Stop> {
        let cells = self.bound.cells(row)?;
        if self.bound.map.own_export {
            return self.own(row, &cells, met);
        }
        let mut drafts = self.bound.drafts(&cells)?;
        for at in 0..drafts.len() {
            fit(
                &self.bound,
                &mut drafts,
                at,
                (self.today, &self.forms),
                &*self.sink,
            )?;
        }
        let mut outcomes = Vec::with_capacity(drafts.len());
        for (i, draft) in drafts.iter().enumerate() {
            let name = name_of(draft)?;
            if self.repeated(draft, &name, row.line, i == 0)? {
                continue;
            }
            let fresh = self.fresh.contains(&draft.kind);
            let outcome = resolve(
                &self.bound,
                draft,
                &name,
                (&mut self.ids, fresh),
                &mut Newer {
                    dated: self.dated,
                    take: self.take,
                    met,
                },
                &*self.sink,
            );
            outcomes.push((draft.kind, outcome?));
        }
        Ok(outcomes)
    }

    /// Whether the file said the same before; an own record never may.
    fn repeated(
        &mut self,
        draft: &Draft,
        name: &str,
        line: usize,
        own: bool,
    ) -> Result<bool, Refused> {
        let digest = if own { 0 } else { self.seen.digest(draft) };
        match self.seen.note(draft.kind, name, line, digest) {
            None => Ok(false),
            Some((_, before)) if !own && before == digest => Ok(true),
            Some((first, _)) if own => Err(Refused::new(
                Because::Duplicate,
                format!("{} {name} stands already on line {first}", draft.kind),
            )),
            Some((first, _)) if draft.kind == Kind::Entry => Err(Refused::new(
                Because::Duplicate,
                format!("another entry {name} stands already on line {first}"),
            )),
            Some((first, _)) => Err(Refused::new(
                Because::Duplicate,
                format!("says otherwise of {} {name} than line {first}", draft.kind),
            )),
        }
    }

    /// Keeps the first records, without ids that nobody has given yet.
    pub(super) fn sample(&mut self, record: &Record) {
        if self.report.samples.len() >= SAMPLES {
            return;
        }
        let n = self.sampled.entry(record.kind()).or_default();
        if *n < self.each {
            *n += 1;
            let mut shown = record.clone();
            shown.set_id(RecordId::default());
            self.report.samples.push(document(&shown.to_value()));
        }
    }
}
