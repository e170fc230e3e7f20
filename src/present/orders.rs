//! Work orders, round sheets and notices as text.

use super::block::{row, styled};
use super::{Line, Style};
use crate::domain::asset::Kind;
use crate::exchange::csv::line;
use crate::role::Role;
use crate::work::notices::{HitLine, NoticeCard, NoticesReport, ReadReport};
use crate::work::orders::{OrderCard, OrderReport, OrdersReport, ShownOrder};
use crate::work::round::{RoundReport, RoundStop};

/// One order in a line: `2231 urgent open, due …  7-20931  need`.
#[must_use]
pub fn order_row(o: &OrderCard) -> Line {
    let mut line = Line::of(Role::Code, format!("{:<6}", o.order));
    if o.overdue_days.is_some() {
        line.push(Role::Look, " OVERDUE");
    }
    line.push(Role::Plain, format!(" {} {}", o.priority, o.state));
    if let Some(due) = o.due.filter(|_| o.closed.is_none()) {
        line.push(Role::Value, format!(", due {}", due.spoken()));
    }
    line.push(Role::Plain, "  ");
    line.push(Role::Code, &o.of);
    line.push(Role::Plain, format!("  {}", o.need));
    if let Some(who) = &o.who {
        line.push(Role::Muted, format!("; {who}"));
    }
    line
}

/// The list, an order's second identifier under it.
#[must_use]
pub fn list_lines(r: &OrdersReport, style: Style) -> Vec<Line> {
    let of = if r.asked.is_empty() {
        String::new()
    } else {
        format!(" {}", r.asked)
    };
    let mut out = Line::of(
        Role::Heading,
        format!("{} orders{of}, {} overdue", r.orders.len(), r.overdue),
    )
    .folded(style.width, 3);
    for o in &r.orders {
        out.extend(order_row(o).folded(style.width, 7));
        if !o.also.is_empty() {
            let also = Line::of(Role::Muted, format!("       {}", o.also));
            out.extend(also.folded(style.width, 7));
        }
    }
    styled(out, style)
}

/// One order in full.
#[must_use]
pub fn show_lines(r: &ShownOrder, style: Style) -> Vec<Line> {
    let mut out = order_lines(&r.order, style);
    out.extend(row(Role::Label, "can", &r.allowed, style.width));
    for step in &r.steps {
        let text = format!("{} {}: {}", step.entered.spoken(), step.who, step.why);
        out.extend(row(Role::Muted, "step", &text, style.width));
    }
    styled(out, style)
}

fn order_lines(o: &OrderCard, style: Style) -> Vec<Line> {
    let width = style.width;
    let head = Line::of(Role::Plain, " order ")
        .with(Role::Code, &o.order)
        .with(Role::Plain, format!("  {}, {}", o.state, o.priority));
    let mut out = head.folded(width, 3);
    let also = if o.also.is_empty() {
        "no record bears that name".to_string()
    } else {
        o.also.clone()
    };
    let concerns = match o.kind {
        Some(Kind::Unit) => "the unit ",
        Some(Kind::Position | Kind::Structure) => "the place ",
        _ => "",
    };
    let on = format!("{concerns}{}  {also}", o.of);
    out.extend(row(Role::Label, "on", &on, width));
    out.extend(row(Role::Label, "need", &o.need, width));
    for (label, day) in [("from", o.opened), ("due", o.due), ("ended", o.closed)] {
        if let Some(day) = day {
            out.extend(row(Role::Label, label, &day.spoken(), width));
        }
    }
    if let Some(days) = o.overdue_days {
        let text = format!("OVERDUE by {days} days");
        out.extend(row(Role::Look, "LOOK", &text, width));
    }
    for (label, text) in [("who", &o.who), ("note", &o.note)] {
        if let Some(text) = text {
            out.extend(row(Role::Label, label, text, width));
        }
    }
    out
}

/// What became of an order.
#[must_use]
pub fn report_lines(r: &OrderReport, style: Style) -> Vec<Line> {
    let mut out = vec![Line::of(Role::Heading, format!(" {}", r.did))];
    out.extend(order_lines(&r.order, style));
    for note in &r.notes {
        out.extend(row(Role::Look, "LOOK", note, style.width));
    }
    if let Some(entry) = &r.entry {
        out.extend(row(Role::Muted, "entry", entry, style.width));
    }
    let op = r
        .operation
        .as_deref()
        .unwrap_or("none: nothing was written");
    out.push(Line::of(Role::Label, " operation ").with(Role::Value, op));
    styled(out, style)
}

/// A round sheet.
#[must_use]
pub fn round_lines(r: &RoundReport, style: Style) -> Vec<Line> {
    let demo = if r.demo { "DEMO  " } else { "" };
    let head = format!(
        "{demo}round sheet of {}, {} stops, read {}",
        r.feeder,
        r.stops.len(),
        r.read_at.spoken()
    );
    let mut out = Line::of(Role::Heading, head).folded(style.width, 3);
    let treat = "Treat every wire as live. In walking order from the head of the feeder.";
    out.extend(Line::of(Role::Plain, treat).folded(style.width, 0));
    let mut apart = false;
    for s in &r.stops {
        if !s.reached && !apart {
            apart = true;
            let text = format!(
                "{} stops to which no line on record leads from the head:",
                r.not_reached
            );
            out.extend(Line::of(Role::Look, text).folded(style.width, 3));
        }
        out.extend(stop_lines(s, style.width));
    }
    styled(out, style)
}

fn stop_lines(s: &RoundStop, width: usize) -> Vec<Line> {
    let mut line =
        Line::of(Role::Plain, format!("[ ] {:>3} ", s.stop)).with(Role::Code, &s.structure);
    let kind = s.kind.as_deref().unwrap_or("NOT IN THE REGISTER");
    line.push(Role::Plain, format!(" {kind}"));
    let home = s.home.as_ref().map(|h| format!("at home in {h}"));
    for part in [&s.house, &s.road, &s.near, &home].into_iter().flatten() {
        line.push(Role::Plain, format!(", {part}"));
    }
    if !s.also.is_empty() {
        line.push(Role::Muted, format!("; tag {}", s.also.join(", ")));
    }
    if let Some(ft) = s.span_ft {
        let ft = crate::units::figure(ft);
        line.push(
            Role::Muted,
            format!(
                "; {ft} ft from {}",
                s.back_to.as_deref().unwrap_or("the last")
            ),
        );
    }
    let mut out = line.folded(width, 8);
    if let (Some(back), None) = (&s.back_to, s.span_ft) {
        let text = format!("        back to {back}, then here");
        out.extend(Line::of(Role::Muted, text).folded(width, 8));
    }
    for hazard in &s.hazards {
        let line = Line::of(Role::Look, "        LOOK ").with(Role::Plain, hazard);
        out.extend(line.folded(width, 13));
    }
    if !s.devices.is_empty() {
        let text = format!("        {}", s.devices.join(", "));
        out.extend(Line::of(Role::Plain, text).folded(width, 8));
    }
    if !s.due.is_empty() {
        let due = Line::of(Role::Label, "        due ").with(Role::Plain, s.due.join("; "));
        out.extend(due.folded(width, 12));
    }
    for o in &s.orders {
        let mut line = Line::of(Role::Label, "        order ");
        line.pieces.extend(order_row(o).pieces);
        out.extend(line.folded(width, 14));
    }
    out
}

/// Columns of the sheet as CSV.
const COLUMNS: [&str; 16] = [
    "stop",
    "structure",
    "kind",
    "back_to",
    "span_ft",
    "road",
    "near",
    "house",
    "also",
    "home",
    "devices",
    "hazards",
    "orders",
    "due",
    "reached",
    "found",
];

/// The sheet as CSV; no cell is a formula. `found` is left to be filled in.
#[must_use]
pub fn round_csv(r: &RoundReport) -> String {
    let mut out = line(COLUMNS);
    out.push_str("\r\n");
    for s in &r.stops {
        let text = |t: &Option<String>| t.clone().unwrap_or_default();
        let orders: Vec<String> = s.orders.iter().map(|o| order_row(o).plain()).collect();
        let cells = [
            s.stop.to_string(),
            s.structure.clone(),
            text(&s.kind),
            text(&s.back_to),
            s.span_ft.map(|f| f.to_string()).unwrap_or_default(),
            text(&s.road),
            text(&s.near),
            text(&s.house),
            s.also.join("; "),
            text(&s.home),
            s.devices.join("; "),
            s.hazards.join("; "),
            orders.join("; "),
            s.due.join("; "),
            if s.reached { "yes" } else { "no" }.to_string(),
            String::new(),
        ];
        out.push_str(&line(
            cells
                .iter()
                .map(|c| crate::role::harmless(c))
                .collect::<Vec<_>>()
                .iter()
                .map(AsRef::as_ref),
        ));
        out.push_str("\r\n");
    }
    out
}

/// One notice in a line.
#[must_use]
pub fn notice_row(n: &NoticeCard) -> Line {
    let read = if n.read_by_you {
        "read"
    } else {
        "NOT READ BY YOU"
    };
    Line::of(Role::Code, &n.notice)
        .with(Role::Plain, format!("  {}", n.state))
        .with(
            Role::Value,
            format!(", hits {}, may hit {}", n.hits.len(), n.may_hit.len()),
        )
        .with(
            if n.read_by_you {
                Role::Muted
            } else {
                Role::Look
            },
            format!("; {read}; "),
        )
        .with(Role::Plain, &n.text)
}

/// Every notice in short, or one in full.
#[must_use]
pub fn notice_lines(r: &NoticesReport, full: bool, style: Style) -> Vec<Line> {
    let mut out = Vec::new();
    for n in &r.notices {
        if full {
            out.extend(one_notice(n, style.width));
        } else {
            out.extend(notice_row(n).folded(style.width, 3));
        }
    }
    if out.is_empty() {
        out.push(Line::of(Role::Plain, "No notice is on record."));
    }
    styled(out, style)
}

fn one_notice(n: &NoticeCard, width: usize) -> Vec<Line> {
    let mut out = Line::of(Role::Plain, " notice ")
        .with(Role::Code, &n.notice)
        .with(Role::Plain, format!("  {}", n.state))
        .folded(width, 3);
    let day =
        |d: Option<crate::calendar::Date>, none: &str| d.map_or(none.to_string(), |d| d.spoken());
    let dates = format!(
        "{} until {}",
        day(n.from, "no first day"),
        day(n.until, "further notice")
    );
    out.extend(row(Role::Stop, "text", &n.text, width));
    out.extend(row(Role::Label, "about", &n.about, width));
    out.extend(row(Role::Label, "from", &dates, width));
    if let Some(defect) = n.bears_like {
        let text = format!("as {defect}, on every unit it hits or may hit");
        out.extend(row(Role::Label, "count", &text, width));
    }
    let read: Vec<String> = n
        .read_by
        .iter()
        .map(|r| format!("{} {}", r.who, r.on.spoken()))
        .collect();
    let read = if read.is_empty() {
        "nobody on record".to_string()
    } else {
        read.join(", ")
    };
    out.extend(row(Role::Label, "read", &format!("by {read}"), width));
    for (heading, list) in [
        ("hits", &n.hits),
        (
            "may hit: the plate that would tell is unread; treat as hit",
            &n.may_hit,
        ),
    ] {
        let text = format!(" {}, {heading}", list.len());
        out.extend(Line::of(Role::Heading, text).folded(width, 3));
        list.iter().for_each(|l| out.extend(hit(l, width)));
    }
    out
}

fn hit(l: &HitLine, width: usize) -> Vec<Line> {
    let mut line = Line::of(Role::Code, format!("   {:<10}", l.unit))
        .with(Role::Plain, format!(" {}", l.class));
    for part in [Some(&l.also), l.feeder.as_ref()].into_iter().flatten() {
        line.push(Role::Plain, format!(", {part}"));
    }
    if !l.unread.is_empty() {
        line.push(Role::Unknown, format!("; unread: {}", l.unread.join(", ")));
    }
    line.folded(width, 14)
}

/// That somebody has read a notice.
#[must_use]
pub fn read_lines(r: &ReadReport) -> Vec<Line> {
    let text = match &r.operation {
        Some(_) => format!("read by {} on {}", r.who, r.on.spoken()),
        None => format!(
            "{} read it before, on {}; nothing was written",
            r.who,
            r.on.spoken()
        ),
    };
    vec![
        Line::of(Role::Label, "notice ")
            .with(Role::Code, &r.notice)
            .with(Role::Plain, format!("  {text}")),
    ]
}
