//! Times: how long each device on the way takes at a fault current, and
//! whether the one on the load side clears first.

mod draw;

use std::collections::BTreeSet;

use serde::Serialize;
use serde_json::{Map, Value};

use super::check::position_called;
use super::{Failure, JSON_VERSION, Resolved, facts, section};
use crate::calendar::Date;
use crate::domain::asset::{Class, FaultKind, Kind, Position, Record};
use crate::domain::finding::{SAFETY, Verdict};
use crate::domain::nameplate::{Choices, ends};
use crate::domain::network::Device;
use crate::domain::pairs::{End, Pair, PairFinding, Role, link_clears, link_melts};
use crate::domain::sequence::Sequence;
use crate::store::{Store, StoreError, Stored};
use crate::units::Amps;

/// The most devices beyond of which times are worked out.
const MOST_BEYOND: usize = 12;
/// By what the times of a link are worked out.
const MELTING_SAID: &str = "melting table, interpolated";

/// Where a device stands, seen from the one asked about.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Side {
    TowardSource,
    This,
    NextBeyond,
}

/// One time of a device.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct TimeRow {
    pub what: String,
    /// Absent: unknown.
    pub least_s: Option<f64>,
    pub greatest_s: Option<f64>,
    /// By what it was worked out, or why it is unknown.
    pub why: String,
}

/// The times of one device.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct DeviceTimes {
    pub name: String,
    pub class: Class,
    pub side: Side,
    /// At which its times stand.
    pub fault_amps: Option<f64>,
    pub rows: Vec<TimeRow>,
    pub doubts: Vec<String>,
}

/// A curve for a plot: amperes and seconds by rising current.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Drawn {
    pub name: String,
    pub points: Vec<[f64; 2]>,
}

/// The answer; its JSON is the document printed.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct TimesReport {
    pub polecard: u32,
    pub id: String,
    pub name: String,
    pub class: Class,
    pub fault_amps: Option<f64>,
    pub fault_origin: String,
    /// As typed or recorded; none when neither says.
    pub fault_kind: Option<FaultKind>,
    pub min_fault_amps: Option<f64>,
    /// The worst of the pairs; unknown when there is none.
    pub verdict: Verdict,
    /// From the source.
    pub devices: Vec<DeviceTimes>,
    /// Worst first.
    pub pairs: Vec<PairFinding>,
    pub curves: Vec<Drawn>,
    pub notes: Vec<String>,
    pub safety: &'static str,
}

/// What was typed.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Typed {
    pub fault: Option<Amps>,
    /// Of `fault`; without one, of the recorded study.
    pub kind: Option<FaultKind>,
    pub min_fault: Option<Amps>,
}

struct Here {
    position: Position,
    side: Side,
    ends: Vec<End>,
}

/// Times along the way through the position called `text`.
///
/// # Errors
/// Not found, or several where one is needed; those of the register.
pub fn times(store: &Store, text: &str, typed: Typed, today: Date) -> Result<TimesReport, Failure> {
    let Resolved { stored, note } = position_called(store, text)?;
    times_of(store, &stored, typed, (today, note))
}

/// The same along the way through a position that was found already; a note is
/// printed with the rest.
///
/// # Errors
/// When the record is no position; those of the register.
pub fn times_of(
    store: &Store,
    stored: &Stored,
    typed: Typed,
    (today, note): (Date, Option<String>),
) -> Result<TimesReport, Failure> {
    let Record::Position(p) = &stored.record else {
        return Err(Failure::not_found(format!(
            "{} is no position",
            stored.record.name()
        )));
    };
    let mut notes: Vec<String> = note.into_iter().collect();
    let map = store.utility()?.map(|u| u.choices).unwrap_or_default();
    let (choices, said) = Choices::from_map(&map);
    notes.extend(said);
    let all = gather(store, stored, p, (&choices, today), &mut notes)?;
    let (fault_amps, fault_origin) = fault(p, typed.fault);
    let fault_kind = kind_of(p, typed);
    if fault_amps.is_some() && fault_kind.is_none() {
        notes.push("the kind of the fault is not said: judged by phase curves; on a fault to ground (--fault-kind line-ground) a ground element may clear sooner".to_string());
    }
    let min_fault_amps = typed
        .min_fault
        .or(p.minimum_fault.as_ref().map(|s| s.amps))
        .map(Amps::get);
    let mut pairs = pairs(&all, typed, &choices);
    pairs.sort_by_key(|f| std::cmp::Reverse(f.verdict));
    notes.push("times of links are interpolated between the three points of the melting table, which is from memory, unconfirmed".to_string());
    Ok(TimesReport {
        polecard: JSON_VERSION,
        id: p.id.to_string(),
        name: p.position.clone(),
        class: p.class,
        fault_amps,
        fault_origin,
        fault_kind,
        min_fault_amps,
        verdict: if pairs.is_empty() {
            Verdict::Unknown
        } else {
            Verdict::worst(pairs.iter().map(|f| f.verdict))
        },
        devices: all
            .iter()
            .filter(|h| h.side == Side::This || clears(h.position.class))
            .flat_map(|h| device(h, fault_amps, fault_kind))
            .collect(),
        curves: all.iter().flat_map(draw::drawn).collect(),
        pairs,
        notes,
        safety: SAFETY,
    })
}

fn fault(p: &Position, typed: Option<Amps>) -> (Option<f64>, String) {
    match (typed, &p.available_fault) {
        (Some(amps), _) => (Some(amps.get()), "typed".to_string()),
        (None, Some(study)) => (
            Some(study.amps.get()),
            match study.date {
                Some(on) => format!("study of {}", on.spoken()),
                None => "recorded, day not known".to_string(),
            },
        ),
        (None, None) => (None, "neither recorded nor typed".to_string()),
    }
}

/// The kind of the greatest fault; one that is recorded as unknown is none.
fn kind_of(p: &Position, typed: Typed) -> Option<FaultKind> {
    let recorded = || p.available_fault.as_ref().map(|s| s.kind);
    let kind = match typed.fault {
        Some(_) => typed.kind,
        None => typed.kind.or_else(recorded),
    };
    kind.filter(|k| *k != FaultKind::Unknown)
}

/// The device as it clears a fault of that kind.
fn on_kind(end: &End, kind: Option<FaultKind>) -> End {
    match kind {
        Some(FaultKind::LineGround) => end.to_ground(true),
        Some(FaultKind::DoubleLineGround) => end.to_ground(false),
        _ => end.clone(),
    }
}

/// Devices on the way from the source, this one, and the next ones beyond.
fn gather(
    store: &Store,
    stored: &Stored,
    p: &Position,
    rest: (&Choices, Date),
    notes: &mut Vec<String>,
) -> Result<Vec<Here>, Failure> {
    let (walk, net) = section::walk(store, p)?;
    notes.extend(
        walk.no_source
            .iter()
            .map(|w| format!("the way from the source is not known: {w}")),
    );
    notes.extend(walk.beyond_unknown.clone());
    let supplied = supplied(store)?;
    let here = |stored: &Stored, side| -> Result<Option<Here>, Failure> {
        let Some(facts) = facts::facts(store, stored, rest.1)? else {
            return Ok(None);
        };
        Ok(Some(Here {
            ends: ends(&facts, rest.0, &supplied),
            position: facts.position,
            side,
        }))
    };
    let named = |name: &str| -> Result<Option<Stored>, Failure> {
        let found = store.present(Kind::Position, &[name.to_string()])?;
        Ok(found.into_iter().next().map(|(_, s)| s))
    };
    let mut out = Vec::new();
    for device in &walk.path {
        if let Some(s) = named(&device.name)? {
            out.extend(here(&s, Side::TowardSource)?);
        }
    }
    out.extend(here(stored, Side::This)?);
    let beyond = walk.beyond.map(|b| b.devices).unwrap_or_default();
    let mut next: Vec<&Device> = beyond.iter().filter(|d| clears(d.class)).collect();
    if let Some(net) = &net {
        let others: BTreeSet<&str> = next.iter().map(|d| d.name.as_str()).collect();
        let first = |d: &Device| {
            let way = net.walk(&d.name).path;
            let after = way.iter().skip_while(|w| w.name != p.position).skip(1);
            let mut after = after.filter(|w| w.name != d.name);
            !after.any(|w| others.contains(w.name.as_str()))
        };
        let keep: Vec<bool> = next.iter().map(|d| first(d)).collect();
        let mut keep = keep.iter();
        next.retain(|_| *keep.next().unwrap_or(&true));
    }
    if next.len() > MOST_BEYOND {
        notes.push(format!(
            "{} devices stand next beyond; the first {MOST_BEYOND} are judged, the others are not: ask about them by name",
            next.len()
        ));
    }
    for device in next.into_iter().take(MOST_BEYOND) {
        if let Some(s) = named(&device.name)? {
            out.extend(here(&s, Side::NextBeyond)?);
        }
    }
    Ok(out)
}

/// Curves that the utility supplies, by name.
type Curves = Vec<(String, Map<String, Value>)>;

fn supplied(store: &Store) -> Result<Curves, StoreError> {
    Ok(store
        .all(Kind::Curve)?
        .into_iter()
        .filter_map(|s| match s.record {
            Record::Curve(doc) => Some((doc.curve, doc.body)),
            _ => None,
        })
        .collect())
}

const fn clears(class: Class) -> bool {
    matches!(
        class,
        Class::Cutout | Class::Recloser | Class::Breaker | Class::Sectionalizer
    )
}

/// Each device with the nearest one toward the source that clears for it.
fn pairs(all: &[Here], typed: Typed, choices: &Choices) -> Vec<PairFinding> {
    let mut out = Vec::new();
    for (at, here) in all.iter().enumerate() {
        let way = || {
            all[..at]
                .iter()
                .rev()
                .filter(|h| h.side != Side::NextBeyond)
        };
        for end in &here.ends {
            let counts = matches!(end.role, Role::Counts { .. });
            if matches!(end.role, Role::Nothing(_)) {
                continue;
            }
            let mut between = (0, None);
            let mut backup: &[End] = &[];
            for other in way() {
                match other.ends.first().map(|e| &e.role) {
                    Some(Role::Counts { counts: n, .. }) => {
                        between = (between.0 + 1, between.1.or(*n));
                    }
                    Some(Role::Trips { .. }) => {
                        backup = &other.ends;
                        break;
                    }
                    Some(Role::Link(_)) if !counts => {
                        backup = &other.ends;
                        break;
                    }
                    _ => {}
                }
            }
            for source_side in backup {
                let pair = Pair {
                    load_side: end,
                    source_side,
                    between,
                    choices,
                    to_ground: false,
                };
                out.extend(judged(&pair, &here.position, typed));
            }
        }
    }
    out
}

/// At the greatest fault behind the load-side device, and at the least, each
/// by the elements that its kind brings into play.
fn judged(pair: &Pair<'_>, load_side: &Position, typed: Typed) -> Vec<PairFinding> {
    let most = (fault(load_side, typed.fault).0, kind_of(load_side, typed));
    let study = load_side.minimum_fault.as_ref();
    let least = match typed.min_fault {
        Some(amps) => (Some(amps.get()), typed.kind),
        None => (study.map(|s| s.amps.get()), study.map(|s| s.kind)),
    };
    let at = |(amps, kind): (Option<f64>, Option<FaultKind>)| {
        let (load, source) = (
            on_kind(pair.load_side, kind),
            on_kind(pair.source_side, kind),
        );
        Pair {
            load_side: &load,
            source_side: &source,
            to_ground: matches!(
                kind,
                Some(FaultKind::LineGround | FaultKind::DoubleLineGround)
            ),
            ..*pair
        }
        .judge(amps)
    };
    let mut out = at(most);
    if least.0.is_some() && least != most {
        // What no current bears on is said once.
        out.extend(at(least).into_iter().filter(|f| f.fault_amps.is_some()));
    }
    out
}

fn device(here: &Here, amps: Option<f64>, kind: Option<FaultKind>) -> Vec<DeviceTimes> {
    let ends = here.ends.iter().map(|end| on_kind(end, kind));
    ends.map(|end| DeviceTimes {
        rows: rows(&end, amps),
        name: end.name,
        class: here.position.class,
        side: here.side,
        fault_amps: amps,
        doubts: end.doubts,
    })
    .collect()
}

fn rows(end: &End, amps: Option<f64>) -> Vec<TimeRow> {
    let unknown = |what: &str, why: String| TimeRow {
        what: what.to_string(),
        least_s: None,
        greatest_s: None,
        why,
    };
    match &end.role {
        Role::Nothing(why) => vec![unknown("no time", why.clone())],
        Role::Counts { counts, .. } => {
            let n = counts.map_or("unknown".to_string(), |n| n.to_string());
            vec![unknown(
                "counts",
                format!("opens in the dead time after {n} counts; it has no curve"),
            )]
        }
        Role::Link(link) => {
            let mark = link.map_or("link".to_string(), |(a, k)| format!("{a}{}", k.word()));
            let row = |what: &str, known: Result<(f64, String), String>, least: bool| match known {
                Ok((s, _)) => TimeRow {
                    what: format!("{mark} {what}"),
                    least_s: least.then_some(s),
                    greatest_s: (!least).then_some(s),
                    why: MELTING_SAID.to_string(),
                },
                Err(why) => unknown(&format!("{mark} {what}"), why),
            };
            vec![
                row("melts from", link_melts(*link, amps), true),
                row("clears by", link_clears(*link, amps), false),
            ]
        }
        Role::Trips { settings, .. } => match (settings, amps) {
            (Some(settings), Some(amps)) => sequence_rows(&settings.at(amps)),
            (None, _) => vec![unknown(
                "sequence",
                "fast and delayed trips are not known".to_string(),
            )],
            (_, None) => vec![unknown(
                "sequence",
                "no fault current is recorded or typed".to_string(),
            )],
        },
    }
}

fn sequence_rows(sequence: &Sequence) -> Vec<TimeRow> {
    let row = |what: String, band: Option<crate::domain::sequence::Band>, why: String| TimeRow {
        what,
        least_s: band.map(|b| b.least_s),
        greatest_s: band.map(|b| b.greatest_s),
        why,
    };
    let mut out = Vec::new();
    for (at, trip) in sequence.trips.iter().enumerate() {
        // Said once: the trips after the first by a curve are timed by the same.
        let first = sequence.trips[..at]
            .iter()
            .find(|t| t.fast == trip.fast && t.why == trip.why);
        let why = first.map_or(trip.why.clone(), |t| format!("as trip {}", t.number));
        let kind = if trip.fast { "fast" } else { "delayed" };
        let open = match trip.then_open_s {
            Some(s) => format!("; then open {s} s"),
            None if usize::try_from(trip.number).is_ok_and(|n| n < sequence.trips.len()) => {
                "; open time not recorded".to_string()
            }
            None => "; lockout".to_string(),
        };
        out.push(row(
            format!("trip {} {kind}", trip.number),
            trip.clears,
            format!("{why}{open}"),
        ));
    }
    out.push(row(
        "fault on, summed".to_string(),
        sequence.fault_on,
        "all trips".to_string(),
    ));
    let reset = sequence
        .reset_s
        .map_or("reset time not recorded".to_string(), |s| {
            format!("reset {s} s")
        });
    out.push(row(
        "to lockout".to_string(),
        sequence.to_lockout,
        format!("open times included; {reset}"),
    ));
    out
}
