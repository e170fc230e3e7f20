//! Time-current curves drawn on log-log paper: in a terminal with braille or
//! in ASCII, and as SVG. Each curve has a letter; the letter stands at its end
//! and in the list below, so that it is told without colour.

use super::text::{Line, Style};
use crate::domain::nameplate::short;
use crate::role::Role;
use crate::work::times::{Drawn, TimesReport};

/// Amperes and seconds at the edges of the paper.
const AMPS: (f64, f64) = (10.0, 20_000.0);
const SECONDS: (f64, f64) = (0.01, 1_000.0);
/// Columns kept for the seconds beside the paper.
const MARGIN: usize = 7;

/// A place on the paper, 0 to 1 from the left and from the top.
fn place(amps: f64, seconds: f64) -> Option<(f64, f64)> {
    let along = |v: f64, (low, high): (f64, f64)| (v / low).ln() / (high / low).ln();
    let (x, y) = (along(amps, AMPS), 1.0 - along(seconds, SECONDS));
    let on = |v: f64| (0.0..=1.0).contains(&v);
    (on(x) && on(y)).then_some((x, y))
}

fn letter(at: usize) -> char {
    let all = "abcdefghijklmnopqrstuvwxyz";
    all.chars().nth(at % all.len()).unwrap_or('a')
}

/// Places along a curve, close enough that no row or column is left out.
fn along(curve: &Drawn) -> impl Iterator<Item = (f64, f64)> + '_ {
    curve.points.windows(2).flat_map(|w| {
        (0..40).filter_map(move |i| {
            let part = f64::from(i) / 40.0;
            let between = |a: f64, b: f64| (a.ln() + part * (b / a).ln()).exp();
            place(between(w[0][0], w[1][0]), between(w[0][1], w[1][1]))
        })
    })
}

struct Paper {
    width: usize,
    height: usize,
    /// Dots of a braille cell.
    dots: Vec<u8>,
    letters: Vec<Option<char>>,
    fault: Vec<bool>,
}

impl Paper {
    fn cell(&self, x: f64, y: f64, (across, down): (usize, usize)) -> (usize, usize) {
        let at = |v: f64, n: usize| ((v * n as f64) as usize).min(n - 1);
        (at(x, self.width * across), at(y, self.height * down))
    }

    fn draw(&mut self, curve: &Drawn, name: char, ascii: bool) {
        let mut last = None;
        for (x, y) in along(curve) {
            let (column, row) = self.cell(x, y, (2, 4));
            let at = row / 4 * self.width + column / 2;
            self.dots[at] |= BRAILLE[row % 4][column % 2];
            if ascii {
                self.letters[at] = Some(name);
            }
            last = Some(at);
        }
        if let Some(at) = last {
            self.letters[at] = Some(name);
        }
    }

    fn row(&self, row: usize, ascii: bool) -> String {
        (row * self.width..(row + 1) * self.width)
            .map(|at| match (self.letters[at], self.dots[at]) {
                (Some(c), _) => c,
                (None, 0) if self.fault[at] => '|',
                (None, 0) => ' ',
                (None, _) if ascii => '*',
                (None, d) => char::from_u32(0x2800 + u32::from(d)).unwrap_or('*'),
            })
            .collect()
    }
}

/// Dots of a braille cell by row and column.
const BRAILLE: [[u8; 2]; 4] = [[0x01, 0x08], [0x02, 0x10], [0x04, 0x20], [0x40, 0x80]];

/// The curves of a report on paper as wide as the terminal.
#[must_use]
pub fn lines(report: &TimesReport, style: Style) -> Vec<Line> {
    let width = style.width.saturating_sub(MARGIN + 1).clamp(20, 100);
    let height = (width / 3).clamp(10, 20);
    let mut paper = Paper {
        width,
        height,
        dots: vec![0; width * height],
        letters: vec![None; width * height],
        fault: vec![false; width * height],
    };
    if let Some((x, _)) = report.fault_amps.and_then(|a| place(a, 1.0)) {
        let (column, _) = paper.cell(x, 0.0, (1, 1));
        for row in 0..height {
            paper.fault[row * width + column] = true;
        }
    }
    for (at, curve) in report.curves.iter().enumerate() {
        paper.draw(curve, letter(at), style.ascii);
    }
    let mut out = vec![Line::of(Role::Heading, "seconds over amperes, log-log")];
    for row in 0..height {
        let label = [1_000.0, 100.0, 10.0, 1.0, 0.1, 0.01]
            .into_iter()
            .find(|s| place(AMPS.0, *s).is_some_and(|(_, y)| paper.cell(0.0, y, (1, 1)).1 == row));
        let label = label.map_or(String::new(), short);
        out.push(
            Line::of(Role::Muted, format!("{label:>6} "))
                .with(Role::Value, paper.row(row, style.ascii)),
        );
    }
    out.push(Line::of(Role::Muted, foot(width)));
    for (at, curve) in report.curves.iter().enumerate() {
        out.extend(
            Line::of(Role::Code, format!("  {} ", letter(at)))
                .with(Role::Plain, &curve.name)
                .folded(style.width, 4),
        );
    }
    if let Some(a) = report.fault_amps {
        out.push(Line::of(Role::Plain, format!("  | fault {} A", short(a))));
    }
    out.push(Line::new());
    out
}

/// Amperes below the paper.
fn foot(width: usize) -> String {
    let mut text: Vec<char> = vec![' '; MARGIN + width];
    for amps in [10.0, 100.0, 1_000.0, 10_000.0] {
        if let Some((x, _)) = place(amps, 1.0) {
            let label = short(amps);
            let at = MARGIN + ((x * width as f64) as usize).min(width.saturating_sub(label.len()));
            for (i, c) in label.chars().enumerate() {
                if let Some(cell) = text.get_mut(at + i) {
                    *cell = c;
                }
            }
        }
    }
    text.into_iter().collect::<String>().trim_end().to_string()
}

fn safe(text: &str) -> String {
    text.replace('&', "&amp;")
        .replace('<', "&lt;")
        .replace('>', "&gt;")
}

const LEFT: f64 = 70.0;
const TOP: f64 = 40.0;
const SIDE: f64 = 640.0;
const FOOT: f64 = TOP + SIDE + 50.0;
const STEP: f64 = 22.0;

fn on_sheet(amps: f64, s: f64) -> Option<(f64, f64)> {
    place(amps, s).map(|(x, y)| (LEFT + x * SIDE, TOP + y * SIDE))
}

/// The same curves as SVG, told apart by their letters and dashes.
#[must_use]
pub fn svg(report: &TimesReport) -> String {
    let under = |n: usize| FOOT + STEP * n as f64;
    let height = under(report.curves.len() + 3);
    let mut out = format!(
        "<svg xmlns=\"http://www.w3.org/2000/svg\" viewBox=\"0 0 760 {height:.0}\" font-family=\"sans-serif\" font-size=\"13\">\n<rect width=\"760\" height=\"{height:.0}\" fill=\"#fffdf6\"/>\n<text x=\"{LEFT}\" y=\"24\" font-size=\"16\">{}: seconds over amperes</text>\n",
        safe(&report.name)
    );
    grid(&mut out);
    if let Some(a) = report.fault_amps {
        let look = "stroke=\"#222\" stroke-width=\"2\"";
        rule(&mut out, (a, SECONDS.0), (a, SECONDS.1), look);
    }
    for (n, curve) in report.curves.iter().enumerate() {
        trace(&mut out, n, curve);
        out.push_str(&format!(
            "<text x=\"{LEFT}\" y=\"{:.0}\">{} {}</text>\n",
            under(n),
            letter(n),
            safe(&curve.name)
        ));
    }
    let fault = report
        .fault_amps
        .map_or("not known".to_string(), |a| format!("{} A", short(a)));
    let last = report.curves.len();
    out.push_str(&format!(
        "<text x=\"{LEFT}\" y=\"{:.0}\">upright line: fault {fault}; pairs: {}</text>\n<text x=\"10\" y=\"{:.0}\" font-size=\"10\">{}</text>\n</svg>\n",
        under(last),
        report.verdict.word(),
        under(last + 1),
        safe(report.safety)
    ));
    out
}

fn rule(out: &mut String, a: (f64, f64), b: (f64, f64), look: &str) {
    if let (Some((x1, y1)), Some((x2, y2))) = (on_sheet(a.0, a.1), on_sheet(b.0, b.1)) {
        out.push_str(&format!(
            "<line x1=\"{x1:.1}\" y1=\"{y1:.1}\" x2=\"{x2:.1}\" y2=\"{y2:.1}\" {look}/>\n"
        ));
    }
}

fn grid(out: &mut String) {
    let look = "stroke=\"#c9c2ae\"";
    for amps in [10.0, 100.0, 1_000.0, 10_000.0] {
        rule(out, (amps, SECONDS.0), (amps, SECONDS.1), look);
        if let Some((x, y)) = on_sheet(amps, SECONDS.0) {
            let y = y + 18.0;
            out.push_str(&format!(
                "<text x=\"{x:.0}\" y=\"{y:.0}\">{amps} A</text>\n"
            ));
        }
    }
    for s in [0.01, 0.1, 1.0, 10.0, 100.0, 1_000.0] {
        rule(out, (AMPS.0, s), (AMPS.1, s), look);
        if let Some((_, y)) = on_sheet(AMPS.0, s) {
            let y = y + 4.0;
            out.push_str(&format!("<text x=\"10\" y=\"{y:.0}\">{s} s</text>\n"));
        }
    }
}

fn trace(out: &mut String, n: usize, curve: &Drawn) {
    let on: Vec<(f64, f64)> = curve
        .points
        .iter()
        .filter_map(|p| on_sheet(p[0], p[1]))
        .collect();
    let places: Vec<String> = on.iter().map(|(x, y)| format!("{x:.1},{y:.1}")).collect();
    out.push_str(&format!(
        "<polyline points=\"{}\" fill=\"none\" stroke=\"#2b4c5c\" stroke-width=\"1.6\" stroke-dasharray=\"{} {}\"/>\n",
        places.join(" "),
        2 + 3 * (n % 4),
        n % 4 * 2
    ));
    if let Some((x, y)) = on.last() {
        let name = letter(n);
        out.push_str(&format!("<text x=\"{x:.0}\" y=\"{y:.0}\">{name}</text>\n"));
    }
}
