//! The cautions of a position, in the order in which a tired person needs
//! them. Each is a function of the record; none says what to do beyond "ask"
//! and "do not".

use super::super::conclude::standing;
use super::plate::printed;
use super::{OrderLine, PlateCard, SettingLine};
use super::{line, unread};
use crate::calendar::{Date, Moment};
use crate::domain::asset::{
    Class, Defect, Element, ElementKind, FaultStudy, Notice, Position, Standing, Stands, State,
    Stated, Structure, Switchable, Unit,
};
use crate::domain::finding::{
    CAPACITOR_CHARGE, Caution, REGULATOR_BYPASS, Severity, defect_caution, defect_row,
};
use crate::domain::nameplate::{
    Facts, Of, OpenDefect, Reach, UnitHere, misfit::misfit_cautions, notice_reach, notice_stands,
};
use crate::domain::network::{Walk, stands_otherwise};
use crate::store::{Store, StoreError, Stored};

/// Everything that the cautions of a position rest on.
pub(super) struct Around<'a> {
    pub facts: &'a Facts,
    pub walk: &'a Walk,
    pub structure: Option<&'a Structure>,
    pub notices: &'a [Notice],
    pub orders: &'a [OrderLine],
    pub settings: &'a [SettingLine],
    pub plates: &'a [PlateCard],
    /// From readings that are no defect.
    pub readings: Vec<Caution>,
    pub now: Moment,
}

/// What stands first on every card of a class, of the position and of the unit.
pub(super) fn of_class(class: Class, of: &str) -> Vec<Caution> {
    let text = match class {
        Class::Regulator => REGULATOR_BYPASS,
        Class::Capacitor => CAPACITOR_CHARGE,
        _ => return Vec::new(),
    };
    vec![Caution::stop(text, of)]
}

/// The cautions of a position, STOP before LOOK.
pub(super) fn of_position(a: &Around<'_>) -> Vec<Caution> {
    let p = &a.facts.position;
    let mut out = of_class(p.class, &p.position);
    for here in &a.facts.units {
        out.extend(notices(a.notices, &here.unit, a.now.date()));
    }
    out.extend(state_cautions(p, a.walk));
    out.extend(misfit_cautions(a.facts));
    out.extend(whose_unit(a.facts));
    out.extend(interrupting(a.facts));
    let links = a.facts.replaced.iter();
    out.extend(links.map(|r| Caution::look(r.sentence(), &p.position)));
    out.extend(defects(&a.facts.defects, a.orders));
    out.extend(a.readings.iter().chain(&a.facts.stops).cloned());
    out.extend(holds(p, a.now));
    out.extend(line::line(p, a.walk, a.structure.is_some()));
    out.extend(place(p, a.structure));
    out.extend(unread::unread(a.plates, &p.position));
    out.extend(found_otherwise(p, a.settings));
    out.sort_by_key(|c| c.severity);
    out
}

/// Hazard bulletins that hit a unit, or may hit it: the plate that would tell
/// is unread.
pub(super) fn notices(notices: &[Notice], unit: &Unit, today: Date) -> Vec<Caution> {
    notices
        .iter()
        .filter(|n| notice_stands(n, today))
        .filter_map(|n| match notice_reach(&n.hits, unit) {
            Reach::Misses => None,
            Reach::Hits => Some(notice(n, "", &unit.unit)),
            Reach::MayHit(unread) => {
                let may = format!(" may hit it, plate unread ({})", unread.join(", "));
                Some(notice(n, &may, &unit.unit))
            }
        })
        .collect()
}

/// Readings of a position and the units in it that are no defect and that
/// nothing later has put right.
pub(super) fn readings_here(
    store: &Store,
    stored: &Stored,
    facts: &Facts,
) -> Result<Vec<Caution>, StoreError> {
    let mut of = vec![stored.clone()];
    for here in &facts.units {
        of.extend(store.by_id(here.unit.id)?);
    }
    readings(store, &of.iter().collect::<Vec<_>>())
}

/// The same of some records.
pub(super) fn readings(store: &Store, of: &[&Stored]) -> Result<Vec<Caution>, StoreError> {
    let mut out = Vec::new();
    for stored in of {
        out.extend(standing(store, stored)?);
    }
    Ok(out)
}

fn notice(n: &Notice, may: &str, about: &str) -> Caution {
    let severity = n
        .bears_like
        .map_or(Severity::Stop, |d| defect_row(d).severity);
    let mut text = format!("notice {}{may}: {}", n.notice, n.text);
    if let Some(defect) = n.bears_like {
        text.push_str(&format!(
            ". Counts as {defect}: {}",
            defect_row(defect).advice
        ));
    }
    Caution {
        severity,
        text,
        about: about.to_string(),
    }
}

/// Open defects, each with the open orders that speak of it.
pub(super) fn defects(open: &[OpenDefect], orders: &[OrderLine]) -> Vec<Caution> {
    open.iter()
        .filter(|o| o.notice.is_none())
        .map(|o| {
            let about = match &o.of {
                Of::Unit(name) | Of::Place(name) => name,
            };
            let mut caution = defect_caution(o.defect, o.seen, about);
            for order in orders.iter().filter(|l| speaks_of(&l.need, o.defect)) {
                caution
                    .text
                    .push_str(&format!(". Order {} {}", order.order, order.state));
            }
            caution
        })
        .collect()
}

/// Whether an order's need shares a word with a defect.
fn speaks_of(need: &str, defect: Defect) -> bool {
    let need = need.to_lowercase();
    let said: Vec<&str> = need.split(|c: char| !c.is_alphanumeric()).collect();
    defect
        .word()
        .split(' ')
        .filter(|w| w.len() >= 3 && !["used", "failed", "damaged"].contains(w))
        .any(|w| said.contains(&w))
}

fn state_cautions(p: &Position, walk: &Walk) -> Vec<Caution> {
    let Some(state) = &p.state else {
        return Vec::new();
    };
    let mut out = Vec::new();
    let when = recorded(state);
    match state.stands {
        Stands::Bypassed => out.push(Caution::stop(
            format!(
                "BYPASSED, {when}: it interrupts nothing. {}. Ask control",
                line::what_protects(walk)
            ),
            &p.position,
        )),
        Stands::Grounded => out.push(Caution::stop(
            format!("temporary ground {when}. Nothing here says that it is off. Ask control"),
            &p.position,
        )),
        _ => out.extend(
            stands_otherwise(p).map(|t| Caution::look(format!("{t}. Ask control"), &p.position)),
        ),
    }
    let on = |s: Option<Switchable>, want: Switchable| s == Some(want);
    if on(state.hot_line_tag, Switchable::On) {
        out.push(Caution::stop(
            format!(
                "hot-line tag on, {when}: a hold-off, not a clearance; the line stays energized. Ask control"
            ),
            &p.position,
        ));
    }
    if on(state.reclosing, Switchable::Off) {
        out.push(Caution::look(
            format!("reclosing off, {when}. Ask control"),
            &p.position,
        ));
    }
    if on(state.ground_trip, Switchable::Off) {
        out.push(Caution::look(
            format!("ground trip blocked, {when}: do not count on it for a fault to ground"),
            &p.position,
        ));
    }
    out
}

fn recorded(state: &State) -> String {
    let by = state
        .by
        .as_ref()
        .map_or(String::new(), |b| format!(" by {b}"));
    format!("recorded {}{by}", state.at.spoken())
}

/// Units at two places, two in one slot, none where one belongs.
fn whose_unit(facts: &Facts) -> Vec<Caution> {
    let p = &facts.position;
    let mut out = Vec::new();
    for here in &facts.units {
        if let Some(place) = &here.also_at {
            out.push(Caution::stop(
                format!(
                    "unit {} is recorded here and at {place}: this plate may not be the one that hangs here; read it",
                    here.unit.unit
                ),
                &here.unit.unit,
            ));
        }
    }
    for (i, a) in facts.units.iter().enumerate() {
        for b in &facts.units[i + 1..] {
            if a.unit.id != b.unit.id && overlap(a, b) {
                out.push(Caution::stop(
                    format!(
                        "units {} and {} are both recorded in slot {}: which plate hangs here is not known; read it",
                        a.unit.unit,
                        b.unit.unit,
                        a.slot.as_deref().unwrap_or("not recorded"),
                    ),
                    &p.position,
                ));
            }
        }
    }
    if facts.units.is_empty() && expects_unit(p) {
        out.push(Caution::look(
            "no unit is on record here: nothing is known of its plate",
            &p.position,
        ));
    }
    out
}

fn overlap(a: &UnitHere, b: &UnitHere) -> bool {
    match (&a.slot, &b.slot) {
        (Some(a), Some(b)) => a == b,
        _ => true,
    }
}

/// A position made of elements alone (a cutout body with its link) needs none.
fn expects_unit(p: &Position) -> bool {
    p.elements.is_empty() || p.elements.iter().any(|e| e.element == ElementKind::Unit)
}

/// The recorded fault against every interrupting rating here.
fn interrupting(facts: &Facts) -> Vec<Caution> {
    let p = &facts.position;
    let Some(study) = &p.available_fault else {
        return Vec::new();
    };
    let mut out = Vec::new();
    let several = facts.units.len() > 1;
    for here in &facts.units {
        if !matches!(
            here.unit.class,
            Class::Recloser | Class::Breaker | Class::Cutout
        ) {
            continue;
        }
        let rating = here.unit.nameplate.stated("interrupting_amps");
        let slot = match (&here.slot, several) {
            (Some(slot), true) => format!("slot {slot}: "),
            _ => String::new(),
        };
        out.extend(against(study, &rating, &slot, &here.unit.unit));
    }
    for (elements, before) in [(&p.elements, ""), (&p.bypass, "on the bypass: ")] {
        for e in elements {
            if let Some(rating) = element_rating(e) {
                let slot = e
                    .slot
                    .as_ref()
                    .map_or(String::new(), |s| format!("slot {s}: "));
                let name = e.label.as_deref().unwrap_or(e.element.word());
                out.extend(against(
                    study,
                    &rating,
                    &format!("{before}{slot}{name}: "),
                    &p.position,
                ));
            }
        }
    }
    out
}

fn element_rating(e: &Element) -> Option<Stated> {
    match (e.element, &e.interrupting_amps) {
        (_, Some(rating)) => Some(rating.clone()),
        (ElementKind::Cutout, None) if e.amps.is_none() => Some(Stated::unknown()),
        _ => None,
    }
}

/// `fault here 4,310 A (study 2025), rating 4,000 A assumed, plate unread`.
fn against(study: &FaultStudy, rating: &Stated, before: &str, about: &str) -> Option<Caution> {
    let fault = study.amps.get();
    let here = format!("{before}fault here {} ({})", study.amps, study_words(study));
    let Some(limit) = rating.as_number() else {
        return Some(Caution::look(
            format!("{here}, interrupting rating unread: it is not known whether it breaks it"),
            about,
        ));
    };
    if fault < limit {
        return None;
    }
    let read = match rating.standing {
        Standing::Assumed => ", plate unread",
        _ => "",
    };
    let equal = if (fault - limit).abs() < f64::EPSILON {
        " and leaves no margin"
    } else {
        ""
    };
    Some(Caution::stop(
        format!("{here}, rating {}{read}{equal}", printed(rating, "A")),
        about,
    ))
}

pub(super) fn study_words(study: &FaultStudy) -> String {
    match (study.date, &study.source) {
        (Some(date), _) => format!("study {}", date.year()),
        (None, Some(source)) => format!("{source}, undated"),
        (None, None) => "study undated".to_string(),
    }
}

/// Holds on record. The clock ends none: only a release does.
fn holds(p: &Position, now: Moment) -> Vec<Caution> {
    p.holds
        .iter()
        .map(|h| {
            let over = h.until.is_some_and(|u| u < now);
            let until = match h.until {
                Some(u) => format!("until {}", u.spoken()),
                None => "no end recorded".to_string(),
            };
            let text = format!(
                "hold recorded: {}, {}, from {}, {until}",
                h.holder,
                h.purpose,
                h.from.spoken()
            );
            let over = if over {
                "; its time is over, and nothing says that it was given up"
            } else {
                ""
            };
            Caution::stop(format!("{text}{over}. Ask control"), &p.position)
        })
        .collect()
}

/// What the place itself warns of.
pub(super) fn hazards(s: &Structure) -> Vec<Caution> {
    s.hazards
        .iter()
        .map(|h| {
            let note = h.note.as_ref().map_or(String::new(), |n| format!(": {n}"));
            let seen = h
                .seen
                .map_or(String::new(), |d| format!(" (seen {})", d.spoken()));
            Caution::look(
                format!("at the place, {}{note}{seen}", h.what),
                &s.structure,
            )
        })
        .collect()
}

fn place(p: &Position, structure: Option<&Structure>) -> Vec<Caution> {
    match (structure, &p.structure) {
        (Some(s), _) => hazards(s),
        (None, Some(name)) => vec![Caution::look(
            format!("it is recorded at {name}, and no such structure is in the register"),
            &p.position,
        )],
        (None, None) => vec![Caution::look(
            "the structure it hangs on is not recorded",
            &p.position,
        )],
    }
}

fn found_otherwise(p: &Position, settings: &[SettingLine]) -> Vec<Caution> {
    settings
        .iter()
        .filter(|s| s.differs)
        .map(|s| {
            Caution::look(
                format!(
                    "{}: issued {}, found {}",
                    s.label,
                    s.issued,
                    s.found.as_deref().unwrap_or("not on record")
                ),
                &p.position,
            )
        })
        .collect()
}
