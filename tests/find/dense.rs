//! A dense register: most numbers that a mistake makes are somebody's.

use std::fmt::Write as _;

use polecard::domain::code::{MistakeKind, fold, mistake_between, odds};
use polecard::store::Store;
use polecard::work::find::neighbours_of;
use proptest::prelude::*;

use super::{ask, names, register_of};

/// A dense register: three quarters of all numbers of two sheets.
fn dense() -> (tempfile::TempDir, Store, Vec<String>) {
    let mut text = String::new();
    let mut ids = Vec::new();
    for sheet in [40, 41] {
        for number in (100..200).filter(|n| n % 4 != sheet % 4) {
            ids.push(format!("{sheet}-{number}"));
        }
    }
    for number in 1..60 {
        ids.push(format!("HB2-RC-{number}"));
        ids.push(format!("DV2-SW-{number}"));
    }
    for (i, id) in ids.iter().enumerate() {
        if id.starts_with('4') {
            writeln!(
                text,
                "---\nstructure: {id}\nkind: pole\nplace: {{road: Tannery Rd, house: '{}'}}",
                i * 7 + 1000
            )
            .unwrap();
        } else {
            writeln!(text, "---\nposition: {id}\nclass: recloser").unwrap();
        }
    }
    let (dir, store) = register_of(&text);
    (dir, store, ids)
}

/// One random mistake of a kind in an id; none where the kind cannot be had.
fn mistaken(id: &str, kind: usize, at: usize, with: char) -> Option<String> {
    let mut chars: Vec<char> = id.chars().collect();
    let places: Vec<usize> = (0..chars.len())
        .filter(|i| chars[*i].is_ascii_alphanumeric())
        .collect();
    let i = places[at % places.len()];
    match kind {
        0 => chars[i] = with,
        1 => {
            chars.remove(i);
        }
        2 => chars.insert(i, chars[i]),
        3 => {
            let j = *places.get(at % places.len() + 1)?;
            chars.swap(i, j);
        }
        4 => chars[i] = swap_in("O0 I1 S5 B8 Z2 G6", chars[i])?,
        _ => chars[i] = swap_in("BD PT MN FS 59 67", chars[i])?,
    }
    Some(chars.into_iter().collect())
}

fn swap_in(pairs: &str, c: char) -> Option<char> {
    let pair = pairs.split(' ').find(|p| p.contains(c))?;
    pair.chars().find(|o| *o != c)
}

#[test]
fn the_intended_number_is_among_the_answers_after_any_one_mistake() {
    let (_dir, store, ids) = dense();
    let mut runner = proptest::test_runner::TestRunner::new(ProptestConfig {
        cases: 400,
        failure_persistence: None,
        ..ProptestConfig::default()
    });
    let cases = (
        0..ids.len(),
        0_usize..6,
        0_usize..8,
        prop::sample::select(
            "0123456789ABCDEFGHIJKLMNOPQRSTUVWXYZ"
                .chars()
                .collect::<Vec<_>>(),
        ),
    );
    runner
        .run(&cases, |(which, kind, at, with)| {
            let id = &ids[which];
            let Some(typed) = mistaken(id, kind, at, with) else {
                return Ok(());
            };
            if fold(&typed) == fold(id) {
                return Ok(());
            }
            let report = ask(&store, &typed);
            let mut answers = report.matches;
            let taken = ids.iter().any(|other| fold(other) == fold(&typed));
            if taken || report.more {
                // Another record has it, or it is the beginning of more than
                // a list holds: the neighbours are a key away.
                answers.extend(neighbours_of(&store, &typed).unwrap());
            }
            prop_assert!(
                answers.iter().any(|m| m.name == *id),
                "{id} typed as {typed}: {:?}",
                names(&answers)
            );
            // With road and house number beside it, it comes first.
            if let Some(house) = answers
                .iter()
                .find(|m| m.name == *id)
                .and_then(|m| m.also.road.clone())
            {
                let mixed = ask(&store, &format!("{typed} {house}"));
                prop_assert_eq!(&mixed.matches[0].name, id, "{} {}", typed, house);
            }
            Ok(())
        })
        .unwrap();
}

#[test]
fn likelier_mistakes_come_before_wrong_and_missing_characters() {
    let (_dir, store, ids) = dense();
    let mut seen = 0;
    for id in ids.iter().step_by(7) {
        let near = neighbours_of(&store, id).unwrap();
        let own = fold(id);
        let costs: Vec<u32> = near
            .iter()
            .filter_map(|m| {
                let name = fold(&m.name);
                mistake_between(&name, &own).map(|slip| odds(&slip, &name, &own).cost)
            })
            .collect();
        assert_eq!(costs.len(), near.len());
        assert!(costs.is_sorted(), "{id}: {costs:?}");
        seen += near.len();
    }
    assert!(seen > 100);
    assert!(MistakeKind::Swapped.cost() < MistakeKind::Wrong.cost());
    assert!(MistakeKind::Misheard.cost() < MistakeKind::Missing.cost());
}
