//! Two records of one thing become one.

use super::*;

fn two(keep: &str, drop: &str, take: &[&str]) -> merge::Asked {
    merge::Asked {
        keep: keep.to_string(),
        drop: drop.to_string(),
        take: take.iter().map(ToString::to_string).collect(),
        why: "one pole, its digits swapped".to_string(),
        effective: None,
        second: Some("mk".to_string()),
        dry_run: false,
    }
}

#[test]
fn a_merge_says_first_what_moves_and_what_is_lost() {
    let dir = tempfile::tempdir().unwrap();
    let mut store = register(dir.path());
    let head = store.head().unwrap();
    let told = merge::Asked {
        second: None,
        dry_run: true,
        ..two("40-118", "40-811", &[])
    };
    let r = merge(&mut store, &told, "hb", day(1)).unwrap();
    assert!(!r.applied && r.operation.is_empty());
    assert_eq!(store.head().unwrap(), head, "nothing was written");
    let moved: Vec<String> = r
        .moved
        .iter()
        .map(|m| format!("{} {}", m.kind, m.name))
        .collect();
    assert!(
        moved.contains(&"position HB2-RC-14".to_string()),
        "{moved:?}"
    );
    assert!(
        moved.contains(&"position HB2-RG-3".to_string()),
        "{moved:?}"
    );
    assert!(moved.iter().any(|m| m.starts_with("entry ")), "{moved:?}");
    assert!(r.changes.iter().any(|c| c.field.starts_with("place")));
    let style = polecard::present::Style {
        width: 80,
        ascii: true,
    };
    let lines = polecard::present::swap::merge_lines(&r, style);
    let text: Vec<String> = lines.iter().map(|l| l.plain()).collect();
    let text = text.join("\n");
    assert!(text.contains("would become part of"), "{text}");
    assert!(text.contains("moves"), "{text}");
    // The same in fact, and what the one that went said alone is named.
    let done = merge(&mut store, &two("40-118", "40-811", &[]), "hb", day(1)).unwrap();
    assert_eq!((done.moved, done.lost.clone()), (r.moved, r.lost));
    // A field in which the two differ is lost by choice, and named.
    let take = [
        "nameplate.interrupter=keep",
        "nameplate.interrupting_amps=drop",
        "deployments=keep",
    ];
    let asked = merge::Asked {
        dry_run: true,
        ..two("7-20931", "7-21002", &take)
    };
    let r = merge(&mut store, &asked, "hb", day(2)).unwrap();
    let lost: Vec<&str> = r.lost.iter().map(|l| l.field.as_str()).collect();
    assert_eq!(lost, ["nameplate.interrupter", "deployments"]);
    assert_eq!(r.lost[0].old, "vacuum");
}

#[test]
fn two_records_of_one_thing_become_one_and_both_names_find_it() {
    let dir = tempfile::tempdir().unwrap();
    let mut store = register(dir.path());
    let before = records(&store);
    let kept = resolve(&store, "40-118").unwrap().record.id();
    let done = merge(&mut store, &two("40-118", "40-811", &[]), "hb", day(1)).unwrap();
    let found = resolve_among(&store, "40-811", &[]).unwrap();
    assert_eq!(found.stored.record.id(), kept);
    assert!(found.note.unwrap().contains("no longer in use"));
    assert_eq!(resolve(&store, "T-5512").unwrap().record.id(), kept);
    // The blank is filled, what pointed at the other points here, entries too.
    assert_eq!(body(&store, "40-118")["place"]["near"], "the old kiln");
    assert_eq!(body(&store, "HB2-RC-14")["toward"], "40-118");
    assert_eq!(body(&store, "HB2-RG-3")["structure"], "40-118");
    assert_eq!(done.references, 4);
    let clock = polecard::calendar::Clock::Fixed(day(2));
    let rec = resolve(&store, "40-118").unwrap().rec;
    let shown = serde_json::to_string(&card(&store, rec, clock).unwrap()).unwrap();
    assert!(shown.contains("pole reject"), "{shown}");
    let told = polecard::work::history::history(&store, Some(&done.dropped_id), 5).unwrap();
    assert!(told.of.unwrap().gone);
    let second = undo::Asked {
        second: Some("mk".to_string()),
        ..undo::Asked::default()
    };
    undo_with(&mut store, &second, "hb", day(2)).unwrap();
    assert_eq!(records(&store), before);
    assert_eq!(store.broken_link().unwrap(), None);
}

#[test]
fn where_two_records_differ_somebody_chooses() {
    let dir = tempfile::tempdir().unwrap();
    let mut store = register(dir.path());
    let e = merge(&mut store, &two("7-20931", "7-21002", &[]), "hb", day(1)).unwrap_err();
    let said = e.to_string();
    for part in [
        "nameplate.interrupter: keep oil, drop vacuum",
        "nameplate.interrupting_amps: keep 4000",
        "deployments: keep",
    ] {
        assert!(said.contains(part), "{part}: {said}");
    }
    let take = [
        "nameplate.interrupter=keep",
        "nameplate.interrupting_amps=drop",
        "deployments=keep",
    ];
    let alone = merge::Asked {
        second: None,
        ..two("7-20931", "7-21002", &take)
    };
    let e = merge(&mut store, &alone, "hb", day(1)).unwrap_err();
    assert!(e.message.contains("second person"), "{e}");
    merge(&mut store, &two("7-20931", "7-21002", &take), "hb", day(1)).unwrap();
    let now = body(&store, "7-20931");
    assert_eq!(now["nameplate"]["interrupting_amps"], 2000);
    assert_eq!(now["nameplate"]["interrupter"], "oil");
    for (keep, drop, says) in [
        ("40-118", "HB2-RC-14", "only records of one kind"),
        ("40-118", "40-118", "the same record"),
    ] {
        let e = merge(&mut store, &two(keep, drop, &[]), "hb", day(1)).unwrap_err();
        assert!(e.to_string().contains(says), "{says}: {e}");
    }
    let e = merge(
        &mut store,
        &two("40-118", "40-811", &["colour=keep"]),
        "hb",
        day(1),
    );
    assert!(e.unwrap_err().message.contains("no such field"));
}
