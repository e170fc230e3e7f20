//! An import as text: first the counts, then what to look at.

use super::text::Line;
use crate::exchange::{CsvImported, Difference};
use crate::role::Role;
use crate::units::figure;
use crate::work::import::{CsvReport, YamlReport};

/// Most refused rows that are listed; the file of refused rows holds all.
const LISTED: usize = 20;

/// The report of a CSV import.
#[must_use]
pub fn csv_lines(report: &CsvReport) -> Vec<Line> {
    let r = &report.imported;
    let mut out = vec![
        Line::of(
            Role::Heading,
            if r.applied {
                "CSV taken in"
            } else {
                "CSV, shown only: nothing was written to a register"
            },
        ),
        labelled("file", &r.file),
        labelled("map", &r.map),
        labelled(
            "rows",
            &format!("{} read, {} refused", count(r.rows), count(r.refused)),
        ),
    ];
    for (kind, t) in &r.records {
        out.push(labelled(
            kind.word(),
            &format!(
                "{} new, {} changed, {} as they were",
                count(t.added),
                count(t.edited),
                count(t.unchanged)
            ),
        ));
    }
    for (because, n) in &r.reasons {
        out.push(
            labelled("refused", &count(*n)).with(Role::Plain, format!("  {}", because.words())),
        );
    }
    refusals(&mut out, r);
    if let Some(path) = &r.refused_file {
        out.push(labelled("kept in", &path.display().to_string()));
    }
    differences(&mut out, &r.edits);
    if !r.samples.is_empty() {
        out.push(Line::new());
        out.push(Line::of(Role::Heading, "First records"));
        for line in r.samples.iter().flat_map(|s| s.lines()) {
            out.push(Line::of(Role::Plain, line));
        }
    }
    notes(&mut out, &r.notes);
    if !r.applied {
        out.push(Line::new());
        out.push(Line::of(Role::Plain, "To write this, add ").with(Role::Code, "--apply"));
    }
    out
}

fn refusals(out: &mut Vec<Line>, r: &CsvImported) {
    if r.refusals.is_empty() {
        return;
    }
    out.push(Line::new());
    out.push(Line::of(Role::Heading, "Refused rows"));
    for f in r.refusals.iter().take(LISTED) {
        out.push(
            Line::of(Role::Label, format!("line {:<7} ", f.line)).with(Role::Plain, &f.reason),
        );
    }
    if r.refused > LISTED {
        out.push(Line::of(
            Role::Muted,
            format!("and {} more", count(r.refused - LISTED)),
        ));
    }
}

/// What a person must not miss, for the error stream: that rows were refused.
#[must_use]
pub fn csv_warning(report: &CsvReport) -> Option<String> {
    let r = &report.imported;
    (r.refused > 0).then(|| {
        let kept = r.refused_file.as_ref().map_or(String::new(), |p| {
            format!("; mend {} and import it with the same map", p.display())
        });
        format!(
            "{} of {} rows refused{kept}",
            count(r.refused),
            count(r.rows)
        )
    })
}

/// The report of a YAML import.
#[must_use]
pub fn yaml_lines(report: &YamlReport) -> Vec<Line> {
    let r = &report.imported;
    let mut out = vec![
        Line::of(
            Role::Heading,
            if r.applied {
                "Taken in"
            } else {
                "A difference, shown only: nothing was written to the register"
            },
        ),
        labelled("from", &report.from),
        labelled("records new", &count(r.added)),
        labelled("fields changed", &count(r.edited)),
        labelled("as they were", &count(r.unchanged)),
    ];
    if r.removed > 0 {
        out.push(labelled("removed", &count(r.removed)));
    }
    if r.replayed > 0 {
        out.push(labelled(
            "operations",
            &format!("{} replayed", count(r.replayed)),
        ));
    }
    if !r.applied {
        differences(&mut out, &r.sample);
    }
    notes(&mut out, &r.notes);
    if !r.applied && r.added + r.edited + r.removed > 0 {
        out.push(Line::new());
        out.push(Line::of(Role::Plain, "To write this, add ").with(Role::Code, "--apply"));
    }
    out
}

fn labelled(label: &str, value: &str) -> Line {
    Line::of(Role::Label, format!("{label:<15} ")).with(Role::Value, value)
}

#[expect(clippy::cast_precision_loss, reason = "counts are far below 2^53")]
fn count(n: usize) -> String {
    figure(n as f64)
}

fn differences(out: &mut Vec<Line>, list: &[Difference]) {
    let shown = |v: &serde_json::Value| match v {
        serde_json::Value::Null => "not on record".to_string(),
        serde_json::Value::String(s) => s.clone(),
        v => v.to_string(),
    };
    if !list.is_empty() {
        out.push(Line::new());
        out.push(Line::of(Role::Heading, "First differences"));
    }
    for d in list.iter().take(LISTED) {
        let line = Line::of(Role::Label, d.kind.word())
            .with(Role::Plain, " ")
            .with(Role::Code, &d.record);
        out.push(match &d.field {
            None => line.with(Role::Plain, "  new"),
            Some(field) => line
                .with(Role::Label, format!("  {field}: "))
                .with(Role::Value, shown(&d.old))
                .with(Role::Plain, " becomes ")
                .with(Role::Value, shown(&d.new)),
        });
    }
}

fn notes(out: &mut Vec<Line>, list: &[String]) {
    for note in list {
        out.push(Line::of(Role::Label, "note ").with(Role::Plain, note));
    }
}
