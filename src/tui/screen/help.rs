//! Help: the keys of the present screen first, then all others, from the table.

use super::text::Text;
use crate::present::{Line, Style};
use crate::role::Role;
use crate::tui::command::{Command, Place, key_list, of};

/// Columns for the keys.
const KEYS: usize = 14;

/// Help for a place.
#[must_use]
pub fn help(place: Place) -> Text {
    Text::new(
        Place::Help,
        Line::of(Role::Heading, "help"),
        String::new(),
        Box::new(move |style| lines(place, style)),
    )
}

fn lines(place: Place, style: Style) -> Vec<Line> {
    let mut out = section(place, style);
    out.push(Line::new());
    out.extend(
        Line::of(Role::Plain, "A phone's letters, digits, enter and backspace are enough: enter with nothing typed lists the commands; after a search, enter goes into the list, where letters are commands; backspace goes one step back everywhere.")
            .folded(style.width, 0),
    );
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
    for command in of(place) {
        out.extend(entry(command, place, style));
    }
    out
}

fn entry(command: &Command, place: Place, style: Style) -> Vec<Line> {
    let keys: Vec<&str> = command.keys_in(place).collect();
    let keys = key_list(&keys);
    let mut line = Line::of(Role::Key, format!("{keys:<KEYS$}"));
    if keys.len() >= KEYS {
        line.push(Role::Plain, "  ");
    }
    line.push(Role::Plain, command.sentence);
    let hang = if style.width < 60 { 4 } else { KEYS };
    line.folded(style.width, hang)
}
