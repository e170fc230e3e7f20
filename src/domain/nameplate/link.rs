//! Fuse links: the mark, and what a link carries.

use crate::domain::asset::{Plain, Stated};

/// Speed of a link, from the letter after its rating.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum LinkType {
    K,
    T,
    N,
}

impl LinkType {
    #[must_use]
    pub const fn word(self) -> &'static str {
        match self {
            LinkType::K => "K",
            LinkType::T => "T",
            LinkType::N => "N",
        }
    }
}

/// Rated and continuous amperes of K and T links as the trade prints them. The
/// list is from memory, unconfirmed; 150 % is read. Where the two differ the
/// lower is taken: 65, and the exceptions 140 and 200.
pub static LINK_LIST: &[(f64, f64)] = &[
    (6.0, 9.0),
    (8.0, 12.0),
    (10.0, 15.0),
    (12.0, 18.0),
    (15.0, 23.0),
    (20.0, 30.0),
    (25.0, 38.0),
    (30.0, 45.0),
    (40.0, 60.0),
    (50.0, 75.0),
    (65.0, 95.0),
    (80.0, 120.0),
    (100.0, 150.0),
    (140.0, 190.0),
    (200.0, 200.0),
];

/// Small sizes that surge and secondary schemes use; 150 % holds for them too.
const SMALL: &[f64] = &[1.0, 2.0, 3.0, 5.0];

/// Reads a link's mark: `40K`, `40 k`, `K40`, or a bare rating without a type.
/// `None` when there is no rating in it.
#[must_use]
pub fn parse_link(mark: &str) -> Option<(f64, Option<LinkType>)> {
    let mark = mark.trim().to_ascii_uppercase();
    let (letters, digits): (Vec<char>, Vec<char>) = mark
        .chars()
        .filter(|c| !c.is_whitespace() && *c != '-')
        .partition(char::is_ascii_alphabetic);
    let rated: f64 = digits.iter().collect::<String>().parse().ok()?;
    if !(rated.is_finite() && rated > 0.0) {
        return None;
    }
    let letters: String = letters.into_iter().filter(|c| *c != 'A').collect();
    let link_type = match letters.as_str() {
        "K" => Some(LinkType::K),
        "T" => Some(LinkType::T),
        "N" => Some(LinkType::N),
        _ => None,
    };
    Some((rated, link_type))
}

/// What a link carries, A: K and T 150 % (140 carries 190, 200 carries 200),
/// N 100 %. `None` for a K or T link of a size that is not made.
#[must_use]
pub fn link_continuous_amps(rated: f64, link_type: LinkType) -> Option<f64> {
    if link_type == LinkType::N {
        return Some(rated);
    }
    let same = |a: f64| (a - rated).abs() < 1e-9;
    if SMALL.iter().any(|s| same(*s)) {
        return Some(rated * 1.5);
    }
    LINK_LIST
        .iter()
        .find(|(size, _)| same(*size))
        .map(|(size, listed)| listed.min(size * 1.5))
}

/// The mark of a recorded link, whether it was written as a word or a number.
#[must_use]
pub fn mark(stated: &Stated) -> Option<String> {
    match &stated.value {
        Some(Plain::Number(n)) => Some(n.to_string()),
        Some(Plain::Text(t)) => Some(t.clone()),
        None => None,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn marks_are_read_as_they_are_stamped() {
        assert_eq!(parse_link("40K"), Some((40.0, Some(LinkType::K))));
        assert_eq!(parse_link(" 6 t "), Some((6.0, Some(LinkType::T))));
        assert_eq!(parse_link("100 A K"), Some((100.0, Some(LinkType::K))));
        assert_eq!(parse_link("25"), Some((25.0, None)));
        assert_eq!(parse_link("K"), None);
        assert_eq!(parse_link("40X"), Some((40.0, None)));
    }

    #[test]
    fn a_link_that_is_not_made_has_no_figure() {
        assert_eq!(link_continuous_amps(13.0, LinkType::K), None);
        assert_eq!(link_continuous_amps(13.0, LinkType::N), Some(13.0));
    }
}
