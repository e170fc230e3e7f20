//! Lines that the register keeps must be what the records make of them, after
//! any edit; and where that cannot be known, nothing kept may be used.

use polecard::calendar::{Clock, Moment};
use polecard::domain::asset::{Kind, Record, RecordId, SpanEnds};
use polecard::domain::change::{Change, Edit, Operation};
use polecard::store::{Access, Store, StoreError, fresh_id};
use serde_json::{Value, json};
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

fn operation() -> Operation {
    Operation {
        id: fresh_id(now()),
        who: "dc".to_string(),
        entered: now(),
        effective: None,
        why: "seen from the road".to_string(),
        origin: None,
        undoes: None,
    }
}

/// A sequence of numbers that looks random and is the same each time.
struct Dice(u64);

impl Dice {
    fn roll(&mut self, below: usize) -> usize {
        self.0 = self
            .0
            .wrapping_mul(6_364_136_223_846_793_005)
            .wrapping_add(1_442_695_040_888_963_407);
        usize::try_from(self.0 >> 33).unwrap() % below.max(1)
    }

    fn of<'t, T>(&mut self, all: &'t [T]) -> &'t T {
        &all[self.roll(all.len())]
    }
}

/// Homes whose line is kept, after holding each against the records.
fn held_against_records(store: &Store, said: &str) -> usize {
    let mut kept = 0;
    for home in store.homes().unwrap().into_iter().flatten() {
        if let Some(line) = store.kept_line(&home).unwrap() {
            let built = store.built_line(&home).unwrap();
            assert!(line.pack() == built.pack(), "{home} after {said}");
            kept += 1;
        }
    }
    kept
}

fn edit(record: &Record, field: &str, new: Value) -> Change {
    Change::Edit(Edit {
        id: record.id(),
        kind: record.kind(),
        field: field.to_string(),
        old: record.to_value()[field].clone(),
        new,
    })
}

/// One field of a record bent so that the line may change.
fn bend(record: &Record, dice: &mut Dice, names: &Names) -> Option<(String, Value)> {
    let at = dice.of(&names.structures).clone();
    let at = match dice.roll(4) {
        0 => json!(at.to_lowercase()),
        1 => json!(at.replace('-', " ")),
        _ => json!(at),
    };
    let out = match record {
        Record::Structure(_) => bend_structure(record, dice, names),
        Record::Span(s) => bend_span(&s.span, at, dice, names),
        Record::Position(_) => bend_position(at, dice, names),
        Record::Unit(_) => match dice.roll(2) {
            0 => (
                "deployments",
                json!([{"at": dice.of(&names.positions), "from": "2020-01-02"}]),
            ),
            _ => ("nameplate", json!({"kva": dice.roll(100) + 1})),
        },
        Record::Feeder(_) => match dice.roll(2) {
            0 => ("source", json!(dice.of(&names.sources))),
            _ => ("head", at),
        },
        Record::Source(_) => ("structure", at),
        _ => return None,
    };
    Some((out.0.to_string(), out.1))
}

fn bend_structure(record: &Record, dice: &mut Dice, names: &Names) -> (&'static str, Value) {
    let feeders = &names.feeders;
    match dice.roll(5) {
        0 => ("feeder", json!(dice.of(feeders))),
        1 => ("circuits", json!([dice.of(feeders), dice.of(feeders)])),
        2 => {
            let text = dice.of(&names.structures);
            ("names", json!([{"text": text, "whose": "telephone"}]))
        }
        3 => ("structure", json!(format!("{}x", record.name()))),
        _ => ("note", json!("leans")),
    }
}

fn bend_span(span: &SpanEnds, at: Value, dice: &mut Dice, names: &Names) -> (&'static str, Value) {
    let mut ends = serde_json::to_value(span).unwrap();
    match dice.roll(6) {
        0 => return ("feeder", json!(dice.of(&names.feeders))),
        1 => return ("from_terminal", json!("bus 2")),
        2 => ends["from"] = at,
        3 => ends["to"] = at,
        4 => ends["phases"] = json!(dice.of(&["A", "AB", "ABC", "C"])),
        _ => ends["length_ft"] = json!(120.0),
    }
    ("span", ends)
}

fn bend_position(at: Value, dice: &mut Dice, names: &Names) -> (&'static str, Value) {
    let feeders = &names.feeders;
    match dice.roll(9) {
        0 => ("feeder", json!(dice.of(feeders))),
        1 => ("structure", at),
        2 => ("toward", at),
        3 => ("phases", json!(dice.of(&["A", "AB", "ABC", "C"]))),
        4 => ("normally", json!(dice.of(&["open", "closed", "unknown"]))),
        5 => (
            "ties",
            json!([dice.of(feeders).to_lowercase(), dice.of(feeders)]),
        ),
        6 => (
            "class",
            json!(dice.of(&["transformer", "switch", "recloser", "generation"])),
        ),
        7 => (
            "state",
            json!({"stands": "open", "at": "2026-10-01T08:00:00-06:00"}),
        ),
        _ => (
            "customers",
            json!({"count": dice.roll(90), "critical": ["water"]}),
        ),
    }
}

struct Names {
    feeders: Vec<String>,
    structures: Vec<String>,
    positions: Vec<String>,
    sources: Vec<String>,
}

fn names_of(store: &Store) -> Names {
    let names = |kind| -> Vec<String> {
        let all = store.page(kind, None, 4_000).unwrap();
        all.iter().map(|s| s.record.name()).collect()
    };
    Names {
        feeders: names(Kind::Feeder),
        structures: names(Kind::Structure),
        positions: names(Kind::Position),
        sources: names(Kind::Source),
    }
}

const KINDS: [Kind; 8] = [
    Kind::Structure,
    Kind::Span,
    Kind::Span,
    Kind::Position,
    Kind::Position,
    Kind::Unit,
    Kind::Feeder,
    Kind::Source,
];

/// How many random operations; `POLECARD_TEST_LINES` asks for more.
fn rounds() -> usize {
    let asked = std::env::var("POLECARD_TEST_LINES").ok();
    asked.and_then(|n| n.parse().ok()).unwrap_or(40)
}

#[test]
fn what_is_kept_is_what_the_records_make_after_random_edits() {
    let (_dir, mut store) = demo();
    assert!(held_against_records(&store, "the start") >= 5);
    let mut dice = Dice(7);
    let mut gone: Vec<Record> = Vec::new();
    let (mut written, mut held) = (0, 0);
    for round in 0..rounds() {
        let names = names_of(&store);
        let mut changes = Vec::new();
        let mut said = String::new();
        for _ in 0..=dice.roll(3) {
            let all = store.page(*dice.of(&KINDS), None, 4_000).unwrap();
            let record = dice.of(&all).record.clone();
            let change = match dice.roll(8) {
                0 => {
                    gone.push(record.clone());
                    Change::Remove(record.id())
                }
                1 if !gone.is_empty() => Change::Add(gone.swap_remove(0)),
                _ => match bend(&record, &mut dice, &names) {
                    Some((field, new)) => edit(&record, &field, new),
                    None => continue,
                },
            };
            said.push_str(&format!("round {round}: {} {change:?}; ", record.name()));
            changes.push(Ok::<_, StoreError>(change));
        }
        // Two changes of one record may not fit together: then nothing is written.
        if store.apply(&operation(), changes).is_ok() {
            written += 1;
            held += held_against_records(&store, &said);
        }
    }
    assert!(written * 2 > rounds(), "{written} were written");
    assert!(held > written * 3, "{held} lines were held against records");
}

fn first(store: &Store, kind: Kind) -> Record {
    store.page(kind, None, 1).unwrap().remove(0).record
}

fn home(store: &Store) -> String {
    first(store, Kind::Feeder).name()
}

#[test]
fn an_edit_that_no_walk_reads_leaves_every_line_where_it_is() {
    let (_dir, mut store) = demo();
    let before = held_against_records(&store, "the start");
    let pole = first(&store, Kind::Structure);
    let change = edit(&pole, "note", json!("leans"));
    store
        .apply(&operation(), [Ok::<_, StoreError>(change)])
        .unwrap();
    assert_eq!(held_against_records(&store, "a note"), before);
}

/// Whoever writes the log without looking after the lines leaves its number
/// behind: nothing kept before counts then.
#[test]
fn lines_kept_before_a_write_that_did_not_look_after_them_do_not_count() {
    let (dir, store) = demo();
    let home = home(&store);
    assert!(store.kept_line(&home).unwrap().is_some());
    drop(store);
    let path = dir.path().join("r.polecard");
    let conn = rusqlite::Connection::open(&path).unwrap();
    conn.execute(
        "insert into operation(seq, id, who, entered, why, changes, digest)
         select max(seq) + 1, ?1, 'dc', entered, 'by an older program', 0, digest from operation",
        [RecordId::from_parts(1, 1).to_string()],
    )
    .unwrap();
    drop(conn);
    let mut store = Store::open(&path, Access::Write).unwrap();
    assert!(store.kept_line(&home).unwrap().is_none());
    assert!(store.keep_lines().unwrap() >= 5);
    assert!(store.kept_line(&home).unwrap().is_some());
    held_against_records(&store, "they were kept anew");
}

#[test]
fn a_look_at_the_past_uses_nothing_that_is_kept() {
    let (_dir, store) = demo();
    let home = home(&store);
    let seq = store.head().unwrap().seq;
    let past = store.as_of(seq).unwrap();
    assert!(past.kept_line(&home).unwrap().is_none());
}

#[test]
fn a_line_kept_in_an_unknown_form_is_built_anew() {
    let (_dir, store) = demo();
    let bytes = store.built_line(&home(&store)).unwrap().pack();
    let line = polecard::domain::network::Line::unpack;
    assert!(line(&bytes).is_some());
    let mut other = bytes.clone();
    other[0] = 99;
    assert!(line(&other).is_none(), "another form");
    for cut in (0..bytes.len()).step_by(bytes.len() / 40 + 1) {
        assert!(line(&bytes[..cut]).is_none(), "cut at {cut}");
    }
}

/// What is kept is derived and no part of the chain, so a check looks at it too.
#[test]
fn a_line_exchanged_behind_the_programs_back_is_told() {
    let (dir, store) = demo();
    assert_eq!(store.unlike_lines().unwrap(), Vec::<String>::new());
    drop(store);
    let path = dir.path().join("r.polecard");
    let conn = rusqlite::Connection::open(&path).unwrap();
    conn.execute(
        "update line set body = (select body from line where home = 'HB3') where home = 'HB2'",
        [],
    )
    .unwrap();
    drop(conn);
    let store = Store::open(&path, Access::Read).unwrap();
    assert_eq!(store.unlike_lines().unwrap(), ["HB2"]);
    let checked = polecard::work::backup::check(&path, &[]).unwrap();
    assert!(!checked.sound);
    assert!(checked.faults.iter().any(|f| f.part == "line"));
}
