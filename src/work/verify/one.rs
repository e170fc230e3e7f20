//! What is wrong with one record: the detectors that can name it, without a
//! round through the whole register.

use std::collections::HashSet;

use super::{Failure, Round, Tally, VerifyFinding, given, section};
use crate::calendar::Clock;
use crate::domain::asset::{Entry, Kind, Record, Rel};
use crate::domain::code::fold;
use crate::domain::network::Network;
use crate::domain::verify;
use crate::store::{IndexSum, Loose, Store, Stored};
use crate::work::facts::pointing_at;

/// The findings on the record of a row.
///
/// # Errors
/// Those of the register.
pub fn verify_record(
    store: &Store,
    stored: &Stored,
    clock: Clock,
) -> Result<Vec<VerifyFinding>, Failure> {
    let given = given(store, clock)?;
    let (mut tally, mut seen) = (Tally::new(&[]), HashSet::new());
    let mut sum = IndexSum::default();
    let mut round = Round {
        store,
        given: &given,
        tally: &mut tally,
        seen: &mut seen,
        sum: &mut sum,
    };
    let record = &stored.record;
    let home = record.home();
    round.record(stored, home);
    match record {
        Record::Position(p) => round.place(p, home)?,
        Record::Unit(u) => {
            round.seen.insert(stored.rec);
            for stay in u.present() {
                let at = std::slice::from_ref(&stay.at);
                for (_, place) in store.present(Kind::Position, at)? {
                    if let Record::Position(p) = &place.record {
                        round.place(p, None)?;
                    }
                }
            }
        }
        _ => {}
    }
    if let Some(home) = home {
        let line = Network::new(section::section(store, home)?);
        for (d, found) in verify::of_line(&line) {
            round.tally.take(d, found, Some(home));
        }
    }
    for name in record.names() {
        round.name(store.named(&name.text)?)?;
    }
    for link in record.links() {
        round.pointed(stored, link.rel, &link.target)?;
    }
    round.told(stored)?;
    let id = record.id().to_string();
    let mut found = tally.findings();
    found.retain(|f| f.id == id);
    found.dedup();
    Ok(found)
}

impl Round<'_> {
    /// A reference of the record, if it leads to nothing that it should.
    fn pointed(&mut self, stored: &Stored, rel: Rel, target: &str) -> Result<(), Failure> {
        let hits = self.store.named(target)?;
        let wanted = verify::wanted_kind(rel);
        let sound = hits
            .iter()
            .any(|h| h.rank < 2 && wanted.is_none_or(|k| h.kind == k));
        if sound || (rel == Rel::WasAt && !hits.is_empty()) {
            return Ok(());
        }
        self.reference(&Loose {
            rel,
            target: fold(target),
            rec: stored.rec,
        })
    }

    /// What the entries about the record say one after the other.
    fn told(&mut self, stored: &Stored) -> Result<(), Failure> {
        let mut entries: Vec<(i64, Entry)> = Vec::new();
        for about in pointing_at(self.store, Rel::About, stored)? {
            if let Record::Entry(e) = about.record {
                entries.push((about.rec, e));
            }
        }
        for (d, detail) in verify::of_history(&entries) {
            let found = verify::Found::on(&stored.record, detail);
            self.tally.take(d, found, stored.record.home());
        }
        Ok(())
    }
}
