//! What the readings mean, as text.

use super::text::Line;
use crate::domain::finding::Severity;
use crate::role::Role;
use crate::work::conclude::{Concluded, SamplingReport};
use crate::work::orders::OrderReport;

const fn role(level: Severity) -> Role {
    match level {
        Severity::Stop => Role::Stop,
        Severity::Look => Role::Look,
    }
}

/// Each conclusion with its rule, source and standing, and what it proposes.
#[must_use]
pub fn concluded_lines(list: &[Concluded]) -> Vec<Line> {
    let mut out = Vec::new();
    for c in list {
        out.push(
            Line::of(role(c.level), format!("  {} ", c.level)).with(Role::Plain, c.text.as_str()),
        );
        out.push(Line::of(
            Role::Muted,
            format!("       {}: {} ({})", c.rule, c.source, c.standing),
        ));
        if let Some(p) = &c.proposes {
            out.push(
                Line::of(Role::Label, "       order proposed, ")
                    .with(Role::Value, p.priority.word())
                    .with(Role::Plain, format!(": {}", p.need)),
            );
        }
    }
    out
}

/// The orders that were made, or that stood already.
#[must_use]
pub fn order_lines(list: &[OrderReport]) -> Vec<Line> {
    let mut out = Vec::new();
    for o in list {
        out.push(
            Line::of(Role::Label, "  order ")
                .with(Role::Code, o.order.order.as_str())
                .with(
                    Role::Plain,
                    format!(" {}, {}: {}", o.did, o.order.priority, o.order.need),
                ),
        );
    }
    out
}

/// The checklist before a sample: STOPs on record, then the steps.
#[must_use]
pub fn sampling_lines(r: &SamplingReport) -> Vec<Line> {
    let mut out = vec![
        Line::of(Role::Heading, "Before a sample is drawn from ")
            .with(Role::Code, &r.of)
            .with(Role::Plain, format!("  {}", r.what)),
    ];
    for c in &r.cautions {
        out.push(
            Line::of(role(c.severity), format!("  {} ", c.severity))
                .with(Role::Plain, c.text.as_str()),
        );
    }
    for (i, s) in r.steps.iter().enumerate() {
        let mut line = Line::of(Role::Label, format!("  {} ", i + 1));
        if let Some(level) = s.level {
            line.push(role(level), format!("{level} "));
        }
        out.push(line.with(Role::Plain, s.text.as_str()));
        out.push(Line::of(
            Role::Muted,
            format!("    {} ({})", s.source, s.standing),
        ));
    }
    out.extend(
        r.notes
            .iter()
            .map(|n| Line::of(Role::Look, format!("  LOOK {n}"))),
    );
    out.push(Line::of(
        Role::Plain,
        "Nothing was written. The local procedure and qualified people decide whether it is sampled.",
    ));
    out
}
