//! The walk itself: from a device or a structure to its normal source, and
//! what lies beyond.

use std::collections::{BTreeSet, HashSet};

use super::beyond::add_customers;
use super::build::{Network, Stand};
use super::reach::Reach;
use super::{Beyond, Device, Direction, OpensOnFault, Phases, Side, Walk, normally_open};
use crate::domain::asset::Position;

/// Where a walk starts: the side from which the source comes, the side that is
/// fed, and what is taken out between them.
pub(super) struct Place {
    /// Nodes on the source side.
    pub supply: Vec<usize>,
    /// Nodes on the load side.
    pub load: Vec<usize>,
    pub phases: Phases,
    /// Edges in which it stands, taken out on its phases.
    pub edges: Vec<usize>,
    /// Whether the structures at the load nodes count as fed.
    pub counts_start: bool,
    pub this: Option<usize>,
}

impl Network {
    /// The walk from a position of the section, by its present name.
    #[must_use]
    pub fn walk(&self, name: &str) -> Walk {
        let Some(p) = self.position(name) else {
            return Walk::unknown(format!("{name} is not among the records of this feeder"));
        };
        let position = &self.section.positions[p];
        let phases = Phases::read(position.phases.as_deref());
        match &self.stands[p] {
            Stand::Nowhere(why) => Walk::unknown(why.clone()),
            Stand::AtNode(node) => {
                let mut walk = self.walk_up(&[*node], phases, Some(p));
                if position.class.in_series() {
                    walk.beyond_unknown = Some(
                        "what it feeds is not known: the side it faces is not recorded".to_string(),
                    );
                } else {
                    walk.beyond = Some(self.itself(position));
                    walk.beyond_unknown = None;
                }
                walk
            }
            Stand::InEdges { node, edges } => self.walk_through(p, *node, edges, phases),
        }
    }

    /// The walk from everything at a structure, one a circuit or bus, with the
    /// part's name.
    #[must_use]
    pub fn walk_structure(&self, structure: &str) -> Vec<(String, Walk)> {
        self.nodes_of(structure)
            .into_iter()
            .map(|node| (self.nodes[node].part.clone(), self.walk_node(node)))
            .collect()
    }

    /// Everything that a source of the section reaches.
    #[must_use]
    pub fn walk_source(&self, source: &str) -> Walk {
        let roots: Vec<usize> = self
            .roots
            .iter()
            .filter(|(i, _)| self.section.sources[*i].source == source)
            .map(|(_, n)| *n)
            .collect();
        if roots.is_empty() {
            return Walk::unknown("no span on record begins at this source");
        }
        let mut walk = Walk::begun();
        walk.source = Some(source.to_string());
        self.look_beyond(
            &mut walk,
            &Place {
                supply: Vec::new(),
                load: roots,
                phases: Phases::ALL,
                edges: Vec::new(),
                counts_start: false,
                this: None,
            },
        );
        walk.notes = self.notes(&walk);
        walk
    }

    /// Spans that lie on a ring of closed line, by name, sorted.
    #[must_use]
    pub fn ring_spans(&self) -> Vec<String> {
        self.span_names(&self.rings(&self.fed(&|_| Phases::NONE)))
    }

    fn span_names(&self, edges: &HashSet<usize>) -> Vec<String> {
        let mut out: Vec<String> = edges.iter().map(|e| self.span_name(*e)).collect();
        out.sort();
        out
    }

    /// The first spans of a ring, and how many more.
    pub(super) fn named(&self, edges: &HashSet<usize>) -> String {
        let names = self.span_names(edges);
        let more = names.len().saturating_sub(SPELLED);
        let mut text = names[..names.len() - more].join(", ");
        if more > 0 {
            text.push_str(&format!(" and {more} more spans"));
        }
        text
    }

    fn walk_node(&self, node: usize) -> Walk {
        let fed = self.fed(&|_| Phases::NONE);
        let parents: Vec<usize> = (0..3).filter_map(|i| fed.by[node][i]).collect();
        let out = |e: usize| {
            if parents.contains(&e) {
                Phases::ALL
            } else {
                Phases::NONE
            }
        };
        let mut walk = Walk::begun();
        let mut place = Place {
            supply: vec![node],
            load: vec![node],
            phases: Phases::ALL,
            edges: Vec::new(),
            counts_start: false,
            this: None,
        };
        self.look_up(&mut walk, &place, &fed);
        place.edges.clone_from(&parents);
        let without = self.fed(&out);
        let at_root = self.roots.iter().any(|(_, n)| *n == node);
        if walk.source.is_none() {
            walk.beyond_unknown = Some(SIDE_UNKNOWN.to_string());
            self.side_feeds(&mut walk, &self.beyond_reach(&place), Side::Beyond, &place);
        } else if !at_root && !without.phases[node].is_none() {
            walk.direction = Direction::BothEnds;
            walk.beyond_unknown = Some(RING.to_string());
            self.side_feeds(&mut walk, &fed, Side::SourceSide, &place);
        } else {
            self.look_beyond(&mut walk, &place);
            if !at_root {
                self.side_feeds(&mut walk, &without, Side::SourceSide, &place);
            }
        }
        walk.notes.extend(self.notes(&walk));
        walk
    }

    /// A position that hangs off: what it serves is itself.
    fn itself(&self, p: &Position) -> Beyond {
        let mut beyond = Beyond::default();
        add_customers(&mut beyond, p);
        beyond.hangs.push(p.position.clone());
        beyond
    }

    /// The way up from nodes, with nothing taken out.
    fn walk_up(&self, nodes: &[usize], phases: Phases, this: Option<usize>) -> Walk {
        let fed = self.fed(&|_| Phases::NONE);
        let mut walk = Walk::begun();
        let place = Place {
            supply: nodes.to_vec(),
            load: Vec::new(),
            phases,
            edges: Vec::new(),
            counts_start: false,
            this,
        };
        self.look_up(&mut walk, &place, &fed);
        let ways: Vec<usize> = nodes
            .iter()
            .flat_map(|n| self.ways(&fed, *n, phases))
            .collect();
        let rings = self.rings(&fed);
        if self.nodes.len() > 1 && ways.first().is_some_and(|e| rings.contains(e)) {
            walk.direction = Direction::BothEnds;
            walk.beyond_unknown = Some(RING.to_string());
        }
        self.side_feeds(&mut walk, &fed, Side::SourceSide, &place);
        walk.notes.extend(self.notes(&walk));
        walk
    }

    fn ways(&self, fed: &Reach, node: usize, phases: Phases) -> Vec<usize> {
        fed.has(node, phases)
            .indexes()
            .next()
            .map(|i| self.way(fed, node, i))
            .unwrap_or_default()
    }

    /// The walk of a device that stands in spans.
    fn walk_through(&self, p: usize, near: usize, edges: &[usize], phases: Phases) -> Walk {
        let position = &self.section.positions[p];
        let far: Vec<usize> = edges.iter().map(|e| self.edges[*e].other(near)).collect();
        let out = |e: usize| {
            if edges.contains(&e) {
                phases
            } else {
                Phases::NONE
            }
        };
        let fed = self.fed(&out);
        let near_fed = !fed.has(near, phases).is_none();
        let far_fed = far.iter().any(|n| !fed.has(*n, phases).is_none());
        let mut walk = Walk::begun();
        let (direction, supply, load) = match (near_fed, far_fed) {
            (true, true) => (Direction::BothEnds, vec![near], far),
            (true, false) => (Direction::AsRecorded, vec![near], far),
            (false, true) => (Direction::Reversed, far, vec![near]),
            (false, false) => (Direction::Unknown, vec![near], far),
        };
        walk.direction = direction;
        let place = Place {
            supply,
            load,
            phases,
            edges: edges.to_vec(),
            counts_start: true,
            this: Some(p),
        };
        self.look_up(&mut walk, &place, &fed);
        if normally_open(position) {
            walk.beyond_unknown = Some("normally open, feeds nothing by the record".to_string());
            open_sides(&mut walk, position);
        } else if direction == Direction::BothEnds {
            walk.beyond_unknown = Some(RING.to_string());
        } else if direction == Direction::Unknown {
            walk.beyond_unknown = Some(SIDE_UNKNOWN.to_string());
            self.side_feeds(&mut walk, &self.beyond_reach(&place), Side::Beyond, &place);
        } else {
            self.look_beyond(&mut walk, &place);
        }
        if direction == Direction::Unknown {
            let near = Place {
                load: vec![near],
                ..place
            };
            self.side_feeds(
                &mut walk,
                &self.beyond_reach(&near),
                Side::SourceSide,
                &near,
            );
        } else {
            self.side_feeds(&mut walk, &fed, Side::SourceSide, &place);
        }
        walk.notes.extend(self.beside(p, edges));
        walk.notes.extend(self.notes(&walk));
        walk
    }

    /// Fills in source, path and protection.
    fn look_up(&self, walk: &mut Walk, place: &Place, fed: &Reach) {
        let Some((node, phase)) = place.supply.iter().find_map(|n| {
            let phase = fed.has(*n, place.phases).indexes().next()?;
            Some((*n, phase))
        }) else {
            walk.no_source = Some(self.why_unfed(place));
            return;
        };
        walk.source = self.source_of(fed, node, phase);
        walk.comes_from = place
            .this
            .filter(|_| !place.edges.is_empty())
            .map(|_| self.nodes[node].structure.to_string());
        let path = self.path(fed, node, phase, place);
        for other in fed.has(node, place.phases).indexes().skip(1) {
            if self.path(fed, node, other, place) != path {
                walk.notes
                    .push("its phases are fed over different devices".to_string());
                break;
            }
        }
        let missing = place.phases.less(fed.has(node, place.phases));
        if !missing.is_none() && place.phases != Phases::ALL {
            walk.notes.push(format!(
                "phase {} has no way to a source on record",
                missing.word()
            ));
        }
        let rings = self.rings(fed);
        if self.way(fed, node, phase).iter().any(|e| rings.contains(e)) {
            walk.notes.push(format!(
                "the way to the source runs over a ring on record ({}): there is another way",
                self.named(&rings)
            ));
        }
        walk.path = path
            .iter()
            .map(|i| Device::of(&self.section.positions[*i]))
            .collect();
        protection(walk);
    }

    fn source_of(&self, fed: &Reach, node: usize, phase: usize) -> Option<String> {
        let start = fed.start[node][phase]?;
        self.roots
            .iter()
            .find(|(_, n)| *n == start)
            .map(|(i, _)| self.section.sources[*i].source.clone())
    }

    fn why_unfed(&self, place: &Place) -> String {
        if self.roots.is_empty() {
            let home = self.section.home.as_deref().unwrap_or("its feeder");
            return format!("no source of {home} with line at it is on record");
        }
        let seen = self.reach(
            &place
                .supply
                .iter()
                .map(|n| (*n, place.phases))
                .collect::<Vec<_>>(),
            &|e| {
                if place.edges.contains(&e) {
                    place.phases
                } else {
                    Phases::NONE
                }
            },
        );
        let end = seen
            .order
            .last()
            .map(|n| self.nodes[*n].structure.to_string());
        match end {
            Some(end) => format!(
                "the line it stands in is joined to no source on record; the walk ended at {end}"
            ),
            None => "the line it stands in is joined to no source on record".to_string(),
        }
    }

    /// Series positions from the source to a node, and those in the same span
    /// on its source side.
    fn path(&self, fed: &Reach, node: usize, phase: usize, place: &Place) -> Vec<usize> {
        let mut out: Vec<usize> = Vec::new();
        let mut at = node;
        let edges = self.way(fed, node, phase);
        let shares = |i: &usize| {
            let phases = Phases::read(self.section.positions[*i].phases.as_deref());
            phases.0 & (1 << phase) != 0
        };
        if let Some(e) = place.edges.first() {
            out.extend(
                self.at_end(*e, node)
                    .filter(|i| Some(*i) != place.this && !self.same_end(place, *e, node))
                    .filter(shares),
            );
        }
        for e in edges {
            let up = self.edges[e].other(at);
            out.extend(self.at_end(e, at).filter(shares));
            out.extend(self.at_end(e, up).filter(shares));
            at = up;
        }
        out.reverse();
        out
    }

    pub(super) fn same_end(&self, place: &Place, edge: usize, node: usize) -> bool {
        place
            .this
            .is_some_and(|p| self.at_end(edge, node).any(|i| i == p))
    }

    /// Positions standing in an edge at one of its ends.
    pub(super) fn at_end(&self, edge: usize, node: usize) -> impl Iterator<Item = usize> + '_ {
        let e = &self.edges[edge];
        e.devices
            .iter()
            .filter(move |(_, at_from)| (e.from == node) == *at_from)
            .map(|(i, _)| *i)
    }

    /// Others that stand in the same span at the same structure.
    fn beside(&self, p: usize, edges: &[usize]) -> Vec<String> {
        let mut out = BTreeSet::new();
        for e in edges {
            let devices = &self.edges[*e].devices;
            let own = devices.iter().find(|(i, _)| *i == p).map(|(_, end)| *end);
            for (i, end) in devices {
                let other = &self.section.positions[*i];
                let mine = Phases::read(self.section.positions[p].phases.as_deref());
                let theirs = Phases::read(other.phases.as_deref());
                if *i != p && Some(*end) == own && !mine.and(theirs).is_none() {
                    out.insert(format!(
                        "{} stands in the same span at the same structure; their order is not recorded",
                        other.position
                    ));
                }
            }
        }
        out.into_iter().collect()
    }

    /// Remarks on the devices that the answer rests on.
    fn notes(&self, walk: &Walk) -> Vec<String> {
        let mut out = Vec::new();
        let beyond = walk.beyond.iter().flat_map(|b| &b.devices);
        for device in walk.path.iter().chain(beyond) {
            if let Some(why) = self.remarks.get(&device.name) {
                out.push(format!("{}: {why}", device.name));
            }
        }
        out
    }
}

/// For a normally open device: what lies on its two sides.
fn open_sides(walk: &mut Walk, p: &Position) {
    if walk.direction == Direction::BothEnds {
        walk.notes.push(
            "both sides are fed within this feeder by the record: an open point of a ring"
                .to_string(),
        );
    } else if let [a, b] = p.ties.as_slice() {
        walk.notes
            .push(format!("tie between {a} and {b}: treat both sides as live"));
    }
}

/// Spans of a ring that are spelled out.
const SPELLED: usize = 4;

const SIDE_UNKNOWN: &str = "what it feeds is not known: which side is the load side cannot be told";

const RING: &str = "what it feeds is not known: with it taken out, both sides still have a way to \
a source on record: a ring";

/// Finds the next device toward the source that opens on a fault.
fn protection(walk: &mut Walk) {
    for device in walk.path.iter().rev() {
        match device.opens_on_fault {
            OpensOnFault::Yes if !device.bypassed => {
                walk.protecting = Some(device.clone());
                return;
            }
            OpensOnFault::Unknown => walk.perhaps_protecting.push(device.name.clone()),
            _ => {}
        }
    }
}
