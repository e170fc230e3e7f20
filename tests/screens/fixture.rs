//! A small register made by hand, every value invented.

use std::path::PathBuf;
use std::rc::Rc;

use polecard::exchange::{Source, import};
use polecard::store::Store;
use tempfile::TempDir;

use super::rig::now;

const RECORDS: &str = r#"---
utility: Kestrel Sound Light
id: 01J00000000000000000000001
---
source: Kestrel bus
id: 01J00000000000000000000002
kind: substation
structure: 30-100
---
feeder: KS1
id: 01J00000000000000000000003
source: Kestrel bus
head: 30-100
kv_ll: 12.47
---
structure: 30-100
id: 01J00000000000000000000004
kind: substation
feeder: KS1
place: {road: Harbour Rd, near: the ice house}
---
structure: 30-103
id: 01J00000000000000000000005
kind: pole
feeder: KS1
place: {road: Harbour Rd, near: the chandlery}
---
structure: 30-104
id: 01J00000000000000000000006
kind: pole
feeder: KS1
place: {road: Ferry Ln, near: the old slip}
---
structure: 30-105
id: 01J00000000000000000000007
kind: pole
feeder: KS1
place: {road: Ferry Ln, near: the net loft}
---
span: {from: 30-100, to: 30-103, phases: ABC, conductor: 1/0 ACSR, length_ft: 210}
id: 01J00000000000000000000008
feeder: KS1
---
span: {from: 30-103, to: 30-104, phases: ABC, conductor: 1/0 ACSR, length_ft: 290}
id: 01J00000000000000000000009
feeder: KS1
---
span: {from: 30-104, to: 30-105, phases: ABC, conductor: 1/0 ACSR, length_ft: 260}
id: 01J00000000000000000000010
feeder: KS1
---
position: KS1-RC-2
id: 01J00000000000000000000011
class: recloser
feeder: KS1
structure: 30-103
toward: 30-104
phases: ABC
normal_source: road side
normally: closed
elements: [{element: unit}]
available_fault: {amps: 3150, x_over_r: 5.1, kind: three-phase, date: 2024-02-11, source: planning study}
minimum_fault: {amps: 410, kind: line-ground, date: 2024-02-11, source: planning study}
peak_load: {amps: 88, date: 2025-07-30, source: clip-on ammeter}
state: {stands: closed, at: 2026-08-14T09:20:00-06:00, by: lm}
---
position: KS1-RC-3
id: 01J00000000000000000000012
class: recloser
feeder: KS1
structure: 30-105
phases: ABC
normally: closed
elements: [{element: unit}]
---
unit: 5-70112
id: 01J00000000000000000000013
class: recloser
nameplate: {interrupter: oil, coil_amps: {value: 100, by: lm, "on": 2019-05-06, from: plate}, continuous_amps: {value: 200, by: lm, "on": 2019-05-06, from: plate}, interrupting_amps: {value: 2000, standing: assumed, rule: by coil}, max_kv: {value: 15.5, by: lm, "on": 2019-05-06, from: plate}, bil_kv: unknown}
deployments: [{at: KS1-RC-2, slot: ABC, from: 2019-05-07}]
---
unit: 5-70340
id: 01J00000000000000000000014
class: recloser
deployments: [{at: KS1-RC-3, slot: ABC, from: 2021-03-02}]
---
entry: inspection
id: 01J00000000000000000000015
of: 5-70112
"on": 2026-08-14
by: lm
finds: [oil leak]
"#;

/// The register in a folder of its own.
pub fn hand_made() -> Rc<TempDir> {
    let dir = tempfile::tempdir().unwrap();
    let files = vec![(PathBuf::from("records.yaml"), RECORDS.as_bytes())];
    let source = Source::embedded("records.yaml", files);
    let mut store = Store::create(&dir.path().join("register.polecard")).unwrap();
    import(&mut store, &source, "lm", now(), false).unwrap();
    Rc::new(dir)
}
