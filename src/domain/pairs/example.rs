//! A worked example of each rule about pairs, on invented devices.

use super::{End, Ground, Pair, PairFinding, PairRule, Role};
use crate::domain::curve::curve;
use crate::domain::nameplate::{Choices, LinkType};
use crate::domain::sequence::{Settings, Timing};

fn end(name: &str, role: Role) -> End {
    End {
        name: name.to_string(),
        role,
        doubts: Vec::new(),
    }
}

fn link(rated: f64, kind: LinkType) -> End {
    let name = format!("a link of {rated}{}", kind.word());
    end(&name, Role::Link(Some((rated, kind))))
}

/// IEEE very inverse curves on a pickup, two fast and two delayed trips.
fn trips(name: &str, relay: bool, (dial, pickup_amps): (f64, f64)) -> End {
    let timing = |dial: f64| match curve("IEEE very inverse") {
        Some(curve) => Timing::Standard {
            curve,
            dial,
            pickup_amps,
            opening_s: 5.0 / 60.0,
        },
        None => Timing::Unknown("no such curve".to_string()),
    };
    let settings = Settings {
        fast: if relay { 0 } else { 2 },
        delayed: 2,
        fast_timing: timing(0.1),
        delayed_timing: timing(dial),
        intervals_s: vec![2.0, 2.0, 5.0],
        reset_s: Some(30.0),
    };
    end(
        name,
        Role::Trips {
            settings: Some(settings),
            min_trip_amps: Some(pickup_amps),
            blocked: None,
            relay,
            ground: Box::new(Ground::Nothing),
        },
    )
}

/// What the rule says of its example.
#[must_use]
pub fn example(rule: &PairRule) -> Option<PairFinding> {
    let counter = end(
        "a sectionalizer",
        Role::Counts {
            counts: Some(3.0),
            memory_s: Some(90.0),
            actuating_amps: Some(160.0),
        },
    );
    let recloser = || trips("a recloser", false, (2.0, 200.0));
    let breaker = trips("a breaker", true, (10.0, 400.0));
    let higher = trips("the next recloser", false, (4.0, 400.0));
    let pairs = [
        (link(10.0, LinkType::K), link(40.0, LinkType::K), 600.0),
        (link(65.0, LinkType::T), recloser(), 1_000.0),
        (recloser(), link(200.0, LinkType::T), 1_000.0),
        (counter.clone(), recloser(), 1_000.0),
        (recloser(), higher, 1_000.0),
        (recloser(), breaker, 1_000.0),
        (counter, link(65.0, LinkType::T), 1_000.0),
    ];
    let choices = Choices::default();
    let all = pairs.iter().flat_map(|(load_side, source_side, amps)| {
        let pair = Pair {
            load_side,
            source_side,
            between: (0, None),
            choices: &choices,
            to_ground: false,
        };
        pair.judge(Some(*amps))
    });
    // The one that passes, where there is one: it shows the figures best.
    let of_rule: Vec<PairFinding> = all.filter(|f| f.rule == rule.name).collect();
    let passing = of_rule.iter().position(|f| f.verdict.passes());
    of_rule.into_iter().nth(passing.unwrap_or(0))
}

#[cfg(test)]
mod tests {
    use super::super::{NO_RULE, PAIR_RULES};
    use super::*;

    #[test]
    fn every_rule_about_pairs_has_an_example_with_figures() {
        for rule in PAIR_RULES {
            let found = example(rule).unwrap_or_else(|| panic!("{}: no example", rule.name));
            let figures = found.value.is_some() && found.limit.is_some();
            assert_eq!(figures, rule.name != NO_RULE.name, "{found:#?}");
            assert_eq!(found.verdict.passes(), figures, "{found:#?}");
        }
    }
}
