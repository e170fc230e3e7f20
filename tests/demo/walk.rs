//! A walk of the spans from the substations, written for these tests alone so
//! that it does not share a mistake with the program's own.

use std::collections::{BTreeMap, BTreeSet, VecDeque};

use polecard::domain::asset::{Normally, SourceKind};

use super::Demo;

/// A bus: a structure, and a terminal where the structure has several.
pub type Bus = (String, String);

/// Buses in the order reached, each with the bus before it.
pub struct Tree {
    pub parent: BTreeMap<Bus, Bus>,
    pub depth: BTreeMap<Bus, usize>,
    pub miles: BTreeMap<Bus, f64>,
    /// Pairs of buses by which something already reached was reached again.
    pub again: BTreeSet<(String, String)>,
}

fn bus(at: &str, terminal: Option<&String>) -> Bus {
    (at.to_string(), terminal.cloned().unwrap_or_default())
}

/// Spans that a normally open position stands in, as (structure, toward).
fn open_gaps(d: &Demo) -> BTreeSet<(String, String)> {
    d.positions
        .iter()
        .filter(|p| p.normally == Some(Normally::Open))
        .filter_map(|p| Some((p.structure.clone()?, p.toward.clone()?)))
        .collect()
}

/// The buses at either end of every span, with its length, but for the spans
/// that an open switch stands in.
fn joined(d: &Demo) -> BTreeMap<Bus, Vec<(Bus, f64)>> {
    let open = open_gaps(d);
    let gap = |a: &str, b: &str| open.contains(&(a.to_string(), b.to_string()));
    let mut next: BTreeMap<Bus, Vec<(Bus, f64)>> = BTreeMap::new();
    for s in &d.spans {
        if gap(&s.span.from, &s.span.to) || gap(&s.span.to, &s.span.from) {
            continue;
        }
        let a = bus(&s.span.from, s.from_terminal.as_ref());
        let b = bus(&s.span.to, s.to_terminal.as_ref());
        let miles = s.span.length_ft.map_or(0.0, |l| l.get() / 5_280.0);
        next.entry(a.clone()).or_default().push((b.clone(), miles));
        next.entry(b).or_default().push((a, miles));
    }
    next
}

fn substations(d: &Demo) -> Vec<Bus> {
    let sources = d.sources.iter();
    sources
        .filter(|s| s.kind == SourceKind::Substation)
        .flat_map(|s| {
            let at = s.structure.clone().unwrap();
            [bus(&at, None), bus(&at, s.terminal.as_ref())]
        })
        .collect()
}

/// Walks from every substation source, or from one structure away from the
/// one behind it, over all spans but those with an open switch.
pub fn tree(d: &Demo, from: Option<(&str, &str)>) -> Tree {
    let next = joined(d);
    let mut t = Tree {
        parent: BTreeMap::new(),
        depth: BTreeMap::new(),
        miles: BTreeMap::new(),
        again: BTreeSet::new(),
    };
    let starts = from.map_or_else(|| substations(d), |(at, _)| vec![bus(at, None)]);
    let mut queue: VecDeque<Bus> = VecDeque::new();
    for start in starts {
        if t.depth.insert(start.clone(), 0).is_none() {
            t.miles.insert(start.clone(), 0.0);
            queue.push_back(start);
        }
    }
    while let Some(here) = queue.pop_front() {
        for (there, miles) in next.get(&here).into_iter().flatten() {
            if from.is_some_and(|(at, behind)| here.0 == at && there.0 == behind) {
                continue;
            }
            if t.parent.get(&here) == Some(there) {
                continue;
            }
            if t.depth.contains_key(there) {
                let (a, b) = (here.0.clone(), there.0.clone());
                t.again.insert(if a < b { (a, b) } else { (b, a) });
                continue;
            }
            t.parent.insert(there.clone(), here.clone());
            t.depth.insert(there.clone(), t.depth[&here] + 1);
            t.miles.insert(there.clone(), t.miles[&here] + miles);
            queue.push_back(there.clone());
        }
    }
    t
}

impl Tree {
    /// Spans from the source to a structure; the least over its buses.
    pub fn depth_of(&self, structure: &str) -> Option<usize> {
        self.depth
            .iter()
            .filter(|((at, _), _)| at == structure)
            .map(|(_, n)| *n)
            .min()
    }
}
