//! Two devices in series that both trip: the one on the load side is to clear
//! an interval before the one toward the source would.

use super::tables::{fault, in_seconds};
use super::{Pair, PairFinding, PairRule, RECLOSERS, RELAY_ABOVE, Role};
use crate::domain::finding::Verdict;
use crate::domain::nameplate::{RECLOSER_INTERVAL, RELAY_INTERVAL, short};
use crate::domain::sequence::{Band, Settings, Timing};

/// A trip of a sequence, by its curve.
struct Turn<'a> {
    what: &'static str,
    timing: &'a Timing,
}

impl Settings {
    fn turn(&self, fast: bool) -> Turn<'_> {
        if fast {
            Turn {
                what: "fast",
                timing: &self.fast_timing,
            }
        } else {
            Turn {
                what: "delayed",
                timing: &self.delayed_timing,
            }
        }
    }
}

impl Pair<'_> {
    /// Fast against the first curve toward the source, delayed against its
    /// delayed one; where it has but one kind, against that.
    pub(super) fn tripping(&self, relay: bool, amps: Option<f64>) -> Vec<PairFinding> {
        let (rule, interval) = if relay {
            (&RELAY_ABOVE, self.choices.number(RELAY_INTERVAL))
        } else {
            (&RECLOSERS, self.choices.number(RECLOSER_INTERVAL))
        };
        let sequence = |end: &super::End| match &end.role {
            Role::Trips {
                settings: Some(s), ..
            } if s.trips() > 0 => Ok(s.clone()),
            _ => Err(format!("the sequence of {} is not known", end.name)),
        };
        let (load, source) = (sequence(self.load_side), sequence(self.source_side));
        let (load, source) = match (load, source) {
            (Ok(load), Ok(source)) => (load, source),
            (load, source) => {
                let why: Vec<String> = [load.err(), source.err()].into_iter().flatten().collect();
                let nothing = Err(String::new());
                return vec![self.made(rule, amps, ("s", 0.0), Err(why.join("; ")), nothing)];
            }
        };
        let mut out = Vec::new();
        for fast in [true, false] {
            if (fast && load.fast == 0) || (!fast && load.delayed == 0) {
                continue;
            }
            let above_fast = if fast {
                source.fast > 0
            } else {
                source.delayed == 0
            };
            let turns = (load.turn(fast), source.turn(above_fast));
            out.push(self.one_turn(rule, interval, amps, turns));
        }
        if relay && !self.choices.relay_resets_at_once() {
            self.summed(interval, amps, (&load, &source), &mut out);
        }
        out
    }

    fn one_turn(
        &self,
        rule: &'static PairRule,
        interval: f64,
        amps: Option<f64>,
        (load, source): (Turn<'_>, Turn<'_>),
    ) -> PairFinding {
        let value = at(load.timing, amps, self.load_side.name.as_str()).map(|band| {
            let s = band.greatest_s + interval;
            (
                s,
                format!(
                    "{} clearing, greatest {} s + {} s = {} s",
                    load.what,
                    in_seconds(band.greatest_s),
                    short(interval),
                    in_seconds(s)
                ),
            )
        });
        let tight = self.choices.tight_percent();
        let of = &self.source_side.name;
        if let Some(a) = amps.filter(|a| source.timing.trips_at(*a) == Some(false)) {
            let words = format!("{of} does not trip on {} A: no time", short(a));
            return self.made(rule, amps, ("s", tight), value, Ok((f64::INFINITY, words)));
        }
        let limit = at(source.timing, amps, of).map(|band| {
            (
                band.least_s,
                format!(
                    "{} time of {of}, least {} s",
                    source.what,
                    in_seconds(band.least_s)
                ),
            )
        });
        self.made(rule, amps, ("s", tight), value, limit)
    }

    /// A relay that keeps over the open times what it has timed may trip on the
    /// sum: where the sum is too long, no single turn gives a pass.
    fn summed(
        &self,
        interval: f64,
        amps: Option<f64>,
        (load, source): (&Settings, &Settings),
        out: &mut [PairFinding],
    ) {
        let Some(on) = amps.and_then(|a| load.at(a).fault_on) else {
            return;
        };
        let sum = on.greatest_s + interval;
        let slowest = source.turn(source.delayed == 0);
        let relay = amps.and_then(|a| slowest.timing.clears(a).ok());
        let Some(relay) = relay.filter(|r| sum > r.least_s) else {
            return;
        };
        let more = format!(
            "; in doubt: if the relay of {} keeps over the open times what it has timed, {} s summed over {} trips + {} s is over {} s (choice relay_reset)",
            self.source_side.name,
            in_seconds(on.greatest_s),
            load.trips(),
            short(interval),
            in_seconds(relay.least_s)
        );
        for f in out.iter_mut().filter(|f| f.verdict.passes()) {
            f.verdict = Verdict::Unknown;
            f.because.push_str(&more);
        }
    }
}

fn at(timing: &Timing, amps: Option<f64>, of: &str) -> Result<Band, String> {
    timing.clears(fault(amps)?).map_err(|why| {
        if why.contains(of) {
            why
        } else {
            format!("{of}: {why}")
        }
    })
}
