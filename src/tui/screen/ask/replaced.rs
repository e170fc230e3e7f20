//! The commonest job of the field on one key: a fuse replaced, found X, put Y.

use ratatui::buffer::Buffer;
use ratatui::layout::{Position, Rect};

use super::concluded::{Concluded, Proposed};
use super::keeping::{keep, leave, note_of, show, since, under_way};
use super::{Did, Question, Questions, Takes, give_letters};
use crate::exchange::{FormKind, Kept};
use crate::keys::Chord;
use crate::present::Line;
use crate::role::Role;
use crate::store::Stored;
use crate::tui::command::{About, Id, Place};
use crate::tui::screen::text::{margin, under_title};
use crate::tui::screen::{Desk, Screen, Step, one_line};
use crate::tui::widget::{put, row};
use crate::work::Failure;
use crate::work::inspect::{Links, corrected, differs, links, recorded};
use crate::work::log::{Asked, log};

const SLOT: &str = "slot";
const FOUND: &str = "link_found";
const PUT: &str = "link_put";
const NOTE: &str = "note";

/// A fuse replaced.
pub struct Replaced {
    links: Links,
    kept: Kept,
    questions: Questions,
    said: Option<String>,
}

impl Replaced {
    /// The form of a position, or of the position where a unit is.
    ///
    /// # Errors
    /// When no fuse link is on record there; those of the register.
    pub fn about(record: &Stored, desk: &Desk) -> Result<Self, Failure> {
        let links = links(desk.store, record)?;
        let (kept, again) = under_way(FormKind::Link, &links.position, desk);
        Ok(Replaced::open(links, kept, again))
    }

    /// A form that waited.
    ///
    /// # Errors
    /// As [`Replaced::about`], or when the record has left the register.
    pub fn again(kept: Kept, desk: &Desk) -> Result<Self, Failure> {
        let of = desk.store.by_id(kept.draft.record)?.ok_or_else(|| {
            Failure::not_found(format!("{} has left the register", kept.draft.name))
        })?;
        Ok(Replaced::open(links(desk.store, &of)?, kept, true))
    }

    fn open(links: Links, kept: Kept, again: bool) -> Self {
        let mut out = Replaced {
            said: again.then(|| since(kept.draft.begun)),
            questions: Questions::new(Vec::new()),
            links,
            kept,
        };
        out.ask();
        out
    }

    fn slot(&self) -> Option<&str> {
        self.kept.draft.answers.get(SLOT).map(String::as_str)
    }

    /// Makes the questions; what is suggested depends on the slot.
    fn ask(&mut self) {
        let slots: Vec<String> = self
            .links
            .links
            .iter()
            .filter_map(|l| l.slot.clone())
            .collect();
        let mut list = Vec::new();
        if slots.len() > 1 {
            let mut q = Question::new(SLOT, "which slot", Takes::Choice(slots));
            q.letter = Some('s');
            list.push(q);
        }
        let recorded = recorded(&self.links, self.slot());
        let last = self.links.last_put.clone();
        let mut suggested: Vec<String> = Vec::new();
        let found = self.kept.draft.answers.get(FOUND).cloned();
        for link in [recorded.clone(), last.as_ref().map(|(l, _)| l.clone())] {
            suggested.extend(link.filter(|l| !suggested.contains(l)));
        }
        let mut put = suggested.clone();
        put.extend(found.filter(|f| !put.contains(f) && f != "unknown"));
        list.push(self.link(FOUND, "link found", 'f', suggested, recorded.as_deref()));
        list.push(self.link(PUT, "link put in", 'i', put, None));
        let mut note = Question::new(NOTE, "note", Takes::Text).allowing("cause, if known");
        note.letter = Some('n');
        list.push(note);
        give_letters(&mut list);
        self.questions.replace(list);
        show(&mut self.questions, &self.kept);
    }

    fn link(
        &self,
        key: &str,
        label: &str,
        letter: char,
        suggested: Vec<String>,
        recorded: Option<&str>,
    ) -> Question {
        let mut q = Question::new(key, label, Takes::Text);
        q.suggested = suggested;
        q.letter = Some(letter);
        q.may_be_unknown = key == FOUND;
        q.allowed = if q.suggested.is_empty() {
            "as marked, such as 40K".to_string()
        } else {
            "or type another, as marked".to_string()
        };
        if let (Some((link, on)), PUT) = (&self.links.last_put, key) {
            let on = on.map_or("undated".to_string(), |d| d.spoken());
            q.before = format!("{link}, {on}");
        }
        if let Some(recorded) = recorded {
            q.before = format!("{recorded} on record");
        }
        q
    }

    fn answer(&mut self, at: usize, answer: Option<&str>) {
        let Some(q) = self.questions.list.get(at) else {
            return;
        };
        let key = q.key.clone();
        let kept = keep(&mut self.kept, &key, answer);
        self.questions.advance();
        self.ask();
        self.questions.refused = kept.err();
    }

    /// Enter: types where nothing is answered, writes when all is there.
    fn finish(&mut self, desk: &Desk) -> Step {
        let open = |k: &str| {
            self.questions
                .list
                .iter()
                .any(|q| q.key == k && q.answer.is_none())
        };
        if let Some(key) = [SLOT, FOUND, PUT].into_iter().find(|k| open(k)) {
            let here = self.questions.marked().is_some_and(|q| q.key == key);
            self.questions.mark_key(key);
            if here && key != SLOT {
                self.questions.begin("");
            }
            return Step::Stay;
        }
        self.write(desk)
    }

    fn write(&mut self, desk: &Desk) -> Step {
        let answers = self.kept.draft.answers.clone();
        let text = |key: &str| answers.get(key).cloned().unwrap_or_default();
        let note: Vec<String> = [
            Some("fuse replaced".to_string()),
            answers.get(NOTE).cloned(),
        ]
        .into_iter()
        .flatten()
        .collect();
        let slot = answers.get(SLOT).map(|s| format!("link_slot={s}"));
        let mut set = vec![
            format!("{FOUND}={}", text(FOUND)),
            format!("{PUT}={}", text(PUT)),
            format!("{NOTE}={}", note.join(", ")),
        ];
        set.extend(slot);
        let asked = Asked {
            set,
            ..Asked::default()
        };
        let id = self.links.position.record.id().to_string();
        let now = desk.clock.now();
        match desk.write(|store| log(store, &id, "operation", &asked, desk.who, now)) {
            Ok(report) => {
                let correction = self.correction(&text(PUT));
                let of = self.links.position.clone();
                let done = super::keeping::none(&of, desk);
                let trouble = std::mem::replace(&mut self.kept, done).remove().err();
                let next = Concluded::of(of, report, trouble).proposing(correction);
                Step::Instead(Box::new(next))
            }
            Err(failure) => {
                self.questions.refused = Some(one_line(&failure));
                Step::Stay
            }
        }
    }

    /// Where the link put in differs from the record: what would mend it.
    fn correction(&self, put: &str) -> Option<Proposed> {
        let slot = self.slot();
        let because = differs(&self.links, slot, put)?;
        let fields = corrected(&self.links, slot, put);
        let said: Vec<&str> = fields.iter().map(|(_, _, said)| said.as_str()).collect();
        Some(Proposed {
            of: self.links.position.record.id(),
            because: format!("{because}: {}", said.join("; ")),
            fields: fields.into_iter().map(|(f, v, _)| (f, v)).collect(),
        })
    }
}

impl Screen for Replaced {
    fn place(&self) -> Place {
        if self.questions.typing() {
            Place::Answer
        } else {
            Place::Inspect
        }
    }

    fn about(&self) -> About {
        About {
            rows: self.questions.list.len(),
            empty: self.questions.field.as_ref().is_none_or(|f| f.is_empty()),
            ..About::default()
        }
    }

    fn run(&mut self, id: Id, chord: Chord, desk: &Desk) -> Step {
        self.said = None;
        match self.questions.take(id, chord) {
            Did::Answer(at, text) => self.answer(at, Some(&text)),
            Did::TakeBack(at) => self.answer(at, None),
            Did::Yours(Id::Finish) => return self.finish(desk),
            Did::Yours(Id::Back) => {
                let done = super::keeping::none(&self.links.position, desk);
                let kept = std::mem::replace(&mut self.kept, done);
                let empty = kept.draft.answers.is_empty();
                return leave(kept, empty);
            }
            Did::Yours(_) | Did::Nothing => {}
        }
        Step::Stay
    }

    fn type_in(&mut self, c: char) {
        self.questions.type_in(c);
    }

    fn paste(&mut self, text: &str) -> bool {
        self.questions.paste(text)
    }

    fn note(&self) -> Line {
        note_of(&self.questions, self.said.as_deref())
    }

    fn draw(&mut self, buffer: &mut Buffer, area: Rect, desk: &Desk) -> Option<Position> {
        let title = Line::of(Role::Heading, "fuse replaced at ")
            .with(Role::Code, self.links.position.record.name());
        put(buffer, row(area, 0), &margin(&title), desk.look);
        self.questions.draw(buffer, under_title(area), desk)
    }
}
