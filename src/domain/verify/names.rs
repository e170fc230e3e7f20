//! Names: used twice, off the scheme, standing for nothing, or missing.

use super::{Detector, Found, Given, MEANING, PRACTICE, Run};
use crate::domain::asset::{Kind, Plain, Record, RecordId};
use serde_json::Value;

use crate::domain::change::put_at;
use crate::domain::code::{self, Scheme, fold};
use crate::domain::finding::RuleStanding;

/// One who has or had a name.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Held {
    /// Number of the record's row.
    pub rec: i64,
    pub kind: Kind,
    pub id: RecordId,
    /// The name as it is written.
    pub text: String,
    /// The holder's present name.
    pub now: String,
    /// 0 the present name, 1 another name in use, 2 a name no longer in use.
    pub rank: u8,
}

pub(super) static DETECTORS: &[Detector] = &[
    Detector {
        name: "name-twice",
        looks_at: "two present holders of one name, of one kind",
        why: "Whoever asks for it by radio is given one of the two and cannot tell which.",
        fix: "Read both tags in the field, then rename or merge one of them.",
        source: MEANING,
        standing: RuleStanding::CommonPractice,
        run: Run::Name(twice),
    },
    Detector {
        name: "name-reused",
        looks_at: "an old name of one record that is the present name of another",
        why: "An old drawing or an old hand means the former holder; a switching order may reach the wrong device.",
        fix: "Keep both, and read the second identifier back whenever this number is spoken.",
        source: PRACTICE,
        standing: RuleStanding::CommonPractice,
        run: Run::Name(reused),
    },
    Detector {
        name: "other-name-twice",
        looks_at: "serials and further names in use that two records of one kind have",
        why: "One plate or tag was written to two records, often by a swap that was entered at one end only.",
        fix: "Read both plates or tags and correct the record that has the other's.",
        source: PRACTICE,
        standing: RuleStanding::CommonPractice,
        run: Run::Name(other_twice),
    },
    Detector {
        name: "id-off-scheme",
        looks_at: "the names of structures, positions, units, feeders and orders against the register's patterns",
        why: "It cannot be decoded, and a slip in it is not noticed; one of another kind stands in the wrong place.",
        fix: "Read the tag again and correct the id, or add its pattern to the numbering scheme.",
        source: "the register's numbering scheme",
        standing: RuleStanding::Read,
        run: Run::Record(off_scheme),
    },
    Detector {
        name: "placeholder-value",
        looks_at: "names, serials, models, roads and figures written to fill a box: N/A, ?, 0000, 9999, TBD",
        why: "It looks like a fact and is none; several records share it.",
        fix: "Write unknown, or go and read it.",
        source: "two open data files, where blanks were spelled in up to four ways",
        standing: RuleStanding::Read,
        run: Run::Record(placeholder),
    },
    Detector {
        name: "two-values",
        looks_at: "serials, pole classes, link marks and readings that hold two values: 250/100, 286(LED)",
        why: "Nobody can tell which of the two holds, and neither can be compared or figured with.",
        fix: "Look which one holds now, write that one, and put the other into a note or a former name.",
        source: "an open data file, where wattage cells held two values",
        standing: RuleStanding::Read,
        run: Run::Record(two_values),
    },
    Detector {
        name: "no-second-identifier",
        looks_at: "structures without a road and without what they stand near",
        why: "Nothing can be read back but the number itself, and nearly every wrong number is another valid one.",
        fix: "Write the road, or what it stands near, from the map or from the next visit.",
        source: "two open data files: 94 and 99.7 % of ids are one digit from another",
        standing: RuleStanding::Read,
        run: Run::Record(no_second),
    },
    Detector {
        name: "scheme-faulty",
        looks_at: "numbering schemes on record",
        why: "A scheme with a fault is left out: its ids are neither decoded nor checked.",
        fix: "Correct the scheme's document; the message says what is allowed.",
        source: MEANING,
        standing: RuleStanding::CommonPractice,
        run: Run::Record(scheme),
    },
    Detector {
        name: "conductor-unknown",
        looks_at: "conductors named on spans and not described in the register",
        why: "Its ampacity and impedance are unknown, so no load and no fault can be judged along it.",
        fix: "Correct the spelling, or describe the conductor.",
        source: MEANING,
        standing: RuleStanding::CommonPractice,
        run: Run::Record(conductor),
    },
];

fn found(h: &Held, detail: String) -> Found {
    Found {
        record: h.now.clone(),
        kind: h.kind,
        id: h.id,
        detail,
    }
}

fn twice(held: &[Held]) -> Vec<Found> {
    let present = |h: &&Held| h.rank == 0;
    let mut out = Vec::new();
    for kind in Kind::ALL {
        let of: Vec<&Held> = held
            .iter()
            .filter(present)
            .filter(|h| h.kind == *kind)
            .collect();
        if of.len() > 1 {
            let detail = format!("is the name of {} {kind} records", of.len());
            out.push(found(of[0], detail));
        }
    }
    out
}

fn reused(held: &[Held]) -> Vec<Found> {
    let mut out = Vec::new();
    for old in held.iter().filter(|h| h.rank == 2) {
        let now = held
            .iter()
            .find(|h| h.rank == 0 && h.rec != old.rec && h.kind == old.kind);
        if let Some(now) = now {
            let detail = format!("was called {}, which is now another {}", now.now, now.kind);
            out.push(found(old, detail));
        }
    }
    out
}

fn other_twice(held: &[Held]) -> Vec<Found> {
    let mut out = Vec::new();
    for (i, one) in held.iter().enumerate() {
        let shared = held[..i]
            .iter()
            .find(|o| o.kind == one.kind && o.rec != one.rec && o.rank.max(one.rank) == 1);
        let Some(other) = shared.filter(|_| !stands_for_nothing(&one.text)) else {
            continue;
        };
        let detail = format!("shares the name or serial {} with {}", one.text, other.now);
        out.push(found(one, detail));
    }
    out
}

fn scheme(record: &Record, _: &Given) -> Vec<String> {
    let Record::Scheme(doc) = record else {
        return Vec::new();
    };
    Scheme::from_body(&doc.scheme, &doc.body)
        .err()
        .map(|why| format!("is left out: {why}"))
        .into_iter()
        .collect()
}

/// The kind of name that a pattern writes, for a kind of record.
fn named_kind(kind: Kind) -> Option<code::Kind> {
    match kind {
        Kind::Structure => Some(code::Kind::Structure),
        Kind::Position => Some(code::Kind::Position),
        Kind::Unit => Some(code::Kind::Unit),
        Kind::Feeder => Some(code::Kind::Feeder),
        Kind::Order => Some(code::Kind::Order),
        _ => None,
    }
}

fn fits(schemes: &[Scheme], kind: code::Kind, id: &str) -> bool {
    schemes
        .iter()
        .flat_map(|s| &s.patterns)
        .filter(|p| p.names == kind)
        .any(|p| code::exact(p, id).is_some())
}

fn off_scheme(record: &Record, given: &Given) -> Vec<String> {
    let Some(kind) = named_kind(record.kind()) else {
        return Vec::new();
    };
    let patterns = || given.schemes.iter().flat_map(|s| &s.patterns);
    let id = record.name();
    if !patterns().any(|p| p.names == kind) || fits(&given.schemes, kind, &id) {
        return Vec::new();
    }
    let other = patterns()
        .filter(|p| p.names != kind)
        .find(|p| code::exact(p, &id).is_some());
    vec![match other {
        Some(p) => format!("reads as the id of a {}", p.names.word()),
        None => format!("fits no pattern that writes the id of a {}", kind.word()),
    }]
}

/// Words that fill a box. From memory of how forms are filled in, and from two
/// open data files.
const EMPTY_WORDS: &[&str] = &[
    "n/a", "na", "n.a.", "?", "??", "???", "tbd", "tba", "none", "null", "<null>", "unknown",
    "unk", "-", "--", "x", "xx", "xxx", "xxxx", "test",
];

/// Whether a text stands for nothing.
fn stands_for_nothing(text: &str) -> bool {
    let text = text.trim();
    let lower = text.to_lowercase();
    let same = |digit: char| text.len() >= 4 && text.chars().all(|c| c == digit);
    text.is_empty()
        || EMPTY_WORDS.contains(&lower.as_str())
        || same('0')
        || same('9')
        || (text.len() >= 5
            && text.starts_with(|c: char| c.is_ascii_digit())
            && text.chars().next().is_some_and(same))
}

fn placeholder(record: &Record, _: &Given) -> Vec<String> {
    let mut out = Vec::new();
    let mut text = |label: &str, t: Option<&str>| {
        if let Some(t) = t.filter(|t| stands_for_nothing(t)) {
            out.push(format!("has {label} {t:?}, which stands for none"));
        }
    };
    match record {
        Record::Structure(s) => {
            text("the number", Some(&s.structure));
            text("road", s.place.road.as_deref());
            text("near", s.place.near.as_deref());
            for n in &s.names {
                text("the further name", Some(&n.text));
            }
        }
        Record::Position(p) => text("the number", Some(&p.position)),
        Record::Unit(u) => {
            text("the number", Some(&u.unit));
            for (field, value) in u.nameplate.iter() {
                match &value.value {
                    Some(Plain::Text(t)) if free_text(field.key) => text(field.label, Some(t)),
                    Some(Plain::Number(n)) if nines(*n) => {
                        text(field.label, Some(&n.to_string()));
                    }
                    _ => {}
                }
            }
        }
        _ => {}
    }
    out
}

/// The record without what stands for nothing: a plate figure is unknown then,
/// a road or further name is gone. `None` when there is nothing to take away;
/// the name it is called by is left, since it must have one.
#[must_use]
pub fn emptied(record: &Record) -> Option<Record> {
    let mut value = record.to_value();
    match record {
        Record::Structure(s) => {
            for (key, text) in [("road", &s.place.road), ("near", &s.place.near)] {
                if text.as_deref().is_some_and(stands_for_nothing) {
                    put_at(&mut value, &format!("place.{key}"), Value::Null);
                }
            }
            let kept: Vec<Value> = s
                .names
                .iter()
                .filter(|n| !stands_for_nothing(&n.text))
                .filter_map(|n| serde_json::to_value(n).ok())
                .collect();
            if kept.len() < s.names.len() {
                let names = if kept.is_empty() {
                    Value::Null
                } else {
                    Value::Array(kept)
                };
                put_at(&mut value, "names", names);
            }
        }
        Record::Unit(u) => {
            for (field, stated) in u.nameplate.iter() {
                let nothing = match &stated.value {
                    Some(Plain::Text(t)) => free_text(field.key) && stands_for_nothing(t),
                    Some(Plain::Number(n)) => nines(*n),
                    None => false,
                };
                if nothing {
                    put_at(
                        &mut value,
                        &format!("nameplate.{}", field.key),
                        "unknown".into(),
                    );
                }
            }
        }
        _ => {}
    }
    let after = Record::from_value(record.kind(), value).ok()?;
    (after != *record).then_some(after)
}

/// Whether a text is two figures in one cell, or a figure with a remark.
fn is_two(text: &str) -> bool {
    let text = text.trim();
    let number = |t: &str| {
        let t = t.trim();
        let digits = t.trim_end_matches(|c: char| c.is_ascii_alphabetic());
        !digits.is_empty() && t.len() - digits.len() <= 2 && digits.parse::<f64>().is_ok()
    };
    let slashed = text
        .split_once('/')
        .is_some_and(|(a, b)| number(a) && number(b));
    let remarked = text
        .split_once('(')
        .is_some_and(|(a, b)| number(a) && b.ends_with(')'));
    slashed || remarked
}

fn two_values(record: &Record, _: &Given) -> Vec<String> {
    let mut out = Vec::new();
    let mut look = |label: &str, text: Option<&str>| {
        if let Some(text) = text.filter(|t| is_two(t)) {
            out.push(format!("holds two values as {label}: {text}"));
        }
    };
    match record {
        Record::Unit(u) => look("serial", u.nameplate.text("serial")),
        Record::Structure(s) => look(
            "pole class",
            s.pole.as_ref().and_then(|p| p.class.as_deref()),
        ),
        Record::Position(p) => {
            for link in p
                .elements
                .iter()
                .chain(&p.bypass)
                .filter_map(|e| e.link.as_ref())
            {
                if let Some(Plain::Text(mark)) = &link.value {
                    look("link", Some(mark));
                }
            }
        }
        Record::Entry(e) => {
            for (key, value) in &e.readings {
                if let Some(Plain::Text(text)) = &value.value {
                    look(&key.replace('_', " "), Some(text));
                }
            }
        }
        _ => {}
    }
    out
}

fn free_text(key: &str) -> bool {
    matches!(key, "serial" | "model")
}

/// 9999, 99999 and the like. No preferred rating of the field table is one.
fn nines(n: f64) -> bool {
    [9_999.0, 99_999.0, 999_999.0]
        .iter()
        .any(|v| (v - n).abs() < 0.5)
}

fn no_second(record: &Record, _: &Given) -> Vec<String> {
    match record {
        Record::Structure(s) if s.place.road.is_none() && s.place.near.is_none() => {
            vec!["has neither a road nor what it stands near".to_string()]
        }
        _ => Vec::new(),
    }
}

fn conductor(record: &Record, given: &Given) -> Vec<String> {
    let Record::Span(s) = record else {
        return Vec::new();
    };
    if given.conductors.is_empty() {
        return Vec::new();
    }
    let alike = |name: &str| given.conductors.iter().find(|c| near(c, name));
    [&s.span.conductor, &s.neutral]
        .into_iter()
        .flatten()
        .filter(|name| !given.conductors.contains(*name))
        .map(|name| match alike(name) {
            Some(other) => format!("names the conductor {name}, not on record; {other} is"),
            None => format!("names the conductor {name}, not on record"),
        })
        .collect()
}

/// Whether two names differ by one slip.
fn near(a: &str, b: &str) -> bool {
    code::mistake_between(&fold(a), &fold(b)).is_some()
}
