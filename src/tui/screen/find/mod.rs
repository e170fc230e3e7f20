//! Find: the first screen. A prompt, the matches under it, a preview of a card.

use ratatui::buffer::Buffer;
use ratatui::layout::{Position, Rect};

mod draw;

use super::card::Card as CardScreen;
use super::listing::digit;
use super::measure::{BESIDE, ONE_AT_A_TIME, caret_after, measure, prompt_line};
use super::{Desk, Propose, Screen, Step, about_record, one_line, record_at, text};
use crate::domain::code::{Scheme, fold};
use crate::keys::Chord;
use crate::present::Line;
use crate::role::Role;
use crate::tui::command::{About, Id, Place};
use crate::tui::screen::Commands;
use crate::tui::widget::{Field, Rows, put, row};
use crate::work::Failure;
use crate::work::card::{Card, card};
use crate::work::find::{FindReport, How, Match, find_with};
use crate::work::schemes::schemes;

const PROMPT: &str = " find > ";
/// Answers asked for; more of the number is quicker than a longer list.
const LIMIT: usize = 40;
/// Columns of what was typed that a card repeats.
const LONGEST_SAID: usize = 20;

#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Focus {
    Query,
    List,
}

/// The find screen.
pub struct Find {
    query: Field,
    focus: Focus,
    /// The answers to the query; `None` while there are none yet.
    answers: Option<FindReport>,
    rows: Rows,
    /// Whether the mark was moved by hand since the answers came.
    moved: bool,
    /// The card of the marked match, for its preview.
    preview: Option<(i64, Card)>,
    say: bool,
    failure: Option<String>,
    greeting: Option<String>,
    schemes: Option<Vec<Scheme>>,
    /// Whether the preview has a place on the screen as last drawn.
    has_preview: bool,
    /// Columns of the list as last drawn.
    list_width: usize,
    /// Columns of the screen as last drawn.
    screen_width: u16,
}

impl Find {
    #[must_use]
    pub fn new(greeting: Option<String>) -> Self {
        Find {
            query: Field::default(),
            focus: Focus::Query,
            answers: None,
            rows: Rows::default(),
            moved: false,
            preview: None,
            say: false,
            failure: None,
            greeting,
            schemes: None,
            has_preview: false,
            list_width: 80,
            screen_width: 80,
        }
    }

    /// An empty prompt again.
    pub fn afresh(&mut self) {
        self.query.clear();
        self.focus = Focus::Query;
        self.forget();
    }

    /// Searches anew for what is typed: another register stands below it.
    pub fn reread(&mut self) {
        self.schemes = None;
        self.focus = Focus::Query;
        self.forget();
    }

    fn forget(&mut self) {
        self.answers = None;
        self.preview = None;
        self.failure = None;
        self.moved = false;
        self.rows = Rows::default();
    }

    fn typed(&self) -> &str {
        self.query.text().trim()
    }

    fn matches(&self) -> &[Match] {
        self.answers.as_ref().map_or(&[], |a| &a.matches)
    }

    fn marked(&self) -> Option<&Match> {
        self.matches().get(self.rows.marked)
    }

    fn answered(&self) -> bool {
        self.answers
            .as_ref()
            .is_some_and(|a| a.query == self.typed())
            || self.failure.is_some()
    }

    /// Looks the query up; true when there is something new to show.
    fn look_up(&mut self, desk: &Desk, stop: &dyn Fn() -> bool) -> bool {
        if self.typed().is_empty() {
            let had = self.answers.is_some() || self.failure.is_some();
            self.forget();
            return had;
        }
        match self.ask(desk, stop) {
            Ok(report) if report.interrupted => false,
            Ok(mut report) => {
                report.query = self.typed().to_string();
                self.forget();
                self.answers = Some(report);
                true
            }
            Err(failure) => {
                self.forget();
                self.failure = Some(one_line(&failure));
                true
            }
        }
    }

    fn ask(&mut self, desk: &Desk, stop: &dyn Fn() -> bool) -> Result<FindReport, Failure> {
        if self.schemes.is_none() {
            self.schemes = Some(schemes(desk.store)?);
        }
        let schemes = self.schemes.as_deref().unwrap_or(&[]);
        find_with(desk.store, schemes, self.typed(), LIMIT, stop)
    }

    /// Enter at the prompt.
    fn go(&mut self, desk: &Desk) -> Step {
        if self.query.is_empty() {
            return Step::Open(Box::new(Commands::over(Place::Query, self.about())));
        }
        if let Some(failure) = &self.failure {
            return Step::Say(failure.clone());
        }
        if self.marked().is_none() {
            return match text::decode(self.typed(), desk) {
                Ok(reading) => Step::Open(Box::new(reading)),
                Err(failure) => failure.into(),
            };
        }
        if self.direct() {
            return self.about_marked(Id::Open, desk);
        }
        self.focus = Focus::List;
        Step::Stay
    }

    /// Whether enter opens the marked match: the only one, the only one that
    /// bears the number typed, or one that was marked by hand.
    fn direct(&self) -> bool {
        let typed = fold(self.typed());
        let named = |m: &&Match| m.how <= How::Folded && !m.lacks_words();
        let bears = |m: &&Match| named(m) && fold(&m.name) == typed;
        let only_one = |which: &dyn Fn(&&Match) -> bool| {
            self.matches().iter().filter(|m| which(m)).count() == 1
                && self.marked().is_some_and(|m| which(&m))
        };
        let sure = |m: &Match| !m.is_guess() && !m.lacks_words();
        let only = self.matches().len() == 1 && self.marked().is_some_and(sure);
        only || self.moved || only_one(&named) || only_one(&bears)
    }

    fn about_marked(&self, id: Id, desk: &Desk) -> Step {
        let Some(marked) = self.marked() else {
            return Step::Say("the list is empty".to_string());
        };
        if id == Id::Open && marked.is_guess() {
            return match CardScreen::read(marked.rec, desk) {
                Ok(card) => Step::Open(Box::new(card.reached_by(self.reached(marked)))),
                Err(failure) => failure.into(),
            };
        }
        match record_at(marked.rec, desk) {
            Ok(record) => about_record(id, &record, desk),
            Err(failure) => failure.into(),
        }
    }

    /// What a card says that was opened from a guess.
    fn reached(&self, m: &Match) -> String {
        let typed = Line::of(Role::Plain, self.typed()).cut(LONGEST_SAID, "…");
        let named = self.answers.as_ref().is_some_and(FindReport::named);
        let not = if named {
            ""
        } else {
            ", which is not on record"
        };
        format!("you typed {}{not}; this is {}", typed.plain(), m.name)
    }

    /// The radio line in the preview; in the status line where there is none.
    fn toggle_say(&mut self, desk: &Desk) -> Step {
        if self.has_preview {
            self.say = !self.say;
            return Step::Stay;
        }
        let Some(marked) = self.marked() else {
            return Step::Stay;
        };
        match card(desk.store, marked.rec, desk.clock) {
            Ok(card) => Step::Say(format!("say {}", card.say)),
            Err(failure) => failure.into(),
        }
    }

    fn pick(&mut self, chord: Chord, desk: &Desk) -> Step {
        let digit = digit(chord).unwrap_or(0);
        match self.rows.by_digit(&self.list(self.list_width), digit) {
            Some(entry) => {
                self.rows.marked = entry;
                self.about_marked(Id::Open, desk)
            }
            None => Step::Say(format!("no row has the digit {digit}")),
        }
    }

    /// Whether enough is typed for a search.
    fn searches(&self, desk: &Desk) -> bool {
        let typed = self.query.text().chars().count();
        self.focus == Focus::List || typed >= measure(desk).keys
    }

    /// Asked for by moving into it.
    fn asked(&self) -> bool {
        self.moved || self.focus == Focus::List
    }

    /// Whether there is width and link for everything at every key.
    fn roomy(&self, desk: &Desk) -> bool {
        self.screen_width >= BESIDE && !desk.thin
    }

    /// Whether the matches are listed: asked for, few, or with room to spare.
    fn lists(&self, desk: &Desk) -> bool {
        let few = self.matches().len() <= usize::from(measure(desk).rows);
        let more = self.answers.as_ref().is_some_and(|a| a.more);
        self.asked() || self.roomy(desk) || (few && !more)
    }

    /// Whether the marked match is previewed: the one that enter would open,
    /// or one that was asked for.
    fn shows_preview(&self, desk: &Desk) -> bool {
        self.screen_width >= ONE_AT_A_TIME
            && (self.asked() || self.roomy(desk) || (self.lists(desk) && self.direct()))
            && self.searches(desk)
            && self.marked().is_some()
    }
}

impl Screen for Find {
    fn place(&self) -> Place {
        match self.focus {
            Focus::Query => Place::Query,
            Focus::List => Place::List,
        }
    }

    fn about(&self) -> About {
        About {
            kind: self.marked().map(|m| m.kind),
            rows: self.matches().len(),
            empty: self.query.is_empty(),
            direct: self.direct(),
        }
    }

    fn run(&mut self, id: Id, chord: Chord, desk: &Desk) -> Step {
        let entries = self.matches().len();
        match (id, self.focus) {
            (Id::Enter, _) => return self.go(desk),
            (Id::Pick, _) => return self.pick(chord, desk),
            (Id::FindAnew, _) => self.afresh(),
            (Id::Erase, _) => {
                if !self.query.erase() {
                    return Step::Say(FIRST_SCREEN.to_string());
                }
            }
            (Id::ClearLine, _) => self.query.clear(),
            (Id::ClearWord, _) => self.query.erase_word(),
            (Id::Back, Focus::List) => self.focus = Focus::Query,
            (Id::Back, Focus::Query) => return Step::Say(FIRST_SCREEN.to_string()),
            (Id::Next, _) => self.rows.next(entries),
            (Id::Previous, _) => self.rows.previous(),
            (Id::HalfDown, _) => self.rows.half_down(entries),
            (Id::HalfUp, _) => self.rows.half_up(),
            (Id::Top, _) => self.rows.marked = 0,
            (Id::End, _) => self.rows.to_end(entries),
            (Id::Say, _) => return self.toggle_say(desk),
            (Id::ReportUnlisted, _) => {
                return Step::Open(Box::new(Propose::unlisted(self.typed())));
            }
            (other, _) => return self.about_marked(other, desk),
        }
        self.moved |= matches!(id, Id::Next | Id::Previous | Id::HalfDown | Id::HalfUp);
        Step::Stay
    }

    fn settle(&mut self, desk: &Desk) {
        if !self.answered() {
            self.look_up(desk, &|| false);
        }
    }

    fn type_in(&mut self, c: char) {
        self.query.type_in(c);
        self.greeting = None;
    }

    fn paste(&mut self, text: &str) -> bool {
        if self.focus == Focus::List {
            return false;
        }
        self.query.paste(text);
        self.greeting = None;
        true
    }

    fn work(&mut self, desk: &Desk, stop: &dyn Fn() -> bool) -> bool {
        let mut changed = false;
        if !self.answered() && (self.searches(desk) || self.typed().is_empty()) {
            changed = self.look_up(desk, stop);
            // A burst of keys is searched before it is drawn.
            self.has_preview = self.screen_width > 0 && self.shows_preview(desk);
        }
        let preview_of = self.preview.as_ref().map(|(rec, _)| *rec);
        let marked = self.marked().map(|m| m.rec);
        if self.answered()
            && self.has_preview
            && marked.is_some()
            && marked != preview_of
            && !stop()
        {
            self.preview =
                marked.and_then(|rec| card(desk.store, rec, desk.clock).ok().map(|c| (rec, c)));
            // A card that cannot be read leaves its place empty and is not tried again and again.
            changed = self.preview.is_some() || changed;
            self.has_preview = self.preview.is_some();
        }
        changed
    }

    fn watches(&self) -> bool {
        self.preview.is_some()
    }

    fn register_changed(&mut self, _desk: &Desk) -> bool {
        self.schemes = None;
        self.preview = None;
        true
    }

    fn uncovered(&mut self) {
        if !self.matches().is_empty() && !self.query.is_empty() {
            self.focus = Focus::List;
        }
    }

    fn draw(&mut self, buffer: &mut Buffer, area: Rect, desk: &Desk) -> Option<Position> {
        let prompt = prompt_line(PROMPT, self.query.text(), area.width, desk);
        put(buffer, row(area, 0), &prompt, desk.look);
        let body = Rect::new(
            area.x,
            area.y + 2,
            area.width,
            area.height.saturating_sub(2),
        );
        self.screen_width = area.width;
        self.has_preview = self.shows_preview(desk);
        if self.query.is_empty() {
            self.draw_opening(buffer, body, desk);
        } else if self.searches(desk) {
            put(buffer, row(area, 1), &self.info(desk), desk.look);
            match &self.answers {
                Some(answers) if answers.matches.is_empty() && self.answered() => {
                    self.draw_nothing_found(buffer, body, desk);
                }
                Some(_) if self.lists(desk) => self.draw_answers(buffer, body, desk),
                _ => {}
            }
        }
        (self.focus == Focus::Query)
            .then(|| caret_after(area, PROMPT, self.query.text()))
            .flatten()
    }
}

const FIRST_SCREEN: &str = "this is the first screen; enter with nothing typed lists the commands";
