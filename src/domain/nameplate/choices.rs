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
    ChoiceDef {
        name: FAULT_OHMS,
        default: "40",
        allowed: Allowed::Number(0.0, 200.0),
        about: "resistance assumed of the smallest ground fault: no more than line-to-neutral voltage over it can flow, whatever the feeder",
        source: "40 ohm: a former rural-program value (read); today engineering judgment, 10 to 30 ohm are in use",
        standing: RuleStanding::Read,
    },
    ChoiceDef {
        name: FAULT_OHMS_ARE,
        default: "noted",
        allowed: Allowed::Words(&["noted", "judged"]),
        about: "whether a device that cannot trip on what flows through that resistance is noted, or fails to see",
        source: "the resistance is disputed: the former value against engineering judgment",
        standing: RuleStanding::CommonPractice,
    },
    ChoiceDef {
        name: LINK_CLEARS_S,
        default: "3",
        allowed: Allowed::Number(0.2, 10.0),
        about: "within how many seconds a link has to clear the smallest fault",
        source: "one distribution utility's line-fuse rule: 3 s",
        standing: RuleStanding::Read,
    },
    ChoiceDef {
        name: LINK_LOAD,
        default: "80",
        allowed: Allowed::Number(40.0, 100.0),
        about: "the share of a link's least melting current at 300 s that load may take",
        source: "one distribution utility's line-fuse rule: 80 %",
        standing: RuleStanding::Read,
    },
    ChoiceDef {
        name: INRUSH_FIRST,
        default: "25",
        allowed: Allowed::Number(1.0, 40.0),
        about: "magnetizing inrush at 0.01 s, times full load of the connected transformers",
        source: "25 times: a trade webzine, a switch control's manual and a utility's line-fuse rule",
        standing: RuleStanding::Read,
    },
    ChoiceDef {
        name: INRUSH,
        default: "12",
        allowed: Allowed::Number(1.0, 30.0),
        about: "magnetizing inrush at 0.1 s, times full load of the connected transformers",
        source: "12 times: a trade webzine and a utility's line-fuse rule; no reduction for many together",
        standing: RuleStanding::Read,
    },
    ChoiceDef {
        name: COLD_1,
        default: "6",
        allowed: Allowed::Number(1.0, 10.0),
        about: "cold load 1 s after energizing, times the load before the outage",
        source: "6 times: a switch control's manual and a utility's line-fuse rule",
        standing: RuleStanding::Read,
    },
    ChoiceDef {
        name: COLD_10,
        default: "3",
        allowed: Allowed::Number(1.0, 10.0),
        about: "cold load 10 s after energizing, times the load before the outage",
        source: "3 times: a switch control's manual and a utility's line-fuse rule",
        standing: RuleStanding::Read,
    },
    ChoiceDef {
        name: COLD_LONG,
        default: "2",
        allowed: Allowed::Number(1.0, 10.0),
        about: "cold load that lasts, times the load before the outage",
        source: "2 times: a switch control's manual",
        standing: RuleStanding::Read,
    },
    ChoiceDef {
        name: COLD_LONG_S,
        default: "900",
        allowed: Allowed::Number(100.0, 3600.0),
        about: "how long the lasting cold load lasts, seconds",
        source: "100 to 300 s read in a switch control's manual; 15 min from memory is the stricter test and is taken",
        standing: RuleStanding::FromMemory,
    },
    ChoiceDef {
        name: COLD_FULL,
        default: "30",
        allowed: Allowed::Number(0.0, 240.0),
        about: "after an outage of so many minutes cold load counts in full; a shorter one counts in proportion",
        source: "customers asked to hold off for about 30 min: a cooperative's notice; the proportion is common practice, no source",
        standing: RuleStanding::CommonPractice,
    },
    ChoiceDef {
        name: INTERRUPTING_CYCLES,
        default: "5",
        allowed: Allowed::Number(1.0, 10.0),
        about: "cycles of 60 Hz from trip to interruption, added for each trip of an electronic control",
        source: "common practice, no source",
        standing: RuleStanding::CommonPractice,
    },
    ChoiceDef {
        name: ALUMINIUM_C,
        default: "340",
        allowed: Allowed::Number(100.0, 645.0),
        about: "greatest temperature of bare aluminium after a fault, deg C",
        source: "340 deg C: from memory, unconfirmed",
        standing: RuleStanding::FromMemory,
    },
    ChoiceDef {
        name: COPPER_C,
        default: "340",
        allowed: Allowed::Number(100.0, 1000.0),
        about: "greatest temperature of bare copper after a fault, deg C",
        source: "340 deg C, as the figures computed for bare copper take it: from memory, unconfirmed",
        standing: RuleStanding::FromMemory,
    },
    ChoiceDef {
        name: ELEVATION,
        default: "0",
        allowed: Allowed::Number(0.0, 4000.0),
        about: "the highest ground that the lines reach, metres; ratings are reduced above 1,000 m",
        source: "the utility's own; 0 while it has said nothing",
        standing: RuleStanding::CommonPractice,
    },
    ChoiceDef {
        name: OWN_VOLTAGE,
        default: "80",
        allowed: Allowed::Number(50.0, 100.0),
        about: "a system below this share of a recloser's maximum voltage is a lower voltage than its own",
        source: "common practice, no source: it keeps 12.47 kV with the 15.5 kV class",
        standing: RuleStanding::CommonPractice,
    },
    ChoiceDef {
        name: CAPACITOR_TOLERANCE,
        default: "15",
        allowed: Allowed::Number(0.0, 15.0),
        about: "how much more than its plate a capacitor may give, percent",
        source: "IEEE 18, 1992 edition: 100 to 115 % of rated kvar",
        standing: RuleStanding::Read,
    },
    ChoiceDef {
        name: LEAD_DROP,
        default: "1.6",
        allowed: Allowed::Number(0.5, 10.0),
        about: "voltage of an arrester's lead, kV a foot",
        source: "1.6 kV/ft (0.4 uH/ft x 4 kA/us): from memory, unconfirmed; another source uses 2 to 10",
        standing: RuleStanding::FromMemory,
    },
    ChoiceDef {
        name: SURGE_MARGIN,
        default: "20",
        allowed: Allowed::Number(0.0, 100.0),
        about: "least protective margin of an arrester, percent of the voltage it lets through",
        source: "20 %: from memory, unconfirmed; a trade page has the same as a target",
        standing: RuleStanding::FromMemory,
    },
    ChoiceDef {
        name: IMPEDANCE_TOLERANCE,
        default: "7.5",
        allowed: Allowed::Number(0.0, 10.0),
        about: "how far a transformer's impedance may lie under its plate, percent",
        source: "7.5 % for two windings: a published infinite-bus example",
        standing: RuleStanding::Read,
    },
    ChoiceDef {
        name: RECLOSER_INTERVAL,
        default: "0.2",
        allowed: Allowed::Number(0.0, 2.0),
        about: "how long before a recloser toward the source the one on the load side has to clear, seconds",
        source: "more than 12 cycles apart they do not operate together: from memory, unconfirmed",
        standing: RuleStanding::FromMemory,
    },
    ChoiceDef {
        name: RELAY_INTERVAL,
        default: "0.3",
        allowed: Allowed::Number(0.0, 2.0),
        about: "how long before the relay of a breaker would trip the device on the load side has to clear, seconds",
        source: "0.2 to 0.4 s: common practice, no source",
        standing: RuleStanding::CommonPractice,
    },
    ChoiceDef {
        name: RELAY_RESET,
        default: "not_known",
        allowed: Allowed::Words(&["not_known", "at_once"]),
        about: "whether relays forget at once what they have timed when the device on the load side opens; not known: they may trip on the sum",
        source: "the utility's own; not known while it has said nothing",
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
