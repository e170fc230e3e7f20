//! The forms under way that wait for somebody to take them up again.

use ratatui::buffer::Buffer;
use ratatui::layout::{Position, Rect};

use super::{Correct, Inspect, Replaced};
use crate::exchange::{Draft, FormKind, Kept, Waiting, waiting};
use crate::keys::Chord;
use crate::present::Line;
use crate::role::Role;
use crate::tui::command::{About, Id, Place};
use crate::tui::screen::listing::{Listing, Taken};
use crate::tui::screen::{Desk, Screen, Step};
use crate::tui::widget::Row;

/// What the first screen says when forms wait or were damaged; none when all
/// is done.
#[must_use]
pub fn greeting(found: &Waiting) -> Option<String> {
    let mut out = Vec::new();
    match found.forms.as_slice() {
        [] => {}
        [one] => out.push(format!(
            "{} is not finished: enter, then unfinished forms, takes it up again.",
            named(&one.draft)
        )),
        several => out.push(format!(
            "{} forms are not finished: enter, then unfinished forms, lists them.",
            several.len()
        )),
    }
    out.extend(damaged(found));
    (!out.is_empty()).then(|| out.join(" "))
}

fn damaged(found: &Waiting) -> Option<String> {
    (!found.damaged.is_empty()).then(|| {
        format!(
            "Damaged and set aside in the drafts folder: {}.",
            found.damaged.join(", ")
        )
    })
}

fn named(draft: &Draft) -> String {
    format!("{} of {}", draft.form.word(), draft.name)
}

/// The list of forms under way.
pub struct Unfinished {
    listing: Listing,
    found: Waiting,
    /// The form that is thrown away when the key comes again.
    doomed: Option<usize>,
}

impl Unfinished {
    #[must_use]
    pub fn read(desk: &Desk) -> Self {
        let found = waiting(desk.drafts, desk.store.path());
        let mut none = "No form is unfinished.".to_string();
        for said in damaged(&found).into_iter().chain(found.trouble.clone()) {
            none = format!("{none} {said}");
        }
        Unfinished {
            listing: Listing::new(Line::of(Role::Heading, "unfinished forms"), &none),
            found,
            doomed: None,
        }
    }

    fn open(&mut self, desk: &Desk) -> Step {
        let at = self.listing.marked();
        if at >= self.found.forms.len() {
            return Step::Say("another session of yours has that form open".to_string());
        }
        let kept = self.found.forms.remove(at);
        let opened = match kept.draft.form {
            FormKind::Inspection => {
                Inspect::again(kept, desk).map(|s| Box::new(s) as Box<dyn Screen>)
            }
            FormKind::Link => Replaced::again(kept, desk).map(|s| Box::new(s) as _),
            FormKind::Correction => Correct::again(kept, desk).map(|s| Box::new(s) as _),
        };
        match opened {
            Ok(screen) => Step::Instead(screen),
            Err(failure) => {
                *self = Unfinished::read(desk);
                failure.into()
            }
        }
    }

    /// Asks first; the same key again throws the form away.
    fn discard(&mut self, desk: &Desk) -> Step {
        let at = self.listing.marked();
        let Some(kept) = self.found.forms.get(at) else {
            return Step::Say("another session of yours has that form open".to_string());
        };
        if self.doomed != Some(at) {
            let draft = &kept.draft;
            self.doomed = Some(at);
            return Step::Say(format!(
                "x again discards the {} with its {}; any other key keeps it",
                named(draft),
                answers(draft)
            ));
        }
        let gone = self.found.forms.remove(at).remove();
        *self = Unfinished::read(desk);
        match gone {
            Ok(()) => Step::Say("discarded".to_string()),
            Err(why) => Step::Say(format!("not discarded: {why}")),
        }
    }
}

fn answers(draft: &Draft) -> String {
    match draft.answers.len() {
        1 => "1 answer".to_string(),
        n => format!("{n} answers"),
    }
}

fn list(found: &Waiting, listing: &Listing) -> Vec<Row> {
    let row = |draft: &Draft, elsewhere: bool| {
        let mut line = Line::of(Role::Plain, format!("{:<14}", draft.name)).with(
            Role::Plain,
            format!(
                "{}, {}, begun {}",
                draft.form.word(),
                answers(draft),
                draft.begun.spoken()
            ),
        );
        if elsewhere {
            line.push(Role::Look, "  OPEN in another session");
        }
        line
    };
    let forms = found.forms.iter().map(|k: &Kept| row(&k.draft, false));
    let elsewhere = found.elsewhere.iter().map(|d| row(d, true));
    forms
        .chain(elsewhere)
        .flat_map(|line| listing.entry(line))
        .collect()
}

impl Screen for Unfinished {
    fn place(&self) -> Place {
        Place::Unfinished
    }

    fn about(&self) -> About {
        About {
            rows: self.found.forms.len() + self.found.elsewhere.len(),
            ..About::default()
        }
    }

    fn run(&mut self, id: Id, chord: Chord, desk: &Desk) -> Step {
        if id != Id::Discard {
            self.doomed = None;
        }
        let rows = list(&self.found, &self.listing);
        match self.listing.take(id, chord, &rows) {
            Taken::Done(step) => step,
            Taken::Yours(Id::Open) => self.open(desk),
            Taken::Yours(Id::Discard) => self.discard(desk),
            Taken::Yours(_) => Step::Stay,
        }
    }

    fn draw(&mut self, buffer: &mut Buffer, area: Rect, desk: &Desk) -> Option<Position> {
        let found = &self.found;
        self.listing
            .draw(buffer, area, desk, |listing| list(found, listing));
        None
    }
}
