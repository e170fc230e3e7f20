//! What may be wrong with the records themselves: detectors, each one value
//! that says what it looks at, why that matters and what to do.
//!
//! A detector looks at one record, at a position with what stands in it, at
//! the line of one feeder, at the holders of one name, at one reference or at
//! the history of one thing. A new one is one value in the file of its topic
//! and one row of that file's table; [`DETECTORS`] takes the tables together.

mod dates;
mod history;
mod line;
mod mended;
mod names;
mod notices;
pub mod odd;
pub mod pairs;
mod places;
mod ratings;
pub mod unread;

use std::collections::BTreeSet;

use super::asset::{Entry, Kind, Position, Record, RecordId, Rel, Unit};
use super::code::Scheme;
use super::finding::RuleStanding;
use super::form::Reading;
use super::network::Network;
use crate::calendar::Date;

pub use mended::mended_at;
pub use names::{Held, emptied};
pub use places::{Reference, wanted_kind};

/// What a detector has found.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord)]
pub struct Found {
    /// The record's present name.
    pub record: String,
    pub kind: Kind,
    pub id: RecordId,
    /// What is the matter with it: a clause that follows the name.
    pub detail: String,
}

impl Found {
    #[must_use]
    pub fn on(record: &Record, detail: impl Into<String>) -> Found {
        Found {
            record: record.name(),
            kind: record.kind(),
            id: record.id(),
            detail: detail.into(),
        }
    }

    fn at(position: &Position, detail: impl Into<String>) -> Found {
        Found {
            record: position.position.clone(),
            kind: Kind::Position,
            id: position.id,
            detail: detail.into(),
        }
    }

    fn of(unit: &Unit, detail: impl Into<String>) -> Found {
        Found {
            record: unit.unit.clone(),
            kind: Kind::Unit,
            id: unit.id,
            detail: detail.into(),
        }
    }
}

/// What detectors are given beside the record.
#[derive(Debug, Clone)]
pub struct Given {
    pub today: Date,
    /// The register's usable numbering schemes; empty when it has none.
    pub schemes: Vec<Scheme>,
    /// Names of the conductors on record.
    pub conductors: BTreeSet<String>,
    /// Feeders whose source grew, by the log of changes, and from when.
    pub enlarged: Vec<Enlarged>,
    /// What the forms ask, all of them together.
    pub readings: Vec<Reading>,
}

/// A source whose short-circuit power went up.
#[derive(Debug, Clone, PartialEq)]
pub struct Enlarged {
    pub source: String,
    pub feeders: BTreeSet<String>,
    pub since: Date,
}

/// How a detector is run.
pub enum Run {
    /// One record by itself: one clause for each thing that is wrong.
    Record(fn(&Record, &Given) -> Vec<String>),
    /// A position and the units recorded there now.
    Place(fn(&Position, &[Unit]) -> Vec<Found>),
    /// The line at home in one feeder.
    Line(fn(&Network) -> Vec<Found>),
    /// Everyone who has or had one name.
    Name(fn(&[Held]) -> Vec<Found>),
    /// A reference that leads to nothing of the kind it should lead to.
    Reference(fn(&Reference<'_>) -> Option<String>),
    /// The entries about one thing, in the order in which they were entered.
    History(fn(&[(i64, Entry)]) -> Vec<String>),
    /// The log of changes; walked where the register is read.
    Log,
}

/// One detector.
pub struct Detector {
    pub name: &'static str,
    pub looks_at: &'static str,
    /// Why it matters: a sentence.
    pub why: &'static str,
    /// What to do: a sentence.
    pub fix: &'static str,
    pub source: &'static str,
    pub standing: RuleStanding,
    pub run: Run,
}

/// Every detector, by topic; the log comes first.
pub static DETECTORS: &[&[Detector]] = &[
    LOG,
    names::DETECTORS,
    places::DETECTORS,
    line::DETECTORS,
    ratings::DETECTORS,
    pairs::DETECTORS,
    dates::DETECTORS,
    history::DETECTORS,
    notices::DETECTORS,
];

/// Every detector, one after the other.
pub fn detectors() -> impl Iterator<Item = &'static Detector> {
    DETECTORS.iter().copied().flatten()
}

/// The detector of a name.
#[must_use]
pub fn detector(name: &str) -> Option<&'static Detector> {
    detectors().find(|d| d.name == name)
}

/// Common practice without a source.
pub(super) const PRACTICE: &str = "common practice, no source";
/// Follows from what the words of the record mean.
pub(super) const MEANING: &str = "the meaning of the record";

/// A chain of digests broken, a head not found, a record that the log does not
/// account for.
pub const LOG_CHAIN: &str = "log-chain";
pub const LOG_HEAD: &str = "log-head";
pub const LOG_RECORD: &str = "log-record";
/// Rows by which a record is found that are not its own.
pub const LOG_INDEX: &str = "log-index";

static LOG: &[Detector] = &[
    Detector {
        name: LOG_CHAIN,
        looks_at: "the digest of every operation over the one before it",
        why: "The log was changed outside the program from there on, so what it says was known when proves nothing.",
        fix: "Copy the file aside, restore a backup, and compare the two.",
        source: "SHA-256 chain of the register",
        standing: RuleStanding::Read,
        run: Run::Log,
    },
    Detector {
        name: LOG_HEAD,
        looks_at: "the chain head that a backup or an export printed, among the digests of the log",
        why: "The tail of the log was cut off or the whole log written anew since that head was printed, or it is the head of another register.",
        fix: "Find the backup or export that the head was printed on and compare it with this register.",
        source: "SHA-256 chain of the register",
        standing: RuleStanding::Read,
        run: Run::Log,
    },
    Detector {
        name: LOG_RECORD,
        looks_at: "each record against what the log of changes makes of it",
        why: "The record was changed outside the program: nobody is named for it and no reason is given.",
        fix: "Look the record up in a backup, put it right with an edit, and find out who can write to the file.",
        source: "SHA-256 chain of the register",
        standing: RuleStanding::Read,
        run: Run::Log,
    },
    Detector {
        name: LOG_INDEX,
        looks_at: "the names and links by which each record is found, against the record",
        why: "A search by that name or place leads to the wrong record or to none; the file was changed outside the program.",
        fix: "Export the register, import it into a new one, which makes the index anew, and find out who can write to the file.",
        source: MEANING,
        standing: RuleStanding::CommonPractice,
        run: Run::Log,
    },
];

/// The detectors that look at one record by itself.
#[must_use]
pub fn of_record(record: &Record, given: &Given) -> Vec<(&'static Detector, Found)> {
    let mut out = Vec::new();
    for d in detectors() {
        if let Run::Record(run) = d.run {
            out.extend(
                run(record, given)
                    .into_iter()
                    .map(|detail| (d, Found::on(record, detail))),
            );
        }
    }
    out
}

/// The detectors that look at a position and what stands in it.
#[must_use]
pub fn of_place(position: &Position, units: &[Unit]) -> Vec<(&'static Detector, Found)> {
    run(|d| match d.run {
        Run::Place(run) => run(position, units),
        _ => Vec::new(),
    })
}

/// The detectors that look at the line of a feeder.
#[must_use]
pub fn of_line(line: &Network) -> Vec<(&'static Detector, Found)> {
    run(|d| match d.run {
        Run::Line(run) => run(line),
        _ => Vec::new(),
    })
}

/// The detectors that look at the holders of one name.
#[must_use]
pub fn of_name(held: &[Held]) -> Vec<(&'static Detector, Found)> {
    run(|d| match d.run {
        Run::Name(run) => run(held),
        _ => Vec::new(),
    })
}

/// The detectors that look at a reference which leads nowhere.
#[must_use]
pub fn of_reference(reference: &Reference<'_>) -> Vec<(&'static Detector, Found)> {
    run(|d| match d.run {
        Run::Reference(run) => run(reference)
            .into_iter()
            .map(|detail| Found::on(reference.from, detail))
            .collect(),
        _ => Vec::new(),
    })
}

/// The detectors that look at the entries about one thing; the findings are on
/// the last entry's subject, named `of`.
#[must_use]
pub fn of_history(entries: &[(i64, Entry)]) -> Vec<(&'static Detector, String)> {
    let mut out = Vec::new();
    for d in detectors() {
        if let Run::History(run) = d.run {
            out.extend(run(entries).into_iter().map(|detail| (d, detail)));
        }
    }
    out
}

fn run(each: impl Fn(&Detector) -> Vec<Found>) -> Vec<(&'static Detector, Found)> {
    detectors()
        .flat_map(|d| each(d).into_iter().map(move |f| (d, f)))
        .collect()
}

/// In what way a reference points, in words.
pub(super) fn rel_words(rel: Rel) -> &'static str {
    match rel {
        Rel::HangsOn => "hangs on",
        Rel::Toward => "faces",
        Rel::DeployedAt => "is recorded at",
        Rel::WasAt => "is recorded as once at",
        Rel::SpanFrom => "begins at",
        Rel::SpanTo => "ends at",
        Rel::About => "is about",
        Rel::SourceAt => "joins the line at",
        Rel::FedFrom => "is fed from",
        Rel::HeadAt => "leaves its source at",
        Rel::Ties => "ties",
        Rel::Carries => "carries",
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_detector_has_a_name_of_its_own_and_whole_sentences() {
        let mut names = BTreeSet::new();
        for d in detectors() {
            assert!(names.insert(d.name), "{} twice", d.name);
            for sentence in [d.why, d.fix] {
                assert!(sentence.ends_with('.'), "{}: {sentence}", d.name);
            }
            assert!(!d.looks_at.is_empty() && !d.source.is_empty());
            assert_eq!(detector(d.name).map(|f| f.name), Some(d.name));
        }
        assert!(names.len() > 25, "{}", names.len());
    }
}
