//! Files that are written once: what is there already is never touched.

use std::fs::File;
use std::io::Write;
use std::path::{Path, PathBuf};

use super::ExchangeError;

/// Writes a text into a file that is not there yet.
///
/// # Errors
/// When the file is there, or cannot be written.
pub fn write_new(path: &Path, text: &str) -> Result<(), ExchangeError> {
    let said = |e: std::io::Error| ExchangeError::io(path, &e);
    let mut file = File::create_new(path).map_err(said)?;
    file.write_all(text.as_bytes()).map_err(said)
}

/// The first of `stem.ending`, `stem-2.ending`, ... that is not there yet; the
/// stem without what file systems or shells mind.
#[must_use]
pub fn free_name(stem: &str, ending: &str) -> PathBuf {
    let plain: String = stem
        .to_lowercase()
        .chars()
        .map(|c| if c.is_ascii_alphanumeric() { c } else { '-' })
        .collect();
    (1..1_000)
        .map(|n| match n {
            1 => format!("{plain}.{ending}"),
            n => format!("{plain}-{n}.{ending}"),
        })
        .map(PathBuf::from)
        .find(|p| !p.exists())
        .unwrap_or_else(|| PathBuf::from(format!("{plain}.{ending}")))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_is_there_is_not_touched() {
        let dir = tempfile::tempdir().unwrap();
        let path = dir.path().join("a.svg");
        write_new(&path, "first").unwrap();
        let refused = write_new(&path, "second").unwrap_err();
        assert!(refused.to_string().contains("a.svg"), "{refused}");
        assert_eq!(std::fs::read_to_string(&path).unwrap(), "first");
    }

    #[test]
    fn names_are_plain() {
        let name = free_name("HB2/RC 14..-times", "svg");
        assert_eq!(name, PathBuf::from("hb2-rc-14---times.svg"));
    }
}
