//! Forms with one question a row, answered by single keys: what an inspection,
//! a replaced fuse and a correction have in common. The screen that shows the
//! questions says what an answer must be, and keeps it.

mod asked;
mod changes;
mod concluded;
mod correct;
mod draw;
mod inspect;
mod keeping;
mod pick;
mod replaced;
mod unfinished;

use crate::keys::{Chord, Key};
use crate::tui::command::Id;
use crate::tui::widget::Field;

pub use concluded::Concluded;
pub use correct::Correct;
pub use inspect::Inspect;
pub use replaced::Replaced;
pub use unfinished::{Unfinished, greeting};

/// What a question takes.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) enum Takes {
    /// One of a few words, by digit.
    Choice(Vec<String>),
    /// A figure; a digit begins it.
    Figure,
    /// Any text.
    Text,
}

/// Whether an answer is on the disk.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub(super) enum Mark {
    #[default]
    None,
    Saved,
    NotSaved,
}

/// One question.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Question {
    /// Its key in the draft.
    pub key: String,
    pub letter: Option<char>,
    pub label: String,
    pub takes: Takes,
    /// What may be answered, for people.
    pub allowed: String,
    /// What stands on record, short: it shows beside the answer.
    pub before: String,
    /// More about it, shown while the question is marked.
    pub more: Vec<String>,
    /// Whether `unknown` is an answer.
    pub may_be_unknown: bool,
    /// Answers on a letter each, `a` the first, while the question is marked;
    /// another is typed.
    pub suggested: Vec<String>,
    pub answer: Option<String>,
    pub mark: Mark,
}

impl Question {
    /// A question without an answer yet.
    pub(super) fn new(key: &str, label: &str, takes: Takes) -> Self {
        Question {
            key: key.to_string(),
            letter: None,
            label: label.to_string(),
            takes,
            allowed: String::new(),
            before: String::new(),
            more: Vec::new(),
            may_be_unknown: false,
            suggested: Vec::new(),
            answer: None,
            mark: Mark::None,
        }
    }

    #[must_use]
    pub(super) fn allowing(mut self, allowed: &str) -> Self {
        self.allowed = allowed.to_string();
        self
    }

    #[must_use]
    pub(super) fn before(mut self, before: &str) -> Self {
        self.before = before.to_string();
        self
    }
}

/// Letters that mean something else where questions are asked.
const TAKEN: &str = "jpgehmquv";

/// Gives each question a letter of its own: the wanted one if it is free, else
/// one of its label, else any. Those that are typed come first, since a choice
/// is also reached by moving to it.
pub(super) fn give_letters(questions: &mut [Question]) {
    let mut free: Vec<char> = ('a'..='z').filter(|c| !TAKEN.contains(*c)).collect();
    let mut take = |letter: char| {
        let at = free.iter().position(|f| *f == letter)?;
        Some(free.remove(at))
    };
    let typed = |q: &Question| !matches!(q.takes, Takes::Choice(_));
    let asked: Vec<bool> = questions.iter().map(|q| q.letter.is_some()).collect();
    for q in questions.iter_mut() {
        q.letter = q.letter.and_then(&mut take);
    }
    // Who asked for a letter that was gone comes first, then what is typed.
    for pass in [(true, true), (false, true), (false, false)] {
        for (q, asked) in questions.iter_mut().zip(&asked) {
            let turn = q.letter.is_none() && (*asked || !pass.0) && (pass.0 || typed(q) == pass.1);
            if turn {
                let label = q.label.to_lowercase();
                q.letter = label.chars().find_map(&mut take);
            }
        }
    }
    for q in questions.iter_mut().filter(|q| q.letter.is_none()) {
        let next = free.pop();
        q.letter = next;
    }
}

/// What became of a command.
pub(super) enum Did {
    /// It was one of the form's own.
    Nothing,
    /// An answer was given to the question of that number; the screen says
    /// whether it can be one.
    Answer(usize, String),
    /// The answer to the question is taken back.
    TakeBack(usize),
    /// It is the screen's to run.
    Yours(Id),
}

/// The questions of a form, one of them marked.
#[derive(Debug)]
pub(super) struct Questions {
    pub list: Vec<Question>,
    pub marked: usize,
    /// The word before what stands on record.
    pub lead: &'static str,
    top: usize,
    height: usize,
    /// The text being typed.
    pub field: Option<Field>,
    /// The next character takes the place of what stands there.
    anew: bool,
    /// Why the last answer cannot be.
    pub refused: Option<String>,
}

impl Default for Questions {
    fn default() -> Self {
        Questions {
            list: Vec::new(),
            marked: 0,
            lead: "was ",
            top: 0,
            height: 0,
            field: None,
            anew: false,
            refused: None,
        }
    }
}

impl Questions {
    pub(super) fn new(list: Vec<Question>) -> Self {
        Questions {
            list,
            ..Questions::default()
        }
    }

    /// Whether text is being typed.
    pub(super) const fn typing(&self) -> bool {
        self.field.is_some()
    }

    pub(super) fn marked(&self) -> Option<&Question> {
        self.list.get(self.marked)
    }

    /// Puts other questions in place; answers, marks and the row stay.
    pub(super) fn replace(&mut self, list: Vec<Question>) {
        let at = self.marked().map(|q| q.key.clone());
        self.list = list;
        let found = at.and_then(|key| self.list.iter().position(|q| q.key == key));
        self.marked = found.unwrap_or(self.marked.min(self.list.len().saturating_sub(1)));
    }

    pub(super) fn mark_key(&mut self, key: &str) {
        if let Some(at) = self.list.iter().position(|q| q.key == key) {
            self.marked = at;
        }
    }

    /// Goes on to the next question.
    pub(super) fn advance(&mut self) {
        self.field = None;
        self.refused = None;
        self.marked = (self.marked + 1).min(self.list.len().saturating_sub(1));
    }

    /// Begins typing at the marked question.
    pub(super) fn begin(&mut self, text: &str) {
        self.refused = None;
        self.anew = false;
        self.field = Some(Field::of(text));
    }

    /// Takes a command of a form; `id` is what the table says the key is.
    pub(super) fn take(&mut self, id: Id, chord: Chord) -> Did {
        self.refused = None;
        match id {
            Id::Next => self.step(1),
            Id::Previous => self.step(-1),
            Id::HalfDown => self.step(self.half()),
            Id::HalfUp => self.step(-self.half()),
            Id::Top => self.go_to(0),
            Id::End => self.go_to(self.list.len().saturating_sub(1)),
            Id::Letter => return self.letter(chord),
            Id::FieldDigit => return self.digit(chord),
            Id::Keep => return self.keep(),
            Id::Erase => {
                self.anew = false;
                let erased = self.field.as_mut().is_some_and(Field::erase);
                if !erased {
                    self.field = None;
                }
                self.look_over();
            }
            Id::ClearLine | Id::ClearWord => {
                if let Some(field) = &mut self.field {
                    match id {
                        Id::ClearLine => field.clear(),
                        _ => field.erase_word(),
                    }
                }
                self.look_over();
            }
            Id::Back if self.field.is_some() => {
                self.field = None;
                self.refused = None;
            }
            other => return Did::Yours(other),
        }
        Did::Nothing
    }

    /// Takes a character while text is typed. What is no figure is said at
    /// once, and stays to be mended: dropping a letter could leave a false
    /// number behind.
    pub(super) fn type_in(&mut self, c: char) {
        let anew = std::mem::take(&mut self.anew);
        if let Some(field) = &mut self.field {
            if anew {
                field.clear();
            }
            field.type_in(c);
        }
        self.look_over();
    }

    fn look_over(&mut self) {
        self.refused = None;
        let figure = self.marked().is_some_and(|q| q.takes == Takes::Figure);
        let Some(field) = self.field.as_ref().filter(|_| figure) else {
            return;
        };
        let number = |c: char| c.is_ascii_digit() || matches!(c, '.' | ',' | '-');
        let word = "unknown".starts_with(&field.text().to_lowercase());
        if !word && !field.text().chars().all(number) {
            self.refused = Some("only a figure, as 4,310 or 8.5; backspace erases".to_string());
        }
    }

    pub(super) fn paste(&mut self, text: &str) -> bool {
        match &mut self.field {
            Some(field) => {
                field.paste(text);
                true
            }
            None => false,
        }
    }

    fn half(&self) -> isize {
        isize::try_from((self.height / 2).max(1)).unwrap_or(1)
    }

    fn step(&mut self, by: isize) {
        self.go_to(self.marked.saturating_add_signed(by));
    }

    fn go_to(&mut self, to: usize) {
        self.refused = None;
        self.marked = to.min(self.list.len().saturating_sub(1));
    }

    fn letter(&mut self, chord: Chord) -> Did {
        let letter = chord.typed().map(|c| c.to_ascii_lowercase());
        if let (Some(q), Some(c)) = (self.marked(), letter)
            && let Some(word) = ('a'..=c)
                .count()
                .checked_sub(1)
                .and_then(|i| q.suggested.get(i))
        {
            return Did::Answer(self.marked, word.clone());
        }
        let Some(at) = self
            .list
            .iter()
            .position(|q| q.letter.is_some() && q.letter == letter)
        else {
            self.refused = Some("no line of this form has that letter".to_string());
            return Did::Nothing;
        };
        self.marked = at;
        self.refused = None;
        if !matches!(self.list[at].takes, Takes::Choice(_)) {
            // A figure, or what is mostly suggested, is given anew by the first
            // character typed; a text is mended.
            let q = &self.list[at];
            let anew = q.takes == Takes::Figure || !q.suggested.is_empty();
            let before = q.answer.clone().unwrap_or_default();
            self.begin(&before);
            self.anew = anew;
        }
        Did::Nothing
    }

    fn digit(&mut self, chord: Chord) -> Did {
        let Key::Char(c) = chord.key else {
            return Did::Nothing;
        };
        let Some(q) = self.marked() else {
            return Did::Nothing;
        };
        let Takes::Choice(words) = &q.takes else {
            self.begin(&c.to_string());
            return Did::Nothing;
        };
        let Some(digit) = c.to_digit(10) else {
            return Did::Nothing;
        };
        let digit = digit as usize;
        let meant = match digit.checked_sub(1) {
            None if q.may_be_unknown => Some("unknown"),
            None => None,
            Some(at) => words.get(at).map(String::as_str),
        };
        match meant {
            // The same key again takes the answer back.
            Some(word) if q.answer.as_deref() == Some(word) => Did::TakeBack(self.marked),
            Some(word) => Did::Answer(self.marked, word.to_string()),
            None => {
                self.refused = Some(format!("no answer has the digit {digit}"));
                Did::Nothing
            }
        }
    }

    fn keep(&mut self) -> Did {
        let Some(field) = &self.field else {
            return Did::Nothing;
        };
        let text = field.text().trim();
        let Some(q) = self.list.get(self.marked) else {
            return Did::Nothing;
        };
        if text.is_empty() {
            self.field = None;
            return if q.answer.is_some() {
                Did::TakeBack(self.marked)
            } else {
                self.advance();
                Did::Nothing
            };
        }
        let short = q.may_be_unknown && text.eq_ignore_ascii_case("u");
        let text = match &q.takes {
            _ if short => "unknown".to_string(),
            Takes::Choice(words) => chosen(words, text).unwrap_or_else(|| text.to_string()),
            _ => text.to_string(),
        };
        Did::Answer(self.marked, text)
    }
}

/// The word that a digit or the first letters mean.
fn chosen(words: &[String], text: &str) -> Option<String> {
    if let Ok(digit) = text.parse::<usize>()
        && !words.iter().any(|w| w == text)
    {
        return words.get(digit.checked_sub(1)?).cloned();
    }
    let small = text.to_lowercase();
    let begins: Vec<&String> = words
        .iter()
        .filter(|w| w.to_lowercase().starts_with(&small))
        .collect();
    let same = words.iter().find(|w| w.to_lowercase() == small);
    match (same, begins.as_slice()) {
        (Some(word), _) => Some(word.clone()),
        (None, [one]) => Some((*one).clone()),
        _ => None,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn asked(labels: &[&str]) -> Vec<Question> {
        labels
            .iter()
            .map(|l| Question::new(l, l, Takes::Text))
            .collect()
    }

    #[test]
    fn every_question_has_a_letter_of_its_own_while_there_are_any() {
        let mut list = asked(&["oil level", "oil", "leak", "quay", "je"]);
        list[1].letter = Some('o');
        give_letters(&mut list);
        let letters: Vec<char> = list.iter().filter_map(|q| q.letter).collect();
        assert_eq!(letters[1], 'o');
        assert_eq!(letters.len(), 5);
        assert!(letters.iter().all(|l| !TAKEN.contains(*l)));
        let mut once = letters.clone();
        once.sort_unstable();
        once.dedup();
        assert_eq!(once.len(), letters.len(), "{letters:?}");
    }

    #[test]
    fn a_digit_answers_and_the_same_digit_takes_it_back() {
        let words = vec!["sound".to_string(), "cracked".to_string()];
        let mut form = Questions::new(vec![Question::new("b", "bushings", Takes::Choice(words))]);
        let Did::Answer(0, word) = form.take(Id::FieldDigit, Chord::char('2')) else {
            panic!("an answer is expected");
        };
        form.list[0].answer = Some(word);
        assert!(matches!(
            form.take(Id::FieldDigit, Chord::char('2')),
            Did::TakeBack(0)
        ));
        assert!(matches!(
            form.take(Id::FieldDigit, Chord::char('0')),
            Did::Nothing
        ));
        assert!(form.refused.is_some(), "unknown is no answer here");
    }

    #[test]
    fn a_word_is_understood_by_its_digit_and_its_first_letters() {
        let words: Vec<String> = ["plate", "photo", "drawing"].map(String::from).to_vec();
        let of = |text: &str| chosen(&words, text);
        assert_eq!(of("3").as_deref(), Some("drawing"));
        assert_eq!(of("Ph").as_deref(), Some("photo"));
        assert_eq!(of("p"), None);
        assert_eq!(of("9"), None);
    }
}
