//! Every field of a kind of record, found by asking the record's own reader.

use serde_json::{Value, json};

use super::target::{Target, complaint, target_of};
use crate::domain::asset::Kind;

/// What a field takes, with its words where it is one of a few.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Asked {
    Text,
    Number,
    Date,
    YesNo,
    List,
    Either,
    Choice(Vec<String>),
}

/// Deepest path.
const DEEPEST: usize = 3;

/// The fields of a kind by dotted path, in the order of its document; empty
/// for a kind whose documents hold any key.
#[must_use]
pub fn fields_of(kind: Kind) -> Vec<(String, Asked)> {
    let mut out = Vec::new();
    below(kind, "", DEEPEST, &mut out);
    out
}

fn below(kind: Kind, prefix: &str, deep: usize, out: &mut Vec<(String, Asked)>) {
    const NO_SUCH: &str = "?";
    let said = complaint(kind, &format!("{prefix}{NO_SUCH}"), None, json!(1));
    if !said.contains("unknown field") {
        return;
    }
    for key in quoted(&said).into_iter().filter(|k| k != NO_SUCH) {
        let path = format!("{prefix}{key}");
        match target_of(kind, &path, None) {
            Ok(target) => out.push((path.clone(), asked(kind, &path, target))),
            // It holds fields of its own, or any key at all.
            Err(_) if deep > 1 => {
                let before = out.len();
                below(kind, &format!("{path}."), deep - 1, out);
                if out.len() == before && path != "id" {
                    out.push((path, Asked::List));
                }
            }
            Err(_) => out.push((path, Asked::List)),
        }
    }
}

fn asked(kind: Kind, path: &str, target: Target) -> Asked {
    let said = complaint(kind, path, None, Value::from("?"));
    if said.contains("unknown variant") {
        let words = quoted(&said).into_iter().filter(|w| w != "?");
        return Asked::Choice(words.collect());
    }
    if said.contains("boolean") {
        return Asked::YesNo;
    }
    match target {
        Target::Text => Asked::Text,
        Target::Number => Asked::Number,
        Target::Date => Asked::Date,
        Target::List => Asked::List,
        Target::Either => Asked::Either,
    }
}

/// What stands between backticks, in order.
fn quoted(said: &str) -> Vec<String> {
    said.split('`')
        .skip(1)
        .step_by(2)
        .map(str::to_string)
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_fields_are_those_of_the_model() {
        let unit = fields_of(Kind::Unit);
        let of = |path: &str| unit.iter().find(|(p, _)| p == path).map(|(_, a)| a.clone());
        assert_eq!(of("unit"), Some(Asked::Text));
        assert_eq!(of("nameplate.coil_amps"), Some(Asked::Number));
        assert_eq!(of("deployments"), Some(Asked::List));
        assert!(
            matches!(of("class"), Some(Asked::Choice(w)) if w.contains(&"recloser".to_string()))
        );
        let structure = fields_of(Kind::Structure);
        assert!(structure.iter().any(|(p, _)| p == "place.road"));
        let utility = fields_of(Kind::Utility);
        assert!(utility.contains(&("demo".to_string(), Asked::YesNo)));
    }
}
