//! What a position is in a pair: its links, or the sequence of its device, or
//! what its sectionalizer counts.

use serde_json::{Map, Value};

use super::bound::Bound;
use super::carry::{electronic, rating};
use super::choices::INTERRUPTING_CYCLES;
use super::facts::{Facts, Part, Subject};
use super::link::{mark, parse_link};
use super::ride::{ground_blocked, has_ground, nominal_trip, pickup};
use super::timing::{set_curve, setting_count};
use super::{Choices, element};
use crate::domain::asset::{Class, Defect, ElementKind, Stated, Switchable};
use crate::domain::finding::Path;
use crate::domain::pairs::{End, Ground, Role};
use crate::domain::sequence::{Points, Settings, Timing, intervals};

/// Curves that the utility supplies, by name.
pub type Supplied = [(String, Map<String, Value>)];

/// Defects that bear on when a device clears or counts.
const BEARS: &[Defect] = &[
    Defect::OilBelowMark,
    Defect::OilLeak,
    Defect::OilTestFailed,
    Defect::DutyUsedUp,
    Defect::ContactsWorn,
    Defect::ControlFaulty,
    Defect::BatteryLow,
    Defect::TestFailed,
];

/// Everything at a position that clears or counts, one a kind of link.
#[must_use]
pub fn ends(facts: &Facts, choices: &Choices, supplied: &Supplied) -> Vec<End> {
    let subjects = facts.subjects(false);
    let normal = || subjects.iter().filter(|s| s.path == Path::Normal);
    let mut out: Vec<End> = Vec::new();
    if let Some(unit) = normal().find(|s| {
        matches!(
            s.part,
            Part::Unit(Class::Recloser | Class::Breaker | Class::Sectionalizer)
        )
    }) {
        out.push(by_unit(facts, unit, choices, supplied));
    } else {
        for link in normal().filter(|s| s.part == element(ElementKind::Link)) {
            let end = by_link(facts, link);
            if !out
                .iter()
                .any(|o| o.role == end.role && o.doubts == end.doubts)
            {
                out.push(end);
            }
        }
    }
    if out.is_empty() {
        out.push(nothing(facts));
    }
    if out.len() == 1 {
        out[0].name.clone_from(&facts.position.position);
    }
    let around = facts.bypassed();
    for end in &mut out {
        end.doubts.extend(around.clone());
    }
    out
}

fn nothing(facts: &Facts) -> End {
    let role = match facts.position.class {
        Class::Recloser | Class::Breaker => Role::Trips {
            settings: None,
            min_trip_amps: None,
            blocked: None,
            relay: facts.position.class == Class::Breaker,
            ground: Box::new(Ground::Nothing),
        },
        Class::Sectionalizer => Role::Counts {
            counts: None,
            memory_s: None,
            actuating_amps: None,
        },
        Class::Cutout if !solid(facts) => Role::Link(None),
        Class::Cutout => Role::Nothing("a solid blade gives no overcurrent protection".to_string()),
        class => Role::Nothing(format!("a {class} clears nothing by time")),
    };
    End {
        name: facts.position.position.clone(),
        role,
        doubts: Vec::new(),
    }
}

fn solid(facts: &Facts) -> bool {
    let elements = &facts.position.elements;
    elements.iter().any(|e| e.element == ElementKind::Blade)
}

fn by_link(facts: &Facts, link: &Subject<'_>) -> End {
    let stated = link.stated("link");
    let read = mark(&stated)
        .as_deref()
        .and_then(parse_link)
        .and_then(|(rated, kind)| Some((rated, kind?)));
    let mut doubts = assumed(&stated, "the link", &facts.position.position);
    doubts.extend(link.caps.iter().map(|c| c.why.clone()));
    let slot = link
        .slot
        .as_ref()
        .map_or(String::new(), |s| format!(" {s}"));
    End {
        name: format!("{}{slot}", facts.position.position),
        role: Role::Link(read),
        doubts,
    }
}

fn assumed(stated: &Stated, what: &str, of: &str) -> Vec<String> {
    if stated.value.is_some() && !stated.is_known() {
        vec![format!("{what} of {of} is assumed")]
    } else {
        Vec::new()
    }
}

fn by_unit(facts: &Facts, unit: &Subject<'_>, choices: &Choices, supplied: &Supplied) -> End {
    let position = &facts.position;
    let mut doubts: Vec<String> = facts
        .defects
        .iter()
        .filter(|d| BEARS.contains(&d.defect))
        .map(|d| format!("open defect at {}: {}", position.position, d.defect.word()))
        .collect();
    let role = if unit.part == Part::Unit(Class::Sectionalizer) {
        counting(facts, unit, &mut doubts)
    } else {
        tripping(facts, unit, (choices, supplied), &mut doubts)
    };
    End {
        name: position.position.clone(),
        role,
        doubts,
    }
}

fn counting(facts: &Facts, unit: &Subject<'_>, doubts: &mut Vec<String>) -> Role {
    let settings = &facts.position.settings;
    let mut number = |key: &str, what: &str| {
        let stated = match settings.get(key) {
            Some(set) => set.clone(),
            None => unit.stated(key),
        };
        doubts.extend(assumed(&stated, what, &unit.called));
        stated.as_number()
    };
    let counts = number("counts", "the number of counts");
    let memory_s = number("memory_s", "the count memory");
    let actuating = if unit.recorded("actuating_amps").is_some() {
        rating(unit, "actuating_amps", "actuating current", "A")
    } else {
        rating(unit, "coil_amps", "coil", "A").times(1.6, "x 160 %", "A")
    };
    doubts.extend(actuating.doubts);
    Role::Counts {
        counts,
        memory_s,
        actuating_amps: actuating.value,
    }
}

fn tripping(
    facts: &Facts,
    unit: &Subject<'_>,
    (choices, supplied): (&Choices, &Supplied),
    doubts: &mut Vec<String>,
) -> Role {
    let set = electronic(unit) || unit.part == Part::Unit(Class::Breaker);
    let trip = if set {
        pickup(facts, "phase_pickup_amps", "phase pickup", true)
    } else {
        nominal_trip(unit, true)
    };
    let slow = if set {
        pickup(facts, "phase_pickup_amps", "phase pickup", false)
    } else {
        trip.clone()
    };
    doubts.extend(trip.doubts.clone());
    if set && trip.value != slow.value {
        doubts.push(format!(
            "the pickup of {} was found other than issued",
            facts.position.position
        ));
    }
    let opening_s = choices.number(INTERRUPTING_CYCLES) / 60.0;
    let timing = |key: &str| timing_of(facts, key, (set, &trip), (supplied, opening_s));
    let settings = sequence(facts, timing, doubts);
    if set && settings.is_some() {
        doubts.extend(instantaneous(facts));
    }
    Role::Trips {
        ground: Box::new(ground(facts, set, settings.as_ref(), (supplied, opening_s))),
        settings,
        min_trip_amps: trip.value,
        blocked: blocked(facts),
        relay: unit.part == Part::Unit(Class::Breaker),
    }
}

/// What trips on ground: where a control has a ground element, its own curves;
/// a hydraulic unit of which no ground trip is on record trips by phase alone.
fn ground(
    facts: &Facts,
    set: bool,
    settings: Option<&Settings>,
    (supplied, opening_s): (&Supplied, f64),
) -> Ground {
    let of = &facts.position.position;
    if ground_blocked(facts) {
        return Ground::Blocked(format!(
            "the ground trip of {of} is recorded as blocked: by phase alone"
        ));
    }
    let state = facts.position.state.as_ref();
    let said = state.is_some_and(|s| s.ground_trip.is_some());
    if !has_ground(facts) {
        return if set || said {
            Ground::Unknown(format!(
                "whether {of} trips by ground, and when, is not on record"
            ))
        } else {
            Ground::Nothing
        };
    }
    let Some(settings) = settings else {
        return Ground::Unknown(format!("the sequence of {of} is not known"));
    };
    let least = pickup(facts, "ground_pickup_amps", "ground pickup", true);
    let most = pickup(facts, "ground_pickup_amps", "ground pickup", false);
    let mut doubts = least.doubts.clone();
    if least.value != most.value {
        doubts.push(format!(
            "the ground pickup of {of} was found other than issued"
        ));
    }
    let timing = |key: &str| timing_of(facts, key, (true, &least), (supplied, opening_s));
    let own = Settings {
        fast_timing: timing("ground_fast_curve"),
        delayed_timing: timing("ground_delayed_curve"),
        ..settings.clone()
    };
    Ground::Set(Box::new(own), doubts)
}

fn sequence(
    facts: &Facts,
    timing: impl Fn(&str) -> Timing,
    doubts: &mut Vec<String>,
) -> Option<Settings> {
    let position = &facts.position;
    let count = |key: &str| {
        let n = setting_count(facts, key)?;
        [0.0, 1.0, 2.0, 3.0, 4.0]
            .iter()
            .position(|x| (x - n).abs() < 1e-9)
            .and_then(|i| u32::try_from(i).ok())
    };
    let (fast, delayed) = (count("fast_trips")?, count("delayed_trips")?);
    if count("trips_to_lockout").is_some_and(|t| t != fast + delayed) {
        doubts.push(format!(
            "fast and delayed trips of {} do not add up to its trips to lockout",
            position.position
        ));
    }
    for key in [
        "fast_trips",
        "delayed_trips",
        "trips_to_lockout",
        "reclose_intervals",
    ] {
        let found = position.settings_found.get(key);
        if found.is_some_and(|f| position.settings.get(key) != Some(f)) {
            doubts.push(format!(
                "{} of {} was found other than issued",
                key.replace('_', " "),
                position.position
            ));
        }
    }
    let known = |key: &str| position.settings.get(key).filter(|s| s.is_known());
    Some(Settings {
        fast,
        delayed,
        fast_timing: timing("fast_curve"),
        delayed_timing: timing("delayed_curve"),
        intervals_s: known("reclose_intervals")
            .and_then(|s| s.as_text().map(intervals))
            .unwrap_or_default(),
        reset_s: known("reset_s").and_then(Stated::as_number),
    })
}

fn timing_of(
    facts: &Facts,
    key: &str,
    (set, trip): (bool, &Bound),
    (supplied, opening_s): (&Supplied, f64),
) -> Timing {
    let of = &facts.position.position;
    let what = key.replace('_', " ");
    let Some(trip_amps) = trip.value else {
        return Timing::Unknown(format!("minimum trip of {of} is not known"));
    };
    if set && let Some((curve, dial)) = set_curve(facts, key) {
        return Timing::Standard {
            curve,
            dial,
            pickup_amps: trip_amps,
            opening_s,
        };
    }
    let stated = facts.position.settings.get(key);
    let Some(named) = stated.filter(|s| s.is_known()).and_then(Stated::as_text) else {
        return Timing::Unknown(format!("{what} of {of} is not known"));
    };
    let own = supplied
        .iter()
        .find(|(name, _)| name.eq_ignore_ascii_case(named.trim()));
    match own {
        Some((name, body)) => match Points::read(name, body) {
            Ok(points) => Timing::Points { points, trip_amps },
            Err(why) => Timing::Unknown(why),
        },
        None => Timing::Unknown(format!(
            "{what} of {of}: no points of a curve {named:?} are supplied, and it names no standard curve"
        )),
    }
}

/// An instantaneous trip that is set, or of which nobody wrote, may clear sooner.
fn instantaneous(facts: &Facts) -> Option<String> {
    let settings = &facts.position.settings;
    let set = settings.stated("instantaneous");
    let none = set.is_known() && set.as_text() == Some("none");
    (!none).then(|| {
        format!(
            "whether an instantaneous trip of {} clears sooner is not in these times",
            facts.position.position
        )
    })
}

fn blocked(facts: &Facts) -> Option<String> {
    let set = facts.position.settings.get("reclose_intervals");
    let none = set.and_then(Stated::as_text).map(str::trim);
    if none.is_some_and(|t| t.eq_ignore_ascii_case("none")) {
        return Some("reclose intervals: none".to_string());
    }
    let state = facts.position.state.as_ref()?;
    let at = state.at.spoken();
    if state.reclosing == Some(Switchable::Off) {
        Some(format!("reclosing recorded OFF {at}"))
    } else if state.hot_line_tag == Some(Switchable::On) {
        Some(format!("hot-line tag recorded ON {at}"))
    } else {
        None
    }
}
