//! A number with words beside it, `40-118 tannery`: records that have both
//! come first.

use super::How;
use super::LACKING;
use super::gather::{Group, Query, Search, not_present};
use super::names::how_named;
use super::near::{because, difference, likeliest, near};
use super::page::{Place, last_field};
use crate::domain::code::{fold, spoken_to_text};
use crate::store::Hit;
use crate::work::Failure;
use crate::work::also::also;
use crate::work::words::{description, forms, holds, meanings, words_of};

/// Most records that are looked through from the side of the words.
const LOOKED_THROUGH: usize = 1_000;
/// Most ways of cutting a query into a number and words that are tried.
const CUTS: usize = 8;
/// Longest query that is cut in every way, in parts.
const TOKENS: usize = 8;
/// Of how many of them the number may be mistaken.
const MISTAKEN: usize = 3;

/// A query cut into a number and words.
struct Cut {
    number: String,
    words: Vec<String>,
    /// The last word may still be being typed.
    open: bool,
}

impl Search<'_> {
    /// Records that have the number and every word; then the number alone,
    /// with what it lacks. The number of a neighbour that has every word comes
    /// before the number typed when that one lacks some: in a dense register
    /// most wrong numbers are somebody's.
    pub fn mixed(&mut self, query: &Query) -> Result<(), Failure> {
        let mut cuts = cuts(&spoken_joined(&query.tokens));
        if query.tokens.len() <= TOKENS {
            for cut in self::cuts(&query.tokens) {
                if !cuts.iter().any(|c| fold(&c.number) == fold(&cut.number)) {
                    cuts.push(cut);
                }
            }
        }
        cuts.sort_by_key(Cut::order);
        cuts.truncate(CUTS);
        for cut in &cuts {
            if self.exact_with_words(cut)? || self.done() {
                return Ok(());
            }
        }
        let mut budget = LOOKED_THROUGH;
        for cut in &cuts {
            self.parts_with_words(cut, &mut budget)?;
            if self.done() {
                return Ok(());
            }
        }
        let lacking = self.count() == 0;
        let numbers = cuts.iter().filter(|c| c.may_be_mistaken()).take(MISTAKEN);
        for (i, cut) in numbers.enumerate() {
            self.neighbours_with_words(cut, lacking && i == 0)?;
            if self.done() {
                return Ok(());
            }
        }
        Ok(())
    }

    /// True when a record has the number and all the words.
    fn exact_with_words(&mut self, cut: &Cut) -> Result<bool, Failure> {
        let hits = self.store.named(&cut.number)?;
        let fitting = self.fitting(&hits, cut)?;
        let both = fitting.iter().any(Option::is_none);
        for (h, lacking) in hits.iter().zip(fitting) {
            let mut why: Vec<String> = not_present(h).into_iter().collect();
            why.extend(lacking.as_ref().map(|l| said_lacking(l)));
            let because = (!why.is_empty()).then(|| why.join("; "));
            let group = cut.group(lacking.is_some());
            self.take(h.rec, group, how_named(h, &cut.number), because);
        }
        Ok(both)
    }

    /// From the side of the words: names that hold the number, or are one
    /// mistake away from it, among the records that have every word.
    fn parts_with_words(&mut self, cut: &Cut, budget: &mut usize) -> Result<(), Failure> {
        let groups = self.groups(&cut.words, cut.open)?;
        let rows = self.all_words(&groups, *budget)?;
        if rows.len() >= *budget {
            return Ok(()); // too common to choose by; the number chooses
        }
        *budget -= rows.len();
        let number = fold(&cut.number);
        let mut parts: Vec<(How, u32, Hit, Option<String>)> = Vec::new();
        for (i, rec) in rows.into_iter().enumerate() {
            if i % 64 == 63 && self.done() {
                break;
            }
            if !self.store.has_name(rec, |name| may_hold(name, &number))? {
                continue;
            }
            for hit in self.store.names_of(rec)? {
                let name = fold(&hit.text);
                if let Some((how, cost, words)) = self.part(&name, &number) {
                    parts.push((how, cost, hit, words));
                }
            }
        }
        parts.sort_by_key(|p| (p.0, p.1, p.2.rank));
        for (how, _, hit, words) in parts {
            let because = match (words, not_present(&hit)) {
                (Some(w), Some(n)) => Some(format!("{w}; {n}")),
                (w, n) => w.or(n),
            };
            let place = if how == How::Suffix && last_field(&hit.text) == number {
                Place::LastField
            } else {
                Place::Usual
            };
            self.take_at(hit.rec, cut.group(false), how, because, place);
        }
        Ok(())
    }

    fn part(&self, name: &str, number: &str) -> Option<(How, u32, Option<String>)> {
        if name.starts_with(number) {
            return Some((How::Prefix, 0, None));
        }
        if name.ends_with(number) {
            return Some((How::Suffix, 0, None));
        }
        if number.chars().count() >= 3 && name.contains(number) {
            return Some((How::Within, 0, None));
        }
        if number.chars().count() < 3 {
            return None;
        }
        let (mistake, odds) = likeliest(self.schemes, name, number)?;
        let words = difference(&mistake, name, number);
        Some((How::Neighbour, odds.cost, Some(words)))
    }

    /// From the side of the number: neighbours that have every word; with `all`
    /// the others too, and what they lack.
    fn neighbours_with_words(&mut self, cut: &Cut, all: bool) -> Result<(), Failure> {
        let found = near(self.store, self.schemes, &cut.number, self.stop)?;
        let hits: Vec<Hit> = found.iter().map(|n| n.hit.clone()).collect();
        let fitting = self.fitting(&hits, cut)?;
        for (n, lacking) in found.iter().zip(fitting) {
            if lacking.is_some() && !all {
                continue;
            }
            let said = lacking.as_ref().map(|l| said_lacking(l));
            let group = cut.group(said.is_some());
            let because = because(n, said.as_deref());
            self.take(n.hit.rec, group, How::Neighbour, Some(because));
        }
        Ok(())
    }

    /// For each hit the words that its description lacks; `None` when it has
    /// them all.
    fn fitting(&self, hits: &[Hit], cut: &Cut) -> Result<Vec<Option<Vec<String>>>, Failure> {
        let mut out = Vec::with_capacity(hits.len());
        for h in hits {
            let records = self.store.by_rows(&[h.rec])?;
            let alsos = also(self.store, &records)?;
            let Some((stored, also)) = records.first().zip(alsos.first()) else {
                out.push(Some(cut.words.clone()));
                continue;
            };
            let has = description(&stored.record, also);
            let last = cut.words.len() - 1;
            let lacking: Vec<String> = cut
                .words
                .iter()
                .enumerate()
                .filter(|(i, w)| !holds(&has, w, cut.open && *i == last))
                .map(|(_, w)| w.clone())
                .collect();
            out.push((!lacking.is_empty()).then_some(lacking));
        }
        Ok(out)
    }

    /// For each word the words of descriptions that stand for it.
    pub fn groups(&self, words: &[String], open: bool) -> Result<Vec<Vec<String>>, Failure> {
        let mut out = Vec::with_capacity(words.len());
        for (i, w) in words.iter().enumerate() {
            let last = open && i + 1 == words.len();
            let mut group = meanings(w, last);
            if last {
                group.extend(self.store.words_beginning(w, 64)?);
                group.sort();
                group.dedup();
            }
            out.push(group);
        }
        Ok(out)
    }
}

/// Whether a name can hold a number or be one mistake away from it: a mistake
/// alters one character or two neighbours, so what stands before and behind is
/// all the rest. Both are folded; never false where [`Search::part`] has an
/// answer.
fn may_hold(name: &str, number: &str) -> bool {
    let (a, b) = (name.as_bytes(), number.as_bytes());
    if !name.is_ascii() || !number.is_ascii() || name.contains(number) {
        return true;
    }
    let alike = |(x, y): &(&u8, &u8)| x == y;
    let before = a.iter().zip(b).take_while(alike).count();
    let behind = a.iter().rev().zip(b.iter().rev()).take_while(alike).count();
    a.len().abs_diff(b.len()) <= 1 && before + behind + 2 >= a.len().max(b.len())
}

fn said_lacking(words: &[String]) -> String {
    format!("not {}{LACKING}", words.join(", "))
}

impl Cut {
    /// Digits alone may as well be a house number: what has all the words as
    /// words is no worse then.
    fn group(&self, lacking: bool) -> Group {
        if lacking {
            Group::Lacking
        } else if self.number.chars().all(|c| c.is_ascii_digit()) {
            Group::Plain
        } else {
            Group::Both
        }
    }

    fn may_be_mistaken(&self) -> bool {
        (3..=20).contains(&fold(&self.number).chars().count())
    }

    /// Cuts that leave no digits among the words come first, then short ones.
    fn order(&self) -> (bool, usize) {
        let digit = |w: &String| w.chars().any(|c| c.is_ascii_digit());
        let parts = self.number.split_whitespace().count();
        (self.words.iter().any(digit), parts)
    }
}

/// Every way of taking some parts that stand together, at an end of the query
/// or alone, as the number and the rest as words, the likeliest first.
fn cuts(tokens: &[String]) -> Vec<Cut> {
    let n = tokens.len();
    let mut ranges: Vec<(usize, usize)> = Vec::new();
    for len in (1..n).rev() {
        ranges.extend([(0, len), (n - len, n)]);
        if len == 1 {
            ranges.extend((1..n.saturating_sub(1)).map(|i| (i, i + 1)));
        }
    }
    let mut out: Vec<Cut> = Vec::new();
    for (from, to) in ranges {
        let run = tokens[from..to].join(" ");
        let rest = [&tokens[..from], &tokens[to..]].concat().join(" ");
        let words = words_of(&rest);
        if words.is_empty() {
            continue;
        }
        if tokens[from..to].iter().all(|part| may_be_of_a_number(part))
            && run.chars().any(|c| c.is_ascii_digit())
            && fold(&run).chars().count() >= 2
        {
            out.push(Cut {
                number: run,
                words,
                open: to < n,
            });
        }
    }
    out
}

/// A part with a digit, or a code of a few letters that is no word of a road.
pub(super) fn may_be_of_a_number(part: &str) -> bool {
    part.chars().any(|c| c.is_ascii_digit())
        || (fold(part).chars().count() <= 3 && words_of(part).iter().all(|w| forms(w).len() == 1))
}

/// The parts with each run of spoken words written as the id that it says:
/// `four zero dash one one eight tannery` is `40-118 tannery`.
fn spoken_joined(tokens: &[String]) -> Vec<String> {
    let said: Vec<bool> = tokens
        .iter()
        .map(|t| t.chars().all(|c| c.is_ascii_digit()) || spoken_to_text(t).is_some())
        .collect();
    let mut out = Vec::new();
    let mut at = 0;
    while at < tokens.len() {
        let end = (at..tokens.len())
            .find(|i| !said[*i])
            .unwrap_or(tokens.len());
        if end > at + 1
            && let Some(id) = spoken_to_text(&tokens[at..end].join(" "))
        {
            out.push(id);
            at = end;
        } else {
            out.push(tokens[at].clone());
            at += 1;
        }
    }
    out
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::domain::code::fold_neighbours;

    #[test]
    fn what_is_one_mistake_away_or_holds_the_number_is_looked_at() {
        for number in ["40118", "HB2R14", "118", "A1", "7"] {
            for name in fold_neighbours(number) {
                assert!(may_hold(&name, number), "{name} for {number}");
                assert!(may_hold(number, &name), "{number} for {name}");
            }
            assert!(may_hold(&format!("K{number}X"), number));
        }
        assert!(!may_hold("40118", "52907"));
        assert!(!may_hold("4011800", "4019"));
    }
}
