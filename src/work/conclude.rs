//! What readings mean: the rules put to an entry with what is on record, the
//! cautions that still stand, and the checklist before a sample.

use serde::Serialize;

use super::card::Fact;
use super::facts::{means, pointing_at, structure_of, subject_of};
use super::{Failure, JSON_VERSION, resolve_among};
use crate::calendar::Date;
use crate::domain::asset::{Defect, Entry, Kind, Record, Rel, Stands};
use crate::domain::finding::{Caution, RuleStanding, Severity};
use crate::domain::form::INSPECTED;
use crate::domain::nameplate::OpenReading;
use crate::domain::upkeep::pcb::{PcbClass, Tested, class_of};
use crate::domain::upkeep::sampling::{Step, checklist};
use crate::domain::upkeep::{
    Case, Conclusion, Limits, Proposed, Subject, conclude, lasting, oldest_first,
};
use crate::store::{Store, StoreError, Stored};

/// What a rule says of an entry.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Concluded {
    pub level: Severity,
    pub text: String,
    pub rule: &'static str,
    pub source: &'static str,
    pub standing: RuleStanding,
    /// The order that it proposes.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub proposes: Option<Proposed>,
    /// Defects that the readings amount to.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub bears: Vec<Defect>,
    /// The record it is about, once the entry is written.
    #[serde(skip_serializing_if = "String::is_empty")]
    pub of: String,
}

impl From<Conclusion> for Concluded {
    fn from(c: Conclusion) -> Concluded {
        Concluded {
            level: c.level,
            text: c.text,
            rule: c.rule,
            source: c.source,
            standing: c.standing,
            proposes: c.proposes,
            bears: c.bears,
            of: String::new(),
        }
    }
}

/// The limits in force: the utility's own, defaults elsewhere.
///
/// # Errors
/// Those of the register.
pub fn limits(store: &Store) -> Result<Limits, StoreError> {
    Ok(store
        .utility()?
        .map_or_else(Limits::default, |u| Limits::from_map(&u.choices)))
}

/// What the rules know of a record: its plate or pole, and whether the place
/// it stands at is bypassed.
///
/// # Errors
/// Those of the register.
pub fn subject(store: &Store, stored: &Stored) -> Result<Subject, StoreError> {
    let mut out = Subject::of(&stored.record, &limits(store)?);
    if let Record::Unit(u) = &stored.record {
        let at: Vec<String> = u
            .present()
            .filter(|d| !d.is_store())
            .map(|d| d.at.clone())
            .collect();
        for (_, place) in store.present(Kind::Position, &at)? {
            if let Record::Position(p) = place.record {
                let stands = p.state.map(|s| s.stands);
                out.bypassed |= stands == Some(Stands::Bypassed);
            }
        }
    }
    Ok(out)
}

/// The entries about a record under any of its names, oldest first.
///
/// # Errors
/// Those of the register.
pub fn entries_of(store: &Store, stored: &Stored) -> Result<Vec<(i64, Entry)>, StoreError> {
    let mut out = Vec::new();
    for found in pointing_at(store, Rel::About, stored)? {
        if let Record::Entry(entry) = found.record
            && means(store, &entry.of, stored.rec)?
        {
            out.push((found.rec, entry));
        }
    }
    oldest_first(&mut out);
    Ok(out)
}

/// What the rules say of an entry that is about a record, STOP before LOOK.
/// The entry need not be in the register yet; those dated after it are left
/// out.
///
/// # Errors
/// Those of the register.
pub fn concluded(
    store: &Store,
    stored: &Stored,
    entry: &Entry,
) -> Result<Vec<Concluded>, StoreError> {
    let subject = subject(store, stored)?;
    let all = entries_of(store, stored)?;
    let earlier: Vec<&Entry> = all
        .iter()
        .map(|(_, e)| e)
        .filter(|e| e.id != entry.id && e.on <= entry.on)
        .collect();
    let case = Case {
        subject: &subject,
        entry,
        earlier: &earlier,
    };
    Ok(conclude(&case).into_iter().map(Concluded::from).collect())
}

/// Cautions from readings that are no defect: of each rule the last entry
/// speaks, and its day is said.
///
/// # Errors
/// Those of the register.
pub fn standing(store: &Store, stored: &Stored) -> Result<Vec<Caution>, StoreError> {
    let all = entries_of(store, stored)?;
    if all.is_empty() {
        return Ok(Vec::new());
    }
    let subject = subject(store, stored)?;
    let entries: Vec<&Entry> = all.iter().map(|(_, e)| e).collect();
    Ok(lasting(&subject, &entries)
        .into_iter()
        .map(|(c, entry)| {
            let seen = day(entry.on);
            Caution {
                severity: c.level,
                text: format!("{}. Seen {seen}", c.text),
                about: subject.name.clone(),
            }
        })
        .collect())
}

/// Readings that are no defect, still stand and cap questions: of each rule the
/// last entry speaks.
///
/// # Errors
/// Those of the register.
pub fn capping(store: &Store, stored: &Stored) -> Result<Vec<OpenReading>, StoreError> {
    let all = entries_of(store, stored)?;
    if all.is_empty() {
        return Ok(Vec::new());
    }
    let subject = subject(store, stored)?;
    let entries: Vec<&Entry> = all.iter().map(|(_, e)| e).collect();
    let standing = lasting(&subject, &entries).into_iter();
    Ok(standing
        .filter(|(c, _)| !c.caps.is_empty())
        .map(|(c, entry)| OpenReading {
            of: subject_of(&stored.record),
            why: format!("{}, seen {}", c.read(), day(entry.on)),
            bears_on: c.caps,
        })
        .collect())
}

fn day(on: Option<Date>) -> String {
    on.map_or("on a date not recorded".to_string(), Date::spoken)
}

/// The PCB class of a record, by its plate and its tests.
///
/// # Errors
/// Those of the register.
pub fn pcb(store: &Store, stored: &Stored) -> Result<Option<PcbClass>, StoreError> {
    let subject = subject(store, stored)?;
    let tests: Vec<Tested> = entries_of(store, stored)?
        .iter()
        .filter_map(|(_, e)| Some((e.readings.get("pcb_ppm")?.as_number()?, e.on)))
        .collect();
    Ok(class_of(&subject, &tests))
}

/// The PCB class as a line of a card.
///
/// # Errors
/// Those of the register.
pub fn pcb_fact(store: &Store, stored: &Stored) -> Result<Option<Fact>, StoreError> {
    Ok(pcb(store, stored)?.map(|p| Fact {
        provenance: Some(p.source.to_string()),
        ..Fact::new("PCB class", p.text)
    }))
}

/// What to look at before a sample is drawn.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct SamplingReport {
    pub polecard: u32,
    pub of: String,
    /// `regulator`.
    pub what: String,
    pub steps: Vec<Step>,
    #[serde(skip_serializing_if = "Option::is_none")]
    pub pcb: Option<PcbClass>,
    /// STOPs that stand on the record now.
    pub cautions: Vec<Caution>,
    pub notes: Vec<String>,
}

/// The checklist before a sample of the record in a row.
///
/// # Errors
/// When the record has left the register; those of the register.
pub fn before_sampling(store: &Store, rec: i64) -> Result<SamplingReport, Failure> {
    let stored = store
        .by_row(rec)?
        .ok_or_else(|| Failure::not_found("this record has left the register"))?;
    sampling_of(store, &stored)
}

/// The checklist before a sample of the record called `text`.
///
/// # Errors
/// Not found or ambiguous; usage, of a structure, which holds no oil; those of
/// the register.
pub fn before_sampling_of(store: &Store, text: &str) -> Result<SamplingReport, Failure> {
    let found = resolve_among(store, text, INSPECTED)?;
    let mut report = sampling_of(store, &found.stored)?;
    report.notes.extend(found.note);
    Ok(report)
}

fn sampling_of(store: &Store, stored: &Stored) -> Result<SamplingReport, Failure> {
    let subject = subject(store, stored)?;
    let Some(class) = subject.class else {
        return Err(Failure::usage(format!(
            "{} is {}: it holds no oil to sample; name the unit",
            subject.name,
            crate::domain::asset::an(stored.record.kind())
        )));
    };
    let pcb = pcb(store, stored)?;
    let entries = entries_of(store, stored)?;
    let level = entries.iter().rev().find_map(|(_, e)| {
        let word = e.readings.get("oil_level")?.as_text()?;
        Some((e.on, word.to_string()))
    });
    let low = level
        .filter(|(_, w)| w == "below the mark" || w == "not seen")
        .map(|(on, w)| {
            let day = on.map_or(String::new(), |d| format!(", {}", d.spoken()));
            format!("oil level on record: {w}{day}")
        });
    let of = super::facts::subject_of(&stored.record);
    let open = super::facts::defects_of(store, stored, of)?;
    let low = low.or_else(|| {
        let open = open.iter().find(|o| o.defect == Defect::OilBelowMark)?;
        Some(crate::domain::finding::seen(open.defect, open.seen))
    });
    let cautions = open
        .iter()
        .map(|o| crate::domain::finding::defect_caution(o.defect, o.seen, &subject.name))
        .chain(standing(store, stored)?)
        .filter(|c| c.severity == Severity::Stop)
        .collect();
    Ok(SamplingReport {
        polecard: JSON_VERSION,
        what: class.word().to_string(),
        steps: checklist(&subject, pcb.as_ref(), low.as_deref()),
        pcb,
        cautions,
        notes: Vec::new(),
        of: subject.name,
    })
}

/// Open rejects of the structures at which a unit stands now, and what else
/// stops there: a STOP on every device.
///
/// # Errors
/// Those of the register.
pub fn pole_rejects(store: &Store, stored: &Stored) -> Result<Vec<Caution>, StoreError> {
    let Record::Unit(u) = &stored.record else {
        return Ok(Vec::new());
    };
    let mut out = Vec::new();
    for stay in u.present().filter(|d| !d.is_store()) {
        let at = std::slice::from_ref(&stay.at);
        for (_, place) in store.present(Kind::Position, at)? {
            let Record::Position(p) = &place.record else {
                continue;
            };
            let Some(structure) = structure_of(store, p)? else {
                continue;
            };
            let name = structure.record.name();
            let of = super::facts::subject_of(&structure.record);
            let open = super::facts::defects_of(store, &structure, of)?;
            out.extend(super::facts::stops_of(store, &structure)?);
            out.extend(
                open.iter()
                    .filter(|o| o.defect == Defect::PoleReject)
                    .map(|o| crate::domain::finding::defect_caution(o.defect, o.seen, &name)),
            );
        }
    }
    Ok(out)
}
