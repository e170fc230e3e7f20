//! Times and pairs: published values, and what must hold of every pair.

use polecard::domain::finding::{RuleStanding, Verdict};
use polecard::domain::melting::{MELTING, melting};
use polecard::domain::nameplate::LinkType;
use polecard::domain::pairs::{
    End, PAIR_RULES, Pair, PairFinding, Role, link_clears, link_melts, saving_factor,
    source_factor, table_limit,
};
use polecard::domain::sequence::{Settings, Timing};
use proptest::prelude::*;
use serde::Deserialize;

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct Row {
    table: String,
    name: String,
    x: f64,
    y: f64,
    expect: f64,
    tolerance: f64,
    standing: String,
    source: String,
}

fn kind(letter: &str) -> LinkType {
    match letter {
        "K" => LinkType::K,
        "T" => LinkType::T,
        other => panic!("no link type {other}"),
    }
}

fn very(dial: f64, pickup_amps: f64) -> Timing {
    Timing::Standard {
        curve: polecard::domain::curve::curve("IEEE very inverse").unwrap(),
        dial,
        pickup_amps,
        opening_s: 5.0 / 60.0,
    }
}

fn sequence(fast: u32, delayed: u32, cycles: f64) -> Settings {
    Settings {
        fast,
        delayed,
        fast_timing: very(0.1, 200.0),
        delayed_timing: very(2.0, 200.0),
        intervals_s: vec![cycles / 60.0; 3],
        reset_s: Some(30.0),
    }
}

fn link(name: &str, rated: f64, kind: LinkType) -> End {
    end(name, Role::Link(Some((rated, kind))))
}

fn end(name: &str, role: Role) -> End {
    End {
        name: name.to_string(),
        role,
        doubts: vec![],
    }
}

fn recloser(settings: Option<Settings>, min_trip: Option<f64>, blocked: Option<&str>) -> End {
    let role = Role::Trips {
        settings,
        min_trip_amps: min_trip,
        blocked: blocked.map(str::to_string),
    };
    end("RC", role)
}

fn counter(counts: Option<f64>, memory_s: Option<f64>, actuating: Option<f64>) -> End {
    let role = Role::Counts {
        counts,
        memory_s,
        actuating_amps: actuating,
    };
    end("SZ", role)
}

fn judge(load: &End, source: &End, between: (u32, Option<f64>), amps: f64) -> Vec<PairFinding> {
    let pair = Pair {
        load_side: load,
        source_side: source,
        between,
        tight_percent: 10.0,
    };
    pair.judge(Some(amps))
}

fn verdict(found: &[PairFinding], rule: &str) -> Verdict {
    found.iter().find(|f| f.rule == rule).unwrap().verdict
}

impl Row {
    fn value(&self) -> f64 {
        match self.table.as_str() {
            "melting" => {
                let (letter, cell) = self.name.split_once(' ').unwrap();
                let m = melting(self.x, kind(letter)).unwrap();
                let (column, end) = cell.rsplit_once(' ').unwrap();
                let cells = match column {
                    "long" => m.long,
                    "10 s" => m.ten_s,
                    _ => m.tenth_s,
                };
                if end == "least" { cells.0 } else { cells.1 }
            }
            "pair_limit" => {
                let of = kind(&self.name);
                table_limit((self.x, of), (self.y, of)).unwrap()
            }
            "source_factor" => {
                let (fast, delayed) = [(0, 4), (1, 3), (2, 2)][self.x as usize];
                source_factor(&sequence(fast, delayed, self.y)).unwrap().0
            }
            "saving_factor" => {
                let fast = self.x as u32;
                saving_factor(&sequence(fast, 2, self.y)).unwrap().0
            }
            "actuating" => {
                let (load, source) = (
                    counter(Some(1.0), None, Some(1.6 * self.x)),
                    recloser(None, Some(self.y), None),
                );
                let found = judge(&load, &source, (0, None), 1_000.0);
                assert_eq!(verdict(&found, "pair-actuating"), Verdict::Within);
                found
                    .iter()
                    .find(|f| f.rule == "pair-actuating")
                    .unwrap()
                    .limit
                    .unwrap()
            }
            "most_counts" => {
                let trips = self.y as u32;
                let source = recloser(Some(sequence(0, trips, 120.0)), None, None);
                let load = counter(Some(self.expect), None, None);
                let found = judge(&load, &source, (self.x as u32, None), 1_000.0);
                found
                    .iter()
                    .find(|f| f.rule == "pair-counts")
                    .unwrap()
                    .limit
                    .unwrap()
            }
            other => panic!("no table {other}"),
        }
    }
}

#[test]
fn links_pairs_factors_and_counts_are_those_of_the_tables() {
    let rows: Vec<Row> = serde_yaml::from_str(include_str!("scenarios/times.yaml")).unwrap();
    assert!(rows.len() > 300, "{}", rows.len());
    for r in rows {
        assert!(!r.source.is_empty());
        assert!(["read", "from memory"].contains(&r.standing.as_str()));
        let got = r.value();
        assert!(
            (got - r.expect).abs() <= r.tolerance + 1e-9,
            "{} {} {} {}: {got}, the source says {}",
            r.table,
            r.name,
            r.x,
            r.y,
            r.expect
        );
    }
}

/// By the published table 6K below 15K coordinates up to 510 A.
#[test]
fn a_pair_of_links_within_and_beyond_the_table() {
    let (six, fifteen) = (link("a", 6.0, LinkType::K), link("b", 15.0, LinkType::K));
    let found = judge(&six, &fifteen, (0, None), 300.0);
    assert_eq!(verdict(&found, "pair-link-table"), Verdict::Within);
    assert_eq!(verdict(&found, "pair-link-75"), Verdict::Within);
    let found = judge(&six, &fifteen, (0, None), 600.0);
    assert_eq!(verdict(&found, "pair-link-table"), Verdict::Fails);
    assert_eq!(verdict(&found, "pair-link-75"), Verdict::Fails);
    let found = judge(&fifteen, &six, (0, None), 300.0);
    assert_eq!(
        verdict(&found, "pair-link-table"),
        Verdict::Fails,
        "reversed"
    );
    let mixed = judge(&six, &link("t", 15.0, LinkType::T), (0, None), 300.0);
    assert!(mixed.iter().all(|f| f.rule != "pair-link-table"));
    assert!(table_limit((8.0, LinkType::T), (10.0, LinkType::T)).is_err());
}

#[test]
fn a_sectionalizer_against_its_backup() {
    let source = recloser(Some(sequence(0, 4, 120.0)), Some(200.0), None);
    let good = counter(Some(3.0), Some(90.0), Some(160.0));
    let found = judge(&good, &source, (0, None), 2_000.0);
    for rule in [
        "pair-counts",
        "pair-reclosing",
        "pair-memory",
        "pair-actuating",
    ] {
        assert_eq!(verdict(&found, rule), Verdict::Within, "{rule}: {found:#?}");
    }
    let behind = judge(&good, &source, (1, Some(3.0)), 2_000.0);
    assert_eq!(verdict(&behind, "pair-counts"), Verdict::Fails);
    let off = recloser(Some(sequence(0, 4, 120.0)), Some(200.0), Some("tag on"));
    let found = judge(&good, &off, (0, None), 2_000.0);
    assert_eq!(verdict(&found, "pair-reclosing"), Verdict::Fails);
    let once = recloser(Some(sequence(0, 1, 120.0)), Some(200.0), None);
    let found = judge(&good, &once, (0, None), 2_000.0);
    assert_eq!(verdict(&found, "pair-reclosing"), Verdict::Fails);
    let short = counter(Some(3.0), Some(2.0), Some(170.0));
    let found = judge(&short, &source, (0, None), 2_000.0);
    assert_eq!(verdict(&found, "pair-memory"), Verdict::Fails);
    assert_eq!(verdict(&found, "pair-actuating"), Verdict::Fails);
    let silent = judge(
        &counter(None, None, None),
        &recloser(None, None, None),
        (0, None),
        1e3,
    );
    assert!(
        silent.iter().all(|f| f.verdict == Verdict::Unknown),
        "{silent:#?}"
    );
}

#[test]
fn a_factor_is_never_made_up() {
    assert!(source_factor(&sequence(1, 1, 60.0)).is_err());
    assert!(source_factor(&sequence(1, 3, 20.0)).is_err());
    assert!(saving_factor(&sequence(3, 1, 60.0)).is_err());
    // Between two rows the stricter stands; beyond the last, the last.
    assert_eq!(source_factor(&sequence(1, 3, 100.0)).unwrap().0, 2.1);
    assert_eq!(source_factor(&sequence(1, 3, 900.0)).unwrap().0, 1.8);
    let unread = Settings {
        intervals_s: vec![],
        ..sequence(1, 3, 60.0)
    };
    assert!(source_factor(&unread).is_err());
}

#[test]
fn every_rule_about_pairs_names_its_source() {
    for r in PAIR_RULES {
        assert!(r.name.starts_with("pair-") && !r.formula.is_empty() && !r.source.is_empty());
        let remembered = r.source.contains("from memory");
        assert!(
            remembered || r.standing != RuleStanding::FromMemory,
            "{}",
            r.name
        );
    }
}

proptest! {
    #[test]
    fn a_bigger_fault_never_melts_or_clears_a_link_later(
        at in 0..MELTING.len(), amps in 1.0_f64..20_000.0, more in 1.0_f64..3.0
    ) {
        let m = &MELTING[at];
        let of = Some((m.rated, m.link_type));
        let melts = |a: f64| link_melts(of, Some(a)).unwrap().0;
        prop_assert!(melts(amps * more) <= melts(amps) + 1e-9);
        if let Ok((s, _)) = link_clears(of, Some(amps)) {
            prop_assert!(link_clears(of, Some(amps * more)).unwrap().0 <= s + 1e-9);
            prop_assert!(melts(amps) <= s);
        }
    }

    #[test]
    fn unknown_or_doubted_never_passes(
        load in 0..4_usize, source in 0..3_usize, amps in 50.0_f64..5_000.0, doubt in any::<bool>()
    ) {
        let mut load = match load {
            0 => link("a", 10.0, LinkType::K),
            1 => end("a", Role::Link(None)),
            2 => counter(Some(1.0), Some(300.0), Some(40.0)),
            _ => recloser(Some(sequence(2, 2, 60.0)), Some(200.0), None),
        };
        let source = match source {
            0 => link("b", 100.0, LinkType::K),
            1 => end("b", Role::Link(None)),
            _ => recloser(Some(sequence(2, 2, 60.0)), Some(200.0), None),
        };
        if doubt {
            load.doubts.push("assumed".to_string());
        }
        for f in judge(&load, &source, (0, None), amps) {
            let open = f.value.is_none() || f.limit.is_none();
            prop_assert!(!(f.verdict.passes() && (open || doubt)), "{f:?}");
            prop_assert!(f.verdict == Verdict::Unknown || !open);
        }
    }
}

#[test]
fn curves_on_paper_have_letters_in_ascii_and_braille_and_svg() {
    use polecard::present::{plot, text::Style};
    use polecard::work::times::{Drawn, TimesReport};
    let curve = |name: &str, s: f64| Drawn {
        name: name.to_string(),
        points: (0..30)
            .map(|i| {
                let amps = 100.0 * 1.2_f64.powi(i);
                [amps, s * (100.0 / amps)]
            })
            .collect(),
    };
    let report = TimesReport {
        polecard: 1,
        id: String::new(),
        name: "A<B".to_string(),
        class: polecard::domain::asset::Class::Recloser,
        fault_amps: Some(1_500.0),
        fault_origin: "typed".to_string(),
        min_fault_amps: None,
        verdict: Verdict::Unknown,
        devices: vec![],
        pairs: vec![],
        curves: vec![curve("one", 100.0), curve("two", 10.0)],
        notes: vec![],
        safety: polecard::domain::finding::SAFETY,
    };
    for (width, ascii) in [(80, true), (50, true), (80, false), (40, false)] {
        let drawn = plot::lines(&report, Style { width, ascii });
        let text: Vec<String> = drawn.iter().map(|l| l.plain()).collect();
        assert!(text.iter().all(|l| l.chars().count() <= width), "{text:#?}");
        let all = text.join("\n");
        assert!(!ascii || all.is_ascii(), "{all}");
        assert!(ascii || all.chars().any(|c| ('\u{2801}'..='\u{28ff}').contains(&c)));
        for part in ["a one", "b two", "fault 1,500 A", "0.01", "1,000"] {
            assert!(all.contains(part), "{part}: {all}");
        }
        // A slower curve lies above a faster one where both are.
        let rows: Vec<&String> = text.iter().filter(|l| l.contains('|') || ascii).collect();
        let top = |c: char| rows.iter().position(|l| l.chars().skip(7).any(|x| x == c));
        assert!(!ascii || top('a') <= top('b'), "{all}");
    }
    let svg = plot::svg(&report);
    assert!(svg.starts_with("<svg") && svg.trim_end().ends_with("</svg>"));
    assert_eq!(svg.matches("<polyline").count(), 2);
    assert!(svg.contains("A&lt;B") && !svg.contains("A<B"));
}
