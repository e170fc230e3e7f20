//! The card of a structure: everything on it, every circuit.

use super::super::facts::{defects_of, pointing_at};
use super::super::{Failure, trace};
use super::position::InShort;
use super::{Card, Fact, Group, OrderLine, caution, history, line, position, radio};
use crate::calendar::Clock;
use crate::domain::asset::{Kind, Pole, Position, Record, Rel, Span, Structure};
use crate::domain::finding::Caution;
use crate::domain::nameplate::Of;
use crate::store::{Store, Stored};

pub(super) fn fill(
    card: &mut Card,
    store: &Store,
    stored: &Stored,
    s: &Structure,
    clock: Clock,
) -> Result<(), Failure> {
    card.what = s.kind.word().to_uppercase();
    card.place = radio::place(s);
    card.say = radio::structure(s);
    card.note = s.note.clone();
    card.history = history::history(store, &[stored])?;
    card.fed = trace::ways(store, stored)?;
    let open = defects_of(store, stored, Of::Place(s.structure.clone()))?;
    let own_orders = history::orders(store, &[stored], clock.today())?;
    card.cautions = caution::defects(&open, &own_orders);
    card.cautions.extend(caution::readings(store, &[stored])?);
    let on_it = positions(store, stored, clock)?;
    card.cautions
        .extend(on_it.iter().flat_map(|p| p.stops.clone()));
    card.orders = orders(store, stored, &on_it, clock)?;
    let spans = spans(store, stored)?;
    card.cautions.extend(live(s, card, &spans));
    card.cautions.extend(caution::hazards(s));
    card.groups = groups(
        s,
        on_it.into_iter().map(|p| p.fact).collect(),
        &spans,
        sources(store, stored)?,
    );
    Ok(())
}

/// Its own open orders and those of all that hangs on it.
fn orders(
    store: &Store,
    stored: &Stored,
    on_it: &[InShort],
    clock: Clock,
) -> Result<Vec<OrderLine>, Failure> {
    let mut of = vec![stored];
    of.extend(on_it.iter().flat_map(|p| &p.of));
    Ok(history::orders(store, &of, clock.today())?)
}

fn positions(store: &Store, stored: &Stored, clock: Clock) -> Result<Vec<InShort>, Failure> {
    let notices = position::notices(store)?;
    let mut found: Vec<(Stored, Position)> = Vec::new();
    for other in pointing_at(store, Rel::HangsOn, stored)? {
        if let Record::Position(p) = other.record.clone()
            && let Some(at) = &p.structure
            && super::super::facts::means(store, at, stored.rec)?
        {
            found.push((other, p));
        }
    }
    found.sort_by(|(_, a), (_, b)| {
        (!a.class.in_series(), &a.feeder, &a.position).cmp(&(
            !b.class.in_series(),
            &b.feeder,
            &b.position,
        ))
    });
    found
        .iter()
        .map(|(other, p)| position::in_short(store, other, p, &notices, clock))
        .collect()
}

fn spans(store: &Store, stored: &Stored) -> Result<Vec<(Span, bool)>, Failure> {
    let mut out = Vec::new();
    for (rel, from_here) in [(Rel::SpanFrom, true), (Rel::SpanTo, false)] {
        for other in pointing_at(store, rel, stored)? {
            if let Record::Span(span) = other.record {
                let end = if from_here {
                    &span.span.from
                } else {
                    &span.span.to
                };
                if super::super::facts::means(store, end, stored.rec)? {
                    out.push((span, from_here));
                }
            }
        }
    }
    out.sort_by_key(|(s, from_here)| (s.feeder.clone(), *from_here, s.name()));
    Ok(out)
}

fn sources(store: &Store, stored: &Stored) -> Result<Vec<Fact>, Failure> {
    let mut out = Vec::new();
    for other in pointing_at(store, Rel::SourceAt, stored)? {
        if let Record::Source(s) = other.record {
            let kva = s.kva.map(|k| format!(", {k}")).unwrap_or_default();
            out.push(Fact::new(s.source, format!("{}{kva}", s.kind)));
        }
    }
    for other in store.pointing(Rel::HeadAt, &stored.record.name())? {
        if other.record.kind() == Kind::Feeder {
            out.push(Fact::new(other.record.name(), "feeder, leaves here"));
        }
    }
    Ok(out)
}

/// Every circuit here is live until control says otherwise, and the record may
/// not know them all.
fn live(s: &Structure, card: &Card, spans: &[(Span, bool)]) -> Vec<Caution> {
    let circuits = circuits(s, spans);
    let mut out = Vec::new();
    let known = match circuits.as_slice() {
        [] => "no circuit recorded here. Treat every wire as live".to_string(),
        [one] => format!("1 circuit recorded here: {one}. Treat it as live; others may exist"),
        several => format!(
            "{} circuits recorded here: {}. Treat every one as live; others may exist",
            several.len(),
            several.join(", ")
        ),
    };
    out.push(Caution::look(known, &s.structure));
    for way in &card.fed {
        out.extend(line::of_walk(&way.walk, &s.structure));
        let Some(why) = &way.walk.no_source else {
            continue;
        };
        let part = way
            .part
            .as_ref()
            .map_or(String::new(), |p| format!("{p}: "));
        out.push(Caution::look(
            format!("{part}no normal source found: {why}"),
            &s.structure,
        ));
    }
    if card.fed.is_empty() && !spans.is_empty() {
        out.push(Caution::look(
            "the line here has no home feeder on record, so it is not walked",
            &s.structure,
        ));
    }
    out
}

fn circuits(s: &Structure, spans: &[(Span, bool)]) -> Vec<String> {
    let mut out = s.circuits.clone();
    for (span, _) in spans {
        if let Some(f) = &span.feeder
            && !out.contains(f)
        {
            out.push(f.clone());
        }
    }
    out
}

fn groups(
    s: &Structure,
    on_it: Vec<Fact>,
    spans: &[(Span, bool)],
    sources: Vec<Fact>,
) -> Vec<Group> {
    let mut out = vec![Group {
        heading: format!("on this {}", s.kind),
        rows: if on_it.is_empty() {
            vec![Fact::new("devices", "none on record")]
        } else {
            on_it
        },
    }];
    let circuits = circuits(s, spans);
    let mut rows = vec![Fact::new(
        "circuits",
        if circuits.is_empty() {
            "none on record".to_string()
        } else {
            circuits.join(", ")
        },
    )];
    if !s.terminals.is_empty() {
        rows.push(Fact::new("terminals", s.terminals.join(", ")));
    }
    rows.extend(sources);
    rows.extend(
        spans
            .iter()
            .map(|(span, from_here)| span_fact(span, *from_here)),
    );
    out.push(Group {
        heading: "line".to_string(),
        rows,
    });
    let mut rows = vec![Fact::new(
        "owner",
        s.owner.clone().unwrap_or("not recorded".to_string()),
    )];
    for user in &s.joint_users {
        rows.push(Fact::new(
            "joint user",
            match &user.what {
                Some(what) => format!("{}: {what}", user.who),
                None => user.who.clone(),
            },
        ));
    }
    rows.extend(s.pole.as_ref().map(pole_fact));
    out.push(Group {
        heading: "the structure".to_string(),
        rows,
    });
    out
}

fn span_fact(span: &Span, from_here: bool) -> Fact {
    let (label, terminal) = if from_here {
        (format!("to {}", span.span.to), &span.from_terminal)
    } else {
        (format!("from {}", span.span.from), &span.to_terminal)
    };
    let unknown = |v: &Option<String>, what: &str| {
        v.clone().unwrap_or_else(|| format!("{what} not recorded"))
    };
    let mut parts = vec![
        unknown(&span.span.phases, "phases"),
        unknown(&span.span.conductor, "conductor"),
    ];
    parts.extend(span.kind.map(|k| k.word().to_string()));
    parts.push(unknown(&span.span.geometry, "geometry"));
    parts.push(match span.span.length_ft {
        Some(l) => l.to_string(),
        None => "length not recorded".to_string(),
    });
    parts.extend(terminal.as_ref().map(|t| format!("on {t}")));
    parts.push(unknown(&span.feeder, "feeder"));
    Fact::new(label, parts.join(", "))
}

fn pole_fact(p: &Pole) -> Fact {
    let mut parts = Vec::new();
    parts.extend(p.length_ft.map(|l| l.to_string()));
    parts.extend(p.class.as_ref().map(|c| format!("class {c}")));
    parts.extend(p.material.clone());
    parts.push(match p.set_year {
        Some(y) => format!("set {:.0}", y.get()),
        None => "set year not recorded".to_string(),
    });
    Fact::new("pole", parts.join(", "))
}
