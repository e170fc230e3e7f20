//! Read-back: what was heard back, held against the record that is meant.
//!
//! A number alone is no proof in a dense register, so what is heard may be the
//! number, the second identifier (road and landmark), or both; what does not
//! fit is named, and so is the record that it would be.

use serde::Serialize;

use super::also::{also, also_of, matched};
use super::find::{Also, How, Match, concerned, looks_like, near};
use super::schemes::schemes;
use super::words::{description, holds, meanings, words_of};
use super::{Failure, JSON_VERSION};
use crate::domain::asset::Kind;
use crate::domain::code::{
    MistakeKind, Scheme, fits, fold, mistake_between, say, spoken_to_text, spoken_ways,
};
use crate::store::{Store, Stored};

/// Most other records that are named.
const OTHERS: usize = 6;

/// Most parts that are tried joined into an id.
const JOINED: usize = 8;

/// What comes out.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Verdict {
    /// What was heard is this record and no other.
    Match,
    /// It fits this record, and others as well: ask for more.
    Unclear,
    /// It does not fit this record.
    Mismatch,
}

/// One way in which what was heard differs.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct Difference {
    /// In words: `character 4: 1 was heard as 7`.
    pub words: String,
    /// The kind of mistake, when it is one: `swapped`, `misheard` …
    #[serde(skip_serializing_if = "Option::is_none")]
    pub mistake: Option<String>,
}

/// What was expected, what was heard, and how they compare.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct ReadBack {
    pub polecard: u32,
    pub verdict: Verdict,
    /// The record that is meant.
    pub id: String,
    pub name: String,
    pub kind: Kind,
    pub also: Also,
    /// The name as it is said over the radio.
    pub say: String,
    pub heard: String,
    /// The number heard, when spoken words were read as one.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub read_as: Option<String>,
    /// Whether a number was heard at all, and words of the second identifier.
    pub number_heard: bool,
    pub words_heard: bool,
    pub differences: Vec<Difference>,
    /// Other records that what was heard is, or is one mistake away from.
    pub others: Vec<Match>,
}

/// What was heard, cut into a number and words beside it.
struct Heard {
    /// Ways of taking the number, likeliest first; empty when none was heard.
    numbers: Vec<String>,
    spoken: bool,
    words: Vec<String>,
}

/// Holds `heard` against a record.
///
/// # Errors
/// A usage failure when nothing was heard, or the register's.
pub fn read_back(store: &Store, meant: &Stored, heard: &str) -> Result<ReadBack, Failure> {
    if fold(heard).is_empty() {
        return Err(Failure::usage("nothing was heard: type what was read back")
            .hint("the number, or the road and landmark, or both"));
    }
    let schemes = schemes(store)?;
    let also = also_of(store, meant)?;
    let name = meant.record.name();
    let about = About {
        store,
        schemes: &schemes,
        meant,
        also: &also,
        name: &name,
    };
    let parts = about.cut(heard)?;
    let mut out = ReadBack {
        polecard: JSON_VERSION,
        verdict: Verdict::Match,
        id: meant.record.id().to_string(),
        kind: meant.record.kind(),
        say: say(&name),
        heard: heard.trim().to_string(),
        read_as: (parts.spoken)
            .then(|| parts.numbers.first().cloned())
            .flatten(),
        number_heard: !parts.numbers.is_empty(),
        words_heard: !parts.words.is_empty(),
        differences: Vec::new(),
        others: Vec::new(),
        name: name.clone(),
        also: also.clone(),
    };
    about.judge_words(&parts, &mut out);
    about.judge_number(&parts, &mut out)?;
    about.judge_words_alone(&parts, &mut out)?;
    Ok(out)
}

struct About<'a> {
    store: &'a Store,
    schemes: &'a [Scheme],
    meant: &'a Stored,
    also: &'a Also,
    name: &'a str,
}

impl About<'_> {
    /// Cuts what was heard. Words of the record's own description are words;
    /// what is left with a digit in it, or is spoken as one, is the number.
    fn cut(&self, heard: &str) -> Result<Heard, Failure> {
        let tokens: Vec<&str> = heard
            .split(|c: char| c.is_whitespace() || c == ',')
            .filter(|t| !fold(t).is_empty())
            .collect();
        if self.is_number(heard)? {
            return Ok(Self::heard(heard, ""));
        }
        if let Some((from, to)) = self.joined(&tokens) {
            let words = [&tokens[..from], &tokens[to..]].concat().join(" ");
            return Ok(Self::heard(&tokens[from..to].join("-"), &words));
        }
        let codes: Vec<bool> = tokens.iter().map(|t| looks_like_code(t)).collect();
        // The number is the longest run of codes.
        let (mut from, mut to) = (0, 0);
        let mut at = 0;
        while at < tokens.len() {
            let end = (at..tokens.len())
                .find(|i| !codes[*i])
                .unwrap_or(tokens.len());
            if end - at > to - from {
                (from, to) = (at, end);
            }
            at = end + 1;
        }
        let number = tokens[from..to].join(" ");
        let words = [&tokens[..from], &tokens[to..]].concat().join(" ");
        let has = description(&self.meant.record, self.also);
        let own = words_of(&number);
        let all_own = !own.is_empty() && own.iter().all(|w| holds(&has, w, false));
        if all_own && fold(&number) != fold(self.name) {
            // Every part of it stands in the road or landmark: a house number.
            return Ok(Self::heard("", heard));
        }
        Ok(Self::heard(&number, &words))
    }

    /// The parts that joined are an id: the number of the record before what
    /// differs from it in one place, before another number of the scheme.
    fn joined(&self, tokens: &[&str]) -> Option<(usize, usize)> {
        let n = tokens.len().min(JOINED);
        let mut ranges: Vec<(usize, usize)> = Vec::new();
        for len in (2..=n).rev() {
            ranges.extend((0..=n - len).map(|from| (from, from + len)));
        }
        let text = |r: &(usize, usize)| tokens[r.0..r.1].join("-").to_uppercase();
        let digit = |t: &str| t.chars().any(|c| c.is_ascii_digit());
        let tests: [&dyn Fn(&str) -> bool; 3] = [
            &|t| fold(t) == fold(self.name),
            &|t| fold(t).chars().count() > 3 && mistake_between(self.name, t).is_some(),
            &|t| fits(self.schemes, t).is_some() || (digit(t) && whole_fields(self.name, t)),
        ];
        // One part that is the number needs nothing joined to it.
        if tokens.iter().any(|t| fold(t) == fold(self.name)) {
            return None;
        }
        tests
            .iter()
            .find_map(|test| ranges.iter().find(|r| test(&text(r))))
            .copied()
    }

    fn is_number(&self, text: &str) -> Result<bool, Failure> {
        Ok(fold(text) == fold(self.name)
            || spoken_ways(text).iter().any(|w| fold(w) == fold(self.name))
            || !self.store.named(text)?.is_empty())
    }

    fn heard(number: &str, words: &str) -> Heard {
        let ways = spoken_ways(number);
        let spoken = !ways.is_empty();
        let mut numbers: Vec<String> = Vec::new();
        let typed = (!spoken && !fold(number).is_empty()).then(|| number.to_string());
        for n in ways.into_iter().chain(typed) {
            if !numbers.iter().any(|k| fold(k) == fold(&n)) {
                numbers.push(n);
            }
        }
        Heard {
            numbers,
            spoken,
            words: words_of(words),
        }
    }

    fn judge_words(&self, heard: &Heard, out: &mut ReadBack) {
        let has = description(&self.meant.record, self.also);
        for w in heard.words.iter().filter(|w| !holds(&has, w, false)) {
            out.verdict = Verdict::Mismatch;
            out.differences.push(Difference {
                words: format!("{w:?} is not on the record of {}", self.name),
                mistake: None,
            });
        }
    }

    fn judge_number(&self, heard: &Heard, out: &mut ReadBack) -> Result<(), Failure> {
        let Some(first) = heard.numbers.first() else {
            return Ok(());
        };
        let mine = |n: &String| fold(n) == fold(self.name);
        let others = self.named_so(&heard.numbers)?;
        if let Some(fits) = heard.numbers.iter().find(|n| mine(n)) {
            if heard.spoken {
                out.read_as = Some(fits.clone());
            }
            // Another way of hearing the same words is another record, or
            // another record has this very number.
            if !others.is_empty() && out.verdict == Verdict::Match && heard.words.is_empty() {
                out.verdict = Verdict::Unclear;
            }
            out.others = others;
            return Ok(());
        }
        if others.is_empty() && looks_like(self.schemes, self.name, first) {
            return Ok(());
        }
        if others.is_empty() && self.other_name(&heard.numbers, out)? {
            return Ok(());
        }
        let part = heard.numbers.iter().find(|n| whole_fields(self.name, n));
        if let Some(part) = part.filter(|_| others.is_empty() && out.verdict == Verdict::Match) {
            out.verdict = Verdict::Unclear;
            out.differences.push(Difference {
                words: format!("{part} is part of it; the rest was not read back"),
                mistake: None,
            });
            return Ok(());
        }
        out.verdict = Verdict::Mismatch;
        let way = self.nearest_way(&heard.numbers);
        out.differences.insert(0, number_difference(self.name, way));
        out.others = others;
        if out.others.is_empty() {
            out.others = self.near(way)?;
        }
        Ok(())
    }

    /// Whether a number heard is another name of the record: in use it fits,
    /// no longer in use it does not, and is said so.
    fn other_name(&self, numbers: &[String], out: &mut ReadBack) -> Result<bool, Failure> {
        for hit in self.store.names_of(self.meant.rec)? {
            if !numbers.iter().any(|n| fold(n) == fold(&hit.text)) {
                continue;
            }
            if hit.rank > 1 {
                out.verdict = Verdict::Mismatch;
                out.differences.push(Difference {
                    words: format!("{} is a name of it that is no longer in use", hit.text),
                    mistake: None,
                });
            }
            return Ok(true);
        }
        Ok(false)
    }

    fn nearest_way<'n>(&self, numbers: &'n [String]) -> &'n str {
        numbers
            .iter()
            .find(|n| mistake_between(self.name, n).is_some())
            .or(numbers.first())
            .map_or("", String::as_str)
    }

    /// Other records whose names the numbers are.
    fn named_so(&self, numbers: &[String]) -> Result<Vec<Match>, Failure> {
        let mut rows: Vec<(i64, How, Option<String>)> = Vec::new();
        for n in numbers {
            for h in self.store.named(n)? {
                let (how, why) = match h.rank {
                    0 => (How::Exact, None),
                    1 => (How::OtherName, Some(format!("other name {}", h.text))),
                    _ => (How::OldName, Some(format!("old name {}", h.text))),
                };
                if h.rec != self.meant.rec && !rows.iter().any(|(r, ..)| *r == h.rec) {
                    rows.push((h.rec, how, why));
                }
            }
        }
        rows.sort_by_key(|(_, how, _)| *how);
        self.matches(rows)
    }

    fn near(&self, number: &str) -> Result<Vec<Match>, Failure> {
        let rows = near(self.store, self.schemes, number, &|| false)?
            .into_iter()
            .filter(|n| n.hit.rec != self.meant.rec)
            .map(|n| (n.hit.rec, How::Neighbour, Some(n.words)))
            .collect();
        self.matches(rows)
    }

    fn matches(&self, mut rows: Vec<(i64, How, Option<String>)>) -> Result<Vec<Match>, Failure> {
        rows.truncate(OTHERS);
        let recs: Vec<i64> = rows.iter().map(|(r, ..)| *r).collect();
        let records = self.store.by_rows(&recs)?;
        let alsos = also(self.store, &records)?;
        Ok(records
            .iter()
            .zip(alsos)
            .filter_map(|(s, also)| {
                let (_, how, why) = rows.iter().find(|(r, ..)| *r == s.rec)?;
                Some(matched(s, also, *how, why.clone()))
            })
            .collect())
    }

    /// Words without a number name a place: does only this one fit? A record
    /// on the same structure is at the same place.
    fn judge_words_alone(&self, heard: &Heard, out: &mut ReadBack) -> Result<(), Failure> {
        if !heard.numbers.is_empty() || heard.words.is_empty() {
            return Ok(());
        }
        let structure = vec![Kind::Structure.word().to_string()];
        let mut groups: Vec<Vec<String>> = heard.words.iter().map(|w| meanings(w, false)).collect();
        groups.retain(|g| !g.iter().any(|w| self.of_the_device(w)));
        groups.push(structure);
        let mut rows = self.store.with_words(&groups, OTHERS + 2)?;
        let here = self.structure_row()?;
        rows.retain(|r| *r != self.meant.rec && Some(*r) != here);
        if !rows.is_empty() && out.verdict == Verdict::Match {
            out.verdict = Verdict::Unclear;
        }
        out.others = self.matches(rows.into_iter().map(|r| (r, How::Words, None)).collect())?;
        Ok(())
    }

    /// Whether a word is of the device itself, so that no structure has it.
    fn of_the_device(&self, word: &str) -> bool {
        self.meant.record.kind() != Kind::Structure
            && crate::store::search_words(&self.meant.record.search_words())
                .iter()
                .any(|w| w == word)
    }

    fn structure_row(&self) -> Result<Option<i64>, Failure> {
        let names: Vec<String> = self.also.at.iter().cloned().collect();
        Ok(self
            .store
            .present(Kind::Structure, &names)?
            .pop()
            .map(|(_, s)| s.rec))
    }
}

/// Whether a text is some, but not all, whole fields of a name that stand
/// together; one field alone is too little to be of this number.
fn whole_fields(name: &str, text: &str) -> bool {
    let fields: Vec<String> = name
        .split(|c: char| !c.is_ascii_alphanumeric())
        .map(fold)
        .filter(|f| !f.is_empty())
        .collect();
    (2..fields.len()).any(|n| fields.windows(n).any(|w| w.concat() == fold(text)))
}

/// A part that is a code or a spoken character, not a word of a place.
fn looks_like_code(token: &str) -> bool {
    token.chars().any(|c| c.is_ascii_digit())
        || spoken_to_text(token).is_some()
        || (fold(token).chars().count() == 1)
        || ["HUNDRED", "THOUSAND"].contains(&fold(token).as_str())
}

fn number_difference(name: &str, heard: &str) -> Difference {
    let (expected, got) = (fold(name), fold(heard));
    let Some(mistake) = mistake_between(name, heard) else {
        return Difference {
            words: format!("{heard} is more than one mistake away from {name}"),
            mistake: None,
        };
    };
    let (here, there) = concerned(&mistake, &expected, &got);
    let what = match mistake.kind {
        MistakeKind::Confused => format!("{here} was read back as {there} (look alike)"),
        MistakeKind::Misheard => format!("{here} was heard as {there} (sound alike)"),
        MistakeKind::Swapped => format!("{here} was heard as {there} (swapped)"),
        MistakeKind::Wrong => format!("{here} was heard as {there}"),
        MistakeKind::Missing => format!("{here} was not heard"),
        MistakeKind::Doubled => format!("{there} was heard once more"),
        MistakeKind::Extra => format!("{there} was heard besides"),
    };
    Difference {
        words: format!("letter or digit {}: {what}", mistake.at + 1),
        mistake: Some(mistake.kind.word().to_string()),
    }
}
