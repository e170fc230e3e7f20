//! Words of the trade that mean what a register calls something else: what a
//! crew says for a device, a structure or a defect.
//!
//! Common practice, no source.

/// What is said, and the words of descriptions that it may stand for. A word
/// that means itself as well needs no mention.
pub const SAID_FOR: &[(&str, &[&str])] = &[
    // Devices.
    ("fuse", &["cutout"]),
    ("fuses", &["cutout"]),
    ("fused", &["cutout"]),
    ("dropout", &["cutout"]),
    ("switchblade", &["cutout", "switch"]),
    ("ocr", &["recloser"]),
    ("acr", &["recloser"]),
    ("vcr", &["recloser"]),
    ("reclosure", &["recloser"]),
    ("sectionaliser", &["sectionalizer"]),
    ("can", &["transformer", "capacitor"]),
    ("cans", &["transformer", "capacitor"]),
    ("pot", &["transformer"]),
    ("pots", &["transformer"]),
    ("tub", &["transformer"]),
    ("tx", &["transformer"]),
    ("xfmr", &["transformer"]),
    ("xfrm", &["transformer"]),
    ("trafo", &["transformer"]),
    ("bank", &["capacitor", "transformer", "regulator"]),
    ("caps", &["capacitor"]),
    ("condenser", &["capacitor"]),
    ("booster", &["regulator"]),
    ("regs", &["regulator"]),
    ("avr", &["regulator"]),
    ("lightning", &["arrester"]),
    ("surge", &["arrester"]),
    ("arrestor", &["arrester"]),
    ("arresters", &["arrester"]),
    ("arrestors", &["arrester"]),
    ("gang", &["switch"]),
    ("airbreak", &["switch"]),
    ("disconnect", &["switch", "cutout"]),
    ("disconnector", &["switch", "cutout"]),
    ("isolator", &["switch"]),
    ("gab", &["switch"]),
    ("goab", &["switch"]),
    ("ocb", &["breaker"]),
    ("vcb", &["breaker"]),
    ("generator", &["generation"]),
    ("genset", &["generation"]),
    ("pv", &["generation", "solar"]),
    ("tied", &["tie"]),
    // Structures.
    ("padmount", &["pad"]),
    ("manhole", &["vault"]),
    ("handhole", &["vault"]),
    ("pillar", &["pad"]),
    // Defects and states.
    ("low", &["below"]),
    ("leaking", &["leak"]),
    ("leaks", &["leak"]),
    ("leaky", &["leak"]),
    ("weeping", &["leak"]),
    ("cracked", &["cracked", "damaged"]),
    ("broken", &["cracked", "damaged"]),
    ("chipped", &["damaged"]),
    ("bulging", &["bulged"]),
    ("swollen", &["bulged"]),
    ("hotspot", &["hot"]),
    ("rejected", &["reject"]),
    ("condemned", &["reject"]),
    ("rotten", &["reject"]),
    ("rot", &["reject"]),
    ("faulty", &["faulty", "failed"]),
    ("blown", &["failed"]),
    ("bad", &["failed", "faulty", "reject"]),
    ("grounding", &["ground"]),
    ("earth", &["ground"]),
    ("bond", &["bond", "ground"]),
    ("squirrel", &["animal"]),
    ("bird", &["animal"]),
    ("bypass", &["bypassed"]),
    ("jumper", &["jumpered"]),
    ("tag", &["tagged"]),
    ("hlt", &["tagged"]),
];

/// What a word of the trade may stand for in a description; empty for others.
#[must_use]
pub fn said_for(word: &str) -> &'static [&'static str] {
    SAID_FOR
        .iter()
        .find(|(said, _)| *said == word)
        .map_or(&[], |(_, meant)| meant)
}

/// Shortest beginning of a word of the trade that is taken for it.
const SHORTEST: usize = 3;

/// What the words of the trade that begin so may stand for.
#[must_use]
pub fn said_for_begun(start: &str) -> Vec<&'static str> {
    if start.chars().count() < SHORTEST {
        return said_for(start).to_vec();
    }
    let begun = SAID_FOR.iter().filter(|(said, _)| said.starts_with(start));
    let mut out: Vec<&str> = begun.flat_map(|(_, meant)| meant.iter().copied()).collect();
    out.sort_unstable();
    out.dedup();
    out
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::domain::asset::{Class, Defect, Stands, StructureKind};

    /// A word that stands for what no description can hold would find nothing.
    #[test]
    fn every_meaning_is_a_word_of_some_description() {
        let mut known: Vec<&str> = vec!["solar", "tie", "tagged"];
        for words in [
            Class::WORDS,
            StructureKind::WORDS,
            Defect::WORDS,
            Stands::WORDS,
        ] {
            known.extend(words.iter().flat_map(|w| w.split([' ', '-'])));
        }
        for (said, meant) in SAID_FOR {
            for word in *meant {
                assert!(known.contains(word), "{said}: {word}");
            }
        }
    }

    #[test]
    fn a_beginning_counts_from_three_letters() {
        assert_eq!(said_for("fuse"), ["cutout"]);
        assert_eq!(said_for_begun("ligh"), ["arrester"]);
        assert!(said_for_begun("li").is_empty());
        assert!(said_for("tannery").is_empty());
    }
}
