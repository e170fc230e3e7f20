//! The order of the answers on the page, and the share of each kind in it.

use super::gather::{Found, Group, Query, Search, not_present};
use super::{How, Match};
use crate::domain::asset::{Kind, OrderState, Record};
use crate::store::{Hit, Stored};
use crate::work::Failure;
use crate::work::also::{also, matched};

/// Most names that are looked through for their last field.
const ENDINGS: usize = 400;

/// Where an answer stands among those that matched as it did.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Place {
    /// The last field of its name is the query: before parts of names.
    LastField,
    Usual,
    /// Of a kind that had its share: after parts of names and words.
    HeldBack,
}

impl Found {
    fn order(&self) -> (Group, u8, How) {
        let at = match (self.place, self.how) {
            (_, how) if how <= How::OldName => 0,
            (_, How::Neighbour | How::Alike) => 4,
            (Place::LastField, _) => 1,
            (Place::Usual, _) => 2,
            (Place::HeldBack, _) => 3,
        };
        (self.group, at, self.how)
    }
}

/// A paper that asks for nothing more; never before what is still in use,
/// unless it was asked for by its own number.
fn is_closed(record: &Record, how: How) -> bool {
    let closed = matches!(record, Record::Order(o)
        if matches!(o.state, OrderState::Done | OrderState::Void));
    closed && how > How::OldName
}

impl Search<'_> {
    /// Takes names that matched in part, those no longer in use last. No kind
    /// takes more than half of the page while others may still come.
    pub fn take_hits(&mut self, mut hits: Vec<Hit>, how: How) {
        hits.sort_by_key(|h| h.rank);
        let share = (self.limit / 2).max(1);
        for h in hits {
            let taken = self.taken.entry(h.kind.word()).or_default();
            if *taken >= share {
                self.held.push((h, how));
                continue;
            }
            *taken += 1;
            let because = not_present(&h);
            self.take(h.rec, Group::Plain, how, because);
        }
    }

    /// What was held back, for the room that is left.
    pub fn held_back(&mut self, _: &Query) -> Result<(), Failure> {
        for (h, how) in std::mem::take(&mut self.held) {
            let because = not_present(&h);
            self.take_at(h.rec, Group::Plain, how, because, Place::HeldBack);
        }
        Ok(())
    }

    /// Names whose last fields are all that was typed: `14` and `rc 14` are
    /// `HB2-RC-14` before they are the beginning or a part of a serial.
    pub fn last_fields(&mut self, query: &Query) -> Result<(), Failure> {
        let digit = |c: char| c.is_ascii_digit();
        let n = query.folded.chars().count();
        let (least, most, kinds): (_, _, &[Kind]) = if query.folded.chars().all(digit) {
            (2, 4, &[Kind::Position, Kind::Structure])
        } else {
            (3, 12, &[Kind::Position, Kind::Structure, Kind::Unit])
        };
        // Digits apart are a number and a house, or one number; of what is
        // written in one the beginnings come first.
        let apart = query.tokens.len() > 1;
        if !query.folded.contains(digit)
            || !(least..=most).contains(&n)
            || (kinds.len() == 2) == apart
        {
            return Ok(());
        }
        let mut hits = self.names_ending(&query.folded, ENDINGS)?;
        hits.retain(|h| {
            kinds.contains(&h.kind) && h.rank < 2 && ends_in_fields(&h.text, &query.folded)
        });
        hits.sort_by(|a, b| {
            (a.kind != Kind::Position, &a.text).cmp(&(b.kind != Kind::Position, &b.text))
        });
        hits.truncate((self.limit / 2).max(1));
        // Letters and digits that end a name are a part of it and no word.
        let group = if kinds.len() == 2 {
            Group::Plain
        } else {
            Group::Both
        };
        for h in hits {
            let because = not_present(&h);
            self.take_at(h.rec, group, How::Suffix, because, Place::LastField);
        }
        Ok(())
    }

    /// Names that end with a text; asked once for each.
    pub fn names_ending(&mut self, part: &str, limit: usize) -> Result<Vec<Hit>, Failure> {
        if let Some((known, hits)) = &self.endings
            && known == part
        {
            return Ok(hits.clone());
        }
        let hits = self.store.names_ending(part, limit)?;
        self.endings = Some((part.to_string(), hits.clone()));
        Ok(hits)
    }

    /// The answers, best first, whether there are more than the limit, and of
    /// which kinds.
    pub fn matches(mut self) -> Result<(Vec<Match>, bool, Vec<Kind>), Failure> {
        self.found.sort_by_key(Found::order);
        let mut more_of: Vec<Kind> = self.held.iter().map(|(h, _)| h.kind).collect();
        let more = self.found.len() > self.limit || !self.held.is_empty();
        let rows: Vec<i64> = self.found.iter().map(|f| f.rec).collect();
        let records = self.store.by_rows(&rows)?;
        let mut kept: Vec<(Found, Stored)> = Vec::with_capacity(records.len());
        let mut found = self.found.into_iter();
        for stored in records {
            // A record may have left between two reads: rows keep their order.
            if let Some(f) = found.by_ref().find(|f| f.rec == stored.rec) {
                kept.push((f, stored));
            }
        }
        kept.sort_by_key(|(f, s)| is_closed(&s.record, f.how));
        let cut = kept.split_off(kept.len().min(self.limit));
        more_of.extend(cut.iter().map(|(_, s)| s.record.kind()));
        let mut kinds: Vec<Kind> = Vec::new();
        for k in more_of {
            if !kinds.contains(&k) {
                kinds.push(k);
            }
        }
        let (found, records): (Vec<Found>, Vec<Stored>) = kept.into_iter().unzip();
        let alsos = also(self.store, &records)?;
        let out = found.into_iter().zip(&records).zip(alsos);
        let out = out.map(|((f, s), also)| matched(s, also, f.how, f.because));
        Ok((out.collect(), more, kinds))
    }
}

/// Whether the last fields of a name, and no more, fold to the text: before it
/// stands a separator, or a letter where it begins with a digit and the other
/// way round.
fn ends_in_fields(name: &str, folded: &str) -> bool {
    let mut rest = folded.chars().rev().peekable();
    let mut first = None;
    for c in name.chars().rev() {
        if rest.peek().is_none() {
            let kind = |c: char| (c.is_ascii_digit(), c.is_ascii_alphabetic());
            return !c.is_ascii_alphanumeric() || first.map(kind) != Some(kind(c));
        }
        if c.is_ascii_alphanumeric() {
            if rest.next() != Some(c.to_ascii_uppercase()) {
                return false;
            }
            first = Some(c);
        }
    }
    rest.peek().is_none()
}

/// The part of a name after its last separator.
pub(super) fn last_field(name: &str) -> &str {
    name.rsplit(|c: char| !c.is_ascii_alphanumeric())
        .next()
        .unwrap_or(name)
}
