//! The bytes, replayed through a terminal emulator that is not ours (the vt100 crate), must give
//! the buffer that ratatui asked for; and they must be few.

use std::num::NonZeroU16;
use std::rc::Rc;

use proptest::prelude::*;
use ratatui::backend::CrosstermBackend;
use ratatui::buffer::Buffer;
use ratatui::layout::Rect;
use ratatui::style::{Color, Modifier, Style};
use ratatui::widgets::{Block, List, ListState, Paragraph};
use ratatui::{Frame, Terminal};
use unicode_width::UnicodeWidthStr;

use super::*;

/// Collects what is written and counts the calls.
#[derive(Debug, Default)]
struct Wire {
    bytes: Vec<u8>,
    writes: usize,
}

impl Write for Wire {
    fn write(&mut self, bytes: &[u8]) -> io::Result<usize> {
        self.bytes.extend(bytes);
        self.writes += 1;
        Ok(bytes.len())
    }

    fn flush(&mut self) -> io::Result<()> {
        Ok(())
    }
}

fn one_or_more(number: u16) -> NonZeroU16 {
    NonZeroU16::new(number.max(1)).unwrap()
}

struct Rig {
    terminal: Terminal<Thrifty<Wire>>,
    emulator: vt100::Parser,
}

impl Rig {
    fn new(width: u16, height: u16) -> Self {
        let backend = Thrifty::new(Wire::default(), Size::new(width, height), true);
        Self {
            terminal: Terminal::new(backend).unwrap(),
            emulator: vt100::Parser::new(one_or_more(height), one_or_more(width), 0),
        }
    }

    /// As after a window change: the emulator keeps or cuts what it had.
    fn resize(&mut self, width: u16, height: u16) {
        self.emulator
            .screen_mut()
            .set_size(one_or_more(height), one_or_more(width));
        self.terminal.backend_mut().resize(Size::new(width, height));
        self.terminal
            .resize(Rect::new(0, 0, width, height))
            .unwrap();
    }

    /// Draws, replays, and returns the frame's bytes with the buffer that was asked for.
    fn draw(&mut self, paint: impl FnOnce(&mut Frame)) -> (Vec<u8>, Buffer) {
        let asked = self.terminal.draw(paint).unwrap().buffer.clone();
        let wire = self.terminal.backend_mut().writer_mut();
        assert!(wire.writes <= 1, "one write a frame");
        let bytes = std::mem::take(wire).bytes;
        self.emulator.process(&bytes);
        (bytes, asked)
    }

    fn assert_shows(&self, asked: &Buffer) {
        let area = asked.area;
        for y in 0..area.height {
            let mut x = 0;
            while x < area.width {
                let cell = &asked[(x, y)];
                let got = self.emulator.screen().cell(y, x).unwrap();
                let (want, have) = (expected(cell), observed(got));
                assert_eq!(want, have, "column {x} row {y} of {area}");
                x += cell.symbol().width().max(1) as u16;
            }
        }
    }
}

/// Text, foreground, background, bold, dim, italic, underline, reverse; on a blank only what
/// can be seen.
type Look = (String, vt100::Color, vt100::Color, [bool; 5]);

fn seen(text: &str, fg: vt100::Color, bg: vt100::Color, marks: [bool; 5]) -> Look {
    let blank = text.is_empty() || text == " ";
    if !blank {
        (text.to_owned(), fg, bg, marks)
    } else if marks[3] || marks[4] {
        (" ".to_owned(), fg, bg, marks)
    } else {
        (" ".to_owned(), vt100::Color::Default, bg, [false; 5])
    }
}

fn expected(cell: &Cell) -> Look {
    let has = |m| cell.modifier.contains(m);
    let marks = [
        has(Modifier::BOLD),
        has(Modifier::DIM) && !has(Modifier::BOLD),
        has(Modifier::ITALIC),
        has(Modifier::UNDERLINED),
        has(Modifier::REVERSED),
    ];
    seen(cell.symbol(), palette(cell.fg), palette(cell.bg), marks)
}

fn observed(cell: &vt100::Cell) -> Look {
    let marks = [
        cell.bold(),
        cell.dim(),
        cell.italic(),
        cell.underline(),
        cell.inverse(),
    ];
    seen(cell.contents(), cell.fgcolor(), cell.bgcolor(), marks)
}

/// The order of the sixteen colours is that of the SGR codes 30 to 37 and 90 to 97.
fn palette(color: Color) -> vt100::Color {
    const ORDER: [Color; 16] = [
        Color::Black,
        Color::Red,
        Color::Green,
        Color::Yellow,
        Color::Blue,
        Color::Magenta,
        Color::Cyan,
        Color::Gray,
        Color::DarkGray,
        Color::LightRed,
        Color::LightGreen,
        Color::LightYellow,
        Color::LightBlue,
        Color::LightMagenta,
        Color::LightCyan,
        Color::White,
    ];
    match color {
        Color::Reset => vt100::Color::Default,
        Color::Indexed(index) => vt100::Color::Idx(index),
        Color::Rgb(r, g, b) => vt100::Color::Rgb(r, g, b),
        named => {
            let index = ORDER.iter().position(|c| *c == named).unwrap();
            vt100::Color::Idx(index as u8)
        }
    }
}

#[derive(Clone, Debug)]
enum Paint {
    Fill(Rect, Style),
    Text(u16, u16, String, Style),
}

#[derive(Clone, Debug)]
enum Step {
    Frame(Vec<Paint>, Option<(u16, u16)>),
    Resize(u16, u16),
    Repaint,
}

fn color() -> impl Strategy<Value = Color> {
    prop_oneof![
        4 => Just(Color::Reset),
        3 => proptest::sample::select(vec![
            Color::Black, Color::Red, Color::Gray, Color::DarkGray, Color::LightBlue, Color::White,
        ]),
        1 => (0..=255_u8).prop_map(Color::Indexed),
        1 => any::<(u8, u8, u8)>().prop_map(|(r, g, b)| Color::Rgb(r, g, b)),
    ]
}

fn style() -> impl Strategy<Value = Style> {
    let marks = proptest::sample::select(vec![
        Modifier::empty(),
        Modifier::empty(),
        Modifier::BOLD,
        Modifier::DIM,
        Modifier::REVERSED,
        Modifier::UNDERLINED,
        Modifier::ITALIC | Modifier::BOLD,
        Modifier::REVERSED | Modifier::BOLD,
    ]);
    (color(), color(), marks).prop_map(|(fg, bg, m)| Style::new().fg(fg).bg(bg).add_modifier(m))
}

fn paint() -> impl Strategy<Value = Paint> {
    let text = prop_oneof![
        4 => "[a-c ]{1,24}",
        2 => " {1,40}",
        2 => "[x中é│─ ]{1,12}",
        1 => "(a|e\u{301}|한| ){1,8}",
    ];
    prop_oneof![
        1 => (0..40_u16, 0..12_u16, 1..40_u16, 1..4_u16, style())
            .prop_map(|(x, y, w, h, s)| Paint::Fill(Rect::new(x, y, w, h), s)),
        5 => (0..40_u16, 0..12_u16, text, style()).prop_map(|(x, y, t, s)| Paint::Text(x, y, t, s)),
    ]
}

fn step() -> impl Strategy<Value = Step> {
    let caret = proptest::option::of((0..40_u16, 0..12_u16));
    prop_oneof![
        12 => (proptest::collection::vec(paint(), 0..10), caret)
            .prop_map(|(paints, caret)| Step::Frame(paints, caret)),
        1 => (1..44_u16, 1..14_u16).prop_map(|(w, h)| Step::Resize(w, h)),
        1 => Just(Step::Repaint),
    ]
}

fn apply(frame: &mut Frame, paints: &[Paint]) {
    let area = frame.area();
    // Fills first: a fill across half of a wide glyph is nothing a widget does.
    for paint in paints {
        if let Paint::Fill(rect, style) = paint {
            frame
                .buffer_mut()
                .set_style(rect.intersection(area), *style);
        }
    }
    for paint in paints {
        if let Paint::Text(x, y, text, style) = paint
            && *x < area.width
            && *y < area.height
        {
            frame.buffer_mut().set_string(*x, *y, text, *style);
        }
    }
}

fn replay(size: (u16, u16), steps: &[Step]) {
    let mut rig = Rig::new(size.0, size.1);
    for step in steps {
        match step {
            Step::Resize(width, height) => rig.resize(*width, *height),
            Step::Repaint => rig.terminal.backend_mut().invalidate(),
            Step::Frame(paints, caret) => {
                let mut caret_at = None;
                let (_, asked) = rig.draw(|frame| {
                    apply(frame, paints);
                    let area = frame.area();
                    caret_at = caret.filter(|(x, y)| *x < area.width && *y < area.height);
                    if let Some(at) = caret_at {
                        frame.set_cursor_position(at);
                    }
                });
                rig.assert_shows(&asked);
                if let Some((x, y)) = caret_at {
                    assert_eq!(rig.emulator.screen().cursor_position(), (y, x));
                    assert!(!rig.emulator.screen().hide_cursor());
                }
                let (bytes, _) = rig.draw(|frame| {
                    apply(frame, paints);
                    if let Some(at) = caret_at {
                        frame.set_cursor_position(at);
                    }
                });
                assert!(bytes.is_empty(), "the same again costs nothing");
            }
        }
    }
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(400))]

    #[test]
    fn replayed_bytes_give_the_buffer_asked_for(
        size in (1..44_u16, 1..14_u16),
        steps in proptest::collection::vec(step(), 1..10),
    ) {
        replay(size, &steps);
    }
}

fn list_and_detail(frame: &mut Frame, selected: usize, colour: Color) {
    let area = frame.area();
    let (list, pane) = (
        Rect { width: 48, ..area },
        Rect {
            x: 49,
            width: 30,
            ..area
        },
    );
    let rows = (0..200).map(|n| format!("40-{n:03}  HB2-RC-{n:03}  Tannery Rd {}", n * 37 % 991));
    let widget = List::new(rows).highlight_style(Style::new().add_modifier(Modifier::REVERSED));
    let mut state = ListState::default().with_selected(Some(selected));
    frame.render_stateful_widget(widget, list, &mut state);
    let detail = format!(
        "unit   {}\ncarries {} A\nbreaks  {} A\nsince  2018-06-{:02}",
        selected * 7919,
        selected * 10 % 400,
        selected * 1000 % 7000,
        selected % 28 + 1
    );
    let block = Block::bordered().title("plate").border_style(colour);
    frame.render_widget(Paragraph::new(detail).block(block), pane);
}

/// Counts bytes behind a backend that keeps its writer to itself.
struct Counter(Rc<std::cell::Cell<usize>>);

impl Write for Counter {
    fn write(&mut self, bytes: &[u8]) -> io::Result<usize> {
        self.0.set(self.0.get() + bytes.len());
        Ok(bytes.len())
    }

    fn flush(&mut self) -> io::Result<()> {
        Ok(())
    }
}

/// Bytes of the first frame and of each of twenty moves, ours and ratatui's own backend's.
fn moves() -> (Vec<usize>, Vec<usize>) {
    let mut rig = Rig::new(80, 24);
    let sent = Rc::new(std::cell::Cell::new(0));
    let mut stock = Terminal::with_options(
        CrosstermBackend::new(Counter(Rc::clone(&sent))),
        ratatui::TerminalOptions {
            viewport: ratatui::Viewport::Fixed(Rect::new(0, 0, 80, 24)),
        },
    )
    .unwrap();
    let (mut ours, mut theirs) = (Vec::new(), Vec::new());
    for selected in 0..21 {
        let (bytes, asked) = rig.draw(|frame| list_and_detail(frame, selected, Color::Cyan));
        rig.assert_shows(&asked);
        ours.push(bytes.len());
        let before = sent.get();
        stock
            .draw(|frame| list_and_detail(frame, selected, Color::Cyan))
            .unwrap();
        theirs.push(sent.get() - before);
    }
    (ours, theirs)
}

/// Reference: ratatui's own crossterm backend, drawing the same frames.
#[test]
fn a_list_with_a_pane_costs_far_less_than_the_stock_backend() {
    let (ours, theirs) = moves();
    assert!(ours[0] * 10 < theirs[0] * 8, "first {ours:?} {theirs:?}");
    let (all, stock): (usize, usize) = (ours[1..].iter().sum(), theirs[1..].iter().sum());
    assert!(all * 10 < stock * 8, "moves {ours:?} {theirs:?}");
}

#[test]
fn without_colour_the_selection_is_still_reversed() {
    let backend = Thrifty::new(Wire::default(), Size::new(20, 2), false);
    let mut terminal = Terminal::new(backend).unwrap();
    let look = Style::new()
        .fg(Color::Red)
        .add_modifier(Modifier::REVERSED | Modifier::BOLD);
    terminal
        .draw(|frame| frame.buffer_mut().set_string(0, 0, "chosen", look))
        .unwrap();
    let mut emulator = vt100::Parser::new(one_or_more(2), one_or_more(20), 0);
    emulator.process(&terminal.backend().writer().bytes);
    let cell = emulator.screen().cell(0, 2).unwrap();
    assert!(cell.inverse() && cell.bold());
    assert_eq!(cell.fgcolor(), vt100::Color::Default);
}

#[test]
fn nothing_that_a_terminal_would_obey_is_passed_on() {
    let mut rig = Rig::new(20, 1);
    let (bytes, _) = rig.draw(|frame| {
        let symbols = [
            "\u{1b}", "\u{9b}", "\u{7}", "\u{202e}", "\u{7f}", "\u{200b}", "",
        ];
        for (column, symbol) in symbols.into_iter().enumerate() {
            // Doubled, since one control character alone trips an assertion in the library; the
            // pair counts as two columns there.
            let cell = &mut frame.buffer_mut().content[column * 2];
            cell.set_symbol(&symbol.repeat(2));
        }
    });
    assert_eq!(rig.emulator.screen().contents().trim_end(), "? ? ? ? ?");
    let text = String::from_utf8(bytes).unwrap();
    let rest = text.replace("\u{1b}[m\u{1b}[H\u{1b}[J", "");
    assert!(!rest.chars().any(|c| c.is_control()), "{rest:?}");
}

#[test]
fn the_known_short_ways() {
    let mut rig = Rig::new(80, 24);
    let show = |x: u16, y: u16, text: &'static str| {
        move |frame: &mut Frame| frame.buffer_mut().set_string(x, y, text, Style::new())
    };
    let mut cost = |paint: &dyn Fn(&mut Frame)| {
        let bytes = rig.draw(paint).0;
        String::from_utf8(bytes).unwrap().replace('\u{1b}', "^")
    };
    assert_eq!(cost(&show(0, 0, "find: 40-1")), "^[m^[H^[Jfind: 40-1");
    assert_eq!(cost(&show(0, 0, "find: 40-11")), "1");
    assert_eq!(cost(&show(0, 0, "find: 40-1")), "\u{8} ");
    assert_eq!(cost(&show(0, 0, "find: 41-1")), "^[4D1");
    assert_eq!(cost(&|_| ()), "\r^[K");
}

/// Terminals differ on all of these, the emulator has one opinion; so the bytes themselves count.
#[test]
fn where_terminals_differ_nothing_is_assumed() {
    let mut rig = Rig::new(10, 3);
    let mut cost = |texts: &[(u16, u16, &str)]| {
        let bytes = rig.draw(|frame| {
            for (x, y, text) in texts {
                frame.buffer_mut().set_string(*x, *y, text, Style::new());
            }
        });
        String::from_utf8(bytes.0).unwrap().replace('\u{1b}', "^")
    };
    cost(&[]);
    // After the last column: carriage return or an absolute place, no relative step.
    assert_eq!(cost(&[(9, 0, "x"), (8, 1, "y")]), "^[9Cx^[2;9Hy");
    // After several code points in a cell the column is not known.
    assert_eq!(cost(&[(0, 0, "e\u{301}f")]), "^[He\u{301}^[;2Hf^[K\r\n^[K");
    // Both cells of a wide glyph that goes are written.
    cost(&[(0, 0, "中")]);
    assert_eq!(cost(&[(0, 0, "a")]), "\ra ");
}

/// A marker that moves down a row: the width of the gap decides nothing.
#[test]
fn a_marker_moves_in_few_bytes() {
    let mut rig = Rig::new(80, 24);
    let rows = |chosen: u16| {
        move |frame: &mut Frame| {
            for y in 0..20 {
                let mark = if y == chosen { '>' } else { ' ' };
                let text = format!("{mark} 40-{y:03} Tannery Rd");
                frame.buffer_mut().set_string(0, y, text, Style::new());
            }
        }
    };
    rig.draw(rows(3));
    rig.draw(rows(4));
    let (bytes, asked) = rig.draw(rows(5));
    rig.assert_shows(&asked);
    assert!(bytes.len() <= 6, "{:?}", String::from_utf8_lossy(&bytes));
}

#[test]
fn a_failed_write_is_followed_by_a_whole_screen() {
    struct Broken(bool, Vec<u8>);
    impl Write for Broken {
        fn write(&mut self, bytes: &[u8]) -> io::Result<usize> {
            if self.0 {
                return Err(io::Error::other("no room"));
            }
            self.1.extend(bytes);
            Ok(bytes.len())
        }
        fn flush(&mut self) -> io::Result<()> {
            Ok(())
        }
    }
    let mut backend = Thrifty::new(Broken(true, Vec::new()), Size::new(10, 1), true);
    let mut cell = Cell::default();
    cell.set_symbol("x");
    backend.draw([(3, 0, &cell)].into_iter()).unwrap();
    assert!(backend.flush().is_err());
    backend.writer_mut().0 = false;
    backend.flush().unwrap();
    let text = String::from_utf8(backend.writer().1.clone()).unwrap();
    assert!(
        text.starts_with("\u{1b}[m\u{1b}[H\u{1b}[J") && text.ends_with('x'),
        "{text:?}"
    );
}
