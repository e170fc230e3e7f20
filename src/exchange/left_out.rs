//! What a document leaves out of a record that is there. A blank never
//! erases: a field that is not named keeps what is recorded, unless the
//! document names it under `erase:`, or the import replaces whole documents.

use serde::Deserialize;
use serde_json::Value;

use super::document::{Doc, ExchangeError, explain, typed};
use crate::domain::asset::{Kind, Record};
use crate::domain::change::{difference_in_parts, put_at, value_at};

/// Fields that are one statement of one day: a new one that leaves a part out
/// says nothing about that part, and the old part belongs to the old one.
const STATEMENTS: &[&str] = &["state", "available_fault", "minimum_fault", "peak_load"];
/// Kinds whose document is one statement as a whole: half of an old rule in a
/// new one would be a rule that nobody wrote.
const WHOLE: &[Kind] = &[
    Kind::Scheme,
    Kind::Form,
    Kind::Interval,
    Kind::Map,
    Kind::Curve,
    Kind::Notice,
    Kind::Kept,
];

/// A record put together with what it leaves out.
pub(super) struct Merged {
    pub record: Record,
    /// Fields that the document leaves out and that stay.
    pub kept: Vec<(String, Value)>,
    /// Fields that were to be erased and hold nothing.
    pub nothing: Vec<String>,
}

#[derive(Deserialize)]
#[serde(untagged)]
enum Fields {
    One(String),
    Many(Vec<String>),
}

#[derive(Deserialize)]
struct Erase {
    erase: Fields,
}

/// Takes the `erase:` of a document out of it; the other lines keep their
/// places.
pub(super) fn erasing(
    doc: &Doc,
    file: &std::path::Path,
) -> Result<(Option<Doc>, Vec<String>), ExchangeError> {
    let begins = |l: &str| l.starts_with("erase:");
    let Some(first) = doc.text.lines().position(begins) else {
        return Ok((None, Vec::new()));
    };
    let belongs = |l: &&str| l.starts_with([' ', '\t', '-', '#']) || l.trim().is_empty();
    let more = doc.text.lines().skip(first + 1).take_while(belongs).count();
    let part = first..=first + more;
    let blanked = |keep: &dyn Fn(usize) -> bool| {
        let lines = doc.text.lines().enumerate();
        let lines: Vec<&str> = lines.map(|(n, l)| if keep(n) { l } else { "" }).collect();
        Doc {
            line: doc.line,
            text: lines.join("\n"),
        }
    };
    let told: Erase = typed(&blanked(&|n| part.contains(&n)), file, |d| {
        Erase::deserialize(d)
    })?;
    let fields = match told.erase {
        Fields::One(field) => vec![field],
        Fields::Many(fields) => fields,
    };
    Ok((Some(blanked(&|n| !part.contains(&n))), fields))
}

/// Puts back what `record` leaves out of its present form `old`.
///
/// # Errors
/// A sentence: a field both given and erased, an erased field that the record
/// needs, or what is kept not fitting what is new.
pub(super) fn with_left_out(
    record: Record,
    old: &Value,
    erase: &[String],
    replace: bool,
) -> Result<Merged, String> {
    let (kind, mut value) = (record.kind(), record.to_value());
    let mut nothing = Vec::new();
    for field in erase {
        if !value_at(&value, field).is_null() {
            return Err(format!(
                "{field} is both given and erased; leave one of the two out"
            ));
        }
        if value_at(old, field).is_null() {
            nothing.push(field.clone());
        }
    }
    let mut kept = Vec::new();
    if replace || WHOLE.contains(&kind) {
        return Ok(Merged {
            record,
            kept,
            nothing,
        });
    }
    let edits = difference_in_parts(record.id(), kind, old, &value);
    let told = |path: &str| {
        let whole = statement(old, path);
        edits
            .iter()
            .any(|e| !e.new.is_null() && whole.is_some_and(|w| below(&e.field, w)))
    };
    let erased = |path: &str| erase.iter().any(|e| below(path, e));
    for edit in edits.iter().filter(|e| e.new.is_null()) {
        if erased(&edit.field) || told(&edit.field) {
            continue;
        }
        put_at(&mut value, &edit.field, edit.old.clone());
        let mut stays = edit.old.clone();
        for inner in erase.iter().filter(|e| below(e, &edit.field)) {
            put_at(&mut value, inner, Value::Null);
            if let Some(rest) = inner.strip_prefix(&format!("{}.", edit.field)) {
                put_at(&mut stays, rest, Value::Null);
            }
        }
        kept.push((edit.field.clone(), stays));
    }
    let record = Record::from_value(kind, value).map_err(|e| {
        format!(
            "what it leaves out is kept, and does not go with the rest: {}. Name what is to go \
             under `erase: [field]`",
            explain(&e.to_string())
        )
    })?;
    Ok(Merged {
        record,
        kept,
        nothing,
    })
}

/// Whether a path is a field or a part of it.
fn below(path: &str, field: &str) -> bool {
    path.strip_prefix(field)
        .is_some_and(|rest| rest.is_empty() || rest.starts_with('.'))
}

/// The statement of which a path is a part, if it is part of one: a value with
/// who read it, a state, a study.
fn statement<'p>(old: &Value, path: &'p str) -> Option<&'p str> {
    let (parent, _) = path.rsplit_once('.')?;
    let stated = |v: &Value| v.get("value").is_some() || v.get("standing").is_some();
    if stated(value_at(old, parent)) {
        return Some(parent);
    }
    let root = path.split('.').next()?;
    STATEMENTS.contains(&root).then_some(root)
}

#[cfg(test)]
mod tests {
    use super::*;
    use serde_json::json;

    fn merged(old: Value, new: Value, erase: &[&str], replace: bool) -> Result<Merged, String> {
        let erase: Vec<String> = erase.iter().map(ToString::to_string).collect();
        let record = Record::from_value(Kind::Unit, new).unwrap();
        with_left_out(record, &old, &erase, replace)
    }

    fn plate(coil: Value) -> Value {
        json!({"unit": "7-1", "class": "recloser", "note": "oil", "nameplate": {"coil_amps": coil, "bil_kv": 95}})
    }

    #[test]
    fn what_is_left_out_stays_unless_it_is_named() {
        let old = plate(json!(100));
        let new = json!({"unit": "7-1", "class": "recloser", "nameplate": {"coil_amps": 70}});
        let m = merged(old.clone(), new.clone(), &[], false).unwrap();
        let fields: Vec<&str> = m.kept.iter().map(|(f, _)| f.as_str()).collect();
        assert_eq!(fields, ["note", "nameplate.bil_kv"]);
        assert_eq!(m.record.to_value()["nameplate"]["bil_kv"], json!(95));
        assert_eq!(m.record.to_value()["nameplate"]["coil_amps"], json!(70));

        let m = merged(
            old.clone(),
            new.clone(),
            &["nameplate.bil_kv", "names"],
            false,
        )
        .unwrap();
        assert_eq!(m.kept.len(), 1);
        assert_eq!(m.nothing, ["names"]);
        assert!(m.record.to_value()["nameplate"].get("bil_kv").is_none());

        let m = merged(old.clone(), new, &[], true).unwrap();
        assert!(m.kept.is_empty() && m.record.to_value().get("note").is_none());

        let bare = json!({"unit": "7-1", "class": "recloser"});
        let m = merged(old.clone(), bare, &["nameplate.coil_amps"], false).unwrap();
        assert_eq!(m.record.to_value()["nameplate"], json!({"bil_kv": 95}));
        let both = merged(old.clone(), old, &["note"], false);
        assert!(both.is_err());
    }

    #[test]
    fn a_new_reading_takes_nothing_over_from_the_old_one() {
        let old = plate(json!({"value": 100, "by": "hb", "on": "2020-01-01"}));
        let m = merged(
            old.clone(),
            plate(json!({"value": 70, "by": "jk"})),
            &[],
            false,
        )
        .unwrap();
        assert_eq!(
            m.record.to_value()["nameplate"]["coil_amps"],
            json!({"value": 70, "by": "jk"})
        );
        let m = merged(
            old.clone(),
            plate(json!({"value": 100, "by": "hb"})),
            &[],
            false,
        )
        .unwrap();
        assert_eq!(
            m.record.to_value(),
            Record::from_value(Kind::Unit, old).unwrap().to_value()
        );
    }

    #[test]
    fn the_erased_fields_leave_the_other_lines_where_they_are() {
        let doc = Doc {
            line: 4,
            text: "unit: 7-1\nerase:\n- note\n- nameplate.bil_kv\nclass: recloser".to_string(),
        };
        let (rest, fields) = erasing(&doc, std::path::Path::new("x.yaml")).unwrap();
        assert_eq!(fields, ["note", "nameplate.bil_kv"]);
        assert_eq!(rest.unwrap().text, "unit: 7-1\n\n\n\nclass: recloser");
    }
}
