//! Searching: names by their beginning, end and inside, words of the
//! descriptions, and rows in batches. Every method that may take long asks
//! `stop` on the way and then returns what it has.

use rusqlite::{Row, params};

use super::index::{END, defect_word, kind_from_number};
use super::read::{Hit, after_prefix};
use super::{Named, Store, StoreError, Stored};
use crate::domain::asset::{Defect, Kind};
use crate::domain::code::fold;

/// How many probes are made between two looks at `stop`.
const PROBES: usize = 64;

impl Store {
    /// The records of rows, in the order asked for; rows that have left the
    /// register are left out.
    ///
    /// # Errors
    /// The disk's, or a damaged record.
    pub fn by_rows(&self, recs: &[i64]) -> Result<Vec<Stored>, StoreError> {
        let mut out = Vec::with_capacity(recs.len());
        for rec in recs {
            out.extend(self.by_row(*rec)?);
        }
        Ok(out)
    }

    /// Holders of each of many folded names, with the place of the name in the
    /// list; among one name's holders present ones first.
    ///
    /// # Errors
    /// The disk's.
    pub fn holders(
        &self,
        folded: &[String],
        stop: &dyn Fn() -> bool,
    ) -> Result<Vec<(usize, Hit)>, StoreError> {
        let mut statement = self
            .conn
            .prepare_cached(
                "select rec, kind, rank, text from name where folded = ?1 order by rank, kind, rec",
            )
            .at(&self.path)?;
        let mut out = Vec::new();
        for (i, key) in folded.iter().enumerate() {
            if i % PROBES == PROBES - 1 && stop() {
                break;
            }
            let mut rows = statement.query([key]).at(&self.path)?;
            while let Some(row) = rows.next().at(&self.path)? {
                out.extend(hit(row).at(&self.path)?.map(|h| (i, h)));
            }
        }
        Ok(out)
    }

    /// Rows whose description holds, of every group of words, at least one;
    /// in the order of the rows, at most `limit`.
    ///
    /// # Errors
    /// The disk's.
    pub fn with_words(&self, groups: &[Vec<String>], limit: usize) -> Result<Vec<i64>, StoreError> {
        if groups.is_empty() || groups.iter().any(Vec::is_empty) {
            return Ok(Vec::new());
        }
        let asked = groups
            .iter()
            .map(|words| {
                let quoted: Vec<String> = words.iter().map(|w| quoted(w)).collect();
                format!("({})", quoted.join(" OR "))
            })
            .collect::<Vec<_>>()
            .join(" AND ");
        self.rows(
            "select rowid from described where described match ?1 limit ?2",
            params![asked, i64::try_from(limit).unwrap_or(i64::MAX)],
        )
    }

    /// Rows of the entries that found one of the defects, the latest first, at
    /// most `limit`.
    ///
    /// # Errors
    /// The disk's.
    pub fn finding(&self, defects: &[Defect], limit: usize) -> Result<Vec<i64>, StoreError> {
        let words: Vec<String> = defects.iter().map(|d| quoted(&defect_word(*d))).collect();
        self.rows(
            "select rowid from described where described match ?1 order by rowid desc limit ?2",
            params![words.join(" OR "), i64::try_from(limit).unwrap_or(i64::MAX)],
        )
    }

    /// Distinct words of descriptions that begin with `start`, shortest and
    /// then alphabetic, at most `limit`.
    ///
    /// # Errors
    /// The disk's.
    pub fn words_beginning(&self, start: &str, limit: usize) -> Result<Vec<String>, StoreError> {
        let Some(end) = after_prefix(start) else {
            return Ok(Vec::new());
        };
        let mut statement = self
            .conn
            .prepare_cached("select text from word where text >= ?1 and text < ?2 limit ?3")
            .at(&self.path)?;
        let most = i64::try_from(limit).unwrap_or(i64::MAX);
        let rows = statement
            .query_map(params![start, end, most], |r| r.get(0))
            .at(&self.path)?;
        let mut out: Vec<String> = Vec::new();
        for row in rows {
            out.push(row.at(&self.path)?);
        }
        out.sort_by_key(|w| w.chars().count());
        Ok(out)
    }

    /// Names that end with `part`, from two characters; at most `limit`
    /// records.
    ///
    /// # Errors
    /// The disk's.
    pub fn names_ending(&self, part: &str, limit: usize) -> Result<Vec<Hit>, StoreError> {
        let mut hits = self.names_spelled(&[format!("{part}{END}")], limit)?;
        hits.retain(|h| fold(&h.text).ends_with(part));
        Ok(hits)
    }

    /// Names that hold `part`, from three characters; at most `limit` records.
    ///
    /// # Errors
    /// The disk's.
    pub fn names_holding(&self, part: &str, limit: usize) -> Result<Vec<Hit>, StoreError> {
        let mut hits = self.names_spelled(&[part.to_string()], limit)?;
        hits.retain(|h| fold(&h.text).contains(part));
        Ok(hits)
    }

    /// Names of the records that hold at least one of `parts` in one of their
    /// names; parts of fewer than three characters are passed over.
    ///
    /// # Errors
    /// The disk's.
    pub fn names_spelled(&self, parts: &[String], limit: usize) -> Result<Vec<Hit>, StoreError> {
        let usable = parts.iter().filter(|p| p.chars().count() >= 3);
        let asked: Vec<String> = usable.map(|p| quoted(p)).collect();
        if asked.is_empty() {
            return Ok(Vec::new());
        }
        let rows = self.rows(
            "select rowid from spelled where spelled match ?1 limit ?2",
            params![asked.join(" OR "), i64::try_from(limit).unwrap_or(i64::MAX)],
        )?;
        let mut out = Vec::new();
        for rec in rows {
            out.extend(self.names_of(rec)?);
        }
        Ok(out)
    }

    fn rows(&self, sql: &str, p: impl rusqlite::Params) -> Result<Vec<i64>, StoreError> {
        let mut statement = self.conn.prepare_cached(sql).at(&self.path)?;
        let rows = statement.query_map(p, |r| r.get(0)).at(&self.path)?;
        rows.map(|r| r.at(&self.path)).collect()
    }

    /// Every name of a record.
    ///
    /// # Errors
    /// The disk's.
    pub fn names_of(&self, rec: i64) -> Result<Vec<Hit>, StoreError> {
        let mut statement = self
            .conn
            .prepare_cached("select rec, kind, rank, text from name where rec = ?1 order by rank")
            .at(&self.path)?;
        let mut rows = statement.query([rec]).at(&self.path)?;
        let mut out = Vec::new();
        while let Some(row) = rows.next().at(&self.path)? {
            out.extend(hit(row).at(&self.path)?);
        }
        Ok(out)
    }

    /// Whether one of the folded names of a record pleases `which`; read from
    /// the index alone, for looking through many records.
    ///
    /// # Errors
    /// The disk's.
    pub fn has_name(&self, rec: i64, which: impl Fn(&str) -> bool) -> Result<bool, StoreError> {
        let mut statement = self
            .conn
            .prepare_cached("select folded from name where rec = ?1")
            .at(&self.path)?;
        let mut rows = statement.query([rec]).at(&self.path)?;
        while let Some(row) = rows.next().at(&self.path)? {
            let folded = row.get_ref(0).at(&self.path)?;
            if folded.as_str().is_ok_and(&which) {
                return Ok(true);
            }
        }
        Ok(false)
    }

    /// Present holders of each of many names, of one kind.
    ///
    /// # Errors
    /// The disk's, or a damaged record.
    pub fn present(
        &self,
        kind: Kind,
        names: &[String],
    ) -> Result<Vec<(usize, Stored)>, StoreError> {
        let folded: Vec<String> = names.iter().map(|n| fold(n)).collect();
        let mut out = Vec::new();
        for (i, hit) in self.holders(&folded, &|| false)? {
            if hit.kind == kind && hit.rank == 0 {
                out.extend(self.by_row(hit.rec)?.map(|s| (i, s)));
            }
        }
        Ok(out)
    }
}

/// A name as it stands in a row of `rec, kind, rank, text`.
fn hit(row: &Row<'_>) -> rusqlite::Result<Option<Hit>> {
    let (rec, kind, rank, text) = (row.get(0)?, row.get(1)?, row.get(2)?, row.get(3)?);
    Ok(kind_from_number(kind).map(|kind| Hit {
        rec,
        kind,
        rank,
        text,
    }))
}

/// A text as one string of the index's query language.
fn quoted(text: &str) -> String {
    format!("\"{}\"", text.replace('"', "\"\""))
}
