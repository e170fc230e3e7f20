//! Work orders: which moves a state allows, how the next number is formed, and
//! when two needs speak of the same work.

use super::asset::{Order, OrderState};
use crate::calendar::Date;

/// A step in the life of an order.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Move {
    Assign,
    Done,
    Void,
    Reopen,
}

impl Move {
    pub const ALL: &'static [Move] = &[Move::Assign, Move::Done, Move::Void, Move::Reopen];

    #[must_use]
    pub const fn word(self) -> &'static str {
        match self {
            Move::Assign => "assign",
            Move::Done => "done",
            Move::Void => "void",
            Move::Reopen => "reopen",
        }
    }

    /// Whether an order in a state can be moved so. An assigned order can be
    /// assigned to somebody else; a closed one can only be reopened.
    #[must_use]
    pub const fn allowed(self, state: OrderState) -> bool {
        let closed = is_closed(state);
        match self {
            Move::Assign | Move::Done | Move::Void => !closed,
            Move::Reopen => closed,
        }
    }

    /// The moves that a state allows, in words: `assign, done or void`.
    #[must_use]
    pub fn allowed_words(state: OrderState) -> String {
        let words: Vec<&str> = Move::ALL
            .iter()
            .filter(|m| m.allowed(state))
            .map(|m| m.word())
            .collect();
        match words.as_slice() {
            [some @ .., last] if !some.is_empty() => format!("{} or {last}", some.join(", ")),
            words => words.concat(),
        }
    }
}

/// Whether an order may become what it is to be, by whichever way: the state
/// follows an allowed move, and what the move needs is there.
///
/// # Errors
/// What is wrong, and what can be done instead.
pub fn judged(before: &Order, after: &Order, today: Date) -> Result<(), (String, String)> {
    let of = &before.order;
    if before.state != after.state {
        let step = match after.state {
            OrderState::Assigned => Move::Assign,
            OrderState::Done => Move::Done,
            OrderState::Void => Move::Void,
            OrderState::Open => Move::Reopen,
        };
        if !step.allowed(before.state) {
            return Err((
                format!(
                    "order {of} is {}; it cannot become {}",
                    before.state, after.state
                ),
                format!(
                    "what can be done with it: {}",
                    Move::allowed_words(before.state)
                ),
            ));
        }
    }
    let lacking = lacking(before, after, today);
    if lacking.is_empty() {
        return Ok(());
    }
    Err((
        format!(
            "order {of} cannot be {} so: {}",
            after.state,
            lacking.join("; ")
        ),
        match after.state {
            OrderState::Assigned => format!("polecard orders assign {of} WHO"),
            OrderState::Done => format!("polecard orders done {of} \"what was done\" --by WHO"),
            OrderState::Void => format!("polecard orders void {of} \"the reason\""),
            OrderState::Open => format!("polecard orders reopen {of} \"the reason\""),
        },
    ))
}

/// What an order lacks of what its state asks, where that was changed.
fn lacking(before: &Order, after: &Order, today: Date) -> Vec<String> {
    let mut out = Vec::new();
    let touched = before.state != after.state
        || before.closed != after.closed
        || before.who != after.who
        || before.note != after.note;
    if !touched {
        return out;
    }
    let blank = |t: &Option<String>| t.as_ref().is_none_or(|t| t.trim().is_empty());
    let mut need = |missing: bool, what: &str| {
        if missing {
            out.push(what.to_string());
        }
    };
    let closed = is_closed(after.state);
    need(
        matches!(after.state, OrderState::Assigned | OrderState::Done) && blank(&after.who),
        "it does not say who",
    );
    need(
        closed && blank(&after.note),
        "it does not say what was done, or why not",
    );
    need(
        closed && before.state != after.state && before.note == after.note,
        "its note says nothing new",
    );
    need(
        closed && after.closed.is_none(),
        "it does not say on which day it was closed",
    );
    need(
        !closed && after.closed.is_some(),
        "an order that is not closed has no day of closing",
    );
    need(
        after.closed.is_some_and(|on| on > today),
        "its day of closing lies in the future",
    );
    need(
        after.closed.zip(after.opened).is_some_and(|(c, o)| c < o),
        "it would be closed before it was opened",
    );
    out
}

/// Nothing is left to be done about it.
#[must_use]
pub const fn is_closed(state: OrderState) -> bool {
    matches!(state, OrderState::Done | OrderState::Void)
}

/// Its day has passed and it is not closed.
#[must_use]
pub fn is_overdue(order: &Order, today: Date) -> bool {
    !is_closed(order.state) && order.due.is_some_and(|due| due < today)
}

/// A number as written around its last run of digits: `WO-26-014` is `WO-26-`,
/// `014` and nothing.
fn split(number: &str) -> Option<(&str, &str, &str)> {
    let end = number.rfind(|c: char| c.is_ascii_digit())? + 1;
    let start = number[..end]
        .rfind(|c: char| !c.is_ascii_digit())
        .map_or(0, |at| {
            at + number[at..].chars().next().map_or(1, char::len_utf8)
        });
    Some((&number[..start], &number[start..end], &number[end..]))
}

/// The number after the greatest one in the style of the order opened last;
/// padded alike. Where the style holds the year in which that order was
/// opened, set apart by other characters, it holds the present year and the
/// count begins anew. `1` in a register without orders.
///
/// `orders` are the numbers with the days on which they were opened.
#[must_use]
pub fn next_number(orders: &[(String, Option<Date>)], today: Date) -> String {
    let greatest = |list: &[(String, Option<Date>)], like: Option<(&str, &str)>| {
        list.iter()
            .filter_map(|(n, _)| split(n))
            .filter(|(a, _, z)| like.is_none_or(|like| like == (*a, *z)))
            .filter_map(|(_, d, _)| Some((d.parse::<u64>().ok()?, d.len())))
            .max()
    };
    let latest = orders
        .iter()
        .filter(|(n, _)| split(n).is_some())
        .max_by_key(|(n, opened)| (*opened, n.len(), n.clone()));
    let Some((number, opened)) = latest else {
        return "1".to_string();
    };
    let Some((before, digits, after)) = split(number) else {
        return "1".to_string();
    };
    let wide = digits.len();
    let before = match opened.and_then(|day| in_year(before, day.year(), today.year())) {
        Some(other) => other,
        None => before.to_string(),
    };
    let (count, width) = greatest(orders, Some((&before, after))).unwrap_or((0, wide));
    let width = if digits.starts_with('0') { width } else { 1 };
    format!("{before}{:0width$}{after}", count.saturating_add(1))
}

/// The text with the year `was`, as four digits or two, in `now` instead; none
/// when it holds no such year or the years are the same.
fn in_year(text: &str, was: i32, now: i32) -> Option<String> {
    if was == now {
        return None;
    }
    let pairs = [
        (was.to_string(), now.to_string()),
        (
            format!("{:02}", was.rem_euclid(100)),
            format!("{:02}", now.rem_euclid(100)),
        ),
    ];
    for (old, new) in pairs {
        for (at, _) in text.match_indices(&old) {
            let digit = |c: Option<char>| c.is_some_and(|c| c.is_ascii_digit());
            let (left, right) = (&text[..at], &text[at + old.len()..]);
            if !digit(left.chars().next_back()) && !digit(right.chars().next()) {
                return Some(format!("{left}{new}{right}"));
            }
        }
    }
    None
}

/// Words too common to tell one piece of work from another.
const COMMON: &[&str] = &[
    "the", "and", "with", "for", "from", "that", "this", "its", "into", "out", "over", "new",
    "then", "has", "have", "take", "check", "look", "replace", "repair",
];

fn telling(need: &str) -> Vec<String> {
    let mut words: Vec<String> = need
        .to_lowercase()
        .split(|c: char| !c.is_alphanumeric())
        .filter(|w| w.chars().count() >= 3 && !COMMON.contains(w))
        .map(ToString::to_string)
        .collect();
    words.sort();
    words.dedup();
    words
}

/// Whether two needs speak of the same work: the same words but for case and
/// punctuation, or at least half of the telling words of the shorter one.
#[must_use]
pub fn alike(a: &str, b: &str) -> bool {
    let plain = |t: &str| {
        t.to_lowercase()
            .split(|c: char| !c.is_alphanumeric())
            .filter(|w| !w.is_empty())
            .collect::<Vec<_>>()
            .join(" ")
    };
    if plain(a) == plain(b) {
        return true;
    }
    let (a, b) = (telling(a), telling(b));
    let shared = a.iter().filter(|w| b.contains(w)).count();
    let shorter = a.len().min(b.len());
    shorter > 0 && shared * 2 >= shorter && shared > 0
}

#[cfg(test)]
mod tests {
    use super::*;

    fn day(text: &str) -> Date {
        text.parse().unwrap()
    }

    fn next(orders: &[(&str, &str)], today: &str) -> String {
        let orders: Vec<(String, Option<Date>)> = orders
            .iter()
            .map(|(n, d)| (n.to_string(), d.parse().ok()))
            .collect();
        next_number(&orders, day(today))
    }

    #[test]
    fn the_next_number_follows_the_style_of_the_last_one() {
        assert_eq!(next(&[], "2026-10-03"), "1");
        let plain = [("2231", "2026-09-01"), ("2236", "2026-08-01"), ("9", "")];
        assert_eq!(next(&plain, "2026-10-03"), "2237");
        assert_eq!(next(&[("2299", "2026-09-01")], "2026-10-03"), "2300");
        assert_eq!(next(&[("9999", "2026-09-01")], "2026-10-03"), "10000");
        assert_eq!(next(&[("WO-0099", "2026-09-01")], "2026-10-03"), "WO-0100");
        assert_eq!(next(&[("17/B", "2026-09-01")], "2026-10-03"), "18/B");
        assert_eq!(next(&[("old", "2026-09-01")], "2026-10-03"), "1");
        // A later style wins over a greater number of an older one.
        let styles = [("90210", "2019-01-02"), ("T-12", "2026-03-01")];
        assert_eq!(next(&styles, "2026-10-03"), "T-13");
    }

    #[test]
    fn a_style_with_the_year_begins_anew_each_year() {
        let last = [("WO-26-014", "2026-12-30")];
        assert_eq!(next(&last, "2026-12-31"), "WO-26-015");
        assert_eq!(next(&last, "2027-01-02"), "WO-27-001");
        let long = [("2026/7", "2026-12-30")];
        assert_eq!(next(&long, "2027-01-02"), "2027/1");
        // Digits that only look like a year stay.
        assert_eq!(next(&[("A126-7", "2026-12-30")], "2027-01-02"), "A126-8");
    }

    #[test]
    fn alike_needs_share_their_telling_words() {
        assert!(alike("Fit an animal guard", "fit an animal guard."));
        assert!(alike("restore the pole ground", "pole ground cut: restore"));
        assert!(!alike(
            "trim the maple over the tap",
            "replace the cutout door"
        ));
        assert!(!alike("", "replace the cutout door"));
        assert!(!alike("check the lamp", "check the guy"));
    }

    #[test]
    fn a_closed_order_can_only_be_reopened() {
        for state in OrderState::ALL {
            for step in Move::ALL {
                assert_eq!(
                    step.allowed(*state),
                    is_closed(*state) == (*step == Move::Reopen)
                );
            }
        }
        assert_eq!(
            Move::allowed_words(OrderState::Open),
            "assign, done or void"
        );
        assert_eq!(Move::allowed_words(OrderState::Done), "reopen");
    }
}
