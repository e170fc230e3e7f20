//! Classes of device and the phases they stand on.

use serde::{Deserialize, Serialize};

macro_rules! words {
    ($(#[$doc:meta])* $name:ident { $($(#[$vdoc:meta])* $variant:ident = $word:literal,)* }) => {
        $(#[$doc])*
        #[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
        #[serde(rename_all = "snake_case")]
        pub enum $name { $($(#[$vdoc])* #[serde(rename = $word)] $variant,)* }

        impl $name {
            /// Every variant, in declaration order.
            pub const ALL: &'static [$name] = &[$($name::$variant,)*];
            /// The words, in the same order.
            pub const WORDS: &'static [&'static str] = &[$($word,)*];

            /// The word used in files, on cards and in searches.
            #[must_use]
            pub const fn word(self) -> &'static str {
                match self { $($name::$variant => $word,)* }
            }

            /// The variant for a word.
            #[must_use]
            pub fn from_word(word: &str) -> Option<Self> {
                Self::ALL.iter().copied().find(|v| v.word() == word)
            }
        }

        impl std::fmt::Display for $name {
            fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
                f.write_str(self.word())
            }
        }
    };
}
pub(crate) use words;

words! {
    /// Class of a position or unit.
    Class {
        Recloser = "recloser",
        Sectionalizer = "sectionalizer",
        Cutout = "cutout",
        Switch = "switch",
        Regulator = "regulator",
        Capacitor = "capacitor",
        Transformer = "transformer",
        Arrester = "arrester",
        Breaker = "breaker",
        Generation = "generation",
        Other = "other",
    }
}

impl Class {
    /// Whether devices of this class stand in series with the line; the others
    /// hang off it.
    #[must_use]
    pub const fn in_series(self) -> bool {
        matches!(
            self,
            Class::Recloser
                | Class::Sectionalizer
                | Class::Cutout
                | Class::Switch
                | Class::Regulator
                | Class::Breaker
        )
    }
}

/// A word with its article: `an arrester`, `a unit`.
#[must_use]
pub fn an(word: impl std::fmt::Display) -> String {
    let word = word.to_string();
    let vowel = word.starts_with(['a', 'e', 'i', 'o']);
    format!("{} {word}", if vowel { "an" } else { "a" })
}

words! {
    /// Three-valued answer. Not known is treated as no, and printed as not known.
    Answer {
        Yes = "yes",
        No = "no",
        Unknown = "unknown",
    }
}
