//! Oil: its level, leaks, dielectric tests by method and gap, trends, water
//! and acid.

use super::{Case, PRACTICE, Rule, Said};
use crate::domain::asset::Class::{
    Breaker, Recloser, Regulator, Sectionalizer, Switch, Transformer,
};
use crate::domain::asset::{Class, Defect, Entry, EntryKind, Priority};
use crate::domain::finding::Question;
use crate::domain::finding::RuleStanding::{self, CommonPractice, Inferred, Read};
use crate::units::figure;

pub(super) static RULES: &[Rule] = &[
    Rule {
        name: "oil-level",
        reads: &["oil_level"],
        all: false,
        on: &[],
        source: "common practice, no source; failed oil switches that ruptured with burning oil are read in accident reports",
        standing: CommonPractice,
        judge: level,
    },
    Rule {
        name: "oil-leak",
        reads: &["leak"],
        all: false,
        on: &[],
        source: PRACTICE,
        standing: CommonPractice,
        judge: leak,
    },
    Rule {
        name: "oil-dielectric",
        reads: &["oil_kv"],
        all: false,
        on: &[],
        source: "ASTM D877 and D1816: a result stands with its method and gap",
        standing: Read,
        judge: dielectric,
    },
    Rule {
        name: "oil-trend",
        reads: &["oil_kv"],
        all: false,
        on: &[],
        source: "ASTM D1816: two results of one operator agree within 40 % at 1 mm; less is scatter",
        standing: Inferred,
        judge: trend,
    },
    Rule {
        name: "oil-method-changed",
        reads: &["oil_kv"],
        all: false,
        on: &[],
        source: "ASTM D877 and D1816: electrodes, gap and ramp differ, so do the results",
        standing: Read,
        judge: other_method,
    },
    Rule {
        name: "oil-water",
        reads: &["water_ppm"],
        all: false,
        on: &[Transformer],
        source: "IEEE C57.106 as remembered",
        standing: RuleStanding::FromMemory,
        judge: water,
    },
    Rule {
        name: "oil-acid",
        reads: &["acid_mg_koh"],
        all: false,
        on: &[Transformer],
        source: "a military maintenance manual (TM 5-684)",
        standing: Read,
        judge: acid,
    },
    Rule {
        name: "oil-carbon",
        reads: &["carbon"],
        all: false,
        on: &[Recloser, Sectionalizer, Breaker, Switch],
        source: "a recloser maker's sheet: carbon or sludge alone is cause to replace the oil",
        standing: Read,
        judge: carbon,
    },
];

/// What the order asks before anybody touches a unit that must not be counted
/// on.
const OUT_OF_SERVICE: &str =
    "ask the control centre to have it taken out of service by qualified people";

fn level(case: &Case<'_>) -> Vec<Said> {
    let Some(level) = case.text("oil_level") else {
        return Vec::new();
    };
    match level {
        "below the mark" => vec![
            Said::defect("oil below the mark", Defect::OilBelowMark).proposing(
                Priority::Urgent,
                format!(
                    "oil below mark: {OUT_OF_SERVICE}; then find the cause, test the oil, refill"
                ),
            ),
        ],
        "above the mark" => vec![Said::look(
            "oil above the mark: overfilled, or water under it; the cause is not known",
        )],
        "not seen" => vec![
            Said::look("oil level not seen: whether it stands at the mark is not known; do not count on it to interrupt until it is read").lasting(),
        ],
        _ => Vec::new(),
    }
}

fn leak(case: &Case<'_>) -> Vec<Said> {
    match case.text("leak") {
        Some("weeping") => vec![Said::defect("oil weeping", Defect::OilLeak).proposing(
            Priority::Planned,
            "oil leak: read the PCB label and the level, find where it weeps, mend it",
        )],
        Some("dripping") => vec![Said::defect("oil dripping", Defect::OilLeak).proposing(
            Priority::Urgent,
            format!("oil leak, dripping: {OUT_OF_SERVICE}; read the PCB label first, keep the oil off the ground and out of water; find the cause, test the oil, refill"),
        )],
        _ => Vec::new(),
    }
}

/// How an oil was tested: results of different kinds are never compared.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Method {
    /// Disk electrodes, 0.1 in apart.
    D877,
    /// Stirred, 1 mm.
    D1816At1,
    /// Stirred, 2 mm.
    D1816At2,
}

impl Method {
    /// As printed.
    #[must_use]
    pub const fn words(self) -> &'static str {
        match self {
            Method::D877 => "D877, 0.1 in gap",
            Method::D1816At1 => "D1816, 1 mm gap",
            Method::D1816At2 => "D1816, 2 mm gap",
        }
    }

    /// As it is written on a sheet.
    #[must_use]
    pub const fn short(self) -> &'static str {
        match self {
            Method::D877 => "D877",
            Method::D1816At1 => "D1816 1 mm",
            Method::D1816At2 => "D1816 2 mm",
        }
    }

    /// As it stands in the name of a limit.
    const fn key(self) -> &'static str {
        match self {
            Method::D877 => "d877",
            Method::D1816At1 => "d1816_1mm",
            Method::D1816At2 => "d1816_2mm",
        }
    }
}

/// The method and the result in kV of a dielectric test, if there is one.
///
/// # Errors
/// Why the result says nothing: no method, or a gap that is missing or is none
/// of the method's.
pub fn test_of(entry: &Entry) -> Result<Option<(Method, f64)>, String> {
    let number = |k: &str| entry.readings.get(k).and_then(|v| v.as_number());
    let Some(kv) = number("oil_kv") else {
        return Ok(None);
    };
    let gap_mm = number("gap_mm").or_else(|| number("gap_in").map(|i| i * 25.4));
    let method = entry.readings.get("method").and_then(|v| v.as_text());
    let near = |want: f64| gap_mm.is_some_and(|g| (g - want).abs() <= 0.13);
    let gap = gap_mm.map_or("not recorded".to_string(), |g| {
        format!("{} mm", figure((g * 100.0).round() / 100.0))
    });
    let found = match method {
        Some("D877") if gap_mm.is_none() || near(2.54) => Method::D877,
        Some("D1816") if near(1.0) => Method::D1816At1,
        Some("D1816") if near(2.0) => Method::D1816At2,
        Some("D1816 1 mm") if gap_mm.is_none() || near(1.0) => Method::D1816At1,
        Some("D1816 2 mm") if gap_mm.is_none() || near(2.0) => Method::D1816At2,
        Some(m) if gap_mm.is_none() => {
            return Err(format!(
                "by {m}, and the gap is not recorded: 1 mm and 2 mm are different tests; give gap_mm, or the method as {m} 1 mm or {m} 2 mm"
            ));
        }
        Some(m) => {
            return Err(format!(
                "by {m}, gap {gap}, which is not a gap of that method"
            ));
        }
        None => return Err("the method is not recorded".to_string()),
    };
    Ok(Some((found, kv)))
}

/// Classes whose oil breaks arcs: carbon and gas are normal there, and the
/// table of transformers is never used for them.
pub const ARCING: &[Class] = &[Recloser, Breaker, Regulator, Sectionalizer, Switch];

/// The name of the limit for a class, method and voltage.
fn limit_name(case: &Case<'_>, method: Method) -> Option<String> {
    let class = case.subject.class?;
    if !ARCING.contains(&class) && class != Transformer {
        return None;
    }
    let over = match (class, method) {
        (Transformer, Method::D1816At1 | Method::D1816At2) => voltage_band(case),
        _ => "",
    };
    Some(format!("oil_{class}_{}{over}_kv", method.key()))
}

fn voltage_band(case: &Case<'_>) -> &'static str {
    let kv = ["primary_kv", "nominal_kv", "max_kv"]
        .iter()
        .find_map(|k| case.subject.read_number(k));
    match kv {
        Some(kv) if kv >= 230.0 => "_from_230",
        Some(kv) if kv > 69.0 => "_over_69",
        _ => "",
    }
}

fn dielectric(case: &Case<'_>) -> Vec<Said> {
    let (method, kv) = match test_of(case.entry) {
        Ok(Some(test)) => test,
        Ok(None) => return Vec::new(),
        Err(why) => {
            return vec![Said::look(format!("oil dielectric not judged: {why}")).lasting()];
        }
    };
    let read = format!("oil {} kV by {}", figure(kv), method.words());
    let class = case.subject.class;
    let limit = limit_name(case, method).and_then(|n| case.subject.limits.get(&n));
    let Some((limit, source, standing)) = limit else {
        let what = class.map_or("this", Class::word);
        let arcing = if class.is_some_and(|c| ARCING.contains(&c)) {
            "; oil in which arcs break is never judged by the table of transformers"
        } else {
            ""
        };
        return vec![
            Said::look(format!(
                "{read}: not judged, no limit for {} by this method is known{arcing}",
                crate::domain::asset::an(what)
            ))
            .lasting(),
        ];
    };
    // One of two sheets replaces a recloser's oil at the limit itself.
    let fails = kv < limit || (class == Some(Recloser) && kv <= limit);
    if fails {
        return vec![
            failed(class, &format!("{read}, limit {} kV", figure(limit))).on(source, standing),
        ];
    }
    passed(case, method, kv, &read, (limit, source, standing))
}

fn failed(class: Option<Class>, read: &str) -> Said {
    let said = Said::defect(read, Defect::OilTestFailed);
    if class == Some(Transformer) {
        return said.proposing(
            Priority::Soon,
            "oil test failed: sample again, since one result is never acted on alone; qualified people judge the oil and its treatment",
        );
    }
    said.proposing(
        Priority::Urgent,
        format!("oil test failed: {OUT_OF_SERVICE}; then find the cause, replace the oil, test it before the unit is energized"),
    )
}

/// What is still to be said of a result that is not below its limit. Nothing
/// is said of one that passes a limit that was read.
fn passed(
    case: &Case<'_>,
    method: Method,
    kv: f64,
    read: &str,
    (limit, source, standing): (f64, &'static str, RuleStanding),
) -> Vec<Said> {
    let class = case.subject.class;
    let second = match (class, method) {
        (Some(c @ (Recloser | Breaker | Switch)), Method::D877)
            if case.entry.entry == EntryKind::Maintenance =>
        {
            Some((format!("new_oil_{c}_d877_kv"), "what new oil must have"))
        }
        (Some(Breaker), Method::D877) => {
            Some(("oil_breaker_d877_guide_kv".into(), "another guide's limit"))
        }
        (Some(Transformer), Method::D877) => Some((
            "oil_transformer_guide_kv".into(),
            "another guide's limit, whose method is not named; sample again before anything is decided",
        )),
        _ => None,
    };
    if let Some((name, what)) = second
        && let Some((above, source, standing)) = case.subject.limits.get(&name)
        && kv < above
    {
        return vec![
            Said::look(format!("{read}: below {} kV, {what}", figure(above)))
                .lasting()
                .on(source, standing),
        ];
    }
    if matches!(standing, Read | CommonPractice) {
        return Vec::new();
    }
    vec![
        Said::look(format!(
            "{read}: not below {} kV, which is no confirmed limit for {}: no pass",
            figure(limit),
            crate::domain::asset::an(class.map_or("unit", Class::word))
        ))
        .on(source, standing),
    ]
}

/// Results by the same method, oldest first, this one last.
fn same_method(case: &Case<'_>, method: Method) -> Vec<f64> {
    let entries = case.earlier.iter().copied().chain([case.entry]);
    entries
        .filter_map(|e| test_of(e).ok().flatten())
        .filter(|(m, _)| *m == method)
        .map(|(_, kv)| kv)
        .collect()
}

fn trend(case: &Case<'_>) -> Vec<Said> {
    let Ok(Some((method, now))) = test_of(case.entry) else {
        return Vec::new();
    };
    let results = same_method(case, method);
    let (n, by) = (results.len(), method.words());
    let name = format!("{}_scatter_percent", method.key());
    let Some((scatter, source, standing)) = case.subject.limits.get(&name) else {
        return Vec::new();
    };
    if let [.., a, b, c] = results.as_slice()
        && a > b
        && b > c
    {
        return vec![
            Said::look(format!(
                "oil falling over the last three of {n} results by {by}: {} to {} to {} kV",
                figure(*a),
                figure(*b),
                figure(*c)
            ))
            .lasting()
            .proposing(Priority::Soon, "oil falling: sample again, find the cause"),
        ];
    }
    let Some(before) = n.checked_sub(2).map(|i| results[i]) else {
        return Vec::new();
    };
    let drop = (before - now) / before * 100.0;
    if before > 0.0 && drop > scatter {
        return vec![
            Said::look(format!(
                "oil fell from {} to {} kV by {by}: {drop:.0} %, more than the {} % by which two results may differ",
                figure(before),
                figure(now),
                figure(scatter)
            ))
            .lasting()
            .on(source, standing)
            .proposing(Priority::Soon, "oil fell: sample again, find the cause"),
        ];
    }
    Vec::new()
}

fn other_method(case: &Case<'_>) -> Vec<Said> {
    let Ok(Some((method, _))) = test_of(case.entry) else {
        return Vec::new();
    };
    let last = case
        .earlier
        .iter()
        .rev()
        .find_map(|e| Some((e.on, test_of(e).ok().flatten()?.0)));
    match last {
        Some((on, before)) if before != method => {
            let on = on.map_or(String::new(), |d| format!(" ({})", d.spoken()));
            vec![Said::look(format!(
                "tested by {}; the last result{on} is by {}: the two are not compared",
                method.words(),
                before.words()
            ))]
        }
        _ => Vec::new(),
    }
}

fn water(case: &Case<'_>) -> Vec<Said> {
    let name = format!("water_transformer{}_ppm", voltage_band(case));
    let (Some(ppm), Some((limit, source, standing))) =
        (case.number("water_ppm"), case.subject.limits.get(&name))
    else {
        return Vec::new();
    };
    if ppm <= limit {
        return Vec::new();
    }
    vec![
        Said::look(format!(
            "water in oil {} ppm, limit {} ppm: says nothing of the paper's dryness; one exceeded figure alone is no ground to remove it",
            figure(ppm),
            figure(limit)
        ))
        .lasting()
        .on(source, standing)
        .proposing(Priority::Planned, "water in oil: sample again, find the cause"),
    ]
}

fn acid(case: &Case<'_>) -> Vec<Said> {
    let (Some(acid), Some((limit, source, standing))) = (
        case.number("acid_mg_koh"),
        case.subject.limits.get("acid_transformer_mg_koh"),
    ) else {
        return Vec::new();
    };
    if acid <= limit {
        return Vec::new();
    }
    vec![
        Said::look(format!(
            "acid number {} mg KOH/g, limit {} in mineral oil: to be treated or replaced, as qualified people judge",
            figure(acid),
            figure(limit)
        ))
        .lasting()
        .on(source, standing)
        .proposing(Priority::Planned, "acid oil: sample again, judge the treatment"),
    ]
}

fn carbon(case: &Case<'_>) -> Vec<Said> {
    if !case.is("carbon", "much") {
        return Vec::new();
    }
    vec![
        Said::look("much carbon or sludge in the oil: cause by itself to replace it")
            .capping(&[Question::Break, Question::Stand])
            .proposing(
                Priority::Soon,
                "carbon in the oil: replace it, look at the contacts",
            ),
    ]
}
