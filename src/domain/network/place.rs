//! Where positions and sources stand in the graph.

use super::build::{Network, Stand};
use super::{Phases, normally_open};
use crate::domain::asset::{Position, Source, SourceKind};

impl Network {
    pub(super) fn place_positions(&mut self) {
        let positions = std::mem::take(&mut self.section.positions);
        for (i, p) in positions.iter().enumerate() {
            let stand = self.stand_of(p);
            match &stand {
                Stand::InEdges { node, edges } => {
                    for e in edges {
                        let edge = &mut self.edges[*e];
                        edge.devices.push((i, edge.from == *node));
                        if normally_open(p) {
                            let phases = Phases::read(p.phases.as_deref());
                            edge.cut = edge.cut.or(phases);
                        }
                    }
                }
                Stand::AtNode(node) => self.hanging[*node].push(i),
                Stand::Nowhere(why) => {
                    self.remarks.insert(p.position.clone(), why.clone());
                }
            }
            self.stands.push(stand);
        }
        self.section.positions = positions;
    }

    fn stand_of(&mut self, p: &Position) -> Stand {
        let Some(at) = &p.structure else {
            return Stand::Nowhere("the structure it hangs on is not recorded".to_string());
        };
        let (at, known) = self.names.resolve(at);
        let nodes = self.nodes_at(&at, p);
        if nodes.is_empty() {
            return Stand::Nowhere(if known {
                format!("no span at {at} is on record")
            } else {
                format!("it is recorded at {at}, which is not in the register")
            });
        }
        if p.class.in_series() {
            match &p.toward {
                Some(toward) => return self.stand_toward(p, &at, &nodes, toward),
                None => {
                    if let Some(stand) = self.stand_leaving(p, &nodes) {
                        return stand;
                    }
                }
            }
        }
        match nodes.as_slice() {
            [one] => Stand::AtNode(*one),
            _ => Stand::Nowhere(format!(
                "which circuit or bus of {at} it hangs on is not recorded"
            )),
        }
    }

    /// Nodes of a structure with line at them on which a position can stand.
    fn nodes_at(&self, at: &str, p: &Position) -> Vec<usize> {
        let all = self.lined(at);
        let narrowed = |part: &Option<String>| -> Option<Vec<usize>> {
            let part = part.as_ref()?;
            let some: Vec<usize> = all
                .iter()
                .copied()
                .filter(|i| self.nodes[*i].part == *part)
                .collect();
            (!some.is_empty()).then_some(some)
        };
        narrowed(&p.terminal)
            .or_else(|| narrowed(&p.feeder))
            .unwrap_or(all)
    }

    fn stand_toward(&self, p: &Position, at: &str, nodes: &[usize], toward: &str) -> Stand {
        let (toward, _) = self.names.resolve(toward);
        let mut found: Vec<(usize, usize)> = Vec::new();
        for node in nodes {
            for e in &self.at[*node] {
                if self.nodes[self.edges[*e].other(*node)].structure.as_ref() == toward {
                    found.push((*node, *e));
                }
            }
        }
        let home = |e: usize| &self.section.spans[self.edges[e].span].feeder;
        if found.iter().any(|(_, e)| *home(*e) == p.feeder) && p.ties.is_empty() {
            found.retain(|(_, e)| *home(*e) == p.feeder);
        }
        let phases = Phases::read(p.phases.as_deref());
        if found
            .iter()
            .any(|(_, e)| !self.edges[*e].phases.and(phases).is_none())
        {
            found.retain(|(_, e)| !self.edges[*e].phases.and(phases).is_none());
        }
        match found.first() {
            None => Stand::Nowhere(format!("no span from {at} to {toward} is on record")),
            Some((node, _)) => Stand::InEdges {
                node: *node,
                edges: found
                    .iter()
                    .filter(|(n, _)| n == node)
                    .map(|(_, e)| *e)
                    .collect(),
            },
        }
    }

    /// Without `toward`: the one span that leaves here away from the source,
    /// if there is but one; remarked.
    fn stand_leaving(&mut self, p: &Position, nodes: &[usize]) -> Option<Stand> {
        let mut leaving = nodes.iter().flat_map(|n| {
            self.at[*n]
                .iter()
                .filter(|e| self.edges[**e].from == *n && !self.edges[**e].foreign)
                .map(|e| (*n, *e))
        });
        let (node, edge) = leaving.next()?;
        if leaving.next().is_some() {
            return Some(Stand::Nowhere(
                "the side it faces (toward) is not recorded, and several spans leave here"
                    .to_string(),
            ));
        }
        let to = self.nodes[self.edges[edge].to].structure.to_string();
        self.remarks.insert(
            p.position.clone(),
            format!(
                "the side it faces (toward) is not recorded; taken as {to}, the one span that leaves"
            ),
        );
        Some(Stand::InEdges {
            node,
            edges: vec![edge],
        })
    }

    pub(super) fn place_sources(&mut self) {
        let sources = std::mem::take(&mut self.section.sources);
        for (i, s) in sources.iter().enumerate() {
            match s.kind {
                SourceKind::Substation => self.place_substation(i, s),
                SourceKind::Generation => self.place_generation(i, s),
            }
        }
        let own: Vec<bool> = sources.iter().map(|s| self.feeds_home(s)).collect();
        self.roots.sort_by_key(|(i, _)| !own[*i]);
        self.section.sources = sources;
    }

    fn place_substation(&mut self, i: usize, s: &Source) {
        let heads: Vec<String> = self
            .section
            .feeders
            .iter()
            .filter(|f| {
                self.section.home.as_ref() == Some(&f.feeder)
                    && f.source.as_deref() == Some(s.source.as_str())
            })
            .filter_map(|f| f.head.clone())
            .collect();
        let own = s.structure.clone();
        for at in own.iter().chain(&heads) {
            let nodes = self.bus_nodes(at, s.terminal.as_deref());
            if !nodes.is_empty() {
                self.roots.extend(nodes.into_iter().map(|n| (i, n)));
                return;
            }
        }
        if !heads.is_empty() || (own.is_none() && self.feeds_home(s)) {
            self.remarks.insert(
                s.source.clone(),
                "no span on record begins at this source".to_string(),
            );
        }
    }

    fn feeds_home(&self, s: &Source) -> bool {
        self.section.feeders.iter().any(|f| {
            self.section.home.as_ref() == Some(&f.feeder)
                && f.source.as_deref() == Some(s.source.as_str())
        })
    }

    /// Nodes at a source's structure from which home line leaves: those of its
    /// terminal, else those that name none.
    fn bus_nodes(&self, at: &str, terminal: Option<&str>) -> Vec<usize> {
        let (at, _) = self.names.resolve(at);
        let mut all = self.lined(&at);
        all.retain(|i| self.at[*i].iter().any(|e| !self.edges[*e].foreign));
        let Some(terminal) = terminal else {
            return all;
        };
        let part = |p: &str| -> Vec<usize> {
            let nodes = all.iter().copied();
            nodes.filter(|i| self.nodes[*i].part == p).collect()
        };
        let on = part(terminal);
        if on.is_empty() { part("") } else { on }
    }

    fn place_generation(&mut self, i: usize, s: &Source) {
        let Some(at) = &s.structure else {
            return;
        };
        let (at, _) = self.names.resolve(at);
        let part = s.terminal.clone();
        let nodes = self.lined(&at);
        let on: Vec<usize> = nodes
            .iter()
            .copied()
            .filter(|n| part.as_ref() == Some(&self.nodes[*n].part))
            .collect();
        let at = if on.is_empty() { nodes } else { on };
        self.generation.extend(at.into_iter().map(|n| (i, n)));
    }
}
