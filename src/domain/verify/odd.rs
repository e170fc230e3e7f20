//! Odd plates where they are entered: the rules of [`super::ratings`] put to a
//! record before it is written. What cannot be is refused; what the trade
//! knows exceptions to is a warning.

use super::pairs;
use super::ratings::{self, made};
use super::{Detector, Given, Run};
use crate::calendar::Date;
use crate::domain::asset::{Entry, Record};
use crate::domain::change::{printed, value_at};
use crate::domain::finding::RuleStanding;

/// A plate figure that a rule finds odd.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Odd {
    pub rule: &'static str,
    /// A clause that follows the record's name.
    pub what: String,
    /// Whether it cannot be at all.
    pub cannot_be: bool,
    pub why: &'static str,
    pub source: &'static str,
    pub standing: RuleStanding,
}

impl Odd {
    fn by(d: &'static Detector, what: String, cannot_be: bool) -> Self {
        Odd {
            rule: d.name,
            what,
            cannot_be,
            why: d.why,
            source: d.source,
            standing: d.standing,
        }
    }

    /// What is odd, by which rule and from which source.
    #[must_use]
    pub fn sentence(&self, name: &str) -> String {
        format!(
            "{name} {}. {} Rule {} ({})",
            self.what, self.why, self.rule, self.source
        )
    }
}

/// Rules whose finding cannot be true of a device: each follows from what the
/// two figures mean.
const CANNOT_BE: &[&str] = &[
    "peak-under-rms",
    "mcov-over-duty",
    "shell-over-radius",
    "taps-crossed",
];
/// Fields that tell a record from its neighbours beside its number.
const IDENTITY: &[&str] = &[
    "place.near",
    "place.road",
    "names",
    "nameplate.serial",
    "structure",
];

/// What is odd about a record by itself.
#[must_use]
pub fn odd(record: &Record) -> Vec<Odd> {
    let given = nothing();
    let mut out = Vec::new();
    for d in ratings::DETECTORS.iter().chain(pairs::DETECTORS) {
        if let Run::Record(run) = d.run {
            let cannot = CANNOT_BE.contains(&d.name)
                || (d.name == "trip-under-continuous" && hydraulic(record));
            out.extend(
                run(record, &given)
                    .into_iter()
                    .map(|w| Odd::by(d, w, cannot)),
            );
        }
    }
    out
}

/// What is odd after a change and was not before it.
#[must_use]
pub fn new_in(before: Option<&Record>, after: &Record) -> Vec<Odd> {
    let old = before.map(odd).unwrap_or_default();
    let mut now = odd(after);
    now.retain(|o| !old.iter().any(|b| b.rule == o.rule && b.what == o.what));
    now.extend(before.into_iter().flat_map(|b| lost(b, after)));
    now
}

/// What told the record from its neighbours and would no longer be on it.
fn lost(before: &Record, after: &Record) -> Vec<Odd> {
    let Some(d) = super::detector("no-second-identifier") else {
        return Vec::new();
    };
    let (old, new) = (before.to_value(), after.to_value());
    IDENTITY
        .iter()
        .filter(|f| !value_at(&old, f).is_null() && value_at(&new, f).is_null())
        .map(|f| {
            let was = printed(value_at(&old, f));
            Odd::by(d, format!("loses its {f} ({was})"), false)
        })
        .collect()
}

/// What the entries about one thing show with a new one that they did not show
/// without it: rules of [`super::pairs`].
#[must_use]
pub fn in_history(before: &[(i64, Entry)], new: &Entry) -> Vec<Odd> {
    let mut all = before.to_vec();
    all.push((i64::MAX, new.clone()));
    let mut out = Vec::new();
    for d in pairs::DETECTORS {
        if let Run::History(run) = d.run {
            let old = run(before);
            let now = run(&all).into_iter().filter(|w| !old.contains(w));
            out.extend(now.map(|w| Odd::by(d, w, false)));
        }
    }
    out
}

/// What is odd about a fuse link by its mark.
#[must_use]
pub fn odd_link(mark: &str) -> Option<Odd> {
    let d = super::detector("link-off-list")?;
    (!made(mark)).then(|| {
        Odd::by(
            d,
            format!("marked {mark} is of a size that is not made"),
            false,
        )
    })
}

/// A series coil trips at twice what it carries; an electronic pickup may lie
/// below the frame.
fn hydraulic(record: &Record) -> bool {
    matches!(record, Record::Unit(u)
        if u.nameplate.number("coil_amps").is_some() && u.nameplate.text("control") != Some("electronic"))
}

/// The rules about ratings look at the record alone.
fn nothing() -> Given {
    Given {
        today: Date::from_ymd(2000, 1, 1).expect("there was such a day"),
        schemes: Vec::new(),
        conductors: std::collections::BTreeSet::new(),
        enlarged: Vec::new(),
        readings: Vec::new(),
    }
}
