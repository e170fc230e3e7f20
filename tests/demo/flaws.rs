//! The flaws put into the demo, each found by a rule that looks at every
//! record and finds just these. Where the program has a detector it is the
//! program's; the lists to be found are written here.

use std::collections::BTreeSet;

use polecard::calendar::Clock;
use polecard::domain::asset::{Class, Defect, Kind, Record, Standing, Unit};
use polecard::work::verify::{Asked, VerifyReport, verify};

use super::{demo, noon, store, tally, walk};

/// The demo's health, made once.
fn health() -> &'static VerifyReport {
    static MADE: std::sync::OnceLock<VerifyReport> = std::sync::OnceLock::new();
    MADE.get_or_init(|| verify(&store(), &Asked::default(), Clock::Fixed(noon())).unwrap())
}

/// The records that a detector finds.
fn found(rule: &str) -> BTreeSet<&'static str> {
    let of_rule = health().findings.iter().filter(|f| f.rule == rule);
    of_rule.map(|f| f.record.as_str()).collect()
}

fn names<'a>(units: impl Iterator<Item = &'a Unit>) -> BTreeSet<&'a str> {
    units.map(|u| u.unit.as_str()).collect()
}

#[test]
fn ratings_nobody_has_read() {
    let d = demo();
    let standing = |u: &Unit, key: &str| u.nameplate.get(key).map(|v| v.standing);
    let interrupting =
        |s: Standing| {
            names(d.units.iter().filter(|u| {
                u.class == Class::Recloser && standing(u, "interrupting_amps") == Some(s)
            }))
        };
    assert!(interrupting(Standing::Assumed).contains("7-20931"));
    assert!(!interrupting(Standing::Unknown).is_empty());
    assert!(!interrupting(Standing::Known).is_empty());
    let unread = d.units.iter().filter(|u| {
        u.nameplate
            .iter()
            .any(|(_, v)| v.standing == Standing::Unknown)
    });
    let n = unread.count();
    assert!(n > 30 && n < d.units.len() / 2, "{n}");
}

#[test]
fn a_unit_beyond_its_interrupting_rating_since_the_substation_was_enlarged() {
    let d = demo();
    let mut beyond = BTreeSet::new();
    for p in &d.positions {
        let Some(fault) = &p.available_fault else {
            continue;
        };
        for u in d.units_at(&p.position) {
            let rating = u.nameplate.stated("interrupting_amps");
            if rating.is_known() && rating.as_number().unwrap() < fault.amps.get() {
                beyond.insert((p.position.as_str(), rating.as_number().unwrap() as i64));
            }
        }
    }
    assert_eq!(beyond, BTreeSet::from([("SF1-RC-3", 2_000)]));
}

#[test]
fn an_oil_level_below_the_mark_that_nothing_has_cleared() {
    let d = demo();
    let mut low = BTreeSet::new();
    let about: BTreeSet<&str> = d.entries.iter().map(|e| e.of.as_str()).collect();
    for name in about {
        let mut open = false;
        for e in d.entries_of(name) {
            open |= e.finds.contains(&Defect::OilBelowMark);
            open &= !e.clears.contains(&Defect::OilBelowMark);
        }
        if open {
            low.insert(name);
        }
    }
    assert_eq!(low, BTreeSet::from(["7-20931"]));
    let seen = d.entries_of("7-20931").last().unwrap().on.unwrap();
    assert_eq!(seen.to_string(), "2026-09-12");
    assert!(
        d.orders
            .iter()
            .any(|o| o.order == "2231" && o.of == "HB2-RC-14")
    );
}

#[test]
fn a_unit_recorded_at_two_places() {
    assert_eq!(found("unit-two-places"), BTreeSet::from(["1-36326"]));
}

#[test]
fn a_position_drawn_toward_its_source() {
    assert_eq!(found("toward-source"), BTreeSet::from(["HB1-RC-9"]));
}

#[test]
fn units_without_a_date() {
    let undated = found("stay-undated");
    assert_eq!(undated.len(), 9);
    for name in undated {
        assert!(demo().unit(name).nameplate.get("made_year").is_none());
    }
}

#[test]
fn an_operating_number_used_again() {
    assert_eq!(found("name-reused"), BTreeSet::from(["HB1-SW-11"]));
    let d = demo();
    let old = &d.position("HB1-SW-11").names[0];
    assert_eq!(old.text, d.position("HB3-SW-8").position);
}

#[test]
fn the_present_holder_of_a_reused_number_is_found_first() {
    let hits = store().named("HB3-SW-8").unwrap();
    let ranks: Vec<u8> = hits
        .iter()
        .filter(|h| h.kind == Kind::Position)
        .map(|h| h.rank)
        .collect();
    assert_eq!(ranks, [0, 2]);
}

#[test]
fn references_that_lead_nowhere_and_digits_swapped() {
    assert_eq!(
        found("reference-nowhere"),
        BTreeSet::from([
            "HB2-TR-22",
            "6-11174",
            "2236",
            "7-40191 inspection 2019-05-14"
        ])
    );
    assert_eq!(found("id-of-other-kind"), BTreeSet::from(["1-31419"]));
    // The pole of the transformer with the swapped digits is there.
    let meant = store().named("40-118").unwrap();
    assert!(meant.iter().any(|h| h.kind == Kind::Structure));
    assert!(store().named("40-181").unwrap().is_empty());
}

#[test]
fn dates_that_stand_for_some_day_of_the_year_or_have_not_come() {
    assert_eq!(found("date-new-year").len(), 7);
    assert_eq!(
        found("date-future"),
        BTreeSet::from(["7-26969 inspection 2062-06-04"])
    );
}

#[test]
fn serials_that_stand_for_none() {
    let placeholder = found("placeholder-value");
    assert_eq!(placeholder.len(), 4);
    for name in placeholder {
        let serial = demo().unit(name).nameplate.text("serial").unwrap();
        assert!(["N/A", "000000", "999999"].contains(&serial), "{serial}");
    }
}

#[test]
fn ratings_that_cannot_be() {
    assert_eq!(found("kva-off-list"), BTreeSet::from(["1-19109"]));
    assert_eq!(found("mcov-over-duty"), BTreeSet::from(["4-41914"]));
    assert_eq!(found("trip-under-continuous"), BTreeSet::from(["7-11131"]));
    assert_eq!(found("link-off-list"), BTreeSet::from(["HB3-FC-1"]));
}

/// The program's walk against the one written for these tests alone.
#[test]
fn phases_that_do_not_fit_and_a_section_fed_twice() {
    let again = walk::tree(demo(), None).again;
    assert_eq!(again.len(), 1, "{again:?}");
    let looped = found("section-fed-twice");
    assert_eq!(looped.len(), 1, "{looped:?}");
    let (a, b) = looped.first().unwrap().split_once(" to ").unwrap();
    let pad = |name: &str| demo().structure(name).kind.word() == "pad";
    assert!(pad(a) && pad(b));
    // The section recorded on the wrong phase, and the one after it, which
    // is on the right one.
    assert_eq!(
        found("span-phases"),
        BTreeSet::from(["60-125 to 60-126", "60-126 to 60-127"])
    );
}

#[test]
fn poles_that_nothing_reaches_and_a_conductor_misspelt() {
    let d = demo();
    let t = walk::tree(d, None);
    let lost: BTreeSet<&str> = d
        .structures
        .iter()
        .map(|s| s.structure.as_str())
        .filter(|s| t.depth_of(s).is_none())
        .collect();
    assert_eq!(lost.len(), 2, "{lost:?}");
    assert_eq!(found("structure-unreached"), lost);
    assert_eq!(
        found("conductor-unknown"),
        BTreeSet::from(["44-162 to 44-163"])
    );
}

#[test]
fn a_counter_that_ran_backwards_and_a_lamp_against_its_dial() {
    let d = demo();
    // The second is the sheet with the year 2062, which sorts last.
    assert_eq!(
        found("counter-backwards"),
        BTreeSet::from(["7-12966", "7-26969"])
    );
    let dark = d.entries.iter().filter(|e| {
        let reading = |key: &str| {
            e.readings
                .get(key)
                .and_then(|v| v.value.as_ref())
                .map(ToString::to_string)
        };
        reading("tap").as_deref() == Some("0") && reading("neutral_lamp").as_deref() == Some("off")
    });
    assert_eq!(dark.count(), 1);
}

#[test]
fn a_study_older_than_the_larger_transformer() {
    assert_eq!(
        found("study-older-than-source"),
        BTreeSet::from(["SF1-FC-2"])
    );
}

#[test]
fn readings_and_dates_that_cannot_go_together() {
    assert_eq!(found("circumference-grew"), BTreeSet::from(["40-133"]));
    assert!(found("shell-over-radius").contains("43-160 inspection 2019-03-26"));
    // A first of January stands for a day nobody knew, here before the unit was made.
    assert!(found("stay-before-make").is_subset(&found("date-new-year")));
}

/// Nothing else is wrong with the demo: what a detector finds was put there.
#[test]
fn every_finding_is_a_flaw_that_was_put_there() {
    let counts: Vec<(&str, usize)> = health().counts.iter().map(|c| (c.rule, c.found)).collect();
    assert_eq!(
        counts,
        [
            ("name-reused", 1),
            ("placeholder-value", 4),
            ("conductor-unknown", 1),
            ("reference-nowhere", 4),
            ("id-of-other-kind", 1),
            ("unit-two-places", 1),
            ("stay-undated", 9),
            ("slot-empty", 1),
            ("structure-unreached", 2),
            ("section-fed-twice", 1),
            ("toward-source", 1),
            ("span-phases", 2),
            ("kva-off-list", 1),
            ("link-off-list", 1),
            ("trip-under-continuous", 1),
            ("mcov-over-duty", 1),
            ("shell-over-radius", 5),
            ("stay-before-make", 5),
            ("circumference-grew", 1),
            ("date-new-year", 7),
            ("date-future", 1),
            ("study-older-than-source", 1),
            ("counter-backwards", 2),
        ]
    );
    assert!(health().chain.intact);
    let store = store();
    let all: u64 = Kind::ALL.iter().map(|k| store.count(*k).unwrap()).sum();
    assert_eq!(u64::try_from(health().records).unwrap(), all);
    assert_eq!(health().read_next[0].position, "HB2-RC-14");
}

#[test]
fn notices_hit_some_units_and_not_most() {
    let d = demo();
    for stored in store().all(Kind::Notice).unwrap() {
        let Record::Notice(n) = stored.record else {
            continue;
        };
        let made = |u: &Unit| u.nameplate.number("made_year");
        let hit = d.units.iter().filter(|u| {
            n.hits.class.is_none_or(|c| c == u.class)
                && n.hits
                    .model
                    .as_deref()
                    .is_none_or(|m| u.nameplate.text("model") == Some(m))
                && n.hits
                    .made_from
                    .is_none_or(|y| made(u).is_some_and(|m| m >= y.get()))
                && n.hits
                    .made_to
                    .is_none_or(|y| made(u).is_some_and(|m| m <= y.get()))
        });
        let hit = hit.count();
        assert!((1..30).contains(&hit), "{}: {hit}", n.notice);
    }
    let states = tally(d.orders.iter().map(|o| o.state.word()));
    assert_eq!(states.len(), 4, "{states:?}");
}
