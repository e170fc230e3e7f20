//! The briefing as a page.

use super::block::{heading, row, styled};
use super::{Line, Style};
use crate::role::Role;
use crate::work::briefing::BriefingReport;

/// Lines of a printed page.
pub const PAGE: usize = 66;

/// The whole briefing at a width, STOPs first, the safety sentence last.
#[must_use]
pub fn lines(r: &BriefingReport, style: Style) -> Vec<Line> {
    let width = style.width.max(20);
    let demo = if r.demo { "DEMO  " } else { "" };
    let mut out = Line::of(Role::Plain, format!(" {demo}briefing "))
        .with(Role::Code, &r.structure)
        .with(Role::Heading, format!("  {}", r.what))
        .with(Role::Plain, format!("  {}", r.place))
        .folded(width, 3);
    for c in &r.stops {
        out.extend(row(Role::Stop, "STOP", &c.text, width));
    }
    if let Some(by) = &r.asked_by {
        out.extend(row(Role::Label, "asked", &format!("by {by}"), width));
    }
    for h in &r.hazards {
        out.extend(row(
            Role::Look,
            "LOOK",
            &format!("at the place, {h}"),
            width,
        ));
    }
    out.extend(row(Role::Say, "say", &r.say, width));
    let circuits = match r.circuits.as_slice() {
        [] => "none on record; treat every wire as live".to_string(),
        some => format!("{}; treat each as live, others may exist", some.join(", ")),
    };
    out.extend(row(Role::Label, "lines", &circuits, width));
    for way in &r.ways_in {
        let text = format!("{} {}: {}; treat as live", way.kind, way.name, way.words);
        out.extend(row(Role::Look, "live", &text, width));
    }
    if r.ways_in.is_empty() {
        let text = "no source found on record: not known, treat as live";
        out.extend(row(Role::Unknown, "live", text, width));
    }
    rest(r, width, &mut out);
    out.extend(Line::of(Role::Plain, format!(" {}", r.safety)).folded(width, 1));
    styled(out, style)
}

fn rest(r: &BriefingReport, width: usize, out: &mut Vec<Line>) {
    for c in &r.looks {
        out.extend(row(Role::Look, "LOOK", &c.text, width));
    }
    for f in &r.here {
        out.extend(row(
            Role::Label,
            "here",
            &format!("{} {}", f.label, f.text),
            width,
        ));
    }
    for u in &r.unread {
        let text = format!(
            "plate of {} at {}: {}; {}",
            u.unit,
            u.position,
            u.fields.join(", "),
            u.because
        );
        out.extend(row(Role::Unknown, "read", &text, width));
    }
    for o in &r.orders {
        let due = o
            .due
            .map_or(String::new(), |d| format!("; due {}", d.spoken()));
        let over = if o.overdue { ", OVERDUE" } else { "" };
        let text = format!(
            "{} on {}, {}, {}{over}: {}{due}",
            o.order, o.of, o.state, o.priority, o.need
        );
        out.extend(row(Role::Label, "order", &text, width));
    }
    if r.orders.is_empty() {
        out.extend(row(Role::Label, "order", "none open on record", width));
    }
    out.extend(heading("whom to ask", width));
    for a in &r.ask {
        out.extend(row(Role::Label, "", a, width));
    }
    out.extend(row(
        Role::Muted,
        "read",
        &format!("at {}; id {}", r.read_at.spoken(), r.id),
        width,
    ));
}

/// The lines as printed pages: one, or several that each say how it goes on.
#[must_use]
pub fn pages(r: &BriefingReport, style: Style) -> Vec<Line> {
    let all = lines(r, style);
    if all.len() <= PAGE {
        return all;
    }
    let body = PAGE - 2;
    let count = all.len().div_ceil(body);
    let mut out = Vec::new();
    for (n, part) in all.chunks(body).enumerate() {
        let n = n + 1;
        let head = format!(" briefing {}, page {n} of {count}", r.structure);
        out.push(Line::of(Role::Heading, head));
        out.extend_from_slice(part);
        if n < count {
            let text = format!(" continues on page {} of {count}: read it too", n + 1);
            out.push(Line::of(Role::Look, text));
        }
    }
    out
}
