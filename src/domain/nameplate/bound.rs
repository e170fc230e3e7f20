//! Limits worked out from what is recorded, and the one comparison that every
//! rule makes. Unknown never passes; assumed never passes either, though an
//! assumed rating that is exceeded fails.

use std::fmt::Write as _;

use super::facts::Subject;
use super::{Case, Rule};
use crate::domain::asset::{Standing, Stated};
use crate::domain::finding::{Finding, Verdict};
use crate::units::figure;

/// A figure rounded as far as a sentence needs it.
#[must_use]
pub fn short(value: f64) -> String {
    let places = match value.abs() {
        v if v >= 1_000.0 => 1.0,
        v if v >= 100.0 => 10.0,
        _ => 1_000.0,
    };
    figure((value * places).round() / places)
}

/// `100 A`; without a unit just the number.
#[must_use]
pub fn with_unit(value: f64, unit: &str) -> String {
    format!("{} {unit}", short(value)).trim_end().to_string()
}

/// A limit: its value, if there is one, the words it is made of, and what has
/// to be read before it can be relied on.
#[derive(Debug, Clone, PartialEq)]
pub struct Bound {
    pub value: Option<f64>,
    pub words: String,
    /// Conditions that nobody has confirmed; while there are any it gives no pass.
    pub doubts: Vec<String>,
    /// What to read next.
    pub read: Option<String>,
}

impl Bound {
    /// A recorded rating; `label` is what it is, `read` where it can be read.
    #[must_use]
    pub fn of(stated: &Stated, label: &str, unit: &str, read: &str) -> Bound {
        let Some(value) = stated.as_number() else {
            return Bound::unread(label, read);
        };
        let figure = format!("{label} {}", with_unit(value, unit));
        let provenance = stated.provenance();
        if stated.standing == Standing::Assumed {
            return Bound {
                value: Some(value),
                words: format!("{figure} assumed"),
                doubts: vec![format!(
                    "{label} reads {} ({provenance}; nobody has read it)",
                    with_unit(value, unit)
                )],
                read: Some(read.to_string()),
            };
        }
        let words = if provenance.is_empty() {
            figure
        } else {
            format!("{figure} ({provenance})")
        };
        Bound {
            value: Some(value),
            words,
            doubts: Vec::new(),
            read: None,
        }
    }

    /// A rating that nobody has read.
    #[must_use]
    pub fn unread(label: &str, read: &str) -> Bound {
        Bound {
            value: None,
            words: format!("{label} unread"),
            doubts: Vec::new(),
            read: Some(read.to_string()),
        }
    }

    /// The limit times a factor, in words `x 180 %`.
    #[must_use]
    pub fn times(mut self, factor: f64, words: &str, unit: &str) -> Bound {
        self.value = self.value.map(|v| v * factor);
        self.words = match self.value {
            Some(v) => format!("{} {words} = {}", self.words, with_unit(v, unit)),
            None => format!("{} {words}", self.words),
        };
        self
    }

    /// Adds a condition that nobody has confirmed.
    #[must_use]
    pub fn doubted(mut self, why: impl Into<String>, read: impl Into<String>) -> Bound {
        self.doubts.push(why.into());
        self.read.get_or_insert(read.into());
        self
    }

    /// The lower of two; unknown when either is.
    #[must_use]
    pub fn least(self, other: Bound) -> Bound {
        let value = match (self.value, other.value) {
            (Some(a), Some(b)) => Some(a.min(b)),
            _ => None,
        };
        Bound {
            value,
            words: format!("the least of {} and {}", self.words, other.words),
            doubts: [self.doubts, other.doubts].concat(),
            read: self.read.or(other.read),
        }
    }
}

/// What is asked of the limit.
#[derive(Debug, Clone, PartialEq)]
pub struct Ask {
    /// `load`.
    pub what: &'static str,
    pub value: Option<f64>,
    /// `load 95 A (typed)`; with factors, `fault 4,310 A x 1.25 = 5,388 A`.
    pub words: String,
    /// What to read when there is no value.
    pub read: String,
    /// Conditions under which the value is the one that counts.
    pub doubts: Vec<String>,
}

/// One comparison to be made.
pub struct Compare<'a> {
    pub rule: &'static Rule,
    pub case: &'a Case<'a>,
    pub subject: &'a Subject<'a>,
    pub unit: &'static str,
    pub ask: Ask,
    pub bound: Bound,
    /// A margin below this many percent is tight.
    pub tight_percent: f64,
    /// The value must reach the limit instead of staying under it.
    pub at_least: bool,
    /// Said after the comparison.
    pub note: String,
}

impl Compare<'_> {
    /// Makes the comparison.
    #[must_use]
    pub fn finding(self) -> Finding {
        let (verdict, margin) = self.verdict();
        let read_next = match verdict {
            Verdict::Unknown if self.ask.value.is_none() => Some(self.ask.read.clone()),
            Verdict::Unknown => self
                .bound
                .read
                .clone()
                .or_else(|| Some(self.ask.read.clone()).filter(|r| !r.is_empty())),
            _ => None,
        };
        let because = self.because(verdict, margin);
        let mut finding = self.rule.finding(self.case, self.subject, verdict, because);
        finding.value = self.ask.value;
        finding.limit = self.bound.value;
        finding.unit = self.unit;
        finding.margin_percent = margin;
        finding.read_next = read_next;
        finding
    }

    fn verdict(&self) -> (Verdict, Option<f64>) {
        let (Some(value), Some(limit)) = (self.ask.value, self.bound.value) else {
            return (Verdict::Unknown, None);
        };
        let room = if self.at_least {
            value - limit
        } else {
            limit - value
        };
        let margin = (limit > 0.0).then_some(room / limit * 100.0);
        let doubted = !self.bound.doubts.is_empty() || !self.ask.doubts.is_empty();
        let verdict = if room < -1e-9 * limit {
            Verdict::Fails
        } else if doubted {
            Verdict::Unknown
        } else if margin.is_none_or(|m| m < self.tight_percent - 1e-9) {
            Verdict::Tight
        } else {
            Verdict::Within
        };
        (verdict, margin)
    }

    fn because(&self, verdict: Verdict, margin: Option<f64>) -> String {
        let mut out = format!("{} against {}", self.ask.words, self.bound.words);
        if let (Some(value), Some(limit), Some(margin)) = (self.ask.value, self.bound.value, margin)
        {
            let (a, b) = if self.at_least {
                (value, limit)
            } else {
                (limit, value)
            };
            out.push_str(&format!(
                "; margin ({} - {}) / {} = {} %",
                short(a),
                short(b),
                short(limit),
                figure((margin * 10.0).round() / 10.0)
            ));
        }
        out.push('.');
        match verdict {
            Verdict::Tight => out.push_str(&format!(
                " Less than the chosen {} %.",
                figure(self.tight_percent)
            )),
            Verdict::Unknown => self.doubts(&mut out),
            _ => {}
        }
        if !self.note.is_empty() {
            out.push(' ');
            out.push_str(&self.note);
        }
        sentence(&out)
    }

    /// Every doubt is a condition that would have to hold.
    fn doubts(&self, out: &mut String) {
        if self.ask.value.is_none() || self.bound.value.is_none() {
            out.push_str(" No pass: a figure is missing.");
            return;
        }
        let all: Vec<&str> = self
            .bound
            .doubts
            .iter()
            .chain(&self.ask.doubts)
            .map(String::as_str)
            .collect();
        let _ = write!(out, " Within only if {}.", all.join("; and "));
    }
}

/// The text with a capital at its head.
#[must_use]
pub fn sentence(text: &str) -> String {
    let mut chars = text.chars();
    match chars.next() {
        Some(first) => first.to_uppercase().chain(chars).collect(),
        None => String::new(),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn figures_are_no_longer_than_the_sentence_needs() {
        assert_eq!(short(3_194.337), "3,194");
        assert_eq!(short(182.349), "182.3");
        assert_eq!(short(13.086_999), "13.087");
    }

    #[test]
    fn the_least_of_known_and_unread_is_unread() {
        let known = Bound::of(&Stated::number(100.0), "coil", "A", "coil");
        let least = known.least(Bound::unread("frame", "frame"));
        assert_eq!(least.value, None);
        assert_eq!(least.read.as_deref(), Some("frame"));
    }
}
