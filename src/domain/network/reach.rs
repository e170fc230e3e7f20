//! What a source reaches, phase by phase, and the tree of the way there.

use std::collections::{HashSet, VecDeque};

use super::Phases;
use super::build::Network;

/// What is reached from some starts.
#[derive(Debug)]
pub(super) struct Reach {
    /// Phases reached at each node.
    pub phases: Vec<Phases>,
    /// The edge by which a phase first arrived at a node.
    pub by: Vec<[Option<usize>; 3]>,
    /// The start from which it came.
    pub start: Vec<[Option<usize>; 3]>,
    /// Nodes in the order reached.
    pub order: Vec<usize>,
}

impl Network {
    /// Floods from `starts`, each with its phases, over every conducting edge
    /// less the phases that `taken_out` takes from it.
    pub(super) fn reach(
        &self,
        starts: &[(usize, Phases)],
        taken_out: &dyn Fn(usize) -> Phases,
    ) -> Reach {
        let n = self.nodes.len();
        let mut out = Reach {
            phases: vec![Phases::NONE; n],
            by: vec![[None; 3]; n],
            start: vec![[None; 3]; n],
            order: Vec::new(),
        };
        let mut queue = VecDeque::new();
        for (node, phases) in starts {
            let fresh = phases.less(out.phases[*node]);
            if fresh.is_none() {
                continue;
            }
            out.arrive(*node, fresh, None, *node);
            queue.push_back((*node, fresh));
        }
        while let Some((node, phases)) = queue.pop_front() {
            for e in &self.at[node] {
                let edge = &self.edges[*e];
                let over = phases.and(edge.conducts().less(taken_out(*e)));
                let to = edge.other(node);
                let fresh = over.less(out.phases[to]);
                if fresh.is_none() {
                    continue;
                }
                for i in fresh.indexes() {
                    let start = out.start[node][i].unwrap_or(node);
                    out.arrive(to, Phases(1 << i), Some(*e), start);
                }
                queue.push_back((to, fresh));
            }
        }
        out
    }

    /// What the substation sources reach, with some edges taken out.
    pub(super) fn fed(&self, taken_out: &dyn Fn(usize) -> Phases) -> Reach {
        let starts: Vec<(usize, Phases)> =
            self.roots.iter().map(|(_, n)| (*n, Phases::ALL)).collect();
        self.reach(&starts, taken_out)
    }

    /// Edges that lie on a ring, on some phase: those that close one and the
    /// tree edges between its ends.
    pub(super) fn rings(&self, reach: &Reach) -> HashSet<usize> {
        let mut out = HashSet::new();
        for (e, edge) in self.edges.iter().enumerate() {
            for i in edge.conducts().indexes() {
                let both = reach.phases[edge.from].and(reach.phases[edge.to]);
                let tree =
                    reach.by[edge.from][i] == Some(e) || reach.by[edge.to][i] == Some(e);
                if both.0 & (1 << i) != 0 && !tree {
                    out.insert(e);
                    let (a, b) = (
                        self.way(reach, edge.from, i),
                        self.way(reach, edge.to, i),
                    );
                    let (a, b): (HashSet<usize>, HashSet<usize>) =
                        (a.into_iter().collect(), b.into_iter().collect());
                    out.extend(a.symmetric_difference(&b));
                }
            }
        }
        out
    }

    /// Edges from a node back to its start on a phase, nearest first.
    pub(super) fn way(&self, reach: &Reach, node: usize, phase: usize) -> Vec<usize> {
        let mut out = Vec::new();
        let mut at = node;
        while let Some(e) = reach.by[at][phase] {
            out.push(e);
            at = self.edges[e].other(at);
        }
        out
    }
}

impl Reach {
    fn arrive(&mut self, node: usize, phases: Phases, by: Option<usize>, start: usize) {
        if self.phases[node].is_none() {
            self.order.push(node);
        }
        self.phases[node] = self.phases[node].or(phases);
        for i in phases.indexes() {
            self.by[node][i] = by;
            self.start[node][i] = Some(start);
        }
    }

    pub fn has(&self, node: usize, phases: Phases) -> Phases {
        self.phases[node].and(phases)
    }
}
