//! An answer that could not be given: what kind of failure, in a sentence,
//! with what to do next. The kind fixes the exit code.

use std::fmt;
use std::path::Path;

use crate::exchange::ExchangeError;
use crate::store::StoreError;

/// Kinds of failure and their exit codes.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum FailureKind {
    /// What was asked cannot be understood: exit 2.
    Usage,
    /// No such record, or several where one is needed: exit 3.
    NotFound,
    /// The register or an input cannot be used: exit 4.
    Unusable,
}

impl FailureKind {
    #[must_use]
    pub const fn exit_code(self) -> i32 {
        match self {
            FailureKind::Usage => 2,
            FailureKind::NotFound => 3,
            FailureKind::Unusable => 4,
        }
    }
}

/// Why a question got no answer.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Failure {
    pub kind: FailureKind,
    /// A sentence.
    pub message: String,
    /// What to do next.
    pub hints: Vec<String>,
}

impl Failure {
    #[must_use]
    pub fn new(kind: FailureKind, message: impl Into<String>) -> Self {
        Failure {
            kind,
            message: message.into(),
            hints: Vec::new(),
        }
    }

    #[must_use]
    pub fn usage(message: impl Into<String>) -> Self {
        Failure::new(FailureKind::Usage, message)
    }

    #[must_use]
    pub fn not_found(message: impl Into<String>) -> Self {
        Failure::new(FailureKind::NotFound, message)
    }

    #[must_use]
    pub fn unusable(message: impl Into<String>) -> Self {
        Failure::new(FailureKind::Unusable, message)
    }

    #[must_use]
    pub fn hint(mut self, hint: impl Into<String>) -> Self {
        self.hints.push(hint.into());
        self
    }

    /// Speaks of the file that a person named instead of the one that is
    /// written aside for it.
    #[must_use]
    pub fn about(mut self, aside: &Path, path: &Path) -> Self {
        let (from, to) = (aside.display().to_string(), path.display().to_string());
        for said in self.hints.iter_mut().chain([&mut self.message]) {
            *said = said.replace(&from, &to);
        }
        self
    }
}

impl fmt::Display for Failure {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&self.message)?;
        for hint in &self.hints {
            write!(f, "\nhint: {hint}")?;
        }
        Ok(())
    }
}

impl std::error::Error for Failure {}

impl From<StoreError> for Failure {
    fn from(e: StoreError) -> Self {
        let kind = match e {
            StoreError::NoSuchRecord(_) => FailureKind::NotFound,
            _ => FailureKind::Unusable,
        };
        // What to do stands below what is wrong, also where a screen has one line.
        let said = e.to_string();
        let mut parts = said.split("\nhint: ");
        let message = parts.next().unwrap_or_default();
        parts.fold(Failure::new(kind, message), |failure, hint| {
            failure.hint(hint)
        })
    }
}

impl From<ExchangeError> for Failure {
    fn from(e: ExchangeError) -> Self {
        match e {
            ExchangeError::Store(e) => e.into(),
            ExchangeError::Alone { count, ref first } => first
                .iter()
                .fold(Failure::usage(e.to_string()), |f, what| f.hint(what))
                .hint(format!(
                    "let somebody else read {} too, and name them: --second WHO (recorded as declared)",
                    if count == 1 { "it" } else { "them" }
                )),
            e => Failure::unusable(e.to_string()),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// A screen shows a failure in one line; a line break would stand there as
    /// a mark.
    #[test]
    fn what_to_do_about_the_register_is_a_hint_and_no_part_of_the_message() {
        let path = || "/a/register".to_string();
        for e in [
            StoreError::Busy(path(), 10),
            StoreError::ReadOnly(path()),
            StoreError::Replaced(path()),
            StoreError::Full(path()),
        ] {
            let whole = e.to_string();
            let failure = Failure::from(e);
            assert!(!failure.message.contains('\n'), "{}", failure.message);
            assert_eq!(failure.hints.len(), 1, "{whole}");
            assert_eq!(failure.to_string(), whole);
        }
    }
}
