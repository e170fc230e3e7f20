//! Plates that cannot be as they are recorded: sizes off the usual lists, and
//! figures that contradict each other.

use super::{Detector, Given, MEANING, Run};
use crate::domain::asset::{Class, Element, Plain, Record, Stated, Unit};
use crate::domain::finding::RuleStanding;
use crate::domain::nameplate::{LinkType, link_continuous_amps, parse_link};
use crate::units::figure;

/// Preferred ratings of single-phase distribution transformers, kVA. From
/// memory, unconfirmed.
pub const SINGLE_PHASE_KVA: &[f64] = &[
    5.0, 10.0, 15.0, 25.0, 37.5, 50.0, 75.0, 100.0, 167.0, 250.0, 333.0, 500.0,
];

/// Preferred ratings of three-phase transformers, kVA. From memory,
/// unconfirmed.
pub const THREE_PHASE_KVA: &[f64] = &[
    15.0, 30.0, 45.0, 75.0, 112.5, 150.0, 225.0, 300.0, 500.0, 750.0, 1_000.0, 1_500.0, 2_000.0,
    2_500.0,
];

/// Standard series coils of hydraulic reclosers and sectionalizers, A. From
/// memory, unconfirmed; 15 to 200 and 280 to 560 were read in part.
pub const COIL_AMPS: &[f64] = &[
    5.0, 10.0, 15.0, 25.0, 35.0, 50.0, 70.0, 100.0, 140.0, 160.0, 185.0, 200.0, 225.0, 280.0,
    400.0, 560.0,
];

const REMEMBERED: &str = "list from memory, unconfirmed";

pub(super) static DETECTORS: &[Detector] = &[
    Detector {
        name: "kva-off-list",
        looks_at: "kVA of transformers against the preferred ratings",
        why: "It is likely a slip, and the load of the transformer and of everything before it is figured with it.",
        fix: "Read the plate; if it says so, confirm the value with who read it and when.",
        source: REMEMBERED,
        standing: RuleStanding::FromMemory,
        run: Run::Record(kva),
    },
    Detector {
        name: "link-off-list",
        looks_at: "fuse links against the sizes that are made",
        why: "No such link is made, so what it carries and melts at is unknown.",
        fix: "Read the button of the link or the fuse record, and write the size as marked.",
        source: REMEMBERED,
        standing: RuleStanding::FromMemory,
        run: Run::Record(link),
    },
    Detector {
        name: "coil-off-list",
        looks_at: "coils of reclosers and sectionalizers against the standard sizes",
        why: "Minimum trip and carrying both follow from the coil; a slip here moves both.",
        fix: "Read the coil tag; if it says so, confirm the value with who read it and when.",
        source: REMEMBERED,
        standing: RuleStanding::FromMemory,
        run: Run::Record(coil),
    },
    Detector {
        name: "trip-under-continuous",
        looks_at: "minimum trip against the coil and the continuous rating",
        why: "It would trip on a load that it is rated to carry; one of the figures is wrong.",
        fix: "Read the plate and the coil tag.",
        source: MEANING,
        standing: RuleStanding::CommonPractice,
        run: Run::Record(trip),
    },
    Detector {
        name: "peak-under-rms",
        looks_at: "peak ratings against the rms ratings of the same plate, asymmetrical against symmetrical",
        why: "A peak is never below the rms value it belongs to; one of the figures is wrong.",
        fix: "Read the plate.",
        source: MEANING,
        standing: RuleStanding::CommonPractice,
        run: Run::Record(peak),
    },
    Detector {
        name: "mcov-over-duty",
        looks_at: "MCOV of arresters against their duty-cycle rating",
        why: "MCOV is always below the duty-cycle rating; the two were swapped or one is wrong.",
        fix: "Read the plate.",
        source: MEANING,
        standing: RuleStanding::CommonPractice,
        run: Run::Record(mcov),
    },
    Detector {
        name: "interrupting-under-carrying",
        looks_at: "interrupting rating against the continuous rating and the coil",
        why: "A device that interrupts less than it carries is not made; one of the figures is wrong.",
        fix: "Read the plate.",
        source: MEANING,
        standing: RuleStanding::CommonPractice,
        run: Run::Record(interrupting),
    },
    Detector {
        name: "interrupting-too-high",
        looks_at: "interrupting ratings against the greatest that are made",
        why: "It is far above what is made, likely one zero too many, and would pass faults that the device does not clear.",
        fix: "Read the plate; if it says so, confirm the value with who read it and when.",
        source: REMEMBERED,
        standing: RuleStanding::FromMemory,
        run: Run::Record(too_high),
    },
    Detector {
        name: "bil-off-class",
        looks_at: "BIL against the maximum voltage of the same plate",
        why: "The two belong to different voltage classes; one of them is a slip.",
        fix: "Read the plate; if it says so, confirm the value with who read it and when.",
        source: "15.5 kV 110, 27 kV 125 or 150, 38 kV 150 or 170 read for reclosers; the rest from memory, unconfirmed",
        standing: RuleStanding::FromMemory,
        run: Run::Record(bil),
    },
];

/// Greatest symmetrical interrupting ratings that are usual, A, with room
/// above the lists (16 kA reclosers, 10.6 kA cutouts). From memory,
/// unconfirmed.
const GREATEST_AMPS: &[(Class, f64)] = &[
    (Class::Recloser, 20_000.0),
    (Class::Cutout, 16_000.0),
    (Class::Breaker, 80_000.0),
];

/// From, to.
type Range = (f64, f64);

/// Maximum kV of a class, and the BIL kV that are usual in it.
const BIL_KV: &[(Range, Range)] = &[
    ((4.5, 5.6), (60.0, 95.0)),
    ((7.0, 10.0), (75.0, 95.0)),
    ((15.0, 17.5), (95.0, 125.0)),
    ((25.5, 29.5), (125.0, 150.0)),
    ((36.0, 40.5), (150.0, 200.0)),
];

fn too_high(record: &Record, _: &Given) -> Vec<String> {
    let Record::Unit(unit) = record else {
        return Vec::new();
    };
    let greatest = GREATEST_AMPS.iter().find(|(c, _)| *c == unit.class);
    let value = unit.nameplate.number(INTERRUPTING.0);
    match (greatest, value) {
        (Some((_, most)), Some(amps)) if amps > *most => vec![format!(
            "has interrupting {} A, above the {} A that are usual at most",
            figure(amps),
            figure(*most)
        )],
        _ => Vec::new(),
    }
}

fn bil(record: &Record, _: &Given) -> Vec<String> {
    let switching = [
        Class::Recloser,
        Class::Sectionalizer,
        Class::Cutout,
        Class::Switch,
        Class::Breaker,
    ];
    let Some(unit) = of_class(record, &switching) else {
        return Vec::new();
    };
    let (Some(kv), Some(bil)) = (
        unit.nameplate.number("max_kv"),
        unit.nameplate.number("bil_kv"),
    ) else {
        return Vec::new();
    };
    let class = BIL_KV.iter().find(|((a, b), _)| (*a..=*b).contains(&kv));
    match class {
        Some((_, (least, most))) if !(*least..=*most).contains(&bil) => vec![format!(
            "has BIL {} kV at {} kV maximum, where {} to {} kV is usual",
            figure(bil),
            figure(kv),
            figure(*least),
            figure(*most)
        )],
        _ => Vec::new(),
    }
}

fn of_class<'r>(record: &'r Record, classes: &[Class]) -> Option<&'r Unit> {
    match record {
        Record::Unit(u) if classes.is_empty() || classes.contains(&u.class) => Some(u),
        _ => None,
    }
}

fn on_list(list: &[f64], value: f64) -> bool {
    list.iter().any(|v| (v - value).abs() < 1e-6)
}

fn kva(record: &Record, _: &Given) -> Vec<String> {
    let Some(unit) = of_class(record, &[Class::Transformer]) else {
        return Vec::new();
    };
    let Some(kva) = unit.nameplate.number("kva") else {
        return Vec::new();
    };
    let three = unit.nameplate.number("phases").map(|n| n > 2.5);
    let listed = match three {
        Some(true) => on_list(THREE_PHASE_KVA, kva),
        Some(false) => on_list(SINGLE_PHASE_KVA, kva),
        None => on_list(THREE_PHASE_KVA, kva) || on_list(SINGLE_PHASE_KVA, kva),
    };
    if listed {
        return Vec::new();
    }
    vec![format!(
        "is recorded with {} kVA, which is not a preferred rating",
        figure(kva)
    )]
}

fn coil(record: &Record, _: &Given) -> Vec<String> {
    let coiled = of_class(record, &[Class::Recloser, Class::Sectionalizer]);
    coiled
        .and_then(|u| u.nameplate.number("coil_amps"))
        .filter(|amps| !on_list(COIL_AMPS, *amps))
        .map(|amps| {
            format!(
                "has a coil of {} A, which is not a standard size",
                figure(amps)
            )
        })
        .into_iter()
        .collect()
}

fn link(record: &Record, _: &Given) -> Vec<String> {
    let Record::Position(p) = record else {
        return Vec::new();
    };
    p.elements
        .iter()
        .chain(&p.bypass)
        .filter_map(|e| mark(e.link.as_ref()?))
        .filter(|mark| !made(mark))
        .map(|mark| format!("holds a link marked {mark}, a size that is not made"))
        .collect()
}

fn mark(stated: &Stated) -> Option<String> {
    stated.value.as_ref().map(|v| match v {
        Plain::Number(n) => n.to_string(),
        Plain::Text(t) => t.clone(),
    })
}

/// Whether a link of that mark is made; a bare size is tried as K.
pub(super) fn made(mark: &str) -> bool {
    parse_link(mark).is_some_and(|(rated, kind)| {
        link_continuous_amps(rated, kind.unwrap_or(LinkType::K)).is_some()
    })
}

/// Key and label of a plate figure.
type Figure = (&'static str, &'static str);

/// A clause when `small`, which must not be below `large`, is.
fn below(unit: &Unit, small: Figure, large: Figure) -> Option<String> {
    let least = unit.nameplate.number(large.0)?;
    let value = unit.nameplate.number(small.0)?;
    (value < least).then(|| {
        format!(
            "has {} {}, below its {} {}",
            small.1,
            figure(value),
            large.1,
            figure(least)
        )
    })
}

/// Clauses for pairs (must not be below, this) of a unit's plate.
fn pairs(record: &Record, pairs: &[(Figure, Figure)]) -> Vec<String> {
    let Some(unit) = of_class(record, &[]) else {
        return Vec::new();
    };
    pairs
        .iter()
        .filter_map(|(small, large)| below(unit, *small, *large))
        .collect()
}

const COIL: Figure = ("coil_amps", "coil");
const CONTINUOUS: Figure = ("continuous_amps", "continuous");
const INTERRUPTING: Figure = ("interrupting_amps", "interrupting");
const PEAK: Figure = ("peak_amps", "peak");
const MIN_TRIP: Figure = ("min_trip_amps", "minimum trip");

/// The continuous rating of the frame may lie above the trip of a small coil;
/// a coil, where there is one, is what counts.
fn trip(record: &Record, _: &Given) -> Vec<String> {
    let coiled = of_class(record, &[]).is_some_and(|u| u.nameplate.number(COIL.0).is_some());
    pairs(
        record,
        &[(MIN_TRIP, if coiled { COIL } else { CONTINUOUS })],
    )
}

fn peak(record: &Record, _: &Given) -> Vec<String> {
    if let Record::Position(p) = record {
        let both = p.elements.iter().chain(&p.bypass);
        return both.filter_map(asymmetrical_under).collect();
    }
    pairs(
        record,
        &[
            (PEAK, INTERRUPTING),
            (PEAK, ("making_amps", "making, rms,")),
            (PEAK, ("momentary_amps", "momentary")),
            (PEAK, ("short_time_amps", "short time")),
            (
                ("interrupting_asym_amps", "interrupting, asymmetrical,"),
                INTERRUPTING,
            ),
        ],
    )
}

/// An element whose asymmetrical rating lies below its symmetrical one.
fn asymmetrical_under(e: &Element) -> Option<String> {
    let number = |s: &Option<Stated>| s.as_ref().and_then(Stated::as_number);
    let (asym, sym) = (
        number(&e.interrupting_asym_amps)?,
        number(&e.interrupting_amps)?,
    );
    (asym < sym).then(|| {
        format!(
            "has a {} with interrupting, asymmetrical, {}, below its interrupting {}",
            e.element,
            figure(asym),
            figure(sym)
        )
    })
}

fn mcov(record: &Record, _: &Given) -> Vec<String> {
    pairs(
        record,
        &[(("duty_kv", "duty-cycle rating"), ("mcov_kv", "MCOV"))],
    )
}

fn interrupting(record: &Record, _: &Given) -> Vec<String> {
    pairs(record, &[(INTERRUPTING, CONTINUOUS), (INTERRUPTING, COIL)])
}
