//! Time: on which current a device opens within so many seconds, and for how
//! long a fault stays on over a whole sequence. A standard curve is worked out
//! from the settings, a link from its melting table; for anything else there is
//! no curve here, and without a curve there is no answer.

use super::bound::{Bound, short};
use super::carry::{electronic, link_limit, read};
use super::choices::INTERRUPTING_CYCLES;
use super::facts::{Facts, Part, Subject};
use super::link::{mark, parse_link};
use super::ride::pickup;
use super::{Case, element, unit};
use crate::domain::asset::{Class, ElementKind, Standing};
use crate::domain::curve::{CURVES, Curve};
use crate::domain::melting::{Melting, melting};
use crate::domain::pairs::in_seconds;

/// Arcing after the melting of a link: 0.8 cycle of 60 Hz, the least that the
/// published link tables imply.
const ARCING_S: f64 = 0.8 / 60.0;

/// A curve setting such as `very inverse, TD 0.5` under a dial convention such
/// as `IEEE C37.112, TD as printed`: the curve and its dial. `None` unless both
/// the standard and the dial are named.
#[must_use]
pub fn curve_setting(text: &str, convention: &str) -> Option<(&'static Curve, f64)> {
    let text = text.trim().to_ascii_lowercase();
    let family = convention.to_ascii_lowercase();
    let standard = match (family.contains("c37.112"), family.contains("60255")) {
        (true, false) => "ieee ",
        (false, true) => "iec ",
        _ => return None,
    };
    let (name, dial) = text.split_once(',')?;
    let dial = dial.trim();
    let dial = dial
        .strip_prefix("td")
        .or_else(|| dial.strip_prefix("tms"))?
        .trim()
        .parse::<f64>()
        .ok()
        .filter(|d| d.is_finite() && *d > 0.0)?;
    let full = if name.starts_with(standard) {
        name.to_string()
    } else {
        format!("{standard}{}", name.trim())
    };
    let curve = CURVES.iter().find(|c| c.name.eq_ignore_ascii_case(&full))?;
    Some((curve, dial))
}

/// A curve of the settings: as issued, and only where nobody found another.
pub(super) fn set_curve(facts: &Facts, key: &str) -> Option<(&'static Curve, f64)> {
    let known = |key: &str| {
        let text = |s: &crate::domain::asset::Stated| {
            (s.standing == Standing::Known).then(|| s.as_text().map(str::to_string))?
        };
        let issued = facts.position.settings.get(key).and_then(text);
        match facts.position.settings_found.get(key) {
            None => issued,
            Some(found) => text(found).filter(|f| issued.as_ref().is_none_or(|i| i == f)),
        }
    };
    curve_setting(&known(key)?, &known("dial_convention")?)
}

pub(super) fn setting_count(facts: &Facts, key: &str) -> Option<f64> {
    let stated = facts.position.settings.get(key)?;
    (stated.standing == Standing::Known).then(|| stated.as_number())?
}

/// The curve of the first trip: the fast one wherever there may be a fast trip.
fn first_curve(facts: &Facts) -> Option<(&'static Curve, f64)> {
    if setting_count(facts, "fast_trips") == Some(0.0) {
        set_curve(facts, "delayed_curve")
    } else {
        set_curve(facts, "fast_curve")
    }
}

/// The melting row of the link in a subject.
pub(super) fn link_row(subject: &Subject<'_>) -> Option<&'static Melting> {
    let (rated, kind) = mark(&subject.stated("link"))
        .as_deref()
        .and_then(parse_link)?;
    melting(rated, kind?)
}

/// The least current, A, on which the subject may open within `seconds`. A
/// curve that takes longer at any current gives an endless one.
pub(super) fn opens_within(case: &Case<'_>, subject: &Subject<'_>, seconds: f64) -> Bound {
    if subject.part == element(ElementKind::Link) {
        return melts_within(subject, seconds);
    }
    let curve = match subject.part {
        Part::Unit(Class::Breaker) => first_curve(case.facts),
        Part::Unit(Class::Recloser) if electronic(subject) => first_curve(case.facts),
        _ => None,
    };
    let Some((curve, dial)) = curve else {
        let words = format!("time-current curve of {}", subject.called);
        return Bound::unread(&words, &words);
    };
    let pickup = pickup(case.facts, "phase_pickup_amps", "phase pickup", true);
    let name = format!("{}, dial {}", curve.name, short(dial));
    let by_curve = match curve.multiple_at(seconds, dial) {
        Some(multiple) => {
            let words = format!("x {} ({name}, in {} s)", short(multiple), short(seconds));
            pickup.times(multiple, &words, "A")
        }
        None => Bound {
            value: pickup.value.map(|_| f64::INFINITY),
            words: format!(
                "{} ({name}): within {} s at no current",
                pickup.words,
                short(seconds)
            ),
            ..pickup
        },
    };
    with_instantaneous(case, by_curve)
}

/// An instantaneous trip opens at once above its setting. One of which nobody
/// wrote whether it is set leaves the answer in doubt.
fn with_instantaneous(case: &Case<'_>, by_curve: Bound) -> Bound {
    let position = &case.facts.position;
    let settings = &position.settings;
    let set = settings.stated("instantaneous");
    let amps = pickup(case.facts, "instantaneous_amps", "instantaneous trip", true);
    let recorded = settings.get("instantaneous_amps").is_some()
        || position.settings_found.get("instantaneous_amps").is_some();
    match set.as_text().filter(|_| set.is_known()) {
        Some("none") if !recorded => by_curve,
        _ if recorded => match (by_curve.value, amps.value) {
            (Some(curve), Some(at_once)) if at_once > curve => by_curve,
            _ => amps,
        },
        _ => by_curve.doubted(
            "no instantaneous trip is set, which the record does not say",
            format!("instantaneous trip of {}", position.position),
        ),
    }
}

/// A link: least melting current at that time; beyond the table, what it
/// carries.
fn melts_within(subject: &Subject<'_>, seconds: f64) -> Bound {
    let carried = link_limit(subject);
    let Some(row) = link_row(subject) else {
        return Bound {
            value: None,
            words: format!("no melting table for {}", subject.called),
            doubts: carried.doubts,
            read: Some(read("link size and type", subject)),
        };
    };
    match row.least_melting_amps(seconds) {
        Some(amps) => Bound {
            value: Some(amps),
            words: format!(
                "{} A, the least that may melt {}{} within {} s (melting table, interpolated)",
                short(amps),
                short(row.rated),
                row.link_type.word(),
                short(seconds)
            ),
            doubts: carried.doubts,
            read: carried.read,
        },
        None => carried,
    }
}

/// The fault-on time that was typed.
pub(super) fn typed_time(case: &Case<'_>) -> Option<Bound> {
    let given = case.asked.fault_on_s.as_ref()?;
    Some(Bound {
        value: Some(given.value),
        words: format!("fault-on time {} s ({})", short(given.value), given.origin),
        doubts: Vec::new(),
        read: None,
    })
}

/// For how long the greatest fault stays on over the whole sequence, s: typed,
/// else by the settings of the electronic control here, else by the link here.
/// `None` where there is no curve to work from.
pub fn fault_on_s(case: &Case<'_>, subject: &Subject<'_>) -> Option<Bound> {
    let typed = typed_time(case);
    if typed.is_some() {
        return typed;
    }
    if case.asked.bypass || case.facts.bypassed().is_some() {
        return None;
    }
    let amps = case.asked.fault.as_ref()?.amps;
    by_settings(case, subject, amps).or_else(|| by_link(case, subject, amps))
}

/// Below this multiple of pickup the heat of a fault is no matter of a few
/// seconds, and no time is worked out.
const LEAST_MULTIPLE: f64 = 4.0;

fn by_settings(case: &Case<'_>, subject: &Subject<'_>, amps: f64) -> Option<Bound> {
    let here = case.subjects.iter().find(|s| {
        s.path == subject.path
            && s.shares_slot(subject)
            && s.plate.is_some()
            && match s.part {
                Part::Unit(Class::Breaker) => true,
                Part::Unit(Class::Recloser) => electronic(s),
                _ => false,
            }
    })?;
    let fast = setting_count(case.facts, "fast_trips")?;
    let delayed = setting_count(case.facts, "delayed_trips")?;
    let pickup = pickup(case.facts, "phase_pickup_amps", "phase pickup", false);
    let multiple = amps / pickup.value?;
    if multiple < LEAST_MULTIPLE {
        return None;
    }
    let seconds = |key: &str, trips: f64| -> Option<f64> {
        if trips == 0.0 {
            return Some(0.0);
        }
        let (curve, dial) = set_curve(case.facts, key)?;
        curve.trip_s(multiple, dial)
    };
    let one_fast = seconds("fast_curve", fast)?;
    let one_delayed = seconds("delayed_curve", delayed)?;
    let opening = case.choices.number(INTERRUPTING_CYCLES) / 60.0;
    // Heat goes by current squared times time. Of an inverse curve it first falls
    // with the current and then rises, so the worst up to this fault is at one end.
    let at = |multiple: f64| -> Option<f64> {
        let one = |key: &str, trips: f64| -> Option<f64> {
            if trips == 0.0 {
                return Some(0.0);
            }
            let (curve, dial) = set_curve(case.facts, key)?;
            Some(trips * (curve.trip_s(multiple, dial)? + opening))
        };
        Some(one("fast_curve", fast)? + one("delayed_curve", delayed)?)
    };
    let least = at(LEAST_MULTIPLE)? * (LEAST_MULTIPLE / multiple).powi(2);
    let total = at(multiple)?.max(least);
    Some(Bound {
        value: Some(total),
        words: format!(
            "fault-on time {} s (worst up to this fault; at it {} fast x ({} + {}) + {} delayed x ({} + {}), by the settings of {})",
            short(total),
            short(fast),
            short(one_fast),
            short(opening),
            short(delayed),
            short(one_delayed),
            short(opening),
            here.called
        ),
        doubts: pickup.doubts,
        read: pickup.read,
    })
}

fn by_link(case: &Case<'_>, subject: &Subject<'_>, amps: f64) -> Option<Bound> {
    let link = case.subjects.iter().find(|s| {
        s.path == subject.path && s.shares_slot(subject) && s.part == element(ElementKind::Link)
    })?;
    if case.beside(subject, &[unit(Class::Recloser), unit(Class::Breaker)]) {
        return None;
    }
    let row = link_row(link)?;
    if amps < row.tenth_s.1 {
        return None;
    }
    let melts = row.greatest_melting_s(amps)?;
    let total = melts + ARCING_S;
    let stated = link_limit(link);
    Some(Bound {
        value: Some(total),
        words: format!(
            "fault-on time {} s (greatest melting {} s of {} + 0.8 cycle)",
            in_seconds(total),
            in_seconds(melts),
            link.called
        ),
        doubts: stated.doubts,
        read: stated.read,
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_curve_setting_needs_its_standard_and_its_dial() {
        let ieee = "IEEE C37.112, TD as printed";
        let (curve, dial) = curve_setting("very inverse, TD 0.5", ieee).unwrap();
        assert_eq!((curve.name, dial), ("IEEE very inverse", 0.5));
        let (curve, _) = curve_setting("extremely inverse, TMS 0.3", "IEC 60255-151").unwrap();
        assert_eq!(curve.name, "IEC extremely inverse");
        assert_eq!(curve_setting("very inverse", ieee), None);
        assert_eq!(curve_setting("very inverse, TD 0.5", "as printed"), None);
        assert_eq!(curve_setting("fast, as built", ieee), None);
        assert_eq!(curve_setting("very inverse, TD 0", ieee), None);
    }
}
