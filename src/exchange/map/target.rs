//! What a field of a record takes, found by asking the record's own reader:
//! the map knows no list of fields that could fall behind the model.

use serde_json::{Value, json};

use crate::domain::asset::{Kind, Record};
use crate::domain::change::put_at;
use crate::exchange::document::explain;

/// What a field takes.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(in crate::exchange) enum Target {
    Text,
    Number,
    Date,
    List,
    /// Takes a number or a word.
    Either,
}

/// The target at a dotted path, or at a key of the items of a list there.
///
/// # Errors
/// A sentence, when the kind has no such field.
pub(in crate::exchange) fn target_of(
    kind: Kind,
    path: &str,
    sub: Option<&str>,
) -> Result<Target, String> {
    let shown = sub.map_or(path.to_string(), |s| format!("{s} in {path}"));
    if path == "id" {
        return Err("the id of a record is given by the register, not by a file".into());
    }
    if path.is_empty() || path.split('.').any(str::is_empty) {
        return Err(format!("{path:?} is no field"));
    }
    let with_number = complaint(kind, path, sub, json!(1));
    if with_number.contains("unknown field") {
        return Err(format!("a {kind}: {}", explain(&with_number)));
    }
    if with_number.contains("invalid type: map") {
        return Err(format!(
            "{shown}: {} holds no fields of its own; a list takes items",
            path.rsplit_once('.').map_or(path, |(p, _)| p)
        ));
    }
    let with_text = complaint(kind, path, sub, json!("?"));
    if with_text.contains("a sequence") {
        return Ok(Target::List);
    }
    if with_text.contains("expected struct") || with_text.contains("a map") {
        return Err(format!(
            "{shown} holds fields of its own; name one of them, such as {path}.note"
        ));
    }
    Ok(
        if with_text.contains("invalid type: string") || with_text.contains("is not a number of") {
            Target::Number
        } else if with_text.contains("is not a date") {
            Target::Date
        } else if with_number.contains("invalid type: integer") {
            Target::Text
        } else {
            Target::Either
        },
    )
}

pub(super) fn complaint(kind: Kind, path: &str, sub: Option<&str>, probe: Value) -> String {
    let mut value = Value::Object(serde_json::Map::new());
    let probe = match sub {
        Some(sub) => {
            let mut item = Value::Object(serde_json::Map::new());
            put_at(&mut item, sub, probe);
            json!([item])
        }
        None => probe,
    };
    put_at(&mut value, path, probe);
    match Record::from_value(kind, value) {
        Ok(_) => String::new(),
        Err(e) => e.to_string(),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn targets_are_those_of_the_model() {
        let of = |kind, path| target_of(kind, path, None);
        assert_eq!(of(Kind::Structure, "structure"), Ok(Target::Text));
        assert_eq!(of(Kind::Structure, "place.lat"), Ok(Target::Number));
        assert_eq!(of(Kind::Structure, "pole.set_year"), Ok(Target::Number));
        assert_eq!(of(Kind::Structure, "circuits"), Ok(Target::List));
        assert_eq!(of(Kind::Unit, "nameplate.kva"), Ok(Target::Number));
        assert_eq!(of(Kind::Unit, "nameplate.made_on"), Ok(Target::Date));
        assert_eq!(of(Kind::Entry, "on"), Ok(Target::Date));
        assert_eq!(of(Kind::Entry, "finds"), Ok(Target::List));
        assert_eq!(of(Kind::Entry, "readings.condition"), Ok(Target::Either));
        assert_eq!(of(Kind::Span, "span.length_ft"), Ok(Target::Number));
        assert_eq!(of(Kind::Position, "customers.count"), Ok(Target::Number));
        assert_eq!(
            target_of(Kind::Unit, "deployments", Some("from")),
            Ok(Target::Date)
        );
    }

    #[test]
    fn a_field_that_is_not_there_is_named_with_the_nearest() {
        let said = target_of(Kind::Structure, "place.raod", None).unwrap_err();
        assert!(said.contains("did you mean \"road\""), "{said}");
        assert!(target_of(Kind::Structure, "place", None).is_err());
        assert!(target_of(Kind::Structure, "id", None).is_err());
        assert!(target_of(Kind::Unit, "deployments.at", None).is_err());
        assert!(target_of(Kind::Unit, "deployments", Some("att")).is_err());
    }
}
