//! From typed or spoken text to ranked readings, under every pattern at once.

use std::collections::HashMap;

use super::mistake::{Mistake, MistakeKind};
use super::net::{Edit, Net};
use super::parse::{Cut, FieldText, cuts, exact, failed_check, written};
use super::reading::{Evidence, Reading, slip_kind};
use super::scheme::{Element, Kind, MAX_SYMBOLS, Pattern, Scheme};
use super::spoken;
use super::symbols::{Symbols, fold};

/// The most readings given for one input; the ranking decides which.
pub const MAX_READINGS: usize = 2_000;
/// Ways of grouping spoken words that are also searched for slips.
const WAYS_WITH_SLIPS: usize = 4;
/// The most combinations of look-alikes tried under one pattern.
const MAX_LOOKS: usize = 32;

/// Places of the scheme and the pattern, and the name.
type ReadingKey = (usize, usize, String);

struct Compiled<'s> {
    pattern: &'s Pattern,
    variants: Vec<Vec<&'s Element>>,
    net: Net,
}

/// Schemes made ready for reading. Making one takes some microseconds a
/// pattern; keep it where many texts are read.
pub struct Decoder<'s> {
    schemes: Vec<(&'s Scheme, Vec<Compiled<'s>>)>,
}

/// Another valid id one slip away.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Neighbour {
    pub name: String,
    pub scheme: String,
    pub pattern: String,
    pub kind: Kind,
    /// The slip by which the given id would be had from this one; the place
    /// counts characters of the given id, folded.
    pub mistake: Mistake,
}

impl<'s> Decoder<'s> {
    pub fn new(schemes: &'s [Scheme]) -> Decoder<'s> {
        let compiled = |pattern: &'s Pattern| Compiled {
            pattern,
            variants: pattern.variants(),
            net: Net::of(pattern),
        };
        Decoder {
            schemes: schemes
                .iter()
                .map(|s| (s, s.patterns.iter().map(compiled).collect()))
                .collect(),
        }
    }

    /// Every reading of the input, best first, at most [`MAX_READINGS`]: as it
    /// stands, after one slip, after any number of look-alikes, and as spoken
    /// words. No reading means that no pattern comes near.
    pub fn decode(&self, input: &str) -> Vec<Reading> {
        let mut found: HashMap<ReadingKey, (u32, Reading)> = HashMap::new();
        let mut ways = vec![Symbols::literal(input)];
        if input.len() <= 16 * MAX_SYMBOLS {
            ways.extend(spoken::ways(input));
        }
        for way in &ways {
            if way.symbols.is_empty() || way.symbols.len() > MAX_SYMBOLS + 1 {
                continue;
            }
            self.read_way(input, way, &mut found);
        }
        let mut out: Vec<(ReadingKey, (u32, Reading))> = found.into_iter().collect();
        out.sort_by(|(a_key, (a, _)), (b_key, (b, _))| a.cmp(b).then_with(|| a_key.cmp(b_key)));
        out.truncate(MAX_READINGS);
        out.into_iter().map(|(_, (_, reading))| reading).collect()
    }

    fn read_way(
        &self,
        input: &str,
        way: &Symbols,
        found: &mut HashMap<ReadingKey, (u32, Reading)>,
    ) {
        let typed: Vec<u8> = way.symbols.iter().map(|s| s.ch).collect();
        for (si, (scheme, patterns)) in self.schemes.iter().enumerate() {
            for (pi, compiled) in patterns.iter().enumerate() {
                for edit in edits(scheme, compiled, &typed, way.rank < WAYS_WITH_SLIPS) {
                    for (name, reading) in readings(scheme, compiled, input, way, &typed, &edit) {
                        let cost = reading.cost();
                        let key = (si, pi, name);
                        match found.get(&key) {
                            Some((known, _)) if *known <= cost => {}
                            _ => {
                                found.insert(key, (cost, reading));
                            }
                        }
                    }
                }
            }
        }
    }

    /// Every id of any pattern one slip away from `id`, the commonest slips
    /// first, `id` itself left out. Ids whose check would fail are no ids.
    pub fn neighbours(&self, id: &str) -> impl Iterator<Item = Neighbour> + use<'s> {
        let typed = fold(id).into_bytes();
        let mut found: HashMap<NeighbourKey, Neighbour> = HashMap::new();
        let usable = !typed.is_empty() && typed.len() <= MAX_SYMBOLS + 1 && typed.is_ascii();
        for (scheme, patterns) in self.schemes.iter().filter(|_| usable) {
            for compiled in patterns {
                for edit in compiled.net.repairs(&typed) {
                    let Some(kind) = slip_kind(scheme, &edit, &typed) else {
                        continue;
                    };
                    for name in names(compiled, &typed, &edit) {
                        keep_likelier(&mut found, neighbour(scheme, compiled, name, kind, &edit));
                    }
                }
            }
        }
        let mut out: Vec<Neighbour> = found.into_values().filter(|n| n.name != id).collect();
        out.sort_by(|a, b| {
            let key = |n: &Neighbour| (n.mistake.kind.cost(), n.mistake.at);
            key(a).cmp(&key(b)).then_with(|| a.name.cmp(&b.name))
        });
        out.into_iter()
    }
}

fn neighbour(
    scheme: &Scheme,
    compiled: &Compiled,
    name: String,
    kind: MistakeKind,
    edit: &Edit,
) -> Neighbour {
    Neighbour {
        name,
        scheme: scheme.scheme.clone(),
        pattern: compiled.pattern.name.clone(),
        kind: compiled.pattern.names,
        mistake: Mistake {
            kind,
            at: edit_place(edit),
        },
    }
}

/// Scheme, pattern and name.
type NeighbourKey = (String, String, String);

fn keep_likelier(found: &mut HashMap<NeighbourKey, Neighbour>, new: Neighbour) {
    // Two patterns may write the same name.
    let key = (new.scheme.clone(), new.pattern.clone(), new.name.clone());
    match found.get(&key) {
        Some(known) if known.mistake.kind.cost() <= new.mistake.kind.cost() => {}
        _ => {
            found.insert(key, new);
        }
    }
}

fn edit_place(edit: &Edit) -> usize {
    match edit {
        Edit::None => 0,
        Edit::Looks(list) => list.first().map_or(0, |(at, _)| *at),
        Edit::Replace { at, .. }
        | Edit::Insert { at, .. }
        | Edit::Remove { at }
        | Edit::Swap { at }
        | Edit::Pair { at, .. } => *at,
    }
}

fn edits(scheme: &Scheme, compiled: &Compiled, typed: &[u8], slips: bool) -> Vec<Edit> {
    if !slips {
        let held = compiled.net.holds(typed);
        return held.then_some(Edit::None).into_iter().collect();
    }
    let mut edits = compiled.net.repairs(typed);
    let looks = |ch: u8| -> Vec<u8> {
        let groups = scheme.confusable.iter();
        groups
            .filter(|group| group.as_bytes().contains(&ch))
            .flat_map(|group| group.bytes())
            .filter(|other| *other != ch)
            .collect()
    };
    edits.extend(compiled.net.look_repairs(typed, looks, MAX_LOOKS));
    edits
}

fn meant_text(typed: &[u8], edit: &Edit) -> Option<String> {
    String::from_utf8(edit.apply(typed)).ok()
}

fn names(compiled: &Compiled, typed: &[u8], edit: &Edit) -> Vec<String> {
    let Some(meant) = meant_text(typed, edit) else {
        return Vec::new();
    };
    cuts(&compiled.variants, &meant)
        .iter()
        .filter(|cut| failed_check(cut, &meant).is_none())
        .map(|cut| written(cut, &meant))
        .collect()
}

fn readings(
    scheme: &Scheme,
    compiled: &Compiled,
    input: &str,
    way: &Symbols,
    typed: &[u8],
    edit: &Edit,
) -> Vec<(String, Reading)> {
    let Some(meant) = meant_text(typed, edit) else {
        return Vec::new();
    };
    let all = cuts(&compiled.variants, &meant);
    let mut out = Vec::with_capacity(all.len());
    for cut in &all {
        let failed = failed_check(cut, &meant);
        if failed.is_some() && *edit != Edit::None {
            continue; // a repair must at least make the check hold
        }
        let evidence = Evidence {
            scheme,
            input,
            symbols: way,
            typed,
            edit,
            cut,
            meant: &meant,
            failed,
        };
        out.push((
            written(cut, &meant),
            reading(scheme, compiled, &evidence, cut, &meant),
        ));
    }
    out
}

fn reading(
    scheme: &Scheme,
    compiled: &Compiled,
    evidence: &Evidence,
    cut: &Cut,
    meant: &str,
) -> Reading {
    Reading {
        name: written(cut, meant),
        scheme: scheme.scheme.clone(),
        pattern: compiled.pattern.name.clone(),
        kind: compiled.pattern.names,
        fields: evidence.fields(),
        spans: evidence.spans(),
        assumed: evidence.assumed(),
    }
}

/// [`Decoder::decode`] for one text.
pub fn decode(schemes: &[Scheme], input: &str) -> Vec<Reading> {
    Decoder::new(schemes).decode(input)
}

/// [`Decoder::neighbours`] under one scheme.
pub fn neighbours<'s>(scheme: &'s Scheme, id: &str) -> impl Iterator<Item = Neighbour> + use<'s> {
    Decoder::new(std::slice::from_ref(scheme)).neighbours(id)
}

/// The first scheme and pattern that writes `id` exactly so, with its fields.
pub fn fits<'s>(
    schemes: &'s [Scheme],
    id: &str,
) -> Option<(&'s Scheme, &'s Pattern, Vec<FieldText>)> {
    schemes.iter().find_map(|scheme| {
        scheme
            .patterns
            .iter()
            .find_map(|pattern| exact(pattern, id).map(|fields| (scheme, pattern, fields)))
    })
}
