//! Reports from the field as text: one in a row, alike ones together, and one
//! beside the record as it is now.

use serde_json::Value;

use super::{Line, Style};
use crate::domain::report::{Standing, bare, ranges};
use crate::role::Role;
use crate::work::edit::printed;
use crate::work::reports::{
    DecisionLine, DecisionReport, FieldLine, FiledReport, Group, How, ListReport, Prepared,
    ReportLine, ShowReport,
};

/// From this width on what is on record and what is reported stand side by side.
const BESIDE: usize = 60;
/// Most columns of the labels there.
const LABEL: usize = 22;

/// A value without who read it; that nobody has is said.
fn short(value: &Value) -> String {
    match value.get("standing").and_then(Value::as_str) {
        Some(standing) if value.get("value").is_some() => {
            format!("{} {standing}", printed(bare(value)))
        }
        _ => printed(bare(value)),
    }
}

/// `a -> b` of every field.
#[must_use]
pub fn change_words(fields: &[FieldLine]) -> String {
    let parts: Vec<String> = fields
        .iter()
        .map(|f| format!("{}: {} -> {}", f.field, short(&f.seen), short(&f.wanted)))
        .collect();
    parts.join("; ")
}

/// What a report says, in a few words.
#[must_use]
pub fn gist(r: &ReportLine) -> String {
    if r.about.is_none() {
        format!("not on record: {}", r.why)
    } else if r.fields.is_empty() {
        format!("note: {}", r.why)
    } else {
        change_words(&r.fields)
    }
}

/// What must be seen before a report is taken in: nothing when it is as the
/// reporter saw it.
#[must_use]
pub fn caution(r: &ReportLine) -> Option<String> {
    if r.about.as_ref().is_some_and(|a| a.gone) {
        return Some("the record has left the register since".to_string());
    }
    let f = r.fields.iter().find(|f| f.changed_since)?;
    Some(if f.on_record {
        format!("{} on record by now", f.field)
    } else {
        format!("changed since: now {}", short(&f.now))
    })
}

/// A report as a row of a list: its record first.
#[must_use]
pub fn row(r: &ReportLine) -> Line {
    row_saying(r, &gist(r))
}

/// A report as a row among alike ones: what tells it from the others.
#[must_use]
pub fn row_among(r: &ReportLine, how: How) -> Line {
    match (how, r.fields.as_slice(), &r.about) {
        (How::SameChange, _, Some(about)) => row_saying(r, &about.also),
        (How::SameField, [f], _) => {
            row_saying(r, &format!("{} -> {}", short(&f.seen), short(&f.wanted)))
        }
        _ => row(r),
    }
}

fn row_saying(r: &ReportLine, what: &str) -> Line {
    let mut line = Line::of(Role::Plain, format!("{} ", r.name()));
    if let Some(caution) = caution(r).filter(|_| r.state.is_open()) {
        line.push(Role::Look, "LOOK");
        line.push(Role::Plain, format!(" {caution}; "));
    }
    if !r.state.is_open() || r.state == Standing::Undone {
        line.push(Role::Plain, format!("{}: ", r.state));
    }
    line.push(Role::Plain, what);
    line.push(Role::Plain, format!("  #{} by {}", r.no, r.by()));
    line
}

/// Alike reports as a row of a list: how many first.
#[must_use]
pub fn group_row(g: &Group) -> Line {
    let mut line = Line::of(Role::Plain, format!("{} alike ", g.reports.len()));
    if g.changed_since > 0 {
        line.push(Role::Look, "LOOK");
        line.push(Role::Plain, format!(" {} changed since; ", g.changed_since));
    }
    line.push(Role::Plain, group_words(g));
    line
}

/// What a group has in common.
#[must_use]
pub fn group_words(g: &Group) -> String {
    let what = match &g.class {
        Some(class) if class != g.kind.word() => format!("{class} {}s", g.kind),
        _ => format!("{}s", g.kind),
    };
    let change = match g.how {
        How::SameField => format!("{}, each to its own value", g.field),
        How::SameChange => g
            .field
            .split(", ")
            .zip(g.seen.iter().zip(&g.wanted))
            .map(|(field, (old, new))| format!("{field}: {} -> {}", short(old), short(new)))
            .collect::<Vec<_>>()
            .join("; "),
    };
    format!("{what}, {change}")
}

/// Reports, one after another, or the alike ones together.
#[must_use]
pub fn list_lines(r: &ListReport, style: Style, alike: bool) -> Vec<Line> {
    if r.reports.is_empty() {
        return vec![Line::of(Role::Plain, "No report is waiting.")];
    }
    let mut out = Vec::new();
    let mut grouped = std::collections::HashSet::new();
    if alike {
        for g in &r.groups {
            grouped.extend(g.reports.iter().copied());
            out.extend(group_row(g).folded(style.width, 4));
            let line = format!("    reports {}", ranges(&g.reports));
            out.extend(Line::of(Role::Muted, line).folded(style.width, 4));
            if g.how == How::SameField {
                // Their values differ: each must be seen.
                let each = r.reports.iter().filter(|l| g.reports.contains(&l.no));
                for one in each.map(|l| row_among(l, g.how)) {
                    let mut line = Line::of(Role::Plain, "    ");
                    line.pieces.extend(one.pieces);
                    out.extend(line.folded(style.width, 8));
                }
            }
        }
    }
    for one in r.reports.iter().filter(|l| !grouped.contains(&l.no)) {
        out.extend(entry(one).iter().flat_map(|l| l.folded(style.width, 6)));
    }
    out
}

fn entry(r: &ReportLine) -> Vec<Line> {
    let mut head = Line::of(Role::Value, format!("{:>4}  ", r.no)).with(Role::Code, r.name());
    if let Some(about) = &r.about {
        head.push(Role::Plain, format!("  {}", about.also));
    }
    let by = format!("      {}, {}, by {}", r.state, r.filed.spoken(), r.by());
    let mut out = vec![head, Line::of(Role::Plain, format!("      {}", gist(r)))];
    if let Some(caution) = caution(r).filter(|_| r.state.is_open()) {
        out.push(
            Line::of(Role::Plain, "      ")
                .with(Role::Look, "LOOK")
                .with(Role::Plain, format!(" {caution}")),
        );
    }
    out.push(Line::of(Role::Muted, by));
    out
}

/// One report beside the record as it is now.
#[must_use]
pub fn show_lines(s: &ShowReport, style: Style) -> Vec<Line> {
    let r = &s.report;
    let mut out = Vec::new();
    let mut head = Line::of(Role::Code, r.name()).with(Role::Plain, format!("  report {}, ", r.no));
    head.push(Role::Heading, r.state.word());
    out.push(head);
    if let Some(caution) = caution(r).filter(|_| r.state.is_open()) {
        out.push(Line::of(Role::Look, "LOOK").with(Role::Plain, format!(" {caution}")));
    }
    let by = format!("{}, by {}", r.filed.spoken(), r.by());
    out.push(Line::of(Role::Label, "filed ").with(Role::Plain, by));
    out.push(Line::of(Role::Label, "why ").with(Role::Plain, &r.why));
    if let Some(read) = &r.read {
        let text = format!(
            "{} from {}, {}",
            read.by,
            read.from.word(),
            read.on.spoken()
        );
        out.push(Line::of(Role::Label, "read by ").with(Role::Plain, text));
    }
    out = out.iter().flat_map(|l| l.folded(style.width, 2)).collect();
    out.push(Line::new());
    out.extend(beside(s, style.width));
    let mut tail = Vec::new();
    for c in &s.since {
        tail.push(
            Line::of(Role::Label, format!("{} changed ", c.field))
                .with(Role::Plain, format!("by {}, {}: {}", c.who, c.when, c.why)),
        );
    }
    tail.extend(s.decisions.iter().map(decision_line));
    if !s.alike.is_empty() {
        let text = format!("{}: reports {}", s.alike.len(), ranges(&s.alike));
        tail.push(Line::of(Role::Label, "alike ").with(Role::Plain, text));
    }
    out.extend(tail.iter().flat_map(|l| l.folded(style.width, 2)));
    out
}

fn decision_line(d: &DecisionLine) -> Line {
    let mut line = Line::of(Role::Label, format!("{} ", d.what));
    line.push(Role::Plain, format!("by {}, {}", d.who, d.at.spoken()));
    if let Some(why) = &d.why {
        line.push(Role::Plain, format!(": {why}"));
    }
    for p in &d.put {
        line.push(
            Role::Plain,
            format!("; put {} = {}", p.field, printed(&p.value)),
        );
    }
    if let Some(op) = &d.operation {
        line.push(Role::Muted, format!("  operation {op}"));
    }
    line
}

/// Label, on record now, as reported.
type Pair = (String, String, String);

fn pairs(s: &ShowReport) -> Vec<Pair> {
    let r = &s.report;
    let mut out: Vec<Pair> = Vec::new();
    if let Some(about) = &r.about {
        let name_now = about.name_now.clone().unwrap_or_else(|| about.name.clone());
        let (name_now, also_now) = match (&s.also_now, about.gone) {
            (Some(also), false) => (name_now, also.clone()),
            _ => ("left the register".to_string(), String::new()),
        };
        out.push(("is".to_string(), name_now, about.name.clone()));
        out.push(("also".to_string(), also_now, about.also.clone()));
    } else if let Some(mark) = &r.unlisted {
        out.push((
            "bears".to_string(),
            "not on record".to_string(),
            mark.clone(),
        ));
    }
    for f in &r.fields {
        out.push((f.field.clone(), printed(&f.now), printed(&f.wanted)));
        if f.changed_since {
            out.push((
                "  on record then".to_string(),
                printed(&f.seen),
                String::new(),
            ));
        }
    }
    out
}

/// What is on record beside what is reported; under each other where it is narrow.
fn beside(s: &ShowReport, width: usize) -> Vec<Line> {
    let pairs = pairs(s);
    if width < BESIDE {
        return stacked(&pairs, width);
    }
    let longest = pairs.iter().map(|(l, ..)| l.chars().count()).max();
    let label_wide = (longest.unwrap_or(0) + 2).min(LABEL);
    let column = (width - label_wide) / 2;
    let mut out = vec![Line::of(
        Role::Label,
        format!("{:label_wide$}{:column$}reported", "", "on record now"),
    )];
    for (label, now, reported) in &pairs {
        let fold = |text: &str| Line::of(Role::Plain, text).folded(column - 2, 0);
        let labels = Line::of(Role::Label, label).folded(label_wide - 2, 2);
        let (now, reported) = (fold(now), fold(reported));
        for i in 0..labels.len().max(now.len()).max(reported.len()) {
            let mut line = Line::new();
            for (lines, wide, role) in [
                (&labels, label_wide, Role::Label),
                (&now, column, Role::Plain),
                (&reported, 0, Role::Value),
            ] {
                let piece = lines.get(i).cloned().unwrap_or_default();
                let pad = wide.saturating_sub(piece.width());
                line.push(role, piece.plain());
                line.push(Role::Plain, " ".repeat(pad));
            }
            out.push(line);
        }
    }
    out
}

fn stacked(pairs: &[Pair], width: usize) -> Vec<Line> {
    let mut out = Vec::new();
    // What is proposed first: a small screen ends soon.
    let (whose, fields): (Vec<&Pair>, Vec<&Pair>) = pairs
        .iter()
        .partition(|(label, ..)| matches!(label.as_str(), "is" | "also"));
    for (label, now, reported) in fields.into_iter().chain(whose) {
        let mut lines = Vec::new();
        if label == "is" && now == reported {
            continue;
        }
        if label == "also" && now == reported {
            lines.push(Line::of(Role::Label, "also ").with(Role::Plain, now));
        } else if reported.is_empty() {
            let then = Line::of(Role::Label, format!("{label} ")).with(Role::Plain, now);
            lines.push(then);
        } else {
            lines.push(Line::of(Role::Heading, label));
            lines.push(Line::of(Role::Label, "  now ").with(Role::Plain, now));
            lines.push(Line::of(Role::Label, "  reported ").with(Role::Value, reported));
        }
        out.extend(lines.iter().flat_map(|l| l.folded(width, 4)));
    }
    out
}

/// What was filed.
#[must_use]
pub fn filed_lines(r: &FiledReport) -> Vec<Line> {
    let mut out = vec![
        Line::of(Role::Plain, format!("Filed as report {}: ", r.no))
            .with(Role::Code, &r.name)
            .with(Role::Plain, format!("  {}", r.also)),
    ];
    for f in &r.fields {
        out.push(
            Line::of(Role::Label, format!("  {}: ", f.field))
                .with(Role::Plain, printed(&f.on_record))
                .with(Role::Plain, " -> ")
                .with(Role::Value, printed(&f.proposed)),
        );
    }
    out.extend(
        r.notes
            .iter()
            .map(|n| Line::of(Role::Plain, format!("  {n}"))),
    );
    out.push(Line::of(Role::Label, "why ").with(Role::Plain, &r.why));
    out.push(Line::of(
        Role::Muted,
        "The register is as it was; the records clerk decides.",
    ));
    out
}

/// What was decided, in a sentence.
#[must_use]
pub fn decided_words(r: &DecisionReport) -> String {
    let mut numbers: Vec<i64> = r.decided.iter().map(|t| t.no).collect();
    numbers.sort_unstable();
    let word = if numbers.len() == 1 {
        "report"
    } else {
        "reports"
    };
    let mut out = format!("{} {word} {}: {}", numbers.len(), r.what, ranges(&numbers));
    if !r.left.is_empty() {
        out.push_str(&format!("; {} left waiting", r.left.len()));
    }
    out
}

/// What was decided, and what still waits.
#[must_use]
pub fn decision_lines(r: &DecisionReport, style: Style) -> Vec<Line> {
    let mut out = vec![Line::of(Role::Plain, decided_words(r))];
    for left in &r.left {
        out.push(Line::of(Role::Look, "LEFT").with(
            Role::Plain,
            format!(" {} {}: {}", left.no, left.name, left.why),
        ));
    }
    if !r.why.is_empty() {
        out.push(Line::of(Role::Label, "why ").with(Role::Plain, &r.why));
    }
    if let Some(op) = &r.operation {
        let word = if r.changes == 1 { "change" } else { "changes" };
        let text = format!(" with {} {word}", r.changes);
        out.push(
            Line::of(Role::Label, "operation ")
                .with(Role::Value, op)
                .with(Role::Plain, text),
        );
        out.push(Line::of(
            Role::Muted,
            "To take all of it back: polecard undo, with this operation's id",
        ));
    }
    out.iter().flat_map(|l| l.folded(style.width, 2)).collect()
}

/// Who may file reports now.
#[must_use]
pub fn prepared_lines(r: &Prepared, group: &str) -> Vec<Line> {
    let mut out = vec![
        Line::of(Role::Label, "reports file ").with(Role::Plain, &r.path),
        Line::of(
            Role::Plain,
            format!(
                "group {group} may add reports to it (permissions {})",
                r.mode
            ),
        ),
    ];
    out.extend(
        r.cautions
            .iter()
            .map(|c| Line::of(Role::Look, "LOOK").with(Role::Plain, format!(" {c}"))),
    );
    out
}
