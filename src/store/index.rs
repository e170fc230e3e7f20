//! What is kept beside each record so that it can be found: its names folded,
//! the records it points at, and the words of its description.

use std::collections::HashSet;

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

/// Ends every name in the trigram index, so that `118` followed by it finds
/// the names that end so.
pub(super) const END: char = '$';

/// How many words a writer remembers as known.
const REMEMBERED: usize = 200_000;

/// Words that a writer has seen in the word table: most words of a register
/// come again and again.
#[derive(Default)]
pub(super) struct Known(HashSet<String>);

/// Puts names, links and words of a record into the index.
pub(super) fn put(
    tx: &Transaction<'_>,
    rec: i64,
    record: &Record,
    known: &mut Known,
) -> rusqlite::Result<()> {
    let kind = kind_number(record.kind());
    let mut name = tx.prepare_cached(
        "insert or ignore into name(folded, rank, kind, rec, text) values (?1, ?2, ?3, ?4, ?5)",
    )?;
    let mut spelled = String::new();
    for n in record.names() {
        let folded = fold(&n.text);
        name.execute(params![folded, n.rank, kind, rec, n.text])?;
        spelled.push_str(&folded);
        spelled.push(END);
    }
    if !spelled.is_empty() {
        tx.prepare_cached("insert into spelled(rowid, names) values (?1, ?2)")?
            .execute(params![rec, spelled])?;
    }
    let mut link =
        tx.prepare_cached("insert or ignore into link(rel, target, rec) values (?1, ?2, ?3)")?;
    for l in record.links() {
        link.execute(params![rel_number(l.rel), fold(&l.target), rec])?;
    }
    if matches!(record.kind(), Kind::Entry | Kind::Span) {
        return Ok(());
    }
    put_words(tx, rec, &search_words(&record.search_words()), known)
}

fn put_words(
    tx: &Transaction<'_>,
    rec: i64,
    words: &[String],
    known: &mut Known,
) -> rusqlite::Result<()> {
    tx.prepare_cached("insert into described(rowid, words) values (?1, ?2)")?
        .execute(params![rec, words.join(" ")])?;
    for w in words {
        if known.0.contains(w) {
            continue;
        }
        tx.prepare_cached("insert or ignore into word(text) values (?1)")?
            .execute([w])?;
        if known.0.len() < REMEMBERED {
            known.0.insert(w.clone());
        }
    }
    Ok(())
}

/// Takes a record out of the index. Words stay in the word table: it only
/// completes what is typed.
pub(super) fn take(tx: &Transaction<'_>, rec: i64) -> rusqlite::Result<()> {
    for sql in [
        "delete from name where rec = ?1",
        "delete from link where rec = ?1",
        "delete from described where rowid = ?1",
        "delete from spelled where rowid = ?1",
    ] {
        tx.prepare_cached(sql)?.execute([rec])?;
    }
    Ok(())
}
