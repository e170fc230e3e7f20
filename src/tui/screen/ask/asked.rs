//! The readings of a form as questions, and their answers as an entry.

use std::collections::BTreeMap;

use super::pick::Pick;
use super::{Question, Takes};
use crate::domain::asset::{Depth, Stated};
use crate::domain::form::Reading;
use crate::exchange::Kept;
use crate::work::inspect::{Sheet, asked, defects, settled};
use crate::work::log::Asked;

/// Lines that every inspection has beside its readings.
pub(super) const FINDS: &str = "finds";
pub(super) const NOTE: &str = "note";
pub(super) const ON: &str = "on";
pub(super) const DEPTH: &str = "depth";
/// Whether a last result is by the method answered: one by another, or at
/// another gap, never stands beside it.
pub(super) fn by_same_method(method: &str, last: &str) -> bool {
    let mut words = method.splitn(2, ' ');
    let name = words.next().unwrap_or_default();
    last.contains(name) && words.next().is_none_or(|gap| last.contains(gap))
}

pub(super) fn depths() -> Pick {
    let of = |d: &Depth| {
        let what = match d {
            Depth::Patrol => "seen in passing, nothing opened or measured",
            Depth::Detailed => "each part looked at and read, from outside",
            Depth::Intrusive => "opened, sampled, bored or measured",
        };
        (d.word().to_string(), what.to_string())
    };
    Pick::of(Depth::ALL.iter().map(of).collect())
}

pub(super) fn depth_of(kept: &Kept) -> Option<Depth> {
    Depth::from_word(kept.draft.answers.get(DEPTH)?)
}

pub(super) fn is_asked(kept: &Kept, reading: &Reading) -> bool {
    asked(reading, |key| {
        kept.draft.answers.get(key).map(String::as_str)
    })
}

pub(super) fn questions(form: &Sheet, depth: Option<Depth>) -> Vec<Question> {
    let mut out: Vec<Question> = form
        .form
        .readings
        .iter()
        .filter(|r| depth.is_none_or(|d| r.is_asked_at(d)))
        .map(|r| question(form, r))
        .collect();
    let text = |key: &str, label: &str, letter: char, allowed: &str| {
        let mut q = Question::new(key, label, Takes::Text).allowing(allowed);
        q.letter = Some(letter);
        q
    };
    out.push(text(
        FINDS,
        "defects found",
        'f',
        "first letters of each, parted by commas: oil below mark, oil leak, cracked porcelain, …",
    ));
    out.push(text(NOTE, "note", 'n', "in a few words"));
    let day = "a day, as 2026-10-03; today when left empty";
    out.push(text(ON, "day it was done", 'y', day));
    out
}

pub(super) fn question(form: &Sheet, r: &Reading) -> Question {
    let takes = match (r.limits, r.choices.is_empty()) {
        (Some(_), _) => Takes::Figure,
        (None, false) => Takes::Choice(r.choices.clone()),
        (None, true) => Takes::Text,
    };
    let label = if r.unit.is_empty() {
        r.label.clone()
    } else {
        format!("{}, {}", r.label, r.unit)
    };
    let mut q = Question::new(&r.reading, &label, takes).allowing(&r.allowed());
    q.letter = r.key;
    q.may_be_unknown = true;
    if let Some(last) = form.last.get(&r.reading) {
        let on = last.on.map_or("undated".to_string(), |d| d.spoken());
        q.before = format!("{}, {on}", last.shown);
    }
    if !r.words.is_empty() {
        let words: Vec<String> = r.words.iter().map(|(n, w)| format!("{n} {w}")).collect();
        q.more.push(words.join(", "));
    }
    if let Some(with) = &r.with {
        q.more.push(format!("says nothing without {with}"));
    }
    q
}

/// Whether an answer can be one; in the words of the form.
pub(super) fn check(form: &Sheet, key: &str, text: &str) -> Result<String, String> {
    match key {
        NOTE => Ok(text.to_string()),
        FINDS => defects(text),
        ON => text
            .parse::<crate::calendar::Date>()
            .map(|d| d.to_string())
            .map_err(|e| e.to_string()),
        _ => match form.form.readings.iter().find(|r| r.reading == key) {
            Some(reading) => settled(reading, text),
            None => Ok(text.to_string()),
        },
    }
}

/// The answers that count: of a reading that is not asked any more none.
pub(super) fn counted<'k>(
    form: &'k Sheet,
    kept: &'k Kept,
) -> impl Iterator<Item = (&'k Reading, &'k str)> {
    let readings = form.form.readings.iter().filter(|r| is_asked(kept, r));
    readings.filter_map(|r| Some((r, kept.draft.answers.get(&r.reading)?.as_str())))
}

pub(super) fn readings(form: &Sheet, kept: &Kept) -> BTreeMap<String, Stated> {
    counted(form, kept)
        .filter_map(|(r, a)| Some((r.reading.clone(), r.read(a).ok()?)))
        .collect()
}

pub(super) fn to_write(form: &Sheet, kept: &Kept) -> Asked {
    let answers = &kept.draft.answers;
    let mut set: Vec<String> = counted(form, kept)
        .map(|(r, a)| format!("{}={a}", r.reading))
        .collect();
    for key in [FINDS, NOTE] {
        set.extend(answers.get(key).map(|a| format!("{key}={a}")));
    }
    Asked {
        set,
        on: answers.get(ON).and_then(|d| d.parse().ok()),
        depth: depth_of(kept),
        ..Asked::default()
    }
}
