//! Cards and traces as people see them.

use insta::assert_snapshot;
use polecard::domain::asset::Kind;
use polecard::domain::finding::Severity;
use polecard::present::{Line, Style, card as text, trace as trace_text};
use polecard::store::Store;
use polecard::work::card::{Card, card};
use polecard::work::resolve;
use polecard::work::trace::trace;
use unicode_width::UnicodeWidthStr;

use super::*;

#[test]
fn the_card_of_a_recloser() {
    let store = demo_store();
    assert_snapshot!("recloser_80", shown(&store, "HB2-RC-14", 80));
    assert_snapshot!("recloser_40", top(&shown(&store, "HB2-RC-14", 40), 40));
    assert_snapshot!("recloser_120", top(&shown(&store, "HB2-RC-14", 120), 14));
    assert_snapshot!("recloser_50", top(&shown(&store, "HB2-RC-14", 50), 20));
}

#[test]
fn the_cards_of_other_classes_and_kinds() {
    let store = demo_store();
    for (name, rows) in [
        ("HB1-RG-3", 22),
        ("HB2-RC-11", 16),
        ("HB2-SW-17", 14),
        ("HB1-RC-6", 20),
        ("HB2-CP-8", 40),
        ("HB2-FC-1", 30),
        ("HB2-TR-22", 14),
        ("40-118", 45),
        ("40-104", 60),
        ("7-20931", 40),
        ("7-20417", 40),
        ("HB2", 14),
        ("Weir hydro", 20),
        ("HV-22-07", 20),
    ] {
        assert_snapshot!(
            format!("card_{}", name.replace(' ', "_")),
            top(&shown(&store, name, 80), rows)
        );
    }
}

#[test]
fn previews_keep_their_rows() {
    let store = demo_store();
    let mut out = String::new();
    for (name, width, height) in [
        ("HB2-RC-14", 64, 20),
        ("HB2-FC-1", 64, 20),
        ("HB2-RC-14", 80, 10),
        ("HB2-RC-14", 40, 12),
        ("7-20931", 64, 20),
    ] {
        let lines = text::preview(&card_of(&store, name), width, height);
        assert_eq!(lines.len(), height);
        out.push_str(&format!("--- {name} {width}x{height}\n{}\n", plain(&lines)));
    }
    assert_snapshot!("previews", out);
}

#[test]
fn a_preview_moves_no_label_from_one_record_to_the_next() {
    let store = demo_store();
    for (width, height) in [(64, 20), (80, 10), (50, 14), (40, 12)] {
        let mut seen: Option<Vec<(usize, String)>> = None;
        for name in [
            "HB2-RC-14",
            "HB2-FC-1",
            "HB1-RG-3",
            "40-118",
            "7-20931",
            "HB2",
        ] {
            let lines = text::preview(&card_of(&store, name), width, height);
            let labels: Vec<(usize, String)> = lines
                .iter()
                .enumerate()
                .map(|(i, l)| (i, l.plain().chars().take(6).collect::<String>()))
                .filter(|(_, l)| {
                    ["unit", "at", "state", "plate", "path", "order", "last"].contains(&l.trim())
                })
                .collect();
            match &seen {
                Some(before) => assert_eq!(before, &labels, "{name} {width}x{height}"),
                None => seen = Some(labels),
            }
        }
    }
}

#[test]
fn the_traces() {
    let store = demo_store();
    for name in ["HB2-RC-14", "40-104", "HB1-SW-31"] {
        let rec = resolve(&store, name).unwrap().rec;
        let report = trace(&store, rec, clock()).unwrap();
        assert_snapshot!(
            format!("trace_{name}"),
            plain(&trace_text::lines(&report, style(80)))
        );
    }
}

/// The record as JSON keeps the names that scripts rely on.
#[test]
fn the_json_of_a_card_and_a_trace() {
    let store = demo_store();
    let value = serde_json::to_value(card_of(&store, "HB2-RC-14")).unwrap();
    assert_eq!(value["polecard"], 1);
    assert_eq!(value["name"], "HB2-RC-14");
    assert_eq!(value["cautions"][0]["severity"], "STOP");
    assert_eq!(value["fed"][0]["beyond"]["customers"], 148);
    let rec = resolve(&store, "HB2-RC-14").unwrap().rec;
    let value = serde_json::to_value(trace(&store, rec, clock()).unwrap()).unwrap();
    assert_eq!(value["ways"][0]["path"][0]["name"], "HB2-BK-1");
    assert!(
        value["heading"]
            .as_str()
            .unwrap()
            .contains("Not a switching order")
    );
}

/// Every position of the demo, and some of each other kind.
fn many(store: &Store) -> Vec<Card> {
    let mut out = Vec::new();
    for (kind, each) in [
        (Kind::Position, 5),
        (Kind::Structure, 120),
        (Kind::Unit, 10),
    ] {
        for stored in store.all(kind).unwrap().into_iter().step_by(each) {
            out.push(card(store, stored.rec, clock()).unwrap());
        }
    }
    for name in ["HB2-RC-14", "HB1-RG-3", "HB2-RC-11", "HB1-RC-6", "SF1-RC-3"] {
        out.push(card_of(store, name));
    }
    out
}

#[test]
fn cautions_stand_where_a_tired_person_sees_them_and_lines_fit() {
    let store = demo_store();
    for card in many(&store) {
        let looks = card
            .cautions
            .iter()
            .position(|c| c.severity == Severity::Look);
        let last_stop = card
            .cautions
            .iter()
            .rposition(|c| c.severity == Severity::Stop);
        if let (Some(look), Some(stop)) = (looks, last_stop) {
            assert!(stop < look, "{}", card.name);
        }
        for width in [120, 80, 50, 40] {
            let lines: Vec<String> = text::lines(&card, style(width))
                .iter()
                .map(Line::plain)
                .collect();
            let stops: Vec<usize> = lines
                .iter()
                .enumerate()
                .filter(|(_, l)| l.starts_with(" STOP "))
                .map(|(i, _)| i)
                .collect();
            if card.count(Severity::Stop) > 0 {
                assert!(stops[0] <= 3, "{} at {width}: {}", card.name, stops[0]);
            }
            if card.count(Severity::Stop) > 1 && width == 40 {
                assert!(stops[1] < 10, "{} at {width}: {}", card.name, stops[1]);
            }
            for line in &lines {
                assert!(line.width() <= width, "{} at {width}: {line:?}", card.name);
            }
        }
    }
}

#[test]
fn nothing_on_a_card_sounds_like_leave_to_act_or_is_left_blank() {
    let store = demo_store();
    for card in many(&store) {
        let text = plain(&text::lines(&card, style(100))).to_lowercase();
        for words in [
            " is safe",
            "safe to",
            "clear to",
            "may be operated",
            "is dead",
            "de-energized",
        ] {
            assert!(!text.contains(words), "{}: {words}", card.name);
        }
        for state in card.state.iter().take(1) {
            assert!(state.ends_with("Ask control"), "{state}");
        }
        let facts = card
            .plates
            .iter()
            .flat_map(|p| &p.fields)
            .chain(&card.gist)
            .chain(card.groups.iter().flat_map(|g| &g.rows))
            .chain(&card.studies);
        for fact in facts {
            assert!(
                !fact.text.trim().is_empty(),
                "{}: {}",
                card.name,
                fact.label
            );
        }
        assert!(card.say.starts_with("demo: "), "{}", card.say);
        assert!(!card.say.chars().any(|c| c.is_ascii_digit()) || card.kind != Kind::Position);
    }
}

#[test]
fn ascii_means_ascii() {
    let store = demo_store();
    for name in ["HB2-RC-14", "40-118", "HB1-RG-3"] {
        let card = card_of(&store, name);
        let style = Style {
            width: 40,
            ascii: true,
        };
        let lines = text::lines(&card, style);
        let preview = text::preview_in(&card, style, 12);
        for line in lines.iter().chain(&preview) {
            assert!(line.plain().is_ascii(), "{}", line.plain());
        }
    }
}

#[test]
fn text_that_could_harm_a_terminal_is_shown_harmlessly() {
    let (_dir, store) = store_of(
        "---\nposition: P1\nclass: switch\nnote: \"a\\e[31mb\\u202ec\"\nnormal_source: \"x\\ay\"\n",
    );
    let text = shown(&store, "P1", 80);
    assert!(!text.contains('\u{1b}') && !text.contains('\u{202e}') && !text.contains('\u{7}'));
    assert!(text.contains("a␛[31mb·c"), "{text}");
}

#[test]
fn a_record_with_nothing_in_it_says_so_in_every_place() {
    let (_dir, store) = store_of("---\nposition: P1\nclass: recloser\n");
    assert_snapshot!("bare_recloser", before_history(&shown(&store, "P1", 80)));
    let (_dir, store) = store_of("---\nunit: U1\nclass: transformer\n");
    assert_snapshot!("bare_unit", before_history(&shown(&store, "U1", 80)));
}
