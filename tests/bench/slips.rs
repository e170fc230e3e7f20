//! Wrong numbers: where the intended record stands after one random mistake,
//! by kind of mistake, beside the number of records that the same mistake would
//! have made the text of. `POLECARD_BENCH_REGISTER` names a register;
//! `POLECARD_BENCH_SLIPS` the mistakes of each kind (2,000).

#[allow(
    dead_code,
    reason = "shared by the benchmarks, each of which needs a part"
)]
mod ground;
#[allow(dead_code, reason = "shared with the tests, which need all of it")]
mod mistaken;

use polecard::domain::asset::Kind;
use polecard::store::Store;

fn main() {
    // Cargo's tests ask every target; a measurement is only for `cargo bench`.
    if !std::env::args().any(|a| a == "--bench") {
        return;
    }
    let count = std::env::var("POLECARD_BENCH_SLIPS").unwrap_or_default();
    let count: usize = count.parse().unwrap_or(2_000);
    for (what, store) in [("demo", ground::demo()), ("made", ground::made())] {
        let names = names(&store, count);
        println!("\n{what}: {} of its numbers", names.len());
        let kinds = 0..mistaken::KINDS.len();
        let rows: Vec<_> = kinds
            .map(|kind| mistaken::standing(&store, &names, kind, count))
            .collect();
        print!("{}", mistaken::table(&rows));
    }
}

/// Numbers drawn by lot, each kind of record in its proportion.
fn names(store: &Store, count: usize) -> Vec<String> {
    let kinds = [Kind::Structure, Kind::Position, Kind::Unit];
    let of = |k: &Kind| usize::try_from(store.count(*k).unwrap_or(0)).unwrap_or(usize::MAX);
    let all: usize = kinds.iter().map(of).sum();
    let mut out = Vec::new();
    for kind in kinds {
        let share = (count * of(&kind)).div_ceil(all.max(1));
        let some = ground::drawn(store, kind, share);
        out.extend(some.iter().map(|s| s.record.name()));
    }
    out
}
