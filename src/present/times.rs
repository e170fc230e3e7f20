//! Times as text: the table at the fault current first, then each pair with
//! its figures, rule and source.

use super::check::{verdict_role, verdict_sign};
use super::text::{Line, Style};
use crate::domain::nameplate::short;
use crate::domain::pairs::{PairFinding, in_seconds};
use crate::role::Role;
use crate::work::times::{DeviceTimes, Side, TimeRow, TimesReport};

/// The whole report at a width.
#[must_use]
pub fn lines(report: &TimesReport, style: Style) -> Vec<Line> {
    let mut out = table(report, style);
    let heading = "Does the load side clear first? Pairs at the fault behind the load-side device";
    out.extend(Line::of(Role::Heading, heading).folded(style.width, 2));
    if report.pairs.is_empty() {
        out.extend(
            Line::of(Role::Unknown, "? no pair on record could be judged").folded(style.width, 2),
        );
    }
    for pair in &report.pairs {
        of_pair(pair, style, &mut out);
    }
    for note in &report.notes {
        out.extend(
            Line::of(Role::Look, "note ")
                .with(Role::Plain, note)
                .folded(style.width, 5),
        );
    }
    out.extend(Line::of(Role::Muted, report.safety).folded(style.width, 0));
    out
}

/// At which line the table of times ends, and curves may stand.
#[must_use]
pub fn table_ends(report: &TimesReport, style: Style) -> usize {
    table(report, style).len()
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
        Some(a) => at.push(Role::Value, format!("{} A", short(a))),
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
        title.push(Role::Plain, format!(" at {} A", short(a)));
    }
    if let Some(m) = f.margin_percent {
        title.push(
            Role::Plain,
            format!("  margin {}%", short((m * 10.0).round() / 10.0)),
        );
    }
    out.extend(title.folded(style.width, 4));
    out.extend(Line::of(Role::Plain, format!("    {}", f.because)).folded(style.width, 4));
    let rule = format!("    rule {} ({}): {}", f.rule, f.standing, f.source);
    out.extend(Line::of(Role::Muted, rule).folded(style.width, 4));
}
