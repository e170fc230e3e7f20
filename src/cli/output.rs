//! The only place, beside `main`, that prints.

use std::borrow::Cow;
use std::io::{self, IsTerminal, Write};

use crate::present::Line;
use crate::role::{Role, harmless, is_plain};
use crate::work::Failure;

/// Columns for text when the output is no terminal.
const PIPE_WIDTH: usize = 100;

/// Columns of the terminal, or a fixed width for pipes and files.
pub fn width() -> usize {
    let out = io::stdout();
    if !out.is_terminal() {
        return PIPE_WIDTH;
    }
    rustix::termios::tcgetwinsize(&out).map_or(80, |w| usize::from(w.ws_col).clamp(40, 120))
}

/// Prints one JSON document.
pub fn json<T: serde::Serialize>(report: &T) -> Result<(), Failure> {
    let text = serde_json::to_string_pretty(report)
        .map_err(|e| Failure::unusable(format!("the report could not be written as JSON: {e}")))?;
    let mut text = escaped(&text).into_owned();
    text.push('\n');
    write(&text)
}

/// JSON in which every character that could harm a terminal is an escape;
/// such characters stand only inside strings.
fn escaped(json: &str) -> Cow<'_, str> {
    // Most reports are printable ASCII throughout.
    if json
        .bytes()
        .all(|b| b == b'\n' || (b' '..0x7f).contains(&b))
    {
        return Cow::Borrowed(json);
    }
    let mut out = String::with_capacity(json.len());
    for c in json.chars() {
        if c == '\n' || is_plain(c) {
            out.push(c);
        } else {
            let mut units = [0; 2];
            for unit in c.encode_utf16(&mut units) {
                out.push_str(&format!("\\u{unit:04x}"));
            }
        }
    }
    Cow::Owned(out)
}

/// Prints lines; on a terminal that may be styled, warnings stand out.
pub fn lines(lines: &[Line], no_color: bool) -> Result<(), Failure> {
    let styled = !no_color && std::env::var_os("NO_COLOR").is_none() && io::stdout().is_terminal();
    let mut text = String::new();
    for line in lines {
        for piece in &line.pieces {
            match sgr(piece.role).filter(|_| styled) {
                Some(on) => text.push_str(&format!("\x1b[{on}m{}\x1b[m", piece.text)),
                None => text.push_str(&piece.text),
            }
        }
        text.push('\n');
    }
    write(&text)
}

/// Weight and underline only: every warning also says its word.
fn sgr(role: Role) -> Option<&'static str> {
    match role {
        Role::Stop | Role::Fails => Some("1;7"),
        Role::Heading | Role::Code | Role::Look | Role::Unknown | Role::Tight => Some("1"),
        Role::Match => Some("4"),
        _ => None,
    }
}

/// Prints text as it is.
pub fn raw(text: &str) -> Result<(), Failure> {
    write(text)
}

fn write(text: &str) -> Result<(), Failure> {
    bytes(text.as_bytes())
}

/// Writes bytes as they are.
pub fn bytes(bytes: &[u8]) -> Result<(), Failure> {
    let mut out = io::stdout().lock();
    match out.write_all(bytes).and_then(|()| out.flush()) {
        // The reader has seen enough.
        Err(e) if e.kind() == io::ErrorKind::BrokenPipe => Ok(()),
        Err(e) => Err(Failure::unusable(format!(
            "the output cannot be written: {e}"
        ))),
        Ok(()) => Ok(()),
    }
}

/// Says something on stderr, one harmless line after another.
pub fn message(text: &str) {
    for line in text.lines() {
        let _ = writeln!(io::stderr(), "polecard: {}", harmless(line));
    }
}

/// Whether stderr can show a line that is written over.
pub fn has_bar() -> bool {
    io::stderr().is_terminal()
}

/// Columns of the terminal on stderr.
pub fn width_of_bar() -> usize {
    rustix::termios::tcgetwinsize(io::stderr()).map_or(80, |w| usize::from(w.ws_col).max(20))
}

/// Writes over the present line of a terminal on stderr; an empty text wipes
/// it. Nothing when stderr is no terminal.
pub fn progress(text: &str) {
    let mut err = io::stderr();
    if err.is_terminal() {
        let _ = write!(err, "\r\x1b[K{}", harmless(text));
        let _ = err.flush();
    }
}

/// Prints a failure on stderr.
pub fn failure(failure: &Failure) {
    message(&failure.to_string());
}
