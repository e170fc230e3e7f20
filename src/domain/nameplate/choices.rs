//! Named choices of the utility, each default with its source and standing.

use std::collections::BTreeMap;

use crate::domain::asset::{Plain, Stated};
use crate::domain::fault::Basis;
use crate::domain::finding::{ChoiceUsed, RuleStanding};
use crate::units::figure;

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

/// Every choice that a rule here rests on.
pub static CHOICES: &[ChoiceDef] = &[
    ChoiceDef {
        name: TIGHT,
        default: "10",
        allowed: Allowed::Number(0.0, 50.0),
        about: "a margin below this is tight, for currents",
        source: "common practice, no source",
        standing: RuleStanding::CommonPractice,
    },
    ChoiceDef {
        name: TIGHT_KV,
        default: "0",
        allowed: Allowed::Number(0.0, 50.0),
        about: "a margin below this is tight, for voltage; standard voltage classes lie close above the systems they serve",
        source: "common practice, no source",
        standing: RuleStanding::CommonPractice,
    },
    ChoiceDef {
        name: COIL_LOADING,
        default: "nameplate",
        allowed: Allowed::Words(&["nameplate", "seventy_percent"]),
        about: "what a series coil may carry: its rating, or 70 % of it at peak",
        source: "nameplate: a recloser maker's overload sheet; seventy_percent: a recloser repair shop's coil note. The two disagree",
        standing: RuleStanding::Read,
    },
    ChoiceDef {
        name: TRIP_TOLERANCE,
        default: "10",
        allowed: Allowed::Number(0.0, 30.0),
        about: "how far a hydraulic unit may trip under or over its nominal minimum trip",
        source: "200 % of coil, 180 to 220 in practice: a recloser repair shop's coil note",
        standing: RuleStanding::Read,
    },
    ChoiceDef {
        name: VOLTAGE_RANGE,
        default: "B",
        allowed: Allowed::Words(&["A", "B"]),
        about: "which upper limit of ANSI C84.1 counts as the system's maximum",
        source: "ANSI C84.1: A + 5 %, B + 5.8 %, read in a tutorial on voltage regulation; that B is taken is the stricter reading",
        standing: RuleStanding::CommonPractice,
    },
    ChoiceDef {
        name: DERATING_BASIS,
        default: "rms",
        allowed: Allowed::Words(&["rms", "peak"]),
        about: "basis of the X/R factor of reclosers and breakers; rms is the stricter. Fuses are always judged on rms",
        source: "the rule is read for low-voltage breakers and fuses; its use here is inferred",
        standing: RuleStanding::Inferred,
    },
    ChoiceDef {
        name: REACH,
        default: "1.5",
        allowed: Allowed::Number(1.0, 5.0),
        about: "how many times minimum trip the smallest fault must be",
        source: "1.5 to 2: common practice, no source",
        standing: RuleStanding::CommonPractice,
    },
];

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

    fn number(&self, name: &str) -> f64 {
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
