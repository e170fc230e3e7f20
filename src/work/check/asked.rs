//! What a check is judged by: typed, else recorded, each with where it comes
//! from.

use super::{InputUsed, Typed};
use crate::calendar::Date;
use crate::domain::asset::{FaultStudy, LoadStudy, Position};
use crate::domain::nameplate::{Asked, Facts, FaultGiven, Given};
use crate::units::XOverR;

/// What was typed, else what is recorded. An X/R belongs to its own fault
/// current: a typed fault without one is judged at the worst bound.
pub(super) fn asked(p: &Position, typed: &Typed) -> Asked {
    let typed_as = |value: f64| Given {
        value,
        origin: "typed".to_string(),
    };
    let fault = match typed.fault {
        Some(amps) => Some(FaultGiven {
            amps: amps.get(),
            origin: "typed".to_string(),
            x_over_r: typed.x_over_r.map(XOverR::get),
            kind: typed.fault_kind,
            typed: true,
        }),
        None => p.available_fault.as_ref().map(|study| FaultGiven {
            amps: study.amps.get(),
            origin: study_origin(study),
            x_over_r: typed.x_over_r.or(study.x_over_r).map(XOverR::get),
            kind: Some(typed.fault_kind.unwrap_or(study.kind)),
            typed: false,
        }),
    };
    Asked {
        load: typed.load.map(|a| typed_as(a.get())).or_else(|| {
            p.peak_load.as_ref().map(|study| Given {
                value: study.amps.get(),
                origin: load_origin(study),
            })
        }),
        fault,
        min_fault: typed.min_fault.map(|a| typed_as(a.get())).or_else(|| {
            p.minimum_fault.as_ref().map(|study| Given {
                value: study.amps.get(),
                origin: study_origin(study),
            })
        }),
        min_fault_kind: match typed.min_fault {
            Some(_) => None,
            None => p.minimum_fault.as_ref().map(|study| study.kind),
        },
        kv_ll: typed.kv_ll.map(|kv| typed_as(kv.get())),
        outage_min: typed.outage.map(|m| typed_as(m.get())),
        fault_on_s: typed.fault_time.map(|s| typed_as(s.get())),
        unbalance: typed.unbalance.map(|a| typed_as(a.get())),
        bypass: typed.bypass,
    }
}

fn origin(source: Option<&str>, date: Option<Date>) -> String {
    let source = source.unwrap_or("recorded");
    match date {
        Some(date) => format!("{source}, {}", date.spoken()),
        None => format!("{source}, undated"),
    }
}

fn study_origin(study: &FaultStudy) -> String {
    origin(study.source.as_deref(), study.date)
}

fn load_origin(study: &LoadStudy) -> String {
    origin(study.source.as_deref(), study.date)
}

pub(super) fn inputs(facts: &Facts, asked: &Asked) -> Vec<InputUsed> {
    let none = "neither recorded nor typed";
    let row = |name, unit, given: Option<(f64, &str)>| InputUsed {
        name,
        value: given.map(|(v, _)| v),
        unit,
        origin: given.map_or(none, |(_, o)| o).to_string(),
    };
    let of = |g: &Option<Given>| g.as_ref().map(|g| (g.value, g.origin.clone()));
    let load = of(&asked.load);
    let min_fault = of(&asked.min_fault);
    let fault = asked.fault.as_ref();
    let kind = fault.map_or(String::new(), |f| {
        f.kind
            .map_or("taken as the greatest of any kind".to_string(), |k| {
                k.to_string()
            })
    });
    let mut out = vec![
        row("load", "A", load.as_ref().map(|(v, o)| (*v, o.as_str()))),
        row("fault", "A", fault.map(|f| (f.amps, f.origin.as_str()))),
    ];
    if let Some(fault) = fault {
        out.push(InputUsed {
            name: "fault kind",
            value: None,
            unit: "",
            origin: kind,
        });
        let xr = fault.x_over_r.map(|x| (x, fault.origin.as_str()));
        out.push(InputUsed {
            origin: xr
                .map_or("missing: judged at the worst bound", |(_, o)| o)
                .to_string(),
            ..row("system X/R", "", xr)
        });
    }
    out.push(row(
        "minimum fault",
        "A",
        min_fault.as_ref().map(|(v, o)| (*v, o.as_str())),
    ));
    for (name, unit, given) in [
        ("outage", "min", &asked.outage_min),
        ("fault-on time", "s", &asked.fault_on_s),
        ("unbalance", "A", &asked.unbalance),
    ] {
        if let Some(g) = given {
            out.push(row(name, unit, Some((g.value, &g.origin))));
        }
    }
    out.push(match (&asked.kv_ll, facts.nominal_kv_ll) {
        (Some(g), _) => row("voltage", "kV", Some((g.value, &g.origin))),
        (None, Some(kv)) => row("nominal voltage", "kV", Some((kv, "feeder on record"))),
        (None, None) => row("nominal voltage", "kV", None),
    });
    out
}
