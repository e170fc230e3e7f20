//! The findings: what verifying the register says is wrong, by rule, the
//! scores by feeder on top; each opens its record, or is mended where that is
//! certain.

use ratatui::buffer::Buffer;
use ratatui::layout::{Position, Rect};

use super::ask::Correct;
use super::card::Card;
use super::choice::{Choosing, Chosen};
use super::listing::{Listing, Taken};
use super::{Desk, Screen, Step};
use crate::domain::verify::{detector, mended_at};
use crate::keys::Chord;
use crate::present::Line;
use crate::present::verify::ALTERED;
use crate::role::Role;
use crate::store::Stored;
use crate::tui::command::{About, Id, Place};
use crate::tui::widget::Row;
use crate::units::figure;
use crate::work::Failure;
use crate::work::edit::printed;
use crate::work::mend::{Mend, certain, found_on, mend};
use crate::work::undo;
use crate::work::verify::{
    Asked, Score, VerifyFinding, Verifying, keep_last, recall_last, verify_record,
};

/// Findings of one rule that are listed; the command line lists all.
const A_RULE: usize = 50;

/// What was found, or the round that is still looking.
pub struct Findings {
    /// The record they are about; none for the whole register.
    of: Option<Stored>,
    listing: Listing,
    running: Option<Box<Verifying>>,
    found: Vec<VerifyFinding>,
    /// How many each rule found, in the order of the list.
    counts: Vec<(&'static str, usize)>,
    scores: Vec<Score>,
    /// What says that the register was altered outside the program.
    stops: Vec<String>,
    failed: Option<String>,
}

impl Findings {
    /// About one record.
    ///
    /// # Errors
    /// Those of the register.
    pub fn about(record: &Stored, desk: &Desk) -> Result<Self, Failure> {
        let title =
            Line::of(Role::Heading, "findings about ").with(Role::Code, record.record.name());
        let mut out = Findings {
            of: Some(record.clone()),
            listing: Listing::new(title, "Nothing was found wrong with this record by itself."),
            running: None,
            found: Vec::new(),
            counts: Vec::new(),
            scores: Vec::new(),
            stops: Vec::new(),
            failed: None,
        };
        out.look_again(desk)?;
        Ok(out)
    }

    /// About the whole register; the round is made while the screen shows.
    ///
    /// # Errors
    /// Those of the register.
    pub fn whole(desk: &Desk) -> Result<Self, Failure> {
        let last = recall_last(desk.drafts, desk.store.path());
        let asked = Asked {
            before: last.scores,
            last_head: last.head,
            ..Asked::default()
        };
        Ok(Findings {
            of: None,
            listing: Listing::new(Line::of(Role::Heading, "findings"), "Nothing was found."),
            running: Some(Box::new(Verifying::begin(desk.store, &asked, desk.clock)?)),
            found: Vec::new(),
            counts: Vec::new(),
            scores: Vec::new(),
            stops: Vec::new(),
            failed: None,
        })
    }

    fn look_again(&mut self, desk: &Desk) -> Result<(), Failure> {
        let Some(record) = &self.of else {
            return Ok(());
        };
        let Some(now) = desk.store.by_row(record.rec)? else {
            self.found.clear();
            return Ok(());
        };
        self.found = verify_record(desk.store, &now, desk.clock)?;
        self.counts = Vec::new();
        for f in &self.found {
            match self.counts.last_mut() {
                Some((rule, n)) if *rule == f.rule => *n += 1,
                _ => self.counts.push((f.rule, 1)),
            }
        }
        Ok(())
    }

    /// Takes the next parts of the round until told to stop.
    fn go_on(&mut self, desk: &Desk, stop: &dyn Fn() -> bool) -> Result<bool, Failure> {
        let Some(running) = &mut self.running else {
            return Ok(false);
        };
        while running.step(desk.store)? {
            if stop() {
                return Ok(true);
            }
        }
        if let Some(running) = self.running.take() {
            let report = running.report(desk.store, desk.clock)?;
            keep_last(desk.drafts, desk.store.path(), &report);
            let mut left: Vec<(&'static str, usize)> = Vec::new();
            self.found = report
                .findings
                .into_iter()
                .filter(|f| {
                    match left.last_mut() {
                        Some((rule, n)) if *rule == f.rule => *n += 1,
                        _ => left.push((f.rule, 1)),
                    }
                    left.last().is_some_and(|(_, n)| *n <= A_RULE)
                })
                .collect();
            self.counts = report.counts.iter().map(|c| (c.rule, c.found)).collect();
            self.scores = report.scores;
            self.stops = report.stops;
        }
        Ok(true)
    }

    fn marked(&self) -> Option<&VerifyFinding> {
        self.found.get(self.listing.marked())
    }

    fn open(&self, desk: &Desk) -> Step {
        let Some(f) = self.marked() else {
            return Step::Stay;
        };
        match found_on(desk.store, f) {
            Ok(Some(stored)) => match Card::read(stored.rec, desk) {
                Ok(card) => Step::Open(Box::new(card)),
                Err(failure) => failure.into(),
            },
            Ok(None) => Step::Say(format!("{}: {}", f.why, f.fix)),
            Err(failure) => failure.into(),
        }
    }

    /// Shows the certain mend; else opens the record with what to do.
    fn mend(&self, desk: &Desk) -> Step {
        let Some(f) = self.marked() else {
            return Step::Stay;
        };
        match certain(desk.store, f) {
            Ok(Some(mend)) => Step::Open(Box::new(Mending::of(mend))),
            Ok(None) => match found_on(desk.store, f) {
                Ok(Some(stored)) if let Some(step) = edit_at(f, &stored, desk) => step,
                Ok(Some(stored)) => match Card::read(stored.rec, desk) {
                    Ok(card) => {
                        let said = format!("to do: {} ({})", f.fix, f.rule);
                        Step::Open(Box::new(card.reached_by(said)))
                    }
                    Err(failure) => failure.into(),
                },
                Ok(None) => Step::Say(f.fix.to_string()),
                Err(failure) => failure.into(),
            },
            Err(failure) => failure.into(),
        }
    }
}

/// The form of the record, open at the field that mends the finding, where one
/// does.
fn edit_at(f: &VerifyFinding, stored: &Stored, desk: &Desk) -> Option<Step> {
    let form = Correct::about(stored, desk).ok()?;
    let field = mended_at(f.rule, &f.why, &form.paths())?.to_string();
    let said = format!("to do: {} ({})", f.fix, f.rule);
    Some(Step::Open(Box::new(form.at(&field, said))))
}

fn stop_line(stop: &str) -> Line {
    Line::of(Role::Stop, " STOP ").with(Role::Plain, stop)
}

fn score_line(s: &Score) -> Line {
    let name = s.feeder.as_deref().unwrap_or("no feeder");
    let mut line = Line::of(Role::Label, format!(" {name:<10} "))
        .with(Role::Value, format!("{} for each 100", figure(s.per_100)));
    if let Some(read) = s.read_percent {
        line.push(Role::Plain, format!(", plates read {} %", figure(read)));
    }
    if let Some(before) = &s.before {
        let moved = match s.per_100.total_cmp(&before.per_100) {
            std::cmp::Ordering::Less => "better: before",
            std::cmp::Ordering::Equal => "as before,",
            std::cmp::Ordering::Greater => "worse: before",
        };
        line.push(Role::Plain, format!("; {moved} {}", figure(before.per_100)));
    }
    line
}

fn rows(this: &Findings, listing: &Listing) -> Vec<Row> {
    let mut out: Vec<Row> = Vec::new();
    let heading = |line: Line| {
        line.folded(listing.columns(), 3)
            .into_iter()
            .map(Row::Heading)
    };
    for stop in &this.stops {
        out.extend(heading(stop_line(stop)));
    }
    if !this.stops.is_empty() {
        out.extend(heading(Line::of(Role::Look, format!(" {ALTERED}"))));
    }
    if !this.scores.is_empty() && !this.found.is_empty() {
        for s in &this.scores {
            out.extend(heading(score_line(s)));
        }
    }
    let mut rule = "";
    for f in &this.found {
        if f.rule != rule {
            rule = f.rule;
            let n = this
                .counts
                .iter()
                .find(|(r, _)| *r == rule)
                .map_or(0, |c| c.1);
            let count = if n > A_RULE && this.of.is_none() {
                format!("  {n}, {A_RULE} shown")
            } else {
                format!("  {n}")
            };
            out.extend(heading(
                Line::of(Role::Heading, format!(" {rule}")).with(Role::Plain, count),
            ));
        }
        let why = detector(f.rule).map_or("", |d| d.why);
        let detail = f.why.strip_suffix(why).unwrap_or(&f.why).trim_end();
        out.extend(listing.entry(Line::of(Role::Plain, detail)));
    }
    out
}

impl Screen for Findings {
    fn place(&self) -> Place {
        Place::Findings
    }

    fn about(&self) -> About {
        About {
            kind: self.marked().map(|f| f.kind),
            rows: self.found.len(),
            ..About::default()
        }
    }

    fn run(&mut self, id: Id, chord: Chord, desk: &Desk) -> Step {
        let rows = rows(self, &self.listing);
        match self.listing.take(id, chord, &rows) {
            Taken::Done(step) => step,
            Taken::Yours(Id::Open) => self.open(desk),
            Taken::Yours(Id::Fix) => self.mend(desk),
            Taken::Yours(_) => Step::Stay,
        }
    }

    fn work(&mut self, desk: &Desk, stop: &dyn Fn() -> bool) -> bool {
        match self.go_on(desk, stop) {
            Ok(changed) => changed,
            Err(failure) => {
                self.running = None;
                self.failed = Some(failure.message);
                true
            }
        }
    }

    fn watches(&self) -> bool {
        self.of.is_some()
    }

    fn register_changed(&mut self, desk: &Desk) -> bool {
        if self.running.is_some() {
            return false;
        }
        let before = self.found.clone();
        if self.of.is_some() {
            if self.look_again(desk).is_err() {
                return false;
            }
        } else {
            // Of the whole register only what was mended is looked at again.
            let marked = self.listing.marked();
            let still = self.found.get(marked).and_then(|f| {
                let stored = found_on(desk.store, f).ok()??;
                Some(
                    verify_record(desk.store, &stored, desk.clock)
                        .ok()?
                        .contains(f),
                )
            });
            if still == Some(false) {
                let gone = self.found.remove(marked);
                if let Some(count) = self.counts.iter_mut().find(|(r, _)| *r == gone.rule) {
                    count.1 -= 1;
                }
            }
        }
        self.found != before
    }

    fn note(&self) -> Line {
        match (&self.failed, &self.running) {
            (Some(why), _) => Line::of(Role::Fails, "failed").with(Role::Plain, format!(": {why}")),
            (None, Some(running)) => {
                let (done, all) = running.progress();
                Line::of(Role::Muted, format!("verifying: {done} of {all} parts"))
            }
            (None, None) if !self.stops.is_empty() => Line::of(Role::Stop, "STOP")
                .with(Role::Plain, " altered outside the program: see the top"),
            (None, None) => Line::new(),
        }
    }

    fn draw(&mut self, buffer: &mut Buffer, area: Rect, desk: &Desk) -> Option<Position> {
        self.listing.none = match &self.running {
            Some(_) => "The register is being verified; a key interrupts it, backspace leaves it.",
            None if self.of.is_some() => "Nothing was found wrong with this record by itself.",
            None => "Nothing was found.",
        }
        .to_string();
        for stop in &self.stops {
            self.listing.none = format!("STOP {stop}. {}", self.listing.none);
        }
        for s in &self.scores {
            let text = score_line(s).plain();
            self.listing.none.push_str(&format!(" {}.", text.trim()));
        }
        let mut listing = std::mem::replace(&mut self.listing, Listing::new(Line::new(), ""));
        listing.draw(buffer, area, desk, |listing| rows(self, listing));
        self.listing = listing;
        None
    }
}

/// A certain mend, shown before it is written.
struct Mending {
    mend: Mend,
    choosing: Choosing,
    written: Option<String>,
}

impl Mending {
    fn of(mend: Mend) -> Self {
        Mending {
            mend,
            choosing: Choosing::among(vec![
                "write it down".to_string(),
                "leave it as it is".to_string(),
            ]),
            written: None,
        }
    }

    fn write(&mut self, desk: &Desk) -> Step {
        match desk.write(|store| mend(store, &self.mend, desk.who, desk.clock.now())) {
            Ok(operation) => {
                self.written = Some(operation);
                self.choosing =
                    Choosing::among(vec!["done".to_string(), "take it back".to_string()]);
                Step::Say("written down as one operation; 2 or t takes it back".to_string())
            }
            Err(failure) => failure.into(),
        }
    }

    fn take_back(&self, desk: &Desk) -> Step {
        let Some(operation) = &self.written else {
            return Step::Say("nothing is written yet".to_string());
        };
        let asked = undo::Asked {
            which: Some(operation.clone()),
            ..undo::Asked::default()
        };
        match desk.write(|store| undo::undo_with(store, &asked, desk.who, desk.clock.now())) {
            Ok(_) => Step::CloseAndSay("taken back".to_string()),
            Err(failure) => failure.into(),
        }
    }
}

impl Screen for Mending {
    fn place(&self) -> Place {
        Place::Choice
    }

    fn about(&self) -> About {
        About {
            rows: self.choosing.count(),
            ..About::default()
        }
    }

    fn run(&mut self, id: Id, chord: Chord, desk: &Desk) -> Step {
        match id {
            Id::FindAnew => return Step::FindAnew,
            Id::TakeBack => return self.take_back(desk),
            _ => {}
        }
        match (self.choosing.take(id, chord), self.written.is_some()) {
            (Chosen::Option(0), false) => self.write(desk),
            (Chosen::Option(1), true) => self.take_back(desk),
            (Chosen::Option(_) | Chosen::Back, _) => Step::Close,
            _ => Step::Stay,
        }
    }

    fn draw(&mut self, buffer: &mut Buffer, area: Rect, desk: &Desk) -> Option<Position> {
        let title = Line::of(Role::Heading, "mend ").with(Role::Code, &self.mend.record);
        let width = usize::from(area.width.saturating_sub(2));
        let mut text = Vec::new();
        for c in &self.mend.changes {
            let line = Line::of(Role::Label, format!(" {}: ", c.field))
                .with(Role::Plain, printed(&c.old))
                .with(Role::Plain, " -> ")
                .with(Role::Value, printed(&c.new));
            text.extend(line.folded(width, 3));
        }
        text.extend(Line::of(Role::Plain, format!(" why {}", self.mend.why)).folded(width, 3));
        self.choosing.draw(buffer, area, desk, (&title, &text))
    }
}
