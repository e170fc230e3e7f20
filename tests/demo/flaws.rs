//! The flaws put into the demo, each found by a rule that looks at every
//! record and finds just these.

use std::collections::BTreeSet;

use polecard::domain::asset::{Class, Defect, Kind, Record, Rel, Standing, Unit};

use super::{demo, noon, store, tally, walk};

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
    let d = demo();
    let twice = d.units.iter().filter(|u| u.present().count() > 1);
    assert_eq!(names(twice), BTreeSet::from(["1-36326"]));
}

#[test]
fn a_position_drawn_toward_its_source() {
    let d = demo();
    let t = walk::tree(d, None);
    let back: BTreeSet<&str> = d
        .positions
        .iter()
        .filter(|p| p.class.in_series() && p.ties.is_empty())
        .filter(|p| {
            let depth = |name: &Option<String>| t.depth_of(name.as_deref()?);
            match (depth(&p.structure), depth(&p.toward)) {
                (Some(here), Some(there)) => there < here,
                _ => false,
            }
        })
        .map(|p| p.position.as_str())
        .collect();
    assert_eq!(back, BTreeSet::from(["HB1-RC-9"]));
}

#[test]
fn units_without_a_date() {
    let d = demo();
    let undated = d.units.iter().filter(|u| {
        u.nameplate.get("made_year").is_none() && u.deployments.iter().any(|s| s.from.is_none())
    });
    assert_eq!(names(undated).len(), 9);
}

#[test]
fn an_operating_number_used_again() {
    let d = demo();
    let present: BTreeSet<&str> = d.positions.iter().map(|p| p.position.as_str()).collect();
    let reused: Vec<(&str, &str)> = d
        .positions
        .iter()
        .flat_map(|p| p.names.iter().map(move |n| (p, n)))
        .filter(|(_, n)| n.to.is_some() && present.contains(n.text.as_str()))
        .map(|(p, n)| (p.position.as_str(), n.text.as_str()))
        .collect();
    assert_eq!(reused, [("HB1-SW-11", "HB3-SW-8")]);
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

/// Every name that a record points at and nothing answers to.
#[test]
fn references_that_lead_nowhere_and_digits_swapped() {
    let store = store();
    let mut dangling = BTreeSet::new();
    for kind in Kind::ALL {
        for stored in store.all(*kind).unwrap() {
            for link in stored.record.links() {
                let wanted = wanted(link.rel);
                let hits = store.named(&link.target).unwrap();
                if !hits.iter().any(|h| wanted.is_none_or(|k| h.kind == k)) {
                    dangling.insert((stored.record.name(), link.target));
                }
            }
        }
    }
    let pair = |a: &str, b: &str| (a.to_string(), b.to_string());
    assert_eq!(
        dangling,
        BTreeSet::from([
            pair("HB2-TR-22", "40-181"),
            pair("6-11174", "HB3-SW-71"),
            pair("1-31419", unit_in_place()),
            pair("7-40191 inspection 2019-05-14", "7-40191"),
            pair("2236", "34-207"),
        ])
    );
    let swapped = "40-118";
    assert!(
        store
            .named(swapped)
            .unwrap()
            .iter()
            .any(|h| h.kind == Kind::Structure)
    );
}

/// The unit whose number stands where a position's belongs.
fn unit_in_place() -> &'static str {
    let d = demo();
    let units: BTreeSet<&str> = d.units.iter().map(|u| u.unit.as_str()).collect();
    let stay = &d.unit("1-31419").deployments[0];
    assert!(units.contains(stay.at.as_str()), "{} is a unit", stay.at);
    &stay.at
}

fn wanted(rel: Rel) -> Option<Kind> {
    match rel {
        Rel::HangsOn | Rel::Toward | Rel::SpanFrom | Rel::SpanTo | Rel::SourceAt | Rel::HeadAt => {
            Some(Kind::Structure)
        }
        Rel::DeployedAt | Rel::WasAt => Some(Kind::Position),
        Rel::FedFrom => Some(Kind::Source),
        Rel::Ties | Rel::Carries => Some(Kind::Feeder),
        _ => None,
    }
}

#[test]
fn dates_that_stand_for_some_day_of_the_year_or_have_not_come() {
    let d = demo();
    let new_year = d.units.iter().filter(|u| {
        u.deployments
            .iter()
            .any(|s| s.from.is_some_and(polecard::calendar::Date::is_new_year))
    });
    assert_eq!(names(new_year).len(), 7);
    let ahead: Vec<String> = d
        .entries
        .iter()
        .filter_map(|e| e.on)
        .filter(|on| *on > noon().date())
        .map(|on| on.to_string())
        .collect();
    assert_eq!(ahead, ["2062-06-04"]);
}

#[test]
fn serials_that_stand_for_none() {
    let d = demo();
    let placeholder = d.units.iter().filter(|u| {
        u.nameplate
            .text("serial")
            .is_some_and(|s| s == "N/A" || (s.len() > 3 && s.chars().all(|c| s.starts_with(c))))
    });
    assert_eq!(names(placeholder).len(), 4);
}

/// Sizes off the usual lists, and figures that contradict each other. The
/// list of transformer sizes and of link sizes is from memory, unconfirmed.
#[test]
fn ratings_that_cannot_be() {
    const KVA: &[f64] = &[
        5.0, 10.0, 15.0, 25.0, 37.5, 50.0, 75.0, 100.0, 150.0, 167.0, 225.0, 300.0, 500.0,
    ];
    const LINKS: &[&str] = &[
        "3", "6", "8", "10", "12", "15", "20", "25", "30", "40", "50", "65", "80", "100",
    ];
    let d = demo();
    let odd = d.units.iter().filter(|u| {
        u.class == Class::Transformer
            && u.nameplate.number("kva").is_some_and(|n| !KVA.contains(&n))
    });
    assert_eq!(names(odd), BTreeSet::from(["1-19109"]));
    let above = d.units.iter().filter(|u| {
        let figures = (u.nameplate.number("mcov_kv"), u.nameplate.number("duty_kv"));
        matches!(figures, (Some(mcov), Some(duty)) if mcov > duty)
    });
    assert_eq!(names(above), BTreeSet::from(["4-41914"]));
    let under = d.units.iter().filter(|u| {
        let figures = (
            u.nameplate.number("min_trip_amps"),
            u.nameplate.number("coil_amps"),
        );
        matches!(figures, (Some(trip), Some(coil)) if trip < coil)
    });
    assert_eq!(names(under), BTreeSet::from(["7-11131"]));
    let links: BTreeSet<&str> = d
        .positions
        .iter()
        .filter(|p| {
            p.elements.iter().any(|e| {
                let size = e.link.as_ref().and_then(|l| l.as_text());
                size.is_some_and(|s| !LINKS.contains(&s.trim_end_matches(['K', 'T'])))
            })
        })
        .map(|p| p.position.as_str())
        .collect();
    assert_eq!(links, BTreeSet::from(["HB3-FC-1"]));
}

#[test]
fn phases_that_do_not_fit_and_a_section_fed_twice() {
    let d = demo();
    let t = walk::tree(d, None);
    assert_eq!(t.again.len(), 1, "{:?}", t.again);
    let looped = t.again.iter().next().unwrap();
    let cable = |name: &str| d.structure(name).kind.word() == "pad";
    assert!(cable(&looped.0) && cable(&looped.1));
    let mut misfit = BTreeSet::new();
    for s in &d.spans {
        let Some(phases) = &s.span.phases else {
            continue;
        };
        let feeding: Vec<&String> = d
            .spans
            .iter()
            .filter(|o| o.span.to == s.span.from && o.feeder == s.feeder)
            .filter_map(|o| o.span.phases.as_ref())
            .collect();
        if !feeding.is_empty()
            && !feeding
                .iter()
                .any(|f| phases.chars().all(|c| f.contains(c)))
        {
            misfit.insert(s.span.to.clone());
        }
    }
    // The section recorded on the wrong phase, and the one after it, which
    // is on the right one.
    assert_eq!(misfit.len(), 2, "{misfit:?}");
    assert!(misfit.contains("60-126"));
}

#[test]
fn poles_that_nothing_reaches_and_a_conductor_misspelt() {
    let d = demo();
    let t = walk::tree(d, None);
    let lost: Vec<&str> = d
        .structures
        .iter()
        .map(|s| s.structure.as_str())
        .filter(|s| t.depth_of(s).is_none())
        .collect();
    assert_eq!(lost.len(), 2, "{lost:?}");
    let known: BTreeSet<&str> = d.conductors.iter().map(|c| c.conductor.as_str()).collect();
    let wrong: BTreeSet<&str> = d
        .spans
        .iter()
        .flat_map(|s| [s.span.conductor.as_deref(), s.neutral.as_deref()])
        .flatten()
        .filter(|c| !known.contains(c))
        .collect();
    assert_eq!(wrong, BTreeSet::from(["1/0 ASCR"]));
}

#[test]
fn a_counter_that_ran_backwards_and_a_lamp_against_its_dial() {
    let d = demo();
    let mut back = BTreeSet::new();
    for u in &d.units {
        let mut last = f64::MIN;
        for e in d.entries_of(&u.unit) {
            let Some(n) = e.readings.get("counter").and_then(|c| c.as_number()) else {
                continue;
            };
            if n < last {
                back.insert(u.unit.as_str());
            }
            last = n;
        }
    }
    // The second is the sheet with the year 2062, which sorts last.
    assert_eq!(back, BTreeSet::from(["7-12966", "7-26969"]));
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
    let d = demo();
    let stale: BTreeSet<&str> = d
        .positions
        .iter()
        .filter(|p| p.feeder.as_deref() == Some("SF1"))
        .filter(|p| {
            let study = p.available_fault.as_ref().and_then(|f| f.date);
            study.is_some_and(|on| on.year() < 2023)
        })
        .map(|p| p.position.as_str())
        .collect();
    assert_eq!(stale, BTreeSet::from(["SF1-FC-2"]));
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
