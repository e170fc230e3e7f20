//! The card and the trace: what stands on them, where, and what they never
//! say. The demo utility's flaws are found; a hand-made register is added up
//! on paper.

mod rules;
mod shown;

use std::sync::OnceLock;

use polecard::calendar::{Clock, Moment};
use polecard::exchange::{Source, import};
use polecard::present::{Line, Style, card as text};
use polecard::store::{Access, Store};
use polecard::work::card::{Card, card};
use polecard::work::{demo, resolve};

pub fn clock() -> Clock {
    Clock::Fixed("2026-10-05T07:30:00-06:00".parse::<Moment>().unwrap())
}

/// The demo register, made once; each test opens it for itself.
pub fn demo_store() -> Store {
    static MADE: OnceLock<tempfile::TempDir> = OnceLock::new();
    let dir = MADE.get_or_init(|| {
        let dir = tempfile::tempdir().unwrap();
        demo::install(&dir.path().join("demo.polecard"), clock()).unwrap();
        dir
    });
    Store::open(&dir.path().join("demo.polecard"), Access::Read).unwrap()
}

pub fn store_of(yaml: &str) -> (tempfile::TempDir, Store) {
    let dir = tempfile::tempdir().unwrap();
    std::fs::create_dir(dir.path().join("in")).unwrap();
    std::fs::write(dir.path().join("in/all.yaml"), yaml).unwrap();
    let mut store = Store::create(&dir.path().join("r.polecard")).unwrap();
    let source = Source::at(&dir.path().join("in")).unwrap();
    import(&mut store, &source, "hb", clock().now(), false).unwrap();
    (dir, store)
}

pub fn card_of(store: &Store, name: &str) -> Card {
    let rec = resolve(store, name).unwrap().rec;
    card(store, rec, clock()).unwrap()
}

pub const fn style(width: usize) -> Style {
    Style {
        width,
        ascii: false,
    }
}

pub fn plain(lines: &[Line]) -> String {
    let lines: Vec<String> = lines
        .iter()
        .map(|l| l.plain().trim_end().to_string())
        .filter(|l| !l.contains("; id 0"))
        .collect();
    lines.join("\n")
}

pub fn shown(store: &Store, name: &str, width: usize) -> String {
    plain(&text::lines(&card_of(store, name), style(width)))
}

pub fn top(text: &str, rows: usize) -> String {
    text.lines().take(rows).collect::<Vec<_>>().join("\n")
}

/// The folder that an import came from differs from run to run.
pub fn before_history(text: &str) -> &str {
    text.split(" history, newest first").next().unwrap()
}

pub fn cautions(card: &Card) -> String {
    card.cautions
        .iter()
        .map(|c| format!("{} {}", c.severity, c.text))
        .collect::<Vec<_>>()
        .join("\n")
}

pub fn assert_caution(card: &Card, words: &[&str]) {
    let all = cautions(card);
    assert!(
        all.lines().any(|l| words.iter().all(|w| l.contains(w))),
        "{}: {words:?} not in\n{all}",
        card.name
    );
}
