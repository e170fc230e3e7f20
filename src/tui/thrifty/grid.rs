//! A screenful of cells: what the terminal shows, or should show.

use ratatui::buffer::Cell;
use ratatui::layout::Size;
use unicode_width::{UnicodeWidthChar, UnicodeWidthStr};

use super::pen::Pen;

/// What stands in a cell.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(super) enum Glyph {
    /// One character of one column.
    Narrow(char),
    /// One character of two columns; the next cell is its right half.
    Wide(char),
    /// Several code points, one or two columns; terminals disagree how many.
    Cluster(Box<str>, bool),
    /// The right half of the wide glyph before.
    RightHalf,
}

/// One cell.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(super) struct Slot {
    pub(super) glyph: Glyph,
    pub(super) pen: Pen,
}

impl Slot {
    /// A blank in the terminal's own colours.
    pub(super) const fn clear() -> Self {
        const PLAIN: Pen = Pen {
            fg: super::pen::Tint::Plain,
            bg: super::pen::Tint::Plain,
            weight: super::pen::Weight::Normal,
            italic: false,
            underline: false,
            reverse: false,
        };
        Self {
            glyph: Glyph::Narrow(' '),
            pen: PLAIN,
        }
    }

    pub(super) fn is_clear(&self) -> bool {
        *self == const { Self::clear() }
    }

    pub(super) fn is_blank(&self) -> bool {
        self.glyph == Glyph::Narrow(' ')
    }

    pub(super) fn is_double(&self) -> bool {
        matches!(self.glyph, Glyph::Wide(_) | Glyph::Cluster(_, true))
    }

    /// The cell that ratatui asks for, made harmless: nothing that a terminal would obey rather
    /// than show, nothing without a width. `room` is the number of columns to the right edge.
    pub(super) fn of(cell: &Cell, colour: bool, room: u16) -> Self {
        let glyph = match glyph(cell.symbol()) {
            Glyph::Wide(_) | Glyph::Cluster(_, true) if room < 2 => Glyph::Narrow('?'),
            glyph => glyph,
        };
        let pen = Pen::of(cell, colour);
        let pen = if glyph == Glyph::Narrow(' ') {
            pen.on_blank()
        } else {
            pen
        };
        Self { glyph, pen }
    }
}

fn glyph(symbol: &str) -> Glyph {
    let mut characters = symbol.chars();
    let (first, second) = (characters.next(), characters.next());
    match (first, second) {
        (None, _) => Glyph::Narrow(' '),
        _ if symbol.chars().any(is_obeyed) => Glyph::Narrow('?'),
        (Some(only), None) => match only.width() {
            Some(1) => Glyph::Narrow(only),
            Some(2) => Glyph::Wide(only),
            _ => Glyph::Narrow(' '),
        },
        _ => match symbol.width() {
            0 => Glyph::Narrow(' '),
            columns => Glyph::Cluster(symbol.into(), columns > 1),
        },
    }
}

/// Control characters, and the marks that reorder the text around them (Unicode bidi controls).
fn is_obeyed(character: char) -> bool {
    character.is_control()
        || matches!(character, '\u{200E}' | '\u{200F}' | '\u{061C}'
            | '\u{202A}'..='\u{202E}' | '\u{2066}'..='\u{2069}')
}

/// Rows of slots, at least 1x1.
#[derive(Clone, Debug)]
pub(super) struct Grid {
    width: usize,
    slots: Vec<Slot>,
}

impl Grid {
    pub(super) fn clear(size: Size) -> Self {
        let width = usize::from(size.width.max(1));
        let height = usize::from(size.height.max(1));
        Self {
            width,
            slots: vec![Slot::clear(); width * height],
        }
    }

    pub(super) fn width(&self) -> usize {
        self.width
    }

    pub(super) fn height(&self) -> usize {
        self.slots.len() / self.width
    }

    pub(super) fn row(&self, y: usize) -> &[Slot] {
        &self.slots[y * self.width..(y + 1) * self.width]
    }

    /// Blanks the slots of this range of reading order.
    pub(super) fn blank(&mut self, range: std::ops::Range<usize>) {
        let end = range.end.min(self.slots.len());
        if range.start < end {
            self.slots[range.start..end].fill(Slot::clear());
        }
    }

    pub(super) fn len(&self) -> usize {
        self.slots.len()
    }

    /// Puts a slot in its place; halves of wide glyphs that it cuts become blanks.
    pub(super) fn put(&mut self, x: usize, y: usize, slot: Slot) {
        if x >= self.width || y >= self.height() {
            return;
        }
        let start = y * self.width;
        let row = &mut self.slots[start..start + self.width];
        let double = slot.is_double();
        let pen = slot.pen;
        cut(row, x);
        row[x] = slot;
        if double {
            cut(row, x + 1);
            row[x + 1] = Slot {
                glyph: Glyph::RightHalf,
                pen,
            };
        }
    }

    pub(super) fn copy_row(&mut self, y: usize, from: &Self) {
        let range = y * self.width..(y + 1) * self.width;
        self.slots[range.clone()].clone_from_slice(&from.slots[range]);
    }
}

/// Before `x` is overwritten: a wide glyph that has one half there loses the other.
fn cut(row: &mut [Slot], x: usize) {
    if row[x].glyph == Glyph::RightHalf && x > 0 {
        row[x - 1] = Slot::clear();
    }
    if row[x].is_double() && x + 1 < row.len() {
        row[x + 1] = Slot::clear();
    }
}
