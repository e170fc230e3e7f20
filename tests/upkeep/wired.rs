//! Conclusions where people meet them: in the answer of `log`, on cards, in
//! checks, before a sample; and the utility's own forms.

use std::path::Path;

use polecard::calendar::{Clock, Moment};
use polecard::domain::asset::{Defect, Depth, Kind, Record};
use polecard::domain::finding::Severity;
use polecard::exchange::{Forms, Source, export, import};
use polecard::store::Store;
use polecard::work::card::{Card, card};
use polecard::work::conclude::before_sampling_of;
use polecard::work::log::{Asked, LogReport, log, order_proposed};
use polecard::work::{Failure, resolve};

const REGISTER: &str = r#"---
structure: 40-118
kind: pole
pole: {material: southern pine, length_ft: 40, class: "4", circumference_in: 33.5}
---
position: HB2-RC-14
class: recloser
structure: 40-118
---
position: HB2-RG-3
class: regulator
structure: 40-118
---
unit: 7-20931
class: recloser
nameplate: {made_year: 1975, interrupter: oil, insulation: oil, interrupting_amps: 4000, test_x_over_r: 10}
deployments: [{at: HB2-RC-14, from: 2018-06-04}]
---
unit: 2-11363
class: regulator
nameplate: {made_year: 1975, insulation: oil}
deployments: [{at: HB2-RG-3, from: 2018-06-04}]
"#;

/// Entries from elsewhere whose `finds` nobody has filled.
const BARE: &str = r"---
entry: inspection
of: 7-20931
on: 2026-05-04
readings: {oil_level: below the mark}
---
entry: test
of: 2-11363
on: 2026-05-04
readings: {oil_kv: 15, method: D877, gap_in: 0.1}
";

pub(super) fn now() -> Moment {
    "2026-10-03T14:10:00-06:00".parse().unwrap()
}

pub(super) fn register(dir: &Path, more: &str) -> Result<Store, String> {
    let files = dir.join("files");
    std::fs::create_dir_all(&files).unwrap();
    std::fs::write(files.join("all.yaml"), format!("{REGISTER}{more}")).unwrap();
    let mut store = Store::create(&dir.join("r.polecard")).unwrap();
    let source = Source::at(&files).unwrap();
    import(&mut store, &source, "hb", now(), false).map_err(|e| e.to_string())?;
    Ok(store)
}

pub(super) fn write(
    store: &mut Store,
    id: &str,
    kind: &str,
    set: &[&str],
) -> Result<LogReport, Failure> {
    let asked = Asked {
        set: set.iter().map(ToString::to_string).collect(),
        second: Some("mk".into()),
        depth: (kind == "inspection").then_some(Depth::Detailed),
        ..Asked::default()
    };
    log(store, id, kind, &asked, "hb", now())
}

fn shown(store: &Store, name: &str) -> Card {
    let rec = resolve(store, name).unwrap().rec;
    card(store, rec, Clock::Fixed(now())).unwrap()
}

fn says(card: &Card, severity: Severity, text: &str) -> bool {
    let mut all = card.cautions.iter();
    all.any(|c| c.severity == severity && c.text.contains(text))
}

#[test]
fn a_level_below_the_mark_is_found_though_nobody_wrote_it_among_the_finds() {
    let dir = tempfile::tempdir().unwrap();
    let mut store = register(dir.path(), "").unwrap();
    let report = write(
        &mut store,
        "7-20931",
        "inspection",
        &["oil_level=below the mark"],
    )
    .unwrap();
    assert_eq!(report.finds, [Defect::OilBelowMark]);
    assert!(report.notes.iter().any(|n| n.contains("oil below mark")));
    let json = serde_json::to_value(&report).unwrap();
    let first = &json["concluded"][0];
    assert_eq!(first["level"], "STOP");
    assert_eq!(first["rule"], "oil-level");
    assert_eq!(first["bears"][0], "oil below mark");
    assert_eq!(first["proposes"]["priority"], "urgent");
    for key in ["text", "source", "standing"] {
        assert!(first[key].as_str().is_some_and(|t| !t.is_empty()), "{key}");
    }
    for name in ["7-20931", "HB2-RC-14", "40-118"] {
        assert!(
            says(
                &shown(&store, name),
                Severity::Stop,
                "do not count on it to interrupt"
            ),
            "{name}"
        );
    }
}

#[test]
fn the_order_is_made_with_the_entry_and_not_twice() {
    let dir = tempfile::tempdir().unwrap();
    let mut store = register(dir.path(), "").unwrap();
    let order = |store: &mut Store| {
        let mut report = write(
            store,
            "7-20931",
            "inspection",
            &["oil_level=below the mark"],
        )
        .unwrap();
        order_proposed(store, &mut report, "hb", now());
        report
    };
    let report = order(&mut store);
    let [made] = report.orders.as_slice() else {
        panic!("{:?}", report.notes);
    };
    assert_eq!(made.did, "opened");
    assert_eq!(made.order.priority, "urgent");
    assert!(made.order.need.contains("ask the control centre"));
    assert_eq!(
        made.order.from_entry.map(|i| i.to_string()),
        Some(report.id)
    );
    assert_eq!(order(&mut store).orders[0].did, "open already");
    assert_eq!(store.all(Kind::Order).unwrap().len(), 1);
    assert!(says(
        &shown(&store, "7-20931"),
        Severity::Stop,
        &made.order.order
    ));
}

#[test]
fn an_entry_from_elsewhere_warns_and_caps_by_its_readings_alone() {
    let dir = tempfile::tempdir().unwrap();
    let mut store = register(dir.path(), BARE).unwrap();
    assert!(says(
        &shown(&store, "HB2-RC-14"),
        Severity::Stop,
        "oil below mark"
    ));
    assert!(says(
        &shown(&store, "HB2-RG-3"),
        Severity::Stop,
        "oil test failed"
    ));
    let position = resolve(&store, "HB2-RC-14").unwrap();
    let facts = polecard::work::facts::facts(&store, &position, now().date());
    let open = facts.unwrap().unwrap().defects;
    assert!(open.iter().any(|o| o.defect == Defect::OilBelowMark));
    let judged = polecard::work::check::check(
        &store,
        "HB2-RC-14",
        &polecard::work::check::Typed {
            fault: "1000 A".parse().ok(),
            ..Default::default()
        },
        now().date(),
    );
    let breaks = judged.unwrap().findings.into_iter();
    let breaks: Vec<_> = breaks.filter(|f| f.rule.starts_with("break")).collect();
    assert!(!breaks.is_empty());
    for f in breaks {
        assert!(!f.verdict.passes(), "{}", f.because);
        assert!(f.because.contains("oil below mark"), "{}", f.because);
    }
    // Cleared by an entry of today, with a second person, it is gone.
    write(
        &mut store,
        "7-20931",
        "maintenance",
        &["clears=oil below mark"],
    )
    .unwrap();
    assert!(!says(
        &shown(&store, "HB2-RC-14"),
        Severity::Stop,
        "oil below mark"
    ));
}

#[test]
fn an_entry_does_not_clear_what_its_own_readings_show() {
    let dir = tempfile::tempdir().unwrap();
    let mut store = register(dir.path(), "").unwrap();
    let seq = store.head().unwrap().seq;
    let set = ["clears=oil below mark", "oil_level=below the mark"];
    let refused = write(&mut store, "7-20931", "maintenance", &set).unwrap_err();
    assert!(
        refused.to_string().contains("its own readings show it"),
        "{refused}"
    );
    assert_eq!(store.head().unwrap().seq, seq);
}

#[test]
fn a_rejected_pole_stops_every_device_on_it() {
    let dir = tempfile::tempdir().unwrap();
    let mut store = register(dir.path(), "").unwrap();
    let set = ["circumference_in=33.5", "shell_in=1"];
    let report = write(&mut store, "40-118", "inspection", &set).unwrap();
    assert_eq!(report.finds, [Defect::PoleReject]);
    assert!(report.concluded[0].text.contains("56.4 %"));
    for name in ["40-118", "HB2-RC-14", "HB2-RG-3", "7-20931", "2-11363"] {
        assert!(
            says(&shown(&store, name), Severity::Stop, "pole reject"),
            "{name}"
        );
    }
}

#[test]
fn what_is_no_defect_stands_until_a_later_reading_says_otherwise() {
    let dir = tempfile::tempdir().unwrap();
    let mut store = register(dir.path(), "").unwrap();
    write(
        &mut store,
        "2-11363",
        "inspection",
        &["tap=0", "neutral_lamp=off"],
    )
    .unwrap();
    for name in ["2-11363", "HB2-RG-3"] {
        assert!(
            says(&shown(&store, name), Severity::Stop, "disagree"),
            "{name}"
        );
    }
    // A counter reading says nothing of the lamp, and an unread lamp neither.
    write(&mut store, "2-11363", "counter", &["tap=3", "counter=100"]).unwrap();
    write(
        &mut store,
        "2-11363",
        "inspection",
        &["tap=0", "neutral_lamp=unknown"],
    )
    .unwrap();
    assert!(says(&shown(&store, "2-11363"), Severity::Stop, "disagree"));
    write(
        &mut store,
        "2-11363",
        "inspection",
        &["tap=0", "neutral_lamp=lit"],
    )
    .unwrap();
    assert!(!says(&shown(&store, "2-11363"), Severity::Stop, "disagree"));
}

#[test]
fn the_checklist_comes_before_the_sample_and_writes_nothing() {
    let dir = tempfile::tempdir().unwrap();
    let store = register(dir.path(), BARE).unwrap();
    let regulator = before_sampling_of(&store, "2-11363").unwrap();
    assert!(regulator.steps[0].text.starts_with("PCB label first"));
    assert!(regulator.steps[0].text.contains("50 to 499 ppm"));
    assert!(regulator.steps[0].text.contains("treat as contaminated"));
    assert!(
        regulator
            .steps
            .iter()
            .any(|s| s.text.starts_with("record: serial"))
    );
    let low = before_sampling_of(&store, "7-20931").unwrap();
    assert!(
        low.steps
            .iter()
            .any(|s| { s.level == Some(Severity::Stop) && s.text.contains("do not sample it") })
    );
    assert!(before_sampling_of(&store, "40-118").is_err());
}

#[test]
fn the_pcb_class_stands_on_the_units_card() {
    let dir = tempfile::tempdir().unwrap();
    let mut store = register(dir.path(), "").unwrap();
    let line = |store: &Store| {
        let card = shown(store, "2-11363");
        let mut rows = card.groups.into_iter().flat_map(|g| g.rows);
        rows.find(|r| r.label == "PCB class").unwrap().text
    };
    assert!(line(&store).contains("must be assumed PCB-contaminated"));
    write(&mut store, "2-11363", "sample", &["pcb_ppm=12"]).unwrap();
    assert!(line(&store).contains("12 ppm by test"), "{}", line(&store));
}

#[test]
fn an_inspection_keeps_its_depth_and_nothing_else_has_one() {
    let dir = tempfile::tempdir().unwrap();
    let mut store = register(dir.path(), "").unwrap();
    let asked = |depth| Asked {
        set: vec!["condition=4".into()],
        depth,
        ..Asked::default()
    };
    let patrol = asked(Some(Depth::Patrol));
    let done = log(&mut store, "7-20931", "inspection", &patrol, "hb", now()).unwrap();
    assert_eq!(done.depth, Some(Depth::Patrol));
    let e = log(&mut store, "7-20931", "test", &patrol, "hb", now()).unwrap_err();
    assert!(e.to_string().contains("no depth"), "{e}");
    let history = shown(&store, "7-20931").history;
    assert!(
        history
            .iter()
            .any(|h| { h.what == "patrol inspection" && h.text.contains("condition 4 (poor)") })
    );
}

#[test]
fn every_form_has_keys_of_its_own_and_asks_less_on_a_patrol() {
    for name in [
        "recloser",
        "breaker",
        "sectionalizer",
        "regulator",
        "capacitor",
        "switch",
        "cutout",
        "transformer",
        "arrester",
        "generation",
        "other",
        "pole",
    ] {
        let form = polecard::exchange::form(name);
        form.check()
            .unwrap_or_else(|(_, why)| panic!("{name}: {why}"));
        let asked = |d| form.asked_at(d).count();
        let (patrol, detailed, intrusive) = (
            asked(Depth::Patrol),
            asked(Depth::Detailed),
            asked(Depth::Intrusive),
        );
        assert!(
            patrol > 0 && patrol <= detailed && detailed <= intrusive,
            "{name}"
        );
    }
}

const OWN: &str = r#"---
form: recloser
with: [any]
readings:
  - {reading: oil_level, label: oil in the glass, key: o, choices: [at the mark, below the mark, half]}
  - {reading: paint, label: paint, key: p, limits: [1, 5], whole: true, kinds: [detailed]}
"#;

#[test]
fn a_form_of_the_register_stands_before_the_one_that_comes_along() {
    let dir = tempfile::tempdir().unwrap();
    let mut store = register(dir.path(), OWN).unwrap();
    write(
        &mut store,
        "7-20931",
        "inspection",
        &["paint=2", "oil_level=half"],
    )
    .unwrap();
    assert!(write(&mut store, "7-20931", "inspection", &["paint=9"]).is_err());
    assert!(write(&mut store, "7-20931", "counter", &["counter=12"]).is_err());
    let own = Forms::of(&store).unwrap().form("recloser");
    assert_eq!(own.reading("paint").unwrap().kinds, [Depth::Detailed]);
    assert!(
        own.reading("result").is_some(),
        "every form has what any has"
    );
    let out = dir.path().join("out");
    export(&store, &out).unwrap();
    let mut again = Store::create(&dir.path().join("again.polecard")).unwrap();
    import(&mut again, &Source::at(&out).unwrap(), "hb", now(), false).unwrap();
    let doc = |s: &Store| match s.all(Kind::Form).unwrap().pop().unwrap().record {
        Record::Form(f) => f,
        other => panic!("{other:?}"),
    };
    assert_eq!(doc(&store), doc(&again));
}

#[test]
fn a_bad_form_is_refused_with_its_line_and_the_reason() {
    let lines = REGISTER.lines().count();
    for (body, line, says) in [
        (
            "form: reclosr\nreadings: []\n",
            2,
            "did you mean \"recloser\"",
        ),
        (
            "form: recloser\nwith: [oild]\nreadings: []\n",
            3,
            "did you mean \"oiled\"",
        ),
        (
            "form: recloser\nreadings:\n  - {reading: x, label: x, key: r}\n  - {reading: y, label: y, key: r}\n",
            5,
            "is the key of x already",
        ),
        (
            "form: recloser\nreadings:\n  - {reading: x, label: x, limits: [9, 1]}\n",
            4,
            "the lower first",
        ),
        (
            "form: recloser\nreadings:\n  - {reading: x, label: x, only_if: {reading: z, is: [a]}}\n",
            4,
            "which the form does not ask",
        ),
        (
            "form: recloser\nreadings:\n  - {reading: x, label: x}\n  - {reading: x, label: x}\n",
            4,
            "stands twice",
        ),
        (
            "form: recloser\nreadings:\n  - {reading: x, lable: x}\n",
            4,
            "did you mean \"label\"",
        ),
        (
            "form: recloser\nreadings:\n  - {reading: x, label: x, kinds: [deep]}\n",
            4,
            "patrol",
        ),
    ] {
        let dir = tempfile::tempdir().unwrap();
        let said = register(dir.path(), &format!("---\n{body}")).err().unwrap();
        assert!(said.contains(says), "{body}: {said}");
        assert!(
            said.contains(&format!("all.yaml:{}:", lines + line)),
            "{body}: {said}"
        );
    }
}
