//! Times at a fault: the table first, then the curves, and beside or below
//! them which device clears first. The fault current is typed here.

use ratatui::buffer::Buffer;
use ratatui::layout::{Position as Caret, Rect};

use super::measure::{caret_after, prompt_line};
use super::text::{inset, note};
use super::{Desk, Screen, Step, one_line};
use crate::domain::asset::{FaultKind, Kind, Record};
use crate::exchange;
use crate::keys::{Chord, Key};
use crate::present::{self, Line, Style};
use crate::role::Role;
use crate::store::Stored;
use crate::tui::command::{About, Id, Place};
use crate::tui::widget::{Field, Scroll, put, row};
use crate::units::{Amps, QuantityError};
use crate::work::Failure;
use crate::work::related::position_of;
use crate::work::times::{TimesReport, Typed, times_of};

/// From this width on the questions stand beside the curves.
const BESIDE: usize = 76;

/// What is being typed.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Ask {
    Fault,
    Minimum,
    File,
}

impl Ask {
    const fn prompt(self) -> &'static str {
        match self {
            Ask::Fault => " fault current, A > ",
            Ask::Minimum => " min. fault, A > ",
            Ask::File => " SVG file > ",
        }
    }
}

/// The times of one position.
pub struct Times {
    position: Stored,
    typed: Typed,
    report: TimesReport,
    asking: Option<(Ask, Field)>,
    refused: Option<String>,
    scroll: Scroll,
    worked_at: String,
}

impl Times {
    /// The times of a position, or of the position where a unit is. Where no
    /// fault current is on record, it is asked for at once.
    ///
    /// # Errors
    /// When the record is neither, or the unit stands at no one position.
    pub fn about(record: &Stored, desk: &Desk) -> Result<Self, Failure> {
        let position = position_of(desk.store, record)?;
        let typed = Typed::default();
        let report = times_of(desk.store, &position, typed, (desk.clock.today(), None))?;
        let asking = report
            .fault_amps
            .is_none()
            .then(|| (Ask::Fault, Field::default()));
        Ok(Times {
            position,
            typed,
            report,
            asking,
            refused: None,
            scroll: Scroll::default(),
            worked_at: desk.clock.now().hour_minute(),
        })
    }

    fn work_out(&mut self, typed: Typed, desk: &Desk) -> Step {
        match times_of(
            desk.store,
            &self.position,
            typed,
            (desk.clock.today(), None),
        ) {
            Ok(report) => {
                self.report = report;
                self.typed = typed;
                self.worked_at = desk.clock.now().hour_minute();
                self.refused = None;
                self.asking = None;
                Step::Stay
            }
            Err(failure) => failure.into(),
        }
    }

    fn ask(&mut self, ask: Ask, text: &str) {
        self.refused = None;
        self.asking = Some((ask, Field::of(text)));
    }

    fn keep(&mut self, desk: &Desk) -> Step {
        let Some((ask, field)) = &self.asking else {
            return Step::Stay;
        };
        let text = field.text().trim().to_string();
        if *ask == Ask::File {
            return self.save(&text);
        }
        let amps = match current(&text) {
            Ok(amps) => amps,
            Err(why) => {
                self.refused = Some(why.to_string());
                return Step::Stay;
            }
        };
        let typed = match ask {
            Ask::Fault => Typed {
                fault: amps,
                ..self.typed
            },
            _ => Typed {
                min_fault: amps,
                ..self.typed
            },
        };
        self.work_out(typed, desk)
    }

    fn save(&mut self, file: &str) -> Step {
        if file.is_empty() {
            self.asking = None;
            return Step::Say("nothing was written".to_string());
        }
        let path = std::path::Path::new(file);
        match exchange::write_new(path, &present::plot::svg(&self.report)) {
            Ok(()) => {
                self.asking = None;
                self.refused = None;
                let whole = std::path::absolute(path).unwrap_or_else(|_| path.to_path_buf());
                Step::Say(format!("curves written to {}", whole.display()))
            }
            Err(e) => {
                self.refused = Some(one_line(&e.into()));
                Step::Stay
            }
        }
    }

    fn type_number(&mut self, chord: Chord) {
        self.ask(Ask::Fault, "");
        if let Key::Char(c) = chord.key {
            self.type_in(c);
        }
    }

    fn move_or_close(&mut self, id: Id) -> Step {
        match id {
            Id::Back => return Step::Close,
            Id::FindAnew => return Step::FindAnew,
            Id::HalfDown => self.scroll.down(),
            Id::HalfUp => self.scroll.up(),
            Id::Top => self.scroll.to_top(),
            Id::End => self.scroll.to_end(),
            _ => {}
        }
        Step::Stay
    }

    /// Takes a command while something is typed.
    fn run_typing(&mut self, id: Id, desk: &Desk) -> Step {
        let Some((_, field)) = &mut self.asking else {
            return Step::Stay;
        };
        self.refused = None;
        match id {
            Id::Keep => return self.keep(desk),
            Id::Erase if field.erase() => {}
            Id::Erase | Id::Back => self.asking = None,
            Id::ClearLine => field.clear(),
            Id::ClearWord => field.erase_word(),
            _ => {}
        }
        Step::Stay
    }

    fn lines(&self, width: u16, ascii: bool) -> Vec<Line> {
        let style = Style {
            width: usize::from(width.saturating_sub(1)),
            ascii,
        };
        inset(present::times::with_plot(&self.report, style, BESIDE))
    }
}

/// Amperes; nothing typed is none.
fn current(text: &str) -> Result<Option<Amps>, QuantityError> {
    if text.is_empty() {
        return Ok(None);
    }
    text.parse().map(Some)
}

/// The next kind; after the last one again what is on record.
fn next_kind(kind: Option<FaultKind>) -> Option<FaultKind> {
    let Some(kind) = kind else {
        return FaultKind::ALL.first().copied();
    };
    let at = FaultKind::ALL.iter().position(|k| *k == kind)?;
    let next = FaultKind::ALL.get(at + 1).copied();
    next.filter(|k| *k != FaultKind::Unknown)
}

fn figure(amps: Option<Amps>) -> String {
    amps.map(|a| crate::units::figure(a.get()).replace(',', ""))
        .unwrap_or_default()
}

impl Screen for Times {
    fn place(&self) -> Place {
        if self.asking.is_some() {
            Place::Answer
        } else {
            Place::Times
        }
    }

    fn about(&self) -> About {
        About {
            kind: Some(Kind::Position),
            empty: self.asking.as_ref().is_none_or(|(_, f)| f.is_empty()),
            ..About::default()
        }
    }

    fn run(&mut self, id: Id, chord: Chord, desk: &Desk) -> Step {
        if self.asking.is_some() {
            return self.run_typing(id, desk);
        }
        match id {
            Id::TimesFault => self.ask(Ask::Fault, &figure(self.typed.fault)),
            Id::TimesMinimum => self.ask(Ask::Minimum, &figure(self.typed.min_fault)),
            Id::TimesKind => {
                let kind = next_kind(self.typed.kind);
                return self.work_out(Typed { kind, ..self.typed }, desk);
            }
            Id::SaveCurves if self.report.curves.is_empty() => {
                return Step::Say("no curve is known here: there is nothing to save".to_string());
            }
            Id::SaveCurves => {
                let stem = format!("{}-times", self.report.name);
                let free = exchange::free_name(&stem, "svg");
                self.ask(Ask::File, &free.display().to_string());
            }
            Id::FieldDigit => self.type_number(chord),
            other => return self.move_or_close(other),
        }
        Step::Stay
    }

    fn type_in(&mut self, c: char) {
        if let Some((_, field)) = &mut self.asking {
            field.type_in(c);
            self.refused = None;
        }
    }

    fn paste(&mut self, text: &str) -> bool {
        match &mut self.asking {
            Some((_, field)) => {
                field.paste(text);
                true
            }
            None => false,
        }
    }

    fn note(&self) -> Line {
        match (&self.refused, &self.position.record) {
            (Some(why), _) => {
                Line::of(Role::Fails, "refused").with(Role::Plain, format!(": {why}"))
            }
            (None, Record::Position(p)) if self.asking.is_some() => {
                let recorded = p.available_fault.as_ref();
                let said = recorded.map_or("no fault current is on record".to_string(), |s| {
                    format!("on record: {} {}", s.amps, s.kind)
                });
                Line::of(Role::Muted, said)
            }
            _ => note(&format!("worked out at {}", self.worked_at), self.scroll),
        }
    }

    fn draw(&mut self, buffer: &mut Buffer, area: Rect, desk: &Desk) -> Option<Caret> {
        let lines = self.lines(area.width, desk.look.ascii);
        let below = u16::from(self.asking.is_some());
        let body = Rect::new(
            area.x,
            area.y,
            area.width,
            area.height.saturating_sub(below),
        );
        self.scroll.draw(buffer, body, &lines, desk.look);
        let (ask, field) = self.asking.as_ref()?;
        let prompt = Rect::new(area.x, area.bottom().saturating_sub(1), area.width, 1);
        let line = prompt_line(ask.prompt(), field.text(), area.width, desk);
        put(buffer, row(prompt, 0), &line, desk.look);
        caret_after(prompt, ask.prompt(), field.text())
    }
}
