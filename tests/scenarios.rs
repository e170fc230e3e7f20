//! Published values: each row names its source and standing. Expected figures
//! are typed from the source; the program never supplies them.

use std::collections::BTreeMap;

use polecard::domain::asset::{
    Class, Conductor, Element, FaultKind, Grounding, Nameplate, Position, RecordId, Settings,
    Stated, Unit,
};
use polecard::domain::fault;
use polecard::domain::finding::Finding;
use polecard::domain::nameplate::{
    Choices, Connected, Facts, Range, UnitHere, link_continuous_amps, parse_link, system_max_kv,
};
use polecard::units::{Amps, Kv, Minutes, Seconds, XOverR};
use polecard::work::check::{CheckReport, Typed, report};
use serde::Deserialize;
use serde::de::DeserializeOwned;

fn rows<T: DeserializeOwned>(text: &str) -> Vec<T> {
    serde_yaml::from_str(text).unwrap()
}

fn sourced(source: &str, standing: &str, name: &str) {
    assert!(!source.trim().is_empty(), "{name}: no source");
    let known = ["read", "from memory", "computed", "common practice"];
    assert!(known.contains(&standing), "{name}: standing {standing:?}");
}

fn near(name: &str, got: f64, expect: f64, tolerance: f64) {
    assert!(
        (got - expect).abs() <= tolerance + 1e-12,
        "{name}: got {got}, the source says {expect} within {tolerance}"
    );
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct Asymmetry {
    x_over_r: f64,
    rms: f64,
    three_phase: f64,
    peak: f64,
    rms_tolerance: f64,
    tolerance: f64,
    source: String,
    standing: String,
}

#[test]
fn asymmetry_factors_are_those_of_the_handbook() {
    let rows: Vec<Asymmetry> = rows(include_str!("scenarios/asymmetry.yaml"));
    // All ten rows of the handbook, and ten between them.
    assert_eq!(rows.iter().filter(|r| r.standing == "read").count(), 10);
    assert_eq!(rows.len(), 20);
    for r in rows {
        let name = format!("X/R {}", r.x_over_r);
        sourced(&r.source, &r.standing, &name);
        near(
            &name,
            fault::rms_half_cycle(r.x_over_r),
            r.rms,
            r.rms_tolerance,
        );
        let average = fault::rms_three_phase_average(r.x_over_r);
        near(&name, average, r.three_phase, r.tolerance);
        near(&name, fault::first_peak(r.x_over_r), r.peak, r.tolerance);
    }
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct FunctionRow {
    name: String,
    function: Function,
    x_over_r: Option<f64>,
    test_x_over_r: Option<f64>,
    cycles: Option<f64>,
    hz: Option<f64>,
    asymmetrical: Option<f64>,
    symmetrical: Option<f64>,
    link: Option<String>,
    nominal_kv: Option<f64>,
    expect: f64,
    tolerance: f64,
    source: String,
    standing: String,
}

#[derive(Deserialize, Clone, Copy)]
#[serde(rename_all = "snake_case")]
enum Function {
    FirstPeak,
    FirstPeakMs,
    FirstPeakQuick,
    RmsHalfCycle,
    RmsAtCycles,
    OlderBreaker,
    MultiplyingPeak,
    MultiplyingRms,
    FractionRms,
    FractionPeak,
    Implied,
    Link,
    RangeA,
    RangeB,
}

impl FunctionRow {
    fn value(&self) -> f64 {
        let xr = || self.x_over_r.unwrap();
        let factor = |basis| fault::multiplying_factor(basis, xr(), self.test_x_over_r.unwrap());
        match self.function {
            Function::FirstPeak => fault::first_peak(xr()),
            Function::FirstPeakMs => fault::first_peak_s(xr(), self.hz.unwrap()) * 1_000.0,
            Function::FirstPeakQuick => fault::first_peak_quick(xr()),
            Function::RmsHalfCycle => fault::rms_half_cycle(xr()),
            Function::RmsAtCycles => fault::rms_at_cycles(xr(), self.cycles.unwrap()),
            Function::OlderBreaker => fault::older_breaker_factor(xr()),
            Function::MultiplyingPeak => factor(fault::Basis::FirstPeak),
            Function::MultiplyingRms => factor(fault::Basis::HalfCycleRms),
            Function::FractionRms => 1.0 / factor(fault::Basis::HalfCycleRms),
            Function::FractionPeak => 1.0 / factor(fault::Basis::FirstPeak),
            Function::Implied => {
                fault::x_over_r_implied(self.asymmetrical.unwrap(), self.symmetrical.unwrap())
                    .unwrap()
            }
            Function::Link => {
                let (rated, kind) = parse_link(self.link.as_deref().unwrap()).unwrap();
                link_continuous_amps(rated, kind.unwrap()).unwrap()
            }
            Function::RangeA => system_max_kv(self.nominal_kv.unwrap(), Range::A).0,
            Function::RangeB => system_max_kv(self.nominal_kv.unwrap(), Range::B).0,
        }
    }
}

#[test]
fn functions_give_the_published_values() {
    let rows: Vec<FunctionRow> = rows(include_str!("scenarios/functions.yaml"));
    for r in &rows {
        sourced(&r.source, &r.standing, &r.name);
        near(&r.name, r.value(), r.expect, r.tolerance);
    }
    assert!(rows.iter().filter(|r| r.standing == "read").count() >= 20);
}

/// At least 120 rows, 100 of them read, are asked for; there are more.
#[test]
fn enough_rows_stand_on_what_was_read() {
    let all = [
        include_str!("scenarios/asymmetry.yaml"),
        include_str!("scenarios/functions.yaml"),
        include_str!("scenarios/published.yaml"),
        include_str!("scenarios/check.yaml"),
    ]
    .concat();
    assert!(all.matches("standing: ").count() >= 400);
    assert!(all.matches("standing: read").count() >= 280);
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct CheckRow {
    name: String,
    class: Class,
    #[serde(default)]
    plate: Nameplate,
    #[serde(default)]
    elements: Vec<Element>,
    #[serde(default)]
    settings: Settings,
    #[serde(default)]
    conductors: Vec<Conductor>,
    kv_ll: Option<f64>,
    grounding: Option<Grounding>,
    connected_kva: Option<f64>,
    #[serde(default)]
    choices: BTreeMap<String, Stated>,
    #[serde(default)]
    typed: TypedRow,
    rule: String,
    limit: Option<f64>,
    value: Option<f64>,
    tolerance: Option<f64>,
    verdict: String,
    source: String,
    standing: String,
}

#[derive(Deserialize, Default)]
#[serde(deny_unknown_fields)]
struct TypedRow {
    load: Option<Amps>,
    fault: Option<Amps>,
    kind: Option<FaultKind>,
    x_over_r: Option<XOverR>,
    min_fault: Option<Amps>,
    kv_ll: Option<Kv>,
    outage: Option<Minutes>,
    fault_time: Option<Seconds>,
    unbalance: Option<Amps>,
}

impl CheckRow {
    fn facts(&self) -> Facts {
        let mut position: Position =
            serde_json::from_value(serde_json::json!({"position": "T-1", "class": self.class}))
                .unwrap();
        position.elements.clone_from(&self.elements);
        position.settings = self.settings.clone();
        let unit = (!self.plate.is_empty()).then(|| UnitHere {
            unit: Unit {
                unit: "U-1".into(),
                id: RecordId::default(),
                class: self.class,
                names: vec![],
                nameplate: self.plate.clone(),
                deployments: vec![],
                note: None,
            },
            slot: None,
            also_at: None,
        });
        Facts {
            units: unit.into_iter().collect(),
            defects: vec![],
            spans: vec![],
            conductors: self
                .conductors
                .iter()
                .map(|c| (c.conductor.clone(), c.clone()))
                .collect(),
            nominal_kv_ll: self.kv_ll,
            grounding: self.grounding,
            connected: self.connected_kva.map(|kva| Connected {
                phase_kva: Some(kva),
                origin: "typed".into(),
                doubt: None,
            }),
            ..Facts::of(position)
        }
    }

    fn report(&self) -> CheckReport {
        let (choices, refused) = Choices::from_map(&self.choices);
        assert!(refused.is_empty(), "{}: {refused:?}", self.name);
        let typed = Typed {
            load: self.typed.load,
            fault: self.typed.fault,
            fault_kind: self.typed.kind,
            x_over_r: self.typed.x_over_r,
            min_fault: self.typed.min_fault,
            kv_ll: self.typed.kv_ll,
            outage: self.typed.outage,
            fault_time: self.typed.fault_time,
            unbalance: self.typed.unbalance,
            bypass: false,
        };
        report(&self.facts(), &typed, &choices, vec![])
    }

    fn holds(&self, finding: &Finding) {
        let tolerance = self.tolerance.unwrap_or(1e-6);
        if let Some(limit) = self.limit {
            near(&self.name, finding.limit.unwrap(), limit, tolerance);
        }
        if let Some(value) = self.value {
            near(&self.name, finding.value.unwrap(), value, tolerance);
        }
        assert_eq!(
            finding.verdict.word(),
            self.verdict,
            "{}: {}",
            self.name,
            finding.because
        );
    }
}

fn check_rows() -> Vec<CheckRow> {
    rows(include_str!("scenarios/check.yaml"))
}

#[test]
fn checks_give_the_published_values() {
    for row in check_rows() {
        sourced(&row.source, &row.standing, &row.name);
        let report = row.report();
        let of_rule: Vec<&Finding> = report
            .findings
            .iter()
            .filter(|f| f.rule == row.rule)
            .collect();
        assert_eq!(
            of_rule.len(),
            1,
            "{}: one finding of {}",
            row.name,
            row.rule
        );
        row.holds(of_rule[0]);
    }
}

#[test]
fn each_topic_stands_on_four_values_that_were_read() {
    let rows = check_rows();
    for topic in ["carry-", "ride-", "break-", "see-", "stand-"] {
        let read = rows
            .iter()
            .filter(|r| r.rule.starts_with(topic) && r.standing == "read")
            .filter(|r| r.limit.is_some() || r.value.is_some())
            .count();
        assert!(read >= 4, "{topic} has {read}");
    }
}
