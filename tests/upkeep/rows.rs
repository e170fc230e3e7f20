//! The rows of `scenarios/upkeep.yaml`, put to the public functions, and what
//! must hold of all of them.

use std::collections::BTreeMap;

use polecard::domain::asset::{Class, Defect, Entry, EntryKind, Nameplate, Pole, RecordId, Stated};
use polecard::domain::finding::Severity;
use polecard::domain::upkeep::pcb::{self, Liquid, Made, class_of, untested};
use polecard::domain::upkeep::pole::{self, Original};
use polecard::domain::upkeep::{Case, Conclusion, Subject, conclude, rules};
use proptest::prelude::*;
use serde::Deserialize;

type Readings = BTreeMap<String, Stated>;

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct Rows {
    conclusions: Vec<Row>,
    pcb: Vec<PcbRow>,
    poles: Vec<PoleRow>,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct Row {
    name: String,
    class: Option<Class>,
    #[serde(default)]
    plate: Nameplate,
    pole: Option<Pole>,
    #[serde(default)]
    bypassed: bool,
    entry: Option<EntryKind>,
    #[serde(default)]
    earlier: Vec<Readings>,
    readings: Readings,
    rule: String,
    level: Option<String>,
    bears: Option<Vec<Defect>>,
    says: Option<String>,
    order: Option<String>,
    priority: Option<String>,
    #[serde(default)]
    silent: bool,
    source: String,
    standing: String,
}

fn rows() -> Rows {
    serde_yaml::from_str(include_str!("../scenarios/upkeep.yaml")).unwrap()
}

fn sourced(source: &str, standing: &str, name: &str) {
    assert!(!source.trim().is_empty(), "{name}: no source");
    let known = ["read", "from memory", "computed", "common practice"];
    assert!(known.contains(&standing), "{name}: {standing:?}");
}

fn entry(kind: EntryKind, readings: &Readings) -> Entry {
    Entry {
        entry: kind,
        id: RecordId::default(),
        of: "T-1".into(),
        on: "2026-05-01".parse().ok(),
        by: None,
        depth: None,
        readings: readings.clone(),
        finds: vec![],
        clears: vec![],
        note: None,
    }
}

impl Row {
    fn subject(&self) -> Subject {
        Subject {
            name: "T-1".into(),
            class: self.class,
            plate: self.plate.clone(),
            pole: self.pole.clone(),
            bypassed: self.bypassed,
            ..Subject::default()
        }
    }

    fn conclusions(&self) -> Vec<Conclusion> {
        let earlier: Vec<Entry> = self
            .earlier
            .iter()
            .map(|r| entry(EntryKind::Test, r))
            .collect();
        conclude(&Case {
            subject: &self.subject(),
            entry: &entry(self.entry.unwrap_or(EntryKind::Inspection), &self.readings),
            earlier: &earlier.iter().collect::<Vec<_>>(),
        })
    }
}

#[test]
fn readings_mean_what_the_sources_say() {
    for row in rows().conclusions {
        sourced(&row.source, &row.standing, &row.name);
        let all = row.conclusions();
        let of_rule: Vec<&Conclusion> = all.iter().filter(|c| c.rule == row.rule).collect();
        if row.silent {
            assert!(of_rule.is_empty(), "{}: {of_rule:?}", row.name);
            assert!(rules().any(|r| r.name == row.rule), "{}", row.rule);
            continue;
        }
        let [said] = of_rule.as_slice() else {
            panic!("{}: {all:?}", row.name);
        };
        let text = &said.text;
        assert_eq!(said.level.word(), row.level.unwrap(), "{}", row.name);
        assert!(text.contains(&row.says.unwrap()), "{}: {text}", row.name);
        if let Some(bears) = row.bears {
            assert_eq!(said.bears, bears, "{}", row.name);
        }
        let order = said.proposes.as_ref();
        if let Some(need) = row.order {
            let need_said = &order.unwrap().need;
            assert!(need_said.contains(&need), "{}: {need_said}", row.name);
        }
        if let Some(priority) = row.priority {
            assert_eq!(order.unwrap().priority.word(), priority, "{}", row.name);
        }
    }
}

/// What would sound like leave to act.
const LEAVE: &[&str] = &[
    "safe",
    "clear to",
    "may be operated",
    "may be climbed",
    "may be opened",
    "is dead",
    "de-energized now",
];

#[test]
fn no_conclusion_and_no_order_sounds_like_leave_to_act() {
    let rows = rows();
    let mut texts = Vec::new();
    for row in &rows.conclusions {
        for c in row.conclusions() {
            texts.extend(c.proposes.map(|p| p.need));
            texts.push(c.text);
        }
    }
    let all = rows.pcb.iter();
    texts.extend(all.filter_map(|r| r.found().map(|f| f.text)));
    assert!(texts.len() > 100, "{}", texts.len());
    for text in texts {
        for word in LEAVE {
            assert!(!text.contains(word), "{text}");
        }
        assert!(!text.contains("  ") && !text.is_empty(), "{text}");
    }
}

#[test]
fn every_rule_stands_in_a_row_that_makes_it_speak() {
    let rows = rows().conclusions;
    let spoken: Vec<&'static str> = rows
        .iter()
        .flat_map(Row::conclusions)
        .map(|c| c.rule)
        .collect();
    for rule in rules() {
        assert!(spoken.contains(&rule.name), "{} never speaks", rule.name);
    }
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct PcbRow {
    name: String,
    class: Class,
    #[serde(default)]
    plate: Nameplate,
    /// ppm, oldest first, a year apart.
    #[serde(default)]
    tests: Vec<f64>,
    band: String,
    basis: String,
    says: String,
    source: String,
    standing: String,
}

impl PcbRow {
    fn found(&self) -> Option<pcb::PcbClass> {
        let subject = Subject {
            class: Some(self.class),
            plate: self.plate.clone(),
            ..Subject::default()
        };
        let tests: Vec<pcb::Tested> = (2015..)
            .zip(&self.tests)
            .map(|(year, ppm)| (*ppm, format!("{year}-06-01").parse().ok()))
            .collect();
        class_of(&subject, &tests)
    }
}

#[test]
fn pcb_classes_are_those_of_the_rule() {
    for row in rows().pcb {
        sourced(&row.source, &row.standing, &row.name);
        let found = row.found().unwrap_or_else(|| panic!("{}: none", row.name));
        let word = |v: serde_json::Value| v.as_str().unwrap().to_string();
        let band = word(serde_json::to_value(found.band).unwrap());
        let basis = word(serde_json::to_value(found.basis).unwrap());
        assert_eq!((band, basis), (row.band, row.basis), "{}", row.name);
        assert!(
            found.text.contains(&row.says),
            "{}: {}",
            row.name,
            found.text
        );
        if row.tests.is_empty() {
            assert!(!found.text.contains("non-PCB"), "{}", found.text);
        }
    }
}

#[test]
fn what_holds_no_liquid_has_no_pcb_class_until_a_test_says_otherwise() {
    let dry = |class, plate: &str| {
        let subject = Subject {
            class: Some(class),
            plate: serde_json::from_str(plate).unwrap(),
            ..Subject::default()
        };
        (
            class_of(&subject, &[]),
            class_of(&subject, &[(600.0, None)]),
        )
    };
    for (class, plate) in [
        (
            Class::Recloser,
            r#"{"interrupter": "vacuum", "insulation": "solid"}"#,
        ),
        (
            Class::Switch,
            r#"{"interrupter": "air", "insulation": "polymer"}"#,
        ),
        (Class::Arrester, "{}"),
    ] {
        let (untested, tested) = dry(class, plate);
        assert_eq!(untested, None, "{class}");
        assert_eq!(tested.unwrap().band, pcb::Band::Pcb);
    }
    // A vacuum bottle in oil holds oil; an unread insulation may be oil.
    for plate in [
        r#"{"interrupter": "vacuum", "insulation": "oil"}"#,
        r#"{"interrupter": "vacuum"}"#,
    ] {
        assert!(dry(Class::Recloser, plate).0.is_some(), "{plate}");
    }
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct PoleRow {
    name: String,
    function: String,
    class: Option<String>,
    species: Option<String>,
    length_ft: Option<f64>,
    c_in: Option<f64>,
    shell_in: Option<f64>,
    pocket_in: Option<f64>,
    original_in: Option<f64>,
    expect: f64,
    tolerance: f64,
    source: String,
    standing: String,
}

impl PoleRow {
    fn value(&self) -> f64 {
        let class = || self.class.as_deref().unwrap();
        let (c, shell) = (self.c_in, self.shell_in);
        match self.function.as_str() {
            "load_moment" => {
                let length = self.length_ft.unwrap();
                pole::class_load_lb(class()).unwrap() * (length - pole::setting_ft(length) - 2.0)
            }
            "moment" => {
                let psi = pole::fibre_psi(self.species.as_deref().unwrap()).unwrap();
                pole::moment_ft_lb(psi, c.unwrap())
            }
            "hollow" => 100.0 * pole::hollow_heart(c.unwrap(), shell.unwrap()),
            "pocket" => {
                100.0 * pole::enclosed_pocket(c.unwrap(), self.pocket_in.unwrap(), shell.unwrap())
            }
            "external" => 100.0 * pole::external(c.unwrap(), self.original_in.unwrap()),
            "class_circumference" => pole::class_circumference_in(
                class(),
                self.length_ft.unwrap(),
                self.species.as_deref().unwrap(),
            )
            .unwrap(),
            "setting" => pole::setting_ft(self.length_ft.unwrap()),
            other => panic!("{other}"),
        }
    }
}

#[test]
fn the_section_of_a_pole_gives_the_printed_figures() {
    for row in rows().poles {
        sourced(&row.source, &row.standing, &row.name);
        let got = row.value();
        assert!(
            (got - row.expect).abs() <= row.tolerance,
            "{}: got {got}, the source says {}",
            row.name,
            row.expect
        );
    }
}

fn made() -> impl Strategy<Value = Made> {
    prop::sample::select(Made::ALL)
}

fn liquids() -> impl Strategy<Value = Liquid> {
    prop::sample::select(vec![Liquid::MineralOil, Liquid::Little, Liquid::Unknown])
}

proptest! {
    #[test]
    fn an_unknown_date_or_liquid_never_gives_a_milder_class(
        class in prop::sample::select(Class::ALL), liquid in liquids(), made in made(),
    ) {
        let band = |l, m| untested(class, l, m).map(|u| u.0);
        prop_assert!(band(liquid, Made::Unknown) >= band(liquid, made));
        prop_assert!(band(Liquid::Unknown, made) >= band(Liquid::MineralOil, made));
        prop_assert!(band(liquid, Made::OnTheDay) >= band(liquid, Made::After));
    }

    #[test]
    fn a_lower_circumference_or_a_thinner_shell_is_never_more_strength(
        c in 15.0..60.0_f64, less in 0.0..10.0_f64, shell in 0.0..6.0_f64,
        thinner in 0.0..6.0_f64, first in 20.0..60.0_f64, pocket in 0.0..4.0_f64,
    ) {
        let of = |c, shell, pocket| {
            pole::left(c, Some(shell), Some((pocket, 1.0)), Original::Recorded(first))
                .of_original
                .unwrap()
        };
        let whole = of(c, shell, pocket);
        prop_assert!(of(c, (shell - thinner).max(0.0), pocket) <= whole + 1e-12);
        prop_assert!(of(c, shell, pocket + 0.5) <= whole + 1e-9);
        // The inner hollow stays where it is while the outside decays.
        let radius = c / std::f64::consts::TAU;
        let hollow = (radius - shell).max(0.0);
        let smaller = (c - less).max(std::f64::consts::TAU * hollow + 0.1).min(c);
        let left_shell = smaller / std::f64::consts::TAU - hollow;
        prop_assert!(of(smaller, left_shell, 0.0) <= of(c, shell, 0.0) + 1e-9);
        prop_assert!((0.0..=1.0).contains(&pole::hollow_heart(c, shell)));
    }

    #[test]
    fn a_lower_dielectric_result_never_says_less(
        kv in 0.0..60.0_f64, less in 0.0..20.0_f64,
        class in prop::sample::select(Class::ALL),
        method in prop::sample::select(vec!["D877", "D1816 1 mm", "D1816 2 mm"]),
    ) {
        let subject = Subject { class: Some(class), ..Subject::default() };
        let level = |kv: f64| {
            let readings: Readings = [
                ("oil_kv".to_string(), Stated::number(kv)),
                ("method".to_string(), serde_json::from_value(method.into()).unwrap()),
            ].into();
            let entry = entry(EntryKind::Test, &readings);
            let said = conclude(&Case { subject: &subject, entry: &entry, earlier: &[] });
            said.iter().filter(|c| c.rule == "oil-dielectric").map(|c| match c.level {
                Severity::Stop => 2,
                Severity::Look => 1,
            }).max().unwrap_or(0)
        };
        prop_assert!(level((kv - less).max(0.0)) >= level(kv));
    }
}
