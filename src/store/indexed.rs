//! Whether the names, links and columns kept beside each record are those of
//! the record: a tampered row of the index sends a search to the wrong thing.

use std::collections::BTreeSet;

use rusqlite::params;

use super::audit::Drifted;
use super::index::{kind_number, rel_number};
use super::{Named, Store, StoreError, Stored};
use crate::domain::asset::Record;
use crate::domain::code::fold;

/// A sum over what should stand in the index; the order does not matter, so
/// that records can be added as they are met.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct IndexSum(u64);

type NameRow = (String, i64, i64, String);
type LinkRow = (i64, String);

fn names(record: &Record) -> BTreeSet<NameRow> {
    let kind = kind_number(record.kind());
    let names = record.names().into_iter();
    names
        .map(|n| (fold(&n.text), i64::from(n.rank), kind, n.text))
        .collect()
}

fn links(record: &Record) -> BTreeSet<LinkRow> {
    let links = record.links().into_iter();
    links
        .map(|l| (rel_number(l.rel), fold(&l.target)))
        .collect()
}

impl IndexSum {
    /// Adds one record as its index rows should be.
    pub fn add(&mut self, stored: &Stored) {
        let (rec, record) = (stored.rec, &stored.record);
        self.row(rec, &record.name(), record.home());
        for n in names(record) {
            self.name(rec, &n);
        }
        for l in links(record) {
            self.link(rec, &l);
        }
    }

    fn row(&mut self, rec: i64, name: &str, home: Option<&str>) {
        self.parts(&["r", &rec.to_string(), name, home.unwrap_or("\u{0}")]);
    }

    fn name(&mut self, rec: i64, n: &NameRow) {
        let (rank, kind) = (n.1.to_string(), n.2.to_string());
        self.parts(&["n", &rec.to_string(), &n.0, &rank, &kind, &n.3]);
    }

    fn link(&mut self, rec: i64, l: &LinkRow) {
        self.parts(&["l", &rec.to_string(), &l.0.to_string(), &l.1]);
    }

    /// FNV-1a over the parts, each ended, added to the sum.
    fn parts(&mut self, parts: &[&str]) {
        let mut hash = 0xcbf2_9ce4_8422_2325_u64;
        for part in parts {
            for byte in part.bytes().chain([0xff]) {
                hash = (hash ^ u64::from(byte)).wrapping_mul(0x0100_0000_01b3);
            }
        }
        self.0 = self.0.wrapping_add(hash);
    }
}

impl Store {
    /// The sum over the index as it stands.
    ///
    /// # Errors
    /// The disk's.
    pub fn index_sum(&self) -> Result<IndexSum, StoreError> {
        let mut sum = IndexSum::default();
        let path = &self.path;
        let mut rows = self
            .conn
            .prepare("select rec, name, home from record where gone = 0")
            .at(path)?;
        let mut rows = rows.query([]).at(path)?;
        while let Some(r) = rows.next().at(path)? {
            let (name, home): (String, Option<String>) = (r.get(1).at(path)?, r.get(2).at(path)?);
            sum.row(r.get(0).at(path)?, &name, home.as_deref());
        }
        let mut names = self
            .conn
            .prepare("select rec, folded, rank, kind, text from name")
            .at(path)?;
        let mut rows = names.query([]).at(path)?;
        while let Some(r) = rows.next().at(path)? {
            let row = (|| Ok((r.get(1)?, r.get(2)?, r.get(3)?, r.get(4)?)))().at(path)?;
            sum.name(r.get(0).at(path)?, &row);
        }
        let mut links = self
            .conn
            .prepare("select rec, rel, target from link")
            .at(path)?;
        let mut rows = links.query([]).at(path)?;
        while let Some(r) = rows.next().at(path)? {
            let row = (|| Ok((r.get(1)?, r.get(2)?)))().at(path)?;
            sum.link(r.get(0).at(path)?, &row);
        }
        Ok(sum)
    }

    /// Walks the records whose rows in the index are not theirs. Slower than
    /// [`Store::index_sum`], which tells whether there are any.
    ///
    /// # Errors
    /// The disk's, or what `each` returns.
    pub fn misindexed<E: From<StoreError>>(
        &self,
        mut each: impl FnMut(Drifted) -> Result<(), E>,
    ) -> Result<(), E> {
        let mut statement = self
            .conn
            .prepare(
                "select rec, kind, op, body, name, home from record where gone = 0 order by rec",
            )
            .at(&self.path)?;
        let mut rows = statement.query([]).at(&self.path)?;
        while let Some(r) = rows.next().at(&self.path)? {
            let quad = (|| Ok((r.get(0)?, r.get(1)?, r.get(2)?, r.get(3)?)))().at(&self.path)?;
            let stored = self.stored(quad)?;
            let name: String = r.get(4).at(&self.path)?;
            let home: Option<String> = r.get(5).at(&self.path)?;
            if let Some(why) = self.misindexed_by(&stored, (&name, home.as_deref()))? {
                each(Drifted {
                    id: stored.record.id(),
                    kind: stored.record.kind(),
                    name: stored.record.name(),
                    why,
                })?;
            }
        }
        Ok(())
    }

    fn misindexed_by(
        &self,
        stored: &Stored,
        column: (&str, Option<&str>),
    ) -> Result<Option<&'static str>, StoreError> {
        let record = &stored.record;
        if column != (record.name().as_str(), record.home()) {
            return Ok(Some("is listed under another name or feeder than its own"));
        }
        let path = &self.path;
        let mut of = self
            .conn
            .prepare_cached("select folded, rank, kind, text from name where rec = ?1")
            .at(path)?;
        let rows = of
            .query_map(params![stored.rec], |r| {
                Ok((r.get(0)?, r.get(1)?, r.get(2)?, r.get(3)?))
            })
            .at(path)?;
        let found: BTreeSet<NameRow> = rows.collect::<rusqlite::Result<_>>().at(path)?;
        if found != names(record) {
            return Ok(Some(
                "is found by names that are not on its record, or not by its own",
            ));
        }
        let mut of = self
            .conn
            .prepare_cached("select rel, target from link where rec = ?1")
            .at(path)?;
        let rows = of
            .query_map(params![stored.rec], |r| Ok((r.get(0)?, r.get(1)?)))
            .at(path)?;
        let found: BTreeSet<LinkRow> = rows.collect::<rusqlite::Result<_>>().at(path)?;
        Ok((found != links(record)).then_some("is joined to records that it does not name"))
    }
}
