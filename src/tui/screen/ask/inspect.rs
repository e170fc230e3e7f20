//! An inspection at the pole: which unit, how deep, then the form of its
//! class with single keys, a look over what was answered, and what follows.

use ratatui::buffer::Buffer;
use ratatui::layout::{Position, Rect};

use super::asked::{
    DEPTH, by_same_method, check, depth_of, depths, is_asked, questions, readings, to_write,
};
use super::keeping::{keep, leave, note_of, show, since, under_way};
use super::pick::Pick;
use super::{Did, Questions, concluded::Concluded, give_letters};
use crate::domain::asset::Depth;
use crate::exchange::{FormKind, Kept};
use crate::keys::Chord;
use crate::present::Line;
use crate::present::concluded::sampling_lines;
use crate::role::Role;
use crate::store::Stored;
use crate::tui::command::{About, Id, Place};
use crate::tui::screen::text::{inset, margin, under_title};
use crate::tui::screen::{Desk, Screen, Step, one_line};
use crate::tui::widget::{Scroll, put, row};
use crate::work::Failure;
use crate::work::conclude::{SamplingReport, before_sampling};
use crate::work::inspect::{Sheet, sheet, subjects, written_since};
use crate::work::log::log;

/// The reading whose form asks for a sample.
const SAMPLED: &str = "oil_kv";
const METHOD: &str = "method";

/// How far the inspection is.
enum Stage {
    /// What to look at before a sample is drawn.
    Sampling(SamplingReport, Scroll),
    /// Whether the form that was under way goes on.
    Again(Pick),
    /// Which of several units.
    Which(Vec<Stored>, Pick),
    /// How deep.
    Depth(Pick),
    Answers,
    Review(Scroll),
}

/// An inspection under way.
pub struct Inspect {
    stage: Stage,
    /// None until it is known which unit is meant.
    form: Option<(Sheet, Kept)>,
    questions: Questions,
    /// Said in the status line.
    said: Option<String>,
}

impl Inspect {
    /// The inspection of a record, or of the unit at a position; one under way
    /// is taken up again.
    ///
    /// # Errors
    /// When the record is of a kind that is not inspected; the register's.
    pub fn about(record: &Stored, desk: &Desk) -> Result<Self, Failure> {
        let mut subjects = subjects(desk.store, record)?;
        let mut out = Inspect {
            stage: Stage::Answers,
            form: None,
            questions: Questions::default(),
            said: None,
        };
        if subjects.len() == 1 {
            out.of(subjects.remove(0), desk)?;
        } else {
            let rows = subjects.iter().map(|s| {
                let record = &s.record;
                (record.name(), record.kind().to_string())
            });
            let pick = Pick::of(rows.collect());
            out.stage = Stage::Which(subjects, pick);
        }
        Ok(out)
    }

    /// A form that waited.
    ///
    /// # Errors
    /// When its record has left the register; the register's.
    pub fn again(kept: Kept, desk: &Desk) -> Result<Self, Failure> {
        let of = desk.store.by_id(kept.draft.record)?.ok_or_else(|| {
            Failure::not_found(format!("{} has left the register", kept.draft.name))
        })?;
        let mut out = Inspect {
            stage: Stage::Answers,
            form: None,
            questions: Questions::default(),
            said: None,
        };
        let form = sheet(desk.store, of)?;
        out.begin(form, kept, true, desk);
        Ok(out)
    }

    fn of(&mut self, of: Stored, desk: &Desk) -> Result<(), Failure> {
        let form = sheet(desk.store, of)?;
        let (kept, again) = under_way(FormKind::Inspection, &form.of, desk);
        self.begin(form, kept, again, desk);
        if again {
            self.stage = Stage::Again(Pick::of(vec![
                ("continue".to_string(), self.draft_words()),
                (
                    "start over".to_string(),
                    "the draft is discarded".to_string(),
                ),
            ]));
        }
        Ok(())
    }

    fn begin(&mut self, form: Sheet, kept: Kept, again: bool, desk: &Desk) {
        if again {
            self.said = Some(since(kept.draft.begun));
        }
        self.stage = next_of(&kept);
        let written = readings(&form, &kept);
        if written_since(desk.store, &form.of, &written, kept.draft.begun).unwrap_or(false) {
            self.said = Some(
                "an entry with these very readings was written since; discard this form unless you mean another".to_string(),
            );
        }
        self.form = Some((form, kept));
        self.ask();
    }

    /// Makes the questions that the answers so far call for.
    fn ask(&mut self) {
        let Some((form, kept)) = &self.form else {
            return;
        };
        let mut list = questions(form, depth_of(kept));
        let method = kept.draft.answers.get(METHOD);
        for q in list.iter_mut().filter(|q| q.key == SAMPLED) {
            if method.is_some_and(|m| !by_same_method(m, &q.before)) {
                q.before.clear();
            }
        }
        give_letters(&mut list);
        // A line that is not asked keeps its letter for when it is.
        list.retain(|q| {
            let reading = form.form.readings.iter().find(|r| r.reading == q.key);
            reading.is_none_or(|r| is_asked(kept, r))
        });
        self.questions.replace(list);
        show(&mut self.questions, kept);
    }

    fn answer(&mut self, at: usize, answer: Option<String>) {
        let Some((form, kept)) = &mut self.form else {
            return;
        };
        let Some(q) = self.questions.list.get(at) else {
            return;
        };
        let key = q.key.clone();
        let settled = match answer {
            None => Ok(None),
            Some(text) => check(form, &key, &text).map(Some),
        };
        match settled {
            Err(why) => self.questions.refused = Some(why),
            Ok(answer) => {
                let kept_so = keep(kept, &key, answer.as_deref());
                self.questions.advance();
                self.ask();
                self.questions.refused = kept_so.err();
            }
        }
    }

    /// The form that was under way goes on, or a new one is begun.
    fn take_up(&mut self, at: usize, desk: &Desk) -> Step {
        let Some((form, kept)) = self.form.take() else {
            return Step::Close;
        };
        if at == 0 {
            self.stage = next_of(&kept);
            self.form = Some((form, kept));
            return Step::Stay;
        }
        if let Err(why) = kept.remove() {
            return Step::CloseAndSay(why);
        }
        let fresh = super::keeping::fresh(FormKind::Inspection, &form.of, desk);
        self.begin(form, fresh, false, desk);
        Step::Stay
    }

    /// `draft of 3 Oct 2026, depth detailed, 4 fields answered`.
    fn draft_words(&self) -> String {
        let Some((_, kept)) = &self.form else {
            return String::new();
        };
        let fields = kept.draft.answers.keys().filter(|k| *k != DEPTH).count();
        let depth = depth_of(kept).map_or("not chosen".to_string(), |d| d.to_string());
        let s = if fields == 1 { "" } else { "s" };
        format!(
            "draft of {}, depth {depth}, {fields} field{s} answered",
            kept.draft.begun.date().spoken()
        )
    }

    fn choose_depth(&mut self, at: usize, desk: &Desk) {
        let Some((form, kept)) = &mut self.form else {
            return;
        };
        let word = Depth::ALL.get(at).map_or("", |d| d.word());
        let kept_so = keep(kept, DEPTH, Some(word));
        let sampled = word == Depth::Intrusive.word()
            && form.form.readings.iter().any(|r| r.reading == SAMPLED);
        let checklist = sampled.then(|| before_sampling(desk.store, form.of.rec));
        self.stage = match checklist {
            Some(Ok(report)) => Stage::Sampling(report, Scroll::default()),
            _ => Stage::Answers,
        };
        self.ask();
        self.questions.refused = kept_so.err();
    }

    /// Enter under the answers: a look over them, when there is something.
    fn finish(&mut self) -> Step {
        if self.questions.list.iter().all(|q| q.answer.is_none()) {
            return Step::Say("nothing is answered yet".to_string());
        }
        self.stage = Stage::Review(Scroll::default());
        Step::Stay
    }

    fn write(&mut self, desk: &Desk) -> Step {
        let Some((form, kept)) = &self.form else {
            return Step::Stay;
        };
        let asked = to_write(form, kept);
        let id = form.of.record.id().to_string();
        let now = desk.clock.now();
        let written = desk.write(|store| log(store, &id, "inspection", &asked, desk.who, now));
        match written {
            Ok(report) => {
                let Some((form, kept)) = self.form.take() else {
                    return Step::Stay;
                };
                let trouble = kept.remove().err();
                Step::Instead(Box::new(Concluded::of(form.of, report, trouble)))
            }
            Err(failure) => {
                self.stage = Stage::Answers;
                self.questions.refused = Some(one_line(&failure));
                Step::Stay
            }
        }
    }

    fn leave(&mut self) -> Step {
        match self.form.take() {
            Some((_, kept)) => {
                let empty = kept.draft.answers.keys().all(|k| k == DEPTH);
                leave(kept, empty)
            }
            None => Step::Close,
        }
    }

    fn title(&self) -> Line {
        let mut line = Line::of(Role::Heading, "inspect ");
        if let Some((form, kept)) = &self.form {
            line.push(Role::Code, form.of.record.name());
            line.push(Role::Plain, format!("  {}", form.class));
            if let Some(depth) = depth_of(kept) {
                line.push(Role::Plain, format!(", {depth}"));
            }
        }
        line
    }

    /// What will be written, before it is.
    fn review(&self, width: usize) -> Vec<Line> {
        let mut out = Vec::new();
        for q in self.questions.list.iter() {
            if let Some(answer) = &q.answer {
                let mut line =
                    Line::of(Role::Label, format!("{}: ", q.label)).with(Role::Value, answer);
                if !q.before.is_empty() {
                    line.push(Role::Muted, format!("  was {}", q.before));
                }
                out.extend(line.folded(width, 2));
            }
        }
        let open = self.questions.list.iter().filter(|q| q.answer.is_none());
        let open: Vec<&str> = open.map(|q| q.label.as_str()).collect();
        out.push(Line::new());
        out.extend(
            Line::of(Role::Key, "enter")
                .with(Role::Plain, " writes it, ")
                .with(Role::Key, "backspace")
                .with(Role::Plain, " goes back to the form.")
                .folded(width, 0),
        );
        let text = format!("not answered: {}", open.join(", "));
        out.extend(Line::of(Role::Muted, text).folded(width, 2));
        out
    }
}

/// What a form is asked next: its depth, where it has none.
fn next_of(kept: &Kept) -> Stage {
    match depth_of(kept) {
        Some(_) => Stage::Answers,
        None => Stage::Depth(depths()),
    }
}

impl Screen for Inspect {
    fn place(&self) -> Place {
        match self.stage {
            Stage::Review(_) => Place::Review,
            _ if self.questions.typing() => Place::Answer,
            _ => Place::Inspect,
        }
    }

    fn about(&self) -> About {
        About {
            rows: self.questions.list.len().max(1),
            empty: self.questions.field.as_ref().is_none_or(|f| f.is_empty()),
            ..About::default()
        }
    }

    fn run(&mut self, id: Id, chord: Chord, desk: &Desk) -> Step {
        self.said = None;
        match &mut self.stage {
            Stage::Which(subjects, pick) => {
                if id == Id::Back {
                    return Step::Close;
                }
                if let Some(at) = pick.take(id, chord) {
                    let of = subjects.swap_remove(at);
                    if let Err(failure) = self.of(of, desk) {
                        return Step::CloseAndSay(one_line(&failure));
                    }
                }
            }
            Stage::Again(pick) => {
                if id == Id::Back {
                    return Step::Close;
                }
                if let Some(at) = pick.take(id, chord) {
                    return self.take_up(at, desk);
                }
            }
            Stage::Depth(pick) => {
                if id == Id::Back {
                    return Step::Close;
                }
                if let Some(at) = pick.take(id, chord) {
                    self.choose_depth(at, desk);
                }
            }
            Stage::Sampling(_, scroll) => match id {
                Id::Finish => self.stage = Stage::Answers,
                Id::Back => return self.leave(),
                Id::Next | Id::HalfDown => scroll.down(),
                Id::Previous | Id::HalfUp => scroll.up(),
                _ => {}
            },
            Stage::Review(scroll) => match id {
                Id::Finish => return self.write(desk),
                Id::Back => self.stage = Stage::Answers,
                Id::HalfDown => scroll.down(),
                Id::HalfUp => scroll.up(),
                _ => {}
            },
            Stage::Answers => match self.questions.take(id, chord) {
                Did::Answer(at, text) => self.answer(at, Some(text)),
                Did::TakeBack(at) => self.answer(at, None),
                Did::Yours(Id::Finish) => return self.finish(),
                Did::Yours(Id::Back) => return self.leave(),
                Did::Yours(_) | Did::Nothing => {}
            },
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
        put(buffer, row(area, 0), &margin(&self.title()), desk.look);
        let body = under_title(area);
        let width = usize::from(body.width.saturating_sub(1));
        match &mut self.stage {
            Stage::Which(_, pick) | Stage::Depth(pick) | Stage::Again(pick) => {
                pick.draw(buffer, body, desk);
                None
            }
            Stage::Answers => self.questions.draw(buffer, body, desk),
            Stage::Sampling(report, scroll) => {
                let lines: Vec<Line> = sampling_lines(report)
                    .iter()
                    .flat_map(|l| l.folded(width, 4))
                    .collect();
                scroll.draw(buffer, body, &inset(lines), desk.look);
                None
            }
            Stage::Review(_) => {
                let lines: Vec<Line> = self.review(width).iter().map(margin).collect();
                if let Stage::Review(scroll) = &mut self.stage {
                    scroll.draw(buffer, body, &lines, desk.look);
                }
                None
            }
        }
    }
}
