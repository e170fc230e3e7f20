//! Pairs: two devices in series, of which the one on the load side is to clear
//! before the one toward the source is hurt or locks out. Each rule has a
//! name, its formula, its source and the standing of that source. Whatever is
//! unknown, assumed or outside a published table never passes.

mod example;
mod judge;
mod tables;
mod trips;

use serde::Serialize;

use super::finding::{RuleStanding, Verdict};
use super::nameplate::{Choices, LinkType, RECLOSER_INTERVAL, RELAY_INTERVAL, RELAY_RESET, TIGHT};
use super::sequence::{Settings, Timing};

pub use example::example;
pub use tables::{
    ARCING_S, SAVING_FACTORS, SOURCE_FACTORS, in_seconds, link_clears, link_melts, saving_factor,
    source_factor, table_limit,
};

/// A rule about a pair.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct PairRule {
    pub name: &'static str,
    /// Load side, then source side.
    pub of: &'static str,
    pub formula: &'static str,
    pub source: &'static str,
    pub standing: RuleStanding,
    /// Named choices that it rests on.
    pub choices: &'static [&'static str],
}

pub static LINK_75: PairRule = PairRule {
    name: "pair-link-75",
    of: "link and link",
    formula: "greatest melting of the load-side link + 0.8 cycle <= 75 % of least melting of the source-side link (three-point table, interpolated on a log-log plot)",
    source: "75 %: one distribution utility's line-fuse instruction (read); melting currents and arcing are from memory, unconfirmed",
    standing: RuleStanding::FromMemory,
    choices: &[TIGHT],
};
pub static LINK_TABLE: PairRule = PairRule {
    name: "pair-link-table",
    of: "link and link",
    formula: "fault <= greatest fault at which the two links coordinate, by the K-K or T-T table",
    source: "published K-K and T-T coordination tables, from memory, unconfirmed",
    standing: RuleStanding::FromMemory,
    choices: &[TIGHT],
};
pub static FUSE_SAVING: PairRule = PairRule {
    name: "pair-fuse-saving",
    of: "link and recloser",
    formula: "factor x greatest clearing of the fast curve <= least melting of the link; 1 fast 1.25, 2 fast 1.35; reclosing in less than 60 cycles: 1.25 and 1.80",
    source: "1 fast 1.20 (coordination data of a link maker, read) and 1.25 (textbook variant, from memory): the stricter is taken; 2 fast 1.35 read; the row of 25 to 30 cycles is from memory, unconfirmed",
    standing: RuleStanding::FromMemory,
    choices: &[TIGHT],
};
pub static BEFORE_DELAYED: PairRule = PairRule {
    name: "pair-link-before-delayed",
    of: "link and recloser",
    formula: "greatest melting of the link + 0.8 cycle <= least clearing of the delayed curve",
    source: "link maker's coordination data (read); melting currents are from memory, unconfirmed",
    standing: RuleStanding::FromMemory,
    choices: &[TIGHT],
};
pub static SOURCE_LINK: PairRule = PairRule {
    name: "pair-source-link",
    of: "recloser and link",
    formula: "factor (by sequence and shortest reclosing time, 50 % preload) x greatest clearing of the delayed curve <= least melting of the source-side link; published for the average clearing, which is less",
    source: "link maker's coordination data (read); melting currents are from memory, unconfirmed",
    standing: RuleStanding::FromMemory,
    choices: &[TIGHT],
};
pub static COUNTS: PairRule = PairRule {
    name: "pair-counts",
    of: "sectionalizer and backup",
    formula: "counts to open <= trips to lockout of the backup - 1, and one fewer for each further sectionalizer in series",
    source: "one fewer than trips to lockout: makers' application pages (read); further ones in series: from memory, unconfirmed",
    standing: RuleStanding::Read,
    choices: &[],
};
pub static RECLOSING: PairRule = PairRule {
    name: "pair-reclosing",
    of: "sectionalizer and backup",
    formula: "the backup recloses at least once: without reclosing upstream there is no count",
    source: "from memory, unconfirmed; consistent with what was read of how it counts",
    standing: RuleStanding::FromMemory,
    choices: &[],
};
pub static MEMORY: PairRule = PairRule {
    name: "pair-memory",
    of: "sectionalizer and backup",
    formula: "whole sequence of the backup, open times included <= count memory - 10 %",
    source: "test tolerance +- 10 %: a maker's test instructions (read); longer than the whole sequence: from memory, unconfirmed",
    standing: RuleStanding::FromMemory,
    choices: &[TIGHT],
};
pub static ACTUATING: PairRule = PairRule {
    name: "pair-actuating",
    of: "sectionalizer and backup",
    formula: "actuating current (160 % of coil) <= 80 % of the backup's least minimum trip",
    source: "a sectionalizer maker's selection page (read)",
    standing: RuleStanding::Read,
    choices: &[],
};
pub static RECLOSERS: PairRule = PairRule {
    name: "pair-reclosers",
    of: "recloser and recloser",
    formula: "greatest clearing on the load side + interval (a choice, 0.2 s) <= least clearing toward the source: fast with the first curve toward the source, delayed with its delayed curve",
    source: "curves more than 12 cycles (0.2 s) apart do not operate together: from memory, unconfirmed",
    standing: RuleStanding::FromMemory,
    choices: &[TIGHT, RECLOSER_INTERVAL],
};
pub static RELAY_ABOVE: PairRule = PairRule {
    name: "pair-relay",
    of: "recloser or breaker, and the relay of a breaker",
    formula: "greatest clearing on the load side + interval (a choice, 0.3 s) <= least time of the relay, curve by curve; where the relay may keep over an open time what it has timed, all clearings summed + interval as well",
    source: "common practice, no source",
    standing: RuleStanding::CommonPractice,
    choices: &[TIGHT, RELAY_INTERVAL, RELAY_RESET],
};
pub static NO_RULE: PairRule = PairRule {
    name: "pair-no-rule",
    of: "any other pair",
    formula: "no rule for this pair is laid down here",
    source: "none",
    standing: RuleStanding::CommonPractice,
    choices: &[],
};

/// Every rule about pairs.
pub static PAIR_RULES: &[&PairRule] = &[
    &LINK_75,
    &LINK_TABLE,
    &FUSE_SAVING,
    &BEFORE_DELAYED,
    &SOURCE_LINK,
    &COUNTS,
    &RECLOSING,
    &MEMORY,
    &ACTUATING,
    &RECLOSERS,
    &RELAY_ABOVE,
    &NO_RULE,
];

/// What clears, or counts.
#[derive(Debug, Clone, PartialEq)]
pub enum Role {
    /// A fuse link; none when its mark is not known.
    Link(Option<(f64, LinkType)>),
    /// Trips and recloses.
    Trips {
        settings: Option<Settings>,
        min_trip_amps: Option<f64>,
        /// Why it would not reclose, as recorded.
        blocked: Option<String>,
        /// A breaker, opened by a relay.
        relay: bool,
        ground: Box<Ground>,
    },
    /// Counts the interruptions of another and opens in the dead time.
    Counts {
        counts: Option<f64>,
        memory_s: Option<f64>,
        actuating_amps: Option<f64>,
    },
    /// Neither: a reason.
    Nothing(String),
}

/// What else trips a device on a fault to ground.
#[derive(Debug, Clone, PartialEq)]
pub enum Ground {
    /// Nothing on record: its phase trips alone clear the fault.
    Nothing,
    /// Recorded as blocked: the phase trips alone clear, and why.
    Blocked(String),
    /// It may trip by ground, and when is not known: why.
    Unknown(String),
    /// A sequence of its own, with what nobody has confirmed of it.
    Set(Box<Settings>, Vec<String>),
}

/// A device in a pair.
#[derive(Debug, Clone, PartialEq)]
pub struct End {
    pub name: String,
    pub role: Role,
    /// What nobody has confirmed; while there is any it gives no pass.
    pub doubts: Vec<String>,
}

impl End {
    /// The same device on a fault to ground: whichever of phase and ground
    /// trips first. `whole` is false where not all of the fault current flows
    /// through the ground element, so that its time is not known.
    #[must_use]
    pub fn to_ground(&self, whole: bool) -> End {
        let mut end = self.clone();
        let Role::Trips {
            settings, ground, ..
        } = &mut end.role
        else {
            return end;
        };
        let unknown = |why: &str| Timing::Unknown(why.to_string());
        let (fast, delayed) = match &**ground {
            Ground::Nothing => return end,
            Ground::Blocked(why) => {
                end.doubts.push(why.clone());
                return end;
            }
            Ground::Unknown(why) => (unknown(why), unknown(why)),
            Ground::Set(..) if !whole => {
                let why = format!(
                    "how much of a double-line-ground fault flows through the ground element of {} is not known",
                    self.name
                );
                (unknown(&why), unknown(&why))
            }
            Ground::Set(own, doubts) => {
                end.doubts.extend(doubts.clone());
                (own.fast_timing.clone(), own.delayed_timing.clone())
            }
        };
        if let Some(s) = settings {
            s.fast_timing = Timing::first(s.fast_timing.clone(), fast);
            s.delayed_timing = Timing::first(s.delayed_timing.clone(), delayed);
        }
        end
    }
}

/// One pair judged by one rule.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct PairFinding {
    pub rule: &'static str,
    /// On the load side.
    pub protecting: String,
    /// Toward the source.
    pub protected: String,
    pub fault_amps: Option<f64>,
    /// Judged as a fault to ground.
    pub to_ground: bool,
    pub value: Option<f64>,
    pub limit: Option<f64>,
    pub unit: &'static str,
    /// (limit - value) / limit in percent; negative when it fails.
    pub margin_percent: Option<f64>,
    pub verdict: Verdict,
    pub because: String,
    pub source: &'static str,
    pub standing: RuleStanding,
}

/// A pair and how it is judged.
#[derive(Debug, Clone, Copy)]
pub struct Pair<'a> {
    pub load_side: &'a End,
    pub source_side: &'a End,
    /// Sectionalizers between the two, and the counts of the nearest.
    pub between: (u32, Option<f64>),
    pub choices: &'a Choices,
    /// The fault is to ground.
    pub to_ground: bool,
}

/// A figure, or why there is none.
pub type Known = Result<(f64, String), String>;
