//! A pattern as a net of character positions: which strings it holds, and which
//! of them are one slip away from what was typed, without trying every string.
//!
//! Position `p` is one character of one field. A string is held when a chain of
//! positions leads from the start to an accepting one, each admitting its
//! character (the construction of Glushkov). From the sets of positions that
//! can be reached by each head and that can be finished by each tail of the
//! input, the repairs follow directly.

use super::scheme::{Element, Pattern};

/// Admitted characters: bits 0 to 9 are digits, 10 to 35 letters.
type Mask = u64;

const START: usize = 0;

fn bit(ch: u8) -> Mask {
    match ch {
        b'0'..=b'9' => 1 << (ch - b'0'),
        b'A'..=b'Z' => 1 << (ch - b'A' + 10),
        _ => 0,
    }
}

fn mask_of(text: &str) -> Mask {
    text.bytes().fold(0, |mask, ch| mask | bit(ch))
}

fn characters(mask: Mask) -> impl Iterator<Item = u8> {
    (b'0'..=b'9')
        .chain(b'A'..=b'Z')
        .filter(move |&ch| mask & bit(ch) != 0)
}

/// A set of positions.
#[derive(Debug, Clone, PartialEq, Eq)]
struct Set(Vec<u64>);

impl Set {
    fn empty(size: usize) -> Set {
        Set(vec![0; size.div_ceil(64)])
    }

    fn add(&mut self, p: usize) {
        self.0[p / 64] |= 1 << (p % 64);
    }

    fn has(&self, p: usize) -> bool {
        self.0[p / 64] & (1 << (p % 64)) != 0
    }

    fn is_empty(&self) -> bool {
        self.0.iter().all(|w| *w == 0)
    }

    fn meets(&self, other: &Set) -> bool {
        self.0.iter().zip(&other.0).any(|(a, b)| a & b != 0)
    }

    fn iter(&self) -> impl Iterator<Item = usize> {
        self.0.iter().enumerate().flat_map(|(w, &word)| {
            let mut rest = word;
            std::iter::from_fn(move || {
                if rest == 0 {
                    return None;
                }
                let p = rest.trailing_zeros() as usize;
                rest &= rest - 1;
                Some(w * 64 + p)
            })
        })
    }
}

/// One repair of the typed string.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) enum Edit {
    /// Nothing to repair.
    None,
    /// Characters at one or more places replaced by what they look like.
    Looks(Vec<(usize, u8)>),
    /// The character at a place replaced.
    Replace { at: usize, by: u8 },
    /// A character put in before a place.
    Insert { at: usize, ch: u8 },
    /// The character at a place taken out.
    Remove { at: usize },
    /// The character at a place and the next one exchanged.
    Swap { at: usize },
    /// Two digits replaced by what they sound like.
    Pair { at: usize, by: &'static str },
}

impl Edit {
    /// The string with the repair made.
    pub fn apply(&self, typed: &[u8]) -> Vec<u8> {
        let mut out = typed.to_vec();
        match self {
            Edit::None => {}
            Edit::Looks(list) => list.iter().for_each(|&(at, by)| out[at] = by),
            Edit::Replace { at, by } => out[*at] = *by,
            Edit::Insert { at, ch } => out.insert(*at, *ch),
            Edit::Remove { at } => {
                out.remove(*at);
            }
            Edit::Swap { at } => out.swap(*at, at + 1),
            Edit::Pair { at, by } => out[*at..at + 2].copy_from_slice(by.as_bytes()),
        }
        out
    }
}

#[derive(Debug, Clone)]
struct Fragment {
    first: Vec<usize>,
    last: Vec<usize>,
    nullable: bool,
}

/// The net of one pattern.
#[derive(Debug, Clone)]
pub(super) struct Net {
    masks: Vec<Mask>,
    follow: Vec<Vec<usize>>,
    accept: Set,
    longest: usize,
}

impl Net {
    /// The net of a pattern, separators left out.
    pub fn of(pattern: &Pattern) -> Net {
        let mut net = Net {
            masks: vec![0],
            follow: vec![Vec::new()],
            accept: Set::empty(1),
            longest: 0,
        };
        let whole = net.sequence(&pattern.elements);
        net.follow[START] = whole.first;
        net.accept = Set::empty(net.masks.len());
        whole.last.iter().for_each(|&p| net.accept.add(p));
        let variants = pattern.variants();
        let lengths = variants
            .iter()
            .map(|v| v.iter().map(|e| *e.widths().end()).sum());
        net.longest = lengths.max().unwrap_or(0);
        net
    }

    fn position(&mut self, mask: Mask) -> usize {
        self.masks.push(mask);
        self.follow.push(Vec::new());
        self.masks.len() - 1
    }

    fn sequence(&mut self, elements: &[Element]) -> Fragment {
        let mut whole = Fragment {
            first: Vec::new(),
            last: Vec::new(),
            nullable: true,
        };
        for element in elements {
            let part = self.element(element);
            for &p in &whole.last {
                self.follow[p].extend(&part.first);
            }
            if whole.nullable {
                whole.first.extend(&part.first);
            }
            if !part.nullable {
                whole.last.clear();
            }
            whole.last.extend(&part.last);
            whole.nullable &= part.nullable;
        }
        whole
    }

    fn element(&mut self, element: &Element) -> Fragment {
        match element {
            Element::Digits { min, max, .. } => self.run(mask_of("0123456789"), *min, *max),
            Element::Letters {
                min, max, alphabet, ..
            } => self.run(mask_of(alphabet), *min, *max),
            Element::Check { rule, .. } => self.run(mask_of(rule.alphabet()), 1, 1),
            Element::Codes { codes, .. } => {
                let chains = codes.iter().map(|c| self.chain(c.code.as_bytes()));
                let chains: Vec<(usize, usize)> = chains.collect();
                Fragment {
                    first: chains.iter().map(|c| c.0).collect(),
                    last: chains.iter().map(|c| c.1).collect(),
                    nullable: false,
                }
            }
            Element::Separator(_) => Fragment {
                first: Vec::new(),
                last: Vec::new(),
                nullable: true,
            },
            Element::Optional(inner) => {
                let mut part = self.sequence(inner);
                part.nullable = true;
                part
            }
        }
    }

    fn run(&mut self, mask: Mask, min: usize, max: usize) -> Fragment {
        let chain: Vec<usize> = (0..max).map(|_| self.position(mask)).collect();
        for pair in chain.windows(2) {
            self.follow[pair[0]].push(pair[1]);
        }
        Fragment {
            first: chain.first().copied().into_iter().collect(),
            last: chain[min.saturating_sub(1)..].to_vec(),
            nullable: false,
        }
    }

    /// The first and the last position of a chain of fixed characters.
    fn chain(&mut self, code: &[u8]) -> (usize, usize) {
        let places: Vec<usize> = code.iter().map(|&ch| self.position(bit(ch))).collect();
        for pair in places.windows(2) {
            self.follow[pair[0]].push(pair[1]);
        }
        match (places.first(), places.last()) {
            (Some(&first), Some(&last)) => (first, last),
            _ => (START, START),
        }
    }

    fn step(&self, from: &Set, mask: Mask) -> Set {
        let mut out = Set::empty(self.masks.len());
        for p in from.iter() {
            for &q in &self.follow[p] {
                if self.masks[q] & mask != 0 {
                    out.add(q);
                }
            }
        }
        out
    }

    /// The positions from which `mask` leads into `to`.
    fn step_back(&self, to: &Set, mask: Mask) -> Set {
        let mut out = Set::empty(self.masks.len());
        for (p, follow) in self.follow.iter().enumerate() {
            if follow
                .iter()
                .any(|&q| self.masks[q] & mask != 0 && to.has(q))
            {
                out.add(p);
            }
        }
        out
    }

    /// The characters that lead from one set into another.
    fn between(&self, from: &Set, to: &Set) -> Mask {
        from.iter()
            .flat_map(|p| &self.follow[p])
            .filter(|&&q| to.has(q))
            .fold(0, |mask, &q| mask | self.masks[q])
    }

    fn start(&self) -> Set {
        let mut set = Set::empty(self.masks.len());
        set.add(START);
        set
    }

    /// For each head of `typed` the positions it leads to.
    fn heads(&self, typed: &[u8]) -> Vec<Set> {
        let mut out = vec![self.start()];
        for &ch in typed {
            let next = self.step(&out[out.len() - 1], bit(ch));
            out.push(next);
        }
        out
    }

    /// For each tail the positions it can be finished from.
    fn tails(&self, masks: &[Mask]) -> Vec<Set> {
        let mut out = vec![self.accept.clone()];
        for &mask in masks.iter().rev() {
            let next = self.step_back(&out[out.len() - 1], mask);
            out.push(next);
        }
        out.reverse();
        out
    }

    /// Whether the pattern holds `typed` as it stands.
    pub fn holds(&self, typed: &[u8]) -> bool {
        let mut here = self.start();
        for &ch in typed {
            here = self.step(&here, bit(ch));
            if here.is_empty() {
                return false;
            }
        }
        here.meets(&self.accept)
    }

    /// Every repair of one slip that makes the pattern hold `typed`, the string
    /// as it stands among them when it is held.
    pub fn repairs(&self, typed: &[u8]) -> Vec<Edit> {
        let n = typed.len();
        let mut out = Vec::new();
        if n > self.longest + 1 {
            return out;
        }
        let heads = self.heads(typed);
        let masks: Vec<Mask> = typed.iter().map(|&ch| bit(ch)).collect();
        let tails = self.tails(&masks);
        if heads[n].meets(&self.accept) {
            out.push(Edit::None);
        }
        for at in 0..=n {
            let head = &heads[at];
            if head.is_empty() {
                break;
            }
            let put_in = self.between(head, &tails[at]);
            out.extend(characters(put_in).map(|ch| Edit::Insert { at, ch }));
            if at == n {
                break;
            }
            let others = self.between(head, &tails[at + 1]) & !masks[at];
            out.extend(characters(others).map(|by| Edit::Replace { at, by }));
            if head.meets(&tails[at + 1]) {
                out.push(Edit::Remove { at });
            }
            if at + 1 < n {
                self.pair_repairs(typed, at, head, &tails[at + 2], &mut out);
            }
        }
        out
    }

    fn pair_repairs(&self, typed: &[u8], at: usize, head: &Set, tail: &Set, out: &mut Vec<Edit>) {
        let (a, b) = (typed[at], typed[at + 1]);
        let leads = |first: u8, second: u8| {
            let middle = self.step(head, bit(first));
            self.step(&middle, bit(second)).meets(tail)
        };
        if a != b && leads(b, a) {
            out.push(Edit::Swap { at });
        }
        let two = [a, b];
        let heard = std::str::from_utf8(&two)
            .ok()
            .and_then(super::sounds::heard_pair);
        if let Some(by) = heard
            && leads(by.as_bytes()[0], by.as_bytes()[1])
        {
            out.push(Edit::Pair { at, by });
        }
    }

    /// Ways of reading `typed` that only take characters for look-alikes, any
    /// number of them; `looks(ch)` gives what a character may be besides itself.
    pub fn look_repairs(
        &self,
        typed: &[u8],
        looks: impl Fn(u8) -> Vec<u8>,
        cap: usize,
    ) -> Vec<Edit> {
        if typed.len() > self.longest {
            return Vec::new();
        }
        let options: Vec<Vec<u8>> = typed
            .iter()
            .map(|&ch| std::iter::once(ch).chain(looks(ch)).collect())
            .collect();
        let masks: Vec<Mask> = options
            .iter()
            .map(|list| list.iter().fold(0, |m, &ch| m | bit(ch)))
            .collect();
        let tails = self.tails(&masks);
        let mut search = LookSearch {
            net: self,
            options: &options,
            tails: &tails,
            cap,
            taken: Vec::new(),
            out: Vec::new(),
        };
        search.from(0, &self.start());
        search.out
    }
}

struct LookSearch<'n> {
    net: &'n Net,
    options: &'n [Vec<u8>],
    tails: &'n [Set],
    cap: usize,
    taken: Vec<(usize, u8)>,
    out: Vec<Edit>,
}

impl LookSearch<'_> {
    fn from(&mut self, at: usize, here: &Set) {
        if self.out.len() >= self.cap || !here.meets(&self.tails[at]) {
            return;
        }
        let Some(options) = self.options.get(at) else {
            if !self.taken.is_empty() {
                self.out.push(Edit::Looks(self.taken.clone()));
            }
            return;
        };
        for (i, &ch) in options.iter().enumerate() {
            let next = self.net.step(here, bit(ch));
            if next.is_empty() {
                continue;
            }
            if i > 0 {
                self.taken.push((at, ch));
            }
            self.from(at + 1, &next);
            if i > 0 {
                self.taken.pop();
            }
        }
    }
}
