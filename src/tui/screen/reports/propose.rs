//! Filing a report: which field, what it should say, from what it was read,
//! and why. Works where the register may only be read.

use ratatui::buffer::Buffer;
use ratatui::layout::{Position, Rect};
use serde_json::Value;

use super::super::{Desk, Screen, Step, one_line};
use super::ask::{Asked as Shown, draw_question, refusal};
use crate::domain::asset::{ReadFrom, Record};
use crate::domain::who::Who;
use crate::keys::Chord;
use crate::present::Line;
use crate::role::Role;
use crate::store::Stored;
use crate::tui::command::{About, Id, Place};
use crate::tui::widget::Field;
use crate::work::edit::printed;
use crate::work::reports::{Asked, allowed, file, proposable, tried};
use crate::work::{Failure, also_of};

/// From what a plate value can be read, by digit.
const SOURCES: [ReadFrom; 3] = [ReadFrom::Plate, ReadFrom::Photo, ReadFrom::Drawing];

/// What is being asked.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Asking {
    /// The mark of a thing that is not on record.
    Mark,
    Field,
    Value,
    From,
    Day,
    Why,
}

/// A report being made.
pub struct Propose {
    /// None: the thing is not on record.
    record: Option<Stored>,
    also: String,
    fields: Vec<(String, Value)>,
    step: Asking,
    before: Vec<(Asking, String)>,
    typed: Field,
    mark: String,
    /// The field chosen, with what is on record.
    chosen: Option<(String, Value)>,
    asked: Asked,
    refused: Option<String>,
}

impl Propose {
    /// A report about a record.
    ///
    /// # Errors
    /// Those of the register.
    pub fn about(record: &Stored, desk: &Desk) -> Result<Self, Failure> {
        Ok(Propose {
            also: also_of(desk.store, record)?.words(),
            fields: proposable(&record.record),
            record: Some(record.clone()),
            step: Asking::Field,
            ..Self::unlisted("")
        })
    }

    /// A report of a thing that is not on record.
    #[must_use]
    pub fn unlisted(mark: &str) -> Self {
        Propose {
            record: None,
            also: String::new(),
            fields: Vec::new(),
            step: Asking::Mark,
            before: Vec::new(),
            typed: Field::of(mark),
            mark: String::new(),
            chosen: None,
            asked: Asked::default(),
            refused: None,
        }
    }

    /// The fields that hold every word typed, those of which begin so first.
    fn matching(&self) -> Vec<&(String, Value)> {
        let typed = self.typed.text().to_lowercase();
        let words: Vec<&str> = typed.split_whitespace().collect();
        let mut out: Vec<&(String, Value)> = self
            .fields
            .iter()
            .filter(|(field, _)| words.iter().all(|w| field.contains(w)))
            .collect();
        let last = |field: &str| field.rsplit('.').next().unwrap_or(field).to_string();
        out.sort_by_key(|(field, _)| {
            let first = words.first().copied().unwrap_or_default();
            (*field != typed, !last(field).starts_with(first))
        });
        out
    }

    fn go(&mut self, step: Asking, text: &str) {
        self.before.push((self.step, self.typed.text().to_string()));
        self.step = step;
        self.typed = Field::of(text);
    }

    fn back(&mut self) -> Step {
        self.refused = None;
        match self.before.pop() {
            None => Step::Close,
            Some((step, text)) => {
                self.step = step;
                self.typed = Field::of(&text);
                Step::Stay
            }
        }
    }

    fn keep(&mut self, desk: &Desk) -> Step {
        self.refused = None;
        let text = self.typed.text().trim().to_string();
        let kept = match self.step {
            Asking::Mark => self.keep_mark(text),
            Asking::Field => self.keep_field(&text),
            Asking::Value => self.keep_value(&text, desk),
            Asking::From => self.keep_source(&text, desk),
            Asking::Day => self.keep_day(&text, desk),
            Asking::Why => return self.send(text, desk),
        };
        if let Err(why) = kept {
            self.refused = Some(why);
        }
        Step::Stay
    }

    fn keep_mark(&mut self, text: String) -> Result<(), String> {
        if text.is_empty() {
            return Err("type the mark that it bears, or where it stands".to_string());
        }
        self.mark = text;
        self.asked.unlisted = true;
        self.go(Asking::Why, "");
        Ok(())
    }

    fn keep_field(&mut self, text: &str) -> Result<(), String> {
        if text.is_empty() {
            self.chosen = None;
            self.asked = Asked::default();
            self.go(Asking::Why, "");
            return Ok(());
        }
        let Some(found) = self.matching().first().map(|f| (*f).clone()) else {
            return Err(format!(
                "no field is called {text}; erase it to see them, or leave it empty for a note"
            ));
        };
        self.chosen = Some(found);
        self.go(Asking::Value, "");
        Ok(())
    }

    fn is_plate(&self) -> bool {
        self.chosen
            .as_ref()
            .is_some_and(|(f, _)| f.starts_with("nameplate."))
    }

    /// Holds a value against the field's own rule at once.
    fn keep_value(&mut self, text: &str, desk: &Desk) -> Result<(), String> {
        let Some((field, _)) = &self.chosen else {
            return Ok(());
        };
        self.asked = Asked {
            set: vec![format!("{field}={text}")],
            from: self.is_plate().then_some(ReadFrom::Plate),
            ..Asked::default()
        };
        self.try_it(desk)?;
        let next = if self.is_plate() {
            Asking::From
        } else {
            Asking::Why
        };
        self.go(next, "");
        Ok(())
    }

    fn keep_source(&mut self, text: &str, desk: &Desk) -> Result<(), String> {
        let by_digit = text.parse::<usize>().ok().and_then(|n| n.checked_sub(1));
        let by_word = SOURCES.iter().position(|s| s.word() == text);
        let Some(from) = by_digit.or(by_word).and_then(|n| SOURCES.get(n)) else {
            return Err("1 plate, 2 photo, 3 drawing".to_string());
        };
        self.asked.from = Some(*from);
        self.go(Asking::Day, &desk.clock.today().to_string());
        Ok(())
    }

    fn keep_day(&mut self, text: &str, desk: &Desk) -> Result<(), String> {
        self.asked.on = Some(text.parse().map_err(|e| format!("{e}"))?);
        self.try_it(desk)?;
        self.go(Asking::Why, "");
        Ok(())
    }

    fn try_it(&self, desk: &Desk) -> Result<(), String> {
        let Some(record) = &self.record else {
            return Ok(());
        };
        let asked = Asked {
            why: "being made".to_string(),
            ..self.asked.clone()
        };
        let (who, now) = (Who::read(desk.who), desk.clock.now());
        tried(desk.store, record, &asked, &who, now).map_err(|f| one_line(&f))
    }

    fn send(&mut self, why: String, desk: &Desk) -> Step {
        let asked = Asked {
            why,
            ..self.asked.clone()
        };
        let text = match &self.record {
            Some(record) => record.record.id().to_string(),
            None => self.mark.clone(),
        };
        let (who, now) = (Who::read(desk.who), desk.clock.now());
        match file(desk.store, &text, &asked, &who, now) {
            Ok(filed) => Step::CloseAndSay(format!(
                "filed as report {}; the register is as it was, the records clerk decides",
                filed.no
            )),
            Err(failure) => {
                self.refused = Some(one_line(&failure));
                Step::Stay
            }
        }
    }

    fn prompt(&self) -> &'static str {
        match self.step {
            Asking::Mark => " mark > ",
            Asking::Field => " field > ",
            Asking::Value => " value > ",
            Asking::From => " read from > ",
            Asking::Day => " read on > ",
            Asking::Why => " why > ",
        }
    }

    fn known(&self) -> Vec<Line> {
        let mut out = Vec::new();
        if let Some((field, now)) = self.chosen.as_ref().filter(|_| self.step != Asking::Field) {
            let line = Line::of(Role::Code, field).with(Role::Plain, "  ");
            let label = if now.is_null() { "" } else { "on record " };
            out.push(
                line.with(Role::Label, label)
                    .with(Role::Plain, printed(now)),
            );
            let record = self.record.as_ref().map(|s| &s.record);
            let rule = record.and_then(|r: &Record| allowed(r, field));
            if let Some(rule) = rule.filter(|_| self.step == Asking::Value) {
                out.push(Line::of(Role::Label, "allowed ").with(Role::Plain, rule));
            }
        }
        if let Some(set) = self.asked.set.first().filter(|_| self.before.len() > 1) {
            let value = set.split_once('=').map_or("", |(_, v)| v);
            out.push(Line::of(Role::Label, "reported ").with(Role::Value, value));
        }
        let how = match self.step {
            Asking::Mark => "What it bears, of a thing that the register lacks.",
            Asking::Field => {
                "Type part of a field's name; enter takes the first. With nothing typed: a note in words."
            }
            Asking::Value => "What it should say. A blank never erases: write unknown.",
            Asking::From => "1 plate, 2 photo, 3 drawing",
            Asking::Day => "The day on which it was read.",
            Asking::Why => "What was seen: the records clerk reads it and decides.",
        };
        out.push(Line::of(Role::Plain, how));
        if self.step == Asking::Field {
            out.push(Line::new());
            for (i, (field, now)) in self.matching().into_iter().enumerate() {
                let mark = if i == 0 && !self.typed.is_empty() {
                    "> "
                } else {
                    "  "
                };
                out.push(
                    Line::of(Role::Code, mark)
                        .with(Role::Plain, field)
                        .with(Role::Muted, format!("  {}", printed(now))),
                );
            }
        }
        out
    }
}

impl Screen for Propose {
    fn place(&self) -> Place {
        Place::Answer
    }

    fn about(&self) -> About {
        About {
            kind: self.record.as_ref().map(|s| s.record.kind()),
            empty: self.typed.is_empty(),
            ..About::default()
        }
    }

    fn run(&mut self, id: Id, _chord: Chord, desk: &Desk) -> Step {
        match id {
            Id::Keep => return self.keep(desk),
            Id::Back => return self.back(),
            Id::Erase => {
                self.refused = None;
                if !self.typed.erase() {
                    return self.back();
                }
            }
            Id::ClearLine => self.typed.clear(),
            Id::ClearWord => self.typed.erase_word(),
            _ => {}
        }
        Step::Stay
    }

    fn type_in(&mut self, c: char) {
        self.typed.type_in(c);
        self.refused = None;
    }

    fn paste(&mut self, text: &str) -> bool {
        self.typed.paste(text);
        self.refused = None;
        true
    }

    fn note(&self) -> Line {
        refusal(self.refused.as_deref())
    }

    fn draw(&mut self, buffer: &mut Buffer, area: Rect, desk: &Desk) -> Option<Position> {
        let title = match &self.record {
            Some(record) => Line::of(Role::Heading, "report about ")
                .with(Role::Code, record.record.name())
                .with(Role::Plain, format!("  {}", self.also)),
            None => Line::of(Role::Heading, "report what is not on record"),
        };
        draw_question(
            buffer,
            area,
            desk,
            &Shown {
                title,
                prompt: self.prompt(),
                text: self.typed.text(),
                about: &self.known(),
            },
        )
    }
}
