//! From what the terminal shows to what it should show, in few bytes.
//!
//! Nothing is assumed of the terminal beyond ECMA-48 cursor motion, EL, ED, ECH and SGR: no
//! scrolling regions, no repeat, no synchronised output (16 bytes a frame, and on a slow link it
//! hides the picture until the last byte is in).

use super::grid::{Glyph, Grid, Slot};
use super::pen::Pen;

/// Where the next character would go; `x` equal to the width is the state after the last column,
/// from which terminals move differently.
type At = Option<(usize, usize)>;

/// Bytes under way, and the state in which they leave the terminal.
#[derive(Clone, Debug)]
pub(super) struct Stroke {
    pub(super) bytes: Vec<u8>,
    pub(super) pen: Pen,
    pub(super) at: At,
}

impl Stroke {
    /// Everything that turns `shown` into `wanted`; `shown` is brought up to date.
    pub(super) fn frame(&mut self, shown: &mut Grid, wanted: &Grid) {
        if let Some(from) = self.row_to_erase_from(shown, wanted) {
            self.go(0, from, wanted);
            self.pen_for_erasing();
            self.bytes.extend(b"\x1b[J");
            shown.blank(from * shown.width()..shown.len());
        }
        for y in 0..wanted.height() {
            if shown.row(y) != wanted.row(y) {
                self.row(y, shown.row(y), wanted);
                shown.copy_row(y, wanted);
            }
        }
    }

    /// The row from which erasing all below and drawing that afresh is shorter, if there is one.
    fn row_to_erase_from(&self, shown: &Grid, wanted: &Grid) -> Option<usize> {
        const WORTH_BYTES: i64 = 12;
        let differing = (0..wanted.height()).filter(|y| shown.row(*y) != wanted.row(*y));
        // In one or two rows, erasing each row's end does as well.
        if differing.take(3).count() < 3 {
            return None;
        }
        let blank = vec![Slot::clear(); wanted.width()];
        let cost = |y: usize, before: &[Slot]| -> i64 {
            if before == wanted.row(y) {
                return 0;
            }
            let mut trial = self.trial(Pen::default(), Some((0, y)));
            trial.row(y, before, wanted);
            // Two bytes of CR and LF to get there.
            trial.bytes.len() as i64 + 2
        };
        let mut best = (WORTH_BYTES, None);
        let mut saved = 0;
        for y in (0..wanted.height()).rev() {
            if shown.row(y).iter().all(Slot::is_clear) {
                continue;
            }
            saved += cost(y, shown.row(y)) - cost(y, &blank);
            if saved > best.0 {
                best = (saved, Some(y));
            }
        }
        best.1
    }

    fn trial(&self, pen: Pen, at: At) -> Self {
        Self {
            bytes: Vec::new(),
            pen,
            at,
        }
    }

    /// Brings one row up to date, with or without erasing its end, whichever is shorter.
    fn row(&mut self, y: usize, before: &[Slot], wanted: &Grid) {
        let row = wanted.row(y);
        let stale = stale(before, row);
        let mut plain = self.trial(self.pen, self.at);
        plain.cells(y, wanted, &stale, row.len());
        let used = row.iter().rposition(|s| !s.is_clear()).map_or(0, |x| x + 1);
        if stale[used..].contains(&true) {
            let mut erased = self.trial(self.pen, self.at);
            erased.cells(y, wanted, &stale, used);
            erased.erase_end(y, wanted, &stale, used);
            if erased.bytes.len() < plain.bytes.len() {
                plain = erased;
            }
        }
        self.bytes.append(&mut plain.bytes);
        (self.pen, self.at) = (plain.pen, plain.at);
    }

    fn cells(&mut self, y: usize, wanted: &Grid, stale: &[bool], end: usize) {
        let row = wanted.row(y);
        let mut x = 0;
        while x < end {
            if !stale[x] || row[x].glyph == Glyph::RightHalf {
                x += 1;
                continue;
            }
            let blanks = clear_run(row, stale, x, end);
            if self.erase_is_shorter(x, blanks, &stale[..end]) {
                self.go(x, y, wanted);
                self.pen_for_erasing();
                self.bytes.extend(format!("\x1b[{blanks}X").bytes());
                x += blanks;
                continue;
            }
            self.go(x, y, wanted);
            self.write(&row[x], row.len());
            x += if row[x].is_double() { 2 } else { 1 };
        }
    }

    /// Erasing leaves the cursor where it was; what follows on the row must be moved to.
    fn erase_is_shorter(&self, x: usize, blanks: usize, stale: &[bool]) -> bool {
        if blanks < 5 {
            return false;
        }
        let erase = 3 + digits(blanks);
        let more = stale[x + blanks..].contains(&true);
        let step = if more { 3 + digits(blanks) } else { 0 };
        erase + step < blanks
    }

    /// Whether erased cells take the background, or more of the pen, differs between terminals.
    fn pen_for_erasing(&mut self) {
        if !self.pen.leaves_plain_blank() {
            let (bytes, pen) = self.pen.to_blank(Pen::default());
            self.bytes.extend(bytes);
            self.pen = pen;
        }
    }

    fn erase_end(&mut self, y: usize, wanted: &Grid, stale: &[bool], used: usize) {
        let Some(first) = stale[used..].iter().position(|s| *s).map(|x| x + used) else {
            return;
        };
        let there = matches!(self.at, Some((x, row)) if row == y && (used..=first).contains(&x));
        if !there {
            // Erasing may start anywhere between: take the end that is nearer.
            let mut near = self.trial(self.pen, self.at);
            near.go(used, y, wanted);
            let mut far = self.trial(self.pen, self.at);
            far.go(first, y, wanted);
            let nearer = if far.bytes.len() < near.bytes.len() {
                far
            } else {
                near
            };
            self.bytes.extend(nearer.bytes);
            self.at = nearer.at;
        }
        self.pen_for_erasing();
        self.bytes.extend(b"\x1b[K");
    }

    fn write(&mut self, slot: &Slot, width: usize) {
        let (change, pen) = if slot.is_blank() {
            self.pen.to_blank(slot.pen)
        } else {
            (self.pen.to(slot.pen), slot.pen)
        };
        self.bytes.extend(change);
        self.pen = pen;
        match &slot.glyph {
            Glyph::Narrow(c) | Glyph::Wide(c) => {
                self.bytes.extend(c.encode_utf8(&mut [0; 4]).bytes());
                let columns = if slot.is_double() { 2 } else { 1 };
                self.at = self.at.map(|(x, y)| ((x + columns).min(width), y));
            }
            Glyph::Cluster(text, _) => {
                self.bytes.extend(text.bytes());
                self.at = None;
            }
            Glyph::RightHalf => {}
        }
    }

    /// Moves to a cell by the shortest way known. Cells to the left of it on its row must
    /// already stand as wanted, since they may be typed again.
    pub(super) fn go(&mut self, x: usize, y: usize, wanted: &Grid) {
        if self.at == Some((x, y)) {
            return;
        }
        let mut best = absolute(x, y);
        if let Some((from_x, from_y)) = self.at {
            let vertical = vertical(from_y, y);
            if from_x < wanted.width() {
                let across = self.across(from_x, x, y, wanted);
                keep_shorter(&mut best, [vertical.as_slice(), &across].concat());
                let column = format!("\x1b[{}G", x + 1).into_bytes();
                keep_shorter(&mut best, [vertical.as_slice(), &column].concat());
            }
            let across = self.across(0, x, y, wanted);
            keep_shorter(&mut best, [b"\r", vertical.as_slice(), &across].concat());
        }
        self.bytes.extend(best);
        self.at = Some((x, y));
    }

    /// From one column to another of the same row.
    fn across(&self, from: usize, to: usize, y: usize, wanted: &Grid) -> Vec<u8> {
        if to < from {
            let mut best = steps(from - to, 'D');
            keep_shorter(&mut best, vec![8; from - to]);
            return best;
        }
        let mut best = steps(to - from, 'C');
        if let Some(again) = self.type_again(&wanted.row(y)[from..to], best.len()) {
            keep_shorter(&mut best, again);
        }
        best
    }

    /// The text of these cells, if the pen is right for all and it is shorter than `limit`.
    fn type_again(&self, slots: &[Slot], limit: usize) -> Option<Vec<u8>> {
        let mut text = Vec::new();
        for slot in slots {
            let Glyph::Narrow(character) = slot.glyph else {
                return None;
            };
            let fits = if slot.is_blank() {
                self.pen.on_blank() == slot.pen
            } else {
                self.pen == slot.pen
            };
            text.extend(character.encode_utf8(&mut [0; 4]).bytes());
            if !fits || text.len() >= limit {
                return None;
            }
        }
        Some(text)
    }
}

/// Which cells must be written. A right half always follows its wide glyph in a grid, so where a
/// glyph loses or gains a second column both cells differ.
fn stale(before: &[Slot], wanted: &[Slot]) -> Vec<bool> {
    before.iter().zip(wanted).map(|(b, w)| b != w).collect()
}

/// How many cells from `x` are clear blanks, not counting those at the end that already are.
fn clear_run(row: &[Slot], stale: &[bool], x: usize, end: usize) -> usize {
    let run = row[x..end].iter().take_while(|s| s.is_clear()).count();
    stale[x..x + run]
        .iter()
        .rposition(|s| *s)
        .map_or(0, |last| last + 1)
}

fn keep_shorter(best: &mut Vec<u8>, other: Vec<u8>) {
    if other.len() < best.len() {
        *best = other;
    }
}

fn absolute(x: usize, y: usize) -> Vec<u8> {
    match (x, y) {
        (0, 0) => "\x1b[H".to_owned(),
        (0, y) => format!("\x1b[{}H", y + 1),
        (x, 0) => format!("\x1b[;{}H", x + 1),
        (x, y) => format!("\x1b[{};{}H", y + 1, x + 1),
    }
    .into_bytes()
}

fn vertical(from: usize, to: usize) -> Vec<u8> {
    if to < from {
        return steps(from - to, 'A');
    }
    let mut best = steps(to - from, 'B');
    // Raw mode passes a line feed as it is: down one row, same column.
    keep_shorter(&mut best, vec![b'\n'; to - from]);
    best
}

fn steps(count: usize, last: char) -> Vec<u8> {
    match count {
        0 => Vec::new(),
        1 => format!("\x1b[{last}").into_bytes(),
        count => format!("\x1b[{count}{last}").into_bytes(),
    }
}

const fn digits(number: usize) -> usize {
    match number {
        0..=9 => 1,
        10..=99 => 2,
        _ => 3,
    }
}
