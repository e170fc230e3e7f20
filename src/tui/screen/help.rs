//! Help: the keys of the present screen first, then all others, from the table.

use super::text::{Text, inset};
use crate::present::{Line, Style};
use crate::role::Role;
use crate::tui::command::{Command, Place, of};

/// Columns for the keys.
const KEYS: usize = 22;

/// Help for a place.
#[must_use]
pub fn help(place: Place) -> Text {
    Text::new(
        Place::Help,
        None,
        String::new(),
        Box::new(move |style| inset(lines(place, style))),
    )
}

fn lines(place: Place, style: Style) -> Vec<Line> {
    let mut out = Line::of(Role::Plain, "Letters, digits, enter and backspace are enough. Enter with nothing typed lists the commands; elsewhere m does. After a search, enter goes into the list, where letters are commands. Backspace goes one step back everywhere.")
        .folded(style.width, 0);
    out.push(Line::new());
    out.extend(section(place, style));
    let others = [
        Place::Query,
        Place::List,
        Place::Card,
        Place::Form,
        Place::Field,
        Place::Heard,
        Place::Rows,
        Place::Text,
        Place::Commands,
    ];
    for other in others.into_iter().filter(|p| *p != place) {
        out.push(Line::new());
        out.extend(section(other, style));
    }
    out
}

fn section(place: Place, style: Style) -> Vec<Line> {
    let mut out = vec![Line::of(Role::Heading, format!("keys in {}", place.name()))];
    let (listed, keyed): (Vec<&Command>, Vec<&Command>) =
        of(place).partition(|c| c.keys_in(place).next().is_none());
    for command in keyed {
        out.extend(entry(command, place, style));
    }
    if listed.is_empty() {
        return out;
    }
    out.push(Line::new());
    let how = if place.types() {
        "in the list of commands (enter with nothing typed)"
    } else {
        "in the list of commands (m)"
    };
    out.extend(Line::of(Role::Heading, how).folded(style.width, 2));
    for command in listed {
        out.extend(described(command.name, command.sentence, style));
    }
    out
}

fn entry(command: &Command, place: Place, style: Style) -> Vec<Line> {
    let keys: Vec<&str> = command.keys_in(place).collect();
    described(&key_list(&keys), command.sentence, style)
}

/// The keys or the name of a command, and what it does beside or below.
fn described(what: &str, sentence: &str, style: Style) -> Vec<Line> {
    if style.width < 60 || what.len() >= KEYS {
        let hang = if style.width < 60 { 4 } else { KEYS };
        let mut out = vec![Line::of(Role::Key, what)];
        let line = Line::of(Role::Plain, " ".repeat(hang)).with(Role::Plain, sentence);
        out.extend(line.folded(style.width, hang));
        return out;
    }
    Line::of(Role::Key, format!("{what:<KEYS$}"))
        .with(Role::Plain, sentence)
        .folded(style.width, KEYS)
}

/// Keys side by side: `j down ctrl-n`.
fn key_list(keys: &[&str]) -> String {
    match keys {
        ["1", .., "9"] => "1 to 9".to_string(),
        ["1", .., "0"] => "0 to 9".to_string(),
        keys => keys.join(" "),
    }
}
