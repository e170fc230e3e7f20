//! What was written, taken back, and what the log says, as text.

use super::concluded::{concluded_lines, order_lines};
use super::text::Line;
use crate::role::Role;
use crate::work::edit::{EditReport, changes_in};
use crate::work::history::{HistoryReport, OperationLine};
use crate::work::log::LogReport;
use crate::work::undo::UndoReport;

/// Old and new of each field, the reason and the operation.
#[must_use]
pub fn edit_lines(r: &EditReport) -> Vec<Line> {
    let mut out = vec![Line::of(Role::Code, &r.name).with(Role::Plain, format!("  {}", r.kind))];
    for c in &r.changes {
        for said in changes_in(&c.field, &c.old, &c.new) {
            let (label, rest) = said.split_once(": ").unwrap_or((&c.field, &said));
            out.push(Line::of(Role::Label, format!("  {label}: ")).with(Role::Plain, rest));
        }
    }
    for note in &r.notes {
        out.push(Line::of(Role::Plain, format!("  {note}")));
    }
    if let Some(op) = &r.operation {
        out.push(Line::of(Role::Label, "why ").with(Role::Plain, &r.why));
        if let Some(day) = r.effective {
            out.push(Line::of(Role::Label, "effective ").with(Role::Plain, day.spoken()));
        }
        out.push(Line::of(Role::Label, "operation ").with(Role::Value, op));
        out.push(Line::of(
            Role::Muted,
            "To take it back: polecard undo, with this operation's id",
        ));
    }
    out
}

/// What was taken back.
#[must_use]
pub fn undo_lines(r: &UndoReport) -> Vec<Line> {
    vec![
        Line::of(Role::Plain, format!("Undone: {}", r.undone_why)),
        Line::of(
            Role::Plain,
            format!(
                "  entered by {}, {}; {} changes taken back",
                r.undone_who,
                r.undone_entered.spoken(),
                r.changes
            ),
        ),
        Line::of(Role::Label, "operation ").with(Role::Value, &r.operation),
    ]
}

/// Operations, newest first.
#[must_use]
pub fn history_lines(r: &HistoryReport) -> Vec<Line> {
    let mut out = Vec::new();
    match &r.of {
        Some(of) => out.push(
            Line::of(Role::Heading, "History of ")
                .with(Role::Code, &of.name)
                .with(Role::Plain, format!("  {}  {}", of.kind, of.id)),
        ),
        None => out.push(Line::of(Role::Heading, "History of the register")),
    }
    for note in &r.notes {
        out.push(Line::of(Role::Plain, note));
    }
    for op in &r.operations {
        out.extend(operation_lines(op));
    }
    if r.operations.is_empty() {
        out.push(Line::of(Role::Plain, "Nothing is in the log."));
    }
    if r.more {
        out.push(Line::of(
            Role::Muted,
            "There is more; ask for it with --limit N",
        ));
    }
    out.push(Line::of(Role::Label, "chain head ").with(Role::Value, &r.chain_head));
    out
}

/// One operation: when and who, why, each change, what became of it.
#[must_use]
pub fn operation_lines(op: &OperationLine) -> Vec<Line> {
    let mut head = Line::of(Role::Value, op.entered.utc_and_offset())
        .with(Role::Plain, "  ")
        .with(Role::Code, &op.who);
    if let Some(day) = op.effective {
        head.push(Role::Plain, format!("  from {}", day.spoken()));
    }
    let mut out = vec![head, Line::of(Role::Plain, format!("  {}", op.why))];
    for c in &op.changes {
        let what = match &c.field {
            Some(field) => changes_in(field, &c.old, &c.new).join("; "),
            None => c.what.to_string(),
        };
        out.push(
            Line::of(Role::Plain, "    ")
                .with(Role::Code, &c.name)
                .with(Role::Plain, format!("  {what}")),
        );
    }
    let shown = i64::try_from(op.changes.len()).unwrap_or(i64::MAX);
    if shown < op.changes_in_all {
        out.push(Line::of(
            Role::Muted,
            format!("    {} changes in all", op.changes_in_all),
        ));
    }
    let mut tail = Line::of(Role::Muted, format!("  operation {}", op.operation));
    if let Some(u) = &op.undoes {
        tail.push(Role::Muted, format!(", takes back {u}"));
    }
    if let Some(u) = &op.undone_by {
        tail.push(Role::Muted, format!(", taken back by {u}"));
    }
    if let Some(o) = &op.origin {
        tail.push(Role::Muted, format!(", out of {o}"));
    }
    out.push(tail);
    out
}

/// An entry as it was written, each reading beside the last one.
#[must_use]
pub fn log_lines(r: &LogReport) -> Vec<Line> {
    let mut out = vec![Line::of(Role::Code, &r.of).with(
        Role::Plain,
        match r.depth {
            Some(depth) => format!("  {depth} {}, {}, by {}", r.entry, r.on.spoken(), r.by),
            None => format!("  {}, {}, by {}", r.entry, r.on.spoken(), r.by),
        },
    )];
    for reading in &r.readings {
        let mut line = Line::of(Role::Label, format!("  {}: ", reading.label))
            .with(Role::Value, &reading.shown);
        if let Some(last) = &reading.last {
            let on = reading
                .last_on
                .map_or("undated".to_string(), crate::calendar::Date::spoken);
            line.push(Role::Muted, format!("   last {last}, {on}"));
        }
        out.push(line);
    }
    for (what, list) in [("found", &r.finds), ("cleared", &r.clears)] {
        let words: Vec<&str> = list.iter().map(|d| d.word()).collect();
        if !words.is_empty() {
            out.push(Line::of(
                Role::Look,
                format!("  {what}: {}", words.join(", ")),
            ));
        }
    }
    out.extend(
        r.note
            .iter()
            .map(|n| Line::of(Role::Plain, format!("  {n}"))),
    );
    for s in &r.standing {
        let text = s.text.strip_prefix("STOP ").unwrap_or(&s.text);
        out.push(Line::of(Role::Stop, "  STOP ").with(Role::Plain, text));
        if !s.looked_at {
            continue;
        }
        out.push(Line::of(
            Role::Muted,
            format!(
                "       a second person clears it: log {} maintenance clears={:?} --second WHO",
                s.of,
                s.defect.word()
            ),
        ));
    }
    out.extend(concluded_lines(&r.concluded));
    out.extend(order_lines(&r.orders));
    out.extend(
        r.notes
            .iter()
            .map(|n| Line::of(Role::Look, format!("  LOOK {n}"))),
    );
    out.push(Line::of(Role::Label, "operation ").with(Role::Value, &r.operation));
    out
}
