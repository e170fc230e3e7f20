//! A check that was kept, and the same question put again, as text.

use serde_json::Value;

use super::check::{Depth, lines as check_lines, verdict_role};
use super::text::{Line, Style};
use crate::role::Role;
use crate::units::figure;
use crate::work::kept::{AgainReport, Difference, SavedReport};

/// The check, and the stamp it is kept under.
#[must_use]
pub fn saved(report: &SavedReport, style: Style, depth: Depth) -> Vec<Line> {
    let mut out = check_lines(&report.check, style, depth);
    out.push(Line::new());
    out.extend(
        Line::of(Role::Label, "kept as ")
            .with(Role::Code, &report.stamp)
            .with(
                Role::Muted,
                format!(
                    "  judged at operation {}:{} by polecard {}",
                    report.register_operation, report.chain_head, report.version
                ),
            )
            .folded(style.width, 8),
    );
    out.extend(
        Line::of(
            Role::Muted,
            format!(
                "polecard check --again {} judges it anew and tells what differs",
                report.stamp
            ),
        )
        .folded(style.width, 4),
    );
    out
}

/// What would be answered differently today.
#[must_use]
pub fn again(report: &AgainReport, style: Style) -> Vec<Line> {
    let mut out = Line::of(Role::Code, &report.check.name)
        .with(Role::Plain, format!("  check kept as {}", report.stamp))
        .with(
            Role::Muted,
            format!(
                "  {} by {}",
                report.kept_at.as_deref().unwrap_or("day not kept"),
                report.kept_by.as_deref().unwrap_or("nobody named")
            ),
        )
        .folded(style.width, 2);
    out.extend(
        Line::of(Role::Label, "today ")
            .with(
                verdict_role(report.check.verdict),
                report.check.verdict.word().to_uppercase(),
            )
            .folded(style.width, 6),
    );
    if report.chain.is_empty() {
        out.push(Line::of(
            Role::Look,
            "LOOK  no operation of the register was kept with it",
        ));
    }
    for head in &report.chain {
        let (word, role) = if head.found {
            ("log   ", Role::Muted)
        } else {
            ("STOP  ", Role::Stop)
        };
        out.extend(
            Line::of(role, word)
                .with(
                    Role::Plain,
                    format!("the operation it was judged at {}", head.words),
                )
                .folded(style.width, 6),
        );
    }
    out.push(Line::new());
    if report.differences.is_empty() {
        out.extend(
            Line::of(Role::Plain, "Nothing differs: verdict, figures, inputs, choices and program are as they were kept.")
                .folded(style.width, 2),
        );
    } else {
        out.push(Line::of(Role::Heading, "What differs: then > now"));
    }
    for d in &report.differences {
        out.extend(difference(d).folded(style.width, 4));
    }
    out.push(Line::new());
    out.extend(Line::of(Role::Muted, report.check.safety).folded(style.width, 0));
    out
}

fn difference(d: &Difference) -> Line {
    Line::of(Role::Label, format!("  {} ", d.of))
        .with(Role::Plain, format!("{}: ", d.what))
        .with(Role::Value, word(&d.then))
        .with(Role::Plain, " > ")
        .with(Role::Value, word(&d.now))
}

fn word(value: &Value) -> String {
    match value {
        Value::Null => "none".to_string(),
        Value::String(s) => s.clone(),
        Value::Number(n) => n.as_f64().map_or_else(|| n.to_string(), figure),
        Value::Object(row) => row
            .get("verdict")
            .or_else(|| row.get("value"))
            .map_or_else(|| "there".to_string(), word),
        other => crate::work::edit::printed(other),
    }
}
