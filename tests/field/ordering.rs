//! Work orders, whichever way they are moved and whatever they follow.

use super::*;

#[test]
fn an_order_moves_by_the_same_rules_whichever_way() {
    let dir = tempfile::tempdir().unwrap();
    let mut store = register(dir.path());
    let new = NewOrder {
        of: "HB2-RC-14".into(),
        need: "trim the tree".into(),
        priority: polecard::domain::asset::Priority::Planned,
        due: None,
        who: None,
        from_entry: None,
        note: None,
    };
    let number = open_order(&mut store, &new, "hb", day(2))
        .unwrap()
        .order
        .order;
    let set = |fields: &[&str]| edit::Asked {
        set: fields.iter().map(ToString::to_string).collect(),
        why: "clerk".into(),
        ..edit::Asked::default()
    };
    let id = format!("order {number}");
    for fields in [
        &["state=done"][..],
        &["state=assigned"],
        &["state=void", "closed=2026-10-02"],
        &["closed=2026-10-02"],
        &["state=done", "who=ls", "closed=2027-01-01", "note=cut"],
    ] {
        let e = edit(&mut store, &id, &set(fields), "hb", day(3)).unwrap_err();
        assert_eq!(e.kind, FailureKind::Usage, "{fields:?}: {e}");
    }
    let whole = [
        "state=done",
        "who=ls",
        "closed=2026-10-03",
        "note=done: cut back",
    ];
    edit(&mut store, &id, &set(&whole), "hb", day(3)).unwrap();
    let e = edit(
        &mut store,
        &id,
        &set(&["state=assigned", "who=mk"]),
        "hb",
        day(3),
    )
    .unwrap_err();
    assert!(
        e.message.contains("is done; it cannot become assigned"),
        "{e}"
    );
    orders::reopen(&mut store, &number, "not cut", "hb", day(3)).unwrap();
    edit(&mut store, &id, &set(&["priority=soon"]), "hb", day(3)).unwrap();
}

#[test]
fn an_order_of_the_unit_goes_with_it_and_one_of_the_place_stays() {
    let dir = tempfile::tempdir().unwrap();
    let mut store = register(dir.path());
    let mut found = write(
        &mut store,
        "HB2-RC-14",
        "inspection",
        &["oil_level=below the mark"],
        day(2),
    )
    .unwrap();
    order_proposed(&mut store, &mut found, "hb", day(2));
    // Made at the place, of what was found on the unit.
    let at_place = |need: &str, entry: Option<&str>| NewOrder {
        of: "HB2-RC-14".into(),
        need: need.into(),
        priority: polecard::domain::asset::Priority::Planned,
        due: None,
        who: None,
        from_entry: entry.map(|e| e.parse().unwrap()),
        note: None,
    };
    open_order(
        &mut store,
        &at_place("paint the bracket", None),
        "hb",
        day(2),
    )
    .unwrap();
    let of_entry = at_place("weigh the bushing sample", Some(&found.entries[0].id));
    open_order(&mut store, &of_entry, "hb", day(2)).unwrap();
    let done = swapped(&mut store, "7-20931", "7-21002", None).unwrap();
    let ends: Vec<(&str, &str)> = done
        .orders
        .iter()
        .map(|o| (o.need.split(' ').next().unwrap(), o.of.as_str()))
        .collect();
    assert_eq!(
        ends,
        [
            ("oil", "7-20931"),
            ("paint", "HB2-RC-14"),
            ("weigh", "7-20931")
        ]
    );
    let need = |o: &polecard::work::card::OrderLine| o.need.split(' ').next().unwrap().to_string();
    let place: Vec<String> = shown(&store, "HB2-RC-14", day(6))
        .orders
        .iter()
        .map(need)
        .collect();
    assert_eq!(place, ["paint"]);
    let unit: Vec<String> = shown(&store, "7-20931", day(6))
        .orders
        .iter()
        .map(need)
        .collect();
    assert_eq!(unit, ["oil", "weigh"]);
}
