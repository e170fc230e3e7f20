//! Named choices of the utility, each default with its source and standing.

mod table;

use std::collections::BTreeMap;

use crate::domain::asset::{Plain, Stated};
use crate::domain::fault::Basis;
use crate::domain::finding::{ChoiceUsed, RuleStanding};
use crate::units::figure;

pub use table::CHOICES;

/// One choice: what it may be, what it is when the utility says nothing, and
/// on what the default rests.
#[derive(Debug)]
pub struct ChoiceDef {
    pub name: &'static str,
    pub default: &'static str,
    pub allowed: Allowed,
    pub about: &'static str,
    pub source: &'static str,
    pub standing: RuleStanding,
}

/// What a choice may hold.
#[derive(Debug, Clone, Copy)]
pub enum Allowed {
    /// A number between two bounds.
    Number(f64, f64),
    /// One of these words.
    Words(&'static [&'static str]),
}

pub const TIGHT: &str = "tight_margin_percent";
pub const TIGHT_KV: &str = "voltage_tight_margin_percent";
pub const COIL_LOADING: &str = "coil_loading";
pub const TRIP_TOLERANCE: &str = "min_trip_tolerance_percent";
pub const VOLTAGE_RANGE: &str = "voltage_range";
pub const DERATING_BASIS: &str = "derating_basis";
pub const REACH: &str = "reach_factor";
pub const FAULT_OHMS: &str = "fault_resistance_ohms";
pub const FAULT_OHMS_ARE: &str = "fault_resistance_is";
pub const LINK_CLEARS_S: &str = "link_clears_within_s";
pub const LINK_LOAD: &str = "link_load_percent";
pub const INRUSH_FIRST: &str = "inrush_multiple_at_hundredth_s";
pub const INRUSH: &str = "inrush_multiple_at_tenth_s";
pub const COLD_1: &str = "cold_load_multiple_at_1_s";
pub const COLD_10: &str = "cold_load_multiple_at_10_s";
pub const COLD_LONG: &str = "cold_load_multiple_long";
pub const COLD_LONG_S: &str = "cold_load_long_s";
pub const COLD_FULL: &str = "cold_load_full_after_minutes";
pub const INTERRUPTING_CYCLES: &str = "interrupting_cycles";
pub const ALUMINIUM_C: &str = "bare_aluminium_limit_c";
pub const COPPER_C: &str = "bare_copper_limit_c";
pub const ELEVATION: &str = "elevation_metres";
pub const OWN_VOLTAGE: &str = "own_voltage_percent";
pub const CAPACITOR_TOLERANCE: &str = "capacitor_tolerance_percent";
pub const LEAD_DROP: &str = "arrester_lead_kv_per_ft";
pub const SURGE_MARGIN: &str = "surge_margin_percent";
pub const RECLOSER_INTERVAL: &str = "recloser_interval_s";
pub const RELAY_INTERVAL: &str = "relay_interval_s";
pub const RELAY_RESET: &str = "relay_reset";
pub const IMPEDANCE_TOLERANCE: &str = "impedance_tolerance_percent";

/// The choices in force.
#[derive(Debug, Clone, PartialEq)]
pub struct Choices {
    values: BTreeMap<&'static str, Plain>,
}

impl Default for Choices {
    fn default() -> Self {
        Choices {
            values: CHOICES.iter().map(|c| (c.name, parse(c.default))).collect(),
        }
    }
}

fn parse(text: &str) -> Plain {
    text.parse()
        .map_or_else(|_| Plain::Text(text.to_string()), Plain::Number)
}

impl ChoiceDef {
    fn accepts(&self, value: &Plain) -> bool {
        match (self.allowed, value) {
            (Allowed::Number(min, max), Plain::Number(n)) => (min..=max).contains(n),
            (Allowed::Words(words), Plain::Text(t)) => words.contains(&t.as_str()),
            _ => false,
        }
    }

    /// What is allowed, in words.
    #[must_use]
    pub fn allows(&self) -> String {
        match self.allowed {
            Allowed::Number(min, max) => format!("{} to {}", figure(min), figure(max)),
            Allowed::Words(words) => words.join(" or "),
        }
    }
}

impl Choices {
    /// Reads the utility's choices. What it does not say, or says in a way
    /// that is not allowed, stays at the default; the second part says which.
    #[must_use]
    pub fn from_map(map: &BTreeMap<String, Stated>) -> (Choices, Vec<String>) {
        let mut choices = Choices::default();
        let mut refused = Vec::new();
        for def in CHOICES {
            let Some(stated) = map.get(def.name) else {
                continue;
            };
            match &stated.value {
                Some(value) if def.accepts(value) => {
                    choices.values.insert(def.name, value.clone());
                }
                other => refused.push(format!(
                    "the utility's choice {} is {}, which is not {}: judged by the default {}",
                    def.name,
                    other
                        .as_ref()
                        .map_or("unknown".to_string(), Plain::to_string),
                    def.allows(),
                    def.default
                )),
            }
        }
        (choices, refused)
    }

    /// Sets one choice.
    ///
    /// # Errors
    /// When there is no such choice, or the value is not allowed.
    pub fn set(&mut self, name: &str, value: Plain) -> Result<(), String> {
        let def = CHOICES
            .iter()
            .find(|c| c.name == name)
            .ok_or_else(|| format!("no choice is called {name:?}"))?;
        if !def.accepts(&value) {
            return Err(format!("{name}: {value} is not {}", def.allows()));
        }
        self.values.insert(def.name, value);
        Ok(())
    }

    /// A choice that is a number.
    #[must_use]
    pub fn number(&self, name: &str) -> f64 {
        match self.values.get(name) {
            Some(Plain::Number(n)) => *n,
            _ => f64::NAN,
        }
    }

    fn is(&self, name: &str, word: &str) -> bool {
        matches!(self.values.get(name), Some(Plain::Text(t)) if t == word)
    }

    #[must_use]
    pub fn tight_percent(&self) -> f64 {
        self.number(TIGHT)
    }

    #[must_use]
    pub fn tight_kv_percent(&self) -> f64 {
        self.number(TIGHT_KV)
    }

    /// The share of a coil's rating that it may carry.
    #[must_use]
    pub fn coil_share(&self) -> f64 {
        if self.is(COIL_LOADING, "seventy_percent") {
            0.7
        } else {
            1.0
        }
    }

    #[must_use]
    pub fn trip_tolerance(&self) -> f64 {
        self.number(TRIP_TOLERANCE) / 100.0
    }

    #[must_use]
    pub fn range_a(&self) -> bool {
        self.is(VOLTAGE_RANGE, "A")
    }

    #[must_use]
    pub fn basis(&self) -> Basis {
        if self.is(DERATING_BASIS, "peak") {
            Basis::FirstPeak
        } else {
            Basis::HalfCycleRms
        }
    }

    #[must_use]
    pub fn reach(&self) -> f64 {
        self.number(REACH)
    }

    /// Whether relays are taken to reset at once.
    #[must_use]
    pub fn relay_resets_at_once(&self) -> bool {
        self.is(RELAY_RESET, "at_once")
    }

    /// Whether the assumed fault resistance is judged, or only noted.
    #[must_use]
    pub fn ceiling_judged(&self) -> bool {
        self.is(FAULT_OHMS_ARE, "judged")
    }

    /// A choice as a finding names it.
    #[must_use]
    pub fn used(&self, name: &'static str) -> ChoiceUsed {
        ChoiceUsed {
            name,
            value: self
                .values
                .get(name)
                .map_or_else(|| "not set".to_string(), Plain::to_string),
        }
    }

    /// All of them, in the order of the table.
    #[must_use]
    pub fn all(&self) -> Vec<ChoiceUsed> {
        CHOICES.iter().map(|c| self.used(c.name)).collect()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_default_is_allowed_and_no_number_is_missing() {
        let choices = Choices::default();
        for def in CHOICES {
            assert!(def.accepts(&parse(def.default)), "{}", def.name);
            if matches!(def.allowed, Allowed::Number(..)) {
                assert!(choices.number(def.name).is_finite(), "{}", def.name);
            }
        }
    }

    #[test]
    fn a_choice_out_of_bounds_is_named_and_not_used() {
        let map = BTreeMap::from([
            (TIGHT.to_string(), Stated::number(400.0)),
            (
                COIL_LOADING.to_string(),
                Stated::known(Plain::Text("seventy_percent".into())),
            ),
        ]);
        let (choices, refused) = Choices::from_map(&map);
        assert!((choices.tight_percent() - 10.0).abs() < f64::EPSILON);
        assert!((choices.coil_share() - 0.7).abs() < f64::EPSILON);
        assert_eq!(refused.len(), 1);
        assert!(refused[0].contains(TIGHT), "{}", refused[0]);
    }
}
