//! Wrong numbers, a small sample of what `cargo bench --bench slips` measures:
//! on the demo, and on a register of feeders in which nearly every number that a
//! slip makes is somebody's.

use polecard::domain::asset::Kind;
use polecard::store::{Access, Store};
use polecard::work::find::neighbours_of;

use super::{ground, register_of};

#[path = "../bench/mistaken.rs"]
mod mistaken;

/// Mistakes of each kind.
const SAMPLE: usize = 25;

fn held_to_the_budget(store: &Store, names: &[String]) {
    let rows: Vec<_> = (0..mistaken::KINDS.len())
        .map(|kind| mistaken::standing(store, names, kind, SAMPLE))
        .collect();
    let table = mistaken::table(&rows);
    for (kind, row) in mistaken::KINDS.iter().zip(&rows) {
        assert_eq!(row.asked, SAMPLE, "{kind}\n{table}");
        assert_eq!(row.listed, row.asked, "{kind}\n{table}");
        assert!(
            row.placed_first + 1 >= row.placed,
            "{kind} with road and house\n{table}"
        );
    }
    let slips = &rows[mistaken::SLIPS];
    let sum = |of: fn(&mistaken::Standing) -> f64| slips.iter().map(of).sum::<f64>();
    let third = sum(|r| r.part(r.first_three)) / slips.len() as f64;
    assert!(third >= 0.97, "first three {third}\n{table}");
    let worst = slips
        .iter()
        .map(|r| r.highest() - r.part(r.first_three))
        .fold(0.0, f64::max);
    assert!(worst <= 0.10, "{worst} below what could be\n{table}");
}

fn names(store: &Store) -> Vec<String> {
    let kinds = [Kind::Structure, Kind::Position, Kind::Unit];
    let of = |k| ground::drawn(store, k, 200);
    let some = kinds.into_iter().flat_map(of);
    some.map(|s| s.record.name()).collect()
}

#[test]
fn the_demo_gives_the_intended_number_after_every_kind_of_slip() {
    let store = ground::demo();
    held_to_the_budget(&store, &names(&store));
}

#[test]
fn a_dense_register_gives_the_intended_number_after_every_kind_of_slip() {
    let files = ground::Files::of(1_600);
    let path = files.dir.path().join("dense.polecard");
    drop(files.register(&path));
    let store = Store::open(&path, Access::Read).unwrap();
    held_to_the_budget(&store, &names(&store));
}

/// A number whose check character holds is likelier meant than one that was
/// entered with a slip of its own.
#[test]
fn a_check_character_decides_between_equals() {
    let (_dir, store) = register_of(
        "---\nunit: 310477428-0\nclass: recloser\n---\nunit: 310477423-0\nclass: recloser\n",
    );
    let scheme = std::fs::read_to_string("data/schemes/carrow.yaml").unwrap();
    assert!(scheme.contains("example: 310477428-0"));
    let (_dir2, checked) = super::register_with(
        "---\nunit: 310477428-0\nclass: recloser\n---\nunit: 310477423-0\nclass: recloser\n",
        &scheme,
    );
    let order = |store: &Store| -> Vec<String> {
        let near = neighbours_of(store, "310477427-0").unwrap();
        near.into_iter().map(|m| m.name).collect()
    };
    assert_eq!(order(&store), ["310477423-0", "310477428-0"]);
    assert_eq!(order(&checked), ["310477428-0", "310477423-0"]);
}
