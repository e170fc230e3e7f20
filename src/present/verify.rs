//! The health of a register as text.

use super::backup::head_lines;
use super::block::{counted, heading, pair, row, styled};
use super::{Line, Style};
use crate::domain::verify::detector;
use crate::role::Role;
use crate::units::figure;
use crate::work::verify::{Count, ReadNext, Score, VerifyFinding, VerifyReport};

/// Findings of a rule that are spelled out when all rules are shown.
const SPELLED: usize = 5;
/// Plates to read that are spelled out.
const READS: usize = 15;

/// What to do about a register that was altered outside the program.
pub const ALTERED: &str = "do not rely on what it says now; keep this file as it is, hold it against a backup (verify --expect-head BACKUP), and restore the last sound one";

/// The whole report at a width; with `all`, every finding that was kept.
#[must_use]
pub fn lines(report: &VerifyReport, style: Style, all: bool) -> Vec<Line> {
    let width = style.width.max(20);
    let mut out = summary(report, width);
    for count in &report.counts {
        out.push(Line::new());
        out.extend(rule(report, count, width, all));
    }
    out.push(Line::new());
    out.extend(scores(&report.scores, width));
    if !report.read_next.is_empty() {
        out.push(Line::new());
        out.extend(read_next(report, width));
    }
    styled(out, style)
}

fn summary(report: &VerifyReport, width: usize) -> Vec<Line> {
    let found: usize = report.counts.iter().map(|c| c.found).sum();
    let demo = if report.demo { "DEMO. " } else { "" };
    let head = format!(
        "{demo}{}: {} by {}",
        counted(report.records, "record"),
        counted(found, "finding"),
        counted(report.counts.len(), "rule"),
    );
    let mut out = Line::of(Role::Heading, format!(" {head}")).folded(width, 3);
    for stop in &report.stops {
        out.extend(row(Role::Stop, "STOP", stop, width));
    }
    if !report.stops.is_empty() {
        out.extend(row(Role::Look, "do", ALTERED, width));
    }
    let chain = &report.chain;
    let operations = counted(chain.operations, "operation");
    if chain.intact {
        let text = format!("{operations}; every digest follows from the one before it");
        out.extend(row(Role::Label, "log", &text, width));
    } else {
        let text = format!("the chain of {operations} is broken: see the first finding");
        out.extend(row(Role::Label, "log", &text, width));
    }
    for expected in chain.expected.iter().filter(|e| e.found) {
        out.extend(head_lines(expected, width));
    }
    if !chain.head.is_empty() {
        let head = format!("{}:{}", chain.operations, chain.head);
        out.extend(row(Role::Label, "head", &head, width));
    }
    out.extend(row(
        Role::Muted,
        "read",
        &format!("at {}", report.read_at.spoken()),
        width,
    ));
    out
}

fn rule(report: &VerifyReport, count: &Count, width: usize, all: bool) -> Vec<Line> {
    let mut out = Line::of(Role::Heading, format!(" {}", count.rule))
        .with(
            Role::Plain,
            format!("  {}", counted(count.found, "finding")),
        )
        .folded(width, 3);
    if let Some(d) = detector(count.rule) {
        out.extend(row(Role::Label, "why", d.why, width));
        out.extend(row(Role::Label, "fix", d.fix, width));
        let from = format!("{} ({})", d.source, d.standing);
        out.extend(row(Role::Muted, "from", &from, width));
    }
    let of_rule: Vec<&VerifyFinding> = report
        .findings
        .iter()
        .filter(|f| f.rule == count.rule)
        .collect();
    let spelled = if all { of_rule.len() } else { SPELLED };
    for f in of_rule.iter().take(spelled) {
        out.extend(one(f, width));
    }
    let more = count.found - of_rule.len().min(spelled);
    if more > 0 {
        let text = format!(
            "   and {} more: --rule {}",
            figure(number(more)),
            count.rule
        );
        out.extend(Line::of(Role::Muted, text).folded(width, 5));
    }
    out
}

/// The record and what is the matter with it.
fn one(f: &VerifyFinding, width: usize) -> Vec<Line> {
    let why = detector(f.rule).map_or("", |d| d.why);
    let detail = f
        .why
        .strip_suffix(why)
        .unwrap_or(&f.why)
        .trim_end()
        .trim_end_matches('.');
    let rest = detail.strip_prefix(f.record.as_str()).unwrap_or(detail);
    Line::of(Role::Plain, "   ")
        .with(Role::Code, &f.record)
        .with(Role::Plain, rest)
        .folded(width, 5)
}

fn scores(scores: &[Score], width: usize) -> Vec<Line> {
    let mut out = heading(
        "by feeder: findings for each 100 records; plates read",
        width,
    );
    for s in scores {
        let name = s.feeder.as_deref().unwrap_or("no feeder");
        let mut text = Line::of(
            Role::Value,
            format!(
                "{} for each 100 ({} in {})",
                figure(s.per_100),
                counted(s.findings, "finding"),
                counted(s.records, "record")
            ),
        );
        if let Some(read) = s.read_percent {
            text.push(
                Role::Value,
                format!(
                    "; plates read {} % ({} of {})",
                    figure(read),
                    s.plates_read,
                    s.plates
                ),
            );
        }
        if let Some(before) = &s.before {
            let read = before
                .read_percent
                .map_or(String::new(), |r| format!(", plates {} %", figure(r)));
            text.push(
                Role::Label,
                format!("; before {} for each 100{read}", figure(before.per_100)),
            );
        }
        out.extend(pair(name, &text, 10, width));
    }
    out
}

fn read_next(report: &VerifyReport, width: usize) -> Vec<Line> {
    let head = format!(
        "read next, worst hazard first: {} not all read",
        counted(report.unread_plates, "plate")
    );
    let mut out = heading(&head, width);
    for r in report.read_next.iter().take(READS) {
        out.extend(plate(r, width));
    }
    let more = report.unread_plates.saturating_sub(READS);
    if more > 0 {
        let text = format!("   and {} more: --json lists more", figure(number(more)));
        out.extend(Line::of(Role::Muted, text).folded(width, 5));
    }
    out
}

fn plate(r: &ReadNext, width: usize) -> Vec<Line> {
    Line::of(Role::Plain, "   ")
        .with(Role::Code, &r.position)
        .with(Role::Plain, format!("  unit {}: ", r.unit))
        .with(Role::Unknown, &r.because)
        .folded(width, 5)
}

fn number(n: usize) -> f64 {
    f64::from(u32::try_from(n).unwrap_or(u32::MAX))
}
