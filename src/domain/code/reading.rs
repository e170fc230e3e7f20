//! What decoding gives: readings, and what each took for granted.

use std::ops::Range;

use super::mistake::MistakeKind;
use super::net::Edit;
use super::parse::{Cut, FailedCheck, FieldText, field_texts};
use super::scheme::{Element, Kind, Scheme};
use super::symbols::{Symbols, plain_mark};

/// What sort of thing was taken for granted.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum AssumptionKind {
    /// Small letters stand for capitals.
    Case,
    /// A mark a phone or word processor puts in stands for a plain one, or for nothing.
    Punctuation,
    /// A separator was left out, put in or is another one.
    Separator,
    /// Words stand for letters and digits.
    Spoken,
    /// A slip was mended.
    Mistake(MistakeKind),
    /// The check character does not hold and nothing was mended.
    CheckFails,
}

/// One thing taken for granted, in a sentence for people.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Assumption {
    pub kind: AssumptionKind,
    /// What it weighs in ranking; the sum orders the readings.
    pub cost: u32,
    pub text: String,
}

/// A stretch of the input and the field it belongs to (none: a separator,
/// a stray mark, or a character taken for a slip).
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Span {
    /// Bytes of the input.
    pub range: Range<usize>,
    pub field: Option<String>,
}

/// One way of reading the input.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Reading {
    /// The id as the scheme writes it.
    pub name: String,
    pub scheme: String,
    pub pattern: String,
    /// The kind of record such an id names.
    pub kind: Kind,
    /// The fields in written order.
    pub fields: Vec<FieldText>,
    /// The input cut up; the stretches joined are the input.
    pub spans: Vec<Span>,
    /// Empty when the input is the id, character for character.
    pub assumed: Vec<Assumption>,
}

impl Reading {
    /// The weight of everything assumed; 0 when nothing was.
    pub fn cost(&self) -> u32 {
        self.assumed.iter().map(|a| a.cost).sum()
    }

    /// The text of a field.
    pub fn field(&self, name: &str) -> Option<&str> {
        self.fields
            .iter()
            .find(|f| f.field == name)
            .map(|f| f.text.as_str())
    }
}

const CASE_COST: u32 = 1;
const PUNCTUATION_COST: u32 = 1;
const SEPARATOR_COST: u32 = 2;
/// A mark that was typed on purpose weighs more than one left out: it tells
/// the patterns apart. A space does not.
const EXTRA_MARK_COST: u32 = 10;
const SPOKEN_COST: u32 = 3;
/// Above every single slip, so that a repair that makes the check hold ranks first.
const CHECK_COST: u32 = 60;

/// Everything known when a reading is put together.
pub(super) struct Evidence<'a> {
    pub scheme: &'a Scheme,
    pub input: &'a str,
    pub symbols: &'a Symbols,
    pub typed: &'a [u8],
    pub edit: &'a Edit,
    pub cut: &'a Cut<'a>,
    /// The repaired string, folded.
    pub meant: &'a str,
    pub failed: Option<FailedCheck>,
}

impl Evidence<'_> {
    pub fn assumed(&self) -> Vec<Assumption> {
        let mut out = Vec::new();
        let mut add = |kind, cost, text: String| out.push(Assumption { kind, cost, text });
        if self.symbols.spoken {
            let cost = SPOKEN_COST + u32::try_from(self.symbols.rank.min(4)).unwrap_or(4);
            let text = format!("words read as {}", self.symbols.text());
            add(AssumptionKind::Spoken, cost, text);
        }
        if self.symbols.lower {
            let text = "small letters read as capitals".to_string();
            add(AssumptionKind::Case, CASE_COST, text);
        }
        let stands_for_mark = self.marks(&mut add);
        if let Some(mark) = stands_for_mark {
            if let Edit::Remove { at } = self.edit {
                let text = format!("'{}' read as '{mark}'", char::from(self.typed[*at]));
                let kind = MistakeKind::Wrong;
                add(AssumptionKind::Mistake(kind), kind.cost(), text);
            }
        } else {
            self.slips(&mut add);
        }
        if let Some(failed) = &self.failed {
            let text = format!(
                "{} {} does not hold ({} would): some character is wrong",
                failed.field, failed.found, failed.wanted
            );
            add(AssumptionKind::CheckFails, CHECK_COST, text);
        }
        out
    }

    /// Compares the marks typed with the separators expected. Gives back the
    /// separator a superfluous character stands in place of, if one does.
    fn marks(&self, add: &mut impl FnMut(AssumptionKind, u32, String)) -> Option<String> {
        let mut expected: Vec<(usize, &str)> = self
            .cut
            .iter()
            .filter_map(|placed| match placed.element {
                Element::Separator(text) => Some((placed.range.start, text.as_str())),
                _ => None,
            })
            .collect();
        let total = self.symbols.symbols.len();
        for gap in &self.symbols.gaps {
            let (low, high) = meant_boundary(self.edit, gap.before);
            let here = expected.iter().position(|(b, _)| (low..=high).contains(b));
            if let Some(at) = here {
                let (_, wanted) = expected.remove(at);
                compare_mark(&gap.text, wanted, add);
            } else {
                let at_end = gap.before == 0 || gap.before == total;
                extra_mark(&gap.text, at_end, add);
            }
        }
        let mut stands_for = None;
        for (boundary, wanted) in expected {
            let replaced = matches!(self.edit, Edit::Remove { at } if *at == boundary);
            if replaced && !self.symbols.spoken {
                stands_for = Some(wanted.to_string());
            } else if !self.symbols.spoken {
                let text = format!("'{wanted}' put in after {}", &self.meant[..boundary]);
                add(AssumptionKind::Separator, SEPARATOR_COST, text);
            }
        }
        stands_for
    }

    fn slips(&self, add: &mut impl FnMut(AssumptionKind, u32, String)) {
        let Some(kind) = slip_kind(self.scheme, self.edit, self.typed) else {
            return;
        };
        let typed = |at: usize| char::from(self.typed[at]);
        let field = |at: usize| self.field_at(at).unwrap_or("id");
        let mut slip = |text: String| add(AssumptionKind::Mistake(kind), kind.cost(), text);
        match self.edit {
            Edit::None => {}
            Edit::Looks(list) => {
                for &(at, by) in list {
                    let by = char::from(by);
                    slip(format!(
                        "'{}' in {} read as '{by}' (look alike)",
                        typed(at),
                        field(at)
                    ));
                }
            }
            Edit::Replace { at, by } => {
                let why = match kind {
                    MistakeKind::Confused => " (look alike)",
                    MistakeKind::Misheard => " (sound alike)",
                    _ => "",
                };
                let by = char::from(*by);
                slip(format!(
                    "'{}' in {} read as '{by}'{why}",
                    typed(*at),
                    field(*at)
                ));
            }
            Edit::Insert { at, ch } => {
                slip(format!("'{}' missing in {}", char::from(*ch), field(*at)));
            }
            Edit::Remove { at } if kind == MistakeKind::Doubled => {
                slip(format!("'{}' typed twice", typed(*at)));
            }
            Edit::Remove { at } => slip(format!("'{}' is one too many", typed(*at))),
            Edit::Swap { at } => {
                slip(format!("'{}{}' swapped", typed(*at), typed(at + 1)));
            }
            Edit::Pair { at, by } => {
                let pair: String = [typed(*at), typed(at + 1)].iter().collect();
                slip(format!(
                    "'{pair}' in {} read as '{by}' (sound alike)",
                    field(*at)
                ));
            }
        }
    }

    fn field_at(&self, meant: usize) -> Option<&str> {
        self.cut
            .iter()
            .find(|placed| placed.range.contains(&meant))
            .and_then(|placed| placed.element.field())
    }

    /// The input cut up into stretches that joined are the input.
    pub fn spans(&self) -> Vec<Span> {
        let mut out: Vec<Span> = Vec::new();
        let mut push = |range: Range<usize>, field: Option<&str>| match out.last_mut() {
            _ if range.is_empty() => {}
            Some(last) if last.field.as_deref() == field => last.range.end = range.end,
            _ => out.push(Span {
                range,
                field: field.map(str::to_string),
            }),
        };
        let mut cursor = 0;
        for (i, symbol) in self.symbols.symbols.iter().enumerate() {
            if symbol.span.start < cursor {
                continue; // said in the same word as the one before
            }
            push(cursor..symbol.span.start, None);
            let field = meant_index(self.edit, i).and_then(|m| self.field_at(m));
            push(symbol.span.clone(), field);
            cursor = symbol.span.end;
        }
        push(cursor..self.input.len(), None);
        out
    }

    pub fn fields(&self) -> Vec<FieldText> {
        field_texts(self.cut, self.meant)
    }
}

/// What kind of slip a repair mends; `None` when it mends nothing.
pub(super) fn slip_kind(scheme: &Scheme, edit: &Edit, typed: &[u8]) -> Option<MistakeKind> {
    match edit {
        Edit::None => None,
        Edit::Looks(_) => Some(MistakeKind::Confused),
        Edit::Replace { at, by } => {
            let (meant, got) = (char::from(*by), char::from(typed[*at]));
            Some(super::mistake::replaced(
                meant,
                got,
                scheme.confuses(meant, got),
            ))
        }
        Edit::Insert { .. } => Some(MistakeKind::Missing),
        Edit::Remove { at } => {
            let here = typed[*at];
            let before = at.checked_sub(1).map(|i| typed[i]);
            let twice = before == Some(here) || typed.get(at + 1) == Some(&here);
            Some(if twice {
                MistakeKind::Doubled
            } else {
                MistakeKind::Extra
            })
        }
        Edit::Swap { .. } => Some(MistakeKind::Swapped),
        Edit::Pair { .. } => Some(MistakeKind::Misheard),
    }
}

/// Where a typed symbol stands in the repaired string.
fn meant_index(edit: &Edit, i: usize) -> Option<usize> {
    match edit {
        Edit::Insert { at, .. } => Some(if i < *at { i } else { i + 1 }),
        Edit::Remove { at } => match i.cmp(at) {
            std::cmp::Ordering::Less => Some(i),
            std::cmp::Ordering::Equal => None,
            std::cmp::Ordering::Greater => Some(i - 1),
        },
        Edit::Swap { at } if i == *at => Some(i + 1),
        Edit::Swap { at } if i == at + 1 => Some(*at),
        _ => Some(i),
    }
}

/// The places in the repaired string where a mark before typed symbol `p` may stand.
fn meant_boundary(edit: &Edit, p: usize) -> (usize, usize) {
    match edit {
        Edit::Insert { at, .. } => match p.cmp(at) {
            std::cmp::Ordering::Less => (p, p),
            std::cmp::Ordering::Equal => (p, p + 1),
            std::cmp::Ordering::Greater => (p + 1, p + 1),
        },
        Edit::Remove { at } if p > *at => (p - 1, p - 1),
        _ => (p, p),
    }
}

fn compare_mark(typed: &str, wanted: &str, add: &mut impl FnMut(AssumptionKind, u32, String)) {
    if typed == wanted {
        return;
    }
    let plain = plain_mark(typed);
    if plain == wanted {
        let text = format!("a mark of another kind read as '{wanted}'");
        add(AssumptionKind::Punctuation, PUNCTUATION_COST, text);
    } else {
        let text = format!("{} read as '{wanted}'", shown_mark(&plain));
        add(AssumptionKind::Separator, SEPARATOR_COST, text);
    }
}

fn extra_mark(typed: &str, at_end: bool, add: &mut impl FnMut(AssumptionKind, u32, String)) {
    let plain = plain_mark(typed);
    if plain.is_empty() || (at_end && plain == " ") {
        return;
    }
    let text = format!("{} left out", shown_mark(&plain));
    if at_end {
        add(AssumptionKind::Punctuation, PUNCTUATION_COST, text);
    } else if plain == " " {
        add(AssumptionKind::Separator, SEPARATOR_COST, text);
    } else {
        add(AssumptionKind::Separator, EXTRA_MARK_COST, text);
    }
}

/// A mark as it may be shown anywhere: nothing a terminal would act on.
fn shown_mark(plain: &str) -> String {
    let harmless = |c: char| c == ' ' || c.is_ascii_graphic();
    if plain == " " {
        "a space".to_string()
    } else if plain.len() <= 3 && plain.chars().all(harmless) {
        format!("'{plain}'")
    } else {
        "an odd mark".to_string()
    }
}
