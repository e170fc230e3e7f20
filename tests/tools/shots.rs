//! Pictures of the real screens on the demo utility, as SVG.

use ratatui::buffer::{Buffer, Cell};
use ratatui::style::{Color, Modifier};

use super::rig::{Rig, demo};

/// Name of the file, columns, rows, and the keys that lead there.
const SHOTS: &[(&str, u16, u16, &str)] = &[
    ("find-80x24", 80, 24, "HB2-R<enter>j"),
    ("card-80x24", 80, 24, "HB2-RC-14<enter>"),
    ("check-80x24", 80, 24, "HB2-RC-14<enter>c<enter>"),
    ("form-80x24", 80, 24, "HB2-RC-14<enter>cl140<enter>"),
    (
        "read-back-80x24",
        80,
        24,
        "HB2-RC-14<enter>rHB2-RC-15<enter>",
    ),
    ("find-120x40", 120, 40, "tannery<enter>jj"),
    ("card-50x20", 50, 20, "HB2-RC-14<enter>"),
    ("find-50x20", 50, 20, "40-11<enter>"),
];

/// Columns and rows in picture units.
const WIDTH: f32 = 8.4;
const HEIGHT: f32 = 18.0;
const MARGIN: f32 = 10.0;

/// Every picture: file name without its ending, and the SVG.
pub fn shots() -> Vec<(&'static str, String)> {
    let register = demo();
    SHOTS
        .iter()
        .map(|(name, width, height, keys)| {
            let mut rig = Rig::new(register.clone(), *width, *height);
            rig.keys(keys);
            (*name, svg(rig.buffer()))
        })
        .collect()
}

fn svg(buffer: &Buffer) -> String {
    let area = buffer.area;
    let (w, h) = (
        f32::from(area.width) * WIDTH + 2.0 * MARGIN,
        f32::from(area.height) * HEIGHT + 2.0 * MARGIN,
    );
    let mut out = format!(
        "<svg xmlns=\"http://www.w3.org/2000/svg\" viewBox=\"0 0 {w:.0} {h:.0}\" width=\"{w:.0}\" height=\"{h:.0}\">\n\
         <style>text{{font:14px ui-monospace,Menlo,Consolas,'DejaVu Sans Mono',monospace;white-space:pre;fill:#d6d6d6}}\
         .b{{font-weight:700}}.d{{fill:#9a9a9a}}.r{{fill:#ff7b72}}.m{{fill:#e29cff}}.g{{fill:#7ee787}}.u{{text-decoration:underline}}</style>\n\
         <rect width=\"100%\" height=\"100%\" rx=\"6\" fill=\"#16191d\"/>\n"
    );
    for y in 0..area.height {
        for (x, class, text) in runs(buffer, y) {
            out.push_str(&text_element(x, y, &class, &text));
        }
    }
    out.push_str("</svg>\n");
    out
}

fn text_element(x: u16, y: u16, class: &str, text: &str) -> String {
    let (px, py) = (
        MARGIN + f32::from(x) * WIDTH,
        MARGIN + f32::from(y) * HEIGHT + 13.0,
    );
    let length = text.chars().count() as f32 * WIDTH;
    let class = if class.is_empty() {
        String::new()
    } else {
        format!(" class=\"{class}\"")
    };
    let escaped = text
        .replace('&', "&amp;")
        .replace('<', "&lt;")
        .replace('>', "&gt;");
    format!(
        "<text x=\"{px:.1}\" y=\"{py:.1}\" textLength=\"{length:.1}\"{class}>{escaped}</text>\n"
    )
}

/// Stretches of one look, blanks at both ends left out.
fn runs(buffer: &Buffer, y: u16) -> Vec<(u16, String, String)> {
    let mut out: Vec<(u16, String, String)> = Vec::new();
    for x in 0..buffer.area.width {
        let cell = &buffer[(x, y)];
        let class = class(cell);
        match out.last_mut() {
            Some((_, last, text)) if *last == class => text.push_str(cell.symbol()),
            _ => out.push((x, class, cell.symbol().to_string())),
        }
    }
    out.retain_mut(|(x, _, text)| {
        let lead = text.len() - text.trim_start().len();
        *x += u16::try_from(lead).unwrap();
        *text = text.trim().to_string();
        !text.is_empty()
    });
    out
}

fn class(cell: &Cell) -> String {
    let mut out = Vec::new();
    match cell.fg {
        Color::Red => out.push("r"),
        Color::Magenta => out.push("m"),
        Color::Green => out.push("g"),
        _ if cell.modifier.contains(Modifier::DIM) => out.push("d"),
        _ => {}
    }
    if cell.modifier.contains(Modifier::BOLD) {
        out.push("b");
    }
    if cell.modifier.contains(Modifier::UNDERLINED) {
        out.push("u");
    }
    out.join(" ")
}
