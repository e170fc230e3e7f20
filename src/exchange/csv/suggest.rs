//! A map to begin with, from the headings of a file.

use std::io::BufReader;
use std::path::Path;

use serde_json::{Value, json};

use super::out::{ID, OPERATION};
use super::split::{Next, Rows};
use crate::domain::asset::{Kind, PLATE, Record};
use crate::domain::change::put_at;
use crate::exchange::document::ExchangeError;

/// Words that files use for a field, beside its own. Common practice, no
/// source.
const ALIKE: &[(&str, &[&str])] = &[
    (
        "structure",
        &["number", "polenumber", "poleno", "poletag", "pole", "tag"],
    ),
    (
        "unit",
        &["companynumber", "assetnumber", "equipmentnumber", "number"],
    ),
    (
        "position",
        &["device", "devicecode", "operatingnumber", "number"],
    ),
    ("feeder", &["circuit", "feederid"]),
    ("place.road", &["street", "address", "roadname"]),
    ("place.house", &["housenumber"]),
    ("place.near", &["location", "landmark"]),
    ("place.lat", &["latitude", "y"]),
    ("place.lon", &["longitude", "long", "x"]),
    (
        "pole.length_ft",
        &["height", "heightft", "length", "lengthft"],
    ),
    ("pole.set_year", &["installed", "yearset", "installyear"]),
    ("pole.material", &["species", "woodtype"]),
    ("nameplate.serial", &["serialnumber", "serialno"]),
    ("nameplate.made_year", &["year", "yearmade", "manufactured"]),
    ("nameplate.kva", &["ratedkva", "size"]),
    (
        "nameplate.interrupting_amps",
        &["interruptinga", "interrupting"],
    ),
    ("nameplate.continuous_amps", &["continuousa", "ratedamps"]),
    (
        "note",
        &["notes", "remark", "remarks", "comment", "comments"],
    ),
    ("on", &["date", "inspected", "lastinspected"]),
    ("of", &["asset", "about"]),
    ("span.from", &["fromstructure", "frompole", "from"]),
    ("span.to", &["tostructure", "topole", "to"]),
    ("span.length_ft", &["length", "lengthft"]),
];

/// Kinds that are tried when none is named.
const TRIED: [Kind; 6] = [
    Kind::Structure,
    Kind::Unit,
    Kind::Position,
    Kind::Span,
    Kind::Entry,
    Kind::Order,
];

/// The headings of a file.
///
/// # Errors
/// When the file cannot be read or has none.
fn headings(path: &Path) -> Result<Vec<String>, ExchangeError> {
    let file = std::fs::File::open(path).map_err(|e| ExchangeError::io(path, &e))?;
    let mut rows = Rows::new(BufReader::new(file), b',');
    let io = |e: &std::io::Error| ExchangeError::io(path, e);
    rows.skip_mark().map_err(|e| io(&e))?;
    match rows.next().map_err(|e| io(&e))? {
        Some(Next::Row(row)) => Ok(row
            .cells()
            .map(|c| String::from_utf8_lossy(c).trim().to_string())
            .collect()),
        _ => Err(ExchangeError::At {
            file: path.display().to_string(),
            line: 1,
            why: "there is no heading to read".to_string(),
        }),
    }
}

/// The kind of an export of a register, told by its headings; none for any
/// other file.
///
/// # Errors
/// When the file cannot be read.
pub fn own_kind(path: &Path) -> Result<Option<Kind>, ExchangeError> {
    Ok(own(&headings(path)?))
}

fn own(headings: &[String]) -> Option<Kind> {
    let tied = [ID, OPERATION]
        .iter()
        .all(|h| headings.iter().any(|c| c == h));
    let first = headings.first()?.split('.').next()?;
    Kind::from_word(first).filter(|_| tied)
}

/// A map to begin with, as YAML to be edited: the headings that resemble a
/// field are mapped, the others listed.
///
/// # Errors
/// When the file cannot be read, or nothing in it resembles a record.
pub fn suggest(path: &Path, kind: Option<Kind>) -> Result<String, ExchangeError> {
    let headings = headings(path)?;
    let name: String = path
        .file_stem()
        .map_or("map".into(), |s| s.to_string_lossy().into_owned());
    if let Some(kind) = own(&headings) {
        return Ok(format!(
            "# An export of a register: only what was edited in it counts.\nmap: {name}\nkind: {kind}\nown_export: true\n"
        ));
    }
    let tried: Vec<Kind> = kind.map_or(TRIED.to_vec(), |k| vec![k]);
    let best = tried
        .into_iter()
        .map(|k| (k, matched(k, &headings)))
        .max_by_key(|(_, m)| m.iter().flatten().count())
        .filter(|(_, m)| m.iter().any(Option::is_some));
    let Some((kind, found)) = best else {
        return Err(ExchangeError::At {
            file: path.display().to_string(),
            line: 1,
            why: "no heading resembles a field; name the kind, or write the map by hand"
                .to_string(),
        });
    };
    Ok(written(&name, kind, &headings, &found))
}

fn written(name: &str, kind: Kind, headings: &[String], found: &[Option<String>]) -> String {
    let quote = |t: &str| serde_json::to_string(t).unwrap_or_default();
    let mut out = format!(
        "# Proposed from the headings: check every line, then try it without --apply.\nmap: {name}\nkind: {kind}\n"
    );
    if kind == Kind::Unit {
        out.push_str(
            "# Nobody has vouched for these plates.\nplates: {standing: assumed, rule: taken over from a file; plate not seen}\n",
        );
    }
    out.push_str("fields:\n");
    for (heading, path) in headings.iter().zip(found) {
        if let Some(path) = path {
            out.push_str(&format!("  {path}: {}\n", quote(heading)));
        }
    }
    let rest: Vec<&str> = headings
        .iter()
        .zip(found)
        .filter(|(_, p)| p.is_none())
        .map(|(h, _)| h.as_str())
        .collect();
    if !rest.is_empty() {
        out.push_str("# Not understood, and left out:\n");
        for heading in rest {
            out.push_str(&format!("#   {}\n", quote(heading)));
        }
    }
    let needed = missing(kind, found);
    if !needed.is_empty() {
        out.push_str(&format!(
            "# A new {kind} also needs {}: give a column, or {{constant: …}}.\n",
            needed.join(", ")
        ));
    }
    out
}

/// Fields that a new record of the kind needs and no heading gives, asked of
/// the record's own reader one after the other.
fn missing(kind: Kind, found: &[Option<String>]) -> Vec<String> {
    let given = |p: &str| found.iter().flatten().any(|f| f == p);
    let mut value = json!({});
    let mut out = Vec::new();
    for _ in 0..8 {
        let said = match Record::from_value(kind, value.clone()) {
            Ok(_) => break,
            Err(e) => e.to_string(),
        };
        let field = said.split("missing field `").nth(1);
        let Some(field) = field.and_then(|t| t.split('`').next()) else {
            break;
        };
        if !given(field) {
            out.push(field.to_string());
        }
        // Any word that the field takes lets the reader go on to the next.
        let fits = [
            json!("recloser"),
            json!("pole"),
            json!("note"),
            json!("open"),
            json!("soon"),
            json!("substation"),
            json!({"from": "a", "to": "b"}),
            json!({}),
        ];
        let said_still = |v: &Value| {
            let mut tried = value.clone();
            put_at(&mut tried, field, v.clone());
            Record::from_value(kind, tried).map_or_else(|e| e.to_string(), |_| String::new())
        };
        let Some(fit) = fits.iter().find(|v| {
            let said = said_still(v);
            said.is_empty() || said.contains("missing field")
        }) else {
            break;
        };
        put_at(&mut value, field, fit.clone());
    }
    out
}

/// The field of each heading, if one resembles it; each field once.
fn matched(kind: Kind, headings: &[String]) -> Vec<Option<String>> {
    let fields = fields(kind);
    let mut used: Vec<&str> = Vec::new();
    headings
        .iter()
        .map(|heading| {
            let plain = folded(heading);
            let fits = |path: &str| {
                let leaf = path.rsplit('.').next().unwrap_or(path);
                folded(path) == plain
                    || folded(leaf) == plain
                    || label(path).is_some_and(|l| folded(l) == plain)
                    || ALIKE
                        .iter()
                        .any(|(p, words)| *p == path && words.contains(&plain.as_str()))
            };
            let path = fields
                .iter()
                .map(String::as_str)
                .find(|p| !used.contains(p) && fits(p))?;
            used.push(path);
            Some(path.to_string())
        })
        .collect()
}

fn label(path: &str) -> Option<&'static str> {
    let key = path.strip_prefix("nameplate.")?;
    PLATE.iter().find(|f| f.key == key).map(|f| f.label)
}

fn folded(text: &str) -> String {
    text.chars()
        .filter(|c| c.is_alphanumeric())
        .flat_map(char::to_lowercase)
        .collect()
}

/// Every field of a kind that takes one cell, asked of the record's own reader.
fn fields(kind: Kind) -> Vec<String> {
    let mut out = Vec::new();
    for key in keys(kind, "") {
        if key == "id" || key == "names" {
            continue;
        }
        let below = keys(kind, &key);
        if below.is_empty() {
            out.push(key);
        } else {
            out.extend(below.into_iter().map(|b| format!("{key}.{b}")));
        }
    }
    out
}

/// The keys that stand below a path.
fn keys(kind: Kind, path: &str) -> Vec<String> {
    let mut probe = json!({});
    let at = if path.is_empty() {
        "?".to_string()
    } else {
        format!("{path}.?")
    };
    put_at(&mut probe, &at, json!(1));
    let said = match Record::from_value(kind, probe) {
        Ok(_) => return Vec::new(),
        Err(e) => e.to_string(),
    };
    let Some((_, list)) = said.split_once("unknown field `?`, expected ") else {
        return Vec::new();
    };
    list.split('`')
        .skip(1)
        .step_by(2)
        .map(str::to_string)
        .collect()
}
