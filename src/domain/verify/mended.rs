//! At which fields of its record a finding is mended, where that is one edit.

/// Fields by rule, the likeliest first. `*` stands for the number of an element
/// in its list. Rules that a person cannot mend by one field of the record are
/// left out: a visit, a swap or another record mends them.
const MENDED_AT: &[(&str, &[&str])] = &[
    (
        "date-new-year",
        &["deployments", "nameplate.made_on", "on", "opened"],
    ),
    (
        "date-future",
        &[
            "on",
            "closed",
            "due",
            "opened",
            "deployments",
            "nameplate.made_on",
        ],
    ),
    (
        "date-order",
        &[
            "closed",
            "opened",
            "due",
            "deployments",
            "nameplate.made_year",
        ],
    ),
    (
        "study-older-than-source",
        &["available_fault.date", "available_fault"],
    ),
    ("reading-impossible", &["readings"]),
    ("counter-backwards", &["readings"]),
    ("feeder-unsourced", &["source", "head"]),
    ("toward-source", &["toward", "normal_source"]),
    ("span-phases", &["span.phases", "phases"]),
    ("position-phases", &["phases"]),
    ("feeders-meet", &["feeder"]),
    ("section-fed-twice", &["normally"]),
    ("name-twice", &["structure", "position", "unit", "order"]),
    ("other-name-twice", &["names", "nameplate.serial"]),
    ("id-off-scheme", &["structure", "position", "unit"]),
    (
        "placeholder-value",
        &[
            "nameplate.serial",
            "nameplate.model",
            "place.near",
            "place.road",
        ],
    ),
    (
        "two-values",
        &["place.road", "place.near", "nameplate.serial"],
    ),
    ("no-second-identifier", &["place.road", "place.near"]),
    (
        "conductor-unknown",
        &["span.conductor", "elements.*.conductor"],
    ),
    ("notice-without-rule", &["hits.class", "hits.model", "hits"]),
    (
        "notice-rule-backwards",
        &["hits.serial_from", "hits.made_from", "hits"],
    ),
    (
        "reference-nowhere",
        &[
            "structure",
            "toward",
            "feeder",
            "of",
            "deployments",
            "source",
            "head",
        ],
    ),
    (
        "id-of-other-kind",
        &[
            "structure",
            "toward",
            "feeder",
            "of",
            "deployments",
            "source",
            "head",
        ],
    ),
    (
        "reference-old-name",
        &["structure", "toward", "feeder", "of", "deployments"],
    ),
    ("unit-two-places", &["deployments"]),
    ("stay-undated", &["deployments"]),
    ("slot-shared", &["deployments"]),
    ("slot-off-position", &["deployments"]),
    ("class-differs", &["class"]),
    ("kva-off-list", &["nameplate.kva"]),
    ("link-off-list", &["elements.*.link", "nameplate.link"]),
    ("coil-off-list", &["nameplate.coil_amps"]),
    (
        "trip-under-continuous",
        &["nameplate.min_trip_amps", "nameplate.coil_amps"],
    ),
    ("peak-under-rms", &["nameplate.peak_amps"]),
    ("mcov-over-duty", &["nameplate.mcov_kv"]),
    (
        "interrupting-under-carrying",
        &["nameplate.interrupting_amps"],
    ),
    ("interrupting-too-high", &["nameplate.interrupting_amps"]),
    ("bil-off-class", &["nameplate.bil_kv"]),
];

/// The field among those of a record at which a finding is mended: the first
/// whose value is named by the finding, else the first that is there. `fields`
/// are paths, each with its value as text.
#[must_use]
pub fn mended_at<'f>(rule: &str, why: &str, fields: &'f [(String, String)]) -> Option<&'f str> {
    let (_, wanted) = MENDED_AT.iter().find(|(name, _)| *name == rule)?;
    let found: Vec<&(String, String)> = wanted
        .iter()
        .flat_map(|w| fields.iter().filter(move |(path, _)| fits(w, path)))
        .collect();
    let named = |value: &str| value.len() > 1 && why.contains(value);
    found
        .iter()
        .find(|(_, value)| named(value))
        .or_else(|| found.iter().find(|(_, value)| !value.is_empty()))
        .or_else(|| found.first())
        .map(|(path, _)| path.as_str())
}

fn fits(wanted: &str, path: &str) -> bool {
    match wanted.split_once('*') {
        None => wanted == path,
        Some((before, after)) => path
            .strip_prefix(before)
            .and_then(|rest| rest.strip_suffix(after))
            .is_some_and(|n| !n.is_empty() && n.bytes().all(|b| b.is_ascii_digit())),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::domain::verify::detector;

    #[test]
    fn every_rule_is_one_and_the_field_named_by_the_finding_comes_first() {
        for (rule, fields) in MENDED_AT {
            assert!(detector(rule).is_some(), "{rule}");
            assert!(!fields.is_empty());
        }
        let fields = [
            ("elements.1.amps", "100"),
            ("elements.1.link", "40T"),
            ("elements.2.link", "41T"),
        ]
        .map(|(p, v)| (p.to_string(), v.to_string()));
        let at = |why| mended_at("link-off-list", why, &fields);
        assert_eq!(
            at("holds a link 41T, which is not made"),
            Some("elements.2.link")
        );
        assert_eq!(at("holds an odd link"), Some("elements.1.link"));
        assert_eq!(mended_at("slot-empty", "", &fields), None);
    }
}
