//! The check form: what to judge by. A line left empty is judged by what is on
//! record, which stands beside it with its origin.

use ratatui::buffer::Buffer;
use ratatui::layout::{Position as Caret, Rect};

use super::text::{margin, under_title, verdicts};
use super::{Desk, Screen, Step};
use crate::calendar::Date;
use crate::domain::asset::{FaultKind, FaultStudy, Kind, Position, Record};
use crate::keys::{Chord, Key};
use crate::present::Line;
use crate::role::Role;
use crate::store::Stored;
use crate::tui::command::{About, Id, Place};
use crate::tui::widget::{Field, put, row};
use crate::units::{Amps, Kv, Minutes, QuantityError, Seconds, XOverR};
use crate::work::Failure;
use crate::work::check::{Typed, check_position};
use crate::work::related::position_of;

/// Rows that the lines take with what is on record under each.
const SHORT: u16 = 15;
/// Columns before the value.
const LEAD: u16 = 20;
/// Columns of the value.
const VALUE: u16 = 11;

/// A line of the form.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Ask {
    Load,
    Fault,
    Kind,
    Xr,
    Minimum,
    Voltage,
    Outage,
    FaultTime,
    Unbalance,
    Bypass,
}

const LINES: [(Ask, &str, &str); 10] = [
    (Ask::Load, "l", "load, A"),
    (Ask::Fault, "f", "fault, A"),
    (Ask::Kind, "k", "kind of fault"),
    (Ask::Xr, "x", "system X/R"),
    (Ask::Minimum, "n", "min. fault, A"),
    (Ask::Voltage, "v", "voltage, kV"),
    (Ask::Outage, "o", "outage, min"),
    (Ask::FaultTime, "t", "fault-on, s"),
    (Ask::Unbalance, "u", "unbalance, A"),
    (Ask::Bypass, "b", "as bypassed"),
];

/// The form over one position.
pub struct Form {
    position: Stored,
    typed: Typed,
    marked: usize,
    /// The text of the line being typed.
    field: Option<Field>,
    refused: Option<String>,
}

impl Form {
    /// The form of a position, or of the position where a unit is.
    ///
    /// # Errors
    /// When the record is neither, or the unit stands at no one position.
    pub fn about(record: &Stored, desk: &Desk) -> Result<Self, Failure> {
        Ok(Form {
            position: position_of(desk.store, record)?,
            typed: Typed::default(),
            marked: 0,
            field: None,
            refused: None,
        })
    }

    fn place_of(&self) -> Option<&Position> {
        match &self.position.record {
            Record::Position(p) => Some(p),
            _ => None,
        }
    }

    fn ask(&self) -> Ask {
        LINES[self.marked].0
    }

    fn mark(&mut self, ask: Ask) {
        self.marked = LINES.iter().position(|(a, ..)| *a == ask).unwrap_or(0);
        self.refused = None;
    }

    /// Begins typing into the marked line; the two that are chosen step instead.
    fn begin(&mut self) {
        self.refused = None;
        match self.ask() {
            Ask::Kind => self.typed.fault_kind = next_kind(self.typed.fault_kind),
            Ask::Bypass => self.typed.bypass = !self.typed.bypass,
            ask => self.field = Some(Field::of(&self.value(ask).replace(',', ""))),
        }
    }

    /// Keeps what was typed, or says why it cannot be.
    fn keep(&mut self) {
        let Some(field) = &self.field else { return };
        let text = field.text().trim().to_string();
        match self.take(&text) {
            Ok(()) => {
                self.field = None;
                self.refused = None;
                self.marked = (self.marked + 1) % LINES.len();
            }
            Err(why) => self.refused = Some(why.to_string()),
        }
    }

    fn take(&mut self, text: &str) -> Result<(), QuantityError> {
        fn optional<T: std::str::FromStr<Err = QuantityError>>(
            text: &str,
        ) -> Result<Option<T>, QuantityError> {
            if text.is_empty() {
                Ok(None)
            } else {
                text.parse().map(Some)
            }
        }
        match self.ask() {
            Ask::Load => self.typed.load = optional::<Amps>(text)?,
            Ask::Fault => self.typed.fault = optional::<Amps>(text)?,
            Ask::Xr => self.typed.x_over_r = optional::<XOverR>(text)?,
            Ask::Minimum => self.typed.min_fault = optional::<Amps>(text)?,
            Ask::Voltage => self.typed.kv_ll = optional::<Kv>(text)?,
            Ask::Outage => self.typed.outage = optional::<Minutes>(text)?,
            Ask::FaultTime => self.typed.fault_time = optional::<Seconds>(text)?,
            Ask::Unbalance => self.typed.unbalance = optional::<Amps>(text)?,
            Ask::Kind | Ask::Bypass => {}
        }
        Ok(())
    }

    /// What was typed for a line.
    fn value(&self, ask: Ask) -> String {
        let typed = &self.typed;
        let number = |n: Option<f64>| n.map(crate::units::figure).unwrap_or_default();
        match ask {
            Ask::Load => number(typed.load.map(Amps::get)),
            Ask::Fault => number(typed.fault.map(Amps::get)),
            Ask::Kind => typed.fault_kind.map(|k| k.to_string()).unwrap_or_default(),
            Ask::Xr => number(typed.x_over_r.map(XOverR::get)),
            Ask::Minimum => number(typed.min_fault.map(Amps::get)),
            Ask::Voltage => number(typed.kv_ll.map(Kv::get)),
            Ask::Outage => number(typed.outage.map(Minutes::get)),
            Ask::FaultTime => number(typed.fault_time.map(Seconds::get)),
            Ask::Unbalance => number(typed.unbalance.map(Amps::get)),
            Ask::Bypass => if typed.bypass { "yes" } else { "no" }.to_string(),
        }
    }

    /// What is on record for a line, and where it comes from.
    fn recorded(&self, ask: Ask) -> String {
        let Some(p) = self.place_of() else {
            return String::new();
        };
        let fault = p.available_fault.as_ref();
        match ask {
            Ask::Load => p.peak_load.as_ref().map_or(NONE.to_string(), |l| {
                said(&l.amps.to_string(), l.source.as_deref(), l.date)
            }),
            Ask::Fault => fault.map_or(NONE.to_string(), study),
            Ask::Kind => fault.map_or(NONE.to_string(), |f| f.kind.to_string()),
            Ask::Xr if self.typed.fault.is_some() => {
                "belongs to the fault typed; if empty, the worst bound".to_string()
            }
            Ask::Xr => fault
                .and_then(|f| f.x_over_r)
                .map_or("none on record: the worst bound".to_string(), |x| {
                    x.to_string()
                }),
            Ask::Minimum => p.minimum_fault.as_ref().map_or(NONE.to_string(), study),
            Ask::Voltage => "if empty, the nominal of the feeder".to_string(),
            Ask::Outage | Ask::FaultTime | Ask::Unbalance | Ask::Bypass => String::new(),
        }
    }

    /// Rows from the first line down to each line, and below the last. A line
    /// with something on record takes `tall` rows.
    fn rows(&self, tall: u16) -> Vec<u16> {
        let mut at = vec![0];
        for (ask, ..) in LINES {
            let high = if self.recorded(ask).is_empty() || !below(ask) {
                1
            } else {
                tall
            };
            at.push(at[at.len() - 1] + high);
        }
        at
    }

    fn judge(&self, desk: &Desk) -> Step {
        match check_position(desk.store, &self.position, &self.typed, desk.clock.today()) {
            Ok(report) => Step::Open(Box::new(verdicts(report, &self.position, desk))),
            Err(failure) => failure.into(),
        }
    }

    /// Says at once that what stands in the field is no number. It stays there
    /// to be mended: dropping a letter could leave a false number behind.
    fn look_over(&mut self) {
        let number = |c: char| c.is_ascii_digit() || matches!(c, '.' | ',');
        let field = self.field.as_ref();
        let fits = field.is_none_or(|f| f.text().chars().all(number));
        self.refused = (!fits).then(|| ONLY_NUMBERS.to_string());
    }

    /// A line of the form; of a value longer than `room` its end, with a mark.
    fn line(&self, index: usize, room: usize, mark_cut: &str) -> Line {
        let (ask, key, label) = LINES[index];
        let mark = if index == self.marked { ">" } else { " " };
        let typing = self.field.as_ref().filter(|_| index == self.marked);
        let value = typing.map_or_else(|| self.value(ask), |f| f.text().to_string());
        let role = if index == self.marked {
            Role::Code
        } else {
            Role::Value
        };
        let mut line = Line::of(Role::Code, format!("{mark}  "))
            .with(Role::Key, key)
            .with(Role::Plain, format!(" {label:<14} "));
        let long = value.chars().count();
        let value = if long > room {
            let kept = room.saturating_sub(mark_cut.chars().count());
            let end: String = value.chars().skip(long - kept).collect();
            format!("{mark_cut}{end}")
        } else {
            value
        };
        line.push(role, format!("{value:<room$} "));
        line
    }
}

const HOW: &str =
    "A line left empty is judged by what is on record. Unknown or assumed is never a pass.";
const ONLY_NUMBERS: &str = "only digits, a point and commas, as 4,310 or 8.5; backspace erases";
const NONE: &str = "none on record";

/// Whether what is on record has a row of its own where width is scarce: the
/// voltage is the feeder's wherever none is typed.
fn below(ask: Ask) -> bool {
    ask != Ask::Voltage
}

fn said(value: &str, source: Option<&str>, date: Option<Date>) -> String {
    let date = date.map_or("undated".to_string(), Date::spoken);
    format!(
        "{value}, {}, {date}",
        source.unwrap_or("source not recorded")
    )
}

fn study(study: &FaultStudy) -> String {
    said(
        &format!("{} {}", study.amps, study.kind),
        study.source.as_deref(),
        study.date,
    )
}

fn next_kind(kind: Option<FaultKind>) -> Option<FaultKind> {
    let Some(kind) = kind else {
        return FaultKind::ALL.first().copied();
    };
    let at = FaultKind::ALL.iter().position(|k| *k == kind)?;
    FaultKind::ALL.get(at + 1).copied()
}

impl Screen for Form {
    fn place(&self) -> Place {
        if self.field.is_some() {
            Place::Field
        } else {
            Place::Form
        }
    }

    fn about(&self) -> About {
        About {
            kind: Some(Kind::Position),
            rows: LINES.len(),
            empty: self.field.as_ref().is_none_or(Field::is_empty),
            ..About::default()
        }
    }

    fn run(&mut self, id: Id, chord: Chord, desk: &Desk) -> Step {
        let field = match id {
            Id::FieldLoad => Some(Ask::Load),
            Id::FieldFault => Some(Ask::Fault),
            Id::FieldKind => Some(Ask::Kind),
            Id::FieldXr => Some(Ask::Xr),
            Id::FieldMinimum => Some(Ask::Minimum),
            Id::FieldVoltage => Some(Ask::Voltage),
            Id::FieldOutage => Some(Ask::Outage),
            Id::FieldFaultTime => Some(Ask::FaultTime),
            Id::FieldUnbalance => Some(Ask::Unbalance),
            Id::FieldBypass => Some(Ask::Bypass),
            _ => None,
        };
        if let Some(ask) = field {
            self.mark(ask);
            self.begin();
            return Step::Stay;
        }
        match id {
            Id::Judge => return self.judge(desk),
            Id::Keep => self.keep(),
            Id::Next => self.marked = (self.marked + 1) % LINES.len(),
            Id::Previous => self.marked = (self.marked + LINES.len() - 1) % LINES.len(),
            Id::FieldDigit if !matches!(self.ask(), Ask::Kind | Ask::Bypass) => {
                self.field = Some(Field::default());
                if let Key::Char(c) = chord.key {
                    self.type_in(c);
                }
            }
            Id::Erase => {
                if let Some(field) = &mut self.field {
                    let erased = field.erase();
                    self.look_over();
                    if !erased {
                        self.keep_as_it_was();
                    }
                }
            }
            Id::ClearLine | Id::ClearWord => {
                if let Some(field) = &mut self.field {
                    field.clear();
                }
                self.look_over();
            }
            Id::Back if self.field.is_some() => self.keep_as_it_was(),
            Id::Back => return Step::Close,
            _ => {}
        }
        Step::Stay
    }

    fn type_in(&mut self, c: char) {
        if let Some(field) = &mut self.field {
            field.type_in(c);
            self.look_over();
        }
    }

    fn paste(&mut self, text: &str) -> bool {
        match &mut self.field {
            Some(field) => {
                field.paste(text);
                self.look_over();
                true
            }
            None => false,
        }
    }

    fn note(&self) -> Line {
        match &self.refused {
            Some(why) => Line::of(Role::Fails, "refused").with(Role::Plain, format!(": {why}")),
            None => Line::new(),
        }
    }

    fn draw(&mut self, buffer: &mut Buffer, area: Rect, desk: &Desk) -> Option<Caret> {
        let title =
            Line::of(Role::Heading, " check ").with(Role::Code, self.position.record.name());
        put(buffer, row(area, 0), &title, desk.look);
        let body = under_title(area);
        let narrow = body.width < 60;
        let short = narrow && body.height < SHORT;
        if !narrow {
            let columns = format!("{:20}{:<12}on record", "", "typed");
            let above = Rect::new(area.x, body.y.saturating_sub(1), area.width, 1);
            put(buffer, above, &Line::of(Role::Label, columns), desk.look);
        }
        let layout = self.layout(body, narrow, short);
        self.draw_lines(buffer, body, &layout, desk);
        let last = layout.rows[LINES.len()] - layout.rows[layout.first];
        let (below, how) = if short {
            let (ask, _, label) = LINES[self.marked];
            let recorded = self.recorded(ask);
            let how = if recorded.is_empty() {
                format!("{label}: as typed here, nothing on record")
            } else {
                format!("{label}, on record: {recorded}")
            };
            (last.min(layout.fit), how)
        } else {
            (last + 1, HOW.to_string())
        };
        let width = usize::from(body.width.saturating_sub(1)).min(76);
        for (y, line) in (below..).zip(Line::of(Role::Plain, how).folded(width, 0)) {
            put(buffer, row(body, y), &margin(&line), desk.look);
        }
        let field = self.field.as_ref()?;
        let y = layout.rows[self.marked] - layout.rows[layout.first];
        let typed = u16::try_from(field.text().chars().count().min(layout.room)).unwrap_or(0);
        Some(Caret::new(
            (body.x + LEAD + typed).min(area.right().saturating_sub(1)),
            (body.y + y).min(area.bottom().saturating_sub(1)),
        ))
    }
}

/// Where the lines of the form stand.
struct Layout {
    rows: Vec<u16>,
    /// The first line that is drawn: where not all fit, those up to the marked
    /// one stand.
    first: usize,
    /// Rows for lines, when they are drawn short.
    fit: u16,
    short: bool,
    narrow: bool,
    /// Columns of a value.
    room: usize,
}

impl Form {
    fn layout(&self, body: Rect, narrow: bool, short: bool) -> Layout {
        let room = if narrow { body.width - LEAD - 1 } else { VALUE };
        let fit = body.height.saturating_sub(1).max(1);
        Layout {
            rows: self.rows(if narrow && !short { 2 } else { 1 }),
            first: if short {
                (self.marked + 1).saturating_sub(usize::from(fit))
            } else {
                0
            },
            fit,
            short,
            narrow,
            room: usize::from(room),
        }
    }

    fn draw_lines(&self, buffer: &mut Buffer, body: Rect, layout: &Layout, desk: &Desk) {
        for (index, (ask, ..)) in LINES.iter().enumerate().skip(layout.first) {
            let y = layout.rows[index] - layout.rows[layout.first];
            if layout.short && y >= layout.fit {
                break;
            }
            let line = self.line(index, layout.room, desk.look.cut());
            put(buffer, row(body, y), &line, desk.look);
            let recorded = self.recorded(*ask);
            if layout.short || recorded.is_empty() || (layout.narrow && !below(*ask)) {
                continue;
            }
            let (at, skip) = if layout.narrow {
                (row(body, y + 1), 4)
            } else {
                (row(body, y), LEAD + VALUE + 1)
            };
            let at = Rect::new(at.x + skip, at.y, at.width.saturating_sub(skip), at.height);
            put(buffer, at, &Line::of(Role::Muted, recorded), desk.look);
        }
    }
}

impl Form {
    /// Leaves the line as it was before typing began.
    fn keep_as_it_was(&mut self) {
        // An emptied line means: by what is on record.
        if self.field.as_ref().is_some_and(Field::is_empty) {
            let _ = self.take("");
        }
        self.field = None;
        self.refused = None;
    }
}
