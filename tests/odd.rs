//! Odd plates at each door: edit, log, YAML. The rules are those of `verify`.

use polecard::calendar::Moment;
use polecard::domain::asset::{Kind, Record};
use polecard::domain::verify::odd;
use polecard::exchange::{Source, import};
use polecard::store::Store;
use polecard::work::edit::{Asked, edit};
use polecard::work::log;
use serde_json::{Value, json};

fn now() -> Moment {
    "2026-10-03T14:10:00-06:00".parse().unwrap()
}

fn unit(class: &str, plate: Value) -> Record {
    Record::from_value(
        Kind::Unit,
        json!({"unit": "U", "class": class, "nameplate": plate}),
    )
    .unwrap()
}

/// Rule and whether it refuses, for each kind of odd plate, with a near miss.
/// The comparisons follow from what the words mean; the lists are common
/// practice, no source, or from memory as the rules themselves say.
#[test]
fn each_odd_plate_is_found_and_its_near_miss_is_not() {
    for (class, plate, wanted) in plates() {
        let found = odd::odd(&unit(class, plate.clone()));
        let found: Vec<_> = found.iter().map(|o| (o.rule, o.cannot_be)).collect();
        assert_eq!(found, Vec::from_iter(wanted), "{class} {plate}");
    }
    assert!(odd::odd_link("13K").is_some(), "no K link of 13 A is made");
    assert!(odd::odd_link("12K").is_none());
}

type Case = (&'static str, Value, Option<(&'static str, bool)>);

#[expect(clippy::too_many_lines, reason = "a table of plates")]
fn plates() -> Vec<Case> {
    vec![
        (
            "recloser",
            json!({"coil_amps": 100, "min_trip_amps": 99}),
            Some(("trip-under-continuous", true)),
        ),
        (
            "recloser",
            json!({"coil_amps": 100, "min_trip_amps": 200}),
            None,
        ),
        (
            "recloser",
            json!({"continuous_amps": 560, "min_trip_amps": 200, "control": "electronic"}),
            Some(("trip-under-continuous", false)),
        ),
        (
            "recloser",
            json!({"peak_amps": 3999, "interrupting_amps": 4000}),
            Some(("peak-under-rms", true)),
        ),
        (
            "recloser",
            json!({"peak_amps": 4000, "interrupting_amps": 4000}),
            None,
        ),
        (
            "recloser",
            json!({"peak_amps": 5000, "making_amps": 6000}),
            Some(("peak-under-rms", true)),
        ),
        (
            "cutout",
            json!({"interrupting_asym_amps": 7000, "interrupting_amps": 7100}),
            Some(("peak-under-rms", true)),
        ),
        (
            "arrester",
            json!({"mcov_kv": 10, "duty_kv": 8.4}),
            Some(("mcov-over-duty", true)),
        ),
        ("arrester", json!({"mcov_kv": 8.4, "duty_kv": 10}), None),
        (
            "transformer",
            json!({"kva": 38}),
            Some(("kva-off-list", false)),
        ),
        ("transformer", json!({"kva": 37.5}), None),
        (
            "recloser",
            json!({"interrupting_amps": 40000}),
            Some(("interrupting-too-high", false)),
        ),
        ("recloser", json!({"interrupting_amps": 16000}), None),
        (
            "recloser",
            json!({"max_kv": 15.5, "bil_kv": 30}),
            Some(("bil-off-class", false)),
        ),
        ("recloser", json!({"max_kv": 15.5, "bil_kv": 110}), None),
        (
            "recloser",
            json!({"max_kv": 38, "bil_kv": 110}),
            Some(("bil-off-class", false)),
        ),
        ("recloser", json!({"max_kv": 27, "bil_kv": 150}), None),
    ]
}

fn register() -> (tempfile::TempDir, Store) {
    let dir = tempfile::tempdir().unwrap();
    let store = Store::create(&dir.path().join("r.polecard")).unwrap();
    (dir, store)
}

fn yaml(dir: &tempfile::TempDir, store: &mut Store, text: &str) -> Result<Vec<String>, String> {
    let path = dir.path().join("all.yaml");
    std::fs::write(&path, text).unwrap();
    import(store, &Source::at(&path).unwrap(), "hb", now(), true)
        .map(|r| r.notes)
        .map_err(|e| e.to_string())
}

fn set(store: &mut Store, id: &str, field: &str) -> Result<Vec<String>, String> {
    let asked = Asked {
        set: vec![field.to_string()],
        why: "plate read".to_string(),
        assumed: Some("typed in a test".to_string()),
        second: Some("js".to_string()),
        ..Asked::default()
    };
    edit(store, id, &asked, "hb", now())
        .map(|r| r.notes)
        .map_err(|e| e.to_string())
}

const FIRST: &str = "---\nunit: A\nclass: arrester\nnameplate: {duty_kv: 10}\n---\nunit: B\nclass: arrester\nnameplate: {mcov_kv: 10, duty_kv: 8.4}\n---\nunit: T\nclass: transformer\n---\nposition: P\nclass: cutout\nelements: [{element: link, link: 12K}]\n";

#[test]
fn an_edit_is_refused_or_warned_and_an_old_flaw_stops_no_other_edit() {
    let (dir, mut store) = register();
    yaml(&dir, &mut store, FIRST).unwrap();
    let head = store.head().unwrap();
    let said = set(&mut store, "A", "nameplate.mcov_kv=12").unwrap_err();
    for part in [
        "MCOV 12",
        "duty-cycle rating 10",
        "mcov-over-duty",
        "nothing was changed",
    ] {
        assert!(said.contains(part), "{part}: {said}");
    }
    assert_eq!(store.head().unwrap(), head);
    assert!(
        set(&mut store, "A", "nameplate.mcov_kv=8.4")
            .unwrap()
            .is_empty()
    );
    let notes = set(&mut store, "T", "nameplate.kva=38").unwrap();
    assert!(
        notes[0].contains("kva-off-list") && notes[0].contains("from memory"),
        "{notes:?}"
    );
    assert!(set(&mut store, "B", "note=painted").unwrap().is_empty());
    // Another impossible value in place of the old one is no mending.
    assert!(set(&mut store, "B", "nameplate.mcov_kv=9").is_err());
    assert!(set(&mut store, "B", "nameplate.mcov_kv=7").is_ok());
    let notes = set(&mut store, "P", "elements=[{element: link, link: 13K}]").unwrap();
    assert!(notes[0].contains("link-off-list"), "{notes:?}");
}

#[test]
fn yaml_is_judged_as_a_correction_and_not_at_a_first_load() {
    let (dir, mut store) = register();
    yaml(&dir, &mut store, FIRST).unwrap();
    let said = yaml(
        &dir,
        &mut store,
        "---\nunit: A\nclass: arrester\nnameplate: {duty_kv: 10, mcov_kv: 12}\n",
    );
    let said = said.unwrap_err();
    assert!(
        said.contains("all.yaml:2") && said.contains("mcov-over-duty"),
        "{said}"
    );
    let notes = yaml(
        &dir,
        &mut store,
        "---\nunit: T\nclass: transformer\nnameplate: {kva: 38}\n",
    )
    .unwrap();
    assert!(notes[0].contains("kva-off-list"), "{notes:?}");
}

#[test]
fn a_link_that_is_not_made_is_said_where_it_is_logged() {
    let (dir, mut store) = register();
    yaml(&dir, &mut store, FIRST).unwrap();
    let asked = log::Asked {
        set: vec!["link_found=12K".to_string(), "link_put=13K".to_string()],
        ..log::Asked::default()
    };
    let r = log::log(&mut store, "P", "maintenance", &asked, "hb", now()).unwrap();
    let odd: Vec<_> = r
        .notes
        .iter()
        .filter(|n| n.contains("link-logged-off-list"))
        .collect();
    assert_eq!(odd.len(), 1, "{:?}", r.notes);
}

#[test]
fn an_element_with_less_asymmetrical_than_symmetrical_is_refused() {
    let (dir, mut store) = register();
    let cutout = |name: &str, asym: u32| {
        format!(
            "---\nposition: {name}\nclass: cutout\nphases: A\nelements: [{{element: cutout, amps: 100, interrupting_amps: 7100, interrupting_asym_amps: {asym}}}]\n"
        )
    };
    yaml(&dir, &mut store, &cutout("FC-1", 10_000)).unwrap();
    let refused = yaml(&dir, &mut store, &cutout("FC-2", 7_000)).unwrap_err();
    assert!(refused.contains("peak-under-rms"), "{refused}");
    yaml(&dir, &mut store, &cutout("FC-2", 7_100)).unwrap();
}
