//! An import as text: first the counts, then what to look at.

use super::text::Line;
use crate::domain::change::printed;
use crate::exchange::{CsvImported, Difference, Imported, Progress};
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
    if r.kept > 0 {
        out.push(labelled("left out, kept", &count(r.kept)));
    }
    if r.replayed > 0 {
        out.push(labelled(
            "operations",
            &format!("{} replayed", count(r.replayed)),
        ));
    }
    erased(&mut out, r);
    if !r.applied {
        differences(&mut out, &r.sample);
    }
    kept(&mut out, r);
    second(&mut out, r);
    notes(&mut out, &r.notes);
    if !r.applied && r.added + r.edited + r.removed > 0 {
        out.push(Line::new());
        let second = if r.alone > 0 { " --second NAME" } else { "" };
        let line = Line::of(Role::Plain, "To write this, add ").with(Role::Code, "--apply");
        out.push(line.with(Role::Code, second));
    }
    out
}

/// What leaves its record, in a heading that nobody overlooks.
fn erased(out: &mut Vec<Line>, r: &Imported) {
    if r.erased == 0 {
        return;
    }
    out.push(Line::new());
    out.push(Line::of(
        Role::Stop,
        format!("ERASES {} {}", count(r.erased), fields(r.erased)),
    ));
    listed(out, &r.erases, r.erased);
}

/// What the files leave out, and how it would go.
fn kept(out: &mut Vec<Line>, r: &Imported) {
    if r.kept == 0 {
        return;
    }
    out.push(Line::new());
    out.push(Line::of(Role::Heading, "Left out of the files, and kept"));
    listed(out, &r.keeps, r.kept);
    out.push(Line::of(
        Role::Muted,
        "to erase one, name it in its document, as erase: [field]; --replace erases all",
    ));
}

/// What needs a second person.
fn second(out: &mut Vec<Line>, r: &Imported) {
    if r.alone == 0 || r.applied {
        return;
    }
    out.push(Line::new());
    out.push(Line::of(
        Role::Look,
        format!("NEEDS A SECOND PERSON: {} of the changes", count(r.alone)),
    ));
    for what in &r.needs_second {
        out.push(Line::of(Role::Plain, what));
    }
    more(out, r.alone, r.needs_second.len());
}

fn listed(out: &mut Vec<Line>, list: &[Difference], of: usize) {
    for d in list.iter().take(LISTED) {
        out.push(
            Line::of(Role::Label, d.kind.word())
                .with(Role::Plain, " ")
                .with(Role::Code, &d.record)
                .with(
                    Role::Label,
                    format!("  {}: ", d.field.as_deref().unwrap_or("")),
                )
                .with(Role::Value, printed(&d.old)),
        );
    }
    more(out, of, list.len().min(LISTED));
}

fn more(out: &mut Vec<Line>, of: usize, shown: usize) {
    if of > shown {
        out.push(Line::of(
            Role::Muted,
            format!("and {} more", count(of - shown)),
        ));
    }
}

const fn fields(n: usize) -> &'static str {
    if n == 1 { "field" } else { "fields" }
}

fn labelled(label: &str, value: &str) -> Line {
    Line::of(Role::Label, format!("{label:<15} ")).with(Role::Value, value)
}

#[expect(clippy::cast_precision_loss, reason = "counts are far below 2^53")]
fn count(n: usize) -> String {
    figure(n as f64)
}

fn differences(out: &mut Vec<Line>, list: &[Difference]) {
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
                .with(Role::Value, printed(&d.old))
                .with(Role::Plain, " becomes ")
                .with(Role::Value, printed(&d.new)),
        });
    }
}

fn notes(out: &mut Vec<Line>, list: &[String]) {
    for note in list {
        out.push(Line::of(Role::Label, "note ").with(Role::Plain, note));
    }
}

/// How far an import has come.
#[derive(Debug, Clone, Copy)]
pub struct HowFar {
    pub progress: Progress,
    /// Since it began.
    pub millis: i64,
    /// What is counted: `rows`.
    pub what: &'static str,
}

impl HowFar {
    #[expect(
        clippy::cast_precision_loss,
        reason = "shares and rates are shown in two or three digits"
    )]
    fn share(self) -> f64 {
        let p = self.progress;
        (p.bytes as f64 / p.of_bytes.max(1) as f64).clamp(0.0, 1.0)
    }

    #[expect(
        clippy::cast_precision_loss,
        reason = "shares and rates are shown in two or three digits"
    )]
    fn a_second(self) -> f64 {
        self.progress.rows as f64 * 1_000.0 / (self.millis.max(1) as f64)
    }

    /// By the share that is done; what comes after reading is not in it.
    #[expect(
        clippy::cast_precision_loss,
        reason = "shares and rates are shown in two or three digits"
    )]
    fn seconds_left(self) -> f64 {
        let share = self.share().max(1e-6);
        self.millis as f64 / 1_000.0 * (1.0 - share) / share
    }

    /// `128,000 rows, 12 %, 21,000 a second, about 2 min left`.
    #[must_use]
    pub fn line(self) -> String {
        if self.progress.bytes >= self.progress.of_bytes {
            return format!("{} {}, all read", count(self.progress.rows), self.what);
        }
        format!(
            "{} {}, {:.0} %, {} a second, about {} left",
            count(self.progress.rows),
            self.what,
            self.share() * 100.0,
            figure(two_digits(self.a_second())),
            spoken_seconds(self.seconds_left())
        )
    }

    /// The same behind a bar that takes what is left of the width.
    #[must_use]
    pub fn bar(self, width: usize, ascii: bool) -> String {
        let line = self.line();
        let room = width.saturating_sub(line.chars().count() + 4).min(30);
        if room < 5 {
            return line.chars().take(width.saturating_sub(1)).collect();
        }
        #[expect(
            clippy::cast_possible_truncation,
            clippy::cast_sign_loss,
            clippy::cast_precision_loss,
            reason = "a few cells"
        )]
        let full = (self.share() * room as f64) as usize;
        let (on, off) = if ascii { ("#", "-") } else { ("█", "░") };
        format!("{}{} {line}", on.repeat(full), off.repeat(room - full))
    }
}

/// A rate is known to two digits at most.
fn two_digits(value: f64) -> f64 {
    if value < 10.0 {
        return value.round();
    }
    let step = 10_f64.powf(value.log10().floor() - 1.0);
    (value / step).round() * step
}

fn spoken_seconds(seconds: f64) -> String {
    if seconds < 90.0 {
        format!("{:.0} s", seconds.max(1.0))
    } else if seconds < 5_400.0 {
        format!("{:.0} min", seconds / 60.0)
    } else {
        format!("{:.1} h", seconds / 3_600.0)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn far(rows: usize, bytes: u64, of_bytes: u64, millis: i64) -> HowFar {
        HowFar {
            progress: Progress {
                rows,
                bytes,
                of_bytes,
            },
            millis,
            what: "rows",
        }
    }

    #[test]
    fn how_far_says_rate_and_time_left() {
        let f = far(128_000, 12, 100, 6_000);
        assert_eq!(
            f.line(),
            "128,000 rows, 12 %, 21,000 a second, about 44 s left"
        );
        assert_eq!(far(10, 100, 100, 5).line(), "10 rows, all read");
        let hours = far(10, 1, 1_000, 20_000).line();
        assert!(hours.ends_with("about 5.5 h left"), "{hours}");
    }

    #[test]
    fn a_bar_fits_its_width() {
        for width in [20, 40, 50, 80, 120] {
            for ascii in [true, false] {
                let bar = far(128_000, 50, 100, 6_000).bar(width, ascii);
                assert!(bar.chars().count() < width, "{width}: {bar}");
                assert!(!ascii || bar.is_ascii(), "{bar}");
            }
        }
        let bar = far(128_000, 50, 100, 6_000).bar(120, true);
        assert!(bar.starts_with("###############---------------"), "{bar}");
    }
}
