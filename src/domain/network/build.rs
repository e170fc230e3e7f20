//! From records to a graph.

use std::collections::{BTreeMap, HashMap, HashSet};
use std::sync::{Arc, OnceLock};

use super::{Phases, Section};
use crate::domain::asset::{Class, Position, SourceKind, Span};
use crate::domain::code::fold;

/// A node: a structure and, where circuits or buses are kept apart there, a
/// part of it.
#[derive(Debug, Clone, PartialEq, Eq, Hash)]
pub(super) struct Node {
    /// The structure's present name, or the text that names it.
    pub structure: Arc<str>,
    pub part: String,
}

/// A span as an edge.
#[derive(Debug)]
pub(super) struct Edge {
    pub span: usize,
    pub from: usize,
    pub to: usize,
    pub phases: Phases,
    /// At home in another feeder: never walked, only looked at.
    pub foreign: bool,
    /// Series positions that stand in it, and whether at its `from` end.
    pub devices: Vec<(usize, bool)>,
    /// Phases that an open device cuts.
    pub cut: Phases,
}

impl Edge {
    /// Phases on which it conducts.
    pub fn conducts(&self) -> Phases {
        if self.foreign {
            Phases::NONE
        } else {
            self.phases.less(self.cut)
        }
    }

    pub fn other(&self, node: usize) -> usize {
        if node == self.from {
            self.to
        } else {
            self.from
        }
    }
}

/// Where a position stands.
#[derive(Debug, Clone, PartialEq)]
pub(super) enum Stand {
    /// In these edges, at the node.
    InEdges { node: usize, edges: Vec<usize> },
    /// Hanging off a node.
    AtNode(usize),
    /// Nowhere that can be walked, and why.
    Nowhere(String),
}

/// The graph of one section.
#[derive(Debug)]
pub struct Network {
    pub(super) section: Section,
    pub(super) nodes: Vec<Node>,
    pub(super) edges: Vec<Edge>,
    /// Edges at a node.
    pub(super) at: Vec<Vec<usize>>,
    /// Where each position stands.
    pub(super) stands: Vec<Stand>,
    /// Positions hanging off a node.
    pub(super) hanging: Vec<Vec<usize>>,
    /// Substation sources and the nodes they feed.
    pub(super) roots: Vec<(usize, usize)>,
    /// Generation and the node it joins.
    pub(super) generation: Vec<(usize, usize)>,
    /// What had to be inferred, or could not be placed, a position or source.
    pub(super) remarks: BTreeMap<String, String>,
    /// Structures that no record describes.
    pub(super) off_record: HashSet<String>,
    pub(super) index: HashMap<Node, usize>,
    pub(super) by_structure: HashMap<String, Vec<usize>>,
    pub(super) buses: HashSet<String>,
    pub(super) names: Names,
    /// What is known of the spans of a line that was kept: their records are
    /// then not at hand.
    pub(super) kept: Option<Kept>,
}

/// Names and homes of spans, by edge, where the graph does not tell them.
#[derive(Debug, Default)]
pub(super) struct Kept {
    pub spoken: HashMap<usize, String>,
    pub elsewhere: HashMap<usize, String>,
}

/// Structures by name: exact, folded, then old names. Most texts are names as
/// they are written, so the folded ones are made when one is not.
#[derive(Debug, Default)]
pub(super) struct Names {
    /// None for a line that was kept: one or two walks do not repay it.
    exact: Option<HashSet<Arc<str>>>,
    /// Each structure with its further names, in the order of the section.
    listed: Vec<(Arc<str>, Vec<String>)>,
    folded: OnceLock<Folded>,
}

#[derive(Debug, Default)]
struct Folded {
    present: HashMap<String, Arc<str>>,
    other: HashMap<String, Arc<str>>,
}

impl Names {
    fn of(section: &Section) -> Names {
        let mut names = Names::default();
        let mut exact = HashSet::with_capacity(section.structures.len());
        for s in &section.structures {
            let name: Arc<str> = Arc::from(s.structure.as_str());
            exact.insert(Arc::clone(&name));
            let others = s.names.iter().map(|n| n.text.clone()).collect();
            names.listed.push((name, others));
        }
        names.exact = Some(exact);
        names
    }

    /// Of a line that was kept.
    pub fn kept(listed: Vec<(Arc<str>, Vec<String>)>) -> Names {
        Names {
            listed,
            ..Names::default()
        }
    }

    /// Each structure with its further names, in the order of the section.
    pub fn listed(&self) -> &[(Arc<str>, Vec<String>)] {
        &self.listed
    }

    fn is_exact(&self, text: &str) -> bool {
        match &self.exact {
            Some(exact) => exact.contains(text),
            None => self.listed.iter().any(|(name, _)| **name == *text),
        }
    }

    fn folded(&self) -> &Folded {
        self.folded.get_or_init(|| {
            let mut out = Folded::default();
            for (name, others) in &self.listed {
                let present = out.present.entry(fold(name));
                present.or_insert_with(|| Arc::clone(name));
                for text in others {
                    let other = out.other.entry(fold(text));
                    other.or_insert_with(|| Arc::clone(name));
                }
            }
            out
        })
    }

    /// The present name of the structure that a text means; the text itself
    /// when no record answers to it.
    pub fn resolve(&self, text: &str) -> (String, bool) {
        if self.is_exact(text) {
            return (text.to_string(), true);
        }
        let (key, folded) = (fold(text), self.folded());
        match folded.present.get(&key).or_else(|| folded.other.get(&key)) {
            Some(name) => (name.to_string(), true),
            None => (text.to_string(), false),
        }
    }
}

impl Network {
    /// Builds the graph. Never fails: what cannot be placed is remarked.
    #[must_use]
    pub fn new(section: Section) -> Network {
        let mut net = Network {
            names: Names::of(&section),
            section,
            nodes: Vec::new(),
            edges: Vec::new(),
            at: Vec::new(),
            stands: Vec::new(),
            hanging: Vec::new(),
            roots: Vec::new(),
            generation: Vec::new(),
            remarks: BTreeMap::new(),
            off_record: HashSet::new(),
            index: HashMap::new(),
            by_structure: HashMap::new(),
            buses: HashSet::new(),
            kept: None,
        };
        net.buses = net.bus_structures();
        net.place_spans();
        net.place_positions();
        net.place_sources();
        net
    }

    /// Structures where a substation source stands: their circuits meet on the
    /// bus, and other feeders leave from there.
    fn bus_structures(&self) -> HashSet<String> {
        self.section
            .sources
            .iter()
            .filter(|s| s.kind == SourceKind::Substation)
            .filter_map(|s| s.structure.as_deref())
            .map(|at| self.names.resolve(at).0)
            .collect()
    }

    /// Whether circuits are kept apart at a structure by the record alone.
    fn apart(&self) -> HashSet<String> {
        self.section
            .structures
            .iter()
            .filter(|s| s.circuits.len() > 1 && !self.buses.contains(&s.structure))
            .map(|s| s.structure.clone())
            .collect()
    }

    fn node(&mut self, structure: &str, part: &str) -> usize {
        let key = Node {
            structure: Arc::from(structure),
            part: part.to_string(),
        };
        if let Some(i) = self.index.get(&key) {
            return *i;
        }
        let i = self.nodes.len();
        self.nodes.push(key.clone());
        self.at.push(Vec::new());
        self.hanging.push(Vec::new());
        self.index.insert(key, i);
        self.by_structure
            .entry(structure.to_string())
            .or_default()
            .push(i);
        i
    }

    /// Nodes of a structure, by its present name, that have line at them.
    pub(super) fn lined(&self, structure: &str) -> Vec<usize> {
        let lined = |i: &usize| !self.at[*i].is_empty();
        if self.kept.is_some() {
            let nodes = self.nodes.iter().enumerate();
            let here = nodes.filter(|(_, n)| *n.structure == *structure);
            return here.map(|(i, _)| i).filter(lined).collect();
        }
        let nodes = self.by_structure.get(structure);
        nodes.into_iter().flatten().copied().filter(lined).collect()
    }

    /// The name of the span of an edge.
    pub(super) fn span_name(&self, edge: usize) -> String {
        match &self.kept {
            None => self.section.spans[self.edges[edge].span].name(),
            Some(kept) => match kept.spoken.get(&edge) {
                Some(name) => name.clone(),
                None => self.plain_span_name(&self.edges[edge]),
            },
        }
    }

    /// The name of a span that has its structures' names for ends.
    pub(super) fn plain_span_name(&self, edge: &Edge) -> String {
        let (from, to) = (&self.nodes[edge.from], &self.nodes[edge.to]);
        format!("{} to {}", from.structure, to.structure)
    }

    /// The home of the span of an edge that is at home elsewhere.
    pub(super) fn span_home(&self, edge: usize) -> Option<&String> {
        match &self.kept {
            None => self.section.spans[self.edges[edge].span].feeder.as_ref(),
            Some(kept) => kept.elsewhere.get(&edge),
        }
    }

    fn resolved(&mut self, text: &str) -> String {
        let (name, known) = self.names.resolve(text);
        if !known {
            self.off_record.insert(name.clone());
        }
        name
    }

    fn place_spans(&mut self) {
        let apart = self.apart();
        let spans = std::mem::take(&mut self.section.spans);
        for (i, span) in spans.iter().enumerate() {
            self.place_span(i, span, &apart);
        }
        self.section.spans = spans;
    }

    fn place_span(&mut self, i: usize, span: &Span, apart: &HashSet<String>) {
        let (from, to) = (self.resolved(&span.span.from), self.resolved(&span.span.to));
        let foreign = span.feeder.is_some()
            && self.section.home.is_some()
            && span.feeder != self.section.home;
        if foreign && (self.buses.contains(&from) || self.buses.contains(&to)) {
            return;
        }
        let part = |at: &str, terminal: &Option<String>| match terminal {
            Some(t) => t.clone(),
            None if apart.contains(at) => self.circuit_at(span, at),
            None => String::new(),
        };
        let (from_part, to_part) = (
            part(&from, &span.from_terminal),
            part(&to, &span.to_terminal),
        );
        let a = self.node(&from, &from_part);
        let b = self.node(&to, &to_part);
        if a == b {
            self.remarks.insert(
                format!("span {}", span.name()),
                "both its ends are the same place; it is not walked".to_string(),
            );
            return;
        }
        let edge = self.edges.len();
        self.edges.push(Edge {
            span: i,
            from: a,
            to: b,
            phases: Phases::read(span.span.phases.as_deref()),
            foreign,
            devices: Vec::new(),
            cut: Phases::NONE,
        });
        self.at[a].push(edge);
        self.at[b].push(edge);
    }

    /// Which circuit a span belongs to at a structure that carries several and
    /// names no terminal: its own; at the far end of a tie, the other one.
    fn circuit_at(&self, span: &Span, at: &str) -> String {
        let own = span.feeder.clone().unwrap_or_default();
        let far = |p: &&Position| {
            p.ties.len() == 2
                && p.ties.contains(&own)
                && p.toward
                    .as_deref()
                    .is_some_and(|t| self.names.resolve(t).0 == at)
                && p.structure.as_deref().is_some_and(|s| {
                    let s = self.names.resolve(s).0;
                    s == self.names.resolve(&span.span.from).0
                        || s == self.names.resolve(&span.span.to).0
                })
        };
        match self.section.positions.iter().find(far) {
            Some(tie) => tie.ties.iter().find(|t| **t != own).cloned().unwrap_or(own),
            None => own,
        }
    }

    /// The number of a position by name.
    #[must_use]
    pub fn position(&self, name: &str) -> Option<usize> {
        self.section
            .positions
            .iter()
            .position(|p| p.position == name)
    }

    /// The records it was built from.
    #[must_use]
    pub fn section(&self) -> &Section {
        &self.section
    }

    /// Nodes of a structure.
    pub(super) fn nodes_of(&self, structure: &str) -> Vec<usize> {
        self.lined(&self.names.resolve(structure).0)
    }

    /// Generation recorded as a position at a structure with no source record
    /// of its own.
    pub(super) fn bare_generation(&self, p: &Position) -> bool {
        p.class == Class::Generation
            && !self.section.sources.iter().any(|s| {
                s.kind == SourceKind::Generation
                    && s.structure.is_some()
                    && p.structure.is_some()
                    && s.structure.as_deref().map(|t| self.names.resolve(t).0)
                        == p.structure.as_deref().map(|t| self.names.resolve(t).0)
            })
    }
}
