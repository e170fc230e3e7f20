//! A map from the columns of a CSV file to the fields of records: a YAML file
//! that is written once for a source and used again for every delivery.
//!
//! ```yaml
//! map: new-poles
//! kind: structure
//! key: number
//! fields:
//!   structure: {column: number, must_match: digits}
//!   kind: {column: kind, values: {P: pole, V: vault}}
//!   place.road: road
//!   note: {template: "{maker}[, {remark}]"}
//! ```

mod fields;
mod form;
mod target;
mod template;

use std::collections::BTreeMap;
use std::io::BufReader;
use std::path::Path;

use serde::{Deserialize, Serialize};
use serde_json::Value;

use super::document::{Documents, ExchangeError, did_you_mean, explain, typed};
use crate::domain::asset::{Kind, ReadFrom, Standing};
use crate::domain::code::Scheme;

pub use fields::{Asked, fields_of};
pub(super) use target::{Target, target_of};
pub(super) use template::{Slice, template};

/// A map, read and checked.
#[derive(Debug, Clone, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct CsvMap {
    /// Its name, for messages and the log.
    pub map: String,
    /// What it is for.
    #[serde(default)]
    pub about: Option<String>,
    #[serde(default)]
    pub encoding: Encoding,
    /// One character; a comma when absent, `tab` for a tabulator.
    #[serde(default)]
    pub delimiter: Delimiter,
    /// Names of the columns of a file that has no heading.
    #[serde(default)]
    pub columns: Words,
    /// Cells that count as blank, in any case.
    #[serde(default = "usual_blanks")]
    pub blanks: Words,
    /// A numbering scheme that enters the register with the records.
    #[serde(default)]
    pub scheme: Option<serde_json::Map<String, Value>>,
    /// The file is an export of a register: its headings are the fields, and a
    /// row counts by what was edited in it.
    #[serde(default)]
    pub own_export: bool,
    pub kind: KindForm,
    /// Columns that together name a row; those of the name when absent.
    #[serde(default)]
    pub key: Words,
    /// Standing of every nameplate value and setting that states none itself.
    #[serde(default)]
    pub plates: Option<Reading>,
    #[serde(default)]
    pub fields: Fields,
    #[serde(default)]
    pub also: Vec<AlsoForm>,
    /// Fields by kind, when a column says the kind.
    #[serde(default)]
    pub records: BTreeMap<Kind, RecordForm>,
}

/// Encodings that a file may have.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, Deserialize, Serialize)]
pub enum Encoding {
    #[default]
    #[serde(rename = "utf-8")]
    Utf8,
    #[serde(rename = "latin-1")]
    Latin1,
    #[serde(rename = "windows-1252")]
    Windows1252,
}

/// What stands between two cells.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Delimiter(pub u8);

impl Default for Delimiter {
    fn default() -> Self {
        Delimiter(b',')
    }
}

/// The kind of every row, or the column that says it.
#[derive(Debug, Clone)]
pub enum KindForm {
    Always(Kind),
    ByColumn(ByColumn),
}

/// A column that says the kind of each row.
#[derive(Debug, Clone, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct ByColumn {
    pub column: String,
    /// The words of the column.
    pub of: BTreeMap<String, Kind>,
}

/// Fields of one kind, when a column says the kind.
#[derive(Debug, Clone, Default, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct RecordForm {
    #[serde(default)]
    pub key: Words,
    #[serde(default)]
    pub fields: Fields,
    #[serde(default)]
    pub also: Vec<AlsoForm>,
}

/// A further record that the same row makes.
#[derive(Debug, Clone, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct AlsoForm {
    pub kind: Kind,
    /// The record is made only when none of these columns is blank.
    #[serde(default)]
    pub unless_blank: Words,
    #[serde(default)]
    pub only_if: Option<OnlyIf>,
    pub fields: Fields,
}

/// A condition on another column of the row.
#[derive(Debug, Clone, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct OnlyIf {
    pub column: String,
    pub is: Words,
}

/// Who vouches for a value.
#[derive(Debug, Clone, Default, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Reading {
    #[serde(default)]
    pub standing: Option<Standing>,
    /// The rule of an assumed value.
    #[serde(default)]
    pub rule: Option<String>,
    #[serde(default)]
    pub by: Option<String>,
    #[serde(default)]
    pub from: Option<ReadFrom>,
}

/// How a cell is turned into a value.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum As {
    Text,
    Number,
    Date,
    /// The year of a date.
    Year,
    /// Several values in one cell.
    List,
    /// Northing in metres of EPSG:3857 to degrees of latitude.
    MercatorLat,
    /// Easting in metres of EPSG:3857 to degrees of longitude.
    MercatorLon,
}

/// Letter case that a text is brought to.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Case {
    Lower,
    Upper,
}

/// Where a field comes from and how it is read.
#[derive(Debug, Clone, Default, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct FieldForm {
    /// One of these four says where the value comes from.
    #[serde(default)]
    pub column: Option<String>,
    /// Text with `{column}` in it; what stands in `[…]` drops out when a
    /// column in it is blank, and the whole when another one is.
    #[serde(default)]
    pub template: Option<String>,
    #[serde(default)]
    pub constant: Option<Value>,
    /// Items of a list of maps; an item whose columns are all blank drops out.
    #[serde(default)]
    pub items: Option<Vec<Fields>>,

    #[serde(rename = "as", default)]
    pub conversion: Option<As>,
    /// Of a date, in letters: `YYYY-MM-DD`, `M/D/YY`, `YYYY/MM/DD *`.
    #[serde(default)]
    pub format: Option<String>,
    /// Units that may stand behind a number: `kV`.
    #[serde(default)]
    pub unit: Words,
    #[serde(default)]
    pub times: Option<f64>,
    #[serde(default)]
    pub decimals: Option<u32>,
    #[serde(default)]
    pub least: Option<f64>,
    #[serde(default)]
    pub most: Option<f64>,
    /// Between the values of a list.
    #[serde(default)]
    pub separator: Option<String>,
    /// What words of the file stand for, in any case.
    #[serde(default)]
    pub values: Option<BTreeMap<String, Value>>,
    /// What to do with a word that `values` does not hold; refuse when absent.
    #[serde(default)]
    pub otherwise: Otherwise,
    /// In place of the map's own.
    #[serde(default)]
    pub blanks: Option<Words>,
    /// Keeps what stands before, behind the first such text.
    #[serde(default)]
    pub before: Option<String>,
    #[serde(default)]
    pub after: Option<String>,
    #[serde(default)]
    pub case: Option<Case>,
    /// `digits`, `letters`, `letters and digits`, or the name of a scheme.
    #[serde(default)]
    pub must_match: Option<String>,
    #[serde(default)]
    pub only_if: Option<OnlyIf>,
    /// For a new record only: a blank never replaces what is on record.
    #[serde(default)]
    pub if_blank: Option<Value>,
    /// Who vouches for the value.
    #[serde(default)]
    pub standing: Option<Standing>,
    #[serde(default)]
    pub rule: Option<String>,
    #[serde(default)]
    pub by: Option<String>,
    #[serde(default)]
    pub from: Option<ReadFrom>,
    /// Column with the day on which the value was read, as 2026-09-12.
    #[serde(default)]
    pub on: Option<String>,
}

/// What becomes of a word that is not listed.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Otherwise {
    #[default]
    Refuse,
    Keep,
    Blank,
}

/// Fields by dotted path, in the order of the file.
#[derive(Debug, Clone, Default)]
pub struct Fields(pub Vec<(String, FieldForm)>);

/// One word or a list of words; numbers count as words.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct Words(pub Vec<String>);

fn usual_blanks() -> Words {
    Words(["", "N/A", "<Null>", "-"].map(String::from).to_vec())
}

impl CsvMap {
    /// Reads and checks a map.
    ///
    /// # Errors
    /// With file, line and the nearest known word.
    pub fn read(path: &Path) -> Result<CsvMap, ExchangeError> {
        let file = std::fs::File::open(path).map_err(|e| ExchangeError::io(path, &e))?;
        let mut text = String::new();
        let mut line = 1;
        for (i, doc) in Documents::new(BufReader::new(file), path).enumerate() {
            let doc = doc?;
            if i > 0 {
                return Err(at(path, doc.line, "a map is one document".to_string()));
            }
            (line, text) = (doc.line, doc.text);
        }
        CsvMap::parse(&text, line, path)
    }

    /// Reads and checks a map from text that begins on a line of a file.
    ///
    /// # Errors
    /// As [`CsvMap::read`].
    pub fn parse(text: &str, line: usize, path: &Path) -> Result<CsvMap, ExchangeError> {
        let doc = super::document::Doc {
            line,
            text: text.to_string(),
        };
        let map: CsvMap = typed(&doc, path, CsvMap::deserialize)?;
        map.check().map_err(|(needle, why)| {
            // A field stands indented; a key of the map at the margin.
            let inside = |l: &str| l.starts_with([' ', '-']) && l.contains(&needle);
            let offset = text
                .lines()
                .position(inside)
                .or_else(|| text.lines().position(|l| l.starts_with(&needle)))
                .unwrap_or(0);
            at(path, line + offset, why)
        })?;
        Ok(map)
    }

    /// Reads and checks a map that a register holds.
    ///
    /// # Errors
    /// A sentence.
    pub fn from_value(value: &Value) -> Result<CsvMap, String> {
        let map = CsvMap::deserialize(value).map_err(|e| explain(&e.to_string()))?;
        map.check().map_err(|(_, why)| why)?;
        Ok(map)
    }

    /// The kinds with their fields.
    #[must_use]
    pub fn forms(&self) -> Vec<(Kind, RecordForm)> {
        match &self.kind {
            KindForm::Always(kind) => vec![(
                *kind,
                RecordForm {
                    key: self.key.clone(),
                    fields: self.fields.clone(),
                    also: self.also.clone(),
                },
            )],
            KindForm::ByColumn(_) => self.records.iter().map(|(k, f)| (*k, f.clone())).collect(),
        }
    }

    /// Every kind of record that the map can make.
    #[must_use]
    pub fn kinds(&self) -> Vec<Kind> {
        let mut out: Vec<Kind> = self
            .forms()
            .iter()
            .flat_map(|(k, f)| std::iter::once(*k).chain(f.also.iter().map(|a| a.kind)))
            .collect();
        out.sort_unstable();
        out.dedup();
        out
    }

    /// The numbering scheme that the map brings; it was checked when the map
    /// was read.
    #[must_use]
    pub fn own_scheme(&self) -> Option<Scheme> {
        self.scheme_checked().and_then(Result::ok)
    }

    fn scheme_checked(&self) -> Option<Result<Scheme, String>> {
        self.scheme
            .as_ref()
            .map(|body| Scheme::deserialize(Value::Object(body.clone())).map_err(|e| e.to_string()))
    }

    /// What serde cannot see; the first text locates the line.
    fn check(&self) -> Result<(), (String, String)> {
        let by_column = matches!(self.kind, KindForm::ByColumn(_));
        if by_column && (!self.fields.0.is_empty() || !self.also.is_empty()) {
            return Err((
                "fields:".into(),
                "a column says the kind here, so fields and also stand under records".into(),
            ));
        }
        if !by_column && !self.records.is_empty() {
            return Err((
                "records:".into(),
                "records is for a kind that a column says; write fields".into(),
            ));
        }
        if self.own_export {
            let more = !self.fields.0.is_empty() || !self.also.is_empty() || by_column;
            return if more {
                Err((
                    "own_export:".into(),
                    "the headings of an export are its fields; name the kind alone".into(),
                ))
            } else {
                Ok(())
            };
        }
        if let KindForm::ByColumn(by) = &self.kind {
            for kind in by.of.values() {
                if !self.records.contains_key(kind) {
                    return Err(("kind:".into(), format!("records says no fields for {kind}")));
                }
            }
        }
        if let Some(Err(why)) = self.scheme_checked() {
            return Err(("scheme:".into(), format!("the scheme: {}", explain(&why))));
        }
        for (kind, form) in self.forms() {
            check_fields(kind, &form.fields)?;
            for also in &form.also {
                check_fields(also.kind, &also.fields)?;
            }
        }
        Ok(())
    }
}

fn at(path: &Path, line: usize, why: String) -> ExchangeError {
    ExchangeError::At {
        file: path.display().to_string(),
        line,
        why,
    }
}

fn check_fields(kind: Kind, fields: &Fields) -> Result<(), (String, String)> {
    if fields.0.is_empty() {
        return Err(("fields".into(), format!("no field of a {kind} is mapped")));
    }
    for (path, form) in &fields.0 {
        let target = target_of(kind, path, None).map_err(|why| (format!("{path}:"), why))?;
        check_form(path, form, target)?;
        for (sub, inner) in form.items.iter().flatten().flat_map(|f| &f.0) {
            let target =
                target_of(kind, path, Some(sub)).map_err(|why| (format!("{sub}:"), why))?;
            check_form(sub, inner, target)?;
        }
    }
    Ok(())
}

fn check_form(path: &str, form: &FieldForm, target: Target) -> Result<(), (String, String)> {
    let bad = |why: String| Err((format!("{path}:"), format!("{path}: {why}")));
    let ways = [
        form.column.is_some(),
        form.template.is_some(),
        form.constant.is_some(),
        form.items.is_some(),
    ];
    if ways.iter().filter(|w| **w).count() != 1 {
        return bad("write exactly one of column, template, constant, items".into());
    }
    if form.items.is_some() && target != Target::List {
        return bad("holds no list, so no items".into());
    }
    if form.rule.is_some() && form.standing != Some(Standing::Assumed) {
        return bad("a rule is for standing: assumed".into());
    }
    if form.standing == Some(Standing::Assumed) && form.rule.is_none() {
        return bad("an assumed value says by which rule".into());
    }
    if let Some(text) = &form.template
        && let Err(why) = template(text)
    {
        return bad(format!("template {text:?}: {why}"));
    }
    let numbers = [form.times, form.least, form.most];
    if numbers.iter().flatten().any(|n| !n.is_finite()) {
        return bad("times, least and most are finite numbers".into());
    }
    if let (Some(format), Err(why)) = (
        &form.format,
        super::csv::DateFormat::new(form.format.as_deref().unwrap_or("YYYY")),
    ) {
        return bad(format!("{format:?}: {why}"));
    }
    Ok(())
}

/// The complaint about a column that the file does not have.
pub(super) fn no_column(name: &str, heading: &[String]) -> String {
    format!(
        "the file has no column {name:?}{}; its columns are {}",
        did_you_mean(name, heading.iter().map(String::as_str)),
        heading.join(", ")
    )
}
