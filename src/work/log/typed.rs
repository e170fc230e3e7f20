//! An entry read from what was typed: `reading=value`, `finds=`, `clears=`.

use super::super::Failure;
use crate::domain::asset::{Defect, Entry, EntryKind, Record, an};
use crate::domain::form::Form;
use crate::domain::verify::odd::{in_history, odd};
use crate::domain::verify::pairs::{entry_before_make, out_of_place};
use crate::exchange::did_you_mean;
use crate::store::{Store, Stored};

/// Refuses readings that cannot stand together; says in sentences what is only
/// odd, of the entry by itself and beside the earlier ones.
pub(super) fn odd_pairs(
    store: &Store,
    stored: &Stored,
    entry: &Entry,
) -> Result<Vec<String>, Failure> {
    let mut found = odd(&entry.clone().into());
    if let Some(wrong) = found.iter().find(|o| o.cannot_be) {
        return Err(
            Failure::usage(format!("{}; nothing was written", wrong.sentence("it")))
                .hint("read both again; what nobody can read is written as unknown"),
        );
    }
    let earlier = crate::work::conclude::entries_of(store, stored)?;
    found.extend(in_history(&earlier, entry));
    let name = stored.record.name();
    let mut out: Vec<String> = found
        .iter()
        .map(|o| format!("odd, and taken: {}", o.sentence(&name)))
        .collect();
    let misplaced = out_of_place(entry, &stored.record);
    out.extend(
        misplaced
            .into_iter()
            .map(|s| format!("odd, and taken: {s}")),
    );
    if let (Some(on), Record::Unit(unit)) = (entry.on, &stored.record) {
        let said = entry_before_make(on, unit);
        out.extend(said.map(|s| format!("odd, and taken: {s}")));
    }
    Ok(out)
}

pub(super) fn entry_kind(word: &str) -> Result<EntryKind, Failure> {
    EntryKind::from_word(word).ok_or_else(|| {
        Failure::usage(format!(
            "{word:?} is no kind of entry{}; one of {}",
            did_you_mean(word, EntryKind::WORDS.iter().copied()),
            EntryKind::WORDS.join(", ")
        ))
    })
}

pub(super) fn take(entry: &mut Entry, form: &Form, pair: &str) -> Result<(), Failure> {
    let Some((key, value)) = pair.split_once('=') else {
        return Err(Failure::usage(format!("{pair:?} is not reading=value")));
    };
    let (key, value) = (key.trim(), value.trim());
    match key {
        "finds" => entry.finds = defects(key, value)?,
        "clears" => entry.clears = defects(key, value)?,
        "note" if !value.is_empty() => entry.note = Some(value.to_string()),
        _ => {
            let known = || {
                let own = form.readings.iter().map(|r| r.reading.as_str());
                own.chain(["finds", "clears", "note"])
            };
            let reading = form.readings.iter().find(|r| r.reading == key);
            let reading = reading.ok_or_else(|| {
                Failure::usage(format!(
                    "the form of {} has no reading {key:?}{}; it has {}",
                    an(&form.form),
                    did_you_mean(key, known()),
                    known().collect::<Vec<_>>().join(", ")
                ))
            })?;
            let value = reading.read(value).map_err(Failure::usage)?;
            if entry.readings.insert(key.to_string(), value).is_some() {
                return Err(Failure::usage(format!("{key} is given twice")));
            }
        }
    }
    Ok(())
}

fn defects(key: &str, value: &str) -> Result<Vec<Defect>, Failure> {
    value
        .split(',')
        .map(|word| {
            let word = word.trim();
            Defect::from_word(word).ok_or_else(|| {
                Failure::usage(format!(
                    "{key}: {word:?} is no defect on the list{}; one of {}",
                    did_you_mean(word, Defect::WORDS.iter().copied()),
                    Defect::WORDS.join(", ")
                ))
            })
        })
        .collect()
}
