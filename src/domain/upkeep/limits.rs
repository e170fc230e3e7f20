//! Limits that readings are held against: each a default with its source and
//! standing, which the utility may set among its choices.

use std::collections::BTreeMap;

use crate::domain::asset::Stated;
use crate::domain::finding::RuleStanding::{self, CommonPractice, FromMemory, Inferred, Read};

/// One limit.
#[derive(Debug)]
pub struct Limit {
    /// As the utility's choice is called.
    pub name: &'static str,
    pub default: f64,
    /// What a utility may set it to.
    pub bounds: (f64, f64),
    pub source: &'static str,
    pub standing: RuleStanding,
}

const fn limit(
    name: &'static str,
    default: f64,
    bounds: (f64, f64),
    source: &'static str,
    standing: RuleStanding,
) -> Limit {
    Limit {
        name,
        default,
        bounds,
        source,
        standing,
    }
}

const KV: (f64, f64) = (1.0, 100.0);
const RECLOSER: &str = "a military maintenance manual (TM 5-684), recloser maintenance: replace below 22 kV, new oil 26 kV or more, 0.1 in gap; a maker's sheet replaces at 22 kV too";
const BREAKER: &str = "a military maintenance manual (TM 5-685), liquid of breakers and switchgear: filter or replace below 22 kV, replacement 26 kV or more, 0.1 in gap; an older building guide said 18 kV";
const LIKE_SWITCHGEAR: &str =
    "no limit of its own was read; that of switchgear liquid (TM 5-685) is taken";
const TRANSFORMER: &str =
    "a military maintenance manual (TM 5-684), annual tests of transformers: D877 22 kV or more";
const C57106: &str = "IEEE C57.106, oil of service-aged transformers, as remembered";
const C57106_BREAKER: &str = "IEEE C57.106, line of oil circuit breakers, as remembered";

const OUR_DAYS: &str = "days within which an order of this priority is to be done: common practice, no source; an unconfirmed default";

/// Every limit. A figure from memory is shown as unconfirmed wherever it is
/// used.
pub static LIMITS: &[Limit] = &[
    limit("oil_recloser_d877_kv", 22.0, KV, RECLOSER, Read),
    limit("new_oil_recloser_d877_kv", 26.0, KV, RECLOSER, Read),
    limit("oil_breaker_d877_kv", 22.0, KV, BREAKER, Read),
    limit("new_oil_breaker_d877_kv", 26.0, KV, BREAKER, Read),
    limit(
        "oil_breaker_d877_guide_kv",
        25.0,
        KV,
        C57106_BREAKER,
        FromMemory,
    ),
    limit(
        "oil_breaker_d1816_1mm_kv",
        20.0,
        KV,
        C57106_BREAKER,
        FromMemory,
    ),
    limit(
        "oil_breaker_d1816_2mm_kv",
        27.0,
        KV,
        C57106_BREAKER,
        FromMemory,
    ),
    limit("oil_switch_d877_kv", 22.0, KV, BREAKER, Read),
    limit("new_oil_switch_d877_kv", 26.0, KV, BREAKER, Read),
    limit(
        "oil_sectionalizer_d877_kv",
        22.0,
        KV,
        LIKE_SWITCHGEAR,
        Inferred,
    ),
    limit("oil_regulator_d877_kv", 22.0, KV, LIKE_SWITCHGEAR, Inferred),
    limit("oil_transformer_d877_kv", 22.0, KV, TRANSFORMER, Read),
    limit(
        "oil_transformer_guide_kv",
        25.0,
        KV,
        "a federal reclamation guide as quoted: 25 kV or more below 287.5 kV, method not named; never act on one result",
        Read,
    ),
    limit("oil_transformer_d1816_1mm_kv", 23.0, KV, C57106, FromMemory),
    limit("oil_transformer_d1816_2mm_kv", 40.0, KV, C57106, FromMemory),
    limit(
        "oil_transformer_d1816_1mm_over_69_kv",
        28.0,
        KV,
        C57106,
        FromMemory,
    ),
    limit(
        "oil_transformer_d1816_2mm_over_69_kv",
        47.0,
        KV,
        C57106,
        FromMemory,
    ),
    limit(
        "oil_transformer_d1816_1mm_from_230_kv",
        30.0,
        KV,
        C57106,
        FromMemory,
    ),
    limit(
        "oil_transformer_d1816_2mm_from_230_kv",
        50.0,
        KV,
        C57106,
        FromMemory,
    ),
    limit(
        "water_transformer_ppm",
        35.0,
        (1.0, 200.0),
        C57106,
        FromMemory,
    ),
    limit(
        "water_transformer_over_69_ppm",
        25.0,
        (1.0, 200.0),
        C57106,
        FromMemory,
    ),
    limit(
        "water_transformer_from_230_ppm",
        20.0,
        (1.0, 200.0),
        C57106,
        FromMemory,
    ),
    limit(
        "acid_transformer_mg_koh",
        0.4,
        (0.01, 5.0),
        "a military maintenance manual (TM 5-684), annual tests of transformers: acidity 0.4 mg KOH/g at most in mineral oil",
        Read,
    ),
    limit(
        "d1816_1mm_scatter_percent",
        40.0,
        (5.0, 90.0),
        "ASTM D1816, two results of one operator agree within 40 % at 1 mm",
        Read,
    ),
    limit(
        "d1816_2mm_scatter_percent",
        40.0,
        (5.0, 90.0),
        "ASTM D1816 prints 30 % at 2 mm; the wider 40 % of 1 mm is taken for both",
        Inferred,
    ),
    limit(
        "d877_scatter_percent",
        40.0,
        (5.0, 90.0),
        "the scatter of ASTM D877 was not read; that of D1816 is taken",
        Inferred,
    ),
    limit(
        "can_case_investigate_c",
        55.0,
        (30.0, 90.0),
        "a military manual on capacitors (MO-116): investigate a case above 55 °C",
        Read,
    ),
    limit(
        "can_case_never_c",
        65.0,
        (30.0, 120.0),
        "a military manual on capacitors (MO-116): never above 65 °C",
        Read,
    ),
    limit(
        "pole_reject_fraction",
        2.0 / 3.0,
        (0.3, 1.0),
        "2/3 of the strength required when installed: California GO 64-A rule 44.2, read; the NESC, grades B and C, as remembered",
        Read,
    ),
    limit(
        "order_urgent_days",
        1.0,
        (0.0, 3_650.0),
        OUR_DAYS,
        CommonPractice,
    ),
    limit(
        "order_soon_days",
        30.0,
        (0.0, 3_650.0),
        OUR_DAYS,
        CommonPractice,
    ),
    limit(
        "order_planned_days",
        180.0,
        (0.0, 3_650.0),
        OUR_DAYS,
        CommonPractice,
    ),
    limit(
        "battery_low_share",
        1.0,
        (0.5, 1.2),
        "a battery below its nominal voltage is run down: common practice, no source",
        CommonPractice,
    ),
];

/// The limits in force.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Limits {
    set: BTreeMap<&'static str, f64>,
}

impl Limits {
    /// Those that the utility has set among its choices, where they are
    /// figures within the bounds; the defaults elsewhere.
    #[must_use]
    pub fn from_map(choices: &BTreeMap<String, Stated>) -> Limits {
        let mut set = BTreeMap::new();
        for l in LIMITS {
            let wanted = choices.get(l.name).and_then(Stated::as_number);
            if let Some(n) = wanted.filter(|n| (l.bounds.0..=l.bounds.1).contains(n)) {
                set.insert(l.name, n);
            }
        }
        Limits { set }
    }

    /// A limit by its name, with its source and standing; those of the utility
    /// when it has set it.
    #[must_use]
    pub fn get(&self, name: &str) -> Option<(f64, &'static str, RuleStanding)> {
        let row = LIMITS.iter().find(|l| l.name == name)?;
        Some(match self.set.get(name) {
            Some(own) => (*own, "a choice of the utility", CommonPractice),
            None => (row.default, row.source, row.standing),
        })
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_limit_is_the_utilitys_where_it_has_set_one_within_bounds() {
        for l in LIMITS {
            assert!((l.bounds.0..=l.bounds.1).contains(&l.default), "{}", l.name);
            assert_eq!(LIMITS.iter().filter(|o| o.name == l.name).count(), 1);
        }
        let choices = BTreeMap::from([
            ("oil_recloser_d877_kv".to_string(), Stated::number(24.0)),
            ("oil_breaker_d877_kv".to_string(), Stated::number(900.0)),
        ]);
        let limits = Limits::from_map(&choices);
        let kv = |n: &str| limits.get(n).map(|l| l.0);
        assert_eq!(kv("oil_recloser_d877_kv"), Some(24.0));
        assert_eq!(kv("oil_breaker_d877_kv"), Some(22.0));
        assert_eq!(kv("no_such_limit"), None);
    }
}
