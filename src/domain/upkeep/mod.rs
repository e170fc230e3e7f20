//! Upkeep: what readings mean, what wears, and when something is due.
//!
//! [`conclude`] puts every rule to one entry. A rule is one value in the table
//! of its topic: what it reads, on which classes, on which source, and the
//! function that speaks. It never says that something may be done.

pub mod counter;
pub mod duty;
pub mod example;
pub mod fused;
pub mod interval;
pub mod limits;
pub mod oil;
pub mod pcb;
pub mod pole;
mod regulator;
pub mod sampling;
mod seen;

use serde::Serialize;

use super::asset::{Class, Defect, Entry, Nameplate, Pole, Priority, Record, Standing, Stands};
use super::finding::{Question, RuleStanding, Severity, Sighted, defect_caution, defect_row};
pub use limits::Limits;

/// Stands where a rule does, for a defect that was written down as found.
pub const FOUND: &str = "defect-found";

/// Common practice without a source.
pub(crate) const PRACTICE: &str = "common practice, no source";

/// What is on record about the thing an entry is about.
#[derive(Debug, Clone, Default)]
pub struct Subject {
    pub name: String,
    /// `None`: a structure.
    pub class: Option<Class>,
    /// Empty when none is on record.
    pub plate: Nameplate,
    pub pole: Option<Pole>,
    /// The state on record says bypassed.
    pub bypassed: bool,
    pub limits: Limits,
}

impl Subject {
    /// What the record itself says; of a position, whether it is bypassed.
    #[must_use]
    pub fn of(record: &Record, limits: &Limits) -> Subject {
        let mut out = Subject {
            name: record.name(),
            limits: limits.clone(),
            ..Subject::default()
        };
        match record {
            Record::Unit(u) => {
                out.class = Some(u.class);
                out.plate = u.nameplate.clone();
            }
            Record::Position(p) => {
                out.class = Some(p.class);
                let stands = p.state.as_ref().map(|s| s.stands);
                out.bypassed = stands == Some(Stands::Bypassed);
            }
            Record::Structure(s) => out.pole.clone_from(&s.pole),
            _ => {}
        }
        out
    }

    /// A figure of the plate that somebody has read.
    #[must_use]
    pub fn read_number(&self, key: &str) -> Option<f64> {
        let value = self.plate.stated(key);
        (value.standing == Standing::Known)
            .then(|| value.as_number())
            .flatten()
    }

    /// A word of the plate that somebody has read.
    #[must_use]
    pub fn read_text(&self, key: &str) -> Option<String> {
        let value = self.plate.stated(key);
        (value.standing == Standing::Known)
            .then(|| value.as_text().map(ToString::to_string))
            .flatten()
    }
}

/// One entry with what came before it.
#[derive(Debug, Clone, Copy)]
pub struct Case<'a> {
    pub subject: &'a Subject,
    pub entry: &'a Entry,
    /// Entries about the same thing, oldest first.
    pub earlier: &'a [&'a Entry],
}

impl Case<'_> {
    fn number(&self, key: &str) -> Option<f64> {
        self.entry.readings.get(key)?.as_number()
    }

    fn text(&self, key: &str) -> Option<&str> {
        self.entry.readings.get(key)?.as_text()
    }

    fn is(&self, key: &str, word: &str) -> bool {
        self.text(key) == Some(word)
    }
}

/// An order that a conclusion proposes.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct Proposed {
    pub need: String,
    pub priority: Priority,
}

/// What a rule says of an entry.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Conclusion {
    pub level: Severity,
    pub text: String,
    /// Defects that the readings amount to.
    pub bears: Vec<Defect>,
    pub rule: &'static str,
    pub source: &'static str,
    pub standing: RuleStanding,
    pub proposes: Option<Proposed>,
    /// Whether it stays on the card until a later reading says otherwise; a
    /// defect stays by itself, until it is cleared.
    #[serde(skip)]
    pub lasting: bool,
    /// Questions that it caps at unknown for as long as it stands, where it is
    /// no defect.
    #[serde(skip)]
    pub caps: &'static [Question],
}

impl Conclusion {
    /// What was read, without the advice that follows the colon.
    #[must_use]
    pub fn read(&self) -> &str {
        self.text.split(": ").next().unwrap_or(&self.text)
    }
}

/// What the function of a rule gives back; the rule's source and standing
/// stand in where it names none.
#[derive(Debug, Clone)]
pub struct Said {
    level: Severity,
    text: String,
    bears: Vec<Defect>,
    proposes: Option<Proposed>,
    lasting: bool,
    caps: &'static [Question],
    basis: Option<(&'static str, RuleStanding)>,
}

impl Said {
    fn look(text: impl Into<String>) -> Said {
        Said {
            level: Severity::Look,
            text: text.into(),
            bears: Vec::new(),
            proposes: None,
            lasting: false,
            caps: &[],
            basis: None,
        }
    }

    fn stop(text: impl Into<String>) -> Said {
        Said {
            level: Severity::Stop,
            ..Said::look(text)
        }
    }

    /// What was read amounts to a defect: its level and its advice.
    fn defect(read: &str, defect: Defect) -> Said {
        let row = defect_row(defect);
        Said {
            level: row.severity,
            bears: vec![defect],
            ..Said::look(format!("{read}: {}", row.advice))
        }
    }

    fn proposing(mut self, priority: Priority, need: impl Into<String>) -> Said {
        self.proposes = Some(Proposed {
            need: need.into(),
            priority,
        });
        self
    }

    fn lasting(mut self) -> Said {
        self.lasting = true;
        self
    }

    /// It stays on the card, and until a later reading says otherwise these
    /// questions are no better than unknown. Which ones is common practice, no
    /// source, as with defects.
    fn capping(mut self, caps: &'static [Question]) -> Said {
        self.caps = caps;
        self.lasting()
    }

    fn on(mut self, source: &'static str, standing: RuleStanding) -> Said {
        self.basis = Some((source, standing));
        self
    }
}

/// One rule over readings.
#[derive(Debug)]
pub struct Rule {
    pub name: &'static str,
    /// Readings of which at least one must be there; where it says `all`, each.
    pub reads: &'static [&'static str],
    pub all: bool,
    /// Classes it is put to; every one, and structures, when empty.
    pub on: &'static [Class],
    pub source: &'static str,
    pub standing: RuleStanding,
    pub judge: fn(&Case<'_>) -> Vec<Said>,
}

/// Every rule, by topic.
pub static RULES: &[&[Rule]] = &[
    oil::RULES,
    pcb::RULES,
    regulator::RULES,
    seen::RULES,
    pole::RULES,
    counter::RULES,
];

/// Every rule, one after the other.
pub fn rules() -> impl Iterator<Item = &'static Rule> {
    RULES.iter().copied().flatten()
}

impl Rule {
    /// Whether the rule has something to read in an entry.
    #[must_use]
    pub fn reads_of(&self, subject: &Subject, entry: &Entry) -> bool {
        let on = self.on.is_empty() || subject.class.is_some_and(|c| self.on.contains(&c));
        let has = |k: &&str| entry.readings.get(*k).is_some_and(|v| v.value.is_some());
        on && if self.all {
            self.reads.iter().all(has)
        } else {
            self.reads.iter().any(has)
        }
    }

    /// What it says of an entry; nothing where it has nothing to read.
    #[must_use]
    pub fn put_to(&self, case: &Case<'_>) -> Vec<Conclusion> {
        if !self.reads_of(case.subject, case.entry) {
            return Vec::new();
        }
        let said = (self.judge)(case).into_iter();
        said.map(|s| {
            let (source, standing) = s.basis.unwrap_or((self.source, self.standing));
            let unconfirmed = match standing {
                RuleStanding::FromMemory => " (limit from memory, unconfirmed)",
                _ => "",
            };
            Conclusion {
                level: s.level,
                text: format!("{}{unconfirmed}", s.text),
                bears: s.bears,
                rule: self.name,
                source,
                standing,
                proposes: s.proposes,
                lasting: s.lasting,
                caps: s.caps,
            }
        })
        .collect()
    }
}

/// Everything the rules say of an entry, STOP before LOOK.
#[must_use]
pub fn conclude(case: &Case<'_>) -> Vec<Conclusion> {
    let mut out: Vec<Conclusion> = rules().flat_map(|r| r.put_to(case)).collect();
    let found: Vec<Conclusion> = case
        .entry
        .finds
        .iter()
        .filter(|d| !case.entry.clears.contains(d))
        .filter(|d| !out.iter().any(|c| c.bears.contains(d)))
        .map(|d| found(case, *d))
        .collect();
    out.extend(found);
    out.sort_by_key(|c| c.level);
    out
}

/// A defect that was written down as found, without a reading that shows it.
fn found(case: &Case<'_>, defect: Defect) -> Conclusion {
    let row = defect_row(defect);
    let (priority, need) = row.order;
    Conclusion {
        level: row.severity,
        text: defect_caution(defect, Sighted::once(case.entry.on), "").text,
        bears: vec![defect],
        rule: FOUND,
        source: PRACTICE,
        standing: RuleStanding::CommonPractice,
        proposes: Some(Proposed {
            need: need.to_string(),
            priority,
        }),
        lasting: false,
        caps: &[],
    }
}

/// The defects that the readings of an entry amount to, whether or not it
/// names them.
#[must_use]
pub fn implied(subject: &Subject, entry: &Entry) -> Vec<Defect> {
    let case = Case {
        subject,
        entry,
        earlier: &[],
    };
    let mut out = Vec::new();
    for defect in rules().flat_map(|r| r.put_to(&case)).flat_map(|c| c.bears) {
        if !out.contains(&defect) {
            out.push(defect);
        }
    }
    out
}

/// What still stands of the conclusions that are no defect: of each rule the
/// last entry that it reads speaks. `entries` come oldest first.
#[must_use]
pub fn lasting<'a>(subject: &Subject, entries: &[&'a Entry]) -> Vec<(Conclusion, &'a Entry)> {
    let mut out = Vec::new();
    for rule in rules() {
        let last = entries.iter().rposition(|e| rule.reads_of(subject, e));
        let Some(at) = last else { continue };
        let case = Case {
            subject,
            entry: entries[at],
            earlier: &entries[..at],
        };
        let said = rule.put_to(&case).into_iter();
        out.extend(
            said.filter(|c| c.lasting && c.bears.is_empty())
                .map(|c| (c, entries[at])),
        );
    }
    out
}

/// Entries oldest first: by day, then as they were entered; the undated first.
pub fn oldest_first(entries: &mut [(i64, Entry)]) {
    entries.sort_by_key(|(entered, e)| (e.on, *entered));
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_rule_has_a_name_of_its_own_a_source_and_something_to_read() {
        let mut names = std::collections::BTreeSet::new();
        for r in rules() {
            assert!(names.insert(r.name), "{} twice", r.name);
            assert!(!r.source.is_empty() && !r.reads.is_empty(), "{}", r.name);
        }
        assert!(names.len() > 20, "{}", names.len());
    }
}
