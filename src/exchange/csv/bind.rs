//! Binding a map to the heading of one file: names of columns become their
//! places, once, before the first row.

use serde_json::Value;

use super::cell::DateFormat;
use super::name_form::{NameForm, Schemes};
use crate::domain::asset::Kind;
use crate::exchange::map::{
    AlsoForm, As, CsvMap, FieldForm, Fields, KindForm, OnlyIf, Slice, Target, no_column, target_of,
    template,
};

/// A map bound to a heading.
pub(super) struct Bound<'m> {
    pub map: &'m CsvMap,
    pub heading: Vec<String>,
    pub by: Option<usize>,
    pub plans: Vec<Plan<'m>>,
}

pub(super) struct Plan<'m> {
    pub kind: Kind,
    pub key: Vec<usize>,
    pub fields: Vec<Field<'m>>,
    pub also: Vec<Also<'m>>,
}

pub(super) struct Also<'m> {
    pub kind: Kind,
    pub unless_blank: Vec<usize>,
    pub only_if: Option<Condition<'m>>,
    pub fields: Vec<Field<'m>>,
}

pub(super) struct Condition<'m> {
    pub column: usize,
    pub is: &'m [String],
}

pub(super) struct Field<'m> {
    pub path: &'m str,
    pub form: &'m FieldForm,
    pub source: Source<'m>,
    pub conversion: As,
    pub date: DateFormat,
    pub only_if: Option<Condition<'m>>,
    pub must: Option<NameForm>,
    pub on: Option<usize>,
    pub blanks: &'m [String],
    /// Values of the map by their words in lower case.
    pub values: Option<Vec<(String, &'m Value)>>,
}

pub(super) enum Source<'m> {
    Column(usize),
    Template(Vec<Piece>),
    Constant(&'m Value),
    Items(Vec<Vec<Field<'m>>>),
}

pub(super) enum Piece {
    Text(String),
    Column(usize),
    Optional(Vec<Piece>),
}

struct Binder<'m> {
    map: &'m CsvMap,
    heading: &'m [String],
    schemes: &'m Schemes,
}

impl<'m> Binder<'m> {
    fn column(&self, name: &str) -> Result<usize, String> {
        let mut found = (0..self.heading.len()).filter(|i| self.heading[*i] == name);
        match (found.next(), found.next()) {
            (Some(i), None) => Ok(i),
            (Some(_), Some(_)) => Err(format!(
                "the heading has {name:?} twice; give the two columns different names"
            )),
            (None, _) => Err(no_column(name, self.heading)),
        }
    }

    fn columns(&self, names: &[String]) -> Result<Vec<usize>, String> {
        names.iter().map(|n| self.column(n)).collect()
    }

    fn condition(&self, form: Option<&'m OnlyIf>) -> Result<Option<Condition<'m>>, String> {
        form.map(|f| {
            Ok(Condition {
                column: self.column(&f.column)?,
                is: &f.is.0,
            })
        })
        .transpose()
    }

    fn fields(
        &self,
        kind: Kind,
        fields: &'m Fields,
        list: Option<&str>,
    ) -> Result<Vec<Field<'m>>, String> {
        fields
            .0
            .iter()
            .map(|(path, form)| self.field(kind, path, form, list))
            .collect()
    }

    fn field(
        &self,
        kind: Kind,
        path: &'m str,
        form: &'m FieldForm,
        list: Option<&str>,
    ) -> Result<Field<'m>, String> {
        let target = target_of(kind, list.unwrap_or(path), list.map(|_| path))?;
        let source = if let Some(name) = &form.column {
            Source::Column(self.column(name)?)
        } else if let Some(text) = &form.template {
            Source::Template(self.pieces(&template(text)?)?)
        } else if let Some(value) = &form.constant {
            Source::Constant(value)
        } else {
            Source::Items(
                form.items
                    .iter()
                    .flatten()
                    .map(|item| self.fields(kind, item, Some(path)))
                    .collect::<Result<_, _>>()?,
            )
        };
        let conversion = form.conversion.unwrap_or(match target {
            Target::Number => As::Number,
            Target::Date => As::Date,
            Target::List => As::List,
            Target::Text | Target::Either => As::Text,
        });
        // A field that names another record may hold a number of its kind.
        let own = list.is_none() && name_paths(kind).contains(&path);
        let must = form
            .must_match
            .as_deref()
            .map(|word| NameForm::new(word, own.then_some(kind), self.schemes))
            .transpose()
            .map_err(|why| format!("{path}: {why}"))?;
        Ok(Field {
            path,
            form,
            source,
            conversion,
            date: DateFormat::new(form.format.as_deref().unwrap_or("YYYY-MM-DD"))?,
            only_if: self.condition(form.only_if.as_ref())?,
            must,
            on: form.on.as_ref().map(|n| self.column(n)).transpose()?,
            blanks: &form.blanks.as_ref().unwrap_or(&self.map.blanks).0,
            values: form
                .values
                .as_ref()
                .map(|v| v.iter().map(|(k, v)| (k.to_lowercase(), v)).collect()),
        })
    }

    fn pieces(&self, slices: &[Slice<'_>]) -> Result<Vec<Piece>, String> {
        slices
            .iter()
            .map(|slice| {
                Ok(match slice {
                    Slice::Text(t) => Piece::Text((*t).to_string()),
                    Slice::Column(name) => Piece::Column(self.column(name)?),
                    Slice::Optional(inner) => Piece::Optional(self.pieces(inner)?),
                })
            })
            .collect()
    }

    fn also(&self, form: &'m AlsoForm) -> Result<Also<'m>, String> {
        Ok(Also {
            kind: form.kind,
            unless_blank: self.columns(&form.unless_blank.0)?,
            only_if: self.condition(form.only_if.as_ref())?,
            fields: self.fields(form.kind, &form.fields, None)?,
        })
    }
}

/// Binds a map to a heading.
///
/// # Errors
/// A column that the file does not have, or has twice.
pub(super) fn bind<'m>(
    map: &'m CsvMap,
    heading: &'m [String],
    schemes: &'m Schemes,
) -> Result<Bound<'m>, String> {
    let binder = Binder {
        map,
        heading,
        schemes,
    };
    let plan = |kind: Kind, key: &'m [String], fields: &'m Fields, also: &'m [AlsoForm]| {
        let fields = binder.fields(kind, fields, None)?;
        let key = match key {
            [] => name_columns(kind, &fields),
            key => binder.columns(key)?,
        };
        Ok::<_, String>(Plan {
            kind,
            key,
            fields,
            also: also
                .iter()
                .map(|a| binder.also(a))
                .collect::<Result<_, _>>()?,
        })
    };
    let (by, plans) = match &map.kind {
        KindForm::Always(kind) => (None, vec![plan(*kind, &map.key.0, &map.fields, &map.also)?]),
        KindForm::ByColumn(by) => (
            Some(binder.column(&by.column)?),
            map.records
                .iter()
                .map(|(kind, f)| {
                    let key = if f.key.0.is_empty() { &map.key } else { &f.key };
                    plan(*kind, &key.0, &f.fields, &f.also)
                })
                .collect::<Result<_, _>>()?,
        ),
    };
    Ok(Bound {
        map,
        heading: heading.to_vec(),
        by,
        plans,
    })
}

/// Paths that make up the name of a record.
pub(super) fn name_paths(kind: Kind) -> &'static [&'static str] {
    match kind {
        Kind::Span => &["span.from", "span.to"],
        Kind::Entry => &["of", "on"],
        Kind::Utility => &["utility"],
        Kind::Scheme => &["scheme"],
        Kind::Conductor => &["conductor"],
        Kind::Source => &["source"],
        Kind::Feeder => &["feeder"],
        Kind::Structure => &["structure"],
        Kind::Position => &["position"],
        Kind::Unit => &["unit"],
        Kind::Order => &["order"],
        Kind::Notice => &["notice"],
        Kind::Form => &["form"],
        Kind::Interval => &["interval"],
        Kind::Map => &["map"],
        Kind::Curve => &["curve"],
        Kind::Kept => &["kept"],
    }
}

fn name_columns(kind: Kind, fields: &[Field<'_>]) -> Vec<usize> {
    fields
        .iter()
        .filter(|f| name_paths(kind).contains(&f.path))
        .filter_map(|f| match &f.source {
            Source::Column(i) => Some(*i),
            _ => None,
        })
        .collect()
}
