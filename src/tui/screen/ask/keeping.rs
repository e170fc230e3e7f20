//! The draft under a form on a screen: each answer is on the disk before the
//! screen says so.

use super::{Mark, Questions};
use crate::calendar::Moment;
use crate::domain::asset::Record;
use crate::exchange::{Draft, FormKind, Kept, waiting};
use crate::present::Line;
use crate::role::Role;
use crate::store::{Stored, fresh_id};
use crate::tui::screen::{Desk, Step};

const NOT_SAVED: &str = "not saved";

/// A draft about a record, not yet on the disk.
pub(super) fn fresh(form: FormKind, about: &Stored, desk: &Desk) -> Kept {
    let record: &Record = &about.record;
    let now = desk.clock.now();
    let draft = Draft::new(
        form,
        desk.store.path(),
        (record.id(), record.kind(), record.name()),
        (desk.who, now),
    );
    Kept::fresh(draft, desk.drafts, fresh_id(now))
}

/// The form of that kind under way about a record, or a new one; whether it
/// was under way.
pub(super) fn under_way(form: FormKind, about: &Stored, desk: &Desk) -> (Kept, bool) {
    let id = about.record.id();
    let found = waiting(desk.drafts, desk.store.path())
        .forms
        .into_iter()
        .find(|k| k.draft.form == form && k.draft.record == id);
    match found {
        Some(kept) => (kept, true),
        None => (fresh(form, about, desk), false),
    }
}

/// Keeps an answer, or takes it back (`None`); says in `refused` when it is
/// not on the disk.
pub(super) fn keep(kept: &mut Kept, key: &str, answer: Option<&str>) -> Result<(), String> {
    match answer {
        Some(answer) => kept
            .draft
            .answers
            .insert(key.to_string(), answer.to_string()),
        None => kept.draft.answers.remove(key),
    };
    kept.save()
        .map_err(|why| format!("{NOT_SAVED}: {why}; what is typed stays on this screen only"))
}

/// Puts the answers of the draft, and whether they are on the disk, beside the
/// questions.
pub(super) fn show(questions: &mut Questions, kept: &Kept) {
    for q in &mut questions.list {
        q.answer = kept.draft.answers.get(&q.key).cloned();
        q.mark = mark_of(kept, &q.key, q.answer.as_deref());
    }
}

/// Whether an answer is on the disk. What the file held before a write that
/// failed, it still holds.
pub(super) fn mark_of(kept: &Kept, key: &str, answer: Option<&str>) -> Mark {
    match answer {
        None => Mark::None,
        Some(answer) if kept.holds(key, answer) => Mark::Saved,
        Some(_) => Mark::NotSaved,
    }
}

/// A form without a file, in the place of one that is done.
pub(super) fn none(about: &Stored, desk: &Desk) -> Kept {
    let mut kept = fresh(FormKind::Correction, about, desk);
    kept.forget();
    kept
}

/// What the status line says of a form: what was refused or not saved, else
/// what there is to say.
pub(super) fn note_of(questions: &Questions, said: Option<&str>) -> Line {
    match (&questions.refused, said) {
        (Some(why), _) => match why.strip_prefix(NOT_SAVED) {
            Some(why) => Line::of(Role::Fails, "NOT SAVED").with(Role::Plain, why),
            None => Line::of(Role::Fails, "refused").with(Role::Plain, format!(": {why}")),
        },
        (None, Some(said)) => Line::of(Role::Look, said),
        (None, None) => Line::new(),
    }
}

/// Leaves a form: one in which nothing was answered (`empty`) is not kept.
pub(super) fn leave(kept: Kept, empty: bool) -> Step {
    if empty && let Err(why) = kept.remove() {
        return Step::CloseAndSay(why);
    }
    Step::Close
}

/// Since when a form has been under way.
pub(super) fn since(begun: Moment) -> String {
    format!("taken up again; begun {}", begun.spoken())
}
