//! Times as text: the table at the fault current first, then each pair with
//! its figures, rule and source.

use super::check::{verdict_role, verdict_sign};
use super::plot;
use super::text::{Line, Style};
use crate::domain::nameplate::short;
use crate::domain::pairs::{PAIR_RULES, PairFinding, PairRule, in_seconds};
use crate::role::Role;
use crate::work::times::{DeviceTimes, Side, TimeRow, TimesReport};

/// From this width on the questions stand beside the curves on paper.
pub const BESIDE: usize = 100;
/// Columns between the curves and the questions beside them.
const GAP: usize = 2;

/// The whole report at a width, without curves.
#[must_use]
pub fn lines(report: &TimesReport, style: Style) -> Vec<Line> {
    let mut out = table(report, style);
    out.extend(questions(report, style));
    tail(report, style, &mut out);
    out
}

/// The same with the curves between the table and the questions, or beside
/// these from a width of `beside` columns on.
#[must_use]
pub fn with_plot(report: &TimesReport, style: Style, beside: usize) -> Vec<Line> {
    let mut out = table(report, style);
    if report.curves.is_empty() {
        let none = "? no curve is known here: there is nothing to draw";
        out.extend(Line::of(Role::Unknown, none).folded(style.width, 2));
        out.extend(questions(report, style));
    } else if style.width >= beside {
        let half = style.width.saturating_sub(GAP) / 2;
        let left = plot::lines(
            report,
            Style {
                width: half,
                ..style
            },
        );
        let width = style.width - half - GAP;
        let right = questions(report, Style { width, ..style });
        out.extend(side_by_side(left, right, half + GAP));
    } else {
        out.extend(plot::lines(report, style));
        out.extend(questions(report, style));
    }
    tail(report, style, &mut out);
    out
}

/// Two blocks of lines, the right one from a column on.
fn side_by_side(left: Vec<Line>, right: Vec<Line>, column: usize) -> Vec<Line> {
    let rows = left.len().max(right.len());
    let (mut left, mut right) = (left.into_iter(), right.into_iter());
    let mut out = Vec::new();
    for _ in 0..rows {
        let mut line = left.next().unwrap_or_default();
        if let Some(beside) = right.next().filter(|l| l.width() > 0) {
            line.push(Role::Plain, " ".repeat(column.saturating_sub(line.width())));
            line.pieces.extend(beside.pieces);
        }
        out.push(line);
    }
    out
}

/// Each pair, worst first.
fn questions(report: &TimesReport, style: Style) -> Vec<Line> {
    let heading = "Does the load side clear first? Pairs at the fault behind the load-side device";
    let mut out = Line::of(Role::Heading, heading).folded(style.width, 2);
    if report.pairs.is_empty() {
        out.extend(
            Line::of(Role::Unknown, "? no pair on record could be judged").folded(style.width, 2),
        );
    }
    for pair in &report.pairs {
        of_pair(pair, style, &mut out);
    }
    out
}

/// The rules by which the pairs were judged, notes, and the safety sentence.
fn tail(report: &TimesReport, style: Style, out: &mut Vec<Line>) {
    let judged = |r: &PairRule| report.pairs.iter().any(|f| f.rule == r.name);
    let rules: Vec<&&PairRule> = PAIR_RULES.iter().filter(|r| judged(r)).collect();
    if !rules.is_empty() {
        out.push(Line::new());
        out.push(Line::of(Role::Heading, "By these rules"));
    }
    for rule in rules {
        let text = format!("{} ({}): {}", rule.formula, rule.standing, rule.source);
        out.extend(
            Line::of(Role::Code, format!("  {}  ", rule.name))
                .with(Role::Muted, text)
                .folded(style.width, 4),
        );
    }
    out.push(Line::new());
    for note in &report.notes {
        out.extend(
            Line::of(Role::Look, "note ")
                .with(Role::Plain, note)
                .folded(style.width, 5),
        );
    }
    out.extend(Line::of(Role::Muted, report.safety).folded(style.width, 0));
}

/// The heading and every time.
fn table(report: &TimesReport, style: Style) -> Vec<Line> {
    let mut out = Line::of(Role::Code, &report.name)
        .with(Role::Plain, format!("  {}  pairs: ", report.class))
        .with(
            verdict_role(report.verdict),
            report.verdict.word().to_uppercase(),
        )
        .folded(style.width, 2);
    let mut at = Line::of(Role::Label, "times at ");
    match report.fault_amps {
        Some(a) => {
            let kind = report.fault_kind.map_or(String::new(), |k| format!(" {k}"));
            at.push(Role::Value, format!("{} A{kind}", short(a)));
        }
        None => at.push(Role::Unknown, "a fault not known"),
    }
    at.push(Role::Muted, format!("  {}", report.fault_origin));
    out.extend(at.folded(style.width, 2));
    for device in &report.devices {
        of_device(device, style, &mut out);
    }
    out.push(Line::new());
    out
}

fn of_device(device: &DeviceTimes, style: Style, out: &mut Vec<Line>) {
    let side = match device.side {
        Side::TowardSource => "toward the normal source",
        Side::This => "this",
        Side::NextBeyond => "next beyond",
    };
    out.extend(
        Line::of(Role::Code, &device.name)
            .with(Role::Plain, format!("  {}, {side}", device.class))
            .folded(style.width, 2),
    );
    for row in &device.rows {
        out.extend(of_row(row).folded(style.width, 6));
    }
    for doubt in &device.doubts {
        out.extend(
            Line::of(Role::Look, "  LOOK  ")
                .with(Role::Plain, doubt)
                .folded(style.width, 8),
        );
    }
}

fn of_row(row: &TimeRow) -> Line {
    let mut line = Line::of(Role::Label, format!("  {:<17} ", row.what));
    match (row.least_s, row.greatest_s) {
        (Some(a), Some(b)) => line.push(
            Role::Value,
            format!("{} to {} s", in_seconds(a), in_seconds(b)),
        ),
        (Some(s), None) | (None, Some(s)) => line.push(Role::Value, format!("{} s", in_seconds(s))),
        (None, None) => line.push(Role::Unknown, "no time"),
    }
    line.push(Role::Muted, format!("  {}", row.why));
    line
}

fn of_pair(f: &PairFinding, style: Style, out: &mut Vec<Line>) {
    let mut title = Line::of(
        verdict_role(f.verdict),
        format!(
            "{} {}",
            verdict_sign(f.verdict),
            f.verdict.word().to_uppercase()
        ),
    );
    title.push(Role::Plain, "  ");
    title.push(Role::Code, &f.protecting);
    title.push(Role::Plain, " before ");
    title.push(Role::Code, &f.protected);
    if let Some(a) = f.fault_amps {
        let kind = if f.to_ground { " to ground" } else { "" };
        title.push(Role::Plain, format!(" at {} A{kind}", short(a)));
    }
    if let Some(m) = f.margin_percent {
        title.push(
            Role::Plain,
            format!("  margin {}%", short((m * 10.0).round() / 10.0)),
        );
    }
    out.extend(title.folded(style.width, 4));
    out.extend(Line::of(Role::Plain, format!("    {}", f.because)).folded(style.width, 4));
    let rule = format!("    rule {} ({})", f.rule, f.standing);
    out.extend(Line::of(Role::Muted, rule).folded(style.width, 4));
}
