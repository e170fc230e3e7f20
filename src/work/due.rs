//! Due: what has to be inspected, read, tested or repaired by a day, and why.

mod gather;
mod ordered;

use std::collections::BTreeMap;

use serde::{Serialize, Serializer};

use self::gather::{Home, Thing};
use super::{Failure, JSON_VERSION, Resolved, resolve_among};
use crate::calendar::Date;
use crate::domain::asset::{Class, Kind, RecordId, Unit};
use crate::domain::code::fold;
use crate::domain::finding::RuleStanding;
use crate::domain::nameplate::{line_ground_factor, short};
use crate::domain::upkeep::duty;
use crate::domain::upkeep::interval::{Due, DutyUsed, Interval, Subject, What, due as judge};
use crate::exchange::{csv, interval, shipped_intervals};
use crate::store::{Store, Stored};

/// Said where an interval names no standing.
const OWN: &str = "the utility's own";

/// What was asked.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Asked {
    pub today: Date,
    /// What is due by this day; never before today.
    pub by: Date,
    /// Home feeder.
    pub feeder: Option<String>,
    pub what: Option<What>,
    /// Most items kept, the most pressing first; the counts are of all.
    pub limit: usize,
}

impl Asked {
    /// Everything due today.
    #[must_use]
    pub const fn today(today: Date) -> Asked {
        Asked {
            today,
            by: today,
            feeder: None,
            what: None,
            limit: usize::MAX,
        }
    }
}

/// How an item stands, the most pressing first.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Stands {
    /// No record that it was ever done.
    Never,
    /// Done, but nobody knows when; or what it rests on is unknown.
    DateUnknown,
    Overdue,
    Due,
}

impl Stands {
    #[must_use]
    pub const fn word(self) -> &'static str {
        match self {
            Stands::Never => "never done",
            Stands::DateUnknown => "date unknown",
            Stands::Overdue => "overdue",
            Stands::Due => "due",
        }
    }
}

impl Serialize for Stands {
    fn serialize<S: Serializer>(&self, s: S) -> Result<S::Ok, S::Error> {
        s.serialize_str(self.word())
    }
}

/// One thing that is due.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct Item {
    #[serde(skip)]
    pub rec: i64,
    /// Permanent id of the record.
    pub id: RecordId,
    /// The structure or the position.
    pub record: String,
    pub kind: Kind,
    /// The unit there.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub unit: Option<String>,
    #[serde(skip_serializing_if = "Option::is_none")]
    pub slot: Option<String>,
    /// The second identifier.
    pub also: String,
    pub feeder: Option<String>,
    pub what: What,
    pub stands: Stands,
    /// Absent: never done, or its day is unknown.
    pub due: Option<Date>,
    pub overdue_days: i64,
    pub why: String,
    pub interval: String,
    pub source: String,
    /// How well the interval is founded.
    pub standing: String,
    /// The order that is open for it.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub order: Option<String>,
}

/// How many are due in one feeder.
#[derive(Debug, Clone, Default, PartialEq, Eq, Serialize)]
pub struct FeederCount {
    pub feeder: Option<String>,
    pub due: usize,
    pub overdue: usize,
    /// Never done, or done on an unknown day.
    pub never: usize,
}

/// The answer; its JSON is the document printed.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct DueReport {
    pub polecard: u32,
    pub demo: bool,
    pub by: Date,
    /// Never done and date unknown first, then the longest overdue.
    pub due: Vec<Item>,
    /// All that are due, whether or not they are listed.
    pub total: usize,
    pub feeders: Vec<FeederCount>,
    /// By what is due.
    pub whats: Vec<(What, usize)>,
    /// Intervals of the register that cannot be used, and why; and what is not
    /// looked at.
    pub notes: Vec<String>,
}

/// The intervals in force.
struct Rules {
    all: Vec<Interval>,
    notes: Vec<String>,
}

fn rules(store: &Store) -> Result<Rules, Failure> {
    let mut all = shipped_intervals();
    let mut notes = Vec::new();
    for stored in store.all(Kind::Interval)? {
        let crate::domain::asset::Record::Interval(doc) = &stored.record else {
            continue;
        };
        match interval(doc) {
            Ok(own) => {
                all.retain(|i| i.interval != own.interval);
                all.push(own);
            }
            Err((_, why)) => notes.push(format!(
                "interval {:?} of the register is left out: {why}",
                doc.interval
            )),
        }
    }
    all.retain(|i| !i.off);
    Ok(Rules { all, notes })
}

/// What is due in the whole register, or in one feeder.
///
/// # Errors
/// Usage, for a day before today; those of the register.
pub fn due(store: &Store, asked: &Asked) -> Result<DueReport, Failure> {
    let mut round = Round::new(store, asked)?;
    let mut seen = asked.feeder.is_none();
    for home in store.homes()? {
        let wanted = match (&asked.feeder, &home) {
            (None, _) => true,
            (Some(f), Some(h)) => fold(f) == fold(h),
            (Some(_), None) => false,
        };
        if wanted {
            seen = true;
            round.home(&Home::of(store, home.as_deref(), asked.today)?)?;
        }
    }
    if !seen {
        let name = asked.feeder.as_deref().unwrap_or_default();
        let homes: Vec<String> = store.homes()?.into_iter().flatten().take(12).collect();
        return Err(Failure::not_found(format!("no feeder is called {name}"))
            .hint(format!("feeders are {}", homes.join(", "))));
    }
    round.report()
}

/// What is due of one record: of a structure with what hangs on it, of a
/// position with its units, of a unit, or of a feeder.
///
/// # Errors
/// Not found, or several where one is needed; those of the register.
pub fn due_of(store: &Store, text: &str, asked: &Asked) -> Result<DueReport, Failure> {
    let kinds = [Kind::Structure, Kind::Position, Kind::Unit, Kind::Feeder];
    let Resolved { stored, note } = resolve_among(store, text, &kinds)?;
    let mut report = due_of_record(store, &stored, asked)?;
    report.notes.extend(note);
    Ok(report)
}

/// [`due_of`] a record already found.
///
/// # Errors
/// Those of the register.
pub fn due_of_record(store: &Store, stored: &Stored, asked: &Asked) -> Result<DueReport, Failure> {
    if stored.record.kind() == Kind::Feeder {
        let asked = Asked {
            feeder: Some(stored.record.name()),
            ..asked.clone()
        };
        return due(store, &asked);
    }
    let mut round = Round::new(store, asked)?;
    round.home(&Home::around(store, stored, asked.today)?)?;
    round.report()
}

/// One round through the register.
struct Round<'s> {
    store: &'s Store,
    asked: &'s Asked,
    rules: Rules,
    items: Vec<Item>,
    /// X0/X1 of the source of each feeder.
    ratios: BTreeMap<String, Option<f64>>,
}

impl<'s> Round<'s> {
    fn new(store: &'s Store, asked: &'s Asked) -> Result<Self, Failure> {
        if asked.by < asked.today {
            return Err(
                Failure::usage(format!("{} lies before today, {}", asked.by, asked.today))
                    .hint("what is due is told by today or a later day"),
            );
        }
        Ok(Round {
            store,
            asked,
            rules: rules(store)?,
            items: Vec::new(),
            ratios: BTreeMap::new(),
        })
    }

    fn home(&mut self, home: &Home) -> Result<(), Failure> {
        for thing in home.things() {
            let duty = self.duty(&thing)?;
            self.thing(&thing, duty);
        }
        Ok(())
    }

    fn thing(&mut self, thing: &Thing<'_>, duty: Option<DutyUsed>) {
        let entries: Vec<_> = thing.entries.iter().map(|(rec, e)| (*rec, *e)).collect();
        let subject = Subject {
            id: thing.id,
            class: thing.class,
            at: thing.at,
            plate: thing.unit.map(|u| &u.nameplate),
            material: thing.material,
            begun: thing.begun,
            entries: &entries,
            duty,
        };
        let by = self.asked.by;
        let mut found: Vec<(What, &Interval, Due)> = Vec::new();
        for interval in self.rules.all.iter().filter(|i| i.is_for(&subject)) {
            let Some(what) = interval.what else { continue };
            if self.asked.what.is_some_and(|w| w != what) {
                continue;
            }
            let Some(due) = judge(interval, &subject, by) else {
                continue;
            };
            if due.on.is_some_and(|on| on > by) {
                continue;
            }
            found.push((what, interval, due));
        }
        // Of several intervals of one thing to do, the stricter governs.
        found.sort_by_key(|(what, _, due)| (*what, due.on));
        found.dedup_by(|a, b| a.0 == b.0 && a.0 != What::Repair);
        for (what, interval, due) in found {
            self.items
                .push(item(thing, what, interval, due, self.asked.today));
        }
    }

    /// Share of a recloser's standard duty that the log has used.
    fn duty(&mut self, thing: &Thing<'_>) -> Result<Option<DutyUsed>, Failure> {
        let (Some(unit), Some(position)) = (thing.unit, thing.position) else {
            return Ok(None);
        };
        if unit.class != Class::Recloser {
            return Ok(None);
        }
        let entries: Vec<_> = thing.entries.iter().map(|(_, e)| *e).collect();
        let log = duty::log(&entries, thing.begun);
        if log.operated.is_empty() {
            return Ok(None);
        }
        let feeder = position.feeder.clone().unwrap_or_default();
        if !self.ratios.contains_key(&feeder) {
            let ratio = super::facts::system(self.store, position)?.x0_over_x1;
            self.ratios.insert(feeder.clone(), ratio);
        }
        let ratio = self.ratios.get(&feeder).copied().flatten();
        let available = position
            .available_fault
            .as_ref()
            .map(|s| s.amps.get() * line_ground_factor(Some(s.kind), ratio));
        Ok(Some(used(unit, &log, available)))
    }

    fn report(mut self) -> Result<DueReport, Failure> {
        self.items.sort_by(|a, b| {
            let key = |i: &Item| (i.stands.min(Stands::DateUnknown), i.due);
            key(a).cmp(&key(b)).then_with(|| {
                (&a.feeder, &a.record, &a.slot, a.what)
                    .cmp(&(&b.feeder, &b.record, &b.slot, b.what))
            })
        });
        self.items
            .sort_by_key(|i| matches!(i.stands, Stands::Overdue | Stands::Due));
        let mut feeders: BTreeMap<Option<String>, FeederCount> = BTreeMap::new();
        let mut whats: BTreeMap<What, usize> = BTreeMap::new();
        for i in &self.items {
            let count = feeders.entry(i.feeder.clone()).or_default();
            count.feeder.clone_from(&i.feeder);
            count.due += 1;
            count.overdue += usize::from(i.stands == Stands::Overdue);
            count.never += usize::from(i.stands <= Stands::DateUnknown);
            *whats.entry(i.what).or_default() += 1;
        }
        let total = self.items.len();
        self.items.truncate(self.asked.limit);
        ordered::mark(self.store, &mut self.items)?;
        Ok(DueReport {
            polecard: JSON_VERSION,
            demo: self.store.utility()?.is_some_and(|u| u.demo),
            by: self.asked.by,
            due: self.items,
            total,
            feeders: feeders.into_values().collect(),
            whats: whats.into_iter().collect(),
            notes: self.rules.notes,
        })
    }
}

fn used(unit: &Unit, log: &duty::Log, available: Option<f64>) -> DutyUsed {
    let plate = &unit.nameplate;
    let interrupter = plate
        .text("interrupter")
        .ok_or_else(|| "its interrupter is unread".to_string())?;
    let rated = plate
        .number("interrupting_amps")
        .ok_or_else(|| "its interrupting rating is unread".to_string())?;
    let row =
        duty::standard(interrupter, rated, plate.number("continuous_amps")).ok_or_else(|| {
            format!("no standard duty is on record here for an interrupter of {interrupter}")
        })?;
    let wear = duty::wear(log, row, rated, available).map_err(|_| {
        "an operation has no current and no available fault is on record".to_string()
    })?;
    let guessed: f64 = wear
        .terms
        .iter()
        .filter(|t| t.taken.is_some())
        .map(|t| t.trips)
        .sum();
    let guessed = if guessed > 0.0 {
        format!(
            ", {} trips without a current counted at the available fault or the rating",
            short(guessed)
        )
    } else {
        String::new()
    };
    Ok((
        wear.percent(),
        format!("the standard duty ({}: {}{guessed})", row.name, row.words()),
    ))
}

fn item(thing: &Thing<'_>, what: What, interval: &Interval, due: Due, today: Date) -> Item {
    let stands = match due.on {
        _ if due.never => Stands::Never,
        None => Stands::DateUnknown,
        Some(on) if on < today => Stands::Overdue,
        Some(_) => Stands::Due,
    };
    Item {
        rec: thing.rec,
        id: thing.id_of_record,
        record: thing.name.clone(),
        kind: thing.kind,
        unit: thing.unit.map(|u| u.unit.clone()),
        slot: thing.slot.clone(),
        also: thing.also.words(),
        feeder: thing.feeder.clone(),
        what,
        stands,
        due: due.on,
        overdue_days: due.on.map_or(0, |on| today.days_since(on).max(0)),
        why: due.why,
        interval: interval.interval.clone(),
        source: interval.source.clone().unwrap_or_else(|| OWN.to_string()),
        standing: interval
            .standing
            .map_or(OWN, RuleStanding::word)
            .to_string(),
        order: None,
    }
}

impl Item {
    /// Whether nobody has confirmed the interval.
    #[must_use]
    pub fn unconfirmed(&self) -> bool {
        self.standing != RuleStanding::Read.word() && self.standing != OWN
    }

    /// What is needed, as an order says it.
    #[must_use]
    pub fn need(&self) -> String {
        let unit = match (&self.unit, &self.slot) {
            (Some(unit), Some(slot)) => format!(" of {unit} ({slot})"),
            (Some(unit), None) => format!(" of {unit}"),
            _ => String::new(),
        };
        format!("{}{unit}: {}", self.what, self.why)
    }
}

/// The list as CSV; cells that a spreadsheet would run are made text.
#[must_use]
pub fn as_csv(report: &DueReport) -> String {
    let head = [
        "record",
        "unit",
        "slot",
        "feeder",
        "what",
        "stands",
        "due",
        "overdue_days",
        "why",
        "interval",
        "standing",
        "also",
    ];
    let mut out = csv::line(head);
    out.push_str("\r\n");
    for i in &report.due {
        let due = i.due.map_or(String::new(), |d| d.to_string());
        let days = i.overdue_days.to_string();
        out.push_str(&csv::line([
            i.record.as_str(),
            i.unit.as_deref().unwrap_or_default(),
            i.slot.as_deref().unwrap_or_default(),
            i.feeder.as_deref().unwrap_or_default(),
            i.what.word(),
            i.stands.word(),
            &due,
            &days,
            &i.why,
            &i.interval,
            &i.standing,
            &i.also,
        ]));
        out.push_str("\r\n");
    }
    out
}
