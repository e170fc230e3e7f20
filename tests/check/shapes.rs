//! One position of each shape, everything on it read.

use polecard::domain::asset::{Conductor, Grounding, Position, RecordId, Span, Unit};
use polecard::domain::nameplate::{Facts, UnitHere};

/// The conductor of every shape.
pub const WIRE: &str = "1/0 ACSR";

pub const SHAPES: &[(&str, &str, &str)] = &[
    (
        "recloser, hydraulic",
        "{position: P, class: recloser, phases: ABC, structure: S, toward: T, elements: [{element: lead, conductor: 1/0 ACSR}, {element: unit}, {element: connector, amps: 200}], bypass: [{element: blade, amps: 300}], available_fault: {amps: 2000, x_over_r: 5, kind: three-phase}, peak_load: {amps: 60}}",
        "{control: hydraulic, coil_amps: 100, interrupting_amps: 4000, test_x_over_r: 8, max_kv: 15.5}",
    ),
    (
        "recloser, electronic",
        "{position: P, class: recloser, phases: ABC, structure: S, toward: T, settings: {phase_pickup_amps: 200}, available_fault: {amps: 2000, kind: three-phase}, peak_load: {amps: 60}}",
        "{control: electronic, continuous_amps: 560, interrupting_amps: 8000, test_x_over_r: 12, max_kv: 15.5}",
    ),
    (
        "cutout",
        "{position: P, class: cutout, phases: A, structure: S, toward: T, elements: [{element: cutout, amps: 100, interrupting_amps: 7100, interrupting_asym_amps: 10000, max_kv: 15.5}, {element: link, link: 40K}], available_fault: {amps: 2000, x_over_r: 5, kind: line-ground}, peak_load: {amps: 30}}",
        "",
    ),
    (
        "cutout unit",
        "{position: P, class: cutout, phases: A, structure: S, toward: T, elements: [{element: unit}, {element: link, link: 40K}], available_fault: {amps: 2000, x_over_r: 5, kind: line-ground}, peak_load: {amps: 30}}",
        "{holder_amps: 100, interrupting_amps: 7100, test_x_over_r: 9, max_kv: 15.5}",
    ),
    (
        "switch",
        "{position: P, class: switch, phases: ABC, structure: S, toward: T, available_fault: {amps: 2000, x_over_r: 5, kind: three-phase}, peak_load: {amps: 60}}",
        "{continuous_amps: 400, momentary_amps: 20000, max_kv: 15.5}",
    ),
    (
        "sectionalizer",
        "{position: P, class: sectionalizer, phases: ABC, structure: S, toward: T, available_fault: {amps: 2000, x_over_r: 5, kind: three-phase}, peak_load: {amps: 60}}",
        "{coil_amps: 100, momentary_amps: 8000, max_kv: 15.5}",
    ),
    (
        "regulator",
        "{position: P, class: regulator, phases: ABC, structure: S, toward: T, settings: {raise_limit_percent: 5, lower_limit_percent: 5}, available_fault: {amps: 2000, kind: three-phase}, peak_load: {amps: 60}}",
        "{continuous_amps: 219, max_kv: 15.5}",
    ),
    (
        "breaker",
        "{position: P, class: breaker, phases: ABC, structure: S, toward: T, settings: {phase_pickup_amps: 480}, available_fault: {amps: 2000, x_over_r: 12, kind: three-phase}, peak_load: {amps: 60}}",
        "{continuous_amps: 1200, interrupting_amps: 20000, test_x_over_r: 17, momentary_amps: 40000, max_kv: 15.5}",
    ),
    (
        "transformer",
        "{position: P, class: transformer, phases: A, structure: S, available_fault: {amps: 2000, x_over_r: 5, kind: line-ground}, peak_load: {amps: 3}}",
        "{kva: 50, primary_kv: 7.2, phases: 1, impedance_percent: 5, bil_kv: 95}",
    ),
    (
        "recloser with making, peak and BIL",
        "{position: P, class: recloser, phases: ABC, structure: S, toward: T, settings: {phase_pickup_amps: 200, ground_pickup_amps: 120}, available_fault: {amps: 2000, x_over_r: 5, kind: three-phase}, peak_load: {amps: 60}}",
        "{control: electronic, continuous_amps: 630, interrupting_amps: 12500, test_x_over_r: 17, making_amps: 20000, peak_amps: 32500, max_kv: 15.5, bil_kv: 110}",
    ),
    (
        "switch with short time",
        "{position: P, class: switch, phases: ABC, structure: S, toward: T, available_fault: {amps: 2000, x_over_r: 5, kind: three-phase}, peak_load: {amps: 60}}",
        "{continuous_amps: 400, momentary_amps: 20000, making_amps: 20000, short_time_amps: 12500, short_time_s: 1, max_kv: 15.5, bil_kv: 110}",
    ),
    (
        "arrester",
        "{position: P, class: arrester, phases: A, structure: S, settings: {protected_bil_kv: 95, lead_ft: 3, open_point: \"no\"}, available_fault: {amps: 2000, kind: line-ground}}",
        "{mcov_kv: 7.65, duty_kv: 9, tov_kv: 10.8, tov_s: 10, discharge_kv: 23.4, front_kv: 25.5}",
    ),
    (
        "capacitor",
        "{position: P, class: capacitor, phases: ABC, structure: S, settings: {bank_connection: grounded wye}, elements: [{element: switch, amps: 200, momentary_amps: 20000, max_kv: 15.5}, {element: unit}], available_fault: {amps: 2000, x_over_r: 5, kind: three-phase}}",
        "{kvar: 600, nominal_kv: 7.2, phases: 3}",
    ),
];

pub fn facts_of(name: &str) -> Facts {
    let (_, position, plate) = SHAPES.iter().find(|(n, ..)| *n == name).unwrap();
    let position: Position = serde_yaml::from_str(position).unwrap();
    let units = if plate.is_empty() {
        vec![]
    } else {
        vec![UnitHere {
            unit: Unit {
                unit: "U".into(),
                id: RecordId::default(),
                class: position.class,
                names: vec![],
                nameplate: serde_yaml::from_str(plate).unwrap(),
                deployments: vec![],
                note: None,
            },
            slot: None,
            also_at: None,
        }]
    };
    let span: Span = serde_yaml::from_str("span: {from: S, to: T, conductor: 1/0 ACSR}").unwrap();
    let wire: Conductor = serde_yaml::from_str(
        "{conductor: 1/0 ACSR, ampacity_amps: 240, conditions: 75 C conductor}",
    )
    .unwrap();
    Facts {
        units,
        defects: vec![],
        spans: vec![span],
        conductors: std::collections::BTreeMap::from([(WIRE.to_string(), wire)]),
        nominal_kv_ll: Some(12.47),
        grounding: Some(Grounding::Multigrounded),
        ..Facts::of(position)
    }
}
