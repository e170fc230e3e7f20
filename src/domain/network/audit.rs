//! The line as a whole, for verification: what is not reached, what is reached
//! twice, and phases and directions that do not fit. Walked without regard to
//! phases, so that one wrong phase is one finding and not a lost lateral.

use std::collections::{HashMap, HashSet, VecDeque};

use super::build::{Network, Stand};
use super::{Phases, normally_open};
use crate::domain::asset::{Position, Span, Structure};

/// Phases that do not fit.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Misfit {
    /// As recorded on the span or position.
    pub own: Phases,
    /// As recorded on the line there.
    pub line: Phases,
}

/// The tree of the normal state, phases left aside.
struct Tree {
    reached: Vec<bool>,
    /// The edge by which a node was first reached.
    by: Vec<Option<usize>>,
}

impl Network {
    /// Whether a substation source joins the line.
    #[must_use]
    pub fn is_sourced(&self) -> bool {
        !self.roots.is_empty()
    }

    fn tree(&self) -> Tree {
        let n = self.nodes.len();
        let mut tree = Tree {
            reached: vec![false; n],
            by: vec![None; n],
        };
        let mut queue: VecDeque<usize> = VecDeque::new();
        for (_, root) in &self.roots {
            if !std::mem::replace(&mut tree.reached[*root], true) {
                queue.push_back(*root);
            }
        }
        while let Some(node) = queue.pop_front() {
            for e in &self.at[node] {
                let edge = &self.edges[*e];
                let to = edge.other(node);
                if !edge.conducts().is_none() && !tree.reached[to] {
                    tree.reached[to] = true;
                    tree.by[to] = Some(*e);
                    queue.push_back(to);
                }
            }
        }
        tree
    }

    /// Structures at home here that no line leads to: none of their nodes is
    /// reached, and no line of another feeder touches them.
    #[must_use]
    pub fn unreached(&self) -> Vec<&Structure> {
        let tree = self.tree();
        let mut touched: HashSet<&str> = HashSet::new();
        for (i, node) in self.nodes.iter().enumerate() {
            let elsewhere = self.at[i].iter().any(|e| self.edges[*e].foreign);
            if tree.reached[i] || elsewhere {
                touched.insert(&*node.structure);
            }
        }
        self.section
            .structures
            .iter()
            .filter(|s| s.feeder == self.section.home)
            .filter(|s| !touched.contains(s.structure.as_str()))
            .collect()
    }

    /// Closed spans both of whose ends are reached without them.
    #[must_use]
    pub fn closing_spans(&self) -> Vec<&Span> {
        let tree = self.tree();
        self.edges
            .iter()
            .enumerate()
            .filter(|(e, edge)| {
                !edge.conducts().is_none()
                    && tree.reached[edge.from]
                    && tree.reached[edge.to]
                    && tree.by[edge.from] != Some(*e)
                    && tree.by[edge.to] != Some(*e)
            })
            .filter(|(e, edge)| !self.beside_on_other_phases(*e, edge.from, edge.to))
            .map(|(_, edge)| &self.section.spans[edge.span])
            .collect()
    }

    /// Spans at home in another sourced feeder that join the reached line here
    /// without an open device, each with the structure.
    #[must_use]
    pub fn meetings(&self) -> Vec<(&Span, &str)> {
        let tree = self.tree();
        let sourced = |name: Option<&String>| {
            let mut feeders = self.section.feeders.iter();
            name.is_some() && feeders.any(|f| Some(&f.feeder) == name && f.source.is_some())
        };
        let mut out = Vec::new();
        for (node, edges) in self.at.iter().enumerate().filter(|(n, _)| tree.reached[*n]) {
            let own = edges
                .iter()
                .fold(Phases::NONE, |p, e| p.or(self.edges[*e].conducts()));
            for e in edges.iter().map(|e| &self.edges[*e]).filter(|e| e.foreign) {
                let span = &self.section.spans[e.span];
                let joined = e.phases.less(e.cut).and(own);
                if !joined.is_none() && sourced(span.feeder.as_ref()) {
                    out.push((span, &*self.nodes[node].structure));
                }
            }
        }
        out
    }

    /// Whether a span runs beside others between the same two places on phases
    /// of its own: one line written as several records.
    fn beside_on_other_phases(&self, this: usize, a: usize, b: usize) -> bool {
        let own = self.edges[this].conducts();
        let mut beside = self.at[a]
            .iter()
            .filter(|e| **e != this && self.edges[**e].other(a) == b)
            .peekable();
        beside.peek().is_some() && beside.all(|e| self.edges[*e].conducts().and(own).is_none())
    }

    /// Devices whose recorded load side is the side from which the tree comes.
    /// Those on a ring are left to the ring.
    #[must_use]
    pub fn against_the_tree(&self) -> Vec<&Position> {
        let tree = self.tree();
        let ring: HashSet<usize> = self.rings(&self.fed(&|_| Phases::NONE));
        let stands = self.section.positions.iter().zip(&self.stands);
        stands
            .filter(|(p, _)| p.toward.is_some() && p.ties.is_empty() && !normally_open(p))
            .filter(|(p, _)| p.feeder == self.section.home)
            .filter(|(_, stand)| match stand {
                Stand::InEdges { node, edges } => edges
                    .iter()
                    .any(|e| tree.by[*node] == Some(*e) && !ring.contains(e)),
                _ => false,
            })
            .map(|(p, _)| p)
            .collect()
    }

    fn written(&self, edge: usize) -> Phases {
        let span = &self.section.spans[self.edges[edge].span];
        Phases::named(span.span.phases.as_deref().unwrap_or(""))
    }

    /// Spans with a phase that the span which feeds them does not have. Only
    /// recorded phases count.
    #[must_use]
    pub fn span_misfits(&self) -> Vec<(&Span, Misfit)> {
        let tree = self.tree();
        let mut out = Vec::new();
        for (to, by) in tree.by.iter().enumerate() {
            let Some(e) = *by else { continue };
            let from = self.edges[e].other(to);
            let own = self.written(e);
            let Some(before) = tree.by[from] else {
                continue;
            };
            let line = self.at[from]
                .iter()
                .filter(|o| **o == before || self.parallel(**o, before))
                .fold(Phases::NONE, |p, o| p.or(self.written(*o)));
            if !own.is_none() && !line.is_none() && !own.less(line).is_none() {
                out.push((
                    &self.section.spans[self.edges[e].span],
                    Misfit { own, line },
                ));
            }
        }
        out.sort_by_key(|(s, _)| s.name());
        out
    }

    /// Whether two edges join the same two nodes.
    fn parallel(&self, a: usize, b: usize) -> bool {
        let (a, b) = (&self.edges[a], &self.edges[b]);
        (a.from, a.to) == (b.from, b.to) || (a.from, a.to) == (b.to, b.from)
    }

    /// Positions with a phase that the line they stand in or hang on does not
    /// have. Only recorded phases count.
    #[must_use]
    pub fn position_misfits(&self) -> Vec<(&Position, Misfit)> {
        let mut seen: HashMap<usize, Phases> = HashMap::new();
        let mut out = Vec::new();
        for (p, stand) in self.section.positions.iter().zip(&self.stands) {
            if p.feeder != self.section.home {
                continue;
            }
            let all = |edges: &[usize]| {
                // One span that does not say makes the whole unknown.
                let each: Vec<Phases> = edges.iter().map(|e| self.written(*e)).collect();
                if each.iter().any(|p| p.is_none()) {
                    Phases::NONE
                } else {
                    each.into_iter().fold(Phases::NONE, Phases::or)
                }
            };
            let line = match stand {
                Stand::InEdges { edges, .. } => all(edges),
                Stand::AtNode(node) => *seen.entry(*node).or_insert_with(|| all(&self.at[*node])),
                Stand::Nowhere(_) => Phases::NONE,
            };
            let own = Phases::named(p.phases.as_deref().unwrap_or(""));
            if !own.is_none() && !line.is_none() && !own.less(line).is_none() {
                out.push((p, Misfit { own, line }));
            }
        }
        out
    }
}
