//! Rules over readings, and the limits that the utility may set, for the list
//! of rules.

use serde::Serialize;

use crate::domain::finding::RuleStanding;
use crate::domain::upkeep::example::Example;
use crate::domain::upkeep::limits::{LIMITS, Limit, Limits};
use crate::domain::upkeep::{self, Conclusion, Rule};
use crate::units::figure;

/// A rule over readings.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct ReadingRule {
    pub name: &'static str,
    pub reads: &'static [&'static str],
    /// Every class, and structures, when empty.
    pub applies_to: Vec<&'static str>,
    pub source: &'static str,
    pub standing: RuleStanding,
    #[serde(skip_serializing_if = "Option::is_none")]
    pub example: Option<Worked>,
}

/// A limit that readings are held against: a named choice of the utility.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct LimitRow {
    pub name: &'static str,
    pub default: f64,
    pub allowed: String,
    pub source: &'static str,
    pub standing: RuleStanding,
    #[serde(skip_serializing_if = "Option::is_none")]
    pub example: Option<Worked>,
}

/// An example worked out by the rule itself, by the default limits.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Worked {
    /// Class of the invented thing, and what was read.
    pub of: String,
    pub says: Conclusion,
}

fn worked(name: &str) -> Option<Worked> {
    let example = Example::of(name)?;
    let sample = example.sample();
    let read = |of: &upkeep::example::Readings| {
        let all: Vec<String> = of
            .iter()
            .filter_map(|(k, v)| {
                let value = v.value.as_ref()?;
                Some(format!("{} {value}", k.replace('_', " ")))
            })
            .collect();
        all.join(", ")
    };
    let class = sample
        .class
        .map_or("structure".to_string(), |c| c.to_string());
    let before: Vec<String> = sample.earlier.iter().map(read).collect();
    let before = if before.is_empty() {
        String::new()
    } else {
        format!("; before: {}", before.join("; "))
    };
    Some(Worked {
        of: format!("{class}, {}{before}", read(&sample.readings)),
        says: example.worked(&Limits::default()).into_iter().next()?,
    })
}

fn rule(r: &'static Rule, whole: bool) -> ReadingRule {
    ReadingRule {
        name: r.name,
        reads: r.reads,
        applies_to: r.on.iter().map(|c| c.word()).collect(),
        source: r.source,
        standing: r.standing,
        example: whole.then(|| worked(r.name)).flatten(),
    }
}

fn limit(l: &'static Limit, whole: bool) -> LimitRow {
    LimitRow {
        name: l.name,
        default: l.default,
        allowed: format!("{} to {}", figure(l.bounds.0), figure(l.bounds.1)),
        source: l.source,
        standing: l.standing,
        example: whole.then(|| worked(l.name)).flatten(),
    }
}

/// All of them; or only the one of a name, with its example.
#[must_use]
pub fn readings(name: Option<&str>) -> (Vec<ReadingRule>, Vec<LimitRow>) {
    let wanted = |n: &str| name.is_none_or(|name| name == n);
    let whole = name.is_some();
    (
        upkeep::rules()
            .filter(|r| wanted(r.name))
            .map(|r| rule(r, whole))
            .collect(),
        LIMITS
            .iter()
            .filter(|l| wanted(l.name))
            .map(|l| limit(l, whole))
            .collect(),
    )
}
