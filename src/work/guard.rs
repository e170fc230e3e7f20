//! What an edit needs beyond a sound value: a free name, and a second person
//! where a rating rises, a defect is cleared or an id changes.

use serde_json::Value;

use super::Failure;
use super::edit::{Asked, FieldChange, overlap, printed};
use crate::calendar::Date;
use crate::domain::asset::Record;
use crate::domain::form::entry_cannot_be;
use crate::domain::order;
use crate::domain::second::second_needed_of;
use crate::domain::verify::odd;
use crate::domain::who;
use crate::exchange::Forms;
use crate::store::{Access, Look, Store, StoreError, Stored, ToCome};

/// Who may not write can still propose: the same words as a report.
pub(super) fn writable(store: &mut Store, stored: &Stored, asked: &Asked) -> Result<(), Failure> {
    if store.access() == Access::Write {
        return Ok(());
    }
    match store.writer().map(drop) {
        Err(StoreError::ReadOnly(_)) => {}
        // A backup, for one, says what it is.
        other => return other.map_err(Failure::from),
    }
    let fields: Vec<String> = asked.set.iter().map(|s| format!("{s:?}")).collect();
    Err(Failure::unusable(format!(
        "{} can be read but not written by this account; nothing was changed",
        store.path().display()
    ))
    .hint(format!(
        "propose it to the records clerk: polecard report {:?} {} --why {:?}",
        stored.record.name(),
        fields.join(" "),
        asked.why.trim()
    )))
}

/// A new name must not be the present name of another record of its kind.
pub(super) fn renamed_free(
    store: &Store,
    stored: &Stored,
    changes: &[FieldChange],
) -> Result<(), Failure> {
    let kind = stored.record.kind();
    let Some(name) = changes
        .iter()
        .find(|c| c.field == kind.word())
        .and_then(|c| c.new.as_str())
    else {
        return Ok(());
    };
    let held = store
        .named(name)?
        .into_iter()
        .any(|h| h.rank == 0 && h.kind == kind && h.rec != stored.rec);
    if held {
        return Err(Failure::usage(format!(
            "another {kind} is called {name} already; nothing was changed"
        )));
    }
    Ok(())
}

/// Who changed a field last, when and why; none when nobody did since it was
/// first recorded.
///
/// # Errors
/// Those of the register.
pub fn last_change(
    store: &Store,
    stored: &Stored,
    field: &str,
) -> Result<Option<(String, String, String)>, Failure> {
    const LOOKED_AT: usize = 100;
    Ok(store
        .touched(stored.rec, LOOKED_AT)?
        .into_iter()
        .find(|t| t.edits.iter().any(|e| overlap(&e.field, field)))
        .map(|t| {
            let op = t.operation.operation;
            (op.who, op.entered.spoken(), op.why)
        }))
}

/// Why a change of one field needs a second person, as a failure to make it
/// alone.
pub(super) fn alone(
    store: &Store,
    stored: &Stored,
    change: &FieldChange,
) -> Result<Option<Failure>, StoreError> {
    let earlier = store.earlier(stored.record.id(), &change.field)?;
    let earlier: Vec<&Value> = earlier.iter().collect();
    let reason = second_needed_of(&stored.record, &change.field, &earlier, &change.new);
    Ok(reason.map(|reason| {
        not_alone(&format!(
            "{}: {} from {} to {} needs a second person, because {reason}",
            stored.record.name(),
            change.field,
            printed(&change.old),
            printed(&change.new)
        ))
    }))
}

/// A failure that asks for a second person.
pub(super) fn not_alone(what: &str) -> Failure {
    Failure::usage(format!("{what}; nothing was changed"))
        .hint("let somebody else read it too, and name them: --second WHO (recorded as declared)")
}

/// Refuses one person's edit over a change that is to come: what it is held
/// against is not what holds today.
pub(super) fn not_over_to_come(
    stored: &Stored,
    to_come: &[ToCome],
    changes: &[FieldChange],
    second: Option<&str>,
) -> Result<(), Failure> {
    let mut fields = to_come.iter().filter_map(|c| c.field.as_deref());
    match fields.find(|f| changes.iter().any(|c| c.field == *f)) {
        Some(field) if second.is_none() => Err(not_alone(&format!(
            "{}: {field} has a change to come, and one over it needs a second person",
            stored.record.name()
        ))),
        _ => Ok(()),
    }
}

/// The second person that is named, if one is.
///
/// # Errors
/// Usage, when it is nobody or the person who acts.
pub(super) fn somebody_else<'s>(
    second: Option<&'s str>,
    who: &str,
) -> Result<Option<&'s str>, Failure> {
    match second.map(str::trim) {
        Some(second) if second.is_empty() || who::Who::read(who).is(second) => Err(Failure::usage(
            format!("the second person must be somebody other than {who}"),
        )),
        other => Ok(other),
    }
}

/// The reason, with the second person where one is named; a failure where one
/// is needed and none is named.
pub(super) fn declared(
    why: &str,
    second: Option<&str>,
    who: &str,
    needed: Option<Failure>,
) -> Result<String, Failure> {
    let why = why.trim();
    match (somebody_else(second, who)?, needed) {
        (Some(second), _) => Ok(who::with_second(why, who, second)),
        (None, Some(failure)) => Err(failure),
        (None, None) => Ok(why.to_string()),
    }
}

/// The reason, with the second person where the edit needs one.
pub(super) fn with_second(
    store: &Store,
    stored: &Stored,
    changes: &[FieldChange],
    asked: &Asked,
    who: &str,
) -> Result<String, Failure> {
    let mut needed = None;
    for change in changes {
        if needed.is_none() {
            needed = alone(store, stored, change)?;
        }
    }
    declared(&asked.why, asked.second.as_deref(), who, needed)
}

/// An order becomes only what its moves make of it.
pub(super) fn as_moved(before: &Record, after: &Value, today: Date) -> Result<(), Failure> {
    let Record::Order(was) = before else {
        return Ok(());
    };
    let Ok(Record::Order(is)) = Record::from_value(before.kind(), after.clone()) else {
        return Ok(());
    };
    order::judged(was, &is, today)
        .map_err(|(why, hint)| Failure::usage(format!("{why}; nothing was changed")).hint(hint))
}

/// Refuses an entry that cannot be, as a form would.
pub(super) fn entry_judged(
    store: &Store,
    before: &Record,
    after: &Value,
    today: Date,
) -> Result<(), Failure> {
    let (Record::Entry(was), Ok(Record::Entry(is))) =
        (before, Record::from_value(before.kind(), after.clone()))
    else {
        return Ok(());
    };
    let forms: Vec<_> = Forms::of(store)?.readings().cloned().collect();
    match entry_cannot_be(&forms, Some(was), &is, today) {
        Some(why) => Err(Failure::usage(format!("{why}; nothing was changed"))),
        None => Ok(()),
    }
}

/// Refuses a plate that cannot be; returns what is only odd, in sentences.
pub(super) fn judged(before: &Record, after: &Value) -> Result<Vec<String>, Failure> {
    let Ok(after) = Record::from_value(before.kind(), after.clone()) else {
        return Ok(Vec::new());
    };
    let mut notes = Vec::new();
    for found in odd::new_in(Some(before), &after) {
        let said = found.sentence(&after.name());
        if found.cannot_be {
            return Err(Failure::usage(format!("{said}; nothing was changed"))
                .hint("read both figures again, and give both where both are wrong")
                .hint("what nobody can read is written as unknown"));
        }
        notes.push(format!("odd, and taken: {said}"));
    }
    Ok(notes)
}
