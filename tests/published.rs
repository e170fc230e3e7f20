//! Published values of curves, approach distances and link pairs, each with
//! its source and standing; the program never supplies the expected figure.

use std::collections::BTreeSet;

use polecard::domain::approach::{altitude_factor, table_row};
use polecard::domain::curve::curve;
use polecard::domain::melting::k_pair_limit;
use serde::Deserialize;

#[derive(Deserialize, Clone, Copy, PartialEq, Eq)]
#[serde(rename_all = "snake_case")]
enum Table {
    Trip,
    Reset,
    ApproachGroundM,
    ApproachGroundFt,
    ApproachPhaseM,
    ApproachPhaseFt,
    Altitude,
    KPair,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct Row {
    table: Table,
    name: String,
    x: f64,
    dial: f64,
    expect: f64,
    tolerance: f64,
    standing: String,
    source: String,
}

impl Row {
    fn value(&self) -> f64 {
        let approach = || table_row(self.x).unwrap();
        match self.table {
            Table::Trip => curve(&self.name).unwrap().trip_s(self.x, self.dial),
            Table::Reset => curve(&self.name)
                .unwrap()
                .reset_from_full_s(self.x, self.dial),
            Table::ApproachGroundM => approach().to_ground.map(|d| d.0),
            Table::ApproachGroundFt => approach().to_ground.map(|d| d.1),
            Table::ApproachPhaseM => approach().phase_to_phase.map(|d| d.0),
            Table::ApproachPhaseFt => approach().phase_to_phase.map(|d| d.1),
            Table::Altitude => altitude_factor(self.x),
            Table::KPair => k_pair_limit(6.0, self.x),
        }
        .unwrap_or_else(|| panic!("{}: no value at {}", self.name, self.x))
    }
}

fn rows() -> Vec<Row> {
    serde_yaml::from_str(include_str!("scenarios/published.yaml")).unwrap()
}

#[test]
fn published_values_come_out() {
    for r in rows() {
        let got = r.value();
        assert!(
            (got - r.expect).abs() <= r.tolerance + 1e-9,
            "{} at {}: got {got}, {} says {}",
            r.name,
            r.x,
            r.source,
            r.expect
        );
    }
}

#[test]
fn published_rows_say_where_they_are_from() {
    let rows = rows();
    for r in &rows {
        assert!(!r.source.is_empty(), "{}", r.name);
        let known = ["read", "computed", "from memory"];
        assert!(known.contains(&r.standing.as_str()), "{}", r.name);
        if r.standing == "from memory" {
            assert!(r.source.contains("consistency test"), "{}", r.name);
        }
    }
    assert!(rows.iter().filter(|r| r.standing == "read").count() >= 90);
    let names: BTreeSet<String> = rows
        .iter()
        .map(|r| format!("{} {} {} {}", r.table as u8, r.name, r.x, r.dial))
        .collect();
    assert_eq!(names.len(), rows.len(), "a row stands twice");
}
