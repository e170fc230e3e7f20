//! The rules listed, and one of them explained with an example that the rule
//! itself works out.

mod upkeep;

use std::collections::BTreeMap;

use serde::{Deserialize, Serialize};

use super::{Failure, JSON_VERSION};
use crate::domain::asset::{
    Class, Conductor, Element, Entry, Grounding, Nameplate, Position, RecordId, Settings, Span,
    Stated, Unit,
};
use crate::domain::finding::{Finding, Question, RuleStanding};
use crate::domain::nameplate::{
    Asked, CHOICES, ChoiceDef, Choices, Connected, Facts, FaultGiven, Given, Rule, UnitHere, judge,
    rules,
};
use crate::domain::outlier::{OUTLIERS, Outlier};
use crate::domain::pairs::{self, PAIR_RULES, PairFinding, PairRule};

pub use upkeep::{LimitRow, ReadingRule, Worked, readings};

/// One rule, as far as a list shows it.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Row {
    pub name: &'static str,
    pub question: Question,
    pub source: &'static str,
    pub standing: RuleStanding,
}

/// A named choice that a rule rests on.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct ChoiceRow {
    pub name: &'static str,
    /// What it is where the utility has not said otherwise.
    pub default: String,
    pub allowed: String,
    pub about: &'static str,
    pub source: &'static str,
    pub standing: RuleStanding,
}

/// One rule explained.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Explained {
    pub applies_to: Vec<&'static str>,
    pub needs: Vec<&'static str>,
    pub formula: &'static str,
    pub choices: Vec<ChoiceRow>,
    /// A finding of the rule on an invented position; none when it never speaks.
    pub example: Option<Finding>,
}

/// `rules`, or `rules NAME`.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct RulesReport {
    pub polecard: u32,
    pub rules: Vec<Row>,
    /// Named choices of the utility; all of them in the list.
    pub choices: Vec<ChoiceRow>,
    /// Rules about two devices in series; see `polecard times`.
    pub pairs: Vec<&'static PairRule>,
    /// Rules over what was read in an inspection or a test.
    pub readings: Vec<ReadingRule>,
    /// Limits that these hold readings against; the utility sets them as choices.
    pub limits: Vec<LimitRow>,
    /// Published values that do not fit the pattern of their own table.
    pub outliers: &'static [Outlier],
    #[serde(skip_serializing_if = "Option::is_none")]
    pub explained: Option<Explained>,
    /// Of the one rule about pairs that is explained.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub pair_example: Option<PairFinding>,
}

fn row(rule: &'static Rule) -> Row {
    Row {
        name: rule.name,
        question: rule.question,
        source: rule.source,
        standing: rule.standing,
    }
}

fn choice(def: &'static ChoiceDef) -> ChoiceRow {
    ChoiceRow {
        name: def.name,
        default: def.default.to_string(),
        allowed: def.allows(),
        about: def.about,
        source: def.source,
        standing: def.standing,
    }
}

/// Every rule.
#[must_use]
pub fn list() -> RulesReport {
    let (readings, limits) = readings(None);
    RulesReport {
        readings,
        limits,
        polecard: JSON_VERSION,
        rules: rules().map(row).collect(),
        choices: CHOICES.iter().map(choice).collect(),
        pairs: PAIR_RULES.to_vec(),
        outliers: OUTLIERS,
        explained: None,
        pair_example: None,
    }
}

/// That no rule is called so, with those that sound alike.
/// No rule of that name; at most eight that sound alike.
fn no_such(name: &str, wanted: &str) -> Failure {
    let (of_readings, limits) = readings(None);
    let others = of_readings.iter().map(|r| r.name);
    let others = others.chain(limits.iter().map(|l| l.name));
    let alike: Vec<&str> = rules()
        .map(|r| r.name)
        .chain(others)
        .filter(|n| n.contains(wanted) || wanted.contains(n))
        .take(8)
        .collect();
    let refused = Failure::not_found(format!("no rule is called {name}"));
    if alike.is_empty() {
        refused.hint("polecard rules lists them all")
    } else {
        refused.hint(format!("did you mean {}?", alike.join(", ")))
    }
}

/// One rule by its name.
///
/// # Errors
/// Not found when no rule is called so; the rules that sound alike are named.
pub fn explain(name: &str) -> Result<RulesReport, Failure> {
    let wanted = name.trim().to_ascii_lowercase();
    let nothing = RulesReport {
        polecard: JSON_VERSION,
        rules: Vec::new(),
        choices: Vec::new(),
        pairs: Vec::new(),
        readings: Vec::new(),
        limits: Vec::new(),
        outliers: &[],
        explained: None,
        pair_example: None,
    };
    if let Some(pair) = PAIR_RULES.iter().find(|r| r.name == wanted) {
        let of_it = CHOICES.iter().filter(|c| pair.choices.contains(&c.name));
        return Ok(RulesReport {
            pairs: vec![*pair],
            pair_example: pairs::example(pair),
            choices: of_it.map(choice).collect(),
            ..nothing
        });
    }
    let (of_readings, limits) = readings(Some(&wanted));
    if !(of_readings.is_empty() && limits.is_empty()) {
        return Ok(RulesReport {
            readings: of_readings,
            limits,
            ..nothing
        });
    }
    let rule = rules()
        .find(|r| r.name == wanted)
        .ok_or_else(|| no_such(name, &wanted))?;
    let mut applies_to: Vec<&'static str> = rule.on.iter().map(|p| p.word()).collect();
    applies_to.sort_unstable();
    applies_to.dedup();
    Ok(RulesReport {
        rules: vec![row(rule)],
        explained: Some(Explained {
            applies_to,
            needs: rule.needs.to_vec(),
            formula: rule.formula,
            choices: CHOICES
                .iter()
                .filter(|c| rule.choices.contains(&c.name))
                .map(choice)
                .collect(),
            example: example(rule),
        }),
        ..nothing
    })
}

/// A worked example as a rule writes it: a position, what stands in it, and
/// what is asked. What it leaves out is filled in from [`Sample::facts`].
#[derive(Debug, Clone, Default, Deserialize)]
#[serde(deny_unknown_fields, default)]
pub struct Sample {
    pub class: Option<Class>,
    pub phases: Option<String>,
    pub plate: Nameplate,
    pub elements: Vec<Element>,
    pub bypass: Vec<Element>,
    pub settings: Settings,
    /// Line to line; 12.47 without.
    pub kv_ll: Option<f64>,
    pub connected_kva: Option<f64>,
    pub load: Option<f64>,
    pub fault: Option<f64>,
    pub x_over_r: Option<f64>,
    pub min_fault: Option<f64>,
    pub outage_min: Option<f64>,
    pub fault_on_s: Option<f64>,
    pub unbalance: Option<f64>,
    pub choices: BTreeMap<String, Stated>,
    /// What is written about the unit.
    pub written: Vec<Entry>,
}

/// The conductor of the example spans, and one of copper.
const WIRES: &str = r##"[
  {"conductor": "1/0 ACSR", "ampacity_amps": 242, "conditions": "75 C conductor, 25 C air, 2 ft/s wind, sun"},
  {"conductor": "#6 Cu", "ampacity_amps": 120, "conditions": "75 C conductor, 25 C air, 2 ft/s wind, sun"}
]"##;

impl Sample {
    /// The example of a rule.
    ///
    /// # Panics
    /// Never: a test reads the example of every rule.
    #[must_use]
    pub fn of(rule: &Rule) -> Sample {
        serde_json::from_str(rule.example)
            .unwrap_or_else(|e| panic!("the example of {} is malformed: {e}", rule.name))
    }

    /// The invented place: a span of 1/0 ACSR on a multigrounded system.
    ///
    /// # Panics
    /// Never: the parts are fixed and a test builds every example.
    #[must_use]
    pub fn facts(&self) -> Facts {
        let class = self.class.unwrap_or(Class::Recloser);
        let mut position: Position = serde_json::from_value(serde_json::json!({
            "position": "EX-1", "class": class, "structure": "S", "toward": "T"
        }))
        .expect("the example position is well formed; a test builds it");
        position.phases.clone_from(&self.phases);
        position.elements.clone_from(&self.elements);
        position.bypass.clone_from(&self.bypass);
        position.settings = self.settings.clone();
        let unit = (!self.plate.is_empty()).then(|| UnitHere {
            unit: Unit {
                unit: "EX-1".into(),
                id: RecordId::default(),
                class,
                names: vec![],
                nameplate: self.plate.clone(),
                deployments: vec![],
                note: None,
            },
            slot: None,
            also_at: None,
        });
        let span: Span =
            serde_json::from_str(r#"{"span": {"from": "S", "to": "T", "conductor": "1/0 ACSR"}}"#)
                .expect("the example span is well formed; a test reads it");
        let wires: Vec<Conductor> = serde_json::from_str(WIRES)
            .expect("the example conductors are well formed; a test reads them");
        Facts {
            units: unit.into_iter().collect(),
            spans: vec![span],
            conductors: wires
                .into_iter()
                .map(|w| (w.conductor.clone(), w))
                .collect(),
            nominal_kv_ll: Some(self.kv_ll.unwrap_or(12.47)),
            grounding: Some(Grounding::Multigrounded),
            protecting: Some("breaker EX-BK-1".to_string()),
            written: BTreeMap::from([("EX-1".to_string(), self.written.clone())]),
            connected: self.connected_kva.map(|kva| Connected {
                phase_kva: Some(kva),
                origin: "example".to_string(),
                doubt: None,
            }),
            ..Facts::of(position)
        }
    }

    /// What is asked of it.
    #[must_use]
    pub fn asked(&self) -> Asked {
        let given = |value: Option<f64>| {
            value.map(|value| Given {
                value,
                origin: "example".to_string(),
            })
        };
        Asked {
            load: given(self.load),
            fault: self.fault.map(|amps| FaultGiven {
                amps,
                origin: "example".to_string(),
                x_over_r: self.x_over_r,
                typed: true,
                kind: None,
            }),
            min_fault: given(self.min_fault),
            outage_min: given(self.outage_min),
            fault_on_s: given(self.fault_on_s),
            unbalance: given(self.unbalance),
            ..Asked::default()
        }
    }

    /// The named choices it is judged by.
    #[must_use]
    pub fn choices(&self) -> Choices {
        Choices::from_map(&self.choices).0
    }

    /// Every finding about it.
    #[must_use]
    pub fn judge(&self) -> Vec<Finding> {
        judge(&self.facts(), &self.asked(), &self.choices())
    }
}

/// What the rule says to its own example.
fn example(rule: &Rule) -> Option<Finding> {
    Sample::of(rule)
        .judge()
        .into_iter()
        .filter(|f| f.rule == rule.name)
        .max_by_key(|f| (f.limit.is_some(), f.verdict.passes()))
}

#[cfg(test)]
mod tests {
    use super::*;

    /// With figures and passing; what breaks nothing, and what no rule judges,
    /// has neither.
    #[test]
    fn every_rule_works_out_the_example_it_carries() {
        for rule in rules() {
            let found = example(rule).unwrap_or_else(|| panic!("{}: silent", rule.name));
            assert!(!found.because.is_empty());
            // These speak only where they take a pass away.
            if matches!(
                rule.name,
                "break-at-voltage" | "carry-altitude-class" | "stand-altitude-class"
            ) {
                assert!(!found.verdict.passes(), "{}: {found:#?}", rule.name);
                continue;
            }
            let figures = !matches!(
                rule.name,
                "break-sectionalizer" | "break-switch" | "break-blade" | "no-rule"
            );
            assert_eq!(found.verdict.passes(), figures, "{}: {found:#?}", rule.name);
            assert_eq!(found.value.is_some(), figures, "{}: {found:#?}", rule.name);
            let endless = rule.name == "ride-cold-load-1s";
            assert_eq!(found.limit.is_some() || endless, figures, "{}", rule.name);
        }
    }

    #[test]
    fn there_are_well_over_forty_rules_and_every_choice_is_used_by_one() {
        assert!(rules().count() >= 45, "{}", rules().count());
        for choice in CHOICES {
            let used = rules().any(|r| r.choices.contains(&choice.name))
                || PAIR_RULES.iter().any(|r| r.choices.contains(&choice.name));
            assert!(used, "{} is used by no rule", choice.name);
        }
    }

    #[test]
    fn an_unknown_name_points_to_those_alike() {
        let refused = explain("coil").unwrap_err();
        assert_eq!(refused.kind.exit_code(), 3);
        assert!(refused.to_string().contains("carry-coil"));
    }
}
