//! Verify: the health of the register. Streams it, one feeder at a time; says
//! of each finding which record, why it matters and what to do; checks the
//! chain of operations; scores each feeder; and lists what to read next.

mod chain;
mod given;
mod one;
mod report;
mod score;
mod tally;

use std::collections::{HashSet, VecDeque};

use super::{Failure, section};
use crate::calendar::{Clock, Moment};
use crate::domain::asset::{Entry, Kind, Position, Record, Rel, Unit};
use crate::domain::code::fold;
use crate::domain::network::Network;
use crate::domain::verify::{self, Found, Given, Held, Reference, detectors, unread};
use crate::store::{Hit, IndexSum, Loose, Store, Stored};

pub use chain::ChainReport;
use given::given;
pub use one::verify_record;
pub use report::{Count, ReadNext, VerifyFinding, VerifyReport};
pub use score::{Before, Last, Score, earlier, forget_head, keep_last, recall_last};
use tally::Tally;

/// Findings of one rule that are kept; all are counted.
pub const KEPT: usize = 1_000;
/// Plates to read that are listed; all are counted.
pub const LISTED: usize = 200;
/// Units read at a time.
const PAGE: usize = 2_000;

/// What is asked.
#[derive(Debug, Clone, Default)]
pub struct Asked {
    /// Chain heads that backups, exports or kept checks printed, or files
    /// that carry them.
    pub expect_head: Vec<String>,
    /// The head of the log when this account last verified it.
    pub last_head: Option<String>,
    /// Only these rules are reported; all when empty.
    pub rules: Vec<String>,
    /// The scores of an earlier report, to show progress.
    pub before: Vec<Before>,
}

/// Verifies the register.
///
/// # Errors
/// An unknown rule name; those of the register.
pub fn verify(store: &Store, asked: &Asked, clock: Clock) -> Result<VerifyReport, Failure> {
    let mut verifying = Verifying::begin(store, asked, clock)?;
    while verifying.step(store)? {}
    verifying.report(store, clock)
}

/// Refuses rules that there are not.
fn known_rules(asked: &Asked) -> Result<(), Failure> {
    for name in &asked.rules {
        if verify::detector(name).is_none() {
            let known: Vec<&str> = detectors().map(|d| d.name).collect();
            return Err(Failure::usage(format!("there is no rule {name:?}"))
                .hint(format!("the rules are {}", known.join(", "))));
        }
    }
    Ok(())
}

/// One part of the round through the register.
enum Part {
    Chain,
    Small,
    Home(Option<String>),
    OtherUnits,
    Written,
    Names,
    References,
    Index,
}

/// A verification under way: one part after another, so that a screen can
/// answer keys in between.
pub struct Verifying {
    given: Given,
    tally: Tally,
    /// Rows of the units met at a position.
    seen: HashSet<i64>,
    sum: IndexSum,
    parts: VecDeque<Part>,
    all: usize,
    chain: Option<ChainReport>,
    asked: Asked,
}

impl Verifying {
    /// Begins a round.
    ///
    /// # Errors
    /// An unknown rule name; those of the register.
    pub fn begin(store: &Store, asked: &Asked, clock: Clock) -> Result<Self, Failure> {
        known_rules(asked)?;
        let mut parts = VecDeque::from([Part::Chain, Part::Small]);
        parts.extend(store.homes()?.into_iter().map(Part::Home));
        parts.extend([
            Part::OtherUnits,
            Part::Written,
            Part::Names,
            Part::References,
            Part::Index,
        ]);
        Ok(Verifying {
            given: given(store, clock)?,
            tally: Tally::new(&asked.rules),
            seen: HashSet::new(),
            sum: IndexSum::default(),
            all: parts.len(),
            parts,
            chain: None,
            asked: asked.clone(),
        })
    }

    /// Does the next part; false when there is none left.
    ///
    /// # Errors
    /// Those of the register.
    pub fn step(&mut self, store: &Store) -> Result<bool, Failure> {
        let Some(part) = self.parts.pop_front() else {
            return Ok(false);
        };
        let mut round = Round {
            store,
            given: &self.given,
            tally: &mut self.tally,
            seen: &mut self.seen,
            sum: &mut self.sum,
        };
        match part {
            Part::Chain => {
                self.chain = Some(chain::check(store, &self.asked, round.tally)?);
            }
            Part::Small => round.small_kinds()?,
            Part::Home(Some(home)) => round.feeder(&home)?,
            Part::Home(None) => round.homeless()?,
            Part::OtherUnits => round.other_units()?,
            Part::Written => round.written()?,
            Part::Names => round.names()?,
            Part::References => round.references()?,
            Part::Index => {
                let sum = *round.sum;
                let differ = chain::index(store, sum, round.tally)?;
                if let Some(chain) = &mut self.chain {
                    chain.misindexed = differ;
                }
            }
        }
        Ok(true)
    }

    /// Parts done and parts in all.
    #[must_use]
    pub fn progress(&self) -> (usize, usize) {
        (self.all - self.parts.len(), self.all)
    }

    /// What was found.
    ///
    /// # Errors
    /// Those of the register; a round that is not done yet.
    pub fn report(self, store: &Store, clock: Clock) -> Result<VerifyReport, Failure> {
        let Some(chain) = self.chain else {
            return Err(Failure::unusable("the verification is not done yet"));
        };
        let demo = store.utility()?.is_some_and(|u| u.demo);
        Ok(self.tally.report(Head {
            read_at: clock.now(),
            demo,
            chain,
            before: &self.asked.before,
        }))
    }
}

/// What a report says before its findings.
struct Head<'a> {
    read_at: Moment,
    demo: bool,
    chain: ChainReport,
    before: &'a [Before],
}

/// One round through the register.
struct Round<'s> {
    store: &'s Store,
    given: &'s Given,
    tally: &'s mut Tally,
    seen: &'s mut HashSet<i64>,
    sum: &'s mut IndexSum,
}

impl Round<'_> {
    fn record(&mut self, stored: &Stored, feeder: Option<&str>) {
        self.tally.count(feeder);
        self.sum.add(stored);
        for (d, found) in verify::of_record(&stored.record, self.given) {
            self.tally.take(d, found, feeder);
        }
    }

    /// Kinds of which there are few.
    fn small_kinds(&mut self) -> Result<(), Failure> {
        for kind in [
            Kind::Utility,
            Kind::Scheme,
            Kind::Conductor,
            Kind::Source,
            Kind::Feeder,
            Kind::Notice,
            Kind::Form,
            Kind::Interval,
            Kind::Map,
            Kind::Curve,
            Kind::Kept,
        ] {
            for stored in self.store.all(kind)? {
                let feeder = match &stored.record {
                    Record::Feeder(f) => Some(f.feeder.clone()),
                    _ => None,
                };
                self.record(&stored, feeder.as_deref());
            }
        }
        Ok(())
    }

    /// The line at home in one feeder.
    fn feeder(&mut self, home: &str) -> Result<(), Failure> {
        let store = self.store;
        let mut placed: Vec<(Found, (f64, f64))> = Vec::new();
        let section = section::section_seen(store, home, &mut |stored: &Stored| {
            self.record(stored, Some(home));
            if let Record::Structure(s) = &stored.record
                && let (Some(lat), Some(lon)) = (s.place.lat, s.place.lon)
            {
                let at = (lat.get(), lon.get());
                placed.push((Found::on(&stored.record, ""), at));
            }
            if let Record::Position(p) = &stored.record {
                self.place(p, Some(home))?;
            }
            Ok::<(), Failure>(())
        })?;
        self.far_off(placed, home);
        for (d, found) in verify::of_line(&Network::new(section)) {
            self.tally.take(d, found, Some(home));
        }
        Ok(())
    }

    /// Structures whose coordinates no feeder reaches.
    fn far_off(&mut self, placed: Vec<(Found, (f64, f64))>, home: &str) {
        let Some(d) = verify::detector(verify::pairs::FAR) else {
            return;
        };
        let places: Vec<(f64, f64)> = placed.iter().map(|(_, at)| *at).collect();
        for (n, km) in verify::pairs::far_off(&places) {
            let mut found = placed[n].0.clone();
            found.detail = format!(
                "lies {} km from the middle of its feeder",
                crate::units::figure(km.round())
            );
            self.tally.take(d, found, Some(home));
        }
    }

    /// Records at home nowhere.
    fn homeless(&mut self) -> Result<(), Failure> {
        for kind in [Kind::Structure, Kind::Span, Kind::Position] {
            for stored in self.store.at_home(None, kind)? {
                self.record(&stored, None);
                if let Record::Position(p) = &stored.record {
                    self.place(p, None)?;
                }
            }
        }
        Ok(())
    }

    /// A position with the units recorded there.
    fn place(&mut self, p: &Position, feeder: Option<&str>) -> Result<(), Failure> {
        let mut units: Vec<Unit> = Vec::new();
        for stored in self.store.pointing(Rel::DeployedAt, &p.position)? {
            if self.seen.insert(stored.rec) {
                self.record(&stored, feeder);
            }
            if let Record::Unit(u) = stored.record {
                self.tally.plate(feeder, unread::is_read(&u));
                if let Some(read) = unread::to_read(p, &u) {
                    self.tally.unread_plate(read, feeder);
                }
                units.push(u);
            }
        }
        for (d, found) in verify::of_place(p, &units) {
            self.tally.take(d, found, feeder);
        }
        Ok(())
    }

    /// Units that stand at no position on record.
    fn other_units(&mut self) -> Result<(), Failure> {
        let mut after: Option<(String, i64)> = None;
        loop {
            let from = after.as_ref().map(|(name, rec)| (name.as_str(), *rec));
            let page = self.store.page(Kind::Unit, from, PAGE)?;
            let Some(last) = page.last() else {
                return Ok(());
            };
            after = Some((last.record.name(), last.rec));
            for stored in page {
                if !self.seen.contains(&stored.rec) {
                    self.record(&stored, None);
                }
            }
        }
    }

    /// Entries and orders, one subject at a time.
    fn written(&mut self) -> Result<(), Failure> {
        let store = self.store;
        store.written_about(|group: Vec<Stored>| {
            let mut entries: Vec<(i64, Entry)> = Vec::new();
            for stored in group {
                self.record(&stored, None);
                if let Record::Entry(e) = stored.record {
                    entries.push((stored.rec, e));
                }
            }
            for (d, detail) in verify::of_history(&entries) {
                let of = entries.first().map_or("", |(_, e)| e.of.as_str());
                self.tally.take(d, subject(store, of, detail)?, None);
            }
            Ok(())
        })
    }

    fn names(&mut self) -> Result<(), Failure> {
        let store = self.store;
        store.shared_names(|_, hits| self.name(hits))
    }

    /// The holders of one name.
    fn name(&mut self, hits: Vec<Hit>) -> Result<(), Failure> {
        let mut held = Vec::new();
        for hit in hits {
            if let Some(stored) = self.store.by_row(hit.rec)? {
                held.push(Held {
                    rec: hit.rec,
                    kind: hit.kind,
                    id: stored.record.id(),
                    text: hit.text,
                    now: stored.record.name(),
                    rank: hit.rank,
                });
            }
        }
        for (d, found) in verify::of_name(&held) {
            self.tally.take(d, found, None);
        }
        Ok(())
    }

    fn references(&mut self) -> Result<(), Failure> {
        let store = self.store;
        for rel in Rel::ALL {
            let wanted = verify::wanted_kind(*rel);
            store.loose(*rel, wanted, |l| self.reference(&l))?;
            // Where a unit was is told by the name of then.
            if let Some(kind) = wanted.filter(|_| *rel != Rel::WasAt) {
                store.by_old_name(*rel, kind, |l| self.reference(&l))?;
            }
        }
        Ok(())
    }

    fn reference(&mut self, loose: &Loose) -> Result<(), Failure> {
        let store = self.store;
        let Some(stored) = store.by_row(loose.rec)? else {
            return Ok(());
        };
        let hits = store.named(&loose.target)?;
        let holders: Vec<Kind> = hits.iter().map(|h| h.kind).collect();
        let written = as_written(&stored.record, loose.rel, &loose.target);
        let former = former(store, loose.rel, &hits)?;
        let reference = Reference {
            from: &stored.record,
            rel: loose.rel,
            target: &written,
            holders: &holders,
            former: former.as_deref(),
        };
        for (d, found) in verify::of_reference(&reference) {
            self.tally.take(d, found, stored.record.home());
        }
        Ok(())
    }
}

/// What the one record is called now that a reference means by a former name.
pub(super) fn former(store: &Store, rel: Rel, hits: &[Hit]) -> Result<Option<String>, Failure> {
    let Some(kind) = verify::wanted_kind(rel) else {
        return Ok(None);
    };
    let of: Vec<&Hit> = hits.iter().filter(|h| h.kind == kind).collect();
    match of.as_slice() {
        [one] if one.rank == 2 => Ok(store.by_row(one.rec)?.map(|s| s.record.name())),
        _ => Ok(None),
    }
}

/// The target of a reference as its record writes it.
fn as_written(record: &Record, rel: Rel, folded: &str) -> String {
    record
        .links()
        .into_iter()
        .find(|l| l.rel == rel && fold(&l.target) == folded)
        .map_or_else(|| folded.to_string(), |l| l.target)
}

/// A finding on what entries are about.
fn subject(store: &Store, of: &str, detail: String) -> Result<Found, Failure> {
    let holder = store.named(of)?.into_iter().next();
    let stored = match holder {
        Some(hit) => store.by_row(hit.rec)?,
        None => None,
    };
    Ok(match stored {
        Some(s) => Found::on(&s.record, detail),
        None => Found {
            record: of.to_string(),
            kind: Kind::Entry,
            id: crate::domain::asset::RecordId::default(),
            detail,
        },
    })
}
