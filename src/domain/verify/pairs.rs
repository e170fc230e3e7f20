//! Pairs of facts that cannot both be, and pairs that seldom are: two readings
//! of one entry, a stay and the day of make, the entries about one thing.

use super::{Detector, Given, MEANING, PRACTICE, Run};
use crate::calendar::Date;
use crate::domain::asset::{Class, Defect, Entry, Plain, Record, Unit};
use crate::domain::finding::RuleStanding;
use crate::units::figure;

/// Growth of a circumference that two tapes may differ by, inches. Common
/// practice, no source.
const TAPE_IN: f64 = 0.5;
/// Operations a day, on average between two readings, above which a counter
/// was misread: a regulator makes some tens a day. Common practice, no source.
const A_DAY: f64 = 100.0;
/// A rise below which nothing is said, whatever the days between. Common
/// practice, no source.
const LEAST_RISE: f64 = 1_000.0;

/// The rule about coordinates, put to a whole feeder where it is read.
pub const FAR: &str = "place-far-off";

pub(super) static DETECTORS: &[Detector] = &[
    Detector {
        name: "shell-over-radius",
        looks_at: "the shell of a pole against half its diameter, by the circumference of the same entry",
        why: "No shell is thicker than the pole is from its middle, so the strength figured with it is wrong.",
        fix: "Measure both again; a solid pole has no shell to write down.",
        source: "geometry: the radius is the circumference over two pi",
        standing: RuleStanding::Read,
        run: Run::Record(shell),
    },
    Detector {
        name: "taps-crossed",
        looks_at: "the lowest tap since reset against the highest, and the tap against both",
        why: "The lowest is never above the highest; the two were swapped or one is wrong.",
        fix: "Read the drag hands again, and write the lower one as the lowest.",
        source: MEANING,
        standing: RuleStanding::CommonPractice,
        run: Run::Record(taps),
    },
    Detector {
        name: "link-logged-off-list",
        looks_at: "links that entries say were found or put in, against the sizes that are made",
        why: "No such link is made, so what it carries and melts at is unknown.",
        fix: "Read the button of the link, and write the size as marked.",
        source: "list from memory, unconfirmed",
        standing: RuleStanding::FromMemory,
        run: Run::Record(links),
    },
    Detector {
        name: "stay-before-make",
        looks_at: "the stays of a unit, and the days its plate was read, against when it was made",
        why: "It was not there before it was made: the plate or the stay is that of another unit, or one date is a slip.",
        fix: "Compare the serial on the plate with the record, then correct the date that is wrong.",
        source: MEANING,
        standing: RuleStanding::CommonPractice,
        run: Run::Record(before_make),
    },
    Detector {
        name: FAR,
        looks_at: "coordinates of structures against the middle of their feeder",
        why: "No feeder reaches so far: latitude and longitude were swapped, a sign or a digit is wrong, and a crew sent there finds nothing.",
        fix: "Take the coordinates again at the pole, or off the map.",
        source: PRACTICE,
        standing: RuleStanding::CommonPractice,
        run: Run::Log,
    },
    Detector {
        name: "circumference-grew",
        looks_at: "the circumference of a pole from one reading to the next",
        why: "A pole in the ground only loses wood: one of the readings is of another height or another pole, and strength figured with the larger is too good.",
        fix: "Measure again at the ground line with decay removed, and read the tag.",
        source: PRACTICE,
        standing: RuleStanding::CommonPractice,
        run: Run::History(grew),
    },
    Detector {
        name: "counter-leap",
        looks_at: "the rise of an operations counter between two readings, by the days between them",
        why: "No device operates so often; a digit was misread or the counter is another one, and duty counted by it is wrong.",
        fix: "Read the counter again, and compare the serial on the sheet with the unit.",
        source: PRACTICE,
        standing: RuleStanding::CommonPractice,
        run: Run::History(leap),
    },
];

fn number(e: &Entry, key: &str) -> Option<f64> {
    e.readings.get(key)?.as_number()
}

fn shell(record: &Record, _: &Given) -> Vec<String> {
    let Record::Entry(e) = record else {
        return Vec::new();
    };
    let Some(around) = number(e, "circumference_in") else {
        return Vec::new();
    };
    let radius = around / std::f64::consts::TAU;
    ["shell_in", "pocket_shell_in"]
        .into_iter()
        .filter_map(|key| number(e, key))
        .filter(|shell| *shell > radius)
        .map(|shell| {
            format!(
                "has a shell of {} in where the pole is {} in from its middle ({} in around)",
                figure(shell),
                figure((radius * 10.0).round() / 10.0),
                figure(around)
            )
        })
        .collect()
}

fn taps(record: &Record, _: &Given) -> Vec<String> {
    let Record::Entry(e) = record else {
        return Vec::new();
    };
    let (low, high) = (number(e, "tap_min"), number(e, "tap_max"));
    match (low, high) {
        (Some(low), Some(high)) if low > high => vec![format!(
            "has {} as the lowest tap and {} as the highest",
            figure(low),
            figure(high)
        )],
        _ => Vec::new(),
    }
}

fn links(record: &Record, _: &Given) -> Vec<String> {
    let Record::Entry(e) = record else {
        return Vec::new();
    };
    ["link_found", "link_put"]
        .into_iter()
        .filter_map(|key| match e.readings.get(key)?.value.as_ref()? {
            Plain::Text(t) => Some(t.clone()),
            Plain::Number(n) => Some(n.to_string()),
        })
        .filter(|mark| !super::ratings::made(mark))
        .map(|mark| format!("names a link marked {mark}, of a size that is not made"))
        .collect()
}

/// The first day on which a unit can have been there, as far as its plate
/// tells.
#[must_use]
pub fn made_from(unit: &Unit) -> Option<Date> {
    let day = unit.nameplate.text("made_on").and_then(|t| t.parse().ok());
    #[expect(
        clippy::cast_possible_truncation,
        reason = "a year of make lies between 1900 and 2100"
    )]
    let year = || {
        let year = unit.nameplate.number("made_year")?;
        Date::from_ymd(year as i32, 1, 1)
    };
    day.or_else(year)
}

fn before_make(record: &Record, _: &Given) -> Vec<String> {
    let Record::Unit(u) = record else {
        return Vec::new();
    };
    let Some(made) = made_from(u) else {
        return Vec::new();
    };
    let stays = u.deployments.iter().filter_map(|d| {
        let from = d.from.filter(|from| *from < made)?;
        Some(format!("came to {} {}", d.at, from.spoken()))
    });
    let read = u.nameplate.iter().filter_map(|(field, value)| {
        let on = value.on.filter(|on| *on < made)?;
        Some(format!("has its {} read {}", field.label, on.spoken()))
    });
    let when = match u.nameplate.text("made_on") {
        Some(_) => made.spoken(),
        None => made.year().to_string(),
    };
    stays
        .chain(read)
        .map(|what| format!("{what}, and was made in {when}"))
        .collect()
}

/// What an entry says of a unit before that was made.
#[must_use]
pub fn entry_before_make(on: Date, unit: &Unit) -> Option<String> {
    let made = made_from(unit)?;
    (on < made).then(|| {
        format!(
            "the entry is of {}, and {} was made in {}",
            on.spoken(),
            unit.unit,
            made.year()
        )
    })
}

/// A class of a device, or none for a structure, and whether a defect can be
/// found on it. Common practice, no source.
fn can_have(class: Option<Class>, defect: Defect) -> bool {
    use Class::{Arrester, Capacitor, Cutout};
    match defect {
        Defect::PoleReject => class.is_none(),
        Defect::CanBulged => class == Some(Capacitor),
        Defect::OilBelowMark
        | Defect::OilLeak
        | Defect::OilTestFailed
        | Defect::ControlFaulty
        | Defect::BatteryLow
        | Defect::DutyUsedUp => class.is_some_and(|c| !matches!(c, Arrester | Cutout)),
        Defect::ContactsWorn => class.is_some_and(|c| c != Arrester),
        _ => true,
    }
}

/// What an entry finds or clears that what it is about cannot have, in
/// sentences.
#[must_use]
pub fn out_of_place(entry: &Entry, about: &Record) -> Vec<String> {
    let (class, what) = match about {
        Record::Unit(u) => (Some(u.class), u.class.word()),
        Record::Position(p) => (Some(p.class), p.class.word()),
        Record::Structure(_) => (None, "structure"),
        _ => return Vec::new(),
    };
    let words = [("finds", &entry.finds), ("clears", &entry.clears)];
    words
        .into_iter()
        .flat_map(|(verb, list)| list.iter().map(move |d| (verb, *d)))
        .filter(|(_, d)| !can_have(class, *d))
        .map(|(verb, d)| {
            format!(
                "the entry {verb} {d} on {}, and a {what} has none; is it about what hangs beside it?",
                about.name()
            )
        })
        .collect()
}

/// Structures of one feeder that lie so far from the rest that a figure is a
/// slip: their numbers in `places` (latitude and longitude in degrees).
#[must_use]
pub fn far_off(places: &[(f64, f64)]) -> Vec<(usize, f64)> {
    let median = |of: fn(&(f64, f64)) -> f64| {
        let mut all: Vec<f64> = places.iter().map(of).collect();
        all.sort_by(f64::total_cmp);
        all.get(all.len() / 2).copied()
    };
    let (Some(lat), Some(lon)) = (median(|p| p.0), median(|p| p.1)) else {
        return Vec::new();
    };
    if places.len() < FEW {
        return Vec::new();
    }
    let km = |(a, b): (f64, f64)| {
        let north = (a - lat) * KM_A_DEGREE;
        let east = (b - lon) * KM_A_DEGREE * lat.to_radians().cos();
        north.hypot(east)
    };
    places
        .iter()
        .map(|p| km(*p))
        .enumerate()
        .filter(|(_, km)| *km > FAR_KM)
        .collect()
}

/// Kilometres of one degree of latitude: 10,000 km from equator to pole.
const KM_A_DEGREE: f64 = 111.1;
/// Further than a feeder reaches. Common practice, no source.
const FAR_KM: f64 = 100.0;
/// Structures below which there is no middle to speak of.
const FEW: usize = 3;

/// Dated readings of one key, in the order of their days.
fn read<'e>(entries: &'e [(i64, Entry)], key: &str) -> Vec<(Date, f64, &'e Entry)> {
    let mut out: Vec<(Date, f64, &Entry)> = entries
        .iter()
        .filter_map(|(_, e)| Some((e.on?, number(e, key)?, e)))
        .collect();
    out.sort_by_key(|(on, _, _)| *on);
    out
}

fn grew(entries: &[(i64, Entry)]) -> Vec<String> {
    read(entries, "circumference_in")
        .windows(2)
        .filter(|w| w[1].1 > w[0].1 + TAPE_IN)
        .map(|w| {
            format!(
                "was {} in around {} and {} in {}",
                figure(w[0].1),
                w[0].0.spoken(),
                figure(w[1].1),
                w[1].0.spoken()
            )
        })
        .collect()
}

#[expect(clippy::cast_precision_loss, reason = "days of some years")]
fn leap(entries: &[(i64, Entry)]) -> Vec<String> {
    read(entries, "counter")
        .windows(2)
        .filter(|w| {
            let rise = w[1].1 - w[0].1;
            let days = w[1].0.days_since(w[0].0).max(1) as f64;
            rise >= LEAST_RISE && rise / days > A_DAY
        })
        .map(|w| {
            format!(
                "has a counter that read {} on {} and {} on {}",
                figure(w[0].1),
                w[0].0.spoken(),
                figure(w[1].1),
                w[1].0.spoken()
            )
        })
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::domain::asset::{EntryKind, Kind, RecordId, Stated};
    use serde_json::{Value, json};

    fn entry(on: &str, readings: &[(&str, f64)]) -> (i64, Entry) {
        let entry = Entry {
            entry: EntryKind::Inspection,
            id: RecordId::default(),
            of: "x".to_string(),
            on: on.parse().ok(),
            by: None,
            depth: None,
            readings: readings
                .iter()
                .map(|(k, v)| ((*k).to_string(), Stated::number(*v)))
                .collect(),
            finds: Vec::new(),
            clears: Vec::new(),
            note: None,
        };
        (0, entry)
    }

    fn odd(body: Value, kind: Kind) -> Vec<(&'static str, bool)> {
        let record = Record::from_value(kind, body).unwrap();
        let found = super::super::odd::odd(&record);
        found.iter().map(|o| (o.rule, o.cannot_be)).collect()
    }

    /// 31.4 in around is 4.997 in to the middle.
    #[test]
    fn a_shell_thicker_than_the_pole_cannot_be() {
        let of = |shell: f64| {
            odd(
                json!({"entry": "inspection", "of": "p", "readings": {"circumference_in": 31.4, "shell_in": shell}}),
                Kind::Entry,
            )
        };
        assert_eq!(of(5.1), [("shell-over-radius", true)]);
        assert_eq!(of(4.9), []);
    }

    #[test]
    fn a_lowest_tap_above_the_highest_cannot_be() {
        let of = |low: f64, high: f64| {
            odd(
                json!({"entry": "inspection", "of": "r", "readings": {"tap_min": low, "tap_max": high}}),
                Kind::Entry,
            )
        };
        assert_eq!(of(5.0, -3.0), [("taps-crossed", true)]);
        assert_eq!(of(-3.0, 5.0), []);
        assert_eq!(of(2.0, 2.0), []);
    }

    #[test]
    fn a_stay_before_the_make_is_odd() {
        let of = |from: &str| {
            odd(
                json!({"unit": "u", "class": "recloser", "nameplate": {"made_year": 1998},
                       "deployments": [{"at": "p", "from": from}]}),
                Kind::Unit,
            )
        };
        assert_eq!(of("1997-12-31"), [("stay-before-make", false)]);
        assert_eq!(of("1998-01-02"), []);
    }

    #[test]
    fn a_link_that_nobody_makes_is_odd_in_an_entry() {
        let of = |mark: &str| {
            odd(
                json!({"entry": "maintenance", "of": "p", "readings": {"link_put": mark}}),
                Kind::Entry,
            )
        };
        assert_eq!(of("13K"), [("link-logged-off-list", false)]);
        assert_eq!(of("banana"), [("link-logged-off-list", false)]);
        assert_eq!(of("12K"), []);
    }

    #[test]
    fn swapped_coordinates_lie_far_off() {
        let line = [
            (46.1, -110.2),
            (46.2, -110.3),
            (46.3, -110.1),
            (46.2, -110.2),
        ];
        assert_eq!(far_off(&line), []);
        for wrong in [(-110.2, 46.2), (46.2, 110.2), (4.62, -110.2)] {
            let mut all = line.to_vec();
            all.push(wrong);
            let found: Vec<usize> = far_off(&all).into_iter().map(|(n, _)| n).collect();
            assert_eq!(found, [4], "{wrong:?}");
        }
        assert_eq!(far_off(&[(46.1, -110.2), (-110.0, 46.0)]), []);
    }

    #[test]
    fn a_defect_that_the_thing_cannot_have_is_said() {
        let unit = |class: &str| {
            Record::from_value(Kind::Unit, json!({"unit": "u", "class": class})).unwrap()
        };
        let pole = Record::from_value(Kind::Structure, json!({"structure": "p", "kind": "pole"}));
        let mut e = entry("2026-01-02", &[]).1;
        e.finds = vec![Defect::PoleReject];
        assert_eq!(out_of_place(&e, &unit("recloser")).len(), 1);
        assert!(out_of_place(&e, &pole.unwrap()).is_empty());
        e.finds = vec![Defect::OilLeak];
        e.clears = vec![Defect::CanBulged];
        assert_eq!(out_of_place(&e, &unit("transformer")).len(), 1);
        assert_eq!(out_of_place(&e, &unit("cutout")).len(), 2);
        assert_eq!(out_of_place(&e, &unit("capacitor")).len(), 0);
    }

    #[test]
    fn a_pole_that_grew_and_a_counter_that_leapt_are_odd() {
        let around = |then: f64, now: f64| {
            grew(&[
                entry("2020-05-01", &[("circumference_in", then)]),
                entry("2026-05-01", &[("circumference_in", now)]),
            ])
            .len()
        };
        assert_eq!(
            (around(38.0, 39.0), around(38.0, 38.4), around(38.0, 30.0)),
            (1, 0, 0)
        );
        let count = |now: f64, on: &str| {
            leap(&[
                entry("2026-05-01", &[("counter", 214.0)]),
                entry(on, &[("counter", now)]),
            ])
            .len()
        };
        assert_eq!(count(21_400.0, "2026-07-01"), 1);
        assert_eq!(count(1_100.0, "2026-05-02"), 0, "too small a rise to say");
        assert_eq!(count(8_000.0, "2027-05-01"), 0, "a regulator makes as many");
        assert_eq!(count(100.0, "2026-07-01"), 0, "backwards is another rule");
    }
}
