//! Which changes of an import one person alone does not make: the rules of
//! [`crate::domain::second`], put to what the files say.

use crate::domain::asset::Record;
use crate::domain::change::{Change, Edit, printed};
use crate::domain::second::{past_bears, same_reader, second_needed_of, second_needed_to_add};
use crate::store::{Look, StoreError};

/// What of a change needs a second person, and why; none when nothing does.
/// `before` is the record as the register holds it.
pub(super) fn alone(
    change: &Change,
    before: Option<&Record>,
    look: &impl Look,
) -> Result<Option<String>, StoreError> {
    match change {
        Change::Add(record) => Ok(added_alone(record)),
        Change::Edit(edit) => before.map_or(Ok(None), |before| edited_alone(edit, before, look)),
        Change::Remove(_) => Ok(None),
    }
}

/// [`alone`] for a new record.
pub(super) fn added_alone(record: &Record) -> Option<String> {
    second_needed_to_add(record).map(|why| format!("{} {}: {why}", record.kind(), record.name()))
}

/// [`alone`] for one edited field.
pub(super) fn edited_alone(
    edit: &Edit,
    before: &Record,
    look: &impl Look,
) -> Result<Option<String>, StoreError> {
    let earlier = if past_bears(&edit.field, &edit.new) {
        look.earlier(edit.id, &edit.field)?
    } else {
        vec![edit.old.clone()]
    };
    let earlier: Vec<_> = earlier.iter().collect();
    // A file gives back the reader it was written with: the new figure is not theirs.
    let not_theirs = same_reader(&edit.old, &edit.new)
        .then(|| "the figure changes while who read it, and when, does not".to_string());
    let needed = second_needed_of(before, &edit.field, &earlier, &edit.new);
    Ok(needed.or(not_theirs).map(|why| {
        format!(
            "{} {}: {} from {} to {}: {why}",
            before.kind(),
            before.name(),
            edit.field,
            printed(&edit.old),
            printed(&edit.new)
        )
    }))
}
