//! Which defects are still open, and which units a notice hits.

use std::cmp::Ordering;

use crate::calendar::Date;
use crate::domain::asset::{Defect, Entry, Notice, NoticeRule, Unit};

/// Defects found and not cleared since, each with the day it was last seen.
/// Entries come with the order in which they were entered. A clearing counts
/// when it is dated later, or entered later where a date is missing or equal;
/// an entry that finds and clears the same defect leaves it cleared.
#[must_use]
pub fn open_defects(entries: &[(i64, &Entry)]) -> Vec<(Defect, Option<Date>)> {
    let mut out: Vec<(Defect, Option<Date>)> = Vec::new();
    for (entered, found) in entries {
        for defect in &found.finds {
            let cleared = entries.iter().any(|(later, entry)| {
                entry.clears.contains(defect) && follows((entry.on, *later), (found.on, *entered))
            });
            if cleared {
                continue;
            }
            match out.iter_mut().find(|(d, _)| d == defect) {
                Some((_, seen)) => *seen = (*seen).max(found.on),
                None => out.push((*defect, found.on)),
            }
        }
    }
    out
}

fn follows(clearing: (Option<Date>, i64), finding: (Option<Date>, i64)) -> bool {
    match (clearing.0, finding.0) {
        (Some(c), Some(f)) if c != f => c > f,
        _ => clearing.1 >= finding.1,
    }
}

/// Whether a notice stands on a day.
#[must_use]
pub fn notice_stands(notice: &Notice, today: Date) -> bool {
    notice.from.is_none_or(|from| from <= today) && notice.until.is_none_or(|until| today <= until)
}

/// Whether a notice's rule hits a unit: the class matches, nothing recorded
/// speaks against it, and at least one further limit, if there is any, is met.
/// An unread year does not take a unit out of a notice.
#[must_use]
pub fn notice_hits(rule: &NoticeRule, unit: &Unit) -> bool {
    if rule.class.is_some_and(|class| class != unit.class) {
        return false;
    }
    let limits = [model(rule, unit), made(rule, unit), serial(rule, unit)];
    let given: Vec<Limit> = limits
        .into_iter()
        .filter(|l| *l != Limit::NotGiven)
        .collect();
    if given.is_empty() {
        return rule.class.is_some();
    }
    !given.contains(&Limit::Contradicted) && given.contains(&Limit::Met)
}

#[derive(Clone, Copy, PartialEq, Eq)]
enum Limit {
    NotGiven,
    Met,
    Contradicted,
    Unread,
}

fn met(yes: bool) -> Limit {
    if yes { Limit::Met } else { Limit::Contradicted }
}

fn model(rule: &NoticeRule, unit: &Unit) -> Limit {
    match (&rule.model, unit.nameplate.text("model")) {
        (None, _) => Limit::NotGiven,
        (Some(_), None) => Limit::Unread,
        (Some(a), Some(b)) => met(a.trim().eq_ignore_ascii_case(b.trim())),
    }
}

fn made(rule: &NoticeRule, unit: &Unit) -> Limit {
    if rule.made_from.is_none() && rule.made_to.is_none() {
        return Limit::NotGiven;
    }
    let by_day = unit
        .nameplate
        .text("made_on")
        .and_then(|t| t.parse::<Date>().ok())
        .map(|d| f64::from(d.year()));
    match unit.nameplate.number("made_year").or(by_day) {
        None => Limit::Unread,
        Some(year) => met(rule.made_from.is_none_or(|f| year >= f.get())
            && rule.made_to.is_none_or(|t| year <= t.get())),
    }
}

fn serial(rule: &NoticeRule, unit: &Unit) -> Limit {
    if rule.serial_from.is_none() && rule.serial_to.is_none() {
        return Limit::NotGiven;
    }
    let Some(serial) = unit.nameplate.text("serial") else {
        return Limit::Unread;
    };
    let from = rule.serial_from.as_deref();
    let to = rule.serial_to.as_deref();
    met(from.is_none_or(|f| by_serial(serial, f) != Ordering::Less)
        && to.is_none_or(|t| by_serial(serial, t) != Ordering::Greater))
}

/// Order of serials: numbers by size, the rest as text.
fn by_serial(a: &str, b: &str) -> Ordering {
    let key = |s: &str| {
        let s = s.trim().to_ascii_uppercase();
        let head = s.trim_end_matches(|c: char| c.is_ascii_digit()).to_string();
        let tail = s[head.len()..].trim_start_matches('0').to_string();
        (head, tail.len(), tail)
    };
    key(a).cmp(&key(b))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::domain::asset::{Class, EntryKind, RecordId, Stated};

    fn entry(on: Option<&str>, finds: &[Defect], clears: &[Defect]) -> Entry {
        Entry {
            depth: None,
            entry: EntryKind::Inspection,
            id: RecordId::default(),
            of: "U".into(),
            on: on.map(|d| d.parse().unwrap()),
            by: None,
            readings: std::collections::BTreeMap::new(),
            finds: finds.to_vec(),
            clears: clears.to_vec(),
            note: None,
        }
    }

    fn open(entries: &[Entry]) -> Vec<Defect> {
        let numbered: Vec<(i64, &Entry)> = (0..).zip(entries).collect();
        open_defects(&numbered)
            .into_iter()
            .map(|(d, _)| d)
            .collect()
    }

    const OIL: Defect = Defect::OilBelowMark;

    #[test]
    fn a_defect_stays_open_until_a_later_entry_clears_it() {
        let found = entry(Some("2026-05-01"), &[OIL], &[]);
        let before = entry(Some("2025-05-01"), &[], &[OIL]);
        let after = entry(Some("2026-06-01"), &[], &[OIL]);
        assert_eq!(open(&[found.clone(), before.clone()]), [OIL]);
        assert_eq!(open(&[found.clone(), before, after.clone()]), []);
        let again = entry(Some("2026-07-01"), &[OIL], &[]);
        assert_eq!(open(&[again, after, found]), [OIL]);
    }

    #[test]
    fn without_dates_the_order_of_entry_decides() {
        let found = entry(None, &[OIL], &[]);
        let cleared = entry(None, &[], &[OIL]);
        assert_eq!(open(&[found.clone(), cleared.clone()]), []);
        assert_eq!(open(&[cleared, found]), [OIL]);
    }

    #[test]
    fn a_notice_hits_by_every_limit_and_an_unread_year_does_not_let_a_unit_out() {
        let mut unit = Unit {
            unit: "U".into(),
            id: RecordId::default(),
            class: Class::Recloser,
            names: vec![],
            nameplate: crate::domain::asset::Nameplate::new(),
            deployments: vec![],
            note: None,
        };
        let text = |t: &str| Stated::known(crate::domain::asset::Plain::Text(t.into()));
        let rule = NoticeRule {
            class: Some(Class::Recloser),
            model: Some("QX".into()),
            made_from: Some(crate::units::Year::new(1990.0).unwrap()),
            made_to: Some(crate::units::Year::new(1995.0).unwrap()),
            serial_from: None,
            serial_to: Some("1000".into()),
        };
        assert!(!notice_hits(&rule, &unit), "nothing read, nothing met");
        unit.nameplate.set("model", text("qx")).unwrap();
        assert!(notice_hits(&rule, &unit));
        unit.nameplate.set("serial", text("999")).unwrap();
        assert!(notice_hits(&rule, &unit), "999 comes before 1000");
        unit.nameplate.set("serial", text("1001")).unwrap();
        assert!(!notice_hits(&rule, &unit));
        unit.nameplate.remove("serial");
        unit.nameplate
            .set("made_year", Stated::number(1996.0))
            .unwrap();
        assert!(!notice_hits(&rule, &unit));
        unit.class = Class::Switch;
        assert!(!notice_hits(&rule, &unit));
    }
}
