//! Notices: which units each hits, which it may hit because a plate is unread,
//! and who has read it.

use serde::Serialize;

use super::also::also;
use super::{Failure, JSON_VERSION, is_demo, resolve_among};
use crate::calendar::{Date, Moment};
use crate::domain::asset::{Class, Defect, Kind, Notice, NoticeRule, ReadBy, Record, Unit};
use crate::domain::change::{Change, Edit, Operation};
use crate::domain::nameplate::{Reach, notice_is_empty, notice_reach, notice_stands};
use crate::store::{Store, StoreError, Stored, fresh_id};

/// Units read at a time.
const PAGE: usize = 2_000;
/// How often a reading is written again when somebody else read meanwhile.
const TRIES: usize = 20;

/// A unit that a notice hits or may hit.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct HitLine {
    pub unit: String,
    /// Permanent id.
    pub id: String,
    /// Row in the register.
    #[serde(skip)]
    pub rec: i64,
    pub class: Class,
    /// At a position now; not in a shop, on a truck or scrapped.
    pub in_service: bool,
    pub feeder: Option<String>,
    /// Where it is: position, road, landmark.
    pub also: String,
    /// Limits that cannot be told; empty for a sure hit.
    pub unread: Vec<&'static str>,
}

/// A notice with what it hits.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct NoticeCard {
    pub notice: String,
    /// Permanent id.
    pub id: String,
    /// Row in the register.
    #[serde(skip)]
    pub rec: i64,
    pub text: String,
    pub rule: NoticeRule,
    /// The rule in words.
    pub about: String,
    pub from: Option<Date>,
    pub until: Option<Date>,
    /// `stands`, `not yet`, `ended`.
    pub state: &'static str,
    /// The defect that each hit counts as while it stands.
    pub bears_like: Option<Defect>,
    pub hits: Vec<HitLine>,
    /// Their plates do not tell whether they are hit.
    pub may_hit: Vec<HitLine>,
    pub read_by: Vec<ReadBy>,
    /// Whether the actor is among them.
    pub read_by_you: bool,
}

/// Notices; its JSON is the document printed.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct NoticesReport {
    pub polecard: u32,
    /// The utility is made up.
    pub demo: bool,
    /// Those that stand first, the newest before the older.
    pub notices: Vec<NoticeCard>,
}

/// A notice marked as read.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct ReadReport {
    pub polecard: u32,
    /// The operation that was written; absent when it was read before.
    pub operation: Option<String>,
    pub notice: String,
    pub who: String,
    pub on: Date,
}

/// Every notice, or the one called `name`, with what it hits. `who` is the
/// actor.
///
/// # Errors
/// Not found; those of the register.
pub fn notices(
    store: &Store,
    name: Option<&str>,
    who: &str,
    today: Date,
) -> Result<NoticesReport, Failure> {
    let found = match name {
        Some(name) => vec![resolve_among(store, name, &[Kind::Notice])?.stored],
        None => store.all(Kind::Notice)?,
    };
    let mut cards: Vec<NoticeCard> = found
        .iter()
        .filter_map(|s| match &s.record {
            Record::Notice(n) => Some(card(s.rec, n, who, today)),
            _ => None,
        })
        .collect();
    fill(store, &mut cards)?;
    cards.sort_by_key(|c| {
        (
            c.state != "stands",
            c.state == "ended",
            std::cmp::Reverse(c.from),
            c.notice.clone(),
        )
    });
    Ok(NoticesReport {
        polecard: JSON_VERSION,
        demo: is_demo(store)?,
        notices: cards,
    })
}

fn card(rec: i64, n: &Notice, who: &str, today: Date) -> NoticeCard {
    NoticeCard {
        notice: n.notice.clone(),
        id: n.id.to_string(),
        rec,
        text: n.text.clone(),
        rule: n.hits.clone(),
        about: about(&n.hits),
        from: n.from,
        until: n.until,
        state: state(n, today),
        bears_like: n.bears_like,
        hits: Vec::new(),
        may_hit: Vec::new(),
        read_by: n.read_by.clone(),
        read_by_you: n.read_by.iter().any(|r| r.who == who),
    }
}

fn state(n: &Notice, today: Date) -> &'static str {
    if notice_stands(n, today) {
        "stands"
    } else if n.until.is_some_and(|until| until < today) {
        "ended"
    } else {
        "not yet"
    }
}

/// A rule in words: `recloser, model type 3, made 1990 to 1995`.
fn about(rule: &NoticeRule) -> String {
    if notice_is_empty(rule) {
        return "every unit: the rule names no limit".to_string();
    }
    let mut out: Vec<String> = Vec::new();
    out.push(rule.class.map_or("any class", Class::word).to_string());
    out.extend(rule.model.as_ref().map(|m| format!("model {m}")));
    let year = |y: Option<crate::units::Year>| y.map(|y| format!("{:.0}", y.get()));
    out.extend(between("made", year(rule.made_from), year(rule.made_to)));
    out.extend(between(
        "serial",
        rule.serial_from.clone(),
        rule.serial_to.clone(),
    ));
    out.join(", ")
}

fn between(what: &str, from: Option<String>, to: Option<String>) -> Option<String> {
    match (from, to) {
        (Some(from), Some(to)) => Some(format!("{what} {from} to {to}")),
        (Some(from), None) => Some(format!("{what} {from} or later")),
        (None, Some(to)) => Some(format!("{what} {to} or earlier")),
        (None, None) => None,
    }
}

/// Holds every unit against every rule, a page of units at a time.
fn fill(store: &Store, cards: &mut [NoticeCard]) -> Result<(), Failure> {
    if cards.is_empty() {
        return Ok(());
    }
    let mut after: Option<(String, i64)> = None;
    loop {
        let from = after.as_ref().map(|(name, rec)| (name.as_str(), *rec));
        let page = store.page(Kind::Unit, from, PAGE)?;
        let Some(last) = page.last() else {
            break;
        };
        after = Some((last.record.name(), last.rec));
        for card in cards.iter_mut() {
            let (units, unread): (Vec<Stored>, Vec<Vec<&'static str>>) = page
                .iter()
                .filter_map(|s| Some((s.clone(), reached(s, &card.rule)?)))
                .unzip();
            for ((unit, unread), also) in units.iter().zip(unread).zip(also(store, &units)?) {
                if let Record::Unit(u) = &unit.record {
                    let line = line(unit.rec, u, unread, &also);
                    if line.unread.is_empty() {
                        card.hits.push(line);
                    } else {
                        card.may_hit.push(line);
                    }
                }
            }
        }
    }
    for card in cards {
        for list in [&mut card.hits, &mut card.may_hit] {
            list.sort_by_key(|l| (!l.in_service, l.feeder.clone(), l.unit.clone()));
        }
    }
    Ok(())
}

/// What of the rule cannot be told of a unit; none when it is not hit.
fn reached(stored: &Stored, rule: &NoticeRule) -> Option<Vec<&'static str>> {
    let Record::Unit(unit) = &stored.record else {
        return None;
    };
    match notice_reach(rule, unit) {
        Reach::Misses => None,
        Reach::MayHit(unread) => Some(unread),
        Reach::Hits => Some(Vec::new()),
    }
}

fn line(rec: i64, u: &Unit, unread: Vec<&'static str>, also: &super::find::Also) -> HitLine {
    let parts = [&also.at, &also.road, &also.near];
    HitLine {
        unit: u.unit.clone(),
        id: u.id.to_string(),
        rec,
        class: u.class,
        in_service: u.present().any(|d| !d.is_store()),
        feeder: also.feeder.clone(),
        also: parts
            .into_iter()
            .flatten()
            .map(String::as_str)
            .collect::<Vec<_>>()
            .join(", "),
        unread,
    }
}

/// Records that the actor has read a notice; one operation, none when it was
/// read before.
///
/// # Errors
/// Not found; those of the register.
pub fn read_notice(
    store: &mut Store,
    name: &str,
    who: &str,
    now: Moment,
) -> Result<ReadReport, Failure> {
    for _ in 0..TRIES {
        let stored = resolve_among(store, name, &[Kind::Notice])?.stored;
        let Record::Notice(notice) = &stored.record else {
            break;
        };
        let mut report = ReadReport {
            polecard: JSON_VERSION,
            operation: None,
            notice: notice.notice.clone(),
            who: who.to_string(),
            on: now.date(),
        };
        if let Some(before) = notice.read_by.iter().find(|r| r.who == who) {
            report.on = before.on;
            return Ok(report);
        }
        let mut after = notice.clone();
        after.read_by.push(ReadBy {
            who: who.to_string(),
            on: now.date(),
        });
        let operation = Operation {
            id: fresh_id(now),
            who: who.to_string(),
            entered: now,
            effective: None,
            why: format!("notice {} read by {who}", notice.notice),
            origin: None,
            undoes: None,
        };
        let field = |n: &Notice| {
            let list = Record::from(n.clone()).to_value();
            crate::domain::change::value_at(&list, "read_by").clone()
        };
        let edit = Edit {
            id: notice.id,
            kind: Kind::Notice,
            field: "read_by".to_string(),
            old: field(notice),
            new: field(&after),
        };
        match store.apply(&operation, [Ok::<_, StoreError>(Change::Edit(edit))]) {
            // Somebody else read it in the same breath: both have.
            Err(StoreError::Conflict { .. }) => continue,
            other => other?,
        };
        report.operation = Some(operation.id.to_string());
        return Ok(report);
    }
    Err(Failure::unusable(format!(
        "{name}: others write without a pause; that you read it was not recorded"
    ))
    .hint("try again"))
}
