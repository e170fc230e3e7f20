//! Names as typed, as spoken, with look-alikes, and by a part of them.

use super::How;
use super::gather::{Group, Query, Search, not_present};
use super::near::looks_between;
use crate::domain::code::{MistakeKind, Scheme, fits, fold};
use crate::domain::code::{mistake_between_in, spoken_ways};
use crate::store::Hit;
use crate::work::Failure;

/// Most ways of exchanging look-alikes that are tried under one scheme.
const LOOKS: usize = 128;

/// The way in which a name that equals the query matched.
pub(super) fn how_named(hit: &Hit, typed: &str) -> How {
    match hit.rank {
        0 if hit.text == typed => How::Exact,
        0 => How::Folded,
        1 => How::OtherName,
        _ => How::OldName,
    }
}

impl Search<'_> {
    /// Names that equal the text; true when one is in use.
    pub fn exact(&mut self, text: &str, because: Option<&str>) -> Result<bool, Failure> {
        let hits = self.store.named(text)?;
        for h in &hits {
            let why = not_present(h).or_else(|| because.map(str::to_string));
            self.take(h.rec, Group::Plain, how_named(h, text), why);
        }
        Ok(hits.iter().any(|h| h.rank < 2))
    }

    /// Names that equal the text when characters that look alike are
    /// exchanged, where the scheme of the name lets them be.
    pub fn look_alikes(&mut self, folded: &str) -> Result<(), Failure> {
        for scheme in self.schemes {
            let keys = exchanged(scheme, folded);
            for (i, h) in self.store.holders(&keys, self.stop)? {
                let fitting = fits(std::slice::from_ref(scheme), &h.text).is_some();
                if fitting && h.rank < 2 {
                    let because = looks_between(&keys[i], folded);
                    // Letters that would all be digits are hardly a number.
                    let digit = |t: &str| t.chars().any(|c| c.is_ascii_digit());
                    let how = if digit(folded) || !keys[i].chars().all(|c| c.is_ascii_digit()) {
                        How::Folded
                    } else {
                        How::Alike
                    };
                    self.take(h.rec, Group::Plain, how, Some(because));
                }
            }
        }
        Ok(())
    }

    /// Names that the text is when it is read as spoken words; every way of
    /// grouping the numbers counts.
    pub fn spoken(&mut self, text: &str) -> Result<bool, Failure> {
        let ways = spoken_ways(text);
        self.spoken_text = ways.first().cloned();
        let mut any = false;
        for name in ways {
            if self.exact(&name, Some("as spoken"))? {
                self.read_as.get_or_insert(name);
                any = true;
            }
        }
        Ok(any)
    }

    pub fn beginning(&mut self, query: &Query) -> Result<(), Failure> {
        let most = self.room();
        let hits = self.store.names_beginning(&query.folded, most)?;
        self.take_hits(hits, How::Prefix);
        if let Some(said) = self.spoken_text.as_deref().map(fold)
            && said != query.folded
            && said.chars().count() > 1
        {
            let hits = self.store.names_beginning(&said, most)?;
            if !hits.is_empty() {
                self.read_as = self.read_as.take().or_else(|| self.spoken_text.clone());
            }
            self.take_hits(hits, How::Prefix);
        }
        Ok(())
    }

    pub fn ending(&mut self, query: &Query) -> Result<(), Failure> {
        let part = match self.spoken_text.as_deref().map(fold) {
            Some(said) if said != query.folded => vec![query.folded.clone(), said],
            _ => vec![query.folded.clone()],
        };
        for part in part {
            let n = part.chars().count();
            if n >= 2 {
                let mut hits = self.names_ending(&part, self.room())?;
                hits.truncate(self.room());
                self.take_hits(hits, How::Suffix);
            }
            if n >= 3 && !self.done() {
                let hits = self.store.names_holding(&part, self.room())?;
                self.take_hits(hits, How::Within);
            }
        }
        Ok(())
    }
}

/// The folded texts had by exchanging look-alikes, fewest exchanges first.
fn exchanged(scheme: &Scheme, folded: &str) -> Vec<String> {
    let chars: Vec<char> = folded.chars().collect();
    let mut out: Vec<(usize, Vec<char>)> = vec![(0, Vec::new())];
    for c in &chars {
        let others: Vec<char> = scheme
            .confusable
            .iter()
            .filter(|g| g.contains(*c))
            .flat_map(|g| g.chars())
            .filter(|o| o != c)
            .collect();
        let mut next = Vec::with_capacity(out.len());
        for (n, head) in &out {
            for (k, ch) in std::iter::once(c).chain(&others).enumerate() {
                let mut longer = head.clone();
                longer.push(*ch);
                next.push((n + usize::from(k > 0), longer));
            }
        }
        next.sort_by_key(|(n, _)| *n);
        next.truncate(LOOKS);
        out = next;
    }
    out.into_iter()
        .filter(|(n, _)| *n > 0)
        .map(|(_, chars)| chars.into_iter().collect())
        .collect()
}

/// Whether a name is the text with look-alikes exchanged, as some scheme
/// allows.
pub(in crate::work) fn looks_like(schemes: &[Scheme], name: &str, text: &str) -> bool {
    schemes.iter().any(|s| {
        let one =
            mistake_between_in(s, name, text).is_some_and(|m| m.kind == MistakeKind::Confused);
        let fitting = fits(std::slice::from_ref(s), name).is_some();
        fitting && (one || exchanged(s, &fold(text)).contains(&fold(name)))
    })
}
