//! A swap, planned or done, and a merge, as text.

use super::block::{row, styled};
use super::{Line, Style};
use crate::domain::finding::Severity;
use crate::role::Role;
use crate::work::edit::{changes_in, printed};
use crate::work::merge::MergeReport;
use crate::work::swap::{Moved, SwapReport};

/// What goes where, what to look at, and the operation once there is one.
#[must_use]
pub fn lines(r: &SwapReport, style: Style) -> Vec<Line> {
    let width = style.width.max(20);
    let mut head = Line::of(Role::Plain, " ").with(Role::Code, &r.position);
    if let Some(slot) = &r.slot {
        head.push(Role::Plain, format!("  slot {slot}"));
    }
    head.push(Role::Plain, format!("  {}", r.on.spoken()));
    let mut out = head.folded(width, 3);
    out.extend(cautions(r, Severity::Stop, width));
    for (label, moved) in [("out", &r.out), ("in", &r.into)] {
        match moved {
            Some(m) => out.extend(row(Role::Label, label, &way(m), width)),
            None => out.extend(row(Role::Label, label, "none", width)),
        }
    }
    out.extend(cautions(r, Severity::Look, width));
    out.extend(row(
        Role::Label,
        "stays",
        "settings and state on record stay with the position; plate, counters, tests and entries go with the unit",
        width,
    ));
    for o in &r.orders {
        let text = format!("{} {}, {}: {}", o.order, o.state, o.stays, o.need);
        out.extend(row(Role::Look, "order", &text, width));
    }
    if let (Some(why), None) = (&r.needs_second, &r.operation) {
        let text = format!("needs a second person: {why}");
        out.extend(row(Role::Stop, "STOP", &text, width));
    }
    out.extend(row(Role::Label, "why", &r.why, width));
    for note in &r.notes {
        out.extend(row(Role::Label, "note", note, width));
    }
    if let Some(op) = &r.operation {
        out.extend(row(Role::Label, "done", &format!("operation {op}"), width));
    }
    styled(out, style)
}

fn cautions(r: &SwapReport, severity: Severity, width: usize) -> Vec<Line> {
    let (role, word) = match severity {
        Severity::Stop => (Role::Stop, "STOP"),
        Severity::Look => (Role::Look, "LOOK"),
    };
    r.cautions
        .iter()
        .filter(|c| c.severity == severity)
        .flat_map(|c| row(role, word, &format!("{}: {}", c.about, c.text), width))
        .collect()
}

fn way(m: &Moved) -> String {
    let from = if m.from.is_empty() {
        "no place on record".to_string()
    } else {
        m.from.join(" and ")
    };
    format!("{}: {from} -> {}", m.unit, m.to)
}

/// What was put together.
#[must_use]
pub fn merge_lines(r: &MergeReport, style: Style) -> Vec<Line> {
    let width = style.width.max(20);
    let mut out = Line::of(Role::Plain, " ")
        .with(Role::Code, &r.dropped)
        .with(
            Role::Plain,
            if r.applied {
                " is now part of "
            } else {
                " would become part of "
            },
        )
        .with(Role::Code, &r.name)
        .with(Role::Plain, format!(", a {}", r.kind))
        .folded(width, 3);
    for c in &r.changes {
        for text in changes_in(&c.field, &c.old, &c.new) {
            out.extend(row(Role::Label, "", &text, width));
        }
    }
    for c in &r.lost {
        let text = format!(
            "LOST {}: {} (kept: {})",
            c.field,
            printed(&c.old),
            printed(&c.new)
        );
        out.extend(row(Role::Look, "LOOK", &text, width));
    }
    out.extend(moved(r, width));
    for note in &r.notes {
        out.extend(row(Role::Label, "note", note, width));
    }
    out.extend(row(Role::Label, "why", &r.why, width));
    let done = if r.applied {
        format!("operation {}", r.operation)
    } else {
        "nothing yet: leave out --dry-run to write it".to_string()
    };
    out.extend(row(Role::Label, "done", &done, width));
    styled(out, style)
}

/// Names of a kind that are spelled out.
const NAMED: usize = 10;

/// What moves over, by kind and name.
fn moved(r: &MergeReport, width: usize) -> Vec<Line> {
    let mut kinds: Vec<_> = r.moved.iter().map(|m| m.kind).collect();
    kinds.sort_unstable();
    kinds.dedup();
    let mut out = Vec::new();
    for kind in kinds {
        let names: Vec<&str> = r
            .moved
            .iter()
            .filter(|m| m.kind == kind)
            .map(|m| m.name.as_str())
            .collect();
        let more = names.len().saturating_sub(NAMED);
        let mut text = format!(
            "{kind} ({}): {}",
            names.len(),
            names[..names.len().min(NAMED)].join("; ")
        );
        if more > 0 {
            text.push_str(&format!("; and {more} more"));
        }
        out.extend(row(Role::Label, "moves", &text, width));
    }
    out
}
