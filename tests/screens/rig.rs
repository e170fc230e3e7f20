//! Screens on a grid in memory: keys in, text and looks out. Time stands still.

use std::path::Path;
use std::rc::Rc;
use std::sync::OnceLock;

use polecard::calendar::{Clock, Moment};
use polecard::domain::change::{Change, Edit, Operation};
use polecard::keys::Chord;
use polecard::store::{Access, Store, StoreError, fresh_id};
use polecard::tui::{Screens, Setup};
use polecard::work::demo;
use ratatui::buffer::Buffer;
use ratatui::layout::{Position, Rect};
use ratatui::style::{Color, Modifier};
use tempfile::TempDir;

/// The moment of every test.
pub fn now() -> Moment {
    "2026-10-03T14:10:00-06:00".parse().unwrap()
}

/// The path of the demo register, installed once for all tests.
pub fn demo() -> Rc<TempDir> {
    Rc::new(copy_of_demo())
}

/// A demo register of one's own.
pub fn copy_of_demo() -> TempDir {
    static MADE: OnceLock<TempDir> = OnceLock::new();
    let made = MADE.get_or_init(|| {
        let dir = tempfile::tempdir().unwrap();
        demo::install(&dir.path().join("register.polecard"), Clock::Fixed(now())).unwrap();
        dir
    });
    let own = tempfile::tempdir().unwrap();
    std::fs::copy(
        made.path().join("register.polecard"),
        own.path().join("register.polecard"),
    )
    .unwrap();
    own
}

/// Changes one field of a record from another connection.
pub fn edit(path: &Path, name: &str, field: &str, value: &str) {
    let mut store = Store::open(path, Access::Write).unwrap();
    let hit = store.named(name).unwrap().remove(0);
    let record = store.by_row(hit.rec).unwrap().unwrap().record;
    let change = Change::Edit(Edit {
        id: record.id(),
        kind: record.kind(),
        field: field.to_string(),
        old: record.to_value()[field].clone(),
        new: value.into(),
    });
    let operation = Operation {
        id: fresh_id(now()),
        who: "dc".to_string(),
        entered: now(),
        effective: None,
        why: "seen from the road".to_string(),
        origin: None,
        undoes: None,
    };
    let changes = [Ok::<_, StoreError>(change)];
    assert_eq!(store.apply(&operation, changes).unwrap(), 1);
}

/// Screens under test.
pub struct Rig {
    screens: Screens,
    buffer: Buffer,
    caret: Option<Position>,
    _register: Option<Rc<TempDir>>,
}

impl Rig {
    /// Over a register in a folder, with colour and any character.
    pub fn new(register: Rc<TempDir>, width: u16, height: u16) -> Self {
        Self::start(register, width, height, true)
    }

    /// The same without colour and in ASCII.
    pub fn plain(register: Rc<TempDir>, width: u16, height: u16) -> Self {
        Self::start(register, width, height, false)
    }

    fn start(register: Rc<TempDir>, width: u16, height: u16, rich: bool) -> Self {
        let path = register.path().join("register.polecard");
        let mut rig = Self::over(&path, width, height, rich);
        rig._register = Some(register);
        rig
    }

    /// Over a register at a path.
    pub fn on(path: &Path, width: u16, height: u16) -> Self {
        Self::over(path, width, height, true)
    }

    fn over(path: &Path, width: u16, height: u16, rich: bool) -> Self {
        let store = Store::open(path, Access::Read).unwrap();
        let setup = Setup {
            clock: Clock::Fixed(now()),
            colour: rich,
            ascii: !rich,
            thin_link: None,
            greeting: None,
            who: "lw".to_string(),
            drafts: path.parent().map(|folder| folder.join("drafts")),
        };
        let mut rig = Rig {
            screens: Screens::new(store, setup).unwrap(),
            buffer: Buffer::empty(Rect::new(0, 0, width, height)),
            caret: None,
            _register: None,
        };
        rig.draw();
        rig
    }

    fn draw(&mut self) {
        // A frame, the work that it makes room for, and the frame with its result.
        for _ in 0..3 {
            self.screens.work(&|| false);
            if !self.screens.dirty() {
                break;
            }
            self.paint();
        }
    }

    fn paint(&mut self) {
        self.buffer.reset();
        let area = self.buffer.area;
        self.caret = self.screens.draw(&mut self.buffer, area);
    }

    /// Types a script: characters, and keys by name in `<>`; draws after each.
    pub fn keys(&mut self, script: &str) {
        for chord in chords(script) {
            self.screens.on_key(chord);
            self.draw();
        }
    }

    /// Presses one key.
    pub fn press(&mut self, chord: Chord) {
        self.screens.on_key(chord);
        self.draw();
    }

    /// The same, drawn once at the end.
    pub fn burst(&mut self, script: &str) {
        for chord in chords(script) {
            self.screens.on_key(chord);
        }
        self.draw();
    }

    /// A burst whose search takes longer than a frame waits for: the keys are
    /// painted first, then once what the search gave.
    pub fn long_search(&mut self, script: &str) {
        for chord in chords(script) {
            self.screens.on_key(chord);
        }
        for stopped in [true, false] {
            self.screens.work(&|| stopped);
            self.paint();
        }
    }

    pub fn paste(&mut self, text: &str) {
        self.screens.on_paste(text);
        self.draw();
    }

    pub fn resize(&mut self, width: u16, height: u16) {
        self.buffer = Buffer::empty(Rect::new(0, 0, width, height));
        self.screens.on_resize(width);
        self.draw();
    }

    /// Holds what is open against the register; true when that shows.
    pub fn looks(&mut self) -> bool {
        self.screens.look_whether_changed();
        let shows = self.screens.dirty();
        self.draw();
        shows
    }

    pub fn exit(&self) -> Option<i32> {
        self.screens.wants_exit()
    }

    pub fn buffer(&self) -> &Buffer {
        &self.buffer
    }

    /// The screen as text, the caret left out.
    pub fn text(&self) -> String {
        self.grid(|cell| cell.symbol().to_string())
    }

    pub fn has_colour(&self) -> bool {
        self.buffer.content().iter().any(|c| c.fg != Color::Reset)
    }

    /// Whether the text that begins with this is drawn bold.
    pub fn is_bold_at(&self, text: &str) -> bool {
        let start: String = text.chars().take(4).collect();
        let all = self.text();
        let (y, x) = all
            .lines()
            .enumerate()
            .find_map(|(y, l)| l.find(&start).map(|x| (y, x)))
            .unwrap();
        let cell = &self.buffer[(u16::try_from(x).unwrap(), u16::try_from(y).unwrap())];
        cell.modifier.contains(Modifier::BOLD)
    }

    /// Text, looks and caret, for a snapshot.
    pub fn shot(&self) -> String {
        let caret = self
            .caret
            .map_or("none".to_string(), |c| format!("{},{}", c.x, c.y));
        format!(
            "{}\n--- looks ---\n{}\n--- caret {caret}",
            self.text(),
            self.grid(|cell| look(cell).to_string())
        )
    }

    fn grid(&self, of: impl Fn(&ratatui::buffer::Cell) -> String) -> String {
        let area = self.buffer.area;
        let mut lines = Vec::new();
        for y in 0..area.height {
            let mut line = String::new();
            let mut covered = 0;
            for x in 0..area.width {
                let cell = &self.buffer[(x, y)];
                if covered == 0 {
                    line.push_str(&of(cell));
                    covered = unicode_width::UnicodeWidthStr::width(cell.symbol()).max(1);
                }
                covered -= 1;
            }
            lines.push(line.trim_end().to_string());
        }
        lines.join("\n")
    }
}

/// One letter a look: r red, m magenta, g green, a capital when bold, b bold,
/// d dim, u underlined, v reversed; a blank where nothing is special.
fn look(cell: &ratatui::buffer::Cell) -> char {
    let bold = cell.modifier.contains(Modifier::BOLD);
    let colour = match cell.fg {
        Color::Red => 'r',
        Color::Magenta => 'm',
        Color::Green => 'g',
        Color::Reset => ' ',
        _ => '#',
    };
    match (colour, bold) {
        (' ', _) if cell.modifier.contains(Modifier::REVERSED) => 'v',
        (' ', _) if cell.modifier.contains(Modifier::UNDERLINED) => 'u',
        (' ', true) => 'b',
        (' ', false) if cell.modifier.contains(Modifier::DIM) => 'd',
        (c, true) => c.to_ascii_uppercase(),
        (c, false) => c,
    }
}

fn chords(script: &str) -> Vec<Chord> {
    let mut out = Vec::new();
    let mut rest = script;
    while let Some(first) = rest.chars().next() {
        let named = rest.strip_prefix('<').and_then(|r| r.split_once('>'));
        match named.and_then(|(name, after)| Some((Chord::parse(name).ok()?, after))) {
            Some((chord, after)) => {
                out.push(chord);
                rest = after;
            }
            None => {
                out.push(Chord::char(first));
                rest = &rest[first.len_utf8()..];
            }
        }
    }
    out
}
