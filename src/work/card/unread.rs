//! Cautions of the plates: which figures nobody has read.

use super::PlateCard;
use crate::domain::asset::Standing;
use crate::domain::finding::Caution;

/// Figures of the one line that nobody has read.
pub(super) fn unread(plates: &[PlateCard], about: &str) -> Vec<Caution> {
    let mut out = Vec::new();
    for plate in plates {
        let of = |standing: Standing| -> Vec<&str> {
            plate
                .fields
                .iter()
                .filter(|f| f.standing == Some(standing) && bears(&f.label))
                .filter(|f| !(by_coil(&f.label) && coil_known(plate)))
                .filter(|f| !(of_coil(&f.label) && electronic(plate)))
                .map(|f| f.label.as_str())
                .collect()
        };
        let (unknown, assumed) = (of(Standing::Unknown), of(Standing::Assumed));
        let mut parts = Vec::new();
        if !unknown.is_empty() {
            parts.push(format!("unread: {}", unknown.join(", ")));
        }
        if !assumed.is_empty() {
            parts.push(format!("assumed: {}", assumed.join(", ")));
        }
        if !parts.is_empty() {
            let slot = plate
                .slot
                .as_ref()
                .filter(|_| plates.len() > 1)
                .map_or(String::new(), |s| format!(" (slot {s})"));
            out.push(Caution::look(
                format!("plate of {}{slot}, {}", plate.unit, parts.join("; ")),
                about,
            ));
        }
    }
    out
}

/// What follows from the rating of a series coil.
fn by_coil(label: &str) -> bool {
    ["continuous", "minimum trip", "actuating"].contains(&label)
}

/// What a device with an electronic control has not.
fn of_coil(label: &str) -> bool {
    ["coil", "minimum trip", "actuating"].contains(&label)
}

fn electronic(plate: &PlateCard) -> bool {
    plate
        .fields
        .iter()
        .any(|f| f.label == "control" && f.text == "electronic")
}

fn coil_known(plate: &PlateCard) -> bool {
    plate
        .fields
        .iter()
        .any(|f| f.label == "coil" && f.standing == Some(Standing::Known))
}

/// Labels of the plate that a question may rest on.
fn bears(label: &str) -> bool {
    [
        "continuous",
        "coil",
        "minimum trip",
        "actuating",
        "interrupting, symmetrical",
        "test X/R",
        "load break",
        "momentary",
        "maximum",
        "BIL",
        "rated",
        "MCOV",
        "duty-cycle rating",
    ]
    .contains(&label)
}
