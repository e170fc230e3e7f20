//! What the plates say: every field with its standing, and the one line that
//! sums them up.

use super::{ElementLine, Fact, PlateCard, SettingLine};
use crate::domain::asset::{
    Answer, Class, Conductor, Element, ElementKind, Field, Holds, Nameplate, Plain, Position,
    Standing, Stated, Table, Unit,
};
use crate::domain::nameplate::UnitHere;
use crate::units::figure;

/// A value as printed: `4,000 A assumed`, `unread`.
#[must_use]
pub fn printed(value: &Stated, unit: &str) -> String {
    let (Some(plain), Standing::Known | Standing::Assumed) = (&value.value, value.standing) else {
        return "unread".to_string();
    };
    let mut out = match plain {
        Plain::Number(n) if unit.is_empty() => figure(*n),
        Plain::Number(n) => format!("{} {unit}", figure(*n)),
        Plain::Text(t) => t.clone(),
    };
    if value.standing == Standing::Assumed {
        out.push_str(" assumed");
    }
    out
}

/// Who read it, when and from what; or the rule that assumed it.
pub(super) fn provenance(value: &Stated) -> Option<String> {
    match value.standing {
        Standing::Unknown => None,
        Standing::Assumed => Some(match &value.rule {
            Some(rule) => format!("by rule: {rule}"),
            None => "the rule is not recorded".to_string(),
        }),
        Standing::Known => {
            let mut parts = Vec::new();
            if value.by.is_some() || value.on.is_some() {
                parts.push("read".to_string());
            }
            parts.extend(value.on.map(|d| d.spoken()));
            parts.extend(value.by.as_ref().map(|b| format!("by {b}")));
            parts.extend(value.from.map(|f| format!("from {}", f.word())));
            parts.extend(value.rule.as_ref().map(|r| format!("({r})")));
            if parts.is_empty() {
                parts.push("reader not recorded".to_string());
            }
            Some(parts.join(" "))
        }
    }
}

fn unit_of(field: &Field) -> &'static str {
    match field.holds {
        Holds::Number { unit, .. } => unit,
        _ => "",
    }
}

fn plate_text(field: &Field, value: &Stated) -> String {
    match (&value.value, field.key) {
        // A year takes no thousands comma.
        (Some(Plain::Number(n)), "made_year") if value.standing != Standing::Unknown => {
            let assumed = if value.standing == Standing::Assumed {
                " assumed"
            } else {
                ""
            };
            format!("{n:.0}{assumed}")
        }
        _ => printed(value, unit_of(field)),
    }
}

/// Every field that a plate of the class should show, and any other it has.
pub(super) fn fields(class: Class, plate: &Nameplate) -> Vec<Fact> {
    crate::domain::asset::PlateTable::fields()
        .iter()
        .filter(|f| {
            let expected = f.classes.is_empty() || f.classes.contains(&class);
            let twice = f.key == "made_on" && plate.get("made_on").is_none();
            plate.get(f.key).is_some() || (expected && !twice)
        })
        .map(|f| {
            let value = plate.stated(f.key);
            Fact {
                label: f.label.to_string(),
                text: plate_text(f, &value),
                standing: Some(value.standing),
                provenance: provenance(&value),
            }
        })
        .collect()
}

pub(super) fn plate_card(unit: &Unit, slot: Option<&str>) -> PlateCard {
    PlateCard {
        unit: unit.unit.clone(),
        slot: slot.map(ToString::to_string),
        what: class_words(unit.class, &[&unit.nameplate]),
        fields: fields(unit.class, &unit.nameplate),
    }
}

/// `oil recloser`: the class with its interrupter, when all plates agree.
pub(super) fn class_words(class: Class, plates: &[&Nameplate]) -> String {
    let same = |key: &str| -> Option<String> {
        let mut values = plates.iter().map(|p| p.text(key));
        let first = values.next()??;
        values.all(|v| v == Some(first)).then(|| first.to_string())
    };
    let interrupter = match class {
        Class::Recloser | Class::Sectionalizer | Class::Breaker => {
            same("interrupter").filter(|i| i != "none")
        }
        Class::Switch => same("opens_load").map(|a| match a.as_str() {
            "yes" => "load-break".to_string(),
            _ => "non-load-break".to_string(),
        }),
        _ => None,
    };
    match interrupter {
        Some(word) => format!("{word} {class}"),
        None => class.word().to_string(),
    }
}

/// The figures of a class that stand in its one line, with their labels.
fn gist_keys(class: Class) -> &'static [(&'static str, &'static str)] {
    match class {
        Class::Recloser => &[
            ("carries", "carries"),
            ("trips", "trips"),
            ("breaks", "interrupting_amps"),
            ("BIL", "bil_kv"),
        ],
        Class::Breaker => &[
            ("carries", "continuous_amps"),
            ("breaks", "interrupting_amps"),
            ("BIL", "bil_kv"),
        ],
        Class::Sectionalizer => &[
            ("carries", "carries"),
            ("actuates", "actuating_amps"),
            ("counts", "counts"),
            ("momentary", "momentary_amps"),
            ("BIL", "bil_kv"),
        ],
        Class::Switch => &[
            ("carries", "continuous_amps"),
            ("load break", "load_break_amps"),
            ("momentary", "momentary_amps"),
            ("BIL", "bil_kv"),
        ],
        Class::Cutout => &[
            ("carries", "carries"),
            ("breaks", "interrupting_amps"),
            ("BIL", "bil_kv"),
        ],
        Class::Regulator => &[
            ("carries", "continuous_amps"),
            ("rated", "kva"),
            ("range", "range_percent"),
            ("BIL", "bil_kv"),
        ],
        Class::Capacitor => &[
            ("rated", "kvar"),
            ("nominal", "nominal_kv"),
            ("BIL", "bil_kv"),
        ],
        Class::Transformer => &[
            ("rated", "kva"),
            ("primary", "primary_kv"),
            ("secondary", "secondary_v"),
            ("impedance", "impedance_percent"),
        ],
        Class::Arrester => &[("duty", "duty_kv"), ("MCOV", "mcov_kv")],
        Class::Generation => &[("rated", "kva"), ("nominal", "nominal_kv")],
        Class::Other => &[("model", "model"), ("BIL", "bil_kv")],
    }
}

/// The one line of a unit's plate.
pub(super) fn unit_gist(unit: &Unit) -> Vec<Fact> {
    gist_keys(unit.class)
        .iter()
        .map(|(label, key)| gist_fact(label, key, &unit.nameplate))
        .collect()
}

fn gist_fact(label: &str, key: &str, plate: &Nameplate) -> Fact {
    let (text, standing) = match key {
        "trips" => trips(plate),
        "carries" => carries(plate),
        key => {
            let field = crate::domain::asset::PlateTable::fields()
                .iter()
                .find(|f| f.key == key);
            let value = plate.stated(key);
            (printed(&value, field.map_or("", unit_of)), value.standing)
        }
    };
    Fact {
        label: label.to_string(),
        text,
        standing: Some(standing),
        provenance: None,
    }
}

/// The least of the continuous figures on the plate: tank, coil, holder, blade.
fn carries(plate: &Nameplate) -> (String, Standing) {
    let least = ["continuous_amps", "coil_amps", "holder_amps", "blade_amps"]
        .iter()
        .filter_map(|k| plate.get(k))
        .filter(|v| v.as_number().is_some())
        .min_by(|a, b| {
            let n = |v: &Stated| v.as_number().unwrap_or(f64::INFINITY);
            n(a).total_cmp(&n(b))
        });
    match least {
        Some(value) => (printed(value, "A"), value.standing),
        None => ("unread".to_string(), Standing::Unknown),
    }
}

/// Minimum trip: of a series coil twice its rating, taken as 180 to 220 % (read
/// in an application guide for hydraulic reclosers); a plate that says
/// otherwise is shown as it is. An electronic control trips by its settings.
fn trips(plate: &Nameplate) -> (String, Standing) {
    if plate.text("control") == Some("electronic") {
        return (BY_SETTINGS.to_string(), Standing::Known);
    }
    let coil = plate.stated("coil_amps");
    let stamped = plate.stated("min_trip_amps");
    match (coil.as_number(), stamped.as_number()) {
        (Some(c), Some(t)) if (t - 2.0 * c).abs() > 0.5 => {
            (printed(&stamped, "A"), stamped.standing)
        }
        (Some(c), _) => {
            let assumed = if coil.standing == Standing::Assumed {
                " assumed"
            } else {
                ""
            };
            let (low, high) = (figure(1.8 * c), figure(2.2 * c));
            (format!("{low} to {high} A{assumed}"), coil.standing)
        }
        (None, _) => (printed(&stamped, "A"), stamped.standing),
    }
}

/// The line of a position: slots that say the same stand together, the others
/// each with their slot.
pub(super) fn gist(p: &Position, units: &[UnitHere]) -> Vec<Fact> {
    if units.is_empty() {
        return element_gist(p);
    }
    let lines: Vec<(Option<&str>, Vec<Fact>)> = units
        .iter()
        .map(|u| (u.slot.as_deref(), unit_gist(&u.unit)))
        .collect();
    let mut out: Vec<Fact> = Vec::new();
    for (_, facts) in &lines {
        for fact in facts {
            if !out.iter().any(|o| o.label == fact.label) {
                out.push(joined(&fact.label, &lines));
            }
        }
    }
    for fact in &mut out {
        if fact.text == BY_SETTINGS {
            fact.text = pickups(p);
        }
    }
    out
}

const BY_SETTINGS: &str = "by its settings";

/// The pickups as issued, for a control that trips by its settings.
fn pickups(p: &Position) -> String {
    let phase = p.settings.stated("phase_pickup_amps");
    let Some(amps) = phase.as_number() else {
        return format!("{BY_SETTINGS}, pickup not known");
    };
    let ground = p.settings.stated("ground_pickup_amps");
    let ground = match ground.as_number() {
        Some(g) => format!("ground {} A", figure(g)),
        None => "ground not known".to_string(),
    };
    format!("{} A, {ground} as issued", figure(amps))
}

fn joined(label: &str, lines: &[(Option<&str>, Vec<Fact>)]) -> Fact {
    let mut by_text: Vec<(String, Vec<&str>)> = Vec::new();
    let mut worst = Standing::Known;
    for (slot, facts) in lines {
        let Some(fact) = facts.iter().find(|f| f.label == label) else {
            continue;
        };
        worst = worse(worst, fact.standing.unwrap_or_default());
        let slot = slot.unwrap_or("slot not recorded");
        match by_text.iter_mut().find(|(t, _)| *t == fact.text) {
            Some((_, slots)) => slots.push(slot),
            None => by_text.push((fact.text.clone(), vec![slot])),
        }
    }
    let text = match by_text.as_slice() {
        [(text, _)] => text.clone(),
        several => several
            .iter()
            .map(|(text, slots)| format!("{text} ({})", slots.join(", ")))
            .collect::<Vec<_>>()
            .join(", "),
    };
    Fact {
        label: label.to_string(),
        text,
        standing: Some(worst),
        provenance: None,
    }
}

const fn worse(a: Standing, b: Standing) -> Standing {
    match (a, b) {
        (Standing::Unknown, _) | (_, Standing::Unknown) => Standing::Unknown,
        (Standing::Assumed, _) | (_, Standing::Assumed) => Standing::Assumed,
        _ => Standing::Known,
    }
}

/// A position without a serialised unit: its elements speak for it.
fn element_gist(p: &Position) -> Vec<Fact> {
    let lines: Vec<(Option<&str>, Vec<Fact>)> = p
        .elements
        .iter()
        .map(|e| (e.slot.as_deref(), element_facts(e)))
        .collect();
    let mut out: Vec<Fact> = Vec::new();
    for fact in lines.iter().flat_map(|(_, facts)| facts) {
        if !out.iter().any(|o| o.label == fact.label) {
            out.push(joined(&fact.label, &lines));
        }
    }
    if out.is_empty() {
        let slots = p.slot_names().join(", ");
        out.push(Fact {
            standing: Some(Standing::Unknown),
            ..Fact::new("unit", format!("none on record in {slots}"))
        });
    }
    out
}

fn element_facts(e: &Element) -> Vec<Fact> {
    let fact = |label: &str, value: &Option<Stated>, unit: &str| {
        let value = value.clone().unwrap_or_else(Stated::unknown);
        Fact {
            standing: Some(value.standing),
            ..Fact::new(label, printed(&value, unit))
        }
    };
    match e.element {
        ElementKind::Cutout => vec![
            fact("holder", &e.amps, "A"),
            fact("breaks", &e.interrupting_amps, "A"),
            fact("BIL", &e.bil_kv, "kV"),
        ],
        ElementKind::Link => vec![fact("link", &e.link, "")],
        ElementKind::Blade => vec![fact("solid blade", &e.amps, "A")],
        ElementKind::Switch => vec![
            fact("carries", &e.amps, "A"),
            fact("momentary", &e.momentary_amps, "A"),
        ],
        _ => Vec::new(),
    }
}

/// An answer as printed: what is not known counts as no.
fn answer(a: Option<Answer>) -> String {
    match a {
        Some(Answer::Yes) => "yes".to_string(),
        Some(Answer::No) => "no".to_string(),
        Some(Answer::Unknown) | None => "not known, treat as no".to_string(),
    }
}

/// The elements of a path, as lines.
pub(super) fn elements(
    elements: &[Element],
    units: &[UnitHere],
    conductors: &std::collections::BTreeMap<String, Conductor>,
) -> Vec<ElementLine> {
    elements
        .iter()
        .map(|e| ElementLine {
            what: called(e, units),
            slot: e.slot.clone(),
            ratings: ratings(e, conductors),
            opens_load: answer(e.opens_load.or_else(|| plate_opens_load(e, units))),
            visible_break: answer(e.visible_break),
            lockable: answer(e.lockable),
            normally: e.normally.map(|n| n.word().to_string()),
        })
        .collect()
}

/// Of the unit itself the plate may say; several must agree.
fn plate_opens_load(e: &Element, units: &[UnitHere]) -> Option<Answer> {
    if e.element != ElementKind::Unit {
        return None;
    }
    let mut words = units.iter().map(|u| u.unit.nameplate.text("opens_load"));
    let first = words.next()??;
    words
        .all(|w| w == Some(first))
        .then(|| Answer::from_word(first))?
}

fn called(e: &Element, units: &[UnitHere]) -> String {
    let kind = match (&e.label, e.element) {
        (Some(label), _) => label.clone(),
        (None, ElementKind::Unit) => {
            let names: Vec<&str> = units.iter().map(|u| u.unit.unit.as_str()).collect();
            if names.is_empty() {
                "unit, none on record".to_string()
            } else {
                format!("unit {}", names.join(", "))
            }
        }
        (None, kind) => kind.word().to_string(),
    };
    match &e.conductor {
        Some(c) => format!("{kind}, {c}"),
        None => kind,
    }
}

fn ratings(e: &Element, conductors: &std::collections::BTreeMap<String, Conductor>) -> Vec<String> {
    let mut out = Vec::new();
    let mut add = |label: &str, value: &Option<Stated>, unit: &str, always: bool| {
        if let Some(value) = value {
            out.push(format!("{label} {}", printed(value, unit)));
        } else if always {
            out.push(format!("{label} unread"));
        }
    };
    let has = |kinds: &[ElementKind]| kinds.contains(&e.element);
    let wire = e
        .conductor
        .as_ref()
        .and_then(|c| conductors.get(c))
        .and_then(|c| c.ampacity_amps.clone());
    let amps = e.amps.clone().or(wire);
    let series = !has(&[ElementKind::Unit, ElementKind::Link]);
    add("link", &e.link, "", has(&[ElementKind::Link]));
    add("carries", &amps, "A", series);
    add(
        "breaks",
        &e.interrupting_amps,
        "A",
        has(&[ElementKind::Cutout]),
    );
    add("asymmetrical", &e.interrupting_asym_amps, "A", false);
    add("test X/R", &e.test_x_over_r, "", false);
    add(
        "momentary",
        &e.momentary_amps,
        "A",
        has(&[ElementKind::Switch]),
    );
    add("maximum", &e.max_kv, "kV", false);
    add("BIL", &e.bil_kv, "kV", false);
    out
}

/// Settings as issued beside settings as found.
pub(super) fn settings(p: &Position) -> Vec<SettingLine> {
    let nothing_found = p.settings_found.is_empty();
    crate::domain::asset::SettingTable::fields()
        .iter()
        .filter(|f| p.settings.get(f.key).is_some() || p.settings_found.get(f.key).is_some())
        .map(|f| {
            let say = |v: Option<&Stated>| {
                v.map_or("not on record".to_string(), |v| {
                    printed(v, unit_of(f)).replace("unread", "not known")
                })
            };
            let (issued, found) = (p.settings.get(f.key), p.settings_found.get(f.key));
            SettingLine {
                label: f.label.to_string(),
                issued: say(issued),
                found: (!nothing_found).then(|| say(found)),
                differs: found.is_some() && issued.map(|v| &v.value) != found.map(|v| &v.value),
            }
        })
        .collect()
}
