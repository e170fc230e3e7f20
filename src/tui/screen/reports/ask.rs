//! One question after another, each answered by typing; then something is done.

use ratatui::buffer::Buffer;
use ratatui::layout::{Position, Rect};

use super::super::measure::{caret_after, prompt_line};
use super::super::text::{margin, under_title};
use super::super::{Desk, Screen, Step, one_line};
use super::act::second_is_wanted;
use crate::keys::Chord;
use crate::present::Line;
use crate::role::Role;
use crate::tui::command::{About, Id, Place};
use crate::tui::widget::{Field, put, row};
use crate::work::Failure;

/// A question.
pub(super) struct Question {
    prompt: String,
    /// What stands in the field at first.
    answer: String,
    /// What is known, under the field.
    about: String,
}

impl Question {
    pub(super) fn new(prompt: &str, answer: &str, about: String) -> Self {
        Question {
            prompt: format!(" {prompt} > "),
            answer: answer.to_string(),
            about,
        }
    }

    /// Who else confirms it, and why that is needed.
    pub(super) fn second(why: &str) -> Self {
        let about = format!("{why}. Name who confirms it beside you; recorded as declared.");
        Question::new("second person", "", about)
    }
}

/// What is done with the answers; returns what to say.
type Done = Box<dyn Fn(&[String], &Desk) -> Result<String, Failure>>;

/// The questions.
pub(super) struct Ask {
    title: String,
    questions: Vec<Question>,
    at: usize,
    field: Field,
    refused: Option<String>,
    done: Done,
}

impl Ask {
    pub(super) fn new(
        title: String,
        questions: Vec<Question>,
        done: impl Fn(&[String], &Desk) -> Result<String, Failure> + 'static,
    ) -> Self {
        Ask {
            title,
            field: Field::of(&questions[0].answer),
            questions,
            at: 0,
            refused: None,
            done: Box::new(done),
        }
    }

    fn keep(&mut self, desk: &Desk) -> Step {
        let text = self.field.text().trim().to_string();
        if text.is_empty() {
            self.refused = Some("type an answer; esc or backspace goes back".to_string());
            return Step::Stay;
        }
        self.questions[self.at].answer = text;
        if self.at + 1 < self.questions.len() {
            self.go(self.at + 1);
            return Step::Stay;
        }
        let answers: Vec<String> = self.questions.iter().map(|q| q.answer.clone()).collect();
        match (self.done)(&answers, desk) {
            Ok(said) => Step::CloseAndSay(said),
            Err(failure) if second_is_wanted(&failure) => {
                self.questions.push(Question::second(&failure.message));
                self.go(self.at + 1);
                Step::Stay
            }
            Err(failure) => {
                self.refused = Some(one_line(&failure));
                Step::Stay
            }
        }
    }

    fn go(&mut self, at: usize) {
        self.at = at;
        self.refused = None;
        self.field = Field::of(&self.questions[at].answer);
    }

    fn back(&mut self) -> Step {
        match self.at {
            0 => return Step::Close,
            at => self.go(at - 1),
        }
        Step::Stay
    }
}

impl Screen for Ask {
    fn place(&self) -> Place {
        Place::Answer
    }

    fn about(&self) -> About {
        About {
            empty: self.field.is_empty(),
            ..About::default()
        }
    }

    fn run(&mut self, id: Id, _chord: Chord, desk: &Desk) -> Step {
        match id {
            Id::Keep => return self.keep(desk),
            Id::Back => return self.back(),
            Id::Erase => {
                self.refused = None;
                if !self.field.erase() {
                    return self.back();
                }
            }
            Id::ClearLine => self.field.clear(),
            Id::ClearWord => self.field.erase_word(),
            _ => {}
        }
        Step::Stay
    }

    fn type_in(&mut self, c: char) {
        self.field.type_in(c);
        self.refused = None;
    }

    fn paste(&mut self, text: &str) -> bool {
        self.field.paste(text);
        self.refused = None;
        true
    }

    fn note(&self) -> Line {
        refusal(self.refused.as_deref())
    }

    fn draw(&mut self, buffer: &mut Buffer, area: Rect, desk: &Desk) -> Option<Position> {
        let q = &self.questions[self.at];
        let about = [Line::of(Role::Plain, &q.about)];
        draw_question(
            buffer,
            area,
            desk,
            &Asked {
                title: Line::of(Role::Heading, &self.title),
                prompt: &q.prompt,
                text: self.field.text(),
                about: &about,
            },
        )
    }
}

pub(super) fn refusal(why: Option<&str>) -> Line {
    match why {
        Some(why) => Line::of(Role::Fails, "refused").with(Role::Plain, format!(": {why}")),
        None => Line::new(),
    }
}

/// What stands on the screen while something is asked.
pub(super) struct Asked<'a> {
    pub title: Line,
    pub prompt: &'a str,
    pub text: &'a str,
    pub about: &'a [Line],
}

/// Draws a title, the field, and what is known under it.
pub(super) fn draw_question(
    buffer: &mut Buffer,
    area: Rect,
    desk: &Desk,
    asked: &Asked,
) -> Option<Position> {
    put(buffer, row(area, 0), &margin(&asked.title), desk.look);
    let body = under_title(area);
    let line = prompt_line(asked.prompt, asked.text, body.width, desk);
    put(buffer, row(body, 0), &line, desk.look);
    let width = usize::from(body.width.saturating_sub(2));
    let lines = asked.about.iter().flat_map(|l| l.folded(width, 2));
    for (y, line) in (2..body.height).zip(lines) {
        put(buffer, row(body, y), &margin(&line), desk.look);
    }
    caret_after(row(body, 0), asked.prompt, asked.text)
}
