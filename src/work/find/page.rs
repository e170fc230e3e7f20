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

    /// Positions and structures whose last field is the number: `14` is
    /// `HB2-RC-14` before it is the beginning of a serial.
    pub fn last_fields(&mut self, query: &Query) -> Result<(), Failure> {
        let digits = query.folded.chars().all(|c| c.is_ascii_digit());
        let n = query.folded.chars().count();
        if !digits || !(2..=4).contains(&n) || query.tokens.len() != 1 {
            return Ok(());
        }
        let mut hits = self.store.names_ending(&query.folded, ENDINGS)?;
        hits.retain(|h| {
            let placed = matches!(h.kind, Kind::Position | Kind::Structure);
            placed && h.rank < 2 && last_field(&h.text) == query.folded
        });
        hits.sort_by(|a, b| {
            (a.kind != Kind::Position, &a.text).cmp(&(b.kind != Kind::Position, &b.text))
        });
        hits.truncate((self.limit / 2).max(1));
        for h in hits {
            let because = not_present(&h);
            self.take_at(h.rec, Group::Plain, How::Suffix, because, Place::LastField);
        }
        Ok(())
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

/// The part of a name after its last separator.
pub(super) fn last_field(name: &str) -> &str {
    name.rsplit(|c: char| !c.is_ascii_alphanumeric())
        .next()
        .unwrap_or(name)
}
