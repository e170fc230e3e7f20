//! Who feeds whom: the line as a graph, walked by the normal state on record.
//!
//! ```text
//!   spans, positions, sources      owned records of one home feeder
//!        |  build                  nodes (structure, terminal), edges (spans),
//!        v                         series devices standing in the edges
//!   Network
//!        |  reach                  which nodes a source reaches, phase by phase
//!        v
//!   Walk                           path to the source, what hangs beyond, every
//!                                  other recorded way in, and what is not known
//! ```
//!
//! Nothing here says what feeds a line now: only what the records say it
//! normally hangs on. References may dangle; a ring, a missing source or an
//! open question is said in words, never smoothed over.

mod audit;
mod beyond;
mod build;
mod line;
mod pack;
mod place;
mod reach;
mod round;
mod walk;

use std::collections::BTreeMap;

use serde::Serialize;

use super::asset::{
    Class, ElementKind, Feeder, Normally, Position, Source, Span, Stands, State, Structure,
};

pub use audit::Misfit;
pub use build::Network;
pub use line::{ConnectedKva, Line};
pub use round::{Stop, walking_order};

/// The records that a walk needs, of one home feeder.
#[derive(Debug, Clone, Default)]
pub struct Section {
    /// The home feeder's name.
    pub home: Option<String>,
    pub feeders: Vec<Feeder>,
    pub sources: Vec<Source>,
    pub structures: Vec<Structure>,
    pub spans: Vec<Span>,
    pub positions: Vec<Position>,
}

/// Phases as bits: A 1, B 2, C 4.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub struct Phases(u8);

impl Phases {
    pub const ALL: Phases = Phases(7);
    pub const NONE: Phases = Phases(0);

    /// The phases named in a text; all three when it names none, so that a
    /// record that does not say is walked rather than skipped.
    #[must_use]
    pub fn read(text: Option<&str>) -> Phases {
        match Phases::named(text.unwrap_or("")) {
            Phases::NONE => Phases::ALL,
            some => some,
        }
    }

    /// The phases named in a text of the letters A, B, C; none otherwise.
    #[must_use]
    pub fn named(text: &str) -> Phases {
        let mut bits = 0;
        for c in text.trim().chars() {
            bits |= match c.to_ascii_uppercase() {
                'A' => 1,
                'B' => 2,
                'C' => 4,
                'N' => 0,
                _ => return Phases::NONE,
            };
        }
        Phases(bits)
    }

    #[must_use]
    pub const fn and(self, other: Phases) -> Phases {
        Phases(self.0 & other.0)
    }

    #[must_use]
    pub const fn or(self, other: Phases) -> Phases {
        Phases(self.0 | other.0)
    }

    #[must_use]
    pub const fn less(self, other: Phases) -> Phases {
        Phases(self.0 & !other.0)
    }

    #[must_use]
    pub const fn is_none(self) -> bool {
        self.0 == 0
    }

    /// How many phases.
    #[must_use]
    pub const fn count(self) -> u32 {
        self.0.count_ones()
    }

    /// Indexes of the phases in it: 0 for A, 1 for B, 2 for C.
    pub fn indexes(self) -> impl Iterator<Item = usize> {
        (0..3).filter(move |i| self.0 & (1 << i) != 0)
    }

    /// As written: `ABC`.
    #[must_use]
    pub fn word(self) -> String {
        self.indexes().map(|i| ['A', 'B', 'C'][i]).collect()
    }
}

/// Whether a device opens by itself on a fault.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum OpensOnFault {
    Yes,
    No,
    /// A cutout of which the record does not say whether it holds a link.
    Unknown,
}

/// Whether a position opens by itself on a fault: a recloser or a breaker, and
/// a cutout that holds a link. A sectionalizer opens only after another device
/// has interrupted.
#[must_use]
pub fn opens_on_fault(p: &Position) -> OpensOnFault {
    let has = |kind: ElementKind| p.elements.iter().any(|e| e.element == kind);
    match p.class {
        Class::Recloser | Class::Breaker => OpensOnFault::Yes,
        Class::Cutout => match (has(ElementKind::Link), has(ElementKind::Blade)) {
            (true, false) => OpensOnFault::Yes,
            (false, true) => OpensOnFault::No,
            _ => OpensOnFault::Unknown,
        },
        _ => OpensOnFault::No,
    }
}

/// How a position normally stands; a tie that does not say counts as open.
#[must_use]
pub fn normally_open(p: &Position) -> bool {
    match p.normally {
        Some(Normally::Open) => true,
        Some(Normally::Closed) => false,
        Some(Normally::Unknown) | None => !p.ties.is_empty(),
    }
}

/// The state on record when it is not the normal one: a sentence.
#[must_use]
pub fn stands_otherwise(p: &Position) -> Option<String> {
    let State { stands, at, by, .. } = p.state.as_ref()?;
    let open = normally_open(p);
    let other = match stands {
        Stands::Open | Stands::Cut | Stands::Grounded => !open,
        Stands::Closed | Stands::Jumpered => open,
        Stands::Bypassed => true,
        Stands::Unknown => false,
    };
    let who = by.as_ref().map_or(String::new(), |b| format!(" by {b}"));
    other.then(|| {
        format!(
            "{} recorded {stands} {}{who}; normally {}",
            p.position,
            at.spoken(),
            if open { "open" } else { "closed" }
        )
    })
}

/// A device met on the way.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct Device {
    pub name: String,
    pub class: Class,
    #[serde(skip_serializing_if = "Option::is_none")]
    pub structure: Option<String>,
    pub opens_on_fault: OpensOnFault,
    /// Recorded as bypassed: it interrupts nothing.
    #[serde(skip_serializing_if = "std::ops::Not::not")]
    pub bypassed: bool,
    /// The state on record when it is not the normal one.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub stands_otherwise: Option<String>,
}

impl Device {
    #[must_use]
    pub fn of(p: &Position) -> Device {
        Device {
            name: p.position.clone(),
            class: p.class,
            structure: p.structure.clone(),
            opens_on_fault: opens_on_fault(p),
            bypassed: p
                .state
                .as_ref()
                .is_some_and(|s| matches!(s.stands, Stands::Bypassed | Stands::Jumpered)),
            stands_otherwise: stands_otherwise(p),
        }
    }
}

/// What kind of further feed.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum FeedKind {
    /// A normally open device with another line, or another part of this one,
    /// on its far side.
    Tie,
    Generation,
    /// Line at home in another feeder that meets this one with no open point
    /// on record.
    Join,
}

/// On which side of the device a further feed lies.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Side {
    /// On the normal load side.
    Beyond,
    /// On the normal source side.
    SourceSide,
}

/// A further recorded way in.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord, Serialize)]
pub struct OtherFeed {
    pub side: Side,
    pub kind: FeedKind,
    pub name: String,
    /// The structure at which it joins.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub at: Option<String>,
    /// What lies behind it, or what it is.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub from: Option<String>,
    #[serde(skip_serializing_if = "Option::is_none")]
    pub stands_otherwise: Option<String>,
}

/// From which end of its span the normal source comes.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Direction {
    /// From its own structure; the recorded `toward` is the load side.
    AsRecorded,
    /// From the neighbour that is recorded as its load side.
    Reversed,
    /// From both ends, with this device taken out: a ring or two sources.
    BothEnds,
    /// It stands in no span, or no source was found.
    Unknown,
}

/// What lies beyond.
#[derive(Debug, Clone, Default, PartialEq, Eq, Serialize)]
pub struct Beyond {
    pub structures: Vec<String>,
    pub customers: u32,
    /// Critical flags and at how many positions each stands.
    pub critical: BTreeMap<String, u32>,
    /// Series devices, in walking order.
    pub devices: Vec<Device>,
    /// Every position that hangs off the line, by name, in walking order.
    pub hangs: Vec<String>,
    /// Transformers without a customer count.
    pub uncounted: usize,
}

/// The answer of a walk.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct Walk {
    /// The normal source, when the walk ends at one.
    pub source: Option<String>,
    /// Why it does not.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub no_source: Option<String>,
    /// Series devices from the source to here, this one left out.
    pub path: Vec<Device>,
    pub direction: Direction,
    /// The structure on the side from which the normal source comes.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub comes_from: Option<String>,
    /// The next device toward the source that opens on a fault.
    pub protecting: Option<Device>,
    /// Devices nearer than that of which the record does not say.
    pub perhaps_protecting: Vec<String>,
    /// What the device feeds; `None` when that cannot be told.
    pub beyond: Option<Beyond>,
    /// Why there is no answer: a sentence.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub beyond_unknown: Option<String>,
    pub other_feeds: Vec<OtherFeed>,
    /// Rings, dangling ends, inferred places: whatever the answer rests on.
    pub notes: Vec<String>,
}

impl Walk {
    /// An answer that is none, with its reason.
    #[must_use]
    pub fn unknown(why: impl Into<String>) -> Walk {
        let why = why.into();
        Walk {
            beyond_unknown: Some(format!("what it feeds is not known: {why}")),
            no_source: Some(why),
            ..Walk::begun()
        }
    }

    fn begun() -> Walk {
        Walk {
            source: None,
            no_source: None,
            path: Vec::new(),
            direction: Direction::Unknown,
            comes_from: None,
            protecting: None,
            perhaps_protecting: Vec::new(),
            beyond: None,
            beyond_unknown: None,
            other_feeds: Vec::new(),
            notes: Vec::new(),
        }
    }

    /// How many further feeds of a kind on a side.
    #[must_use]
    pub fn count(&self, side: Side, kind: FeedKind) -> usize {
        self.other_feeds
            .iter()
            .filter(|f| f.side == side && f.kind == kind)
            .count()
    }
}
