//! The rules: each is one value that puts one question to the things it
//! applies to. A new rule is one value in the table of its topic's file, with
//! its worked example in it; nothing else has to know. [`RULES`] takes the
//! tables together.

mod altitude;
mod arrester;
mod arrester_table;
mod bil;
mod bound;
mod break_;
mod break_voltage;
mod capacitor;
mod carry;
mod carry_wire;
mod choices;
mod defects;
mod facts;
mod heat;
mod inrush;
mod last;
mod link;
pub mod misfit;
mod overload;
mod passing;
mod regulator;
mod ride;
mod see;
mod stand;
mod standing;
mod timed;
mod timing;
mod transformer;
mod unjudged;
mod voltage;

pub use altitude::altitude_factors;
pub use arrester::margin_percent;
pub use arrester_table::{
    APPLIED, APPLIED_OTHER, Applied, DISCHARGE, Discharge, MCOV, applied_mcov, smallest_mcov,
    tov_factor,
};
pub use bil::{LISTED as LISTED_BIL, ListedBil};
pub use bound::{Ask, Bound, Compare, short, with_unit};
pub use break_::line_ground_factor;
pub use capacitor::{
    SHORT_OVERVOLTAGES, kvar_at, line_amps as capacitor_line_amps, voltage_rise_percent,
};
pub use choices::{
    Allowed, CHOICES, ChoiceDef, Choices, RECLOSER_INTERVAL, RELAY_INTERVAL, RELAY_RESET, TIGHT,
};
pub use defects::{
    Reach, notice_is_empty, notice_reach, notice_stands, open_defects, serials_backwards,
};
pub use facts::{
    Asked, Cap, Connected, Facts, FaultGiven, Given, Part, Subject, UnitHere, around, covers,
};
pub use heat::{Metal, circular_mils, onderdonk_amps, short_time_amps, short_time_factor, wire_of};
pub use link::{LINK_LIST, LinkType, link_continuous_amps, parse_link};
pub use overload::{OVERLOADS, Overload};
pub use regulator::{REGULATOR_SIZES, RegulatorSize, supplementary_amps};
pub use see::beyond_the_ceiling;
pub use standing::{Of, OpenDefect, OpenReading};
pub use timed::{Supplied, ends};
pub use timing::{curve_setting, fault_on_s};
pub use transformer::{
    full_load_amps, infinite_bus_amps, inrush_amps, note_of as transformer_note,
    notes as transformer_notes,
};
pub use unjudged::applies;
pub use voltage::{Range, SYSTEMS, SystemVoltage, system_max_kv};

use super::asset::{Class, ElementKind};
use super::finding::{ChoiceUsed, Finding, Question, RuleStanding, Verdict};

/// One rule.
#[derive(Clone, Copy)]
pub struct Rule {
    pub name: &'static str,
    pub question: Question,
    /// What it is put to.
    pub on: &'static [Part],
    /// Ratings, settings and inputs it needs.
    pub needs: &'static [&'static str],
    pub formula: &'static str,
    pub source: &'static str,
    pub standing: RuleStanding,
    /// Named choices it rests on.
    pub choices: &'static [&'static str],
    /// Recorded values, by key, that the answer rests on: with any of them
    /// unknown or assumed there is no pass.
    pub rests_on: &'static [&'static str],
    /// A worked example as JSON: an invented position and what is asked of it.
    /// Written so that the rule has figures and, where it can, passes.
    pub example: &'static str,
    /// `None` when it has nothing to say about this one.
    pub judge: fn(&'static Rule, &Case<'_>, &Subject<'_>) -> Option<Finding>,
}

impl Rule {
    /// The blank that every rule starts from.
    const fn of(question: Question) -> Rule {
        Rule {
            name: "",
            question,
            on: &[],
            needs: &[],
            formula: "",
            source: "common practice, no source",
            standing: RuleStanding::CommonPractice,
            choices: &[choices::TIGHT],
            rests_on: &[],
            example: "",
            judge: |_, _, _| None,
        }
    }
}

/// What a rule is given.
pub struct Case<'a> {
    pub facts: &'a Facts,
    pub asked: &'a Asked,
    pub choices: &'a Choices,
    /// Everything in series, for rules that look at a neighbour.
    pub subjects: &'a [Subject<'a>],
}

/// Every rule, by topic.
pub static RULES: &[&[Rule]] = &[
    carry::RULES,
    carry_wire::RULES,
    regulator::RULES,
    transformer::RULES,
    capacitor::RULES,
    ride::RULES,
    inrush::RULES,
    break_::RULES,
    see::RULES,
    stand::RULES,
    passing::RULES,
    heat::RULES,
    bil::RULES,
    arrester::RULES,
    altitude::RULES,
    last::RULES,
    unjudged::RULES,
];

/// Every rule, one after the other.
pub fn rules() -> impl Iterator<Item = &'static Rule> {
    RULES.iter().copied().flatten()
}

impl Rule {
    /// A finding of this rule about a subject, without figures.
    #[must_use]
    pub fn finding(
        &self,
        case: &Case<'_>,
        subject: &Subject<'_>,
        verdict: Verdict,
        because: String,
    ) -> Finding {
        Finding {
            rule: self.name,
            question: self.question,
            element: subject.called.clone(),
            slot: subject.slot.clone(),
            path: subject.path,
            value: None,
            limit: None,
            unit: "",
            margin_percent: None,
            verdict,
            because,
            source: self.source,
            standing: self.standing,
            choices: self.used(case.choices),
            read_next: None,
        }
    }

    fn used(&self, choices: &Choices) -> Vec<ChoiceUsed> {
        self.choices.iter().map(|name| choices.used(name)).collect()
    }
}

impl Case<'_> {
    /// The load as it is asked. What a capacitor bank draws follows from its
    /// plates, unless a load is typed or recorded.
    #[must_use]
    pub fn load(&self) -> Ask {
        let load = self.asked.load.as_ref();
        if load.is_none() && self.facts.position.class == Class::Capacitor {
            return capacitor::bank_amps(self);
        }
        Ask {
            what: "load",
            value: load.map(|g| g.value),
            words: load.map_or_else(
                || "load neither recorded nor typed".to_string(),
                |g| format!("load {} A ({})", short(g.value), g.origin),
            ),
            read: "peak load: record it or type it".to_string(),
            doubts: Vec::new(),
        }
    }

    /// Whether something of these parts is in series with the subject.
    #[must_use]
    pub fn beside(&self, subject: &Subject<'_>, parts: &[Part]) -> bool {
        self.subjects
            .iter()
            .any(|s| s.path == subject.path && s.shares_slot(subject) && parts.contains(&s.part))
    }
}

/// Parts that are not serialised units.
pub(crate) const fn element(kind: ElementKind) -> Part {
    Part::Element(kind)
}

pub(crate) const fn unit(class: Class) -> Part {
    Part::Unit(class)
}

/// Puts every rule to everything in series. Each question that applies to a
/// thing gets at least one finding: where no rule has an answer, a named
/// unknown.
#[must_use]
pub fn judge(facts: &Facts, asked: &Asked, choices: &Choices) -> Vec<Finding> {
    let subjects = facts.subjects(asked.bypass);
    let case = Case {
        facts,
        asked,
        choices,
        subjects: &subjects,
    };
    let mut out = unjudged::no_bypass(&case);
    for subject in &subjects {
        let first = out.len();
        for rule in rules().filter(|r| r.on.contains(&subject.part)) {
            if rule.name == unjudged::NAME {
                continue;
            }
            if let Some(mut finding) = (rule.judge)(rule, &case, subject) {
                cap(&mut finding, subject);
                out.push(finding);
            }
        }
        let mut rest = unjudged::silent(&case, subject, &out[first..]);
        rest.iter_mut().for_each(|f| cap(f, subject));
        out.append(&mut rest);
    }
    out
}

/// The finding that governs a question: the worst verdict and, among equals,
/// the least margin.
#[must_use]
pub fn governing(findings: &[Finding], question: Question) -> Option<&Finding> {
    findings
        .iter()
        .filter(|f| f.question == question)
        .max_by(|a, b| a.verdict.cmp(&b.verdict).then_with(|| tighter(a, b)))
}

/// Orders by margin, least last; a finding without a margin comes first.
fn tighter(a: &Finding, b: &Finding) -> std::cmp::Ordering {
    let margin = |f: &Finding| f.margin_percent.unwrap_or(f64::INFINITY);
    margin(b).total_cmp(&margin(a))
}

fn cap(finding: &mut Finding, subject: &Subject<'_>) {
    for cap in &subject.caps {
        if cap.question.is_none_or(|q| q == finding.question) {
            finding.cap(&cap.why);
        }
    }
}

#[cfg(test)]
mod tests {
    use std::collections::BTreeSet;

    use super::*;

    #[test]
    fn every_rule_has_a_name_of_its_own_a_formula_and_a_source() {
        let mut names = BTreeSet::new();
        for rule in rules() {
            assert!(names.insert(rule.name), "{} twice", rule.name);
            assert!(!rule.formula.is_empty() && !rule.source.is_empty());
            assert!(!rule.on.is_empty(), "{}", rule.name);
            for choice in rule.choices {
                assert!(CHOICES.iter().any(|c| c.name == *choice), "{choice}");
            }
            assert!(!rule.example.is_empty(), "{}: no example", rule.name);
        }
    }
}
