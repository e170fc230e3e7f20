//! What lies beyond a device or a structure, and every further recorded feed.

use std::collections::{BTreeSet, HashSet};

use super::build::Network;
use super::reach::Reach;
use super::walk::Place;
use super::{
    Beyond, Device, FeedKind, OtherFeed, Phases, Side, Walk, normally_open, stands_otherwise,
};
use crate::domain::asset::{Class, Position, SourceKind};

impl Network {
    pub(super) fn beyond_reach(&self, place: &Place) -> Reach {
        let starts: Vec<(usize, Phases)> = place.load.iter().map(|n| (*n, place.phases)).collect();
        self.reach(&starts, &|e| {
            if place.edges.contains(&e) {
                place.phases
            } else {
                Phases::NONE
            }
        })
    }

    /// Fills in what lies beyond, and the further feeds there.
    pub(super) fn look_beyond(&self, walk: &mut Walk, place: &Place) {
        let reach = self.beyond_reach(place);
        let mut beyond = Beyond::default();
        let mut structures: HashSet<&str> = HashSet::new();
        if !place.counts_start {
            structures.extend(place.load.iter().map(|n| self.nodes[*n].structure.as_ref()));
        }
        let mut devices: Vec<usize> = self.load_side_of_span(place);
        for node in &reach.order {
            let structure = self.nodes[*node].structure.as_ref();
            if structures.insert(structure) {
                beyond.structures.push(structure.to_string());
            }
            for i in &self.hanging[*node] {
                let p = &self.section.positions[*i];
                let phases = Phases::read(p.phases.as_deref());
                if Some(*i) != place.this && !phases.and(reach.phases[*node]).is_none() {
                    beyond.hangs.push(p.position.clone());
                    add_customers(&mut beyond, p);
                }
            }
            self.devices_from(*node, &reach, place, &mut devices);
        }
        let mut seen = HashSet::new();
        beyond.devices = devices
            .into_iter()
            .filter(|i| seen.insert(*i))
            .map(|i| Device::of(&self.section.positions[i]))
            .collect();
        walk.beyond = Some(beyond);
        self.side_feeds(walk, &reach, Side::Beyond, place);
        walk.notes.extend(self.dangling(&reach));
        let rings = self.rings(&reach);
        if !rings.is_empty() {
            walk.notes.push(format!(
                "a ring of closed line lies beyond ({}): what hangs on it is fed twice",
                self.named(&rings)
            ));
        }
    }

    /// Others in the span of the device, at its load end.
    fn load_side_of_span(&self, place: &Place) -> Vec<usize> {
        let Some(e) = place.edges.first().filter(|_| place.this.is_some()) else {
            return Vec::new();
        };
        place
            .load
            .iter()
            .filter(|n| !self.same_end(place, *e, **n))
            .flat_map(|n| self.at_end(*e, *n))
            .collect()
    }

    fn devices_from(&self, node: usize, reach: &Reach, place: &Place, out: &mut Vec<usize>) {
        for e in &self.at[node] {
            let edge = &self.edges[*e];
            let down = (0..3).any(|i| reach.by[edge.other(node)][i] == Some(*e));
            if place.edges.contains(e) || !down {
                continue;
            }
            out.extend(self.at_end(*e, node));
            out.extend(self.at_end(*e, edge.other(node)));
        }
    }

    /// Ties, joins and generation that touch what `reach` reached; the device
    /// itself is none of them.
    pub(super) fn side_feeds(&self, walk: &mut Walk, reach: &Reach, side: Side, place: &Place) {
        let inside = |n: usize, phases: Phases| !reach.phases[n].and(phases).is_none();
        let this = place
            .this
            .map(|i| self.section.positions[i].position.as_str());
        let mut feeds: BTreeSet<OtherFeed> = BTreeSet::new();
        for (e, edge) in self.edges.iter().enumerate() {
            let (a, b) = (inside(edge.from, edge.phases), inside(edge.to, edge.phases));
            if a == b {
                continue;
            }
            let here = if a { edge.from } else { edge.to };
            let open: Vec<&Position> = edge
                .devices
                .iter()
                .map(|(i, _)| &self.section.positions[*i])
                .filter(|p| normally_open(p))
                .collect();
            for p in &open {
                feeds.insert(self.tie(p, here, side));
            }
            if open.is_empty() && edge.foreign {
                feeds.insert(self.join(e, here, side));
            }
        }
        feeds.extend(self.generators(&inside, side));
        walk.other_feeds
            .extend(feeds.into_iter().filter(|f| Some(f.name.as_str()) != this));
    }

    fn tie(&self, p: &Position, here: usize, side: Side) -> OtherFeed {
        let home = self.section.home.as_ref();
        let others: Vec<&str> = p
            .ties
            .iter()
            .filter(|t| Some(*t) != home)
            .map(String::as_str)
            .collect();
        OtherFeed {
            side,
            kind: FeedKind::Tie,
            name: p.position.clone(),
            at: Some(self.nodes[here].structure.to_string()),
            from: Some(if others.is_empty() {
                "what lies behind it is not recorded".to_string()
            } else {
                others.join(" and ")
            }),
            stands_otherwise: stands_otherwise(p),
        }
    }

    fn join(&self, edge: usize, here: usize, side: Side) -> OtherFeed {
        OtherFeed {
            side,
            kind: FeedKind::Join,
            name: format!("span {}", self.span_name(edge)),
            at: Some(self.nodes[here].structure.to_string()),
            from: self.span_home(edge).cloned(),
            stands_otherwise: None,
        }
    }

    fn generators(&self, inside: &dyn Fn(usize, Phases) -> bool, side: Side) -> Vec<OtherFeed> {
        let mut out = Vec::new();
        for (i, node) in &self.generation {
            let s = &self.section.sources[*i];
            if s.kind == SourceKind::Generation && inside(*node, Phases::ALL) {
                let size = s.kva.map(|k| k.to_string());
                let what: Vec<String> = size.into_iter().chain(s.prime_mover.clone()).collect();
                out.push(OtherFeed {
                    side,
                    kind: FeedKind::Generation,
                    name: s.source.clone(),
                    at: s.structure.clone(),
                    from: (!what.is_empty()).then(|| what.join(" ")),
                    stands_otherwise: None,
                });
            }
        }
        for (node, hanging) in self.hanging.iter().enumerate() {
            for i in hanging {
                let p = &self.section.positions[*i];
                if self.bare_generation(p) && inside(node, Phases::ALL) {
                    out.push(OtherFeed {
                        side,
                        kind: FeedKind::Generation,
                        name: p.position.clone(),
                        at: p.structure.clone(),
                        from: None,
                        stands_otherwise: None,
                    });
                }
            }
        }
        out
    }

    /// Span ends that name a structure which is not in the register.
    fn dangling(&self, reach: &Reach) -> Vec<String> {
        let mut out: Vec<String> = reach
            .order
            .iter()
            .map(|n| self.nodes[*n].structure.as_ref())
            .filter(|s: &&str| self.off_record.contains(*s))
            .map(|s| format!("a span beyond ends at {s}, which is not in the register"))
            .collect();
        out.sort();
        out.dedup();
        out
    }
}

pub(super) fn add_customers(beyond: &mut Beyond, p: &Position) {
    if let Some(c) = &p.customers {
        beyond.customers = beyond.customers.saturating_add(c.count);
        for flag in &c.critical {
            *beyond.critical.entry(flag.clone()).or_default() += 1;
        }
    } else if p.class == Class::Transformer {
        beyond.uncounted += 1;
    }
}
