//! The card beside the list: every row in its fixed place.

use super::{ABOVE, at_text, caution, gist_items, history_text, order_line, title, unit_line};
use crate::domain::asset::Kind;
use crate::domain::finding::Severity;
use crate::present::block::{self, capped, counted, labelled, packed, row, styled};
use crate::present::trace::path_line;
use crate::present::{Line, Style};
use crate::role::Role;
use crate::work::card::Card;

/// Rows in which the preview beside a list has its fixed places.
const ROWS: usize = 18;
/// Up to this height there is room for the cautions and the plate alone, a
/// line each: what changes at every step through a list is sent every time.
const SMALL: usize = 8;

/// The card beside the list: exactly `height` lines of at most `width`
/// columns, each kind of row in its fixed place, the radio line left out.
#[must_use]
pub fn preview(card: &Card, width: usize, height: usize) -> Vec<Line> {
    preview_in(
        card,
        Style {
            width,
            ascii: false,
        },
        height,
    )
}

/// [`preview`] in a style.
#[must_use]
pub fn preview_in(card: &Card, style: Style, height: usize) -> Vec<Line> {
    let width = style.width.max(20);
    let plan = Plan::of(width, height);
    let mut out = vec![
        title(card, 10_000).remove(0).cut(width, "…"),
        one("unit", &second(card), width),
        one(
            "at",
            &if height > SMALL {
                place(card)
            } else {
                hangs_on(card)
            },
            width,
        ),
    ];
    out.extend(fixed(
        caution_rows(card, width, plan.cautions, height > SMALL),
        plan.cautions,
    ));
    out.extend(rows("state", &state(card), width, plan.state));
    out.extend(plate_rows(&gist_items(&card.gist), width, plan.plate));
    out.extend(rows("path", &path(card), width, plan.path));
    out.extend(rows("order", &order(card), width, plan.order));
    out.extend(rows("last", &last(card), width, plan.last));
    out.truncate(height);
    out.resize(height, Line::new());
    styled(out, style)
}

/// The preview where there are rows to spare: all of it whole. What stands
/// whole in [`ROWS`] lines has the same places as there; what needs more moves
/// what is below it. At most `height` lines.
#[must_use]
pub fn preview_beside(card: &Card, style: Style, height: usize) -> Vec<Line> {
    let width = style.width.max(20);
    let plan = Plan::of(width, ROWS.min(height));
    let least = |mut lines: Vec<Line>, n: usize| {
        lines.resize(lines.len().max(n), Line::new());
        lines
    };
    let label = |label: &str, text: &Line| labelled(Role::Label, label, text, width);
    let mut out = title(card, width);
    out.extend(label("unit", &second(card)));
    out.extend(label("at", &place(card)));
    out.extend(least(
        caution_rows(card, width, usize::MAX, true),
        plan.cautions,
    ));
    out.extend(least(label("state", &state(card)), plan.state));
    let plate = match gist_items(&card.gist) {
        gist if gist.is_empty() => label("plate", &none("none on record")),
        gist => packed("plate", &gist, "   ", width),
    };
    out.extend(least(plate, plan.plate));
    out.extend(least(label("path", &path(card)), plan.path));
    out.extend(least(label("order", &order(card)), plan.order));
    out.extend(least(label("last", &last(card)), plan.last));
    if out.len() > height {
        return preview_in(card, style, height);
    }
    styled(out, style)
}

fn place(card: &Card) -> Line {
    at_text(card).map_or_else(|| none("not recorded"), |t| Line::of(Role::Value, t))
}

/// Where there is little room: what the row of the list does not say.
fn hangs_on(card: &Card) -> Line {
    let w = &card.place;
    let structure = w.structure.as_ref().filter(|s| **s != card.name);
    let kind = w.kind.as_deref().unwrap_or_default();
    let on = structure.map(|s| format!("{kind} {s}").trim_start().to_string());
    let home = w.feeder.as_ref().map(|f| format!("home feeder {f}"));
    let parts: Vec<String> = on.into_iter().chain(home).collect();
    if parts.is_empty() {
        return place(card);
    }
    Line::of(Role::Value, parts.join("; "))
}

fn state(card: &Card) -> Line {
    match card.state.first() {
        Some(s) => {
            let text = s.strip_prefix("state").unwrap_or(s).trim_start();
            Line::of(Role::Value, text.trim_start_matches(": "))
        }
        None => none("none is kept for this kind"),
    }
}

fn path(card: &Card) -> Line {
    card.fed
        .first()
        .map_or_else(|| none("not walked"), path_line)
}

fn order(card: &Card) -> Line {
    match card.orders.as_slice() {
        [] if card.kind == Kind::Order => none("this is one"),
        [] => none("none open on record"),
        [first, rest @ ..] => {
            let mut line = order_line(first);
            if !rest.is_empty() {
                line = Line::of(Role::Look, format!("{} open; ", rest.len() + 1));
                line.pieces.extend(order_line(first).pieces);
            }
            line
        }
    }
}

fn last(card: &Card) -> Line {
    card.history
        .first()
        .map_or_else(|| none("nothing on record"), history_text)
}

/// The second row: the units of a position, the devices of a structure, the
/// marks of a unit.
fn second(card: &Card) -> Line {
    match card.kind {
        Kind::Position => {
            unit_line(card).unwrap_or_else(|| none("none; its elements are on record"))
        }
        Kind::Structure => {
            let names: Vec<&str> = card
                .groups
                .first()
                .map(|g| g.rows.iter().map(|r| r.label.as_str()).collect())
                .unwrap_or_default();
            Line::of(Role::Label, "on it ").with(Role::Code, names.join(", "))
        }
        Kind::Unit => {
            let field = |label: &str| {
                let fields = card.plates.iter().flat_map(|p| &p.fields);
                fields
                    .filter(|f| f.label == label)
                    .map(|f| format!("{label} {}", f.text))
                    .next()
            };
            let marks: Vec<String> = ["serial", "made", "model"]
                .into_iter()
                .filter_map(field)
                .collect();
            Line::of(Role::Value, marks.join(", "))
        }
        _ => none("not of this kind"),
    }
}

/// The plate in exactly `n` lines; in one line its items stand close.
fn plate_rows(gist: &[Line], width: usize, n: usize) -> Vec<Line> {
    if gist.is_empty() {
        return rows("plate", &none("none on record"), width, n);
    }
    if n != 1 {
        return fixed(
            capped(packed("plate", gist, "   ", width), n, width, false),
            n,
        );
    }
    let mut line = Line::new();
    for item in gist {
        if !line.pieces.is_empty() {
            line.push(Role::Plain, "  ");
        }
        line.pieces.extend(item.pieces.iter().cloned());
    }
    rows("plate", &line, width, 1)
}

fn none(text: &str) -> Line {
    Line::of(Role::Muted, text)
}

fn one(label: &str, text: &Line, width: usize) -> Line {
    let mut line = Line::of(Role::Label, format!(" {label:<5} "));
    line.pieces.extend(text.pieces.iter().cloned());
    line.cut(width, "…")
}

/// A labelled row that takes exactly `n` lines.
fn rows(label: &str, text: &Line, width: usize, n: usize) -> Vec<Line> {
    match n {
        0 => Vec::new(),
        1 => vec![one(label, text, width)],
        n => fixed(
            capped(labelled(Role::Label, label, text, width), n, width, false),
            n,
        ),
    }
}

fn fixed(mut lines: Vec<Line>, n: usize) -> Vec<Line> {
    lines.resize(n, Line::new());
    lines
}

/// How many lines each row of a preview takes: a function of the size alone.
#[derive(Debug, Clone, Copy)]
struct Plan {
    cautions: usize,
    state: usize,
    plate: usize,
    path: usize,
    order: usize,
    last: usize,
}

impl Plan {
    fn of(width: usize, height: usize) -> Plan {
        if height <= SMALL {
            return Plan {
                cautions: height.saturating_sub(ABOVE + 1),
                state: 0,
                plate: 1,
                path: 0,
                order: 0,
                last: 0,
            };
        }
        let wide = width >= 90;
        let mut plan = Plan {
            cautions: 0,
            state: if wide { 1 } else { 2 },
            plate: if width >= 100 { 1 } else { 2 },
            path: if wide { 1 } else { 2 },
            order: if height >= 18 { 2 } else { 1 },
            last: if height >= 20 { 2 } else { 1 },
        };
        let body = height.saturating_sub(ABOVE);
        let least = if height >= 16 { 6 } else { 4.min(body) };
        let mut give = |take: fn(&mut Plan) -> &mut usize, down_to: usize| {
            while plan.total() + least > body && *take(&mut plan) > down_to {
                *take(&mut plan) -= 1;
            }
        };
        give(|p| &mut p.last, 0);
        give(|p| &mut p.order, 1);
        give(|p| &mut p.path, 1);
        give(|p| &mut p.plate, 1);
        give(|p| &mut p.order, 0);
        give(|p| &mut p.state, 1);
        give(|p| &mut p.path, 0);
        give(|p| &mut p.plate, 0);
        give(|p| &mut p.state, 0);
        plan.cautions = body.saturating_sub(plan.total());
        plan
    }

    const fn total(&self) -> usize {
        self.state + self.plate + self.path + self.order + self.last
    }
}

/// As many cautions as the rows hold: each STOP has a line before any has two;
/// none has two unless `whole`.
fn caution_rows(card: &Card, width: usize, room: usize, whole: bool) -> Vec<Line> {
    if card.cautions.is_empty() {
        return row(
            Role::Muted,
            "",
            "no caution derived from this record",
            width,
        )
        .into_iter()
        .take(room)
        .collect();
    }
    let blocks: Vec<Vec<Line>> = card.cautions.iter().map(|c| caution(c, width)).collect();
    let total: usize = blocks.iter().map(Vec::len).sum();
    if total <= room {
        return blocks.concat();
    }
    let room = room.saturating_sub(1);
    let mut share = vec![0_usize; blocks.len()];
    let stops = card.count(Severity::Stop);
    let mut left = room;
    let ranges = [0..stops, stops..blocks.len()];
    for range in ranges {
        for i in range.clone() {
            if left > 0 {
                share[i] = 1;
                left -= 1;
            }
        }
        for i in range.filter(|_| whole) {
            while left > 0 && share[i] > 0 && share[i] < blocks[i].len() {
                share[i] += 1;
                left -= 1;
            }
        }
    }
    let hidden = share.iter().filter(|n| **n == 0).count();
    let cut = share
        .iter()
        .zip(&blocks)
        .filter(|(n, b)| **n > 0 && **n < b.len())
        .count();
    let mut out = Vec::new();
    for (block, n) in blocks.into_iter().zip(share) {
        if n > 0 {
            out.extend(capped(block, n, width, false));
        }
    }
    out.extend(more(hidden, cut, width));
    out
}

fn more(hidden: usize, cut: usize, width: usize) -> Vec<Line> {
    let mut parts = Vec::new();
    if hidden > 0 {
        parts.push(format!("{} more", counted(hidden, "caution")));
    }
    if cut > 0 {
        parts.push(format!("{cut} cut short"));
    }
    let text = format!("{}: open the card", parts.join(", "));
    vec![Line::of(Role::Look, format!("{}{text}", " ".repeat(block::LABEL))).cut(width, "…")]
}
