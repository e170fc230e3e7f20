//! The form over the fields of a record: a new value, confirmed as it is, or
//! erased; then once why, who read it and from what. Where somebody else has
//! changed a field meanwhile, both values show and the person chooses.

use ratatui::buffer::Buffer;
use ratatui::layout::{Position, Rect};

use super::changes::{
    Clash, Wanted, answered, clashes, field_questions, reason_questions, settled_reason, to_write,
    wanted,
};
use super::keeping::{keep, leave, note_of, show, since, under_way};
use super::{Did, Questions, Takes};
use crate::domain::asset::RecordId;
use crate::exchange::{FormKind, Kept};
use crate::keys::Chord;
use crate::present::Line;
use crate::role::Role;
use crate::store::Stored;
use crate::tui::command::{About, Id, Place};
use crate::tui::screen::text::{margin, under_title};
use crate::tui::screen::{Desk, Screen, Step, one_line, record_at};
use crate::tui::widget::{Field, put, row};
use crate::work::Failure;
use crate::work::edit::{edit, fits, printed};
use crate::work::fields::{EditField, fields};

enum Stage {
    Fields,
    Reasons,
    Conflict(Vec<Clash>, usize),
}

/// A correction under way.
pub struct Correct {
    stage: Stage,
    of: Stored,
    kept: Kept,
    fields: Vec<EditField>,
    questions: Questions,
    reasons: Questions,
    said: Option<String>,
}

impl Correct {
    /// The fields of a record; a correction of it under way is taken up again.
    ///
    /// # Errors
    /// Those of the register.
    pub fn about(record: &Stored, desk: &Desk) -> Result<Self, Failure> {
        let of = record_at(record.rec, desk)?;
        let (kept, again) = under_way(FormKind::Correction, &of, desk);
        Correct::open(of, kept, again, desk)
    }

    /// A form that waited.
    ///
    /// # Errors
    /// When its record has left the register; the register's.
    pub fn again(kept: Kept, desk: &Desk) -> Result<Self, Failure> {
        let of = desk.store.by_id(kept.draft.record)?.ok_or_else(|| {
            Failure::not_found(format!("{} has left the register", kept.draft.name))
        })?;
        Correct::open(of, kept, true, desk)
    }

    /// The form with values filled in and a reason given, for a person to
    /// look at.
    ///
    /// # Errors
    /// As [`Correct::again`].
    pub(super) fn with(
        of: RecordId,
        values: &[(String, String)],
        why: &str,
        desk: &Desk,
    ) -> Result<Self, Failure> {
        let of = desk
            .store
            .by_id(of)?
            .ok_or_else(|| Failure::not_found("that record has left the register"))?;
        let mut out = Correct::about(&of, desk)?;
        for (field, value) in values.iter().rev() {
            out.questions.mark_key(field);
            out.want(field, Some(Wanted::Set(value.clone())));
        }
        let kept = keep(&mut out.kept, "why", Some(why));
        out.questions.refused = out.questions.refused.take().or(kept.err());
        out.refresh();
        Ok(out)
    }

    /// The fields with their values as text.
    #[must_use]
    pub fn paths(&self) -> Vec<(String, String)> {
        let fields = self.fields.iter();
        fields.map(|f| (f.path.clone(), f.value.clone())).collect()
    }

    /// With a field marked and a word of what to do there.
    #[must_use]
    pub fn at(mut self, field: &str, said: String) -> Self {
        self.questions.mark_key(field);
        self.said = Some(said);
        self
    }

    fn open(of: Stored, kept: Kept, again: bool, desk: &Desk) -> Result<Self, Failure> {
        let fields = fields(desk.store, &of)?;
        let mut questions = Questions::new(field_questions(&fields));
        questions.lead = "";
        let mut reasons = Questions::new(reason_questions(desk));
        reasons.lead = "if empty, ";
        let mut out = Correct {
            stage: Stage::Fields,
            said: again.then(|| since(kept.draft.begun)),
            of,
            kept,
            fields,
            questions,
            reasons,
        };
        out.refresh();
        Ok(out)
    }

    /// Puts what the draft holds beside the questions.
    fn refresh(&mut self) {
        show(&mut self.reasons, &self.kept);
        for q in &mut self.questions.list {
            (q.answer, q.mark) = answered(&self.kept, &q.key);
        }
    }

    /// Wants something of a field, or nothing any more; kept before it shows.
    fn want(&mut self, path: &str, want: Option<Wanted>) {
        if let Some(field) = self.fields.iter().find(|f| f.path == path) {
            let seen = &mut self.kept.draft.seen;
            seen.entry(path.to_string())
                .or_insert_with(|| field.seen.clone());
        }
        for (key, _) in Wanted::keys(path) {
            self.kept.draft.answers.remove(&key);
        }
        let kept = match &want {
            Some(want) => keep(&mut self.kept, &want.key(path), Some(want.text())),
            None => keep(&mut self.kept, &Wanted::Confirm.key(path), None),
        };
        self.refresh();
        self.questions.refused = kept.err();
    }

    fn field_at(&self) -> Option<&EditField> {
        self.fields.get(self.questions.marked)
    }

    /// A value typed for a field; refused at once when it cannot be.
    fn answer(&mut self, at: usize, text: String) {
        let Some(field) = self.fields.get(at) else {
            return;
        };
        let path = field.path.clone();
        if text == field.value {
            self.questions.refused = Some(format!(
                "{text} is what the record says; c confirms it as it is"
            ));
            return;
        }
        match fits(&self.of, &path, &text) {
            Ok(()) => {
                self.questions.advance();
                self.want(&path, Some(Wanted::Set(text)));
            }
            Err(failure) => self.questions.refused = Some(one_line(&failure)),
        }
    }

    fn begin(&mut self) {
        let Some(field) = self.field_at() else { return };
        let text = match self.questions.marked().map(|q| &q.takes) {
            Some(Takes::Text) => field.value.clone(),
            _ => String::new(),
        };
        // Longer than a line can be typed: beginning with half of it would
        // record half of it.
        let whole = Field::of(&text).text() == text;
        self.questions.begin(if whole { &text } else { "" });
        if !whole {
            self.questions.refused =
                Some("the recorded value is longer than this line; type all of the new one, or use polecard edit".to_string());
        }
    }

    fn confirm(&mut self) {
        let Some(field) = self.field_at() else { return };
        let path = field.path.clone();
        if !field.confirmable {
            self.questions.refused = Some(
                "only plate values and settings that are on record are confirmed as they are"
                    .to_string(),
            );
            return;
        }
        let on = wanted(&self.kept, &path) == Some(Wanted::Confirm);
        self.want(&path, (!on).then_some(Wanted::Confirm));
    }

    fn erase(&mut self) {
        let Some(field) = self.field_at() else { return };
        let path = field.path.clone();
        if field.seen.is_null() {
            self.questions.refused = Some("there is no value to erase".to_string());
            return;
        }
        let on = wanted(&self.kept, &path) == Some(Wanted::Erase);
        self.want(&path, (!on).then_some(Wanted::Erase));
    }

    fn wanted(&self) -> Vec<(&EditField, Wanted)> {
        let fields = self.fields.iter();
        fields
            .filter_map(|f| Some((f, wanted(&self.kept, &f.path)?)))
            .collect()
    }

    fn leave(&mut self, desk: &Desk) -> Step {
        let done = super::keeping::none(&self.of, desk);
        let kept = std::mem::replace(&mut self.kept, done);
        let empty = kept.draft.answers.is_empty();
        leave(kept, empty)
    }

    fn in_fields(&mut self, id: Id, chord: Chord, desk: &Desk) -> Step {
        match self.questions.take(id, chord) {
            Did::Answer(at, text) => self.answer(at, text),
            Did::TakeBack(at) => {
                if let Some(field) = self.fields.get(at) {
                    let path = field.path.clone();
                    self.want(&path, None);
                }
            }
            Did::Yours(Id::TypeValue) => self.begin(),
            Did::Yours(Id::Confirm) => self.confirm(),
            Did::Yours(Id::EraseValue) => self.erase(),
            Did::Yours(Id::Reasons) => {
                if self.wanted().is_empty() {
                    return Step::Say("nothing is changed yet".to_string());
                }
                self.stage = Stage::Reasons;
                // What is always asked is open at once: letters are its text.
                if !self.kept.draft.answers.contains_key("why") {
                    self.reasons.mark_key("why");
                    self.reasons.begin("");
                }
            }
            Did::Yours(Id::Back) => return self.leave(desk),
            Did::Yours(_) | Did::Nothing => {}
        }
        Step::Stay
    }

    fn in_reasons(&mut self, id: Id, chord: Chord, desk: &Desk) -> Step {
        match self.reasons.take(id, chord) {
            Did::Answer(at, text) => {
                let key = self.reasons.list[at].key.clone();
                match settled_reason(&key, &text, desk.clock.today()) {
                    Ok(text) => {
                        let kept = keep(&mut self.kept, &key, Some(&text));
                        self.reasons.advance();
                        self.refresh();
                        self.reasons.refused = kept.err();
                    }
                    Err(why) => self.reasons.refused = Some(why),
                }
            }
            Did::TakeBack(at) => {
                let key = self.reasons.list[at].key.clone();
                self.reasons.field = None;
                self.reasons.refused = keep(&mut self.kept, &key, None).err();
                self.refresh();
            }
            Did::Yours(Id::Finish) => return self.write(desk),
            Did::Yours(Id::Back) => self.stage = Stage::Fields,
            Did::Yours(_) | Did::Nothing => {}
        }
        Step::Stay
    }

    /// Saves it, unless somebody changed one of the fields meanwhile.
    fn write(&mut self, desk: &Desk) -> Step {
        let found = match clashes(&self.of, &self.fields, &self.kept, desk) {
            Ok(found) => found,
            Err(failure) => return failure.into(),
        };
        if !found.is_empty() {
            self.stage = Stage::Conflict(found, 0);
            return Step::Stay;
        }
        let asked = match to_write(&self.fields, &self.kept, desk) {
            Ok(asked) => asked,
            Err((key, why)) => {
                self.reasons.mark_key(key);
                self.reasons.refused = Some(why);
                return Step::Stay;
            }
        };
        let id = self.of.record.id().to_string();
        let now = desk.clock.now();
        match desk.write(|store| edit(store, &id, &asked, desk.who, now)) {
            Ok(report) => {
                let kept = std::mem::replace(&mut self.kept, super::keeping::none(&self.of, desk));
                let said = match report.changes.len() {
                    0 => "the record says so already; nothing was written".to_string(),
                    1 => format!("written: {} of {}", report.changes[0].field, report.name),
                    n => format!("written: {n} fields of {}", report.name),
                };
                match kept.remove() {
                    Ok(()) => Step::CloseAndSay(said),
                    Err(why) => Step::CloseAndSay(format!("{said}; its draft stays: {why}")),
                }
            }
            Err(failure) => {
                if failure.message.contains("second person") {
                    self.reasons.mark_key("second");
                }
                self.reasons.refused = Some(one_line(&failure));
                Step::Stay
            }
        }
    }

    /// One clash decided: the record's value stays, or mine is written.
    fn decide(&mut self, mine: bool, desk: &Desk) -> Step {
        let Stage::Conflict(clashes, marked) = &mut self.stage else {
            return Step::Stay;
        };
        let clash = clashes.remove(*marked);
        *marked = 0;
        let done = clashes.is_empty();
        self.kept
            .draft
            .seen
            .insert(clash.path.clone(), clash.now.clone());
        if mine {
            self.reasons.refused = self.kept.save().err();
        } else {
            self.want(&clash.path, None);
        }
        if done {
            let fresh =
                record_at(self.of.rec, desk).and_then(|of| Ok((fields(desk.store, &of)?, of)));
            match fresh {
                Ok((fields, of)) => {
                    self.questions.replace(field_questions(&fields));
                    (self.fields, self.of) = (fields, of);
                }
                Err(failure) => return failure.into(),
            }
            self.refresh();
            self.stage = if self.wanted().is_empty() {
                Stage::Fields
            } else {
                Stage::Reasons
            };
        }
        Step::Stay
    }

    fn asking(&self) -> &Questions {
        match self.stage {
            Stage::Fields => &self.questions,
            _ => &self.reasons,
        }
    }

    fn asking_mut(&mut self) -> &mut Questions {
        match self.stage {
            Stage::Fields => &mut self.questions,
            _ => &mut self.reasons,
        }
    }

    /// What will be written, old and new.
    fn draw_wanted(&self, buffer: &mut Buffer, area: Rect, desk: &Desk) -> u16 {
        let wanted = self.wanted();
        let most = usize::from((area.height / 3).max(1));
        let mut y = 0;
        for (field, want) in wanted.iter().take(most) {
            let old = printed(field.seen.get("value").unwrap_or(&field.seen));
            let line = Line::of(Role::Label, format!("{}: ", field.label))
                .with(Role::Plain, format!("{old} "))
                .with(Role::Value, want.said());
            put(buffer, row(area, y), &margin(&line), desk.look);
            y += 1;
        }
        if wanted.len() > most {
            let more = format!("and {} more", wanted.len() - most);
            put(
                buffer,
                row(area, y),
                &margin(&Line::of(Role::Muted, more)),
                desk.look,
            );
            y += 1;
        }
        y
    }
}

impl Screen for Correct {
    fn place(&self) -> Place {
        match self.stage {
            Stage::Conflict(..) => Place::Conflict,
            _ if self.asking().typing() => Place::Answer,
            Stage::Fields => Place::Edit,
            Stage::Reasons => Place::Inspect,
        }
    }

    fn about(&self) -> About {
        let asking = self.asking();
        About {
            kind: Some(self.of.record.kind()),
            rows: asking.list.len().max(1),
            empty: asking.field.as_ref().is_none_or(Field::is_empty),
            ..About::default()
        }
    }

    fn run(&mut self, id: Id, chord: Chord, desk: &Desk) -> Step {
        self.said = None;
        match &mut self.stage {
            Stage::Fields => self.in_fields(id, chord, desk),
            Stage::Reasons => self.in_reasons(id, chord, desk),
            Stage::Conflict(clashes, marked) => {
                match id {
                    Id::Next => *marked = (*marked + 1).min(clashes.len() - 1),
                    Id::Previous => *marked = marked.saturating_sub(1),
                    Id::Theirs => return self.decide(false, desk),
                    Id::Mine => return self.decide(true, desk),
                    Id::Back => self.stage = Stage::Reasons,
                    _ => {}
                }
                Step::Stay
            }
        }
    }

    fn type_in(&mut self, c: char) {
        self.asking_mut().type_in(c);
    }

    fn paste(&mut self, text: &str) -> bool {
        self.asking_mut().paste(text)
    }

    fn note(&self) -> Line {
        note_of(self.asking(), self.said.as_deref())
    }

    fn draw(&mut self, buffer: &mut Buffer, area: Rect, desk: &Desk) -> Option<Position> {
        let title = Line::of(Role::Heading, "correct ")
            .with(Role::Code, self.of.record.name())
            .with(Role::Plain, format!("  {}", self.of.record.kind()));
        put(buffer, row(area, 0), &margin(&title), desk.look);
        let body = under_title(area);
        match &self.stage {
            Stage::Fields => self.questions.draw(buffer, body, desk),
            Stage::Reasons => {
                let used = self.draw_wanted(buffer, body, desk);
                let rest = Rect::new(body.x, body.y + used, body.width, body.height - used);
                self.reasons.draw(buffer, rest, desk)
            }
            Stage::Conflict(clashes, marked) => {
                let lines = super::changes::clash_lines(clashes, *marked, body.width);
                for (y, line) in (0..body.height).zip(&lines) {
                    put(buffer, row(body, y), &margin(line), desk.look);
                }
                None
            }
        }
    }
}
