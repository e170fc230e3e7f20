//! Each rule put to a pair.

use super::tables::{
    fault, in_seconds, link_clears, link_melts, saving_factor, source_factor, table_limit,
};
use super::{
    ACTUATING, BEFORE_DELAYED, COUNTS, FUSE_SAVING, Known, LINK_75, LINK_TABLE, MEMORY, NO_RULE,
    Pair, PairFinding, PairRule, RECLOSING, Role, SOURCE_LINK,
};
use crate::domain::finding::Verdict;
use crate::domain::nameplate::{LinkType, short};
use crate::domain::sequence::{Band, Settings};

fn unread(what: &str, of: &str) -> String {
    format!("{what} of {of} is not known")
}

impl Pair<'_> {
    /// Every rule that applies, at a fault current; without one, only what no
    /// current bears on is judged, and the rest is unknown.
    #[must_use]
    pub fn judge(&self, amps: Option<f64>) -> Vec<PairFinding> {
        match (&self.load_side.role, &self.source_side.role) {
            (Role::Link(a), Role::Link(b)) => self.links(*a, *b, amps),
            (Role::Link(link), Role::Trips { settings, .. }) => {
                self.link_below(*link, settings.as_ref(), amps)
            }
            (Role::Trips { settings, .. }, Role::Link(link)) => {
                vec![self.link_above(settings.as_ref(), *link, amps)]
            }
            (Role::Counts { .. }, Role::Trips { .. }) => self.counting(amps),
            (Role::Trips { .. }, Role::Trips { relay, .. }) => self.tripping(*relay, amps),
            _ => vec![self.made(
                &NO_RULE,
                amps,
                ("", 0.0),
                Err(NO_RULE.formula.to_string()),
                Err(String::new()),
            )],
        }
    }

    pub(super) fn made(
        &self,
        rule: &'static PairRule,
        fault_amps: Option<f64>,
        (unit, tight): (&'static str, f64),
        value: Known,
        limit: Known,
    ) -> PairFinding {
        let figures = value.as_ref().ok().zip(limit.as_ref().ok());
        let margin = figures
            .filter(|(_, (l, _))| *l > 0.0)
            .map(|((v, _), (l, _))| (l - v) / l * 100.0)
            .filter(|m| m.is_finite());
        let mut verdict = match figures {
            None => Verdict::Unknown,
            Some(((v, _), (l, _))) if *v > *l || v.is_nan() || l.is_nan() => Verdict::Fails,
            Some(_) if margin.is_some_and(|m| m < tight) => Verdict::Tight,
            Some(_) => Verdict::Within,
        };
        let words = |known: &Known| match known {
            Ok((_, words)) | Err(words) => words.clone(),
        };
        let sign = match verdict {
            Verdict::Fails => " >",
            Verdict::Unknown => ". Limit:",
            _ => " <=",
        };
        let mut because = match words(&limit) {
            limit if limit.is_empty() => words(&value),
            limit => format!("{}{sign} {limit}", words(&value)),
        };
        let doubts: Vec<&String> = [self.load_side, self.source_side]
            .into_iter()
            .flat_map(|e| &e.doubts)
            .collect();
        if !doubts.is_empty() {
            let said: Vec<&str> = doubts.iter().map(|d| d.as_str()).collect();
            because = format!("{because}; in doubt: {}", said.join("; "));
            if verdict.passes() {
                verdict = Verdict::Unknown;
            }
        }
        PairFinding {
            rule: rule.name,
            protecting: self.load_side.name.clone(),
            protected: self.source_side.name.clone(),
            fault_amps,
            to_ground: self.to_ground && fault_amps.is_some(),
            value: value.ok().map(|(v, _)| v),
            // Endless where the device does not trip at all.
            limit: limit.ok().map(|(l, _)| l).filter(|l| l.is_finite()),
            unit,
            margin_percent: margin,
            verdict,
            because,
            source: rule.source,
            standing: rule.standing,
        }
    }

    fn links(
        &self,
        load: Option<(f64, LinkType)>,
        source: Option<(f64, LinkType)>,
        amps: Option<f64>,
    ) -> Vec<PairFinding> {
        let value = link_clears(load, amps);
        let limit = link_melts(source, amps).map(|(s, words)| {
            (
                0.75 * s,
                format!("75 % of {words} = {} s", in_seconds(0.75 * s)),
            )
        });
        let mut out = vec![self.made(
            &LINK_75,
            amps,
            ("s", self.choices.tight_percent()),
            value,
            limit,
        )];
        if let (Some(load), Some(source)) = (load, source)
            && load.1 == source.1
        {
            let value = fault(amps).map(|a| (a, format!("fault {} A", short(a))));
            let limit = table_limit(load, source).map(|limit| {
                let words = match limit {
                    0.0 => "0: the table has the pair as one that never coordinates".to_string(),
                    l => format!("{} A of the table", short(l)),
                };
                (limit, words)
            });
            out.push(self.made(
                &LINK_TABLE,
                amps,
                ("A", self.choices.tight_percent()),
                value,
                limit,
            ));
        }
        out
    }

    fn link_below(
        &self,
        link: Option<(f64, LinkType)>,
        settings: Option<&Settings>,
        amps: Option<f64>,
    ) -> Vec<PairFinding> {
        let tight = ("s", self.choices.tight_percent());
        let settings = match settings {
            Some(s) => s,
            None => {
                let why = format!("the sequence of {} is not known", self.source_side.name);
                let limit = link_melts(link, amps);
                return vec![self.made(&FUSE_SAVING, amps, tight, Err(why), limit)];
            }
        };
        let mut out = Vec::new();
        if settings.fast > 0 {
            let value = saving_factor(settings).and_then(|(factor, words)| {
                let fast = fault(amps).and_then(|a| settings.fast_timing.clears(a))?;
                Ok(times(factor, &words, fast, "fast clearing"))
            });
            let limit = link_melts(link, amps);
            out.push(self.made(&FUSE_SAVING, amps, tight, value, limit));
        }
        if settings.delayed > 0 {
            let limit = fault(amps)
                .and_then(|a| settings.delayed_timing.clears(a))
                .map(|b| {
                    (
                        b.least_s,
                        format!("delayed clearing, least {} s", in_seconds(b.least_s)),
                    )
                });
            let value = link_clears(link, amps);
            out.push(self.made(&BEFORE_DELAYED, amps, tight, value, limit));
        }
        out
    }

    fn link_above(
        &self,
        settings: Option<&Settings>,
        link: Option<(f64, LinkType)>,
        amps: Option<f64>,
    ) -> PairFinding {
        let value = settings
            .ok_or_else(|| format!("the sequence of {} is not known", self.load_side.name))
            .and_then(|s| {
                let (factor, words) = source_factor(s)?;
                let delayed = fault(amps).and_then(|a| s.delayed_timing.clears(a))?;
                Ok(times(factor, &words, delayed, "delayed clearing"))
            });
        let limit = link_melts(link, amps);
        self.made(
            &SOURCE_LINK,
            amps,
            ("s", self.choices.tight_percent()),
            value,
            limit,
        )
    }

    fn counting(&self, amps: Option<f64>) -> Vec<PairFinding> {
        let (
            Role::Counts {
                counts,
                memory_s,
                actuating_amps,
            },
            Role::Trips {
                settings,
                min_trip_amps,
                blocked,
                ..
            },
        ) = (&self.load_side.role, &self.source_side.role)
        else {
            return Vec::new();
        };
        let (here, backup) = (&self.load_side.name, &self.source_side.name);
        let trips = settings
            .as_ref()
            .map(Settings::trips)
            .filter(|t| *t > 0)
            .ok_or_else(|| unread("the sequence", backup));
        let value = counts
            .map(|c| (c, format!("{} counts", short(c))))
            .ok_or_else(|| unread("the number of counts", here));
        let limit = match blocked {
            Some(why) => Ok((0.0, format!("no counts at all: {why}"))),
            None => trips.clone().map(|t| self.most_counts(t)),
        };
        let mut out = vec![self.made(&COUNTS, None, ("counts", 0.0), value, limit)];
        let need = Ok((1.0, "one reclosing needed".to_string()));
        let gets = match blocked {
            Some(why) => Ok((0.0, format!("none: {why}"))),
            None => trips.and_then(|t| {
                let all = settings.as_ref().map_or(0, |s| s.intervals_s.len());
                if all < (t - 1) as usize {
                    return Err(unread("the reclose intervals", backup));
                }
                let recloses = f64::from(t - 1);
                Ok((recloses, format!("{} by its settings", short(recloses))))
            }),
        };
        out.push(self.made(&RECLOSING, None, ("reclosings", 0.0), need, gets));
        out.push(self.remembers(settings.as_ref(), *memory_s, amps));
        out.push(self.actuates(*actuating_amps, *min_trip_amps));
        out
    }

    fn remembers(
        &self,
        settings: Option<&Settings>,
        memory_s: Option<f64>,
        amps: Option<f64>,
    ) -> PairFinding {
        let (here, backup) = (&self.load_side.name, &self.source_side.name);
        let whole = settings
            .ok_or_else(|| unread("the sequence", backup))
            .and_then(|s| {
                let sequence = s.at(fault(amps)?);
                let whole = sequence.to_lockout.ok_or_else(|| {
                    format!("the whole sequence of {backup}: a curve or an open time is not known")
                })?;
                let g = whole.greatest_s;
                Ok((g, format!("whole sequence {} s", short(g))))
            });
        let memory = memory_s
            .map(|m| {
                (
                    0.9 * m,
                    format!("count memory {} s - 10 % = {} s", short(m), short(0.9 * m)),
                )
            })
            .ok_or_else(|| unread("the count memory", here));
        self.made(
            &MEMORY,
            amps,
            ("s", self.choices.tight_percent()),
            whole,
            memory,
        )
    }

    fn actuates(&self, actuating_amps: Option<f64>, min_trip_amps: Option<f64>) -> PairFinding {
        let (here, backup) = (&self.load_side.name, &self.source_side.name);
        let value = actuating_amps
            .map(|a| (a, format!("actuating current {} A", short(a))))
            .ok_or_else(|| unread("the actuating current", here));
        let limit = min_trip_amps
            .map(|m| {
                (
                    0.8 * m,
                    format!("80 % of minimum trip {} A = {} A", short(m), short(0.8 * m)),
                )
            })
            .ok_or_else(|| unread("the minimum trip", backup));
        // The 20 % are the margin: no further one is asked.
        self.made(&ACTUATING, None, ("A", 0.0), value, limit)
    }

    fn most_counts(&self, trips: u32) -> (f64, String) {
        let (between, nearest) = self.between;
        let by_trips = f64::from(trips) - 1.0 - f64::from(between);
        let words = format!("{trips} trips - 1 - {between} further in series");
        match nearest {
            Some(n) if n - 1.0 < by_trips => (
                n - 1.0,
                format!("{} counts of the next one toward the source - 1", short(n)),
            ),
            _ => (by_trips, format!("{words} = {}", short(by_trips))),
        }
    }
}

fn times(factor: f64, words: &str, band: Band, what: &str) -> (f64, String) {
    let product = factor * band.greatest_s;
    (
        product,
        format!(
            "{} ({words}) x {what} {} s = {} s",
            short(factor),
            in_seconds(band.greatest_s),
            in_seconds(product)
        ),
    )
}
