//! From the cells of a row to the drafts of records.

use serde_json::{Map, Value};

use super::bind::{Bound, Condition, Field, Piece, Plan, Source};
use super::cell::{
    LONGEST_CELL, MERCATOR_EDGE_M, NoText, decode, in_case, inside, mercator_lat, mercator_lon,
    number, rounded, unfit_for_a_name,
};
use super::split::Row;
use super::{Because, Refused};
use crate::calendar::Date;
use crate::domain::asset::{Kind, Standing};
use crate::exchange::map::{As, KindForm, Otherwise};

/// The cells of one row as text.
pub(super) struct Cells<'r>(Vec<std::borrow::Cow<'r, str>>);

impl Cells<'_> {
    pub(super) fn get(&self, i: usize) -> &str {
        self.0.get(i).map_or("", |c| c)
    }
}

/// What a row says of one record: only what it says, nothing filled in.
#[derive(Debug, Clone)]
pub(super) struct Draft {
    pub kind: Kind,
    pub given: Vec<(String, Value)>,
    /// For a new record only.
    pub if_new: Vec<(String, Value)>,
}

impl<'m> Bound<'m> {
    /// The cells of a row as text.
    pub(super) fn cells<'r>(&self, row: &'r Row) -> Result<Cells<'r>, Refused> {
        let mut out = Vec::with_capacity(self.heading.len());
        for (i, bytes) in row.cells().take(self.heading.len()).enumerate() {
            let column = &self.heading[i];
            out.push(decode(bytes, self.map.encoding).map_err(|e| match e {
                NoText::Encoding(why) => {
                    Refused::new(Because::Encoding, format!("column {column}: {why}"))
                }
                NoText::Control(what) => {
                    Refused::new(Because::Control, format!("column {column} holds {what}"))
                }
                NoText::TooLong(n) => Refused::new(
                    Because::TooLong,
                    format!("column {column} holds {n} characters; {LONGEST_CELL} are the most"),
                ),
            })?);
        }
        Ok(Cells(out))
    }

    /// The drafts of a row, its own record first.
    pub(super) fn drafts(&self, cells: &Cells<'_>) -> Result<Vec<Draft>, Refused> {
        let plan = self.plan(cells)?;
        for i in &plan.key {
            if is_blank(cells.get(*i), &self.map.blanks.0) {
                return Err(Refused::new(
                    Because::Blank,
                    format!("column {} is blank; it names the record", self.heading[*i]),
                ));
            }
            if let Some(why) = unfit_for_a_name(cells.get(*i)) {
                return Err(Refused::new(
                    Because::Control,
                    format!("column {} {why}", self.heading[*i]),
                ));
            }
        }
        let mut out = vec![self.draft(plan.kind, &plan.fields, cells)?];
        for also in &plan.also {
            let blank = |i: &usize| is_blank(cells.get(*i), &self.map.blanks.0);
            if holds(also.only_if.as_ref(), cells) && !also.unless_blank.iter().any(blank) {
                out.push(self.draft(also.kind, &also.fields, cells)?);
            }
        }
        Ok(out)
    }

    fn plan(&self, cells: &Cells<'_>) -> Result<&Plan<'m>, Refused> {
        let (Some(column), KindForm::ByColumn(by)) = (self.by, &self.map.kind) else {
            return Ok(&self.plans[0]);
        };
        let word = cells.get(column);
        by.of
            .get(word)
            .and_then(|kind| self.plans.iter().find(|p| p.kind == *kind))
            .ok_or_else(|| {
                let known: Vec<&str> = by.of.keys().map(String::as_str).collect();
                Refused::new(
                    Because::Value,
                    format!(
                        "column {} says {word:?}; it says the kind, one of {}",
                        by.column,
                        known.join(", ")
                    ),
                )
            })
    }

    fn draft(&self, kind: Kind, fields: &[Field<'m>], cells: &Cells<'_>) -> Result<Draft, Refused> {
        let mut draft = Draft {
            kind,
            given: Vec::with_capacity(fields.len()),
            if_new: Vec::new(),
        };
        for field in fields {
            if !holds(field.only_if.as_ref(), cells) {
                continue;
            }
            if let Some(value) = self.value(field, cells)? {
                draft
                    .given
                    .push((field.path.to_string(), self.stated(field, value, cells)?));
            } else if let Some(value) = &field.form.if_blank {
                draft.if_new.push((field.path.to_string(), value.clone()));
            }
        }
        Ok(draft)
    }

    /// The column of a field, for messages.
    pub(super) fn column_of(&self, kind: Kind, path: &str) -> Option<&str> {
        let plan = |p: &Plan<'m>| p.kind == kind;
        self.plans
            .iter()
            .filter(|p| plan(p))
            .flat_map(|p| &p.fields)
            .chain(
                self.plans
                    .iter()
                    .flat_map(|p| &p.also)
                    .filter(|a| a.kind == kind)
                    .flat_map(|a| &a.fields),
            )
            .find(|f| f.path == path)
            .and_then(|f| match &f.source {
                Source::Column(i) => Some(self.heading[*i].as_str()),
                _ => None,
            })
    }

    /// The value of a field; none when it is blank.
    fn value(&self, field: &Field<'m>, cells: &Cells<'_>) -> Result<Option<Value>, Refused> {
        match &field.source {
            Source::Constant(value) => Ok(Some((*value).clone())),
            Source::Column(i) => self.converted(field, cells.get(*i), &self.heading[*i]),
            Source::Template(pieces) => {
                let mut text = String::new();
                if !filled(pieces, cells, field.blanks, &mut text) {
                    return Ok(None);
                }
                // What dropped out may leave its comma behind.
                let text = text.trim().trim_start_matches([',', ';', ' ']);
                self.converted(field, text, field.path)
            }
            Source::Items(items) => {
                let mut out = Vec::new();
                for item in items {
                    out.extend(self.item(item, cells)?);
                }
                Ok((!out.is_empty()).then_some(Value::Array(out)))
            }
        }
    }

    /// An item of a list; none when its columns are all blank.
    fn item(&self, fields: &[Field<'m>], cells: &Cells<'_>) -> Result<Option<Value>, Refused> {
        let mut map = Map::new();
        let mut said = false;
        for field in fields {
            if !holds(field.only_if.as_ref(), cells) {
                continue;
            }
            if let Some(value) = self.value(field, cells)? {
                said |= !matches!(field.source, Source::Constant(_));
                map.insert(field.path.to_string(), self.stated(field, value, cells)?);
            }
        }
        let constant = fields
            .iter()
            .all(|f| matches!(f.source, Source::Constant(_)));
        Ok((said || constant).then_some(Value::Object(map)))
    }

    fn converted(
        &self,
        field: &Field<'m>,
        cell: &str,
        column: &str,
    ) -> Result<Option<Value>, Refused> {
        let form = field.form;
        let mut text = cell;
        if is_blank(text, field.blanks) {
            return Ok(None);
        }
        if let Some(mark) = &form.after {
            text = text.split_once(mark.as_str()).map_or("", |(_, t)| t).trim();
        }
        if let Some(mark) = &form.before {
            text = text
                .split_once(mark.as_str())
                .map_or(text, |(t, _)| t)
                .trim();
        }
        if is_blank(text, field.blanks) {
            return Ok(None);
        }
        if let Some(must) = &field.must
            && !must.fits(text)
        {
            return Err(Refused::new(
                Because::Unfit,
                format!("column {column}: {text:?} is {}", must.words()),
            ));
        }
        let wrong = |why: String| Refused::new(Because::Value, format!("column {column}: {why}"));
        if let Some(values) = &field.values {
            return field.word(text, values).map_err(wrong);
        }
        field.plain(text).map(Some).map_err(wrong)
    }

    /// Adds who vouches for a value.
    fn stated(&self, field: &Field<'m>, value: Value, cells: &Cells<'_>) -> Result<Value, Refused> {
        let form = field.form;
        let of_plate = ["nameplate.", "settings.", "settings_found."]
            .iter()
            .any(|p| field.path.starts_with(p));
        let plates = self.map.plates.as_ref().filter(|_| of_plate);
        let own = form.standing.is_some() || form.by.is_some() || form.from.is_some();
        let (standing, rule, by, from) = match (own, plates) {
            (false, Some(p)) => (p.standing, &p.rule, &p.by, p.from),
            _ => (form.standing, &form.rule, &form.by, form.from),
        };
        let on = field.on.map_or("", |i| cells.get(i));
        if value.is_object()
            || (standing.is_none() && by.is_none() && from.is_none() && on.is_empty())
        {
            return Ok(value);
        }
        let mut out = Map::new();
        out.insert("value".into(), value);
        if let Some(s) = standing.filter(|s| *s != Standing::Known) {
            out.insert("standing".into(), s.word().into());
        }
        out.extend(by.as_ref().map(|b| ("by".to_string(), b.as_str().into())));
        if !is_blank(on, &self.map.blanks.0) {
            let day: Date = on.parse().map_err(|e| {
                Refused::new(Because::Value, format!("{}: read on: {e}", field.path))
            })?;
            out.insert("on".into(), day.to_string().into());
        }
        out.extend(from.map(|f| ("from".to_string(), f.word().into())));
        out.extend(
            rule.as_ref()
                .map(|r| ("rule".to_string(), r.as_str().into())),
        );
        Ok(Value::Object(out))
    }
}

impl Field<'_> {
    /// The value that a listed word stands for.
    fn word(&self, text: &str, values: &[(String, &Value)]) -> Result<Option<Value>, String> {
        let lower = text.to_lowercase();
        if let Some((_, value)) = values.iter().find(|(w, _)| *w == lower) {
            let value = (*value).clone();
            let list = self.conversion == As::List && !value.is_array();
            return Ok(Some(if list {
                Value::Array(vec![value])
            } else {
                value
            }));
        }
        match self.form.otherwise {
            Otherwise::Blank => Ok(None),
            Otherwise::Keep => self.plain(text).map(Some),
            Otherwise::Refuse => {
                let known: Vec<&str> = self
                    .form
                    .values
                    .iter()
                    .flat_map(|v| v.keys().map(String::as_str))
                    .collect();
                Err(format!("{text:?} is none of {}", known.join(", ")))
            }
        }
    }

    fn plain(&self, text: &str) -> Result<Value, String> {
        let form = self.form;
        let cased = |t: &str| match form.case {
            Some(case) => Value::from(in_case(t, case)),
            None => Value::from(t),
        };
        let bounded = |n: f64| inside(n, form.least, form.most);
        let metres = || {
            number(text, &form.unit.0).and_then(|n| {
                inside(n, Some(-MERCATOR_EDGE_M), Some(MERCATOR_EDGE_M))
                    .map_err(|_| format!("{text} m lies off the map of EPSG:3857"))
            })
        };
        Ok(match self.conversion {
            As::Text => cased(text),
            As::Number => {
                let n = number(text, &form.unit.0)? * form.times.unwrap_or(1.0);
                number_value(bounded(rounded(n, form.decimals))?)
            }
            As::MercatorLat => {
                number_value(bounded(rounded(mercator_lat(metres()?), form.decimals))?)
            }
            As::MercatorLon => {
                number_value(bounded(rounded(mercator_lon(metres()?), form.decimals))?)
            }
            As::Date => self.date.date(text)?.to_string().into(),
            As::Year => self.date.year(text)?.into(),
            As::List => match &form.separator {
                Some(sep) => text
                    .split(sep.as_str())
                    .map(str::trim)
                    .filter(|t| !t.is_empty())
                    .map(cased)
                    .collect(),
                None => Value::Array(vec![cased(text)]),
            },
        })
    }
}

/// Whole numbers without a decimal point, as records write them.
fn number_value(n: f64) -> Value {
    crate::units::serialize_number(n, serde_json::value::Serializer).unwrap_or(Value::Null)
}

fn is_blank(text: &str, blanks: &[String]) -> bool {
    text.is_empty() || blanks.iter().any(|b| b.eq_ignore_ascii_case(text))
}

fn holds(condition: Option<&Condition<'_>>, cells: &Cells<'_>) -> bool {
    condition.is_none_or(|c| {
        let word = cells.get(c.column);
        c.is.iter().any(|w| w.eq_ignore_ascii_case(word))
    })
}

/// Fills a template; false when a column outside brackets is blank, or
/// nothing but brackets stood there and all dropped out.
fn filled(pieces: &[Piece], cells: &Cells<'_>, blanks: &[String], out: &mut String) -> bool {
    let mut any = false;
    for piece in pieces {
        match piece {
            Piece::Text(t) => out.push_str(t),
            Piece::Column(i) => {
                let cell = cells.get(*i);
                if is_blank(cell, blanks) {
                    return false;
                }
                any = true;
                out.push_str(cell);
            }
            Piece::Optional(inner) => {
                let before = out.len();
                if filled(inner, cells, blanks, out) {
                    any = true;
                } else {
                    out.truncate(before);
                }
            }
        }
    }
    any
}
