//! Words of descriptions: every one must be there. What hangs on a structure is
//! described by its place as well.

use super::How;
use super::gather::{Group, Query, Search};
use crate::work::Failure;
use crate::work::words::meanings;

impl Search<'_> {
    /// Records whose descriptions hold every word, the last one perhaps not
    /// typed to its end.
    pub fn described(&mut self, query: &Query) -> Result<(), Failure> {
        if query.words.is_empty() || !worth_it(query) {
            return Ok(());
        }
        let groups = self.groups(&query.words, true)?;
        let before = self.count();
        for rec in self.all_words(&groups, self.room())? {
            self.take(rec, Group::Plain, How::Words, None);
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
            let mut group = meanings(w, true);
            if w.chars().count() >= 3 {
                group.extend(self.store.words_beginning(w, 64)?);
            }
            groups.push(group);
        }
        for rec in self.all_words(&groups, self.room())? {
            self.take(rec, Group::Plain, How::Words, None);
        }
        Ok(())
    }
}

/// A number on its own is not looked for in descriptions, unless it is digits
/// only: then it may be of a house.
fn worth_it(query: &Query) -> bool {
    !query.is_number() || query.tokens[0].chars().all(|c| c.is_ascii_digit())
}
