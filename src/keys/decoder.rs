//! Bytes from a terminal to key presses and pastes.
//!
//! A slow link splits the bytes of one key: `ESC`, a moment later `[B`. What could be the start of
//! a longer sequence is therefore held for a gap and joined with what follows; a lone `ESC` is
//! released when the gap has passed. The bytes are read here, not by the terminal library, because
//! a held half of a sequence must not block the wait for signals, resizes and hang-ups.
//!
//! Pure: the caller passes the time in. Key codes are those of ECMA-48 control sequences with the
//! DEC and xterm finals for editing and function keys (common practice of terminals).

use std::time::{Duration, Instant};

use super::{Chord, Key};

/// How long a started sequence waits for its rest on a local terminal.
pub const LOCAL_ESCAPE_GAP: Duration = Duration::from_millis(100);
/// The same over a network, where the pieces of one key can come further apart.
pub const REMOTE_ESCAPE_GAP: Duration = Duration::from_millis(250);
/// How long an unfinished paste waits for more before what there is counts as the paste.
const PASTE_GAP: Duration = Duration::from_secs(3);
/// A paste is cut here; what follows is the next paste.
const PASTE_BYTES_MAX: usize = 1 << 20;
/// No key has a longer sequence; what goes on longer is dropped.
const SEQUENCE_BYTES_MAX: usize = 32;
const PASTE_END: &[u8] = b"\x1b[201~";
const ESC: u8 = 0x1b;

/// One thing that a person did at the terminal.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum KeyInput {
    /// A key press.
    Key(Chord),
    /// Pasted text: line ends as `\n`, other control characters dropped.
    Paste(String),
}

/// Turns bytes into [`KeyInput`]s, holding what may be half of a sequence.
#[derive(Debug)]
pub struct Decoder {
    gap: Duration,
    held: Vec<u8>,
    paste: Option<Vec<u8>>,
    last_byte: Option<Instant>,
}

/// What the front of the held bytes is.
enum Front {
    /// Not decided yet.
    Unfinished,
    /// So many bytes, meaning this key, or nothing that we use.
    Done(usize, Option<Chord>),
    /// So many bytes that begin a paste.
    PasteStart(usize),
}

impl Decoder {
    /// A decoder that waits `gap` for the rest of a started sequence.
    #[must_use]
    pub const fn new(gap: Duration) -> Self {
        Self {
            gap,
            held: Vec::new(),
            paste: None,
            last_byte: None,
        }
    }

    /// Takes bytes that arrived at `now`; returns what is complete.
    pub fn feed(&mut self, bytes: &[u8], now: Instant) -> Vec<KeyInput> {
        let mut done = self.release(now);
        for &byte in bytes {
            self.take(byte, &mut done);
        }
        self.last_byte = Some(now);
        done
    }

    /// When [`Self::release`] is due, if something is held.
    #[must_use]
    pub fn deadline(&self) -> Option<Instant> {
        let wait = match (&self.paste, self.held.is_empty()) {
            (Some(_), _) => PASTE_GAP,
            (None, false) => self.gap,
            (None, true) => return None,
        };
        self.last_byte.map(|last| last + wait)
    }

    /// Gives up waiting for the rest of what is held, if its gap has passed at `now`.
    pub fn release(&mut self, now: Instant) -> Vec<KeyInput> {
        let mut done = Vec::new();
        if self.deadline().is_none_or(|deadline| now < deadline) {
            return done;
        }
        if let Some(paste) = self.paste.take() {
            done.push(KeyInput::Paste(pasted_text(&paste)));
        }
        while !self.held.is_empty() {
            // The bytes stand for themselves: Esc, then the characters typed after it.
            let first = self.held.remove(0);
            done.extend(single(first).map(KeyInput::Key));
            self.settle(&mut done);
        }
        done
    }

    fn take(&mut self, byte: u8, done: &mut Vec<KeyInput>) {
        if let Some(paste) = &mut self.paste {
            paste.push(byte);
            let ended = paste.ends_with(PASTE_END);
            if ended || paste.len() >= PASTE_BYTES_MAX {
                let cut = if ended { PASTE_END.len() } else { 0 };
                let text = pasted_text(&paste[..paste.len() - cut]);
                done.push(KeyInput::Paste(text));
                self.paste = (!ended).then(Vec::new);
            }
            return;
        }
        self.held.push(byte);
        self.settle(done);
    }

    /// Hands over everything decided at the front of the held bytes.
    fn settle(&mut self, done: &mut Vec<KeyInput>) {
        while !self.held.is_empty() && self.paste.is_none() {
            match front(&self.held) {
                Front::Unfinished => return,
                Front::Done(used, chord) => {
                    self.held.drain(..used);
                    done.extend(chord.map(KeyInput::Key));
                }
                Front::PasteStart(used) => {
                    self.held.drain(..used);
                    self.paste = Some(Vec::new());
                }
            }
        }
    }
}

fn front(held: &[u8]) -> Front {
    let esc = Some(Chord::key(Key::Esc));
    match held {
        [ESC] | [ESC, b'O'] => Front::Unfinished,
        [ESC, b'[', ..] => control_sequence(held),
        [ESC, b'O', last, ..] => match key_of_final(*last) {
            Some(key) => Front::Done(3, Some(Chord::key(key))),
            None => Front::Done(1, esc),
        },
        // Alt is bound to nothing, and a link may deliver Esc and the next key in one piece.
        [ESC, ..] => Front::Done(1, esc),
        [first, ..] if *first < 0x80 => Front::Done(1, single(*first)),
        _ => utf8(held),
    }
}

/// `ESC [` parameters final; or `ESC [ [` letter, the function keys of the Linux console.
fn control_sequence(held: &[u8]) -> Front {
    if let [_, _, b'[', rest @ ..] = held {
        return match rest {
            [] => Front::Unfinished,
            [letter @ b'A'..=b'E', ..] => {
                Front::Done(4, Some(Chord::key(Key::F(letter - b'A' + 1))))
            }
            _ => Front::Done(1, Some(Chord::key(Key::Esc))),
        };
    }
    let body = &held[2..];
    let Some(end) = body.iter().position(|b| !(0x20..=0x3f).contains(b)) else {
        return if held.len() > SEQUENCE_BYTES_MAX {
            Front::Done(held.len(), None)
        } else {
            Front::Unfinished
        };
    };
    if !(0x40..=0x7e).contains(&body[end]) {
        return Front::Done(1, Some(Chord::key(Key::Esc)));
    }
    let used = end + 3;
    let (first, modifiers) = parameters(&body[..end]);
    match (body[end], first) {
        (b'~', Some(200)) => Front::PasteStart(used),
        (last, first) => Front::Done(used, sequence_chord(last, first, modifiers)),
    }
}

/// The first two parameters; anything but digits and `;` counts as missing.
fn parameters(text: &[u8]) -> (Option<u16>, Option<u16>) {
    let text = std::str::from_utf8(text).unwrap_or_default();
    let mut numbers = text.split(';').map(|part| part.parse().ok());
    (numbers.next().flatten(), numbers.next().flatten())
}

fn sequence_chord(last: u8, first: Option<u16>, modifiers: Option<u16>) -> Option<Chord> {
    let key = match last {
        b'~' => key_of_number(first?)?,
        b'Z' => Key::Tab,
        // Enter only after `ESC O`; here it ends a mouse report.
        b'M' => return None,
        _ => key_of_final(last)?,
    };
    // xterm: the parameter is one more than the sum of shift 1, alt 2, control 4.
    let held = modifiers.unwrap_or(1).saturating_sub(1);
    Some(Chord {
        key,
        ctrl: held & 4 != 0,
        alt: held & 2 != 0,
        shift: held & 1 != 0 || last == b'Z',
    })
}

const fn key_of_final(last: u8) -> Option<Key> {
    Some(match last {
        b'A' => Key::Up,
        b'B' => Key::Down,
        b'C' => Key::Right,
        b'D' => Key::Left,
        b'H' => Key::Home,
        b'F' => Key::End,
        b'M' => Key::Enter,
        b'P'..=b'S' => Key::F(last - b'P' + 1),
        _ => return None,
    })
}

const fn key_of_number(number: u16) -> Option<Key> {
    Some(match number {
        1 | 7 => Key::Home,
        2 => Key::Insert,
        3 => Key::Delete,
        4 | 8 => Key::End,
        5 => Key::PageUp,
        6 => Key::PageDown,
        11..=15 => Key::F(number as u8 - 10),
        17..=21 => Key::F(number as u8 - 11),
        23 | 24 => Key::F(number as u8 - 12),
        _ => return None,
    })
}

/// One byte below 0x80. Line feed is Enter and Ctrl-H is Backspace: some terminals send these.
fn single(byte: u8) -> Option<Chord> {
    Some(match byte {
        b'\r' | b'\n' => Chord::key(Key::Enter),
        b'\t' => Chord::key(Key::Tab),
        0x08 | 0x7f => Chord::key(Key::Backspace),
        ESC => Chord::key(Key::Esc),
        0 => Chord::ctrl(' '),
        1..=0x1f => Chord::ctrl((byte | 0x40) as char),
        0x20..=0x7e => Chord::char(byte as char),
        0x80.. => return None,
    })
}

/// A character of several bytes, which a link may split as well. Wrong bytes are dropped.
fn utf8(held: &[u8]) -> Front {
    let length = match held[0] {
        0xc2..=0xdf => 2,
        0xe0..=0xef => 3,
        0xf0..=0xf4 => 4,
        _ => return Front::Done(1, None),
    };
    let have = held.len().min(length);
    match std::str::from_utf8(&held[..have]) {
        Ok(text) => {
            let character = text.chars().next().filter(|c| !c.is_control());
            Front::Done(length, character.map(Chord::char))
        }
        Err(error) if error.error_len().is_none() && have < length => Front::Unfinished,
        Err(_) => Front::Done(1, None),
    }
}

fn pasted_text(bytes: &[u8]) -> String {
    let text = String::from_utf8_lossy(bytes).replace("\r\n", "\n");
    text.chars()
        .map(|c| if c == '\r' { '\n' } else { c })
        .filter(|c| !c.is_control() || matches!(c, '\n' | '\t'))
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    const GAP: Duration = LOCAL_ESCAPE_GAP;

    /// Plays pieces with the pause in milliseconds before each; then waits for ever.
    fn play(pieces: &[(u64, &[u8])]) -> Vec<String> {
        let mut decoder = Decoder::new(GAP);
        let mut now = Instant::now();
        let mut got = Vec::new();
        for (pause, bytes) in pieces {
            now += Duration::from_millis(*pause);
            got.extend(decoder.feed(bytes, now));
        }
        if let Some(deadline) = decoder.deadline() {
            got.extend(decoder.release(deadline));
        }
        assert_eq!(decoder.deadline(), None, "nothing may stay held");
        got.into_iter().map(named).collect()
    }

    fn named(input: KeyInput) -> String {
        match input {
            KeyInput::Key(chord) => chord.to_string(),
            KeyInput::Paste(text) => format!("paste:{text}"),
        }
    }

    #[test]
    fn whole_sequences_are_keys() {
        let bytes =
            b"\x1b[A\x1bOB\x1b[5~\x1b[6~\x1b[H\x1b[4~\x1b[Z\x1b[1;5C\x1bOP\x1b[15~\x1b[24~\x1b[[B";
        assert_eq!(
            play(&[(0, bytes)]),
            [
                "up",
                "down",
                "pageup",
                "pagedown",
                "home",
                "end",
                "shift-tab",
                "ctrl-right",
                "f1",
                "f5",
                "f12",
                "f2"
            ]
        );
    }

    #[test]
    fn split_sequences_join_within_the_gap() {
        assert_eq!(play(&[(0, b"\x1b"), (40, b"[B")]), ["down"]);
        assert_eq!(play(&[(0, b"\x1b"), (90, b"["), (90, b"A")]), ["up"]);
        assert_eq!(play(&[(0, b"\x1b["), (99, b"5"), (99, b"~")]), ["pageup"]);
        assert_eq!(play(&[(0, b"\x1bO"), (50, b"D")]), ["left"]);
        assert_eq!(play(&[(0, b"j\x1b"), (50, b"[Fk")]), ["j", "end", "k"]);
    }

    #[test]
    fn beyond_the_gap_the_bytes_stand_for_themselves() {
        assert_eq!(play(&[(0, b"\x1b"), (101, b"[B")]), ["esc", "[", "B"]);
        assert_eq!(play(&[(0, b"\x1b[")]), ["esc", "["]);
        assert_eq!(play(&[(0, b"\x1b[5")]), ["esc", "[", "5"]);
    }

    #[test]
    fn a_lone_escape_is_released_after_the_gap_and_not_before() {
        let (mut decoder, start) = (Decoder::new(GAP), Instant::now());
        assert!(decoder.feed(b"\x1b", start).is_empty());
        assert!(decoder.release(start + GAP / 2).is_empty());
        assert_eq!(
            decoder.release(start + GAP),
            [KeyInput::Key(Chord::key(Key::Esc))]
        );
    }

    #[test]
    fn escape_and_a_character_are_two_keys() {
        assert_eq!(play(&[(0, b"\x1bx")]), ["esc", "x"]);
        assert_eq!(play(&[(0, b"\x1b"), (20, b"x")]), ["esc", "x"]);
        assert_eq!(play(&[(0, b"\x1b\x1b[A")]), ["esc", "up"]);
        assert_eq!(play(&[(0, b"\x1b\x1b")]), ["esc", "esc"]);
        assert_eq!(play(&[(0, b"\x1bOx")]), ["esc", "O", "x"]);
    }

    #[test]
    fn control_bytes_and_characters() {
        assert_eq!(
            play(&[(0, b"\x03\x0c\x1a\r\n\x7f\x08\t aZ\x00")]),
            [
                "ctrl-c",
                "ctrl-l",
                "ctrl-z",
                "enter",
                "enter",
                "backspace",
                "backspace",
                "tab",
                "space",
                "a",
                "Z",
                "ctrl-space"
            ]
        );
        assert_eq!(play(&[(0, b"\xe2\x80"), (5, b"\x94")]), ["\u{2014}"]);
        assert_eq!(play(&[(0, b"\xff\xc3(x\xc3")]), ["(", "x"]);
    }

    #[test]
    fn what_we_do_not_use_is_swallowed_whole() {
        assert_eq!(play(&[(0, b"\x1b[?62;4c\x1b[I\x1b[<0;3;4Mx")]), ["x"]);
        let endless = [b"\x1b[".as_slice(), &[b'1'; 60], b"~"].concat();
        assert!(play(&[(0, &endless)]).len() < 60);
    }

    #[test]
    fn a_paste_is_one_input_however_it_is_cut() {
        let bytes = b"\x1b[200~40-118\r\nT-5512\x07\x1b[A\x1b[201~q";
        let expected = ["paste:40-118\nT-5512[A".to_owned(), "q".to_owned()];
        assert_eq!(play(&[(0, bytes)]), expected);
        for cut in 1..bytes.len() {
            let pieces: [(u64, &[u8]); 2] = [(0, &bytes[..cut]), (60, &bytes[cut..])];
            assert_eq!(play(&pieces), expected, "cut at {cut}");
        }
    }

    #[test]
    fn a_paste_that_never_ends_is_handed_over() {
        assert_eq!(play(&[(0, b"\x1b[200~half")]), ["paste:half"]);
    }

    proptest! {
        #[test]
        fn any_bytes_leave_nothing_held(bytes in proptest::collection::vec(any::<u8>(), 0..80)) {
            play(&[(0, &bytes)]);
        }

        #[test]
        fn cutting_never_changes_the_keys(
            keys in proptest::collection::vec(
                proptest::sample::select(vec![
                    "\x1b[A", "\x1bOB", "\x1b[5~", "j", "\r", "é", "中", "\x1b[1;2D", "\x03",
                ]), 0..12),
            cuts in proptest::collection::vec(any::<bool>(), 80),
        ) {
            let bytes = keys.concat().into_bytes();
            let whole = play(&[(0, &bytes)]);
            let mut pieces: Vec<(u64, &[u8])> = Vec::new();
            let mut start = 0;
            for end in 1..=bytes.len() {
                if end == bytes.len() || cuts[end % cuts.len()] {
                    pieces.push((30, &bytes[start..end]));
                    start = end;
                }
            }
            prop_assert_eq!(play(&pieces), whole);
        }
    }
}
