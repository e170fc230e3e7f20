//! The form in which a line is kept: the graph as it was built and of each
//! position what a walk reads. Words stand as words, so that a program that
//! knows more of them reads an older form rightly or not at all.

use std::collections::{BTreeMap, HashMap, HashSet};
use std::sync::Arc;

use serde::{Deserialize, Serialize};

use super::build::{Edge, Kept, Names, Network, Node, Stand};
use super::line::{ConnectedKva, Line};
use super::{Phases, Section};
use crate::domain::asset::{
    Class, Customers, Element, ElementKind, Normally, Position, RecordId, Settings, Source, State,
};

/// Number of this form. Another number is not read: such a line is built anew.
const FORM: u32 = 1;

#[derive(Serialize, Deserialize)]
struct Packed {
    form: u32,
    home: Option<String>,
    /// As JSON: there are few.
    sources: Vec<String>,
    posts: Vec<Post>,
    /// Names of structures, one after another, and their lengths: those of the
    /// section, then those of nodes that are not among them.
    text: String,
    lengths: Vec<u32>,
    listed: u32,
    /// Further names, by number of the structure.
    others: Vec<(u32, Vec<String>)>,
    /// Each node's structure, and its part where it has one.
    nodes: Vec<u32>,
    parts: Vec<(u32, String)>,
    wires: Vec<Wire>,
    stands: Vec<Standing>,
    /// Positions and the node they hang off, in the order in which they do.
    roots: Vec<(u32, u32)>,
    generation: Vec<(u32, u32)>,
    remarks: Vec<(String, String)>,
    off_record: Vec<String>,
    /// Names of spans whose ends are written otherwise than their structures,
    /// and the homes of those that are at home elsewhere.
    spoken: Vec<(u32, String)>,
    elsewhere: Vec<(u32, Option<String>)>,
}

/// From, to, phases, phases cut by open devices, at home elsewhere.
#[derive(Serialize, Deserialize)]
struct Wire(u32, u32, u8, u8, bool);

#[derive(Serialize, Deserialize)]
enum Standing {
    InEdges(u32, Vec<u32>),
    AtNode(u32),
    Nowhere(String),
}

/// What a walk reads of a position.
#[derive(Serialize, Deserialize)]
struct Post {
    position: String,
    class: String,
    feeder: Option<String>,
    structure: Option<String>,
    toward: Option<String>,
    phases: Option<String>,
    normally: Option<String>,
    ties: Vec<String>,
    link: bool,
    blade: bool,
    customers: Option<(u32, Vec<String>)>,
    /// As JSON: few positions have one.
    state: Option<String>,
    kva: Option<ConnectedKva>,
}

impl Line {
    /// The form in which it is kept.
    #[must_use]
    pub fn pack(&self) -> Vec<u8> {
        let net = &self.net;
        let (mut spoken, mut elsewhere) = (Vec::new(), Vec::new());
        for (e, edge) in net.edges.iter().enumerate() {
            let name = net.span_name(e);
            if name != net.plain_span_name(edge) {
                spoken.push((small(e), name));
            }
            if edge.foreign {
                elsewhere.push((small(e), net.span_home(e).cloned()));
            }
        }
        let mut off_record: Vec<String> = net.off_record.iter().cloned().collect();
        off_record.sort();
        let names = PackedNames::of(net);
        let parts = net.nodes.iter().enumerate();
        let parts = parts.filter(|(_, n)| !n.part.is_empty());
        let packed = Packed {
            form: FORM,
            home: net.section.home.clone(),
            sources: net.section.sources.iter().map(json).collect(),
            posts: self.posts(),
            text: names.text,
            lengths: names.lengths,
            listed: small(net.names.listed().len()),
            others: names.others,
            nodes: names.nodes,
            parts: parts.map(|(i, n)| (small(i), n.part.clone())).collect(),
            wires: net
                .edges
                .iter()
                .map(|e| Wire(small(e.from), small(e.to), e.phases.0, e.cut.0, e.foreign))
                .collect(),
            stands: net.stands.iter().map(standing).collect(),
            roots: pairs(&net.roots),
            generation: pairs(&net.generation),
            remarks: net.remarks.clone().into_iter().collect(),
            off_record,
            spoken,
            elsewhere,
        };
        postcard::to_allocvec(&packed).unwrap_or_default()
    }

    fn posts(&self) -> Vec<Post> {
        let has = |p: &Position, kind| p.elements.iter().any(|e| e.element == kind);
        let positions = self.net.section.positions.iter().zip(&self.kva);
        positions
            .map(|(p, kva)| Post {
                position: p.position.clone(),
                class: p.class.word().to_string(),
                feeder: p.feeder.clone(),
                structure: p.structure.clone(),
                toward: p.toward.clone(),
                phases: p.phases.clone(),
                normally: p.normally.map(|n| n.word().to_string()),
                ties: p.ties.clone(),
                link: has(p, ElementKind::Link),
                blade: has(p, ElementKind::Blade),
                customers: p.customers.as_ref().map(|c| (c.count, c.critical.clone())),
                state: p.state.as_ref().map(json),
                kva: kva.clone(),
            })
            .collect()
    }

    /// The line that was kept; none when it is kept in another form.
    #[must_use]
    pub fn unpack(bytes: &[u8]) -> Option<Line> {
        // The form stands first: what follows an unknown one is not read.
        let (form, _) = postcard::take_from_bytes::<u32>(bytes).ok()?;
        if form != FORM {
            return None;
        }
        let packed: Packed = postcard::from_bytes(bytes).ok()?;
        let mut positions = Vec::with_capacity(packed.posts.len());
        let mut kva = Vec::with_capacity(packed.posts.len());
        for mut post in packed.posts {
            kva.push(post.kva.take());
            positions.push(post.position()?);
        }
        let sources: Option<Vec<Source>> = packed
            .sources
            .iter()
            .map(|s| serde_json::from_str(s).ok())
            .collect();
        let section = Section {
            home: packed.home,
            sources: sources?,
            positions,
            ..Section::default()
        };
        let edges: Vec<Edge> = packed.wires.iter().enumerate().map(edge).collect();
        let texts = cut(&packed.text, &packed.lengths)?;
        let nodes = nodes(&texts, &packed.nodes, packed.parts)?;
        let listed = listed(texts, packed.listed, packed.others)?;
        let kept = kept(packed.spoken, packed.elsewhere);
        let mut net = Network {
            names: Names::kept(listed),
            section,
            at: Vec::new(),
            hanging: Vec::new(),
            nodes,
            edges,
            stands: packed.stands.into_iter().map(stand).collect(),
            roots: wide_pairs(&packed.roots),
            generation: wide_pairs(&packed.generation),
            remarks: packed.remarks.into_iter().collect::<BTreeMap<_, _>>(),
            off_record: packed.off_record.into_iter().collect::<HashSet<_>>(),
            index: HashMap::new(),
            by_structure: HashMap::new(),
            buses: HashSet::new(),
            kept: Some(kept),
        };
        net.join_up()?;
        Some(Line {
            net,
            kva,
            last: std::sync::Mutex::default(),
        })
    }
}

/// Names of structures as they are packed.
#[derive(Default)]
struct PackedNames {
    text: String,
    lengths: Vec<u32>,
    others: Vec<(u32, Vec<String>)>,
    nodes: Vec<u32>,
}

impl PackedNames {
    fn of(net: &Network) -> PackedNames {
        let mut out = PackedNames::default();
        let mut numbers: HashMap<&str, u32> = HashMap::new();
        for (name, others) in net.names.listed() {
            let number = out.put(name);
            numbers.entry(name).or_insert(number);
            if !others.is_empty() {
                out.others.push((number, others.clone()));
            }
        }
        for node in &net.nodes {
            let number = match numbers.get(&*node.structure) {
                Some(number) => *number,
                None => out.put(&node.structure),
            };
            numbers.insert(&node.structure, number);
            out.nodes.push(number);
        }
        out
    }

    fn put(&mut self, name: &str) -> u32 {
        self.text.push_str(name);
        self.lengths.push(small(name.len()));
        small(self.lengths.len() - 1)
    }
}

/// The names that stand one after another in a text.
fn cut(text: &str, lengths: &[u32]) -> Option<Vec<Arc<str>>> {
    let mut at = 0;
    let mut out = Vec::with_capacity(lengths.len());
    for length in lengths {
        let end = at + wide(*length);
        out.push(Arc::from(text.get(at..end)?));
        at = end;
    }
    Some(out)
}

fn kept(spoken: Vec<(u32, String)>, elsewhere: Vec<(u32, Option<String>)>) -> Kept {
    let elsewhere = elsewhere.into_iter();
    Kept {
        spoken: spoken.into_iter().map(|(e, n)| (wide(e), n)).collect(),
        elsewhere: elsewhere
            .filter_map(|(e, home)| Some((wide(e), home?)))
            .collect(),
    }
}

/// The first structures are those of the section, each with its further names.
fn listed(
    texts: Vec<Arc<str>>,
    first: u32,
    others: Vec<(u32, Vec<String>)>,
) -> Option<Vec<(Arc<str>, Vec<String>)>> {
    let texts = texts.into_iter().take(wide(first));
    let mut out: Vec<_> = texts.map(|name| (name, Vec::new())).collect();
    for (i, others) in others {
        out.get_mut(wide(i))?.1 = others;
    }
    Some(out)
}

fn nodes(texts: &[Arc<str>], numbers: &[u32], parts: Vec<(u32, String)>) -> Option<Vec<Node>> {
    let mut out = Vec::with_capacity(numbers.len());
    for number in numbers {
        out.push(Node {
            structure: Arc::clone(texts.get(wide(*number))?),
            part: String::new(),
        });
    }
    for (i, part) in parts {
        out.get_mut(wide(i))?.part = part;
    }
    Some(out)
}

impl Network {
    /// Joins edges to nodes and devices to both, in the order of building;
    /// none when something points at nothing.
    fn join_up(&mut self) -> Option<()> {
        let n = self.nodes.len();
        self.at = vec![Vec::new(); n];
        self.hanging = vec![Vec::new(); n];
        for (e, edge) in self.edges.iter().enumerate() {
            self.at.get_mut(edge.from)?.push(e);
            self.at.get_mut(edge.to)?.push(e);
        }
        for (i, stand) in self.stands.iter().enumerate() {
            match stand {
                Stand::InEdges { node, edges } => {
                    for e in edges {
                        let edge = self.edges.get_mut(*e)?;
                        edge.devices.push((i, edge.from == *node));
                    }
                }
                Stand::AtNode(node) => self.hanging.get_mut(*node)?.push(i),
                Stand::Nowhere(_) => {}
            }
        }
        let (sources, positions) = (self.section.sources.len(), self.section.positions.len());
        let mut ends = self.roots.iter().chain(&self.generation);
        let sound = ends.all(|(i, node)| *i < sources && *node < n);
        (sound && self.stands.len() == positions).then_some(())
    }
}

impl Post {
    fn position(self) -> Option<Position> {
        let state: Option<State> = match &self.state {
            Some(text) => Some(serde_json::from_str(text).ok()?),
            None => None,
        };
        let normally: Option<Normally> = match &self.normally {
            Some(word) => Some(Normally::from_word(word)?),
            None => None,
        };
        Some(Position {
            position: self.position,
            id: RecordId::default(),
            class: Class::from_word(&self.class)?,
            feeder: self.feeder,
            names: Vec::new(),
            structure: self.structure,
            terminal: None,
            toward: self.toward,
            phases: self.phases,
            slots: Vec::new(),
            normal_source: None,
            normally,
            ties: self.ties,
            elements: [
                (ElementKind::Link, self.link),
                (ElementKind::Blade, self.blade),
            ]
            .into_iter()
            .filter(|(_, there)| *there)
            .map(|(kind, _)| element(kind))
            .collect(),
            bypass: Vec::new(),
            settings: Settings::default(),
            settings_found: Settings::default(),
            available_fault: None,
            minimum_fault: None,
            peak_load: None,
            customers: self
                .customers
                .map(|(count, critical)| Customers { count, critical }),
            state,
            holds: Vec::new(),
            note: None,
        })
    }
}

/// An element of which no more than its kind is known.
fn element(element: ElementKind) -> Element {
    Element {
        element,
        label: None,
        slot: None,
        conductor: None,
        link: None,
        amps: None,
        interrupting_amps: None,
        interrupting_asym_amps: None,
        test_x_over_r: None,
        momentary_amps: None,
        max_kv: None,
        bil_kv: None,
        opens_load: None,
        visible_break: None,
        lockable: None,
        normally: None,
    }
}

fn json<T: Serialize>(of: &T) -> String {
    serde_json::to_string(of).unwrap_or_default()
}

/// A feeder has far fewer parts than this can count.
fn small(n: usize) -> u32 {
    u32::try_from(n).unwrap_or(u32::MAX)
}

fn wide(n: u32) -> usize {
    usize::try_from(n).unwrap_or(usize::MAX)
}

fn pairs(of: &[(usize, usize)]) -> Vec<(u32, u32)> {
    of.iter().map(|(a, b)| (small(*a), small(*b))).collect()
}

fn wide_pairs(of: &[(u32, u32)]) -> Vec<(usize, usize)> {
    of.iter().map(|(a, b)| (wide(*a), wide(*b))).collect()
}

fn standing(stand: &Stand) -> Standing {
    match stand {
        Stand::InEdges { node, edges } => {
            Standing::InEdges(small(*node), edges.iter().map(|e| small(*e)).collect())
        }
        Stand::AtNode(node) => Standing::AtNode(small(*node)),
        Stand::Nowhere(why) => Standing::Nowhere(why.clone()),
    }
}

fn stand(standing: Standing) -> Stand {
    match standing {
        Standing::InEdges(node, edges) => Stand::InEdges {
            node: wide(node),
            edges: edges.into_iter().map(wide).collect(),
        },
        Standing::AtNode(node) => Stand::AtNode(wide(node)),
        Standing::Nowhere(why) => Stand::Nowhere(why),
    }
}

fn edge((i, w): (usize, &Wire)) -> Edge {
    Edge {
        span: i,
        from: wide(w.0),
        to: wide(w.1),
        phases: Phases(w.2),
        foreign: w.4,
        devices: Vec::new(),
        cut: Phases(w.3),
    }
}
