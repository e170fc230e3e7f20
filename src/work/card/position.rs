//! The card of a position.

use super::super::facts::{self, structure_of};
use super::super::{Failure, section, trace};
use super::caution::{self, Around, study_words};
use super::{Card, Fact, SlotUnit, history, plate, radio};
use crate::calendar::{Clock, Date};
use crate::domain::asset::{
    Class, Deployment, ElementKind, FaultStudy, Kind, LoadStudy, Nameplate, Notice, Position,
    Record, State, Structure, Switchable,
};
use crate::domain::code::say;
use crate::domain::finding::{Caution, Question, Severity, Verdict};
use crate::domain::nameplate::{Choices, Facts, UnitHere, transformer_notes};
use crate::domain::network::{Phases, Walk};
use crate::store::{Store, Stored};
use crate::work::check::{self, Typed};

pub(super) fn fill(
    card: &mut Card,
    store: &Store,
    stored: &Stored,
    p: &Position,
    clock: Clock,
) -> Result<(), Failure> {
    let today = clock.today();
    let Some(mut facts) = facts::facts(store, stored, today)? else {
        return Ok(());
    };
    facts.units.sort_by(|a, b| a.slot.cmp(&b.slot));
    let structure = structure_of(store, p)?;
    let pole = structure.as_ref().and_then(of_structure);
    card.what = what(p, &facts.units);
    card.units = slot_units(p, &facts.units);
    card.place = pole.map(radio::place).unwrap_or_default();
    card.place.structure = p.structure.clone();
    card.place.feeder = p.feeder.clone();
    card.say = radio_line(p, &facts.units, pole);
    card.state = vec![state_line(p)];
    if let Some(note) = p.state.as_ref().and_then(|s| s.note.as_ref()) {
        card.state.push(note.clone());
    }
    card.gist = plate::gist(&facts.position, &facts.units);
    card.plates = facts
        .units
        .iter()
        .map(|u| plate::plate_card(&u.unit, u.slot.as_deref()))
        .collect();
    card.series = plate::elements(&p.elements, &facts.units, &facts.conductors);
    card.bypass = plate::elements(&p.bypass, &facts.units, &facts.conductors);
    card.settings = plate::settings(p);
    card.studies = studies(p);
    let (choices, _) = choices(store)?;
    let by_plate = transformer_notes(&facts, &choices).into_iter();
    card.studies
        .extend(by_plate.map(|text| Fact::new("by its plate", text)));
    card.note = p.note.clone();
    card.fed = trace::ways(store, stored)?;
    written(card, store, stored, &facts, today)?;
    let notices = notices(store)?;
    let nothing = Walk::unknown("not walked");
    card.cautions = caution::of_position(&Around {
        facts: &facts,
        walk: card.fed.first().map_or(&nothing, |f| &f.walk),
        structure: pole,
        notices: &notices,
        orders: &card.orders,
        settings: &card.settings,
        plates: &card.plates,
        readings: caution::readings_here(store, stored, &facts)?,
        now: clock.now(),
    });
    let failing = by_recorded_values(&card.cautions, store, &facts)?;
    card.cautions.extend(failing);
    Ok(())
}

/// Orders and history of the position and the units in it.
fn written(
    card: &mut Card,
    store: &Store,
    stored: &Stored,
    facts: &Facts,
    today: Date,
) -> Result<(), Failure> {
    let mut of = vec![stored.clone()];
    for here in &facts.units {
        of.extend(store.by_id(here.unit.id)?);
    }
    let mut wider = of.clone();
    wider.extend(structure_of(store, &facts.position)?);
    card.history = history::history(store, &of.iter().collect::<Vec<_>>())?;
    card.orders = history::orders(store, &wider.iter().collect::<Vec<_>>(), today)?;
    Ok(())
}

fn of_structure(stored: &Stored) -> Option<&Structure> {
    match &stored.record {
        Record::Structure(s) => Some(s),
        _ => None,
    }
}

pub(super) fn notices(store: &Store) -> Result<Vec<Notice>, Failure> {
    Ok(store
        .all(Kind::Notice)?
        .into_iter()
        .filter_map(|s| match s.record {
            Record::Notice(n) => Some(n),
            _ => None,
        })
        .collect())
}

/// The utility's choices, and which of them could not be taken.
pub(super) fn choices(store: &Store) -> Result<(Choices, Vec<String>), Failure> {
    let map = store.utility()?.map(|u| u.choices).unwrap_or_default();
    Ok(Choices::from_map(&map))
}

/// What the check says by recorded values, beyond the interrupting rating.
fn by_recorded_values(
    cautions: &[Caution],
    store: &Store,
    facts: &Facts,
) -> Result<Option<Caution>, Failure> {
    if !facts.position.class.in_series() {
        return Ok(None);
    }
    let (choices, _) = choices(store)?;
    let report = check::report(facts, &Typed::default(), &choices, Vec::new());
    let said = |q: Question| {
        q == Question::Break
            && cautions
                .iter()
                .any(|c| c.severity == Severity::Stop && c.text.contains("fault here"))
    };
    let mut failing: Vec<&str> = report
        .findings
        .iter()
        .filter(|f| f.verdict == Verdict::Fails && !said(f.question))
        .map(|f| f.question.word())
        .collect();
    failing.sort_unstable();
    failing.dedup();
    Ok((!failing.is_empty()).then(|| {
        Caution::stop(
            format!(
                "by the values on record it fails: {}; the check says by how much",
                failing.join(", ")
            ),
            &facts.position.position,
        )
    }))
}

/// `OIL RECLOSER, three-phase`.
fn what(p: &Position, units: &[UnitHere]) -> String {
    let class = class_of(p, units).to_uppercase();
    let mut out = vec![class];
    out.extend(fuse_words(p));
    if let [a, b] = p.ties.as_slice() {
        out.push(format!("tie {a} to {b}"));
    }
    if crate::domain::network::normally_open(p) {
        out.push("normally open".to_string());
    }
    out.push(phase_words(p, units));
    out.join(", ")
}

pub(super) fn class_of(p: &Position, units: &[UnitHere]) -> String {
    let plates: Vec<&Nameplate> = units.iter().map(|u| &u.unit.nameplate).collect();
    plate::class_words(p.class, &plates)
}

/// What a cutout holds.
fn fuse_words(p: &Position) -> Option<String> {
    if p.class != Class::Cutout {
        return None;
    }
    let has = |kind: ElementKind| p.elements.iter().any(|e| e.element == kind);
    Some(
        match (has(ElementKind::Link), has(ElementKind::Blade)) {
            (true, false) => "with link",
            (false, true) => "with solid blade",
            (true, true) => "with link and blade",
            (false, false) => "link or blade not recorded",
        }
        .to_string(),
    )
}

fn phase_words(p: &Position, units: &[UnitHere]) -> String {
    let single = units.len() > 1
        && units.iter().all(|u| {
            u.slot
                .as_deref()
                .is_some_and(|s| Phases::named(s).count() == 1)
        });
    if single {
        return format!("{} single-phase units", number_word(units.len()));
    }
    let recorded = p.phases.as_deref().unwrap_or("");
    match Phases::named(recorded).count() {
        3 => "three-phase".to_string(),
        2 => format!("two-phase {recorded}"),
        1 => format!("single-phase {recorded}"),
        _ => "phases not recorded".to_string(),
    }
}

fn number_word(n: usize) -> String {
    match n {
        2 => "two".to_string(),
        3 => "three".to_string(),
        n => n.to_string(),
    }
}

/// Every slot with its unit; a slot without one says so.
fn slot_units(p: &Position, units: &[UnitHere]) -> Vec<SlotUnit> {
    let mut out: Vec<SlotUnit> = units
        .iter()
        .map(|u| SlotUnit {
            slot: u.slot.clone(),
            unit: Some(u.unit.unit.clone()),
            since: since(u, p),
        })
        .collect();
    let by_elements = !p.elements.is_empty()
        && !p.elements.iter().any(|e| e.element == ElementKind::Unit)
        && units.is_empty();
    if by_elements {
        return out;
    }
    for slot in p.slot_names() {
        let filled = |u: &SlotUnit| {
            u.slot
                .as_ref()
                .is_none_or(|s| *s == slot || !Phases::named(s).and(Phases::named(&slot)).is_none())
        };
        if !out.iter().any(filled) {
            out.push(SlotUnit {
                slot: Some(slot),
                unit: None,
                since: None,
            });
        }
    }
    out.sort_by(|a, b| a.slot.cmp(&b.slot));
    out
}

fn since(u: &UnitHere, p: &Position) -> Option<Date> {
    let here = |d: &&Deployment| {
        crate::domain::code::fold(&d.at) == crate::domain::code::fold(&p.position)
    };
    u.unit.present().find(here).and_then(|d| d.from)
}

fn radio_line(p: &Position, units: &[UnitHere], pole: Option<&Structure>) -> String {
    let at = match (pole, &p.structure) {
        (Some(s), _) => radio::structure(s),
        (None, Some(name)) => format!("at {}, not in the register", say(name)),
        (None, None) => "structure not recorded".to_string(),
    };
    format!("{}, {}; {at}", class_of(p, units), say(&p.position))
}

/// `state recorded 3 Oct 2026 14:10 by hb: closed; no tag recorded here. Ask
/// control`.
fn state_line(p: &Position) -> String {
    let Some(state) = &p.state else {
        return format!("state: none on record; {}. Ask control", tags(p, None));
    };
    let by = state
        .by
        .as_ref()
        .map_or(String::new(), |b| format!(" by {b}"));
    format!(
        "state recorded {}{by}: {}; {}. Ask control",
        state.at.spoken(),
        state.stands,
        tags(p, Some(state))
    )
}

fn tags(p: &Position, state: Option<&State>) -> String {
    let mut out = Vec::new();
    if let Some(s) = state {
        if s.hot_line_tag == Some(Switchable::On) {
            out.push("hot-line tag on".to_string());
        }
        if s.reclosing == Some(Switchable::Off) {
            out.push("reclosing off".to_string());
        }
        if s.ground_trip == Some(Switchable::Off) {
            out.push("ground trip blocked".to_string());
        }
    }
    match p.holds.len() {
        0 => {}
        1 => out.push("1 hold".to_string()),
        n => out.push(format!("{n} holds")),
    }
    if out.is_empty() {
        "no tag recorded here".to_string()
    } else {
        out.join(", ")
    }
}

fn studies(p: &Position) -> Vec<Fact> {
    let mut out = Vec::new();
    let fault = |s: &FaultStudy| {
        let xr = match s.x_over_r {
            Some(x) => format!("X/R {x}"),
            None => "X/R not known".to_string(),
        };
        let source = s.source.as_deref().unwrap_or("source not recorded");
        let date = s.date.map_or(study_words(s), |d| d.spoken());
        format!("{}, {}, {xr}; {source}, {date}", s.amps, s.kind)
    };
    let load = |s: &LoadStudy| {
        let source = s.source.as_deref().unwrap_or("source not recorded");
        let date = s.date.map_or("undated".to_string(), |d| d.spoken());
        format!("{}; {source}, {date}", s.amps)
    };
    let none = || "none on record".to_string();
    if p.class.in_series() || p.available_fault.is_some() {
        out.push(Fact::new(
            "available fault",
            p.available_fault.as_ref().map_or_else(none, fault),
        ));
        out.push(Fact::new(
            "minimum fault",
            p.minimum_fault.as_ref().map_or_else(none, fault),
        ));
        out.push(Fact::new(
            "peak load",
            p.peak_load.as_ref().map_or_else(none, load),
        ));
    }
    if let Some(c) = &p.customers {
        let critical = if c.critical.is_empty() {
            String::new()
        } else {
            format!("; critical: {}", c.critical.join(", "))
        };
        out.push(Fact::new("customers", format!("{}{critical}", c.count)));
    }
    if !p.ties.is_empty() {
        out.push(Fact::new("ties", p.ties.join(" and ")));
    }
    out
}

/// A position as the card of its structure tells of it.
pub(super) struct InShort {
    pub fact: Fact,
    /// Its STOP cautions, each with its name.
    pub stops: Vec<Caution>,
    /// It and its units: whose orders are of interest at the structure.
    pub of: Vec<Stored>,
}

/// What stands there in a line: class, units, feeder, state on record.
fn heading(p: &Position, facts: &Facts) -> Fact {
    let names: Vec<String> = facts
        .units
        .iter()
        .map(|u| match &u.slot {
            Some(slot) if facts.units.len() > 1 => format!("{} ({slot})", u.unit.unit),
            _ => u.unit.unit.clone(),
        })
        .collect();
    let mut text = vec![what(p, &facts.units)];
    if !names.is_empty() {
        text.push(format!("unit {}", names.join(", ")));
    }
    text.extend(p.feeder.clone());
    text.push(state_line(p).replace(". Ask control", ""));
    Fact::new(&p.position, text.join("; "))
}

/// A position in short, for the card of its structure.
pub(super) fn in_short(
    store: &Store,
    stored: &Stored,
    p: &Position,
    notices: &[Notice],
    clock: Clock,
) -> Result<InShort, Failure> {
    let mut of = vec![stored.clone()];
    let Some(facts) = facts::facts(store, stored, clock.today())? else {
        return Ok(InShort {
            fact: Fact::new(&p.position, p.class.word()),
            stops: Vec::new(),
            of,
        });
    };
    // Only a bypassed device needs its line walked here: what clears for it.
    let walk = if facts.bypassed().is_some() {
        section::walk(store, p)?.0
    } else {
        Walk::unknown("not walked")
    };
    for here in &facts.units {
        of.extend(store.by_id(here.unit.id)?);
    }
    let orders = history::orders(store, &of.iter().collect::<Vec<_>>(), clock.today())?;
    let mut cautions = caution::of_position(&Around {
        facts: &facts,
        walk: &walk,
        structure: None,
        notices,
        orders: &orders,
        settings: &[],
        plates: &[],
        readings: caution::readings_here(store, stored, &facts)?,
        now: clock.now(),
    });
    let failing = by_recorded_values(&cautions, store, &facts)?;
    cautions.extend(failing);
    let stops = cautions
        .into_iter()
        .filter(|c| c.severity == Severity::Stop)
        .map(|c| Caution {
            text: format!("{}: {}", p.position, c.text),
            about: p.position.clone(),
            ..c
        })
        .collect();
    Ok(InShort {
        fact: heading(p, &facts),
        stops,
        of,
    })
}
