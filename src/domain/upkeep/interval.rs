//! Intervals: what comes due on a class of thing, and upon what: time, the
//! operations counter, interrupting duty, or a condition that was seen.

mod reasons;

use std::collections::BTreeMap;
use std::fmt;

use serde::de::{self, Visitor};
use serde::{Deserialize, Deserializer, Serialize};

use crate::calendar::Date;
use crate::domain::asset::{
    Class, Defect, Depth, Entry, EntryKind, Nameplate, RecordId, Stated, StructureKind, words,
};
use crate::domain::finding::RuleStanding;
use crate::domain::nameplate::short;

pub use reasons::{Due, due};

/// Years that a cycle may begin in.
const YEARS: std::ops::RangeInclusive<i32> = 1950..=2150;
/// Longest interval, in months.
const LONGEST: u32 = 1_200;
/// Stands for every class in a list of classes.
const ANY: &str = "any";

words! {
    /// What comes due.
    What {
        Patrol = "patrol",
        Detailed = "detailed inspection",
        Intrusive = "intrusive inspection",
        OilTest = "oil test",
        Counter = "counter reading",
        Maintenance = "maintenance",
        Test = "test",
        Battery = "battery test",
        Infrared = "infrared",
        Exercise = "exercise",
        Repair = "repair",
    }
}

impl What {
    /// Whether an entry shows that it was done. An inspection whose depth is
    /// not recorded is a patrol, whatever was read.
    #[must_use]
    pub fn done_by(self, e: &Entry) -> bool {
        let has = |key: &str| e.readings.get(key).is_some_and(Stated::is_known);
        let looked = e.entry == EntryKind::Inspection;
        match self {
            What::Patrol => looked,
            What::Detailed => looked && e.depth.is_some_and(|depth| depth != Depth::Patrol),
            What::Intrusive => looked && e.depth == Some(Depth::Intrusive),
            What::OilTest => has("oil_kv"),
            What::Counter => has("counter") || has("switch_counter"),
            What::Maintenance => e.entry == EntryKind::Maintenance,
            What::Test => e.entry == EntryKind::Test,
            What::Battery => has("battery_volts"),
            What::Infrared => has("hot_spot_c"),
            What::Exercise => {
                e.readings
                    .get("opened_and_closed")
                    .and_then(Stated::as_text)
                    == Some("yes")
            }
            What::Repair => false,
        }
    }
}

/// A reading that makes something due.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Condition {
    pub reading: String,
    /// This figure or a higher one.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub from: Option<f64>,
    /// One of these words.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub is: Vec<String>,
}

/// One interval, as it is written.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Interval {
    pub interval: String,
    #[serde(default, skip_serializing_if = "RecordId::is_nil_ref")]
    pub id: RecordId,
    /// Not in force.
    #[serde(default)]
    pub off: bool,
    /// Classes of device, kinds of structure, or `any`.
    #[serde(default)]
    pub class: Vec<String>,
    /// Kinds of structure that a device stands on; any when empty.
    #[serde(default)]
    pub at: Vec<StructureKind>,
    /// Words of the plate, or of the pole, one of which must be read or unread.
    #[serde(default)]
    pub only_if: BTreeMap<String, Vec<String>>,
    #[serde(default)]
    pub unless: BTreeMap<String, Vec<String>>,
    pub what: Option<What>,
    pub months: Option<u32>,
    /// After it was set or came there, while it was never done.
    pub first_months: Option<u32>,
    /// By the counter, since it was last done.
    pub operations: Option<f64>,
    pub duty_percent: Option<f64>,
    pub condition: Option<Condition>,
    #[serde(default)]
    pub defects: Vec<Defect>,
    /// Of the day on which the condition or defect was seen; at once without.
    pub within_months: Option<u32>,
    #[serde(default)]
    pub spread: bool,
    /// First year of a cycle that is spread.
    pub cycle_from: Option<i32>,
    pub source: Option<String>,
    #[serde(default, deserialize_with = "standing")]
    pub standing: Option<RuleStanding>,
}

fn standing<'de, D: Deserializer<'de>>(d: D) -> Result<Option<RuleStanding>, D::Error> {
    Ok(Option::<Founded>::deserialize(d)?.map(|f| f.0))
}

/// Read by a visitor, so that a word that is none is refused with its line.
struct Founded(RuleStanding);

struct FoundedVisitor;

impl Visitor<'_> for FoundedVisitor {
    type Value = Founded;

    fn expecting(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str("how well the interval is founded")
    }

    fn visit_str<E: de::Error>(self, word: &str) -> Result<Founded, E> {
        let all = RuleStanding::ALL;
        let found = all.iter().find(|s| s.word() == word);
        found.map(|s| Founded(*s)).ok_or_else(|| {
            let all: Vec<&str> = all.iter().map(|s| s.word()).collect();
            E::custom(format!(
                "{word:?} is no standing; one of {}",
                all.join("; ")
            ))
        })
    }
}

impl<'de> Deserialize<'de> for Founded {
    fn deserialize<D: Deserializer<'de>>(d: D) -> Result<Self, D::Error> {
        d.deserialize_str(FoundedVisitor)
    }
}

impl Interval {
    /// Holds what is written against what can be.
    ///
    /// # Errors
    /// The key that is wrong, and a sentence.
    pub fn check(&self) -> Result<(), (&'static str, String)> {
        if self.off {
            return Ok(());
        }
        self.check_class()?;
        if self.what.is_none() {
            let all = What::WORDS.join(", ");
            return Err((
                "what",
                format!("an interval says what is due; one of {all}"),
            ));
        }
        for (key, months) in [
            ("months", self.months),
            ("first_months", self.first_months),
            ("within_months", self.within_months),
        ] {
            let least = u32::from(key == "months");
            if months.is_some_and(|m| !(least..=LONGEST).contains(&m)) {
                return Err((key, format!("{key}: from {least} to {LONGEST} months")));
            }
        }
        for (key, figure, most) in [
            ("operations", self.operations, 10_000_000.0),
            ("duty_percent", self.duty_percent, 1_000.0),
        ] {
            if figure.is_some_and(|f| !(1.0..=most).contains(&f)) {
                return Err((key, format!("{key}: from 1 to {}", short(most))));
            }
        }
        self.check_triggers()
    }

    fn check_class(&self) -> Result<(), (&'static str, String)> {
        if self.class.is_empty() {
            return Err((
                "class",
                "an interval names the classes it is for; class: [any] is for all".to_string(),
            ));
        }
        let known = |c: &str| {
            c == ANY || Class::from_word(c).is_some() || StructureKind::from_word(c).is_some()
        };
        match self.class.iter().find(|c| !known(c)) {
            None => Ok(()),
            Some(c) => Err((
                "class",
                format!(
                    "{c:?} is no class; allowed: {ANY}, {}, {}",
                    Class::WORDS.join(", "),
                    StructureKind::WORDS.join(", ")
                ),
            )),
        }
    }

    fn check_triggers(&self) -> Result<(), (&'static str, String)> {
        let none = self.months.is_none()
            && self.operations.is_none()
            && self.duty_percent.is_none()
            && self.condition.is_none()
            && self.defects.is_empty();
        if none {
            return Err((
                "interval",
                "it says nothing upon which it comes due: months, operations, duty_percent, condition or defects".to_string(),
            ));
        }
        if let Some(c) = &self.condition
            && c.from.is_none()
            && c.is.is_empty()
        {
            return Err((
                "condition",
                "a condition says `from` which figure, or which words it `is`".to_string(),
            ));
        }
        if !self.spread {
            return Ok(());
        }
        if self.months.is_none_or(|m| m % 12 != 0) {
            return Err((
                "spread",
                "only an interval of whole years (months a multiple of 12) can be spread over them"
                    .to_string(),
            ));
        }
        if self.cycle_from.is_none_or(|y| !YEARS.contains(&y)) {
            return Err((
                "cycle_from",
                "a spread interval needs cycle_from, the year in which its first cycle begins"
                    .to_string(),
            ));
        }
        Ok(())
    }

    /// Whether it is for this thing. What is unread is taken to be meant.
    #[must_use]
    pub fn is_for(&self, s: &Subject<'_>) -> bool {
        let class = self.class.iter().any(|c| c == ANY || c == s.class);
        let at = self.at.is_empty()
            || s.at.is_none()
            || s.at.is_some_and(|kind| self.at.contains(&kind));
        let among = |key: &str, words: &[String]| s.word(key).map(|w| words.contains(&w));
        let only = self.only_if.iter().all(|(k, w)| among(k, w) != Some(false));
        let unless = self.unless.iter().any(|(k, w)| among(k, w) == Some(true));
        !self.off && class && at && only && !unless
    }

    /// What is unread and was taken to be meant.
    fn taken(&self, s: &Subject<'_>) -> String {
        let mut out = String::new();
        for (key, words) in &self.only_if {
            if s.word(key).is_none() {
                out.push_str(&format!("; {key} unread, taken as {}", words.join(" or ")));
            }
        }
        if !self.at.is_empty() && s.at.is_none() {
            out.push_str("; what it stands on is not recorded");
        }
        out
    }
}

/// Share of the standard duty used, in percent, with its words; or why it is
/// unknown.
pub type DutyUsed = Result<(f64, String), String>;

/// What an interval is held against.
pub struct Subject<'a> {
    pub id: RecordId,
    /// Class of device or kind of structure.
    pub class: &'a str,
    /// What a device stands on.
    pub at: Option<StructureKind>,
    pub plate: Option<&'a Nameplate>,
    /// Material of a pole.
    pub material: Option<&'a str>,
    /// Day it was set, or came to where it is.
    pub begun: Option<Date>,
    /// What is written about it, each with its row; nothing of days to come.
    pub entries: &'a [(i64, &'a Entry)],
    /// None where no duty is laid down or nothing has been logged.
    pub duty: Option<DutyUsed>,
}

impl Subject<'_> {
    fn word(&self, key: &str) -> Option<String> {
        if key == "material" {
            return self.material.map(str::to_string);
        }
        self.plate?.text(key).map(str::to_string)
    }

    fn written(&self) -> Vec<&Entry> {
        self.entries.iter().map(|(_, e)| *e).collect()
    }
}
