//! Interrupting duty: how much of the standard duty of a recloser's
//! interrupter the operations on record have used.
//!
//! Wear goes with the sum of (I / rated)^1.5 over the operations. The budget is
//! the same sum over the standard duty, taken at the upper end of each band.

use crate::calendar::Date;
use crate::domain::asset::{Defect, Entry, EntryKind, Plain, Stated};
use crate::domain::finding::RuleStanding;

/// Exponent of the current. From memory; it reproduces a remembered duty
/// factor of 562 x 10^5 for a 12 kA vacuum unit.
pub const EXPONENT: f64 = 1.5;

/// Trips of one sequence where their number is recorded as unknown: a recloser
/// makes at most four to lockout.
const MOST_TRIPS: f64 = 4.0;

/// The reading of an entry that says the interrupter starts anew.
pub const RENEWED: (&str, &str) = ("interrupter", "renewed");

/// Operations at one share of the rated interrupting current.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Band {
    pub operations: f64,
    /// Upper end of the band, in percent of the rating.
    pub percent: f64,
}

/// A row of the table of standard operating duty.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct StandardDuty {
    pub name: &'static str,
    /// As the plate says it.
    pub interrupter: &'static str,
    /// Greatest interrupting rating of the row, A.
    pub interrupting_amps: f64,
    /// Greatest continuous current of the row, A.
    pub continuous_amps: f64,
    pub bands: [Band; 3],
}

/// Where the table comes from.
pub const SOURCE: &str = "standard operating duty of reclosers, C37.60 as remembered; wear by the sum of I^1.5 as in C37.61 and later controls, as remembered";
pub const STANDING: RuleStanding = RuleStanding::FromMemory;

const fn bands(n: [f64; 3]) -> [Band; 3] {
    [
        Band {
            operations: n[0],
            percent: 20.0,
        },
        Band {
            operations: n[1],
            percent: 55.0,
        },
        Band {
            operations: n[2],
            percent: 100.0,
        },
    ]
}

/// The table; of one interrupter the smaller frames first. The whole of it is
/// from memory.
pub static STANDARD: &[StandardDuty] = &[
    StandardDuty {
        name: "oil, frame of 50 to 100 A",
        interrupter: "oil",
        interrupting_amps: 2_000.0,
        continuous_amps: 100.0,
        bands: bands([40.0, 40.0, 20.0]),
    },
    StandardDuty {
        name: "oil, frame of 280 A",
        interrupter: "oil",
        interrupting_amps: 4_000.0,
        continuous_amps: 280.0,
        bands: bands([32.0, 24.0, 12.0]),
    },
    StandardDuty {
        name: "oil, frame of 400 A and larger",
        interrupter: "oil",
        interrupting_amps: f64::INFINITY,
        continuous_amps: f64::INFINITY,
        bands: bands([28.0, 20.0, 10.0]),
    },
    StandardDuty {
        name: "vacuum",
        interrupter: "vacuum",
        interrupting_amps: f64::INFINITY,
        continuous_amps: f64::INFINITY,
        bands: bands([44.0, 56.0, 16.0]),
    },
];

/// The row for a plate: both ratings must fit the frame, so that where they
/// name two frames the smaller budget counts. None for an interrupter that the
/// table does not have.
#[must_use]
pub fn standard(
    interrupter: &str,
    interrupting_amps: f64,
    continuous_amps: Option<f64>,
) -> Option<&'static StandardDuty> {
    STANDARD.iter().find(|row| {
        row.interrupter == interrupter
            && interrupting_amps <= row.interrupting_amps
            && continuous_amps.is_none_or(|a| a <= row.continuous_amps)
    })
}

/// Wear of one operation, in operations at the full rating.
#[must_use]
pub fn wear_of(amps: f64, rated_amps: f64) -> f64 {
    (amps / rated_amps).powf(EXPONENT)
}

impl StandardDuty {
    /// The budget in operations at the full rating.
    #[must_use]
    pub fn budget(&self) -> f64 {
        self.bands
            .iter()
            .map(|b| b.operations * (b.percent / 100.0).powf(EXPONENT))
            .sum()
    }

    /// The same as a sum of N I^1.5, with the currents in A.
    #[must_use]
    pub fn duty_factor(&self, rated_amps: f64) -> f64 {
        self.budget() * rated_amps.powf(EXPONENT)
    }

    /// `32 at 20 %, 24 at 55 %, 12 at 100 %`.
    #[must_use]
    pub fn words(&self) -> String {
        let parts: Vec<String> = self
            .bands
            .iter()
            .map(|b| format!("{} at {} %", b.operations, b.percent))
            .collect();
        parts.join(", ")
    }
}

/// Operations of one entry.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Operated {
    pub on: Option<Date>,
    pub trips: f64,
    /// Current interrupted, if it was recorded.
    pub amps: Option<f64>,
    /// Made before the unit came to where it stands now.
    pub elsewhere: bool,
}

/// What the operations counter adds to the log of operations.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Counter {
    /// No reading on record since the renewal.
    Unread,
    /// It went down between two readings: what it has counted is unknown.
    Backward { from: f64, to: f64 },
    /// Operations that it shows beyond those logged up to its last reading.
    Further(f64),
}

/// What is on record about a unit's operations since its interrupter was last
/// renewed.
#[derive(Debug, Clone, PartialEq)]
pub struct Log {
    pub since: Option<Date>,
    /// A renewal without a date is not counted.
    pub undated_renewal: bool,
    pub operated: Vec<Operated>,
    pub counter: Counter,
}

/// Reads the entries of a unit. Undated operations count, since they may have
/// come after the renewal. Entries of days to come are slips: leave them out.
#[must_use]
pub fn log(entries: &[&Entry], here_since: Option<Date>) -> Log {
    let renewals = || entries.iter().filter(|e| renews(e));
    let since = renewals().filter_map(|e| e.on).max();
    let after = |on: Option<Date>| match (on, since) {
        (Some(on), Some(since)) => on > since,
        _ => true,
    };
    let operated: Vec<Operated> = entries
        .iter()
        .filter(|e| e.entry == EntryKind::Operation && after(e.on))
        .filter_map(|e| operation(e, here_since))
        .collect();
    Log {
        since,
        undated_renewal: renewals().any(|e| e.on.is_none()),
        counter: counter(entries, since),
        operated,
    }
}

/// Whether an entry says that the interrupter was renewed.
#[must_use]
pub fn renews(entry: &Entry) -> bool {
    let (key, word) = RENEWED;
    entry.entry == EntryKind::Maintenance
        && (entry.clears.contains(&Defect::DutyUsedUp)
            || entry.readings.get(key).and_then(Stated::as_text) == Some(word))
}

/// An entry that says only that it was opened and closed is an exercise.
fn operation(e: &Entry, here_since: Option<Date>) -> Option<Operated> {
    let (trips, amps) = (e.readings.get("trips"), e.readings.get("amps"));
    if trips.is_none() && amps.is_none() && e.readings.contains_key("opened_and_closed") {
        return None;
    }
    let trips = match trips {
        None => 1.0,
        Some(stated) => match stated.value {
            Some(Plain::Number(n)) if stated.is_known() => n,
            _ => MOST_TRIPS,
        },
    };
    Some(Operated {
        on: e.on,
        trips,
        amps: amps
            .filter(|a| a.is_known())
            .and_then(Stated::as_number)
            .filter(|a| *a > 0.0),
        elsewhere: matches!((e.on, here_since), (Some(on), Some(here)) if on < here),
    })
}

/// Counter readings in the order of their days: day and figure.
#[must_use]
pub fn readings(entries: &[&Entry]) -> Vec<(Date, f64)> {
    let mut out: Vec<(Date, f64)> = entries
        .iter()
        .filter_map(|e| {
            let read = e
                .readings
                .get("counter")
                .or_else(|| e.readings.get("switch_counter"))?;
            Some((e.on?, read.as_number().filter(|_| read.is_known())?))
        })
        .collect();
    out.sort_by(|a, b| a.0.cmp(&b.0).then(a.1.total_cmp(&b.1)));
    out
}

/// The first step down of a counter, if there is one.
#[must_use]
pub fn step_down(readings: &[(Date, f64)]) -> Option<(f64, f64)> {
    readings
        .windows(2)
        .find(|w| w[1].1 < w[0].1)
        .map(|w| (w[0].1, w[1].1))
}

fn counter(entries: &[&Entry], since: Option<Date>) -> Counter {
    let all = readings(entries);
    // What it stood at when the interrupter was renewed; new units start at 0.
    let base = match since {
        None => Some((None, 0.0)),
        Some(day) => all
            .iter()
            .rfind(|(on, _)| *on <= day)
            .or_else(|| all.first())
            .map(|(on, figure)| (Some(*on), *figure)),
    };
    let Some((from, start)) = base else {
        return Counter::Unread;
    };
    let later: Vec<(Date, f64)> = all
        .into_iter()
        .filter(|(on, _)| from.is_none_or(|f| *on >= f))
        .collect();
    let Some((last_on, last)) = later.last().copied() else {
        return Counter::Unread;
    };
    if let Some((from, to)) = step_down(&later) {
        return Counter::Backward { from, to };
    }
    let logged: f64 = entries
        .iter()
        .filter(|e| e.entry == EntryKind::Operation)
        .filter(|e| {
            e.on.is_none_or(|on| on <= last_on && from.is_none_or(|f| on > f))
        })
        .map(|e| operation(e, None).map_or(1.0, |o| o.trips))
        .sum();
    Counter::Further((last - start - logged).max(0.0))
}

/// One term of the sum.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Term {
    pub trips: f64,
    pub amps: f64,
    /// Not recorded: counted at the available fault current, or at the rating
    /// where the unit stood elsewhere.
    pub taken: Option<Taken>,
    pub wear: f64,
}

/// What an unrecorded current was taken as.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Taken {
    AvailableFault,
    Rating,
}

/// How much of the standard duty is used.
#[derive(Debug, Clone, PartialEq)]
pub struct Wear {
    pub terms: Vec<Term>,
    /// In operations at the full rating.
    pub used: f64,
    pub budget: f64,
}

/// An operation has no current on record and no fault current is known to
/// count it at.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct NoFaultCurrent;

impl Wear {
    /// Share of the budget, in percent.
    #[must_use]
    pub fn percent(&self) -> f64 {
        self.used / self.budget * 100.0
    }
}

/// The wear of the operations of a log.
///
/// # Errors
/// When an operation has no current and there is no available fault current.
pub fn wear(
    log: &Log,
    row: &StandardDuty,
    rated_amps: f64,
    available_amps: Option<f64>,
) -> Result<Wear, NoFaultCurrent> {
    let mut terms: Vec<Term> = Vec::new();
    for o in &log.operated {
        let (amps, taken) = match (o.amps, o.elsewhere, available_amps) {
            (Some(amps), ..) => (amps, None),
            (None, true, _) => (
                available_amps.unwrap_or(0.0).max(rated_amps),
                Some(Taken::Rating),
            ),
            (None, false, Some(amps)) => (amps, Some(Taken::AvailableFault)),
            (None, false, None) => return Err(NoFaultCurrent),
        };
        let wear = o.trips * wear_of(amps, rated_amps);
        let alike = |t: &&mut Term| t.taken == taken && t.amps.total_cmp(&amps).is_eq();
        match terms.iter_mut().find(alike) {
            Some(term) => {
                term.trips += o.trips;
                term.wear += wear;
            }
            None => terms.push(Term {
                trips: o.trips,
                amps,
                taken,
                wear,
            }),
        }
    }
    terms.sort_by(|a, b| b.wear.total_cmp(&a.wear));
    Ok(Wear {
        used: terms.iter().map(|t| t.wear).sum(),
        budget: row.budget(),
        terms,
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    fn day(text: &str) -> Date {
        text.parse().unwrap()
    }

    fn entry(yaml: &str) -> Entry {
        serde_json::from_str(yaml).unwrap()
    }

    fn operated(on: &str, trips: f64, amps: Option<f64>) -> Entry {
        let mut e = entry(r#"{"entry": "operation", "of": "U"}"#);
        e.on = Some(day(on));
        e.readings.insert("trips".into(), Stated::number(trips));
        if let Some(amps) = amps {
            e.readings.insert("amps".into(), Stated::number(amps));
        }
        e
    }

    fn read(on: &str, counter: f64) -> Entry {
        let mut e = entry(r#"{"entry": "counter", "of": "U"}"#);
        e.on = Some(day(on));
        e.readings.insert("counter".into(), Stated::number(counter));
        e
    }

    fn of(entries: &[Entry]) -> Log {
        let all: Vec<&Entry> = entries.iter().collect();
        log(&all, None)
    }

    #[test]
    fn both_ratings_must_fit_the_frame() {
        let name = |a, c| standard("oil", a, c).unwrap().name;
        assert_eq!(name(2_000.0, None), "oil, frame of 50 to 100 A");
        assert_eq!(name(4_000.0, Some(100.0)), "oil, frame of 280 A");
        assert_eq!(name(4_000.0, Some(400.0)), "oil, frame of 400 A and larger");
        assert!(standard("gas", 4_000.0, None).is_none());
    }

    #[test]
    fn a_renewal_starts_anew_and_only_if_it_says_so() {
        let mut serviced = entry(r#"{"entry": "maintenance", "of": "U", "on": "2022-05-01"}"#);
        let before = operated("2021-07-01", 4.0, Some(1_000.0));
        let after = operated("2023-07-01", 2.0, None);
        let log = of(&[before.clone(), serviced.clone(), after.clone()]);
        assert_eq!((log.since, log.operated.len()), (None, 2));
        serviced.clears = vec![Defect::DutyUsedUp];
        let log = of(&[before.clone(), serviced.clone(), after.clone()]);
        assert_eq!(log.since, Some(day("2022-05-01")));
        assert_eq!(log.operated.len(), 1);
        serviced.on = None;
        let log = of(&[before, serviced, after]);
        assert!(log.undated_renewal && log.since.is_none());
        assert_eq!(log.operated.len(), 2);
    }

    #[test]
    fn an_exercise_is_no_interruption_and_unknown_trips_are_four() {
        let exercise = entry(
            r#"{"entry": "operation", "of": "U", "on": "2024-01-05", "readings": {"opened_and_closed": "yes"}}"#,
        );
        let vague = entry(
            r#"{"entry": "operation", "of": "U", "on": "2024-02-05", "readings": {"trips": "unknown"}}"#,
        );
        let bare = entry(r#"{"entry": "operation", "of": "U"}"#);
        let log = of(&[exercise, vague, bare]);
        let trips: Vec<f64> = log.operated.iter().map(|o| o.trips).collect();
        assert_eq!(trips, [4.0, 1.0]);
    }

    #[test]
    fn the_counter_tells_what_was_not_logged() {
        let log = of(&[read("2024-01-05", 30.0), operated("2023-01-01", 4.0, None)]);
        assert_eq!(log.counter, Counter::Further(26.0));
        let log = of(&[read("2024-01-05", 30.0), read("2025-01-05", 12.0)]);
        assert_eq!(
            log.counter,
            Counter::Backward {
                from: 30.0,
                to: 12.0
            }
        );
        assert_eq!(of(&[]).counter, Counter::Unread);
        let mut renewed = read("2024-06-01", 200.0);
        renewed.entry = EntryKind::Maintenance;
        renewed.readings.insert(
            RENEWED.0.into(),
            Stated::known(Plain::Text(RENEWED.1.into())),
        );
        let log = of(&[
            read("2020-01-01", 150.0),
            renewed,
            operated("2025-01-01", 3.0, Some(500.0)),
            read("2025-06-01", 203.0),
        ]);
        assert_eq!(log.counter, Counter::Further(0.0));
    }

    #[test]
    fn what_has_no_current_is_counted_at_the_fault_or_at_the_rating() {
        let mut log = of(&[operated("2024-01-01", 2.0, None)]);
        let row = standard("oil", 4_000.0, None).unwrap();
        assert_eq!(wear(&log, row, 4_000.0, None), Err(NoFaultCurrent));
        let w = wear(&log, row, 4_000.0, Some(2_000.0)).unwrap();
        assert_eq!(w.terms[0].taken, Some(Taken::AvailableFault));
        assert!((w.used - 2.0 * 0.5_f64.powf(1.5)).abs() < 1e-12);
        log.operated[0].elsewhere = true;
        let w = wear(&log, row, 4_000.0, Some(2_000.0)).unwrap();
        assert_eq!(w.terms[0].taken, Some(Taken::Rating));
        assert!((w.used - 2.0).abs() < 1e-12);
    }
}
