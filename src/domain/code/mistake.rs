//! The slips between an id and what was typed or heard, and what each weighs.

use super::scheme::Scheme;
use super::sounds::{heard_pair, look_alike, sound_alike};
use super::symbols::fold;

/// One slip of eye, ear or finger.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub enum MistakeKind {
    /// A character taken for one that looks alike.
    Confused,
    /// Two neighbours in the wrong order.
    Swapped,
    /// A character typed twice.
    Doubled,
    /// A character (or a teen and its ten) taken for one that sounds alike.
    Misheard,
    /// Another character.
    Wrong,
    /// A character left out.
    Missing,
    /// A character too many that repeats neither neighbour.
    Extra,
}

impl MistakeKind {
    /// What the slip weighs in ranking: the commoner, the less.
    pub fn cost(self) -> u32 {
        match self {
            MistakeKind::Confused => 10,
            MistakeKind::Swapped | MistakeKind::Doubled => 20,
            MistakeKind::Misheard => 24,
            MistakeKind::Wrong | MistakeKind::Missing => 40,
            MistakeKind::Extra => 44,
        }
    }

    /// The word for it.
    pub fn word(self) -> &'static str {
        match self {
            MistakeKind::Confused => "confused",
            MistakeKind::Swapped => "swapped",
            MistakeKind::Doubled => "doubled",
            MistakeKind::Misheard => "misheard",
            MistakeKind::Wrong => "wrong",
            MistakeKind::Missing => "missing",
            MistakeKind::Extra => "extra",
        }
    }
}

/// A slip and where it is: the index of the first character concerned in the
/// folded meant id (for an extra character: where it was put in).
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Mistake {
    pub kind: MistakeKind,
    pub at: usize,
}

/// What one character replaced by another is; `confuses` is the scheme's view.
pub(super) fn replaced(meant: char, got: char, confuses: bool) -> MistakeKind {
    if confuses {
        MistakeKind::Confused
    } else if sound_alike(meant, got) {
        MistakeKind::Misheard
    } else {
        MistakeKind::Wrong
    }
}

/// The one slip that turns `meant` into `got` (both folded first), by the
/// common look-alikes. `None` if they are the same or further apart.
pub fn mistake_between(meant: &str, got: &str) -> Option<Mistake> {
    between(meant, got, look_alike)
}

/// [`mistake_between`] with the look-alikes the scheme allows.
pub fn mistake_between_in(scheme: &Scheme, meant: &str, got: &str) -> Option<Mistake> {
    between(meant, got, |a, b| scheme.confuses(a, b))
}

fn between(meant: &str, got: &str, confuses: impl Fn(char, char) -> bool) -> Option<Mistake> {
    let meant: Vec<char> = fold(meant).chars().collect();
    let got: Vec<char> = fold(got).chars().collect();
    let at = meant.iter().zip(&got).take_while(|(a, b)| a == b).count();
    let kind = if meant.len() == got.len() {
        same_length(&meant[at..], &got[at..], confuses)?
    } else if meant.len() == got.len() + 1 {
        (meant[at + 1..] == got[at..]).then_some(MistakeKind::Missing)?
    } else if meant.len() + 1 == got.len() && meant[at..] == got[at + 1..] {
        // A run that grew: the first difference comes after the run.
        let repeats = at > 0 && got[at - 1] == got[at] || meant.get(at) == Some(&got[at]);
        if repeats {
            MistakeKind::Doubled
        } else {
            MistakeKind::Extra
        }
    } else {
        return None;
    };
    Some(Mistake { kind, at })
}

/// The slip between two tails of one length whose first characters differ.
fn same_length(
    meant: &[char],
    got: &[char],
    confuses: impl Fn(char, char) -> bool,
) -> Option<MistakeKind> {
    let (&a, &b) = (meant.first()?, got.first()?);
    if meant[1..] == got[1..] {
        return Some(replaced(a, b, confuses(a, b)));
    }
    let (&a2, &b2) = (meant.get(1)?, got.get(1)?);
    if meant[2..] != got[2..] {
        return None;
    }
    if a == b2 && a2 == b {
        return Some(MistakeKind::Swapped);
    }
    let pair: String = [a, a2].iter().collect();
    let heard: String = [b, b2].iter().collect();
    (heard_pair(&pair) == Some(heard.as_str())).then_some(MistakeKind::Misheard)
}

/// Every folded text one slip away from the fold of `text`, likeliest first,
/// for probing a register whose ids follow no scheme. About 74 keys a character.
pub fn fold_neighbours(text: &str) -> Vec<String> {
    const ALL: &str = "0123456789ABCDEFGHIJKLMNOPQRSTUVWXYZ";
    let chars: Vec<char> = fold(text).chars().collect();
    let own: String = chars.iter().collect();
    let mut out: Vec<(u32, String)> = Vec::new();
    let mut add = |kind: MistakeKind, parts: [&[char]; 3]| {
        let text: String = parts.concat().into_iter().collect();
        out.push((kind.cost(), text));
    };
    for i in 0..=chars.len() {
        let (head, tail) = chars.split_at(i);
        for c in ALL.chars() {
            add(MistakeKind::Missing, [head, &[c], tail]);
            if let Some((&got, rest)) = tail.split_first() {
                add(replaced(c, got, look_alike(c, got)), [head, &[c], rest]);
            }
        }
        if let [a, rest @ ..] = tail {
            let twice = rest.first() == Some(a) || head.last() == Some(a);
            let kind = if twice {
                MistakeKind::Doubled
            } else {
                MistakeKind::Extra
            };
            add(kind, [head, &[], rest]);
        }
        if let [a, b, rest @ ..] = tail {
            add(MistakeKind::Swapped, [head, &[*b, *a], rest]);
            let pair: String = [*a, *b].iter().collect();
            if let Some(heard) = heard_pair(&pair) {
                let heard: Vec<char> = heard.chars().collect();
                add(MistakeKind::Misheard, [head, &heard, rest]);
            }
        }
    }
    out.sort();
    let mut seen = std::collections::HashSet::new();
    out.into_iter()
        .map(|(_, text)| text)
        .filter(|text| *text != own && !text.is_empty() && seen.insert(text.clone()))
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn each_slip_is_told_from_the_others() {
        let cases = [
            ("40-118", "40-178", MistakeKind::Wrong, 3),
            ("40-118", "40-18", MistakeKind::Missing, 3),
            ("40-118", "400-118", MistakeKind::Doubled, 2),
            ("40-118", "40-3118", MistakeKind::Extra, 2),
            ("40-118", "40-181", MistakeKind::Swapped, 3),
            ("40-118", "4O-118", MistakeKind::Confused, 1),
            ("HB2-RC-14", "HD2-RC-14", MistakeKind::Misheard, 1),
            ("HB2-RC-14", "HB2-RC-40", MistakeKind::Misheard, 5),
            ("5", "9", MistakeKind::Misheard, 0),
        ];
        for (meant, got, kind, at) in cases {
            let found = mistake_between(meant, got);
            assert_eq!(found, Some(Mistake { kind, at }), "{meant} {got}");
        }
        assert_eq!(mistake_between("40-118", "40118"), None);
        assert_eq!(mistake_between("40-118", "41-119"), None);
        assert_eq!(mistake_between("40-118", ""), None);
    }

    #[test]
    fn raw_neighbours_hold_every_slip_and_not_the_text_itself() {
        let keys = fold_neighbours("T-551");
        for key in [
            "T651", "T5551", "T51", "T515", "TS51", "5T51", "T5510", "551",
        ] {
            assert!(keys.iter().any(|k| k == key), "{key}");
        }
        assert!(!keys.iter().any(|k| k == "T551"));
    }
}
