//! What a check of the demo says: the known trouble is found, nothing
//! unknown or assumed passes, and some positions are within.

use polecard::domain::asset::{Kind, Record};
use polecard::domain::finding::{Question, Verdict};
use polecard::work::check::{CheckReport, Typed, check};

use super::{demo, noon, store, tally};

fn checked(name: &str) -> CheckReport {
    check(&store(), name, &Typed::default(), noon().date()).unwrap()
}

#[test]
fn the_recloser_of_the_weir_gate_fails_to_break() {
    let r = checked("HB2-RC-14");
    assert_eq!(r.questions.get(Question::Break), Some(Verdict::Fails));
    assert!(
        r.cautions
            .iter()
            .any(|c| c.text.to_lowercase().contains("oil"))
    );
}

#[test]
fn the_old_unit_below_the_larger_transformer_fails_to_break() {
    let r = checked("SF1-RC-3");
    assert_eq!(r.questions.get(Question::Break), Some(Verdict::Fails));
}

#[test]
fn a_link_that_the_load_has_outgrown_and_a_coil_close_to_its_load() {
    assert_eq!(
        checked("HB3-FC-2").questions.get(Question::Carry),
        Some(Verdict::Fails)
    );
    assert_eq!(
        checked("HB1-RC-10").questions.get(Question::Carry),
        Some(Verdict::Tight)
    );
}

#[test]
fn every_position_in_series_gives_a_verdict_and_the_demo_has_all_of_them() {
    let store = store();
    let mut verdicts = Vec::new();
    for stored in store.all(Kind::Position).unwrap() {
        let Record::Position(p) = &stored.record else {
            continue;
        };
        if p.class.in_series() {
            let r = checked(&p.position);
            verdicts.extend(r.questions.0.iter().map(|(_, v)| *v));
        }
    }
    let n = tally(verdicts.iter().map(|v| format!("{v:?}")));
    for word in ["Within", "Tight", "Fails", "Unknown"] {
        assert!(
            n.contains_key(word),
            "no question is answered {word}: {n:?}"
        );
    }
    assert!(demo().positions.len() > 200);
}
