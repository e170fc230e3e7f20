//! The card as text. Opened, it shows everything; as a preview beside the
//! list each row has its fixed place, so that moving from one record to the
//! next changes few bytes.

mod preview;

use crate::domain::asset::{Kind, Standing};
use crate::domain::finding::{Caution, Severity};
use crate::present::block::{self, capped, heading, labelled, packed, pair, row, styled};
use crate::present::trace::path_line;
use crate::present::{Line, Style};
use crate::role::Role;
use crate::work::card::{
    Card, ElementLine, Fact, Group, HistoryLine, OrderLine, PlateCard, SettingLine, SlotUnit,
};

pub use preview::{preview, preview_beside, preview_in};

/// Lines that may stand above the first STOP.
const ABOVE: usize = 3;
/// Rows of the smallest screen that a card has for itself.
const SMALL_ROWS: usize = 10;
/// Below this width the first two STOPs share the first screen.
const NARROW: usize = 50;

/// The whole card at a width.
#[must_use]
pub fn lines(card: &Card, style: Style) -> Vec<Line> {
    lines_reached(card, None, style)
}

/// The whole card at a width; `reached` says first how it was come by, when it
/// is not what was asked for. The title gives way, so that the first STOP
/// keeps its line.
#[must_use]
pub fn lines_reached(card: &Card, reached: Option<&str>, style: Style) -> Vec<Line> {
    let width = style.width.max(20);
    let reached = reached.map_or(Vec::new(), |text| {
        capped(
            row(Role::Look, "LOOK", text, width),
            ABOVE - 1,
            width,
            false,
        )
    });
    let mut out = title(card, width);
    out = capped(out, ABOVE - reached.len(), width, false);
    let units = unit_line(card);
    let beside = place_beside(&mut out, units.as_ref(), width);
    out.extend(reached);
    let mut later = Vec::new();
    if let (Some(units), false) = (units, beside) {
        put_above(
            &mut out,
            labelled(Role::Label, "unit", &units, width),
            &mut later,
        );
    }
    let say = row(Role::Say, "say", &card.say, width);
    put_above(&mut out, say, &mut later);
    out.extend(cautions(card, out.len(), width, style.ascii));
    out.extend(later);
    for (i, text) in card.state.iter().enumerate() {
        // The line begins with the word `state` itself.
        let text = text.strip_prefix("state").unwrap_or(text).trim_start();
        let label = if i == 0 { "state" } else { "" };
        out.extend(row(
            Role::Label,
            label,
            text.trim_start_matches(": "),
            width,
        ));
    }
    if let Some(on_it) = on_it(card) {
        out.extend(group_lines(on_it, width));
    }
    if !card.gist.is_empty() {
        out.extend(packed("plate", &gist_items(&card.gist), "   ", width));
    }
    for way in &card.fed {
        out.extend(labelled(Role::Label, "path", &path_line(way), width));
    }
    out.extend(at(card, width));
    if card.kind != Kind::Order {
        out.extend(orders(&card.orders, width));
    }
    out.extend(crate::present::due::on_card(&card.due, width));
    out.extend(detail(card, width));
    styled(out, style)
}

/// Puts lines above the cautions while the first STOP stays on the fourth line
/// or higher, and below them otherwise.
fn put_above(out: &mut Vec<Line>, lines: Vec<Line>, later: &mut Vec<Line>) {
    if out.len() + lines.len() <= ABOVE {
        out.extend(lines);
    } else {
        later.extend(lines);
    }
}

fn title(card: &Card, width: usize) -> Vec<Line> {
    let line = Line::of(Role::Plain, " ")
        .with(Role::Code, &card.name)
        .with(Role::Plain, "  ")
        .with(Role::Heading, &card.what);
    capped(line.folded(width, 3), ABOVE, width, false)
}

/// Puts the units at the right end of a one-line title, if they fit.
fn place_beside(title: &mut [Line], units: Option<&Line>, width: usize) -> bool {
    let ([line], Some(units)) = (title, units) else {
        return false;
    };
    let text = Line::of(Role::Label, "unit ");
    let needed = line.width() + 2 + text.width() + units.width() + 1;
    if needed > width {
        return false;
    }
    let gap = width - line.width() - text.width() - units.width() - 1;
    line.push(Role::Plain, " ".repeat(gap));
    line.pieces.extend(text.pieces);
    line.pieces.extend(units.pieces.iter().cloned());
    true
}

fn unit_line(card: &Card) -> Option<Line> {
    match card.units.as_slice() {
        [] => None,
        [one] => Some(slot_unit(one, false)),
        several => {
            let mut out = Line::new();
            for (i, unit) in several.iter().enumerate() {
                if i > 0 {
                    out.push(Role::Plain, ", ");
                }
                out.pieces.extend(slot_unit(unit, true).pieces);
            }
            Some(out)
        }
    }
}

fn slot_unit(unit: &SlotUnit, slot: bool) -> Line {
    let mut out = Line::new();
    if slot {
        let slot = unit.slot.as_deref().unwrap_or("slot not recorded");
        out.push(Role::Label, format!("{slot} "));
    }
    match &unit.unit {
        Some(name) => out.push(Role::Code, name),
        None => out.push(Role::Unknown, "none on record"),
    }
    out
}

const fn severity_role(severity: Severity) -> Role {
    match severity {
        Severity::Stop => Role::Stop,
        Severity::Look => Role::Look,
    }
}

fn caution(c: &Caution, width: usize) -> Vec<Line> {
    row(severity_role(c.severity), c.severity.word(), &c.text, width)
}

/// The cautions. On a narrow screen the first two STOPs share the first ten
/// rows: what had to be cut there stands in full right below.
fn cautions(card: &Card, above: usize, width: usize, ascii: bool) -> Vec<Line> {
    let mut blocks: Vec<Vec<Line>> = card.cautions.iter().map(|c| caution(c, width)).collect();
    let room = SMALL_ROWS.saturating_sub(above);
    let two_stops = card
        .cautions
        .get(1)
        .is_some_and(|c| c.severity == Severity::Stop);
    if width >= NARROW || !two_stops || blocks[0].len() + blocks[1].len() <= room {
        return blocks.concat();
    }
    let rest = blocks.split_off(2);
    let second = blocks[1].len().min(room / 2);
    let first = blocks[0].len().min(room - second);
    let second = blocks[1].len().min(room - first);
    let mut out = Vec::new();
    let mut in_full = Vec::new();
    for (block, rows) in blocks.into_iter().zip([first, second]) {
        if block.len() > rows {
            in_full.extend(block.clone());
        }
        out.extend(capped(block, rows, width, ascii));
    }
    out.extend(heading("in full", width));
    out.extend(in_full);
    out.extend(rest.concat());
    out
}

fn standing_role(standing: Option<Standing>) -> Role {
    match standing {
        Some(Standing::Assumed | Standing::Unknown) => Role::Unknown,
        _ => Role::Value,
    }
}

fn gist_items(gist: &[Fact]) -> Vec<Line> {
    gist.iter()
        .map(|f| {
            Line::of(Role::Label, format!("{} ", f.label)).with(standing_role(f.standing), &f.text)
        })
        .collect()
}

fn at(card: &Card, width: usize) -> Vec<Line> {
    match at_text(card) {
        Some(text) => row(Role::Label, "at", &text, width),
        None => Vec::new(),
    }
}

/// `pole 40-118, Tannery Rd, the weir gate; HB2`.
fn at_text(card: &Card) -> Option<String> {
    let w = &card.place;
    let mut parts = Vec::new();
    match (&w.kind, &w.structure) {
        (Some(kind), Some(s)) if *s != card.name => parts.push(format!("{kind} {s}")),
        (_, Some(s)) if *s != card.name => parts.push(s.clone()),
        _ => {}
    }
    parts.extend(w.road.clone());
    parts.extend(w.near.clone());
    if let (Some(lat), Some(lon)) = (w.lat, w.lon) {
        parts.push(format!("{lat:.5}, {lon:.5}"));
    }
    let mut out = parts.join(", ");
    if let Some(feeder) = &w.feeder {
        if !out.is_empty() {
            out.push_str("; ");
        }
        out.push_str(&format!("home feeder {feeder}"));
    }
    (!out.is_empty()).then_some(out)
}

fn order_line(o: &OrderLine) -> Line {
    let mut line = Line::of(Role::Code, &o.order).with(
        Role::Plain,
        format!(" {}, {}, of {}: {}", o.state, o.priority, o.of, o.need),
    );
    if let Some(due) = o.due {
        let role = if o.overdue { Role::Look } else { Role::Plain };
        let word = if o.overdue { "OVERDUE since" } else { "due" };
        line.push(role, format!("; {word} {}", due.spoken()));
    }
    line
}

fn orders(orders: &[OrderLine], width: usize) -> Vec<Line> {
    if orders.is_empty() {
        return row(Role::Label, "order", "none open on record", width);
    }
    orders
        .iter()
        .flat_map(|o| labelled(Role::Label, "order", &order_line(o), width))
        .collect()
}

/// Everything below the first screen.
fn detail(card: &Card, width: usize) -> Vec<Line> {
    let mut out = Vec::new();
    for way in &card.fed {
        out.extend(crate::present::trace::way_lines(way, width, false));
    }
    let shown = usize::from(on_it(card).is_some());
    for group in card.groups.iter().skip(shown) {
        out.extend(group_lines(group, width));
    }
    for plate in &card.plates {
        out.extend(plate_lines(plate, width));
    }
    out.extend(element_lines(
        "in series, from the normal source side",
        &card.series,
        width,
    ));
    out.extend(element_lines("bypass", &card.bypass, width));
    out.extend(setting_lines(&card.settings, width));
    if !card.studies.is_empty() {
        out.extend(heading("figures on record", width));
        out.extend(facts(&card.studies, width));
    }
    out.extend(history_lines(&card.history, width));
    out.extend(name_lines(card, width));
    if let Some(note) = &card.note {
        out.extend(row(Role::Label, "note", note, width));
    }
    out.extend(row(
        Role::Muted,
        "read",
        &format!("at {}; id {}", card.read_at.spoken(), card.id),
        width,
    ));
    out
}

/// What hangs on a structure: what most ask of its card, so it comes early.
fn on_it(card: &Card) -> Option<&Group> {
    card.groups.first().filter(|_| card.kind == Kind::Structure)
}

fn group_lines(group: &Group, width: usize) -> Vec<Line> {
    let mut out = heading(&group.heading, width);
    out.extend(facts(&group.rows, width));
    out
}

fn facts(rows: &[Fact], width: usize) -> Vec<Line> {
    let column = rows
        .iter()
        .map(|f| f.label.chars().count())
        .max()
        .unwrap_or(0);
    rows.iter()
        .flat_map(|f| {
            let mut text = Line::of(standing_role(f.standing), &f.text);
            if let Some(from) = &f.provenance {
                text.push(Role::Muted, format!("  {from}"));
            }
            pair(&f.label, &text, column, width)
        })
        .collect()
}

fn plate_lines(plate: &PlateCard, width: usize) -> Vec<Line> {
    let slot = plate
        .slot
        .as_ref()
        .map_or(String::new(), |s| format!(", slot {s}"));
    let mut out = heading(
        &format!("plate of {}, {}{slot}", plate.unit, plate.what),
        width,
    );
    out.extend(facts(&plate.fields, width));
    out
}

fn element_lines(title: &str, elements: &[ElementLine], width: usize) -> Vec<Line> {
    if elements.is_empty() {
        return Vec::new();
    }
    let mut out = heading(title, width);
    for e in elements {
        let slot = e.slot.as_ref().map_or(String::new(), |s| format!(" {s}"));
        let mut parts = e.ratings.clone();
        parts.extend(e.normally.as_ref().map(|n| format!("normally {n}")));
        parts.extend(answers(e));
        let text = Line::of(Role::Value, format!("{}{slot}", e.what))
            .with(Role::Plain, format!("  {}", parts.join("; ")));
        let mut line = Line::of(Role::Plain, "   ");
        line.pieces.extend(text.pieces);
        out.extend(line.folded(width, block::LABEL));
    }
    out
}

/// Opens load, visible break, lockable; those of one answer stand together.
fn answers(e: &ElementLine) -> Vec<String> {
    let all = [
        ("opens load", &e.opens_load),
        ("visible break", &e.visible_break),
        ("lockable", &e.lockable),
    ];
    let mut out: Vec<(Vec<&str>, &String)> = Vec::new();
    for (what, answer) in all {
        match out.iter_mut().find(|(_, a)| *a == answer) {
            Some((labels, _)) => labels.push(what),
            None => out.push((vec![what], answer)),
        }
    }
    out.into_iter()
        .map(|(labels, answer)| format!("{}: {answer}", labels.join(", ")))
        .collect()
}

fn setting_lines(settings: &[SettingLine], width: usize) -> Vec<Line> {
    if settings.is_empty() {
        return Vec::new();
    }
    let found = settings.iter().any(|s| s.found.is_some());
    let title = if found {
        "settings as issued, and as found"
    } else {
        "settings as issued (as found: none on record)"
    };
    let mut out = heading(title, width);
    let column = settings
        .iter()
        .map(|s| s.label.chars().count())
        .max()
        .unwrap_or(0);
    for s in settings {
        let mut text = Line::of(Role::Value, &s.issued);
        if let Some(found) = &s.found {
            if s.differs {
                text.push(Role::Look, "  FOUND ");
                text.push(Role::Value, found);
            } else {
                text.push(Role::Muted, format!("  found {found}"));
            }
        }
        out.extend(pair(&s.label, &text, column, width));
    }
    out
}

fn history_text(h: &HistoryLine) -> Line {
    let when = h.on.map_or("date not recorded".to_string(), |d| d.spoken());
    let by = h.by.as_ref().map_or(String::new(), |b| format!(" by {b}"));
    Line::of(Role::Value, when).with(
        Role::Plain,
        format!("  {} of {}{by}: {}", h.what, h.of, h.text),
    )
}

fn history_lines(history: &[HistoryLine], width: usize) -> Vec<Line> {
    let mut out = heading("history, newest first", width);
    if history.is_empty() {
        out.extend(row(Role::Plain, "", "nothing on record", width));
    }
    for h in history {
        let mut line = Line::of(Role::Plain, "   ");
        line.pieces.extend(history_text(h).pieces);
        out.extend(line.folded(width, block::LABEL));
    }
    out
}

fn name_lines(card: &Card, width: usize) -> Vec<Line> {
    let mut out = Vec::new();
    for n in &card.names {
        let mut text = Line::of(Role::Code, &n.text);
        text.push(
            Role::Plain,
            n.whose
                .as_ref()
                .map_or(String::new(), |w| format!(" ({w})")),
        );
        if let Some(from) = n.from {
            text.push(Role::Plain, format!(" from {}", from.spoken()));
        }
        if let Some(to) = n.to {
            text.push(
                Role::Plain,
                format!(" until {}, no longer in use", to.spoken()),
            );
        }
        out.extend(labelled(Role::Label, "also", &text, width));
    }
    out
}
