//! One element of a position: a link, a blade, corrected alone.

use super::*;

/// The link on record is one field of one element, by slot or number; what
/// was replaced is said in words.
#[test]
fn one_field_of_one_element_is_corrected_and_said_in_words() {
    let dir = tempfile::tempdir().unwrap();
    let mut store = register(dir.path());
    let set = |fields: &[&str]| edit::Asked {
        set: fields.iter().map(ToString::to_string).collect(),
        why: "read at the pole".into(),
        ..edit::Asked::default()
    };
    let list = "elements=[{element: cutout, slot: A, amps: 100}, {element: link, slot: A, link: 25T}, {element: link, slot: B, link: 25T}]";
    edit(&mut store, "HB2-RC-14", &set(&[list]), "hb", day(2)).unwrap();
    let done = edit(
        &mut store,
        "HB2-RC-14",
        &set(&["elements.A.link=40T"]),
        "hb",
        day(3),
    )
    .unwrap();
    let said: Vec<String> = polecard::present::written::edit_lines(&done)
        .iter()
        .map(polecard::present::Line::plain)
        .collect();
    assert!(
        said.iter()
            .any(|l| l.contains("link in element A: 25T -> 40T")),
        "{said:?}"
    );
    assert!(
        said.iter().all(|l| !l.contains('{') && !l.contains('[')),
        "{said:?}"
    );
    let elements =
        |store: &Store| resolve(store, "HB2-RC-14").unwrap().record.to_value()["elements"].clone();
    assert_eq!(elements(&store)[1]["link"], "40T");
    let mut by_number = set(&["elements.3.link=65T", "elements.1.amps=90"]);
    by_number.expect = vec!["elements.3.link=25T".into()];
    edit(&mut store, "HB2-RC-14", &by_number, "hb", day(3)).unwrap();
    assert_eq!(elements(&store)[2]["link"], "65T");
    assert_eq!(elements(&store)[0]["amps"], 90);
}

#[test]
fn an_element_that_is_not_clear_is_refused_and_a_rating_takes_two_people() {
    let dir = tempfile::tempdir().unwrap();
    let mut store = register(dir.path());
    let set = |fields: &[&str]| edit::Asked {
        set: fields.iter().map(ToString::to_string).collect(),
        why: "read at the pole".into(),
        ..edit::Asked::default()
    };
    let list = "elements=[{element: cutout, slot: A, amps: 100}, {element: link, slot: A, link: 25T}, {element: link, slot: B, link: 25T}]";
    edit(&mut store, "HB2-RC-14", &set(&[list]), "hb", day(2)).unwrap();
    for bad in [
        "elements.C.link=40T",
        "elements.9.link=40T",
        "elements.A.slot=C",
        "elements.A=40T",
    ] {
        let e = edit(&mut store, "HB2-RC-14", &set(&[bad]), "hb", day(3)).unwrap_err();
        assert!(
            e.message
                .contains("1 cutout, slot A; 2 link, slot A; 3 link, slot B"),
            "{bad}: {e}"
        );
    }
    // A rating that rises takes two people, one element at a time as well.
    let e = edit(
        &mut store,
        "HB2-RC-14",
        &set(&["elements.1.amps=200"]),
        "hb",
        day(3),
    )
    .unwrap_err();
    assert!(e.message.contains("second person"), "{e}");
    let of = resolve(&store, "HB2-RC-14").unwrap();
    let fields = polecard::work::fields::fields(&store, &of).unwrap();
    let link = fields.iter().find(|f| f.path == "elements.2.link").unwrap();
    assert_eq!(
        (link.label.as_str(), link.value.as_str()),
        ("link in element A", "25T")
    );
    assert!(!fields.iter().any(|f| f.path == "elements"));
}
