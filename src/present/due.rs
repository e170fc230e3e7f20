//! What is due, as text.

use super::block::{counted, heading, labelled, row, styled};
use super::{Line, Style};
use crate::role::Role;
use crate::units::figure;
use crate::work::due::{DueReport, Item, Stands};

/// Items spelled out where the whole register was asked about.
const SPELLED: usize = 40;

/// The whole report; with `all`, every item.
#[must_use]
pub fn lines(report: &DueReport, style: Style, all: bool) -> Vec<Line> {
    let width = style.width.max(20);
    let mut out = Line::of(Role::Heading, format!(" {}", summary(report))).folded(width, 3);
    if report.feeders.len() > 1 {
        for f in &report.feeders {
            let name = f.feeder.as_deref().unwrap_or("none");
            let text = format!(
                "{name}  {} due: {} never done or date unknown, {} overdue",
                number(f.due),
                number(f.never),
                number(f.overdue)
            );
            out.extend(row(Role::Label, "feed", &text, width));
        }
    }
    if report.whats.len() > 1 {
        let parts: Vec<String> = report
            .whats
            .iter()
            .map(|(what, n)| format!("{what} {}", number(*n)))
            .collect();
        out.extend(row(Role::Label, "what", &parts.join(", "), width));
    }
    for note in &report.notes {
        out.extend(row(Role::Look, "LOOK", note, width));
    }
    let shown = if all { report.due.len() } else { SPELLED };
    let mut group = "";
    for i in report.due.iter().take(shown) {
        if group != group_of(i) {
            group = group_of(i);
            out.push(Line::new());
            out.extend(heading(group, width));
        }
        out.extend(item(i, width));
    }
    let more = report.total - report.due.len().min(shown);
    if more > 0 {
        let text = format!(
            "   and {} more: --feeder or --what narrows the list, --csv or --json has it whole",
            number(more)
        );
        out.push(Line::new());
        out.extend(Line::of(Role::Muted, text).folded(width, 5));
    }
    styled(out, style)
}

/// `DEMO. Due by 3 Oct 2026: 12 items`.
#[must_use]
pub fn summary(report: &DueReport) -> String {
    let demo = if report.demo { "DEMO. " } else { "" };
    let found = match report.total {
        0 => "nothing by the intervals in force and what is on record".to_string(),
        n => counted(n, "item"),
    };
    format!("{demo}due by {}: {found}", report.by.spoken())
}

/// Under which heading an item stands.
#[must_use]
pub fn group_of(i: &Item) -> &'static str {
    match i.stands {
        Stands::Never => "never done, so far as the record tells",
        Stands::DateUnknown => "on a date unknown",
        Stands::Overdue => "overdue, the longest first",
        Stands::Due => "due",
    }
}

fn item(i: &Item, width: usize) -> Vec<Line> {
    let mut line = Line::of(Role::Plain, "   ");
    line.pieces.extend(item_line(i).pieces);
    let feeder = i
        .feeder
        .as_ref()
        .map_or(String::new(), |f| format!(", {f}"));
    line.push(Role::Plain, format!("; {}{feeder}", i.also));
    line.folded(width, 5)
}

/// A row of a list: the record and when; why stands elsewhere.
#[must_use]
pub fn row_line(i: &Item) -> Line {
    let mut line = Line::of(Role::Plain, &i.record);
    if let Some(slot) = &i.slot {
        line.push(Role::Plain, format!(" {slot}"));
    }
    line.push(Role::Plain, format!("  {}", i.what));
    line.push(
        Role::Plain,
        match (i.stands, i.due) {
            (Stands::Overdue, Some(on)) => format!(", since {}", on.spoken()),
            (_, Some(on)) => format!(", by {}", on.spoken()),
            (_, None) => String::new(),
        },
    );
    if let Some(order) = &i.order {
        line.push(Role::Value, format!(", order {order} open"));
    }
    line.push(Role::Plain, format!("; {}", i.also));
    line
}

/// The whole reason of one item, with the second identifier.
#[must_use]
pub fn reason(i: &Item) -> Line {
    let mut line = item_line(i);
    line.push(Role::Plain, format!("; {}", i.also));
    line
}

/// `HB2-RC-14  oil test, OVERDUE since 3 Oct 2024: last oil test …`.
#[must_use]
pub fn item_line(i: &Item) -> Line {
    let mut line = Line::of(Role::Code, &i.record);
    if let Some(slot) = &i.slot {
        line.push(Role::Plain, format!(" {slot}"));
    }
    line.push(Role::Plain, "  ");
    line.pieces.extend(what_line(i).pieces);
    line
}

fn what_line(i: &Item) -> Line {
    let mut line = Line::of(Role::Value, i.what.word());
    match (i.stands, i.due) {
        (Stands::Overdue, Some(on)) => {
            line.push(Role::Look, format!(", OVERDUE since {}", on.spoken()))
        }
        (Stands::Never, Some(on)) => {
            line.push(Role::Look, format!(", never done, due {}", on.spoken()))
        }
        (_, Some(on)) => line.push(Role::Plain, format!(", due {}", on.spoken())),
        (stands, None) => line.push(Role::Look, format!(", {}", stands.word())),
    }
    if let Some(order) = &i.order {
        line.push(Role::Value, format!(", order {order} open"));
    }
    line.push(Role::Plain, format!(": {}", i.why));
    if i.unconfirmed() {
        line.push(Role::Muted, format!(" (interval: {})", i.standing));
    }
    line
}

/// The row of a card: what is due and since when, each once; the reasons stand
/// in the list. None when nothing is due.
#[must_use]
pub fn on_card(items: &[Item], width: usize) -> Vec<Line> {
    let groups = [
        (Stands::Never, "never done: "),
        (Stands::DateUnknown, "date unknown: "),
        (Stands::Overdue, "OVERDUE: "),
        (Stands::Due, "today: "),
    ];
    let mut text = Line::new();
    for (stands, label) in groups {
        let mut parts: Vec<String> = Vec::new();
        for i in items.iter().filter(|i| i.stands == stands) {
            let since = i.due.filter(|_| stands == Stands::Overdue);
            let part = match since {
                Some(on) => format!("{} since {}", i.what, on.spoken()),
                None => i.what.to_string(),
            };
            if !parts.contains(&part) {
                parts.push(part);
            }
        }
        if parts.is_empty() {
            continue;
        }
        if !text.pieces.is_empty() {
            text.push(Role::Plain, "; ");
        }
        let role = if stands == Stands::Due {
            Role::Plain
        } else {
            Role::Look
        };
        text.push(role, label);
        text.push(Role::Plain, parts.join(", "));
    }
    if text.pieces.is_empty() {
        return Vec::new();
    }
    labelled(Role::Label, "due", &text, width)
}

/// What stands beside the list for one item: why, the interval and its source.
#[must_use]
pub fn founded(i: &Item) -> String {
    format!(
        "interval {:?}; source: {} ({})",
        i.interval, i.source, i.standing
    )
}

fn number(n: usize) -> String {
    figure(f64::from(u32::try_from(n).unwrap_or(u32::MAX)))
}
