//! The last resort: words with a letter wrong, and names that hold the typed
//! letters in their order. Shown under a heading of its own.

use fuzzy_matcher::FuzzyMatcher;
use fuzzy_matcher::skim::SkimMatcherV2;

use super::How;
use super::gather::{Group, Query, Search};
use crate::domain::code::fold;
use crate::store::Hit;
use crate::work::Failure;
use crate::work::words::meanings;

/// Most candidates that the matcher is given.
const CANDIDATES: usize = 400;
/// Most answers of this sort.
const MOST: usize = 8;
/// Most words of one first letter that are compared.
const WORDS: usize = 4_000;

impl Search<'_> {
    pub fn alike(&mut self, query: &Query) -> Result<(), Failure> {
        if query.folded.chars().count() < 3 {
            return Ok(());
        }
        self.words_mended(&query.words)?;
        if self.done() {
            return Ok(());
        }
        self.letters_in_order(&query.folded)
    }

    /// All words, where one that no description has is taken for the nearest
    /// that some have.
    fn words_mended(&mut self, words: &[String]) -> Result<(), Failure> {
        let mut groups = Vec::with_capacity(words.len());
        let mut said = Vec::new();
        for w in words {
            let known = self.store.words_beginning(w, 64)?;
            let mended = if known.is_empty() {
                self.nearest_words(w)?
            } else {
                Vec::new()
            };
            if let Some(first) = mended.first() {
                said.push(format!("{first} for {w}"));
            }
            groups.push([meanings(w, false), known, mended].concat());
        }
        if said.is_empty() {
            return Ok(());
        }
        let because = said.join(", ");
        let room = self.room();
        for rec in self.all_words(&groups, room.min(MOST))? {
            self.take(rec, Group::Plain, How::Alike, Some(because.clone()));
        }
        Ok(())
    }

    fn nearest_words(&self, word: &str) -> Result<Vec<String>, Failure> {
        let n = word.chars().count();
        let digits = word.chars().any(|c| c.is_ascii_digit());
        let Some(first) = word.chars().next().filter(|_| n >= 4 && !digits) else {
            return Ok(Vec::new());
        };
        let most = if n >= 8 { 2 } else { 1 };
        let mut near: Vec<(usize, String)> = self
            .store
            .words_beginning(&first.to_string(), WORDS)?
            .into_iter()
            .map(|w| (strsim::osa_distance(&w, word), w))
            .filter(|(d, _)| *d <= most)
            .collect();
        near.sort();
        near.truncate(4);
        Ok(near.into_iter().map(|(_, w)| w).collect())
    }

    /// Names that hold every typed character in its order, the tightest first.
    fn letters_in_order(&mut self, folded: &str) -> Result<(), Failure> {
        let mut hits: Vec<Hit> = Vec::new();
        let head: String = folded.chars().take(2).collect();
        hits.extend(self.store.names_beginning(&head, CANDIDATES / 2)?);
        hits.extend(
            self.store
                .names_spelled(&trigrams(folded), CANDIDATES / 2)?,
        );
        let matcher = SkimMatcherV2::default();
        let mut scored: Vec<(i64, &Hit)> = hits
            .iter()
            .filter_map(|h| Some((matcher.fuzzy_match(&fold(&h.text), folded)?, h)))
            .collect();
        scored.sort_by(|a, b| b.0.cmp(&a.0).then_with(|| a.1.text.cmp(&b.1.text)));
        for (_, h) in scored.into_iter().take(MOST) {
            let because = super::gather::not_present(h);
            self.take(h.rec, Group::Plain, How::Alike, because);
        }
        Ok(())
    }
}

fn trigrams(text: &str) -> Vec<String> {
    let chars: Vec<char> = text.chars().collect();
    let mut out: Vec<String> = chars.windows(3).map(|w| w.iter().collect()).collect();
    out.dedup();
    out.truncate(16);
    out
}
