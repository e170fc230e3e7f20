//! What is kept beside each record so that it can be found: its names folded,
//! the records it points at, and the words of its description.

use rusqlite::{Transaction, params};

use crate::domain::asset::{Kind, Record, Rel};
use crate::domain::code::fold;

/// Number of a kind in the file. New kinds are appended, never inserted.
pub(super) fn kind_number(kind: Kind) -> i64 {
    kind as i64
}

pub(super) fn kind_from_number(n: i64) -> Option<Kind> {
    usize::try_from(n)
        .ok()
        .and_then(|i| Kind::ALL.get(i).copied())
}

pub(super) fn rel_number(rel: Rel) -> i64 {
    rel as i64
}

/// The words of a text as the word index keeps them: lower case, letters and
/// digits, two characters or more.
#[must_use]
pub fn search_words(text: &str) -> Vec<String> {
    let mut out: Vec<String> = text
        .split(|c: char| !c.is_alphanumeric())
        .filter(|w| w.chars().count() >= 2)
        .map(str::to_lowercase)
        .collect();
    out.sort();
    out.dedup();
    out
}

/// Puts names, links and words of a record into the index.
pub(super) fn put(tx: &Transaction<'_>, rec: i64, record: &Record) -> rusqlite::Result<()> {
    let kind = kind_number(record.kind());
    let mut name = tx.prepare_cached(
        "insert or ignore into name(folded, rank, kind, rec, text) values (?1, ?2, ?3, ?4, ?5)",
    )?;
    for n in record.names() {
        name.execute(params![fold(&n.text), n.rank, kind, rec, n.text])?;
    }
    let mut link =
        tx.prepare_cached("insert or ignore into link(rel, target, rec) values (?1, ?2, ?3)")?;
    for l in record.links() {
        link.execute(params![rel_number(l.rel), fold(&l.target), rec])?;
    }
    if matches!(record.kind(), Kind::Entry | Kind::Span) {
        return Ok(());
    }
    let mut word = tx.prepare_cached("insert or ignore into word(text) values (?1)")?;
    let mut posting = tx.prepare_cached(
        "insert or ignore into posting(word, rec) select id, ?2 from word where text = ?1",
    )?;
    for w in search_words(&record.search_words()) {
        word.execute([&w])?;
        posting.execute(params![w, rec])?;
    }
    Ok(())
}

/// Takes a record out of the index.
pub(super) fn take(tx: &Transaction<'_>, rec: i64) -> rusqlite::Result<()> {
    for sql in [
        "delete from name where rec = ?1",
        "delete from link where rec = ?1",
        "delete from posting where rec = ?1",
    ] {
        tx.prepare_cached(sql)?.execute([rec])?;
    }
    Ok(())
}
