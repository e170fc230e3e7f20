//! To which record a reading or a defect belongs that was written down at a
//! position or of the unit in it: what follows the unit goes to the unit that
//! hung there on that day, what follows the place stays with the place.

use super::super::Failure;
use super::super::facts::{defects_of, means, pointing_at, subject_of};
use crate::calendar::{Date, Moment};
use crate::domain::asset::{
    Defect, Deployment, Entry, EntryKind, Kind, Position, Record, Rel, Unit,
};
use crate::domain::finding::{Follows, defect_row};
use crate::domain::form::Form;
use crate::domain::nameplate::covers;
use crate::store::{Store, StoreError, Stored, fresh_id};

/// The unit and the place that an entry may be about; at least one is there.
pub(super) struct Target {
    pub unit: Option<Stored>,
    pub place: Option<Stored>,
    /// Which of the two was named.
    named_unit: bool,
    pub notes: Vec<String>,
}

/// What an entry holds that follows a unit, in the words it was given in.
fn of_unit(entry: &Entry, form: &Form) -> Vec<String> {
    let readings = entry.readings.keys();
    let mut out: Vec<String> = readings
        .filter(|key| follows(form, key) == Follows::Unit)
        .cloned()
        .collect();
    let defects = entry.finds.iter();
    out.extend(
        defects
            .filter(|d| defect_row(**d).follows == Follows::Unit)
            .map(|d| d.word().to_string()),
    );
    out
}

fn follows(form: &Form, key: &str) -> Follows {
    form.reading(key).map_or(Follows::Either, |r| r.follows)
}

impl Target {
    /// Who is meant by the record named, on the day of the entry.
    ///
    /// # Errors
    /// Usage, where the entry holds what belongs to one of several units and
    /// no slot is given; those of the register.
    pub fn of(
        store: &Store,
        named: &Stored,
        slot: Option<&str>,
        (entry, form): (&Entry, &Form),
    ) -> Result<Target, Failure> {
        let mut out = Target {
            unit: None,
            place: None,
            named_unit: false,
            notes: Vec::new(),
        };
        match &named.record {
            Record::Position(p) => {
                out.unit = unit_at(store, named, p, slot, (entry, form), &mut out.notes)?;
                out.place = Some(named.clone());
            }
            Record::Unit(u) => {
                out.unit = Some(named.clone());
                out.named_unit = true;
                out.place = place_of(store, u, entry.on)?;
            }
            _ => out.place = Some(named.clone()),
        }
        Ok(out)
    }

    /// The record itself, of an entry that is never parted.
    pub fn alone(named: &Stored) -> Target {
        Target {
            unit: None,
            place: Some(named.clone()),
            named_unit: false,
            notes: Vec::new(),
        }
    }

    /// The record by whose plate the readings are judged.
    pub fn judged(&self, entry: &Entry, form: &Form) -> Option<&Stored> {
        let unit = self.unit.as_ref();
        if self.named_unit || !of_unit(entry, form).is_empty() {
            return unit.or(self.place.as_ref());
        }
        let neutral = entry
            .readings
            .keys()
            .all(|k| follows(form, k) == Follows::Either);
        match neutral && !entry.readings.is_empty() {
            true => unit.or(self.place.as_ref()),
            false => self.place.as_ref().or(unit),
        }
    }

    /// The entry in the parts that belong to unit and place; the one that was
    /// named, or holds more, first.
    ///
    /// # Errors
    /// Those of the register.
    pub fn parts(
        &mut self,
        store: &Store,
        entry: Entry,
        (form, now): (&Form, Moment),
    ) -> Result<Vec<(Stored, Entry)>, Failure> {
        let (unit, place) = match (self.unit.take(), self.place.take()) {
            (Some(unit), Some(place)) => (unit, place),
            (Some(one), None) | (None, Some(one)) => {
                let of = one.record.name();
                return Ok(vec![(one, Entry { of, ..entry })]);
            }
            (None, None) => return Err(Failure::not_found("nothing is there to write about")),
        };
        let mut mine = bare(&entry, unit.record.name());
        let mut theirs = bare(&entry, place.record.name());
        theirs.id = fresh_id(now);
        let to_unit = self.named_unit
            || !of_unit(&entry, form).is_empty()
            || (!entry.readings.is_empty()
                && entry
                    .readings
                    .keys()
                    .all(|k| follows(form, k) == Follows::Either));
        for (key, value) in &entry.readings {
            let at_place = match follows(form, key) {
                Follows::Unit => false,
                Follows::Place => true,
                Follows::Either => !to_unit,
            };
            let into = if at_place { &mut theirs } else { &mut mine };
            into.readings.insert(key.clone(), value.clone());
        }
        for defect in &entry.finds {
            let into = match defect_row(*defect).follows {
                Follows::Place => &mut theirs,
                _ => &mut mine,
            };
            into.finds.push(*defect);
        }
        for defect in &entry.clears {
            for of in cleared_on(store, *defect, (&unit, &place))? {
                let into = if of == unit.rec {
                    &mut mine
                } else {
                    &mut theirs
                };
                into.clears.push(*defect);
            }
        }
        Ok(ordered(
            (unit, mine),
            (place, theirs),
            self.named_unit,
            &entry,
        ))
    }
}

/// The two parts without an empty one; the first has the note, and the id of
/// the whole.
fn ordered(
    unit: (Stored, Entry),
    place: (Stored, Entry),
    named_unit: bool,
    whole: &Entry,
) -> Vec<(Stored, Entry)> {
    let empty = |e: &Entry| e.readings.is_empty() && e.finds.is_empty() && e.clears.is_empty();
    let first_unit = match (empty(&unit.1), empty(&place.1)) {
        (true, true) => named_unit,
        (true, false) => false,
        _ => true,
    };
    let mut out = vec![unit, place];
    if !first_unit {
        out.reverse();
    }
    out[0].1.note.clone_from(&whole.note);
    if out[0].1.id != whole.id {
        let other = out[0].1.id;
        out[0].1.id = whole.id;
        out[1].1.id = other;
    }
    out.retain(|(_, e)| !empty(e) || e.note.is_some());
    out
}

fn bare(entry: &Entry, of: String) -> Entry {
    Entry {
        of,
        readings: std::collections::BTreeMap::new(),
        finds: Vec::new(),
        clears: Vec::new(),
        note: None,
        ..entry.clone()
    }
}

/// The records on which a defect stands, of the two; where it stands on
/// neither, the one that it follows.
fn cleared_on(
    store: &Store,
    defect: Defect,
    (unit, place): (&Stored, &Stored),
) -> Result<Vec<i64>, StoreError> {
    let mut out = Vec::new();
    for stored in [unit, place] {
        let open = defects_of(store, stored, subject_of(&stored.record))?;
        if open.iter().any(|o| o.defect == defect) {
            out.push(stored.rec);
        }
    }
    if out.is_empty() {
        out.push(match defect_row(defect).follows {
            Follows::Place => place.rec,
            _ => unit.rec,
        });
    }
    Ok(out)
}

/// Whether a stay takes in a day: the unit that is put in on a day has the
/// rest of it.
fn covers_day(d: &Deployment, on: Option<Date>) -> bool {
    let Some(on) = on else { return d.to.is_none() };
    d.from.is_none_or(|from| from <= on) && d.to.is_none_or(|to| on < to)
}

/// The unit at a position on the day, when the entry needs one or there is
/// only one.
fn unit_at(
    store: &Store,
    position: &Stored,
    p: &Position,
    slot: Option<&str>,
    (entry, form): (&Entry, &Form),
    notes: &mut Vec<String>,
) -> Result<Option<Stored>, Failure> {
    let mut here: Vec<(Option<String>, Stored)> = Vec::new();
    let mut ever = pointing_at(store, Rel::DeployedAt, position)?;
    for stored in pointing_at(store, Rel::WasAt, position)? {
        if !ever.iter().any(|s| s.rec == stored.rec) {
            ever.push(stored);
        }
    }
    for stored in ever {
        let Record::Unit(u) = &stored.record else {
            continue;
        };
        for d in u.deployments.iter().filter(|d| covers_day(d, entry.on)) {
            if !d.is_store() && means(store, &d.at, position.rec)? {
                here.push((d.slot.clone(), stored.clone()));
            }
        }
    }
    here.sort_by(|(a, _), (b, _)| a.cmp(b));
    if let Some(slot) = slot {
        here.retain(|(s, _)| {
            s.as_deref()
                .is_none_or(|s| covers(s, slot) || covers(slot, s))
        });
    }
    let needs = of_unit(entry, form);
    let day = entry.on.map_or("that day".to_string(), Date::spoken);
    let name = &p.position;
    match (here.len(), needs.is_empty(), slot) {
        (1, ..) => Ok(here.pop().map(|(_, unit)| unit)),
        (0, _, Some(slot)) => Err(Failure::usage(format!(
            "no unit is on record in slot {slot} of {name} on {day}; nothing was written"
        ))
        .hint("put the unit in first (swap), or name the position without a slot")),
        (0, false, None) => {
            if !by_elements(p) {
                notes.push(format!(
                    "no unit is on record at {name} on {day}: {} stays with the place until one is",
                    needs.join(", ")
                ));
            }
            Ok(None)
        }
        (0, true, None) => Ok(None),
        (_, true, _) => one_that_clears(store, &here, entry),
        (_, false, _) => Err(which(name, &needs, &here)),
    }
}

/// A cutout body with its link is no unit.
fn by_elements(p: &Position) -> bool {
    use crate::domain::asset::ElementKind;
    !p.elements.is_empty() && p.elements.iter().all(|e| e.element != ElementKind::Unit)
}

/// Of several units, the only one on which what the entry clears stands.
fn one_that_clears(
    store: &Store,
    here: &[(Option<String>, Stored)],
    entry: &Entry,
) -> Result<Option<Stored>, Failure> {
    let mut with = Vec::new();
    for (_, unit) in here {
        let open = defects_of(store, unit, subject_of(&unit.record))?;
        if open.iter().any(|o| entry.clears.contains(&o.defect)) {
            with.push(unit.clone());
        }
    }
    match with.len() {
        0 | 1 => Ok(with.pop()),
        _ => {
            let cleared: Vec<String> = entry.clears.iter().map(|d| d.word().to_string()).collect();
            Err(which(&entry.of, &cleared, here))
        }
    }
}

fn which(name: &str, needs: &[String], here: &[(Option<String>, Stored)]) -> Failure {
    let slots: Vec<String> = here
        .iter()
        .map(|(slot, unit)| {
            let slot = slot.as_deref().unwrap_or("no slot on record");
            format!("{slot} ({})", unit.record.name())
        })
        .collect();
    let first = here.iter().find_map(|(s, _)| s.clone());
    Failure::usage(format!(
        "{} belongs to one unit, and {name} has several: {}; nothing was written",
        needs.join(", "),
        slots.join(", ")
    ))
    .hint(format!(
        "name the slot, as {name}:{}, or the unit by its number",
        first.as_deref().unwrap_or("SLOT")
    ))
}

/// The position where a unit hung on a day; none where it was in a store or at
/// several.
fn place_of(store: &Store, u: &Unit, on: Option<Date>) -> Result<Option<Stored>, StoreError> {
    let at: Vec<String> = u
        .deployments
        .iter()
        .filter(|d| !d.is_store() && covers_day(d, on))
        .map(|d| d.at.clone())
        .collect();
    let mut found: Vec<Stored> = store
        .present(Kind::Position, &at)?
        .into_iter()
        .map(|(_, s)| s)
        .collect();
    found.dedup_by_key(|s| s.rec);
    Ok(if found.len() == 1 { found.pop() } else { None })
}

/// In words what went where, when it is not all where it was named.
pub(super) fn said(parts: &[(Stored, Entry)], named: &Stored, form: &Form) -> Vec<String> {
    let elsewhere = parts.iter().filter(|(s, _)| s.rec != named.rec);
    elsewhere
        .map(|(stored, e)| {
            let mut what: Vec<String> = e
                .readings
                .keys()
                .map(|k| form.reading(k).map_or(k.clone(), |r| r.label.clone()))
                .collect();
            what.extend(
                e.finds
                    .iter()
                    .chain(&e.clears)
                    .map(|d| d.word().to_string()),
            );
            what.dedup();
            let day =
                e.on.map_or(String::new(), |d| format!(" on {}", d.spoken()));
            let name = stored.record.name();
            match stored.record.kind() {
                Kind::Unit => format!(
                    "belongs to the unit {name}, in {}{day}, and is written there: {}",
                    named.record.name(),
                    what.join(", ")
                ),
                _ => format!(
                    "belongs to the place {name} and is written there: {}",
                    what.join(", ")
                ),
            }
        })
        .collect()
}

/// Whether an entry of this kind may be parted: what it is about is looked at.
pub(super) const fn parted(kind: EntryKind) -> bool {
    !matches!(kind, EntryKind::Note)
}
