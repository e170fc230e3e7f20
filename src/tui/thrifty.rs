//! Between ratatui and the terminal: a backend that sends few bytes and asks nothing.
//!
//! It keeps its own copy of the screen, sends only what differs, takes the shortest way from cell
//! to cell and from look to look, and hands each frame to the writer in one call. Where a frame
//! changes nothing it sends nothing. The terminal is never asked for its size, its cursor or
//! anything else: on a bad link the answer would not come.

mod encode;
mod grid;
mod pen;

#[cfg(test)]
mod tests;

use std::io::{self, Write};

use ratatui::backend::{Backend, ClearType, WindowSize};
use ratatui::buffer::Cell;
use ratatui::layout::{Position, Size};

use encode::Stroke;
use grid::{Grid, Slot};
use pen::Pen;

/// Resets the look, goes home and erases all.
const AFRESH: &[u8] = b"\x1b[m\x1b[H\x1b[J";
const SHOW_CARET: &[u8] = b"\x1b[?25h";
const HIDE_CARET: &[u8] = b"\x1b[?25l";

/// The backend. `W` must pass each `write_all` on as one piece (a descriptor, not a line buffer).
/// The caret is expected to be hidden when the first frame is sent.
#[derive(Debug)]
pub struct Thrifty<W> {
    out: W,
    colour: bool,
    size: Size,
    wanted: Grid,
    shown: Grid,
    /// False when nothing is known of what the terminal shows.
    in_step: bool,
    pen: Pen,
    at: Option<(usize, usize)>,
    caret: Position,
    caret_wanted: bool,
    caret_shown: bool,
}

impl<W: Write> Thrifty<W> {
    /// A backend for a terminal of this size in columns and rows. Without `colour`, bold, dim,
    /// underline and reverse are sent and colours are not.
    pub fn new(out: W, size: Size, colour: bool) -> Self {
        Self {
            out,
            colour,
            size,
            wanted: Grid::clear(size),
            shown: Grid::clear(size),
            in_step: false,
            pen: Pen::default(),
            at: None,
            caret: Position::ORIGIN,
            caret_wanted: false,
            caret_shown: false,
        }
    }

    /// Tells of a new size. Follow it with [`ratatui::Terminal::resize`], which draws everything.
    pub fn resize(&mut self, size: Size) {
        self.size = size;
        self.wanted = Grid::clear(size);
        self.shown = Grid::clear(size);
        self.in_step = false;
    }

    /// Forgets what the terminal shows: the next flush sends the whole screen.
    pub fn invalidate(&mut self) {
        self.in_step = false;
        self.caret_shown = false;
    }

    /// The writer.
    pub const fn writer(&self) -> &W {
        &self.out
    }

    /// The writer, to take what it collected.
    pub const fn writer_mut(&mut self) -> &mut W {
        &mut self.out
    }

    fn stroke(&mut self) -> Stroke {
        let mut stroke = Stroke {
            bytes: Vec::new(),
            pen: self.pen,
            at: self.at,
        };
        if !self.in_step {
            stroke.bytes.extend(AFRESH);
            stroke.pen = Pen::default();
            stroke.at = Some((0, 0));
            self.shown = Grid::clear(self.size);
        }
        stroke.frame(&mut self.shown, &self.wanted);
        if self.caret_wanted {
            let x = usize::from(self.caret.x).min(self.wanted.width() - 1);
            let y = usize::from(self.caret.y).min(self.wanted.height() - 1);
            stroke.go(x, y, &self.wanted);
        }
        if self.caret_wanted != self.caret_shown {
            let bytes = if self.caret_wanted {
                SHOW_CARET
            } else {
                HIDE_CARET
            };
            stroke.bytes.extend(bytes);
            self.caret_shown = self.caret_wanted;
        }
        stroke
    }

    fn index_of_caret(&self) -> usize {
        usize::from(self.caret.y) * self.wanted.width() + usize::from(self.caret.x)
    }
}

impl<W: Write> Backend for Thrifty<W> {
    type Error = io::Error;

    fn draw<'a, I>(&mut self, content: I) -> io::Result<()>
    where
        I: Iterator<Item = (u16, u16, &'a Cell)>,
    {
        for (x, y, cell) in content {
            let room = self.size.width.saturating_sub(x);
            let slot = Slot::of(cell, self.colour, room);
            self.wanted.put(usize::from(x), usize::from(y), slot);
        }
        Ok(())
    }

    fn hide_cursor(&mut self) -> io::Result<()> {
        self.caret_wanted = false;
        Ok(())
    }

    fn show_cursor(&mut self) -> io::Result<()> {
        self.caret_wanted = true;
        Ok(())
    }

    fn get_cursor_position(&mut self) -> io::Result<Position> {
        Ok(self.caret)
    }

    fn set_cursor_position<P: Into<Position>>(&mut self, position: P) -> io::Result<()> {
        self.caret = position.into();
        Ok(())
    }

    fn clear(&mut self) -> io::Result<()> {
        self.clear_region(ClearType::All)
    }

    fn clear_region(&mut self, clear_type: ClearType) -> io::Result<()> {
        let (here, width, all) = (
            self.index_of_caret(),
            self.wanted.width(),
            self.wanted.len(),
        );
        let line = here - here % width;
        self.wanted.blank(match clear_type {
            ClearType::All => 0..all,
            ClearType::AfterCursor => here..all,
            ClearType::BeforeCursor => 0..here + 1,
            ClearType::CurrentLine => line..line + width,
            ClearType::UntilNewLine => here..line + width,
        });
        Ok(())
    }

    fn size(&self) -> io::Result<Size> {
        Ok(self.size)
    }

    fn window_size(&mut self) -> io::Result<WindowSize> {
        Ok(WindowSize {
            columns_rows: self.size,
            pixels: Size::new(0, 0),
        })
    }

    fn flush(&mut self) -> io::Result<()> {
        let stroke = self.stroke();
        if stroke.bytes.is_empty() {
            return Ok(());
        }
        // Until the write has worked, nobody knows what the terminal shows.
        self.in_step = false;
        self.out.write_all(&stroke.bytes)?;
        self.out.flush()?;
        (self.pen, self.at, self.in_step) = (stroke.pen, stroke.at, true);
        Ok(())
    }
}
