//! A step at which a person chooses: a text, and under it what can be done.
//! Or types one line instead.

use ratatui::buffer::Buffer;
use ratatui::layout::{Position, Rect};

use super::Desk;
use super::listing::digit;
use super::measure::{caret_after, prompt_line};
use super::text::{margin, under_title};
use crate::keys::Chord;
use crate::present::Line;
use crate::role::Role;
use crate::tui::command::Id;
use crate::tui::widget::{Field, Row, Rows, Scroll, put, row};

/// What became of a key.
pub(super) enum Chosen {
    Nothing,
    /// The option of that number.
    Option(usize),
    /// What was typed, to be taken.
    Typed(String),
    /// One step back.
    Back,
}

/// The options under a text, or a line being typed.
#[derive(Default)]
pub(super) struct Choosing {
    options: Vec<String>,
    rows: Rows,
    scroll: Scroll,
    /// Prompt and line, where something is typed.
    typing: Option<(&'static str, Field)>,
}

impl Choosing {
    pub fn among(options: Vec<String>) -> Self {
        Choosing {
            options,
            ..Choosing::default()
        }
    }

    pub fn typing(prompt: &'static str, text: &str) -> Self {
        Choosing {
            typing: Some((prompt, Field::of(text))),
            ..Choosing::default()
        }
    }

    pub fn types(&self) -> bool {
        self.typing.is_some()
    }

    /// Options to choose from.
    pub fn count(&self) -> usize {
        self.options.len()
    }

    pub fn is_empty(&self) -> bool {
        self.typing.as_ref().is_none_or(|(_, f)| f.is_empty())
    }

    pub fn type_in(&mut self, c: char) {
        if let Some((_, field)) = &mut self.typing {
            field.type_in(c);
        }
    }

    pub fn paste(&mut self, text: &str) -> bool {
        match &mut self.typing {
            Some((_, field)) => {
                field.paste(text);
                true
            }
            None => false,
        }
    }

    pub fn take(&mut self, id: Id, chord: Chord) -> Chosen {
        if let Some((_, field)) = &mut self.typing {
            match id {
                Id::Keep => return Chosen::Typed(field.text().trim().to_string()),
                Id::Erase if !field.erase() => return Chosen::Back,
                Id::ClearLine => field.clear(),
                Id::ClearWord => field.erase_word(),
                Id::Back => return Chosen::Back,
                _ => {}
            }
            return Chosen::Nothing;
        }
        match id {
            Id::Back => return Chosen::Back,
            Id::Choose => return Chosen::Option(self.rows.marked),
            Id::Pick => {
                let n = digit(chord).unwrap_or(0);
                if (1..=self.options.len()).contains(&n) {
                    return Chosen::Option(n - 1);
                }
            }
            Id::Next => self.rows.next(self.options.len()),
            Id::Previous => self.rows.previous(),
            Id::HalfDown => self.scroll.down(),
            Id::HalfUp => self.scroll.up(),
            _ => {}
        }
        Chosen::Nothing
    }

    /// Draws title, text, and the options or the line under it.
    pub fn draw(
        &mut self,
        buffer: &mut Buffer,
        area: Rect,
        desk: &Desk,
        (title, text): (&Line, &[Line]),
    ) -> Option<Position> {
        put(buffer, row(area, 0), &margin(title), desk.look);
        let body = under_title(area);
        let below = match &self.typing {
            Some(_) => 1,
            None => u16::try_from(self.options.len()).unwrap_or(9),
        };
        let long = u16::try_from(text.len()).unwrap_or(u16::MAX);
        let room = body.height.saturating_sub(below + 1);
        let above = Rect::new(body.x, body.y, body.width, long.min(room));
        self.scroll.draw(buffer, above, text, desk.look);
        let skip = above.height + u16::from(long > 0);
        let rest = Rect::new(
            body.x,
            body.y + skip,
            body.width,
            body.height.saturating_sub(skip),
        );
        if let Some((prompt, field)) = &self.typing {
            let line = prompt_line(prompt, field.text(), rest.width, desk);
            put(buffer, row(rest, 0), &line, desk.look);
            return caret_after(rest, prompt, field.text());
        }
        let rows: Vec<Row> = self
            .options
            .iter()
            .map(|o| Row::Entry(Line::of(Role::Plain, o)))
            .collect();
        self.rows.draw(buffer, rest, &rows, true, desk.look);
        None
    }

    /// Where in the text one is, when not all of it shows.
    pub fn note(&self) -> Line {
        match self.scroll.note() {
            Some(note) => Line::of(Role::Muted, note),
            None => Line::new(),
        }
    }
}
