//! The radio line, and the words of a place.

use super::Where;
use crate::domain::asset::{Place, Structure};
use crate::domain::code::say;

/// Road words that are written short and said long.
const ROADS: &[(&str, &str)] = &[
    ("Rd", "Road"),
    ("Ln", "Lane"),
    ("St", "Street"),
    ("Ave", "Avenue"),
    ("Dr", "Drive"),
    ("Ct", "Court"),
    ("Hwy", "Highway"),
    ("Blvd", "Boulevard"),
    ("Ext", "Extension"),
    ("Pl", "Place"),
];

/// A road as it is said.
pub(super) fn road(text: &str) -> String {
    text.split(' ')
        .map(|w| {
            let bare = w.trim_end_matches('.');
            ROADS
                .iter()
                .find(|(short, _)| *short == bare)
                .map_or(w, |(_, long)| long)
        })
        .collect::<Vec<_>>()
        .join(" ")
}

/// `pole four zero dash one one eight, Tannery Road, the weir gate`.
pub(super) fn structure(s: &Structure) -> String {
    let mut parts = vec![format!("{} {}", s.kind, say(&s.structure))];
    parts.extend(s.place.road.as_deref().map(road));
    parts.extend(s.place.near.clone());
    parts.join(", ")
}

/// Where a structure stands.
pub(super) fn place(s: &Structure) -> Where {
    let Place {
        road,
        house,
        near,
        lat,
        lon,
    } = &s.place;
    Where {
        structure: Some(s.structure.clone()),
        kind: Some(s.kind.word().to_string()),
        road: match (house, road) {
            (Some(house), Some(road)) => Some(format!("{house} {road}")),
            (house, road) => road.clone().or_else(|| house.clone()),
        },
        near: near.clone(),
        feeder: s.feeder.clone(),
        lat: lat.map(crate::units::Latitude::get),
        lon: lon.map(crate::units::Longitude::get),
    }
}
