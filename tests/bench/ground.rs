//! The registers that are measured: the demo utility, and a made-up one of any
//! size. Its numbers, roads and ratings are invented, and the same every time.

use std::fmt::Write as _;
use std::path::{Path, PathBuf};
use std::sync::OnceLock;

use polecard::calendar::{Clock, Moment};
use polecard::domain::asset::{Kind, Record};
use polecard::store::{Access, Store, Stored};
use polecard::work::import::{CsvOptions, from_csv};
use tempfile::TempDir;

/// How many structures, when the environment does not say.
const STRUCTURES: usize = 3_000;
/// Structures of one feeder.
const A_FEEDER: usize = 1_500;

const ROADS: [&str; 16] = [
    "Alder", "Basin", "Brook", "Cedar", "Creek", "Dale", "Elder", "Field", "Forge", "Grange",
    "Heath", "Juniper", "Kiln", "Larch", "Marsh", "Quarry",
];
const TAILS: [&str; 5] = ["Rd", "St", "Ln", "Ave", "Way"];
const SIDES: [&str; 6] = [
    "north side",
    "south side",
    "rear lot",
    "corner",
    "behind barn",
    "at gate",
];
const CONDITIONS: [&str; 4] = ["good", "fair", "poor", "reject"];
/// Device, letter of its number, rating and interrupting rating.
const DEVICES: [(&str, char, &str, &str, &str); 4] = [
    ("cutout", 'F', "15 kV", "100", "10000"),
    ("transformer", 'T', "7.2 kV", "25", "0"),
    ("arrester", 'A', "10 kV", "0", "0"),
    ("recloser", 'K', "15 kV", "560", "12000"),
];

/// The moment of every measurement.
pub fn now() -> Moment {
    "2026-10-03T14:10:00-06:00".parse().expect("a moment")
}

/// How many structures the made-up utility has.
pub fn structures() -> usize {
    let text = std::env::var("POLECARD_BENCH_STRUCTURES").unwrap_or_default();
    text.parse().unwrap_or(STRUCTURES)
}

/// Numbers that look drawn by lot and are the same in every run (xorshift).
pub struct Lot(u64);

impl Lot {
    pub fn new(seed: u64) -> Lot {
        Lot(seed.wrapping_mul(0x9e37_79b9_7f4a_7c15) | 1)
    }

    pub fn below(&mut self, n: usize) -> usize {
        self.0 ^= self.0 << 13;
        self.0 ^= self.0 >> 7;
        self.0 ^= self.0 << 17;
        usize::try_from(self.0 % (n.max(1) as u64)).unwrap_or(0)
    }

    pub fn of<'a, T>(&mut self, some: &'a [T]) -> &'a T {
        &some[self.below(some.len())]
    }
}

/// The four files of a made-up utility.
pub struct Files {
    pub dir: TempDir,
}

/// File and the map beside it, in the order in which they come in.
pub const PARTS: [&str; 4] = ["sources", "register", "spans", "units"];

impl Files {
    pub fn of(structures: usize) -> Files {
        let mut text = Texts::begun();
        let mut lot = Lot::new(7);
        for n in 0..structures {
            text.structure(n, &mut lot);
        }
        let files = Files {
            dir: tempfile::tempdir().expect("a folder"),
        };
        for (name, text) in PARTS.iter().zip(text.0) {
            std::fs::write(files.csv(name), text).expect("a file");
        }
        files
    }

    pub fn csv(&self, part: &str) -> PathBuf {
        self.dir.path().join(format!("{part}.csv"))
    }

    /// Takes one file in.
    pub fn enter(&self, store: &mut Store, part: &str) {
        let map = Path::new(env!("CARGO_MANIFEST_DIR"));
        let options = CsvOptions {
            csv: self.csv(part),
            map: Some(map.join(format!("data/maps/generated-{part}.yaml"))),
            dated: None,
            take: None,
            second: None,
            save_map: None,
            refused: None,
            apply: true,
        };
        let done = from_csv(Some(store), &options, "bench", now(), &mut |_| {});
        assert_eq!(done.expect("an import").imported.refused, 0);
    }

    /// A register of them all.
    pub fn register(&self, path: &Path) -> Store {
        let mut store = Store::create(path).expect("a register");
        for part in PARTS {
            self.enter(&mut store, part);
        }
        store
    }
}

/// Sources, register, spans and units.
struct Texts([String; 4]);

impl Texts {
    fn begun() -> Texts {
        Texts([
            "feeder,kv_ll,fault_mva,x_over_r,x0_over_x1,peak_a,first_structure\n".to_string(),
            "row,id,feeder,seq,kind,material,height_m,class,set_year,lat,lon,road,location,\
             device,phase,rated_kv,rated,interrupting_a,unit,last_inspected,condition,notes\n"
                .to_string(),
            "from,to,phases,conductor,length_ft\n".to_string(),
            "unit,device,rated_kv,rated,interrupting_a,position,in_service\n".to_string(),
        ])
    }

    /// The structure of a number: on a trunk with one-phase laterals of three.
    fn structure(&mut self, n: usize, lot: &mut Lot) {
        let [sources, register, spans, units] = &mut self.0;
        let (feeder, at) = (feeder(n / A_FEEDER), n % A_FEEDER);
        let (trunk, side) = (at / 4, at % 4);
        let name = |trunk: usize, side: usize| {
            let letter = ["", "A", "B", "C"][side];
            format!("{feeder}-{:04}{letter}", trunk + 1)
        };
        let own = name(trunk, side);
        if at == 0 {
            let _ = writeln!(sources, "{feeder},13.2,210,11,0.9,270,{own}");
        } else {
            let (from, phases) = match side {
                0 => (name(trunk - 1, 0), "ABC"),
                _ => (name(trunk, side - 1), "A"),
            };
            let _ = writeln!(
                spans,
                "{from},{own},{phases},336.4 ACSR,{}",
                90 + lot.below(300)
            );
        }
        let house = 1 + lot.below(9_000);
        let road = format!("{house} {} {}", lot.of(&ROADS), lot.of(&TAILS));
        let near = lot.of(&SIDES);
        let (seen, year) = (1 + lot.below(27), 2015 + lot.below(10));
        let _ = writeln!(
            register,
            "structure,{own},{feeder},{at},pole,wood,12.2,,{},39.1,-88.1,{road},{near},,,,,,,{year}-09-{seen:02},{},",
            1960 + lot.below(60),
            lot.of(&CONDITIONS)
        );
        if lot.below(8) == 0 {
            let (device, letter, kv, rated, breaks) = *lot.of(&DEVICES);
            let (position, unit) = (format!("{letter}/{own}.1"), format!("U{:07}H", 100_000 + n));
            let _ = writeln!(
                register,
                "position,{position},{feeder},{at},,,,,,39.1,-88.1,{road},{near},{device},A,{kv},{rated},{breaks},{unit},,,"
            );
            let _ = writeln!(
                units,
                "{unit},{device},{kv},{rated},{breaks},{position},2012-09-13"
            );
        }
    }
}

/// `AB1`, `AB2` … `AC1` …
fn feeder(n: usize) -> String {
    let letter = |i: usize| char::from(b'A' + u8::try_from(i % 26).unwrap_or(0));
    let pair = n / 9;
    format!(
        "{}{}{}",
        letter(pair / 25),
        letter(pair / 25 + 1 + pair % 25),
        n % 9 + 1
    )
}

/// The demo utility, installed once.
pub fn demo() -> Store {
    static MADE: OnceLock<TempDir> = OnceLock::new();
    let path = MADE
        .get_or_init(|| {
            let dir = tempfile::tempdir().expect("a folder");
            let path = dir.path().join("demo.polecard");
            polecard::work::demo::install(&path, Clock::Fixed(now())).expect("the demo");
            dir
        })
        .path()
        .join("demo.polecard");
    Store::open(&path, Access::Read).expect("the demo")
}

/// The made-up utility, made once; or the register that the environment names.
pub fn made() -> Store {
    static MADE: OnceLock<TempDir> = OnceLock::new();
    if let Some(path) = std::env::var_os("POLECARD_BENCH_REGISTER") {
        return Store::open(Path::new(&path), Access::Read).expect("a register");
    }
    let path = MADE
        .get_or_init(|| {
            let files = Files::of(structures());
            files.register(&files.dir.path().join("made.polecard"));
            files.dir
        })
        .path()
        .join("made.polecard");
    Store::open(&path, Access::Read).expect("a register")
}

/// Records of a kind, drawn by lot from the whole register.
pub fn drawn(store: &Store, kind: Kind, count: usize) -> Vec<Stored> {
    let mut lot = Lot::new(11);
    let rows: u64 = Kind::ALL.iter().map(|k| store.count(*k).unwrap_or(0)).sum();
    let rows = usize::try_from(rows).unwrap_or(usize::MAX);
    let mut out = Vec::new();
    for _ in 0..count * 1_000 {
        let rec = i64::try_from(1 + lot.below(rows)).unwrap_or(1);
        let stored = store.by_row(rec).expect("a row");
        out.extend(stored.filter(|s| s.record.kind() == kind));
        if out.len() == count {
            break;
        }
    }
    out
}

/// What people type, by kind.
pub const KINDS: [&str; 9] = [
    "right number",
    "partial number",
    "wrong number",
    "spoken number",
    "words",
    "words of two records",
    "house number",
    "number and words",
    "number and wrong words",
];

/// Queries of one kind, made of what is in the register.
pub fn queries(store: &Store, kind: &str, count: usize) -> Vec<String> {
    let mut lot = Lot::new(3);
    let some: Vec<(String, String, String, String)> = drawn(store, Kind::Structure, count * 2)
        .into_iter()
        .filter_map(|s| match s.record {
            Record::Structure(s) => Some((
                s.structure,
                s.place.house.unwrap_or_default(),
                s.place.road.unwrap_or_default(),
                s.place.near.unwrap_or_default(),
            )),
            _ => None,
        })
        .collect();
    let (first, second) = some.split_at(some.len() / 2);
    let asked = first.iter().zip(second).map(|(one, other)| {
        let (name, house, road, near) = one;
        match kind {
            "right number" => name.clone(),
            "partial number" => name.chars().skip(2).collect(),
            "wrong number" => mistaken(name, &mut lot),
            "spoken number" => spoken(name),
            "words" => format!("{near} {road}"),
            "words of two records" => format!("{} {near} {}", other.2, road),
            "house number" => format!("{house} {road}"),
            "number and words" => format!("{name} {road}"),
            _ => format!("{name} {}", other.2),
        }
    });
    asked.collect()
}

/// One digit of it another.
fn mistaken(name: &str, lot: &mut Lot) -> String {
    let digits: Vec<usize> = name
        .char_indices()
        .filter(|(_, c)| c.is_ascii_digit())
        .map(|(i, _)| i)
        .collect();
    let at = *lot.of(&digits);
    let old = name.as_bytes()[at] - b'0';
    let new = (usize::from(old) + 1 + lot.below(9)) % 10;
    format!("{}{new}{}", &name[..at], &name[at + 1..])
}

fn spoken(name: &str) -> String {
    const DIGITS: [&str; 10] = [
        "zero", "one", "two", "three", "four", "five", "six", "seven", "eight", "nine",
    ];
    const LETTERS: [&str; 26] = [
        "alpha", "bravo", "charlie", "delta", "echo", "foxtrot", "golf", "hotel", "india",
        "juliett", "kilo", "lima", "mike", "november", "oscar", "papa", "quebec", "romeo",
        "sierra", "tango", "uniform", "victor", "whiskey", "xray", "yankee", "zulu",
    ];
    let words = name.bytes().filter_map(|b| match b {
        b'0'..=b'9' => Some(DIGITS[usize::from(b - b'0')]),
        b'A'..=b'Z' => Some(LETTERS[usize::from(b - b'A')]),
        _ => None,
    });
    words.collect::<Vec<_>>().join(" ")
}
