//! Lines that the register keeps as they were built, so that a card need not
//! read a whole feeder. They are derived: nothing is lost with them, and one
//! that is not there is built from the records.
//!
//! A writer drops, in its own transaction, every line on which its changes can
//! bear, and builds the few of a small operation anew. The number of the last
//! operation that did so stands beside them: when it is not the last of the
//! log, a program that knows nothing of kept lines has written, and none counts.

use std::collections::BTreeSet;

use rusqlite::{Connection, OptionalExtension, params};

use super::index::rel_number;
use super::{Access, Named, Store, StoreError, Writer};
use crate::domain::asset::{Kind, Record, Rel, Span, Structure};
use crate::domain::code::fold;
use crate::domain::network::Line;

/// Where the number of the last operation stands that looked after the lines.
const UPTO: &str = "lines";

const TABLE: &str = "
    create table if not exists line(
      home text primary key, folded text not null, body blob not null);
    create index if not exists line_folded on line(folded);";

/// Names from which on an operation drops all lines rather than asking for each.
const MANY_NAMES: usize = 5_000;

/// Lines that a writer builds anew before it commits.
const BUILT: usize = 8;

/// What the changes of a transaction can bear on.
#[derive(Default)]
pub(super) struct Touched {
    homes: BTreeSet<String>,
    /// Folded names of structures.
    structures: BTreeSet<String>,
    /// Folded names of positions, of units that hang there.
    positions: BTreeSet<String>,
    /// Folded names of sources.
    sources: BTreeSet<String>,
    /// More than is worth asking for one by one.
    all: bool,
    /// The operation before the first one written.
    before: Option<i64>,
}

impl Touched {
    /// Notes an operation that begins after the operation of this number.
    pub fn begin(&mut self, before: i64) {
        self.before.get_or_insert(before);
    }

    /// Notes a change: what the record was and what it is.
    pub fn note(&mut self, old: Option<&Record>, new: Option<&Record>) {
        if self.all || !bears(old, new) {
            return;
        }
        for record in old.into_iter().chain(new) {
            self.note_record(record);
        }
        self.all = self.homes.len() + self.structures.len() + self.positions.len() > MANY_NAMES;
    }

    /// Notes a change to a record of which it is not known what it was.
    pub fn everything(&mut self) {
        self.all = true;
    }

    fn note_record(&mut self, record: &Record) {
        self.homes.extend(record.home().map(str::to_string));
        match record {
            Record::Structure(_) => {
                let names = record.names().into_iter();
                self.structures.extend(names.map(|n| fold(&n.text)));
            }
            Record::Span(s) => {
                self.structures
                    .extend([fold(&s.span.from), fold(&s.span.to)]);
            }
            Record::Position(p) => {
                let at = p.structure.iter().chain(&p.toward);
                self.structures.extend(at.map(|t| fold(t)));
                self.homes.extend(p.ties.iter().cloned());
                // A tie or a transformer is asked for by its own name, too.
                self.positions.insert(fold(&p.position));
            }
            Record::Unit(u) => {
                let stays = u.deployments.iter().filter(|d| !d.is_store());
                self.positions.extend(stays.map(|d| fold(&d.at)));
            }
            Record::Feeder(f) => {
                self.homes.insert(f.feeder.clone());
                self.sources.extend(f.source.iter().map(|t| fold(t)));
            }
            Record::Source(s) => {
                self.sources.insert(fold(&s.source));
                self.structures.extend(s.structure.iter().map(|t| fold(t)));
            }
            _ => {}
        }
    }
}

/// Whether a change can alter what is walked. Of structures and spans a walk
/// reads no more than is compared here (`line.rs`); of the others everything
/// counts.
fn bears(old: Option<&Record>, new: Option<&Record>) -> bool {
    let structure = |s: &Structure| {
        (
            s.feeder.clone(),
            s.structure.clone(),
            s.names.clone(),
            s.circuits.clone(),
        )
    };
    let span = |s: &Span| {
        let ends = (s.from_terminal.clone(), s.to_terminal.clone());
        let of = &s.span;
        (
            of.from.clone(),
            of.to.clone(),
            of.phases.clone(),
            s.feeder.clone(),
            ends,
        )
    };
    match (old, new) {
        (Some(Record::Structure(a)), Some(Record::Structure(b))) => structure(a) != structure(b),
        (Some(Record::Span(a)), Some(Record::Span(b))) => span(a) != span(b),
        (Some(Record::Unit(a)), Some(Record::Unit(b))) => {
            a.deployments != b.deployments || a.nameplate != b.nameplate || a.unit != b.unit
        }
        (old, new) => old.or(new).is_some_and(|r| kind_bears(r.kind())),
    }
}

/// Whether records of a kind stand in the line or say what is connected there.
pub(super) fn kind_bears(kind: Kind) -> bool {
    matches!(
        kind,
        Kind::Structure | Kind::Span | Kind::Position | Kind::Unit | Kind::Feeder | Kind::Source
    )
}

impl Store {
    /// The line that the register keeps of a feeder, if it is of today.
    ///
    /// # Errors
    /// The disk's.
    pub fn kept_line(&self, home: &str) -> Result<Option<Line>, StoreError> {
        if self.past || self.effective.is_some() {
            return Ok(None);
        }
        let found = self.conn.prepare_cached(
            "select body from line where home = ?1 and
               (select value from meta where key = 'lines')
               = (select cast(max(seq) as text) from operation)",
        );
        // A register in which no line was ever kept has no such table.
        let Ok(mut found) = found else {
            return Ok(None);
        };
        let line = found
            .query_row([home], |r| {
                Ok(r.get_ref(0)?.as_blob().ok().and_then(Line::unpack))
            })
            .optional()
            .at(&self.path)?;
        Ok(line.flatten())
    }

    /// Feeders whose kept line is not the one that the records give, or whose
    /// records cannot be read.
    ///
    /// # Errors
    /// The disk's.
    pub fn unlike_lines(&self) -> Result<Vec<String>, StoreError> {
        let Ok(mut statement) = self.conn.prepare("select home from line order by home") else {
            return Ok(Vec::new());
        };
        let homes: Vec<String> = statement
            .query_map([], |r| r.get(0))
            .and_then(Iterator::collect)
            .at(&self.path)?;
        let mut unlike = Vec::new();
        for home in homes {
            let kept = self.kept_line(&home)?;
            if let Some(kept) = kept
                && !self
                    .built_line(&home)
                    .is_ok_and(|b| b.pack() == kept.pack())
            {
                unlike.push(home);
            }
        }
        Ok(unlike)
    }

    /// Builds and keeps every line that is not kept, on two threads; how many
    /// that were. When somebody writes meanwhile, nothing is kept.
    ///
    /// # Errors
    /// The disk's. A line with a damaged record is left out.
    pub fn keep_lines(&mut self) -> Result<usize, StoreError> {
        if self.access != Access::Write || self.past {
            return Ok(0);
        }
        let seq = self.head()?.seq;
        let missing = self.lines_missing()?;
        if missing.is_empty() {
            return Ok(0);
        }
        let half = missing.len().div_ceil(2);
        let path = self.path.clone();
        let built: Vec<(String, Vec<u8>)> = std::thread::scope(|scope| {
            let parts: Vec<_> = missing
                .chunks(half)
                .map(|homes| scope.spawn(|| build_all(&path, homes)))
                .collect();
            parts
                .into_iter()
                .flat_map(|part| part.join().unwrap_or_default())
                .collect()
        });
        let writer = self.writer()?;
        if writer.tail()?.0 != seq {
            return Ok(0);
        }
        writer.put_lines(&built, seq).at(&writer.path)?;
        writer.commit_as_it_is()?;
        Ok(built.len())
    }

    /// Feeders whose line is not kept.
    fn lines_missing(&self) -> Result<Vec<String>, StoreError> {
        let homes = self.homes()?.into_iter().flatten();
        let current = upto(&self.conn).at(&self.path)? == Some(self.head()?.seq);
        if !current {
            return Ok(homes.collect());
        }
        let mut out = Vec::new();
        let mut there = self
            .conn
            .prepare("select 1 from line where home = ?1")
            .at(&self.path)?;
        for home in homes {
            if !there.exists([&home]).at(&self.path)? {
                out.push(home);
            }
        }
        Ok(out)
    }
}

/// Lines of feeders, packed, over a reader of its own.
fn build_all(path: &std::path::Path, homes: &[String]) -> Vec<(String, Vec<u8>)> {
    let Ok(store) = Store::open(path, Access::Read) else {
        return Vec::new();
    };
    let packed = |home: &String| {
        let line = store.built_line(home).ok()?;
        Some((home.clone(), line.pack()))
    };
    homes.iter().filter_map(packed).collect()
}

impl Writer<'_> {
    /// Before a commit: drops the lines on which the changes can bear, and
    /// builds those of a small operation anew.
    pub(super) fn settle_lines(&self) -> Result<(), StoreError> {
        let Some(before) = self.touched.before else {
            return Ok(());
        };
        let (seq, _) = self.tail()?;
        if seq == before {
            return Ok(());
        }
        let at = &self.path;
        self.tx.execute_batch(TABLE).at(at)?;
        let current = upto(&self.tx).at(at)? == Some(before);
        if !current || self.touched.all {
            self.tx.execute("delete from line", []).at(at)?;
        }
        let mut built = Vec::new();
        if !self.touched.all {
            let homes = self.drop_lines().at(at)?;
            if homes.len() <= BUILT {
                for home in homes {
                    // What cannot be read is found by whoever asks for it.
                    if let Ok(line) = self.store.built_line(&home) {
                        built.push((home, line.pack()));
                    }
                }
            }
        }
        self.put_lines(&built, seq).at(at)
    }

    /// Drops the lines on which the changes can bear; the homes of which a line
    /// can be built.
    fn drop_lines(&self) -> rusqlite::Result<BTreeSet<String>> {
        let touched = self.homes_touched()?;
        let mut homes = BTreeSet::new();
        for home in &touched {
            let key = fold(home);
            homes.extend(self.column("select home from line where folded = ?1", [&key])?);
            self.tx
                .prepare_cached("delete from line where folded = ?1")?
                .execute([&key])?;
            let own = "select home from record where home = ?1 and gone = 0 limit 1";
            homes.extend(self.column(own, [home])?);
        }
        Ok(homes)
    }

    pub(super) fn put_lines(&self, built: &[(String, Vec<u8>)], seq: i64) -> rusqlite::Result<()> {
        self.tx.execute_batch(TABLE)?;
        let mut put = self.tx.prepare_cached(
            "insert or replace into line(home, folded, body) values (?1, ?2, ?3)",
        )?;
        for (home, body) in built {
            put.execute(params![home, fold(home), body])?;
        }
        self.tx
            .prepare_cached("insert or replace into meta(key, value) values (?1, ?2)")?
            .execute(params![UPTO, seq.to_string()])?;
        Ok(())
    }

    /// Every home whose line can read a touched record, some folded: its own, and those of
    /// whatever stands at the structures that the record names or at the other
    /// end of a span from there. More than needed does no harm.
    fn homes_touched(&self) -> rusqlite::Result<BTreeSet<String>> {
        let mut homes = self.touched.homes.clone();
        let mut structures = self.touched.structures.clone();
        for position in &self.touched.positions {
            homes.extend(self.homes_of_named(position, &mut structures)?);
        }
        for source in &self.touched.sources {
            homes.extend(self.names_pointing(Rel::FedFrom, source)?);
            structures.extend(self.targets_of_named(source, Rel::SourceAt)?);
        }
        let mut all = structures.clone();
        for at in &structures {
            all.extend(self.other_ends(at)?);
        }
        for at in &all {
            homes.extend(self.homes_at(at)?);
        }
        Ok(homes)
    }

    /// Homes and ties of the records of a folded name; their structures join
    /// `structures`.
    fn homes_of_named(
        &self,
        folded: &str,
        structures: &mut BTreeSet<String>,
    ) -> rusqlite::Result<Vec<String>> {
        structures.extend(self.targets_of_named(folded, Rel::HangsOn)?);
        let mut out = self.column(
            "select r.home from name n join record r on r.rec = n.rec
             where n.folded = ?1 and r.home is not null",
            params![folded],
        )?;
        out.extend(self.targets_of_named(folded, Rel::Ties)?);
        Ok(out)
    }

    fn targets_of_named(&self, folded: &str, rel: Rel) -> rusqlite::Result<Vec<String>> {
        self.column(
            "select l.target from name n join link l on l.rec = n.rec
             where n.folded = ?1 and l.rel = ?2",
            params![folded, rel_number(rel)],
        )
    }

    fn names_pointing(&self, rel: Rel, target: &str) -> rusqlite::Result<Vec<String>> {
        self.column(
            "select r.name from link l join record r on r.rec = l.rec
             where l.rel = ?2 and l.target = ?1",
            params![target, rel_number(rel)],
        )
    }

    /// Folded names at the other ends of the spans at a structure.
    fn other_ends(&self, at: &str) -> rusqlite::Result<Vec<String>> {
        self.column(
            "select o.target from link l cross join link o on o.rec = l.rec
             where l.rel in (?2, ?3) and l.target = ?1 and o.rel in (?2, ?3)",
            params![at, rel_number(Rel::SpanFrom), rel_number(Rel::SpanTo)],
        )
    }

    /// Homes of the structures of a folded name and of all that points there.
    fn homes_at(&self, at: &str) -> rusqlite::Result<Vec<String>> {
        let mut out = self.column(
            "select r.home from name n join record r on r.rec = n.rec
             where n.folded = ?1 and r.home is not null",
            params![at],
        )?;
        for rel in [Rel::SpanFrom, Rel::SpanTo, Rel::HangsOn, Rel::Toward] {
            out.extend(self.column(
                "select r.home from link l join record r on r.rec = l.rec
                 where l.rel = ?2 and l.target = ?1 and r.home is not null",
                params![at, rel_number(rel)],
            )?);
        }
        out.extend(self.names_pointing(Rel::HeadAt, at)?);
        out.extend(self.column(
            "select t.target from link l join link t on t.rec = l.rec and t.rel = ?3
             where l.rel = ?2 and l.target = ?1",
            params![at, rel_number(Rel::HangsOn), rel_number(Rel::Ties)],
        )?);
        Ok(out)
    }

    fn column(&self, sql: &str, p: impl rusqlite::Params) -> rusqlite::Result<Vec<String>> {
        let mut statement = self.tx.prepare_cached(sql)?;
        statement.query_map(p, |r| r.get(0))?.collect()
    }
}

/// The last operation that looked after the lines.
fn upto(conn: &Connection) -> rusqlite::Result<Option<i64>> {
    let text: Option<String> = conn
        .query_row("select value from meta where key = ?1", [UPTO], |r| {
            r.get(0)
        })
        .optional()?;
    Ok(text.and_then(|t| t.parse().ok()))
}
