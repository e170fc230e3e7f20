//! A worked example of every rule over readings and of every limit: an invented
//! thing, what was read of it, and the rule that is to speak. A test puts each
//! to its rule.

use serde::Deserialize;

use super::{Case, Conclusion, Limits, Subject, conclude};
use crate::domain::asset::{Class, Entry, EntryKind, Nameplate, Pole, RecordId};

/// A thing, what came before, and what is read now.
#[derive(Debug, Clone, Default, Deserialize)]
#[serde(deny_unknown_fields, default)]
pub struct Sample {
    /// A structure without one.
    pub class: Option<Class>,
    pub plate: Nameplate,
    pub pole: Option<Pole>,
    pub bypassed: bool,
    /// An inspection without one.
    pub entry: Option<EntryKind>,
    pub earlier: Vec<Readings>,
    pub readings: Readings,
}

/// Readings as an entry holds them.
pub type Readings = std::collections::BTreeMap<String, crate::domain::asset::Stated>;

/// Name of a rule or of a limit, the rule that speaks, and the sample.
pub struct Example {
    pub of: &'static str,
    pub rule: &'static str,
    pub sample: &'static str,
}

const fn example(of: &'static str, rule: &'static str, sample: &'static str) -> Example {
    Example { of, rule, sample }
}

fn entry(kind: EntryKind, readings: &Readings) -> Entry {
    Entry {
        entry: kind,
        id: RecordId::default(),
        of: "EX-1".into(),
        on: None,
        by: None,
        depth: None,
        readings: readings.clone(),
        finds: vec![],
        clears: vec![],
        note: None,
    }
}

impl Example {
    /// That of a rule or a limit.
    #[must_use]
    pub fn of(name: &str) -> Option<&'static Example> {
        EXAMPLES.iter().find(|e| e.of == name)
    }

    /// What was read.
    ///
    /// # Panics
    /// Never: a test reads every example.
    #[must_use]
    pub fn sample(&self) -> Sample {
        serde_json::from_str(self.sample)
            .unwrap_or_else(|e| panic!("the example of {} is malformed: {e}", self.of))
    }

    /// What the rule says of it, by these limits.
    #[must_use]
    pub fn worked(&self, limits: &Limits) -> Vec<Conclusion> {
        let sample = self.sample();
        let earlier: Vec<Entry> = sample
            .earlier
            .iter()
            .map(|r| entry(EntryKind::Test, r))
            .collect();
        let subject = Subject {
            name: "EX-1".into(),
            class: sample.class,
            plate: sample.plate.clone(),
            pole: sample.pole.clone(),
            bypassed: sample.bypassed,
            limits: limits.clone(),
        };
        let kind = sample.entry.unwrap_or(EntryKind::Inspection);
        let case = Case {
            subject: &subject,
            entry: &entry(kind, &sample.readings),
            earlier: &earlier.iter().collect::<Vec<_>>(),
        };
        let said = conclude(&case).into_iter();
        said.filter(|c| c.rule == self.rule).collect()
    }
}

/// Rules first, then limits.
pub static EXAMPLES: &[Example] = &[
    example(
        "oil-level",
        "oil-level",
        r#"{"class": "recloser", "readings": {"oil_level": "below the mark"}}"#,
    ),
    example(
        "oil-leak",
        "oil-leak",
        r#"{"class": "transformer", "readings": {"leak": "weeping"}}"#,
    ),
    example(
        "oil-dielectric",
        "oil-dielectric",
        r#"{"class": "recloser", "readings": {"oil_kv": 21, "method": "D877", "gap_in": 0.1}}"#,
    ),
    example(
        "oil-trend",
        "oil-trend",
        r#"{"class": "transformer", "earlier": [{"oil_kv": 60, "method": "D1816 1 mm"}], "readings": {"oil_kv": 33, "method": "D1816 1 mm"}}"#,
    ),
    example(
        "oil-method-changed",
        "oil-method-changed",
        r#"{"class": "recloser", "earlier": [{"oil_kv": 60, "method": "D1816 1 mm"}], "readings": {"oil_kv": 24, "method": "D877"}}"#,
    ),
    example(
        "oil-water",
        "oil-water",
        r#"{"class": "transformer", "plate": {"primary_kv": 7.2}, "readings": {"water_ppm": 36}}"#,
    ),
    example(
        "oil-acid",
        "oil-acid",
        r#"{"class": "transformer", "readings": {"acid_mg_koh": 0.5}}"#,
    ),
    example(
        "oil-carbon",
        "oil-carbon",
        r#"{"class": "recloser", "readings": {"carbon": "much"}}"#,
    ),
    example(
        "pcb-class",
        "pcb-class",
        r#"{"class": "regulator", "plate": {"made_year": 1975, "insulation": "oil"}, "readings": {"leak": "weeping"}}"#,
    ),
    example(
        "pole-strength",
        "pole-strength",
        r#"{"pole": {"material": "southern pine", "length_ft": 40, "class": "4"}, "readings": {"circumference_in": 33.5, "shell_in": 1}}"#,
    ),
    example(
        "pole-result",
        "pole-result",
        r#"{"readings": {"result": "reject"}}"#,
    ),
    example(
        "pole-sounding",
        "pole-sounding",
        r#"{"readings": {"sounding": "hollow"}}"#,
    ),
    example(
        "pole-woodpecker",
        "pole-woodpecker",
        r#"{"readings": {"woodpecker": "nest or hollow"}}"#,
    ),
    example("pole-lean", "pole-lean", r#"{"readings": {"lean": "bad"}}"#),
    example(
        "pole-guys",
        "pole-guys",
        r#"{"readings": {"guys": "broken"}}"#,
    ),
    example(
        "regulator-neutral",
        "regulator-neutral",
        r#"{"class": "regulator", "readings": {"tap": 0, "neutral_lamp": "off"}}"#,
    ),
    example(
        "regulator-bypass",
        "regulator-bypass",
        r#"{"class": "regulator", "readings": {"tap": -4, "neutral_lamp": "off", "bypass": "closed"}}"#,
    ),
    example(
        "regulator-bypass-recorded",
        "regulator-bypass-recorded",
        r#"{"class": "regulator", "bypassed": true, "readings": {"tap": 2}}"#,
    ),
    example(
        "bypass-closed",
        "bypass-closed",
        r#"{"class": "recloser", "readings": {"bypass": "closed"}}"#,
    ),
    example(
        "porcelain",
        "porcelain",
        r#"{"class": "cutout", "readings": {"bushings": "cracked"}}"#,
    ),
    example(
        "insulator",
        "insulator",
        r#"{"class": "switch", "readings": {"insulator": "broken"}}"#,
    ),
    example(
        "ground-bond",
        "ground-bond",
        r#"{"readings": {"ground_bond": "cut"}}"#,
    ),
    example(
        "animal-guard",
        "animal-guard",
        r#"{"class": "transformer", "readings": {"animal_guard": "none"}}"#,
    ),
    example(
        "capacitor-can",
        "capacitor-can",
        r#"{"class": "capacitor", "readings": {"cans": "bulged", "which_can": "B2"}}"#,
    ),
    example(
        "capacitor-heat",
        "capacitor-heat",
        r#"{"class": "capacitor", "readings": {"can_c": 56}}"#,
    ),
    example(
        "fuse-blown",
        "fuse-blown",
        r#"{"class": "capacitor", "readings": {"fuses": "one blown"}}"#,
    ),
    example(
        "cutout-door",
        "cutout-door",
        r#"{"class": "cutout", "readings": {"door": "hung up"}}"#,
    ),
    example(
        "link-changed",
        "link-changed",
        r#"{"class": "cutout", "readings": {"link_found": "40K", "link_put": "65K"}}"#,
    ),
    example(
        "arrester-disconnector",
        "arrester-disconnector",
        r#"{"class": "arrester", "readings": {"disconnector": "dropped"}}"#,
    ),
    example(
        "control-battery",
        "control-battery",
        r#"{"class": "recloser", "readings": {"battery_volts": 21.4}}"#,
    ),
    example(
        "test-result",
        "test-result",
        r#"{"class": "recloser", "entry": "test", "readings": {"result": "failed"}}"#,
    ),
    example(
        "condition",
        "condition",
        r#"{"class": "switch", "readings": {"condition": 4}}"#,
    ),
    example(
        "opened-and-closed",
        "opened-and-closed",
        r#"{"class": "switch", "readings": {"opened_and_closed": "no"}}"#,
    ),
    example(
        "counter-backwards",
        "counter-backwards",
        r#"{"class": "recloser", "earlier": [{"counter": 120}], "readings": {"counter": 90}}"#,
    ),
    example(
        "oil_recloser_d877_kv",
        "oil-dielectric",
        r#"{"class": "recloser", "readings": {"oil_kv": 21, "method": "D877"}}"#,
    ),
    example(
        "new_oil_recloser_d877_kv",
        "oil-dielectric",
        r#"{"class": "recloser", "entry": "maintenance", "readings": {"oil_kv": 25, "method": "D877"}}"#,
    ),
    example(
        "oil_breaker_d877_kv",
        "oil-dielectric",
        r#"{"class": "breaker", "readings": {"oil_kv": 21.9, "method": "D877"}}"#,
    ),
    example(
        "new_oil_breaker_d877_kv",
        "oil-dielectric",
        r#"{"class": "breaker", "entry": "maintenance", "readings": {"oil_kv": 25.5, "method": "D877"}}"#,
    ),
    example(
        "oil_breaker_d877_guide_kv",
        "oil-dielectric",
        r#"{"class": "breaker", "readings": {"oil_kv": 24, "method": "D877"}}"#,
    ),
    example(
        "oil_breaker_d1816_1mm_kv",
        "oil-dielectric",
        r#"{"class": "breaker", "readings": {"oil_kv": 19, "method": "D1816 1 mm"}}"#,
    ),
    example(
        "oil_breaker_d1816_2mm_kv",
        "oil-dielectric",
        r#"{"class": "breaker", "readings": {"oil_kv": 26, "method": "D1816 2 mm"}}"#,
    ),
    example(
        "oil_switch_d877_kv",
        "oil-dielectric",
        r#"{"class": "switch", "readings": {"oil_kv": 20, "method": "D877"}}"#,
    ),
    example(
        "new_oil_switch_d877_kv",
        "oil-dielectric",
        r#"{"class": "switch", "entry": "maintenance", "readings": {"oil_kv": 25, "method": "D877"}}"#,
    ),
    example(
        "oil_sectionalizer_d877_kv",
        "oil-dielectric",
        r#"{"class": "sectionalizer", "readings": {"oil_kv": 21, "method": "D877"}}"#,
    ),
    example(
        "oil_regulator_d877_kv",
        "oil-dielectric",
        r#"{"class": "regulator", "readings": {"oil_kv": 21, "method": "D877"}}"#,
    ),
    example(
        "oil_transformer_d877_kv",
        "oil-dielectric",
        r#"{"class": "transformer", "readings": {"oil_kv": 21, "method": "D877"}}"#,
    ),
    example(
        "oil_transformer_guide_kv",
        "oil-dielectric",
        r#"{"class": "transformer", "readings": {"oil_kv": 22, "method": "D877"}}"#,
    ),
    example(
        "oil_transformer_d1816_1mm_kv",
        "oil-dielectric",
        r#"{"class": "transformer", "plate": {"primary_kv": 7.2}, "readings": {"oil_kv": 22, "method": "D1816 1 mm"}}"#,
    ),
    example(
        "oil_transformer_d1816_2mm_kv",
        "oil-dielectric",
        r#"{"class": "transformer", "plate": {"primary_kv": 7.2}, "readings": {"oil_kv": 39, "method": "D1816 2 mm"}}"#,
    ),
    example(
        "oil_transformer_d1816_1mm_over_69_kv",
        "oil-dielectric",
        r#"{"class": "transformer", "plate": {"primary_kv": 115}, "readings": {"oil_kv": 27, "method": "D1816 1 mm"}}"#,
    ),
    example(
        "oil_transformer_d1816_2mm_over_69_kv",
        "oil-dielectric",
        r#"{"class": "transformer", "plate": {"primary_kv": 115}, "readings": {"oil_kv": 46, "method": "D1816 2 mm"}}"#,
    ),
    example(
        "oil_transformer_d1816_1mm_from_230_kv",
        "oil-dielectric",
        r#"{"class": "transformer", "plate": {"primary_kv": 230}, "readings": {"oil_kv": 29, "method": "D1816 1 mm"}}"#,
    ),
    example(
        "oil_transformer_d1816_2mm_from_230_kv",
        "oil-dielectric",
        r#"{"class": "transformer", "plate": {"primary_kv": 230}, "readings": {"oil_kv": 49, "method": "D1816 2 mm"}}"#,
    ),
    example(
        "water_transformer_ppm",
        "oil-water",
        r#"{"class": "transformer", "plate": {"primary_kv": 7.2}, "readings": {"water_ppm": 36}}"#,
    ),
    example(
        "water_transformer_over_69_ppm",
        "oil-water",
        r#"{"class": "transformer", "plate": {"primary_kv": 115}, "readings": {"water_ppm": 26}}"#,
    ),
    example(
        "water_transformer_from_230_ppm",
        "oil-water",
        r#"{"class": "transformer", "plate": {"primary_kv": 230}, "readings": {"water_ppm": 21}}"#,
    ),
    example(
        "acid_transformer_mg_koh",
        "oil-acid",
        r#"{"class": "transformer", "readings": {"acid_mg_koh": 0.5}}"#,
    ),
    example(
        "d1816_1mm_scatter_percent",
        "oil-trend",
        r#"{"class": "transformer", "earlier": [{"oil_kv": 60, "method": "D1816 1 mm"}], "readings": {"oil_kv": 33, "method": "D1816 1 mm"}}"#,
    ),
    example(
        "d1816_2mm_scatter_percent",
        "oil-trend",
        r#"{"class": "transformer", "earlier": [{"oil_kv": 60, "method": "D1816 2 mm"}], "readings": {"oil_kv": 33, "method": "D1816 2 mm"}}"#,
    ),
    example(
        "d877_scatter_percent",
        "oil-trend",
        r#"{"class": "transformer", "earlier": [{"oil_kv": 60, "method": "D877"}], "readings": {"oil_kv": 33, "method": "D877"}}"#,
    ),
    example(
        "can_case_investigate_c",
        "capacitor-heat",
        r#"{"class": "capacitor", "readings": {"can_c": 56}}"#,
    ),
    example(
        "can_case_never_c",
        "capacitor-heat",
        r#"{"class": "capacitor", "readings": {"can_c": 66}}"#,
    ),
    example(
        "pole_reject_fraction",
        "pole-strength",
        r#"{"pole": {"material": "southern pine", "length_ft": 40, "class": "4"}, "readings": {"circumference_in": 33.5, "shell_in": 1}}"#,
    ),
    example(
        "battery_low_share",
        "control-battery",
        r#"{"class": "recloser", "readings": {"battery_volts": 21.4}}"#,
    ),
];

#[cfg(test)]
mod tests {
    use super::super::limits::LIMITS;
    use super::super::rules;
    use super::*;
    use crate::domain::asset::Stated;

    /// Days within which an order is to be done are held against no reading.
    fn of_reading(limit: &str) -> bool {
        !limit.starts_with("order_")
    }

    #[test]
    fn every_rule_and_every_limit_has_an_example_at_which_its_rule_speaks() {
        let limits = LIMITS.iter().map(|l| l.name).filter(|n| of_reading(n));
        let names = rules().map(|r| r.name).chain(limits);
        let mut count = 0;
        for name in names {
            let example = Example::of(name).unwrap_or_else(|| panic!("{name}: no example"));
            let said = example.worked(&Limits::default());
            assert!(!said.is_empty(), "{name}: its rule is silent");
            count += 1;
        }
        assert_eq!(count, EXAMPLES.len(), "an example of nothing");
    }

    /// The example rests on the limit: with another one the rule says otherwise.
    #[test]
    fn another_limit_makes_the_rule_say_otherwise() {
        for l in LIMITS.iter().filter(|l| of_reading(l.name)) {
            let example = Example::of(l.name).unwrap();
            let by_default = example.worked(&Limits::default());
            let other = |at: f64| {
                let own = [(l.name.to_string(), Stated::number(at))].into();
                example.worked(&Limits::from_map(&own)) != by_default
            };
            assert!(other(l.bounds.0) || other(l.bounds.1), "{}", l.name);
        }
    }
}
