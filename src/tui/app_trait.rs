//! What the event loop asks of the program it runs.

use std::time::Instant;

use ratatui::Frame;

use crate::keys::Chord;

/// One thing that happened, in the order it happened.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Input {
    /// A key press.
    Key(Chord),
    /// Pasted text as one piece, lines parted by `\n`.
    Paste(String),
    /// The terminal now has so many columns and rows.
    Resize(u16, u16),
    /// The time that [`App::next_deadline`] asked for has come; holds the present time.
    Tick(Instant),
}

/// A program of screens. The loop feeds it all waiting input, lets it work, then draws it once.
pub trait App {
    /// Takes one input and changes the state; draws nothing.
    fn on_input(&mut self, input: Input);

    /// True when the state differs from what [`Self::draw`] last showed.
    fn dirty(&self) -> bool;

    /// Draws everything and marks the state as shown. Must not panic at any size down to 1x1.
    fn draw(&mut self, frame: &mut Frame);

    /// The exit code, once the program wants to leave.
    fn wants_exit(&self) -> Option<i32>;

    /// True once after the person asked to suspend (Ctrl-Z).
    fn wants_suspend(&mut self) -> bool {
        false
    }

    /// True once after the person asked for a full repaint (Ctrl-L).
    fn wants_repaint(&mut self) -> bool {
        false
    }

    /// Runs what is too long for [`Self::on_input`], such as a search. Ask `stop` every
    /// millisecond or so and return when it says true: a key is waiting, or what was typed has yet
    /// to be shown. Called before each draw and after it, so work left unfinished is taken up
    /// again; with nothing to do it must return at once.
    fn pending_work(&mut self, stop: &dyn Fn() -> bool) {
        let _ = stop;
    }

    /// When to send [`Input::Tick`], if at all. A tick does not draw unless the state changed.
    fn next_deadline(&self) -> Option<Instant> {
        None
    }
}
