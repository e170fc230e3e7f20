//! Chain heads that were printed earlier, held against the log: which
//! operation each is, and whether the log's tail was cut or the log rewritten.

use std::path::Path;

use serde::Serialize;
use serde_json::Value;

use super::Failure;
use crate::calendar::Moment;
use crate::domain::asset::{Kind, Record};
use crate::exchange;
use crate::store::{Access, Store};

/// Operations read at a time.
const PAGE: usize = 1_000;
/// Shortest beginning of a digest that is taken for one.
const SHORTEST: usize = 8;

/// What became of a head.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Fate {
    /// The log holds it.
    Held,
    /// The log ends before it.
    Cut,
    /// The log was written anew at it or before it.
    Rewritten,
    /// The log does not hold it; the head alone does not tell which.
    Missing,
}

/// A head that was printed earlier, and what became of it.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct Expected {
    /// Digest as it was printed.
    pub head: String,
    /// Where it was read from: as typed, a file, or a check that was kept.
    pub of: String,
    pub found: bool,
    pub fate: Fate,
    /// Number of the operation: that of this log when found, else the printed one.
    pub operation: Option<i64>,
    pub entered: Option<Moment>,
    pub operations_since: usize,
    /// A sentence.
    pub words: String,
}

/// A head as given.
struct Given {
    digest: String,
    number: Option<i64>,
    of: String,
    /// Number of the last operation in common, where the other log is at hand.
    common: Option<i64>,
}

/// Holds heads against the log. Each is a digest, `NUMBER:DIGEST`, or a file
/// that carries one: a backup, a folder of an export, a report in JSON. Checks
/// that were kept in the register carry theirs; `last` is the one that this
/// account saw last.
///
/// # Errors
/// Usage, when a text is no head; those of the register and of the files.
pub fn heads(
    store: &Store,
    texts: &[String],
    last: Option<&str>,
) -> Result<Vec<Expected>, Failure> {
    let mut given = Vec::new();
    for text in texts {
        given.push(one(store, text.trim())?);
    }
    if let Some(last) = last {
        let of = "this account's last look".to_string();
        given.push(Given {
            of,
            ..one(store, last)?
        });
    }
    given.extend(kept(store)?);
    if given.is_empty() {
        return Ok(Vec::new());
    }
    let mut places: Vec<Option<(i64, Moment, String)>> = vec![None; given.len()];
    let mut after = 0;
    let mut last = 0;
    // What cannot be read any more is where the chain breaks; others say so.
    while let Ok(page) = store.operations(after, PAGE) {
        let Some(end) = page.last() else { break };
        (after, last) = (end.seq, end.seq);
        for w in &page {
            for (g, place) in given.iter().zip(&mut places) {
                if w.digest.starts_with(&g.digest) {
                    *place = Some((w.seq, w.operation.entered, w.digest.clone()));
                }
            }
        }
    }
    let sound = places.iter().flatten().map(|p| p.0).max();
    Ok(given
        .into_iter()
        .zip(places)
        .map(|(g, place)| fate(g, place, last, sound))
        .collect())
}

fn fate(
    given: Given,
    place: Option<(i64, Moment, String)>,
    last: i64,
    sound: Option<i64>,
) -> Expected {
    if let Some((seq, entered, head)) = place {
        let since = usize::try_from(last - seq).unwrap_or(0);
        return Expected {
            head,
            of: given.of,
            found: true,
            fate: Fate::Held,
            operation: Some(seq),
            entered: Some(entered),
            operations_since: since,
            words: format!(
                "is operation {seq} of {last}, entered {}; {since} since",
                entered.spoken()
            ),
        };
    }
    let (fate, words) = lost(&given, last, sound);
    Expected {
        head: given.digest,
        of: given.of,
        found: false,
        fate,
        operation: given.number,
        entered: None,
        operations_since: 0,
        words,
    }
}

/// Why a head is not in the log, as far as can be told.
fn lost(given: &Given, last: i64, sound: Option<i64>) -> (Fate, String) {
    let at = given
        .number
        .map_or(String::new(), |n| format!(", printed at operation {n},"));
    match (given.common, given.number) {
        (Some(0), _) => (
            Fate::Rewritten,
            format!("{at} shares no operation with this log: it was written anew from the first, or it is another register's").trim_start_matches(", ").to_string(),
        ),
        (Some(k), _) if k == last => (
            Fate::Cut,
            format!("the log ends at operation {last}; what stands after it there was cut off"),
        ),
        (Some(k), _) => (
            Fate::Rewritten,
            format!("the log is the same up to operation {k} and was written anew from {}", k + 1),
        ),
        (None, Some(n)) if n > last => (
            Fate::Cut,
            format!("was printed at operation {n}, and the log ends at {last}: its tail was cut off"),
        ),
        (None, Some(n)) => (
            Fate::Rewritten,
            format!(
                "was printed at operation {n}, which has another digest now: the log was written anew {}",
                match sound {
                    Some(k) if k < n => format!("after operation {k} and not after {n}"),
                    _ => format!("at operation {n} or before"),
                }
            ),
        ),
        (None, None) => (
            Fate::Missing,
            format!(
                "is not in the log: its tail was cut{}, it was written anew, or it is another register's; give NUMBER:DIGEST as printed, or the backup itself, to learn which",
                sound.map_or(String::new(), |k| format!(" after operation {k}"))
            ),
        ),
    }
}

fn one(store: &Store, text: &str) -> Result<Given, Failure> {
    let (number, digest) = match text.split_once(':') {
        Some((n, digest)) => (n.trim().parse::<i64>().ok(), digest.trim()),
        None => (None, text),
    };
    let hex = digest.len() >= SHORTEST
        && digest.len() <= 64
        && digest.bytes().all(|b| b.is_ascii_hexdigit());
    if hex && (number.is_some() || !text.contains(':')) {
        return Ok(Given {
            digest: digest.to_lowercase(),
            number,
            of: "as given".to_string(),
            common: None,
        });
    }
    let path = Path::new(text);
    if !path.exists() {
        return Err(Failure::usage(format!(
            "{text:?} is neither a chain head nor a file that is there"
        ))
        .hint("give NUMBER:DIGEST or DIGEST as a backup or an export printed it, or the backup, the export's folder or a report in JSON"));
    }
    carried(store, path)
}

/// The head that a file carries.
fn carried(store: &Store, path: &Path) -> Result<Given, Failure> {
    let of = path.display().to_string();
    let none = || {
        Failure::unusable(format!("{of} carries no chain head"))
            .hint("a backup, the folder of an export, or a report in JSON does")
    };
    if path.is_dir() {
        let (number, digest) = exchange::head_of(path)?.ok_or_else(none)?;
        return Ok(Given {
            digest,
            number: Some(number),
            of,
            common: None,
        });
    }
    if let Ok(other) = Store::open(path, Access::Read) {
        let head = other.head()?;
        return Ok(Given {
            digest: head.digest,
            number: Some(head.seq),
            common: Some(store.last_common(&other)?),
            of,
        });
    }
    let text = std::fs::read_to_string(path)
        .map_err(|e| Failure::unusable(format!("{of} cannot be read: {e}")))?;
    let value: Value = serde_json::from_str(&text).map_err(|_| none())?;
    let (number, digest) = within(&value).ok_or_else(none)?;
    Ok(Given {
        digest,
        number,
        of,
        common: None,
    })
}

/// A head and the number beside it, anywhere in a report.
fn within(value: &Value) -> Option<(Option<i64>, String)> {
    match value {
        Value::Object(map) => {
            let digest = ["chain_head", "head"]
                .iter()
                .find_map(|k| map.get(*k).and_then(Value::as_str))
                .filter(|d| d.len() == 64);
            if let Some(digest) = digest {
                let number = ["operations", "register_operation", "operation"]
                    .iter()
                    .find_map(|k| map.get(*k).and_then(Value::as_i64));
                return Some((number, digest.to_lowercase()));
            }
            map.values().find_map(within)
        }
        Value::Array(items) => items.iter().find_map(within),
        _ => None,
    }
}

/// The heads of the checks that were kept.
fn kept(store: &Store) -> Result<Vec<Given>, Failure> {
    let mut out = Vec::new();
    for stored in store.all(Kind::Kept)? {
        if let Record::Kept(doc) = &stored.record
            && let Some((number, digest)) = within(&Value::Object(doc.body.clone()))
        {
            out.push(Given {
                digest,
                number,
                of: format!("kept check {}", doc.kept),
                common: None,
            });
        }
    }
    Ok(out)
}
