//! The command table against everything that is read from it.

use polecard::keys::{Chord, Key};
use polecard::tui::command::{self, Id, Place, TABLE};

/// A key that every phone has.
fn phone_has(chord: Chord) -> bool {
    match chord.key {
        Key::Char(c) => !chord.ctrl && !chord.alt && c.is_ascii_alphanumeric(),
        Key::Enter | Key::Backspace => !chord.ctrl && !chord.alt && !chord.shift,
        _ => false,
    }
}

fn by_phone(place: Place, id: Id) -> bool {
    command::of(place)
        .filter(|c| c.id == id)
        .flat_map(|c| c.keys_in(place))
        .any(|k| phone_has(Chord::parse(k).unwrap()))
}

#[test]
fn every_command_has_a_phone_key_or_stands_in_the_list_of_commands() {
    for command in TABLE {
        let direct = command.places.iter().any(|p| by_phone(*p, command.id));
        // The list of commands opens by a letter, and at the prompt by enter.
        let listed = command
            .places
            .iter()
            .any(|p| by_phone(*p, Id::Commands) || *p == Place::Query);
        assert!(direct || listed, "{}", command.name);
    }
}

#[test]
fn from_every_place_a_phone_gets_back_and_out() {
    for place in Place::ALL {
        let back = by_phone(*place, Id::Back) || by_phone(*place, Id::Erase);
        assert!(back, "back from {}", place.name());
        let out = by_phone(*place, Id::Quit) || place.types();
        assert!(out, "out of {}", place.name());
    }
}

#[test]
fn ctrl_c_leaves_from_everywhere() {
    for place in Place::ALL {
        let found = command::lookup(*place, Chord::ctrl('c')).unwrap();
        assert_eq!(found.id, Id::Quit, "{}", place.name());
    }
}

#[test]
fn esc_only_ever_goes_back() {
    for place in Place::ALL {
        let found = command::lookup(*place, Chord::key(Key::Esc)).unwrap();
        assert_eq!(found.id, Id::Back, "{}", place.name());
    }
}

#[test]
fn every_command_says_what_it_does_in_sentences() {
    for command in TABLE {
        assert!(command.sentence.ends_with('.'), "{}", command.name);
        // One without a key is run from the list, where the prompt leads too.
        let listed = command.places.contains(&Place::Query);
        assert!(!command.keys.is_empty() || listed, "{}", command.name);
        // No bar shows what has no key.
        let shown = !command.hint.is_empty();
        assert!(!command.keys.is_empty() || !shown, "{}", command.name);
        assert!(!command.places.is_empty(), "{}", command.name);
    }
}

#[test]
fn nothing_here_sounds_like_leave_to_act() {
    for command in TABLE {
        let text = format!("{} {}", command.name, command.sentence).to_lowercase();
        for word in [
            "safe",
            "clear to",
            "go ahead",
            "permit",
            "may be operated",
            "dead",
        ] {
            assert!(!text.contains(word), "{}: {word}", command.name);
        }
    }
}
