//! What a form asks about a record: the readings of its class with the last
//! one of each, and the fuse links on record at a position.

use std::collections::BTreeMap;

use super::Failure;
use super::conclude::entries_of;
use super::edit::{called, printed};
use super::related::position_of;
use crate::calendar::{Date, Moment};
use crate::domain::asset::{
    Defect, ElementKind, Entry, Kind, Plain, Position, Record, Rel, Stated,
};
use crate::domain::finding::Follows;
use crate::domain::form::{Form, INSPECTED, Reading, form_of_record};
use crate::domain::upkeep::oil::test_of;
use crate::domain::upkeep::oldest_first;
use crate::exchange::{Forms, did_you_mean};
use crate::store::{Store, Stored};
use crate::units::parse_number;

/// A reading on record.
#[derive(Debug, Clone, PartialEq)]
pub struct Last {
    /// With its unit, and its word where the scale has words.
    pub shown: String,
    pub on: Option<Date>,
}

/// The form of one record, with what was read before.
#[derive(Debug, Clone, PartialEq)]
pub struct Sheet {
    pub of: Stored,
    /// Class of the device, or `pole`.
    pub class: String,
    pub form: Form,
    /// By reading.
    pub last: BTreeMap<String, Last>,
}

/// What an inspection opened on a record can be of: the units at a position,
/// else the record itself. Counters, oil and tests follow the unit.
///
/// # Errors
/// Those of the register.
pub fn subjects(store: &Store, of: &Stored) -> Result<Vec<Stored>, Failure> {
    let mut out = Vec::new();
    if let Record::Position(_) = &of.record {
        out = store.pointing(Rel::DeployedAt, &of.record.name())?;
        out.retain(|s| s.record.kind() == Kind::Unit);
    }
    if out.len() != 1 {
        out.push(of.clone());
    }
    Ok(out)
}

/// The form of a record, and the last reading of each line of it.
///
/// # Errors
/// When the record is of a kind that is not inspected; those of the register.
pub fn sheet(store: &Store, of: Stored) -> Result<Sheet, Failure> {
    let kind = of.record.kind();
    if !INSPECTED.contains(&kind) {
        return Err(Failure::usage(format!(
            "a {kind} is not inspected; a unit, a position or a structure is"
        )));
    }
    let class = form_of_record(&of.record);
    let form = Forms::of(store)?.form(class);
    let mut last = BTreeMap::new();
    for (_, entry) in entries_around(store, &of, &form)? {
        for reading in &form.readings {
            if let Some(value) = entry.readings.get(&reading.reading) {
                let mut shown = reading.printed(value);
                if reading.reading == "oil_kv" {
                    let method = test_of(&entry).ok().flatten();
                    let by = method.map_or("gap unclear", |(m, _)| m.short());
                    shown = format!("{shown} {by}");
                }
                let on = entry.on;
                last.insert(reading.reading.clone(), Last { shown, on });
            }
        }
    }
    Ok(Sheet {
        of,
        class: class.to_string(),
        form,
        last,
    })
}

/// The entries about a record, oldest first, with what the form has of the
/// unit at a position, and of the place where a unit is: a reading that follows
/// the one is not looked for with the other.
///
/// # Errors
/// Those of the register.
pub(super) fn entries_around(
    store: &Store,
    of: &Stored,
    form: &Form,
) -> Result<Vec<(i64, Entry)>, Failure> {
    let mut all = entries_of(store, of)?;
    let (others, theirs) = match &of.record {
        Record::Unit(_) => (position_of(store, of).ok(), Follows::Place),
        Record::Position(_) => {
            let mut units = subjects(store, of)?;
            units.retain(|s| s.record.kind() == Kind::Unit);
            let one = if units.len() == 1 { units.pop() } else { None };
            (one, Follows::Unit)
        }
        _ => (None, Follows::Either),
    };
    if let Some(other) = others {
        for (rec, mut entry) in entries_of(store, &other)? {
            let follows = |k: &String| form.reading(k).map(|r| r.follows);
            entry.readings.retain(|k, _| follows(k) == Some(theirs));
            if !entry.readings.is_empty() {
                all.push((rec, entry));
            }
        }
        oldest_first(&mut all);
    }
    Ok(all)
}

/// Whether a reading is asked, as the others stand. `answer` gives what was
/// answered to a reading so far.
#[must_use]
pub fn asked<'a>(reading: &Reading, answer: impl Fn(&str) -> Option<&'a str>) -> bool {
    reading
        .only_if
        .as_ref()
        .is_none_or(|only| answer(&only.reading).is_some_and(|w| only.is.iter().any(|i| i == w)))
}

/// An answer as it is kept: in the words and figures of the form. What a phone
/// puts in (capitals, grouped figures) is understood.
///
/// # Errors
/// A sentence that says what is allowed.
pub fn settled(reading: &Reading, typed: &str) -> Result<String, String> {
    let typed = typed.trim();
    let small = typed.to_lowercase();
    if small == "unknown" || small == "not known" {
        return Ok("unknown".to_string());
    }
    let meant = if reading.limits.is_some() {
        parse_number(typed).map_or_else(|_| typed.to_string(), |n| n.to_string())
    } else {
        let same = reading.choices.iter().find(|c| c.to_lowercase() == small);
        same.map_or_else(|| typed.to_string(), String::clone)
    };
    reading.read(&meant)?;
    Ok(meant)
}

/// Defects typed by their first letters, parted by commas, in the words of the
/// list.
///
/// # Errors
/// A sentence with the defects that fit, or the nearest.
pub fn defects(typed: &str) -> Result<String, String> {
    let mut out: Vec<&str> = Vec::new();
    for part in typed.split(',').map(|p| p.trim().to_lowercase()) {
        let all = Defect::WORDS.iter().copied();
        let exact: Vec<&str> = all.clone().filter(|w| *w == part).collect();
        let begins: Vec<&str> = all.clone().filter(|w| w.starts_with(&part)).collect();
        let holds: Vec<&str> = all.filter(|w| w.contains(&part)).collect();
        let fits = [exact, begins, holds]
            .into_iter()
            .find(|f| !f.is_empty())
            .unwrap_or_default();
        match fits.as_slice() {
            [one] => out.push(one),
            [] => {
                return Err(format!(
                    "{part:?} is no defect on the list{}; one of {}",
                    did_you_mean(&part, Defect::WORDS.iter().copied()),
                    Defect::WORDS.join(", ")
                ));
            }
            several => return Err(format!("{part:?} can be {}", several.join(" or "))),
        }
    }
    Ok(out.join(", "))
}

/// Whether an entry with just these readings has been written about the record
/// since: a form whose file outlived its entry is not written twice.
///
/// # Errors
/// Those of the register.
pub fn written_since(
    store: &Store,
    of: &Stored,
    readings: &BTreeMap<String, Stated>,
    since: Moment,
) -> Result<bool, Failure> {
    if readings.is_empty() {
        return Ok(false);
    }
    let mut written: BTreeMap<String, Stated> = BTreeMap::new();
    let mut about = vec![of.clone()];
    about.extend(match &of.record {
        Record::Position(_) => subjects(store, of)?,
        _ => position_of(store, of).ok().into_iter().collect(),
    });
    for stored in &about {
        for (_, e) in entries_of(store, stored)? {
            let within = e.readings.iter().all(|(k, v)| readings.get(k) == Some(v));
            if within && e.id.unix_millis() >= since.unix_millis() {
                written.extend(e.readings);
            }
        }
    }
    Ok(written == *readings)
}

/// A fuse link of a position.
#[derive(Debug, Clone, PartialEq)]
pub struct Link {
    /// Which of its elements it is.
    index: usize,
    pub slot: Option<String>,
    /// As recorded; none when it is not.
    pub recorded: Option<Stated>,
}

/// The fuse links at a position, with the last one put in.
#[derive(Debug, Clone, PartialEq)]
pub struct Links {
    pub position: Stored,
    pub links: Vec<Link>,
    /// The last link put in, and when.
    pub last_put: Option<(String, Option<Date>)>,
}

/// The fuse links of a position, or of the position where a unit is.
///
/// # Errors
/// When the record is neither, or no link is on record there; the register's.
pub fn links(store: &Store, of: &Stored) -> Result<Links, Failure> {
    let position = match &of.record {
        Record::Position(_) | Record::Unit(_) => position_of(store, of)?,
        other => {
            return Err(Failure::usage(format!(
                "{} has no fuse link of its own; open the position",
                crate::domain::asset::an(other.kind())
            ))
            .hint("o lists what is on it"));
        }
    };
    let links = match &position.record {
        Record::Position(p) => links_of(p),
        _ => Vec::new(),
    };
    if links.is_empty() {
        return Err(Failure::not_found(format!(
            "no fuse link is on record at {}",
            position.record.name()
        ))
        .hint("k corrects its elements, or i records what was found"));
    }
    let last_put = entries_of(store, &position)?
        .iter()
        .rev()
        .find_map(|(_, e)| {
            let put = e.readings.get("link_put")?.as_text()?;
            Some((put.to_string(), e.on))
        });
    Ok(Links {
        position,
        links,
        last_put,
    })
}

fn links_of(p: &Position) -> Vec<Link> {
    let links = p.elements.iter().enumerate();
    links
        .filter(|(_, e)| e.element == ElementKind::Link || e.link.is_some())
        .map(|(index, e)| Link {
            index,
            slot: e.slot.clone(),
            recorded: e.link.clone(),
        })
        .collect()
}

/// The links that the one put in takes the place of.
fn meant<'l>(links: &'l Links, slot: Option<&str>) -> impl Iterator<Item = &'l Link> {
    let slot = slot.map(str::to_string);
    links
        .links
        .iter()
        .filter(move |l| slot.is_none() || l.slot.is_none() || l.slot == slot)
}

/// Whether the link put in is another than the recorded one: what the record
/// says, in words.
#[must_use]
pub fn differs(links: &Links, slot: Option<&str>, put: &str) -> Option<String> {
    let other: Vec<String> = meant(links, slot)
        .filter_map(|l| match &l.recorded {
            Some(s) if s.as_text() == Some(put) && s.is_known() => None,
            Some(s) => Some(match (s.as_text(), s.is_known()) {
                (Some(t), true) => t.to_string(),
                (Some(t), false) => format!("{t} assumed"),
                (None, _) => "unknown".to_string(),
            }),
            None => Some("no link".to_string()),
        })
        .collect();
    (!other.is_empty()).then(|| {
        let mut other = other;
        other.dedup();
        format!("the record says {}, and {put} was put in", other.join(", "))
    })
}

/// The corrections that would make the record say what was put in: for each
/// link the field, the value to type, and both in words.
#[must_use]
pub fn corrected(links: &Links, slot: Option<&str>, put: &str) -> Vec<(String, String, String)> {
    let record = links.position.record.to_value();
    meant(links, slot)
        .map(|link| {
            let item = &record["elements"][link.index];
            let was = item.get("link").map_or("not on record".to_string(), |l| {
                printed(l.get("value").unwrap_or(l))
            });
            (
                format!("elements.{}.link", link.index + 1),
                put.to_string(),
                format!(
                    "link in element {}: {was} -> {put}",
                    called(link.index, item)
                ),
            )
        })
        .collect()
}

/// The recorded link, when one is meant and it is known.
#[must_use]
pub fn recorded(links: &Links, slot: Option<&str>) -> Option<String> {
    let mut found: Vec<&str> = meant(links, slot)
        .filter_map(|l| match &l.recorded.as_ref()?.value {
            Some(Plain::Text(t)) => Some(t.as_str()),
            _ => None,
        })
        .collect();
    found.dedup();
    match found.as_slice() {
        [one] => Some((*one).to_string()),
        _ => None,
    }
}
