//! Notices whose rule cannot mean what it says.

use super::{Detector, Given, MEANING, Run};
use crate::domain::asset::{Notice, Record};
use crate::domain::finding::RuleStanding;
use crate::domain::nameplate::{notice_is_empty, serials_backwards};

pub(super) static DETECTORS: &[Detector] = &[
    Detector {
        name: "notice-without-rule",
        looks_at: "the rule of each notice",
        why: "It names no class, model, year or serial, so it stands first on the card of every unit and is soon read by nobody.",
        fix: "Write what it is about: `hits.class`, `hits.model`, `hits.made_from`, `hits.serial_from`.",
        source: MEANING,
        standing: RuleStanding::Read,
        run: Run::Record(without_rule),
    },
    Detector {
        name: "notice-rule-backwards",
        looks_at: "years, serials and days of each notice, the first against the last",
        why: "No unit and no day can lie between them, so the notice warns of nothing.",
        fix: "Read the bulletin again and put the two the right way round.",
        source: MEANING,
        standing: RuleStanding::Read,
        run: Run::Record(backwards),
    },
];

fn notice(record: &Record) -> Option<&Notice> {
    match record {
        Record::Notice(n) => Some(n),
        _ => None,
    }
}

fn without_rule(record: &Record, _: &Given) -> Vec<String> {
    notice(record)
        .filter(|n| notice_is_empty(&n.hits))
        .map(|_| "has a rule without a limit: it hits every unit".to_string())
        .into_iter()
        .collect()
}

fn backwards(record: &Record, _: &Given) -> Vec<String> {
    let Some(n) = notice(record) else {
        return Vec::new();
    };
    let mut out = Vec::new();
    if let (Some(from), Some(to)) = (n.hits.made_from, n.hits.made_to)
        && from.get() > to.get()
    {
        out.push(format!(
            "hits units made from {:.0} to {:.0}: no year lies between",
            from.get(),
            to.get()
        ));
    }
    if let (Some(from), Some(to)) = (&n.hits.serial_from, &n.hits.serial_to)
        && serials_backwards(&n.hits)
    {
        out.push(format!(
            "hits serials from {from} to {to}: none lies between"
        ));
    }
    if let (Some(from), Some(until)) = (n.from, n.until)
        && from > until
    {
        out.push(format!("stands from {from} until {until}: on no day"));
    }
    out
}
