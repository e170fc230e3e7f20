//! The hint bar: what can be done here, from the command table.

use crate::present::Line;
use crate::role::Role;
use crate::tui::command::{About, Applies, Command, Id, Place, of};

/// Under this width the room is for what is done most.
const NARROW: usize = 60;
/// From this width on there is room for more than a few hints; the rest stands
/// in help and in the list of commands.
const BESIDE: usize = 100;
const FEW: usize = 4;
/// A command of so many places at most is a screen's own.
const OWN: usize = 2;
/// Keys that a narrow screen must name.
const THREE: usize = 3;
/// From this width on both uses of backspace are named.
const BOTH: usize = 50;

/// Whether a hint always has its room, at the end of the bar.
const fn has_room(id: Id) -> bool {
    matches!(
        id,
        Id::Help
            | Id::Back
            | Id::Finish
            | Id::Reasons
            | Id::Theirs
            | Id::Mine
            | Id::MakeOrder
            | Id::Discard
            | Id::Quit
            | Id::Judge
            | Id::Compare
            | Id::Keep
            | Id::Erase
    )
}

/// The hints of a place that fit into `width` columns. Help, back and leave
/// always have their room.
#[must_use]
pub fn hints(place: Place, about: &About, width: usize) -> Line {
    let narrow = width < NARROW && !place.types();
    let mut first = Vec::new();
    let mut own = Vec::new();
    let mut last = Vec::new();
    for command in of(place).filter(|c| !c.hint.is_empty()) {
        if matches!((command.applies)(about), Applies::No(_)) {
            continue;
        }
        let Some(key) = command.keys_in(place).next() else {
            continue;
        };
        let (key, word) = shown(command, key, about, (width, narrow));
        if has_room(command.id) {
            &mut last
        } else if narrow && command.places.len() <= OWN {
            &mut own
        } else {
            &mut first
        }
        .push((key, word));
    }
    let length = |(key, word): &(&str, &str)| key.len() + word.len() + 3;
    if narrow {
        // Leave stands in help and in the list of commands as well.
        last.retain(|(_, word)| *word != "leave");
        first = what_matters(own, first, &mut last, width);
    }
    while last.len() > 1 && last.iter().map(length).sum::<usize>() > width {
        // Leave, then help: what stands first is needed most.
        last.pop();
    }
    if width < BESIDE {
        first = few(first);
    }
    let mut room = width.saturating_sub(last.iter().map(length).sum());
    first.retain(|hint| {
        let fits = length(hint) <= room;
        room = room.saturating_sub(if fits { length(hint) } else { room });
        fits
    });
    let mut line = Line::of(Role::Plain, " ");
    for (i, (key, word)) in first.into_iter().chain(last).enumerate() {
        if i > 0 {
            line.push(Role::Plain, "  ");
        }
        line.push(Role::Key, key);
        line.push(Role::Plain, format!(" {word}"));
    }
    line
}

/// The key and the word of a hint, as they fit the moment and the width.
fn shown(
    command: &Command,
    key: &'static str,
    about: &About,
    (width, narrow): (usize, bool),
) -> (&'static str, &'static str) {
    let word = match command.id {
        Id::Enter if about.empty => "commands",
        Id::Enter if about.direct => "open",
        Id::Enter if about.rows > 0 => "list",
        Id::Compare if about.empty => "back",
        Id::Erase if width >= BOTH => command.hint,
        Id::Erase if about.empty => "back",
        Id::Erase => "erase",
        _ => command.hint,
    };
    match command.id {
        Id::Help if narrow => ("?", "keys"),
        _ if narrow && key == "backspace" => ("bksp", word),
        _ => (key, word),
    }
}

/// On a narrow screen: enter, then the keys of this screen alone; the way back
/// gives way to them, and `?` tells the rest.
fn what_matters<'h>(
    own: Vec<(&'h str, &'h str)>,
    first: Vec<(&'h str, &'h str)>,
    last: &mut Vec<(&'h str, &'h str)>,
    width: usize,
) -> Vec<(&'h str, &'h str)> {
    if own.is_empty() {
        return first;
    }
    let (mut out, rest): (Vec<_>, Vec<_>) = first.into_iter().partition(|(key, _)| *key == "enter");
    out.extend(own);
    let length = |(key, word): &(&str, &str)| key.len() + word.len() + 3;
    let of = |hints: &[(&str, &str)]| hints.iter().map(length).sum::<usize>();
    let three = &out[..out.len().min(THREE)];
    if of(three) + of(last) > width {
        last.retain(|(_, word)| *word != "back");
    }
    out.extend(rest);
    out
}

/// The first few hints, and the list of commands, where the rest stands.
fn few<'h>(hints: Vec<(&'h str, &'h str)>) -> Vec<(&'h str, &'h str)> {
    let counted = hints.into_iter().enumerate();
    counted
        .filter(|(i, (_, word))| *i < FEW || *word == "commands")
        .map(|(_, hint)| hint)
        .collect()
}
