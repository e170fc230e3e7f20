//! What is asked and what has been found so far.

use std::cell::RefCell;
use std::collections::{HashMap, HashSet};
use std::rc::Rc;

use super::How;
use super::mixed::may_be_of_a_number;
use super::page::Place;
use crate::domain::code::{Scheme, fold};
use crate::store::{Hit, Store};
use crate::work::Failure;
use crate::work::also::also;
use crate::work::words::{description, words_of};

/// A query cut up in the ways the steps need.
pub(super) struct Query {
    /// As typed, spaces at the ends apart.
    pub text: String,
    pub folded: String,
    /// Parts between spaces.
    pub tokens: Vec<String>,
    /// Telling words, in order.
    pub words: Vec<String>,
}

impl Query {
    pub fn new(text: &str) -> Query {
        Query {
            text: text.trim().to_string(),
            folded: fold(text),
            tokens: text.split_whitespace().map(str::to_string).collect(),
            words: words_of(text),
        }
    }

    pub fn is_empty(&self) -> bool {
        self.folded.is_empty()
    }

    /// Whether the whole may be a number with a mistake in it.
    pub fn numbered(&self) -> bool {
        let n = self.folded.chars().count();
        let digits = self.folded.chars().any(|c| c.is_ascii_digit());
        let coded = self.tokens.iter().all(|part| may_be_of_a_number(part));
        (digits && coded && (3..=24).contains(&n))
            || (self.tokens.len() == 1 && (4..=12).contains(&n))
    }

    /// One part that holds a digit: a number, not words.
    pub fn is_number(&self) -> bool {
        self.tokens.len() == 1 && self.folded.chars().any(|c| c.is_ascii_digit())
    }
}

/// How much of the query an answer accounts for; the groups come one after
/// another.
#[derive(Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub(super) enum Group {
    /// A number that is clearly one, and every word beside it.
    Both,
    Plain,
    /// The number, but not all of the words.
    Lacking,
}

pub(super) struct Found {
    pub rec: i64,
    pub group: Group,
    pub how: How,
    pub because: Option<String>,
    pub place: Place,
}

/// A search under way.
pub(super) struct Search<'a> {
    pub store: &'a Store,
    pub schemes: &'a [Scheme],
    pub limit: usize,
    pub interrupted: bool,
    pub read_as: Option<String>,
    pub missing: Option<super::Missing>,
    /// Names of a kind that has had its share of the page.
    pub held: Vec<(Hit, How)>,
    pub taken: HashMap<&'static str, usize>,
    /// The query as a spoken id, if it can be one.
    pub spoken_text: Option<String>,
    pub stop: &'a dyn Fn() -> bool,
    pub found: Vec<Found>,
    pub seen: HashSet<i64>,
    /// Names that end with a text, from the step that asked first.
    pub endings: Option<(String, Vec<Hit>)>,
    /// First rows of each group of words that has been asked for.
    word_rows: RefCell<HashMap<Vec<String>, Rc<Vec<i64>>>>,
}

/// A group of words with fewer rows than this is rare: all its rows are at
/// hand.
const RARE: usize = 1_000;
/// Most rows that are held against common words by reading their records.
const VERIFIED: usize = 40;

impl<'a> Search<'a> {
    pub fn new(
        store: &'a Store,
        schemes: &'a [Scheme],
        limit: usize,
        stop: &'a dyn Fn() -> bool,
    ) -> Self {
        Search {
            store,
            schemes,
            limit,
            interrupted: false,
            read_as: None,
            missing: None,
            held: Vec::new(),
            taken: HashMap::new(),
            spoken_text: None,
            stop,
            found: Vec::new(),
            seen: HashSet::new(),
            endings: None,
            word_rows: RefCell::default(),
        }
    }

    /// How many more are of use: one beyond the limit tells that there are more.
    pub fn room(&self) -> usize {
        self.limit
            .saturating_add(1)
            .saturating_sub(self.found.len())
    }

    /// Whether to leave: the list is full or a key waits.
    pub fn done(&mut self) -> bool {
        self.interrupted |= (self.stop)();
        self.interrupted || self.room() == 0
    }

    pub fn count(&self) -> usize {
        self.found.len()
    }

    /// Takes an answer, unless the record is there already.
    pub fn take(&mut self, rec: i64, group: Group, how: How, because: Option<String>) {
        self.take_at(rec, group, how, because, Place::Usual);
    }

    /// [`Search::take`] at a place of its own among the answers.
    pub fn take_at(
        &mut self,
        rec: i64,
        group: Group,
        how: How,
        because: Option<String>,
        place: Place,
    ) {
        if self.seen.insert(rec) {
            self.found.push(Found {
                rec,
                group,
                how,
                because,
                place,
            });
        }
    }

    /// The first rows that have one of the words of a group.
    pub fn rows_of(&self, group: &[String]) -> Result<Rc<Vec<i64>>, Failure> {
        if let Some(rows) = self.word_rows.borrow().get(group) {
            return Ok(Rc::clone(rows));
        }
        let rows = Rc::new(self.store.with_words(&[group.to_vec()], RARE)?);
        let mut kept = self.word_rows.borrow_mut();
        kept.insert(group.to_vec(), Rc::clone(&rows));
        Ok(rows)
    }

    /// Rows that have a word of every group, from the rarest; the index is
    /// asked for all of them at once only when every word is common.
    pub fn all_words(&self, groups: &[Vec<String>], limit: usize) -> Result<Vec<i64>, Failure> {
        let mut rare: Option<Vec<i64>> = None;
        let mut common: Vec<&Vec<String>> = Vec::new();
        for group in groups {
            let rows = self.rows_of(group)?;
            if rows.len() == RARE {
                common.push(group);
                continue;
            }
            let mut both = rare.unwrap_or_else(|| rows.to_vec());
            both.retain(|rec| rows.binary_search(rec).is_ok());
            if both.is_empty() {
                return Ok(both);
            }
            rare = Some(both);
        }
        match rare {
            Some(mut rows) if common.is_empty() || rows.len() <= VERIFIED => {
                if !common.is_empty() {
                    rows = self.having(rows, &common)?;
                }
                rows.truncate(limit);
                Ok(rows)
            }
            _ if self.never_together(groups)? => Ok(Vec::new()),
            _ => Ok(self.store.with_words(groups, limit)?),
        }
    }

    /// Whether the rarest group and some other are on no record together, which
    /// two at a time takes far less than all at once; or a key waits.
    fn never_together(&self, groups: &[Vec<String>]) -> Result<bool, Failure> {
        if groups.len() < 3 {
            return Ok(false);
        }
        let mut by_rarity: Vec<(f64, &Vec<String>)> = Vec::with_capacity(groups.len());
        for group in groups {
            let rows = self.rows_of(group)?;
            let reach = rows.last().copied().unwrap_or(1).max(1);
            by_rarity.push((rows.len() as f64 / reach as f64, group));
        }
        by_rarity.sort_by(|a, b| a.0.total_cmp(&b.0));
        let (_, rarest) = by_rarity[0];
        for (_, other) in &by_rarity[1..] {
            if (self.stop)() {
                return Ok(true);
            }
            let both = [rarest.clone(), (*other).clone()];
            if self.store.with_words(&both, 1)?.is_empty() {
                return Ok(true);
            }
        }
        Ok(false)
    }

    /// Those of the rows whose records have a word of every group.
    fn having(&self, rows: Vec<i64>, groups: &[&Vec<String>]) -> Result<Vec<i64>, Failure> {
        let mut out = Vec::new();
        let records = self.store.by_rows(&rows)?;
        for (stored, also) in records.iter().zip(also(self.store, &records)?) {
            let has = description(&stored.record, &also);
            if groups.iter().all(|g| g.iter().any(|w| has.contains(w))) {
                out.push(stored.rec);
            }
        }
        Ok(out)
    }
}

/// What to say of a name that is not the present one.
pub(super) fn not_present(hit: &Hit) -> Option<String> {
    match hit.rank {
        0 => None,
        1 => Some(format!("other name {}", hit.text)),
        _ => Some(format!("old name {}, no longer in use", hit.text)),
    }
}
