//! An entry read from what was typed: `reading=value`, `finds=`, `clears=`.

use super::super::Failure;
use crate::domain::asset::{Defect, Entry, EntryKind, an};
use crate::domain::form::Form;
use crate::domain::verify::odd::odd_link;
use crate::exchange::did_you_mean;

/// Links of a size that is not made, in sentences.
pub(super) fn odd_links(entry: &Entry) -> Vec<String> {
    ["link_found", "link_put"]
        .iter()
        .filter_map(|key| entry.readings.get(*key)?.value.as_ref())
        .filter_map(|mark| odd_link(&mark.to_string()))
        .map(|odd| format!("odd, and taken: {}", odd.sentence("the link")))
        .collect()
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
