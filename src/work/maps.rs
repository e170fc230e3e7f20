//! Maps of CSV files: kept in the register under a name, listed, proposed.

use std::path::{Path, PathBuf};

use serde::Serialize;
use serde_json::Value;

use super::{Failure, JSON_VERSION};
use crate::calendar::Moment;
use crate::domain::asset::{Kind, Record};
use crate::domain::change::{Change, Operation, difference};
use crate::exchange::{self, CsvMap, document};
use crate::store::{Store, StoreError, fresh_id};

/// One map that the register holds.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct MapLine {
    pub map: String,
    pub about: Option<String>,
    /// Kinds of records that it makes.
    pub kinds: Vec<Kind>,
    /// When it was last used, by its last import.
    pub last_used: Option<Moment>,
    /// What is wrong with it, when it can no longer be used.
    pub fault: Option<String>,
    /// The map as YAML.
    pub text: String,
}

/// The maps of a register.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct MapsReport {
    pub polecard: u32,
    pub maps: Vec<MapLine>,
}

/// The maps that the register holds, or the one of a name.
///
/// # Errors
/// When there is none of that name; those of the register.
pub fn maps(store: &Store, name: Option<&str>) -> Result<MapsReport, Failure> {
    let mut out = Vec::new();
    for stored in store.all(Kind::Map)? {
        let Record::Map(doc) = &stored.record else {
            continue;
        };
        if name.is_some_and(|n| n != doc.map) {
            continue;
        }
        let value = without_id(&stored.record);
        let read = CsvMap::from_value(&value);
        out.push(MapLine {
            map: doc.map.clone(),
            about: doc
                .body
                .get("about")
                .and_then(Value::as_str)
                .map(str::to_string),
            kinds: read.as_ref().map(CsvMap::kinds).unwrap_or_default(),
            last_used: last_used(store, &doc.map)?,
            fault: read.err(),
            text: document(&value),
        });
    }
    match name {
        Some(name) if out.is_empty() => Err(unknown(store, name)?),
        _ => Ok(MapsReport {
            polecard: JSON_VERSION,
            maps: out,
        }),
    }
}

fn last_used(store: &Store, map: &str) -> Result<Option<Moment>, StoreError> {
    use crate::store::Look;
    let Some(seq) = store.last_of_origin(&format!("csv {map}"))? else {
        return Ok(None);
    };
    Ok(store.operation_numbered(seq)?.map(|w| w.operation.entered))
}

fn unknown(store: &Store, name: &str) -> Result<Failure, Failure> {
    let known: Vec<String> = store
        .all(Kind::Map)?
        .iter()
        .map(|s| s.record.name())
        .collect();
    let failure = Failure::not_found(format!(
        "{name} is neither a file nor a map of the register"
    ));
    Ok(if known.is_empty() {
        failure.hint("the register holds no map yet; --save-map NAME keeps one at an import")
    } else {
        failure.hint(format!("the register has {}", known.join(", ")))
    })
}

fn without_id(record: &Record) -> Value {
    let mut value = record.to_value();
    if let Some(map) = value.as_object_mut() {
        map.shift_remove("id");
    }
    value
}

/// The map that is meant: a file, else a map of the register, else that of an
/// export when the file is one.
///
/// # Errors
/// When there is none, or it cannot be used.
pub fn find_map(store: Option<&Store>, map: Option<&Path>, csv: &Path) -> Result<CsvMap, Failure> {
    let Some(map) = map else {
        let Some(kind) = exchange::csv::own_kind(csv)? else {
            return Err(Failure::usage(format!("{} needs a map", csv.display()))
                .hint(
                    "--map MAP says what its columns mean; only an export of a register needs none",
                )
                .hint(format!(
                    "`polecard maps --suggest {}` proposes one",
                    csv.display()
                )));
        };
        let value = serde_json::json!({"map": format!("export of every {kind}"), "kind": kind, "own_export": true});
        return CsvMap::from_value(&value).map_err(Failure::unusable);
    };
    if map.is_file() {
        return Ok(CsvMap::read(map)?);
    }
    let name = map.to_string_lossy();
    let Some(store) = store else {
        return Err(Failure::unusable(format!("{name}: there is no such file")));
    };
    let found = store.all(Kind::Map)?;
    match found.iter().find(|s| s.record.name() == name) {
        Some(stored) => CsvMap::from_value(&without_id(&stored.record))
            .map_err(|why| Failure::unusable(format!("the map {name} of the register: {why}"))),
        None => Err(unknown(store, &name)?),
    }
}

/// Keeps the map of a file in the register under a name.
///
/// # Errors
/// When the file is no map; those of the register.
pub fn save_map(
    store: &mut Store,
    file: &Path,
    name: &str,
    who: &str,
    now: Moment,
) -> Result<bool, Failure> {
    // Read and checked before it is kept.
    CsvMap::read(file)?;
    let text = std::fs::read_to_string(file)
        .map_err(|e| Failure::unusable(format!("{}: {e}", file.display())))?;
    let mut value = exchange::flow_or_block(&text).map_err(Failure::unusable)?;
    value["map"] = name.into();
    let mut record =
        Record::from_value(Kind::Map, value).map_err(|e| Failure::unusable(e.to_string()))?;
    let old = store
        .all(Kind::Map)?
        .into_iter()
        .find(|s| s.record.name() == name);
    let changes: Vec<Change> = match old {
        None => {
            record.set_id(fresh_id(now));
            vec![Change::Add(record)]
        }
        Some(old) => {
            record.set_id(old.record.id());
            let (was, is) = (old.record.to_value(), record.to_value());
            difference(record.id(), Kind::Map, &was, &is)
                .into_iter()
                .map(Change::Edit)
                .collect()
        }
    };
    if changes.is_empty() {
        return Ok(false);
    }
    let operation = Operation {
        id: fresh_id(now),
        who: who.to_string(),
        entered: now,
        effective: None,
        why: format!("the map {name} kept, from {}", shown(file)),
        origin: None,
        undoes: None,
    };
    store.apply::<_, Failure>(&operation, changes.into_iter().map(Ok))?;
    Ok(true)
}

fn shown(file: &Path) -> String {
    PathBuf::from(file.file_name().unwrap_or(file.as_os_str()))
        .display()
        .to_string()
}

/// A starting map for a CSV file, as YAML.
///
/// # Errors
/// When the file cannot be read.
pub fn suggest(csv: &Path, kind: Option<Kind>) -> Result<String, Failure> {
    Ok(exchange::csv::suggest(csv, kind)?)
}
