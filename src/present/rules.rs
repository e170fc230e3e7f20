//! The rules as text, and as the README's table.

use super::check::verdict_role;
use super::text::{Line, Style};
use crate::domain::finding::Severity;
use crate::role::Role;
use crate::units::figure;
use crate::work::rules::{Explained, RulesReport, Worked, list};

/// The list, or the one rule explained.
#[must_use]
pub fn lines(report: &RulesReport, style: Style) -> Vec<Line> {
    let mut out = Vec::new();
    for r in &report.rules {
        let mut line = Line::of(Role::Code, format!("{:<22}", r.name));
        line.push(Role::Label, format!(" {:<6} ", r.question));
        line.push(Role::Plain, format!("{}: {}", r.standing, r.source));
        out.extend(line.folded(style.width, 4));
    }
    if let Some(explained) = &report.explained {
        one(explained, style, &mut out);
    }
    of_pairs(report, style, &mut out);
    of_readings(report, style, &mut out);
    if !report.choices.is_empty() {
        out.push(Line::new());
        out.push(Line::of(
            Role::Heading,
            "Named choices: the utility sets them in its utility record",
        ));
    }
    for c in &report.choices {
        let mut line = Line::of(Role::Code, format!("  {}", c.name));
        line.push(
            Role::Plain,
            format!(
                " {} ({}): {}. {}: {}",
                c.default, c.allowed, c.about, c.standing, c.source
            ),
        );
        out.extend(line.folded(style.width, 4));
    }
    if !report.outliers.is_empty() {
        out.push(Line::new());
        out.push(Line::of(
            Role::Heading,
            "Published values that do not fit their own table; never altered",
        ));
    }
    for o in report.outliers {
        let printed = format!("{} {}", figure(o.printed), o.unit);
        let pattern = o.pattern.map_or(String::new(), |p| {
            format!(", the pattern gives {}", figure(p))
        });
        let text = format!(
            "  {}, {}: printed {}{pattern}: {}",
            o.table,
            o.cell,
            printed.trim_end(),
            o.why
        );
        out.extend(Line::of(Role::Plain, text.trim_end()).folded(style.width, 4));
    }
    out
}

fn of_pairs(report: &RulesReport, style: Style, out: &mut Vec<Line>) {
    if report.pairs.len() > 1 {
        let heading = "Two devices in series: which clears first (polecard times)";
        out.push(Line::new());
        out.extend(Line::of(Role::Heading, heading).folded(style.width, 2));
    }
    for r in &report.pairs {
        let mut line = Line::of(Role::Code, format!("{:<25}", r.name));
        line.push(Role::Label, format!(" {}: ", r.of));
        line.push(
            Role::Plain,
            format!("{}. {}: {}", r.formula, r.standing, r.source),
        );
        out.extend(line.folded(style.width, 4));
    }
    if let Some(f) = &report.pair_example {
        let at = f
            .fault_amps
            .map_or(String::new(), |a| format!(" at {} A", figure(a)));
        let pair = format!("invented: {} before {}{at}: ", f.protecting, f.protected);
        let line = Line::of(Role::Label, "example     ")
            .with(Role::Plain, pair)
            .with(verdict_role(f.verdict), f.verdict.word().to_uppercase())
            .with(Role::Plain, format!(". {}", f.because));
        out.extend(line.folded(style.width, 12));
    }
}

/// Rules over readings and their limits, with an example where one is explained.
fn of_readings(report: &RulesReport, style: Style, out: &mut Vec<Line>) {
    if report.readings.len() > 1 {
        out.push(Line::new());
        let heading = "What readings of an inspection or a test mean (polecard log, due)";
        out.extend(Line::of(Role::Heading, heading).folded(style.width, 2));
    }
    for r in &report.readings {
        let on = if r.applies_to.is_empty() {
            "anything".to_string()
        } else {
            r.applies_to.join(", ")
        };
        let reads = r.reads.join(", ").replace('_', " ");
        let mut line = Line::of(Role::Code, format!("{:<25}", r.name));
        line.push(Role::Label, format!(" {reads}, of {on}: "));
        line.push(Role::Plain, format!("{}: {}", r.standing, r.source));
        out.extend(line.folded(style.width, 4));
        out.extend(worked(r.example.as_ref(), style));
    }
    if report.limits.len() > 1 {
        out.push(Line::new());
        let heading = "Limits of readings: the utility sets them as choices in its utility record";
        out.extend(Line::of(Role::Heading, heading).folded(style.width, 2));
    }
    for l in &report.limits {
        let mut line = Line::of(Role::Code, format!("  {}", l.name));
        let default = figure((l.default * 1_000.0).round() / 1_000.0);
        let text = format!(" {default} ({}). {}: {}", l.allowed, l.standing, l.source);
        line.push(Role::Plain, text);
        out.extend(line.folded(style.width, 4));
        out.extend(worked(l.example.as_ref(), style));
    }
}

fn worked(example: Option<&Worked>, style: Style) -> Vec<Line> {
    let Some(e) = example else { return Vec::new() };
    let (word, role) = match e.says.level {
        Severity::Stop => ("STOP ", Role::Stop),
        Severity::Look => ("LOOK ", Role::Look),
    };
    Line::of(Role::Label, "example     ")
        .with(Role::Plain, format!("invented {}: ", e.of))
        .with(role, word)
        .with(
            Role::Plain,
            format!("{} (rule {})", e.says.text, e.says.rule),
        )
        .folded(style.width, 12)
}

fn one(explained: &Explained, style: Style, out: &mut Vec<Line>) {
    let choices: Vec<String> = explained
        .choices
        .iter()
        .map(|c| format!("{} (default {}, {})", c.name, c.default, c.standing))
        .collect();
    let or_none = |text: String| {
        if text.is_empty() {
            "none".to_string()
        } else {
            text
        }
    };
    for (label, text) in [
        ("applies to", explained.applies_to.join(", ")),
        ("needs", or_none(explained.needs.join(", "))),
        ("formula", explained.formula.to_string()),
        ("choices", or_none(choices.join("; "))),
    ] {
        let line = Line::of(Role::Label, format!("{label:<11} ")).with(Role::Plain, text);
        out.extend(line.folded(style.width, 12));
    }
    let mut line = Line::of(Role::Label, "example     ");
    match &explained.example {
        Some(f) => {
            line.push(Role::Plain, format!("invented {}: ", f.element));
            line.push(verdict_role(f.verdict), f.verdict.word().to_uppercase());
            line.push(Role::Plain, format!(". {}", f.because));
        }
        None => line.push(Role::Muted, "none: this rule gives no figures"),
    }
    out.extend(line.folded(style.width, 12));
}

/// The README's table of rules.
#[must_use]
pub fn rules_table_markdown() -> String {
    let mut out =
        String::from("| rule | question | standing | formula source |\n|---|---|---|---|\n");
    for r in list().rules {
        let source = r.source.replace('|', "\\|");
        out.push_str(&format!(
            "| `{}` | {} | {} | {source} |\n",
            r.name, r.question, r.standing
        ));
    }
    out
}

/// The README's table of rules over readings and of their limits.
#[must_use]
pub fn readings_table_markdown() -> String {
    let mut out =
        String::from("| rule or limit | default | standing | source |\n|---|---|---|---|\n");
    let report = list();
    for r in &report.readings {
        out.push_str(&format!(
            "| `{}` | | {} | {} |\n",
            r.name, r.standing, r.source
        ));
    }
    for l in &report.limits {
        let default = figure((l.default * 1_000.0).round() / 1_000.0);
        out.push_str(&format!(
            "| `{}` | {default} | {} | {} |\n",
            l.name, l.standing, l.source
        ));
    }
    out
}
