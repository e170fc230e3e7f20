//! Rules about pairs by name, and curves as they are drawn.

use super::*;

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
        fault_kind: None,
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
    let beside = |l: &String| l.contains("log-log") && l.contains("load side clear first");
    for (width, at_once) in [(120, true), (100, true), (80, false), (40, false)] {
        let style = Style {
            width,
            ascii: false,
        };
        let all = polecard::present::times::with_plot(&report, style, 100);
        let text: Vec<String> = all.iter().map(|l| l.plain()).collect();
        assert_eq!(text.iter().any(beside), at_once, "{text:#?}");
        assert!(text.iter().all(|l| l.chars().count() <= width), "{text:#?}");
    }
    let svg = plot::svg(&report);
    assert!(svg.starts_with("<svg") && svg.trim_end().ends_with("</svg>"));
    assert_eq!(svg.matches("<polyline").count(), 2);
    assert!(svg.contains("A&lt;B") && !svg.contains("A<B"));
}
