//! Floor 6: the one table of commands. Dispatch, the hint bar, help, the list
//! of commands and the key table of the README are all read from it.

mod table;

use std::sync::OnceLock;

use crate::domain::asset::Kind;
use crate::keys::{Chord, Key};

pub use table::TABLE;

/// Where a key is pressed.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Place {
    /// Typing into the prompt of find.
    Query,
    /// In the list of matches under the prompt.
    List,
    /// Another list of records: near neighbours, related records.
    Rows,
    /// A card.
    Card,
    /// Text to read: verdicts, a trace, a reading of a code.
    Text,
    /// The check form.
    Form,
    /// Typing a value into the check form.
    Field,
    /// Typing what was heard.
    Heard,
    /// Help.
    Help,
    /// The list of commands.
    Commands,
    /// A form of readings being filled in.
    Inspect,
    /// The form over the fields of a record.
    Edit,
    /// Typing an answer into one of these forms.
    Answer,
    /// Work orders.
    Orders,
    /// What is due.
    Due,
    /// Hazard notices.
    Notices,
    /// Corrections proposed from the field.
    Reports,
    /// What was changed, by whom and why.
    History,
    /// What verify found.
    Findings,
    /// What is about to be written.
    Review,
    /// What an entry concludes.
    Concluded,
    /// Both values where two people changed one field.
    Conflict,
    /// Forms that wait to be taken up again.
    Unfinished,
    /// A text, and under it what can be done.
    Choice,
    /// Times at a fault, and curves.
    Times,
}

impl Place {
    pub const ALL: &'static [Place] = &[
        Place::Query,
        Place::List,
        Place::Rows,
        Place::Card,
        Place::Text,
        Place::Form,
        Place::Field,
        Place::Heard,
        Place::Help,
        Place::Commands,
        Place::Inspect,
        Place::Edit,
        Place::Answer,
        Place::Orders,
        Place::Due,
        Place::Notices,
        Place::Reports,
        Place::History,
        Place::Findings,
        Place::Review,
        Place::Concluded,
        Place::Conflict,
        Place::Unfinished,
        Place::Choice,
        Place::Times,
    ];

    /// As people call it.
    #[must_use]
    pub const fn name(self) -> &'static str {
        match self {
            Place::Query => "the find prompt",
            Place::List => "the list of matches",
            Place::Rows => "a list of records",
            Place::Card => "a card",
            Place::Text => "verdicts and other text",
            Place::Form => "the check form",
            Place::Field => "a value of the check form",
            Place::Heard => "read-back",
            Place::Help => "help",
            Place::Commands => "the list of commands",
            Place::Inspect => "a form being filled in",
            Place::Edit => "the edit form",
            Place::Answer => "an answer in a form",
            Place::Orders => "the orders",
            Place::Due => "what is due",
            Place::Notices => "the notices",
            Place::Reports => "the reports",
            Place::History => "a history",
            Place::Findings => "the findings",
            Place::Review => "the review of a form",
            Place::Concluded => "what an entry concludes",
            Place::Conflict => "two values of one field",
            Place::Unfinished => "the unfinished forms",
            Place::Choice => "a step to choose at",
            Place::Times => "the times",
        }
    }

    /// Whether characters are text here, and no commands.
    #[must_use]
    pub const fn types(self) -> bool {
        matches!(
            self,
            Place::Query | Place::Field | Place::Heard | Place::Answer
        )
    }
}

/// What a command is called inside the program.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Id {
    Enter,
    Open,
    Pick,
    Next,
    Previous,
    HalfDown,
    HalfUp,
    Top,
    End,
    Back,
    Erase,
    ClearLine,
    ClearWord,
    Check,
    Times,
    TimesFault,
    TimesKind,
    TimesMinimum,
    SaveCurves,
    Trace,
    ReadBack,
    Neighbours,
    Related,
    Say,
    Decode,
    Again,
    FindAnew,
    FieldLoad,
    FieldFault,
    FieldKind,
    FieldXr,
    FieldMinimum,
    FieldVoltage,
    FieldOutage,
    FieldFaultTime,
    FieldUnbalance,
    FieldBypass,
    FieldDigit,
    Judge,
    Inspect,
    LinkReplaced,
    Correct,
    Unfinished,
    Letter,
    Finish,
    Reasons,
    TypeValue,
    Confirm,
    EraseValue,
    Theirs,
    Mine,
    ClearStop,
    MakeOrder,
    Discard,
    DueOf,
    AllDue,
    DueAhead,
    DueFeeder,
    DueKind,
    DueOrder,
    Keep,
    Compare,
    Swap,
    History,
    OrdersOf,
    AllOrders,
    NewOrder,
    AssignOrder,
    DoneOrder,
    VoidOrder,
    ReopenOrder,
    OrderDetails,
    MyOrders,
    OverdueOrders,
    ClosedOrders,
    Briefing,
    Notices,
    ReadNotice,
    WholeLog,
    TakeBack,
    AsThen,
    OtherDay,
    Findings,
    FindingsOf,
    Fix,
    Choose,
    Report,
    ReportUnlisted,
    AllReports,
    ReportAccept,
    ReportAcceptAlike,
    ReportAmend,
    ReportRefuse,
    ReportTakeBack,
    ReportRecord,
    ReportsDecided,
    Help,
    Commands,
    Repaint,
    Suspend,
    Quit,
}

/// What a command must know of the screen to say whether it applies.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct About {
    /// The kind of the record that is open or selected.
    pub kind: Option<Kind>,
    /// How many rows there are to choose from.
    pub rows: usize,
    /// Nothing has been typed.
    pub empty: bool,
    /// Enter opens a record at once.
    pub direct: bool,
}

/// Whether a command can be used now.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Applies {
    Yes,
    No(&'static str),
}

/// A row of the table.
pub struct Command {
    pub id: Id,
    /// As people call it.
    pub name: &'static str,
    /// What it does, in a sentence.
    pub sentence: &'static str,
    /// As [`Chord::parse`] reads them; a key of plain characters first.
    pub keys: &'static [&'static str],
    pub places: &'static [Place],
    /// The word in the hint bar; none when it is not shown there.
    pub hint: &'static str,
    pub applies: fn(&About) -> Applies,
}

impl Command {
    /// Its keys that work in a place, as they are printed.
    pub fn keys_in(&self, place: Place) -> impl Iterator<Item = &'static str> {
        let typing = place.types();
        self.keys.iter().copied().filter(move |k| {
            !typing || Chord::parse(k).is_ok_and(|c| c.typed().is_none_or(|c| c == '?'))
        })
    }
}

/// The keys of every place, parsed once.
fn keys() -> &'static [(Place, Chord, usize)] {
    static KEYS: OnceLock<Vec<(Place, Chord, usize)>> = OnceLock::new();
    KEYS.get_or_init(|| {
        let mut out = Vec::new();
        for (i, command) in TABLE.iter().enumerate() {
            for place in command.places {
                for key in command.keys_in(*place) {
                    let chord = Chord::parse(key).expect("a test parses every key of the table");
                    out.push((*place, chord, i));
                }
            }
        }
        out
    })
}

/// The command of a key in a place. Capitals count as small letters: a phone
/// puts them at the start of what it takes for a sentence.
#[must_use]
pub fn lookup(place: Place, chord: Chord) -> Option<&'static Command> {
    let find = |chord: Chord| {
        keys()
            .iter()
            .find(|(p, c, _)| *p == place && *c == chord)
            .map(|(_, _, i)| &TABLE[*i])
    };
    find(chord).or_else(|| match (chord.typed(), chord.key) {
        (Some(typed), Key::Char(_)) => find(Chord::char(typed.to_ascii_lowercase())),
        _ => None,
    })
}

/// Why a key does nothing in a place.
#[must_use]
pub fn refusal(place: Place, chord: Chord) -> String {
    let elsewhere = || {
        keys()
            .iter()
            .filter(move |(p, c, _)| *p != place && *c == chord && !p.types())
    };
    let Some((_, _, first)) = elsewhere().next() else {
        return format!("{chord} does nothing here; ? keys");
    };
    format!(
        "{chord} ({}) is not for this screen; ? keys",
        TABLE[*first].name
    )
}

/// The letter of a command, or else its first key: what the list of commands
/// shows, where letters work also over a prompt.
#[must_use]
pub fn letter(id: Id) -> &'static str {
    let keys = || TABLE.iter().filter(|c| c.id == id).flat_map(|c| c.keys);
    keys()
        .find(|k| k.len() == 1 && k.bytes().all(|b| b.is_ascii_lowercase()))
        .or_else(|| keys().find(|k| matches!(**k, "enter" | "backspace")))
        .or_else(|| keys().next())
        .copied()
        .unwrap_or_default()
}

/// The commands of a place, in order.
pub fn of(place: Place) -> impl Iterator<Item = &'static Command> {
    TABLE.iter().filter(move |c| c.places.contains(&place))
}

/// The key table of the README.
#[must_use]
pub fn key_table_markdown() -> String {
    let mut out = String::from("| keys | command | where | what it does |\n|---|---|---|---|\n");
    for c in TABLE {
        let keys: Vec<String> = match c.keys {
            [] => vec!["list of commands".to_string()],
            ["1", .., "9"] => vec!["`1` to `9`".to_string()],
            ["1", .., "0"] => vec!["`0` to `9`".to_string()],
            keys => keys.iter().map(|k| format!("`{k}`")).collect(),
        };
        out.push_str(&format!(
            "| {} | {} | {} | {} |\n",
            keys.join(" "),
            c.name,
            table::grouped(c.places).join(", "),
            c.sentence
        ));
    }
    out
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_key_parses_and_prints_back() {
        for command in TABLE {
            for key in command.keys {
                assert_eq!(Chord::parse(key).unwrap().to_string(), *key);
            }
        }
    }

    #[test]
    fn no_key_means_two_things_in_one_place() {
        for place in Place::ALL {
            let mut seen = std::collections::HashMap::new();
            for command in of(*place) {
                for key in command.keys_in(*place) {
                    let before = seen.insert(key, command.name);
                    assert_eq!(before, None, "{key} in {}: {}", place.name(), command.name);
                }
            }
        }
    }

    #[test]
    fn capitals_of_a_phone_are_small_letters() {
        let check = lookup(Place::Card, Chord::char('C')).unwrap();
        assert_eq!(check.id, Id::Check);
    }

    #[test]
    fn letters_are_text_where_text_is_typed() {
        for place in [Place::Query, Place::Field, Place::Heard] {
            for letter in ('a'..='z').chain('0'..='9') {
                assert!(lookup(place, Chord::char(letter)).is_none());
            }
        }
    }

    /// The brackets and capitals that a torn escape sequence leaves behind
    /// start nothing that a person has not asked for.
    #[test]
    fn the_rests_of_a_torn_arrow_key_do_little() {
        let harmless = [
            Id::Back,
            Id::Next,
            Id::Previous,
            Id::HalfDown,
            Id::HalfUp,
            Id::End,
        ];
        for place in Place::ALL.iter().filter(|p| !p.types()) {
            assert!(lookup(*place, Chord::char('[')).is_none());
            assert!(of(*place).any(|c| harmless.contains(&c.id)));
        }
    }
}
