//! What a check rests on, gathered from the register.

use std::collections::{BTreeMap, BTreeSet};

use super::section;
use crate::calendar::Date;
use crate::domain::asset::{
    Class, Conductor, Entry, Feeder, Kind, Notice, Position, Record, Rel, Source, Span, Unit,
};
use crate::domain::code::fold;
use crate::domain::finding::{Caution, Severity, Sighted};
use crate::domain::nameplate::{
    Connected, Facts, Of, OpenDefect, Reach, UnitHere, notice_reach, notice_stands, open_defects,
};
use crate::domain::network::Walk;
use crate::domain::upkeep::fused::{PutIn, as_put_in};
use crate::domain::upkeep::{Subject, implied};
use crate::store::{Store, StoreError, Stored};

/// Everything on record that a check of one position needs.
///
/// # Errors
/// Those of the register.
pub fn facts(store: &Store, position: &Stored, today: Date) -> Result<Option<Facts>, StoreError> {
    let Record::Position(p) = &position.record else {
        return Ok(None);
    };
    let units = units_here(store, position, p)?;
    let mut defects = Vec::new();
    let mut written = BTreeMap::new();
    let mut stops = Vec::new();
    let mut readings = super::conclude::capping(store, position)?;
    for (here, stored) in &units {
        defects.extend(defects_of(store, stored, Of::Unit(here.unit.unit.clone()))?);
        readings.extend(super::conclude::capping(store, stored)?);
        let entries = super::conclude::entries_of(store, stored)?.into_iter();
        let past = entries.filter(|(_, e)| e.on.is_none_or(|on| on <= today));
        let past: Vec<Entry> = past.map(|(_, e)| e).collect();
        written.insert(here.unit.unit.clone(), past);
    }
    defects.extend(defects_of(store, position, Of::Place(p.position.clone()))?);
    if let Some(structure) = structure_of(store, p)? {
        let name = structure.record.name();
        defects.extend(defects_of(store, &structure, Of::Place(name))?);
        stops = stops_of(store, &structure)?;
        readings.extend(super::conclude::capping(store, &structure)?);
    }
    let units: Vec<UnitHere> = units.into_iter().map(|(here, _)| here).collect();
    defects.extend(noticed(store, &units, today)?);
    let spans = spans_here(store, p)?;
    let conductors = conductors(store, p, &spans)?;
    let system = system(store, p)?;
    let (p, replaced) = as_fused(store, position, p)?;
    let p = &p;
    Ok(Some(Facts {
        stops,
        replaced,
        protecting: protecting(&section::walk(store, p)?.0),
        units,
        defects,
        readings,
        spans,
        conductors,
        nominal_kv_ll: system.kv_ll,
        grounding: system.grounding,
        x0_over_x1: system.x0_over_x1,
        written,
        ..Facts::of(p.clone())
    }))
}

/// The position with the links that entries say were put in.
fn as_fused(
    store: &Store,
    stored: &Stored,
    p: &Position,
) -> Result<(Position, Vec<PutIn>), StoreError> {
    let mut p = p.clone();
    if !p.elements.iter().chain(&p.bypass).any(|e| e.link.is_some()) {
        return Ok((p, Vec::new()));
    }
    let entries = super::conclude::entries_of(store, stored)?;
    let entries: Vec<&Entry> = entries.iter().map(|(_, e)| e).collect();
    let replaced = as_put_in(&mut p.elements, &entries);
    Ok((p, replaced))
}

/// Transformers energized through a position: its own units, else those of the
/// transformer positions beyond it on the line.
///
/// # Errors
/// Those of the register.
pub fn connected(store: &Store, facts: &Facts) -> Result<Connected, StoreError> {
    let p = &facts.position;
    let mut sum = PhaseKva::default();
    if p.class == Class::Transformer {
        for here in &facts.units {
            sum.add(&here.unit, here.slot.as_deref().or(p.phases.as_deref()));
        }
        return Ok(sum.connected("the transformer here".to_string()));
    }
    let walk = section::walk(store, p)?.0;
    let Some(beyond) = walk.beyond else {
        return Ok(Connected {
            phase_kva: None,
            origin: "what it feeds is not known".to_string(),
            doubt: None,
        });
    };
    let mut count = 0_usize;
    for (_, stored) in store.present(Kind::Position, &beyond.hangs)? {
        let Record::Position(other) = &stored.record else {
            continue;
        };
        if other.class != Class::Transformer {
            continue;
        }
        let units = units_here(store, &stored, other)?;
        count += 1;
        if units.is_empty() {
            sum.unread += 1;
        }
        for (here, _) in units {
            sum.add(&here.unit, here.slot.as_deref().or(other.phases.as_deref()));
        }
    }
    Ok(sum.connected(format!("{count} transformers beyond")))
}

/// kVA by phase; one of which the phase is not recorded counts on each.
#[derive(Default)]
struct PhaseKva {
    phases: [f64; 3],
    /// Transformers whose kVA nobody has read.
    unread: usize,
}

impl PhaseKva {
    fn add(&mut self, unit: &Unit, phases: Option<&str>) {
        let kva = unit.nameplate.stated("kva");
        if !kva.is_known() {
            self.unread += 1;
        }
        let Some(kva) = kva.as_number() else { return };
        let on: Vec<usize> = ["A", "B", "C"]
            .iter()
            .enumerate()
            .filter(|(_, p)| phases.is_none_or(|all| all.contains(**p)))
            .map(|(i, _)| i)
            .collect();
        let three = unit.nameplate.number("phases").is_some_and(|n| n > 2.0);
        let share = if three { kva / 3.0 } else { kva };
        for i in on {
            self.phases[i] += share;
        }
    }

    fn connected(self, origin: String) -> Connected {
        Connected {
            phase_kva: Some(self.phases.into_iter().fold(0.0, f64::max)),
            origin,
            doubt: (self.unread > 0)
                .then(|| format!("{} more of unread or assumed kVA add nothing", self.unread)),
        }
    }
}

/// Whether the name `text` means the record `rec`: no other record holds the
/// name with more right.
pub(super) fn means(store: &Store, text: &str, rec: i64) -> Result<bool, StoreError> {
    let hits = store.named(text)?;
    let Some(best) = hits.first() else {
        return Ok(false);
    };
    let right = (best.rank, best.text != text);
    Ok(hits
        .iter()
        .any(|h| h.rec == rec && (h.rank, h.text != text) == right))
}

/// The records of one kind that a name means, present holders first; only
/// those that are written so, when there are any.
fn meant<T>(
    store: &Store,
    text: &str,
    kind: Kind,
    take: impl Fn(Record) -> Option<T>,
) -> Result<Option<T>, StoreError> {
    for hit in store.named(text)? {
        let written_so = hit.text.eq_ignore_ascii_case(text.trim());
        if hit.kind == kind && written_so {
            let stored = store.by_row(hit.rec)?;
            return Ok(stored.and_then(|s| take(s.record)));
        }
    }
    Ok(None)
}

/// Records that point at `target` by any of its names.
///
/// # Errors
/// Those of the register.
pub fn pointing_at(store: &Store, rel: Rel, target: &Stored) -> Result<Vec<Stored>, StoreError> {
    let mut out: Vec<Stored> = Vec::new();
    let mut asked = BTreeSet::new();
    for name in target.record.names() {
        if asked.insert(fold(&name.text)) {
            for stored in store.pointing(rel, &name.text)? {
                if !out.iter().any(|o| o.rec == stored.rec) {
                    out.push(stored);
                }
            }
        }
    }
    Ok(out)
}

fn units_here(
    store: &Store,
    position: &Stored,
    p: &Position,
) -> Result<Vec<(UnitHere, Stored)>, StoreError> {
    let mut out = Vec::new();
    for stored in pointing_at(store, Rel::DeployedAt, position)? {
        let Record::Unit(unit) = &stored.record else {
            continue;
        };
        let mut slots = Vec::new();
        let mut also_at = None;
        for stay in unit.present() {
            if !stay.is_store() && means(store, &stay.at, position.rec)? {
                slots.push(stay.slot.clone());
            } else {
                also_at = Some(match &stay.slot {
                    Some(slot) => format!("{} {slot}", stay.at),
                    None => stay.at.clone(),
                });
            }
        }
        for slot in slots {
            let here = UnitHere {
                unit: unit.clone(),
                slot: slot.or_else(|| whole(p)),
                also_at: also_at.clone(),
            };
            out.push((here, stored.clone()));
        }
    }
    Ok(out)
}

/// The one slot of a position that has no more than one.
fn whole(p: &Position) -> Option<String> {
    let mut slots = p.slot_names();
    if slots.len() == 1 { slots.pop() } else { None }
}

pub(super) fn structure_of(store: &Store, p: &Position) -> Result<Option<Stored>, StoreError> {
    let Some(name) = &p.structure else {
        return Ok(None);
    };
    for hit in store.named(name)? {
        if hit.kind == Kind::Structure {
            return store.by_row(hit.rec);
        }
    }
    Ok(None)
}

/// STOPs that stand on a record by its readings and are no defect: on a
/// structure they hold for every device there.
///
/// # Errors
/// Those of the register.
pub(super) fn stops_of(store: &Store, stored: &Stored) -> Result<Vec<Caution>, StoreError> {
    let mut stops = super::conclude::standing(store, stored)?;
    stops.retain(|c| c.severity == Severity::Stop);
    Ok(stops)
}

/// Whose a defect is that is written against a record.
pub(super) fn subject_of(record: &Record) -> Of {
    match record {
        Record::Unit(u) => Of::Unit(u.unit.clone()),
        other => Of::Place(other.name()),
    }
}

/// Open defects written against one record.
pub(super) fn defects_of(
    store: &Store,
    about: &Stored,
    of: Of,
) -> Result<Vec<OpenDefect>, StoreError> {
    let mut entries = super::conclude::entries_of(store, about)?;
    if entries.is_empty() {
        return Ok(Vec::new());
    }
    // What the readings amount to counts as found, whether or not somebody
    // wrote it among the finds: an entry may come from elsewhere.
    let subject = Subject::of(&about.record, &super::conclude::limits(store)?);
    for (_, entry) in &mut entries {
        for defect in implied(&subject, entry) {
            if !entry.finds.contains(&defect) {
                entry.finds.push(defect);
            }
        }
    }
    let borrowed: Vec<(i64, &Entry)> = entries.iter().map(|(rec, e)| (*rec, e)).collect();
    Ok(open_defects(&borrowed)
        .into_iter()
        .map(|(defect, seen)| OpenDefect {
            defect,
            of: of.clone(),
            seen,
            notice: None,
        })
        .collect())
}

/// Notices that count as a defect of a unit here.
fn noticed(store: &Store, units: &[UnitHere], today: Date) -> Result<Vec<OpenDefect>, StoreError> {
    let mut out = Vec::new();
    for stored in store.all(Kind::Notice)? {
        let Record::Notice(notice) = stored.record else {
            continue;
        };
        let Some(defect) = notice.bears_like else {
            continue;
        };
        if !notice_stands(&notice, today) {
            continue;
        }
        for here in units {
            let may = match notice_reach(&notice.hits, &here.unit) {
                Reach::Misses => continue,
                Reach::MayHit(_) => ", which may hit it (plate unread),",
                Reach::Hits => "",
            };
            out.push(by_notice(&notice, defect, &here.unit, may));
        }
    }
    Ok(out)
}

/// A notice that may hit caps like one that does: unknown is never a pass.
fn by_notice(
    notice: &Notice,
    defect: crate::domain::asset::Defect,
    unit: &Unit,
    may: &str,
) -> OpenDefect {
    OpenDefect {
        defect,
        of: Of::Unit(unit.unit.clone()),
        seen: Sighted::once(notice.from),
        notice: Some(format!("{}{may}", notice.notice)),
    }
}

/// The span it stands in: between its structure and the neighbour toward its
/// normal load side, of its own feeder and terminal where that tells several
/// apart.
fn spans_here(store: &Store, p: &Position) -> Result<Vec<Span>, StoreError> {
    let (Some(at), Some(toward)) = (&p.structure, &p.toward) else {
        return Ok(Vec::new());
    };
    let mut spans = Vec::new();
    for (rel, here_is_from) in [(Rel::SpanFrom, true), (Rel::SpanTo, false)] {
        for stored in store.pointing(rel, at)? {
            if let Record::Span(span) = stored.record {
                let (here, there) = if here_is_from {
                    (&span.span.from, &span.span.to)
                } else {
                    (&span.span.to, &span.span.from)
                };
                if here == at && there == toward {
                    let terminal = if here_is_from {
                        span.from_terminal.clone()
                    } else {
                        span.to_terminal.clone()
                    };
                    spans.push((terminal, span));
                }
            }
        }
    }
    if p.feeder.is_some() && spans.iter().any(|(_, s)| s.feeder == p.feeder) {
        spans.retain(|(_, s)| s.feeder == p.feeder);
    }
    if p.terminal.is_some() && spans.iter().any(|(t, _)| *t == p.terminal) {
        spans.retain(|(t, _)| *t == p.terminal);
    }
    Ok(spans.into_iter().map(|(_, s)| s).collect())
}

fn conductors(
    store: &Store,
    p: &Position,
    spans: &[Span],
) -> Result<BTreeMap<String, Conductor>, StoreError> {
    let elements = p.elements.iter().chain(&p.bypass);
    let names: BTreeSet<&String> = elements
        .filter_map(|e| e.conductor.as_ref())
        .chain(spans.iter().filter_map(|s| s.span.conductor.as_ref()))
        .collect();
    let mut out = BTreeMap::new();
    for name in names {
        let found = meant(store, name, Kind::Conductor, |r| match r {
            Record::Conductor(c) => Some(c),
            _ => None,
        })?;
        if let Some(conductor) = found {
            out.insert(name.clone(), conductor);
        }
    }
    Ok(out)
}

#[derive(Default)]
pub(super) struct System {
    kv_ll: Option<f64>,
    grounding: Option<crate::domain::asset::Grounding>,
    pub x0_over_x1: Option<f64>,
}

/// Voltage and grounding of its feeder; of a tie, the highest voltage. When
/// one of a tie's feeders has no voltage on record, neither has the tie.
pub(super) fn system(store: &Store, p: &Position) -> Result<System, StoreError> {
    let names: BTreeSet<&String> = p.feeder.iter().chain(&p.ties).collect();
    let mut out = System::default();
    let mut voltages = Vec::new();
    for name in names {
        let feeder: Option<Feeder> = meant(store, name, Kind::Feeder, |r| match r {
            Record::Feeder(f) => Some(f),
            _ => None,
        })?;
        let source: Option<Source> = match feeder.as_ref().and_then(|f| f.source.as_ref()) {
            None => None,
            Some(source) => meant(store, source, Kind::Source, |r| match r {
                Record::Source(s) => Some(s),
                _ => None,
            })?,
        };
        let of_source = source.as_ref();
        let kv = feeder
            .as_ref()
            .and_then(|f| f.kv_ll)
            .or_else(|| of_source.and_then(|s| s.kv_ll));
        voltages.push(kv.map(crate::units::Kv::get));
        if Some(name) == p.feeder.as_ref() {
            out.grounding = feeder
                .as_ref()
                .and_then(|f| f.grounding)
                .or_else(|| of_source.and_then(|s| s.grounding));
            out.x0_over_x1 = of_source.and_then(|s| s.x0_over_x1).map(|x| x.get());
        }
    }
    let known: Option<Vec<f64>> = voltages.into_iter().collect();
    out.kv_ll = known.and_then(|v| v.into_iter().reduce(f64::max));
    Ok(out)
}

/// The nearest device toward the normal source that opens on a fault, as the
/// walk of the card and the trace has it. A nearer one that may open, of which
/// the record does not say, is named with it.
fn protecting(walk: &Walk) -> Option<String> {
    let device = walk.protecting.as_ref()?;
    let mut words = format!("{} {}", device.class, device.name);
    if !walk.perhaps_protecting.is_empty() {
        words.push_str(&format!(
            " (or {}, not said on record)",
            walk.perhaps_protecting.join(", ")
        ));
    }
    Some(words)
}
