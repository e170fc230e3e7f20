//! A walk reads only a part of the records of a line. It must answer as one
//! that reads them whole, and never from a line that has changed since.

use polecard::calendar::{Clock, Moment};
use polecard::domain::asset::{Kind, Record};
use polecard::domain::change::{Change, Edit, Operation};
use polecard::domain::network::Network;
use polecard::store::{Access, Store, StoreError, fresh_id};
use polecard::work::section::{network, section};
use tempfile::TempDir;

fn now() -> Moment {
    "2026-10-03T14:10:00-06:00".parse().unwrap()
}

fn demo() -> (TempDir, Store) {
    let dir = tempfile::tempdir().unwrap();
    let path = dir.path().join("r.polecard");
    polecard::work::demo::install(&path, Clock::Fixed(now())).unwrap();
    let store = Store::open(&path, Access::Write).unwrap();
    (dir, store)
}

/// Walks of every feeder, one way and the other, from each `step`-th record;
/// how many were compared.
fn compare(store: &Store, step: usize) -> usize {
    let sources = store.all(Kind::Source).unwrap();
    let mut compared = 0;
    for feeder in store.all(Kind::Feeder).unwrap() {
        let Record::Feeder(feeder) = feeder.record else {
            continue;
        };
        let whole = Network::new(section(store, &feeder.feeder).unwrap());
        let lean = network(store, &feeder.feeder).unwrap();
        for p in whole.section().positions.iter().step_by(step) {
            assert_eq!(whole.walk(&p.position), lean.walk(&p.position));
            compared += 1;
        }
        for s in whole.section().structures.iter().step_by(step) {
            let (a, b) = (&whole, &lean);
            assert_eq!(
                a.walk_structure(&s.structure),
                b.walk_structure(&s.structure)
            );
            compared += 1;
        }
        for source in &sources {
            let name = source.record.name();
            let own = feeder.source.as_ref() == Some(&name);
            // Of another feeder's source a walk here says that it is none.
            if own || whole.walk_source(&name).source.is_some() {
                assert_eq!(whole.walk_source(&name), lean.walk_source(&name));
                compared += 1;
            }
        }
    }
    compared
}

fn put(store: &mut Store, name: &str, field: &str, value: serde_json::Value) {
    let record = store
        .named(name)
        .unwrap()
        .iter()
        .find_map(|h| store.by_row(h.rec).unwrap())
        .unwrap()
        .record;
    let change = Change::Edit(Edit {
        id: record.id(),
        kind: record.kind(),
        field: field.to_string(),
        old: record.to_value()[field].clone(),
        new: value,
    });
    let operation = Operation {
        id: fresh_id(now()),
        who: "dc".to_string(),
        entered: now(),
        effective: None,
        why: "seen from the road".to_string(),
        origin: None,
        undoes: None,
    };
    let changes = [Ok::<_, StoreError>(change)];
    assert_eq!(store.apply(&operation, changes).unwrap(), 1);
}

#[test]
fn a_walk_that_reads_less_answers_the_same_for_every_record_of_the_demo() {
    let (_dir, store) = demo();
    assert!(compare(&store, 1) > 500);
}

/// Sources under old names, at the ends of others' line and at structures that
/// are not in the register; feeders with a head and none; homes exchanged.
#[test]
fn it_answers_the_same_when_records_are_bent() {
    let (_dir, mut store) = demo();
    let names = |store: &Store, kind| -> Vec<String> {
        let all = store.page(kind, None, 4_000).unwrap();
        all.iter().map(|s| s.record.name()).collect()
    };
    let (feeders, sources) = (names(&store, Kind::Feeder), names(&store, Kind::Source));
    let structures = names(&store, Kind::Structure);
    for (i, source) in sources.iter().enumerate() {
        let at = &structures[(i * 37) % structures.len()];
        let text = match i % 3 {
            0 => at.to_lowercase(),
            1 => "nowhere".to_string(),
            _ => at.replace('-', " "),
        };
        put(&mut store, source, "structure", text.into());
    }
    compare(&store, 5);
    for (i, feeder) in feeders.iter().enumerate() {
        let other = &sources[i % sources.len()];
        put(&mut store, feeder, "source", other.as_str().into());
        put(
            &mut store,
            &structures[i * 11],
            "feeder",
            feeder.as_str().into(),
        );
    }
    assert!(compare(&store, 5) > 100);
}

#[test]
fn a_line_kept_in_mind_is_forgotten_when_anybody_writes() {
    let (dir, mut store) = demo();
    let other = Store::open(&dir.path().join("r.polecard"), Access::Read).unwrap();
    let Record::Feeder(f) = store.all(Kind::Feeder).unwrap().remove(0).record else {
        panic!("a feeder")
    };
    let standing = |store: &Store, name: &str| {
        let net = network(store, &f.feeder).unwrap();
        let here = net.positions().iter().find(|p| p.position == name);
        here.unwrap().toward.clone()
    };
    let net = network(&store, &f.feeder).unwrap();
    let again = network(&store, &f.feeder).unwrap();
    assert!(std::sync::Arc::ptr_eq(&net, &again), "kept");
    let home = |p: &&polecard::domain::asset::Position| p.feeder.as_ref() == Some(&f.feeder);
    let name = net.positions().iter().find(home).unwrap().position.clone();
    assert_eq!(standing(&store, &name), standing(&other, &name));
    put(&mut store, &name, "toward", "the weir".into());
    assert_eq!(
        standing(&store, &name).as_deref(),
        Some("the weir"),
        "own write"
    );
    assert_eq!(
        standing(&other, &name).as_deref(),
        Some("the weir"),
        "another's"
    );
}
