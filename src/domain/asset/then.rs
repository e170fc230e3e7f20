//! A record as it was on a day by the dates that stand inside it: stays,
//! names, states, entries and orders carry their own.

use super::{Deployment, Name, OrderState, Record, State};
use crate::calendar::Date;

/// A record on a day. `replayed` is what the operations in force on that day
/// make of it, `latest` what all of them do; `states` are the states that it
/// was ever recorded in. `None` when it was not there yet by its own date.
#[must_use]
pub fn on_day(replayed: Record, latest: &Record, states: &[State], day: Date) -> Option<Record> {
    let mut out = replayed;
    match (&mut out, latest) {
        (Record::Unit(u), Record::Unit(l)) => {
            u.deployments = stays(&u.deployments, &l.deployments, day);
            u.names = names(&u.names, day);
        }
        (Record::Structure(s), _) => {
            s.names = names(&s.names, day);
            s.hazards.retain(|h| h.seen.is_none_or(|seen| seen <= day));
        }
        (Record::Position(p), _) => {
            p.names = names(&p.names, day);
            p.holds.retain(|h| h.from.date() <= day);
            let then = states.iter().filter(|s| s.at.date() <= day);
            p.state = then.max_by_key(|s| s.at.unix_millis()).cloned();
        }
        (Record::Entry(e), _) if e.on.is_some_and(|on| on > day) => return None,
        (Record::Order(o), _) => {
            if o.opened.is_some_and(|opened| opened > day) {
                return None;
            }
            if o.closed.is_some_and(|closed| closed > day) {
                o.closed = None;
                if matches!(o.state, OrderState::Done | OrderState::Void) {
                    o.state = OrderState::Open;
                }
            }
        }
        _ => {}
    }
    Some(out)
}

/// Dated stays as they are known now, undated ones as they were written then.
fn stays(then: &[Deployment], latest: &[Deployment], day: Date) -> Vec<Deployment> {
    let undated = then.iter().filter(|d| d.from.is_none());
    let dated = latest.iter().filter(|d| d.from.is_some_and(|f| f <= day));
    let mut out: Vec<Deployment> = undated.chain(dated).cloned().collect();
    for stay in &mut out {
        stay.to = stay.to.filter(|to| *to <= day);
    }
    out
}

fn names(names: &[Name], day: Date) -> Vec<Name> {
    let mut out: Vec<Name> = names
        .iter()
        .filter(|n| n.from.is_none_or(|from| from <= day))
        .cloned()
        .collect();
    for name in &mut out {
        name.to = name.to.filter(|to| *to <= day);
    }
    out
}

/// Whether a date inside a record lies after a day: such a record is another
/// one on that day, even where no operation touched it since.
#[must_use]
pub fn dated_after(record: &Record, day: Date) -> bool {
    let after = |d: Option<Date>| d.is_some_and(|d| d > day);
    let of_names = |names: &[Name]| names.iter().any(|n| after(n.from) || after(n.to));
    match record {
        Record::Unit(u) => {
            of_names(&u.names) || u.deployments.iter().any(|d| after(d.from) || after(d.to))
        }
        Record::Structure(s) => of_names(&s.names) || s.hazards.iter().any(|h| after(h.seen)),
        Record::Position(p) => {
            of_names(&p.names)
                || p.holds.iter().any(|h| h.from.date() > day)
                || p.state.as_ref().is_some_and(|s| s.at.date() > day)
        }
        Record::Entry(e) => after(e.on),
        Record::Order(o) => after(o.opened) || after(o.closed),
        _ => false,
    }
}

#[cfg(test)]
mod tests {
    use super::super::Kind;
    use super::*;
    use serde_json::{Value, json};

    fn record(kind: Kind, value: Value) -> Record {
        Record::from_value(kind, value).unwrap()
    }

    fn then(record: &Record, day: &str) -> Option<Value> {
        let day = day.parse().unwrap();
        on_day(record.clone(), record, &[], day).map(|r| r.to_value())
    }

    #[test]
    fn stays_names_entries_and_orders_count_by_their_own_dates() {
        let unit = record(
            Kind::Unit,
            json!({"unit": "7-1", "class": "recloser",
                "names": [{"text": "7-0", "to": "2026-03-10"}],
                "deployments": [{"at": "shop", "to": "2018-06-04"},
                    {"at": "HB2-RC-14", "from": "2018-06-04", "to": "2026-03-10"},
                    {"at": "stock", "from": "2026-03-10"}]}),
        );
        let march = then(&unit, "2026-03-09").unwrap();
        assert_eq!(march["deployments"].as_array().unwrap().len(), 2);
        assert!(march["deployments"][1].get("to").is_none());
        assert!(march["names"][0].get("to").is_none());
        assert_eq!(then(&unit, "2026-03-10").unwrap(), unit.to_value());
        assert!(dated_after(&unit, "2026-03-09".parse().unwrap()));
        assert!(!dated_after(&unit, "2026-03-10".parse().unwrap()));
        let entry = record(
            Kind::Entry,
            json!({"entry": "note", "of": "7-1", "on": "2026-03-10"}),
        );
        assert!(then(&entry, "2026-03-09").is_none());
        assert!(then(&entry, "2026-03-10").is_some());
        let order = record(
            Kind::Order,
            json!({"order": "2231", "of": "7-1", "state": "done", "priority": "soon", "need": "refill",
                "opened": "2026-02-01", "closed": "2026-03-10"}),
        );
        assert_eq!(then(&order, "2026-03-09").unwrap()["state"], "open");
        assert_eq!(then(&order, "2026-03-10").unwrap()["state"], "done");
        assert!(then(&order, "2026-01-31").is_none());
    }
}
