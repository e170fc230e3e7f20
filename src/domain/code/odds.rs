//! How likely one slip is against another: by this the records that a text may
//! have been meant for are put in order.

use super::mistake::{Mistake, MistakeKind};
use super::parse::{cuts, exact, failed_check, written};
use super::scheme::{Element, Scheme};
use super::sounds::{
    SOUND_MUCH_ALIKE, heard_pair, sound_a_little_alike, sound_alike, sound_much_alike,
};
use super::symbols::fold;

/// Slips of one sort; among equally likely ones they come in this order.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Sort {
    /// Fifteen heard for fifty.
    TeenAndTen,
    /// A character heard for another.
    Heard,
    Swapped,
    Doubled,
    Other,
}

/// What a slip weighs; less is likelier.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub struct Odds {
    pub cost: u32,
    pub sort: Sort,
    /// Slips of this sort that the meant id could have suffered: the more
    /// there are, the less likely is each.
    pub chances: usize,
}

/// A character that is often heard for another weighs as much as two swapped.
const MUCH_ALIKE: u32 = 20;
/// A teen that stands where hardly anybody says one.
const STRAY_TEEN: u32 = 26;
/// One of a group that rhymes.
const ALIKE: u32 = 26;
/// Hardly likelier than any other wrong character.
const A_LITTLE_ALIKE: u32 = 36;
/// Added for a name in which the check character of its scheme does not hold:
/// what is written on a plate holds.
const CHECK_FAILS: u32 = 15;

/// The odds of a slip that turns `meant` into `got`, both folded.
#[must_use]
pub fn odds(mistake: &Mistake, meant: &str, got: &str) -> Odds {
    let meant: Vec<char> = meant.chars().collect();
    let got: Vec<char> = got.chars().collect();
    let plain = |sort, chances| Odds {
        cost: mistake.kind.cost(),
        sort,
        chances,
    };
    let pair = meant.get(mistake.at).zip(got.get(mistake.at));
    match (mistake.kind, pair) {
        (MistakeKind::Swapped, _) => plain(Sort::Swapped, swaps(&meant)),
        (MistakeKind::Doubled, _) => plain(Sort::Doubled, meant.len()),
        (MistakeKind::Misheard, Some((a, b))) => heard(&meant, &got, mistake.at, *a, *b),
        (MistakeKind::Wrong, Some((a, b))) if sound_a_little_alike(*a, *b) => Odds {
            cost: A_LITTLE_ALIKE,
            sort: Sort::Other,
            chances: 0,
        },
        _ => plain(Sort::Other, 0),
    }
}

fn heard(meant: &[char], got: &[char], at: usize, a: char, b: char) -> Odds {
    if !sound_alike(a, b) || meant[at + 1..] != got[at + 1..] {
        let spoken = said_as_a_teen(got, at);
        return Odds {
            cost: if spoken { MUCH_ALIKE } else { STRAY_TEEN },
            sort: Sort::TeenAndTen,
            chances: meant.windows(2).filter(|two| is_teen_or_ten(two)).count(),
        };
    }
    let much = sound_much_alike(a, b);
    let heard = meant.iter().filter(|c| alternatives(**c) > 0).count();
    Odds {
        cost: if much { MUCH_ALIKE } else { ALIKE },
        sort: Sort::Heard,
        chances: heard * alternatives(a).max(1),
    }
}

/// Long runs of digits are said in pairs from their end: `0416` has a sixteen,
/// `0163` has none.
fn said_as_a_teen(text: &[char], at: usize) -> bool {
    let run = text[at..].iter().take_while(|c| c.is_ascii_digit()).count();
    run % 2 == 0
}

fn is_teen_or_ten(two: &[char]) -> bool {
    let two: String = two.iter().collect();
    heard_pair(&two).is_some()
}

fn swaps(text: &[char]) -> usize {
    text.windows(2).filter(|two| two[0] != two[1]).count()
}

/// How many characters a character is often heard for.
fn alternatives(c: char) -> usize {
    let groups = SOUND_MUCH_ALIKE.iter().filter(|g| g.contains(c));
    let mut others: Vec<char> = groups.flat_map(|g| g.chars()).collect();
    others.sort_unstable();
    others.dedup();
    others.len().saturating_sub(1)
}

/// What is added to the odds of a name that one of the schemes writes so but
/// for its check character.
#[must_use]
pub fn check_penalty(schemes: &[Scheme], name: &str) -> u32 {
    let mut fails = false;
    for pattern in schemes.iter().flat_map(|s| &s.patterns) {
        if exact(pattern, name).is_some() {
            return 0;
        }
        let checked = |e: &Element| matches!(e, Element::Check { .. });
        if fails || !pattern.elements.iter().any(checked) {
            continue;
        }
        let folded = fold(name);
        fails = cuts(&pattern.variants(), &folded)
            .iter()
            .any(|cut| written(cut, &folded) == name && failed_check(cut, &folded).is_some());
    }
    if fails { CHECK_FAILS } else { 0 }
}

#[cfg(test)]
mod tests {
    use super::super::mistake::mistake_between;
    use super::*;

    fn cost(meant: &str, got: &str) -> u32 {
        let (meant, got) = (fold(meant), fold(got));
        odds(&mistake_between(&meant, &got).unwrap(), &meant, &got).cost
    }

    #[test]
    fn a_clear_slip_of_the_ear_weighs_as_much_as_one_of_the_finger() {
        let swapped = cost("40-118", "40-181");
        for (meant, got) in [
            ("HB2-RC-14", "HD2-RC-14"),
            ("40-159", "40-199"),
            ("40-115", "40-150"),
            ("MN1-0412", "NN1-0412"),
        ] {
            assert_eq!(cost(meant, got), swapped, "{meant} {got}");
        }
        assert!(cost("40-182", "40-18Q") > swapped);
        assert!(cost("40-411", "40-511") < cost("40-411", "40-811"));
        assert!(cost("4O-118", "40-118") < swapped);
    }

    #[test]
    fn a_teen_counts_where_one_would_be_said() {
        assert!(cost("LM4-0416", "LM4-0460") < cost("LM4-0163", "LM4-0603"));
    }
}
