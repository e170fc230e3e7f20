//! Find, decode and read-back as lines of text.

use super::{Line, Style};
use crate::domain::asset::Kind;
use crate::role::Role;
use crate::work::decode::{DecodeReport, DecodedReading};
use crate::work::find::{FindReport, How, Match};
use crate::work::readback::{ReadBack, Verdict};

/// Widest column of names; longer ones push the rest of their row.
const NAME_COLUMN: usize = 16;

/// The answers to a query: one row a record, its second identifier beside it,
/// with a heading where the answers become guesses.
#[must_use]
pub fn find_lines(report: &FindReport, style: Style) -> Vec<Line> {
    let mut out = Vec::new();
    if let Some(read_as) = &report.read_as {
        let line = Line::of(Role::Label, "read as ").with(Role::Code, read_as);
        out.extend(line.folded(style.width, 8));
    }
    out.extend(missing_lines(report, style));
    if report.matches.is_empty() && report.missing.is_none() {
        let text = format!("nothing in the register is like {:?}", report.query);
        out.extend(Line::of(Role::Plain, text).folded(style.width, 2));
        let text = "Try part of the number, a road, a class of device or a feeder.";
        out.extend(Line::of(Role::Muted, text).folded(style.width, 2));
        return out;
    }
    let column = column(&report.matches);
    let mut before = None;
    for m in &report.matches {
        if let Some(text) = heading(report, m.how).filter(|_| before != Some(m.how)) {
            out.extend(Line::of(Role::Heading, text).folded(style.width, 2));
        }
        before = Some(m.how);
        out.extend(match_row(m, column).folded(style.width, column + 2));
    }
    if report.more {
        let of: Vec<String> = report.more_of.iter().map(|k| format!("{k}s")).collect();
        let text = match of.is_empty() {
            true => "and more; type more of it, or a road or class beside it".to_string(),
            false => format!(
                "and more {}; type more of it, or a road or class beside it",
                of.join(", ").replace("entrys", "entries")
            ),
        };
        out.extend(Line::of(Role::Muted, text).folded(style.width, 2));
    }
    out
}

/// What the records say of a number that is no record's.
fn missing_lines(report: &FindReport, style: Style) -> Vec<Line> {
    let Some(missing) = &report.missing else {
        return Vec::new();
    };
    let text = format!(
        "recorded on {}, which is not in the register:",
        missing.name
    );
    let mut out = Line::of(Role::Heading, text).folded(style.width, 2);
    let column = column(&missing.recorded_on);
    for m in &missing.recorded_on {
        out.extend(match_row(m, column).folded(style.width, column + 2));
    }
    out
}

/// The heading over answers of a sort; none over plain hits.
#[must_use]
pub fn heading(report: &FindReport, how: How) -> Option<String> {
    match how {
        How::Neighbour if report.named() => Some("one mistake away:".to_string()),
        How::Neighbour if report.missing.is_some() => Some(format!(
            "nothing is numbered {}; one mistake away:",
            report.missing.as_ref().map_or("", |m| m.name.as_str())
        )),
        How::Neighbour if report.query.contains(char::is_whitespace) => Some(format!(
            "nothing on record fits {}; one mistake away:",
            report.query
        )),
        How::Neighbour => Some(format!(
            "nothing is numbered {}; one mistake away:",
            report.query
        )),
        How::Alike
            if !report.found() && !report.matches.iter().any(|m| m.how == How::Neighbour) =>
        {
            Some(format!(
                "nothing is called {}; alike in letters only:",
                report.query
            ))
        }
        How::Alike => Some("alike in letters only:".to_string()),
        _ => None,
    }
}

/// Columns that names take in a list.
#[must_use]
pub fn column(matches: &[Match]) -> usize {
    matches
        .iter()
        .map(|m| Line::of(Role::Code, &m.name).width())
        .max()
        .unwrap_or(0)
        .min(NAME_COLUMN)
}

/// One row: the name, what it is, its second identifier, and why it is here.
#[must_use]
pub fn match_row(m: &Match, column: usize) -> Line {
    let mut line = Line::of(Role::Code, &m.name);
    let pad = column.saturating_sub(line.width()) + 2;
    line.push(Role::Plain, " ".repeat(pad));
    line.push(Role::Plain, what(m));
    for (before, part) in second(m) {
        line.push(Role::Plain, ", ");
        line.push(Role::Label, before);
        line.push(Role::Value, part);
    }
    if let Some(because) = &m.because {
        line.push(Role::Muted, format!(" ({because})"));
    }
    line
}

/// What a record is: `recloser`, `recloser unit`, `pole`, `feeder`.
#[must_use]
pub fn what(m: &Match) -> String {
    match (m.kind, &m.also.class) {
        (Kind::Position | Kind::Structure, Some(class)) => class.clone(),
        (kind, Some(class)) => format!("{class} {kind}"),
        (kind, None) => kind.to_string(),
    }
}

/// `scrapped`, `unknown`, `no place on record`.
fn nowhere(at: &str) -> bool {
    ["scrapped", "unknown", "no place"]
        .iter()
        .any(|word| at.starts_with(word))
}

/// The parts of the second identifier after what it is.
fn second(m: &Match) -> Vec<(&'static str, &str)> {
    let also = &m.also;
    let on = match m.kind {
        Kind::Position => "on ",
        // Of what is at no place, only that is said.
        Kind::Unit if also.at.as_deref().is_some_and(nowhere) => "",
        Kind::Unit | Kind::Source => "at ",
        Kind::Feeder => "from ",
        Kind::Order | Kind::Entry => "for ",
        _ => "",
    };
    let parts = [
        ("", &also.road),
        ("", &also.near),
        (on, &also.at),
        ("feeder ", &also.feeder),
    ];
    parts
        .into_iter()
        .filter_map(|(before, part)| Some((before, part.as_deref()?)))
        .collect()
}

/// The readings of a code.
#[must_use]
pub fn decode_lines(report: &DecodeReport, style: Style, all: bool) -> Vec<Line> {
    let mut out = Vec::new();
    if report.readings.is_empty() {
        let text = if report.no_scheme {
            "the register holds no numbering scheme to read by; import one with polecard import"
                .to_string()
        } else {
            format!(
                "{:?} fits no pattern of the numbering schemes",
                report.input
            )
        };
        return Line::of(Role::Plain, text).folded(style.width, 2);
    }
    let shown = if all {
        report.readings.len()
    } else {
        worth_showing(report)
    };
    for (i, reading) in report.readings.iter().take(shown).enumerate() {
        if i > 0 && (i == 1 || reading.in_register || reading.on_record_as.is_some()) {
            out.push(Line::new());
        }
        if i > 0 && reading.on_record_as.is_none() && !reading.in_register {
            out.extend(guess_line(reading, style));
        } else {
            out.extend(reading_lines(reading, style));
        }
    }
    let rest = report.readings.len() - shown;
    if rest > 0 || report.more {
        out.push(Line::new());
        let text = if rest > 0 {
            format!(
                "{rest} other readings assume a mistake or are less likely{}; --all prints them",
                if report.more { " (and more)" } else { "" }
            )
        } else {
            "Further readings, less likely than these, are not listed.".to_string()
        };
        out.extend(Line::of(Role::Muted, text).folded(style.width, 2));
    }
    out
}

/// A code that reads without a mistake is that code; one that does not is
/// shown with the first few readings.
fn worth_showing(report: &DecodeReport) -> usize {
    const FEW: usize = 5;
    let sure = report
        .readings
        .iter()
        .take_while(|r| r.assumed.is_empty())
        .count();
    if sure > 0 {
        sure
    } else {
        report.readings.len().min(FEW)
    }
}

fn reading_lines(reading: &DecodedReading, style: Style) -> Vec<Line> {
    let mut out = Vec::new();
    let head = Line::of(Role::Code, &reading.name).with(
        Role::Plain,
        format!(
            "  {} ({}, {})",
            reading.kind, reading.scheme, reading.pattern
        ),
    );
    out.extend(head.folded(style.width, 2));
    let mut cut = Line::of(Role::Label, "  read    ");
    if let Some(heard) = &reading.heard_as {
        let line = Line::of(Role::Label, "  heard as ").with(Role::Code, heard);
        out.extend(line.folded(style.width, 10));
        // The words are many to a field: each field once, as it was read.
        for (field, text) in &reading.fields {
            cut.push(Role::Label, format!("{field} "));
            cut.push(Role::Value, text.as_str().unwrap_or_default());
            if let Some(meaning) = reading.meanings.get(field) {
                cut.push(Role::Plain, format!(" = {meaning}"));
            }
            cut.push(Role::Plain, "  ");
        }
    }
    let typed = reading.heard_as.is_none();
    for span in reading.spans.iter().filter(|_| typed) {
        match &span.field {
            Some(field) => {
                cut.push(Role::Label, format!("{field} "));
                cut.push(Role::Value, &span.text);
                if let Some(meaning) = reading.meanings.get(field) {
                    cut.push(Role::Plain, format!(" = {meaning}"));
                }
            }
            None => cut.push(Role::Muted, format!("{:?}", span.text)),
        }
        cut.push(Role::Plain, "  ");
    }
    out.extend(cut.folded(style.width, 10));
    let assumed = assumed(reading);
    if !assumed.is_empty() {
        let line = Line::of(Role::Label, "  assumed ").with(Role::Unknown, assumed);
        out.extend(line.folded(style.width, 10));
    }
    let line = Line::of(Role::Label, "  record  ").with(Role::Plain, on_record(reading));
    out.extend(line.folded(style.width, 10));
    out
}

/// A reading that the register does not have: its name and what it assumes.
fn guess_line(reading: &DecodedReading, style: Style) -> Vec<Line> {
    Line::of(Role::Code, &reading.name)
        .with(Role::Plain, "  not in the register; assumed ")
        .with(Role::Unknown, assumed(reading))
        .folded(style.width, 2)
}

/// What was assumed, apart from the reading of words.
fn assumed(reading: &DecodedReading) -> String {
    let skipped = usize::from(reading.heard_as.is_some() && reading.assumed.len() > 1);
    reading.assumed[skipped..].join("; ")
}

fn on_record(reading: &DecodedReading) -> String {
    let also = reading.also.as_ref().map(|a| a.words()).unwrap_or_default();
    match (&reading.on_record_as, reading.in_register) {
        (_, true) if also.is_empty() => "in the register".to_string(),
        (_, true) => format!("in the register: {also}"),
        (Some(how), _) => format!("not a present name; {how}: {also}"),
        (None, false) => "not in the register".to_string(),
    }
}

/// The outcome of a read-back, the verdict first.
#[must_use]
pub fn read_back_lines(back: &ReadBack, style: Style) -> Vec<Line> {
    let mut out = Vec::new();
    let (role, word, text) = verdict(back);
    let line = Line::of(role, word).with(Role::Plain, format!("  {text}"));
    out.extend(line.folded(style.width, word.len() + 2));
    for d in &back.differences {
        out.extend(
            Line::of(Role::Fails, "  - ")
                .with(Role::Plain, &d.words)
                .folded(style.width, 4),
        );
    }
    let labelled = |label: &str, role: Role, text: &str| {
        Line::of(Role::Label, format!("  {label:<9}"))
            .with(role, text)
            .folded(style.width, 11)
    };
    out.extend(labelled("meant", Role::Code, &back.name));
    out.extend(labelled("say", Role::Say, &back.say));
    out.extend(labelled("also", Role::Value, &back.also.words()));
    let heard = match &back.read_as {
        Some(read_as) => format!("{} (read as {read_as})", back.heard),
        None => back.heard.clone(),
    };
    out.extend(labelled("heard", Role::Plain, &heard));
    if !back.others.is_empty() {
        out.push(Line::of(Role::Heading, others_heading(back)));
        let column = column(&back.others);
        for m in &back.others {
            out.extend(match_row(m, column).folded(style.width, column + 2));
        }
    }
    out
}

fn verdict(back: &ReadBack) -> (Role, &'static str, String) {
    let name = &back.name;
    match back.verdict {
        Verdict::Match if !back.number_heard => (
            Role::Within,
            "MATCH",
            format!("the place read back is that of {name}; the number was not read back"),
        ),
        Verdict::Match if !back.words_heard => (
            Role::Within,
            "MATCH",
            format!("{name}; have the road or landmark read back too"),
        ),
        Verdict::Match => (Role::Within, "MATCH", format!("{name} and its place")),
        Verdict::Unclear if !back.differences.is_empty() => (
            Role::Unknown,
            "UNCLEAR",
            format!("only a part of {name} was read back: ask for the whole number"),
        ),
        Verdict::Unclear => (
            Role::Unknown,
            "UNCLEAR",
            format!("it fits {name}, and others as well: ask for more"),
        ),
        Verdict::Mismatch => (
            Role::Fails,
            "MISMATCH",
            format!("not {name}: say it again and have it read back again"),
        ),
    }
}

fn others_heading(back: &ReadBack) -> &'static str {
    match back.others.first().map(|m| m.how) {
        Some(How::Neighbour) => "what was heard is nobody's number; one mistake away:",
        Some(How::Words) => "also there by the words that were heard:",
        _ => "what was heard is:",
    }
}
