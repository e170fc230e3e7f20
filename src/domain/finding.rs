//! The one currency of answers: questions, verdicts, findings and cautions;
//! and what each open defect does to them.
//!
//! Nothing here sounds like leave to act: a finding shows the record, the rule
//! and its source, and stops there.

mod defect;

use serde::{Serialize, Serializer};

pub use defect::{
    DEFECTS, DefectRow, Follows, Sighted, defect_caution, defect_row, seen, shown_by,
};

/// Stands on every check, in `--help` and in the README.
pub const SAFETY: &str = "Polecard shows the record, the rule and its source; it never says that a line is dead, that a device may be operated, that a distance is safe or a pole fit to climb. Defer to the nameplate, the control centre, local codes and qualified people.";

/// First on every card and check of a regulator that has a bypass. Common
/// practice; read in two makers' instruction sheets.
pub const REGULATOR_BYPASS: &str = "regulator bypass: closed off neutral it short-circuits part of the series winding. Never closed unless the tap changer is on neutral, shown by both dial and lamp, the control is off and the motor fuse out. This record shows none of these; control and the local procedure decide";

/// On every card and check of a capacitor: 29 CFR 1910.269(w)(1), read in a
/// public copy; that resistors discharge it in time is no part of it.
pub const CAPACITOR_CHARGE: &str = "capacitor: treat as charged. Stored charge remains after it is disconnected: at least 5 minutes of waiting from disconnection, then discharge and grounding by qualified people under local rules. Nothing on this record shows that it is discharged";

macro_rules! spoken {
    ($(#[$doc:meta])* $name:ident { $($(#[$vdoc:meta])* $variant:ident = $word:literal,)* }) => {
        $(#[$doc])*
        #[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
        pub enum $name { $($(#[$vdoc])* $variant,)* }

        impl $name {
            /// Every variant, in declaration order.
            pub const ALL: &'static [$name] = &[$($name::$variant,)*];

            /// The word printed and written in JSON.
            #[must_use]
            pub const fn word(self) -> &'static str {
                match self { $($name::$variant => $word,)* }
            }
        }

        impl std::fmt::Display for $name {
            fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
                f.write_str(self.word())
            }
        }

        impl Serialize for $name {
            fn serialize<S: Serializer>(&self, s: S) -> Result<S::Ok, S::Error> {
                s.serialize_str(self.word())
            }
        }
    };
}

spoken! {
    /// Each thing asked of an element, apart from the others; never blended.
    Question {
        /// Does it carry the load.
        Carry = "carry",
        /// Does it ride through the load without tripping.
        Ride = "ride",
        /// Does it break the fault.
        Break = "break",
        /// Does it see the smallest fault.
        See = "see",
        /// Does it stand the voltage, the surge and the fault that passes.
        Stand = "stand",
        /// Is there wear left.
        Last = "last",
    }
}

spoken! {
    /// An answer, from the mildest to the worst: the worst governs.
    Verdict {
        /// The question does not apply, or the element breaks nothing. Never a pass.
        NotApplicable = "not_applicable",
        Within = "within",
        /// Within, by less than the chosen margin.
        Tight = "tight",
        /// Something needed is unread, assumed or in doubt.
        Unknown = "unknown",
        Fails = "fails",
    }
}

impl Verdict {
    /// The worst of several; not applicable when there are none.
    #[must_use]
    pub fn worst(verdicts: impl IntoIterator<Item = Verdict>) -> Verdict {
        verdicts.into_iter().max().unwrap_or(Verdict::NotApplicable)
    }

    /// Whether it says yes in any shade.
    #[must_use]
    pub const fn passes(self) -> bool {
        matches!(self, Verdict::Within | Verdict::Tight)
    }

    /// Exit code of a check: 0 all within, 1 something fails, 5 something is
    /// unknown or nothing could be judged, 6 tight and nothing worse.
    #[must_use]
    pub const fn exit_code(self) -> u8 {
        match self {
            Verdict::Within => 0,
            Verdict::Fails => 1,
            Verdict::Unknown | Verdict::NotApplicable => 5,
            Verdict::Tight => 6,
        }
    }
}

spoken! {
    /// Through which elements the current is taken to run.
    Path {
        Normal = "normal",
        Bypass = "bypass",
    }
}

spoken! {
    /// How well a rule or a default is founded.
    RuleStanding {
        Read = "read",
        FromMemory = "from memory, unconfirmed",
        CommonPractice = "common practice",
        Inferred = "inferred",
    }
}

/// A named choice of the utility that a finding rests on.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct ChoiceUsed {
    pub name: &'static str,
    pub value: String,
}

/// One question put to one element, and its answer.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Finding {
    pub rule: &'static str,
    pub question: Question,
    /// What the element is called.
    pub element: String,
    /// The slot, when slots differ.
    pub slot: Option<String>,
    pub path: Path,
    /// What was asked, in `unit`.
    pub value: Option<f64>,
    /// What it is held against, in `unit`.
    pub limit: Option<f64>,
    pub unit: &'static str,
    /// (limit - value) / limit in percent; negative when it fails.
    pub margin_percent: Option<f64>,
    pub verdict: Verdict,
    /// The formula with its numbers, in sentences that can be redone by hand.
    pub because: String,
    pub source: &'static str,
    pub standing: RuleStanding,
    pub choices: Vec<ChoiceUsed>,
    /// Which plate, setting or study to read, when that is what is missing.
    pub read_next: Option<String>,
}

impl Finding {
    /// Holds the verdict at unknown or worse, and says why.
    pub fn cap(&mut self, why: &str) {
        if self.verdict == Verdict::NotApplicable {
            return;
        }
        self.because.push_str(" No better than unknown: ");
        self.because.push_str(why);
        self.because.push('.');
        self.verdict = self.verdict.max(Verdict::Unknown);
    }
}

spoken! {
    /// Of a caution; stops come before looks.
    Severity {
        Stop = "STOP",
        Look = "LOOK",
    }
}

/// A warning shown before anything else.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord, Serialize)]
pub struct Caution {
    pub severity: Severity,
    pub text: String,
    /// What it is about: a unit, a position, a structure.
    pub about: String,
}

impl Caution {
    #[must_use]
    pub fn stop(text: impl Into<String>, about: impl Into<String>) -> Self {
        Caution {
            severity: Severity::Stop,
            text: text.into(),
            about: about.into(),
        }
    }

    #[must_use]
    pub fn look(text: impl Into<String>, about: impl Into<String>) -> Self {
        Caution {
            severity: Severity::Look,
            text: text.into(),
            about: about.into(),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::domain::asset::Defect;

    #[test]
    fn every_defect_has_one_row() {
        for defect in Defect::ALL {
            let rows = DEFECTS.iter().filter(|r| r.defect == *defect).count();
            assert_eq!(rows, 1, "{defect}");
        }
    }

    #[test]
    fn fails_outranks_unknown_outranks_tight_outranks_within() {
        let worst = |v: &[Verdict]| Verdict::worst(v.iter().copied());
        assert_eq!(worst(&[Verdict::Unknown, Verdict::Fails]), Verdict::Fails);
        assert_eq!(worst(&[Verdict::Tight, Verdict::Unknown]), Verdict::Unknown);
        assert_eq!(worst(&[Verdict::Within, Verdict::Tight]), Verdict::Tight);
        assert_eq!(
            worst(&[Verdict::NotApplicable, Verdict::Within]),
            Verdict::Within
        );
        assert_eq!(worst(&[]), Verdict::NotApplicable);
    }

    #[test]
    fn nothing_judged_is_no_pass_to_a_script() {
        let codes = |v: Verdict| v.exit_code();
        assert_eq!(codes(Verdict::NotApplicable), 5);
        assert_eq!(codes(Verdict::Within), 0);
        assert_eq!(codes(Verdict::Tight), 6);
        assert_eq!(codes(Verdict::Fails), 1);
    }

    #[test]
    fn no_advice_sounds_like_leave_to_act() {
        for row in DEFECTS {
            for word in [
                "safe",
                "clear to",
                "may be operated",
                "may be climbed",
                "dead",
            ] {
                assert!(!row.advice.contains(word), "{}: {word}", row.defect);
            }
        }
    }
}
