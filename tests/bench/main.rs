//! What the main questions cost: `cargo bench --bench answers`. On the demo and
//! on a made-up utility of `POLECARD_BENCH_STRUCTURES` structures.

#[allow(
    dead_code,
    reason = "shared by the benchmarks, each of which needs a part"
)]
mod ground;

use divan::{Bencher, counter::ItemsCount};
use ground::{Files, PARTS, demo, drawn, made, now, queries};
use polecard::calendar::Clock;
use polecard::domain::asset::Kind;
use polecard::store::{Access, Store};
use polecard::tui::{Screens, Setup};
use polecard::work::check::{Typed, check_position};
use polecard::work::find::find_with;
use polecard::work::schemes::schemes;
use polecard::work::{card, decode};
use ratatui::buffer::Buffer;
use ratatui::layout::Rect;

fn main() {
    divan::main();
}

/// Both registers, by name.
const REGISTERS: [&str; 2] = ["demo", "made"];

fn register(name: &str) -> Store {
    if name == "demo" { demo() } else { made() }
}

/// Calls in turn over a few samples, so that one lucky record does not stand
/// for all.
fn in_turn<T>(bencher: Bencher, of: &[T], mut each: impl FnMut(&T)) {
    let mut turn = of.iter().cycle();
    bencher.bench_local(|| each(turn.next().expect("a sample")));
}

#[divan::bench(args = REGISTERS)]
fn decode_a_number(bencher: Bencher, name: &str) {
    let store = register(name);
    let asked = queries(&store, "right number", 20);
    in_turn(bencher, &asked, |text| {
        divan::black_box(decode::decode(&store, text).expect("a reading"));
    });
}

#[divan::bench(args = ground::KINDS)]
fn find_in_made(bencher: Bencher, kind: &str) {
    find_in(bencher, &made(), kind);
}

#[divan::bench(args = ground::KINDS)]
fn find_in_demo(bencher: Bencher, kind: &str) {
    find_in(bencher, &demo(), kind);
}

fn find_in(bencher: Bencher, store: &Store, kind: &str) {
    let schemes = schemes(store).expect("schemes");
    let asked = queries(store, kind, 20);
    in_turn(bencher, &asked, |text| {
        divan::black_box(find_with(store, &schemes, text, 50, &|| false).expect("an answer"));
    });
}

#[divan::bench(args = REGISTERS)]
fn card_of_a_structure(bencher: Bencher, name: &str) {
    card_of(bencher, &register(name), Kind::Structure);
}

#[divan::bench(args = REGISTERS)]
fn card_of_a_position(bencher: Bencher, name: &str) {
    card_of(bencher, &register(name), Kind::Position);
}

#[divan::bench(args = REGISTERS)]
fn card_of_a_unit(bencher: Bencher, name: &str) {
    card_of(bencher, &register(name), Kind::Unit);
}

fn card_of(bencher: Bencher, store: &Store, kind: Kind) {
    let some = drawn(store, kind, 20);
    in_turn(bencher, &some, |s| {
        divan::black_box(card::card(store, s.rec, Clock::Fixed(now())).expect("a card"));
    });
}

#[divan::bench(args = REGISTERS)]
fn check_a_position(bencher: Bencher, name: &str) {
    let store = register(name);
    let some = drawn(&store, Kind::Position, 20);
    in_turn(bencher, &some, |s| {
        let typed = Typed::default();
        divan::black_box(check_position(&store, s, &typed, now().date()).expect("a verdict"));
    });
}

/// Structures, positions and entries of a made-up utility from its flat file.
#[divan::bench(sample_count = 5, sample_size = 1)]
fn import_csv(bencher: Bencher) {
    let files = Files::of(1_500);
    let rows = PARTS.iter().map(|part| {
        let text = std::fs::read_to_string(files.csv(part)).expect("a file");
        text.lines().count() - 1
    });
    let rows: usize = rows.sum();
    bencher
        .counter(ItemsCount::new(rows))
        .with_inputs(|| tempfile::tempdir().expect("a folder"))
        .bench_local_values(|dir| {
            files.register(&dir.path().join("r.polecard"));
            dir
        });
}

/// The same utility from the canonical YAML of its export.
#[divan::bench(sample_count = 5, sample_size = 1)]
fn import_yaml(bencher: Bencher) {
    let files = Files::of(1_500);
    let store = files.register(&files.dir.path().join("r.polecard"));
    let yaml = files.dir.path().join("yaml");
    polecard::exchange::export(&store, &yaml).expect("an export");
    // Records alone; with the log each would be read twice.
    let _ = std::fs::remove_dir_all(yaml.join("log"));
    let rows: u64 = Kind::ALL.iter().map(|k| store.count(*k).unwrap_or(0)).sum();
    bencher
        .counter(ItemsCount::new(rows))
        .with_inputs(|| tempfile::tempdir().expect("a folder"))
        .bench_local_values(|dir| {
            let mut store = Store::create(&dir.path().join("r.polecard")).expect("a register");
            polecard::work::import::from_yaml(
                &mut store,
                &yaml,
                &polecard::exchange::YamlAsk {
                    who: "bench",
                    now: now(),
                    apply: true,
                    second: None,
                    replace: false,
                },
            )
            .expect("an import");
            dir
        });
}

/// The same files split into documents and typed, and nothing else: what the
/// import of YAML is held against.
#[divan::bench(sample_count = 5, sample_size = 1)]
fn type_yaml_alone(bencher: Bencher) {
    let files = Files::of(1_500);
    let store = files.register(&files.dir.path().join("r.polecard"));
    let yaml = files.dir.path().join("yaml");
    polecard::exchange::export(&store, &yaml).expect("an export");
    let _ = std::fs::remove_dir_all(yaml.join("log"));
    bencher.bench_local(|| divan::black_box(typed_alone(&yaml)));
}

/// How many documents a folder holds, each read into its record.
fn typed_alone(folder: &std::path::Path) -> usize {
    let mut n = 0;
    for entry in std::fs::read_dir(folder).expect("a folder") {
        let path = entry.expect("an entry").path();
        if path.is_dir() {
            n += typed_alone(&path);
            continue;
        }
        let file = std::io::BufReader::new(std::fs::File::open(&path).expect("a file"));
        for doc in polecard::exchange::Documents::new(file, &path) {
            divan::black_box(
                polecard::exchange::record(&doc.expect("text"), &path).expect("typed"),
            );
            n += 1;
        }
    }
    n
}

/// From opening the register to the first frame at 80x24.
#[divan::bench(args = REGISTERS)]
fn first_frame(bencher: Bencher, name: &str) {
    let path = register(name).path().to_path_buf();
    bencher.bench_local(|| {
        let setup = Setup {
            clock: Clock::Fixed(now()),
            colour: true,
            ascii: false,
            thin_link: None,
            greeting: None,
            who: "lw".to_string(),
            drafts: None,
        };
        let store = Store::open(&path, Access::Read).expect("a register");
        let mut screens = Screens::new(store, setup).expect("screens");
        let area = Rect::new(0, 0, 80, 24);
        let mut buffer = Buffer::empty(area);
        screens.work(&|| false);
        divan::black_box(screens.draw(&mut buffer, area));
    });
}
