//! Find: from half a mark, misheard or mistyped, to the records it may mean.
//!
//! The steps go from sure to unsure, and stop when the list is full or a key
//! waits: names as typed, look-alikes and spoken forms, a number with words
//! beside it, the beginning and the end of names, words, one mistake, alike.

mod alike;
mod defects;
mod gather;
mod mixed;
mod names;
mod near;
mod page;
mod pointed;
mod words;

use serde::Serialize;

use super::Failure;
use super::JSON_VERSION;
use super::schemes::schemes;
use crate::domain::asset::Kind;
use crate::domain::code::{Scheme, fold};
use crate::store::Store;
use gather::{Query, Search};

pub(super) use names::looks_like;
pub use near::{Near, concerned, difference, near};
pub use pointed::Missing;

/// Longest query that is searched for, in characters; what follows is cut.
const LONGEST: usize = 200;

/// In what way a record matched, in the order in which answers are given.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum How {
    /// The present name, as typed.
    Exact,
    /// The present name after folding case, separators, look-alikes and
    /// spoken forms.
    Folded,
    /// Another name in use, or one no longer in use.
    OtherName,
    OldName,
    /// The name begins or ends so, or holds it.
    Prefix,
    Suffix,
    Within,
    /// Every word is in the description.
    Words,
    /// One mistake away; the number typed does not exist.
    Neighbour,
    /// Alike in letters only.
    Alike,
}

/// The second identifier: what is read back. None of it repeats the number.
#[derive(Debug, Clone, PartialEq, Eq, Default, Serialize)]
pub struct Also {
    #[serde(skip_serializing_if = "Option::is_none")]
    pub class: Option<String>,
    #[serde(skip_serializing_if = "Option::is_none")]
    pub road: Option<String>,
    #[serde(skip_serializing_if = "Option::is_none")]
    pub near: Option<String>,
    #[serde(skip_serializing_if = "Option::is_none")]
    pub feeder: Option<String>,
    /// Where a unit is, or the structure a position hangs on.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub at: Option<String>,
}

/// One answer.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Match {
    /// Permanent id.
    pub id: String,
    /// Present name.
    pub name: String,
    pub kind: Kind,
    pub how: How,
    /// The name that matched, when it is not the present one; or the mistake
    /// assumed, in words.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub because: Option<String>,
    pub also: Also,
    /// Row in the register, for opening the card.
    #[serde(skip)]
    pub rec: i64,
}

/// How what a record lacks of the words typed ends, in [`Match::because`].
pub(crate) const LACKING: &str = " on record";

impl Match {
    /// Whether the record only resembles what was typed: enter never opens
    /// such a one at once, as it is another thing.
    #[must_use]
    pub const fn is_guess(&self) -> bool {
        matches!(self.how, How::Neighbour | How::Alike)
    }

    /// Whether the record lacks some of the words that were typed.
    #[must_use]
    pub fn lacks_words(&self) -> bool {
        self.because
            .as_deref()
            .is_some_and(|b| b.contains("not ") && b.ends_with(LACKING))
    }
}

/// The answers to one query, best first.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct FindReport {
    pub polecard: u32,
    pub query: String,
    pub matches: Vec<Match>,
    /// More match than are listed; the count is capped.
    pub more: bool,
    /// How the query was understood, when it was rewritten (spoken forms).
    #[serde(skip_serializing_if = "Option::is_none")]
    pub read_as: Option<String>,
    /// Nothing is called so, but records say that they are at it.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub missing: Option<Missing>,
    /// Kinds of which more match than are listed.
    #[serde(skip)]
    pub more_of: Vec<Kind>,
    /// A key was waiting: the steps that were left were not taken.
    #[serde(skip)]
    pub interrupted: bool,
}

impl FindReport {
    /// Whether some record has the number typed, by a present or other name.
    #[must_use]
    pub fn named(&self) -> bool {
        self.matches.iter().any(|m| m.how <= How::OldName)
    }

    /// Whether something has the number, a part of it or the words; guesses
    /// are not found.
    #[must_use]
    pub fn found(&self) -> bool {
        self.matches.iter().any(|m| m.how <= How::Words)
    }
}

/// What `query` may mean, at most `limit` answers. `interrupt` is asked
/// between the steps and inside the long ones.
///
/// # Errors
/// Those of the register.
pub fn find(
    store: &Store,
    query: &str,
    limit: usize,
    interrupt: &dyn Fn() -> bool,
) -> Result<FindReport, Failure> {
    find_with(store, &schemes(store)?, query, limit, interrupt)
}

/// [`find`] with the numbering schemes at hand, for a search at every key.
///
/// # Errors
/// Those of the register.
pub fn find_with(
    store: &Store,
    schemes: &[Scheme],
    query: &str,
    limit: usize,
    interrupt: &dyn Fn() -> bool,
) -> Result<FindReport, Failure> {
    let text: String = query.trim().chars().take(LONGEST).collect();
    let query = Query::new(&text);
    let _still = store.still()?;
    let mut search = Search::new(store, schemes, limit, interrupt);
    if !query.is_empty() {
        search.run(&query)?;
    }
    let interrupted = search.interrupted;
    let read_as = search.read_as.take();
    let missing = search.missing.take();
    let (matches, more, more_of) = search.matches()?;
    Ok(FindReport {
        polecard: JSON_VERSION,
        query: text,
        matches,
        more,
        read_as,
        missing,
        more_of,
        interrupted,
    })
}

/// The records in the register whose names are one mistake away from `name`,
/// likeliest first, with the mistake in words; also when `name` itself is in
/// the register.
///
/// # Errors
/// Those of the register.
pub fn neighbours_of(store: &Store, name: &str) -> Result<Vec<Match>, Failure> {
    let schemes = schemes(store)?;
    let mut search = Search::new(store, &schemes, usize::MAX, &|| false);
    search.neighbours(&fold(name))?;
    Ok(search.matches()?.0)
}

/// One step of a search.
type Step<'a> = fn(&mut Search<'a>, &Query) -> Result<(), Failure>;

impl<'a> Search<'a> {
    fn run(&mut self, query: &Query) -> Result<(), Failure> {
        let mut named = self.exact(&query.text, None)?;
        if !named {
            // Exchanging look-alikes is likely, not sure: neighbours follow.
            self.look_alikes(&query.folded)?;
            named = self.spoken(&query.text)?;
        }
        if !named && self.count() == 0 && self.pointed_at(query)? {
            return self.one_mistake_away(query);
        }
        let steps: [Step<'a>; 7] = [
            Search::last_fields,
            Search::mixed,
            Search::defective,
            Search::beginning,
            Search::ending,
            Search::described,
            Search::held_back,
        ];
        for step in steps {
            if self.done() {
                return Ok(());
            }
            step(self, query)?;
        }
        if !named && !self.done() {
            self.one_mistake_away(query)?;
        }
        if !named && !self.done() {
            self.alike(query)?;
        }
        Ok(())
    }

    fn one_mistake_away(&mut self, query: &Query) -> Result<(), Failure> {
        if query.numbered() {
            self.neighbours(&query.folded)?;
        }
        if let Some(spoken) = self.spoken_text.clone()
            && !self.done()
        {
            let before = self.count();
            self.neighbours(&fold(&spoken))?;
            if self.count() > before {
                self.read_as = Some(spoken);
            }
        }
        Ok(())
    }
}
