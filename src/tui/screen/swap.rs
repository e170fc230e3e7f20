//! A unit swapped, step by step: which one leaves, which one comes, where the
//! old one goes, why; then everything is looked over before it is written.

use ratatui::buffer::Buffer;
use ratatui::layout::{Position, Rect};

use super::choice::{Choosing, Chosen};
use super::{Desk, Screen, Step, one_line};
use crate::calendar::Date;
use crate::domain::asset::{Kind, Record, Rel, STORES};
use crate::domain::who::Who;
use crate::keys::Chord;
use crate::present::{Line, Style, swap::lines};
use crate::role::Role;
use crate::store::Stored;
use crate::tui::command::{About, Id, Place};
use crate::work::facts::pointing_at;
use crate::work::related::position_of;
use crate::work::swap::{Asked, SwapReport, plan, swap};
use crate::work::undo;
use crate::work::{Failure, also_of, resolve_among};

#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum At {
    Slot,
    Into,
    Moved,
    Where,
    Day,
    Why,
    Second,
    Review,
    Done,
}

/// A slot and the unit recorded in it.
struct InSlot {
    slot: Option<String>,
    unit: Option<String>,
}

/// The steps of one swap.
pub struct Swap {
    name: String,
    slots: Vec<InSlot>,
    asked: Asked,
    /// The second identifier of the unit that comes.
    also: String,
    at: At,
    choosing: Choosing,
    planned: Option<SwapReport>,
}

impl Swap {
    /// At a position, or at the one where a unit is.
    ///
    /// # Errors
    /// When the record is neither, or the unit stands at no one position.
    pub fn about(record: &Stored, desk: &Desk) -> Result<Self, Failure> {
        let stored = position_of(desk.store, record).map_err(|f| match &record.record {
            Record::Unit(_) => f,
            other => Failure::usage(format!(
                "{} is {}; a unit is swapped at a position: o lists them",
                other.name(),
                crate::domain::asset::an(other.kind())
            )),
        })?;
        let mut slots = in_slots(&stored, desk)?;
        if let Record::Unit(u) = &record.record {
            slots.retain(|s| s.unit.as_deref() == Some(u.unit.as_str()));
        }
        let mut out = Swap {
            name: stored.record.name(),
            slots,
            asked: Asked::default(),
            also: String::new(),
            at: At::Slot,
            choosing: Choosing::default(),
            planned: None,
        };
        if out.slots.len() == 1 {
            out.take_slot(0);
            out.go(At::Into, desk);
        } else {
            out.go(At::Slot, desk);
        }
        Ok(out)
    }

    fn take_slot(&mut self, n: usize) {
        let Some(slot) = self.slots.get(n) else {
            return;
        };
        self.asked.place = match &slot.slot {
            Some(s) => format!("{}:{s}", self.name),
            None => self.name.clone(),
        };
        self.asked.out.clone_from(&slot.unit);
    }

    fn go(&mut self, at: At, desk: &Desk) {
        self.at = at;
        let owned = |options: &[&str]| options.iter().map(ToString::to_string).collect();
        self.choosing = match at {
            At::Slot => Choosing::among(self.slots.iter().map(words).collect()),
            At::Into => {
                Choosing::typing(" unit put in > ", self.asked.into.as_deref().unwrap_or(""))
            }
            At::Moved => Choosing::among(owned(&[
                "it was taken from there the same day",
                "no: name another unit",
            ])),
            At::Where => Choosing::among(owned(STORES)),
            At::Day => {
                let day = self.asked.on.unwrap_or_else(|| desk.clock.today());
                Choosing::typing(" day of the swap > ", &day.to_string())
            }
            At::Why => Choosing::typing(" why > ", &self.asked.why),
            At::Second => Choosing::typing(
                " second person > ",
                self.asked.second.as_deref().unwrap_or(""),
            ),
            At::Review => Choosing::among(owned(&["write it down", "not yet: back to the reason"])),
            At::Done => Choosing::among(owned(&["done", "take it back"])),
        };
    }

    fn back(&mut self, desk: &Desk) -> Step {
        let before = match self.at {
            At::Slot | At::Done => return Step::Close,
            At::Into if self.slots.len() < 2 => return Step::Close,
            At::Into => At::Slot,
            At::Moved | At::Where => At::Into,
            At::Day if self.asked.out.is_none() => At::Into,
            At::Day => At::Where,
            At::Why => At::Day,
            At::Second => At::Why,
            At::Review if self.unfit().is_some() => At::Second,
            At::Review => At::Why,
        };
        self.go(before, desk);
        Step::Stay
    }

    fn choose(&mut self, n: usize, desk: &Desk) -> Step {
        match (self.at, n) {
            (At::Slot, n) => {
                self.take_slot(n);
                self.go(At::Into, desk);
            }
            (At::Moved, 0) => {
                self.asked.moved = true;
                self.after_into(desk);
            }
            (At::Moved, _) => self.go(At::Into, desk),
            (At::Where, n) => {
                self.asked.to = STORES.get(n).map(ToString::to_string);
                self.go(At::Day, desk);
            }
            (At::Review, 0) => return self.write(desk),
            (At::Review, _) => self.go(At::Why, desk),
            (At::Done, 1) => return self.take_back(desk),
            (At::Done, _) => return Step::Close,
            _ => {}
        }
        Step::Stay
    }

    fn after_into(&mut self, desk: &Desk) {
        let next = if self.asked.out.is_some() {
            At::Where
        } else {
            At::Day
        };
        self.go(next, desk);
    }

    fn typed(&mut self, text: String, desk: &Desk) -> Step {
        match self.at {
            At::Into => self.take_into(&text, desk),
            At::Day => match text.parse::<Date>() {
                Ok(day) if day > desk.clock.today() => {
                    Step::Say(format!("{} lies in the future", day.spoken()))
                }
                Ok(day) => {
                    self.asked.on = Some(day).filter(|d| *d != desk.clock.today());
                    self.go(At::Why, desk);
                    Step::Stay
                }
                Err(e) => Step::Say(e.to_string()),
            },
            At::Why => {
                self.asked.why = text;
                match plan(desk.store, &self.asked, desk.clock.now()) {
                    Ok(planned) => {
                        self.planned = Some(planned.report);
                        self.asked.second = None;
                        let unfit = self.unfit().is_some();
                        self.go(if unfit { At::Second } else { At::Review }, desk);
                        Step::Stay
                    }
                    Err(failure) => failure.into(),
                }
            }
            At::Second => {
                if text.is_empty() || Who::read(desk.who).is(&text) {
                    let who = desk.who;
                    return Step::Say(format!("the second person is somebody other than {who}"));
                }
                self.asked.second = Some(text);
                self.go(At::Review, desk);
                Step::Stay
            }
            _ => Step::Stay,
        }
    }

    /// Why what comes does not fit, when it does not.
    fn unfit(&self) -> Option<&String> {
        self.planned.as_ref()?.needs_second.as_ref()
    }

    /// The unit that comes, by any of its names; none when nothing is typed.
    fn take_into(&mut self, text: &str, desk: &Desk) -> Step {
        self.asked.moved = false;
        self.also.clear();
        if text.is_empty() {
            if self.asked.out.is_none() {
                return Step::Say("no unit is there; name the one that is put in".to_string());
            }
            self.asked.into = None;
            self.after_into(desk);
            return Step::Stay;
        }
        let found = match resolve_among(desk.store, text, &[Kind::Unit]) {
            Ok(found) => found.stored,
            Err(failure) => return Step::Say(one_line(&failure)),
        };
        let Record::Unit(u) = &found.record else {
            return Step::Stay;
        };
        self.asked.into = Some(u.unit.clone());
        let serial = u.nameplate.text("serial").map(|s| format!("serial {s}"));
        let second = also_of(desk.store, &found)
            .map(|a| a.words())
            .unwrap_or_default();
        let parts: Vec<String> = [Some(second), serial].into_iter().flatten().collect();
        self.also = parts.join(", ");
        if u.present().any(|d| !d.is_store()) {
            self.go(At::Moved, desk);
        } else {
            self.after_into(desk);
        }
        Step::Stay
    }

    fn write(&mut self, desk: &Desk) -> Step {
        let done = desk.write(|store| swap(store, &self.asked, desk.who, desk.clock.now()));
        match done {
            Ok(report) => {
                self.planned = Some(report);
                self.go(At::Done, desk);
                Step::Say("written down as one operation; 2 or t takes it back".to_string())
            }
            Err(failure) => failure.into(),
        }
    }

    fn take_back(&mut self, desk: &Desk) -> Step {
        let Some(operation) = self.planned.as_ref().and_then(|p| p.operation.clone()) else {
            return Step::Say("nothing is written yet".to_string());
        };
        let asked = undo::Asked {
            which: Some(operation),
            ..undo::Asked::default()
        };
        match desk.write(|store| undo::undo_with(store, &asked, desk.who, desk.clock.now())) {
            Ok(_) => Step::CloseAndSay(format!(
                "taken back: the units are where they were before, {}",
                self.name
            )),
            Err(failure) => failure.into(),
        }
    }

    /// What stands over the choice.
    fn text(&self, style: Style) -> Vec<Line> {
        let plain = |text: String| Line::of(Role::Plain, text);
        let said: Vec<Line> = match (self.at, &self.planned) {
            (At::Review | At::Done, Some(planned)) => return lines(planned, style),
            (At::Second, _) => vec![
                self.leaves(),
                self.comes(),
                Line::of(Role::Stop, "STOP ").with(
                    Role::Plain,
                    self.unfit().map_or("", String::as_str),
                ),
                plain("It does not fit. Let somebody else read the plate and the place too, and name them (recorded as declared); Backspace goes back.".to_string()),
            ],
            (At::Slot, _) => vec![plain("Which one is taken out?".to_string())],
            (At::Into, _) => vec![
                self.leaves(),
                plain(
                    match self.asked.out {
                        Some(_) => "Type the number of the unit put in; nothing where none is.",
                        None => "Type the number of the unit put in.",
                    }
                    .to_string(),
                ),
            ],
            (At::Moved, _) => vec![
                plain("It is recorded at another position.".to_string()),
                self.comes(),
            ],
            (At::Where, _) => vec![
                plain(format!(
                    "Where does {} go?",
                    self.asked.out.as_deref().unwrap_or("it")
                )),
                self.leaves(),
                self.comes(),
            ],
            _ => vec![self.leaves(), self.comes()],
        };
        let width = style.width.saturating_sub(2);
        said.iter()
            .flat_map(|l| l.folded(width, 2))
            .map(|l| super::text::margin(&l))
            .collect()
    }

    fn leaves(&self) -> Line {
        let out = Line::of(Role::Label, "out ");
        match &self.asked.out {
            Some(unit) => {
                let to = self.asked.to.as_ref();
                let to = to.map_or(String::new(), |t| format!(", goes to: {t}"));
                out.with(Role::Code, unit).with(Role::Plain, to)
            }
            None => out.with(Role::Plain, "none is recorded there"),
        }
    }

    fn comes(&self) -> Line {
        let line = Line::of(Role::Label, "in ");
        match &self.asked.into {
            Some(unit) => line
                .with(Role::Code, unit)
                .with(Role::Plain, format!("  {}", self.also)),
            None => line.with(Role::Plain, "none"),
        }
    }
}

fn words(s: &InSlot) -> String {
    let unit = s.unit.as_deref().unwrap_or("no unit recorded");
    match &s.slot {
        Some(slot) => format!("slot {slot}: {unit}"),
        None => unit.to_string(),
    }
}

/// Units recorded here, and slots without one.
fn in_slots(stored: &Stored, desk: &Desk) -> Result<Vec<InSlot>, Failure> {
    let Record::Position(p) = &stored.record else {
        return Ok(Vec::new());
    };
    let mut out = Vec::new();
    let names: Vec<String> = stored.record.names().into_iter().map(|n| n.text).collect();
    for unit in pointing_at(desk.store, Rel::DeployedAt, stored)? {
        let Record::Unit(u) = &unit.record else {
            continue;
        };
        let here = u.present().filter(|d| names.contains(&d.at));
        out.extend(here.map(|d| InSlot {
            slot: d.slot.clone().filter(|s| p.slot_names().contains(s)),
            unit: Some(u.unit.clone()),
        }));
    }
    let empty: Vec<InSlot> = p
        .slots
        .iter()
        .filter(|s| {
            !out.iter()
                .any(|o| o.slot.as_ref() == Some(*s) || o.slot.is_none())
        })
        .map(|s| InSlot {
            slot: Some(s.clone()),
            unit: None,
        })
        .collect();
    out.extend(empty);
    if out.is_empty() {
        out.push(InSlot {
            slot: None,
            unit: None,
        });
    }
    out.sort_by(|a, b| a.slot.cmp(&b.slot));
    Ok(out)
}

impl Screen for Swap {
    fn place(&self) -> Place {
        if self.choosing.types() {
            Place::Answer
        } else {
            Place::Choice
        }
    }

    fn about(&self) -> About {
        About {
            rows: self.choosing.count(),
            empty: self.choosing.is_empty(),
            ..About::default()
        }
    }

    fn run(&mut self, id: Id, chord: Chord, desk: &Desk) -> Step {
        match id {
            Id::FindAnew => return Step::FindAnew,
            Id::TakeBack => return self.take_back(desk),
            _ => {}
        }
        match self.choosing.take(id, chord) {
            Chosen::Nothing => Step::Stay,
            Chosen::Option(n) => self.choose(n, desk),
            Chosen::Typed(text) => self.typed(text, desk),
            Chosen::Back => self.back(desk),
        }
    }

    fn type_in(&mut self, c: char) {
        self.choosing.type_in(c);
    }

    fn paste(&mut self, text: &str) -> bool {
        self.choosing.paste(text)
    }

    fn note(&self) -> Line {
        self.choosing.note()
    }

    fn draw(&mut self, buffer: &mut Buffer, area: Rect, desk: &Desk) -> Option<Position> {
        let title = Line::of(Role::Heading, "swap a unit at ").with(Role::Code, &self.name);
        let text = self.text(Style {
            width: usize::from(area.width.saturating_sub(1)),
            ascii: desk.look.ascii,
        });
        self.choosing.draw(buffer, area, desk, (&title, &text))
    }
}
