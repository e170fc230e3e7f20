//! The README's tables come from the program. `UPDATE_DOCS=1 cargo test docs`
//! writes them anew.

use std::path::Path;

/// Puts `table` between the markers of `name`; returns the whole text.
fn with_table(text: &str, name: &str, table: &str) -> String {
    let start = text
        .find(&format!("<!-- {name}: "))
        .and_then(|at| text[at..].find('\n').map(|n| at + n + 1))
        .unwrap_or_else(|| panic!("README has a place for {name}"));
    let end = start
        + text[start..]
            .find(&format!("<!-- end of {name} -->"))
            .unwrap();
    format!("{}\n{}\n{}", &text[..start], table.trim_end(), &text[end..])
}

fn commands() -> String {
    let mut out = String::from("| command | does |\n|---|---|\n");
    for (name, about) in polecard::cli::command_table() {
        if name != "help" {
            out.push_str(&format!("| `polecard {name}` | {about} |\n"));
        }
    }
    out
}

#[test]
fn docs_tables_of_the_readme_are_those_of_the_program() {
    let path = Path::new(env!("CARGO_MANIFEST_DIR")).join("README.md");
    let found = std::fs::read_to_string(&path).unwrap();
    let made = with_table(&found, "commands", &commands());
    let made = with_table(&made, "keys", &polecard::tui::command::key_table_markdown());
    let made = with_table(
        &made,
        "rules",
        &polecard::present::rules::rules_table_markdown(),
    );
    let made = with_table(
        &made,
        "readings",
        &polecard::present::rules::readings_table_markdown(),
    );
    if std::env::var_os("UPDATE_DOCS").is_some() {
        std::fs::write(&path, &made).unwrap();
    } else {
        assert!(
            found == made,
            "README's tables are old; run UPDATE_DOCS=1 cargo test docs"
        );
    }
}

#[test]
fn docs_name_only_files_that_are_there() {
    let root = Path::new(env!("CARGO_MANIFEST_DIR"));
    for doc in ["README.md", "DEVELOPERS.md"] {
        let text = std::fs::read_to_string(root.join(doc)).unwrap();
        let mut named = 0;
        for word in text.split(|c: char| c.is_whitespace() || "()`,;".contains(c)) {
            let word = word.trim_end_matches(['.', ':']);
            let ours = ["src/", "data/", "tests/", "screenshots/"]
                .iter()
                .any(|p| word.starts_with(p));
            if ours && !word.contains(['*', '<', '{', '…']) {
                named += 1;
                assert!(
                    root.join(word).exists(),
                    "{doc} names {word}, which is not there"
                );
            }
        }
        assert!(named > 0, "{doc} names files");
    }
}
