//! What an entry concludes, right after it was written: its cautions, and on
//! one key each what follows from it.

use ratatui::buffer::Buffer;
use ratatui::layout::{Position, Rect};

use super::correct::Correct;
use crate::domain::asset::{Priority, RecordId};
use crate::domain::finding::Severity;
use crate::domain::form::CLEARING;
use crate::keys::Chord;
use crate::present::Line;
use crate::present::written::log_lines;
use crate::role::Role;
use crate::store::Stored;
use crate::tui::command::{About, Id, Place};
use crate::tui::screen::measure::{caret_after, prompt_line};
use crate::tui::screen::text::{inset, note};
use crate::tui::screen::{Desk, Screen, Step, one_line};
use crate::tui::widget::{Field, Scroll, put};
use crate::work::log::{Asked, LogReport, StillStands, log};
use crate::work::orders::{NewOrder, open_order};

/// A correction that the entry calls for: of which record, which fields, what.
pub(super) struct Proposed {
    pub of: RecordId,
    /// Each with the value to type.
    pub fields: Vec<(String, String)>,
    /// In words.
    pub because: String,
}

/// An order that the entry calls for.
struct Order {
    /// Permanent ids of the record and of the entry about it.
    about: String,
    entry: String,
    need: String,
    priority: Priority,
    /// What became of it.
    made: Option<String>,
}

/// The screen after an entry was written.
pub struct Concluded {
    of: Stored,
    report: LogReport,
    orders: Vec<Order>,
    correction: Option<Proposed>,
    /// The STOP that is being cleared, and who confirms it.
    clearing: Option<(usize, Field)>,
    scroll: Scroll,
    said: Option<String>,
}

impl Concluded {
    pub(super) fn of(of: Stored, report: LogReport, trouble: Option<String>) -> Self {
        let mut orders: Vec<Order> = Vec::new();
        for c in &report.concluded {
            let (Some(p), Some(entry)) = (&c.proposes, report.written_about(&c.of)) else {
                continue;
            };
            if !orders.iter().any(|o| o.need == p.need) {
                orders.push(Order {
                    about: entry.about.clone(),
                    entry: entry.id.clone(),
                    need: p.need.clone(),
                    priority: p.priority,
                    made: None,
                });
            }
        }
        orders.sort_by_key(|o| o.priority);
        Concluded {
            of,
            report,
            orders,
            correction: None,
            clearing: None,
            scroll: Scroll::default(),
            said: trouble.map(|t| format!("written, but its draft stays: {t}")),
        }
    }

    #[must_use]
    pub(super) fn proposing(mut self, correction: Option<Proposed>) -> Self {
        self.correction = correction;
        self
    }

    /// STOPs, then what follows on a key, then what was read and the rules.
    fn lines(&self, width: usize) -> Vec<Line> {
        let mut out = Line::of(Role::Heading, "written: ")
            .with(Role::Plain, format!("{} of ", self.report.entry))
            .with(Role::Code, &self.report.of)
            .folded(width, 2);
        let stops = self.report.concluded.iter();
        for c in stops.filter(|c| c.level == Severity::Stop) {
            let line = Line::of(Role::Stop, "STOP ").with(Role::Plain, &c.text);
            out.extend(line.folded(width, 5));
        }
        let clears = self.to_clear();
        for (i, s) in self.report.standing.iter().enumerate() {
            let text = s.text.strip_prefix("STOP ").unwrap_or(&s.text);
            let line = Line::of(Role::Stop, "STOP ").with(Role::Plain, text);
            out.extend(line.folded(width, 5));
            if clears == Some(i) {
                let line = Line::of(Role::Key, "c ").with(
                    Role::Plain,
                    format!("clears {}, by two people who looked", s.defect),
                );
                out.extend(line.folded(width, 4));
            }
        }
        let next = self.orders.iter().position(|o| o.made.is_none());
        for (i, order) in self.orders.iter().enumerate() {
            let mut line = Line::new();
            match &order.made {
                Some(made) => line.push(Role::Label, format!("  {made}: ")),
                None => {
                    line.push(Role::Key, if next == Some(i) { "o " } else { "  " });
                    line.push(Role::Label, format!("order, {}: ", order.priority));
                }
            }
            out.extend(line.with(Role::Plain, &order.need).folded(width, 4));
        }
        if let Some(c) = &self.correction {
            let line = Line::of(Role::Key, "k ")
                .with(Role::Look, "LOOK ")
                .with(Role::Plain, format!("{}; k corrects it", c.because));
            out.extend(line.folded(width, 4));
        }
        out.push(Line::new());
        // The STOPs stand above.
        let told = LogReport {
            standing: Vec::new(),
            ..self.report.clone()
        };
        out.extend(log_lines(&told).iter().flat_map(|l| l.folded(width, 2)));
        out
    }

    /// Opens the next of the proposed orders.
    fn make_order(&mut self, desk: &Desk) -> Step {
        let Some(order) = self.orders.iter_mut().find(|o| o.made.is_none()) else {
            return Step::Say("no order is proposed that is not made already".to_string());
        };
        let new = NewOrder {
            of: order.about.clone(),
            need: order.need.clone(),
            priority: order.priority,
            due: None,
            who: None,
            from_entry: order.entry.parse().ok(),
            note: None,
        };
        let now = desk.clock.now();
        match desk.write(|store| open_order(store, &new, desk.who, now)) {
            Ok(report) => {
                let number = &report.order.order;
                order.made = Some(match report.operation {
                    Some(_) => {
                        let due = report.order.due;
                        let due = due.map_or(String::new(), |d| {
                            format!(", due {} by default", d.spoken())
                        });
                        format!("order {number} opened{due}")
                    }
                    None => format!("order {number} is open already"),
                });
                Step::Say(order.made.clone().unwrap_or_default())
            }
            Err(failure) => Step::Say(one_line(&failure)),
        }
    }

    /// The STOP that can be cleared on what this entry read.
    fn to_clear(&self) -> Option<usize> {
        let clearing = CLEARING.contains(&self.report.entry);
        let looked_at = |s: &StillStands| clearing && s.looked_at;
        self.report.standing.iter().position(looked_at)
    }

    fn begin_clearing(&mut self) -> Step {
        let Some(at) = self.to_clear() else {
            return Step::Say("nothing that was read here clears a STOP of before".to_string());
        };
        self.clearing = Some((at, Field::default()));
        Step::Stay
    }

    /// Clears the STOP with an entry of its own, by two people.
    fn clear(&mut self, desk: &Desk) -> Step {
        let Some((at, field)) = self.clearing.take() else {
            return Step::Stay;
        };
        let second = field.text().trim().to_string();
        let Some(stop) = self.report.standing.get(at).cloned() else {
            return Step::Stay;
        };
        if second.is_empty() {
            self.clearing = Some((at, field));
            return Step::Say("name the second person; backspace goes back".to_string());
        }
        let asked = Asked {
            set: vec![
                format!("clears={}", stop.defect),
                format!("note=looked at again, {}", self.report.on.spoken()),
            ],
            on: Some(self.report.on),
            by: Some(self.report.by.clone()),
            second: Some(second),
            depth: self.report.depth,
        };
        let (kind, now) = (self.report.entry.word(), desk.clock.now());
        match desk.write(|store| log(store, &stop.about, kind, &asked, desk.who, now)) {
            Ok(_) => {
                self.report.standing.remove(at);
                Step::Say(format!(
                    "cleared: {}; undo in the history takes it back",
                    stop.defect
                ))
            }
            Err(failure) => Step::Say(one_line(&failure)),
        }
    }

    fn correct(&self, desk: &Desk) -> Step {
        let opened = match &self.correction {
            Some(c) => Correct::with(c.of, &c.fields, &c.because, desk),
            None => Correct::about(&self.of, desk),
        };
        match opened {
            Ok(screen) => Step::Open(Box::new(screen)),
            Err(failure) => failure.into(),
        }
    }
}

impl Screen for Concluded {
    fn place(&self) -> Place {
        match self.clearing {
            Some(_) => Place::Answer,
            None => Place::Concluded,
        }
    }

    fn about(&self) -> About {
        About {
            kind: Some(self.of.record.kind()),
            rows: self.orders.iter().filter(|o| o.made.is_none()).count(),
            empty: self.clearing.as_ref().is_none_or(|(_, f)| f.is_empty()),
            ..About::default()
        }
    }

    fn run(&mut self, id: Id, _chord: Chord, desk: &Desk) -> Step {
        self.said = None;
        if let Some((_, field)) = &mut self.clearing {
            match id {
                Id::Keep => return self.clear(desk),
                Id::Erase if field.erase() => {}
                Id::Erase | Id::Back => self.clearing = None,
                Id::ClearLine => field.clear(),
                Id::ClearWord => field.erase_word(),
                _ => {}
            }
            return Step::Stay;
        }
        match id {
            Id::ClearStop => return self.begin_clearing(),
            Id::Back => return Step::Close,
            Id::FindAnew => return Step::FindAnew,
            Id::HalfDown => self.scroll.down(),
            Id::HalfUp => self.scroll.up(),
            Id::Top => self.scroll.to_top(),
            Id::End => self.scroll.to_end(),
            Id::MakeOrder => return self.make_order(desk),
            Id::Correct => return self.correct(desk),
            _ => {}
        }
        Step::Stay
    }

    fn type_in(&mut self, c: char) {
        if let Some((_, field)) = &mut self.clearing {
            field.type_in(c);
        }
    }

    fn paste(&mut self, text: &str) -> bool {
        match &mut self.clearing {
            Some((_, field)) => {
                field.paste(text);
                true
            }
            None => false,
        }
    }

    fn note(&self) -> Line {
        match &self.said {
            Some(said) => Line::of(Role::Look, said),
            None => note("written", self.scroll),
        }
    }

    fn draw(&mut self, buffer: &mut Buffer, area: Rect, desk: &Desk) -> Option<Position> {
        let lines = inset(self.lines(usize::from(area.width.saturating_sub(2))));
        let Some((_, field)) = &self.clearing else {
            self.scroll.draw(buffer, area, &lines, desk.look);
            return None;
        };
        let high = area.height.saturating_sub(1);
        let above = Rect::new(area.x, area.y, area.width, high);
        self.scroll.draw(buffer, above, &lines, desk.look);
        let below = Rect::new(area.x, area.y + high, area.width, 1);
        let prompt = " second person > ";
        let line = prompt_line(prompt, field.text(), area.width, desk);
        put(buffer, below, &line, desk.look);
        caret_after(below, prompt, field.text())
    }
}
