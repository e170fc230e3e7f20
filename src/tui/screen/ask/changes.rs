//! What a correction wants of each field, as its draft holds it, and what has
//! changed on record since the form was opened.

use serde_json::Value;

use super::keeping::mark_of;
use super::{Mark, Question, Takes, give_letters};
use crate::calendar::Date;
use crate::domain::asset::ReadFrom;
use crate::domain::change::value_at;
use crate::exchange::Kept;
use crate::present::Line;
use crate::role::Role;
use crate::store::Stored;
use crate::tui::screen::{Desk, record_at};
use crate::work::Failure;
use crate::work::edit::{Asked, Reading, last_change, printed};
use crate::work::fields::EditField;

/// What is wanted of a field.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) enum Wanted {
    Set(String),
    Erase,
    Confirm,
}

impl Wanted {
    /// The keys of the draft under which a field can stand.
    pub(super) fn keys(path: &str) -> [(String, &'static str); 3] {
        ["set", "erase", "confirm"].map(|w| (format!("{w}:{path}"), w))
    }

    pub(super) fn key(&self, path: &str) -> String {
        let word = match self {
            Wanted::Set(_) => "set",
            Wanted::Erase => "erase",
            Wanted::Confirm => "confirm",
        };
        format!("{word}:{path}")
    }

    /// As the draft keeps it.
    pub(super) fn text(&self) -> &str {
        match self {
            Wanted::Set(text) => text,
            Wanted::Erase | Wanted::Confirm => "yes",
        }
    }

    /// For people.
    pub(super) fn said(&self) -> String {
        match self {
            Wanted::Set(text) => format!("-> {text}"),
            Wanted::Erase => "-> ERASED".to_string(),
            Wanted::Confirm => "confirmed as is".to_string(),
        }
    }
}

/// What the draft wants of a field.
pub(super) fn wanted(kept: &Kept, path: &str) -> Option<Wanted> {
    let answers = &kept.draft.answers;
    Wanted::keys(path).into_iter().find_map(|(key, word)| {
        let text = answers.get(&key)?;
        Some(match word {
            "set" => Wanted::Set(text.clone()),
            "erase" => Wanted::Erase,
            _ => Wanted::Confirm,
        })
    })
}

/// How it shows beside a field, and whether it is on the disk.
pub(super) fn answered(kept: &Kept, path: &str) -> (Option<String>, Mark) {
    match wanted(kept, path) {
        Some(want) => (
            Some(want.said()),
            mark_of(kept, &want.key(path), Some(want.text())),
        ),
        None => (None, Mark::None),
    }
}

/// A question a field: its value, standing and last change beside it.
pub(super) fn field_questions(fields: &[EditField]) -> Vec<Question> {
    fields
        .iter()
        .map(|f| {
            let takes = if !f.choices.is_empty() {
                Takes::Choice(f.choices.clone())
            } else if f.figure {
                Takes::Figure
            } else {
                Takes::Text
            };
            let mut q = Question::new(&f.path, &f.label, takes).allowing(&f.rule);
            q.may_be_unknown = f.plate || f.path.starts_with("settings");
            let shown = printed(f.seen.get("value").unwrap_or(&f.seen));
            q.before = match (shown.as_str(), f.standing.as_str()) {
                (value, "") => value.to_string(),
                (value, standing) => format!("{value}, {standing}"),
            };
            q.more = vec![f.last.as_ref().map_or_else(
                || "not changed since it was first recorded".to_string(),
                |last| format!("changed by {last}"),
            )];
            if f.label != f.path {
                q.more.push(f.path.clone());
            }
            q
        })
        .collect()
}

/// What is asked once for all fields.
pub(super) fn reason_questions(desk: &Desk) -> Vec<Question> {
    let from = ["plate", "photo", "drawing"].map(String::from).to_vec();
    let today = desk.clock.today().to_string();
    let text = |key: &str, label: &str, allowed: &str| {
        Question::new(key, label, Takes::Text).allowing(allowed)
    };
    let mut out = vec![
        text("why", "why", "the reason; it is asked for always"),
        Question::new("from", "read from", Takes::Choice(from)),
        text(
            "by",
            "read by",
            "who read the plate values; you when left empty",
        )
        .before(desk.who),
        text(
            "on",
            "read on",
            "the day, as 2026-10-03; today when left empty",
        )
        .before(&today),
        text(
            "assumed",
            "assumed by rule",
            "in place of a reading: the rule by which the plate values are assumed",
        ),
        text(
            "effective",
            "holds from",
            "the day from which it holds in the field; the day of entry when left empty",
        ),
        text(
            "second",
            "second person",
            "who confirms it, where a rating rises, a defect is cleared, a PCB class is lowered or a name changes; recorded as declared",
        ),
    ];
    for q in &mut out {
        let wanted = match q.key.as_str() {
            "why" => 'w',
            "from" => 'f',
            "by" => 'b',
            "on" => 'o',
            "assumed" => 'a',
            "effective" => 'd',
            _ => 's',
        };
        q.letter = Some(wanted);
    }
    give_letters(&mut out);
    out
}

/// Whether a reason can be one.
pub(super) fn settled_reason(key: &str, text: &str, today: Date) -> Result<String, String> {
    if !matches!(key, "on" | "effective") {
        return Ok(text.to_string());
    }
    let day: Date = text
        .parse()
        .map_err(|e| format!("{e}; a day is written as {today}"))?;
    if key == "on" && day > today {
        return Err(format!("{day} lies in the future; today is {today}"));
    }
    Ok(day.to_string())
}

/// The edit that the draft asks for.
///
/// # Errors
/// The question that still needs an answer, and why.
pub(super) fn to_write(
    fields: &[EditField],
    kept: &Kept,
    desk: &Desk,
) -> Result<Asked, (&'static str, String)> {
    let answers = &kept.draft.answers;
    let text = |key: &str| answers.get(key).map(|t| t.trim()).filter(|t| !t.is_empty());
    let day = |key: &str| text(key).and_then(|t| t.parse::<Date>().ok());
    let mut asked = Asked {
        why: text("why")
            .ok_or(("why", "an edit needs a reason".to_string()))?
            .to_string(),
        effective: day("effective"),
        assumed: text("assumed").map(str::to_string),
        second: text("second").map(str::to_string),
        ..Asked::default()
    };
    asked.reading = text("from").and_then(from_word).map(|from| Reading {
        by: text("by").unwrap_or(desk.who).to_string(),
        from,
        on: day("on").unwrap_or_else(|| desk.clock.today()),
    });
    let mut reader = false;
    for f in fields {
        let Some(want) = wanted(kept, &f.path) else {
            continue;
        };
        let seen = kept.draft.seen.get(&f.path).unwrap_or(&f.seen);
        asked.expect.push(format!("{}={}", f.path, printed(seen)));
        match want {
            Wanted::Set(text) => {
                reader |= f.plate && text != "unknown";
                asked.set.push(format!("{}={text}", f.path));
            }
            Wanted::Erase => asked.erase.push(f.path.clone()),
            Wanted::Confirm => {
                if asked.reading.is_none() {
                    return Err((
                        "from",
                        "confirmed from what: plate, photo or drawing?".into(),
                    ));
                }
                asked.confirm.push(f.path.clone());
            }
        }
    }
    if reader && asked.reading.is_none() && asked.assumed.is_none() {
        let why = "a plate value says from what it was read, or by which rule it is assumed";
        return Err(("from", why.to_string()));
    }
    Ok(asked)
}

fn from_word(word: &str) -> Option<ReadFrom> {
    [ReadFrom::Plate, ReadFrom::Photo, ReadFrom::Drawing]
        .into_iter()
        .find(|f| f.word() == word)
}

/// A field that somebody changed while the form was open.
pub(super) struct Clash {
    pub path: String,
    label: String,
    then: Value,
    pub now: Value,
    /// Who changed it, when and why.
    by: String,
    mine: String,
}

/// The fields wanted that are not any more as they were seen.
pub(super) fn clashes(
    of: &Stored,
    fields: &[EditField],
    kept: &Kept,
    desk: &Desk,
) -> Result<Vec<Clash>, Failure> {
    let fresh = record_at(of.rec, desk)?;
    let record = fresh.record.to_value();
    let mut out = Vec::new();
    for f in fields {
        let Some(want) = wanted(kept, &f.path) else {
            continue;
        };
        let then = kept.draft.seen.get(&f.path).unwrap_or(&f.seen);
        let now = value_at(&record, &f.path);
        if now == then {
            continue;
        }
        let by = last_change(desk.store, &fresh, &f.path)?
            .map_or(String::new(), |(who, when, why)| {
                format!("{who}, {when}: {why}")
            });
        out.push(Clash {
            path: f.path.clone(),
            label: f.label.clone(),
            then: then.clone(),
            now: now.clone(),
            by,
            mine: want.said(),
        });
    }
    Ok(out)
}

/// Both values of each clash.
pub(super) fn clash_lines(clashes: &[Clash], marked: usize, width: u16) -> Vec<Line> {
    let width = usize::from(width.saturating_sub(2));
    let head = Line::of(Role::Look, "CHANGED").with(
        Role::Plain,
        " by somebody else since this form was opened. Look at both and choose.",
    );
    let mut out = head.folded(width, 0);
    let keys = Line::of(Role::Key, "t")
        .with(Role::Plain, " the record's value stays, ")
        .with(Role::Key, "w")
        .with(Role::Plain, " yours is written over it");
    out.extend(keys.folded(width, 0));
    for (i, c) in clashes.iter().enumerate() {
        out.push(Line::new());
        let mark = if i == marked { "> " } else { "  " };
        out.push(Line::of(Role::Code, mark).with(Role::Code, &c.label));
        let rows = [
            ("you saw    ", printed(&c.then)),
            ("record now ", printed(&c.now)),
            ("changed by ", c.by.clone()),
            ("you want   ", c.mine.clone()),
        ];
        for (label, value) in rows {
            let line = Line::of(Role::Label, format!("    {label}")).with(Role::Value, value);
            out.extend(line.folded(width, 15));
        }
    }
    out
}
