//! A check as text: the answer to each question first, then the cautions, then
//! every finding that matters with its figures, rule and source, worst first.

use super::text::{Line, Style};
use crate::domain::finding::{Finding, Question, Severity, Verdict};
use crate::role::Role;
use crate::units::figure;
use crate::work::check::CheckReport;

/// How much of a check to print.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Depth {
    /// What governs each question, and everything that does not pass.
    Short,
    /// Every finding.
    Full,
}

/// The role of a verdict; its word is always printed beside it.
#[must_use]
pub const fn verdict_role(verdict: Verdict) -> Role {
    match verdict {
        Verdict::Within => Role::Within,
        Verdict::Tight => Role::Tight,
        Verdict::Fails => Role::Fails,
        Verdict::Unknown => Role::Unknown,
        Verdict::NotApplicable => Role::Muted,
    }
}

/// The word of an answer as a person reads it.
#[must_use]
pub const fn answer_word(question: Question, verdict: Verdict) -> &'static str {
    match (question, verdict) {
        (Question::Break, Verdict::NotApplicable) => "breaks nothing",
        (_, Verdict::NotApplicable) => "not asked of it",
        (_, other) => other.word(),
    }
}

/// The worst answer in a word; when it is a pass, of which questions.
fn headline(report: &CheckReport) -> String {
    let word = match report.verdict {
        Verdict::NotApplicable => "NOTHING COULD BE JUDGED".to_string(),
        other => other.word().to_uppercase(),
    };
    let of: Vec<&str> = report
        .questions
        .0
        .iter()
        .filter(|(_, v)| v.passes())
        .map(|(q, _)| q.word())
        .collect();
    if report.verdict.passes() {
        format!("{word}: {}", of.join(", "))
    } else {
        word
    }
}

/// The sign before a verdict: readable without colour and in one column.
#[must_use]
pub const fn verdict_sign(verdict: Verdict) -> &'static str {
    match verdict {
        Verdict::Within => "=",
        Verdict::Tight => "~",
        Verdict::Fails => "!",
        Verdict::Unknown => "?",
        Verdict::NotApplicable => "-",
    }
}

/// The whole report at a width.
#[must_use]
pub fn lines(report: &CheckReport, style: Style, depth: Depth) -> Vec<Line> {
    let mut out = Vec::new();
    head(report, style, &mut out);
    for caution in &report.cautions {
        let (word, role) = match caution.severity {
            Severity::Stop => ("STOP  ", Role::Stop),
            Severity::Look => ("LOOK  ", Role::Look),
        };
        out.extend(
            Line::of(role, word)
                .with(Role::Plain, &caution.text)
                .folded(style.width, 6),
        );
    }
    out.push(Line::new());
    // The worst stands on the first screen, however small; what it was judged by
    // is in its own words too.
    for f in shown(report, depth) {
        finding(f, style, &mut out);
    }
    out.push(Line::of(Role::Heading, "judged by"));
    inputs(report, style, &mut out);
    out.push(Line::new());
    tail(report, style, &mut out);
    out
}

fn head(report: &CheckReport, style: Style, out: &mut Vec<Line>) {
    let mut title = Line::of(Role::Code, &report.name);
    title.push(Role::Plain, format!("  {}  ", report.class));
    title.push(verdict_role(report.verdict), headline(report));
    if report.as_bypassed {
        title.push(Role::Plain, "  judged as bypassed");
    }
    out.extend(title.folded(style.width, 2));
    let mut answers = Line::new();
    for (question, verdict) in &report.questions.0 {
        let answer = Line::of(Role::Label, format!("{question} ")).with(
            verdict_role(*verdict),
            format!(
                "{} {}",
                verdict_sign(*verdict),
                answer_word(*question, *verdict)
            ),
        );
        // A question and its answer stay on one line.
        if !answers.pieces.is_empty() && answers.width() + 3 + answer.width() > style.width {
            out.push(std::mem::take(&mut answers));
        }
        if !answers.pieces.is_empty() {
            answers.push(Role::Plain, "   ");
        }
        answers.pieces.extend(answer.pieces);
    }
    out.push(answers);
}

/// What was judged by, and where each figure comes from.
fn inputs(report: &CheckReport, style: Style, out: &mut Vec<Line>) {
    for input in &report.inputs {
        let mut line = Line::of(Role::Label, format!("  {:<16}", input.name));
        match input.value {
            Some(v) if input.unit.is_empty() => line.push(Role::Value, figure(v)),
            Some(v) => line.push(Role::Value, format!("{} {}", figure(v), input.unit)),
            // A kind is a word and has no figure.
            None if input.name == "fault kind" => line.push(Role::Value, &input.origin),
            None => line.push(Role::Unknown, "not known"),
        }
        if input.name != "fault kind" {
            line.push(Role::Muted, format!("  {}", input.origin));
        }
        out.extend(line.folded(style.width, 18));
    }
}

/// Findings to print, worst first as the report has them.
fn shown(report: &CheckReport, depth: Depth) -> Vec<&Finding> {
    let governs = |f: &Finding| {
        report
            .questions
            .0
            .iter()
            .any(|(q, _)| report.governing(*q) == Some(f))
    };
    report
        .findings
        .iter()
        .filter(|f| depth == Depth::Full || f.verdict > Verdict::Within || governs(f))
        .collect()
}

fn finding(f: &Finding, style: Style, out: &mut Vec<Line>) {
    let mut title = Line::of(
        verdict_role(f.verdict),
        format!(
            "{} {}",
            verdict_sign(f.verdict),
            answer_word(f.question, f.verdict).to_uppercase()
        ),
    );
    title.push(Role::Label, format!("  {}  ", f.question));
    title.push(Role::Value, &f.element);
    if let Some(slot) = &f.slot {
        title.push(Role::Plain, format!(", {slot}"));
    }
    if f.path == crate::domain::finding::Path::Bypass {
        title.push(Role::Plain, ", bypass");
    }
    if let Some(margin) = f.margin_percent {
        title.push(Role::Plain, format!("  margin {}%", figure(round1(margin))));
    }
    out.extend(title.folded(style.width, 4));
    out.extend(Line::of(Role::Plain, format!("    {}", f.because)).folded(style.width, 4));
    out.extend(
        Line::of(
            Role::Muted,
            format!("    rule {} ({}): {}", f.rule, f.standing, f.source),
        )
        .folded(style.width, 4),
    );
    out.push(Line::new());
}

fn round1(x: f64) -> f64 {
    (x * 10.0).round() / 10.0
}

fn tail(report: &CheckReport, style: Style, out: &mut Vec<Line>) {
    for n in &report.not_judged {
        out.extend(
            Line::of(
                Role::Muted,
                format!("not judged: {}: {}", n.question, n.why),
            )
            .folded(style.width, 4),
        );
    }
    for note in &report.notes {
        out.extend(
            Line::of(Role::Look, "note ")
                .with(Role::Plain, note)
                .folded(style.width, 5),
        );
    }
    if !report.choices.is_empty() {
        let list: Vec<String> = report
            .choices
            .iter()
            .map(|c| format!("{} {}", c.name, c.value))
            .collect();
        out.extend(
            Line::of(Role::Muted, format!("choices: {}", list.join("; "))).folded(style.width, 4),
        );
    }
    if !report.read_next.is_empty() {
        out.push(Line::new());
        out.push(Line::of(Role::Heading, "Read next"));
        for item in &report.read_next {
            out.extend(Line::of(Role::Plain, format!("  {item}")).folded(style.width, 4));
        }
        out.push(Line::new());
    }
    out.extend(Line::of(Role::Muted, report.safety).folded(style.width, 0));
}
