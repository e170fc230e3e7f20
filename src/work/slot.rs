//! A position with the slot that is meant: `HB2-RG-3:B`.

use super::{Failure, Resolved, resolve_among};
use crate::domain::asset::{Kind, Position, Record};
use crate::domain::code::fold;
use crate::store::Store;

/// The record called `text`; of a position, behind a colon, its slot as it
/// writes it. A name that holds a colon itself is taken first.
///
/// # Errors
/// Not found or ambiguous; usage, for a slot that the position does not have
/// or of a record that has none; those of the register.
pub fn with_slot(
    store: &Store,
    text: &str,
    kinds: &[Kind],
) -> Result<(Resolved, Option<String>), Failure> {
    let failure = match resolve_among(store, text, kinds) {
        Ok(found) => return Ok((found, None)),
        Err(failure) => failure,
    };
    let Some((name, slot)) = text.rsplit_once(':') else {
        return Err(failure);
    };
    let found = resolve_among(store, name, kinds)?;
    match &found.stored.record {
        Record::Position(p) => {
            let slot = known_slot(p, slot.trim())?;
            Ok((found, Some(slot)))
        }
        other => Err(Failure::usage(format!(
            "{} is {}, and only a position has slots",
            other.name(),
            crate::domain::asset::an(other.kind())
        ))),
    }
}

/// The slot as its position writes it.
fn known_slot(p: &Position, slot: &str) -> Result<String, Failure> {
    let mut known = p.slot_names();
    known.extend(p.phases.clone());
    known
        .iter()
        .find(|k| fold(k) == fold(slot))
        .cloned()
        .ok_or_else(|| {
            Failure::usage(format!(
                "{} has no slot {slot}; it has {}",
                p.position,
                p.slot_names().join(", ")
            ))
        })
}
