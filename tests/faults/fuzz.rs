//! Input that nobody meant: real samples cut, spliced and garbled, and plain
//! noise. Whatever reads it may refuse it, never panic and never hang.

use std::fmt::Write as _;
use std::panic::{AssertUnwindSafe, catch_unwind};
use std::path::{Path, PathBuf};
use std::sync::mpsc::{RecvTimeoutError, channel};
use std::time::{Duration, Instant};

use polecard::calendar::Moment;
use polecard::domain::code::{Decoder, Scheme, say, spoken_ways};
use polecard::exchange::scheme::{parse_scheme, shipped_files};
use polecard::exchange::{
    CsvMap, Documents, Draft, FormKind, Kept, document, flow_or_block, record, waiting,
};
use polecard::keys::{Chord, Decoder as Keys, KeyInput, LOCAL_ESCAPE_GAP};
use polecard::store::{Access, Store, fresh_id};
use polecard::work::find::find;
use polecard::work::import::{CsvOptions, from_csv};
use tempfile::TempDir;

use super::{Dice, shipped};
use crate::screens::rig::{Rig, copy_of_demo, now};

/// No single input may take longer, debug build and busy machine included.
const HANG: Duration = Duration::from_secs(20);

/// What breaks readers: ends of ranges, signs of the formats, text that is
/// wider or longer than it looks.
const TOKENS: &[&str] = &[
    "0",
    "-1",
    "99999999999999999999",
    "1e308",
    "-1e308",
    "1e-320",
    "NaN",
    ".inf",
    "-.inf",
    "0x10",
    "null",
    "~",
    "true",
    "{",
    "}",
    "[",
    "]",
    "[[[[[[[[",
    "{{{{{{{{",
    ":",
    ": ",
    "- ",
    "---\n",
    "...\n",
    "&a ",
    "*a",
    "<<: *a\n",
    "!!binary ",
    "!x ",
    "|\n",
    ">\n",
    "? ",
    "#",
    "\"",
    "'",
    "\\",
    "\\u0000",
    "\0",
    "\t",
    "\r\n",
    "\n",
    "\u{feff}",
    "\u{2028}",
    "\u{202e}",
    "é",
    "e\u{301}",
    "漢",
    "💥",
    "\u{7f}",
    "O0",
    "1Il",
    "niner",
    "hotel bravo two",
    "dash",
    "double",
    "13 31",
    "2024-02-30",
    "9999-12-31",
    "0000-00-00",
    ",",
    ",,,,",
    ";",
    "\x1b",
    "\x1b[",
    "\x1b[200~",
    "\x1b[201~",
    "\x1b[1;5A",
    "\x1bO",
];

/// Makes one input of the samples of a target.
fn garbled(dice: &mut Dice, samples: &[Vec<u8>]) -> Vec<u8> {
    if dice.under(20) == 0 {
        let length = dice.under(80);
        return (0..length).map(|_| dice.roll().to_le_bytes()[0]).collect();
    }
    let mut bytes = dice.one(samples).clone();
    for _ in 0..=dice.under(6) {
        let at = dice.under(bytes.len() + 1);
        let to = (at + 1 + dice.under(24)).min(bytes.len());
        match dice.under(9) {
            0 if at < bytes.len() => bytes[at] = dice.roll().to_le_bytes()[0],
            1 if at < bytes.len() => bytes[at] ^= 1 << dice.under(8),
            2 => drop(bytes.drain(at.min(to)..to)),
            3 => {
                let piece = bytes[at.min(to)..to].to_vec();
                let again = dice.under(bytes.len() + 1);
                bytes.splice(again..again, piece);
            }
            4 => bytes.truncate(at),
            5 | 6 => {
                bytes.splice(at..at, dice.one(TOKENS).bytes());
            }
            7 => {
                let times = 1 + dice.under(40);
                let token = dice.one(TOKENS).repeat(times);
                bytes.splice(at..at, token.bytes());
            }
            _ => {
                let other = dice.one(samples);
                let from = dice.under(other.len() + 1);
                let upto = (from + dice.under(60)).min(other.len());
                bytes.splice(at..at, other[from..upto].to_vec());
            }
        }
    }
    bytes
}

fn file(name: &str) -> String {
    std::fs::read_to_string(shipped(name)).unwrap()
}

/// The documents of YAML files, at most so many of each.
fn documents(names: &[&str], of_each: usize) -> Vec<Vec<u8>> {
    let cut = |name: &&str| -> Vec<Vec<u8>> {
        let text = file(name);
        text.split("\n---\n")
            .take(of_each)
            .map(|d| d.as_bytes().to_vec())
            .collect()
    };
    names.iter().flat_map(cut).collect()
}

fn texts(all: &[&str]) -> Vec<Vec<u8>> {
    all.iter().map(|t| t.as_bytes().to_vec()).collect()
}

type Read = Box<dyn FnMut(&[u8])>;

/// One reader, with samples of what it is meant to read.
struct Target {
    name: &'static str,
    /// Of a thousand inputs, how many it gets.
    share: usize,
    samples: Vec<Vec<u8>>,
    read: Read,
}

fn lossy(bytes: &[u8]) -> String {
    String::from_utf8_lossy(bytes).into_owned()
}

fn schemes() -> Vec<Scheme> {
    shipped_files()
        .iter()
        .map(|(file, text)| parse_scheme(file, text).unwrap())
        .collect()
}

const CODES: &[&str] = &[
    "HB2-RC-14",
    "40-118",
    "7-20931",
    "hb2 rc14",
    "hotel bravo two romeo charlie one four",
    "four zero dash one one eight",
    "T-5512",
    "oil recloser tannery",
    "HB2-BK-1",
];

fn decoding() -> Target {
    let schemes = schemes();
    Target {
        name: "decode",
        share: 300,
        samples: texts(CODES),
        read: Box::new(move |bytes| {
            let text = lossy(bytes);
            for reading in Decoder::new(&schemes).decode(&text) {
                // Every character is accounted for: the spans joined are the input.
                let spans = reading.spans.iter().map(|s| &text[s.range.clone()]);
                assert_eq!(spans.collect::<String>(), text);
            }
            for way in spoken_ways(&text) {
                let _ = say(&way);
            }
        }),
    }
}

fn finding(dir: &Path) -> Target {
    let store = Store::open(&dir.join("register.polecard"), Access::Read).unwrap();
    Target {
        name: "find",
        share: 12,
        samples: texts(CODES),
        read: Box::new(move |bytes| {
            find(&store, &lossy(bytes), 20, &|| false).unwrap();
        }),
    }
}

fn scheme_files() -> Target {
    let samples = shipped_files().iter().map(|(_, t)| t.as_bytes().to_vec());
    Target {
        name: "scheme files",
        share: 40,
        samples: samples.collect(),
        read: Box::new(|bytes| {
            // What is accepted must also be fit to read with.
            if let Ok(scheme) = parse_scheme("s.yaml", &lossy(bytes)) {
                let schemes = [scheme];
                let decoder = Decoder::new(&schemes);
                for code in CODES {
                    decoder.decode(code);
                }
                decoder.neighbours("40-118").take(50).for_each(drop);
            }
        }),
    }
}

/// Records, forms, intervals and kept maps: every kind of document.
fn yaml() -> Target {
    let names = [
        "data/demo/units.yaml",
        "data/demo/entries.yaml",
        "data/demo/orders.yaml",
        "data/demo/notices.yaml",
        "data/demo/utility.yaml",
        "data/demo/sources.yaml",
        "data/demo/conductors.yaml",
        "data/demo/feeders/HB1.yaml",
        "data/forms/forms.yaml",
        "data/intervals/intervals.yaml",
        "data/schemes/hollin.yaml",
    ];
    let mut samples = documents(&names, 40);
    let map = file("data/maps/new-poles.yaml");
    samples.push(map.into_bytes());
    Target {
        name: "YAML documents",
        share: 250,
        samples,
        read: Box::new(|bytes| {
            let path = Path::new("in.yaml");
            for doc in Documents::new(bytes, path).take(50) {
                let Ok(doc) = doc else { break };
                let Ok(read) = record(&doc, path) else {
                    continue;
                };
                // What was taken must come out as text that is taken again.
                let again = document(&read.to_value());
                let mut docs = Documents::new(again.as_bytes(), path);
                let doc = docs.next().unwrap().unwrap();
                let back = record(&doc, path);
                assert!(back.is_ok(), "{again}\n{:?}", back.err());
            }
        }),
    }
}

fn values() -> Target {
    let all = [
        "{value: 4000, standing: assumed, rule: x}",
        "[a, b, {c: d}]",
        "<ctrl-left>",
        "ctrl-x",
        "2026-10-03T14:10:00-06:00",
        "2026-10-03",
        "4,000 A",
        "unknown",
        "a:\n  - b\n  - c: 1",
    ];
    Target {
        name: "values and chords",
        share: 100,
        samples: texts(&all),
        read: Box::new(|bytes| {
            let text = lossy(bytes);
            let _ = flow_or_block(&text);
            let _ = Chord::parse(&text);
            let _ = text.parse::<Moment>();
            let _ = text.parse::<polecard::calendar::Date>();
        }),
    }
}

const MAPS: [&str; 4] = [
    "data/maps/new-poles.yaml",
    "data/maps/inspections.yaml",
    "data/maps/streetlight-poles.yaml",
    "data/maps/generated-units.yaml",
];

fn maps() -> Target {
    Target {
        name: "maps",
        share: 60,
        samples: MAPS.map(|m| file(m).into_bytes()).to_vec(),
        read: Box::new(|bytes| {
            if let Ok(map) = CsvMap::parse(&lossy(bytes), 1, Path::new("m.yaml")) {
                let _ = (map.forms(), map.kinds(), map.own_scheme());
            }
        }),
    }
}

fn rows(dir: &Path) -> Target {
    let (csv, refused) = (dir.join("f.csv"), dir.join("f.refused.csv"));
    let samples = ["new-poles", "inspections", "streetlight-sample"]
        .map(|n| file(&format!("data/csv/{n}.csv")).into_bytes());
    let mut turn = 0;
    Target {
        name: "CSV rows",
        share: 30,
        samples: samples.to_vec(),
        read: Box::new(move |bytes| {
            std::fs::write(&csv, bytes).unwrap();
            turn += 1;
            let options = CsvOptions {
                csv: csv.clone(),
                map: Some(shipped(MAPS[turn % 3])),
                dated: None,
                take: None,
                second: None,
                save_map: None,
                refused: Some(refused.clone()),
                apply: false,
            };
            let _ = from_csv(None, &options, "fz", now(), &mut |_| {});
        }),
    }
}

fn drafts(dir: &Path) -> Target {
    let register = dir.join("register.polecard");
    let folder = dir.join("drafts");
    let store = Store::open(&register, Access::Read).unwrap();
    let hit = store.named("40-118").unwrap().remove(0);
    let about = store.by_row(hit.rec).unwrap().unwrap().record;
    let about = (about.id(), about.kind(), about.name());
    let draft = Draft::new(FormKind::Correction, &register, about, ("fz", now()));
    let mut kept = Kept::fresh(draft, Some(&folder), fresh_id(now()));
    kept.draft.answers.insert("note".into(), "leaning".into());
    kept.save().unwrap();
    drop(kept);
    let is_draft = |p: &PathBuf| p.extension().is_some_and(|e| e == "draft");
    let listed = std::fs::read_dir(&folder).unwrap();
    let path = listed.map(|e| e.unwrap().path()).find(is_draft).unwrap();
    Target {
        name: "drafts",
        share: 30,
        samples: vec![std::fs::read(&path).unwrap()],
        read: Box::new(move |bytes| {
            std::fs::write(&path, bytes).unwrap();
            let found = waiting(Some(&folder), &register);
            // Taken up or set aside, never thrown away.
            let there = path.exists() || !found.damaged.is_empty();
            assert!(there, "{:?}", found.trouble);
            for name in found.damaged {
                let _ = std::fs::remove_file(folder.join(name));
            }
        }),
    }
}

fn key_bytes() -> Target {
    let all = [
        "40-118\r",
        "\x1b[A\x1b[B\x1b[1;5C",
        "\x1b[200~hb2 rc14\x1b[201~",
        "\x1bOP\x1b[15~",
        "\x03\x0c\x7f",
        "\u{2018}HB2\u{2014}RC\u{2014}14\u{2019}",
    ];
    Target {
        name: "key bytes",
        share: 175,
        samples: texts(&all),
        read: Box::new(|bytes| {
            let mut keys = Keys::new(LOCAL_ESCAPE_GAP);
            let mut at = Instant::now();
            for piece in bytes.chunks(3) {
                keys.feed(piece, at);
                at += Duration::from_millis(40);
                keys.release(at);
            }
        }),
    }
}

/// The same bytes as keys at the screens, which may also write.
fn screens(dir: &Path) -> Target {
    let path = dir.join("register.polecard");
    let all = [
        "40-118\rk",
        "HB2-RC-14\ri2a3",
        "7-20931\rkjjj\rB\rw\r",
        "hb2\rmjj\r",
        "40-118\r\rty\x7f\x7fh",
        "7-20931\rxlozvu",
        "HB1\rq\x1b[B\x1b[Bx",
        "m1\rm2\rm3\rm4\r",
    ];
    Target {
        name: "keys at the screens",
        share: 3,
        samples: texts(&all),
        read: Box::new(move |bytes| {
            let mut rig = Rig::on(&path, 50, 20);
            let mut keys = Keys::new(LOCAL_ESCAPE_GAP);
            let began = Instant::now();
            let mut heard = keys.feed(bytes, began);
            heard.extend(keys.release(began + Duration::from_secs(5)));
            for input in heard.into_iter().take(24) {
                match input {
                    KeyInput::Key(chord) => rig.press(chord),
                    KeyInput::Paste(text) => rig.paste(&text),
                }
            }
        }),
    }
}

fn targets(dir: &Path) -> Vec<Target> {
    vec![
        decoding(),
        finding(dir),
        scheme_files(),
        yaml(),
        values(),
        maps(),
        rows(dir),
        drafts(dir),
        key_bytes(),
        screens(dir),
    ]
}

/// What a run found wrong, one line an input.
fn run(count: usize, first: u64) -> String {
    let dir: TempDir = copy_of_demo();
    let (tell, hear) = channel::<String>();
    let worker = std::thread::spawn(move || {
        let mut wrong = String::new();
        for (number, mut target) in (0..).zip(targets(dir.path())) {
            let inputs = (count * target.share / 1000).max(1);
            let began = Instant::now();
            for n in 0..inputs {
                let seed = first + u64::try_from(n).unwrap();
                // Each input has a seed of its own, so that it can be made again.
                let bytes = garbled(&mut Dice(seed << 8 | number), &target.samples);
                let what = format!("{} {seed}: {:?}", target.name, lossy(&bytes));
                let _ = tell.send(what.clone());
                if catch_unwind(AssertUnwindSafe(|| (target.read)(&bytes))).is_err() {
                    let _ = writeln!(wrong, "panic: {what}");
                }
            }
            println!(
                "{}: {inputs} inputs in {:.1?}",
                target.name,
                began.elapsed()
            );
        }
        wrong
    });
    let mut last = String::new();
    loop {
        match hear.recv_timeout(HANG) {
            Ok(what) => last = what,
            Err(RecvTimeoutError::Disconnected) => break worker.join().unwrap(),
            Err(RecvTimeoutError::Timeout) => panic!("hangs: {last}"),
        }
    }
}

#[test]
fn garbled_input_makes_nothing_panic_or_hang() {
    let wrong = run(2_000, 1);
    assert!(wrong.is_empty(), "{wrong}");
}

fn from_environment(name: &str, otherwise: u64) -> u64 {
    let given = std::env::var(name).ok();
    given.and_then(|n| n.parse().ok()).unwrap_or(otherwise)
}

/// `FUZZ=1000000 cargo test garbled_input_in_a_long_run -- --ignored --nocapture`;
/// `FUZZ_FIRST` is the seed to begin with.
#[test]
#[ignore = "takes as long as it is told to"]
fn garbled_input_in_a_long_run() {
    let count = usize::try_from(from_environment("FUZZ", 100_000)).unwrap();
    let wrong = run(count, from_environment("FUZZ_FIRST", 1_000_000));
    assert!(wrong.is_empty(), "{wrong}");
}
