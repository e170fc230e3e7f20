//! The house rules that a compiler does not hold: imports go down only, and
//! some words live on one floor. Each forbidden form has a fixture that must
//! fail, so that the test itself is tested.

use std::collections::BTreeSet;
use std::path::{Path, PathBuf};

/// Module prefixes and their floors; the longest matching prefix counts.
const FLOORS: &[(&str, u8)] = &[
    ("units", 0),
    ("calendar", 0),
    ("role", 0),
    ("domain", 1),
    ("store", 2),
    ("exchange", 2),
    ("work", 3),
    ("present", 4),
    ("config", 5),
    ("keys", 5),
    ("cli", 6),
    ("tui::command", 6),
    ("tui::theme", 6),
    ("tui::widget", 6),
    ("tui::screen", 6),
    ("tui::app", 6),
    ("tui", 7),
    ("main", 8),
    ("lib", 8),
];

/// Neighbours of one floor that may be used, in this direction only.
const NEIGHBOURS: &[(&str, &str)] = &[
    ("exchange", "store"),
    ("calendar", "units"),
    ("tui::screen", "tui::widget"),
    ("tui::screen", "tui::theme"),
    ("tui::screen", "tui::command"),
    ("tui::app", "tui::screen"),
    ("tui::app", "tui::widget"),
    ("tui::app", "tui::theme"),
    ("tui::app", "tui::command"),
    ("tui::widget", "tui::theme"),
    ("tui::widget", "tui::command"),
    ("tui::theme", "tui::command"),
    ("config", "keys"),
    ("tui::command", "tui::keymap"),
];

fn floor(module: &str) -> Option<(&'static str, u8)> {
    FLOORS
        .iter()
        .filter(|(prefix, _)| module == *prefix || module.starts_with(&format!("{prefix}::")))
        .max_by_key(|(prefix, _)| prefix.len())
        .copied()
}

/// Code without comments, strings and the test modules.
fn bare(code: &str) -> String {
    let code = match code.find("#[cfg(test)]\nmod tests") {
        Some(at) => &code[..at],
        None => code,
    };
    let mut out = String::new();
    let mut chars = code.chars().peekable();
    while let Some(c) = chars.next() {
        match c {
            '/' if chars.peek() == Some(&'/') => {
                for c in chars.by_ref() {
                    if c == '\n' {
                        out.push('\n');
                        break;
                    }
                }
            }
            '"' => {
                out.push('"');
                while let Some(c) = chars.next() {
                    match c {
                        '\\' => {
                            chars.next();
                        }
                        '"' => break,
                        _ => {}
                    }
                }
                out.push('"');
            }
            '\'' if chars.clone().nth(1) == Some('\'') => {
                chars.next();
                chars.next();
                out.push(' ');
            }
            c => out.push(c),
        }
    }
    out
}

/// Every path that the code of `module` names, from the root of the crate.
fn paths(module: &str, code: &str) -> BTreeSet<String> {
    let code = bare(code);
    let mut out = BTreeSet::new();
    for root in ["crate::", "super::", "self::", "polecard::"] {
        let mut rest = code.as_str();
        while let Some(at) = rest.find(root) {
            let before = rest[..at].chars().last();
            let tail = &rest[at..];
            rest = &rest[at + root.len()..];
            if before.is_some_and(|c| c.is_alphanumeric() || c == '_' || c == ':') {
                continue;
            }
            for path in tree(tail) {
                out.insert(absolute(module, &path));
            }
        }
    }
    out
}

/// The paths of a use-tree or of an inline path at the start of `text`.
fn tree(text: &str) -> Vec<String> {
    let stop = text
        .find(|c: char| !(c.is_alphanumeric() || c == '_' || c == ':'))
        .unwrap_or(text.len());
    let head = text[..stop].trim_end_matches(':').to_string();
    let after = text[stop..].trim_start();
    if !text[..stop].ends_with("::") || !after.starts_with('{') {
        return vec![head];
    }
    let mut depth = 0;
    let mut start = 1;
    let mut out = Vec::new();
    for (i, c) in after.char_indices() {
        match c {
            '{' => depth += 1,
            '}' => depth -= 1,
            _ => {}
        }
        if (c == ',' && depth == 1) || depth == 0 {
            for inner in tree(after[start..i].trim()) {
                if !inner.is_empty() {
                    out.push(format!("{head}::{inner}"));
                }
            }
            start = i + 1;
        }
        if depth == 0 {
            break;
        }
    }
    out
}

fn absolute(module: &str, path: &str) -> String {
    let mut at: Vec<&str> = module.split("::").collect();
    let mut out = Vec::new();
    let mut parts = path.split("::").peekable();
    match parts.next() {
        Some("crate" | "polecard") => at.clear(),
        Some("self") => {}
        Some("super") => {
            at.pop();
            while parts.peek() == Some(&"super") {
                parts.next();
                at.pop();
            }
        }
        _ => {}
    }
    out.extend(at);
    out.extend(parts);
    out.join("::")
}

/// What is wrong with the imports of one file.
fn upward(module: &str, code: &str) -> Vec<String> {
    let Some((from, own)) = floor(module) else {
        return vec![format!("{module} stands on no floor")];
    };
    paths(module, code)
        .into_iter()
        .filter_map(|path| {
            let (to, other) = floor(&path)?;
            let neighbour = NEIGHBOURS.contains(&(from, to));
            let fine = other < own || to == from || neighbour;
            (!fine).then(|| format!("{module} (floor {own}) uses {path} (floor {other})"))
        })
        .collect()
}

fn sources() -> Vec<(String, PathBuf, String)> {
    let root = Path::new(env!("CARGO_MANIFEST_DIR")).join("src");
    let mut todo = vec![root.clone()];
    let mut out = Vec::new();
    while let Some(dir) = todo.pop() {
        for entry in std::fs::read_dir(dir).unwrap() {
            let path = entry.unwrap().path();
            if path.is_dir() {
                todo.push(path);
            } else if path.extension().is_some_and(|e| e == "rs") {
                let relative = path.strip_prefix(&root).unwrap().with_extension("");
                let module = relative
                    .iter()
                    .map(|p| p.to_str().unwrap())
                    .filter(|p| *p != "mod")
                    .collect::<Vec<_>>()
                    .join("::");
                let code = std::fs::read_to_string(&path).unwrap();
                out.push((module, path, code));
            }
        }
    }
    assert!(out.len() > 20, "the sources were found");
    out
}

#[test]
fn imports_go_down_only() {
    let wrong: Vec<String> = sources()
        .iter()
        .filter(|(m, _, _)| m != "main" && m != "lib")
        .flat_map(|(module, _, code)| upward(module, code))
        .collect();
    assert!(wrong.is_empty(), "{}", wrong.join("\n"));
}

#[test]
fn every_forbidden_form_of_import_is_seen() {
    let fixtures = [
        ("domain::asset", "use crate::store::Store;"),
        ("domain::asset", "pub use crate::work::Failure;"),
        ("domain::asset", "use crate::{units::Amps, store::Store};"),
        (
            "domain::asset",
            "use crate::{\n  units::{Amps},\n  work::{\n    failure::Failure },\n};",
        ),
        ("domain::asset", "fn f() { crate::cli::run() }"),
        ("domain::asset", "use super::super::present::Line;"),
        ("domain", "use super::work::find;"),
        ("units", "use crate::domain::asset::Unit;"),
        ("store::read", "use crate::exchange::export;"),
        ("work::find", "use crate::present::Line;"),
        ("present::text", "use crate::tui::theme::Theme;"),
        ("cli::show", "use crate::tui::app::App;"),
        ("tui::screen::find", "use crate::cli::Context;"),
        ("tui::screen::find", "use super::super::run::run;"),
        ("tui::widget", "use crate::tui::screen::Find;"),
        ("attic", "use crate::units::Amps;"),
    ];
    for (module, code) in fixtures {
        assert!(!upward(module, code).is_empty(), "{module}: {code}");
    }
    let fine = [
        (
            "work::find",
            "use crate::store::Store; // crate::tui is far away",
        ),
        ("exchange::import", "use crate::store::Store;"),
        ("domain::asset", "let s = \"crate::store::Store\";"),
        ("domain::asset::unit", "use super::class::Class;"),
    ];
    for (module, code) in fine {
        assert_eq!(
            upward(module, code),
            Vec::<String>::new(),
            "{module}: {code}"
        );
    }
}

/// A word, the modules where it may stand, and why it is kept there.
const KEPT: &[(&[&str], &[&str])] = &[
    // Colours are looks; meaning is a role.
    (&["Color::"], &["tui::theme", "tui::thrifty", "tui::plot"]),
    // Printing is the business of the command line and of main.
    (
        &[
            "println!",
            "print!(",
            "eprintln!",
            "eprint!(",
            "io::stdout()",
            "io::stderr()",
        ],
        &["cli", "main", "tui::term"],
    ),
    // The clock is passed in.
    (
        &["Utc::now", "Local::now", "SystemTime::now", "Ulid::new"],
        &["calendar"],
    ),
    // YAML is a form of exchange.
    (&["serde_yaml"], &["exchange", "config"]),
    // The register's library stays on its floor.
    (&["rusqlite"], &["store"]),
];

/// Beginnings of SQL statements, looked for in string literals.
const SQL: &[&str] = &[
    "select ",
    "insert into ",
    "delete from ",
    "create table ",
    "pragma ",
];

fn misplaced(module: &str, code: &str) -> Vec<String> {
    let without_tests = match code.find("#[cfg(test)]\nmod tests") {
        Some(at) => &code[..at],
        None => code,
    };
    let words = bare(code);
    let allowed = |modules: &[&str]| {
        modules
            .iter()
            .any(|m| module == *m || module.starts_with(&format!("{m}::")))
    };
    let mut out = Vec::new();
    for (forms, modules) in KEPT {
        for form in *forms {
            if words.contains(form) && !allowed(modules) {
                out.push(format!("{module} holds {form}"));
            }
        }
    }
    for sql in SQL {
        let quoted = format!("\"{sql}");
        if without_tests.contains(&quoted) && !allowed(&["store"]) {
            out.push(format!("{module} holds SQL: {sql}"));
        }
    }
    out
}

#[test]
fn colours_printing_clock_sql_and_yaml_stay_on_their_floors() {
    let wrong: Vec<String> = sources()
        .iter()
        .flat_map(|(module, _, code)| misplaced(module, code))
        .collect();
    assert!(wrong.is_empty(), "{}", wrong.join("\n"));
    for (module, code) in [
        ("present::text", "let c = Color::Red;"),
        ("work::find", "println!(\"x\");"),
        ("work::find", "let t = chrono::Utc::now();"),
        ("work::find", "use rusqlite::Connection;"),
        ("work::find", "let q = \"select name from record\";"),
        ("present::text", "serde_yaml::to_string(&x)"),
    ] {
        assert!(!misplaced(module, code).is_empty(), "{module}: {code}");
    }
}

#[test]
fn nothing_unfinished_and_nothing_foreign_stands_in_the_tree() {
    for (module, _, code) in sources() {
        for word in ["TODO", "FIXME", "XXX", "unimplemented!", "todo!("] {
            assert!(!code.contains(word), "{module} holds {word}");
        }
        for path in ["/home/", "/root/", "/tmp/"] {
            assert!(
                !code.contains(path),
                "{module} names a path of some machine: {path}"
            );
        }
    }
}
