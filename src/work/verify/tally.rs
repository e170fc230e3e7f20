//! What a round has found, bounded: findings of one rule beyond a number are
//! counted and not kept, and so are plates to read.

use std::collections::BTreeMap;

use super::score::{Score, percent};
use super::{Count, Head, KEPT, LISTED, ReadNext, VerifyFinding, VerifyReport};
use crate::domain::verify::unread::ToRead;
use crate::domain::verify::{Detector, Found, detectors};
use crate::work::JSON_VERSION;

#[derive(Default)]
struct OfRule {
    found: usize,
    kept: Vec<VerifyFinding>,
}

#[derive(Default)]
struct OfFeeder {
    records: usize,
    findings: usize,
    plates: usize,
    plates_read: usize,
}

/// The running result.
pub(super) struct Tally {
    wanted: Vec<String>,
    rules: BTreeMap<&'static str, OfRule>,
    feeders: BTreeMap<Option<String>, OfFeeder>,
    reads: Vec<(ToRead, Option<String>)>,
    unread: usize,
}

impl Tally {
    pub fn new(wanted: &[String]) -> Tally {
        Tally {
            wanted: wanted.to_vec(),
            rules: BTreeMap::new(),
            feeders: BTreeMap::new(),
            reads: Vec::new(),
            unread: 0,
        }
    }

    fn feeder(&mut self, feeder: Option<&str>) -> &mut OfFeeder {
        self.feeders
            .entry(feeder.map(ToString::to_string))
            .or_default()
    }

    /// One more record.
    pub fn count(&mut self, feeder: Option<&str>) {
        self.feeder(feeder).records += 1;
    }

    /// One more unit at a position.
    pub fn plate(&mut self, feeder: Option<&str>, read: bool) {
        let of = self.feeder(feeder);
        of.plates += 1;
        of.plates_read += usize::from(read);
    }

    /// One more finding.
    pub fn take(&mut self, d: &'static Detector, found: Found, feeder: Option<&str>) {
        if !self.wanted.is_empty() && !self.wanted.iter().any(|w| w == d.name) {
            return;
        }
        self.feeder(feeder).findings += 1;
        let rule = self.rules.entry(d.name).or_default();
        rule.found += 1;
        if rule.kept.len() >= KEPT {
            return;
        }
        let id = if found.id.is_nil() {
            String::new()
        } else {
            found.id.to_string()
        };
        rule.kept.push(VerifyFinding {
            rule: d.name,
            kind: found.kind,
            id,
            feeder: feeder.map(ToString::to_string),
            why: format!("{} {}. {}", found.record, found.detail, d.why),
            record: found.record,
            fix: d.fix,
            source: d.source,
            standing: d.standing,
        });
    }

    /// One more plate to read.
    pub fn unread_plate(&mut self, read: ToRead, feeder: Option<&str>) {
        self.unread += 1;
        self.reads.push((read, feeder.map(ToString::to_string)));
        if self.reads.len() >= 2 * LISTED {
            self.worst_first();
        }
    }

    fn worst_first(&mut self) {
        self.reads.sort_by(|a, b| a.0.order(&b.0));
        self.reads.truncate(LISTED);
    }

    /// The findings alone, by rule.
    pub fn findings(mut self) -> Vec<VerifyFinding> {
        detectors()
            .filter_map(|d| self.rules.remove(d.name))
            .flat_map(|of| of.kept)
            .collect()
    }

    /// The report.
    pub fn report(mut self, head: Head<'_>) -> VerifyReport {
        self.worst_first();
        let scores: Vec<Score> = self
            .feeders
            .into_iter()
            .map(|(feeder, of)| Score {
                per_100: percent(of.findings, of.records),
                read_percent: (of.plates > 0).then(|| percent(of.plates_read, of.plates)),
                before: head.before.iter().find(|b| b.feeder == feeder).cloned(),
                feeder,
                records: of.records,
                findings: of.findings,
                plates: of.plates,
                plates_read: of.plates_read,
            })
            .collect();
        let mut counts = Vec::new();
        let mut findings = Vec::new();
        for d in detectors() {
            if let Some(of) = self.rules.remove(d.name) {
                counts.push(Count {
                    rule: d.name,
                    found: of.found,
                    listed: of.kept.len(),
                });
                findings.extend(of.kept);
            }
        }
        VerifyReport {
            polecard: JSON_VERSION,
            read_at: head.read_at,
            demo: head.demo,
            records: scores.iter().map(|s| s.records).sum(),
            stops: head.chain.stops(),
            chain: head.chain,
            findings,
            counts,
            scores,
            read_next: self
                .reads
                .into_iter()
                .map(|(r, feeder)| read_next(r, feeder))
                .collect(),
            unread_plates: self.unread,
        }
    }
}

fn read_next(read: ToRead, feeder: Option<String>) -> ReadNext {
    ReadNext {
        unit: read.unit,
        id: read.unit_id.to_string(),
        position: read.position,
        feeder,
        fields: read.fields,
        because: read.because,
    }
}
