//! The rules listed, and one of them explained with an example that the rule
//! itself works out.

use serde::{Deserialize, Serialize};

use super::{Failure, JSON_VERSION};
use crate::domain::asset::{
    Conductor, FaultKind, Grounding, Nameplate, Position, RecordId, Span, Unit,
};
use crate::domain::finding::{Finding, Question, RuleStanding};
use crate::domain::nameplate::{
    Asked, CHOICES, Choices, Facts, FaultGiven, Given, Rule, UnitHere, judge, rules,
};
use crate::domain::outlier::{OUTLIERS, Outlier};

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
    /// Published values that do not fit the pattern of their own table.
    pub outliers: &'static [Outlier],
    #[serde(skip_serializing_if = "Option::is_none")]
    pub explained: Option<Explained>,
}

fn row(rule: &'static Rule) -> Row {
    Row {
        name: rule.name,
        question: rule.question,
        source: rule.source,
        standing: rule.standing,
    }
}

/// Every rule.
#[must_use]
pub fn list() -> RulesReport {
    RulesReport {
        polecard: JSON_VERSION,
        rules: rules().map(row).collect(),
        outliers: OUTLIERS,
        explained: None,
    }
}

/// One rule by its name.
///
/// # Errors
/// Not found when no rule is called so; the rules that sound alike are named.
pub fn explain(name: &str) -> Result<RulesReport, Failure> {
    let wanted = name.trim().to_ascii_lowercase();
    let rule = rules().find(|r| r.name == wanted).ok_or_else(|| {
        let alike: Vec<&str> = rules()
            .map(|r| r.name)
            .filter(|n| n.contains(&wanted) || wanted.contains(n))
            .collect();
        let refused = Failure::not_found(format!("no rule is called {name}"));
        if alike.is_empty() {
            refused.hint("polecard rules lists them all")
        } else {
            refused.hint(format!("did you mean {}?", alike.join(", ")))
        }
    })?;
    let mut applies_to: Vec<&'static str> = rule.on.iter().map(|p| p.word()).collect();
    applies_to.sort_unstable();
    applies_to.dedup();
    let defaults = Choices::default();
    Ok(RulesReport {
        polecard: JSON_VERSION,
        rules: vec![row(rule)],
        outliers: &[],
        explained: Some(Explained {
            applies_to,
            needs: rule.needs.to_vec(),
            formula: rule.formula,
            choices: CHOICES
                .iter()
                .filter(|c| rule.choices.contains(&c.name))
                .map(|c| ChoiceRow {
                    name: c.name,
                    default: defaults.used(c.name).value,
                })
                .collect(),
            example: example(rule.name),
        }),
    })
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct Sample {
    position: Position,
    #[serde(default)]
    plate: Nameplate,
}

fn facts(sample: Sample) -> Facts {
    let class = sample.position.class;
    let unit = (!sample.plate.is_empty()).then(|| UnitHere {
        unit: Unit {
            unit: "EX-1".into(),
            id: RecordId::default(),
            class,
            names: vec![],
            nameplate: sample.plate,
            deployments: vec![],
            note: None,
        },
        slot: None,
        also_at: None,
    });
    let span: Span =
        serde_json::from_str(r#"{"span": {"from": "S", "to": "T", "conductor": "wire"}}"#)
            .expect("the example span is well formed; a test reads it");
    let wire: Conductor = serde_json::from_str(
        r#"{"conductor": "wire", "ampacity_amps": 240, "conditions": "75 C conductor in sun"}"#,
    )
    .expect("the example conductor is well formed; a test reads it");
    Facts {
        position: sample.position,
        units: unit.into_iter().collect(),
        defects: vec![],
        spans: vec![span],
        conductors: [(wire.conductor.clone(), wire)].into(),
        nominal_kv_ll: Some(12.47),
        grounding: Some(Grounding::Multigrounded),
        x0_over_x1: None,
        protecting: Some("breaker EX-BK-1".to_string()),
    }
}

/// A finding of the rule on one of the invented positions: with figures and
/// passing where there is one.
fn example(name: &str) -> Option<Finding> {
    let samples: Vec<Sample> = serde_json::from_str(include_str!("rule_examples.json"))
        .expect("the examples are well formed; a test reads them");
    let given = |value| Given {
        value,
        origin: "example".to_string(),
    };
    let asked = Asked {
        load: Some(given(50.0)),
        fault: Some(FaultGiven {
            amps: 2_000.0,
            origin: "example".to_string(),
            x_over_r: Some(5.0),
            typed: true,
            kind: Some(FaultKind::ThreePhase),
        }),
        min_fault: Some(given(600.0)),
        kv_ll: None,
        bypass: false,
    };
    samples
        .into_iter()
        .flat_map(|s| judge(&facts(s), &asked, &Choices::default()))
        .filter(|f| f.rule == name)
        .max_by_key(|f| (f.limit.is_some(), f.verdict.passes()))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_rule_that_speaks_works_out_an_example_of_its_own() {
        for rule in rules() {
            let report = explain(rule.name).unwrap();
            let explained = report.explained.unwrap();
            let found = explained
                .example
                .unwrap_or_else(|| panic!("{}: no example", rule.name));
            assert_eq!(found.rule, rule.name);
            assert!(!found.because.is_empty());
        }
    }

    #[test]
    fn an_unknown_name_points_to_those_alike() {
        let refused = explain("coil").unwrap_err();
        assert_eq!(refused.kind.exit_code(), 3);
        assert!(refused.to_string().contains("carry-coil"));
    }
}
