//! Words of descriptions: every one must be there, in the record itself or
//! together with the structure it hangs on.

use std::collections::HashSet;

use super::How;
use super::gather::{Query, Search};
use crate::domain::asset::{Kind, Record, Rel};
use crate::work::Failure;
use crate::work::words::{forms, holds};

/// Most records that are looked through on one side of a join.
const LOOKED_THROUGH: usize = 2_000;
/// Most records that are read whole on the way.
const READ: usize = 300;

impl Search<'_> {
    /// Records whose descriptions hold every word, the last one perhaps not
    /// typed to its end.
    pub fn described(&mut self, query: &Query) -> Result<(), Failure> {
        if query.words.is_empty() || !worth_it(query) {
            return Ok(());
        }
        let groups = self.groups(&query.words, true)?;
        let before = self.count();
        for rec in self.store.with_words(&groups, None, self.room())? {
            self.take(rec, 0, How::Words, None);
        }
        if !self.done() && query.words.len() > 1 {
            self.joined(&query.words, &groups)?;
        }
        if self.count() == before && query.words.len() > 1 && !self.done() {
            self.every_word_open(&query.words)?;
        }
        Ok(())
    }

    /// Nothing so far: perhaps every word was cut short.
    fn every_word_open(&mut self, words: &[String]) -> Result<(), Failure> {
        let mut groups = Vec::with_capacity(words.len());
        for w in words {
            let mut group = forms(w);
            if w.chars().count() >= 3 {
                group.extend(self.store.words_beginning(w, 64)?);
            }
            groups.push(group);
        }
        for rec in self.store.with_words(&groups, None, self.room())? {
            self.take(rec, 0, How::Words, None);
        }
        Ok(())
    }

    /// Positions with some of the words of their own (or of their unit) on
    /// structures with the others: `recloser tannery road`.
    fn joined(&mut self, words: &[String], groups: &[Vec<String>]) -> Result<(), Failure> {
        let structure = vec![Kind::Structure.word().to_string()];
        let mut place: Vec<Vec<String>> = vec![structure];
        let mut device: Vec<(usize, Vec<String>)> = Vec::new();
        for (i, group) in groups.iter().enumerate() {
            let asked = [group.clone(), place[0].clone()];
            if self.store.with_words(&asked, None, 1)?.is_empty() {
                device.push((i, group.clone()));
            } else {
                place.push(group.clone());
            }
        }
        if device.is_empty() || place.len() == 1 {
            return Ok(());
        }
        let of_device: Vec<Vec<String>> = device.iter().map(|(_, g)| g.clone()).collect();
        let structures = self.store.with_words(&place, None, LOOKED_THROUGH)?;
        if structures.len() < LOOKED_THROUGH {
            let open = |i: usize| i + 1 == words.len();
            let asked: Vec<(&str, bool)> = device
                .iter()
                .map(|(i, _)| (words[*i].as_str(), open(*i)))
                .collect();
            self.on_structures(&structures, &asked)
        } else {
            self.of_devices(&of_device, &place)
        }
    }

    fn on_structures(&mut self, rows: &[i64], asked: &[(&str, bool)]) -> Result<(), Failure> {
        let mut read = 0;
        for (i, rec) in rows.iter().enumerate() {
            if read > READ || (i % 32 == 31 && self.done()) || self.room() == 0 {
                return Ok(());
            }
            let names = self.store.names_of(*rec)?;
            let present = names.into_iter().filter(|h| h.rank == 0).map(|h| h.text);
            let present: Vec<String> = present.collect();
            for (_, position) in self.store.pointers(Rel::HangsOn, &present)? {
                read += 1;
                self.take_position(position, asked)?;
            }
        }
        Ok(())
    }

    fn take_position(&mut self, rec: i64, asked: &[(&str, bool)]) -> Result<(), Failure> {
        let Some(stored) = self.store.by_row(rec)? else {
            return Ok(());
        };
        let mut has: HashSet<String> = words_in(&stored.record);
        let all = |has: &HashSet<String>| asked.iter().all(|(w, open)| holds(has, w, *open));
        if all(&has) {
            self.take(rec, 0, How::Words, None);
            return Ok(());
        }
        for (_, unit) in self
            .store
            .pointers(Rel::DeployedAt, &[stored.record.name()])?
        {
            if let Some(unit) = self.store.by_row(unit)? {
                has.extend(words_in(&unit.record));
                if all(&has) {
                    let because = format!("unit {}", unit.record.name());
                    self.take(rec, 0, How::Words, Some(because));
                    return Ok(());
                }
            }
        }
        Ok(())
    }

    fn of_devices(&mut self, device: &[Vec<String>], place: &[Vec<String>]) -> Result<(), Failure> {
        let mut asked = device.to_vec();
        asked.push(vec![Kind::Position.word().to_string()]);
        let rows = self.store.with_words(&asked, None, READ)?;
        for (i, rec) in rows.iter().enumerate() {
            if (i % 32 == 31 && self.done()) || self.room() == 0 {
                return Ok(());
            }
            let Some(stored) = self.store.by_row(*rec)? else {
                continue;
            };
            let Record::Position(p) = &stored.record else {
                continue;
            };
            let at: Vec<String> = p.structure.iter().cloned().collect();
            for (_, structure) in self.store.present(Kind::Structure, &at)? {
                let there = self.store.with_words(place, Some(structure.rec), 1)?;
                if !there.is_empty() {
                    self.take(*rec, 0, How::Words, None);
                }
            }
        }
        Ok(())
    }
}

fn words_in(record: &Record) -> HashSet<String> {
    crate::store::search_words(&record.search_words())
        .iter()
        .flat_map(|w| forms(w))
        .collect()
}

/// A number on its own is not looked for in descriptions, unless it is digits
/// only: then it may be of a house.
fn worth_it(query: &Query) -> bool {
    !query.is_number() || query.tokens[0].chars().all(|c| c.is_ascii_digit())
}
