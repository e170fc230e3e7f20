//! The order in which a line is walked on foot: from its head outward, the
//! short branches first, so that the way back to where a branch left is short.

use std::collections::{BTreeMap, BTreeSet, HashMap};

use crate::domain::asset::Span;

/// A structure on a walk.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Stop {
    pub structure: String,
    /// The structure from which the line leads here; none where a walk begins.
    pub from: Option<String>,
    /// Index of the span that leads here.
    pub span: Option<usize>,
    /// Whether spans lead here from the head; what stands apart comes last.
    pub reached: bool,
}

/// Every structure once, in walking order: those that `spans` join to `head`,
/// whichever way a span is recorded, then what the line does not reach. Of
/// several ways on, the one with fewest structures behind it comes first;
/// along a line without branches each stop is next to the one before.
#[must_use]
pub fn walking_order(head: Option<&str>, structures: &[String], spans: &[&Span]) -> Vec<Stop> {
    let walk = Walk::over(structures, spans);
    let mut seen: BTreeSet<&str> = BTreeSet::new();
    let mut out = Vec::new();
    let known = |name: &&str| walk.at.contains_key(*name);
    let start = head.filter(known);
    for (n, name) in start.into_iter().chain(walk.starts()).enumerate() {
        let reached = n == 0 && start.is_some();
        walk.from(name, reached, &mut seen, &mut out);
    }
    out
}

struct Walk<'a> {
    /// Neighbours of each structure with the span to them: more phases first,
    /// then by name.
    at: BTreeMap<&'a str, Vec<(&'a str, usize)>>,
    /// Structures at which no span ends.
    first: BTreeSet<&'a str>,
}

impl<'a> Walk<'a> {
    fn over(structures: &'a [String], spans: &'a [&'a Span]) -> Self {
        let mut at: BTreeMap<&str, Vec<(&str, usize)>> = structures
            .iter()
            .map(|s| (s.as_str(), Vec::new()))
            .collect();
        let mut first: BTreeSet<&str> = BTreeSet::new();
        let ends: BTreeSet<&str> = spans.iter().map(|s| s.span.to.as_str()).collect();
        for (i, span) in spans.iter().enumerate() {
            let (a, b) = (span.span.from.as_str(), span.span.to.as_str());
            at.entry(a).or_default().push((b, i));
            at.entry(b).or_default().push((a, i));
            if !ends.contains(a) {
                first.insert(a);
            }
        }
        let phases = |i: usize| spans[i].span.phases.as_deref().map_or(0, str::len);
        for list in at.values_mut() {
            list.sort_by_key(|(to, i)| (usize::MAX - phases(*i), *to, *i));
        }
        Walk { at, first }
    }

    /// Where walks begin beside the head: ends of line first.
    fn starts(&self) -> impl Iterator<Item = &'a str> {
        let first = self.first.iter().copied();
        let lone = |s: &&str| !self.first.contains(*s);
        first.chain(self.at.keys().copied().filter(lone))
    }

    fn from(
        &self,
        start: &'a str,
        reached: bool,
        seen: &mut BTreeSet<&'a str>,
        out: &mut Vec<Stop>,
    ) {
        if seen.contains(start) {
            return;
        }
        let (mut behind, size) = self.tree(start, seen);
        for list in behind.values_mut() {
            list.sort_by_key(|(to, i)| (size.get(to).copied().unwrap_or(0), *to, *i));
        }
        let mut next: Vec<(&str, Option<(&str, usize)>)> = vec![(start, None)];
        while let Some((here, by)) = next.pop() {
            seen.insert(here);
            out.push(Stop {
                structure: here.to_string(),
                from: by.map(|(from, _)| from.to_string()),
                span: by.map(|(_, span)| span),
                reached,
            });
            for (to, span) in behind.get(here).into_iter().flatten().rev() {
                next.push((to, Some((here, *span))));
            }
        }
    }

    /// The structures joined to `start`, each hung on the one it is first
    /// reached from on a walk without turning back, and how many hang on each.
    #[expect(clippy::type_complexity, reason = "two maps of one walk")]
    fn tree(
        &self,
        start: &'a str,
        seen: &BTreeSet<&'a str>,
    ) -> (
        HashMap<&'a str, Vec<(&'a str, usize)>>,
        HashMap<&'a str, usize>,
    ) {
        let mut behind: HashMap<&str, Vec<(&str, usize)>> = HashMap::new();
        let mut size: HashMap<&str, usize> = HashMap::new();
        let mut met: BTreeSet<&str> = BTreeSet::from([start]);
        // A path of structures, each with the number of its next neighbour.
        let mut path: Vec<(&str, usize)> = vec![(start, 0)];
        while let Some((here, n)) = path.last_mut() {
            let here = *here;
            let Some((to, span)) = self.at.get(here).and_then(|list| list.get(*n)) else {
                path.pop();
                let all = size.get(here).copied().unwrap_or(0) + 1;
                size.insert(here, all);
                if let Some((before, _)) = path.last() {
                    *size.entry(*before).or_default() += all;
                }
                continue;
            };
            *n += 1;
            if !seen.contains(to) && met.insert(to) {
                behind.entry(here).or_default().push((to, *span));
                path.push((to, 0));
            }
        }
        (behind, size)
    }
}
