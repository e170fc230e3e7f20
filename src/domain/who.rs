//! Who acts: the system's account, and beside it a name that the person
//! declared. The account is known; the name is only said.

use std::fmt;

use serde::{Deserialize, Serialize};

use crate::role::is_plain;

/// Longest name taken, in characters.
const LONGEST: usize = 40;
const OPENING: &str = " (declared: ";

/// An account and, on a shared login, the name declared there.
#[derive(Debug, Clone, PartialEq, Eq, Hash, Serialize, Deserialize, Default)]
pub struct Who {
    pub account: String,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub declared: Option<String>,
}

impl Who {
    /// Reads back what [`Who`] prints as.
    #[must_use]
    pub fn read(text: &str) -> Self {
        let parts = text
            .split_once(OPENING)
            .and_then(|(account, rest)| Some((account, rest.strip_suffix(')')?)));
        match parts {
            Some((account, name)) => Who {
                account: account.to_string(),
                declared: Some(name.to_string()),
            },
            None => Who {
                account: text.to_string(),
                declared: None,
            },
        }
    }

    /// Whether a name means this person: the account, or the declared name.
    #[must_use]
    pub fn is(&self, name: &str) -> bool {
        let same = |other: &str| other.trim().eq_ignore_ascii_case(name.trim());
        same(&self.account) || self.declared.as_deref().is_some_and(same) || same(&self.to_string())
    }
}

impl fmt::Display for Who {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match &self.declared {
            Some(name) => write!(f, "{}{OPENING}{name})", self.account),
            None => f.write_str(&self.account),
        }
    }
}

/// A reason with the second person who stands behind it.
#[must_use]
pub fn with_second(why: &str, who: &str, second: &str) -> String {
    format!("{why} (second person, as declared by {who}: {second})")
}

/// A name as it may be declared, without blanks around it; empty for none.
///
/// # Errors
/// A sentence that says what is allowed: no control or hidden characters, no
/// brackets, which set the name off from the account; 40 characters at most.
pub fn declared_name(text: &str) -> Result<String, String> {
    let name = text.trim();
    let fits = |c: char| is_plain(c) && !matches!(c, '(' | ')');
    if !name.chars().all(fits) {
        return Err("a name has no control characters, hidden characters or brackets".to_string());
    }
    if name.chars().count() > LONGEST {
        return Err(format!("a name has {LONGEST} characters at most"));
    }
    Ok(name.to_string())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_is_printed_is_read_back() {
        for (account, declared) in [("crew", Some("Mia K.")), ("hb", None)] {
            let who = Who {
                account: account.to_string(),
                declared: declared.map(str::to_string),
            };
            assert_eq!(Who::read(&who.to_string()), who);
        }
        let who = Who::read("crew (declared: Mia K.)");
        assert!(who.is("CREW") && who.is("mia k.") && !who.is("mk"));
    }

    #[test]
    fn a_name_can_neither_hide_nor_forge() {
        assert_eq!(declared_name(" Mia ").unwrap(), "Mia");
        for bad in ["a\u{1b}[2J", "a\nb", "a\u{202e}b", "hb (declared: x)"] {
            assert!(declared_name(bad).is_err(), "{bad:?}");
        }
        assert!(declared_name(&"x".repeat(41)).is_err());
    }
}
