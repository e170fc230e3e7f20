//! Which defects are still open, and which units a notice hits.

use std::cmp::Ordering;

use crate::calendar::Date;
use crate::domain::asset::{Defect, Entry, Notice, NoticeRule, Standing, Unit};
use crate::domain::code::fold;
use crate::domain::finding::Sighted;

/// Defects found and not cleared since, each with the days it was seen.
/// Entries come with the order in which they were entered. A clearing counts
/// when it is dated later, or entered later where a date is missing or equal;
/// an entry that finds and clears the same defect leaves it cleared.
#[must_use]
pub fn open_defects(entries: &[(i64, &Entry)]) -> Vec<(Defect, Sighted)> {
    let mut out: Vec<(Defect, Sighted)> = Vec::new();
    for (entered, found) in entries {
        for defect in &found.finds {
            let cleared = entries.iter().any(|(later, entry)| {
                entry.clears.contains(defect) && follows((entry.on, *later), (found.on, *entered))
            });
            if cleared {
                continue;
            }
            match out.iter_mut().find(|(d, _)| d == defect) {
                Some((_, seen)) => seen.again(found.on),
                None => out.push((*defect, Sighted::once(found.on))),
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

/// How a notice's rule stands to a unit.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Reach {
    /// Something recorded takes the unit out of the rule.
    Misses,
    /// Nothing takes it out, and these limits cannot be told: what they rest
    /// on is unread, assumed, or written in another style. Treated as a hit
    /// until somebody reads the plate.
    MayHit(Vec<&'static str>),
    /// Every limit is met.
    Hits,
}

/// Holds a unit against a notice's rule. Unread and assumed values never take
/// a unit out of a notice. A rule without a limit hits every unit.
#[must_use]
pub fn notice_reach(rule: &NoticeRule, unit: &Unit) -> Reach {
    if rule.class.is_some_and(|class| class != unit.class) {
        return Reach::Misses;
    }
    let limits = [
        ("model", model(rule, unit)),
        ("year made", made(rule, unit)),
        ("serial", serial(rule, unit)),
    ];
    if limits.iter().any(|(_, l)| *l == Limit::Contradicted) {
        return Reach::Misses;
    }
    let unread: Vec<&'static str> = limits
        .iter()
        .filter(|(_, l)| *l == Limit::NotTold)
        .map(|(name, _)| *name)
        .collect();
    if unread.is_empty() {
        Reach::Hits
    } else {
        Reach::MayHit(unread)
    }
}

/// Whether a rule names no limit at all.
#[must_use]
pub fn notice_is_empty(rule: &NoticeRule) -> bool {
    *rule == NoticeRule::default()
}

/// Whether no serial can lie between the two given.
#[must_use]
pub fn serials_backwards(rule: &NoticeRule) -> bool {
    match (&rule.serial_from, &rule.serial_to) {
        (Some(from), Some(to)) => by_serial(from, to) == Ordering::Greater,
        _ => false,
    }
}

#[derive(Clone, Copy, PartialEq, Eq)]
enum Limit {
    Free,
    Met,
    Contradicted,
    NotTold,
}

/// An assumed value does not take a unit out.
fn met(yes: bool, standing: Standing) -> Limit {
    match (yes, standing) {
        (true, _) => Limit::Met,
        (false, Standing::Known) => Limit::Contradicted,
        (false, _) => Limit::NotTold,
    }
}

fn model(rule: &NoticeRule, unit: &Unit) -> Limit {
    let Some(wanted) = &rule.model else {
        return Limit::Free;
    };
    let stated = unit.nameplate.stated("model");
    match stated.as_text() {
        None => Limit::NotTold,
        Some(model) => met(fold(wanted) == fold(model), stated.standing),
    }
}

fn made(rule: &NoticeRule, unit: &Unit) -> Limit {
    if rule.made_from.is_none() && rule.made_to.is_none() {
        return Limit::Free;
    }
    let year = unit.nameplate.stated("made_year");
    let day = unit.nameplate.stated("made_on");
    let by_day = day
        .as_text()
        .and_then(|t| t.parse::<Date>().ok())
        .map(|d| (f64::from(d.year()), day.standing));
    let Some((year, standing)) = year.as_number().map(|y| (y, year.standing)).or(by_day) else {
        return Limit::NotTold;
    };
    met(
        rule.made_from.is_none_or(|f| year >= f.get())
            && rule.made_to.is_none_or(|t| year <= t.get()),
        standing,
    )
}

fn serial(rule: &NoticeRule, unit: &Unit) -> Limit {
    let (from, to) = (rule.serial_from.as_deref(), rule.serial_to.as_deref());
    if from.is_none() && to.is_none() {
        return Limit::Free;
    }
    let stated = unit.nameplate.stated("serial");
    let Some(serial) = stated.as_text() else {
        return Limit::NotTold;
    };
    // Letters before the figures on one side only: another style, no order.
    let lettered = |t: &str| !serial_key(t).0.is_empty();
    if [from, to]
        .into_iter()
        .flatten()
        .any(|end| lettered(end) != lettered(serial))
    {
        return Limit::NotTold;
    }
    met(
        from.is_none_or(|f| by_serial(serial, f) != Ordering::Less)
            && to.is_none_or(|t| by_serial(serial, t) != Ordering::Greater),
        stated.standing,
    )
}

/// Order of serials: numbers by size, the rest as text.
fn by_serial(a: &str, b: &str) -> Ordering {
    serial_key(a).cmp(&serial_key(b))
}

/// What stands before the last figures, how many figures, and the figures.
fn serial_key(serial: &str) -> (String, usize, String) {
    let s = serial.trim().to_ascii_uppercase();
    let head = s.trim_end_matches(|c: char| c.is_ascii_digit()).to_string();
    let tail = s[head.len()..].trim_start_matches('0').to_string();
    (head, tail.len(), tail)
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
        let may = |limits: &[&'static str]| Reach::MayHit(limits.to_vec());
        assert_eq!(
            notice_reach(&rule, &unit),
            may(&["model", "year made", "serial"]),
            "nothing read takes it out"
        );
        unit.nameplate.set("model", text("q-x")).unwrap();
        assert_eq!(notice_reach(&rule, &unit), may(&["year made", "serial"]));
        unit.nameplate.set("serial", text("999")).unwrap();
        assert_eq!(notice_reach(&rule, &unit), may(&["year made"]));
        unit.nameplate.set("serial", text("S-999")).unwrap();
        assert_eq!(notice_reach(&rule, &unit), may(&["year made", "serial"]));
        unit.nameplate.set("serial", text("1001")).unwrap();
        assert_eq!(notice_reach(&rule, &unit), Reach::Misses);
        unit.nameplate.remove("serial");
        let year = |y: f64| Stated::number(y);
        unit.nameplate.set("made_year", year(1996.0)).unwrap();
        assert_eq!(notice_reach(&rule, &unit), Reach::Misses);
        let guess = Stated::assumed(1996.0, "by frame");
        unit.nameplate.set("made_year", guess).unwrap();
        assert_eq!(notice_reach(&rule, &unit), may(&["year made", "serial"]));
        unit.nameplate.set("made_year", year(1990.0)).unwrap();
        unit.nameplate.set("serial", text("0999")).unwrap();
        assert_eq!(notice_reach(&rule, &unit), Reach::Hits);
        unit.class = Class::Switch;
        assert_eq!(notice_reach(&rule, &unit), Reach::Misses);
        let all = NoticeRule::default();
        assert!(notice_is_empty(&all) && notice_reach(&all, &unit) == Reach::Hits);
    }
}
