//! One mistake away: which records the register has there, and the mistake in
//! words.

use std::collections::HashMap;

use super::How;
use super::gather::{Group, Search, not_present};
use crate::domain::code::{
    Mistake, MistakeKind, Odds, Scheme, Sort, check_penalty, fold, fold_neighbours,
    mistake_between, mistake_between_in, odds,
};
use crate::store::{Hit, Store};
use crate::work::Failure;

/// Longest folded text whose neighbours are looked for, in characters.
const LONGEST: usize = 24;

/// A name in the register that one mistake turns into the text asked for.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Near {
    pub hit: Hit,
    pub mistake: Mistake,
    /// How the name differs from the text, in words.
    pub words: String,
}

/// Names in the register one mistake away from `text`, likeliest first, one a
/// record; names equal to it after folding are left out.
///
/// # Errors
/// Those of the register.
pub fn near(
    store: &Store,
    schemes: &[Scheme],
    text: &str,
    stop: &dyn Fn() -> bool,
) -> Result<Vec<Near>, Failure> {
    let folded = fold(text);
    if folded.is_empty() || folded.chars().count() > LONGEST {
        return Ok(Vec::new());
    }
    let keys = fold_neighbours(&folded);
    let mut best: HashMap<i64, Weighed> = HashMap::new();
    for (i, hit) in store.holders(&keys, stop)? {
        let Some((mistake, mut odds)) = likeliest(schemes, &keys[i], &folded) else {
            continue;
        };
        odds.cost += check_penalty(schemes, &hit.text);
        let words = difference(&mistake, &keys[i], &folded);
        let near = Near {
            hit,
            mistake,
            words,
        };
        let found = Weighed { odds, near };
        match best.get(&found.near.hit.rec) {
            Some(known) if known.order() <= found.order() => {}
            _ => {
                best.insert(found.near.hit.rec, found);
            }
        }
    }
    Ok(in_order(best.into_values().collect()))
}

struct Weighed {
    odds: Odds,
    near: Near,
}

impl Weighed {
    fn order(&self) -> (u32, u8, Sort, usize, &str, i64) {
        let Odds {
            cost,
            sort,
            chances,
        } = self.odds;
        let hit = &self.near.hit;
        (cost, hit.rank, sort, chances, &hit.text, hit.rec)
    }
}

/// Likeliest first. Of equally likely slips of several sorts the best of each
/// sort comes before the second of any, so that none crowds out another.
fn in_order(mut found: Vec<Weighed>) -> Vec<Near> {
    found.sort_by(|a, b| a.order().cmp(&b.order()));
    let mut turns: HashMap<(u32, u8, Sort), usize> = HashMap::new();
    let mut placed: Vec<_> = found
        .into_iter()
        .map(|w| {
            let (cost, rank, sort, ..) = w.order();
            let turn = turns.entry((cost, rank, sort)).or_default();
            *turn += 1;
            ((cost, rank, *turn, sort), w.near)
        })
        .collect();
    placed.sort_by_key(|(order, _)| *order);
    placed.into_iter().map(|(_, near)| near).collect()
}

/// The likeliest mistake that turns `meant` into `got`, both folded, and its
/// odds: a pair that some scheme or the common tables take for alike counts as
/// such.
pub(super) fn likeliest(schemes: &[Scheme], meant: &str, got: &str) -> Option<(Mistake, Odds)> {
    schemes
        .iter()
        .filter_map(|s| mistake_between_in(s, meant, got))
        .chain(mistake_between(meant, got))
        .map(|m| (m, odds(&m, meant, got)))
        .min_by_key(|(_, odds)| *odds)
}

/// The characters that a mistake concerns: those of the name, and those that
/// were typed or heard in their place. Both texts are folded.
#[must_use]
pub fn concerned(mistake: &Mistake, name: &str, typed: &str) -> (String, String) {
    let name: Vec<char> = name.chars().collect();
    let typed: Vec<char> = typed.chars().collect();
    let at = mistake.at;
    let differing = if name.len() == typed.len() {
        let last = (at..name.len()).rev().find(|i| name[*i] != typed[*i]);
        last.map_or(1, |last| last - at + 1)
    } else {
        1
    };
    let part = |text: &[char]| text.iter().skip(at).take(differing).collect::<String>();
    (part(&name), part(&typed))
}

/// How `name` differs from `typed`, in words, both folded.
#[must_use]
pub fn difference(mistake: &Mistake, name: &str, typed: &str) -> String {
    let (here, there) = concerned(mistake, name, typed);
    match mistake.kind {
        MistakeKind::Confused => format!("{here} for {there} (look alike)"),
        MistakeKind::Misheard => format!("{here} for {there} (sound alike)"),
        MistakeKind::Swapped => format!("{here} for {there} (swapped)"),
        MistakeKind::Wrong => format!("{here} for {there}"),
        MistakeKind::Missing => format!("{here} more"),
        MistakeKind::Doubled => format!("{there} once less (doubled)"),
        MistakeKind::Extra => format!("{there} less"),
    }
}

/// How a name that only look-alikes tell from the text differs, in words.
pub(super) fn looks_between(name: &str, typed: &str) -> String {
    let mut pairs: Vec<String> = name
        .chars()
        .zip(typed.chars())
        .filter(|(a, b)| a != b)
        .map(|(a, b)| format!("{a} for {b}"))
        .collect();
    pairs.dedup();
    format!("{} (look alike)", pairs.join(", "))
}

impl Search<'_> {
    /// Takes the neighbours of a folded text.
    pub fn neighbours(&mut self, folded: &str) -> Result<(), Failure> {
        for n in near(self.store, self.schemes, folded, self.stop)? {
            let because = because(&n, None);
            self.take(n.hit.rec, Group::Plain, How::Neighbour, Some(because));
        }
        Ok(())
    }
}

/// The mistake, the name when it is not the present one, and what is lacking.
pub(super) fn because(near: &Near, lacking: Option<&str>) -> String {
    let mut out = near.words.clone();
    for more in not_present(&near.hit)
        .iter()
        .map(String::as_str)
        .chain(lacking)
    {
        out.push_str("; ");
        out.push_str(more);
    }
    out
}

#[cfg(test)]
mod tests {
    use super::*;

    fn words(name: &str, typed: &str) -> String {
        let mistake = mistake_between(name, typed).unwrap();
        difference(&mistake, &fold(name), &fold(typed))
    }

    #[test]
    fn a_mistake_is_said_in_words_from_the_name_to_what_was_typed() {
        assert_eq!(words("40-118", "40-178"), "1 for 7");
        assert_eq!(words("40-118", "40-181"), "18 for 81 (swapped)");
        assert_eq!(words("40-118", "4O-118"), "0 for O (look alike)");
        assert_eq!(words("HB2-RC-14", "HD2-RC-14"), "B for D (sound alike)");
        assert_eq!(words("HB2-RC-14", "HB2-RC-40"), "14 for 40 (sound alike)");
        assert_eq!(words("40-118", "40-18"), "1 more");
        assert_eq!(words("40-118", "400-118"), "0 once less (doubled)");
        assert_eq!(words("40-118", "40-3118"), "3 less");
    }
}
