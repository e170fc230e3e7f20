//! What an edit needs beyond a sound value: a free name, and a second person
//! where a rating rises, a defect is cleared or an id changes.

use super::Failure;
use super::edit::{Asked, FieldChange, printed};
use crate::domain::second::second_needed;
use crate::store::{Store, Stored};

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

/// The reason, with the second person where the edit needs one.
pub(super) fn with_second(
    stored: &Stored,
    changes: &[FieldChange],
    asked: &Asked,
    who: &str,
) -> Result<String, Failure> {
    let why = asked.why.trim().to_string();
    let name_key = stored.record.kind().word();
    let reason = changes
        .iter()
        .find_map(|c| second_needed(name_key, &c.field, &c.old, &c.new).map(|r| (c, r)));
    let second = asked.second.as_deref().map(str::trim);
    match (reason, second) {
        (_, Some(second)) if second.is_empty() || second.eq_ignore_ascii_case(who) => {
            Err(Failure::usage(format!(
                "the second person must be somebody other than {who}"
            )))
        }
        (_, Some(second)) => Ok(format!(
            "{why} (second person, as declared by {who}: {second})"
        )),
        (Some((c, reason)), None) => Err(Failure::usage(format!(
            "{}: {} from {} to {} needs a second person, because {reason}; nothing was changed",
            stored.record.name(),
            c.field,
            printed(&c.old),
            printed(&c.new)
        ))
        .hint("let somebody else read it too, and name them: --second WHO (recorded as declared)")),
        (None, None) => Ok(why),
    }
}
