//! Blocks of lines that several reports share: a label with its text beside
//! it, items packed whole, ASCII.

use super::{Line, Style};
use crate::role::Role;

/// Columns of the label and the space on either side.
pub(super) const LABEL: usize = 7;

/// A label and its text, folded beside the label. A label too long for its
/// column pushes the first line on.
pub(super) fn labelled(role: Role, label: &str, text: &Line, width: usize) -> Vec<Line> {
    let mut line = Line::of(role, format!(" {label:<5} "));
    line.pieces.extend(text.pieces.iter().cloned());
    line.folded(width, LABEL)
}

/// A label and plain text.
pub(super) fn row(role: Role, label: &str, text: &str, width: usize) -> Vec<Line> {
    labelled(role, label, &Line::of(Role::Plain, text), width)
}

/// A label and items that are kept whole as long as one fits a line.
pub(super) fn packed(label: &str, items: &[Line], gap: &str, width: usize) -> Vec<Line> {
    let mut out: Vec<Line> = Vec::new();
    let mut line = Line::of(Role::Label, format!(" {label:<5} "));
    let mut empty = true;
    for item in items {
        let room = width.saturating_sub(line.width());
        if !empty && item.width() + gap.len() > room {
            out.push(std::mem::replace(
                &mut line,
                Line::of(Role::Plain, " ".repeat(LABEL)),
            ));
            empty = true;
        }
        if !empty {
            line.push(Role::Plain, gap);
        }
        line.pieces.extend(item.pieces.iter().cloned());
        empty = false;
        if line.width() > width {
            let mut folded = line.folded(width, LABEL);
            line = folded.pop().unwrap_or_default();
            out.extend(folded);
        }
    }
    out.push(line);
    out
}

/// A heading over rows.
pub(super) fn heading(text: &str, width: usize) -> Vec<Line> {
    Line::of(Role::Heading, format!(" {text}")).folded(width, 3)
}

/// Two columns: what, and its text beside it.
pub(super) fn pair(label: &str, text: &Line, column: usize, width: usize) -> Vec<Line> {
    let column = column.min(width / 3).max(8);
    let mut line = Line::of(Role::Label, format!("   {label:<column$}  "));
    let hang = line.width().min(column + 5);
    line.pieces.extend(text.pieces.iter().cloned());
    line.folded(width, hang)
}

/// Keeps at most `rows` lines; the last one kept says that there is more.
pub(super) fn capped(mut lines: Vec<Line>, rows: usize, width: usize, ascii: bool) -> Vec<Line> {
    if lines.len() > rows {
        lines.truncate(rows);
        if let Some(last) = lines.last_mut() {
            let mark = if ascii { " ..." } else { " …" };
            last.push(Role::Muted, mark);
            if last.width() > width {
                let bare = Line {
                    pieces: last.pieces[..last.pieces.len() - 1].to_vec(),
                };
                *last = bare.cut(width - mark.trim_start().chars().count(), "");
                last.push(Role::Muted, mark.trim_start());
            }
        }
    }
    lines
}

/// The lines in a style: in ASCII every other character is spelled or marked.
pub(super) fn styled(lines: Vec<Line>, style: Style) -> Vec<Line> {
    if !style.ascii {
        return lines;
    }
    lines
        .into_iter()
        .map(|line| {
            let mut out = Line::new();
            for piece in &line.pieces {
                let text: String = piece.text.chars().map(plain_char).collect();
                out.push(piece.role, text);
            }
            out.cut(style.width.max(8), "~")
        })
        .collect()
}

/// One ASCII character for one of any kind, so that columns stay.
fn plain_char(c: char) -> char {
    match c {
        c if c.is_ascii() => c,
        '…' | '·' => '.',
        '–' | '—' | '−' => '-',
        '‘' | '’' => '\'',
        '“' | '”' => '"',
        '×' => 'x',
        '\u{a0}' => ' ',
        _ => '?',
    }
}

/// `1 structure`, `61 structures`.
pub(super) fn counted(n: usize, one: &str) -> String {
    if n == 1 {
        format!("1 {one}")
    } else {
        format!(
            "{} {one}s",
            crate::units::figure(f64::from(u32::try_from(n).unwrap_or(u32::MAX)))
        )
    }
}
