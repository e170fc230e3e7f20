//! Floor 6: the stack of screens, the status line and the hint bar; which key
//! is which command. Knows no terminal.

use std::path::PathBuf;
use std::time::{Duration, Instant};

use ratatui::buffer::Buffer;
use ratatui::layout::{Position, Rect};

use crate::calendar::{Clock, Date};
use crate::domain::who::Who;
use crate::exchange::waiting;
use crate::keys::Chord;
use crate::present::Line;
use crate::role::Role;
use crate::store::{Place, Store};
use crate::tui::command::{self, Applies, Command, Id};
use crate::tui::screen::{Commands, Desk, Find, Screen, Step, about_all, greeting, help};
use crate::tui::theme::Theme;
use crate::tui::widget::{LEAST, Look, hints, put, row, too_small};
use crate::work::Failure;

/// How often an open card is held against the register.
const LOOK_EVERY: Duration = Duration::from_secs(2);
/// Under this width the link is taken for a slow one.
const THIN_UNDER: u16 = 60;

/// How the screens are set up.
#[derive(Debug, Clone)]
pub struct Setup {
    pub clock: Clock,
    pub colour: bool,
    pub ascii: bool,
    /// Whether the link is taken for a slow one; none: by the width.
    pub thin_link: Option<bool>,
    /// Said once on the first screen.
    pub greeting: Option<String>,
    /// Who acts, for what is written.
    pub who: String,
    /// The folder of the account's own drafts; none when it has no home.
    pub drafts: Option<PathBuf>,
}

/// The screens of one register.
pub struct Screens {
    store: Store,
    setup: Setup,
    /// What the register is called in the status line.
    register: String,
    demo: bool,
    find: Find,
    above: Vec<Box<dyn Screen>>,
    said: Option<String>,
    dirty: bool,
    exit: Option<i32>,
    suspend: bool,
    repaint: bool,
    width: u16,
    version: i64,
    /// The day of which the store tells.
    held: Date,
    look_at: Option<Instant>,
    /// Why what is shown is no longer what stands at the register's place.
    lost: Option<String>,
}

impl Screens {
    /// The find screen over a register.
    ///
    /// # Errors
    /// Those of the register.
    pub fn new(mut store: Store, mut setup: Setup) -> Result<Self, Failure> {
        let held = setup.clock.today();
        store.hold_back(held)?;
        let (register, demo) = called(&store)?;
        let version = store.data_version()?;
        let unfinished = greeting(&waiting(setup.drafts.as_deref(), store.path()));
        let said = [setup.greeting.take(), unfinished];
        setup.greeting = said
            .into_iter()
            .flatten()
            .reduce(|a, b| format!("{a}\n{b}"));
        Ok(Screens {
            find: Find::new(setup.greeting.take()),
            store,
            setup,
            register,
            demo,
            above: Vec::new(),
            said: None,
            dirty: true,
            exit: None,
            suspend: false,
            repaint: false,
            width: 80,
            version,
            held,
            look_at: None,
            lost: None,
        })
    }

    /// Takes a key press.
    pub fn on_key(&mut self, chord: Chord) {
        self.dirty = true;
        self.said = None;
        let below = self.above.len();
        if self.look_whether_there() && below > 0 {
            // The key was meant for a screen that is gone.
            return;
        }
        let place = self.top().place();
        if place.types()
            && let Some(c) = chord.typed().filter(|c| *c != '?')
        {
            self.top_mut().type_in(c);
            return;
        }
        match command::lookup(place, chord) {
            Some(command) => self.run(command, chord),
            None => match self.letter_of_screen_below(chord) {
                Some(command) => self.take(Step::CloseAndRun(command.id), chord),
                None => self.said = Some(command::refusal(place, chord)),
            },
        }
    }

    /// Takes pasted text: into a field, else as one new search.
    pub fn on_paste(&mut self, text: &str) {
        self.dirty = true;
        self.said = None;
        self.look_whether_there();
        if !self.top_mut().paste(text) {
            self.find_anew();
            self.find.paste(text);
        }
    }

    /// The window has another size.
    pub fn on_resize(&mut self, width: u16) {
        self.width = width;
        self.dirty = true;
    }

    /// Time to hold what is open against the register.
    pub fn on_tick(&mut self, now: Instant) {
        self.look_at = self.watching().then(|| now + LOOK_EVERY);
        // What was said of an earlier key has nothing to do with what is seen now.
        let said = self.said.take();
        if self.look_whether_there() {
            return;
        }
        self.said = said;
        self.look_whether_changed();
    }

    /// Holds what is open against the register when something was written.
    pub fn look_whether_changed(&mut self) {
        if self.look_whether_there() || self.lost.is_some() {
            return;
        }
        let Ok(version) = self.store.data_version() else {
            return;
        };
        let today = self.setup.clock.today();
        if version == self.version && today == self.held {
            return;
        }
        (self.version, self.held) = (version, today);
        if self.store.hold_back(today).is_err() {
            return;
        }
        let (find, above, desk) = self.parts();
        // What is covered learns of it too, but only the top one shows.
        let mut shows = find.register_changed(&desk);
        for screen in above {
            shows = screen.register_changed(&desk);
        }
        self.dirty |= shows;
    }

    /// Holds the file that is open against what stands at its place, and goes
    /// over to another that was put there; true when it did so.
    fn look_whether_there(&mut self) -> bool {
        let lost = match self.store.place() {
            Place::Same => None,
            Place::Gone(why) => Some(format!("NO REGISTER at {}: {why}.", self.path())),
            Place::Other => match self.go_over() {
                Ok(()) => {
                    self.dirty = true;
                    return true;
                }
                Err(failure) => Some(format!("NO REGISTER: {}.", failure.message)),
            },
        };
        let lost = lost.map(|l| format!("{l} What shows was read before; nothing is written."));
        self.dirty |= lost != self.lost;
        self.lost = lost;
        false
    }

    /// Reads everything anew from the file that was put in the register's
    /// place. A screen above the search rests on rows of the file before and
    /// closes; what was answered in a form waits in its draft.
    fn go_over(&mut self) -> Result<(), Failure> {
        self.store.reopen()?;
        self.store.hold_back(self.setup.clock.today())?;
        (self.register, self.demo) = called(&self.store)?;
        self.version = self.store.data_version()?;
        self.lost = None;
        self.above.clear();
        self.find.reread();
        let said = self.said.take().map(|s| format!("{s}. "));
        self.said = Some(format!(
            "{}ANOTHER FILE was put in the place of {}: everything is read from it from here on. A form under way waits among the unfinished forms",
            said.unwrap_or_default(),
            self.path()
        ));
        Ok(())
    }

    fn path(&self) -> String {
        self.store.path().display().to_string()
    }

    /// When to look next.
    #[must_use]
    pub fn look_at(&self) -> Option<Instant> {
        self.look_at
    }

    /// Searches and reads cards until done or told to stop.
    pub fn work(&mut self, stop: &dyn Fn() -> bool) {
        let (find, above, desk) = self.parts();
        let changed = match above.last_mut() {
            Some(top) => top.work(&desk, stop),
            None => find.work(&desk, stop),
        };
        self.dirty |= changed;
        if self.look_at.is_none() && self.watching() {
            self.look_at = Some(Instant::now() + LOOK_EVERY);
        }
    }

    fn watching(&self) -> bool {
        self.find.watches() || self.above.iter().any(|s| s.watches())
    }

    #[must_use]
    pub fn dirty(&self) -> bool {
        self.dirty
    }

    #[must_use]
    pub fn wants_exit(&self) -> Option<i32> {
        self.exit
    }

    pub fn wants_suspend(&mut self) -> bool {
        std::mem::take(&mut self.suspend)
    }

    pub fn wants_repaint(&mut self) -> bool {
        std::mem::take(&mut self.repaint)
    }

    fn top(&self) -> &dyn Screen {
        self.above.last().map_or(&self.find, |s| s.as_ref())
    }

    fn top_mut(&mut self) -> &mut dyn Screen {
        match self.above.last_mut() {
            Some(top) => top.as_mut(),
            None => &mut self.find,
        }
    }

    /// The two kinds of screens, and what they work with.
    fn parts(&mut self) -> (&mut Find, &mut Vec<Box<dyn Screen>>, Desk<'_>) {
        let desk = Desk {
            store: &self.store,
            clock: self.setup.clock,
            look: Look {
                theme: Theme {
                    colour: self.setup.colour,
                },
                ascii: self.setup.ascii,
            },
            thin: self.setup.thin_link.unwrap_or(self.width < THIN_UNDER),
            who: &self.setup.who,
            drafts: self.setup.drafts.as_deref(),
        };
        (&mut self.find, &mut self.above, desk)
    }

    /// In the list of commands the letters of the screen below count as well.
    fn letter_of_screen_below(&self, chord: Chord) -> Option<&'static Command> {
        if self.top().place() != command::Place::Commands {
            return None;
        }
        let below = match self.above.len() {
            0 | 1 => self.find.place(),
            n => self.above[n - 2].place(),
        };
        let letters = if below.types() {
            command::Place::List
        } else {
            below
        };
        command::lookup(letters, chord)
            .filter(|found| command::of(below).any(|here| here.id == found.id))
    }

    fn run(&mut self, command: &Command, chord: Chord) {
        if !matches!(command.id, Id::Erase | Id::ClearLine | Id::ClearWord) {
            let (find, above, desk) = self.parts();
            match above.last_mut() {
                Some(top) => top.settle(&desk),
                None => find.settle(&desk),
            }
        }
        if let Applies::No(why) = (command.applies)(&self.top().about()) {
            self.said = Some(why.to_string());
            return;
        }
        self.run_id(command.id, chord);
    }

    fn run_id(&mut self, id: Id, chord: Chord) {
        let place = self.top().place();
        match id {
            Id::Quit => self.exit = Some(0),
            Id::Suspend => self.suspend = true,
            Id::Repaint => self.repaint = true,
            Id::Help => self.above.push(Box::new(help(place))),
            Id::Commands => {
                let commands = Commands::over(place, self.top().about());
                self.above.push(Box::new(commands));
            }
            id => {
                let (find, above, desk) = self.parts();
                let step = about_all(id, &desk).unwrap_or_else(|| match above.last_mut() {
                    Some(top) => top.run(id, chord, &desk),
                    None => find.run(id, chord, &desk),
                });
                self.take(step, chord);
                // What this very command wrote shows at once.
                self.look_whether_changed();
            }
        }
    }

    fn take(&mut self, step: Step, chord: Chord) {
        match step {
            Step::Stay => {}
            Step::Say(text) => self.said = Some(text),
            Step::Open(screen) => self.above.push(screen),
            Step::Instead(screen) => {
                self.above.pop();
                self.above.push(screen);
            }
            Step::Close => self.close(),
            Step::CloseAndSay(text) => {
                self.close();
                self.said = Some(text);
            }
            Step::CloseAndRun(id) => {
                self.close();
                let place = self.top().place();
                let found = command::of(place).find(|c| c.id == id);
                match found {
                    Some(command) => self.run(command, chord),
                    None => self.run_id(id, chord),
                }
            }
            Step::FindAnew => self.find_anew(),
        }
    }

    fn close(&mut self) {
        self.above.pop();
        self.top_mut().uncovered();
    }

    fn find_anew(&mut self) {
        self.above.clear();
        self.find.afresh();
    }

    /// Draws everything; returns where the caret is, if there is one.
    pub fn draw(&mut self, buffer: &mut Buffer, area: Rect) -> Option<Position> {
        self.dirty = false;
        self.width = area.width;
        if area.width < LEAST.0 || area.height < LEAST.1 {
            too_small(buffer, area);
            return None;
        }
        // What is said stands whole on rows of its own above the hints.
        let mut said = Vec::new();
        if self.says() {
            said = self.status(area.width).folded(usize::from(area.width), 1);
            said.truncate(usize::from(area.height / 2));
        }
        let rows = u16::try_from(said.len().max(1)).unwrap_or(1);
        let body = Rect::new(area.x, area.y, area.width, area.height - 1 - rows);
        let (find, above, desk) = self.parts();
        let caret = match above.last_mut() {
            Some(top) => top.draw(buffer, body, &desk),
            None => find.draw(buffer, body, &desk),
        };
        let look = desk.look;
        let bar = row(area, area.height - 1);
        if said.is_empty() {
            // After the screen was drawn: where in a text one is shows here.
            said.push(self.status(area.width));
        }
        for (y, line) in (body.height..).zip(&said) {
            put(buffer, row(area, y), line, look);
        }
        let top = self.top();
        let hints = hints(top.place(), &top.about(), usize::from(area.width));
        put(buffer, bar, &hints, look);
        caret
    }

    /// Whether the status line holds a sentence and not the usual facts.
    fn says(&self) -> bool {
        self.said.is_some()
            || self.lost.is_some()
            || self
                .top()
                .note()
                .pieces
                .iter()
                .any(|p| p.role != Role::Muted)
    }

    /// The register's name, DEMO when it is made up, and what there is to say.
    fn status(&self, width: u16) -> Line {
        let mut line = Line::of(Role::Plain, " ");
        if self.demo {
            line.push(Role::Look, "DEMO");
            line.push(Role::Plain, " ");
        }
        let note = self.top().note();
        if let Some(said) = &self.said {
            line.push(Role::Plain, said);
        } else if let Some(lost) = &self.lost {
            line.push(Role::Stop, lost);
        } else if self.says() {
            line.pieces.extend(note.pieces);
        } else {
            // The note has its room; a long name of a register is cut for it.
            let acts = Who::read(&self.setup.who).declared;
            let acts = acts.map_or(String::new(), |name| format!(", as declared: {name}"));
            let taken = line.width() + note.width() + acts.chars().count() + 2;
            let room = usize::from(width).saturating_sub(taken).max(4);
            let look_mark = if self.setup.ascii { "~" } else { "…" };
            let name = Line::of(Role::Muted, &self.register).cut(room, look_mark);
            line.pieces.extend(name.pieces);
            line.push(Role::Muted, acts);
            if !note.pieces.is_empty() {
                line.push(Role::Muted, ", ");
                line.pieces.extend(note.pieces);
            }
        }
        line
    }
}

/// What a register is called, and whether it is made up.
fn called(store: &Store) -> Result<(String, bool), Failure> {
    let utility = store.utility()?;
    let demo = utility.as_ref().is_some_and(|u| u.demo);
    let stem = store.path().file_stem().unwrap_or_default();
    let name = utility.map_or_else(|| stem.to_string_lossy().into_owned(), |u| u.utility);
    Ok((name, demo))
}
