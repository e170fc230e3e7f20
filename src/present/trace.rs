//! A trace as text.

use super::block::{counted, heading, labelled, pair, row, styled};
use super::{Line, Style};
use crate::domain::network::{Device, Direction, FeedKind, OtherFeed, Side};
use crate::role::Role;
use crate::units::figure;
use crate::work::trace::{ConnectedKva, TraceReport, Traced};

/// Devices beyond that a card lists; a trace has them all.
const BEYOND: usize = 6;
/// Structures that are spelled out.
const SPELLED: usize = 60;

/// The whole trace at a width.
#[must_use]
pub fn lines(report: &TraceReport, style: Style) -> Vec<Line> {
    let width = style.width.max(20);
    let mut out = Line::of(Role::Plain, " ")
        .with(Role::Code, &report.name)
        .with(Role::Plain, format!("  {}", report.kind))
        .with(Role::Heading, "  NOT A SWITCHING ORDER")
        .folded(width, 3);
    let demo = if report.demo { "DEMO. " } else { "" };
    out.extend(row(
        Role::Look,
        "LOOK",
        &format!("{demo}{}", report.heading),
        width,
    ));
    if report.ways.is_empty() {
        out.extend(row(
            Role::Unknown,
            "path",
            "not known: no line at it is on record",
            width,
        ));
    }
    for way in &report.ways {
        out.extend(labelled(Role::Label, "path", &path_line(way), width));
        out.extend(way_lines(way, width, true));
    }
    out.extend(row(
        Role::Muted,
        "read",
        &format!("at {}; id {}", report.read_at.spoken(), report.id),
        width,
    ));
    styled(out, style)
}

/// `Hobb bus > HB2-BK-1 > this > 61 structures, 148 customers`.
pub(super) fn path_line(way: &Traced) -> Line {
    let walk = &way.walk;
    let mut out = Line::new();
    if let Some(part) = &way.part {
        out.push(Role::Label, format!("{part}: "));
    }
    match (&walk.source, &walk.no_source) {
        (Some(source), _) => out.push(Role::Code, source),
        (None, Some(why)) => {
            out.push(Role::Unknown, format!("source not known: {why}"));
            return out;
        }
        (None, None) => out.push(Role::Unknown, "source not known"),
    }
    for device in &walk.path {
        out.push(Role::Plain, " > ");
        out.push(Role::Code, &device.name);
    }
    out.push(Role::Plain, " > this");
    if serves_itself(way) && beyond_words(way).is_empty() {
        return out;
    }
    out.push(Role::Plain, " > ");
    let role = if walk.beyond.is_some() {
        Role::Value
    } else {
        Role::Unknown
    };
    out.push(role, beyond_words(way));
    out
}

/// `61 structures, 148 customers`, or why that cannot be told.
pub(super) fn beyond_words(way: &Traced) -> String {
    match (&way.walk.beyond, &way.walk.beyond_unknown) {
        (Some(b), _) => {
            let customers = usize::try_from(b.customers).unwrap_or(usize::MAX);
            if serves_itself(way) {
                return match (customers, b.uncounted) {
                    (0, 0) => String::new(),
                    (0, _) => "customers not recorded".to_string(),
                    (n, _) => counted(n, "customer"),
                };
            }
            let structures = counted(b.structures.len(), "structure");
            format!("{structures}, {}", counted(customers, "customer"))
        }
        (None, Some(why)) => why.clone(),
        (None, None) => "what it feeds is not known".to_string(),
    }
}

/// Whether the record hangs off the line and feeds no line of its own.
fn serves_itself(way: &Traced) -> bool {
    way.walk
        .beyond
        .as_ref()
        .is_some_and(|b| b.structures.is_empty() && b.hangs.len() == 1)
}

/// Everything about one way but its path line.
pub(super) fn way_lines(way: &Traced, width: usize, spelled: bool) -> Vec<Line> {
    let walk = &way.walk;
    let mut out = Vec::new();
    let mut head = "line, by the normal state on record".to_string();
    if let Some(part) = &way.part {
        head.push_str(&format!(", {part}"));
    }
    if let Some(feeder) = &way.feeder {
        head.push_str(&format!(" (home feeder {feeder})"));
    }
    out.extend(heading(&head, width));
    let mut put = |label: &str, text: Line| out.extend(pair(label, &text, 14, width));
    if let Some(from) = &walk.comes_from {
        let known = match walk.direction {
            Direction::BothEnds => "both sides; first ",
            _ => "",
        };
        put(
            "source side",
            Line::of(Role::Value, format!("{known}{from}")),
        );
    }
    put("protected by", protecting(way));
    for device in &walk.path {
        put("on the way", device_line(device));
    }
    if !beyond_words(way).is_empty() {
        put("feeds", feeds(way));
        if let Some(kva) = &way.connected_kva {
            put("connected", kva_line(kva));
        }
    }
    if let Some(beyond) = &walk.beyond {
        for (label, line) in devices_beyond(&beyond.devices, spelled) {
            put(label, line);
        }
        if spelled && !beyond.structures.is_empty() {
            put("structures", structures(&beyond.structures));
        }
    }
    if walk.other_feeds.is_empty() {
        put(
            "other ways in",
            Line::of(Role::Plain, "none recorded; others may exist"),
        );
    }
    for feed in &walk.other_feeds {
        put("other way in", feed_line(feed));
    }
    for note in &walk.notes {
        put("note", Line::of(Role::Look, note));
    }
    out
}

/// The devices beyond; on a card the first few, and how many more.
fn devices_beyond(devices: &[Device], all: bool) -> Vec<(&'static str, Line)> {
    let shown = if all {
        devices.len()
    } else {
        BEYOND.min(devices.len())
    };
    let mut out: Vec<_> = devices[..shown]
        .iter()
        .map(|d| ("beyond", device_line(d)))
        .collect();
    let rest = devices.len() - shown;
    if rest > 0 {
        let text = format!("… and {rest} more (t trace)");
        out.push(("", Line::of(Role::Muted, text)));
    }
    out
}

fn protecting(way: &Traced) -> Line {
    let walk = &way.walk;
    let mut out = match &walk.protecting {
        Some(d) => device_line(d),
        None if walk.source.is_some() && walk.path.is_empty() => Line::of(
            Role::Unknown,
            "what stands at the source; it is not on record here",
        ),
        None => Line::of(
            Role::Unknown,
            "no device toward the source that opens on a fault is on record",
        ),
    };
    if !walk.perhaps_protecting.is_empty() {
        out.push(
            Role::Unknown,
            format!(
                "; perhaps {}, link or blade not recorded",
                walk.perhaps_protecting.join(", ")
            ),
        );
    }
    out
}

fn device_line(d: &Device) -> Line {
    let mut out = Line::of(Role::Code, &d.name).with(Role::Plain, format!(" {}", d.class));
    if let Some(at) = &d.structure {
        out.push(Role::Plain, format!(" at {at}"));
    }
    if let Some(other) = &d.stands_otherwise {
        out.push(Role::Look, format!("; {other}"));
    }
    out
}

fn feeds(way: &Traced) -> Line {
    let mut out = Line::of(Role::Value, beyond_words(way));
    if let Some(b) = &way.walk.beyond {
        if !b.critical.is_empty() {
            let flags: Vec<String> = b
                .critical
                .iter()
                .map(|(flag, n)| format!("{flag} {n}"))
                .collect();
            out.push(Role::Look, format!("; critical: {}", flags.join(", ")));
        }
        if b.uncounted > 0 {
            out.push(
                Role::Unknown,
                format!(
                    "; {} without a customer count",
                    counted(b.uncounted, "transformer")
                ),
            );
        }
    }
    out
}

fn kva_line(k: &ConnectedKva) -> Line {
    let mut out = Line::of(
        Role::Value,
        format!(
            "{} kVA: A {}, B {}, C {}",
            figure(k.total()),
            figure(k.a),
            figure(k.b),
            figure(k.c)
        ),
    );
    let mut doubts = Vec::new();
    if k.phase_not_recorded > 0.0 {
        doubts.push(format!(
            "{} of unrecorded phase",
            figure(k.phase_not_recorded)
        ));
    }
    if k.assumed > 0.0 {
        doubts.push(format!("{} of it assumed", figure(k.assumed)));
    }
    if k.unread_units > 0 {
        doubts.push(format!("{} unread", counted(k.unread_units, "unit")));
    }
    if k.without_unit > 0 {
        doubts.push(format!(
            "{} without a unit on record",
            counted(k.without_unit, "transformer position")
        ));
    }
    if !doubts.is_empty() {
        out.push(Role::Unknown, format!("; {}", doubts.join(", ")));
    }
    out
}

fn structures(names: &[String]) -> Line {
    let mut text = names
        .iter()
        .take(SPELLED)
        .cloned()
        .collect::<Vec<_>>()
        .join(", ");
    if names.len() > SPELLED {
        text.push_str(&format!(" and {} more", names.len() - SPELLED));
    }
    Line::of(Role::Value, text)
}

fn feed_line(feed: &OtherFeed) -> Line {
    let kind = match feed.kind {
        FeedKind::Tie => "tie, normally open",
        FeedKind::Generation => "generation",
        FeedKind::Join => "line of another feeder, no open point recorded in that span",
    };
    let side = match feed.side {
        Side::Beyond => "beyond",
        Side::SourceSide => "on the source side",
    };
    let mut out = Line::of(Role::Code, &feed.name).with(Role::Plain, format!(" {kind}, {side}"));
    if let Some(at) = &feed.at {
        out.push(Role::Plain, format!(", at {at}"));
    }
    if let Some(from) = &feed.from {
        out.push(Role::Plain, format!(", {from}"));
    }
    if let Some(other) = &feed.stands_otherwise {
        out.push(Role::Look, format!("; {other}"));
    }
    out
}
