//! Heads that were printed earlier: held, cut off, or written anew.

use polecard::store::{Access, Store};
use polecard::work::heads::{Expected, Fate, heads};

use super::{Desk, check, tamper};

const CUT: &str = "update record set body = (select body from past where past.rec = record.rec and until = 3), op = 2
       where op = 3;
     delete from past where until = 3; delete from change where op = 3; delete from operation where seq = 3;";

fn told(desk: &Desk, texts: &[String]) -> Vec<Expected> {
    let store = Store::open(&desk.register(), Access::Read).unwrap();
    heads(&store, texts, None).unwrap()
}

/// A register of three operations, with a backup and the head of each.
fn three() -> (Desk, Vec<String>) {
    let desk = Desk::new();
    let mut printed = Vec::new();
    for n in 1..=3 {
        if n > 1 {
            desk.note("40-118", &format!("note {n}"));
        }
        let taken = desk.backup(&format!("{n}.polecard")).unwrap();
        printed.push(format!("{}:{}", taken.operations, taken.chain_head));
    }
    (desk, printed)
}

#[test]
fn every_head_is_told_by_its_operation() {
    let (desk, printed) = three();
    let mut texts = printed.clone();
    texts.push(printed[1][2..].to_uppercase());
    texts.push(desk.path("2.polecard").display().to_string());
    let told = told(&desk, &texts);
    let facts: Vec<_> = told
        .iter()
        .map(|e| (e.fate, e.operation, e.operations_since))
        .collect();
    let held = |n: i64| (Fate::Held, Some(n), usize::try_from(3 - n).unwrap());
    assert_eq!(facts, [held(1), held(2), held(3), held(2), held(2)]);
}

#[test]
fn a_cut_tail_and_a_rewritten_log_are_told_apart() {
    let (desk, printed) = three();
    tamper(&desk.register(), CUT);
    let file = |n: usize| desk.path(&format!("{n}.polecard")).display().to_string();
    let all = [
        printed[1].clone(),
        printed[2].clone(),
        printed[2][2..].to_string(),
        file(3),
    ];
    let fates: Vec<Fate> = told(&desk, &all).iter().map(|e| e.fate).collect();
    assert_eq!(fates, [Fate::Held, Fate::Cut, Fate::Missing, Fate::Cut]);
    assert!(told(&desk, &all)[2].words.contains("cut after operation 2"));
    // Somebody writes on after the cut: operation 3 is another one now.
    desk.note("40-118", "something else");
    let told_now = told(&desk, &all);
    let fates: Vec<Fate> = told_now.iter().map(|e| e.fate).collect();
    assert_eq!(
        fates,
        [Fate::Held, Fate::Rewritten, Fate::Missing, Fate::Rewritten]
    );
    assert!(
        told_now[1]
            .words
            .contains("after operation 2 and not after 3"),
        "{:?}",
        told_now[1]
    );
    assert!(
        told_now[3].words.contains("same up to operation 2"),
        "{:?}",
        told_now[3]
    );
    // The check of a file takes heads as well.
    let found = check(&desk.register(), &all[..2]).unwrap();
    assert_eq!((found.sound, found.faults_in_all), (false, 1));
}

#[test]
fn a_head_comes_from_an_export_or_a_report_too_and_nonsense_is_refused() {
    let (desk, printed) = three();
    let store = Store::open(&desk.register(), Access::Read).unwrap();
    let out = desk.path("out");
    polecard::exchange::export(&store, &out).unwrap();
    let report = desk.path("report.json");
    let digest = &printed[1][2..];
    std::fs::write(
        &report,
        format!("{{\"chain\": {{\"operations\": 2, \"head\": \"{digest}\"}}}}"),
    )
    .unwrap();
    let texts = [out.display().to_string(), report.display().to_string()];
    let numbers: Vec<_> = told(&desk, &texts)
        .iter()
        .map(|e| (e.found, e.operation))
        .collect();
    assert_eq!(numbers, [(true, Some(3)), (true, Some(2))]);
    for nonsense in ["", "zebra", "12", "3:", "nowhere.polecard"] {
        assert!(
            heads(&store, &[nonsense.to_string()], None).is_err(),
            "{nonsense:?}"
        );
    }
    let letter = desk.path("letter.txt");
    std::fs::write(&letter, "dear").unwrap();
    assert!(heads(&store, &[letter.display().to_string()], None).is_err());
}
