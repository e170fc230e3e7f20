//! Fuse links that an entry says were put in, where the record says another.

use crate::calendar::Date;
use crate::domain::asset::{Element, Entry, Plain, Standing, Stated};

/// A link put in that differs from the recorded one.
#[derive(Debug, Clone, PartialEq)]
pub struct PutIn {
    pub slot: Option<String>,
    /// As marked.
    pub put: String,
    pub on: Option<Date>,
    /// What the record says, in words.
    pub recorded: String,
}

impl PutIn {
    /// In a sentence.
    #[must_use]
    pub fn sentence(&self) -> String {
        let slot = self.slot.as_ref().map(|s| format!(" in slot {s}"));
        let on = self.on.map(|on| format!(", {}", on.spoken()));
        format!(
            "link{}: {} was put in{}; the record says {}: which one holds is not known until it is looked at and corrected",
            slot.unwrap_or_default(),
            self.put,
            on.unwrap_or_default(),
            self.recorded
        )
    }
}

/// Takes what entries say was put in for assumed, wherever a link on record is
/// another and was not read since: no verdict rests on a link that was taken
/// out. `entries` from the oldest to the newest. Returns what differs.
pub fn as_put_in(elements: &mut [Element], entries: &[&Entry]) -> Vec<PutIn> {
    let mut out = Vec::new();
    for element in elements.iter_mut() {
        let Some(recorded) = element.link.clone() else {
            continue;
        };
        let Some((put, on)) = last_put(element.slot.as_deref(), entries) else {
            continue;
        };
        let read_since = recorded
            .on
            .is_some_and(|read| on.is_some_and(|on| read >= on));
        let says = words(&recorded);
        if read_since || same(&says, &put) {
            continue;
        }
        element.link = Some(Stated {
            value: Some(Plain::Text(put.clone())),
            standing: Standing::Assumed,
            by: None,
            on,
            from: None,
            rule: Some(format!(
                "an entry says it was put in; the record says {says}"
            )),
        });
        out.push(PutIn {
            slot: element.slot.clone(),
            put,
            on,
            recorded: says,
        });
    }
    out
}

fn last_put(slot: Option<&str>, entries: &[&Entry]) -> Option<(String, Option<Date>)> {
    entries.iter().rev().find_map(|e| {
        let put = e.readings.get("link_put").filter(|s| s.value.is_some())?;
        let of = e.readings.get("link_slot").map(words);
        let here = match (slot, of) {
            (Some(slot), Some(of)) => same(slot, &of),
            _ => true,
        };
        here.then(|| (words(put), e.on))
    })
}

/// The mark in words.
fn words(stated: &Stated) -> String {
    match &stated.value {
        Some(Plain::Text(t)) => t.clone(),
        Some(Plain::Number(n)) => n.to_string(),
        None => "unknown".to_string(),
    }
}

fn same(a: &str, b: &str) -> bool {
    let folded = |t: &str| {
        t.chars()
            .filter(|c| c.is_alphanumeric())
            .collect::<String>()
            .to_uppercase()
    };
    folded(a) == folded(b)
}
