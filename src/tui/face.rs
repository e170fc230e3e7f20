//! The screens as the event loop wants them.

use std::time::Instant;

use ratatui::Frame;

use super::app::Screens;
use super::app_trait::{App, Input};

impl App for Screens {
    fn on_input(&mut self, input: Input) {
        match input {
            Input::Key(chord) => self.on_key(chord),
            Input::Paste(text) => self.on_paste(&text),
            Input::Resize(width, _) => self.on_resize(width),
            Input::Tick(now) => self.on_tick(now),
        }
    }

    fn dirty(&self) -> bool {
        Screens::dirty(self)
    }

    fn draw(&mut self, frame: &mut Frame) {
        let area = frame.area();
        if let Some(caret) = Screens::draw(self, frame.buffer_mut(), area) {
            frame.set_cursor_position(caret);
        }
    }

    fn wants_exit(&self) -> Option<i32> {
        Screens::wants_exit(self)
    }

    fn wants_suspend(&mut self) -> bool {
        Screens::wants_suspend(self)
    }

    fn wants_repaint(&mut self) -> bool {
        Screens::wants_repaint(self)
    }

    fn pending_work(&mut self, stop: &dyn Fn() -> bool) {
        self.work(stop);
    }

    fn next_deadline(&self) -> Option<Instant> {
        self.look_at()
    }
}
