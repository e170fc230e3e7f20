//! Ride: the load against the least current on which a device trips.

use super::bound::{Ask, Bound, Compare, short};
use super::carry::{electronic, rating};
use super::choices::{LINK_LOAD, TIGHT, TRIP_TOLERANCE};
use super::facts::{Facts, Subject};
use super::timing::link_row;
use super::{Case, Rule, element, unit};
use crate::domain::asset::{Class, ElementKind, Switchable};
use crate::domain::finding::{Finding, Question, RuleStanding};
use crate::units::figure;

pub static RULES: &[Rule] = &[
    Rule {
        name: "ride-coil",
        on: &[unit(Class::Recloser)],
        needs: &["load", "coil_amps, or min_trip_amps"],
        formula: "load <= minimum trip less tolerance: 180 % of coil (200 % - 20 points); coils above 280 A 140 % less tolerance unless the plate gives minimum trip",
        source: "a recloser maker's overload sheet: minimum trip = 2 x coil, some 400 and 560 A coils about 140 %; a repair shop's coil note: 180 to 220 %",
        standing: RuleStanding::Read,
        choices: &[TIGHT, TRIP_TOLERANCE],
        rests_on: &["coil_amps"],
        example: r#"{"class": "recloser", "plate": {"control": "hydraulic", "coil_amps": 100}, "load": 80}"#,
        judge: coil,
        ..Rule::of(Question::Ride)
    },
    Rule {
        name: "ride-setting",
        on: &[unit(Class::Recloser), unit(Class::Breaker)],
        needs: &[
            "load",
            "phase_pickup_amps, or phase_pickup_secondary_amps and ct_ratio",
        ],
        formula: "load <= phase pickup in primary amperes (secondary x CT ratio); the lower of issued and found",
        source: "a recloser maker's sheet: with electronic control minimum trip is a setting, independent of the continuous rating",
        standing: RuleStanding::Read,
        rests_on: &["phase_pickup_secondary_amps", "ct_ratio"],
        example: r#"{"class": "breaker", "plate": {"continuous_amps": 1200}, "settings": {"phase_pickup_secondary_amps": 4, "ct_ratio": "600:5"}, "load": 300}"#,
        judge: setting,
        ..Rule::of(Question::Ride)
    },
    Rule {
        name: "ride-ground",
        on: &[unit(Class::Recloser), unit(Class::Breaker)],
        needs: &[
            "load unbalance (the whole load without)",
            "ground_pickup_amps, or its secondary and ct_ratio",
        ],
        formula: "load unbalance <= ground pickup in primary amperes; without a figure, what is left when a single-phase device opens downstream: at most the whole load of a phase",
        source: "ground pickup above the worst unbalance, that after a downstream single-phase device opens included: the abstract of a paper and common practice",
        standing: RuleStanding::CommonPractice,
        rests_on: &["ground_pickup_amps"],
        example: r#"{"class": "recloser", "plate": {"control": "electronic", "continuous_amps": 560}, "settings": {"phase_pickup_amps": 400, "ground_pickup_amps": 120}, "load": 200, "unbalance": 60}"#,
        judge: ground,
        ..Rule::of(Question::Ride)
    },
    Rule {
        name: "ride-link",
        on: &[element(ElementKind::Link)],
        needs: &["load", "link"],
        formula: "load <= 80 % of the least melting current at 300 s (600 s for 140 and 200)",
        source: "one distribution utility's line-fuse rule (read); melting currents of K and T are from memory, unconfirmed",
        standing: RuleStanding::FromMemory,
        choices: &[TIGHT, LINK_LOAD],
        rests_on: &["link"],
        example: r#"{"class": "cutout", "phases": "A", "elements": [{"element": "cutout", "amps": 100}, {"element": "link", "link": "40K"}], "load": 50}"#,
        judge: link,
        ..Rule::of(Question::Ride)
    },
];

/// Coils above this size may trip on 140 % instead of 200 %.
const LARGE_COIL_AMPS: f64 = 280.0;

/// Nominal minimum trip of a hydraulic unit: from the plate, else from the coil.
pub(super) fn nominal_trip(subject: &Subject<'_>, lowest: bool) -> Bound {
    if subject.recorded("min_trip_amps").is_some() {
        return rating(subject, "min_trip_amps", "minimum trip", "A");
    }
    let coil = rating(subject, "coil_amps", "coil", "A");
    let large = coil.value.is_some_and(|c| c > LARGE_COIL_AMPS);
    if large && lowest {
        coil.times(1.4, "x 140 %", "A")
    } else {
        coil.times(2.0, "x 200 %", "A")
    }
}

fn coil(rule: &'static Rule, case: &Case<'_>, subject: &Subject<'_>) -> Option<Finding> {
    if electronic(subject) {
        return None;
    }
    let tolerance = case.choices.trip_tolerance();
    let words = format!("x {} %", figure((1.0 - tolerance) * 100.0));
    let bound = nominal_trip(subject, true).times(1.0 - tolerance, &words, "A");
    Some(
        Compare {
            rule,
            case,
            subject,
            unit: "A",
            ask: case.load(),
            bound,
            tight_percent: case.choices.tight_percent(),
            at_least: false,
            note: String::new(),
        }
        .finding(),
    )
}

/// The turns of a current transformer written `600:5`.
pub(super) fn ct_ratio(text: &str) -> Option<f64> {
    let (primary, secondary) = text.split_once([':', '/'])?;
    let primary: f64 = primary.trim().parse().ok()?;
    let secondary: f64 = secondary.trim().parse().ok()?;
    let sound = primary.is_finite() && primary > 0.0 && secondary.is_finite() && secondary > 0.0;
    sound.then(|| primary / secondary)
}

/// One set of settings: primary amperes as written, or secondary amperes times
/// the CT ratio. Where both stand, the one that suits the question worse.
fn in_primary(facts: &Facts, found: bool, key: &str, label: &str, lowest: bool) -> Option<Bound> {
    let (settings, how) = if found {
        (&facts.position.settings_found, "as found")
    } else {
        (&facts.position.settings, "as issued")
    };
    let place = &facts.position.position;
    let read = format!("{label} of {place}");
    let primary = settings
        .get(key)
        .map(|s| Bound::of(s, &format!("{label} {how}"), "A", &read));
    let secondary_key = key.replace("_amps", "_secondary_amps");
    let secondary = settings.get(&secondary_key).map(|stated| {
        let bound = Bound::of(stated, &format!("{label} {how}, secondary"), "A", &read);
        let read_ct = format!("CT ratio of {place}");
        let ct = settings
            .get("ct_ratio")
            .or_else(|| facts.position.settings.get("ct_ratio"));
        let turns = ct.and_then(|c| c.as_text().and_then(ct_ratio));
        match (turns, ct) {
            (Some(turns), Some(ct)) => {
                let words = format!(
                    "x {} (CT {})",
                    short(turns),
                    ct.as_text().unwrap_or_default()
                );
                let bound = bound.times(turns, &words, "A");
                if ct.is_known() {
                    bound
                } else {
                    bound.doubted("the CT ratio is that, which nobody has read", read_ct)
                }
            }
            _ => Bound {
                value: None,
                words: format!("{} without a CT ratio", bound.words),
                doubts: bound.doubts,
                read: Some(read_ct),
            },
        }
    });
    worse(primary, secondary, lowest)
}

/// The one that governs: the lower, or the higher; one that is unread leaves
/// it unread.
fn worse(a: Option<Bound>, b: Option<Bound>, lowest: bool) -> Option<Bound> {
    match (a, b) {
        (Some(a), Some(b)) => {
            let second = match (a.value, b.value) {
                (Some(x), Some(y)) => (y < x) == lowest,
                (_, None) => true,
                (None, _) => false,
            };
            Some(if second { b } else { a })
        }
        (one, other) => one.or(other),
    }
}

/// A setting as issued and as found, in primary amperes: the lower, or the
/// higher, governs; a reading that is recorded as unknown leaves it unknown.
pub(super) fn pickup(facts: &Facts, key: &str, label: &str, lowest: bool) -> Bound {
    let issued = in_primary(facts, false, key, label, lowest);
    let found = in_primary(facts, true, key, label, lowest);
    worse(issued, found, lowest)
        .unwrap_or_else(|| Bound::unread(label, &format!("{label} of {}", facts.position.position)))
}

/// Whether a ground pickup stands in the settings at all.
pub(super) fn has_ground(facts: &Facts) -> bool {
    let p = &facts.position;
    [&p.settings, &p.settings_found].iter().any(|s| {
        s.get("ground_pickup_amps").is_some() || s.get("ground_pickup_secondary_amps").is_some()
    })
}

/// Whether the ground trip was last recorded as blocked.
pub(super) fn ground_blocked(facts: &Facts) -> bool {
    let state = facts.position.state.as_ref();
    state.and_then(|s| s.ground_trip) == Some(Switchable::Off)
}

/// Without a figure the unbalance is at most the load of a phase: while that is
/// within, so is any unbalance; beyond it the answer is unknown, not a failure.
fn ground(rule: &'static Rule, case: &Case<'_>, subject: &Subject<'_>) -> Option<Finding> {
    let recloser = subject.part == unit(Class::Recloser);
    if !has_ground(case.facts) || (recloser && !electronic(subject)) {
        return None;
    }
    let mut bound = pickup(case.facts, "ground_pickup_amps", "ground pickup", true);
    let ask = match &case.asked.unbalance {
        Some(given) => Ask {
            what: "unbalance",
            value: Some(given.value),
            words: format!("load unbalance {} A ({})", short(given.value), given.origin),
            read: String::new(),
            doubts: Vec::new(),
        },
        None => {
            let load = case.load();
            let over = load.value.zip(bound.value).is_some_and(|(l, b)| l > b);
            if over {
                bound.value = None;
                bound.read = Some(format!(
                    "load unbalance at {}",
                    case.facts.position.position
                ));
                bound.words = format!("{}: the unbalance is not known", bound.words);
            }
            Ask {
                what: "unbalance",
                words: format!("load unbalance at most {}", load.words),
                ..load
            }
        }
    };
    let note = if ground_blocked(case.facts) {
        "Ground trip is recorded as blocked."
    } else {
        ""
    };
    Some(
        Compare {
            rule,
            case,
            subject,
            unit: "A",
            ask,
            bound,
            tight_percent: case.choices.tight_percent(),
            at_least: false,
            note: note.to_string(),
        }
        .finding(),
    )
}

fn link(rule: &'static Rule, case: &Case<'_>, subject: &Subject<'_>) -> Option<Finding> {
    let share = case.choices.number(LINK_LOAD) / 100.0;
    let stated = super::carry::link_limit(subject);
    let bound = match link_row(subject) {
        Some(row) => Bound {
            value: Some(row.long.0 * share),
            words: format!(
                "least melting {} A of {}{} at {} s x {} % = {} A",
                short(row.long.0),
                short(row.rated),
                row.link_type.word(),
                short(row.long_s()),
                short(share * 100.0),
                short(row.long.0 * share)
            ),
            doubts: stated.doubts,
            read: stated.read,
        },
        None => Bound {
            value: None,
            words: format!("no melting table for {}", subject.called),
            doubts: stated.doubts,
            read: stated
                .read
                .or(Some(super::carry::read("link size and type", subject))),
        },
    };
    Some(
        Compare {
            rule,
            case,
            subject,
            unit: "A",
            ask: case.load(),
            bound,
            tight_percent: case.choices.tight_percent(),
            at_least: false,
            note: String::new(),
        }
        .finding(),
    )
}

fn setting(rule: &'static Rule, case: &Case<'_>, subject: &Subject<'_>) -> Option<Finding> {
    let is_recloser = subject.part == unit(Class::Recloser);
    if is_recloser && !electronic(subject) {
        return None;
    }
    Some(
        Compare {
            rule,
            case,
            subject,
            unit: "A",
            ask: case.load(),
            bound: pickup(case.facts, "phase_pickup_amps", "phase pickup", true),
            tight_percent: case.choices.tight_percent(),
            at_least: false,
            note: String::new(),
        }
        .finding(),
    )
}
