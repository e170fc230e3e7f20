//! Line order: a feeder's records as one walks them, so that neighbours in
//! the field are neighbours in the file. A function of the records alone.

use std::collections::{BTreeMap, BTreeSet};

use crate::domain::asset::{Feeder, Position, Record, Span, Structure};

/// The records of one home file in line order: the feeder, then from its head
/// each structure with its positions and the spans that leave it; what the
/// walk does not reach follows by name.
#[must_use]
pub fn line_order(
    feeder: Option<Feeder>,
    structures: Vec<Structure>,
    spans: Vec<Span>,
    positions: Vec<Position>,
) -> Vec<Record> {
    let mut walk = Walk::default();
    let head = feeder.as_ref().and_then(|f| f.head.clone());
    walk.out.extend(feeder.map(Record::from));
    for s in structures {
        walk.structures
            .entry(s.structure.clone())
            .or_default()
            .push(s);
    }
    for p in positions {
        let at = p.structure.clone().unwrap_or_default();
        walk.positions.entry(at).or_default().push(p);
    }
    for s in spans {
        walk.spans.entry(s.span.from.clone()).or_default().push(s);
    }
    for list in walk.positions.values_mut() {
        list.sort_by(|a, b| (&a.position, a.id).cmp(&(&b.position, b.id)));
    }
    for list in walk.spans.values_mut() {
        list.sort_by_key(|s| {
            let phases = s.span.phases.as_deref().map_or(0, str::len);
            (usize::MAX - phases, s.name(), s.id)
        });
    }
    walk.run(head);
    walk.out
}

#[derive(Default)]
struct Walk {
    structures: BTreeMap<String, Vec<Structure>>,
    positions: BTreeMap<String, Vec<Position>>,
    spans: BTreeMap<String, Vec<Span>>,
    seen: BTreeSet<String>,
    out: Vec<Record>,
}

/// What is still to be written, last first.
enum Next {
    Structure(String),
    Span(Box<Span>),
}

impl Walk {
    fn run(&mut self, head: Option<String>) {
        self.from(head.into_iter().collect());
        let targets: BTreeSet<String> = self
            .spans
            .values()
            .flatten()
            .map(|s| s.span.to.clone())
            .collect();
        let starts: Vec<String> = self.structures.keys().cloned().collect();
        let (later, first): (Vec<String>, Vec<String>) =
            starts.into_iter().partition(|s| targets.contains(s));
        for start in first.into_iter().chain(later) {
            self.from(vec![start]);
        }
        let loose: Vec<String> = self
            .spans
            .keys()
            .chain(self.positions.keys())
            .cloned()
            .collect();
        for start in loose {
            self.from(vec![start]);
        }
    }

    fn from(&mut self, starts: Vec<String>) {
        let mut next: Vec<Next> = starts.into_iter().map(Next::Structure).collect();
        while let Some(n) = next.pop() {
            match n {
                Next::Span(span) => {
                    next.push(Next::Structure(span.span.to.clone()));
                    self.out.push((*span).into());
                }
                Next::Structure(name) => {
                    if !self.seen.insert(name.clone()) {
                        continue;
                    }
                    let mut here = self.structures.remove(&name).unwrap_or_default();
                    here.sort_by_key(|s| s.id);
                    self.out.extend(here.into_iter().map(Record::from));
                    let hung = self.positions.remove(&name).unwrap_or_default();
                    self.out.extend(hung.into_iter().map(Record::from));
                    let leaving = self.spans.remove(&name).unwrap_or_default();
                    next.extend(leaving.into_iter().rev().map(|s| Next::Span(Box::new(s))));
                }
            }
        }
    }
}
