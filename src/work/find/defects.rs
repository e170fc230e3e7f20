//! Defects in words, `oil low` or `leaking transformer kiln`: what has such a
//! defect open on record. Every other word must be in its description.

use super::How;
use super::gather::{Group, Query, Search};
use crate::domain::asset::{Defect, Entry, Kind, Record};
use crate::domain::finding::seen;
use crate::domain::nameplate::open_defects;
use crate::store::{Hit, Stored};
use crate::work::Failure;
use crate::work::also::also_of;
use crate::work::conclude::entries_of;
use crate::work::words::{description, holds, meanings};

/// Most findings that are looked through, the latest first.
const FINDINGS: usize = 200;
/// How many of them between two looks at what waits.
const AT_A_TIME: usize = 8;

/// Words of defects that name the part only; alone they tell no defect.
const PARTS: &[&str] = &[
    "oil",
    "test",
    "pole",
    "can",
    "ground",
    "animal",
    "control",
    "conductor",
    "connector",
    "arrester",
    "mark",
    "up",
];

/// What a query says of defects.
struct Told {
    defects: Vec<Defect>,
    /// The words that are not of the defects.
    rest: Vec<String>,
}

impl Search<'_> {
    pub fn defective(&mut self, query: &Query) -> Result<(), Failure> {
        let Some(told) = told(&query.words) else {
            return Ok(());
        };
        let found = self.store.finding(&told.defects, FINDINGS)?;
        for (i, rec) in found.into_iter().enumerate() {
            if i % AT_A_TIME == AT_A_TIME - 1 && self.done() {
                break;
            }
            let records = self.store.by_rows(&[rec])?;
            let Some(Record::Entry(entry)) = records.into_iter().next().map(|s| s.record) else {
                continue;
            };
            if let Some((hit, thing)) = self.thing(&entry)?
                && self.described_by(&thing, &told.rest)?
                && let Some(because) = self.open_one(&thing, &told.defects)?
            {
                self.take(hit.rec, Group::Plain, How::Words, Some(because));
            }
        }
        Ok(())
    }

    /// What an entry is about, unless it is among the answers already.
    fn thing(&self, entry: &Entry) -> Result<Option<(Hit, Stored)>, Failure> {
        let about = [Kind::Unit, Kind::Position, Kind::Structure];
        let hits = self.store.named(&entry.of)?;
        let Some(hit) = hits.into_iter().find(|h| about.contains(&h.kind)) else {
            return Ok(None);
        };
        if self.seen.contains(&hit.rec) {
            return Ok(None);
        }
        let thing = self.store.by_rows(&[hit.rec])?.into_iter().next();
        Ok(thing.map(|thing| (hit, thing)))
    }

    fn described_by(&self, thing: &Stored, words: &[String]) -> Result<bool, Failure> {
        if words.is_empty() {
            return Ok(true);
        }
        let has = description(&thing.record, &also_of(self.store, thing)?);
        Ok(words.iter().enumerate().all(|(i, w)| {
            let last = i + 1 == words.len();
            holds(&has, w, last)
        }))
    }

    /// The defect that is still open, in words.
    fn open_one(&self, thing: &Stored, defects: &[Defect]) -> Result<Option<String>, Failure> {
        let entries = entries_of(self.store, thing)?;
        let entries: Vec<(i64, &Entry)> = entries.iter().map(|(rec, e)| (*rec, e)).collect();
        let open = open_defects(&entries);
        let one = open.into_iter().find(|(d, _)| defects.contains(d));
        Ok(one.map(|(defect, sighted)| seen(defect, sighted)))
    }
}

/// The defects that account for the most of the words.
fn told(words: &[String]) -> Option<Told> {
    let mut best: Option<(usize, Told)> = None;
    for &defect in Defect::ALL {
        let of: Vec<&str> = defect.word().split(' ').collect();
        let (of_it, rest): (Vec<&String>, Vec<&String>) = words.iter().partition(|w| names(w, &of));
        let telling: Vec<&str> = of.iter().filter(|w| !PARTS.contains(w)).copied().collect();
        if !of_it.iter().any(|w| names(w, &telling)) {
            continue;
        }
        let count = of_it.len();
        match &mut best {
            Some((most, told)) if *most == count => told.defects.push(defect),
            Some((most, _)) if *most > count => {}
            _ => {
                let told = Told {
                    defects: vec![defect],
                    rest: rest.into_iter().cloned().collect(),
                };
                best = Some((count, told));
            }
        }
    }
    best.map(|(_, told)| told)
}

/// Whether a word names some part of a defect.
fn names(word: &str, of: &[&str]) -> bool {
    meanings(word, false)
        .iter()
        .any(|m| of.contains(&m.as_str()))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn told_of(text: &str) -> Option<(Vec<&'static str>, Vec<String>)> {
        let told = told(&crate::work::words::words_of(text))?;
        Some((told.defects.iter().map(|d| d.word()).collect(), told.rest))
    }

    #[test]
    fn defects_are_told_by_the_words_that_crews_use() {
        let alone = |d: &'static str| Some((vec![d], Vec::new()));
        assert_eq!(told_of("oil low"), alone("oil below mark"));
        assert_eq!(told_of("low oil"), alone("oil below mark"));
        assert_eq!(told_of("pole rotten"), alone("pole reject"));
        assert_eq!(told_of("bulged can"), alone("can bulged"));
        let (defects, rest) = told_of("leaking transformer kiln").unwrap();
        assert_eq!(defects, ["oil leak"]);
        assert_eq!(rest, ["transformer", "kiln"]);
    }

    #[test]
    fn the_name_of_a_part_tells_no_defect() {
        for text in [
            "oil",
            "pole",
            "arrester",
            "can",
            "lightning arrester",
            "kiln rd",
            "14",
        ] {
            assert_eq!(told_of(text), None, "{text}");
        }
    }
}
