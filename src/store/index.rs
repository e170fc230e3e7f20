//! What is kept beside each record so that it can be found: its names folded,
//! the records it points at, and the words of its description.

use std::collections::HashSet;

use rusqlite::{OptionalExtension, Transaction, params};

use crate::domain::asset::{Defect, Kind, Record, Rel};
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

/// Puts names, links and words of a record into the index. What hangs on a
/// structure is found by its road and landmark as well, so records that point
/// at this one are described anew.
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
    describe(tx, rec, record, known)?;
    describe_dependents(tx, record.kind(), &fold(&record.name()), known)
}

/// Writes the words of a record: its own, and those of the place it is at.
fn describe(
    tx: &Transaction<'_>,
    rec: i64,
    record: &Record,
    known: &mut Known,
) -> rusqlite::Result<()> {
    let mut text = record.search_words();
    match record {
        Record::Span(_) => return Ok(()),
        Record::Entry(e) => return describe_finds(tx, rec, &e.finds),
        Record::Position(p) => {
            let at = p.structure.as_deref().map(fold);
            add_place(tx, at.as_deref(), &mut text)?;
        }
        Record::Unit(u) => {
            for stay in u.present().filter(|d| !d.is_store()) {
                let at = structure_of(tx, &fold(&stay.at))?;
                add_place(tx, at.as_deref(), &mut text)?;
            }
        }
        _ => {}
    }
    let words = search_words(&text);
    tx.prepare_cached("insert into described(rowid, words) values (?1, ?2)")?
        .execute(params![rec, words.join(" ")])?;
    for w in words {
        if known.0.contains(&w) {
            continue;
        }
        tx.prepare_cached("insert or ignore into word(text) values (?1)")?
            .execute([&w])?;
        if known.0.len() < REMEMBERED {
            known.0.insert(w);
        }
    }
    Ok(())
}

/// Writes what an entry found, each defect as one word of its own: entries are
/// found by nothing else.
fn describe_finds(tx: &Transaction<'_>, rec: i64, finds: &[Defect]) -> rusqlite::Result<()> {
    if finds.is_empty() {
        return Ok(());
    }
    let words: Vec<String> = finds.iter().map(|d| defect_word(*d)).collect();
    tx.prepare_cached("insert into described(rowid, words) values (?1, ?2)")?
        .execute(params![rec, words.join(" ")])?;
    Ok(())
}

/// The word in the index for a defect: none that anybody types.
pub(super) fn defect_word(defect: Defect) -> String {
    format!("defect{}", defect.word().replace(' ', ""))
}

/// Adds road, house and landmark of the structure of a folded name.
fn add_place(
    tx: &Transaction<'_>,
    structure: Option<&str>,
    text: &mut String,
) -> rusqlite::Result<()> {
    let Some(structure) = structure else {
        return Ok(());
    };
    let mut place = tx.prepare_cached(
        "select concat_ws(' ', r.body ->> '$.place.road', r.body ->> '$.place.house',
                               r.body ->> '$.place.near')
         from name n join record r on r.rec = n.rec
         where n.folded = ?1 and n.rank = 0 and n.kind = ?2 limit 1",
    )?;
    let key = params![structure, kind_number(Kind::Structure)];
    if let Some(words) = place.query_row(key, |r| r.get::<_, String>(0)).optional()? {
        text.push(' ');
        text.push_str(&words);
    }
    Ok(())
}

/// Folded name of the structure that the position of a folded name hangs on.
fn structure_of(tx: &Transaction<'_>, position: &str) -> rusqlite::Result<Option<String>> {
    tx.prepare_cached(
        "select l.target from name n join link l on l.rec = n.rec and l.rel = ?3
         where n.folded = ?1 and n.rank = 0 and n.kind = ?2 limit 1",
    )?
    .query_row(
        params![
            position,
            kind_number(Kind::Position),
            rel_number(Rel::HangsOn)
        ],
        |r| r.get(0),
    )
    .optional()
}

/// Describes anew what hangs on a structure or is deployed at a position.
fn describe_dependents(
    tx: &Transaction<'_>,
    kind: Kind,
    folded: &str,
    known: &mut Known,
) -> rusqlite::Result<()> {
    let rel = match kind {
        Kind::Structure => Rel::HangsOn,
        Kind::Position => Rel::DeployedAt,
        _ => return Ok(()),
    };
    let rows: Vec<(i64, i64, String)> = tx
        .prepare_cached(
            "select r.rec, r.kind, r.body from link l join record r on r.rec = l.rec
             where l.rel = ?1 and l.target = ?2 and r.gone = 0",
        )?
        .query_map(params![rel_number(rel), folded], |r| {
            Ok((r.get(0)?, r.get(1)?, r.get(2)?))
        })?
        .collect::<rusqlite::Result<_>>()?;
    for (rec, kind, body) in rows {
        let record = kind_from_number(kind).and_then(|k| Record::from_json(k, &body).ok());
        let Some(record) = record else { continue };
        tx.prepare_cached("delete from described where rowid = ?1")?
            .execute([rec])?;
        describe(tx, rec, &record, known)?;
        describe_dependents(tx, record.kind(), &fold(&record.name()), known)?;
    }
    Ok(())
}

/// Takes a record out of the index. Words stay in the word table: it only
/// completes what is typed.
pub(super) fn take(tx: &Transaction<'_>, rec: i64, known: &mut Known) -> rusqlite::Result<()> {
    let present: Option<(i64, String)> = tx
        .prepare_cached("select kind, folded from name where rec = ?1 and rank = 0")?
        .query_row([rec], |r| Ok((r.get(0)?, r.get(1)?)))
        .optional()?;
    for sql in [
        "delete from name where rec = ?1",
        "delete from link where rec = ?1",
        "delete from described where rowid = ?1",
        "delete from spelled where rowid = ?1",
    ] {
        tx.prepare_cached(sql)?.execute([rec])?;
    }
    if let Some((kind, folded)) = present
        && let Some(kind) = kind_from_number(kind)
    {
        describe_dependents(tx, kind, &folded, known)?;
    }
    Ok(())
}
