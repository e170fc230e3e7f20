//! From what was typed to the one record that a command needs.

use super::Failure;
use super::also::{also, also_of};
use super::find::near;
use super::schemes::schemes;
use crate::domain::asset::{Kind, Record, RecordId};
use crate::domain::code::{fold, spoken_ways};
use crate::store::{Hit, Store, Stored};

/// How many nearest names or holders a failure lists.
const LISTED: usize = 5;

/// A record and what must be said about the name it was asked by.
#[derive(Debug, Clone, PartialEq)]
pub struct Resolved {
    pub stored: Stored,
    /// A sentence, when the record was asked for by a name that is not its
    /// present one.
    pub note: Option<String>,
}

/// The one record that `text` names: a permanent id, a present name, another
/// name in use, or a name no longer in use that nobody else holds. A kind may
/// stand first (`unit 7-20931`), to choose between records of one name.
///
/// # Errors
/// Not found, with the nearest names; or several, with their second
/// identifiers and how to choose; or the register's.
pub fn resolve(store: &Store, text: &str) -> Result<Stored, Failure> {
    resolve_among(store, text, &[]).map(|r| r.stored)
}

/// [`resolve`] among records of some kinds only (all when `kinds` is empty),
/// with a note when the name is not the present one.
///
/// # Errors
/// As [`resolve`].
pub fn resolve_among(store: &Store, text: &str, kinds: &[Kind]) -> Result<Resolved, Failure> {
    let text = text.trim();
    if let Some(stored) = by_permanent_id(store, text)? {
        return Ok(Resolved { stored, note: None });
    }
    let (kind, rest) = split_kind(text);
    let mut hits = named(store, text, kinds)?;
    if hits.is_empty()
        && let Some(kind) = kind
    {
        hits = named(store, rest, &[kind])?;
        hits.retain(|h| kinds.is_empty() || kinds.contains(&h.kind));
    }
    if hits.is_empty() {
        hits = as_spoken(store, text, kinds)?;
    }
    let best = best_holders(hits, text);
    match best.as_slice() {
        [] => Err(not_found(store, text)?),
        [hit] => one(store, hit, text),
        several => Err(ambiguous(store, several, text)?),
    }
}

fn by_permanent_id(store: &Store, text: &str) -> Result<Option<Stored>, Failure> {
    match text.parse::<RecordId>() {
        Ok(id) => Ok(store.by_id(id)?),
        Err(_) => Ok(None),
    }
}

fn split_kind(text: &str) -> (Option<Kind>, &str) {
    match text.split_once(char::is_whitespace) {
        Some((word, rest)) => (Kind::from_word(&word.to_lowercase()), rest.trim()),
        None => (None, text),
    }
}

fn named(store: &Store, text: &str, kinds: &[Kind]) -> Result<Vec<Hit>, Failure> {
    if fold(text).is_empty() {
        return Ok(Vec::new());
    }
    let mut hits = store.named(text)?;
    hits.retain(|h| kinds.is_empty() || kinds.contains(&h.kind));
    Ok(hits)
}

/// Holders of the name that spoken words are; of every way to group the
/// numbers, so that two records are never quietly one.
fn as_spoken(store: &Store, text: &str, kinds: &[Kind]) -> Result<Vec<Hit>, Failure> {
    let mut hits = Vec::new();
    for name in spoken_ways(text) {
        hits.extend(named(store, &name, kinds)?);
    }
    Ok(hits)
}

/// Present holders, else holders of another name in use, else of an old one;
/// of present ones those written exactly as typed, where that tells them
/// apart. One hit a record.
fn best_holders(mut hits: Vec<Hit>, text: &str) -> Vec<Hit> {
    let Some(best) = hits.iter().map(|h| h.rank).min() else {
        return hits;
    };
    hits.retain(|h| h.rank == best);
    if hits.iter().any(|h| h.text == text) {
        hits.retain(|h| h.text == text);
    }
    let mut seen = std::collections::HashSet::new();
    hits.retain(|h| seen.insert(h.rec));
    hits
}

fn one(store: &Store, hit: &Hit, text: &str) -> Result<Resolved, Failure> {
    let stored = store
        .by_row(hit.rec)?
        .ok_or_else(|| Failure::not_found(format!("{text} has just left the register")))?;
    let name = stored.record.name();
    let note = match hit.rank {
        0 => None,
        1 => Some(format!("{} is another name of {name}", hit.text)),
        _ => Some(format!(
            "{} is no longer in use; it was a name of what is now {name}",
            hit.text
        )),
    };
    Ok(Resolved { stored, note })
}

fn ambiguous(store: &Store, hits: &[Hit], text: &str) -> Result<Failure, Failure> {
    let rows: Vec<i64> = hits.iter().take(LISTED).map(|h| h.rec).collect();
    let records = store.by_rows(&rows)?;
    let mut failure = Failure::not_found(format!(
        "{} records are called {text}; say which is meant",
        hits.len()
    ));
    for (s, also) in records.iter().zip(also(store, &records)?) {
        let kind = s.record.kind();
        let alone = records.iter().filter(|o| o.record.kind() == kind).count() == 1;
        let choose = if alone {
            format!("{kind} {}", s.record.name())
        } else {
            s.record.id().to_string()
        };
        failure = failure.hint(format!(
            "{choose}  is {}",
            described(&s.record, &also.words())
        ));
    }
    Ok(failure)
}

fn described(record: &Record, also: &str) -> String {
    if also.is_empty() {
        format!("{} {}", record.kind(), record.name())
    } else {
        format!("{} {}: {also}", record.kind(), record.name())
    }
}

/// Nothing has the name: says so, with the nearest names that there are.
fn not_found(store: &Store, text: &str) -> Result<Failure, Failure> {
    let mut failure = Failure::not_found(format!("nothing in the register is called {text}"));
    for (stored, why) in nearest(store, text)? {
        let also = also_of(store, &stored)?.words();
        failure = failure.hint(format!("{} ({why})", described(&stored.record, &also)));
    }
    if failure.hints.is_empty() {
        failure = failure.hint("look with `polecard find` for part of it, or for a road or class");
    }
    Ok(failure)
}

/// The records whose names come nearest: one mistake away, else beginning or
/// ending alike.
fn nearest(store: &Store, text: &str) -> Result<Vec<(Stored, String)>, Failure> {
    let mut near: Vec<(i64, String)> = near(store, &schemes(store)?, text, &|| false)?
        .into_iter()
        .map(|n| {
            let other = match n.hit.rank {
                0 => String::new(),
                _ => format!(", as {}", n.hit.text),
            };
            (n.hit.rec, format!("one mistake away{other}: {}", n.words))
        })
        .collect();
    let folded = fold(text);
    if near.is_empty() {
        let hits = store.names_ending(&folded, LISTED)?;
        near.extend(hits.iter().map(|h| (h.rec, format!("ends with {folded}"))));
    }
    let mut part = folded;
    // One near name alone may be a chance: names that begin alike beside it.
    while near.len() < LISTED && part.chars().count() > 1 {
        for h in store.names_beginning(&part, LISTED)? {
            if !near.iter().any(|(rec, _)| *rec == h.rec) {
                near.push((h.rec, format!("{} begins with {part}", h.text)));
            }
        }
        part.pop();
    }
    near.truncate(LISTED);
    let rows: Vec<i64> = near.iter().map(|(rec, _)| *rec).collect();
    let records = store.by_rows(&rows)?;
    let why = |rec: i64| near.iter().find(|(r, _)| *r == rec).map(|(_, w)| w.clone());
    Ok(records
        .into_iter()
        .filter_map(|s| Some((why(s.rec)?, s)))
        .map(|(why, s)| (s, why))
        .collect())
}
