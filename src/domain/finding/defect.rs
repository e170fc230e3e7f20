//! What each open defect does: its caution, the questions that it caps, the
//! order that it calls for and with what it goes when a unit is swapped.

use serde::{Deserialize, Serialize};

use super::{Caution, Question, Severity};
use crate::calendar::Date;
use crate::domain::asset::{Defect, Priority, words};

/// What an open defect does.
#[derive(Debug)]
pub struct DefectRow {
    pub defect: Defect,
    /// Questions that it caps at unknown.
    pub bears_on: &'static [Question],
    pub severity: Severity,
    /// What the caution says after the defect and its date.
    pub advice: &'static str,
    /// Whose it is where the device hangs: of the unit, and goes with it, or of
    /// the place, and stays.
    pub follows: Follows,
    /// The order that it calls for where no reading says more.
    pub order: (Priority, &'static str),
}

words! {
    /// With what a reading or a defect goes when a unit is swapped.
    Follows {
        Unit = "unit",
        Place = "place",
        /// With whatever else was read.
        Either = "either",
    }
}

const fn row(
    defect: Defect,
    severity: Severity,
    bears_on: &'static [Question],
    advice: &'static str,
    order: (Priority, &'static str),
) -> DefectRow {
    DefectRow {
        defect,
        bears_on,
        severity,
        advice,
        follows: Follows::Unit,
        order,
    }
}

/// The same, of a defect of the place.
const fn at_place(row: DefectRow) -> DefectRow {
    DefectRow {
        follows: Follows::Place,
        ..row
    }
}

use Question::{Break, Carry, Last, Ride, See, Stand};
use Severity::{Look, Stop};

/// Every defect with the questions it bears on. Which question a defect bears
/// on is common practice, no source; that low or failed oil and cracked
/// porcelain are hazards is read in a military maintenance manual and in press
/// reports of failed cutouts.
pub static DEFECTS: &[DefectRow] = &[
    row(
        Defect::OilBelowMark,
        Stop,
        &[Break, Stand],
        "do not count on it to interrupt; do not open, close or sample it energized; keep clear; tell control",
        (
            Priority::Urgent,
            "oil below mark: ask the control centre to have it taken out of service by qualified people; then find the cause, test the oil, refill",
        ),
    ),
    row(
        Defect::OilLeak,
        Look,
        &[Break, Stand],
        "the level may be below the mark by now: do not count on it to interrupt; do not touch the oil, its PCB class may be unread",
        (
            Priority::Soon,
            "oil leak: read the PCB label and the level, find where it leaks, mend it",
        ),
    ),
    row(
        Defect::OilTestFailed,
        Stop,
        &[Break, Stand],
        "do not count on it to interrupt or to insulate; do not open or close it energized; keep clear; tell control",
        (
            Priority::Urgent,
            "oil test failed: ask the control centre to have it taken out of service by qualified people; then find the cause, replace the oil, test it before the unit is energized",
        ),
    ),
    row(
        Defect::DutyUsedUp,
        Stop,
        &[Break, Last],
        "its interrupting duty is used up: do not count on it to interrupt; tell control",
        (
            Priority::Urgent,
            "duty used up: tell control; have the interrupter renewed or the unit replaced, by qualified people",
        ),
    ),
    row(
        Defect::CrackedPorcelain,
        Stop,
        &[Break, Stand],
        "it can break when pulled or closed and drop live parts: do not operate it energized; keep clear below; tell control",
        (
            Priority::Urgent,
            "porcelain cracked: tell control; replace it de-energized, by qualified people",
        ),
    ),
    row(
        Defect::BushingDamaged,
        Stop,
        &[Carry, Stand],
        "it can flash over: keep clear; do not operate it energized; tell control",
        (
            Priority::Urgent,
            "bushing damaged: tell control; replace it de-energized, by qualified people",
        ),
    ),
    row(
        Defect::ContactsWorn,
        Look,
        &[Carry, Break],
        "it may carry and interrupt less than its plate says",
        (
            Priority::Planned,
            "contacts worn: look at them, dress or renew them",
        ),
    ),
    row(
        Defect::ControlFaulty,
        Stop,
        &[Ride, Break, See],
        "do not count on it to trip or to stay closed; tell control",
        (
            Priority::Urgent,
            "control faulty: tell control; test it, renew it",
        ),
    ),
    row(
        Defect::BatteryLow,
        Look,
        &[Break, See],
        "it may not trip once its supply is gone: do not count on it to interrupt",
        (
            Priority::Soon,
            "battery low: test it under load, renew it, look at the charger",
        ),
    ),
    at_place(row(
        Defect::ConnectorHot,
        Look,
        &[Carry],
        "it carries less than its mark says and can part: keep clear below",
        (
            Priority::Soon,
            "connector hot: tell control; renew the joint de-energized, by qualified people",
        ),
    )),
    at_place(row(
        Defect::ConductorDamaged,
        Stop,
        &[Carry],
        "it can part: keep clear below; tell control",
        (
            Priority::Urgent,
            "conductor damaged: tell control; repair it by the local procedure",
        ),
    )),
    row(
        Defect::CanBulged,
        Stop,
        &[Carry, Stand],
        "it may hold charge and can burst: keep clear; treat as charged; tell control",
        (
            Priority::Urgent,
            "can bulged or leaking: ask the control centre to have the bank taken out of service by qualified people; wait and discharge by the local procedure; read the PCB label; replace the can",
        ),
    ),
    row(
        Defect::ArresterFailed,
        Look,
        &[Stand],
        "treat every part of it and its ground lead as at line potential; what it protected has no surge protection on record",
        (Priority::Soon, "arrester failed: replace it"),
    ),
    at_place(row(
        Defect::GroundBondDamaged,
        Stop,
        &[Stand],
        "treat tank, rack and ground lead as live; do not touch; tell control",
        (
            Priority::Urgent,
            "ground bond damaged: tell control; renew it by the local procedure for a bond that may be live",
        ),
    )),
    at_place(row(
        Defect::AnimalGuardMissing,
        Look,
        &[],
        "an animal can bridge the bushings",
        (
            Priority::Whenever,
            "animal guard: fit one at the next visit",
        ),
    )),
    at_place(row(
        Defect::PoleReject,
        Stop,
        &[],
        "pole rejected: inspect before anything else; nothing here says that it holds",
        (
            Priority::Urgent,
            "pole reject: mark it, keep people off it and off its devices until it is judged; tell control; replace or reinforce as qualified people decide",
        ),
    )),
    row(
        Defect::TestFailed,
        Stop,
        &[Carry, Ride, Break, See, Stand],
        "a test failed: do not count on it until qualified people have judged the result",
        (
            Priority::Soon,
            "test failed: qualified people judge the result",
        ),
    ),
];

/// The readings that show a defect, or that it is gone; empty where no form
/// asks one.
#[must_use]
pub const fn shown_by(defect: Defect) -> &'static [&'static str] {
    match defect {
        Defect::OilBelowMark => &["oil_level"],
        Defect::OilLeak => &["leak"],
        Defect::OilTestFailed => &["oil_kv"],
        Defect::DutyUsedUp => &["interrupter"],
        Defect::CrackedPorcelain => &["bushings", "insulator"],
        Defect::BushingDamaged => &["bushings"],
        Defect::BatteryLow => &["battery_volts"],
        Defect::ConnectorHot => &["hot_spot_c"],
        Defect::CanBulged => &["cans"],
        Defect::ArresterFailed => &["disconnector"],
        Defect::GroundBondDamaged => &["ground_bond"],
        Defect::AnimalGuardMissing => &["animal_guard"],
        Defect::PoleReject => &["circumference_in", "result"],
        Defect::TestFailed => &["result"],
        Defect::ContactsWorn | Defect::ControlFaulty | Defect::ConductorDamaged => &[],
    }
}

/// The row of a defect.
///
/// # Panics
/// Never: a test walks every defect.
#[must_use]
pub fn defect_row(defect: Defect) -> &'static DefectRow {
    DEFECTS
        .iter()
        .find(|r| r.defect == defect)
        .expect("every defect has its row; a test walks them")
}

/// When a defect that stands was seen: at first since it was last cleared, at
/// last, and how often. A day is none where one of them is not recorded.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Sighted {
    pub first: Option<Date>,
    pub last: Option<Date>,
    pub times: u32,
}

impl Sighted {
    /// Seen once.
    #[must_use]
    pub const fn once(on: Option<Date>) -> Sighted {
        Sighted {
            first: on,
            last: on,
            times: 1,
        }
    }

    /// Seen once more.
    pub fn again(&mut self, on: Option<Date>) {
        self.first = self.first.min(on);
        self.last = self.last.max(on);
        self.times += 1;
    }

    /// `seen 12 Sep 2026`; `first seen 1 Aug 2026, last seen 12 Sep 2026 (2
    /// times)`.
    #[must_use]
    pub fn words(&self) -> String {
        let day = |on: Option<Date>| on.map_or("on a date not recorded".to_string(), Date::spoken);
        if self.times < 2 {
            return format!("seen {}", day(self.last));
        }
        format!(
            "first seen {}, last seen {} ({} times)",
            day(self.first),
            day(self.last),
            self.times
        )
    }
}

/// `oil below mark, seen 12 Sep 2026`; says so when the date is not known.
#[must_use]
pub fn seen(defect: Defect, sighted: Sighted) -> String {
    format!("{defect}, {}", sighted.words())
}

/// The caution of an open defect.
#[must_use]
pub fn defect_caution(defect: Defect, on: Sighted, about: &str) -> Caution {
    let row = defect_row(defect);
    Caution {
        severity: row.severity,
        text: format!("{}: {}", seen(defect, on), row.advice),
        about: about.to_string(),
    }
}
