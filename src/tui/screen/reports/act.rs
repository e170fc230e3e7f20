//! What can be done about a report, the same from a list and beside its record.

use std::cell::RefCell;
use std::rc::Rc;

use super::super::{Card, Desk, Screen, Step};
use super::ask::{Ask, Question};
use crate::domain::report::{Standing, ranges};
use crate::domain::who::Who;
use crate::present::reports::{decided_words, gist};
use crate::tui::command::Id;
use crate::work::Failure;
use crate::work::reports::{self as work, Choice, DecisionReport, ReportLine};
use crate::work::undo::undo;

/// Decides, and remembers the last operation, so that it can be taken back.
#[derive(Clone, Default)]
pub(super) struct Acting {
    last: Rc<RefCell<Option<String>>>,
}

/// Whether somebody else must confirm it first.
fn wants_second(failure: &Failure) -> bool {
    failure.message.contains("needs a second person")
}

impl Acting {
    /// Runs a command about one report.
    pub(super) fn about(&self, id: Id, line: &ReportLine, desk: &Desk) -> Step {
        match id {
            Id::ReportRecord => return card(line, desk),
            // What was just said to be taken back by this key comes first.
            Id::ReportTakeBack
                if line.state == Standing::Refused && self.last.borrow().is_none() =>
            {
                return Self::reopen(line.no, desk);
            }
            Id::ReportTakeBack => {
                let op = line.decision.as_ref().and_then(|d| d.operation.clone());
                let op = op.filter(|_| !line.state.is_open());
                if op.is_none() && !line.state.is_open() && self.last.borrow().is_none() {
                    return Step::Say(format!(
                        "report {} is {}, without an operation that could be taken back",
                        line.no, line.state
                    ));
                }
                return self.take_back(op, desk);
            }
            _ => {}
        }
        if !line.state.is_open() {
            return Step::Say(format!(
                "report {} is {}; b takes that back",
                line.no, line.state
            ));
        }
        match id {
            Id::ReportAccept if line.fields.is_empty() => self.close(line),
            Id::ReportAccept => self.accept(vec![line.no], desk),
            Id::ReportRefuse => {
                let what = format!("report {}, {}: {}", line.no, line.name(), gist(line));
                self.refuse(vec![line.no], &what)
            }
            Id::ReportAmend => self.amend(line),
            _ => Step::Stay,
        }
    }

    /// Takes reports in; asks for the second person where one is needed.
    pub(super) fn accept(&self, numbers: Vec<i64>, desk: &Desk) -> Step {
        match self.take_in(&numbers, &Choice::default(), desk) {
            Ok(said) => Step::Say(said),
            Err(failure) if wants_second(&failure) => {
                let acting = self.clone();
                let title = format!("accept reports {}", ranges(&numbers));
                let question = Question::second(&failure.message);
                Step::Open(Box::new(Ask::new(
                    title,
                    vec![question],
                    move |said, desk| {
                        let choice = Choice {
                            second: said.last().cloned(),
                            ..Choice::default()
                        };
                        acting.take_in(&numbers, &choice, desk)
                    },
                )))
            }
            Err(failure) => failure.into(),
        }
    }

    /// A note in words is closed with what was done about it.
    fn close(&self, line: &ReportLine) -> Step {
        let acting = self.clone();
        let numbers = vec![line.no];
        let title = format!("report {}, {}", line.no, line.name());
        let question = Question::new("what was done", "", gist(line));
        Step::Open(Box::new(Ask::new(
            title,
            vec![question],
            move |said, desk| {
                let choice = Choice {
                    why: said.first().cloned(),
                    ..Choice::default()
                };
                acting.take_in(&numbers, &choice, desk)
            },
        )))
    }

    fn take_in(&self, numbers: &[i64], choice: &Choice, desk: &Desk) -> Result<String, Failure> {
        let (who, now) = (Who::read(desk.who), desk.clock.now());
        let done = desk.write(|store| {
            let mut file = work::open_to_decide(store)?;
            work::accept(store, &mut file, numbers, choice, &who, now)
        })?;
        Ok(self.done(done))
    }

    fn done(&self, done: DecisionReport) -> String {
        let mut said = decided_words(&done);
        if let Some(left) = done.left.first() {
            said.push_str(&format!(" ({}: {})", left.no, left.why));
        }
        if done.operation.is_some() {
            said.push_str("; b takes it back");
            *self.last.borrow_mut() = done.operation;
        }
        said
    }

    /// Asks for the reason, then refuses.
    pub(super) fn refuse(&self, numbers: Vec<i64>, what: &str) -> Step {
        let title = format!(
            "refuse {}",
            if numbers.len() == 1 {
                "a report"
            } else {
                "reports"
            }
        );
        let question = Question::new("why", "", format!("{what}. Who filed it reads the reason."));
        let acting = self.clone();
        let ask = Ask::new(title, vec![question], move |said, desk| {
            let why = said.first().cloned().unwrap_or_default();
            let (who, now) = (Who::read(desk.who), desk.clock.now());
            let done = desk.write(|store| {
                let mut file = work::open_to_decide(store)?;
                work::refuse(store, &mut file, &numbers, &why, &who, now)
            })?;
            acting.last.borrow_mut().take();
            Ok(format!("{}; b takes it back", decided_words(&done)))
        });
        Step::Open(Box::new(ask))
    }

    /// Takes a refusal back.
    fn reopen(no: i64, desk: &Desk) -> Step {
        let (who, now) = (Who::read(desk.who), desk.clock.now());
        let done = desk.write(|store| {
            let mut file = work::open_to_decide(store)?;
            work::reopen(store, &mut file, &[no], "", &who, now)
        });
        match done {
            Ok(_) => Step::Say(format!(
                "the refusal is taken back; report {no} waits again"
            )),
            Err(failure) => failure.into(),
        }
    }

    /// Asks what to put on record in place of each proposed value.
    fn amend(&self, line: &ReportLine) -> Step {
        if line.fields.is_empty() {
            return Step::Say("a note has no value to amend; a closes it with words".into());
        }
        let questions = line.fields.iter().map(|f| {
            let about = format!(
                "{}: then {}, now {}, reported {}",
                f.field,
                crate::work::edit::printed(&f.seen),
                crate::work::edit::printed(&f.now),
                crate::work::edit::printed(&f.wanted)
            );
            let name = f.field.rsplit('.').next().unwrap_or(&f.field);
            Question::new(name, &f.typed, about)
        });
        let questions = questions.collect();
        let acting = self.clone();
        let (no, fields) = (line.no, line.fields.clone());
        let title = format!("amend report {no}, {}", line.name());
        let ask = Ask::new(title, questions, move |said, desk| {
            // The one answer behind those for the fields is the second person.
            let set = fields
                .iter()
                .zip(said)
                .map(|(f, value)| format!("{}={value}", f.field))
                .collect();
            let choice = Choice {
                set,
                second: said.get(fields.len()).cloned(),
                ..Choice::default()
            };
            let (who, now) = (Who::read(desk.who), desk.clock.now());
            let done = desk.write(|store| {
                let mut file = work::open_to_decide(store)?;
                work::amend(store, &mut file, no, &choice, &who, now)
            })?;
            Ok(acting.done(done))
        });
        Step::Open(Box::new(ask))
    }

    /// Takes back an operation, or the last one made here.
    pub(super) fn take_back(&self, operation: Option<String>, desk: &Desk) -> Step {
        let Some(operation) = operation.or_else(|| self.last.borrow().clone()) else {
            return Step::Say(
                "nothing was decided on this screen yet; s lists what was decided before".into(),
            );
        };
        let now = desk.clock.now();
        let done = desk.write(|store| undo(store, Some(&operation), None, desk.who, now));
        match done {
            Ok(done) => {
                self.last.borrow_mut().take();
                Step::Say(format!(
                    "undone, {} changes; the reports wait again: {}",
                    done.changes, done.undone_why
                ))
            }
            Err(failure) => failure.into(),
        }
    }
}

fn card(line: &ReportLine, desk: &Desk) -> Step {
    let Some(rec) = line.rec else {
        return Step::Say(format!("{} is not on record", line.name()));
    };
    match Card::read(rec, desk) {
        Ok(card) => Step::Open(Box::new(card) as Box<dyn Screen>),
        Err(failure) => failure.into(),
    }
}

pub(super) fn second_is_wanted(failure: &Failure) -> bool {
    wants_second(failure)
}
