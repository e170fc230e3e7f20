//! The card: everything on record that someone in a hurry needs about one
//! record, assembled once. Both faces and the JSON print this and nothing else.
//!
//! Nothing here is leave to act: a card shows the record, says what is not
//! known, and sends people to control, the plate and the local code.

mod caution;
mod history;
mod line;
mod other;
mod plate;
mod position;
mod radio;
mod structure;
mod unit;
mod unread;

use serde::Serialize;

use super::due::{Asked, Item, due_of_record};
use super::trace::Traced;
use super::{Failure, JSON_VERSION};
use crate::calendar::{Clock, Date, Moment};
use crate::domain::asset::{Kind, Record, Standing};
use crate::domain::finding::{Caution, Severity};
use crate::store::{Store, Stored};

pub use plate::printed;

/// A unit in a slot of a position.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct SlotUnit {
    /// The slot, when it is recorded.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub slot: Option<String>,
    /// `None`: no unit on record there.
    pub unit: Option<String>,
    /// Since when, or what is odd about it.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub since: Option<Date>,
}

/// Where the record is: what is read back beside its number.
#[derive(Debug, Clone, Default, PartialEq, Serialize)]
pub struct Where {
    #[serde(skip_serializing_if = "Option::is_none")]
    pub structure: Option<String>,
    /// `pole`, `pad`, `vault`.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub kind: Option<String>,
    #[serde(skip_serializing_if = "Option::is_none")]
    pub road: Option<String>,
    #[serde(skip_serializing_if = "Option::is_none")]
    pub near: Option<String>,
    #[serde(skip_serializing_if = "Option::is_none")]
    pub feeder: Option<String>,
    #[serde(skip_serializing_if = "Option::is_none")]
    pub lat: Option<f64>,
    #[serde(skip_serializing_if = "Option::is_none")]
    pub lon: Option<f64>,
}

/// A label and what stands beside it.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Fact {
    pub label: String,
    pub text: String,
    /// Of a value that has one.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub standing: Option<Standing>,
    /// Who read it, when, from what, or by which rule it was assumed.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub provenance: Option<String>,
}

impl Fact {
    #[must_use]
    pub fn new(label: impl Into<String>, text: impl Into<String>) -> Fact {
        Fact {
            label: label.into(),
            text: text.into(),
            standing: None,
            provenance: None,
        }
    }
}

/// The plate of one unit.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct PlateCard {
    pub unit: String,
    #[serde(skip_serializing_if = "Option::is_none")]
    pub slot: Option<String>,
    /// `oil recloser`.
    pub what: String,
    pub fields: Vec<Fact>,
}

/// An element in series or of the bypass.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct ElementLine {
    pub what: String,
    #[serde(skip_serializing_if = "Option::is_none")]
    pub slot: Option<String>,
    pub ratings: Vec<String>,
    /// `yes`, `no`, or `not known, treat as no`.
    pub opens_load: String,
    pub visible_break: String,
    pub lockable: String,
    /// How it normally stands, when that is recorded of the element itself.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub normally: Option<String>,
}

/// A setting as issued and as found.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct SettingLine {
    pub label: String,
    pub issued: String,
    /// `None`: nothing found on record.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub found: Option<String>,
    pub differs: bool,
}

/// A heading with its rows.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Group {
    pub heading: String,
    pub rows: Vec<Fact>,
}

/// A work order.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct OrderLine {
    pub order: String,
    pub of: String,
    pub state: String,
    pub priority: String,
    pub need: String,
    #[serde(skip_serializing_if = "Option::is_none")]
    pub due: Option<Date>,
    /// Its day has passed.
    pub overdue: bool,
}

/// A line of the history.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct HistoryLine {
    /// When it was; not recorded when absent.
    pub on: Option<Date>,
    /// `inspection`, `change`, `order done` …
    pub what: String,
    pub of: String,
    #[serde(skip_serializing_if = "Option::is_none")]
    pub by: Option<String>,
    pub text: String,
}

/// A name, present or past.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct NameLine {
    pub text: String,
    #[serde(skip_serializing_if = "Option::is_none")]
    pub whose: Option<String>,
    #[serde(skip_serializing_if = "Option::is_none")]
    pub from: Option<Date>,
    /// No longer in use since.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub to: Option<Date>,
}

/// The card of one record.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Card {
    pub polecard: u32,
    pub id: String,
    pub name: String,
    pub kind: Kind,
    /// Row in the register.
    #[serde(skip)]
    pub rec: i64,
    /// Number of the operation that gave the record its form, to notice that
    /// it has changed.
    #[serde(skip)]
    pub op: i64,
    pub read_at: Moment,
    /// The utility is made up.
    pub demo: bool,
    /// `OIL RECLOSER, three-phase`.
    pub what: String,
    /// Units in the slots of a position.
    pub units: Vec<SlotUnit>,
    pub place: Where,
    /// For the radio.
    pub say: String,
    /// STOP before LOOK.
    pub cautions: Vec<Caution>,
    /// State on record; empty for what has none.
    pub state: Vec<String>,
    /// What the plate says, in a line.
    pub gist: Vec<Fact>,
    pub plates: Vec<PlateCard>,
    /// In series from the normal source side.
    pub series: Vec<ElementLine>,
    pub bypass: Vec<ElementLine>,
    pub settings: Vec<SettingLine>,
    /// Fault, load and other figures on record.
    pub studies: Vec<Fact>,
    /// How it is fed and what it feeds.
    pub fed: Vec<Traced>,
    /// What stands on a structure, where a unit was, and the like.
    pub groups: Vec<Group>,
    /// Open orders, the most pressing first.
    pub orders: Vec<OrderLine>,
    /// What is due by today of it and its units, the most pressing first.
    pub due: Vec<Item>,
    /// Newest first.
    pub history: Vec<HistoryLine>,
    /// Other names, past and present.
    pub names: Vec<NameLine>,
    /// The note on the record.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub note: Option<String>,
}

impl Card {
    fn blank(store: &Store, stored: &Stored, clock: Clock) -> Result<Card, Failure> {
        Ok(Card {
            polecard: JSON_VERSION,
            id: stored.record.id().to_string(),
            name: stored.record.name(),
            kind: stored.record.kind(),
            rec: stored.rec,
            op: stored.op,
            read_at: clock.now(),
            demo: store.utility()?.is_some_and(|u| u.demo),
            what: stored.record.kind().word().to_uppercase(),
            units: Vec::new(),
            place: Where::default(),
            say: String::new(),
            cautions: Vec::new(),
            state: Vec::new(),
            gist: Vec::new(),
            plates: Vec::new(),
            series: Vec::new(),
            bypass: Vec::new(),
            settings: Vec::new(),
            studies: Vec::new(),
            fed: Vec::new(),
            groups: Vec::new(),
            orders: Vec::new(),
            due: Vec::new(),
            history: Vec::new(),
            names: names(&stored.record),
            note: None,
        })
    }

    /// How many cautions of a severity there are.
    #[must_use]
    pub fn count(&self, severity: Severity) -> usize {
        self.cautions
            .iter()
            .filter(|c| c.severity == severity)
            .count()
    }

    fn finish(mut self) -> Card {
        self.cautions.sort_by_key(|c| c.severity);
        let mut seen = std::collections::HashSet::new();
        self.cautions
            .retain(|c| seen.insert((c.text.clone(), c.about.clone())));
        if self.demo {
            self.say = format!("demo: {}", self.say);
        }
        self
    }
}

fn names(record: &Record) -> Vec<NameLine> {
    let names = match record {
        Record::Structure(r) => &r.names,
        Record::Position(r) => &r.names,
        Record::Unit(r) => &r.names,
        _ => return Vec::new(),
    };
    names
        .iter()
        .map(|n| NameLine {
            text: n.text.clone(),
            whose: n.whose.clone(),
            from: n.from,
            to: n.to,
        })
        .collect()
}

/// Assembles the card of the record in a row.
///
/// # Errors
/// When it has left the register; those of the register.
pub fn card(store: &Store, rec: i64, clock: Clock) -> Result<Card, Failure> {
    let _still = store.still()?;
    let stored = store
        .by_row(rec)?
        .ok_or_else(|| Failure::not_found("this record has left the register"))?;
    let mut card = Card::blank(store, &stored, clock)?;
    match &stored.record {
        Record::Position(p) => position::fill(&mut card, store, &stored, p, clock)?,
        Record::Structure(s) => structure::fill(&mut card, store, &stored, s, clock)?,
        Record::Unit(u) => unit::fill(&mut card, store, &stored, u, clock)?,
        _ => other::fill(&mut card, store, &stored, clock)?,
    }
    if matches!(card.kind, Kind::Position | Kind::Structure | Kind::Unit) {
        card.due = due_of_record(store, &stored, &Asked::today(clock.today()))?.due;
        // What hangs on a structure has cards of its own.
        card.due
            .retain(|i| card.kind != Kind::Structure || i.rec == rec);
    }
    card.cautions.extend(to_come(store, &card, clock.today())?);
    Ok(card.finish())
}

/// What changes on a later day on the record and on the units at it: until
/// then the card tells what holds today.
fn to_come(store: &Store, card: &Card, today: Date) -> Result<Vec<Caution>, Failure> {
    let mut of = vec![(card.rec, card.name.clone())];
    for unit in card.units.iter().filter_map(|u| u.unit.as_ref()) {
        let hits = store.named(unit)?;
        let unit_row = hits.iter().find(|h| h.kind == Kind::Unit && h.rank == 0);
        of.extend(unit_row.map(|h| (h.rec, unit.clone())));
    }
    let mut out = Vec::new();
    for (rec, about) in of {
        for change in store.to_come(rec, today)? {
            out.push(Caution::look(change.sentence(), &about));
        }
    }
    Ok(out)
}
