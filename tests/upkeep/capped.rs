//! A reading that is no defect by itself and says that a thing cannot do its
//! work caps what a check answers, until a later reading of the same says
//! otherwise.

use polecard::domain::finding::{Finding, Question, Verdict};
use polecard::store::Store;
use polecard::work::check::{Typed, check};

use super::wired::{now, register, write};

const MORE: &str = r#"---
feeder: HB2
kv_ll: 12.47
grounding: multigrounded wye
---
structure: 40-119
kind: pole
---
position: HB2-RC-20
class: recloser
phases: ABC
structure: 40-119
feeder: HB2
---
unit: 7-30000
class: recloser
nameplate: {control: electronic, insulation: oil, interrupter: vacuum, continuous_amps: 560, interrupting_amps: 8000, test_x_over_r: 12, max_kv: 15.5}
deployments: [{at: HB2-RC-20, from: 2018-06-04}]
---
position: HB2-F-21
class: cutout
phases: A
structure: 40-119
feeder: HB2
elements: [{element: cutout, amps: 100, interrupting_amps: 7100, interrupting_asym_amps: 10000, max_kv: 15.5, bil_kv: 110}, {element: link, link: 40K}]
---
position: HB2-CP-22
class: capacitor
phases: ABC
structure: 40-119
feeder: HB2
settings: {bank_connection: grounded wye}
---
unit: 5-100
class: capacitor
nameplate: {kvar: 600, nominal_kv: 7.2, phases: 3}
deployments: [{at: HB2-CP-22, from: 2018-06-04}]
"#;

fn asked(store: &Store, place: &str, question: Question) -> Vec<Finding> {
    let typed = Typed {
        fault: "1000 A".parse().ok(),
        load: "20 A".parse().ok(),
        ..Default::default()
    };
    let report = check(store, place, &typed, now().date()).unwrap();
    let of = report.findings.into_iter();
    of.filter(|f| f.question == question && f.verdict != Verdict::NotApplicable)
        .collect()
}

fn pass(findings: &[Finding]) -> bool {
    !findings.is_empty() && findings.iter().all(|f| f.verdict.passes())
}

/// In which entry of what, at which position, the reading that stops, the one
/// that puts it right, the question capped and the words.
const ROWS: &str = "\
7-30000|HB2-RC-20|inspection|bypass=closed|bypass=open|break|bypass found closed, seen 3 Oct 2026
7-30000|HB2-RC-20|maintenance|opened_and_closed=no|opened_and_closed=yes|break|did not open and close, seen 3 Oct 2026
7-30000|HB2-RC-20|maintenance|carbon=much|carbon=none|break|much carbon or sludge in the oil, seen 3 Oct 2026
HB2-F-21|HB2-F-21|inspection|door=hung up|door=closed|break|fuse blown and its door hung up, seen 3 Oct 2026
5-100|HB2-CP-22|inspection|can_c=70|can_c=30|stand|seen 3 Oct 2026";

#[test]
fn what_a_reading_stops_is_no_pass_until_it_is_read_otherwise() {
    let dir = tempfile::tempdir().unwrap();
    let mut store = register(dir.path(), MORE).unwrap();
    for row in ROWS.lines() {
        let cells: Vec<&str> = row.split('|').collect();
        let [of, place, kind, read, again, question, words] = cells[..] else {
            panic!("{row}");
        };
        let question = match question {
            "stand" => Question::Stand,
            _ => Question::Break,
        };
        let before = asked(&store, place, question);
        assert!(pass(&before), "{read}: {before:#?}");
        write(&mut store, of, kind, &[read]).unwrap();
        let capped = asked(&store, place, question);
        assert!(!pass(&capped), "{read}");
        let says = capped.iter().any(|f| f.because.contains(words));
        assert!(says, "{read}: {capped:#?}");
        write(&mut store, of, kind, &[again]).unwrap();
        let after = asked(&store, place, question);
        assert!(pass(&after), "{again}: {after:#?}");
    }
}

/// The rating counts on 12.47 kV only with the device's voltage read and with
/// no lower voltage stated for it.
#[test]
fn an_interrupting_rating_counts_only_on_a_voltage_known_to_be_its_own() {
    for (plate, passes) in [
        (", max_kv: 15.5", true),
        (", max_kv: 15.5, interrupting_at_kv: 14.4", true),
        (", max_kv: 15.5, interrupting_at_kv: 4.8", false),
        (", max_kv: unknown", false),
        (
            ", max_kv: {value: 15.5, standing: assumed, rule: by class}",
            false,
        ),
        ("", false),
        (", max_kv: 8.3", false),
    ] {
        let was = ", max_kv: 15.5}\ndeployments";
        assert!(MORE.contains(was));
        let more = MORE.replacen(was, &format!("{plate}}}\ndeployments"), 1);
        let dir = tempfile::tempdir().unwrap();
        let store = register(dir.path(), &more).unwrap();
        let found = asked(&store, "HB2-RC-20", Question::Break);
        assert_eq!(pass(&found), passes, "{plate}: {found:#?}");
    }
}
